"""The parts section on dossiers: blocks, markings, stresses, certainty, and hostile text."""

import shutil

import matplotlib.pyplot as plt
import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import DEMO

from adapterlab.assess import flyback
from adapterlab.assess import parts as section
from adapterlab.dossier import DossierError, read_dossier
from adapterlab.dossier.fields import PartRole
from adapterlab.figures.parts import FIGURES
from adapterlab.published import rows

NAMES = ("alder-27", "birch-60", "cedar-65", "dogwood-18")
PLATE = '[nameplate]\nname = "thing"\nrated_power = "18 W"\n'
HOSTILE = "<script>alert(1)</script>$\\\\frac{"


def dossier_of(folder, text="", plate=""):
    folder.mkdir(exist_ok=True)
    (folder / "adapter.toml").write_text(PLATE + plate + text, encoding="utf-8")
    return read_dossier(folder)


def part(reference='"C1"', kind='"capacitor"', **fields):
    lines = {"reference": reference, "kind": kind} | fields
    return "\n[[parts]]\n" + "\n".join(f"{key} = {value}" for key, value in lines.items()) + "\n"


def only(result, start):
    found = [f for f in result.findings if f.question.startswith(start)]
    assert len(found) == 1, [f.question for f in result.findings]
    return found[0]


def test_every_role_has_its_block_and_its_place():
    roles = [row["role"] for row in rows("parts", "blocks")]
    assert sorted(roles) == sorted(set(PartRole.__args__) - {"other"})
    sides = [row["side"] for row in rows("parts", "blocks")]
    assert sides == sorted(sides, key=("mains", "primary", "barrier", "secondary").index)


def test_blocks_of_the_demo():
    """birch-60 holds every usual block; the bargain was searched in vain for seven of them."""
    states = {
        name: {
            block.role: block.state for block in section.assess(read_dossier(DEMO / name)).blocks
        }
        for name in NAMES
    }
    assert set(states["birch-60"].values()) == {"present"}
    assert [role for role, state in states["dogwood-18"].items() if state == "absent"] == [
        "fuse", "surge absorber", "line capacitor", "line choke", "screen", "port switch",
        "heat spreader",
    ]  # fmt: skip
    assert states["dogwood-18"]["switch"] == "not seen"
    assert states["alder-27"]["surge absorber"] == "absent"
    assert states["cedar-65"]["screen"] == "present"


def test_an_absence_says_what_it_does_not_mean():
    finding = only(section.assess(read_dossier(DEMO / "dogwood-18")), "Is there a varistor")
    assert finding.word == "no limit applies"
    assert "It does not mean" in finding.sentence


def test_listed_and_noted_as_absent_contradict(tmp_path):
    text = '[construction]\nabsent = ["fuse"]\n' + part('"F1"', '"fuse"', role='"fuse"')
    result = section.assess(dossier_of(tmp_path / "d", text))
    assert only(result, "Is there a fuse").word == "unexplained"


@pytest.mark.parametrize("name", NAMES)
def test_demo_markings_agree(name):
    findings = section.assess(read_dossier(DEMO / name)).findings
    words = {
        f.word for f in findings if f.question == "Do the markings agree with the values listed?"
    }
    assert "unexplained" not in words
    assert "explained" in words


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"marked": '"222M"', "value": '"1 nF"'}, "value 2.2 nF on the part, 1 nF listed"),
        ({"marked": '"102M"', "value": '"1 nF"', "tolerance": '"10 %"'}, "tolerance 20 %"),
        (
            {"marked": '"102M Y2"', "value": '"1 nF"', "safety_class": '"Y1"'},
            "class Y2 on the part",
        ),
        (
            {"marked": '"56uF 250V"', "value": '"56 uF"', "rated_voltage": '"400 V"'},
            "voltage 250 V",
        ),
    ],
)
def test_a_marking_that_differs_is_found(tmp_path, fields, said):
    result = section.assess(dossier_of(tmp_path / "d", part(**fields)))
    finding = only(result, "Do the markings")
    assert finding.word == "unexplained"
    assert said in finding.sentence


