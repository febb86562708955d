"""The parts section on dossiers: blocks, markings, stresses, certainty, and hostile text."""

import shutil

import matplotlib.pyplot as plt
import pytest
from places import DEMO

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
    """birch-60 holds every usual block; the bargain was searched in vain for eight of them."""
    states = {
        name: {
            block.role: block.state for block in section.assess(read_dossier(DEMO / name)).blocks
        }
        for name in NAMES
    }
    assert set(states["birch-60"].values()) == {"present"}
    assert [role for role, state in states["dogwood-18"].items() if state == "absent"] == [
        "fuse", "surge absorber", "line capacitor", "line choke", "screen", "snubber",
        "port switch", "heat spreader",
    ]  # fmt: skip
    assert states["dogwood-18"]["switch"] == "not seen"
    assert states["alder-27"]["surge absorber"] == "absent"
    assert states["cedar-65"]["screen"] == "present"


def test_an_absence_says_what_it_does_not_mean():
    finding = only(section.assess(read_dossier(DEMO / "dogwood-18")), "Is there a varistor")
    assert finding.word == "result"
    assert "It does not mean" in finding.sentence
    assert finding.reading.value == 0


def test_listed_and_noted_as_absent_contradict(tmp_path):
    text = '[construction]\nabsent = ["fuse"]\n' + part('"F1"', '"fuse"', role='"fuse"')
    result = section.assess(dossier_of(tmp_path / "d", text))
    finding = only(result, "Is there a fuse")
    assert finding.word == "unexplained"
    assert "construction.absent" in finding.sentence
    assert "[[parts]] F1" in finding.sentence


@pytest.mark.parametrize(
    ("role", "question"),
    [
        ("fuse", "Is there a fuse or fusible resistor?"),
        ("line capacitor", "Is there an X capacitor?"),
        ("output rectifier", "Is there an output rectifier?"),
        ("mains connection", "Are there mains pins and their way to the board?"),
    ],
)
def test_questions_have_their_article(tmp_path, role, question):
    text = f'[construction]\nabsent = ["{role}"]\n'
    result = section.assess(dossier_of(tmp_path / "d", text))
    assert question in {finding.question for finding in result.findings}


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
        ({"marked": '"102M 222M"', "value": '"1 nF"'}, "two values on the part, 1 nF and 2.2 nF"),
        ({"marked": '"56uF 105C 47uF"', "value": '"56 uF"'}, "two values on the part"),
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
    assert finding.word == "result"
    assert "its marking can't be read as a code of a capacitor" in finding.sentence


def test_a_value_of_no_series_is_remarked_on(tmp_path):
    result = section.assess(dossier_of(tmp_path / "d", part(value='"5 nF"')))
    assert "no preferred series" in only(result, "Are the values").sentence


def test_a_part_listed_twice_is_said_with_both_places(tmp_path):
    text = part('"CY1"', value='"1 nF"') + part('"R1"', '"resistor"')
    text += part('"CY1"', value='"2.2 nF"', marked='"222M"')
    result = section.assess(dossier_of(tmp_path / "d", text))
    finding = only(result, "Is CY1 listed once")
    assert finding.word == "unexplained"
    assert "the 1. of [[parts]] (capacitor, 1 nF)" in finding.sentence
    assert "the 3. of [[parts]] (capacitor, 2.2 nF, marked '222M')" in finding.sentence
    assert not [f for f in result.findings if f.question.startswith("Is R1 listed")]


@pytest.mark.parametrize("name", NAMES)
def test_every_judgement_has_a_number(name):
    for finding in section.assess(read_dossier(DEMO / name)).findings:
        if finding.word != "not measured":
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
