"""The insulation section on dossiers: distances recovered, words, gaps and bad input."""

import json

import matplotlib.pyplot as plt
import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import DEMO

from adapterlab.assess import insulation as section
from adapterlab.assess import specimen_of
from adapterlab.assess.insulation.places import before_the_fuse, has_slot, is_joint, live_to_neutral
from adapterlab.assess.insulation.ways import missing_ways
from adapterlab.assess.model.heat import touch_temperature
from adapterlab.dossier import DossierError, read_dossier
from adapterlab.figures.insulation import FIGURES
from adapterlab.insulation import altitude_factor

NAMES = ("alder-27", "birch-60", "cedar-65", "dogwood-18")
PLATE = '[nameplate]\nname = "thing"\nrated_power = "18 W"\n'
TEMPERATURES = "place,temperature_c,ambient_c,case,output_power_w\n"
METER = (
    '[[instruments]]\nname = "thermometer"\nmeasures = "temperature"\n'
    'fraction_of_reading = "0 %"\nfraction_of_full_scale = "0.5 %"\nfull_scale = 200.0\n'
)
CONVERTER = (
    '[[ports]]\nname = "C"\nmodes = [{ name = "12 V", voltage = "12 V", current = "1.5 A" }]\n'
    '[[construction.converters]]\nname = "main"\nrated_power = "18 W"\nturns_ratio = "7"\n'
    'magnetising_inductance = "800 uH"\nswitching_frequency = "60 kHz"\n'
    'rectifier_drop = "0.5 V"\nefficiency = "90 %"\n'
)


def dossier_of(folder, text="", plate="", temperatures=""):
    folder.mkdir(exist_ok=True)
    (folder / "adapter.toml").write_text(PLATE + plate + text, encoding="utf-8")
    if temperatures:
        (folder / "temperatures.csv").write_text(TEMPERATURES + temperatures, encoding="utf-8")
    return read_dossier(folder)


def distance(**fields):
    lines = {"place": '"here"', "kind": '"creepage"', "insulation": '"reinforced"'} | fields
    return "\n[[distances]]\n" + "\n".join(f"{key} = {value}" for key, value in lines.items())


def part(reference, kind, role, **fields):
    lines = {"reference": f'"{reference}"', "kind": f'"{kind}"', "role": f'"{role}"'} | fields
    return "\n[[parts]]\n" + "\n".join(f"{key} = {value}" for key, value in lines.items())


def findings(folder, text="", **rest):
    return section.assess(dossier_of(folder, text, **rest)).findings


def about(found, text):
    return [f for f in found if text in f.question]


def words(result, text):
    return {f.word for f in about(result.findings, text)}


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
    assert words(bargain, "IEC 62368-1: board, under U2") == {"falls short"}
    assert words(bargain, "IEC 62368-1: between the legs of CY1") == {"meets"}
    assert words(bargain, "IEC 60950-1: between the legs of CY1") == {"too close to call"}
    # Two layers are asked for in one reproduction only, so none is judged.
    assert words(bargain, "enough layers") == {"not judged"}


# Hand-worked words. Reinforced insulation at 250 V rms, pollution degree 2, group IIIa asks for
# 5.0 mm of creepage (2.5 mm twice, IEC 62368-1, table 17) and 3.0 mm of clearance (2500 V, table
# 14), the superseded IEC 60950-1 for 4.0 mm of clearance; the reading is good to 0.1/sqrt(3) mm.
WORDS = [
    ("creepage", "5.3 mm", "IEC 62368-1", "meets"),
    ("creepage", "5.0 mm", "IEC 62368-1", "too close to call"),
    ("creepage", "4.7 mm", "IEC 62368-1", "falls short"),
    ("clearance", "3.3 mm", "IEC 62368-1", "meets"),
    ("clearance", "3.05 mm", "IEC 62368-1", "too close to call"),
    ("clearance", "2.7 mm", "IEC 62368-1", "falls short"),
    ("clearance", "4.3 mm", "IEC 60950-1", "meets"),
    ("clearance", "3.3 mm", "IEC 60950-1", "falls short"),
]


