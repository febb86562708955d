"""The section on whole dossiers: the demo's truth comes back, and thin dossiers do not crash."""

import json
import shutil

import matplotlib.pyplot as plt
import numpy as np
import pytest
from places import DEMO

from adapterlab.assess import mains_current as section
from adapterlab.dossier import read_dossier
from adapterlab.figures.mains_current import FIGURES
from adapterlab.mains_current import rectifier_steady_state

NAMES = ("alder-27", "birch-60", "cedar-65", "dogwood-18")


@pytest.fixture(scope="module")
def assessed():
    return {name: section.assess(read_dossier(DEMO / name)) for name in NAMES}


def truth(name):
    return json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", ["alder-27", "birch-60"])
class TestRecovery:
    def test_parts(self, assessed, name):
        """Bulk capacitance and warm series resistance come back within their 95 % intervals."""
        front = truth(name)["front"]
        for fit in assessed[name].fits:
            ends = fit.interval(0.95)
            assert ends["bulk_capacitance"][0] < front["bulk_capacitance"]
            assert front["bulk_capacitance"] < ends["bulk_capacitance"][1]
            low, high = ends["source_resistance"]
            assert low < front["hot_resistance"] < high
            assert high - low < 1.5 * front["hot_resistance"]

    def test_readings(self, assessed, name):
        mains = truth(name)["mains"]
        for point in assessed[name].points:
            true = mains[point.file.rsplit("/", 1)[-1]]
            for reading, key in (
                ("input_current_rms", "input_rms"),
                ("input_current_peak", "input_peak"),
                ("power_factor", "power_factor"),
            ):
                value = point.readings[reading]
                within = 3 * value.standard_uncertainty + 0.004 * true[key]
                assert abs(value.value - true[key]) < within, (point.label, reading)

    def test_predictions(self, assessed, name):
        """What the parts predict holds the truth, and the true valley and ripple current too."""
        mains = truth(name)["mains"]
        for point, prediction in zip(
            assessed[name].points, assessed[name].predictions, strict=True
        ):
            true = mains[point.file.rsplit("/", 1)[-1]]
            for key, known in (
                ("input_current_rms", "input_rms"),
                ("input_current_peak", "input_peak"),
                ("power_factor", "power_factor"),
                ("bulk_voltage_min", "valley"),
                ("capacitor_current_rms", "capacitor_rms"),
            ):
                low, high = prediction.figures[key].reach
                slack = 0.15 * (high - low)
                assert low - slack < true[known] < high + slack, (point.label, key)

    def test_words(self, assessed, name):
        words = [finding.word for finding in assessed[name].findings]
        assert words.count("explained") == 12
        assert "unexplained" not in words


def test_a_wrong_capacitor_is_unexplained(tmp_path):
    """Twice the capacitance printed on the cans: the capture says so."""
    folder = shutil.copytree(DEMO / "birch-60", tmp_path / "d")
    text = (folder / "adapter.toml").read_text(encoding="utf-8")
    text = text.replace('value = "56 uF"', 'value = "120 uF"')
    (folder / "adapter.toml").write_text(text, encoding="utf-8")
    found = section.assess(read_dossier(folder)).findings.with_word("unexplained")
    assert any("Bulk capacitance" in finding.sentence for finding in found)


def test_no_limit_applies_below_the_threshold(assessed):
    for name in NAMES:
        (finding,) = (f for f in assessed[name].findings if "allowed" in f.question)
        assert finding.word == "no limit applies"
        assert "75 W" in finding.sentence


def test_sweep_alone(assessed):
    """Without a capture the sweep still tells rms current and power factor."""
    points = assessed["cedar-65"].points
    assert [round(point.mains_voltage.value, -1) for point in points] == [230, 120]
    assert all(point.quality is None for point in points)
    words = [f.word for f in assessed["cedar-65"].findings]
    assert words.count("explained") == 4


def test_power_factor_curves_hold_the_sweep(assessed):
    for name in ("alder-27", "birch-60", "cedar-65"):
        for curve in assessed[name].curves:
            rows = np.array(
                [r for r in assessed[name].sweep if abs(r[0] / curve.mains_voltage - 1) < 0.02]
            )
            rows = rows[rows[:, 1] > 5]
            low = np.interp(rows[:, 1], curve.power, curve.low) - 2 * rows[:, 3]
            high = np.interp(rows[:, 1], curve.power, curve.high) + 2 * rows[:, 3]
            assert ((low < rows[:, 2]) & (rows[:, 2] < high)).mean() > 0.9


def test_filter_corners(assessed):
    """18 mH with 1 nF, and 4 uH with 0.22 uF: 1 over 2 pi root LC by hand."""
    (finding,) = (f for f in assessed["birch-60"].findings if "filter" in f.question)
    assert "37.5 kHz" in finding.sentence
    assert f"{1 / (2 * np.pi * np.sqrt(4e-6 * 0.22e-6)) / 1e3:.0f} kHz" in finding.sentence


