"""Tests for the inrush section. Every expected number states where it comes from."""

import json
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad, solve_ivp
from simulator import simulate

from adapterlab import published
from adapterlab.assess import inrush as section
from adapterlab.assess.inrush_parts import path_of, predict
from adapterlab.dossier import read_dossier
from adapterlab.inrush import (
    crest_surge,
    crest_surge_current,
    fit_surge,
    i_squared_t,
    rc_inrush_current,
    rc_surge,
)

DEMO = Path(__file__).parent.parent / "data" / "demo"
NAMES = ("alder-27", "birch-60", "cedar-65", "dogwood-18")
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


def by_solver(voltage, frequency, resistance, bulk, drop, thermistor=None):
    """The surge from the crest by scipy's solver: the moment it stops, and its current.

    `thermistor` is (share of the resistance, B, heat capacity), at 25 °C in the beginning.
    """
    crest, omega = np.sqrt(2) * voltage, 2 * np.pi * frequency
    share, beta, heat = thermistor or (0.0, 0.0, 1.0)

    def path(kelvin):
        return resistance * (1 - share + share * np.exp(beta * (1 / kelvin - 1 / 298.15)))

    def push(time, state):
        return crest * np.cos(omega * time) - drop - state[0]

    def slope(time, state):
        current = push(time, state) / path(state[1])
        warm = path(state[1]) - resistance * (1 - share)
        return [current / bulk, warm * current**2 / heat]

    push.terminal = True
    result = solve_ivp(
        slope,
        (0, 0.25 / frequency),
        [0, 298.15],
        method="LSODA",
        events=push,
        rtol=1e-10,
        atol=1e-10,
        dense_output=True,
    )
    stop = float(result.t_events[0][0])
    fall = 1 - path(result.y[1][-1]) / resistance

    def current(time):
        state = result.sol(np.clip(time, 0, stop))
        return np.where((time > 0) & (time < stop), push(time, state) / path(state[1]), 0)

    return stop, current, fall


CIRCUITS = [
    pytest.param((230, 50, 10, 33e-6, 1.6), id="usual"),
    pytest.param((115, 60, 9, 110e-6, 1.6), id="low mains, large capacitor"),
    pytest.param((264, 50, 40, 200e-6, 0), id="slower than the mains"),
    pytest.param((230, 50, 2, 5e-6, 2.5), id="much faster than the mains"),
]


class TestCrest:
    @pytest.mark.parametrize("circuit", CIRCUITS)
    def test_against_the_solver(self, circuit):
        stop, current, _ = by_solver(*circuit)
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

    def test_inductance_takes_what_the_allowance_says(self):
        row = published.rows("inrush", "allowances", name="peak factor")[0]
        simulated, peak = simulate("inrush_inductance"), 32.5269
        assert_allclose(simulated["small_peak"] / peak, 1 - 0.015, atol=1e-3)
        assert_allclose(simulated["large_peak"] / peak, 1 - 0.08, atol=1e-3)
        assert row["low"] < simulated["large_peak"] / peak < row["high"]

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


def capture(current, start=-1e-3, end=15e-3, step=5e-6, noise=0.1, offset=2.3e-6, seed=5):
    """Samples of a surge with noise; contact at `offset`, between two samples."""
    time = np.arange(round((end - start) / step)) * step + start
    chance = np.random.default_rng(seed)
    return time, current(time - offset) + noise * chance.standard_normal(len(time))


