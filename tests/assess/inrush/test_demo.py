"""Tests for the inrush findings: recovery of the demonstration adapters' truth, sparse dossiers."""

import json
from functools import cache
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
import pytest
from places import DEMO
from surge_solver import Case, by_solver

from adapterlab.assess import inrush as section
from adapterlab.assess.inrush.prediction import Contact, surge_prediction, sweep
from adapterlab.assess.model.rectifier import rectifier_of
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.report.value import Value
from adapterlab.dossier import read_dossier
from adapterlab.figures import inrush as pictures

NAMES = ("alder-27", "birch-60", "cedar-65", "dogwood-18")
UNEXPLAINED = {
    "What bulk capacitance does the surge imply?",
    "Do the parts explain how long the surge lasts?",
}


@cache
def assessed(name):
    return section.assess(read_dossier(DEMO / name))


@pytest.fixture(params=NAMES)
def demo(request):
    truth = json.loads((DEMO / "truth" / f"{request.param}.json").read_text(encoding="utf-8"))
    return assessed(request.param), truth


class TestDemo:
    def test_every_capture_is_used(self, demo):
        result, truth = demo
        assert len(result.surges) == len(truth["plug_in"])
        assert not any("set aside" in finding.sentence for finding in result.findings)

    def test_recovers_resistance_capacitance_and_phase(self, demo):
        """Within the 95 % intervals, of cold and warm limiters and contact at any angle."""
        result, truth = demo
        front = truth["front"]
        other = front["other_resistance"] + front["bridge_resistance"] + front["bulk_esr"]
        for surge in result.surges:
            true = truth["plug_in"][Path(surge.file).name]
            for value, expected in (
                (surge.resistance, other + true["limiter_resistance"]),
                (surge.capacitance, front["bulk_capacitance"]),
                (surge.phase, true["phase"]),
            ):
                assert abs(value.value - expected) < 1.96 * value.standard_uncertainty + 0.05 * (
                    value.unit == "°"
                )
                assert value.standard_uncertainty < 0.04 * expected

    def test_recovers_peak_and_i_squared_t(self, demo):
        result, truth = demo
        for surge in result.surges:
            true = truth["plug_in"][Path(surge.file).name]
            for value, name in ((surge.peak, "peak_current"), (surge.i_squared_t, "i_squared_t")):
                assert abs(value.value - true[name]) < 2 * value.standard_uncertainty

    def test_predictions_hold_the_truth(self, demo):
        """The parts' tolerances and the allowances cover what truly happened."""
        result, truth = demo
        for surge in result.surges:
            true = truth["plug_in"][Path(surge.file).name]
            low, high = surge.prediction.figures["peak"].reach
            assert low < true["peak_current"] < high
            if truth["name"] != "dogwood-18":
                low, high = surge.prediction.figures["i_squared_t"].reach
                assert low < true["i_squared_t"] < high

    def test_only_the_wrong_capacitor_is_unexplained(self, demo):
        result, truth = demo
        strange = {finding.question for finding in result.findings.with_word("unexplained")}
        assert strange == (UNEXPLAINED if truth["name"] == "dogwood-18" else set())
        assert len(result.findings.with_word("explained", "unexplained")) == 5 * len(result.surges)

    def test_fuse_and_discharge(self, demo):
        result, truth = demo
        words = {finding.question: finding.word for finding in result.findings}
        expected = {
            "alder-27": ("meets", "no limit applies", "meets"),
            "birch-60": ("meets", "not judged", "meets"),
            "cedar-65": ("meets", "not judged", "meets"),
            "dogwood-18": ("does not apply", "does not apply", None),
        }[truth["name"]]
        questions = (
            "Does the surge wear the fuse?",
            "Does the line capacitor run down when the plug is pulled?",
            "Is the line capacitor harmless two seconds after the plug is pulled?",
        )
        assert tuple(words.get(question) for question in questions) == expected

    def test_figures(self, demo):
        result, _ = demo
        assert len(pictures.FIGURES) <= 7
        for draw in pictures.FIGURES.values():
            figure = draw(result)
            assert len(figure.get_suptitle()) > 20
            plt.close(figure)