@pytest.mark.parametrize(("kind", "length", "rule", "word"), WORDS)
def test_words_against_the_rules(tmp_path, kind, length, rule, word):
    text = distance(kind=f'"{kind}"', distance=f'"{length}"', uncertainty='"0.1 mm"',
                    working_voltage='"250 V"')  # fmt: skip
    (found,) = about(findings(tmp_path / "d", text), f"{kind if kind != 'creepage' else 'creepage distance'} enough for {rule}")  # fmt: skip
    assert found.word == word
    state = "in force" if rule == "IEC 62368-1" else "superseded by IEC 62368-1"
    assert state in found.sentence


def test_a_superseded_rule_is_held_only_where_it_asks_for_more(tmp_path):
    """5.0 mm of creepage by both rules: said once, with a note."""
    text = distance(distance='"6 mm"', uncertainty='"0.1 mm"', working_voltage='"250 V"')
    found = [f for f in findings(tmp_path / "d", text) if f.limit]
    assert [f.limit.name for f in found] == ["IEC 62368-1"]
    assert "IEC 60950-1, superseded, asked for no more" in found[0].note


def test_altitude_of_the_nameplate_counts():
    """cedar-65 is rated to 5000 m: 4.0 mm times 1.48, above its creepage row of 5.8 mm."""
    gaps = section.assess(read_dossier(DEMO / "cedar-65")).gaps
    legs = next(gap for gap in gaps if gap.distance.place.startswith("across"))
    asked = {need.name: need.distance for need in legs.requirements}
    assert_allclose(asked["IEC 62368-1"], 3e-3 * 1.48, rtol=1e-12)
    assert_allclose(asked["IEC 60950-1"], 4e-3 * altitude_factor(5000), rtol=1e-12)
    board = next(gap for gap in gaps if gap.distance.kind == "creepage")
    asked = {need.name: need.distance * 1e3 for need in board.requirements}
    assert_allclose(asked["IEC 62368-1"], 5.8, rtol=1e-12)
    # Table 2L: a peak above 567 V, which the leakage spike makes, adds 0.6 mm to 4.0 mm.
    assert_allclose(asked["IEC 60950-1"], 4.6 * 1.48, rtol=1e-12)


@pytest.mark.parametrize("name", NAMES[:3])
def test_winding_voltage_has_the_order_of_a_printed_report(name):
    """A test-laboratory report lists 281 V rms, and 500 to 530 V peak with the spike."""
    for winding in section.assess(read_dossier(DEMO / name)).windings:
        assert 240 < winding.rms.value.value < 300
        bounds = (500, 600) if winding.spike else (400, 460)
        assert bounds[0] < winding.peak.value.value < bounds[1]


def test_clamp_voltage_raises_the_peak(tmp_path):
    """Crest of 240 V less 1.6 V of bridge (1.2 to 2.0 assumed), clamp 150 V and its diode 0.95."""
    plain = section.assess(dossier_of(tmp_path / "a", CONVERTER)).windings[0]
    text = CONVERTER + 'clamp_voltage = "150 V"\n'
    clamped = section.assess(dossier_of(tmp_path / "b", text)).windings[0]
    assert clamped.spike
    assert not plain.spike
    assert_allclose(clamped.peak.value.value, np.sqrt(2) * 240 - 1.6 + 150 + 0.95, atol=0.3)
    # Without a clamp: reflected voltage 7 * 12.5 V = 87.5 V on the crest.
    assert_allclose(plain.peak.value.value, np.sqrt(2) * 240 - 1.6 + 87.5, atol=0.3)


