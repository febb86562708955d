"""Tests of control, clamp, losses and inverse questions. Every number states where it is from."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from adapterlab.flyback import (
    boundary_current,
    boundary_inductance,
    burst_current,
    burst_loss,
    burst_operation,
    capacitive_loss,
    clamp_dissipation,
    clamp_resistance,
    conduction_loss,
    diode_loss,
    duty_turns_ratio,
    foldback_frequency,
    leakage_spike,
    mode_map,
    operating_point,
    rating_turns_ratio,
    resistor_clamp_voltage,
    ripple_inductance,
    switching_loss,
    synchronous_loss,
    turn_off_loss,
    valley_number,
    valley_switching,
    waveforms,
)

# --- what is printed ---


def test_inverse_questions_printed():
    """Erickson & Maksimovic, 3rd ed., 11.4.2, pp. 476-481: D = 0.4 and a peak ripple of 20 %.

    Printed: 1.07 mH and turns 0.15 to 1. The book's ripple is peak, here it is peak to peak.
    """
    assert_allclose(1 / duty_turns_ratio(200, 20, 0.4), 0.15, rtol=1e-9)
    inductance = ripple_inductance(200, 20, 5, 1 / 0.15, 150e3, 0.4)
    assert_allclose(inductance * 1e3, 1.07, atol=0.005)


def test_mode_change_printed():
    """Pressman, 4.8.4, pp. 150-154: with 791 uH continuous conduction ends at 5 W, 1 A.

    The book multiplies 37 V (after the switch) by 38 V (before it): between those two.
    """
    low, high = boundary_current([37, 38], 5, 9, 791e-6, 50e3, 1, 6 / 6.25)
    assert low < 1 < high
    assert_allclose(high, low, rtol=0.035)


def test_switch_stress_printed():
    """Pressman, 4.6 and 4.8.4: 60 V in, 5 V and 1 V of drop: 120 V with turns 10, 114 V with 9."""
    ratios = rating_turns_ratio(60, 5, [120, 114], diode_drop=1)
    assert_allclose(ratios, [10, 9], atol=0.09)


def test_turn_off_printed():
    """Pressman, 11.2-11.7, pp. 547-557: 184 V doubled, 3.45 A, 0.3 us, 100 kHz: 19 W.

    The overlap is printed as 635 W during the fall; with 1400 pF 3.2 W in the switch and
    9.5 W in the resistor; the leakage of 15 uH then adds 178 V.
    """
    assert_allclose(turn_off_loss(368, 3.45, 0.3e-6, 100e3), 19, atol=0.5)
    assert_allclose(turn_off_loss(368, 3.45, 0.3e-6, 100e3) / (0.3e-6 * 100e3), 635, atol=0.5)
    assert_allclose(turn_off_loss(368, 3.45, 0.3e-6, 100e3, 1.40e-9), 3.2, atol=0.05)
    assert_allclose(capacitive_loss(1.4e-9, 368, 100e3), 9.5, atol=0.05)
    assert_allclose(leakage_spike(3.45 / 2, 15e-6, 1.4e-9), 178, atol=1.1)


@pytest.mark.parametrize(("overlap", "edges", "efficiency"),
                         [("simultaneous", 1, 80.1), ("successive", 2, 67.2)])  # fmt: skip
def test_overlap_printed(overlap, edges, efficiency):
    """Pressman, 1.3, pp. 16-20: 48 V to 5 V with 1 V of drop, edges of 0.3 us in 20 us.

    One ampere: 5 W out, 1 W in the drop. In the better case voltage and current change
    together, in the worse one after the other, which takes twice as long.
    """
    loss = 2 * switching_loss(48, 1, edges * 0.3e-6, 50e3, overlap)
    assert_allclose(100 * 5 / (5 + 1 + loss), efficiency, atol=0.05)


def test_conduction_printed():
    """Pressman, 9.2.9, pp. 479-480: 0.79 ohm warm is 0.49 ohm cold; 1.26 ohm heats by 5 °C.

    At 0.83 °C/W, 3.45 A peak and 0.632 of it rms.
    """
    warm = conduction_loss(1.0, 0.49, 1.6)
    assert_allclose(warm, 0.79, atol=0.006)
    assert_allclose(0.83 * conduction_loss(0.632 * 3.45, 1.26), 5, rtol=0.01)


def test_budget_printed():
    """Power Integrations, AN-19 (1996), fig. 1: items sum to 5.11 W, in less out of 39.38 W.

    Its clamp takes 1.2 W and its diode 1.0 W of 34.3 W; parts like those give like figures here.
    """
    items = [0.37, 0.16, 0.43, 1.08, 0.03, 0.3, 1.0, 1.2, 0.54]
    assert_allclose(sum(items), 39.38 - 34.27, atol=0.005)
    point = operating_point(150, 12, 34.27 / 12, 8, 500e-6, 76e3, 0.4, 0.9)
    diode = diode_loss(34.27 / 12, point.secondary_rms, 0.35)
    assert 0.8 < diode < 1.2


# --- other ways to the same number ---


def test_turn_off_against_integration():
    """scipy.quad over current times voltage, for capacitances below and above the turning point."""
    volts, amperes, fall = 400.0, 2.0, 60e-9
    for held in (20e-12, 100e-12, 150e-12, 400e-12):

        def node(time, held=held):
            return min(volts, amperes * time**2 / (2 * held * fall))

        edge = min(fall, np.sqrt(2 * held * fall * volts / amperes))
        energy, _ = quad(
            lambda time, node=node: node(time) * amperes * (1 - time / fall), 0, fall, points=[edge]
        )
        assert_allclose(turn_off_loss(volts, amperes, fall, 1e5, held), energy * 1e5, rtol=1e-6)


def test_clamp_against_integration():
    """scipy: leakage current integrated until it is zero, times the clamp's voltage."""
    leakage, peak, clamp, reflected = 6e-6, 1.77, 160.0, 90.0
    run = solve_ivp(
        lambda _, state: [-(clamp - reflected) / leakage, state[0] * clamp],
        (0, 1e-6), [peak, 0.0], events=_empty, rtol=1e-10, atol=1e-15,
    )  # fmt: skip
    expected = run.y[1, -1] * 85e3
    assert_allclose(clamp_dissipation(leakage, peak, 85e3, clamp, reflected), expected, rtol=1e-6)


