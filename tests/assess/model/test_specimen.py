"""The adapter as all sections see it: readings with their doubt, parts by name, reels, memory."""

import json

import numpy as np
import pytest
from numpy.testing import assert_allclose

from adapterlab.assess.model.inputs import drawn, predict
from adapterlab.assess.model.specimen import once, specimen_of
from adapterlab.dossier import read_dossier

PLATE = '[nameplate]\nname = "elm-9"\nrated_power = "9 W"\n'
METERS = """
[[instruments]]
name = "small range"
measures = "input power"
fraction_of_reading = "1 %"
fraction_of_full_scale = "0 %"
full_scale = 10.0

[[instruments]]
name = "large range"
measures = "input power"
fraction_of_reading = "0.1 %"
fraction_of_full_scale = "0.1 %"
full_scale = 100.0
resolution = 0.01

[[instruments]]
name = "display only"
measures = "touch current"
resolution = 1e-6
"""


def specimen(tmp_path, *texts, name="elm-9"):
    folder = tmp_path / name
    folder.mkdir()
    text = (PLATE + "".join(texts)).replace("elm-9", name)
    (folder / "adapter.toml").write_text(text, encoding="utf-8")
    return specimen_of(read_dossier(folder))


def part(reference, value="47 uF", **rest):
    rest = {"kind": "capacitor", "role": "bulk capacitor"} | rest
    lines = [f"{key} = {json.dumps(text)}" for key, text in rest.items()]
    return f'\n[[parts]]\nreference = "{reference}"\nvalue = "{value}"\n' + "\n".join(lines) + "\n"


def inputs(made, tolerance=""):
    return [made.part_value(item, "F", tolerance) for item in made.adapter.parts]


# ---- readings


def test_a_reading_takes_the_smallest_range_that_holds_it(tmp_path):
    """JCGM 100:2008, 4.3.7: a limit of error a has a standard uncertainty of a over root three.

    By hand: 1 % of 5 W is 50 mW; 0.1 % of 50 W and of 100 W are 150 mW, and a step of 10 mW
    brings 10/root(12) mW.
    """
    made = specimen(tmp_path, METERS)
    small, large = (made.reading("input power", value, "W") for value in (5.0, 50.0))
    assert small.standard_uncertainty == pytest.approx(0.05 / np.sqrt(3))
    assert large.standard_uncertainty == pytest.approx(np.hypot(0.15 / 3**0.5, 0.01 / 12**0.5))
    assert not small.accuracy_assumed
    assert made.is_metered("input power")


@pytest.mark.parametrize(
    ("measures", "value", "unit", "limit"),
    [
        ("output voltage", 5.0, "V", 0.05),  # 1 % of the reading
        ("no-load power", 0.05, "W", 0.1),  # one digit, whatever the reading
        ("temperature", 60.0, "°C", 2.5),  # IEC 60584-1, class 2, from memory
    ],
)
def test_where_no_instrument_is_listed_a_usual_one_is_assumed(
    tmp_path, measures, value, unit, limit
):
    made = specimen(tmp_path)
    read = made.reading(measures, value, unit)
    assert read.accuracy_assumed
    assert read.standard_uncertainty == pytest.approx(limit / np.sqrt(3))
    assert not made.is_metered(measures)


def test_a_last_digit_is_no_accuracy(tmp_path):
    made = specimen(tmp_path, METERS)
    assert made.reading("touch current", 50e-6, "A").accuracy_assumed
    assert not made.is_metered("input power", "touch current")
    assert made.is_metered("input power")


@pytest.mark.parametrize(
    ("accuracy", "stated"),
    [
        ('fraction_of_reading = "1 %"', True),
        ('fraction_of_reading = "1 %"\nfraction_of_full_scale = "0 %"\nfull_scale = 9.0', True),
        ('fraction_of_reading = "0 %"\nfraction_of_full_scale = "1 %"\nfull_scale = 9.0', True),
        ('fraction_of_reading = "1 %"\nfull_scale = 9.0', False),
        ('fraction_of_full_scale = "1 %"\nfull_scale = 9.0', False),
        ('fraction_of_reading = "0 %"\nresolution = 0.1', False),
        ("resolution = 0.1", False),
    ],
)
def test_half_an_accuracy_is_none(tmp_path, accuracy, stated):
    """A blank share is no share of zero: without it a reading would look better than it is."""
    made = specimen(tmp_path, f'[[instruments]]\nname = "m"\nmeasures = "ripple"\n{accuracy}\n')
    assert made.is_metered("ripple") == stated
    gaps = [str(item) for item in made.problems if "does not state its accuracy" in str(item)]
    assert (gaps == []) == stated