def test_the_noted_working_voltage_is_set_beside_the_parts():
    """290 V was noted at the pins of T1; the parts make 265 V, 25 V less."""
    found = section.assess(read_dossier(DEMO / "birch-60")).findings
    (said,) = about(found, "noted at the main transformer")
    assert said.word == "not judged"
    assert "290 V at 'pins of T1, switching end to output' (25 V more)" in said.sentence
    assert "250 V at 'board, slot under T1' (15 V less)" in said.sentence
    assert "the larger counts" in said.sentence


def test_uncertainty_is_a_calliper_where_none_is_noted(tmp_path):
    """±0.2 mm taken as rectangular; limits that are noted are taken the same way."""
    text = distance(distance='"6 mm"') + distance(distance='"6 mm"', uncertainty='"0.1 mm"')
    result = section.assess(dossier_of(tmp_path / "d", text))
    without, noted = result.gaps
    assert_allclose(without.reading.standard_uncertainty, 0.2e-3 / np.sqrt(3), rtol=1e-12)
    assert_allclose(noted.reading.standard_uncertainty, 0.1e-3 / np.sqrt(3), rtol=1e-12)
    assert "±0.2 mm is assumed" in " ".join(without.notes)
    judged = [f.word for f in result.findings if f.limit]
    assert sorted(judged) == ["meets", "not judged"]


def test_a_listed_calliper_on_a_board_is_judged(tmp_path):
    """Its own ±0.03 mm and the board's ±0.2 mm in quadrature."""
    meter = (
        '[[instruments]]\nname = "calliper"\nmeasures = "distance"\n'
        'fraction_of_reading = "0 %"\nfraction_of_full_scale = "0.02 %"\nfull_scale = 0.15\n'
    )
    result = section.assess(dossier_of(tmp_path / "d", meter + distance(distance='"6 mm"')))
    spread = np.hypot(0.2e-3, 0.03e-3) / np.sqrt(3)
    assert_allclose(result.gaps[0].reading.standard_uncertainty, spread, rtol=1e-9)
    assert [f.word for f in result.findings if f.limit] == ["meets"]


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
    text = distance(distance='"9 mm"', uncertainty='"0.1 mm"', **fields)
    result = section.assess(dossier_of(tmp_path / "d", text))
    assert result.gaps[0].requirements[0].known == known
    newer = next(f for f in result.findings if f.limit and f.limit.name == "IEC 62368-1")
    assert newer.word == ("meets" if known == "two" else "not judged")


def test_a_laboratory_asks_for_five_millimetres_at_240_volts(tmp_path):
    """Report CQASZ20210400194S, p. 43: reinforced 3.0 and 5.0 mm at a supply of 240 V."""
    texts = [distance(kind=f'"{kind}"', distance='"9 mm"', working_voltage='"240 V"',
                      peak_voltage='"420 V"') for kind in ("clearance", "creepage")]  # fmt: skip
    gaps = section.assess(dossier_of(tmp_path / "d", "".join(texts))).gaps
    asked = [gap.requirements[0].distance * 1e3 for gap in gaps]
    assert_allclose(asked, [3.0, 5.0], rtol=1e-12)


def test_a_mains_of_120_volts_has_its_temporary_overvoltage(tmp_path):
    """2000 V peak asks for 2.54 mm, the impulse of 1500 V for 1.0 mm only (one transcription)."""
    text = distance(kind='"clearance"', distance='"4 mm"', uncertainty='"0.1 mm"')
    result = section.assess(
        dossier_of(tmp_path / "d", text, plate='input_voltage_maximum = "127 V"\n')
    )
    need = result.gaps[0].requirements[0]
    assert_allclose(need.distance, 2.54e-3, rtol=1e-12)
    assert "temporary overvoltage of 2000 V" in need.reason
    assert about(result.findings, "IEC 62368-1")[0].word == "not judged"