class TestFit:
    @pytest.mark.parametrize("circuit", CIRCUITS[:2])
    @pytest.mark.parametrize("seed", range(3))
    def test_recovers_a_surge_made_by_the_solver(self, circuit, seed):
        _, current, _ = by_solver(*circuit)
        time, flow = capture(current, seed=seed)
        found = fit_surge(time, flow, circuit[0], circuit[1], circuit[4])
        assert abs(found.resistance - circuit[2]) < 3 * found.resistance_uncertainty
        assert abs(found.capacitance - circuit[3]) < 3 * found.capacitance_uncertainty
        assert found.resistance_uncertainty < 0.02 * circuit[2]
        assert found.capacitance_uncertainty < 0.02 * circuit[3]
        assert found.residual == pytest.approx(0.1, rel=0.25)
        assert -5e-6 < found.contact_time < 5e-6

    def test_intervals_hold_the_truth_as_often_as_they_say(self):
        _, current, _ = by_solver(230, 50, 10, 33e-6, 1.6)
        chance, hits = np.random.default_rng(11), 0
        for seed in range(40):
            moved = chance.uniform(0, 5e-6)
            time, flow = capture(current, offset=moved, seed=seed, end=6e-3)
            low, high = fit_surge(time, flow, 230, 50, 1.6).resistance_interval
            hits += low <= 10 <= high
        assert hits >= 34  # 38 expected; below 34 happens once in 70

    def test_gain_and_voltage_act_as_they_must(self):
        """R goes with voltage over current, C with current over voltage."""
        _, current, _ = by_solver(230, 50, 10, 33e-6, 0)
        time, flow = capture(current)
        plain = fit_surge(time, flow, 230, 50)
        louder = fit_surge(time, 1.02 * flow, 230, 50)
        assert_allclose(louder.resistance * 1.02, plain.resistance, rtol=1e-4)
        assert_allclose(louder.capacitance / 1.02, plain.capacitance, rtol=1e-4)
        for name, value in (("gain_uncertainty", 0.02), ("mains_voltage_uncertainty", 4.6)):
            wide = fit_surge(time, flow, 230, 50, **{name: value})
            added = np.sqrt(wide.resistance_uncertainty**2 - plain.resistance_uncertainty**2)
            assert_allclose(added / plain.resistance, 0.02, rtol=0.02)

    def test_drop_and_phase_widen_as_a_new_fit_moves(self):
        _, current, _ = by_solver(230, 50, 10, 110e-6, 1.6)
        time, flow = capture(current)
        plain = fit_surge(time, flow, 230, 50, 1.6)
        moved = fit_surge(time, flow, 230, 50, 1.6, phase=91)
        wide = fit_surge(time, flow, 230, 50, 1.6, phase_uncertainty=1)
        added = np.sqrt(wide.capacitance_uncertainty**2 - plain.capacitance_uncertainty**2)
        assert_allclose(added, abs(moved.capacitance - plain.capacitance), rtol=0.15)
        moved = fit_surge(time, flow, 230, 50, 3.6)
        wide = fit_surge(time, flow, 230, 50, 1.6, drop_uncertainty=2)
        added = np.sqrt(wide.resistance_uncertainty**2 - plain.resistance_uncertainty**2)
        assert_allclose(added, abs(moved.resistance - plain.resistance), rtol=0.15)

    def test_the_other_polarity(self):
        _, current, _ = by_solver(230, 50, 10, 33e-6, 1.6)
        time, flow = capture(current)
        up, down = (fit_surge(time, sign * flow, 230, 50, 1.6, phase=p) for sign, p in
                    ((1, 90), (-1, 270)))  # fmt: skip
        assert (up.polarity, down.polarity) == (1, -1)
        assert_allclose(up.resistance, down.resistance, rtol=1e-6)

    def test_refuses_what_is_no_surge(self):
        _, current, _ = by_solver(230, 50, 10, 33e-6, 1.6)
        time, flow = capture(current)
        with pytest.raises(ValueError, match="phase must lie within 10 degrees"):
            fit_surge(time, flow, 230, 50, phase=30)
        with pytest.raises(ValueError, match="must begin before contact"):
            fit_surge(time[250:], flow[250:], 230, 50)
        chance = np.random.default_rng(2).standard_normal(len(time))
        with pytest.raises(ValueError, match="current holds no surge"):
            fit_surge(time, chance, 230, 50)
        with pytest.raises(ValueError, match="current holds no surge"):
            fit_surge(time, np.where(time > 0, 5.0, 0.0), 230, 50)
        with pytest.raises(ValueError, match="at least 4 samples"):
            fit_surge(time[::150], flow[::150] + np.where(np.arange(22) == 7, 20, 0), 230, 50)
        spike = np.where(time > 0, np.exp(-np.clip(time, 0, 1) / 50e-6) * 30, 0)
        hump = spike + np.where((time > 1e-3) & (time < 4e-3), 25.0, 0)
        with pytest.raises(ValueError, match="fits no surge"):
            fit_surge(time, hump, 230, 50)
        with pytest.raises(ValueError, match="time must rise"):
            fit_surge(time[::-1], flow, 230, 50)
        with pytest.raises(ValueError, match="gain_uncertainty must be"):
            fit_surge(time, flow, 230, 50, gain_uncertainty=-1)


