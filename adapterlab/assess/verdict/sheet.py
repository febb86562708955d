"""The segment sheet: every finding of a review under a heading that counts."""

from dataclasses import dataclass

from adapterlab.assess.report import Finding, Ledger
from adapterlab.judgement import (
    DOES_NOT_APPLY,
    EXPLAINED,
    FALLS_SHORT,
    MEETS,
    NO_LIMIT,
    NOT_ASSESSED,
    NOT_JUDGED,
    NOT_MEASURED,
    RESULT,
    TOO_CLOSE,
    UNEXPLAINED,
)

OPENING = "What does not fit"
HEADINGS = {
    NOT_ASSESSED: "Could not be assessed",
    UNEXPLAINED: "Unexplained, but not firm enough to open with",
    FALLS_SHORT: "Falls short, but not firm enough to open with",
    TOO_CLOSE: "Too close to call",
    MEETS: "Meets a published figure",
    EXPLAINED: "Explained by the parts",
    NOT_JUDGED: "Not judged",
    RESULT: "Results, held against nothing",
    NO_LIMIT: "No limit applies",
    DOES_NOT_APPLY: "Does not apply",
    NOT_MEASURED: "Not measured",
}


@dataclass(frozen=True)
class Line:
    """One line of a segment sheet.

    Attributes
    ----------
    finding : Finding
        What is said.
    others : tuple of Finding
        Further findings of the same question under the same word.
    """

    finding: Finding
    others: tuple[Finding, ...]

    @property
    def more(self) -> str:
        """How many further ones there are, in words; empty if there are none."""
        return f"and {len(self.others)} more to the same question" if self.others else ""


@dataclass(frozen=True)
class Chapter:
    """Lines of a segment sheet under one heading.

    Attributes
    ----------
    title : str
        `OPENING` or a value of `HEADINGS`.
    findings : Ledger
        Every finding that belongs there.
    """

    title: str
    findings: Ledger

    @property
    def heading(self) -> str:
        """The title with the number of findings, word by word where it has several."""
        counts = self.findings.counts
        if self.title == OPENING:
            return f"{self.title}: {', '.join(f'{n} {word}' for word, n in counts.items())}"
        return f"{self.title}: {len(self.findings)}"

    @property
    def lines(self) -> tuple[Line, ...]:
        """One line for each question and word, in order; none is left out."""
        groups: dict[tuple[str, str, str], list[Finding]] = {}
        for finding in self.findings:
            key = (finding.word, finding.section, finding.question)
            groups.setdefault(key, []).append(finding)
        return tuple(Line(first, tuple(others)) for first, *others in groups.values())


def chapters(ledger: Ledger) -> list[Chapter]:
    """The whole ledger of a review under the headings of its segment sheet.

    Parameters
    ----------
    ledger : Ledger
        All findings of a review.

    Returns
    -------
    list of Chapter
        What does not fit first, then the rest word by word; every finding stands in one of them.
    """
    opening = ledger.opening
    opened = {id(finding) for finding in opening}
    found = [Chapter(OPENING, opening)] if len(opening) else []
    for word, title in HEADINGS.items():
        rest = tuple(finding for finding in ledger.with_word(word) if id(finding) not in opened)
        if rest:
            found.append(Chapter(title, Ledger(rest)))
    return found


def trace(finding: Finding) -> str:
    """Where a line comes from: reading, function, source.

    Parameters
    ----------
    finding : Finding
        The finding.

    Returns
    -------
    str
        Parts joined by semicolons.
    """
    parts = [finding.origin, f"adapterlab.{finding.function}" if finding.function else ""]
    if finding.limit is not None:
        parts.append(finding.limit.source)
    return "; ".join(part for part in parts if part)