def test_every_quantity_has_a_usual_instrument(tmp_path):
    """Whatever a dossier may list has a row of the table to stand in for it."""
    from typing import get_args

    from adapterlab.dossier.fields import Quantity

    made = specimen(tmp_path)
    for measures in get_args(Quantity):
        assert made.reading(measures, 1.0, "").standard_uncertainty > 0


# ---- parts


def test_a_marked_part_lies_within_its_tolerance(tmp_path):
    made = specimen(tmp_path, part("C1", tolerance="20 %"))
    (bulk,) = inputs(made)
    assert (bulk.name, bulk.origin) == ("C1.value", "marked")
    assert_allclose(bulk.ends, (37.6e-6, 56.4e-6))
    assert bulk.said == "47 µF of C1 (±20 %)"
    assert "C1" in bulk.source


def test_a_tolerance_that_is_not_marked_is_assumed_and_said(tmp_path):
    """IEC 60062:2016, code M: ±20 %."""
    made = specimen(tmp_path, part("C1"))
    (bulk,) = inputs(made, "bulk.tolerance")
    assert bulk.origin == "assumed"
    assert_allclose(bulk.ends, (37.6e-6, 56.4e-6))
    assert bulk.said == "±20 % assumed for the 47 µF of C1"


@pytest.mark.parametrize(
    ("rest", "match"),
    [({"value": None}, "must have a value"), ({}, "must have a tolerance")],
)
def test_a_part_needs_value_and_tolerance(tmp_path, rest, match):
    made = specimen(tmp_path, part("C1"))
    item = made.adapter.parts[0].model_copy(update=rest)
    with pytest.raises(ValueError, match=match):
        made.part_value(item, "F")


REELS = [
    # second part beside one marked "47 uF 400 V", ±20 %: whether they share a draw
    ({"marked": "47 uF 400 V", "tolerance": "20 %"}, True),
    ({"marked": "47 uF 400 V", "tolerance": "10 %"}, False),
    ({"marked": "47u 400V", "tolerance": "20 %"}, False),
    ({"tolerance": "20 %"}, False),
    ({"marked": "47 uF 400 V", "tolerance": "20 %", "reel": "second delivery"}, False),
    ({"marked": "47 uF 400 V", "tolerance": "20 %", "value": "48 uF"}, False),
]


@pytest.mark.parametrize(("rest", "alike"), REELS)
def test_parts_of_one_marking_share_their_draw(tmp_path, rest, alike):
    made = specimen(
        tmp_path, part("C1", marked="47 uF 400 V", tolerance="20 %"), part("C2", **rest)
    )
    one, two = drawn(dict(zip("ab", inputs(made), strict=True))).values()
    assert (np.corrcoef(one, two)[0, 1] > 0.99) == alike
    # Two independent parts of ±20 % average out by root two; two of one reel do not.
    (total,) = predict(lambda a, b: a + b, dict(zip("ab", inputs(made), strict=True)), "F")
    own = float(np.hypot(one.std(), two.std()))
    expected = one.std() + two.std() if alike else own
    assert total.value.standard_uncertainty == pytest.approx(expected, rel=0.03)


def test_parts_without_a_marking_are_strangers(tmp_path):
    made = specimen(tmp_path, part("C1", tolerance="20 %"), part("C2", tolerance="20 %"))
    one, two = drawn(dict(zip("ab", inputs(made), strict=True))).values()
    assert abs(np.corrcoef(one, two)[0, 1]) < 0.1


# ---- memory


def test_a_specimen_of_a_specimen_is_itself(tmp_path):
    made = specimen(tmp_path)
    assert specimen_of(made) is made
    assert (made.name, made.adapter.nameplate.rated_power) == ("elm-9", 9.0)
    assert made.records_of("plug-in") == []


def test_once_for_each_set_of_arguments(tmp_path):
    calls = []

    @once
    def doubled(specimen, number, *, plus=0):
        calls.append((specimen.name, number, plus))
        return 2 * number + plus

    made, other = specimen(tmp_path), specimen(tmp_path, name="ash-9")
    assert [doubled(made, 2), doubled(made, 2), doubled(made, 3), doubled(made, 2, plus=1)] == [
        4, 4, 6, 5,
    ]  # fmt: skip
    assert doubled(other, 2) == 4
    assert calls == [("elm-9", 2, 0), ("elm-9", 3, 0), ("elm-9", 2, 1), ("ash-9", 2, 0)]


def test_an_error_is_not_remembered(tmp_path):
    calls = []

    @once
    def failing(specimen):
        calls.append(1)
        raise ValueError("turns must be > 0, got 0")

    made = specimen(tmp_path)
    for _ in range(2):
        with pytest.raises(ValueError, match="turns must be"):
            failing(made)
    assert len(calls) == 2