def test_functional_insulation_has_no_temporary_overvoltage(tmp_path):
    """Live to neutral on a mains of 120 V: 0.5 mm for the impulse of 1500 V."""
    text = distance(kind='"clearance"', insulation='"functional"', distance='"4 mm"')
    result = section.assess(
        dossier_of(tmp_path / "d", text, plate='input_voltage_maximum = "127 V"\n')
    )
    assert_allclose(result.gaps[0].requirements[0].distance, 0.5e-3, rtol=1e-12)


def test_creepage_is_never_asked_below_the_clearance(tmp_path):
    text = distance(distance='"3 mm"', working_voltage='"60 V"', peak_voltage='"90 V"')
    gap = section.assess(dossier_of(tmp_path / "d", text)).gaps[0]
    assert_allclose([need.distance * 1e3 for need in gap.requirements], [3.0, 4.0], rtol=1e-12)


@pytest.mark.parametrize(
    ("fields", "word", "reason"),
    [
        ({"slot_width": '"1.2 mm"'}, "meets", ""),
        ({"slot_width": '"1 mm"'}, "meets", ""),
        ({"slot_width": '"0.8 mm"'}, "not judged", "straight across"),
        ({"place": '"slot under T1"'}, "not judged", "width of the slot is not noted"),
        ({"place": '"slot under T1"', "slot_width": '"1.5 mm"'}, "meets", ""),
        ({"place": '"slotted"'}, "meets", ""),
    ],
)
def test_a_slot_below_a_millimetre_does_not_lengthen_the_way(tmp_path, fields, word, reason):
    """IEC 60664-1, 6.2: 1 mm at pollution degree 2 (from memory, so that it refuses words only)."""
    text = distance(distance='"6 mm"', uncertainty='"0.1 mm"', working_voltage='"250 V"', **fields)
    found = about(findings(tmp_path / "d", text), "IEC 62368-1")[0]
    assert found.word == word
    assert reason in found.sentence


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"place": '"case wall"'}, "meets"),
        ({"place": '"case wall at the seam"'}, "no limit applies"),
        ({"place": '"parting line of the case"'}, "no limit applies"),
        ({"place": '"case wall"', "joint": '"open"'}, "no limit applies"),
        ({"place": '"seam"', "joint": '"cemented"'}, "not judged"),
    ],
)
def test_a_seam_is_no_wall_in_one_piece(tmp_path, fields, word):
    """0.4 mm is asked of solid insulation (IEC 62368-1, 5.4.4.2); a joint has a way through it."""
    text = distance(kind='"thickness"', distance='"2 mm"', uncertainty='"0.1 mm"', **fields)
    found = about(findings(tmp_path / "d", text), "thickness enough")[0]
    assert found.word == word
    ways = about(findings(tmp_path / "d", text), "ways across")
    asks = any("through the gap of the joint" in f.sentence for f in ways)
    assert asks == (word == "no limit applies")


@pytest.mark.parametrize(
    ("place", "reference"),
    [
        ("live to neutral before F1", "F1"),
        ("live to neutral before R1", "R1"),
        ("before the fuse", "the fuse"),
        ("live to neutral behind F1", ""),
        ("before C1", ""),
    ],
)
def test_before_the_fuse_nothing_may_be_cut_short(tmp_path, place, reference):
    parts = part("F1", "fuse", "fuse") + part("R1", "resistor", "inrush limiter")
    text = parts + distance(place=f'"{place}"', kind='"clearance"', insulation='"functional"',
                            distance='"2 mm"')  # fmt: skip
    dossier = dossier_of(tmp_path / "d", text)
    assert before_the_fuse(specimen_of(dossier), place) == reference
    (gap,) = section.assess(dossier).gaps
    note = " ".join(gap.notes)
    assert ("may not be cut short" in note) == bool(reference)
    assert ("only behind the fuse" in note) != bool(reference)


