"""The rail in the time domain: against the circuit simulator, closed forms and a stepped solver.

The simulator's diodes are exponential (1 nA, 0.05 ohm): they drop some 0.3 V at the microamperes
of the barrier. Twice that is the constant `bridge_drop` given here.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp
from simulator import simulate

from adapterlab.touch_current import (
    RAILS,
    barrier_current,
    body_network,
    indicated_current,
    open_circuit_voltage,
    rail_harmonics,
    rail_waveform,
    series_capacitance,
    switching_current,
)

DROP = 0.6
farads, volts, hertz = st.floats(1e-11, 2e-8), st.floats(90, 270), st.floats(45, 65)


def rail(*case, **options):
    return rail_waveform(*case, **({"bridge_drop": DROP} | options))


CASES = [
    pytest.param("touch_current_bridge", "weighted", lambda: rail(1.5e-9, 230, 50), id="1.5 nF"),
    pytest.param(
        "touch_current_polarity", "a", lambda: rail(4.7e-9, 240, 50, stray_capacitance=100e-12),
        id="4.7 nF, stray pin live",
    ),
    pytest.param(
        "touch_current_polarity", "b",
        lambda: rail(4.7e-9, 240, 50, stray_capacitance=100e-12, polarity="b"),
        id="4.7 nF, stray pin earthed",
    ),
    pytest.param(
        "touch_current_load", "weighted",
        lambda: rail(1.5e-9, 230, 50, bulk_capacitance=22e-6, load_power=25), id="load of 25 W",
    ),
    pytest.param(
        "touch_current_diodes", "weighted", lambda: rail(1e-9, 230, 50, diode_capacitance=50e-12),
        id="diodes of 50 pF",
    ),
    pytest.param(
        "touch_current_unweighted", "unweighted",
        lambda: rail(2.2e-9, 120, 60, network="unweighted"), id="120 V, figure 3",
    ),
    pytest.param(
        "touch_current_windings", "weighted",
        lambda: rail(
            series_capacitance([2.2e-9, 2.2e-9]), 264, 60, bulk_capacitance=47e-6, load_power=20,
            interwinding_capacitance=200e-12,
        ),
        id="two in series beside the windings",
    ),
    pytest.param(
        "touch_current_rectified", "weighted",
        lambda: rail(1.5e-9, 230, 50, "bridge-without-reservoir"), id="no reservoir",
    ),
    pytest.param(
        "touch_current_rectified", "live", lambda: rail(1.5e-9, 230, 50, "full-mains"),
        id="on the live pin",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("netlist", "name", "ours"), CASES)
def test_against_the_circuit_simulator(netlist, name, ours):
    """ngspice on tests/netlists: rms and peak of the meter's reading within 0.5 %."""
    simulated, wave = simulate(netlist), ours()
    assert_allclose(500 * wave.indicated_rms, simulated[f"{name}_rms"], rtol=0.005)
    peak = max(simulated[f"{name}_max"], -simulated.get(f"{name}_min", 0.0))
    assert_allclose(500 * wave.indicated_peak, peak, rtol=0.005)


def test_nothing_flows_from_the_earthed_pin():
    """ngspice: a capacitor on the earthed pin carries nothing; nor does it here."""
    assert abs(simulate("touch_current_rectified")["earthed_max"]) < 1e-9
    assert rail(1.5e-9, 230, 50, "full-mains", polarity="b").rms == 0


def test_reservoir_against_the_circuit_simulator():
    """Valley of the reservoir and mean of the unloaded rail, ngspice."""
    wave = rail(1.5e-9, 230, 50, bulk_capacitance=22e-6, load_power=25)
    assert_allclose(wave.bulk_voltage.min(), simulate("touch_current_load")["bulk_min"], rtol=0.003)
    wave = rail(1.5e-9, 230, 50, "bridge-without-reservoir")
    mean = simulate("touch_current_rectified")["rail_mean"]
    assert_allclose(wave.rail_mean, mean, rtol=0.005)


def test_voltmeters_against_the_circuit_simulator():
    """10 Mohm with 100 pF of lead, and a 1 Mohm probe, ngspice."""
    simulated = simulate("touch_current_meter")
    meter = open_circuit_voltage(
        1.5e-9, 230, 50, bridge_drop=0.4, diode_capacitance=10e-12, meter_capacitance=100e-12
    )
    assert_allclose(meter, simulated["meter_rms"], rtol=0.003)
    probe = open_circuit_voltage(1.5e-9, 230, 50, bridge_drop=DROP, meter_resistance=1e6)
    assert_allclose(probe, simulated["probe_rms"], rtol=0.003)


