"""Findings: words come from rules, sentences name what was assumed, blanks accuse nobody."""

import numpy as np
import pytest

from adapterlab import judgement as rules
from adapterlab.assess.report import (
    Finding,
    Ledger,
    Limit,
    Prediction,
    Share,
    Value,
    against_limit,
    against_prediction,
    does_not_apply,
    naming,
    no_limit,
    not_measured,
)

REST = {"section": "inrush", "question": "How large?", "function": "inrush.rc_inrush_current"}
WIRING = Share("wiring", "2.2 Ω assumed for the wiring", "assumed", 0.6)
DIODES = Share("diodes", "1.2 to 2 V assumed for the diodes", "assumed", 0.06)
COIL = Share("coil", "5 µH assumed for the coil", "assumed", 0.05)
ROOM = Share("room", "18 to 28 °C assumed for the room", "assumed", 0.05)
SMALL = Share("fuse", "10 mΩ assumed for the fuse", "assumed", 0.049)
MARKED = Share("C1.value", "47 µF of C1 (±20 %)", "marked", 0.3)


def drawn(low, high, corners=None, shares=()):
    """Prediction whose 95 % interval is that of an even spread; 0.975 quantiles stand 2.5 % in."""
    samples = np.linspace(low, high, 4001)
    return Prediction.of(
        samples,
        "A",
        (lambda: np.asarray(corners, dtype=float)) if corners else None,
        lambda: shares,
    )


@pytest.mark.parametrize("word", ["meets", "splendid", None])
def test_no_free_word(word):
    with pytest.raises(TypeError, match="must be made by a rule"):
        Finding(judgement=word, sentence="", **REST)


def test_a_finding_says_what_its_rule_said():
    finding = Finding(judgement=rules.within(0.01), sentence="x", **REST)
    assert (finding.word, finding.probability) == ("unexplained", 0.01)


@pytest.mark.parametrize(
    ("reading", "word", "said"),
    [
        (Value(0.9, 0.01, "A"), "meets", "is (900 ± 20) mA; Rule asks for at most 1 A: meets."),
        (Value(1.01, 0.01, "A"), "too close to call", "too close to call (probability 0.159)."),
        (Value(1.1, 0.01, "A"), "falls short", "asks for at most 1 A: falls short."),
    ],
)
def test_against_a_limit(reading, word, said):
    """The probability 0.159 is the area of the bell curve beyond one standard deviation."""
    finding = against_limit(reading, Limit(1.0, "A", "upper", "Rule", "p. 1"), "Current", **REST)
    assert finding.word == word
    assert finding.sentence.startswith("Current is ")
    assert said in finding.sentence


def test_a_lower_limit_is_a_lower_limit():
    limit = Limit(1.0, "A", "lower", "Rule", "p. 1")
    words = [
        against_limit(Value(value, 0.01, "A"), limit, "Current", **REST).word
        for value in (0.9, 1.1)
    ]
    assert words == ["falls short", "meets"]
    assert str(limit) == "at least 1 A: Rule"


def test_a_limit_from_memory_is_not_judged():
    limit = Limit(1.0, "A", "upper", "Rule", "from memory", "memory")
    finding = against_limit(Value(2.0, 0.1, "A"), limit, "Current", **REST)
    assert finding.word == "not judged"
    assert "memory" in finding.sentence


NO_VERDICT = [
    (Value(0.0999, 0.0, "A"), "the accuracy of the reading is not stated"),
    (Value(9.0, 0.1, "A", accuracy_assumed=True), "no instrument is listed for it"),
]


@pytest.mark.parametrize(("reading", "reason"), NO_VERDICT)
def test_a_reading_of_unknown_accuracy_is_never_judged(reading, reason):
    """Neither for nor against the adapter, however far off."""
    limit = Limit(0.1, "A", "upper", "Rule", "its clause")
    findings = [
        against_limit(reading, limit, "Current", **REST),
        against_prediction(reading, Value(0.1, 0.01, "A"), "Current", "the part", **REST),
        against_prediction(reading, drawn(0.09, 0.11), "Current", "the part", **REST),
    ]
    for finding in findings:
        assert finding.word == "not judged"
        assert f"but {reason}" in finding.sentence
        assert finding.sentence.endswith("so no verdict rests on it.")


def test_a_count_is_exact():
    limit = Limit(3.0, "", "lower", "Rule", "its clause")
    assert against_limit(Value(3.0, 0.0, ""), limit, "Layers", exact=True, **REST).word == "meets"
    judged = against_prediction(
        Value(3.0, 0.0, ""), Value(3.0, 0.1, ""), "Layers", "the list", exact=True, **REST
    )
    assert judged.word == "explained"