def _empty(_, state):
    return state[0]


_empty.terminal = True


def test_valley_by_waiting_for_it():
    """scipy.brentq on the period: charge, release and a wait for the chosen minimum."""
    for valley in (1, 2, 5):
        point = valley_switching(310, 20, 1.5, 5, 300e-6, 150e-12, valley, 0.1, 0.9)
        power, reflected = 20.1 * 1.5 / 0.9, 5 * 20.1
        wait = (2 * valley - 1) * np.pi * np.sqrt(300e-6 * 150e-12)

        def missing(peak, wait=wait, power=power, reflected=reflected):
            period = 300e-6 * peak * (1 / 310 + 1 / reflected) + wait
            return 300e-6 * peak**2 / 2 - power * period

        assert_allclose(point.primary_peak, brentq(missing, 0.01, 50), rtol=1e-9)
        assert_allclose(point.valley_voltage, 310 - reflected, rtol=1e-12)


def test_the_ringing_against_integration():
    """scipy: inductance and drain capacitance from the plateau on; half a ring later the valley."""
    point = valley_switching(310, 20, 1.5, 5, 300e-6, 150e-12)
    ring = solve_ivp(
        lambda _, state: [(310 - state[1]) / 300e-6, state[0] / 150e-12],
        (0, point.ring_period / 2), [0.0, 310 + 100.0], rtol=1e-9, atol=1e-12, max_step=1e-8,
    )  # fmt: skip
    assert_allclose(ring.y[1, -1], point.valley_voltage, rtol=1e-5)
    assert_allclose(ring.y[0, -1], 0, atol=1e-5)


def test_valley_number_is_the_first_below_the_ceiling():
    loads = np.linspace(0.05, 4, 60)
    stage = (310, 20, loads, 5, 300e-6, 150e-12)
    number = valley_number(*stage, 140e3)
    assert np.all(valley_switching(*stage, number).switching_frequency <= 140e3 * (1 + 1e-9))
    earlier = valley_switching(*stage, np.maximum(number - 1, 1)).switching_frequency
    assert np.all(earlier[number > 1] > 140e3 * (1 - 1e-9))
    assert number[0] > number[-1] == 1


def test_bursts_against_a_run_in_small_steps():
    """The output between two thresholds, step by step."""
    load, burst, capacitance, window = 0.03, 0.1, 100e-6, 20e-3
    volts, working, starts, time, step, worked = 0.0, True, [], 0.0, 1e-7, 0.0
    while len(starts) < 4:
        volts += ((burst if working else 0) - load) * step / capacitance
        time += step
        worked += step * (working and len(starts) == 2)
        if working and volts > window:
            working = False
        elif not working and volts < 0:
            working = True
            starts.append(time)
    expected = burst_operation(load, burst, capacitance, window)
    assert_allclose(1 / expected.burst_frequency, starts[2] - starts[1], rtol=0.003)
    assert_allclose(expected.duty_cycle, 0.3, rtol=1e-12)
    # Up at (0.1 - 0.03) A / 100 uF.
    assert_allclose(expected.on_time, 20e-3 * 100e-6 / 0.07, rtol=1e-12)


# --- properties ---

