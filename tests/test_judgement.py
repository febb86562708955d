"""Every rule that chooses a word, held against tables worked out by hand.

The bell curve: 1.9600 standard deviations leave 2.5 % on one side, 2.5758 leave 0.5 %, 3 leave
0.135 % (any table of the normal distribution, such as NIST/SEMATECH e-Handbook 1.3.6.7.1). A count
beside a rule says how far from the edge it stands, in those standard deviations.
"""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from adapterlab import judgement as rules
from adapterlab.judgement import Judgement

LIMITS = [
    # reading, u, lower, upper, word
    (9.804, 0.1, None, 10.0, "meets"),  # 1.960 below
    (9.8041, 0.1, None, 10.0, "too close to call"),  # 1.959 below
    (10.0, 0.1, None, 10.0, "too close to call"),
    (10.1959, 0.1, None, 10.0, "too close to call"),  # 1.959 above
    (10.196, 0.1, None, 10.0, "falls short"),  # 1.960 above
    (50.0, 0.1, None, 10.0, "falls short"),
    (10.196, 0.1, 10.0, None, "meets"),
    (10.1959, 0.1, 10.0, None, "too close to call"),
    (9.8041, 0.1, 10.0, None, "too close to call"),
    (9.804, 0.1, 10.0, None, "falls short"),
    # Between two limits: both sides count.
    (10.0, 0.1, 9.0, 11.0, "meets"),
    (10.0, 0.5, 9.0, 11.0, "too close to call"),  # 2.3 % outside on either side
    (8.0, 0.5, 9.0, 11.0, "falls short"),
    (12.0, 0.5, 9.0, 11.0, "falls short"),
]


@pytest.mark.parametrize(("reading", "spread", "lower", "upper", "word"), LIMITS)
def test_against_a_limit(reading, spread, lower, upper, word):
    judged = rules.against_limit(reading, spread, lower, upper)
    assert judged.word == word
    assert judged.rule == "against_limit"
    assert judged.p_value == judged.probability
    assert judged.false_alarm == 0.025


@pytest.mark.parametrize(
    ("probability", "word"),
    [
        (1.0, "meets"), (0.975, "meets"), (0.97499, "too close to call"),
        (0.5, "too close to call"), (0.02501, "too close to call"), (0.025, "falls short"),
        (0.0, "falls short"),
    ],
)  # fmt: skip
def test_the_edges_of_a_limit(probability, word):
    """Guard bands of 1.96 u: JCGM 106:2012, 8.3.2; the two bounds are the kit's own."""
    assert rules.limit_word(probability) == word


@pytest.mark.parametrize(("reading", "word"), [(1.0, "meets"), (1.001, "falls short")])
def test_a_count_needs_no_uncertainty(reading, word):
    judged = rules.against_limit(reading, 0.0, upper=1.0, exact=True)
    assert judged.word == word
    assert judged.false_alarm == 0.0


def test_no_accuracy_no_verdict():
    judged = rules.against_limit(5.0, 0.0, upper=1.0)
    assert (judged.word, judged.p_value) == ("not judged", None)
    assert "accuracy" in judged.reason


@pytest.mark.parametrize(("exact", "spread"), [(True, 0.0), (False, 0.0), (False, 0.1)])
def test_a_reason_outweighs_the_figures(exact, spread):
    judged = rules.against_limit(5.0, spread, upper=1.0, reason="it is old", exact=exact)
    assert (judged.word, judged.reason, judged.p_value) == ("not judged", "it is old", None)
    assert judged.false_alarm == 0.0


@pytest.mark.parametrize(
    ("rule", "present", "word", "p_value"),
    [
        (rules.required, True, "meets", 1.0),
        (rules.required, False, "falls short", 0.0),
        (rules.agrees, True, "explained", 1.0),
        (rules.agrees, False, "unexplained", 0.0),
    ],
)
def test_what_is_counted(rule, present, word, p_value):
    judged = rule(present)
    assert (judged.word, judged.p_value, judged.false_alarm) == (word, p_value, 0.0)


