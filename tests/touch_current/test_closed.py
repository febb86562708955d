"""Tests for the touch_current section. Every expected number states where it comes from."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats
from simulator import simulate

from adapterlab.touch_current import (
    NETWORKS,
    RAILS,
    barrier_current,
    body_network,
    indicated_current,
    infer_barrier_capacitance,
    largest_barrier_capacitance,
    limit_conformity,
    rail_harmonics,
    rail_waveform,
    scale_touch_current,
    split_by_polarity,
    touch_current_limits,
    unexplained_capacitance,
)
from adapterlab.uncertainty import propagate

farads, volts, hertz = st.floats(1e-11, 1e-7), st.floats(50, 500), st.floats(40, 70)


@pytest.mark.parametrize(
    ("voltage", "frequency", "milliampere"),
    [(120, 60, 0.213), (220, 50, 0.325), (240, 50, 0.354), (264, 50, 0.390)],
)
def test_full_mains_printed(voltage, frequency, milliampere):
    """IEEE product safety list, 2002-06-26, msg25732: 4700 pF at four mains, three digits."""
    current = barrier_current(4.7e-9, voltage, frequency, "full-mains").rms
    assert_allclose(current * 1e3, milliampere, atol=6e-4)


def test_measured_by_two_laboratories_lies_between_the_models():
    """IEEE product safety list, msg25759: one 4700 pF adapter read 0.17 and 0.28 mA."""
    lowest = barrier_current(4.7e-9, 240, 50, "half-mains").rms * 1e3
    highest = barrier_current(4.7e-9, 264, 60, "full-mains").rms * 1e3
    assert lowest < 0.18
    assert highest > 0.28


def test_scales_with_frequency_times_voltage():
    """A maker's leakage table, three mains, rounded to 0.01 mA: 0.14, 0.20, 0.34 mA (6 %)."""
    base = barrier_current(1e-9, 100, 50, "bridge-with-reservoir").rms
    for voltage, frequency, printed in [(120, 60, 0.20), (230, 50, 0.34)]:
        scaled = (
            0.14 * barrier_current(1e-9, voltage, frequency, "bridge-with-reservoir").rms / base
        )
        assert_allclose(scaled, printed, rtol=0.06)
        again = scale_touch_current(0.14, 100, 50, voltage, frequency)
        assert_allclose(again, printed, rtol=0.06)
        assert_allclose(again, scaled, rtol=0.006)  # the network hears 60 Hz a little less


@pytest.mark.parametrize(
    ("frequency", "figure_3", "impedance", "u2_over_current"),
    [
        (0, 2000.00, 2000.00, 500.000),
        (20, 1998.39, 1998.39, 499.790),
        (50, 1990.01, 1990.02, 498.689),
        (60, 1985.66, 1985.67, 498.115),
        (100, 1960.98, 1961.01, 494.815),
        (200, 1857.35, 1857.41, 480.178),
        (500, 1434.37, 1433.34, 404.669),
        (1e3, 978.60, 972.53, 283.679),
        (2e3, 675.34, 660.91, 162.853),
        (5e3, 533.45, 511.89, 68.2533),
        (1e4, 508.63, 485.43, 34.3676),
        (2e4, 502.17, 478.52, 17.2143),
        (5e4, 500.35, 476.56, 6.88918),
        (1e5, 500.09, 476.28, 3.44483),
        (1e6, 500.00, 476.19, 0.344491),
    ],
)
def test_body_network_against_a_ladder_solved_as_a_matrix(
    frequency, figure_3, impedance, u2_over_current
):
    """Values: the ladders of IEC 60990 figures 3 and 4 worked out apart, five digits (computed,
    not printed in the standard). Beside them the same ladder by nodal analysis.
    """  # noqa: D209
    network = body_network(frequency)
    assert_allclose(network.unweighted_impedance, figure_3, rtol=1e-5)
    assert_allclose(network.impedance, impedance, rtol=1e-5)
    assert_allclose(network.weighting * 500, u2_over_current, rtol=2e-5)
    laplace = 2j * np.pi * frequency
    skin = 1 / 1500 + laplace * 0.22e-6
    body, series, shunt = 1 / 500, 1 / 10e3, laplace * 0.022e-6
    nodes = np.array(
        [[skin, -skin, 0], [-skin, skin + body + series, -series], [0, -series, series + shunt]]
    )
    v_in, v_body, v_filter = np.linalg.solve(nodes, [1, 0, 0])
    assert_allclose(network.impedance, abs(v_in), rtol=1e-9)
    assert_allclose(network.unweighted, abs(v_body) / 500, rtol=1e-9)
    assert_allclose(network.weighting, abs(v_filter) / 500, rtol=1e-9)