def test_ways_that_nobody_measured(tmp_path):
    """By hand: what a board with these parts has, less what is noted."""
    parts = (
        part("CY1", "capacitor", "barrier capacitor", in_series_with='"CY2"')
        + part("CY2", "capacitor", "barrier capacitor", in_series_with='"CY1"')
        + part("U2", "optocoupler", "feedback isolator")
        + part("T1", "transformer", "transformer")
    )
    some = (
        distance(place='"across CY1"', kind='"clearance"', distance='"6 mm"')
        + distance(place='"pins of T1"', distance='"6 mm"')
        + distance(place='"live to neutral"', distance='"3 mm"', insulation='"functional"')
    )
    assert missing_ways(specimen_of(dossier_of(tmp_path / "d", parts + some))) == [
        "creepage between the legs of CY1 and CY2",
        "clearance from live to neutral",
        "creepage under U2",
        "clearance at each pair of pins of T1 across the barrier",
        "clearance and creepage past the core of T1",
    ]
    # Nothing noted at all is said kind by kind, not place by place.
    bare = findings(tmp_path / "e", parts)
    assert not about(bare, "Which ways")
    assert len(about(bare, "of the barrier enough")) == 3


@pytest.mark.parametrize(
    ("place", "is_it"),
    [("live to neutral before F1", True), ("line to neutral", True), ("under T1", False),
     ("neutral to earth", False)],
)  # fmt: skip
def test_live_to_neutral(place, is_it):
    assert live_to_neutral(place) is is_it


def test_the_core_is_a_conductor(tmp_path):
    text = distance(place='"pins of T1 to its core"', kind='"clearance"', distance='"4 mm"')
    (gap,) = section.assess(dossier_of(tmp_path / "d", text)).gaps
    assert "core counts as a conductor" in " ".join(gap.notes)


def test_layers_are_counted_but_not_judged(tmp_path):
    texts = [distance(kind='"thickness"', distance='"0.1 mm"', layers=n) for n in (1, 2, 3)]
    result = section.assess(dossier_of(tmp_path / "d", "".join(texts)))
    layers = about(result.findings, "enough layers")
    # Two are asked for, in one reproduction only.
    assert [(f.word, f.reading.value, f.probability) for f in layers] == [
        ("not judged", 2.0, 1.0), ("not judged", 3.0, 1.0)
    ]  # fmt: skip
    assert len(result.gaps) == 1


def test_tape_that_nobody_counted_accuses_nobody(tmp_path):
    windings = (
        '[[transformers]]\n[[transformers.windings]]\nname = "p"\nrole = "primary"\nturns = 40\n'
        '[[transformers.windings]]\nname = "s"\nrole = "secondary"\nturns = 6\n'
    )
    counted = windings.replace("turns = 40\n", "turns = 40\ntape_layers_outside = 0\n")
    blank, none = (
        about(findings(tmp_path / name, text), "enough layers")[0]
        for name, text in (("a", windings), ("b", counted))
    )
    assert blank.word == "not measured"
    assert none.reading.value == 0.0
    assert none.probability == 0.0


def test_no_figure_says_so(tmp_path):
    """3 kV peak is in neither table."""
    text = distance(
        kind='"clearance"', insulation='"functional"', distance='"2 mm"', peak_voltage='"3 kV"'
    )
    (finding,) = about(findings(tmp_path / "d", text), "clearance enough")
    assert finding.word == "no limit applies"
    assert "IEC 60950-1 has no figure here" in finding.sentence
    assert "IEC 62368-1 has no figure here" in finding.sentence


def test_ambient_of_the_two_standards(tmp_path):
    """60 °C at 24 °C: 61 °C at 25 °C for IEC 62368-1; 76 °C at the rated 40 °C for IEC 60950-1."""
    found = findings(
        tmp_path / "d", METER, plate='maximum_ambient = "40 C"\n',
        temperatures="case top,60,24,closed,18\n",
    )  # fmt: skip
    (newer,) = [f for f in found if f.limit]
    assert newer.reading.value == 61.0
    assert newer.word == "meets"
    assert newer.limit.value == 77.0
    (others,) = about(found, "What else is asked")
    assert others.word == "not judged"
    assert "95 °C at the maximum ambient of 40 °C, where it would be (76" in others.sentence
    assert "60 °C held for 10 s to 1 min" in others.sentence
    assert "superseded" in others.sentence


