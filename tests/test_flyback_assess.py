"""Tests of what the flyback section says of a dossier."""

import json
from pathlib import Path

import numpy as np
import pytest

from adapterlab.assess import flyback as section
from adapterlab.dossier import read_dossier

DEMO = Path(__file__).parent.parent / "data" / "demo"


@pytest.mark.parametrize(
    ("name", "word"), [("birch-60", "meets"), ("alder-27", "meets"), ("dogwood-18", "falls short")]
)
def test_demo_output_rectifier(name, word):
    """dogwood's rectifier is marked 60 V; at 240 V mains and 12 V out it must bear slightly more."""
    result = section.assess(read_dossier(DEMO / name))
    found = [
        f.word for f in result.findings if f.limit is not None and "output rectifier" in f.sentence
    ]
    assert word in found


@pytest.mark.parametrize("name", ["birch-60", "alder-27"])
def test_demo_bulk_valley_is_recovered(name):
    """The generator's own time-domain rectifier lies within the interval of 95 %."""
    truth = json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))["mains"]
    points = section.assess(read_dossier(DEMO / name)).points
    valleys = points[points["instant"] == "valley"]
    for condition in truth.values():
        here = valleys[valleys["mains_voltage"] == condition["mains_voltage"]].iloc[0]
        distance = abs(here["input_voltage"] - condition["valley"])
        assert distance < 1.96 * here["input_voltage_uncertainty"]


@pytest.mark.parametrize("name", ["birch-60", "alder-27", "dogwood-18"])
def test_demo_peak_current_is_recovered(name):
    """At 230 V all are discontinuous, so the true peak follows from energy alone."""
    truth = json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))["converters"]
    result = section.assess(read_dossier(DEMO / name))
    for stage in result.stages:
        true = truth[stage.name]
        drawn = (stage.output_voltage + true["rectifier_drop"]) * stage.output_current
        energy = drawn / true["efficiency"] / true["switching_frequency"]
        points = result.points
        row = points[(points["converter"] == stage.name) & (points["mains_voltage"] == 230)].iloc[0]
        assert row["mode"] == "discontinuous"
        peak = np.sqrt(2 * energy / true["magnetising_inductance"])
        assert abs(row["primary_peak"] - peak) < 1.96 * row["primary_peak_uncertainty"]


def test_demo_converter_without_frequency_works_at_the_boundary():
    result = section.assess(read_dossier(DEMO / "cedar-65"))
    assert set(result.points["mode"]) == {"boundary"}
    # More input voltage, quicker rise, higher frequency.
    ordered = result.points.sort_values("input_voltage")["switching_frequency"]
    assert ordered.is_monotonic_increasing


NAMEPLATE = '[nameplate]\nname = "plain"\nrated_power = "20 W"\n'
PORT = (
    '[[ports]]\nname = "C"\n'
    'modes = [{ name = "20 V", voltage = "20 V", current = "1 A" }]\n'
    '[construction]\ntopology = "flyback"\n[[construction.converters]]\nname = "main"\n'
    'rated_power = "20 W"\nturns_ratio = "5"\n'
)
STAGE = PORT + 'magnetising_inductance = "400 uH"\nswitching_frequency = "80 kHz"\n'
BULK = '[[parts]]\nreference = "C1"\nkind = "capacitor"\nrole = "bulk capacitor"\n'


def _assessed(folder, text):
    (folder / "adapter.toml").write_text(NAMEPLATE + text, encoding="utf-8")
    return section.assess(read_dossier(folder))


@pytest.mark.parametrize(
    ("text", "needed"), [("", "construction.converters"), (PORT, "magnetising_inductance")]
)
def test_what_is_missing_is_named(tmp_path, text, needed):
    result = _assessed(tmp_path, text)
    assert [finding.word for finding in result.findings] == ["not measured"]
    assert needed in result.findings.findings[0].sentence
    assert result.stages == ()
    assert result.points.empty


def test_without_a_bulk_capacitor_only_the_crest_is_known(tmp_path):
    result = _assessed(tmp_path, STAGE)
    assert set(result.points["instant"]) == {"crest"}
    assert any("bulk capacitor" in finding.sentence for finding in result.findings)
    assert "efficiency 85% to 95%" in result.stages[0].assumed


def test_a_bulk_capacitor_too_small_is_said_not_raised(tmp_path):
    result = _assessed(tmp_path, STAGE + BULK + 'value = "4.7 uF"\n')
    said = [f.sentence for f in result.findings if "must hold the load" in f.sentence]
    assert said
    assert all("valley" in sentence for sentence in said)
    assert not any("array" in sentence for sentence in said)
