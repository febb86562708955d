"""Power quality of captures, windows, and the inverse, against closed forms and bad captures."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.signal import windows

from adapterlab.mains_current import (
    RectifierPath,
    fit_rectifier,
    power_quality,
    rectifier_steady_state,
    window_figures,
)
from adapterlab.numerics.mains import Mains
from adapterlab.uncertainty import Estimate


def capture(hertz=50.0, periods=3.0, per_period=1000, phase=0.3, volts=((1, 325.0, 0.0),),
            amperes=((1, 1.0, 0.0),)):  # fmt: skip
    """Time, voltage and current as sums of (order, amplitude, lead [rad])."""
    count = round(periods * per_period)
    time = np.arange(count) / (hertz * per_period)
    angle = 2 * np.pi * hertz * time + phase
    voltage, current = (
        sum(size * np.sin(order * angle + lead) for order, size, lead in lines)
        for lines in (volts, amperes)
    )
    return time, voltage, current


RECTIFIER = rectifier_steady_state(230, 50, 60, 100e-6, 2.0, 20e-6, 0.3, 1.6, 0.08)


def rectifier_capture(periods=3.37, per_period=997, shift=0.2):
    """The model's waveform, sampled at another rate, starting anywhere."""
    count = int(periods * per_period)
    time = np.arange(count) / (50 * per_period)
    phase = (time * 50 + shift) % 1
    grid = np.arange(1001) / 1000
    current = np.interp(phase, grid, np.append(RECTIFIER.input_current, 0.0))
    return time, np.sqrt(2) * 230 * np.sin(2 * np.pi * phase), current