def test_limits_of_60065_as_currents():
    """IEC 60065 9.1.1: U2 = 0.35 V peak is 0.7 mA, U1 = 35 V peak at high frequency is 70 mA,
    U1 = 1.0 V direct is 2 mA.
    """  # noqa: D209
    weighted, burn, direct = (row.limit for row in touch_current_limits("IEC 60065"))
    assert_allclose(0.35 / (500 * body_network(0).weighting), weighted, rtol=1e-12)
    assert_allclose(35 / (500 * body_network(0).unweighted), burn, rtol=1e-12)
    assert_allclose(1.0 / 500, direct, rtol=1e-12)


def test_limit_of_61347_as_a_current():
    """IEEE product safety list, msg77171: 34 V peak across 50 kohm, 0.68 mA peak, 0.48 mA rms."""
    (row,) = touch_current_limits("IEC 61347-1")
    assert_allclose(row.limit, 34 / 50e3, rtol=1e-12)
    assert_allclose(row.limit / np.sqrt(2) * 1e3, 0.48, atol=0.005)
    assert not row.judges


def test_standards_differ_by_more_than_five():
    """IEC 62684 (90 uA) against IEC 62368-1 (0.5 mA), both rms and weighted."""
    alike = [
        row.limit for row in touch_current_limits()
        if (row.quantity, row.network) == ("rms", "weighted") and "earth" not in row.not_covered
    ]  # fmt: skip
    assert max(alike) / min(alike) > 5


def test_limits_of_62368_as_printed():
    """IEC 62368-1, table 4, ES1: 0,5 mA r.m.s., 0,707 mA peak, 2 mA d.c. (two reproductions).

    r.m.s. for sinusoidal currents only, otherwise peak.
    """
    printed = {"rms": 0.5e-3, "peak": 0.707e-3, "dc": 2e-3}
    for row in touch_current_limits("IEC 62368-1"):
        assert_allclose(row.limit, printed[row.quantity], rtol=1e-12)
        assert row.sine_only == (row.quantity == "rms")
        assert (row.known, row.standing.state) == ("two", "in force")


def test_limits_of_older_standards_say_so():
    """EN 60950-1 and EN 60065 withdrawn on 20 December 2020 (test-house notices).

    0.25 mA: JIS C 9335-1 summary table, and a report after IEC 60950-1, p. 19.
    """
    for standard in ("IEC 60950-1", "IEC 60065"):
        for row in touch_current_limits(standard):
            assert row.standing.state == "superseded"
            assert "December 2020" in row.standing.said
    older = {row.short: row.limit for row in touch_current_limits("IEC 60335-1")}
    assert older["Class II in older editions"] == 0.25e-3
    # Its protective impedance is still in force, for household appliances.
    assert all(row.not_covered == "household appliances"
               for row in touch_current_limits("IEC 60335-1"))  # fmt: skip


def test_conformity_one_sided_normal():
    """JCGM 106:2012, 7.2: two standard uncertainties below the limit is 0.97725 (table)."""
    found = limit_conformity([240e-6, 250e-6], 5e-6, "IEC 60950-1")
    assert_allclose(found["Class II not earthed"], [0.97725, 0.5], atol=1e-5)


def test_direct_current_impedance_is_the_2000_ohm_shortcut():
    """IEC 60990: 2000 ohm for direct current and sines up to 100 Hz (2 % off at 100 Hz)."""
    assert_allclose(body_network(0).impedance, 2000, rtol=1e-12)
    assert_allclose(body_network(100).impedance, 2000, rtol=0.02)


