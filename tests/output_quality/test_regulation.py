"""Tests for the output_quality section. Every expected number states where it comes from."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import integrate, signal, stats

from adapterlab.output_quality import (
    cable_drop,
    equivalent_noise_bandwidth,
    excursion,
    expected_modes,
    find_ripple_step,
    fit_output_resistance,
    fit_set_point,
    hold_up_time,
    largest_cable_resistance,
    limit_bandwidth,
    load_regulation,
    load_transients,
    measure_ripple,
    output_droop,
    overcurrent,
    programmable_steps,
    reaction_time,
    ripple_spectrum,
    sine_amplitude,
    start_up,
    static_error,
    voltage_window,
)
from adapterlab.published import rows

volts, amperes = st.floats(1.0, 60.0), st.floats(0.01, 10.0)

# Annual flow of the Nile at Aswan, 1871 to 1970, 1e8 m3: the classic series with one change of level.
NILE = """
1120 1160 963 1210 1160 1160 813 1230 1370 1140 995 935 1110 994 1020 960 1180 799 958 1140 1100
1210 1150 1250 1260 1220 1030 1100 774 840 874 694 940 833 701 916 692 1020 1050 969 831 726 456 824
702 1120 1100 832 764 821 768 845 864 862 698 845 744 796 1040 759 781 865 845 944 984 897 822 1010
771 676 649 846 812 742 801 1040 860 874 848 890 744 749 838 1050 918 986 797 923 975 815 1020 906
901 1170 912 746 919 718 714 740
"""


# --- published USB limits -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("set_voltage", "printed"),
    [(5, (4.75, 5.25, 4.25)), (9, (8.55, 9.45, 8.05)), (12, (11.4, 12.6, 10.9)),
     (20, (19.0, 21.0, 18.5))],
)  # fmt: skip
def test_windows_printed(set_voltage, printed):
    """Comment table of a published embedded controller, citing USB PD r3.2 v1.2, Table 4.6."""
    window = voltage_window(set_voltage)
    found = (window.static_minimum, window.static_maximum, window.transient_minimum)
    assert_allclose(found, printed, rtol=1e-12)


def test_upper_transient_window_printed():
    """Data sheet TPS25740B: 21.5 V for 20 V."""
    assert_allclose(voltage_window(20.0).transient_maximum, 21.5, rtol=1e-12)


def test_lower_end_agrees_with_the_regulation():
    """Regulation (EU) 2025/2052, Annex II, 2(a): at least 95 % of 20 V, 19.0 V; (b): 90 %, 4.5 V."""
    fractions = {
        row["connector"]: row["fraction"] for row in rows("output_quality", "minimum_voltage")
    }
    assert_allclose(20 * fractions["USB-C"], 19.0)
    assert_allclose(voltage_window(20.0).static_minimum, 19.0)
    assert_allclose(5 * fractions["other"], 4.5)


def test_programmable_transient_window_printed():
    """Source text of an embedded controller: 850 mV = 750 mV + vPpsValid, so vPpsValid is 0.1 V."""
    window = voltage_window(9.0, "programmable")
    assert_allclose(window.static_minimum - window.transient_minimum, 0.850 - 0.750, rtol=1e-9)


def test_steps_of_an_adjustable_output():
    """Linux include/linux/usb/pd.h: 20 mV. 3.3 to 11 V has (11.0 - 3.3) / 0.02 + 1 settings, and
    8.4 V is request number 420."""
    assert programmable_steps(3.3, 11.0) == 386
    assert programmable_steps(0.02, 8.4) == 420
    assert_allclose(programmable_steps([3.3, 3.3], [5.9, 21.0]), [131, 886])


def test_cable_of_three_amperes():
    """USB Type-C specification 4.4.1: 500 mV and 250 mV; 250 mohm at 3 A, 150 mohm at 5 A."""
    assert_allclose(largest_cable_resistance(3.0), 0.25, atol=1e-6)
    assert_allclose(largest_cable_resistance(5.0), 0.15, atol=1e-6)
    assert_allclose(cable_drop(3.0, largest_cable_resistance(3.0)), 0.50 + 0.25, atol=1e-12)


@pytest.mark.parametrize(
    ("power", "offered"),
    [(15, {5: 3.0}), (18, {5: 3.0, 9: 2.0}), (27, {5: 3.0, 9: 3.0}),
     (45, {5: 3.0, 9: 3.0, 15: 3.0}), (60, {5: 3.0, 9: 3.0, 15: 3.0, 20: 3.0}),
     (65, {5: 3.0, 9: 3.0, 15: 3.0, 20: 3.25}), (100, {5: 3.0, 9: 3.0, 15: 3.0, 20: 5.0})],
)  # fmt: skip
def test_power_rules(power, offered):
    """IEC 62680-1-2, power rules, from memory; 65 W with 3.25 A at 20 V and 3 A at the others is
    also the example of 10 CFR 430 subpart B appendix Z for a supply of that power."""
    modes = expected_modes(power)
    assert dict(zip(modes.voltage, modes.current.round(6), strict=True)) == offered


@given(st.floats(0.5, 100.0))
def test_the_highest_voltage_carries_the_power(power):
    modes = expected_modes(power)
    assert modes.voltage[-1] * modes.current[-1] <= power * (1 + 1e-12)
    if power > 5:
        assert_allclose(modes.voltage[-1] * modes.current[-1], min(power, 100), rtol=1e-12)
    assert np.all(np.diff(modes.voltage) > 0)


# --- static behaviour -----------------------------------------------------------------------


def test_output_resistance_against_scipy():
    """scipy.stats.linregress: slope, intercept and both standard errors."""
    current = np.array([0.3, 0.75, 1.5, 2.25, 3.0])
    voltage = 5.02 - 0.022 * current + 1e-3 * np.array([1, -1, 0.5, 1, -1.5])
    ours, line = fit_output_resistance(current, voltage), stats.linregress(current, voltage)
    assert_allclose(ours.resistance, -line.slope, rtol=1e-9)
    assert_allclose(ours.resistance_uncertainty, line.stderr, rtol=1e-9)
    assert_allclose(ours.open_voltage, line.intercept, rtol=1e-12)
    assert_allclose(ours.open_voltage_uncertainty, line.intercept_stderr, rtol=1e-9)


@given(volts, st.floats(0.0, 0.5), st.floats(-0.02, 0.02))
def test_resistance_round_trip(open_voltage, resistance, error):
    current = np.linspace(0.1, 3, 6)
    voltage = open_voltage * (1 + error) - resistance * current
    fit = fit_output_resistance(current, voltage, resolution=1e-3)
    assert_allclose(fit.resistance, resistance, atol=1e-9)
    assert fit.resistance_uncertainty >= 1e-3 / np.sqrt(12) / 10
    assert_allclose(load_regulation(current, voltage + 50),
                    2.9 * resistance / (voltage + 50).mean(), atol=1e-9)  # fmt: skip


@given(st.floats(-0.03, 0.03), st.floats(-0.1, 0.1), st.floats(0, 0.1))
def test_set_point_round_trip(gain, offset, resistance):
    asked = np.array([3.3, 5.0, 9.0, 15.0, 21.0])
    measured = asked * (1 + gain) + offset - resistance * 2.0
    found = fit_set_point(asked, measured, 2.0, resistance)
    assert_allclose((found.gain, found.offset), (gain, offset), atol=1e-9)
    assert_allclose(found.steps * 0.02, abs(found.largest), rtol=1e-9)


def test_static_error_broadcasts():
    assert static_error(5.0, 5.25) == pytest.approx(0.05, abs=1e-12)
    assert isinstance(static_error(5.0, 5.25), float)
    assert static_error([5.0, 20.0], [[5.0], [20.0]]).shape == (2, 2)


# --- capacitors -----------------------------------------------------------------------------


def test_hold_up_against_the_printed_valley():
    """Power Integrations AN-17 (1996), p. 8: 33 uF at 85 V falls to 93 V when 15 W / 0.8 are drawn
    for half a period of 60 Hz less 3.2 ms. Half a volt of the printed 93 V is 0.12 ms."""
    time = hold_up_time(33e-6, np.sqrt(2) * 85, 93.0, 15 / 0.8)
    assert_allclose(time, 1 / 120 - 3.2e-3, atol=1.2e-4)


@given(st.floats(1e-5, 1e-3), st.floats(100, 400), st.floats(0.1, 0.95), st.floats(5, 200))
def test_hold_up_against_integration(capacitance, start, ratio, power):
    """scipy.integrate.quad of C v / P over the voltage."""
    ours = hold_up_time(capacitance, start, ratio * start, power)
    other = integrate.quad(lambda voltage: capacitance * voltage / power, ratio * start, start)[0]
    assert_allclose(ours, other, rtol=1e-9)


@given(amperes, st.floats(1e-5, 5e-3), st.floats(0, 0.1), st.floats(0, 1e-3))
def test_droop_round_trip(step, capacitance, series, delay):
    droop = output_droop(step, capacitance, series, delay)
    if droop > 0:
        again = reaction_time(droop * (1 + 1e-12), step, capacitance, series)
        assert_allclose(again, delay, atol=1e-9 + 1e-10 * droop / step * capacitance)


def test_shapes_of_hold_up():
    assert isinstance(hold_up_time(1e-4, 300, 80, 60), float)
    assert hold_up_time([1e-4, 2e-4], 300, [[80.0], [60.0]], 60).shape == (2, 2)


# --- the step in the ripple -----------------------------------------------------------------


def test_nile_series():
    """strucchange, breakpoints(Nile ~ 1): break after observation 28 (1898), 95 % interval 25 to 32;
    means 1097.75 and 849.97. Our law may bend, so the levels at the break are less sure."""
    flow = np.array(NILE.split(), dtype=float)
    step = find_ripple_step(1871 + np.arange(100), flow)
    assert step.load == 1898.5
    assert 1895 <= step.interval[0] <= step.interval[1] <= 1903
    assert step.probability > 0.9
    assert abs((step.after - step.before) - (849.97 - 1097.75)) < 2 * step.step_uncertainty


@given(st.floats(0.1, 1e3), st.floats(1e-3, 10), st.integers(4, 14), st.booleans())
@settings(max_examples=30)
def test_a_clear_step_is_found_in_any_unit(span, unit, place, down):
    load = np.arange(1.0, 21.0)
    wobble = np.cos(2.3 * load) + np.sin(5.1 * load)
    sign = -1 if down else 1
    ripple = 60 + 2 * load + 0.3 * wobble + sign * 15 * (load > place)
    step = find_ripple_step(span * load, unit * ripple)
    assert step.found
    assert_allclose(step.load, span * (place + 0.5), rtol=1e-9)
    assert_allclose(step.after - step.before, sign * 15 * unit, rtol=0.12)
    assert_allclose(step.ratio, step.after / step.before, rtol=1e-12)


LAWS = {
    "line": lambda load: 20 + 5 * load,
    "root": lambda load: 10 + 12 * np.sqrt(load),
    "square": lambda load: 20 + 5 * load**2,
    "kink": lambda load: 20 + 10 * np.maximum(load - 1.5, 0),
}


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("count", [8, 20, 60])
def test_false_alarms_are_rare(law, count):
    """Without a step, noise of one unit, 100 draws: found (0.975) in no more than 3 of them."""
    rng = np.random.default_rng(count)
    load = np.linspace(3 / count, 3, count)
    draws = [find_ripple_step(load, LAWS[law](load) + rng.normal(size=count)) for _ in range(100)]
    assert sum(step.found for step in draws) <= 3


@pytest.mark.parametrize("law", LAWS)
def test_smooth_data_without_noise_are_no_step(law):
    load = np.linspace(0.15, 3, 20)
    assert not find_ripple_step(load, LAWS[law](load)).found
    stepped = find_ripple_step(load, LAWS[law](load) + 10 * (load > 1.83))
    assert stepped.found
    assert_allclose(stepped.load, 1.875, atol=1e-9)


def test_probability_means_what_it_says():
    """Data drawn from the two laws themselves, half with a step: among those said to have one with
    90 % or more, about as many have one; likewise among the doubtful."""
    rng = np.random.default_rng(5)
    place = np.linspace(0, 1, 20)
    low, high = np.minimum(place[:, None], place), np.maximum(place[:, None], place)
    bend = np.linalg.cholesky(low**2 * (3 * high - low) / 6 + 1e-12 * np.eye(20))
    said, true = [], []
    for _ in range(600):
        ripple = 30 + 5 * place + 10 ** rng.uniform(-0.5, 4.5) * bend @ rng.normal(size=20)
        has_step = rng.random() < 0.5
        if has_step:
            size = 10 ** rng.choice([0.5, 1, 1.5, 2, 2.5]) * rng.normal()
            ripple = ripple + size * (np.arange(20) > rng.integers(2, 17))
        said.append(find_ripple_step(place, ripple + rng.normal(size=20)).probability)
        true.append(has_step)
    said, true = np.array(said), np.array(true)
    for low_end, high_end in ((0, 0.4), (0.4, 0.9), (0.9, 1.01)):
        inside = (said >= low_end) & (said < high_end)
        tolerance = 0.03 + 3 * 0.5 / np.sqrt(inside.sum())
        assert abs(said[inside].mean() - true[inside].mean()) < tolerance


def test_one_outlier_is_no_step():
    load = np.linspace(0.15, 3, 20)
    ripple = 20 + 5 * load + 0.3 * np.cos(7 * load)
    ripple[9] += 12
    assert not find_ripple_step(load, ripple).found


def test_order_of_the_points_does_not_matter():
    rng = np.random.default_rng(2)
    load, ripple = np.linspace(1, 60, 30), 30 + rng.normal(size=30)
    mixed = rng.permutation(30)
    assert_allclose(find_ripple_step(load[mixed], ripple[mixed]).probability,
                    find_ripple_step(load, ripple).probability, rtol=1e-9)  # fmt: skip


def test_step_against_a_dense_covariance():
    """The same two laws written out with full matrices, on contrasts free of straight lines."""
    rng = np.random.default_rng(8)
    load = np.sort(rng.uniform(5, 60, 12))
    ripple = 30 + 0.4 * load + rng.normal(size=12) + 4 * (load > load[6])
    place = (load - load[0]) / np.ptp(load)
    low, high = np.minimum(place[:, None], place), np.maximum(place[:, None], place)
    free = np.linalg.svd(np.column_stack([np.ones(12), place]))[0][:, 2:].T
    contrast = free @ ripple

    def likelihood(covariance):
        # Flat in the logarithm of the noise: (y' K^-1 y)^(-n/2) |K|^(-1/2), up to a constant.
        sign, size = np.linalg.slogdet(covariance)
        assert sign > 0
        return -0.5 * size - 5 * np.log(contrast @ np.linalg.solve(covariance, contrast))

    smooth, stepped = [], []
    for bend in 10.0 ** np.arange(-1, 10):
        noise = free @ (np.eye(12) + bend * low**2 * (3 * high - low) / 6) @ free.T
        smooth.append(likelihood(noise))
        for gap in range(2, 9):
            jump = free @ (np.arange(12) > gap).astype(float)
            stepped += [
                likelihood(noise + step * np.outer(jump, jump)) for step in 10.0 ** np.arange(1, 6)
            ]
    odds = np.exp(stepped).mean() / np.exp(smooth).mean()
    assert_allclose(find_ripple_step(load, ripple).probability, odds / (1 + odds), rtol=1e-6)


def test_equal_loads_count_together():
    """Every reading twice: like readings of half the variance, and their scatter tells the noise."""
    rng = np.random.default_rng(3)
    load = np.linspace(2, 60, 15)
    clean = 30 + 0.5 * load + 6 * (load > 31)
    twice = find_ripple_step(np.repeat(load, 2), np.repeat(clean, 2) + rng.normal(size=30))
    assert twice.found
    assert_allclose(twice.load, (load[7] + load[6]) / 2, atol=4.2)


def test_five_hundred_points():
    rng = np.random.default_rng(1)
    load = np.linspace(1, 60, 500)
    step = find_ripple_step(load, 30 + rng.normal(size=500) + 5 * (load > 38))
    assert step.found
    assert step.interval[0] - 0.3 < 38 < step.interval[1] + 0.3


# --- ripple of a capture --------------------------------------------------------------------


def _ripple(count, interval, frequency=85e3, amplitude=0.02):
    time = np.arange(count) * interval
    return time, amplitude * signal.sawtooth(2 * np.pi * frequency * time, 0.3)


def test_peak_to_peak_over_rms_of_a_triangle():
    """Triangle: 3.4641016151378 (R. Baker's relations of peak, rms and mean, printed)."""
    time, wave = _ripple(100_000, 1e-8)
    reading = measure_ripple(time, wave)
    assert_allclose(reading.peak_to_peak / reading.rms, 3.4641016151378, rtol=2e-3)
    time = np.arange(100_000) * 1e-8
    sine = measure_ripple(time, np.sin(2 * np.pi * 85e3 * time))
    assert_allclose(sine.peak_to_peak / sine.rms, 2.8284271247462, rtol=1e-3)


@given(
    st.lists(st.integers(100, 49_000), max_size=6, unique=True),
    st.floats(0.1, 5),
    st.integers(1, 20),
)
@settings(max_examples=20)
def test_isolated_spikes_are_set_aside(places, height, width):
    places = [place for place in places if all(abs(place - o) > 1800 or place == o for o in places)]
    time, wave = _ripple(50_000, 2e-8)
    wave = wave + 2e-4 * np.cos(np.arange(50_000) * 1.7)
    clean = measure_ripple(time, wave)
    for place in places:
        wave[place : place + width] += height
    reading = measure_ripple(time, wave)
    assert_allclose(reading.peak_to_peak, clean.peak_to_peak, rtol=0.01)
    assert_allclose(reading.rms, clean.rms, rtol=0.01)
    assert reading.spikes == len(places)
    if places:
        assert reading.peak_to_peak_with_spikes > clean.peak_to_peak + 0.5 * height


def test_what_recurs_is_ripple():
    """A spike in every period, and a burst of many periods, are part of the ripple."""
    time, wave = _ripple(50_000, 2e-8)
    spiky = wave.copy()
    spiky[::588] += 0.1
    assert measure_ripple(time, spiky).spikes == 0
    assert measure_ripple(time, spiky).peak_to_peak > 0.1
    burst = wave * np.where((time > 2e-4) & (time < 3e-4), 1.0, 0.05)
    reading = measure_ripple(time, burst)
    assert reading.spikes == 0
    assert_allclose(reading.peak_to_peak, 0.04, rtol=0.02)


@pytest.mark.parametrize(
    ("window", "printed", "tolerance"),
    # Harris 1978, Table I, from memory: two decimals.
    [("boxcar", 1.00, 0.005), ("hann", 1.50, 0.005), ("hamming", 1.36, 0.005), ("blackman", 1.73, 0.005),
    # LeCroy WavePro 7300A manual, p. 236: three-term flat top, 2.9656 cut to 2.96.
     (("general_cosine", (0.2810639, 0.5208972, 0.1980399)), 2.96, 0.0099)],
)  # fmt: skip
def test_equivalent_noise_bandwidth(window, printed, tolerance):
    assert_allclose(equivalent_noise_bandwidth(window, 4096), printed, atol=tolerance)


@given(
    st.floats(100e3, 400e3), st.floats(0.001, 1), st.sampled_from(["hann", "hamming", "blackman"])
)
def test_spectrum_shows_a_sine_within_the_scallop(frequency, amplitude, window):
    """Largest loss between two lines: 1.42, 1.78 and 1.10 dB (Harris 1978, Table I, from memory)."""
    scallop = {"hann": 1.42, "hamming": 1.78, "blackman": 1.10}[window]
    time = np.arange(2000) * 1e-6
    found = ripple_spectrum(time, 3 + amplitude * np.sin(2 * np.pi * frequency * time), window)
    top = found.amplitude.max()
    assert 10 ** (-scallop / 20) * 0.995 < top / amplitude < 1.005
    assert abs(found.frequency[found.amplitude.argmax()] - frequency) <= 500


def test_aliased_frequency():
    """Sampling theorem, worked out: 130 kHz sampled at 100 kHz appears at 30 kHz."""
    time = np.arange(1000) * 1e-5
    found = ripple_spectrum(time, np.sin(2 * np.pi * 130e3 * time))
    assert_allclose(found.frequency[found.amplitude.argmax()], 30e3, rtol=1e-9)


def test_spectrum_against_parseval():
    """The power of all lines without a window is the variance (numpy)."""
    time, noise = np.arange(4096) * 1e-6, np.random.default_rng(3).normal(size=4096)
    found = ripple_spectrum(time, noise, "boxcar")
    power = (found.amplitude[:-1] ** 2).sum() / 2 + found.amplitude[-1] ** 2
    assert_allclose(power, noise.var(), rtol=1e-9)


@given(st.floats(0.0005, 0.1), st.floats(-179, 179))
def test_sine_amplitude_round_trip(amplitude, phase):
    time = np.arange(20_000) * 1e-6
    wave = amplitude * np.sin(2 * np.pi * 100 * time + np.radians(phase))
    wave += 0.05 * signal.sawtooth(2 * np.pi * 65e3 * time) + 12
    found = sine_amplitude(time, wave, 100)
    assert abs(found.amplitude - amplitude) < 4 * found.standard_uncertainty + 1e-5
    assert abs((found.phase - phase + 180) % 360 - 180) < 200 * 2e-5 / amplitude + 0.1


@pytest.mark.parametrize("ratio", [0.1, 1.0, 3.0])
def test_bandwidth_limit_is_one_pole(ratio):
    """Closed form 1 / sqrt(1 + (f / fc)^2)."""
    time = np.arange(40_000) * 2e-10
    wave = np.sin(2 * np.pi * 20e6 * ratio * time)
    left = limit_bandwidth(time, wave, 20e6)[20_000:].max()
    assert_allclose(left, 1 / np.sqrt(1 + ratio**2), rtol=5e-3)


# --- events ---------------------------------------------------------------------------------


def test_transient_of_a_ringing_output():
    """Closed form: an exponentially damped sine has its first extreme at atan(2 pi tau / T) T / 2 pi."""
    depth, decay, period = 0.6, 220e-6, 700e-6
    time = np.arange(-1000, 7000) * 1e-6
    on = (time >= 0) & (time < 4e-3)
    voltage = 12.0 - 0.05 * on
    for start, sign in ((0.0, -1), (4e-3, 1)):
        after = np.maximum(time - start, 0)
        voltage = voltage + (time >= start) * sign * depth * np.exp(-after / decay) * np.sin(
            2 * np.pi * after / period
        )
    voltage += 2e-3 * np.random.default_rng(4).normal(size=len(time))
    found = load_transients(time, voltage, np.where(on, 2.0, 0.2))
    when = np.arctan(2 * np.pi * decay / period) * period / 2 / np.pi
    expected = depth * np.exp(-when / decay) * np.sin(2 * np.pi * when / period)
    assert_allclose(found.time, [0, 4e-3], atol=2e-6)
    assert_allclose(found.deviation, [-expected, expected], atol=4 * found.noise)
    assert_allclose(found.voltage_after, [11.95, 12.0], atol=1e-3)
    assert_allclose(found.current_after, [2.0, 0.2])
    # The envelope crosses 1 % of 12 V after decay * ln(depth / 0.12); the last crossing lies before.
    assert np.all(found.recovery_time < decay * np.log(depth / 0.12) + 5e-5)
    assert np.all(found.recovery_time > decay * np.log(depth / 0.12) - period / 2)


@given(st.floats(0.05, 0.5), st.floats(0.05, 0.4), st.floats(0.0, 15.0))
def test_excursion_round_trip(start, length, lowest):
    time = np.arange(2000) * 1e-3
    gap = (time >= start) & (time < start + length)
    found = excursion(time, np.where(gap, lowest, 20.0), 19.0)
    assert_allclose(found.start, start, atol=1.01e-3)
    assert_allclose(found.duration, length, atol=2.01e-3)
    assert found.lowest == lowest
    assert found.returned
    assert excursion(time, np.full(2000, 20.0), 19.0).duration == 0
    assert not excursion(time, np.where(time >= start, lowest, 20.0), 19.0).returned


def test_start_up_of_a_second_order_system():
    """scipy.signal.step; overshoot exp(-pi z / sqrt(1 - z^2)) in closed form."""
    damping, omega = 0.5, 2 * np.pi * 100
    time = np.arange(-500, 9500) * 1e-5
    _, response = signal.step((omega**2, [1, 2 * damping * omega, omega**2]), T=time[time >= 0])
    voltage = np.concatenate([np.zeros((time < 0).sum()), 5 * response])
    found = start_up(time, voltage)
    expected = 5 * np.exp(-np.pi * damping / np.sqrt(1 - damping**2))
    assert_allclose(found.overshoot, expected, rtol=5e-3)
    assert_allclose(found.final_voltage, 5.0, rtol=1e-3)
    rise = np.interp(0.9, response[:500], time[500:1000]) - np.interp(
        0.1, response[:300], time[500:800]
    )
    assert_allclose(found.rise_time, rise, atol=2e-5)
    assert found.setback == 0


@pytest.mark.parametrize(
    ("state", "behaviour"),
    [(lambda t: t > 0, "holds"), (lambda t: t < 0.5, "stays off"),
     (lambda t: (t < 0.5) | (t > 0.8), "recovers"),
     (lambda t: (t < 0.5) | ((t * 10) % 1 > 0.7), "retries")],
)  # fmt: skip
def test_overcurrent_behaviours(state, behaviour):
    time = np.arange(2000) * 5e-4 + 5e-4
    load = 2 + 2 * time
    found = overcurrent(time, np.where(state(time), 12.0, 0.3), load, 10.8)
    assert found.behaviour == behaviour
    if behaviour != "holds":
        assert_allclose(found.limit_current, 3.0, atol=3e-3)
    if behaviour == "retries":
        assert found.attempts == 5
        assert_allclose(found.retry_interval, 0.1, atol=1e-3)


# --- bad input ------------------------------------------------------------------------------

TIME, WAVE = _ripple(1000, 1e-7)
BACK = TIME.copy()
BACK[500] = BACK[400]


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: find_ripple_step([1, 2, 3], [1, 2, 3]), "load must hold at least 8 different loads"),
        (lambda: find_ripple_step([5.0] * 20, range(20)), "at least 8 different loads.*got 1"),
        (lambda: find_ripple_step(range(9), [1] * 8 + [np.nan]), "ripple must be finite"),
        (lambda: find_ripple_step(range(9), range(8)), "rows of one length"),
        (lambda: find_ripple_step(range(9), range(9), resolution=-1), "resolution must be"),
        (lambda: find_ripple_step([], []), "at least 8 different loads.*got 0"),
        (lambda: find_ripple_step(range(9), [0.0] * 9), "ripple must not be zero at every load"),
        (lambda: fit_output_resistance([1, 1, 1], [5, 5, 5]), "output_current must hold at least 3"),
        (lambda: fit_output_resistance([1, 2, 3], [5, 5]), "rows of one length"),
        (lambda: load_regulation([1, 1], [5, 5]), "at least 2 different values"),
        (lambda: fit_set_point([5, 5], [5, 5]), "set_voltage must hold at least 2"),
        (lambda: hold_up_time(1e-4, 80, 300, 60), "end_voltage must not be above start_voltage"),
        (lambda: hold_up_time(1e-4, 300, 80, 0), "power must be finite and > 0"),
        (lambda: hold_up_time(0, 300, 80, 60), "bulk_capacitance must be"),
        (lambda: reaction_time(0.001, 2, 1e-3, 1e-2), "droop must be at least current_step"),
        (lambda: voltage_window(0), "set_voltage must be"),
        (lambda: voltage_window(5, "tea"), "kind must be one of fixed, programmable"),
        (lambda: expected_modes(140), "power must be at most 100 W"),
        (lambda: programmable_steps(11, 3.3), "maximum_voltage must not be below"),
        (lambda: measure_ripple(TIME[:50], WAVE[:50]), "time must hold at least 200 samples"),
        (lambda: measure_ripple(BACK, WAVE), "time must rise, got 4.99e-05 s followed by 4e-05 s"),
        (lambda: measure_ripple(TIME**1.5, WAVE), "time must rise in even steps"),
        (lambda: measure_ripple(TIME, np.where(TIME > 5e-5, np.nan, WAVE)), "voltage must be finite"),
        (lambda: measure_ripple(TIME, WAVE[:-1]), "rows of one length"),
        (lambda: sine_amplitude(TIME, WAVE, 100), "frequency must lie between 1e\\+04"),
        (lambda: limit_bandwidth(TIME, WAVE, 20e6), "bandwidth must be below half the sampling rate"),
        (lambda: ripple_spectrum(TIME, WAVE, "tea"), "window must be one that scipy"),
        (lambda: equivalent_noise_bandwidth("hann", 1), "samples must be at least 2"),
        (lambda: load_transients(TIME, WAVE, np.ones(1000)), "current must hold a change of load"),
        (lambda: load_transients(BACK, WAVE, WAVE), "time must rise"),
        (lambda: excursion(TIME[:10], WAVE[:10], 1), "time must hold at least 50 samples"),
        (lambda: excursion(TIME, WAVE, 0), "lower must be"),
        (lambda: start_up(TIME, np.full(1000, 5.0)), "voltage must come up from below a tenth"),
        (lambda: overcurrent(TIME, np.zeros(1000), WAVE, 4.0), "voltage must stand above lower"),
    ],
)  # fmt: skip
def test_bad_input_is_named(call, message):
    with pytest.raises(ValueError, match=message):
        call()