class TestClosedForms:
    @pytest.mark.parametrize("periods", [1.0, 1.4, 2.3, 3.0, 7.81])
    def test_nothing_smears(self, periods):
        """Whatever the length of the capture, each line has its amplitude and no other."""
        lines = ((1, 1.0, 0.4), (3, 0.8, 1.0), (7, 0.3, -2.0), (39, 0.05, 0.7))
        found = power_quality(*capture(49.7, periods, amperes=lines))
        expected = np.zeros(40)
        for order, size, _ in lines:
            expected[order - 1] = size / np.sqrt(2)
        assert_allclose(found.harmonic_currents, expected, atol=3e-4)
        assert_allclose(found.mains_frequency, 49.7, rtol=1e-6)
        assert found.periods == int(periods)
        assert_allclose(found.displacement_angle, -np.degrees(0.4), atol=0.02)
        assert_allclose(found.displacement_factor, np.cos(0.4), rtol=1e-4)

    def test_batarseh(self):
        """Batarseh and Harb, Power Electronics, equations 3.57 to 3.59, p. 129."""
        lead = np.arccos(0.95)
        lines = ((1, 1.0, -lead), (3, 0.8, 0), (5, 0.55, 0), (7, 0.3, 0))
        found = power_quality(*capture(periods=2.6, amperes=lines))
        assert_allclose(found.total_harmonic_distortion, 1.01612, atol=1e-4)
        assert_allclose(found.power_factor, 0.666359, atol=1e-4)
        assert abs(found.product_gap) < 1e-4

    def test_gap_on_a_distorted_voltage(self):
        """P = V1 I1 + V3 I3 with both in phase; the product of factors misses V3."""
        volts, amperes = ((1, 300.0, 0), (3, 30.0, 0)), ((1, 1.0, 0), (3, 0.5, 0))
        found = power_quality(*capture(periods=2.0, volts=volts, amperes=amperes))
        power = (300 * 1 + 30 * 0.5) / 2
        apparent = np.hypot(300, 30) * np.hypot(1, 0.5) / 2
        assert_allclose(found.power_factor, power / apparent, rtol=1e-6)
        assert_allclose(found.product_gap, power / apparent - 1 / np.hypot(1, 0.5), atol=1e-5)
        assert_allclose(found.voltage_distortion, 0.1, rtol=1e-4)

    @pytest.mark.parametrize(
        ("shape", "crest"),
        [
            # Crest-factor table of an encyclopaedia: sine 1.414, triangle 1.732, square 1.
            (np.sin, 1.414),
            (lambda angle: 2 / np.pi * np.arcsin(np.sin(angle)), 1.732),
            (lambda angle: np.sign(np.sin(angle + 1e-9)), 1.0),
        ],
        ids=["sine", "triangle", "square"],
    )
    def test_crest_factors(self, shape, crest):
        time, voltage, _ = capture(periods=2.0, phase=0.0)
        found = power_quality(time, voltage, shape(2 * np.pi * 50 * time))
        assert_allclose(found.current_crest_factor, crest, atol=0.0015)

    def test_two_hundred_volts(self):
        """Singh, Electrical Networks, example 4.4: 200 sin 314 t is 50 Hz, crest factor 1.41."""
        time = np.linspace(0, 0.065, 3000)
        found = power_quality(time, 200 * np.sin(314 * time), np.sin(314 * time))
        assert_allclose(found.mains_frequency, 50.0, atol=0.03)
        assert_allclose(found.voltage_crest_factor, 1.41, atol=0.005)

    @settings(max_examples=30)
    @given(st.floats(45, 65), st.floats(1.05, 6), st.floats(0, 6), st.floats(-1.2, 1.2))
    def test_sines(self, hertz, periods, phase, lead):
        found = power_quality(*capture(hertz, periods, 400, phase, amperes=((1, 2.0, lead),)))
        assert_allclose(found.power_factor, np.cos(lead), rtol=2e-3)
        assert_allclose(found.input_power, 325 * np.cos(lead), rtol=2e-3)
        assert_allclose(found.total_harmonic_distortion, 0, atol=0.02)

    def test_the_same_figures_as_the_model(self):
        found = power_quality(*rectifier_capture())
        for name in ("input_power", "power_factor", "input_current_rms", "input_current_peak",
                     "displacement_factor", "total_harmonic_distortion"):  # fmt: skip
            assert_allclose(getattr(found, name), getattr(RECTIFIER, name), rtol=4e-3, err_msg=name)
        assert_allclose(found.harmonic_currents, RECTIFIER.harmonic_currents, atol=6e-4)
        assert_allclose(found.conduction_angle, RECTIFIER.conduction_angle, rtol=0.06)

    def test_uncertainties(self):
        """Gains add up in power and cancel in the power factor; a delay turns the angle."""
        record = capture(periods=2.0, amperes=((1, 1.0, -0.5),))
        found = power_quality(
            *record, voltage_gain_uncertainty=0.01, current_gain_uncertainty=0.02
        )  # fmt: skip
        spread = found.standard_uncertainty
        assert_allclose(spread["input_power"] / found.input_power, np.hypot(0.01, 0.02), rtol=1e-3)
        assert spread["power_factor"] < 1e-6
        late = power_quality(*record, delay_uncertainty=20e-6).standard_uncertainty
        expected = 2 * np.pi * 50 * 20e-6 * np.tan(0.5)
        assert_allclose(late["power_factor"] / found.power_factor, expected, rtol=1e-3)


