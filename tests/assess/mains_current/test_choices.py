"""Hand-worked tables: which row, which capture, which harmonic, and which word."""

import dataclasses
import json
import shutil

import numpy as np
import pytest
from places import DEMO

from adapterlab.assess import mains_current as section
from adapterlab.assess.mains_current import limits
from adapterlab.assess.mains_current.points import SweepRow, matching, points_of, sentence_of
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.report.value import Value
from adapterlab.dossier import read_dossier
from adapterlab.dossier.schema import Capture
from adapterlab.mains_current import power_quality
from adapterlab.published import rows


def row(volts=230.0, load=2.0, port="C", mode="12 V", alone=True, origin=""):
    return SweepRow(
        Value(volts, 0.1, "V"), Value(27.0, 0.1, "W"), 50.0, None, None, origin, port, mode, load,
        alone,
    )  # fmt: skip


def capture(**more):
    known = {"port": "C", "mode": "12 V", "load_current": 2.0, "mains_voltage": 230.0}
    channels = [{"column": 2, "quantity": "voltage"}, {"column": 3, "quantity": "current"}]
    whole = {"kind": "mains", "file": "a.csv", "channels": channels} | known | more
    return Capture.model_construct(**whole)


class TestWhichRow:
    """The row of the sweep that belongs to a capture: same port, mode, load and mains within 2 %."""

    @pytest.mark.parametrize(
        ("rows_", "chosen"),
        [
            ([row(load=1.0), row(load=2.0)], 1),
            ([row(load=2.039), row(load=2.0)], 0),
            ([row(load=2.041), row(load=2.0)], 1),
            ([row(volts=115.0), row(volts=230.0)], 1),
            ([row(volts=234.5), row(volts=225.5)], 0),
            ([row(volts=234.7), row(volts=225.3)], None),
            ([row(port="A"), row(mode="5 V"), row(alone=False)], None),
            ([], None),
        ],
    )
    def test_by_hand(self, rows_, chosen):
        found = matching(capture(), rows_)
        assert found is (None if chosen is None else rows_[chosen])

    @pytest.mark.parametrize("missing", ["load_current", "mains_voltage"])
    def test_a_capture_that_does_not_tell_has_none(self, missing):
        assert matching(capture(**{missing: None}), [row()]) is None


def test_which_points_of_the_sweep_stand_for_a_mains_without_a_capture():
    """cedar-65 has no capture: the largest power of each mains, read off its table."""
    specimen = specimen_of(read_dossier(DEMO / "cedar-65"))
    points, _, aside = points_of(specimen)
    table = specimen.load_sweep
    expected = [
        table[(table["mains_voltage"] / volts - 1).abs() < 0.02]["input_power"].max()
        for volts in (230.0, 115.0)
    ]
    assert [point.input_power.value for point in points] == expected
    assert aside == []


def test_what_a_capture_and_the_analyser_each_say_is_told():
    """The capture of birch-60 reads less than the analyser: both stand in the note."""
    points, _, _ = points_of(specimen_of(read_dossier(DEMO / "birch-60")))
    note = points[0].note
    assert note.startswith("Power and voltage are those of load_sweep.csv, point ")
    assert "the capture has (64 ± 6) W" in note
    assert abs(points[0].quality.input_power - points[0].input_power.value) > 1.0


@pytest.mark.parametrize(
    ("notes", "said"),
    [
        ([], ""),
        (["an offset of 5 A was taken off"], "An offset of 5 A was taken off."),
        (["a mean of 2 V", "a current of 3 A"], "A mean of 2 V; a current of 3 A."),
    ],
)
def test_a_note_keeps_the_capitals_of_its_units(notes, said):
    assert sentence_of(notes) == said


def quality(lines, volts=((1, 325.0),)):
    """A capture of sines: (order, amplitude) of the current and of the voltage."""
    angle = 2 * np.pi * np.arange(4000) / 1000
    waves = [sum(size * np.sin(order * angle) for order, size in each) for each in (volts, lines)]
    return power_quality(np.arange(4000) * 20e-6, *waves)


class TestWhichHarmonic:
    """Nearest to its limit, not the largest. Class A: 2.30 A, 1.14 A, 0.77 A, 0.40 A rms."""

    @pytest.mark.parametrize(
        ("rms", "order"),
        [
            ({3: 2.0, 5: 0.5, 7: 0.3}, 3),  # 0.87, 0.44, 0.39 of the limits
            ({3: 1.0, 5: 0.9, 7: 0.3}, 5),  # 0.43, 0.79, 0.39
            ({3: 1.0, 5: 0.5, 9: 0.39}, 9),  # 0.43, 0.44, 0.98
            ({2: 1.0, 3: 1.0}, 2),  # 0.93 of 1.08 A, 0.43
        ],
    )
    def test_by_hand(self, rms, order):
        lines = [(1, 5.0), *((number, size * np.sqrt(2)) for number, size in rms.items())]
        found = limits.nearest_order(quality(lines), 500.0, "A")
        assert found.order == order
        assert found.current == pytest.approx(rms[order], rel=1e-3)

    @pytest.mark.parametrize(
        ("equipment_class", "order", "first"),
        [("A", 3, 3), ("A", 5, 5), ("A", 13, 13), ("A", 15, 15), ("A", 39, 15), ("A", 2, 2),
         ("A", 8, 8), ("A", 40, 8), ("D", 3, 3), ("D", 11, 11), ("D", 39, 11)],
    )  # fmt: skip
    def test_the_row_that_a_limit_is_from(self, equipment_class, order, first):
        assert limits.limit_row(equipment_class, order)["first"] == first