def test_rectified_rail_against_numerical_integration():
    """Without a reservoir: -sin in the second and third quarter, transformed by numpy."""
    steps = 1 << 16
    angle = 2 * np.pi * (np.arange(steps) + 0.5) / steps
    current = np.where(np.cos(angle) < 0, -np.sin(angle), 0.0)
    orders = np.arange(1, 30)
    transformed = 2 * np.fft.rfft(current)[orders] / steps * np.exp(-1j * orders * np.pi / steps)
    assert_allclose(rail_harmonics("bridge-without-reservoir", orders), transformed, atol=2e-4)


def test_bridge_against_the_circuit_simulator():
    """ngspice, tests/netlists/touch_current_bridge.cir: exponential diodes, full network.

    The ideal rail is within 1 %: real diodes lose some 0.5 V of 325 V and turn off softly.
    """
    simulated = simulate("touch_current_bridge")
    case = (1.5e-9, 230, 50, "bridge-with-reservoir")
    assert_allclose(500 * indicated_current(*case), simulated["weighted_rms"], rtol=0.01)
    assert_allclose(
        500 * indicated_current(*case, "unweighted"), simulated["unweighted_rms"], rtol=0.01
    )
    assert_allclose(
        500 * indicated_current(*case, quantity="peak"), simulated["weighted_max"], rtol=0.01
    )


def test_harmonics_against_numerical_integration():
    """Independent: the waveform of the rail, stepped through a period and transformed by numpy."""
    steps = 1 << 16
    angle = 2 * np.pi * (np.arange(steps) + 0.5) / steps
    quarter = np.floor(angle / (np.pi / 2)).astype(int)
    current = np.where(quarter % 2 == 1, -np.sin(angle), 0.0)
    transformed = 2 * np.fft.rfft(current) / steps
    orders = np.arange(1, 30)
    shift = np.exp(-1j * orders * np.pi / steps)
    assert_allclose(
        rail_harmonics("bridge-with-reservoir", orders), transformed[orders] * shift, atol=2e-4
    )


@pytest.mark.parametrize("rail", RAILS)
def test_harmonics_add_up_to_the_closed_form(rail):
    """Parseval: the sum over all harmonics is the square of the rms; the tail falls as 1/n."""
    amplitudes = np.abs(rail_harmonics(rail, np.arange(1, 20000)))
    rms = np.sqrt((amplitudes**2).sum() / 2)
    closed = barrier_current(1.0, 1.0, 1 / (2 * np.pi), rail).rms / np.sqrt(2)
    assert_allclose(rms, closed, rtol=1e-4)


def test_weighted_sine_through_the_whole_network():
    """1.5 nF at 230 V 50 Hz: 108.09 uA weighted with the network's impedance in series."""
    frequency, impedance = 50, 1 / (2j * np.pi * 50 * 1.5e-9)
    exact = 230 / abs(impedance + 1990) * body_network(frequency).weighting
    assert_allclose(indicated_current(1.5e-9, 230, 50, "full-mains"), exact, rtol=1e-4)


@pytest.mark.parametrize(
    ("rail", "nanofarad"), [("full-mains", 2.512), ("bridge-with-reservoir", 3.552)]
)
def test_largest_capacitor(rail, nanofarad):
    """0.25 mA at 264 V 60 Hz, worked out by hand: I / (2 pi f V), and over 0.7071."""
    by_hand = 0.25e-3 / (2 * np.pi * 60 * 264) * {"full-mains": 1}.get(rail, np.sqrt(2))
    found = largest_barrier_capacitance(0.25e-3, 264, 60, rail)
    assert_allclose(found, by_hand, rtol=1e-12)
    assert_allclose(found * 1e9, nanofarad, atol=6e-4)


@given(farads, volts, hertz, st.sampled_from(RAILS), st.sampled_from(NETWORKS))
def test_inference_undoes_the_reading(capacitance, voltage, frequency, rail, network):
    reading = indicated_current(capacitance, voltage, frequency, rail, network)
    found = infer_barrier_capacitance(reading, voltage, frequency, rail, network)
    assert_allclose(found.capacitance, capacitance, rtol=1e-9)


