"""Capacitor life: published answers, independent arithmetic, properties, and the demo adapters."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import constants

from adapterlab.capacitor_life import (
    LOWEST_TEMPERATURE,
    arrhenius_factor,
    can_temperature_rise,
    damage_share,
    electrolytic_life,
    equivalent_ripple_current,
    equivalent_temperature,
    mission_profile_life,
    polymer_life,
    ripple_temperature_rise,
    surroundings_temperature,
)
from adapterlab.published import rows

HOURS_PER_YEAR = 8760


# --- published answers: wet electrolytic -----------------------------------------------------


@pytest.mark.parametrize(("temperature", "printed"), [(45, 64000), (55, 32000), (65, 16000)])
def test_ten_kelvin_rule_as_printed(temperature, printed):
    # COSEL technical Q&A, "Electrolytic capacitor lifetime at varying ambient temperatures",
    # 2. Example: 1000 h at 105 °C.
    assert electrolytic_life(1000, 105, temperature) == pytest.approx(printed, abs=0.5)


@pytest.mark.parametrize(("temperature", "years"), [(105, 0.5), (95, 1), (85, 2), (75, 4)])
def test_ten_kelvin_rule_in_round_years(temperature, years):
    # dengen-navi.com, article on Arrhenius' law for power-supply capacitors: 5000 h at 105 °C,
    # 8760 h a year. The article rounds 0.57, 1.14, 2.28, 4.57 to whole and half years, hence 15 %.
    life = electrolytic_life(5000, 105, temperature)
    assert life / HOURS_PER_YEAR == pytest.approx(years, rel=0.15)


def test_rated_ripple_at_the_rated_temperature_leaves_the_base_life():
    # Rubycon, letter "Lifetime calculation formula of aluminum electrolytic capacitors", 1-3:
    # by definition of the base life (no printed answer).
    assert electrolytic_life(5000, 105, 105, 5, 5, True) == pytest.approx(5000, rel=1e-12)


def test_half_the_rated_ripple():
    # Rubycon, same letter: 5 K at rated ripple, half the current, 65 °C. The letter prints the
    # formula; 108708 h was worked out from it apart from this library (no printed answer).
    rise = ripple_temperature_rise(0.5, 1.0, 5)
    assert rise == 1.25
    life = electrolytic_life(5000, 105, 65, rise, 5, base_life_includes_ripple=True)
    assert life == pytest.approx(108708, abs=60)
    assert life == pytest.approx(5000 * 16 * 2 ** (5 / 8.75 - 1.25 / 9.6875), rel=1e-12)


def test_base_life_without_ripple():
    # DB Lectro CN1A100KC data sheet, p. 13: 1000 h at 85 °C, 45 °C, core 5 K above: one doubling
    # of four is lost (worked out from the printed formula).
    assert electrolytic_life(1000, 85, 45, 5) == pytest.approx(8000, rel=1e-12)


def test_temperature_of_the_core_with_rated_ripple():
    # Kendeil, "Useful life" page: L = L0 2^((Tmax + 10 - Tc)/10) with Tc of the hot capacitor and
    # 10 K of rated self-heating; 10000 h, 85 °C, Tc 75 °C give 40000 h. Here the surroundings are
    # 10 K cooler than the core.
    around = surroundings_temperature(75, 10)
    assert electrolytic_life(10000, 85, around, 10, 10, True) == pytest.approx(40000, rel=1e-12)


def test_a_makers_table_lies_above_the_rule():
    # Vishay Roederstein EYC, lifetime table for UR up to 100 V: at 40 °C with rated ripple 470
    # times the life at 105 °C, where the rule says 2^6.5.
    table = rows("capacitor_life", "maker_tables", name="snap-in, long life")[0]
    rule = electrolytic_life(1.0, table["rated_temperature"], table["temperature"])
    excess = np.array(table["rated_ripple"]) / rule
    assert excess[0] == pytest.approx(5.19, abs=0.01)
    assert excess[-1] == 1


def test_stated_spread_of_the_rule_covers_the_makers_table_where_it_should():
    table = rows("capacitor_life", "maker_tables", name="snap-in, long life")[0]
    spread = rows("allowances", "allowances", name="life.halving_interval")[0]
    warm = np.array(table["temperature"], dtype=float)
    # The range in which a maker states a factor of about two for ten kelvin: table ranges.
    held = (warm >= 60) & (warm <= 95)
    times = np.log2(np.array(table["rated_ripple"])[held])
    implied = (table["rated_temperature"] - warm[held]) / times
    assert held.sum() == 8
    assert implied.min() == pytest.approx(8.1, abs=0.05)
    assert implied.max() == pytest.approx(11.8, abs=0.05)
    assert spread["low"] <= implied.min()
    assert spread["high"] >= implied.max()


def test_published_bound_is_the_default():
    # DB Lectro CN1A100KC data sheet, p. 13: "from about 35 °C".
    assert LOWEST_TEMPERATURE == 35
    assert electrolytic_life(1000, 105, 35) == 128000
    with pytest.raises(ValueError, match=r"temperature must be at least lowest_temperature"):
        electrolytic_life(1000, 105, 34.9)
    assert electrolytic_life(1000, 105, 25, lowest_temperature=20) == 256000


# --- published answers: polymer --------------------------------------------------------------


@pytest.mark.parametrize(
    ("temperature", "polymer", "liquid"), [(85, 20000, 8000), (65, 200000, 32000)]
)
def test_polymer_beside_liquid(temperature, polymer, liquid):
    # Wuerth Elektronik in "Behind the mystery of electromagnetic compatibility design" (2022),
    # p. 18-19: times ten per 20 K for polymer, times two per 10 K for liquid; 2000 h at 105 °C.
    assert polymer_life(2000, 105, temperature) == pytest.approx(polymer, rel=1e-12)
    assert electrolytic_life(2000, 105, temperature) == pytest.approx(liquid, rel=1e-12)


def test_careful_polymer_rule():
    # A Japanese maker's note on polymer capacitors: L = L0 2^((T0-T)/10) 2^(-r/10).
    life = polymer_life(2000, 105, 65, rule="two-per-10-kelvin", ripple_rise=20)
    assert life == pytest.approx(2000 * 2**4 / 2**2, rel=1e-12)


# --- published answers: ripple, profiles, Arrhenius ------------------------------------------


def test_rise_from_losses_and_surface():
    # "Life of Alum Caps" (a maker's technical note), chapter 4, equations 4.1-4.6 and table 4-2:
    # beta 1.4512e-3 W/(K cm²) for 10 cm², 0.5 A in 0.2 ohm give 3.445 K (worked out from them).
    rise = can_temperature_rise(0.5, 0.2, 10e-4)
    assert rise == pytest.approx(3.445, abs=0.001)
    assert 0.5**2 * 0.2 / (rise * 10) == pytest.approx(1.4512e-3, abs=5e-8)
    assert can_temperature_rise(0.5, 0.2, 10e-4, heat_transfer=14.512) == pytest.approx(
        3.445, abs=0.001
    )


def test_ripple_currents_of_two_frequencies():
    # Same note: 0.4 A at 120 Hz (k = 1) and 0.9 A at 100 kHz (k = 1.5).
    assert equivalent_ripple_current([0.4, 0.9], [1.0, 1.5]) == pytest.approx(0.7211, abs=5e-5)


def test_three_shifts_as_printed():
    # COSEL technical Q&A, formula 1 and example: 8 h each at 45, 55, 65 °C.
    share = np.full(3, 1 / 3)
    life = mission_profile_life(electrolytic_life(1000, 105, [45, 55, 65]), share)
    assert life == pytest.approx(27429, abs=0.5)
    warm = equivalent_temperature([45, 55, 65], share)
    assert warm == pytest.approx(57.2, abs=0.05)
    assert electrolytic_life(1000, 105, warm) == pytest.approx(life, rel=1e-12)


def test_bearing_worked_example():
    # Documentation of the Python package reliability 0.9, Palmgren-Miner model (after Modarres et
    # al. 2017, p. 33-37): 40, 15 and 5 minutes of each hour.
    life, share = [50000, 6500, 1000], [40 / 60, 15 / 60, 5 / 60]
    cycles = mission_profile_life(life, share)
    assert cycles == pytest.approx(7400.37951, abs=5e-6)
    assert 100 / cycles == pytest.approx(0.01351, abs=5e-6)
    assert_allclose(100 * damage_share(life, share), [9.86717, 28.463, 61.66983], atol=6e-6)


def test_arrhenius_worked_example():
    # Documentation of the Python package reliability, acceleration factor: 1.2 eV, use at 60 °C,
    # test at 100 °C, k = 8.617333262145e-5 eV/K as in scipy.constants.
    assert arrhenius_factor(1.2, 100, 60) == pytest.approx(88.29574588463338, abs=1e-9)


@pytest.mark.parametrize(("energy", "printed"), [(0.5, 133), (1.0, 17597)])
def test_arrhenius_in_the_handbook(energy, printed):
    # NIST/SEMATECH e-Handbook, 8.1.5.1 (from memory): 25 to 125 °C. It takes k = 8.617e-5 eV/K
    # and °C + 273.16; that this gives the printed figure is shown, and that our constants move
    # it by less than 0.05 %.
    handbook = math.exp(energy / 8.617e-5 * (1 / (25 + 273.16) - 1 / (125 + 273.16)))
    assert handbook == pytest.approx(printed, abs=0.6)
    assert arrhenius_factor(energy, 125, 25) == pytest.approx(handbook, rel=5e-4)


@pytest.mark.parametrize(("temperature", "printed"), [(150, 258), (135, 128), (125, 77), (85, 8)])
def test_arrhenius_in_a_makers_table(temperature, printed):
    # Analog Devices, "Details of reliability calculations": 0.7 eV against 55 °C. Its figures are
    # cut to whole numbers and fit k from 8.62e-5 to 8.63e-5 eV/K; hence 1.5.
    assert arrhenius_factor(0.7, temperature, 55) == pytest.approx(printed, abs=1.5)


# --- properties ------------------------------------------------------------------------------

warmth = st.floats(35, 104)
rise = st.floats(0, 20)


@given(warmth, st.floats(0.1, 1), rise)
def test_cooler_and_with_less_ripple_lasts_longer(temperature, step, heat):
    for flag in (False, True):
        here = electrolytic_life(1000, 106, temperature + step, heat, 5, flag)
        assert electrolytic_life(1000, 106, temperature, heat, 5, flag) > here
        assert electrolytic_life(1000, 106, temperature + step, heat + step, 5, flag) < here
    assert polymer_life(1, 106, temperature) > polymer_life(1, 106, temperature + step)


@given(warmth, st.floats(1, 1e6))
def test_life_is_in_the_unit_of_the_base_life(temperature, factor):
    for law in (electrolytic_life, polymer_life):
        assert law(2000 * factor, 105, temperature) == pytest.approx(
            factor * law(2000, 105, temperature), rel=1e-12
        )


@given(st.floats(35, 95), rise)
def test_ten_kelvin_more_halve_the_life(temperature, heat):
    cool = electrolytic_life(1, 105, temperature, heat, 5, True)
    warm = electrolytic_life(1, 105, temperature + 10, heat, 5, True)
    assert cool == pytest.approx(2 * warm, rel=1e-12)


@given(st.lists(st.tuples(st.floats(35, 105), st.floats(0.01, 1)), min_size=1, max_size=6))
def test_profile_lies_between_its_extremes(conditions):
    warm = np.array([temperature for temperature, _ in conditions])
    share = np.array([weight for _, weight in conditions])
    share /= share.sum()
    life = electrolytic_life(1000, 105, warm)
    whole = mission_profile_life(life, share)
    assert life.min() * (1 - 1e-9) <= whole <= life.max() * (1 + 1e-9)
    middle = equivalent_temperature(warm, share)
    assert share @ warm - 1e-9 <= middle <= warm.max() + 1e-9
    assert whole == pytest.approx(1000 * 2 ** ((105 - middle) / 10), rel=1e-9)
    assert damage_share(life, share).sum() == pytest.approx(1, rel=1e-12)


@given(st.floats(0, 2), st.floats(-40, 150), st.floats(-40, 150), st.floats(-40, 150))
def test_arrhenius_turns_round_and_chains(energy, first, second, third):
    there = arrhenius_factor(energy, first, second)
    assert there * arrhenius_factor(energy, second, first) == pytest.approx(1, rel=1e-9)
    assert there * arrhenius_factor(energy, second, third) == pytest.approx(
        arrhenius_factor(energy, first, third), rel=1e-9
    )
    assert (there >= 1) == (first >= second) or there == pytest.approx(1, abs=1e-9)


def test_rule_and_arrhenius_touch_at_the_energy_it_implies():
    # k ln 2 T (T + 10) / 10 makes Arrhenius' rate double from T to T + 10 K.
    for temperature in (45, 65, 95):
        kelvin = temperature + 273.15
        energy = constants.k / constants.e * math.log(2) * kelvin * (kelvin + 10) / 10
        assert arrhenius_factor(energy, temperature + 10, temperature) == pytest.approx(2)


def test_shapes_and_types():
    assert type(electrolytic_life(1000, 105, 65)) is float
    assert type(mission_profile_life([1, 2], [0.5, 0.5])) is float
    flags = np.array([False, True])
    both = electrolytic_life(1000, 105, [[65], [75], [85]], 5, 5, flags)
    assert both.shape == (3, 2)
    assert_allclose(both[:, 1] / both[:, 0], 2)
    assert equivalent_ripple_current(np.ones((4, 3)), [1, 2, 2]).shape == (4,)
    assert mission_profile_life(np.ones((5, 2)), [0.25, 0.75]).shape == (5,)
    assert equivalent_temperature([45, 55], [[1, 0], [0, 1]]).tolist() == [45, 55]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: electrolytic_life(1000, 105, 105.1), "at most rated_temperature"),
        (lambda: polymer_life(1000, 105, 106), "at most rated_temperature"),
        (lambda: polymer_life(1000, 105, 30), "at least lowest_temperature"),
        (lambda: electrolytic_life(0, 105, 65), "base_life must be"),
        (lambda: electrolytic_life(1000, 105, math.nan), "temperature must be"),
        (lambda: electrolytic_life(1000, 105, 65, 40), "ripple_rise must be below 40 K"),
        (lambda: electrolytic_life(1000, 105, 65, 1, 40, True), "rated_ripple_rise must be below"),
        (lambda: electrolytic_life(1000, 105, 65, 0, 39.999, True), "too long or too"),
        (lambda: electrolytic_life(1000, 105, 65, -1), "ripple_rise must be"),
        (lambda: electrolytic_life(1000, 105, 65, halving_interval=0), "halving_interval must be"),
        (lambda: polymer_life(1000, 105, 65, rule="seven"), "rule must be one of"),
        (lambda: equivalent_ripple_current(1.0, 1.0), "currents must be a list"),
        (lambda: equivalent_ripple_current([1.0], [0.0]), "multipliers must be"),
        (lambda: ripple_temperature_rise(1, 0, 5), "rated_ripple_current must be"),
        (lambda: can_temperature_rise(1, 0.1, 0), "surface_area must be"),
        (lambda: surroundings_temperature(65, 5, 0.9), "core_to_case_ratio must be at least 1"),
        (lambda: mission_profile_life([1, 2], [0.5, 0.6]), "share must add up to 1"),
        (lambda: mission_profile_life([1, 2], [1.5, -0.5]), "share must be"),
        (lambda: mission_profile_life([1, 0], [0.5, 0.5]), "life must be"),
        (lambda: mission_profile_life(1.0, 1.0), "share must be a list"),
        (lambda: arrhenius_factor(-1, 100, 60), "activation_energy must be"),
        (lambda: arrhenius_factor(900, 300, 0), "fits a number"),
        (lambda: arrhenius_factor(1, -300, 60), "temperature must be"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_published_rows_have_what_the_code_reads():
    kinds = {"wet electrolytic", "polymer"}
    assert {row["type"] for row in rows("capacitor_life", "longest_lives")} == kinds
    for kind in kinds:
        assert rows("allowances", "allowances", name=f"capacitor.rated_rise.{kind}")
    ratios = [row["ratio"] for row in rows("capacitor_life", "core_to_case")]
    assert ratios == sorted(ratios)
    assert (ratios[0], ratios[-1]) == (1.0, 1.6)
