"""The two judgements, the ledger, and the lines said aloud."""

import re

import pytest
from demo import NAMES, assessed
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from adapterlab.assess import verdict as section
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.verdict import NO_LIMIT, WORDS, disagreement, limit_word, prediction_word

REST = {"section": "inrush", "question": "How large?", "function": "inrush.rc_inrush_current"}


@pytest.mark.parametrize(
    ("probability", "word"),
    [
        (1.0, "meets"), (0.975, "meets"), (0.9749, "too close to call"),
        (0.0251, "too close to call"), (0.025, "falls short"), (0.0, "falls short"),
    ],
)  # fmt: skip
def test_words_against_a_limit(probability, word):
    """Bounds of design: 0.025 and 0.975, JCGM 106:2012 guard bands of 1.96 u."""
    assert limit_word(probability) == word


def test_two_gauges_of_one_length():
    """Normalised error of an interlaboratory comparison (ISO 13528, En number).

    En = (x - X) / sqrt(U^2 + U_ref^2) with expanded uncertainties; with k = 2 it is half of
    the distance in standard uncertainties, so that |En| = 1 is a distance of 2.
    """
    expanded, reference = 0.8, 0.6
    for difference, number in [(1.0, 1.0), (0.5, 0.5)]:
        distance = disagreement(10 + difference, expanded / 2, 10, reference / 2)
        assert_allclose(distance / 2, number, rtol=1e-12)


@pytest.mark.parametrize(
    ("reading", "word"), [(12.0, "explained"), (12.001, "unexplained"), (7.9, "unexplained")]
)
def test_words_against_a_prediction(reading, word):
    """3-4-5 triangle: u = 0.6 and 0.8 combine to 1.0, so 10 +- 2 is explained."""
    assert prediction_word(reading, 0.6, 10.0, 0.8) == word


@given(st.floats(-1e3, 1e3), st.floats(0.01, 10), st.floats(-1e3, 1e3), st.floats(0.01, 10))
def test_disagreement_changes_sign_when_the_two_change_places(a, u_a, b, u_b):
    assert_allclose(disagreement(a, u_a, b, u_b), -disagreement(b, u_b, a, u_a), rtol=1e-12)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: limit_word(1.1), "probability must lie"),
        (lambda: limit_word(float("nan")), "probability must be finite"),
        (lambda: disagreement(1, 0, 1, 0), "must not both be 0"),
        (lambda: disagreement(1, -1, 1, 0), "reading_uncertainty must"),
        (lambda: Finding(word="splendid", sentence="", **REST), "word must be one of"),
        (
            lambda: against_limit(Value(1, 0, "A"), Limit(1, "V", "upper", "n", "s"), "x", **REST),
            "limit must be in",
        ),
        (
            lambda: against_prediction(Value(1, 0, "A"), Value(1, 1, "V"), "x", "y", **REST),
            "prediction must be in",
        ),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Value(87e-6, 0.55e-6, "A"), "(87.0 ± 1.1) µA"),
        (Value(1.75e-9, 0.037e-9, "F"), "(1.75 ± 0.07) nF"),
        (Value(0.8963, 0.0009, "%"), "(89.63 ± 0.18) %"),
        (Value(0.998, 0.02, "A"), "(1.00 ± 0.04) A"),
        (Value(89.55, 0.025, "°"), "(89.55 ± 0.05)°"),
        (Value(4700.0, 0.0, "ohm"), "4.7 kohm"),
        (Value(0.0, 0.0, "A"), "0 A"),
        (Value(12345.0, 700.0, "h"), "(12300 ± 1400) h"),
        (Value(-3.2e-3, 0.1e-3, "V"), "(-3.20 ± 0.20) mV"),
    ],
)
def test_numbers_are_rounded_to_their_uncertainty(value, text):
    """JCGM 100:2008, 7.2.6: at most two digits of uncertainty, the value to the same place."""
    assert str(value) == text


def test_a_limit_from_memory_is_not_judged():
    limit = Limit(1.0, "A", "upper", "Rule", "from memory", "memory")
    finding = against_limit(Value(2.0, 0.1, "A"), limit, "Current", **REST)
    assert finding.word == "no limit applies"
    assert "from memory only" in finding.sentence


def test_the_ledger_puts_the_most_telling_first():
    findings = [Finding(word=word, sentence=word, **REST) for word in reversed(WORDS)]
    assert [finding.word for finding in Ledger.of(findings)] == list(WORDS)


def test_the_ledger_escapes_what_users_write():
    finding = not_measured("inrush", "<script>alert(1)</script>", "a <b>reading</b>.", "x")
    assert "<script>" not in Ledger.of([finding])._repr_html_()


def test_one_line_for_each_question_and_word():
    value = Value(1.0, 0.1, "A")
    twice = [against_prediction(value, value, "Current", "the part", **REST) for _ in range(3)]
    bare = Finding(word="meets", sentence="Fine.", **REST)
    chosen = section.lines(Ledger.of([*twice, bare]))
    assert {heading: len(found) for heading, found in chosen.items()} == {"What fits": 1}


@pytest.mark.parametrize("name", NAMES)
def test_every_line_has_a_number_and_a_trace(name):
    result = assessed(name)
    for heading, findings in section.lines(result.findings).items():
        for finding in findings:
            assert finding.function
            if heading != "What was not measured":
                assert re.search(r"\d", finding.sentence)
                assert section.trace(finding)
    table = section.records(result.findings)
    assert len(table) == len(result.findings)
    judged = table[table["limit"].notna()]
    assert (judged["limit_source"] != "").all()
    assert judged["probability"].between(0, 1).all()


@pytest.mark.parametrize("name", ["alder-27", "birch-60", "cedar-65", "dogwood-18"])
def test_no_two_sections_judge_the_same(name):
    """The same number on the same side of the same figure belongs to one section."""
    judges = {}
    for finding in assessed(name).findings:
        other = finding.limit or finding.prediction
        if finding.reading is None or other is None or finding.word == NO_LIMIT:
            continue
        counted = "layers" if "layer" in finding.sentence else finding.question
        judged = (finding.reading.value, finding.reading.unit or counted, other.value)
        assert judges.setdefault(judged, finding.section) == finding.section, finding.sentence


def test_functions_named_in_findings_exist():
    """Traceable: each finding names a function that can be imported."""
    from importlib import import_module

    for name in ("birch-60", "dogwood-18"):
        for finding in assessed(name).findings:
            module, _, function = finding.function.rpartition(".")
            assert callable(getattr(import_module(f"adapterlab.{module}"), function))


def test_the_words_of_an_optimist_are_never_used():
    """The kit never says safe, certified or compliant of an adapter."""
    for name in NAMES:
        for finding in assessed(name).findings:
            assert not re.search(r"\b(safe|certified|compliant)\b", finding.sentence)


def test_a_reading_without_a_listed_instrument_is_not_judged():
    """A reading of unknown accuracy is not a reading without error."""
    limit = Limit(0.100, "W", "upper", "Rule", "its clause")
    bare = Value(0.0999, 0.0, "W")
    assert against_limit(bare, limit, "Power", **REST).word == "no limit applies"
    assert "not listed" in against_limit(bare, limit, "Power", **REST).sentence
    assert against_limit(bare, limit, "Power", exact=True, **REST).word == "meets"
    said = against_prediction(bare, Value(0.1, 0.01, "W"), "Power", "the part", **REST).sentence
    assert "counts as exact" in said
