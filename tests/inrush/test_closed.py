"""Tests for the inrush section. Every expected number states where it comes from."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad, solve_ivp
from simulator import simulate

from adapterlab.inrush import (
    crest_surge,
    crest_surge_current,
    i_squared_t,
    rc_inrush_current,
    rc_surge,
)

ohms, farads = st.floats(1, 60), st.floats(2e-6, 400e-6)
volts, hertz, drops = st.floats(90, 270), st.floats(45, 65), st.floats(0, 3)


class TestConstantSource:
    def test_crest_of_230_volts(self):
        """10 ohm, 33 µF at the crest of 230 V, computed, not printed: 32.53 A, 1.7457 J,
        0.17457 A²s.
        """  # noqa: D209
        crest = 230 * np.sqrt(2)
        surge = rc_surge(crest, 10, 33e-6)
        assert_allclose(surge.peak_current, 32.526911934581186, rtol=1e-12)
        assert_allclose(surge.resistor_energy, 1.7457, rtol=1e-4)
        assert_allclose(surge.i_squared_t, 0.17457, rtol=1e-4)
        assert_allclose(rc_inrush_current(330e-6, crest, 10, 33e-6), 32.5269 / np.e, rtol=1e-5)

    def test_maker_of_thermistors_works_480_volts(self):
        """A maker's worked example for 480 V + 10 %: peak 746.59 V, 2350 µF, 655 J, and 25 ohm
        for 30 A. Printed to whole ohms; its energy is off its own numbers by 0.01 %.
        """  # noqa: D209
        surge = rc_surge(746.59, 25, 2350e-6)
        assert_allclose(surge.capacitor_energy, 655.0, rtol=1.5e-4)
        assert_allclose(surge.peak_current, 30, rtol=0.5 / 25)

    def test_exponential_in_the_fuse_guide(self):
        """Littelfuse fuse guide, p. 12: an exponential of 10 A with time constant 1 ms has
        I²t = 0.05 A²s, half of peak squared times time constant.
        """  # noqa: D209
        surge = rc_surge(100, 10, 100e-6)
        assert_allclose((surge.peak_current, surge.time_constant), (10, 1e-3), rtol=1e-12)
        assert_allclose(surge.i_squared_t, 0.05, rtol=1e-12)
        time = np.linspace(0, 20e-3, 40001)
        assert_allclose(
            i_squared_t(time, rc_inrush_current(time, 100, 10, 100e-6)), 0.05, rtol=1e-6
        )

    @pytest.mark.parametrize(
        ("shape", "printed"),
        [
            pytest.param(lambda x: 10 + 0 * x, 0.1, id="square"),
            pytest.param(lambda x: 10 * np.sin(np.pi * x), 0.05, id="half sine"),
            pytest.param(lambda x: 10 * x, 0.1 / 3, id="triangle"),
            pytest.param(lambda x: 10 * (1 - x) ** 2, 0.02, id="parabola"),
            pytest.param(lambda x: 10 - 6 * x, 0.052, id="trapezoid from 10 A to 4 A"),
        ],
    )
    def test_shapes_in_the_fuse_guide(self, shape, printed):
        """Littelfuse fuse guide, p. 12, chart of I²t: 10 A and 1 ms."""
        share = np.linspace(0, 1, 20001)
        assert_allclose(i_squared_t(share * 1e-3, shape(share)), printed, rtol=1e-7)

    @given(volts, ohms, farads)
    def test_half_the_energy_is_lost_whatever_the_resistance(self, voltage, resistance, bulk):
        lost = quad(
            lambda x: resistance * rc_inrush_current(x, voltage, resistance, bulk) ** 2,
            0,
            40 * resistance * bulk,
            epsabs=0,
            epsrel=1e-9,
            limit=200,
        )[0]
        surge = rc_surge(voltage, resistance, bulk)
        assert_allclose(surge.resistor_energy, lost, rtol=1e-7)
        assert surge.resistor_energy == surge.capacitor_energy


def by_solver(voltage, frequency, resistance, bulk, drop):
    """The surge from the crest by scipy's solver: the moment it stops, and its current."""
    crest, omega = np.sqrt(2) * voltage, 2 * np.pi * frequency

    def push(time, held):
        return crest * np.cos(omega * time) - drop - held[0]

    push.terminal = True
    result = solve_ivp(
        lambda time, held: [push(time, held) / resistance / bulk],
        (0, 0.25 / frequency),
        [0],
        method="LSODA",
        events=push,
        rtol=1e-10,
        atol=1e-10,
        dense_output=True,
    )
    stop = float(result.t_events[0][0])

    def current(time):
        held = result.sol(np.clip(time, 0, stop))
        return np.where((time > 0) & (time < stop), push(time, held) / resistance, 0)

    return stop, current


CIRCUITS = [
    pytest.param((230, 50, 10, 33e-6, 1.6), id="usual"),
    pytest.param((115, 60, 9, 110e-6, 1.6), id="low mains, large capacitor"),
    pytest.param((264, 50, 40, 200e-6, 0), id="slower than the mains"),
    pytest.param((230, 50, 2, 5e-6, 2.5), id="much faster than the mains"),
]