# Interval of all draws 90 to 110; parts at their ends reach 80 to 120.
PREDICTIONS = [
    # reading, u, word, only at the ends
    (100.0, 1.0, "explained", False),
    (110.0, 1.0, "explained", False),
    (111.959, 1.0, "explained", False),  # its interval touches that of the draws
    (111.961, 1.0, "explained", True),
    (120.0, 1.0, "explained", True),
    (121.959, 1.0, "explained", True),
    (121.961, 1.0, "unexplained", False),
    (88.041, 1.0, "explained", False),
    (88.039, 1.0, "explained", True),
    (78.041, 1.0, "explained", True),
    (78.039, 1.0, "unexplained", False),
    (120.0, 0.0, "explained", True),
    (120.001, 0.0, "unexplained", False),
    (110.0, 0.0, "explained", False),
]


@pytest.mark.parametrize(("reading", "spread", "word", "ends"), PREDICTIONS)
def test_against_a_prediction(reading, spread, word, ends):
    judged = rules.against_prediction(reading, spread, (90.0, 110.0), (80.0, 120.0))
    assert (judged.word, judged.only_at_the_ends) == (word, ends)
    assert judged.false_alarm == 0.05


def test_what_is_left_out_counts_as_nothing():
    """Without a rest, 2.5758 beyond the reach is one in a hundred; without a reach, the interval."""
    judged = rules.against_prediction(122.5758, 1.0, (90.0, 110.0), (80.0, 120.0))
    assert_allclose(judged.p_value, 0.01, rtol=1e-4)
    assert_allclose(rules.against_prediction(112.5758, 1.0, (90.0, 110.0)).p_value, 0.01, rtol=1e-4)
    assert rules.against_prediction(110.0, 0.0, (90.0, 110.0)).p_value == 1.0
    assert not rules.result().only_at_the_ends
    assert rules.result().called is None


def test_the_bounds_of_all_rules():
    """2.5 % on either side leave 95 %."""
    assert rules.ENDS == (0.025, 0.975)
    assert (rules.DOUBT, rules.COVERAGE, rules.FALSE_DISCOVERIES) == (0.025, 0.95, 0.05)


def test_a_reach_never_narrows_the_interval():
    judged = rules.against_prediction(109.0, 0.0, (90.0, 110.0), (95.0, 105.0))
    assert (judged.word, judged.only_at_the_ends) == ("explained", False)


@pytest.mark.parametrize(
    ("reading", "spread", "rest", "p_value"),
    [
        # The reach of 120 holds 1.96 times the rest; from 120 - 1.96 rest chance has to bridge it.
        (122.5758, 1.0, 0.0, 0.01),
        (120.0, 1.0, 0.0, 1.0),
        (119.0, 1.0, 0.0, 1.0),
        # 3-4-5 triangle: 0.6 and 0.8 make 1; 120 - 1.568 + 2.5758 = 121.0078.
        (121.00783, 0.6, 0.8, 0.01),
        (77.42420, 1.0, 0.0, 0.01),
        (130.0, 0.0, 0.0, 0.0),
    ],
)
def test_the_chance_of_a_prediction(reading, spread, rest, p_value):
    judged = rules.against_prediction(reading, spread, (90.0, 110.0), (80.0, 120.0), rest)
    assert_allclose(judged.p_value, p_value, rtol=1e-4)


@given(st.floats(-200, 200), st.floats(0, 20), st.floats(0, 20))
def test_unexplained_means_less_than_five_percent(reading, spread, rest):
    judged = rules.against_prediction(reading, spread, (-10.0, 10.0), (-30.0, 30.0), rest)
    if judged.word == "unexplained":
        assert judged.p_value <= 0.0500001


def test_a_prediction_with_a_reason_is_not_judged():
    judged = rules.against_prediction(500.0, 1.0, (90.0, 110.0), reason="the meter is not listed")
    assert (judged.word, judged.p_value) == ("not judged", None)
    assert judged.reason == "the meter is not listed"
    judged = rules.within(0.0, "the meter is not listed")
    assert (judged.word, judged.p_value, judged.false_alarm) == ("not judged", None, 0.0)


