"""The insulation section on dossiers: distances recovered, words, gaps and bad input."""

import json

import matplotlib.pyplot as plt
import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import DEMO

from adapterlab.assess import insulation as section
from adapterlab.assess import specimen_of
from adapterlab.assess.model.heat import touch_temperature
from adapterlab.dossier import DossierError, read_dossier
from adapterlab.figures.insulation import FIGURES
from adapterlab.insulation import altitude_factor

NAMES = ("alder-27", "birch-60", "cedar-65", "dogwood-18")
PLATE = '[nameplate]\nname = "thing"\nrated_power = "18 W"\n'
TEMPERATURES = "place,temperature_c,ambient_c,case,output_power_w\n"


def dossier_of(folder, text="", plate="", temperatures=""):
    folder.mkdir(exist_ok=True)
    (folder / "adapter.toml").write_text(PLATE + plate + text, encoding="utf-8")
    if temperatures:
        (folder / "temperatures.csv").write_text(TEMPERATURES + temperatures, encoding="utf-8")
    return read_dossier(folder)


def distance(**fields):
    lines = {"place": '"here"', "kind": '"creepage"', "insulation": '"reinforced"'} | fields
    return "\n[[distances]]\n" + "\n".join(f"{key} = {value}" for key, value in lines.items())


def words(result, part):
    return {f.word for f in result.findings if part in f.question}


@pytest.mark.parametrize("name", NAMES)
def test_demo_truth_lies_within_three_uncertainties(name):
    truth = json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))
    dossier = read_dossier(DEMO / name)
    true = [value for value, _ in truth["distances"]]
    for value, gap in zip(true, section.assess(dossier).gaps, strict=False):
        assert abs(gap.reading.value - value) < 3 * gap.reading.standard_uncertainty


def test_demo_story():
    """Only the bargain falls short; its capacitor's legs are too close to call at 4 mm."""
    for name in NAMES[:3]:
        found = section.assess(read_dossier(DEMO / name)).findings
        assert not found.with_word("falls short", "too close to call")
    bargain = section.assess(read_dossier(DEMO / "dogwood-18"))
    assert words(bargain, "under U2") == {"falls short"}
    assert words(bargain, "IEC 60950-1: between the legs of CY1") == {"too close to call"}
    # Two layers are asked for in one reproduction only, so none is judged.
    assert words(bargain, "enough layers") == {"not judged"}