class TestWarmLimiter:
    def test_its_temperature_comes_back(self):
        result = assessed("birch-60")
        (warm,) = [surge for surge in result.surges if surge.warm]
        assert result.surges[-1] is warm
        found = warm.limiter_temperature
        assert abs(found.value - 112.0) < 2 * found.standard_uncertainty
        assert found.standard_uncertainty < 15
        assert "6 s" in warm.note
        words = {finding.question: finding.word for finding in result.findings}
        assert words["Does a restart with a warm limiter wear the fuse?"] == "meets"
        assert words["How warm was the limiter?"] == "result"

    def test_without_a_load_sweep_it_may_be_anything_warm(self, tmp_path):
        text = (DEMO / "birch-60" / "adapter.toml").read_text(encoding="utf-8")
        (tmp_path / "adapter.toml").write_text(text.split("[[captures]]")[0], encoding="utf-8")
        spreads = []
        for folder, current in ((DEMO / "birch-60", 0.64), (tmp_path, None)):
            specimen = specimen_of(read_dossier(folder))
            contact = Contact(Value(230.0, 0.0, "V"), 50.0, Value(90.0, 0.0, "°"), 6.0, current)
            in_use = specimen.allowance("thermistor.temperature_in_use")
            found = surge_prediction(rectifier_of(specimen), contact, 0.02, in_use)
            low, high = found.figures["resistance"].interval
            spreads.append(high - low)
        assert spreads[1] > 1.5 * spreads[0]


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
DISC = PARTS.replace('kind = "resistor"', 'kind = "thermistor"').replace("5 %", "20 %")
CAPTURE = """
[[captures]]
kind = "plug-in"
file = "plug.csv"
channels = [{ column = 2, quantity = "current" }]
mains_voltage = "230 V"
mains_frequency = "50 Hz"
"""
BOTH = CAPTURE.replace('"current" }]', '"current" }, { column = 3, quantity = "voltage" }]')
TIME = np.arange(-100, 3900) * 5e-6


def solved(phase=90.0):
    when, flow, _ = by_solver(Case((230, 50, phase), (33e-6, 10.2, 10e-6, 0.6, 1.6, 0.2)))
    return np.interp(TIME - 2e-6, when, flow, left=0)