@pytest.mark.parametrize(
    ("resistance", "low", "high"), [(10e6, 94, 97), (1e6, 54, 58), (50e3, 3.65, 3.85)]
)
def test_voltmeters_against_an_earlier_simulation(resistance, low, high):
    """A separate time-domain simulation (0.7 V + 2 ohm diodes, 22 uF, 1.5 nF, 230 V 50 Hz):
    95 to 97, 54 to 57 and 3.65 to 3.80 V; diodes without capacitance here.
    """  # noqa: D209
    assert low < open_circuit_voltage(1.5e-9, 230, 50, meter_resistance=resistance) < high


def test_open_output_floats_at_half_the_mains():
    """With nothing but the diodes' capacitance the output divides the mains (common knowledge
    of the trade: it floats at about half of it).
    """  # noqa: D209
    shown = open_circuit_voltage(1e-9, 230, 50, meter_resistance=1e11, diode_capacitance=10e-12)
    assert_allclose(shown, 115, rtol=1e-3)


@pytest.mark.parametrize(
    ("options", "rms", "peak"),
    [({}, 0.7068, 0.9999), ({"load_power": 10}, 0.711, 1.014), ({"load_power": 25}, 0.716, 1.036),
     ({"diode_capacitance": 50e-12}, 0.679, None)],
)  # fmt: skip
def test_factors_against_an_earlier_simulation(options, rms, peak):
    """A separate time-domain simulation: 0.7 V + 2 ohm diodes, 22 uF, 1.5 nF, 230 V 50 Hz."""
    wave = rail_waveform(
        1.5e-9, 230, 50, network="ammeter", bridge_drop=1.4, bulk_capacitance=22e-6, **options
    )
    full = barrier_current(1.5e-9, 230, 50, "full-mains")
    assert_allclose(wave.rms / full.rms, rms, rtol=0.005)
    if peak is not None:
        assert_allclose(wave.peak / full.peak, peak, rtol=0.005)


@pytest.mark.parametrize(
    ("kind", "alternating", "direct", "crest_factor"),
    [
        ("bridge-with-reservoir", np.sqrt(1 - 2 / np.pi), -0.5, 2.0),
        ("bridge-without-reservoir", np.sqrt(0.5 - 2 / np.pi**2), -1 / np.pi, 2.0),
        ("half-mains", 0.5, 0.0, np.sqrt(2)),
        ("full-mains", 1.0, 0.0, np.sqrt(2)),
    ],
)
def test_waveform_factors(kind, alternating, direct, crest_factor):
    """Integrated by hand; a separate simulation gave 0.6028, 0.5453, -0.5 and -0.318."""
    wave = rail_waveform(1.5e-9, 230, 50, kind, "ammeter")
    crest = np.sqrt(2) * 230
    assert_allclose(wave.rail_rms / 230, alternating, atol=5e-5)
    assert_allclose(wave.rail_mean / crest, direct, atol=5e-5)
    assert_allclose(wave.crest_factor, crest_factor, rtol=1e-4)


@pytest.mark.parametrize("kind", RAILS)
def test_closed_forms_are_its_limit(kind):
    """No drop, no load, no diode capacitance: the closed forms, short and through the network."""
    case = (1.5e-9, 230, 50, kind)
    short = rail_waveform(*case, "ammeter")
    assert_allclose(short.rms, barrier_current(*case).rms, rtol=2e-6)
    assert_allclose(short.peak, barrier_current(*case).peak, rtol=5e-6)
    orders = np.arange(1, 41)
    lines = barrier_current(*case[:3], "full-mains").rms * np.abs(rail_harmonics(kind, orders))
    assert_allclose(short.harmonic_currents, lines, atol=2e-4 * short.rms)
    for network in ("weighted", "unweighted"):
        wave = rail_waveform(*case, network)
        assert_allclose(wave.indicated_rms, indicated_current(*case, network), rtol=1e-3)


def test_loading_of_the_network_is_exact():
    """4.7 nF on the live pin: the whole ladder as one impedance; printed arithmetic for 1.5 nF
    (108.377 uA into the network and 108.093 uA weighted at 230 V 50 Hz).
    """  # noqa: D209
    wave = rail_waveform(1.5e-9, 230, 50, "full-mains")
    assert_allclose(wave.rms * 1e6, 108.37695, rtol=1e-5)
    assert_allclose(wave.indicated_rms * 1e6, 108.09269, rtol=1e-5)
    frequency = 60.0
    laplace = 2j * np.pi * frequency
    skin = 1500 / (1 + laplace * 1500 * 0.22e-6)
    body = 1 / (1 / 500 + 1 / (10e3 + 1 / (laplace * 0.022e-6)))
    current = 264 / abs(1 / (laplace * 4.7e-9) + skin + body)
    wave = rail_waveform(4.7e-9, 264, frequency, "full-mains")
    assert_allclose(wave.rms, current, rtol=5e-6)
    weighting = body_network(frequency).weighting
    assert_allclose(wave.indicated_rms, current * weighting, rtol=5e-6)