stages = st.tuples(
    st.floats(80, 380), st.floats(3.3, 21), st.floats(0.1, 5), st.floats(3, 15),
    st.floats(50e-6, 2e-3), st.floats(0, 1), st.floats(0.7, 1),
)  # fmt: skip


@given(stages, st.floats(20e-12, 400e-12), st.integers(1, 9))
def test_valley_keeps_energy_and_comes_to_the_boundary(stage, capacitance, valley):
    source, output, current, ratio, inductance, drop, efficiency = stage
    rest = (drop, efficiency)
    point = valley_switching(source, output, current, ratio, inductance, capacitance, valley, *rest)
    packet = inductance * point.primary_peak**2 / 2 * point.switching_frequency
    assert_allclose(packet, (output + drop) * current / efficiency, rtol=1e-9)
    waits = (valley - 0.5) * point.ring_period * point.switching_frequency
    assert_allclose(point.duty_cycle + point.secondary_duty + waits, 1, rtol=1e-9)
    edge = operating_point(source, output, current, ratio, inductance, None, *rest)
    assert point.switching_frequency < edge.switching_frequency
    tiny = valley_switching(source, output, current, ratio, inductance, 1e-22, 1, *rest)
    assert_allclose(tiny.primary_peak, edge.primary_peak, rtol=1e-3)


@given(stages, st.floats(30e3, 200e3), st.floats(0.05, 2))
def test_ripple_inductance_gives_that_ripple(stage, frequency, ripple):
    source, output, current, ratio, _, drop, efficiency = stage
    inductance = ripple_inductance(
        source, output, current, ratio, frequency, ripple, drop, efficiency
    )
    point = operating_point(source, output, current, ratio, inductance, frequency, drop, efficiency)
    swing, middle = (
        point.primary_peak - point.primary_valley,
        (point.primary_peak + point.primary_valley) / 2,
    )
    assert_allclose(swing / middle, ripple, rtol=1e-6)


@given(stages, st.floats(30e3, 200e3))
def test_boundary_current_and_inductance_are_one_line(stage, frequency):
    source, output, _, ratio, inductance, drop, efficiency = stage
    edge = boundary_current(source, output, ratio, inductance, frequency, drop, efficiency)
    back = boundary_inductance(source, output, edge, ratio, frequency, drop, efficiency)
    assert_allclose(back, inductance, rtol=1e-9)


@given(st.floats(80, 380), st.floats(3.3, 21), st.floats(0.01, 0.95), st.floats(0, 1))
def test_turns_for_a_duty_give_that_duty(source, output, duty, drop):
    ratio = duty_turns_ratio(source, output, duty, drop)
    point = operating_point(source, output, 2, ratio, 1e-3, None, drop)
    assert_allclose(point.duty_cycle, duty, rtol=1e-9)


@given(st.floats(80, 380), st.floats(3.3, 21), st.floats(0, 0.3), st.floats(0, 100))
def test_turns_for_a_rating_use_it_up(source, output, margin, spike):
    ratio = rating_turns_ratio(source, output, 700, margin, spike)
    point = operating_point(source, output, 2, ratio, 1e-3, 1e5)
    assert_allclose(point.switch_voltage + spike, 700 * (1 - margin), rtol=1e-9)


def test_the_map_says_what_each_point_says():
    volts, loads = np.linspace(90, 380, 25), np.linspace(0.05, 4, 30)
    stage = (20, 4.5, 400e-6, 85e3, 0.1, 0.9)
    found = mode_map(volts, loads, *stage, smallest_peak=0.5)
    grid = operating_point(volts, 20, loads[:, None], *stage[1:])
    burst = found.mode == 0
    assert np.array_equal(np.array(found.names)[found.mode][~burst], grid.mode[~burst])
    assert np.all(grid.primary_peak[burst] < 0.5)
    assert np.all(grid.primary_peak[~burst] >= 0.5)
    assert {0, 1, 2} == set(found.mode.ravel())
    never = mode_map(volts, loads, *stage)
    assert 0 not in never.mode


def test_bursts_begin_where_the_smallest_peak_serves_the_load():
    edge = burst_current(0.5, 400e-6, 85e3, 20, 0.1, 0.9)
    assert_allclose(operating_point(300, 20, edge, 4.5, 400e-6, 85e3, 0.1, 0.9).primary_peak, 0.5)


def test_energy_in_and_out_of_one_period():
    """Areas under power in and power out of the drawn waveforms are equal, by numpy."""
    for volts in (100.0, 320.0):
        point = operating_point(volts, 20, 3, 4.5, 300e-6, 85e3)
        wave = waveforms(point, periods=1)
        charged = volts * np.trapezoid(wave.primary_current, wave.time)
        released = 20 * np.trapezoid(wave.secondary_current, wave.time)
        assert_allclose(charged, released, rtol=1e-9)
        assert_allclose(charged * 85e3, 60, rtol=1e-9)


