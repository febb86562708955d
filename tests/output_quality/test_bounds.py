"""Guards of the equations of the output, as their docstrings state them."""

import numpy as np
import pytest
from bounds import hold

from adapterlab import output_quality as output

TIME = np.arange(20_000) * 1e-6


@pytest.mark.parametrize(
    ("function", "rest", "name", "good", "bad"),
    [
        (
            output.hold_up_time, {"bulk_capacitance": 1e-4, "start_voltage": 300.0, "power": 60.0},
            "end_voltage", 300.0, 300.1,
        ),
        (
            output.reaction_time,
            {"current_step": 2.0, "capacitance": 1e-3, "series_resistance": 0.1}, "droop", 0.2, 0.199,
        ),
        (output.programmable_steps, {"minimum_voltage": 3.3}, "maximum_voltage", 3.3, 3.29),
    ],
)  # fmt: skip
def test_bounds(function, rest, name, good, bad):
    hold(function, rest, name, good, bad)


@pytest.mark.parametrize(
    ("frequency", "taken"), [(50.0, True), (45.0, False), (499e3, True), (501e3, False)]
)
def test_a_line_needs_a_whole_period_and_two_samples_in_each(frequency, taken):
    """A record of 20 ms at 1 MHz: from 50 Hz to 500 kHz, as Nyquist has it."""
    wave = np.cos(2 * np.pi * frequency * TIME)
    if taken:
        assert output.sine_amplitude(TIME, wave, frequency).amplitude == pytest.approx(1, rel=1e-6)
        return
    with pytest.raises(ValueError, match="between 50 and 5e\\+05 Hz"):
        output.sine_amplitude(TIME, wave, frequency)


def test_sixteen_samples_make_a_spectrum():
    assert len(output.ripple_spectrum(TIME[:16], np.sin(TIME[:16])).frequency) > 0
    with pytest.raises(ValueError, match="at least 16 samples, got 15"):
        output.ripple_spectrum(TIME[:15], np.sin(TIME[:15]))


def test_drift_is_no_ripple():
    """A record of 1 ms: 1.5 kHz leaves one and a half periods, the 65 kHz of a converter 65."""
    time = np.arange(10_000) * 1e-7
    wave = 0.5 * np.sin(2 * np.pi * 1500 * time) + 0.05 * np.sin(2 * np.pi * 65e3 * time)
    assert output.measure_ripple(time, wave).frequency == pytest.approx(65e3, rel=0.02)


def test_set_points_without_a_known_resistance_are_as_read():
    """Errors by hand: 5.02 and 9.05 V asked as 5 and 9 V, 3 A drawn through an unknown resistance."""
    found = output.fit_set_point([5.0, 9.0], [5.02, 9.05], 3.0)
    assert found.error == pytest.approx([0.02, 0.05])


def test_an_output_that_is_down_at_first_is_told_by_its_first_value():
    with pytest.raises(ValueError, match=r"at first, got 1 V"):
        output.overcurrent(TIME, np.where(TIME < 0.01, 1.0, 12.0), 2 + TIME, 10.0)


def test_noise_bandwidth_of_a_spectrum():
    """Harris 1978, Table I: 1.50 lines with the Hann window; a line is one over the record."""
    found = output.ripple_spectrum(TIME, np.sin(2 * np.pi * 1e3 * TIME))
    assert found.resolution == pytest.approx(1.5 / 20e-3)


def test_rounding_of_the_voltmeter_is_the_least_scatter():
    """JCGM 100:2008, H.3: u(slope) = s over the root of the squares; s of a step r is r/sqrt(12)."""
    found = output.fit_output_resistance([1.0, 2.0, 3.0], [4.98, 4.96, 4.94], resolution=0.01)
    assert found.resistance_uncertainty == pytest.approx(0.01 / 12**0.5 / 2**0.5)


def test_a_last_sample_beside_the_rest_is_not_the_steady_voltage():
    time = np.arange(4000) * 1e-6
    loaded = time >= 1e-3
    volts = np.where(loaded, 11.9, 12.0)
    volts[-1] = 13.0
    found = output.load_transients(time, volts, np.where(loaded, 2.0, 0.2))
    assert found.voltage_after[0] == pytest.approx(11.9)


def test_an_output_that_never_comes_up():
    with pytest.raises(ValueError, match="come up"):
        output.start_up(TIME, 0 * TIME)


def test_a_time_that_does_not_rise_is_told_by_its_place():
    time = TIME[:300].copy()
    time[5] = time[4]
    with pytest.raises(ValueError, match=r"got 4e-06 s followed by 4e-06 s"):
        output.measure_ripple(time, time)
    with pytest.raises(ValueError, match=r"got 4e-06 s followed by 4e-06 s"):
        output.excursion(time, 5 + time, 1.0)


def test_levels_of_the_load_before_and_after_each_jump():
    """0.2 A, 2 A, 0.3 A: two jumps, by hand."""
    time = np.arange(6000) * 1e-6
    load = np.select([time < 2e-3, time < 4e-3], [0.2, 2.0], 0.3)
    found = output.load_transients(time, np.full(6000, 12.0), load)
    assert found.current_before.tolist() == [0.2, 2.0]
    assert found.current_after.tolist() == [2.0, 0.3]
    assert found.time == pytest.approx([2e-3, 4e-3], abs=2e-6)