def test_reservoir_ripple_against_an_integrator():
    """scipy's solve_ivp on C dv/dt = -P/v from the crest until the mains takes over."""
    bulk, power = 22e-6, 25.0
    wave = rail_waveform(1e-9, 230, 50, bulk_capacitance=bulk, load_power=power)
    falling = np.flatnonzero(wave.bulk_voltage < np.abs(wave.mains_voltage) + 1e-9)
    last = falling[falling < 512].max()
    span = wave.time[last : last + 400]
    solved = solve_ivp(
        lambda _, v: -power / v / bulk, (span[0], span[-1]), [wave.bulk_voltage[last]],
        t_eval=span, rtol=1e-9, atol=1e-9,
    )  # fmt: skip
    assert_allclose(wave.bulk_voltage[last : last + 400], solved.y[0], rtol=1e-6)


def test_deep_discharge_against_an_integrator():
    """Below 60 V the load is a constant current; a small reservoir gets there."""
    bulk, power = 7e-6, 20.0
    wave = rail_waveform(1e-9, 120, 60, bulk_capacitance=bulk, load_power=power)
    assert wave.bulk_voltage.min() < 55
    follow = np.abs(wave.mains_voltage) + 1e-9 >= wave.bulk_voltage
    last = np.flatnonzero(follow[:512]).max()
    end = last + np.flatnonzero(follow[last + 1 : 1024])[0]
    span = wave.time[last : end + 1]
    solved = solve_ivp(
        lambda _, v: -power / np.maximum(v, 60.0) / bulk, (span[0], span[-1]),
        [wave.bulk_voltage[last]], t_eval=span, rtol=1e-9, atol=1e-9, max_step=1e-5,
    )  # fmt: skip
    assert_allclose(wave.bulk_voltage[last : end + 1], solved.y[0], rtol=1e-5)


@given(farads, volts, hertz, st.floats(0, 1e-10), st.floats(0, 1e-10), st.floats(0, 40))
@settings(max_examples=25)
def test_the_rail_keeps_within_its_diodes(capacitance, voltage, frequency, diode, winding, power):
    wave = rail_waveform(
        capacitance, voltage, frequency, bridge_drop=1.0, diode_capacitance=diode,
        interwinding_capacitance=winding, bulk_capacitance=47e-6, load_power=power,
    )  # fmt: skip
    slack = 1e-9 * voltage
    live, rail_voltage = wave.mains_voltage, wave.rail_voltage
    assert np.all(rail_voltage <= np.minimum(live, 0) + 0.5 + slack)
    assert np.all(rail_voltage >= np.maximum(live, 0) - wave.bulk_voltage - 0.5 - slack)
    assert_allclose(wave.current.mean(), 0, atol=1e-9)


@given(farads, volts, st.sampled_from(RAILS[::3]), st.floats(0, 1e-10))
@settings(max_examples=25)
def test_a_rail_gives_the_same_in_both_polarities(capacitance, voltage, kind, diode):
    both = [
        rail_waveform(capacitance, voltage, 50, kind, polarity=side, diode_capacitance=diode).rms
        for side in "ab"
    ]
    assert_allclose(both[0], both[1], rtol=1e-12)


@given(farads, st.floats(1, 2))
@settings(max_examples=25)
def test_current_scales_with_mains_voltage(capacitance, factor):
    one, other = (rail_waveform(capacitance, 120 * by, 50).indicated_rms for by in (1, factor))
    assert_allclose(other, factor * one, rtol=1e-6)


def test_more_of_anything_across_the_barrier_is_more_current():
    base = rail_waveform(1e-9, 230, 50).indicated_rms
    for more in ("interwinding_capacitance", "stray_capacitance"):
        assert rail_waveform(1e-9, 230, 50, **{more: 1e-10}).indicated_rms > 1.03 * base
    assert rail_waveform(1e-9, 230, 50, diode_capacitance=1e-10).indicated_rms < base


