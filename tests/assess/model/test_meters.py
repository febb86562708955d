"""Readings with the kinds of error their meters may have, every kind worked out by hand.

JCGM 100:2008, 4.3.7: a limit of error a has a standard uncertainty of a over root three; a last
digit d one of d over root twelve. 5.1.2: independent parts add as squares, shared ones as they are.
"""

from math import hypot, sqrt

import numpy as np
import pytest

from adapterlab.assess.model.meters import (
    Apart,
    Measured,
    Reading,
    points_apart,
    reader_of,
    readings,
    spread,
)
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.dossier import read_dossier

PLATE = '[nameplate]\nname = "elm-9"\nrated_power = "9 W"\n'
METER = """
[[instruments]]
name = "bench meter"
measures = "input power"
fraction_of_reading = "0.2 %"
fraction_of_full_scale = "0.1 %"
full_scale = 50.0
resolution = 0.01
"""
ROOT3, ROOT12 = sqrt(3), sqrt(12)


def specimen(tmp_path, text=METER):
    (tmp_path / "adapter.toml").write_text(PLATE + text, encoding="utf-8")
    return specimen_of(read_dossier(tmp_path))


def test_a_reading_is_split_into_its_kinds(tmp_path):
    one, two = readings(specimen(tmp_path), "input power", [10.0, 20.0])
    assert (one.value, two.value) == (10.0, 20.0)
    assert one.gain == pytest.approx(0.002 * 10 / ROOT3)
    assert two.gain == pytest.approx(0.002 * 20 / ROOT3)
    for reading in (one, two):
        assert reading.offset == pytest.approx(0.001 * 50 / ROOT3)
        assert reading.rounding == pytest.approx(0.01 / ROOT12)
        assert reading.transfer is None
        assert reading.assumed == ""


@pytest.mark.parametrize(
    ("stated", "transfer"),
    [
        ('transfer_of_reading = "0.05 %"', 0.0005 * 10),
        ('transfer_of_full_scale = "0.02 %"', 0.0002 * 50),
        (
            'transfer_of_reading = "0.05 %"\ntransfer_of_full_scale = "0.02 %"',
            0.0005 * 10 + 0.0002 * 50,
        ),
    ],
)
def test_a_transfer_accuracy_is_the_part_that_differs_from_reading_to_reading(
    tmp_path, stated, transfer
):
    (reading,) = readings(specimen(tmp_path, METER + stated + "\n"), "input power", [10.0])
    assert reading.transfer == pytest.approx(transfer / ROOT3)
    whole = (0.002 * 10 + 0.001 * 50) / ROOT3
    assert reading.constant.sum() == pytest.approx(whole)
    assert reading.common.sum() == pytest.approx(whole - transfer / ROOT3)
    # Both kinds lose the same share.
    assert reading.common / reading.constant == pytest.approx(
        np.full(2, 1 - transfer / ROOT3 / whole)
    )


def test_a_meter_that_is_not_listed_is_a_usual_one(tmp_path):
    (reading,) = readings(specimen(tmp_path, ""), "input power", [10.0])
    assert reading.assumed != ""
    assert reading.gain + reading.offset > 0
    assert reading.shown("W").accuracy_assumed


def test_common_part_without_and_with_more_transfer_than_there_is():
    assert Reading(1.0, 0.3, 0.1, 0.0).common.tolist() == [0.3, 0.1]
    assert Reading(1.0, 0.3, 0.1, 0.0, transfer=0.1).common == pytest.approx([0.225, 0.075])
    assert Reading(1.0, 0.3, 0.1, 0.0, transfer=0.5).common.tolist() == [0.0, 0.0]
    assert Reading(1.0, 0.0, 0.0, 0.0, transfer=0.0).common.tolist() == [0.0, 0.0]


def test_scatter_widens_the_rounding_alone(tmp_path):
    wide = reader_of(specimen(tmp_path), scatter=3.0)("input power", 10.0)
    plain = reader_of(specimen(tmp_path))("input power", 10.0)
    assert wide.rounding == pytest.approx(3 * plain.rounding)
    assert (wide.gain, wide.offset, wide.value) == (plain.gain, plain.offset, 10.0)
    assert plain.rounding == pytest.approx(0.01 / ROOT12)


def test_gain_and_offset_of_one_meter_count_at_their_worst():
    shown = Reading(10.0, 0.03, 0.01, 0.03).shown("W")
    assert shown.standard_uncertainty == pytest.approx(0.05)
    assert (shown.value, shown.unit, shown.accuracy_assumed) == (10.0, "W", False)


FIRST = Reading(20.0, 0.10, 0.02, 0.05, transfer=0.06)
SECOND = Reading(5.0, 0.04, 0.02, 0.01)
THIRD = Reading(3.0, 0.01, 0.00, 0.02, assumed="1 % for the ammeter")


def test_a_number_from_readings():
    """Two readings of one meter with opposite slopes, one of another meter."""
    number = Measured.of(7.0, [(0, 2.0, FIRST), (0, -1.0, SECOND), (2, 3.0, THIRD)])
    assert number.value == 7.0
    assert number.shared == pytest.approx(
        np.array([[2 * 0.10 - 0.04, 0, 3 * 0.01], [2 * 0.02 - 0.02, 0, 0]])
    )
    # Of FIRST half is transfer.
    assert number.common == pytest.approx(np.array([[0.10 - 0.04, 0, 0.03], [0.02 - 0.02, 0, 0]]))
    assert number.independent == pytest.approx(sqrt((2 * 0.05) ** 2 + 0.01**2 + (3 * 0.02) ** 2))
    assert number.transfer == pytest.approx(2 * 0.06)
    assert number.stated == (False, True, False)
    assert number.assumed == "1 % for the ammeter"
    assert number.standard_uncertainty == pytest.approx(
        sqrt((0.16 + 0.02) ** 2 + 0.03**2 + number.independent**2)
    )
    assert number.directions == pytest.approx([0.18, 0, 0.03, 0.14, 0, 0.03])
    shown = number.shown("W")
    assert (shown.value, shown.accuracy_assumed) == (7.0, True)
    assert shown.standard_uncertainty == pytest.approx(number.standard_uncertainty)