class TestBadCaptures:
    def test_offset_is_taken_off_and_said(self):
        time, voltage, current = rectifier_capture()
        found = power_quality(time, voltage + 4.0, current + 0.05)
        assert_allclose(found.current_offset, 0.05, atol=2e-4)
        assert_allclose(found.voltage_offset, 4.0, atol=0.05)
        assert_allclose(found.power_factor, RECTIFIER.power_factor, rtol=4e-3)
        assert any("taken off the current" in note for note in found.corrections)
        assert any("taken off the voltage" in note for note in found.corrections)

    def test_uneven_steps_are_evened_out_and_said(self):
        time, voltage, current = capture(periods=2.5, amperes=((1, 1.0, 0), (5, 0.4, 0)))
        rng = np.random.default_rng(5)
        moved = time + rng.uniform(-0.3, 0.3, len(time)) * time[1]
        moved.sort()
        angle = 2 * np.pi * 50 * moved + 0.3
        found = power_quality(moved, 325 * np.sin(angle), np.sin(angle) + 0.4 * np.sin(5 * angle))
        assert any("resampled evenly" in note for note in found.corrections)
        assert_allclose(found.harmonic_currents[[0, 4]] * np.sqrt(2), [1.0, 0.4], rtol=2e-3)
        assert not power_quality(time, voltage, current).corrections

    def test_a_reversed_probe_is_turned_round_and_said(self):
        time, voltage, current = rectifier_capture()
        found = power_quality(time, voltage, -current)
        assert_allclose(found.power_factor, RECTIFIER.power_factor, rtol=4e-3)
        assert any("turned round" in note for note in found.corrections)

    def test_quantised_crests_are_not_clipping(self):
        time, voltage, current = rectifier_capture()
        rng = np.random.default_rng(2)
        for noise in (0.0, 0.5):
            codes = np.round(voltage / 0.78 + noise * rng.standard_normal(len(time))) * 0.78
            coarse = np.round(current / 0.0098 + noise * rng.standard_normal(len(time))) * 0.0098
            found = power_quality(time, codes, coarse)
            assert_allclose(found.power_factor, RECTIFIER.power_factor, rtol=5e-3)

    @pytest.mark.parametrize(
        ("spoil", "message"),
        [
            (lambda t, v, i: (t[:900], v[:900], i[:900]), "shorter than one period|no whole period"),
            (lambda t, v, i: (t[:300], v[:300], i[:300]), "no whole period|shorter than one"),
            (lambda t, v, i: (t, v, np.clip(i, -0.7 * i.max(), 0.7 * i.max())), "current looks clipped"),
            (lambda t, v, i: (t, np.minimum(v, 280.0), i), "voltage looks clipped"),
            (lambda t, v, i: (t, np.round(np.minimum(v, 280.0) / 0.8) * 0.8, i), "voltage looks clipped"),
            (lambda t, v, i: (t, i, v), "look swapped"),
            (lambda t, v, i: (t[::15], v[::15], i[::15]), "time steps are too long"),
            (lambda t, v, i: (t, v, 0 * i), "current does not alternate"),
            (lambda t, v, i: (t, v[:-1], i), "of one length"),
            (lambda t, v, i: (t[::-1], v, i), "time must rise"),
            (lambda t, v, i: (t + 0.02 * (np.arange(len(t)) > 1500), v, i), "has a gap"),
            (lambda t, v, i: (t, np.where(t > 0.01, np.nan, v), i), "voltage must be finite"),
            (lambda t, v, i: (t[:20], v[:20], i[:20]), "at least 50 samples"),
            (lambda t, v, i: (t, 0 * v + 3.0, i), "voltage holds no whole period"),
        ],
    )  # fmt: skip
    def test_refused(self, spoil, message):
        with pytest.raises(ValueError, match=message):
            power_quality(*spoil(*rectifier_capture()))

    def test_swapped_sines(self):
        """A sine on both: only the sizes tell."""
        time, voltage, current = capture(periods=2.0)
        with pytest.raises(ValueError, match="look swapped"):
            power_quality(time, current, voltage)


class TestWindow:
    @pytest.mark.parametrize(
        ("terms", "gain", "bandwidth", "scallop", "within"),
        [
            # F. J. Harris, Proc. IEEE 66 (1978), table I, from memory.
            ((1,), 1.00, 1.00, 3.92, 0.031),
            ((0.5, 0.5), 0.50, 1.50, 1.42, 0.031),
            ((0.54, 0.46), 0.54, 1.36, 1.78, 0.031),
            ((0.42, 0.5, 0.08), 0.42, 1.73, 1.10, 0.031),
            # LeCroy WavePro 7300A operator's manual, p. 236: gain -11.05 dB and -7.53 dB.
            ((0.2810639, 0.5208972, 0.1980399), 10 ** (-11.05 / 20), 2.96, 0.01, 0.07),
            ((0.42323, 0.49755, 0.07922), 10 ** (-7.53 / 20), 1.71, 1.13, 0.07),
        ],
    )
    def test_printed(self, terms, gain, bandwidth, scallop, within):
        angle = 2 * np.pi * np.arange(4096) / 4096
        window = sum((-1) ** k * term * np.cos(k * angle) for k, term in enumerate(terms))
        found = window_figures(window)
        assert_allclose(found.coherent_gain, gain, atol=0.0051)
        # The manual cuts 2.9656 to 2.96.
        assert_allclose(found.noise_bandwidth, bandwidth, atol=0.006)
        assert_allclose(found.scallop_loss, scallop, atol=within)

    @pytest.mark.parametrize(
        ("window", "rate", "bandwidth"),
        [
            # Documentation of enbw, MathWorks: symmetric windows; bins, then hertz.
            (windows.hamming(1000), 1000, 1.3638),
            (windows.flattop(10000), 44100, 16.6285),
            (windows.hann(128), 1000, 11.8110),
            (windows.hann(1000), 10000, 15.0150),
        ],
    )
    def test_noise_bandwidth(self, window, rate, bandwidth):
        found = window_figures(window).noise_bandwidth * rate / len(window)
        assert_allclose(found, bandwidth, atol=6e-4)

    def test_refusals(self):
        with pytest.raises(ValueError, match="window must hold"):
            window_figures([1.0])


