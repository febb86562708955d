"""The two judgements, the ledger, and the lines said aloud."""

import re

import matplotlib.pyplot as plt
import pytest
from demo import NAMES, assessed
from scipy import stats

from adapterlab import judgement as rules
from adapterlab.assess import verdict as section
from adapterlab.assess.report import (
    Finding,
    Ledger,
    Value,
    against_prediction,
)
from adapterlab.figures import verdict as pictures
from adapterlab.judgement import NO_LIMIT

REST = {"section": "inrush", "question": "How large?", "function": "inrush.rc_inrush_current"}


def failed(p_value, question="How large?", **rest):
    """A finding whose comparison failed with a given chance, by the bell curve."""
    judged = rules.against_limit(float(stats.norm.isf(p_value)), 1.0, upper=0.0)
    return Finding("inrush", question, judged, f"{question} {p_value}", "inrush.x", **rest)


def test_every_finding_stands_in_one_chapter():
    """None is left out: those of one question share a line that says how many more there are."""
    value = Value(1.0, 0.1, "A")
    twice = [against_prediction(value, value, "Current", "the part", **REST) for _ in range(3)]
    bare = Finding(judgement=rules.required(True), sentence="Fine.", **REST)
    ledger = Ledger.of([failed(1e-9), *twice, bare, failed(0.02, "Else?")])
    found = {chapter.heading: chapter for chapter in section.chapters(ledger)}
    assert list(found) == [
        "What does not fit: 1 falls short",
        "Falls short, but not firm enough to open with: 1",
        "Meets a published figure: 1",
        "Explained by the parts: 3",
    ]
    (line,) = found["Explained by the parts: 3"].lines
    assert line.finding == twice[0]
    assert line.more == "and 2 more to the same question"


@pytest.mark.parametrize("name", NAMES)
def test_every_line_has_a_number_and_a_trace(name):
    result = assessed(name)
    chapters = section.chapters(result.findings)
    said = [line for chapter in chapters for line in chapter.lines]
    assert sum(1 + len(line.others) for line in said) == len(result.findings)
    assert sum(len(chapter.findings) for chapter in chapters) == len(result.findings)
    for finding in result.findings:
        assert finding.function
        if finding.judgement.p_value is not None:
            counted = finding.judgement.rule in ("required", "agrees")
            assert counted or re.search(r"\d", finding.sentence)
            assert section.trace(finding)
    table = section.records(result.findings)
    assert len(table) == len(result.findings)
    judged = table[table["limit"].notna()]
    assert (judged["limit_source"] != "").all()
    assert judged["probability"].between(0, 1).all()
    assert table["opens"].sum() == len(result.findings.opening)


@pytest.mark.parametrize("name", NAMES)
def test_distances_agree_with_the_words(name):
    """Beyond 1 is unexplained, whatever its sign, and nothing else is."""
    table = section.distances(assessed(name).findings)
    odd = table["word"] == "unexplained"
    assert (table["distance"].abs()[odd] > 1).all()
    assert (table["distance"].abs()[~odd] <= 1 + 1e-12).all()


@pytest.mark.parametrize("name", NAMES)
def test_titles_count_as_the_ledger_does(name):
    """One way of counting: badges, sheet and pictures."""
    result = assessed(name)
    counts = result.findings.counts
    for draw in (pictures.draw_distances, pictures.draw_limits, pictures.draw_words):
        figure = draw(result)
        title = " ".join(figure.get_suptitle().split())
        plt.close(figure)
        if "could be held" in title or "No reading" in title:
            continue
        known = {
            pictures.draw_distances: ["unexplained"],
            pictures.draw_limits: ["falls short", "too close to call"],
            pictures.draw_words: ["unexplained", "falls short"],
        }[draw]
        for word in known:
            if counts.get(word):
                assert re.search(rf"\b{counts[word]} ", title), title


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