@given(farads, volts, hertz)
def test_rails_are_ordered(capacitance, voltage, frequency):
    half, bridge, full = (
        barrier_current(capacitance, voltage, frequency, rail).rms
        for rail in ("half-mains", "bridge-with-reservoir", "full-mains")
    )
    assert half < bridge < full


@given(st.floats(1, 1e6), st.floats(1.01, 10))
def test_weighting_falls_with_frequency(frequency, factor):
    assert body_network(frequency * factor).weighting < body_network(frequency).weighting


@given(st.floats(0, 1))
def test_weighting_is_one_near_direct_current(frequency):
    assert_allclose(body_network(frequency).weighting, 1, rtol=1e-5)


def test_interval_against_propagation_of_distributions():
    """Independent: JCGM 101 draws instead of the sum of squares."""
    found = infer_barrier_capacitance(
        80e-6, 230, 50, "full-mains", "ammeter",
        touch_current_uncertainty=1e-6, mains_voltage_uncertainty=1.0, model_uncertainty=0.01,
    )  # fmt: skip
    drawn = propagate(
        lambda current, voltage, model: current / (2 * np.pi * 50 * voltage) * model,
        {"current": stats.norm(80e-6, 1e-6), "voltage": stats.norm(230, 1),
         "model": stats.norm(1, 0.01)},
    )  # fmt: skip
    assert_allclose(found.standard_uncertainty, drawn.standard_uncertainty, rtol=0.01)
    assert_allclose(found.interval, drawn.interval(0.95), rtol=0.001)


def test_many_frequencies_as_one_by_one():
    """The interpolated network factor against the sum over harmonics at each frequency."""
    frequency = np.linspace(16, 400, 5000)
    for quantity, near in (("rms", 1e-9), ("peak", 3e-5)):
        case = ("bridge-with-reservoir", "weighted", quantity)
        together = indicated_current(1e-9, 230, frequency, *case)
        alone = [indicated_current(1e-9, 230, item, *case) for item in frequency[::500]]
        assert_allclose(together[::500], alone, rtol=near)


def test_model_factor_divides():
    """Hand: a rail that gives 2 % less than the ideal one needs 1/0.98 of the capacitance."""
    ideal, true = (
        infer_barrier_capacitance(80e-6, 230, 50, model_factor=factor).capacitance
        for factor in (1, 0.98)
    )
    assert_allclose(true, ideal / 0.98, rtol=1e-12)


def test_rest_by_hand():
    """1.75 nF less 1 nF less 0.24 nF; 200 pF over sqrt 3 with 35 and 24 pF in quadrature."""
    rest = unexplained_capacitance(1.75e-9, 35e-12, 1e-9, 0.2, 240e-12, 24e-12)
    spread = np.sqrt(35**2 + 200**2 / 3 + 24**2) * 1e-12
    assert_allclose(rest.capacitance, 0.51e-9, rtol=1e-12)
    assert_allclose(rest.standard_uncertainty, spread, rtol=1e-12)
    assert_allclose(rest.interval[0], 0.51e-9 - 1.95996 * spread, rtol=1e-5)
    assert_allclose(rest.probability, stats.norm.sf(0, 0.51e-9, spread), rtol=1e-12)
    assert unexplained_capacitance(1e-9, 1e-11, [1e-9, 2e-9], 0.1).probability[1] < 0.01


@given(st.floats(1e-11, 4e-9), st.floats(0, 4e-9), st.sampled_from(NETWORKS))
@settings(max_examples=30)
def test_split_undoes_the_waveform(on_rail, on_pin, network):
    """Independent: both readings from the rail solved in the time domain."""
    readings = [
        rail_waveform(
            on_rail, 230, 50, network=network, polarity=side, stray_capacitance=on_pin
        ).indicated_rms
        for side in "ba"
    ]
    split = split_by_polarity(*readings, 230, 50, network)
    total = on_rail + on_pin
    assert_allclose(split.rail_capacitance, on_rail, rtol=0.002, atol=0.002 * total)
    assert_allclose(split.terminal_capacitance, on_pin, rtol=0.005, atol=0.005 * total)