@pytest.mark.parametrize(
    ("mains", "resistance", "bulk", "thermistor"),
    [
        ((230, 50), 9.7, 107e-6, (0.86, 2900, 0.75)),
        ((230, 50), 11.6, 44.5e-6, (0.83, 2800, 0.33)),
        ((230, 50), 11.9, 114e-6, (0.90, 3000, 1.1)),
        ((115, 60), 6, 68e-6, (0.83, 2800, 0.3)),
        ((230, 50), 6.5, 22e-6, (0.77, 2800, 0.12)),
        ((264, 50), 11, 68e-6, (0.91, 3000, 0.5)),
    ],
)
def test_how_a_warming_thermistor_looks(mains, resistance, bulk, thermistor):
    """The table of what warming does to a fit and to figures of a constant resistance, repeated
    with scipy's solver.
    """  # noqa: D209
    row = {entry["quantity"]: entry for entry in published.load("inrush")["heating"]}
    _, current, fall = by_solver(*mains, resistance, bulk, 1.6, thermistor)
    time, flow = capture(current, noise=1e-3)
    found = fit_surge(time, flow, *mains, 1.6)
    share = {
        "fitted resistance": (1 - found.resistance / resistance) / fall,
        "fitted capacitance": (1 - found.capacitance / bulk) / fall,
    }
    trial = np.linspace(-1, 1.5, 500)
    figures = crest_surge(*mains, resistance * (1 - trial * fall), bulk, 1.6)
    peak = crest_surge(*mains, resistance, bulk, 1.6).peak_current
    fallen = np.interp(peak / np.e, flow[time > 1e-5][::-1], time[time > 1e-5][::-1]) - 2.3e-6
    share["time constant"] = np.interp(-fallen, -figures.time_constant, trial)
    share["i_squared_t"] = np.interp(i_squared_t(time, flow), figures.i_squared_t, trial)
    for name, value in share.items():
        assert row[name]["low"] < value < row[name]["high"], name


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


@pytest.fixture(scope="module", params=NAMES)
def demo(request):
    truth = json.loads((DEMO / "truth" / f"{request.param}.json").read_text(encoding="utf-8"))
    return section.assess(read_dossier(DEMO / request.param)), truth


class TestDemo:
    def test_recovers_resistance_and_capacitance(self, demo):
        """Within the 95 % intervals of all four adapters."""
        result, truth = demo
        front = truth["front"]
        path = (
            truth["limiter"]["resistance_25"]
            + front["other_resistance"]
            + front["bridge_resistance"]
            + front["bulk_esr"]
        )
        (surge,) = result.surges
        for value, true in (
            (surge.resistance, path),
            (surge.capacitance, front["bulk_capacitance"]),
        ):
            assert abs(value.value - true) < 1.96 * value.standard_uncertainty
            assert value.standard_uncertainty < 0.04 * true

    def test_recovers_peak_and_i_squared_t(self, demo):
        result, truth = demo
        (surge,) = result.surges
        true = truth["plug_in"][Path(surge.file).name]
        for value, name in (
            (surge.peak, "peak_current"),
            (surge.record_i_squared_t, "i_squared_t"),
        ):
            assert abs(value.value - true[name]) < 2 * value.standard_uncertainty

    def test_only_the_wrong_capacitor_is_unexplained(self, demo):
        result, truth = demo
        strange = {finding.question for finding in result.findings.with_word("unexplained")}
        if truth["name"] == "dogwood-18":
            assert strange == {
                "What bulk capacitance does the surge imply?",
                "Do the parts explain how long the surge lasts?",
            }
        else:
            assert not strange
            assert len(result.findings.with_word("explained")) == 4

    def test_fuse_and_discharge(self, demo):
        result, truth = demo
        words = {finding.question: finding.word for finding in result.findings}
        expected = {
            "alder-27": ("meets", "no limit applies"),
            "birch-60": ("meets", "meets"),
            "cedar-65": ("meets", "meets"),
            "dogwood-18": ("not measured", "not measured"),
        }[truth["name"]]
        assert words["Does the surge wear the fuse?"] == expected[0]
        assert words["Does the line capacitor run down when the plug is pulled?"] == expected[1]

    def test_sets_aside_what_the_model_does_not_cover(self):
        result = section.assess(read_dossier(DEMO / "birch-60"))
        aside = [f.sentence for f in result.findings if "set aside" in f.sentence]
        assert len(aside) == 2
        assert any("contact was at 30°" in sentence for sentence in aside)
        assert any("rested for 6 s only" in sentence for sentence in aside)


NAMEPLATE = '[nameplate]\nname = "bare"\nrated_power = "20 W"\n'
PARTS = """
[[parts]]
reference = "R1"
kind = "resistor"
role = "inrush limiter"
value = "10 ohm"
tolerance = "5 %"
[[parts]]
reference = "C1"
kind = "capacitor"
role = "bulk capacitor"
value = "33 uF"
tolerance = "20 %"
"""
CAPTURE = """
[[captures]]
kind = "plug-in"
file = "plug.csv"
channels = [{ column = 2, quantity = "current" }]
mains_voltage = "230 V"
mains_frequency = "50 Hz"
"""


