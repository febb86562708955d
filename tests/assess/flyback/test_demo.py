"""Tests of what the flyback section says of a dossier."""

import json

import matplotlib.pyplot as plt
import numpy as np
import pytest
from places import DEMO

from adapterlab.assess import flyback as section
from adapterlab.dossier import read_dossier
from adapterlab.figures.flyback import FIGURES


@pytest.fixture(scope="module")
def demo():
    """Every demo adapter, assessed once."""
    names = ("birch-60", "alder-27", "cedar-65", "dogwood-18")
    return {name: section.assess(read_dossier(DEMO / name)) for name in names}


@pytest.mark.parametrize("name", ["birch-60", "alder-27"])
def test_demo_bulk_valley_is_recovered(demo, name):
    """The generator's own time-domain rectifier lies within the interval of 95 %."""
    truth = json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))["mains"]
    valleys = [point for point in demo[name].points if point.instant == "valley"]
    for condition in truth.values():
        here = next(p for p in valleys if p.mains_voltage == condition["mains_voltage"])
        source = here.input_voltage.value
        assert abs(source.value - condition["valley"]) < 1.96 * source.standard_uncertainty


@pytest.mark.parametrize("name", ["birch-60", "alder-27", "dogwood-18"])
def test_demo_peak_current_is_recovered(demo, name):
    """At 230 V all are discontinuous, so the true peak follows from energy alone."""
    truth = json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))["converters"]
    result = demo[name]
    for stage in result.stages:
        true = truth[stage.name]
        drawn = (stage.output_voltage + true["rectifier_drop"]) * stage.output_current
        energy = drawn / true["efficiency"] / true["switching_frequency"]
        point = next(p for p in result.points_for(stage) if p.mains_voltage == 230)
        assert point.mode == "discontinuous"
        peak, found = np.sqrt(2 * energy / true["magnetising_inductance"]), point.primary_peak.value
        assert abs(found.value - peak) < 1.96 * found.standard_uncertainty


def test_demo_converter_without_frequency_works_at_the_boundary(demo):
    result = demo["cedar-65"]
    assert {point.mode for point in result.points} == {"boundary"}
    # More input voltage, quicker rise, higher frequency.
    ordered = sorted(result.points, key=lambda point: point.input_voltage.value.value)
    rates = [point.switching_frequency.value.value for point in ordered]
    assert rates == sorted(rates)


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
    assert result.points == ()


def test_without_a_bulk_capacitor_only_the_crest_is_known(tmp_path):
    result = _assessed(tmp_path, STAGE)
    assert {point.instant for point in result.points} == {"crest"}
    assert any("bulk capacitor" in finding.sentence for finding in result.findings)
    assert any("85 to 95 % assumed" in said for said in result.stages[0].assumed)


def test_a_bulk_capacitor_too_small_is_said_not_raised(tmp_path):
    result = _assessed(tmp_path, STAGE + BULK + 'value = "4.7 uF"\n')
    said = [f.sentence for f in result.findings if "must hold the load" in f.sentence]
    assert said
    assert all("valley" in sentence for sentence in said)
    assert not any("array" in sentence for sentence in said)


def _found(result, start):
    return [finding for finding in result.findings if finding.question.startswith(start)]


def test_a_transformer_without_windings_gets_an_allowance(tmp_path):
    """The blank folder's converter has no transformer described."""
    result = _assessed(tmp_path, STAGE + BULK + 'value = "100 uF"\n')
    assert {"transformer copper", "transformer core"} <= set(result.budget.allowed)


@pytest.mark.parametrize(("name", "clamps"), [("birch-60", 1), ("cedar-65", 1)])
def test_demo_clamp_is_what_its_resistor_makes_of_it(demo, name, clamps):
    found = [f for f in _found(demo[name], "How high does the clamp") if f.reading]
    assert [finding.word for finding in found] == ["explained"] * clamps


def test_demo_label_is_served(demo):
    assert len(demo["birch-60"].served) == 3
    assert all(case.possible for case in demo["birch-60"].served)
    first = demo["birch-60"].served[0].power
    assert first.loc["main", "C1"] == pytest.approx(40)


def test_demo_quasi_resonant_valleys(demo):
    found = _found(demo["cedar-65"], "At which load")[0]
    # 310 V crest less 20.05 V times 5; ring of 298 uH and 150 pF.
    assert "223 V" in found.sentence or "224 V" in found.sentence
    assert "1.3 µs" in found.sentence


def test_a_label_that_promises_too_much(tmp_path):
    promise = (
        '[[combinations]]\ntotal_power = "40 W"\noutputs = [\n'
        '{ port = "C", mode = "20 V", current = "1 A" },\n'
        '{ port = "D", mode = "20 V", current = "1 A" },\n]\n'
    )
    second = (
        '[[ports]]\nname = "D"\nmodes = [{ name = "20 V", voltage = "20 V", current = "1 A" }]\n'
    )
    result = _assessed(tmp_path, second + promise + STAGE)
    promised = _found(result, "Can the converters")
    assert [finding.word for finding in promised] == ["unexplained"]
    assert promised[0].reading.value == pytest.approx(40)
    assert promised[0].prediction.value == pytest.approx(20, abs=0.5)
    assert not result.served[0].possible
    assert result.served[0].short == pytest.approx(20, abs=0.5)


def test_a_clamp_below_the_reflected_voltage_is_said_not_raised(tmp_path):
    clamp = 'clamp_voltage = "60 V"\nleakage_inductance = "4 uH"\n'
    result = _assessed(tmp_path, STAGE + clamp + BULK + 'value = "47 uF"\n')
    assert any("clamp voltage must lie above" in f.sentence for f in result.findings)
    assert result.budget is None


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("", id="nameplate only"),
        pytest.param(STAGE, id="no bulk capacitor, no clamp, no sweep"),
        pytest.param(PORT + 'magnetising_inductance = "400 uH"\n' + BULK + 'value = "47 uF"\n',
                     id="at the boundary, drain capacitance not known"),
    ],
)  # fmt: skip
def test_every_picture_can_be_drawn(tmp_path, text):
    result = _assessed(tmp_path, text)
    for name, draw in FIGURES.items():
        figure = draw(result)
        assert figure.get_suptitle(), name
        plt.close(figure)
    for finding in result.findings:
        judged = finding.word not in ("not measured", "result")
        assert not judged or finding.reading is not None or finding.prediction is not None
    named = {finding.figure for finding in result.findings if finding.figure}
    assert named <= set(FIGURES)