def test_the_callers_reason_comes_first():
    finding = against_prediction(
        Value(9.0, 0.1, "A"), drawn(1, 2), "Current", "the part", not_judged="it rained", **REST
    )
    assert finding.word == "not judged"
    assert "but it rained, so" in finding.sentence


PREDICTION = [
    # Draws 90 to 110: 95 % are 90.5 to 109.5. Corners 80 to 100 and 100 to 120: 80.5 to 119.5.
    (Value(100.0, 1.0, "A"), "explained", False),
    (Value(112.0, 1.0, "A"), "explained", True),
    (Value(121.0, 1.0, "A"), "explained", True),
    (Value(122.0, 1.0, "A"), "unexplained", False),
    (Value(79.0, 1.0, "A"), "explained", True),
    (Value(78.0, 1.0, "A"), "unexplained", False),
]


@pytest.mark.parametrize(("reading", "word", "ends"), PREDICTION)
def test_against_draws(reading, word, ends):
    corners = [np.linspace(80, 100, 401), np.linspace(100, 120, 401)]
    finding = against_prediction(reading, drawn(90, 110, corners), "Current", "C1", **REST)
    assert finding.word == word
    assert ("ends of their tolerances" in finding.sentence) == ends
    assert finding.sentence.startswith(f"Current is {reading}; C1 predicts (100 ± 10) A")


def test_against_a_bare_value():
    """1.96 standard uncertainties of 5 either side of 100, and 1.96 of the reading's 1."""
    for value, word in [(111.7, "explained"), (111.8, "unexplained")]:
        finding = against_prediction(
            Value(value, 1.0, "A"), Value(100.0, 5.0, "A"), "Current", "C1", **REST
        )
        assert finding.word == word


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        ((), ""),
        ((MARKED, SMALL), ""),
        ((WIRING,), "with 2.2 Ω assumed for the wiring"),
        (
            (WIRING, MARKED, DIODES),
            "with 2.2 Ω assumed for the wiring and 1.2 to 2 V for the diodes",
        ),
        (
            (WIRING, DIODES, COIL, ROOM),
            "with 2.2 Ω assumed for the wiring, 1.2 to 2 V for the diodes and 5 µH for the coil",
        ),
    ],
)
def test_assumed_inputs_are_named(shares, said):
    assert naming(shares) == (f", {said}" if said else "")
    finding = against_prediction(
        Value(100.0, 1.0, "A"), drawn(90, 110, shares=shares), "Current", "C1", **REST
    )
    assert finding.rests_on == shares
    assert finding.draws is not None
    assert finding.assumed == tuple(share for share in shares if share.origin == "assumed")
    assert f"predicts (100 ± 10) A{', ' if said else ''}{said}: explained." in finding.sentence


@pytest.mark.parametrize(
    ("shares", "mostly"), [((WIRING,), True), ((MARKED, DIODES), False), ((), False)]
)
def test_mostly_assumed(shares, mostly):
    finding = against_prediction(
        Value(200.0, 1.0, "A"), drawn(90, 110, shares=shares), "Current", "C1", **REST
    )
    assert finding.is_mostly_assumed == mostly


def test_a_ratio_lets_what_is_common_cancel():
    """Twice the same draws: the ratio is exactly 2, whatever their spread."""
    one = drawn(90, 110)
    two = Prediction.of(2 * one.samples, "A")
    ratio = two.over(one)
    assert str(ratio) == "2"
    assert ratio.interval == ratio.reach == (2.0, 2.0)
    assert ratio.rest_uncertainty == 0.0
    with pytest.raises(ValueError, match="must have 4001 draws, got 3"):
        two.over(Prediction.of(np.ones(3), "A"))
    with pytest.raises(ValueError, match="draw of zero"):
        two.over(Prediction.of(np.linspace(-1, 1, 4001), "A"))


def test_the_corners_of_a_ratio():
    """Parts of 1 or 2 A over parts of 4 or 5 A: a fifth to a half, whatever pairs with what."""
    one = drawn(1.4, 1.6, [np.full(50, 1.0), np.full(50, 2.0)])
    other = drawn(4.4, 4.6, [np.full(70, 4.0), np.full(70, 5.0)])
    for ratio in (one.over(other), other.over(one)):
        low, high = sorted(1 / end for end in ratio.reach) if ratio.reach[1] > 1 else ratio.reach
        assert (low, high) == pytest.approx((0.2, 0.5))
        assert ratio.value.unit == ""


