"""Tests of output ripple, paralleled converters and ports. Every number states its source."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from adapterlab.flyback import (
    ParalleledStage,
    SecondaryPulse,
    combined_ripple,
    filter_attenuation,
    filter_damping,
    interleaved_ripple_factor,
    load_sharing,
    operating_point,
    output_ripple,
    output_waveform,
    paralleled_capacitor_current,
    port_allocation,
    ripple_against_load,
    ripple_step,
    secondary_pulse,
    trapezoid_rms,
)

# --- what is printed ---


def test_output_capacitor_printed():
    """Pressman, 4.6, pp. 130-135: 10 A, 13.9 us of 20 us off, 0.05 V allowed: 2800 uF.

    Printed too: the resistive step of 23 mohm at 66 A, 1.5 V.
    """
    pulse = SecondaryPulse(66.0, 0.0, 6.1 / 20, 50e3)
    ripple = output_ripple(pulse, 2800e-6, 0.023)
    assert_allclose(ripple.resistive, 1.5, atol=0.05)
    # The droop of exactly 10 A; the pulse's own mean is 10.07 A.
    assert_allclose(2800 * ripple.droop / 0.05 * 10 / pulse.mean, 2800, atol=50)


@pytest.mark.parametrize(
    ("converters", "duty", "ratio"),
    [
        pytest.param(1, [0.5], 1, id="LTC3861 p. 24: worst at 1/2"),
        pytest.param(2, [0.25, 0.75], 1 / 2, id="LTC3861 p. 24: half, worst at 1/4 and 3/4"),
        pytest.param(3, [1 / 6, 1 / 2, 5 / 6], 1 / 3, id="LTC3731 pp. 25-26: a third, at 1/6"),
    ],
)
def test_worst_case_of_pulsed_currents_printed(converters, duty, ratio):
    """Linear Technology: capacitor rms over the current that flows on, so times the duty."""
    grid = np.linspace(0.001, 0.999, 4999)
    rms = grid * paralleled_capacitor_current(grid, converters, "flat")
    alone = grid * paralleled_capacitor_current(grid, 1, "flat")
    assert_allclose(rms.max() / alone.max(), ratio, atol=0.0005)
    at = np.array(duty) * paralleled_capacitor_current(duty, converters, "flat")
    assert_allclose(at, rms.max(), rtol=1e-4)


def test_triangle_rms_printed():
    """Linear Technology, LTC3861, fig. 10: rms of a triangular ripple is 0.3 of peak to peak."""
    assert_allclose(trapezoid_rms(-0.5, 0.5, 1), 0.3, atol=0.05)


def test_damped_filter_printed():
    """Erickson & Maksimovic, 3rd ed., 17.4.1, pp. 694-696: 330 uH, 470 uF, 1 ohm."""
    found = filter_damping(330e-6, 470e-6, 1.0)
    assert_allclose(found.characteristic_impedance, 0.84, atol=0.005)
    assert_allclose(found.capacitance_ratio, 2.5, atol=0.05)
    assert_allclose(found.damping_capacitance, 1200e-6, atol=50e-6)
    assert_allclose(found.damping_resistance, 0.67, atol=0.005)


def test_filter_corner_printed():
    """Wuerth (2022), pp. 11-12: 40 dB of attenuation a decade above the corner."""
    corner = 1 / (2 * np.pi * np.sqrt(1e-6 * 100e-6))
    assert_allclose(-20 * np.log10(filter_attenuation(10 * corner, 1e-6, 100e-6)), 40, atol=0.1)
    with pytest.raises(ValueError, match="resonance"):
        filter_attenuation(corner, 1e-6, 100e-6)


# --- other ways to the same number ---

TURN = (np.arange(400_000) + 0.5) / 400_000


def sampled(pulses, capacitance, esr, phases):
    """Excess current and voltage of one period in 400 000 samples, without the library."""
    current = np.zeros_like(TURN)
    for pulse, angle in zip(pulses, phases, strict=True):
        local = np.mod(TURN - angle / 360, 1)
        inside = local < pulse.duty_cycle
        fall = (pulse.peak - pulse.valley) * local / pulse.duty_cycle
        current += np.where(inside, pulse.peak - fall, 0)
    current -= current.mean()
    charge = np.cumsum(current) / TURN.size / pulses[0].switching_frequency
    return current, esr * current + charge / capacitance


@pytest.mark.parametrize(("capacitance", "esr"), [(660e-6, 7e-3), (100e-6, 1e-3), (220e-6, 0)])
@pytest.mark.parametrize("valley", [0.0, 2.0, 8.0])
def test_one_converter_against_samples(capacitance, esr, valley):
    pulse = SecondaryPulse(8.0, valley, 0.4, 85e3)
    ripple = output_ripple(pulse, capacitance, esr)
    current, volts = sampled([pulse], capacitance, esr, [0])
    assert_allclose(ripple.peak_to_peak, np.ptp(volts), rtol=1e-4)
    assert_allclose(ripple.capacitor_rms, np.sqrt((current**2).mean()), rtol=1e-4)
    wave = output_waveform(pulse, capacitance, esr)
    assert_allclose(np.ptp(wave.ripple), ripple.peak_to_peak, rtol=1e-4)


@pytest.mark.parametrize("converters", [1, 2, 3, 4])
@pytest.mark.parametrize("duty", [0.11, 0.3, 0.5, 0.83])
def test_equal_converters_against_samples(converters, duty):
    phases = np.arange(converters) * 360 / converters
    for shape, valley in (("flat", 1.0), ("ramp", 0.0)):
        pulses = [SecondaryPulse(1.0, valley, duty, 1e5)] * converters
        current, _ = sampled(pulses, 1e-4, 0, phases)
        total = sum(pulse.mean for pulse in pulses)
        expected = np.sqrt((current**2).mean()) / total
        found = paralleled_capacitor_current(duty, converters, shape)
        assert_allclose(found, expected, rtol=1e-3, atol=1e-3)


def test_unequal_converters_against_samples():
    pulses = [
        SecondaryPulse(8.0, 0.0, 0.5, 1e5),
        SecondaryPulse(5.0, 2.0, 0.7, 1e5),
        SecondaryPulse(3.0, 0.0, 0.2, 1e5),
    ]
    for phases in ([0, 0, 0], [0, 120, 240], [10, 200, 355]):
        current, volts = sampled(pulses, 330e-6, 4e-3, phases)
        found = combined_ripple(pulses, 330e-6, 4e-3, phases)
        assert_allclose(found.peak_to_peak, np.ptp(volts), rtol=1e-4)
        assert_allclose(found.capacitor_rms, np.sqrt((current**2).mean()), rtol=1e-4)


def test_triangles_against_samples():
    """Shifted triangles, summed by numpy."""
    for duty in (0.1, 0.25, 0.4, 0.62):
        for converters in (1, 2, 3, 5):
            total = np.zeros_like(TURN)
            for number in range(converters):
                local = np.mod(TURN - number / converters, 1)
                total += np.where(local < duty, local / duty, (1 - local) / (1 - duty))
            found = interleaved_ripple_factor(duty, converters)
            assert_allclose(found, np.ptp(total), rtol=1e-3, atol=2e-4)


def test_second_stage_against_a_simulated_network():
    """scipy: the filter as a state space, driven for 200 periods until it has settled."""
    from scipy.signal import StateSpace, lsim

    pulse = SecondaryPulse(8.0, 0.0, 0.5, 85e3)
    first, esr, choke, second, second_esr = 470e-6, 8e-3, 1e-6, 220e-6, 10e-3
    # States: voltage of the first capacitor, current of the choke, voltage of the second.
    matrix = [
        [0, -1 / first, 0],
        [1 / choke, -(esr + second_esr) / choke, -1 / choke],
        [0, 1 / second, 0],
    ]
    drive = [[1 / first], [esr / choke], [0]]
    period, steps = 1 / 85e3, 400
    time = np.arange(200 * steps) * period / steps
    local = np.mod(time / period, 1)
    current = np.where(local < 0.5, 8 - 16 * local, 0)
    current -= current[:steps].mean()
    network = StateSpace(matrix, drive, [[0, second_esr, 1]], [[0]])
    _, volts, _ = lsim(network, current, time, interp=False)
    expected = np.ptp(volts[-steps:])
    found = output_ripple(
        pulse, first, esr, filter_inductance=choke, filter_capacitance=second, filter_esr=second_esr
    )
    assert_allclose(found.filtered, expected, rtol=0.01)
    wave = output_waveform(
        pulse, first, esr, filter_inductance=choke, filter_capacitance=second, filter_esr=second_esr
    )
    assert_allclose(np.ptp(wave.filtered), expected, rtol=0.01)


# --- properties ---

pulse_values = st.tuples(
    st.floats(0.1, 20), st.floats(0, 1), st.floats(0.02, 0.98), st.floats(20e3, 500e3)
)
outputs = st.tuples(st.floats(10e-6, 2e-3), st.floats(0, 0.1))


def _pulse(values):
    peak, valley, duty, frequency = values
    return SecondaryPulse(peak, valley * peak, duty, frequency)


@given(pulse_values, outputs)
def test_parts_bound_the_whole(values, output):
    ripple = output_ripple(_pulse(values), *output)
    assert max(ripple.capacitive, ripple.resistive) <= ripple.peak_to_peak * (1 + 1e-9)
    assert ripple.peak_to_peak <= (ripple.capacitive + ripple.resistive) * (1 + 1e-9)
    assert ripple.droop <= ripple.capacitive * (1 + 1e-9)


@given(pulse_values, outputs, st.lists(st.floats(0, 360), min_size=2, max_size=3))
def test_no_phase_is_worse_than_the_sum(values, output, phases):
    pulses = [_pulse(values)] * len(phases)
    free = combined_ripple(pulses, *output)
    fixed = combined_ripple(pulses, *output, phases)
    together = combined_ripple(pulses, *output, [0] * len(phases))
    assert fixed.peak_to_peak <= free.peak_to_peak * (1 + 1e-9)
    assert_allclose(together.peak_to_peak, free.peak_to_peak, rtol=1e-6)
    assert_allclose(together.capacitor_rms, len(phases) * pulses[0].capacitor_rms, rtol=1e-6)
    assert_allclose(free.capacitor_rms * np.sqrt(len(phases)), together.capacitor_rms, rtol=1e-6)


@given(st.floats(0.02, 0.98), st.integers(1, 6), st.sampled_from(["flat", "ramp"]))
def test_unsynchronised_falls_as_one_over_root(duty, converters, shape):
    alone = paralleled_capacitor_current(duty, 1, shape)
    free = paralleled_capacitor_current(duty, converters, shape, synchronised=False)
    assert_allclose(free, alone / np.sqrt(converters))
    assert paralleled_capacitor_current(duty, converters, shape) <= free + 1e-9


@given(st.floats(100, 380), st.floats(3.3, 21), st.floats(0.1, 3), st.floats(0.7, 1))
def test_the_pulse_carries_the_load(volts, output, current, efficiency):
    point = operating_point(volts, output, current, 5, 300e-6, 85e3, 0.3, efficiency)
    assert_allclose(secondary_pulse(point, current).mean, current, rtol=1e-9)
    assert_allclose(secondary_pulse(point).mean, current / efficiency, rtol=1e-9)


def test_zeros_of_cancellation():
    """Where N pulses of duty m/N fill the period without a gap nothing is left to the capacitor."""
    for converters in (2, 3, 4):
        duty = np.arange(1, converters) / converters
        assert_allclose(interleaved_ripple_factor(duty, converters), 0, atol=1e-9)
        assert_allclose(paralleled_capacitor_current(duty, converters, "flat"), 0, atol=1e-7)
        # Ramps leave a saw-tooth of height 2/(N D): a triangle's rms, 1/sqrt(12) of that.
        saw = 2 / (converters * duty * np.sqrt(12))
        assert_allclose(paralleled_capacitor_current(duty, converters, "ramp"), saw, rtol=1e-9)


# --- sharing a load ---

LIKE = [
    ParalleledStage(20, 4.5, 300e-6, 85e3),
    ParalleledStage(20, 4.5, 300e-6, 85e3, joins_above=20),
]


def test_the_three_causes_make_the_step():
    """Like converters, unsynchronised, resistance ruling: halves at 1/sqrt(2) each."""
    step = ripple_step(300, 20, LIKE, 660e-6, 20e-3)
    assert_allclose(step.from_current, np.sqrt(0.5), rtol=1e-6)
    assert_allclose(step.from_phase, 2, rtol=1e-6)
    assert step.from_capacitors == 1
    product = step.from_current * step.from_phase * step.from_capacitors
    assert_allclose(product, step.after / step.before, rtol=1e-9)
    # A second, like capacitor that comes along halves what is left.
    bring = [LIKE[0], ParalleledStage(20, 4.5, 300e-6, 85e3, 0.0, 1.0, 20, 660e-6, 20e-3)]
    joined = ripple_step(300, 20, bring, 660e-6, 20e-3)
    assert_allclose(joined.from_capacitors, 0.5, rtol=1e-6)
    opposite = ripple_step(300, 20, LIKE, 660e-6, 20e-3, pulse_phase=[0, 180])
    assert opposite.from_phase < 1.05


def test_ripple_against_load_is_that_of_the_pulses():
    loads = np.array([0.5, 0.99, 1.01, 1.8])
    found = ripple_against_load(loads, 300, 20, LIKE, 330e-6, 10e-3)
    assert found.working.tolist() == [1, 1, 2, 2]
    assert_allclose(found.share.sum(axis=0), 1)
    for place, current in enumerate(loads):
        each = current if place < 2 else current / 2
        pulse = secondary_pulse(operating_point(300, 20, each, 4.5, 300e-6, 85e3), each)
        expected = combined_ripple([pulse] * found.working[place], 330e-6, 10e-3)
        assert_allclose(found.peak_to_peak[place], expected.peak_to_peak, rtol=1e-9)
        assert_allclose(found.capacitor_rms[place], expected.capacitor_rms, rtol=1e-9)


def test_sharing_by_rating_and_at_rest():
    share = load_sharing([10, 50], [40, 20, 20], [0, 20, 60])
    assert_allclose(share, [[1, 2 / 3], [0, 1 / 3], [0, 0]])


# --- ports ---

FEEDS = [[True, False, False], [True, True, True]]


@pytest.mark.parametrize(
    ("volts", "amperes", "possible"),
    [
        ([20, 9, 5], [2.0, 2.0, 0.1], False),  # the second converter makes one voltage only
        ([20, 5, 5], [2.0, 1.6, 2.4], True),
        ([20, 5, 5], [2.0, 2.4, 2.4], False),
        ([5, 5, 5], [3.0, 1.6, 2.4], True),
        ([20, 20, 20], [2.9, 0.05, 0.05], True),  # both help the first port
    ],
)
def test_ports_by_hand(volts, amperes, possible):
    """Converters of 40 and 20 W, sums done by hand."""
    found = port_allocation([40, 20], volts, amperes, FEEDS)
    assert found.possible == possible
    if possible:
        assert_allclose(found.power.sum(axis=0), np.multiply(volts, amperes), atol=1e-6)
        assert np.all(found.power.sum(axis=1) <= np.array([40, 20]) * 1.01)


def test_ports_that_are_short_say_by_how_much():
    found = port_allocation([40, 20], [20, 9], [3.0, 2.22], [row[:2] for row in FEEDS])
    assert not found.possible
    assert_allclose(found.short.sum(), 20, atol=0.1)
    capped = port_allocation([40, 20], [20, 9], [2.0, 2.22], [row[:2] for row in FEEDS], 45)
    assert not capped.possible


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: SecondaryPulse(1.0, 2.0, 0.5, 1e5), "valley must not lie above peak"),
        (lambda: SecondaryPulse(1.0, 0.0, 1.2, 1e5), "duty_cycle must"),
        (lambda: output_ripple(LOW, 0), "output_capacitance must"),
        (lambda: output_ripple(LOW, 1e-4, -1), "output_esr must"),
        (lambda: output_ripple(LOW, 1e-4, filter_inductance=1e-6), "belong together"),
        (lambda: output_waveform(SecondaryPulse([1.0, 2.0], 0.0, 0.5, 1e5), 1e-4), "single pulse"),
        (lambda: interleaved_ripple_factor(0, 2), "duty_cycle must"),
        (lambda: interleaved_ripple_factor(1, 2), "duty_cycle must be above 0 and below 1"),
        (lambda: interleaved_ripple_factor(0.5, 1.5), "converters must be whole"),
        (lambda: paralleled_capacitor_current(0.5, 0, "flat"), "converters must"),
        (lambda: paralleled_capacitor_current(0.5, 2, "sine"), "shape must be one of"),
        (lambda: combined_ripple([], 1e-4), "at least one converter"),
        (lambda: combined_ripple([LOW, LOW], 1e-4, 0, [0]), "one angle for each"),
        (lambda: combined_ripple([LOW, HIGH], 1e-4, 0, [0, 90]), "different frequencies"),
        (lambda: load_sharing(10, [40, 20], [20, 30]), "joins_above must leave"),
        (lambda: ripple_against_load(1, 300, 20, [], 1e-4), "at least one converter"),
        (lambda: ripple_step(300, 20, LIKE[:1], 1e-4), "joins_above"),
        (lambda: port_allocation([40], [20, 9], [1, 1], [[True]]), "feeds must hold a row"),
        (lambda: filter_damping(1e-6, 0, 1), "filter_capacitance must"),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()


LOW, HIGH = SecondaryPulse(1.0, 0.0, 0.5, 1e5), SecondaryPulse(1.0, 0.0, 0.5, 2e5)


def test_shapes_and_types():
    assert type(output_ripple(LOW, 1e-4).peak_to_peak) is float
    many = SecondaryPulse(np.ones((3, 1)), 0.0, [0.2, 0.4], 1e5)
    assert output_ripple(many, 1e-4).peak_to_peak.shape == (3, 2)
    assert combined_ripple([many, many], 1e-4, 0, [0, 180]).peak_to_peak.shape == (3, 2)
    assert type(paralleled_capacitor_current(0.4, 2, "ramp")) is float
    filtered = output_ripple(many, 1e-4, filter_inductance=1e-6, filter_capacitance=1e-4)
    assert filtered.filtered.shape == (3, 2)