def test_altitude_of_the_nameplate_counts():
    """cedar-65 is rated to 5000 m: 4.0 mm times 1.48, above its creepage row of 5.8 mm."""
    gaps = section.assess(read_dossier(DEMO / "cedar-65")).gaps
    legs = next(gap for gap in gaps if gap.distance.place.startswith("across"))
    older = next(need for need in legs.requirements if need.rule == "iec-60950-1")
    assert_allclose(older.distance, 4e-3 * altitude_factor(5000), rtol=1e-12)
    board = next(gap for gap in gaps if gap.distance.kind == "creepage")
    asked = {need.name: need.distance * 1e3 for need in board.requirements}
    assert_allclose(asked["IEC 62368-1"], 5.8, rtol=1e-12)
    # Table 2J: a peak above 567 V, which the leakage spike makes, adds 0.6 mm to 4.0 mm.
    assert_allclose(asked["IEC 60950-1"], 4.6 * 1.48, rtol=1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_winding_voltage_has_the_order_of_a_printed_report(name):
    """A test-laboratory report lists 281 V rms, and 500 to 530 V peak with the spike."""
    for winding in section.assess(read_dossier(DEMO / name)).windings:
        assert 240 < winding.rms.value < 300
        bounds = (500, 600) if winding.spike else (400, 460)
        assert bounds[0] < winding.peak.value < bounds[1]


def test_clamp_voltage_raises_the_peak(tmp_path):
    text = (
        '[[ports]]\nname = "C"\nmodes = [{ name = "12 V", voltage = "12 V", current = "1.5 A" }]\n'
        '[[construction.converters]]\nname = "main"\nrated_power = "18 W"\nturns_ratio = "7"\n'
        'magnetising_inductance = "800 uH"\nswitching_frequency = "60 kHz"\n'
    )
    plain = section.assess(dossier_of(tmp_path / "a", text)).windings[0]
    clamped = section.assess(
        dossier_of(tmp_path / "b", text + 'clamp_voltage = "150 V"\n')
    ).windings[0]
    assert clamped.spike
    assert not plain.spike
    assert_allclose(clamped.peak.value, np.sqrt(2) * 240 + 150, rtol=1e-6)


def test_uncertainty_is_a_calliper_where_none_is_noted(tmp_path):
    """±0.2 mm taken as rectangular; limits that are noted are taken the same way."""
    text = distance(distance='"6 mm"') + distance(distance='"6 mm"', uncertainty='"0.1 mm"')
    without, noted = section.assess(dossier_of(tmp_path / "d", text)).gaps
    assert_allclose(without.reading.standard_uncertainty, 0.2e-3 / np.sqrt(3), rtol=1e-12)
    assert_allclose(noted.reading.standard_uncertainty, 0.1e-3 / np.sqrt(3), rtol=1e-12)
    assert "±0.2 mm" in " ".join(without.notes)


@pytest.mark.parametrize(
    ("fields", "known"),
    [
        ({"working_voltage": '"250 V"'}, "two"),
        ({"working_voltage": '"281 V"'}, "two"),
        # Between a row of one copy and one of two, the latter counts, as a laboratory takes it.
        ({"working_voltage": '"240 V"'}, "two"),
        ({"working_voltage": '"200 V"'}, "one"),
        ({"working_voltage": '"360 V"'}, "one"),
        ({"working_voltage": '"450 V"'}, "memory"),
        ({"working_voltage": '"250 V"', "material_group": '"I"'}, "one"),
        ({"working_voltage": '"250 V"', "pollution_degree": "3"}, "one"),
        ({"working_voltage": '"250 V"', "pollution_degree": "1"}, "memory"),
    ],
)
def test_figures_of_weak_sources_are_never_judged(tmp_path, fields, known):
    result = section.assess(dossier_of(tmp_path / "d", distance(distance='"9 mm"', **fields)))
    needs = {need.known for need in result.gaps[0].requirements if need.rule == "iec-62368-1"}
    assert needs == {known}
    newer = next(f for f in result.findings if f.limit and f.limit.name == "IEC 62368-1")
    assert (newer.word == "not judged") == (known != "two")


def test_creepage_is_never_asked_below_the_clearance(tmp_path):
    text = distance(distance='"3 mm"', working_voltage='"60 V"', peak_voltage='"90 V"')
    gap = section.assess(dossier_of(tmp_path / "d", text)).gaps[0]
    assert_allclose([need.distance * 1e3 for need in gap.requirements], [3.0, 4.0], rtol=1e-12)


def test_exactly_enough_layers(tmp_path):
    texts = [distance(kind='"thickness"', distance='"0.1 mm"', layers=n) for n in (2, 3)]
    result = section.assess(dossier_of(tmp_path / "d", "".join(texts)))
    assert words(result, "enough layers") == {"not judged"}
    assert [f.probability for f in result.findings if "enough layers" in f.question] == [1.0, 1.0]
    assert not result.gaps


def test_no_figure_says_so(tmp_path):
    """Functional insulation above 420 V peak is in neither table; 62368-1 still has the impulse."""
    text = distance(
        kind='"clearance"', insulation='"functional"', distance='"2 mm"', peak_voltage='"3 kV"'
    )
    result = section.assess(dossier_of(tmp_path / "d", text))
    finding = next(f for f in result.findings if "clearance enough" in f.question)
    assert finding.word == "result"
    assert "IEC 60950-1 has no figure here" in finding.sentence


def test_ambient_of_the_two_standards(tmp_path):
    """60 °C at 24 °C: 61 °C at 25 °C for IEC 62368-1; 76 °C at the rated 40 °C for IEC 60950-1."""
    dossier = dossier_of(
        tmp_path / "d",
        plate='maximum_ambient = "40 C"\n',
        temperatures="case top,60,24,closed,18\n",
    )
    found = section.assess(dossier).findings
    newer = [f for f in found if f.limit and f.limit.name.startswith("IEC 62368-1")]
    older = [f for f in found if f.limit and f.limit.name.startswith("IEC 60950-1")]
    assert {f.reading.value for f in newer} == {61.0}
    assert [f.reading.value for f in older] == [76.0]
    assert all("25 °C and does not shift" in f.note for f in newer)


def test_temperature_without_a_meter_is_not_judged(tmp_path):
    dossier = dossier_of(tmp_path / "d", temperatures="case top,60,24,closed,18\n")
    assert words(section.assess(dossier), "cool enough") == {"not judged"}


def test_open_case_does_not_count(tmp_path):
    dossier = dossier_of(tmp_path / "d", temperatures="case top,60,24,open,18\n")
    assert section.assess(dossier).temperatures.empty


@pytest.mark.parametrize(
    ("fields", "match"),
    [
        ({"distance": '"6 mm"', "insulation": '"double"'}, "insulation"),
        ({"distance": '"-1 mm"'}, "distance"),
        ({"distance": '"6 mm"', "pollution_degree": "4"}, "pollution_degree"),
        ({"distance": '"6 mm"', "material_group": '"V"'}, "material_group"),
        ({"distance": '"6 mm"', "layers": "0"}, "layers"),
    ],
)
def test_a_wrong_entry_is_refused_with_its_place(tmp_path, fields, match):
    with pytest.raises(DossierError, match=match):
        dossier_of(tmp_path / "d", distance(**fields))


@pytest.mark.parametrize("name", [*NAMES, None])
def test_pictures_can_be_drawn(tmp_path, name):
    dossier = dossier_of(tmp_path / "d") if name is None else read_dossier(DEMO / name)
    result = section.assess(dossier)
    for draw in FIGURES.values():
        plt.close(draw(result))
    if name is None:
        assert len(result.findings.with_word("not measured")) == 5


def test_a_case_nobody_measured_gets_a_prediction_but_no_verdict():
    """As warm as the heat model says, which is no reading."""
    dossier = read_dossier(DEMO / "dogwood-18")
    (said,) = [f for f in section.assess(dossier).findings if "case cool enough" in f.question]
    assert said.word == "not measured"
    assert str(touch_temperature(specimen_of(dossier))) in said.sentence
    assert said.limit is None
    for name in ("alder-27", "birch-60", "cedar-65"):
        sentences = [f.sentence for f in section.assess(read_dossier(DEMO / name)).findings]
        assert not any("balance of heat" in sentence for sentence in sentences)