@pytest.mark.parametrize(
    ("probability", "word", "p_value"),
    [
        (0.0, "unexplained", 0.0), (0.02499, "unexplained", 0.04998), (0.025, "explained", 0.05),
        (0.6, "explained", 1.0),
    ],
)  # fmt: skip
def test_within_a_tolerance(probability, word, p_value):
    judged = rules.within(probability)
    assert (judged.word, judged.false_alarm) == (word, 0.05)
    assert_allclose(judged.p_value, p_value)


@pytest.mark.parametrize(
    ("gap", "spreads", "called", "p_value"),
    [
        (1.96, [1.0], True, 0.05),
        (1.9599, [1.0], False, 0.05),
        (-1.96, [1.0], True, 0.05),
        # Only if the sign is sure under each assumption: independent, wholly shared.
        (0.6, [0.1, 0.31], False, 0.0529),
        (0.6, [0.31, 0.1], False, 0.0529),
        (0.6, [0.1, 0.2], True, 0.0027),
        (0.0, [0.0], False, 1.0),
        (0.1, [0.0], True, 0.0),
        (0.1, [0.0, 1.0], False, 0.92),
    ],
)
def test_differences(gap, spreads, called, p_value):
    judged = rules.difference(gap, *spreads)
    assert (judged.word, judged.called) == ("result", called)
    assert_allclose(judged.p_value, p_value, rtol=2e-3)
    assert judged.false_alarm == 0.0


@pytest.mark.parametrize(
    ("probability", "called"), [(0.975, True), (0.9749, False), (1.0, True), (0.0, False)]
)
def test_steps(probability, called):
    judged = rules.step(probability)
    assert (judged.word, judged.called) == ("result", called)
    assert_allclose(judged.p_value, 1 - probability)


@pytest.mark.parametrize(
    ("rule", "word"),
    [
        (rules.not_judged, "not judged"), (rules.no_limit, "no limit applies"),
        (rules.does_not_apply, "does not apply"), (rules.not_measured, "not measured"),
        (rules.not_assessed, "could not be assessed"),
    ],
)  # fmt: skip
def test_no_word_without_its_reason(rule, word):
    assert (rule("because").word, rule("because").reason) == (word, "because")
    for nothing in ("", "  "):
        with pytest.raises(ValueError, match="must say why"):
            rule(nothing)


def test_a_figure_against_nothing_is_a_result():
    assert rules.result().word == "result"


def test_only_rules_make_judgements():
    with pytest.raises(ValueError, match="made by a rule"):
        Judgement("meets", "against_limit")
    with pytest.raises(ValueError, match="made by a rule"):
        Judgement("splendid", "mine", made_by=object())


def test_two_gauges_of_one_length():
    """Normalised error of an interlaboratory comparison (ISO 13528, En number).

    En = (x - X) / sqrt(U^2 + U_ref^2) with expanded uncertainties; with k = 2 it is half of
    the distance in standard uncertainties, so that |En| = 1 is a distance of 2.
    """
    expanded, reference = 0.8, 0.6
    for difference, number in [(1.0, 1.0), (-0.5, -0.5)]:
        distance = rules.disagreement(10 + difference, expanded / 2, 10, reference / 2)
        assert_allclose(distance / 2, number, rtol=1e-12)


@given(st.floats(-1e3, 1e3), st.floats(0.01, 10), st.floats(-1e3, 1e3), st.floats(0.01, 10))
def test_disagreement_changes_sign_when_the_two_change_places(a, u_a, b, u_b):
    there, back = rules.disagreement(a, u_a, b, u_b), rules.disagreement(b, u_b, a, u_a)
    assert_allclose(there, -back, rtol=1e-12)


def test_order_is_the_area_of_the_bell_curve():
    """JCGM 106:2012, 7.2; independent: scipy's normal distribution."""
    assert rules.probability_of_order(0.6, 0.3) == pytest.approx(stats.norm.cdf(2))
    assert rules.probability_of_order(-0.6, 0.3) == pytest.approx(stats.norm.cdf(2))
    assert rules.probability_of_order(0, 0) == 0.5
    assert rules.probability_of_order([1, 0], [0, 1]).tolist() == [1.0, 0.5]


@given(st.floats(-1e3, 1e3), st.floats(0, 1e3))
def test_order_is_never_less_than_a_coin(gap, spread):
    assert 0.5 <= rules.probability_of_order(gap, spread) <= 1