def test_many_at_once_as_one_by_one():
    capacitances, powers = np.array([[1e-9], [3e-9]]), np.array([0.0, 10.0, 60.0])
    together = rail_waveform(
        capacitances, 230, 50, bulk_capacitance=[22e-6, 22e-6, 100e-6], load_power=powers,
        diode_capacitance=1e-11,
    )  # fmt: skip
    assert together.current.shape == (2, 3, 2048)
    assert together.harmonic_currents.shape == (2, 3, 40)
    alone = rail_waveform(
        3e-9, 230, 50, bulk_capacitance=100e-6, load_power=60, diode_capacitance=1e-11
    )
    assert_allclose(together.indicated_rms[1, 2], alone.indicated_rms, rtol=1e-7)
    assert type(alone.rms) is type(alone.rail_mean) is type(alone.crest_factor) is float
    shown = open_circuit_voltage([1e-9, 3e-9], 230, 50)
    assert_allclose(shown[1], open_circuit_voltage(3e-9, 230, 50), rtol=1e-5)
    assert type(open_circuit_voltage(3e-9, 230, 50)) is float


def test_spectrum_adds_up():
    """Parseval; beyond order 40 the steps of the current leave 1 % of its square."""
    wave = rail_waveform(1e-9, 230, 50, network="ammeter")
    square = (wave.harmonic_currents**2).sum()
    assert 0.98 * wave.rms**2 < square < wave.rms**2


def test_series_of_two():
    """Two equal ones: half (hand)."""
    assert series_capacitance([2.2e-9, 2.2e-9]) == pytest.approx(1.1e-9)
    assert series_capacitance([[1e-9, 1e-9], [1e-9, 3e-9]]) == pytest.approx([0.5e-9, 0.75e-9])


def test_switching_current_against_the_matrix_of_the_circuit():
    """Nodal analysis of one harmonic: source, windings, barrier capacitor, ladder of figure 4."""
    frequency = 600e3  # only the fundamental lies below 1 MHz
    found = switching_current(5e-12, 1e-9, 150, frequency, 0.3)
    level = np.sqrt(2) * 150 / np.pi * np.sin(0.3 * np.pi)
    laplace = 2j * np.pi * frequency
    skin = 1 / 1500 + laplace * 0.22e-6
    body, series, shunt = 1 / 500, 1 / 10e3, laplace * 0.022e-6
    touched = laplace * (5e-12 + 1e-9) + skin
    nodes = np.array(
        [[touched, -skin, 0], [-skin, skin + body + series, -series], [0, -series, series + shunt]]
    )
    voltage = np.linalg.solve(nodes, [laplace * 5e-12 * level, 0, 0])
    assert_allclose(found.rms, abs((voltage[0] - voltage[1]) * skin), rtol=1e-9)
    assert_allclose(found.unweighted * 500, abs(voltage[1]), rtol=1e-9)
    assert_allclose(found.weighted * 500, abs(voltage[2]), rtol=1e-9)


def test_switching_current_falls_with_the_barrier_capacitor():
    """Why the capacitor is there: without it far more noise takes the way through a body."""
    with_it, without = (switching_current(20e-12, c, 200, 85e3).rms for c in (2.2e-9, 0.0))
    assert with_it < 0.7 * without
    assert switching_current(20e-12, [1e-9, 2e-9], 200, [[85e3], [65e3]]).rms.shape == (2, 2)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: rail_waveform(-1e-9, 230, 50), "capacitance must be finite and > 0"),
        (lambda: rail_waveform(1e-9, 230, 50, "thirds"), "rail must be one of"),
        (lambda: rail_waveform(1e-9, 230, 50, network="ear"), "network must be one of"),
        (lambda: rail_waveform(1e-9, 230, 50, polarity="c"), "polarity must be one of a, b"),
        (lambda: rail_waveform(1e-9, 230, 50, load_power=10), "bulk_capacitance must be given"),
        (lambda: rail_waveform(1e-9, 230, 50, bulk_capacitance=0), "bulk_capacitance must"),
        (lambda: rail_waveform(1e-9, 230, 50, bulk_capacitance=1e-7), "at least 500 times"),
        (lambda: rail_waveform(1e-9, 230, 50, load_power=-1), "load_power must"),
        (
            lambda: rail_waveform(1e-9, 230, 50, bridge_drop=400),
            "bridge_drop must be below the crest",
        ),
        (lambda: rail_waveform(1e-9, 230, 50, points=1001), "points must be a multiple of 4"),
        (lambda: rail_waveform(1e-9, 230, float("nan")), "mains_frequency must be finite"),
        (lambda: open_circuit_voltage(1e-9, 230, 50, meter_resistance=0), "meter_resistance must"),
        (lambda: open_circuit_voltage(1e-9, 230, 50, meter_resistance=1e12), "100 gigohm"),
        (lambda: series_capacitance([1e-9, 0]), "capacitances must be finite and > 0"),
        (lambda: series_capacitance([]), "at least one"),
        (lambda: switching_current(1e-12, 1e-9, 100, 2e6), "at most 1 MHz"),
        (lambda: switching_current(1e-12, 1e-9, 100, 1e5, 1), "duty_cycle must be below 1"),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()