class TestSparseDossiers:
    def write(self, folder, text, flow=None):
        (folder / "adapter.toml").write_text(text, encoding="utf-8")
        if flow is not None:
            time = np.arange(-100, 2000) * 5e-6
            rows = [f"{t:.7g},{i:.6g}" for t, i in zip(time, flow(time), strict=True)]
            (folder / "plug.csv").write_text("t,i\n" + "\n".join(rows) + "\n", encoding="utf-8")
        return section.assess(read_dossier(folder))

    def test_nameplate_only(self, tmp_path):
        result = self.write(tmp_path, NAMEPLATE)
        assert {finding.word for finding in result.findings} == {"not measured"}
        assert result.surges == ()
        assert result.prediction is None

    def test_parts_without_a_capture(self, tmp_path):
        result = self.write(tmp_path, NAMEPLATE + PARTS)
        assert result.prediction.values["fall"].value == 0
        assert result.prediction.values["capacitance"].value == pytest.approx(33e-6, rel=1e-3)

    def test_capture_without_parts_or_meters(self, tmp_path):
        _, current, _ = by_solver(230, 50, 11, 33e-6, 1.6)
        result = self.write(
            tmp_path, NAMEPLATE + CAPTURE + "phase = 270.0\n", lambda t: -current(t)
        )
        (surge,) = result.surges
        assert surge.prediction is None
        assert surge.energy is None
        low, high = (surge.resistance.value + k * surge.resistance.standard_uncertainty
                     for k in (-2, 2))  # fmt: skip
        assert low < 11 * 1.1
        assert high > 11
        assert section.readings(result)[0]["the parts predict"] == "–"

    @pytest.mark.parametrize(
        ("extra", "flow", "reason"),
        [
            ("", np.sin, "angle of contact is not noted"),
            ("phase = 90.0\n", np.zeros_like, "current holds no surge"),
            ("phase = 45.0\n", np.zeros_like, "contact was at 45°"),
            ('phase = 90.0\nrest_time = "299 s"\n', np.zeros_like, "rested for 299 s only"),
        ],
    )
    def test_useless_captures_are_named_not_fatal(self, tmp_path, extra, flow, reason):
        result = self.write(tmp_path, NAMEPLATE + PARTS + CAPTURE + extra, flow)
        assert result.surges == ()
        assert any(reason in finding.sentence for finding in result.findings)

    def test_a_short_rest_is_named(self, tmp_path):
        _, current, _ = by_solver(230, 50, 11, 33e-6, 1.6)
        result = self.write(tmp_path, NAMEPLATE + PARTS + CAPTURE + "phase = 90.0\n", current)
        notes = " ".join(finding.note for finding in result.findings)
        assert "rest before this plug-in is not noted" in notes

    def test_capacitors_in_series_and_without_a_listed_resistance(self, tmp_path):
        second = PARTS.split("[[parts]]")[2].replace("C1", "C2")
        text = NAMEPLATE + PARTS + "[[parts]]" + second + 'in_series_with = "C1"\n'
        (tmp_path / "adapter.toml").write_text(text, encoding="utf-8")
        path = path_of(read_dossier(tmp_path))
        found = predict(path, section.Value(230.0, 0.0, "V"), 50.0)
        assert found.values["capacitance"].value == pytest.approx(16.5e-6, rel=0.01)
        assert found.values["resistance"].value == pytest.approx(10 + 0.585 + 2.2, rel=0.01)


@settings(max_examples=15, deadline=None)
@given(st.floats(4, 30), st.floats(5e-6, 150e-6), st.floats(0, 5e-6), st.integers(0, 99))
def test_any_surge_comes_back(resistance, bulk, offset, seed):
    time = np.arange(-200, 1400) * 5e-6
    since = np.clip(time - offset, 0, crest_surge(230, 50, resistance, bulk).stop_time)
    flow = np.where(since > 0, crest_surge_current(since, 230, 50, resistance, bulk), 0)
    flow = flow + 0.02 * np.random.default_rng(seed).standard_normal(len(time))
    found = fit_surge(time, flow, 230, 50)
    assert abs(found.resistance - resistance) < 5 * found.resistance_uncertainty
    assert abs(found.capacitance - bulk) < 5 * found.capacitance_uncertainty