class TestTheSupplyOfTheRule:
    """Annex A.2 by a test system's manual, p. 30: 0.9 % of order 3, 0.4 % of 5, 0.3 % of 7."""

    @pytest.mark.parametrize(
        ("shares", "orders"),
        [
            ({}, ()),
            ({3: 0.0089, 5: 0.0039}, ()),
            ({3: 0.0092}, (3,)),
            ({5: 0.02, 7: 0.005}, (5, 7)),
            ({11: 0.01}, ()),
        ],
    )
    def test_by_hand(self, shares, orders):
        volts = [(1, 325.0), *((order, 325.0 * share) for order, share in shares.items())]
        said = limits.supply_trouble(quality([(1, 1.0), (3, 0.5)], volts))
        assert bool(said) == bool(orders)
        for order in orders:
            assert f"of order {order} " in said


class TestDoesALimitApply:
    """IEC 61000-3-2: none up to 75 W, on a mains of 220 V and more."""

    def points(self, *pairs):
        points, _, _ = points_of(specimen_of(read_dossier(DEMO / "birch-60")))
        return [
            dataclasses.replace(
                points[0], mains_voltage=Value(volts, 0.1, "V"), input_power=Value(watts, 0.1, "W")
            )
            for volts, watts in pairs
        ]

    @pytest.mark.parametrize(
        ("rated", "pairs", "highest"),
        [
            (60.0, ((230.0, 66.0), (115.0, 67.0)), 66.0),
            (60.0, ((230.0, 30.0), (230.0, 66.0)), 66.0),
            (60.0, ((230.0, 30.0),), 30.0),  # at most 75 W even at 80 %
            (70.0, ((230.0, 30.0),), None),  # 70 W out may be more than 75 W in
            (70.0, ((230.0, 78.0),), 78.0),
            (20.0, ((115.0, 23.0),), None),  # nothing read where the rule holds
        ],
    )
    def test_which_power_counts(self, rated, pairs, highest):
        specimen = specimen_of(read_dossier(DEMO / "birch-60"))
        plate = specimen.adapter.nameplate.model_copy(update={"rated_power": rated})
        specimen.adapter = specimen.adapter.model_copy(update={"nameplate": plate})
        assert limits.draws_at_most(specimen, self.points(*pairs)) == highest

    def test_the_word_and_why(self):
        (finding,) = (
            f
            for f in section.assess(read_dossier(DEMO / "birch-60")).findings
            if "allowed" in f.question
        )
        assert finding.word == "no limit applies"
        assert f"up to {rows('mains_current', 'threshold')[0]['power']:.0f} W" in finding.sentence
        assert "For scale" in finding.sentence


def test_distortion_is_not_known_by_its_scatter_alone():
    """0.5 % of flatness, every value equally likely: 0.29 % of the distortion at the least."""
    points, _, _ = points_of(specimen_of(read_dossier(DEMO / "birch-60")))
    for point in points:
        read = point.readings["total_harmonic_distortion"]
        assert read.standard_uncertainty >= 0.005 / np.sqrt(3) * read.value


def test_both_bulk_capacitors_at_the_end_of_their_tolerance_are_explained(tmp_path):
    """Twice 70 uF marked where the truth is 107 uF: 24 % less, just beyond what 20 % allow.

    At 66 uF it is 19 % less: inside. The second reel adds nothing, for one reel has one draw.
    """
    truth = json.loads((DEMO / "truth" / "birch-60.json").read_text(encoding="utf-8"))
    for marked, word in ((66.0, "explained"), (76.0, "unexplained")):
        folder = shutil.copytree(DEMO / "birch-60", tmp_path / f"{marked:.0f}")
        text = (folder / "adapter.toml").read_text(encoding="utf-8")
        text = text.replace('value = "56 uF"', f'value = "{marked} uF"')
        (folder / "adapter.toml").write_text(text, encoding="utf-8")
        share = truth["front"]["bulk_capacitance"] / (2 * marked * 1e-6)
        assert (share > 0.8) == (word == "explained")
        found = section.assess(read_dossier(folder)).findings
        words = {
            f.word
            for f in found
            if f.question == "What bulk capacitance does the mains current imply?"
        }
        assert words == {word}