class TestCrest:
    @pytest.mark.parametrize("circuit", CIRCUITS)
    def test_against_the_solver(self, circuit):
        stop, current = by_solver(*circuit)
        surge = crest_surge(*circuit)
        assert_allclose(surge.stop_time, stop, rtol=1e-6)
        time = np.linspace(1e-9, stop * 1.2, 300)
        got = crest_surge_current(time, *circuit)
        assert_allclose(got, current(time), rtol=1e-6, atol=1e-6 * surge.peak_current)
        heat = quad(lambda x: float(current(x)) ** 2, 1e-12, stop, limit=200)[0]
        assert_allclose(surge.i_squared_t, heat, rtol=1e-6)
        assert_allclose(
            crest_surge_current(surge.time_constant, *circuit), surge.peak_current / np.e, rtol=1e-9
        )
        charge = quad(lambda x: float(current(x)), 1e-12, stop, limit=200)[0]
        assert_allclose(surge.final_voltage, charge / circuit[3], rtol=1e-6)

    def test_against_the_circuit_simulator(self):
        """Near-ideal diodes; 0.15 % for the 50 mV that each of them still drops."""
        simulated = simulate("inrush_crest")
        for name, circuit, times in (
            ("a", (230, 50, 10, 33e-6, 1.6), (50e-6, 330e-6, 1e-3)),
            ("b", (115, 60, 9, 110e-6, 1.6), (50e-6, 500e-6, 1.5e-3)),
        ):
            expected = [simulated[f"{name}_{moment}"] for moment in ("early", "middle", "late")]
            assert_allclose(crest_surge_current(times, *circuit), expected, rtol=1.5e-3)
            surge = crest_surge(*circuit)
            assert_allclose(surge.i_squared_t, simulated[f"{name}_heat"], rtol=1.5e-3)
            assert_allclose(surge.final_voltage, simulated[f"{name}_final"], rtol=1.5e-3)

    @given(volts, ohms, farads)
    def test_a_slow_mains_is_a_constant_source(self, voltage, resistance, bulk):
        crest, constant = np.sqrt(2) * voltage, resistance * bulk
        time = constant * np.array([0, 0.3, 1, 3])
        got = crest_surge_current(time, voltage, 1e-6 / constant, resistance, bulk)
        assert_allclose(got, rc_inrush_current(time, crest, resistance, bulk), rtol=1e-3)

    @given(volts, hertz, ohms, farads, drops)
    def test_never_more_than_the_constant_source(self, voltage, frequency, resistance, bulk, drop):
        surge = crest_surge(voltage, frequency, resistance, bulk, drop)
        ideal = rc_surge(np.sqrt(2) * voltage - drop, resistance, bulk)
        assert_allclose(surge.peak_current, ideal.peak_current, rtol=1e-12)
        for name in ("time_constant", "i_squared_t", "resistor_energy", "capacitor_energy"):
            assert getattr(surge, name) <= getattr(ideal, name) * (1 + 1e-9)
        time = np.linspace(0, 0.249 / frequency, 50)
        current = crest_surge_current(time, voltage, frequency, resistance, bulk, drop)
        assert (np.diff(current) <= 0).all()
        assert (current[time > surge.stop_time] == 0).all()

    @given(ohms, st.floats(0.2, 5))
    def test_only_the_product_sets_the_times(self, resistance, factor):
        first = crest_surge(230, 50, resistance, 330e-6 / resistance)
        other = crest_surge(230, 50, resistance * factor, 330e-6 / resistance / factor)
        assert_allclose(first.stop_time, other.stop_time, rtol=1e-9)
        assert_allclose(first.peak_current, other.peak_current * factor, rtol=1e-9)

    def test_time_ends_before_the_next_half_wave(self):
        stop = crest_surge(230, 50, 10, 33e-6).stop_time
        latest = 10e-3 - stop
        assert crest_surge_current(0.999 * latest, 230, 50, 10, 33e-6) == 0
        with pytest.raises(ValueError, match="time must end before the next half wave"):
            crest_surge_current(1.001 * latest, 230, 50, 10, 33e-6)


EVERY = [
    (rc_inrush_current, (1e-3, 325, 10, 33e-6)),
    (rc_surge, (325, 10, 33e-6)),
    (crest_surge_current, (1e-3, 230, 50, 10, 33e-6, 1.5)),
    (crest_surge, (230, 50, 10, 33e-6, 1.5)),
]


def _values(result):
    if hasattr(result, "__dataclass_fields__"):
        return [getattr(result, field.name) for field in fields(result)]
    return [result]


@pytest.mark.parametrize(("function", "arguments"), EVERY)
class TestContract:
    def test_scalars_give_floats(self, function, arguments):
        assert all(type(value) is float for value in _values(function(*arguments)))

    def test_arrays_broadcast(self, function, arguments):
        plain = _values(function(*arguments))
        first = np.full((3, 1), arguments[0], dtype=float)
        other = np.full(4, arguments[1], dtype=float)
        before = first.copy()
        for value, single in zip(
            _values(function(first, other, *arguments[2:])), plain, strict=True
        ):
            assert value.shape == (3, 4)
            assert_allclose(value, single)
        assert (first == before).all()

    def test_nothing_impossible_passes(self, function, arguments):
        for place in range(len(arguments)):
            for bad in (float("nan"), float("inf"), -1e9, "much"):
                wrong = [*arguments]
                wrong[place] = bad
                with pytest.raises(ValueError, match="must be"):
                    function(*wrong)


def test_rejections():
    with pytest.raises(ValueError, match="drop must be below the mains voltage"):
        crest_surge(1, 50, 10, 33e-6, 2)
    with pytest.raises(ValueError, match="time must hold at least two samples"):
        i_squared_t([0], [1])
    with pytest.raises(ValueError, match="time must rise"):
        i_squared_t([0, 0], [1, 1])
