"""Makers' laws, populations, ceramics, ripple and ageing: printed answers and other algorithms."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import constants, integrate, stats

from adapterlab.capacitor_life import (
    activation_energy_life,
    aged_ceramic_capacitance,
    arrhenius_factor,
    can_surface,
    can_temperature_rise,
    case_temperature_life,
    ceramic_capacitance_under_bias,
    characteristic_life,
    core_temperature,
    damage_share,
    dielectric_class,
    electrolytic_life,
    failures_in_time,
    first_failure_probability,
    frequency_multiplier,
    hold_up_ratio,
    implied_activation_energy,
    implied_halving_interval,
    mean_life_bounds,
    mission_profile_life,
    parallel_reliability,
    pulsed_output_ripple,
    pulsed_ripple_current,
    rectifier_ripple_current,
    ripple_factor,
    ripple_temperature_rise,
    series_reliability,
    supply_carry_time,
    surroundings_temperature,
    voltage_factor,
    weibull_failing_share,
    weibull_time,
    year_shares,
)
from adapterlab.flyback import bulk_valley_voltage, ideal_conduction_time
from adapterlab.published import rows

# --- makers' laws ------------------------------------------------------------------------------


@pytest.mark.parametrize("ratio", [0.6, 0.4])
def test_voltage_factor_levels_off(ratio):
    # Jianghai Europe, A. Albertsen (2010, rev. 2018), voltage factor, as quoted: 3.59 at and below
    # 0.6 of the rated voltage.
    assert voltage_factor(ratio) == pytest.approx(3.59, abs=0.005)


def test_linear_voltage_factor():
    # Cornell Dubilier, Aluminum Electrolytic Capacitor Application Guide: 1.00, 1.33, 1.66 (from
    # memory: guards against change only).
    assert voltage_factor([1.0, 0.9, 0.8], "linear") == pytest.approx([1.0, 1.33, 1.66])


def test_law_of_the_hot_can():
    # Kendeil, 'Useful life' page: 10000 h, 85 °C, can at 75 °C, 10 K of rated rise: 40000 h
    # (worked out from the printed formula).
    assert case_temperature_life(10000, 85, 75, 10) == pytest.approx(40000, rel=1e-12)
    # It is the law with ripple seen from the core: the same life from the air around.
    around = surroundings_temperature(75, 10)
    other = electrolytic_life(10000, 85, around, 10, 10, True)
    assert case_temperature_life(10000, 85, 75, 10) == pytest.approx(other, rel=1e-12)


def test_ripple_factor_by_hand():
    # Jianghai, as quoted: K_R = K_i^(A r0/10), A = 1 - (I/I0)^2, K_i = 2 or 4 (worked out).
    assert ripple_factor(1.0, 5, 105) == 1.0
    assert ripple_factor(0.0, 5, 105) == pytest.approx(math.sqrt(2))
    assert ripple_factor(math.sqrt(2), 5, 105) == pytest.approx(0.5)
    assert ripple_factor(math.sqrt(2), 5, 85) == pytest.approx(1 / math.sqrt(2))


@pytest.mark.parametrize(("energy", "printed"), [(0.5, 133), (1.0, 17597)])
def test_acceleration_as_in_the_handbook(energy, printed):
    # NIST/SEMATECH e-Handbook, 8.1.5.1: 25 to 125 °C (printed answers from memory). The handbook
    # takes k = 8.617e-5 and T = °C + 273.16, hence the shift and the share of k.
    share = 8.617333262e-5 / 8.617e-5
    factor = arrhenius_factor(energy * share, 125.01, 25.01)
    assert factor == pytest.approx(printed, abs=0.6)


@pytest.mark.parametrize(("hot", "printed"), [(150, 258), (135, 128), (125, 77), (85, 8)])
def test_acceleration_as_a_maker_prints_it(hot, printed):
    # Analog Devices, 'Details of reliability calculations': 0.7 eV, use at 55 °C. Printed without
    # the digits after the point and with a rounded k, hence 1.5.
    assert arrhenius_factor(0.7, hot, 55) == pytest.approx(printed, abs=1.5)


def test_rule_and_arrhenius_where_they_touch():
    for temperature in (35, 65, 95):
        energy = implied_activation_energy(temperature)
        rule = electrolytic_life(1000, temperature + 10, temperature)
        assert activation_energy_life(1000, temperature + 10, temperature, energy) == pytest.approx(
            rule
        )
    # k ln 2 T (T + 10)/10 at 338.15 K, by hand.
    by_hand = constants.k / constants.e * math.log(2) * 338.15 * 348.15 / 10
    assert implied_activation_energy(65) == pytest.approx(by_hand)


def test_interval_of_a_makers_table():
    # Vishay EYC: 470 times over 65 K with rated ripple; 2^(65/h) = 470.
    interval = implied_halving_interval(470, 65)
    assert 2 ** (65 / interval) == pytest.approx(470)
    assert interval == pytest.approx(7.32, abs=0.005)


def test_maker_prints_the_transfer_of_a_can_that_textbooks_give():
    # The maker's 1.45e-3 W/(K cm2) for 10 cm2 is 14.5 W/(m2 K): close to convection and radiation
    # of a lying can 12.5 mm across, 10 K warmer than the air, emissivity 0.85 (sleeve).
    from adapterlab.thermal import (
        air_properties,
        nusselt_horizontal_cylinder,
        radiation_heat_flow,
        rayleigh_number,
    )

    air = air_properties(65)
    number = rayleigh_number(10, 0.0125, air)
    carried = nusselt_horizontal_cylinder(number, air.prandtl_number) * air.conductivity / 0.0125
    radiated = radiation_heat_flow(1.0, 0.85, 70, 60) / 10
    maker = 1 / can_temperature_rise(1.0, 10e-4, 10e-4)
    assert maker == pytest.approx(14.5, abs=0.05)
    assert carried + radiated == pytest.approx(maker, rel=0.2)


@pytest.mark.parametrize("power", [5.0, 30.0, 70.0])
@pytest.mark.parametrize(("volts", "hertz"), [(230, 50), (115, 60)])
def test_rectifier_ripple_against_the_waveform_summed(power, volts, hertz):
    bulk = 107e-6
    crest, half = math.sqrt(2) * volts, 0.5 / hertz
    conducts = ideal_conduction_time(volts, hertz, power, bulk)
    time = np.linspace(0, half, 400_001)
    waiting = np.sqrt(np.maximum(crest**2 - 2 * power * time / bulk, 1.0))
    rising = crest * np.cos(2 * np.pi * hertz * (half - time))
    voltage = np.where(time < half - conducts, waiting, rising)
    current = bulk * np.gradient(voltage, time)
    expected = math.sqrt(integrate.trapezoid(current**2, time) / half)
    found = rectifier_ripple_current(volts, hertz, power, bulk, conducts)
    assert found == pytest.approx(expected, rel=2e-3)
    # The capacitor gives back what it takes.
    low = bulk_valley_voltage(volts, hertz, power, bulk, conducts)
    assert voltage.min() == pytest.approx(low, rel=1e-4)


def test_pulsed_current_of_a_triangle():
    # A triangle that starts at 8 A and takes half the period: rms^2 = 64/6, mean 2.
    rms = math.sqrt(8**2 * 0.5 / 3)
    assert pulsed_ripple_current(rms, 2.0) == pytest.approx(math.sqrt(64 / 6 - 4))


def test_multipliers_as_printed():
    # Vishay EYC: 50 Hz 0.91, 100 Hz 0.99, 250 Hz 1.04, 10 kHz 1.18; 048 RML 50-63 V: 1 kHz 1.40.
    assert frequency_multiplier(
        [50, 100, 250, 10e3], "snap-in, long life"
    ).tolist() == pytest.approx([0.91, 0.99, 1.04, 1.18])
    assert frequency_multiplier(1000, "radial, 50 to 63 V") == pytest.approx(1.40)
    assert frequency_multiplier(200e3, "snap-in") == 1.18


@given(st.floats(0, 15), st.floats(1, 1.6), st.floats(30, 90))
def test_core_case_and_air_in_order(rise, ratio, case):
    around, core = (f(case, rise, ratio) for f in (surroundings_temperature, core_temperature))
    assert around <= case + 1e-9
    assert core >= case - 1e-9
    assert core - around == pytest.approx(rise, abs=1e-9)


def test_surface_of_a_can():
    assert can_surface(0.02, 0.03) == pytest.approx(math.pi * 0.02 * 0.03 + math.pi * 0.01**2)


# --- use ---------------------------------------------------------------------------------------


def test_palmgren_miner_as_printed():
    # Documentation of the Python package reliability 0.9, 'Palmgren-Miner linear damage model',
    # after Modarres et al. (2017), p. 33-37: three loads of a bearing.
    life = np.array([50000, 6500, 1000])
    hours = np.array([40, 15, 5]) / 60
    share = hours / hours.sum()
    cycles = mission_profile_life(life, share) / hours.sum()
    assert cycles == pytest.approx(7400.37951, abs=5e-6)
    assert 100 / cycles == pytest.approx(0.01351, abs=5e-6)
    assert 100 * damage_share(life, share) == pytest.approx([9.86717, 28.463, 61.66983], abs=6e-6)


def test_a_year():
    assert year_shares([1095, 7665]).tolist() == [0.125, 0.875]
    assert year_shares([[8784, 0], [4392, 4392]]).sum(axis=-1).tolist() == [1, 1]


# --- populations -------------------------------------------------------------------------------


def test_weibull_quantiles_as_printed():
    # Altair Activate 2021 reference, wblinv: scale 2, shape 5.
    printed = [1.2752, 1.4817, 1.6274, 1.7486, 1.8586, 1.9653, 2.0756, 2.1997, 2.3631]
    share = np.arange(1, 10) / 10
    assert weibull_time(share, 2, 5) == pytest.approx(printed, abs=6e-5)
    assert weibull_failing_share(printed, 2, 5) == pytest.approx(share, abs=2e-4)


def test_weibull_light_bulb():
    # MathWorks Statistics Toolbox, wblinv (printed answer from memory): scale 200, shape 6.
    assert weibull_time(0.5, 200, 6) == pytest.approx(188.1486, abs=6e-5)


@given(st.floats(0.01, 50), st.floats(0.1, 30), st.floats(0.5, 8))
def test_weibull_against_scipy(time, scale, shape):
    expected = stats.weibull_min(shape, scale=scale).cdf(time)
    assert weibull_failing_share(time, scale, shape) == pytest.approx(expected, rel=1e-9)


@given(st.floats(0.1, 30), st.floats(0.001, 0.9), st.floats(0.5, 8))
def test_stated_share_has_failed_at_the_stated_life(life, share, shape):
    scale = characteristic_life(life, share, shape)
    assert weibull_failing_share(life, scale, shape) == pytest.approx(share, rel=1e-9)


@pytest.mark.parametrize(("parts", "printed"), [(5, 0.859), (10, 0.737)])
def test_series_as_printed(parts, printed):
    # Miller & Freund's Probability and Statistics for Engineers, 8th ed. (2011), p. 488: 0.97 each.
    assert series_reliability([0.97] * parts) == pytest.approx(printed, abs=5e-4)


def test_series_and_parallel_as_printed():
    # Miller & Freund, 8th ed., p. 489.
    groups = [parallel_reliability([0.7] * 3), parallel_reliability([0.75] * 2)]
    assert series_reliability([0.95, 0.99, 0.9, *groups]) == pytest.approx(0.772, abs=5e-4)


def test_first_to_fail_against_a_simulation():
    scale, shape = np.array([8.0, 10.0, 15.0]), 3.5
    rng = np.random.default_rng(3)
    drawn = scale[:, None] * rng.weibull(shape, (3, 200_000))
    seen = np.bincount(drawn.argmin(axis=0), minlength=3) / 200_000
    assert first_failure_probability(scale, shape) == pytest.approx(seen, abs=0.005)


@given(st.lists(st.floats(1e-3, 1e4), min_size=1, max_size=5), st.floats(0.5, 8))
def test_first_to_fail_adds_up(scale, shape):
    found = first_failure_probability(scale, shape)
    assert found.sum() == pytest.approx(1)
    assert found.argmax() == np.argmin(scale) or np.isclose(found.max(), found[np.argmin(scale)])


def test_failures_in_time_as_printed():
    # AMD/Xilinx UG116 v10.17, 'Failure rate determination': 5 in 1e6 parts and 1000 h are 5 FIT.
    assert failures_in_time(5, 1e6, 1000) == pytest.approx(5, abs=1e-9)


def test_mean_life_ended_by_a_failure():
    # Miller & Freund, 8th ed., p. 495: 50 on test, ended at the tenth failure, 90 %.
    failed = [65, 110, 380, 420, 505, 580, 650, 840, 910, 950]
    total = sum(failed) + 40 * 950
    assert total == 43410
    bounds = mean_life_bounds(total, 10, 0.9, truncated_by="failure")
    assert bounds.lower == pytest.approx(2764, abs=0.5)
    assert bounds.upper == pytest.approx(8001, abs=0.5)


@pytest.mark.parametrize(
    ("time", "failures", "sides", "printed"),
    [(19520, 7, 2, 1658.3248534993454), (10000, 6, 1, 1101.8815940201118)],
)
def test_mean_life_ended_by_time(time, failures, sides, printed):
    # Documentation of the Python package reliability 0.9, 'Reliability test planner': 80 %.
    bounds = mean_life_bounds(time, failures, 0.8, sides=sides)
    assert bounds.lower == pytest.approx(printed, abs=1e-8)


def test_no_failure_gives_no_upper_bound():
    bounds = mean_life_bounds(1000, 0, 0.9)
    assert bounds.upper is None
    # exp(-T/m) = 0.05
    assert bounds.lower == pytest.approx(1000 / -math.log(0.05))


# --- ceramics ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "low", "high", "least", "largest"),
    [
        ("X7R", -55, 125, -15, 15),
        ("X5R", -55, 85, -15, 15),
        ("X6S", -55, 105, -22, 22),
        ("X8R", -55, 150, -15, 15),
        ("Y5V", -30, 85, -82, 22),
        ("Z5U", 10, 85, -56, 22),
        ("X7T", -55, 125, -33, 22),
        ("X7U", -55, 125, -56, 22),
    ],
)
def test_codes_as_printed(code, low, high, least, largest):
    # TI SLAA701B, table 1-16; Holy Stone general introduction, p. 53 (X7R, X5R, Y5V, Z5U).
    found = dielectric_class(code)
    assert (found.lowest_temperature, found.highest_temperature) == (low, high)
    assert 100 * found.least_change == pytest.approx(least)
    assert 100 * found.largest_change == pytest.approx(largest)


def test_ageing_by_the_decade():
    # Johanson Dielectrics: X7R 2.5 % for each decade of hours; 10 h, 1000 h, ten years (worked out
    # from the rate).
    left = aged_ceramic_capacitance(1.0, 0.025, [10, 1000, 87600])
    assert 100 * (1 - left) == pytest.approx([2.5, 7.5, 12.356], abs=1e-3)
    assert rows("capacitor_life", "ceramic_ageing", dielectric="X7R")[0]["rate"] == 0.025
    assert rows("capacitor_life", "ceramic_ageing", dielectric="Y5V")[0]["rate"] == 0.07


@given(st.floats(0, 60), st.floats(1, 50))
def test_bias_takes_capacitance(voltage, half):
    found = ceramic_capacitance_under_bias(1e-6, voltage, half)
    assert found == ceramic_capacitance_under_bias(1e-6, -voltage, half)
    assert found <= 1e-6
    assert ceramic_capacitance_under_bias(1e-6, half, half) == pytest.approx(0.5e-6)
    # Johnson's law: the cube of C0/C grows with the square of the voltage.
    assert (1e-6 / found) ** 3 - 1 == pytest.approx(7 * (voltage / half) ** 2, rel=1e-6, abs=1e-9)


# --- end of life -------------------------------------------------------------------------------


@pytest.mark.parametrize("resistance", [0.0, 7e-3, 60e-3])
@pytest.mark.parametrize(("peak", "valley", "duty"), [(8, 0, 0.5), (7, 3, 0.6), (20, 0, 0.05)])
def test_ripple_against_the_waveform_summed(peak, valley, duty, resistance):
    capacitance, frequency, count = 660e-6, 85e3, 200_000
    place = (np.arange(count) + 0.5) / count
    pulse = np.where(place < duty, peak + (valley - peak) * place / duty, 0.0)
    excess = pulse - pulse.mean()
    volts = resistance * excess + np.cumsum(excess) / count / frequency / capacitance
    found = pulsed_output_ripple(peak, valley, duty, frequency, capacitance, resistance)
    assert found == pytest.approx(np.ptp(volts), rel=1e-3)


def test_without_resistance_ripple_goes_with_one_over_capacitance():
    new, aged = (pulsed_output_ripple(8, 0, 0.5, 85e3, c, 0.0) for c in (660e-6, 0.55 * 660e-6))
    assert aged == pytest.approx(new / 0.55)
    # Charge above the mean of 2 A: (8 - 2)^2/(2 s), s the slope; over C.
    assert new == pytest.approx((8 - 2) ** 2 / 2 / (8 / (0.5 / 85e3)) / 660e-6)


def test_hold_up_of_an_aged_capacitor():
    # 1/2 C (V0^2 - V1^2) = P t for both, the times divided.
    new = 0.5 * 100e-6 * (300**2 - 120**2) / 60
    aged = 0.5 * 70e-6 * (290**2 - 120**2) / 60
    assert hold_up_ratio(0.7, 300, 290, 120) == pytest.approx(aged / new)
    assert hold_up_ratio(0.7, 300, 110, 120) == 0


def test_start_up_runs_out():
    assert supply_carry_time(10e-6, 5e-3, 16, 9) == pytest.approx(14e-3)
    assert supply_carry_time(10e-6, 5e-3, 16, 9, series_resistance=1400) == 0


# --- shapes and refusals -----------------------------------------------------------------------


def test_shapes_and_types():
    for value in (
        voltage_factor(0.8),
        implied_activation_energy(60),
        case_temperature_life(1000, 105, 65),
        weibull_failing_share(1, 2, 3),
        pulsed_output_ripple(8, 0, 0.5, 85e3, 660e-6, 7e-3),
        rectifier_ripple_current(230, 50, 60, 100e-6, 1e-3),
        ceramic_capacitance_under_bias(1e-6, 5, 10),
        hold_up_ratio(0.7, 300, 290, 120),
    ):
        assert type(value) is float
    assert pulsed_output_ripple([[8], [9]], 0, 0.5, 85e3, [1e-4, 2e-4, 3e-4], 0.01).shape == (2, 3)
    assert rectifier_ripple_current(230, 50, [[5], [60]], [5e-5, 1e-4], 1e-3).shape == (2, 2)
    assert series_reliability(np.full((4, 3), 0.9)).shape == (4,)
    assert first_failure_probability(np.ones((4, 3)), np.ones(4)).shape == (4, 3)
    assert_allclose(first_failure_probability(np.ones((4, 3)), 2.0), 1 / 3)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: case_temperature_life(0, 105, 65), "base_life must be"),
        (lambda: case_temperature_life(1000, 105, 116, 10), "at most rated_temperature"),
        (lambda: case_temperature_life(1000, 105, 30), "at least lowest_temperature"),
        (lambda: activation_energy_life(1000, 105, 20, 0.9), "at least lowest_temperature"),
        (lambda: activation_energy_life(1000, 105, 65, -1), "activation_energy must be"),
        (lambda: ripple_factor(-1, 5, 105), "ripple_ratio must be"),
        (lambda: ripple_factor(1, 45, 105), "rated_ripple_rise must be below 40"),
        (lambda: voltage_factor(1.1), "voltage_ratio must be"),
        (lambda: voltage_factor(0.9, "cubic"), "rule must be one of"),
        (lambda: implied_halving_interval(1, 10), "life_ratio must be above 1"),
        (lambda: implied_activation_energy(65, 0), "halving_interval must be"),
        (lambda: rectifier_ripple_current(230, 50, 60, 100e-6, 6e-3), "conduction_time must be"),
        (lambda: rectifier_ripple_current(230, 50, 900, 10e-6, 1e-3), "runs empty"),
        (lambda: pulsed_ripple_current(1.0, 2.0), "rms_current must be at least"),
        (lambda: frequency_multiplier(10, "snap-in, long life"), "frequency must be at least 50"),
        (lambda: frequency_multiplier(100, "tea"), "table must be one of"),
        (lambda: can_surface(0, 0.02), "diameter must be"),
        (lambda: ripple_temperature_rise(1, 0, 5), "rated_ripple_current must be"),
        (lambda: year_shares([8000, 100]), "the sum is 8100"),
        (lambda: year_shares(8760), "hours must be a list"),
        (lambda: year_shares([9000, -240]), "hours must be"),
        (lambda: weibull_failing_share(-1, 2, 3), "time must be"),
        (lambda: weibull_time(1.0, 2, 3), "failing_share must be above 0 and below 1"),
        (lambda: characteristic_life(0, 0.5, 3), "life must be"),
        (lambda: series_reliability(0.9), "reliability must be a list"),
        (lambda: parallel_reliability([1.2]), "reliability must be a list of shares"),
        (lambda: first_failure_probability(3.0, 2), "characteristic_life must be a list"),
        (lambda: failures_in_time(1, 0, 10), "components must be"),
        (lambda: mean_life_bounds(100, 0, 0.9, truncated_by="failure"), "whole number >= 1"),
        (lambda: mean_life_bounds(100, 1, 1.0), "confidence must be above 0 and below 1"),
        (lambda: mean_life_bounds(100, 1, 0.9, sides=3), "sides must be 1 or 2"),
        (lambda: dielectric_class("C0G"), "code must be a class-2 code"),
        (lambda: dielectric_class(7), "code must be a class-2 code"),
        (lambda: ceramic_capacitance_under_bias(1e-6, 5, 0), "half_voltage must be"),
        (lambda: aged_ceramic_capacitance(1e-6, 0.02, 0.5), "time must be at least"),
        (lambda: aged_ceramic_capacitance(1e-6, 0.3, 1e4), "ageing_rate must leave"),
        (lambda: pulsed_output_ripple(1, 2, 0.5, 1e5, 1e-4, 0), "secondary_valley must be"),
        (lambda: hold_up_ratio(0.8, 100, 90, 120), "start_voltage must be above"),
        (lambda: supply_carry_time(1e-6, 1e-3, 8, 9), "start_voltage must be above"),
    ],
)  # fmt: skip
def test_bad_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()