def test_split_uncertainty_against_propagation():
    """Independent: JCGM 101 draws."""
    found = split_by_polarity(100e-6, 80e-6, 230, 50, touch_current_uncertainty=0.5e-6)
    drawn = propagate(
        lambda first, second: (
            (split := split_by_polarity(first, second, 230, 50)).rail_capacitance,
            split.terminal_capacitance,
        ),
        {"first": stats.norm(100e-6, 0.5e-6), "second": stats.norm(80e-6, 0.5e-6)},
    )
    ours = [found.rail_uncertainty, found.terminal_uncertainty]
    assert_allclose(ours, drawn.standard_uncertainty, rtol=0.02)


def test_all_or_nothing_is_a_pin():
    """Nothing one way round: no rail, and the full-mains closed form the other way."""
    whole = indicated_current(1e-9, 230, 50, "full-mains")
    split = split_by_polarity(0.0, whole, 230, 50)
    assert split.rail_capacitance == 0
    assert_allclose(split.terminal_capacitance, 1e-9, rtol=1e-9)


@given(st.floats(1e-6, 1e-3), volts, hertz, volts, hertz)
def test_scaling_there_and_back(current, voltage, frequency, other_voltage, other_frequency):
    there = scale_touch_current(current, voltage, frequency, other_voltage, other_frequency)
    back = scale_touch_current(there, other_voltage, other_frequency, voltage, frequency)
    assert_allclose(back, current, rtol=1e-9)


def test_shapes_and_types():
    assert type(barrier_current(1e-9, 230, 50, "full-mains").rms) is float
    table = indicated_current(np.full((3, 1), 1e-9), 230, [50, 60], "bridge-with-reservoir")
    assert table.shape == (3, 2)
    assert body_network([50, 60]).weighting.shape == (2,)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: barrier_current(0, 230, 50, "full-mains"), "capacitance must be finite and > 0"),
        (lambda: barrier_current(1e-9, -1, 50, "full-mains"), "mains_voltage must"),
        (lambda: barrier_current(1e-9, 230, float("nan"), "full-mains"), "mains_frequency must"),
        (lambda: barrier_current(1e-9, 230, 50, "quarter"), "rail must be one of"),
        (lambda: body_network(-1), "frequency must be finite and >= 0"),
        (lambda: indicated_current(1e-9, 230, 50, "full-mains", "ear"), "network must be one of"),
        (lambda: indicated_current(1e-9, 230, 50, "full-mains", quantity="dc"), "quantity must"),
        (lambda: rail_harmonics("full-mains", 0), "order must be >= 1"),
        (lambda: infer_barrier_capacitance(1e-6, 230, 50, marked_capacitance=1e-9), "together"),
        (lambda: infer_barrier_capacitance(1e-6, 230, 50, coverage=1.5), "coverage must"),
        (lambda: infer_barrier_capacitance(-1e-6, 230, 50), "touch_current must be finite and > 0"),
        (lambda: infer_barrier_capacitance(87e-3, 230, 50), "largest capacitance any rule lets"),
        (lambda: infer_barrier_capacitance(1e-6, 230, 50, model_factor=0), "model_factor must"),
        (lambda: scale_touch_current(-1e-6, 230, 50, 120, 60), "touch_current must"),
        (lambda: scale_touch_current(1e-6, 230, 50, 0, 60), "mains_voltage must"),
        (lambda: split_by_polarity(0, 0, 230, 50), "must be finite and > 0"),
        (lambda: split_by_polarity(1e-6, -1e-6, 230, 50), "reversed_touch_current must"),
        (lambda: unexplained_capacitance(1e-9, -1e-12, 1e-9, 0.2), "standard_uncertainty must"),
        (lambda: touch_current_limits("IEC 1"), "standard must be one of IEC 62368-1, IEC 60950-1"),
        (lambda: limit_conformity(1e-6, 0, "ISO 9"), "standard must be one of"),
        (lambda: limit_conformity(-1e-6, 0, "IEC 60950-1"), "touch_current must"),
        (lambda: limit_conformity(1e-6, 0, "IEC 62684", "peak"), "holds no limit for a weighted"),
        (lambda: limit_conformity(1e-6, 0, "IEC 60065", "mean"), "quantity must"),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()