def test_two_assumptions_are_named_once_each():
    other = Reading(3.0, 0.01, 0.0, 0.0, assumed="2 % for the voltmeter")
    number = Measured.of(1.0, [(2, 1.0, THIRD), (1, 1.0, other), (2, 1.0, THIRD)])
    assert number.assumed == "1 % for the ammeter, 2 % for the voltmeter"


def test_setting_a_load_anew_brings_it_back_within_a_twentieth_of_a_per_cent():
    """``allowances.toml``, sweep.repeat: 0.05 % at most (common practice)."""
    for value in (0.9, -0.9):
        number = Measured(value, np.zeros((2, 3)), np.zeros((2, 3)), 0.0)
        assert number.repeat == pytest.approx(0.0005 * 0.9 / ROOT3)


def test_a_mean_keeps_what_is_shared_and_averages_what_is_not():
    one = Measured(1.0, np.full((2, 3), 0.1), np.full((2, 3), 0.06), 0.3, 0.4, (True, False, True))
    two = Measured(3.0, np.full((2, 3), 0.3), np.full((2, 3), 0.02), 0.4, 0.3, (True, True, False))
    mean = Measured.mean(2.0, [one, two])
    assert mean.value == 2.0
    assert mean.shared == pytest.approx(np.full((2, 3), 0.2))
    assert mean.common == pytest.approx(np.full((2, 3), 0.04))
    assert (mean.independent, mean.transfer) == pytest.approx((0.25, 0.25))
    assert mean.stated == (True, False, False)


def pair(stated=(False, False, False), assumed=""):
    """Readings of 10 and 9 with 0.30 and 0.26 shared by gain, 0.05 of rounding each."""
    gain = [np.array([[size, 0, 0], [0, 0, 0]]) for size in (0.30, 0.26)]
    first = Measured(10.0, gain[0], gain[0], 0.05, 0.0, stated, assumed)
    second = Measured(9.0, gain[1], gain[1], 0.05, 0.0, stated)
    return first - second


def test_a_difference_knows_both_extremes():
    """Alike the errors leave their difference, alone they add as squares."""
    apart = pair()
    repeat = 0.0005 / ROOT3
    fresh = sqrt(2 * 0.05**2 + (10 * repeat) ** 2 + (9 * repeat) ** 2)
    assert apart.value == 1.0
    assert apart.fresh == pytest.approx(fresh)
    assert apart.if_alike == pytest.approx(hypot(0.04, fresh))
    assert apart.if_independent == pytest.approx(sqrt(0.30**2 + 0.26**2 + fresh**2))
    assert apart.standard_uncertainty == apart.if_independent
    assert apart.shown("W").standard_uncertainty == apart.if_independent
    # 1 lies 2.5 times the larger of the two from nothing: it may be spoken of either way.
    assert apart.judgement.called


def test_a_difference_is_called_only_if_it_holds_either_way():
    """0.5: twelve of the one, 1.25 of the other uncertainty away from nothing."""
    near = Apart(0.5, np.zeros((2, 3)), np.array([0.4, 0, 0]), 0.04, (False, False, False))
    assert near.if_alike == pytest.approx(0.04)
    assert not near.judgement.called
    # 1.96 times 0.04 and 0.402.
    assert "to ± 78.4 mW if all of it is, to ± 788 mW if none is" in near.doubt("W")


def test_opposite_signs_of_gain_and_offset_do_not_cancel():
    apart = Apart(1.0, np.array([[0.3, 0, 0], [-0.3, 0, 0]]), np.zeros(3), 0.0, (True,) * 3)
    assert apart.if_alike == pytest.approx(0.6)


def test_a_stated_transfer_leaves_one_uncertainty():
    apart = pair((True, True, True))
    assert apart.if_independent == pytest.approx(apart.if_alike)
    assert "cancels in the difference" in apart.doubt("W")
    mixed = pair((True, False, True)).doubt("W")
    assert "Nothing listed says" in mixed


def test_what_was_assumed_is_never_judged():
    apart = pair(assumed="1 % for the wattmeter")
    assert apart.judgement.word == "not judged"
    assert "1 % for the wattmeter" in apart.judgement.reason
    assert apart.doubt("W") == "With 1 % for the wattmeter."
    assert apart.shown("W").accuracy_assumed


def test_a_difference_of_differences():
    zero = np.zeros((2, 3))
    one = Apart(3.0, zero + 0.2, np.full(3, 0.3), 0.3, (True, True, False), "")
    two = Apart(1.0, zero + 0.1, np.full(3, 0.4), 0.4, (True, False, True), "a class")
    both = one - two
    assert both.value == 2.0
    assert both.alike == pytest.approx(zero + 0.1)
    assert both.alone == pytest.approx(np.full(3, 0.5))
    assert both.fresh == pytest.approx(0.5)
    assert both.stated == (True, False, False)
    assert both.assumed == "a class"


def test_words_of_a_spread():
    """1.96 standard uncertainties on either side; efficiencies differ by percentage points."""
    assert spread(0.001, "%") == "0.2 percentage points"
    assert spread(0.1, "W") == "196 mW"
    assert points_apart("3 %") == "3 percentage points"
