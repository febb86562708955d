"""The two judgements, the ledger, and the lines said aloud."""

import re

import pytest
from demo import NAMES, assessed

from adapterlab import judgement as rules
from adapterlab.assess import verdict as section
from adapterlab.assess.report import Finding, Ledger, Value, against_prediction, not_measured
from adapterlab.judgement import NO_LIMIT

REST = {"section": "inrush", "question": "How large?", "function": "inrush.rc_inrush_current"}


def test_the_ledger_escapes_what_users_write():
    finding = not_measured("inrush", "<script>alert(1)</script>", "a <b>reading</b>.", "x")
    assert "<script>" not in Ledger.of([finding])._repr_html_()


def test_one_line_for_each_question_and_word():
    value = Value(1.0, 0.1, "A")
    twice = [against_prediction(value, value, "Current", "the part", **REST) for _ in range(3)]
    bare = Finding(judgement=rules.required(True), sentence="Fine.", **REST)
    chosen = section.lines(Ledger.of([*twice, bare]))
    assert {heading: len(found) for heading, found in chosen.items()} == {"What fits": 1}


@pytest.mark.parametrize("name", NAMES)
def test_every_line_has_a_number_and_a_trace(name):
    result = assessed(name)
    for heading, findings in section.lines(result.findings).items():
        for finding in findings:
            assert finding.function
            if heading != "What was not measured":
                counted = finding.judgement.rule in ("required", "agrees")
                assert counted or re.search(r"\d", finding.sentence)
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