def failing(p_value):
    """A judgement with a given one-sided chance: a reading so far above a limit of 0."""
    return rules.against_limit(float(stats.norm.isf(p_value)), 1.0, upper=0.0)


@pytest.mark.parametrize(
    ("chances", "expected"),
    [
        # By hand, Benjamini and Yekutieli 2001, theorem 1.3: the k-th smallest of m is compared with
        # 0.05 k / (m (1 + 1/2 + ... + 1/m)).
        # m = 4: the sum is 25/12, the bounds are 0.006, 0.012, 0.018, 0.024.
        ([0.005, 0.011, 0.5, 0.9], [True, True, False, False]),
        ([0.005, 0.013, 0.5, 0.9], [True, False, False, False]),
        ([0.007, 0.0119, 0.5, 0.9], [True, True, False, False]),  # the second carries the first
        ([0.0061, 0.013, 0.019, 0.9], [False, False, False, False]),
        ([0.023, 0.0239, 0.0235, 0.0238], [True] * 4),
        # m = 1: as it is.
        ([0.024], [True]),
    ],
)
def test_what_stands_out_of_many(chances, expected):
    assert rules.stand_out([failing(chance) for chance in chances]) == expected


def test_only_failures_stand_out_and_counts_always_do():
    good = [rules.within(0.9), rules.against_limit(-9.0, 1.0, upper=0.0), rules.agrees(True)]
    counted = [rules.agrees(False), rules.required(False)]
    rest = [rules.result(), rules.difference(9.0, 1.0), rules.not_judged("so"), rules.step(1.0)]
    assert rules.stand_out([*good, *counted, *rest]) == [False] * 3 + [True] * 2 + [False] * 4
    assert rules.stand_out([]) == []


def test_counts_do_not_dilute_what_chance_may_bring():
    """A hundred things counted leave the bounds of two comparisons where they were."""
    two = [failing(0.016), failing(0.5)]
    assert rules.stand_out(two)[0]
    assert rules.stand_out(two + 100 * [rules.required(True)])[0]
    assert not rules.stand_out(two + 100 * [rules.within(0.9)])[0]


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: rules.limit_word(1.1), "probability must lie"),
        (lambda: rules.limit_word(-0.1), "probability must lie"),
        (lambda: rules.limit_word(float("nan")), "probability must be finite"),
        (lambda: rules.within(1.1), "probability must lie"),
        (lambda: rules.step(-0.1), "probability must lie"),
        (lambda: rules.step(1.1), "probability must lie"),
        (lambda: rules.within(-0.1), "probability must lie"),
        (lambda: rules.against_limit(1.0, 1.0), "at least one limit"),
        (lambda: rules.against_limit(1.0, -1.0, upper=2.0), "standard_uncertainty must"),
        (lambda: rules.against_prediction(1.0, 1.0, (2.0, 1.0)), "interval must be"),
        (lambda: rules.against_prediction(1.0, 1.0, (1.0, 2.0), (2.0, 1.0)), "reach must be"),
        (lambda: rules.against_prediction(1.0, -1.0, (1.0, 2.0)), "reading_uncertainty must"),
        (
            lambda: rules.against_prediction(1.0, 1.0, (1.0, 2.0), rest_uncertainty=-1.0),
            "rest_uncertainty must",
        ),
        (lambda: rules.against_prediction(float("inf"), 1.0, (1.0, 2.0)), "reading must be finite"),
        (lambda: rules.disagreement(1, 0, 1, 0), "must not both be 0"),
        (lambda: rules.disagreement(1, -1, 1, 0), "reading_uncertainty must"),
        (lambda: rules.difference(1.0), "at least one"),
        (lambda: rules.probability_of_order(1, -1), "standard_uncertainty must be finite and >= 0"),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()


def test_the_words_are_distinct_and_every_rule_uses_one_of_them():
    assert len(set(rules.WORDS)) == len(rules.WORDS) == 11
    made = [rules.result(), rules.step(0.5), rules.difference(1, 1), rules.within(0.5)]
    made += [rule(flag) for rule, flag in product((rules.agrees, rules.required), (True, False))]
    assert {judged.word for judged in made} <= set(rules.WORDS)