NAMEPLATE = '[nameplate]\nname = "bare"\nrated_power = "20 W"\n'
BULK = (
    '\n[[parts]]\nreference = "C1"\nkind = "capacitor"\nrole = "bulk capacitor"\n'
    'value = "{}"\ntolerance = "20 %"\n'
)
LIMITER = (
    '\n[[parts]]\nreference = "R1"\nkind = "resistor"\nrole = "inrush limiter"\n'
    'value = "5.1 ohm"\ntolerance = "5 %"\n'
)
CAPTURE = (
    '\n[[captures]]\nkind = "mains"\nfile = "captures/a.csv"\nchannels = [\n'
    '  {{ column = {}, quantity = "voltage" }},\n  {{ column = {}, quantity = "current" }},\n]\n'
)


def write_capture(folder, periods=3.0, power=20.0, capacitance=22e-6, resistance=6.0):
    found = rectifier_steady_state(230, 50, power, capacitance, resistance, 0, 0.5, 1.6, 0.1)
    time = np.arange(int(periods * 1000)) * 20e-6
    rows = [time, np.resize(found.source_voltage, time.size), np.resize(found.input_current, time.size)]  # fmt: skip
    (folder / "captures").mkdir(exist_ok=True)
    np.savetxt(folder / "captures" / "a.csv", np.array(rows).T, delimiter=",", fmt="%.7g")


class TestThinDossiers:
    def test_nameplate_only(self, tmp_path):
        (tmp_path / "adapter.toml").write_text(NAMEPLATE)
        found = section.assess(read_dossier(tmp_path))
        assert {finding.word for finding in found.findings} == {"not measured"}
        assert section.readings(found) == []
        for draw in FIGURES.values():
            plt.close(draw(found))

    def test_capture_without_parts(self, tmp_path):
        (tmp_path / "adapter.toml").write_text(NAMEPLATE + CAPTURE.format(2, 3))
        write_capture(tmp_path)
        found = section.assess(read_dossier(tmp_path))
        assert found.points[0].quality.periods == 3
        assert found.predictions == (None,)
        for draw in FIGURES.values():
            plt.close(draw(found))

    def test_parts_with_capture_and_no_instruments(self, tmp_path):
        text = NAMEPLATE + BULK.format("22 uF") + LIMITER + CAPTURE.format(2, 3)
        (tmp_path / "adapter.toml").write_text(text)
        write_capture(tmp_path)
        found = section.assess(read_dossier(tmp_path))
        assert not found.findings.with_word("explained", "unexplained")
        assert len(found.findings.with_word("not judged")) == 6

    def test_capacitor_too_small_for_the_load(self, tmp_path):
        text = NAMEPLATE + BULK.format("1 uF") + LIMITER + CAPTURE.format(2, 3)
        (tmp_path / "adapter.toml").write_text(text)
        write_capture(tmp_path)
        aside = section.assess(read_dossier(tmp_path)).findings.with_word("not measured")
        assert any("no steady state" in finding.sentence for finding in aside)

    @pytest.mark.parametrize(
        ("columns", "periods", "message"),
        [((3, 2), 3.0, "look swapped"), ((2, 3), 0.6, "shorter than one period|whole period")],
    )
    def test_bad_captures_are_set_aside_with_the_reason(
        self, tmp_path, columns, periods, message
    ):  # fmt: skip
        (tmp_path / "adapter.toml").write_text(NAMEPLATE + CAPTURE.format(*columns))
        write_capture(tmp_path, periods)
        aside = section.assess(read_dossier(tmp_path)).findings.with_word("not measured")
        assert any(
            part in finding.sentence for finding in aside for part in message.split("|")
        )  # fmt: skip

    @pytest.mark.parametrize(("power", "kept"), [(110.0, True), (400.0, False)])
    def test_above_the_threshold_the_limits_are_shown(self, tmp_path, power, kept):
        """Absolute limits: what 110 W keep, 400 W with the same pulse do not. Second-hand both."""
        text = NAMEPLATE + CAPTURE.format(2, 3)
        text += '\n[[instruments]]\nname = "probe"\nmeasures = "capture current"\n'
        (tmp_path / "adapter.toml").write_text(text + 'fraction_of_reading = "2 %"\n')
        write_capture(tmp_path, power=power, capacitance=power * 1e-6, resistance=110 / power)
        found = [f for f in section.assess(read_dossier(tmp_path)).findings if f.limit]
        words = {finding.limit.name[-1]: finding.word for finding in found}
        assert words == {"A": "not judged", "D": "not judged"}
        (chance,) = (f.judgement.probability for f in found if f.limit.name.endswith("A"))
        assert (chance > 0.975) if kept else (chance < 0.025)
        assert all("in an edition that one of 2020 replaces" in f.sentence for f in found)


def test_every_figure_of_every_demo(assessed):
    for name in NAMES:
        for draw in FIGURES.values():
            figure = draw(assessed[name])
            assert figure.get_axes()
            plt.close(figure)