def test_a_code_that_cannot_be_read_is_said(tmp_path):
    result = section.assess(dossier_of(tmp_path / "d", part(marked='"q?"', value='"1 nF"')))
    finding = only(result, "Do the markings")
    assert finding.word == "no limit applies"
    assert "can't be read as a code of a capacitor" in finding.sentence


def test_a_value_of_no_series_is_remarked_on(tmp_path):
    result = section.assess(dossier_of(tmp_path / "d", part(value='"5 nF"')))
    assert "no preferred series" in only(result, "Are the values").sentence


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"safety_class": '"Y1"'}, "meets"),
        ({"marked": '"102M Y1"'}, "meets"),
        ({"safety_class": '"Y2"'}, "falls short"),
        ({"safety_class": '"X2"'}, "falls short"),
        ({"safety_class": '"Y3"'}, "falls short"),
        ({"identified_by": '"read"'}, "falls short"),
        ({"identified_by": '"inferred"'}, "not measured"),
    ],
)
def test_class_of_a_barrier_capacitor(tmp_path, fields, word):
    """IEC 60384-14 in makers' guides: one Y1, or two Y2 in series, between mains and output."""
    text = part('"CY1"', role='"barrier capacitor"', **fields)
    assert only(section.assess(dossier_of(tmp_path / "d", text)), "Has CY1").word == word


def test_two_y2_in_series_do(tmp_path):
    text = "".join(
        part(
            f'"{own}"', role='"barrier capacitor"', safety_class='"Y2"', in_series_with=f'"{other}"'
        )
        for own, other in (("CY1", "CY2"), ("CY2", "CY1"))
    )
    result = section.assess(dossier_of(tmp_path / "d", text))
    assert {only(result, f"Has {name}").word for name in ("CY1", "CY2")} == {"meets"}


def test_crest_of_the_mains_on_the_bulk_capacitor():
    """264 V is the top of the band for 240 V; its crest is 373 V, by hand."""
    result = section.assess(read_dossier(DEMO / "birch-60"))
    stress = next(s for s in result.stresses if s.reference == "EC1")
    assert_allclose(stress.stress.value, 264 * np.sqrt(2), rtol=1e-9)
    assert only(result, "Do EC1 and EC2 stand").word == "meets"


def test_current_is_moved_to_the_lowest_mains():
    """Constant power: the current read at 115 V, times 115 over 100."""
    dossier = read_dossier(DEMO / "birch-60")
    table = dossier.load_sweep
    row = table.loc[table["mains_current"].idxmax()]
    stress = next(
        s for s in section.assess(dossier).stresses if s.reference == "F1" and s.stress.unit == "A"
    )
    assert_allclose(
        stress.stress.value, row["mains_current"] * row["mains_voltage"] / 100, rtol=1e-12
    )


@pytest.mark.parametrize("name", NAMES)
def test_switch_and_rectifier_agree_with_the_flyback_section(name):
    """The same stress by that section's own draws; here in the middle of them (1 V)."""
    dossier = read_dossier(DEMO / name)
    judged = {
        f.limit.name.removeprefix("the rating of "): f.prediction.value
        for f in flyback.assess(dossier).findings
        if f.limit is not None and f.question.startswith("Does the rating")
    }
    for stress in section.assess(dossier).stresses:
        if stress.elsewhere and stress.reference in judged:
            assert abs(stress.stress.value - judged[stress.reference]) < 1.0


def test_output_capacitors_of_other_ports_do_not_count():
    result = section.assess(read_dossier(DEMO / "birch-60"))
    volts = {
        s.reference: s.stress.value for s in result.stresses if s.what == "voltage of the output"
    }
    assert volts == {"EC3": 21.0, "EC4": 21.0, "EC5": 9.0, "Q5": 21.0}


