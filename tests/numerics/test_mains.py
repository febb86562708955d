"""The records that rectifier and surge share: closed forms of the wave, and what they refuse."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import approx_fprime

from adapterlab.numerics.diodes import Bridge
from adapterlab.numerics.mains import Mains

ANGLE = 2 * np.pi * np.arange(4096) / 4096
shares, lags = st.floats(0, 0.3), st.floats(-np.pi, np.pi)


class TestMains:
    @given(st.floats(80, 270), shares, lags, shares, lags)
    def test_the_rms_of_its_wave_is_its_voltage(self, volts, third, lag, fifth, other):
        """Parseval's theorem, over one period of samples."""
        wave = [1, 0, third * np.exp(1j * lag), 0, fifth * np.exp(1j * other)]
        mains = Mains(volts, 50, wave)
        assert_allclose(np.sqrt(np.mean(mains.waveform(ANGLE) ** 2)), volts, rtol=1e-12)
        assert_allclose(mains.distortion, np.hypot(third, fifth), rtol=1e-9, atol=1e-12)

    @given(st.floats(0, 0.11))
    def test_the_crest_with_a_third_harmonic(self, share):
        """Below a ninth the top stays single: sin t + a sin 3t is 1 - a at 90 degrees."""
        mains = Mains(230, 50, [1, 0, share])
        first = 230 * np.sqrt(2 / (1 + share**2))
        assert_allclose(mains.crest, first * (1 - share), rtol=1e-9)
        assert_allclose(mains.crest_angle, np.pi / 2, atol=5e-3)

    def test_two_humps_beyond_a_ninth(self):
        """The derivative cos t + 3 a cos 3t vanishes at sin^2 t = (1 + 3a) / 12a."""
        place = np.arcsin(np.sqrt((1 + 0.9) / 3.6))
        mains = Mains(230, 50, [1, 0, 0.3])
        assert_allclose(abs(mains.crest_angle - np.pi / 2), np.pi / 2 - place, atol=5e-3)
        assert_allclose(mains.crest, mains.waveform(place), rtol=1e-4)

    def test_a_lag_is_one_of_its_own_angle(self):
        mains = Mains(1 / np.sqrt(2), 50, [1, 0, 0.2j])
        expected = (np.sin(ANGLE) + 0.2 * np.sin(3 * ANGLE + np.pi / 2)) / np.sqrt(1.04)
        assert_allclose(mains.waveform(ANGLE), expected, atol=1e-12)

    @pytest.mark.parametrize("wave", [[1], [1, 0, 0.1 - 0.2j, 0, 0.05]])
    def test_the_slope_is_the_derivative(self, wave):
        mains = Mains(115, 60, wave)
        for angle in (0.1, 1.2, 4.0):
            found = approx_fprime([angle], lambda x: float(mains.waveform(x[0])), 1e-6)[0]
            assert_allclose(mains.slope(angle), found, rtol=1e-4)

    def test_many_at_once_and_some_of_them(self):
        shape = np.array([[1, 1, 1], [0, 0, 0], [0, 0.05, 0.05j]])
        mains = Mains(np.array([230.0, 115.0, 100.0]), np.full(3, 50.0), shape)
        assert mains.crest.shape == (3,)
        one = Mains(115, 50, [1, 0, 0.05])
        assert_allclose(mains.take(np.array([1])).waveform(ANGLE[None, :])[0], one.waveform(ANGLE))
        assert_allclose(mains.take(np.s_[:, None]).crest[1, 0], one.crest)
        assert Mains(230, 50).is_sine
        assert not mains.is_sine

    @pytest.mark.parametrize(
        ("arguments", "message"),
        [
            ((0, 50), "mains_voltage must"), ((230, -1), "mains_frequency must"),
            ((230, 50, []), "shape must"), ((230, 50, [2, 1]), "shape must begin with 1"),
            ((230, 50, [1, np.nan]), "shape must hold finite"),
        ],
    )  # fmt: skip
    def test_refusals(self, arguments, message):
        with pytest.raises(ValueError, match=message):
            Mains(*arguments)


class TestBridge:
    def test_its_law(self):
        assert_allclose(Bridge(1.4, 0.1).voltage([0.0, 5.0]), [1.4, 1.9])

    def test_some_of_many(self):
        both = Bridge(np.array([1.0, 2.0]), np.array([0.1, 0.2])).take(1)
        assert (both.drop, both.resistance) == (2.0, 0.2)

    @pytest.mark.parametrize(("arguments", "name"), [((-1, 0), "drop"), ((1, -0.1), "resistance")])
    def test_refusals(self, arguments, name):
        with pytest.raises(ValueError, match=f"bridge_{name} must"):
            Bridge(*arguments)
