"""The ledger: counted in one way, and opened by what stands out of all comparisons."""

import pytest
from scipy import stats

from adapterlab import judgement as rules
from adapterlab.assess.report import Finding, Ledger, Share, Value, not_measured


def failed(p_value, question="How large?", **rest):
    """A finding whose comparison failed with a given chance, by the bell curve."""
    judged = rules.against_limit(float(stats.norm.isf(p_value)), 1.0, upper=0.0)
    return Finding("inrush", question, judged, f"{question} {p_value}", "inrush.x", **rest)


def fine(number):
    judged = rules.within(0.5)
    return Finding("inrush", f"Question {number}?", judged, "Fine.", "inrush.x")


def test_what_opens_a_review():
    """Bounds by hand (Benjamini and Yekutieli): of 10 the first must be below 0.05/10/2.929."""
    assumed = (Share("w", "2.2 Ω assumed for the wiring", "assumed", 0.51),)
    sure, barely = failed(0.0017), failed(0.0018)
    shaky = failed(1e-9, rests_on=assumed)
    counted = Finding("parts", "Is it there?", rules.required(False), "No.", "parts.x")
    rest = [fine(number) for number in range(9)]
    assert Ledger.of([sure, *rest]).opening.findings == (sure,)
    assert Ledger.of([barely, *rest]).opening.findings == ()
    assert Ledger.of([counted, barely, *rest]).opening.findings == (counted,)
    assert shaky not in Ledger.of([shaky, *rest]).opening.findings
    # It keeps its word all the same.
    assert Ledger.of([barely, *rest]).counts == {"falls short": 1, "explained": 9}


def test_what_chance_alone_would_bring():
    """Forty comparisons with parts at 5 % and twenty limits at 2.5 %: 2 and 0.5."""
    ledger = Ledger.of([fine(number) for number in range(40)])
    assert (ledger.comparisons, ledger.false_alarms) == (40, pytest.approx(2.0))
    assert ledger.about_chance == "Of 40 comparisons chance alone would let up to 2 fail; none did."
    with_limits = Ledger.of([*ledger, *(failed(1e-12, f"{n}?") for n in range(20))])
    assert with_limits.false_alarms == pytest.approx(2.5)
    assert "20 findings failed. 20 of them open this review" in with_limits.about_chance
    assert "No reading could be compared" in Ledger(()).about_chance


def test_counts_are_those_of_the_findings():
    ledger = Ledger.of([fine(1), fine(2), failed(1e-9), not_measured("parts", "Is it?", "x.", "f")])
    assert ledger.counts == {"falls short": 1, "explained": 2, "not measured": 1}
    assert list(ledger.counts) == ["falls short", "explained", "not measured"]
    assert (ledger.count("explained"), ledger.count("explained", "falls short")) == (2, 3)
    assert ledger.count("meets") == 0
    assert len(ledger.in_section("parts")) == 1
    assert ledger.with_word("explained", "not measured").counts == {
        "explained": 2, "not measured": 1,
    }  # fmt: skip
    assert sum(ledger.counts.values()) == len(ledger) == 4


def test_only_what_chance_can_upset_is_a_comparison():
    counted = Finding("parts", "Is it there?", rules.required(False), "No.", "parts.x")
    ledger = Ledger.of([fine(1), counted, not_measured("parts", "Is it?", "x.", "f")])
    assert (ledger.comparisons, ledger.false_alarms) == (1, 0.05)


def test_what_is_said_of_chance():
    one = Ledger.of([failed(1e-9), *(fine(number) for number in range(39))])
    assert one.about_chance == (
        "Of 40 comparisons chance alone would let up to 2 fail; 1 finding failed. 1 of them opens "
        "this review: of what is chosen so, at most 5 % is expected to be a false alarm."
    )
    two = Ledger.of([failed(1e-9), failed(1e-8), *(fine(number) for number in range(38))])
    assert "2 of them open this review" in two.about_chance


def test_the_table_has_a_line_for_each_finding():
    read = Finding(
        "inrush", "How large?", rules.result(), "Large.", "inrush.x", Value(9.0, 0.0, "A")
    )
    table = Ledger.of([read, fine(1)]).table()
    assert table["question"].tolist() == ["Question 1?", "How large?"]
    assert table["reading"].tolist() == ["–", "9 A"]
    assert table["verdict"].tolist() == ["explained", "result"]
    assert Ledger(()).table().empty
    assert list(Ledger(()).table()) == list(table)


def test_sentences_stand_one_below_the_other():
    assert repr(Ledger.of([fine(1), fine(2)])) == "• Fine.\n• Fine."
    assert repr(Ledger(())) == "No findings."


def test_the_ledger_escapes_what_users_write():
    finding = not_measured("inrush", "<script>alert(1)</script>", "a <b>reading</b>.", "x")
    assert "<script>" not in Ledger.of([finding])._repr_html_()
    assert "&lt;script&gt;" in Ledger.of([finding])._repr_html_()
    assert "<th>0</th>" not in Ledger.of([finding])._repr_html_()