class TestSparseDossiers:
    def write(self, folder, text, *columns):
        (folder / "adapter.toml").write_text(text, encoding="utf-8")
        if columns:
            table = np.column_stack([TIME, *columns])
            np.savetxt(folder / "plug.csv", table, delimiter=",", fmt="%.7g", header="t,i,v")
        return section.assess(read_dossier(folder))

    def test_nameplate_only(self, tmp_path):
        result = self.write(tmp_path, NAMEPLATE)
        assert {finding.word for finding in result.findings} == {"not measured"}
        assert result.surges == ()
        assert result.prediction is None
        for draw in pictures.FIGURES.values():
            plt.close(draw(result))

    def test_parts_without_a_capture(self, tmp_path):
        result = self.write(tmp_path, NAMEPLATE + PARTS)
        assert result.prediction.figures["limiter_rise"].value.value == 0
        assert result.prediction.figures["capacitance"].value.value == pytest.approx(
            33e-6, rel=1e-3
        )
        assert result.sweep.worst.phase == pytest.approx(90, abs=2)

    def test_a_thermistor_without_thermal_data(self, tmp_path):
        result = self.write(tmp_path, NAMEPLATE + DISC)
        rise = result.prediction.figures["limiter_rise"].value
        assert rise.value > 0.5
        assert rise.standard_uncertainty > 0.2 * rise.value

    def test_capture_without_parts_or_meters(self, tmp_path):
        result = self.write(tmp_path, NAMEPLATE + CAPTURE + "phase = 270.0\n", solved(270))
        (surge,) = result.surges
        assert surge.prediction is None
        assert surge.energy is None
        assert abs(surge.resistance.value - 11) < 0.5
        assert section.readings(result)[1]["the parts predict"] == "–"
        for draw in pictures.FIGURES.values():
            plt.close(draw(result))

    def test_an_angle_that_nobody_noted(self, tmp_path):
        result = self.write(tmp_path, NAMEPLATE + PARTS + CAPTURE, solved(60))
        (surge,) = result.surges
        assert surge.noted_phase is None
        assert abs(surge.phase.value - 60) < 1.0

    def test_an_angle_that_was_missed(self, tmp_path):
        """Noted 90°, in truth 60°: the captured voltage and the shape of the surge tell."""
        volts = np.where(TIME > 2e-6, 325.3 * np.sin(100 * np.pi * TIME + np.pi / 3), 0)
        text = NAMEPLATE + PARTS + BOTH + "phase = 90.0\nphase_uncertainty = 2.0\n"
        result = self.write(tmp_path, text, solved(60), volts)
        assert abs(result.surges[0].phase.value - 60) < 1.0
        words = {finding.question: finding.word for finding in result.findings}
        assert words["Did contact come at the angle asked for?"] == "unexplained"

    @pytest.mark.parametrize(
        ("columns", "reason"),
        [
            ((np.zeros_like(TIME),), "current holds no surge"),
            ((np.minimum(solved(), 15.0),), "must not be clipped"),
            ((np.sin(TIME),), "current holds no surge"),
        ],
    )
    def test_useless_captures_are_named_not_fatal(self, tmp_path, columns, reason):
        result = self.write(tmp_path, NAMEPLATE + PARTS + CAPTURE + "phase = 90.0\n", *columns)
        assert result.surges == ()
        assert any(reason in finding.sentence for finding in result.findings)

    def test_swapped_channels_are_named(self, tmp_path):
        volts = np.where(TIME > 2e-6, 325.3 * np.cos(100 * np.pi * TIME), 0)
        result = self.write(tmp_path, NAMEPLATE + PARTS + BOTH, volts, solved())
        assert result.surges == ()
        assert any("look swapped" in finding.sentence for finding in result.findings)

    def test_without_mains_voltage_it_is_set_aside(self, tmp_path):
        text = NAMEPLATE + CAPTURE.replace('mains_voltage = "230 V"\n', "")
        result = self.write(tmp_path, text, solved())
        assert any("it needs mains_voltage" in f.sentence for f in result.findings)

    def test_an_unknown_rest_is_named(self, tmp_path):
        result = self.write(tmp_path, NAMEPLATE + PARTS + CAPTURE + "phase = 90.0\n", solved())
        notes = " ".join(finding.note for finding in result.findings)
        assert "rest before this plug-in is not noted" in notes

    def test_capacitors_in_series_and_without_a_listed_resistance(self, tmp_path):
        second = PARTS.split("[[parts]]")[2].replace("C1", "C2")
        text = NAMEPLATE + PARTS + "[[parts]]" + second + 'in_series_with = "C1"\n'
        (tmp_path / "adapter.toml").write_text(text, encoding="utf-8")
        specimen = specimen_of(read_dossier(tmp_path))
        contact = Contact(Value(230.0, 0.0, "V"), 50.0, Value(90.0, 0.0, "°"))
        in_use = specimen.allowance("thermistor.temperature_in_use")
        found = surge_prediction(rectifier_of(specimen), contact, 0.02, in_use).figures
        assert found["capacitance"].value.value == pytest.approx(16.5e-6, rel=0.01)
        # 10 ohm; supply, wiring and bridge at their middle; twice 1.1 ohm of the capacitors.
        expected = 10 + 0.5 + 0.1 + 0.085 + 2.2
        assert found["resistance"].value.value == pytest.approx(expected, rel=0.01)

    def test_a_supply_that_was_measured_narrows_the_prediction(self, tmp_path):
        supply = '[supply]\nresistance = "0.45 ohm"\nresistance_uncertainty = "0.02 ohm"\n'
        supply += 'inductance = "6 uH"\n'
        (tmp_path / "adapter.toml").write_text(NAMEPLATE + supply + PARTS, encoding="utf-8")
        rectifier = rectifier_of(specimen_of(read_dossier(tmp_path)))
        assert rectifier.inputs["supply.resistance"].middle == pytest.approx(0.45)
        assert rectifier.inputs["supply.inductance"].middle == pytest.approx(6e-6)
        assert sweep(rectifier, 230.0, 50.0).worst.value > 0

    def test_a_limiter_with_a_rated_energy(self, tmp_path):
        text = NAMEPLATE + DISC.replace('"20 %"', '"20 %"\nrated_energy = "1 J"', 1)
        words = {f.question: f.word for f in self.write(tmp_path, text).findings}
        assert words["Does the limiter stand the surge?"] == "falls short"

    def test_an_offset_is_told(self, tmp_path):
        text = NAMEPLATE + PARTS + CAPTURE + "phase = 90.0\n"
        result = self.write(tmp_path, text, solved() + 2.0)
        assert any("offset of 2 A" in finding.note for finding in result.findings)

    def test_a_fuse_with_a_doubtful_figure(self, tmp_path):
        fuse = '[[parts]]\nreference = "F1"\nkind = "fuse"\nrole = "fuse"\nvalue = "2 A"\n'
        fuse += 'melting_i_squared_t = "1 A2s"\n'
        text = NAMEPLATE + PARTS + fuse + CAPTURE + "phase = 90.0\n"
        result = self.write(tmp_path, text, solved())
        assert any("listed figure is doubtful" in finding.note for finding in result.findings)

    def test_a_varistor(self, tmp_path):
        varistor = """
[[parts]]
reference = "RV1"
kind = "varistor"
role = "surge absorber"
value = "430 V"
tolerance = "10 %"
clamping_voltage = "710 V"
clamping_current = "50 A"
rated_energy = "60 J"
"""
        result = self.write(tmp_path, NAMEPLATE + varistor)
        words = {finding.question: finding.word for finding in result.findings}
        assert words["Does the varistor stand a surge of 1 kV?"] == "meets"
        assert words["What does the varistor do with a surge on the mains?"] == "result"