@given(st.floats(1e-6, 20e-6), st.floats(0.2, 4), st.floats(1e3, 1e6), st.floats(0, 150),
       st.floats(0, 1))  # fmt: skip
def test_clamp_resistor_round_trip(leakage, peak, resistance, reflected, drop):
    volts = resistor_clamp_voltage(leakage, peak, 85e3, resistance, reflected, drop)
    power = clamp_dissipation(leakage, peak, 85e3, volts, reflected, drop)
    assert power > leakage * peak**2 / 2 * 85e3 * (1 - 1e-9)
    into_capacitor = power * volts / (volts + drop)
    assert_allclose(clamp_resistance(volts, into_capacitor), resistance, rtol=1e-6)


def test_foldback_holds_the_peak():
    """Common practice: in proportion to power, so each packet stays the same."""
    powers = np.array([2.0, 4.0, 8.0])
    frequency = foldback_frequency(powers, 85e3, 8.0, 20e3)
    peaks = operating_point(300, 20, powers / 20, 4.5, 300e-6, frequency).primary_peak
    assert_allclose(peaks, peaks[0], rtol=1e-9)
    assert_allclose(foldback_frequency(0, 85e3, 8.0, 20e3), 20e3)


def test_losses_at_their_limits():
    assert_allclose(diode_loss(2, 3, 0, 0.1), 0.9)
    assert_allclose(synchronous_loss(3, 8, 0.01, 1e5, 0), conduction_loss(3, 0.01))
    assert_allclose(burst_loss(1, 1e5, 1e-6, 0.05, 0.02), 0.15)
    # Doubling every edge doubles the loss.
    assert_allclose(switching_loss(300, 1, 2e-8, 1e5), 2 * switching_loss(300, 1, 1e-8, 1e5))


def test_shapes_and_types():
    assert type(clamp_dissipation(5e-6, 1.8, 85e3, 160, 90)) is float
    assert clamp_dissipation(5e-6, [1.0, 1.8], 85e3, [[160.0], [170.0]], 90).shape == (2, 2)
    assert type(valley_switching(310, 20, 1, 5, 3e-4, 1e-10).duty_cycle) is float
    assert valley_number(np.full((3, 1), 310), 20, [1, 2], 5, 3e-4, 1e-10, 1e5).shape == (3, 2)
    assert burst_operation([0.01, 0.02], 0.1, 1e-4, 0.02).on_time.shape == (2,)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: duty_turns_ratio(300, 20, 1), "duty_cycle must be above 0 and below 1"),
        (lambda: duty_turns_ratio(300, 20, 0), "duty_cycle must be"),
        (lambda: ripple_inductance(300, 20, 2, 4, 1e5, 2.1), "current_ripple must be at most 2"),
        (lambda: rating_turns_ratio(340, 20, 400, 0.2), "rated_voltage must exceed"),
        (lambda: rating_turns_ratio(340, 20, 650, 1), "margin must be"),
        (lambda: boundary_current(300, 20, 0, 1e-3, 1e5), "turns_ratio must"),
        (lambda: mode_map([[300]], [1], 20, 4, 1e-3, 1e5), "one-dimensional"),
        (lambda: mode_map([300], [1], 20, 0, 1e-3, 1e5), "turns_ratio must"),
        (lambda: valley_switching(300, 20, 1, 5, 3e-4, 1e-10, 1.5), "valley must be whole"),
        (lambda: valley_switching(300, 20, 1, 5, 3e-4, 0), "drain_capacitance must"),
        (lambda: valley_number(300, 20, 1, 5, 3e-4, 1e-10, 0), "highest_frequency must"),
        (lambda: foldback_frequency(1, 1e4, 8), "lowest_frequency must not lie above"),
        (lambda: burst_operation(0.1, 0.1, 1e-4, 0.02), "output_current must be below"),
        (lambda: burst_current(0, 3e-4, 1e5, 20), "smallest_peak must"),
        (lambda: burst_loss(0, 1e5, 0, 0, 0), "duty_cycle must"),
        (lambda: clamp_dissipation(5e-6, 1, 1e5, 80, 90), "clamp_voltage must lie above"),
        (lambda: clamp_resistance(160, 0), "clamp_power must"),
        (lambda: leakage_spike(1, 5e-6, 0), "drain_capacitance must"),
        (lambda: diode_loss(2, 1, 0.5), "mean_current must not exceed"),
        (lambda: switching_loss(1, 1, 1, 1, "never"), "overlap must be one of"),
        (lambda: turn_off_loss(0, 1, 1e-8, 1e5), "voltage must"),
        (lambda: conduction_loss(1, -1), "resistance must"),
    ],
)  # fmt: skip
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()