@pytest.mark.parametrize(
    ("celsius", "word"),
    [(70, "meets"), (77, "too close to call"), (84, "falls short")],
)
def test_words_of_the_touch_temperature(tmp_path, celsius, word):
    """TS1 on plastic, 1 s to 10 s: 77 °C, two reproductions; read at 25 °C to 0.8 °C."""
    rows = f"case top,{celsius},25,closed,18\n"
    (found,) = [f for f in findings(tmp_path / "d", METER, temperatures=rows) if f.limit]
    assert found.word == word
    assert "plastic assumed" in found.sentence


def test_metal_has_no_figure_that_may_judge(tmp_path):
    found = findings(tmp_path / "d", METER, temperatures="USB shell,55,25,closed,18\n")
    assert not [f for f in found if f.limit]
    (burns,) = about(found, "burn a hand")
    # SanPiN 2.2.2.1327-03, table 1: uncoated metal 51 °C in a minute, 48 °C in ten.
    assert "from 51 °C on, held for ten from 48 °C on" in burns.sentence
    assert burns.word == "result"


def test_which_temperature_is_spoken_of(tmp_path):
    """By hand: the highest output power; of equals the warmest at 25 °C; case closed."""
    rows = (
        "case top,70,24,open,18\ncase top,58,30,closed,18\ncase top,57,24,closed,18\n"
        "case top,65,24,closed,9\ncase side,44,24,closed,\ntransformer,90,24,closed,18\n"
    )
    found = section.assess(dossier_of(tmp_path / "d", METER, temperatures=rows)).touched
    assert [(t.place, t.temperature, t.line) for t in found] == [
        ("case top", 57.0, 4),
        ("case side", 44.0, 6),
    ]


def test_temperature_without_a_meter_is_not_judged(tmp_path):
    found = findings(tmp_path / "d", temperatures="case top,60,24,closed,18\n")
    assert {f.word for f in about(found, "cool enough")} == {"not judged"}


@pytest.mark.parametrize(
    ("fields", "match"),
    [
        ({"distance": '"6 mm"', "insulation": '"double"'}, "insulation"),
        ({"distance": '"-1 mm"'}, "distance"),
        ({"distance": '"0 mm"'}, "distance"),
        ({"distance": '"6 mm"', "working_voltage": '"0 V"'}, "working_voltage"),
        ({"distance": '"6 mm"', "uncertainty": '"0 mm"'}, "uncertainty"),
        ({"distance": '"6 mm"', "pollution_degree": "4"}, "pollution_degree"),
        ({"distance": '"6 mm"', "material_group": '"V"'}, "material_group"),
        ({"distance": '"6 mm"', "layers": "0"}, "layers"),
        ({"distance": '"6 mm"', "layers": "2"}, "layers belongs to a thickness"),
        (
            {"distance": '"6 mm"', "working_voltage": '"250 V"', "peak_voltage": '"240 V"'},
            "peak_voltage must be at least working_voltage",
        ),
        ({"kind": '"clearance"', "distance": '"6 mm"', "slot_width": '"1 mm"'}, "slot_width"),
        ({"distance": '"6 mm"', "joint": '"open"'}, "joint belongs to a thickness"),
    ],
)
def test_a_wrong_entry_is_refused_with_its_place(tmp_path, fields, match):
    with pytest.raises(DossierError, match=match):
        dossier_of(tmp_path / "d", distance(**fields))


def test_joints_and_slots_by_their_names():
    adapter = read_dossier(DEMO / "birch-60").adapter
    joints = [d.place for d in adapter.distances if is_joint(d)]
    assert joints == ["case wall at the seam"]
    assert [d.place for d in adapter.distances if has_slot(d)] == ["board, slot under T1"]


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