def test_an_unidentified_part_is_not_judged(tmp_path):
    text = part('"C1"', role='"bulk capacitor"', rated_voltage='"200 V"')
    finding = only(section.assess(dossier_of(tmp_path / "d", text)), "Does C1 stand")
    assert finding.word == "no limit applies"
    read = part('"C1"', role='"bulk capacitor"', rated_voltage='"200 V"', identified_by='"read"')
    finding = only(section.assess(dossier_of(tmp_path / "e", read)), "Does C1 stand")
    assert finding.word == "falls short"


def test_a_reading_without_an_instrument_is_not_judged(tmp_path):
    text = part('"F1"', '"fuse"', role='"fuse"', value='"2 A"', identified_by='"read"')
    folder = tmp_path / "d"
    folder.mkdir()
    (folder / "load_sweep.csv").write_text(
        "point,mains_voltage_v,mains_frequency_hz,mains_current_a,input_power_w,port,mode,"
        "output_voltage_v,output_current_a\n1,230,50,0.2,20,C,5 V,5,3\n",
        encoding="utf-8",
    )
    assert (
        only(section.assess(dossier_of(folder, text)), "Does F1 stand").word == "no limit applies"
    )


@pytest.mark.parametrize("name", NAMES)
def test_every_judgement_has_a_number(name):
    for finding in section.assess(read_dossier(DEMO / name)).findings:
        if finding.word not in ("no limit applies", "not measured"):
            assert finding.reading is not None or finding.prediction is not None


def test_certainty_counts(tmp_path):
    text = (
        part('"A"', identified_by='"read"') + part('"B"', identified_by='"inferred"') + part('"C"')
    )
    sentence = only(section.assess(dossier_of(tmp_path / "d", text)), "How sure").sentence
    assert "Of 3 parts listed, 1 were read" in sentence
    assert "1 not identified: C." in sentence


def test_photographs_come_with_their_captions(tmp_path):
    result = section.assess(read_dossier(DEMO / "birch-60"))
    assert [caption for _, caption in result.photographs] == [
        "the board from above, drawn: mains left, ports right, the bare strip is the barrier"
    ]


def test_pictures_outside_the_dossier_are_left_alone(tmp_path):
    shutil.copy(DEMO / "birch-60" / "photos" / "board.png", tmp_path / "outside.png")
    text = part(photograph='"../outside.png"') + '[[photographs]]\nfile = "missing.png"\n'
    assert section.assess(dossier_of(tmp_path / "d", text)).photographs == ()


def test_hostile_texts_stay_texts(tmp_path):
    """Markup and formulas in names: no crash in pictures, nothing unescaped in tables."""
    name = f'"{HOSTILE}"'
    text = part(name, role='"bulk capacitor"', marked=name, value='"10 uF"', rated_voltage='"400 V"',
                identified_by='"read"', note=name, photograph='"bad.png"')  # fmt: skip
    folder = tmp_path / "d"
    folder.mkdir()
    (folder / "bad.png").write_text("no picture")
    result = section.assess(dossier_of(folder, text))
    assert "<script>" not in result.findings._repr_html_()
    assert "<script>" not in result.table._repr_html_()
    for number, draw in enumerate(FIGURES.values()):
        figure = draw(result)
        figure.savefig(tmp_path / f"{number}.png")
        plt.close(figure)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        (part(safety_class='"Y9"'), "safety_class"),
        (part(role='"flux capacitor"'), "role"),
        (part(value='"1 ohm"'), "value"),
        (part(kind='"teapot"'), "kind"),
        ('[construction]\nabsent = ["teapot"]\n', "absent"),
    ],
)
def test_a_wrong_entry_is_refused_with_its_place(tmp_path, text, match):
    with pytest.raises(DossierError, match=match):
        dossier_of(tmp_path / "d", text)


@pytest.mark.parametrize("name", [*NAMES, None])
def test_pictures_can_be_drawn(tmp_path, name):
    dossier = dossier_of(tmp_path / "d") if name is None else read_dossier(DEMO / name)
    result = section.assess(dossier)
    for draw in FIGURES.values():
        plt.close(draw(result))
    if name is None:
        assert {f.word for f in result.findings} == {"not measured"}