def path(voltage, frequency, power, inductance, diodes):
    return RectifierPath(
        Mains(voltage, frequency),
        Estimate(power),
        source_inductance=Estimate(inductance),
        bulk_esr=Estimate(0.3),
        bridge_drop=Estimate(1.6),
        bridge_resistance=Estimate(diodes),
    )


class TestInverse:
    @pytest.mark.parametrize("case", [(230, 50, 25, 33e-6, 4.0), (115, 60, 60, 150e-6, 1.0)])
    def test_round_trip(self, case):
        true = rectifier_steady_state(*case, 30e-6, 0.3, 1.6, 0.05)
        rng = np.random.default_rng(7)
        noisy = true.input_current + 4e-3 * rng.standard_normal(1000)
        found = fit_rectifier(true.time, noisy, path(*case[:2], true.input_power, 30e-6, 0.05))
        for name, value in (("bulk_capacitance", case[3]), ("source_resistance", case[4])):
            low, high = found.interval(0.999)[name]
            assert low < value < high
            assert_allclose(getattr(found, name), value, rtol=0.02)
        assert_allclose(found.load_power, case[2], rtol=1e-3)

    def test_uncertainty_of_the_gain_counts(self):
        true = RECTIFIER
        known = path(230, 50, true.input_power, 20e-6, 0.08)
        sharp = fit_rectifier(true.time, true.input_current, known)
        vague = fit_rectifier(true.time, true.input_current, known, gain_uncertainty=0.02)
        assert vague.bulk_capacitance_uncertainty > 10 * sharp.bulk_capacitance_uncertainty
        scaled = fit_rectifier(true.time, 1.02 * true.input_current, known)
        moved = abs(scaled.bulk_capacitance - sharp.bulk_capacitance)
        assert_allclose(moved, vague.bulk_capacitance_uncertainty, rtol=0.35)

    @pytest.mark.parametrize(
        ("change", "message"),
        [
            ({"rising_zero": 0.01}, "in phase with the mains"),
            ({"current": np.sin(2 * np.pi * 50 * RECTIFIER.time)}, "does not have the shape"),
            ({"time": RECTIFIER.time / 2}, "at least one period"),
            ({"time": RECTIFIER.time[:9]}, "at least 50 samples"),
        ],
    )
    def test_refusals(self, change, message):
        usual = {
            "time": RECTIFIER.time,
            "current": RECTIFIER.input_current,
            "path": RectifierPath(Mains(230, 50), Estimate(60.0)),
        }
        with pytest.raises(ValueError, match=message):
            fit_rectifier(**(usual | change))

    def test_a_path_that_cannot_be(self):
        mains, power = Mains(230, 50), Estimate(60.0)
        with pytest.raises(ValueError, match="input_power must"):
            RectifierPath(mains, Estimate(0.0))
        for name in ("source_inductance", "bulk_esr", "bridge_drop", "bridge_resistance"):
            with pytest.raises(ValueError, match=f"{name} must"):
                RectifierPath(mains, power, **{name: Estimate(-1e-6)})
        with pytest.raises(ValueError, match="standard_uncertainty must"):
            Estimate(1.0, -0.1)