def test_what_is_left_of_the_variance():
    assert drawn(90, 110, shares=(WIRING, MARKED)).remainder == pytest.approx(0.1)
    assert drawn(90, 110, shares=(WIRING, MARKED, MARKED)).remainder == 0.0
    assert drawn(90, 90).remainder == 0.0


def test_the_spread_of_draws():
    """Of 1, 2, 3, 4, 5: mean 3, and a standard deviation of root 2.5 with n - 1."""
    found = Prediction.of(np.arange(1.0, 6.0), "A", lambda: np.array([[1.0, 3.0], [0.0, 4.0]]))
    assert found.value.value == 3.0
    assert found.value.standard_uncertainty == pytest.approx(2.5**0.5)
    assert found.rest_uncertainty == pytest.approx(8**0.5)
    assert str(found) == str(found.value)


def test_another_adapter_is_asked_for_by_name():
    again = Prediction.of(np.arange(3.0), "A")
    found = Prediction.of(np.arange(3.0), "A", again={"ash-9": again}.__getitem__)
    assert found.of_another("ash-9") is again
    assert again.of_another("ash-9") is again


def test_predictions_are_compared_by_what_they_predict():
    """Two of the same draws are equal, though each has functions of its own."""
    assert drawn(90, 110).value == drawn(90, 110).value
    one, two = drawn(90, 110), drawn(90, 110, shares=(WIRING,))
    assert one == two
    assert one != drawn(90, 111)
    assert "samples" not in repr(one)


def test_units_must_match():
    with pytest.raises(ValueError, match="limit must be in"):
        against_limit(Value(1, 0, "A"), Limit(1, "V", "upper", "n", "s"), "x", **REST)
    with pytest.raises(ValueError, match="prediction must be in"):
        against_prediction(Value(1, 0, "A"), Value(1, 1, "V"), "x", "y", **REST)


def test_origins_are_known():
    with pytest.raises(ValueError, match="origin must be one of noted, marked, measured, assumed"):
        Share("x", "x", "guessed", 0.1)


def test_what_was_not_measured_says_what_is_needed():
    finding = not_measured("inrush", "How large?", "a capture.", "inrush.x")
    assert (finding.word, finding.sentence) == (
        "not measured",
        "How large? Not measured: a capture.",
    )
    assert no_limit("inrush", "q", "It is small.", "f").word == "no limit applies"
    assert does_not_apply("inrush", "q", "It is one.", "f").word == "does not apply"


def test_the_ledger_puts_the_most_telling_first():
    made = [rules.not_measured("x"), rules.result(), rules.not_judged("x"), rules.within(0.9),
            rules.required(True), rules.against_limit(0, 1, upper=0), rules.required(False),
            rules.within(0.0), rules.not_assessed("x")]  # fmt: skip
    ledger = Ledger.of(Finding(judgement=judged, sentence="", **REST) for judged in made)
    assert [finding.judgement for finding in ledger] == made[::-1]


def test_a_bare_value_has_no_draws():
    finding = against_prediction(
        Value(1.0, 0.1, "A"), Value(1.0, 0.1, "A"), "Current", "C1", **REST
    )
    assert finding.draws is None


def test_findings_are_alike_whatever_their_draws():
    """Two runs of one review make equal findings; their draws are no part of what they say."""
    made = [
        against_prediction(Value(100.0, 1.0, "A"), drawn(90, 110), "Current", "C1", **REST)
        for _ in range(2)
    ]
    assert made[0] == made[1]
    assert "draws" not in repr(made[0])


def test_what_a_figure_rests_on_is_said_where_it_was_not_seen():
    limits = [
        Limit(1.0, "A", "upper", "Rule", "p. 1", known, witness=witness)
        for known, witness in (
            ("two", ""), ("second-hand", "a table agrees"), ("second-hand", ""), ("own", "a table"),
        )
    ]  # fmt: skip
    assert [limit.ground for limit in limits] == [
        " (by two reproductions)", " (second-hand, with a second witness)", "", "",
    ]  # fmt: skip


def test_a_constant_has_no_doubt():
    """A constant with the dust of rounding on it is a constant."""
    found = Prediction.of(np.array([2.0, 2.0 * (1 + 1e-15), 2.0]), "A")
    assert str(found) == "2 A"
    assert found.interval == (2.0, 2.0)


def test_ratios_of_ones_are_fine():
    one = Prediction.of(np.ones(5), "A")
    assert str(one.over(one)) == "1"
