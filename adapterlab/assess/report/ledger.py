"""Findings in order, counted, and which of them open a review."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from adapterlab.assess.report.finding import Finding
from adapterlab.judgement import FALSE_DISCOVERIES, WORDS, stand_out


@dataclass(frozen=True)
class Ledger:
    """Findings in order, most telling words first within each section.

    Attributes
    ----------
    findings : tuple of Finding
        The findings.
    """

    findings: tuple[Finding, ...]

    @classmethod
    def of(cls, findings: Iterable[Finding]) -> "Ledger":
        """Ledger with the most telling words first; the order is kept otherwise."""
        return cls(tuple(sorted(findings, key=lambda finding: WORDS.index(finding.word))))

    def __iter__(self) -> Iterator[Finding]:
        """Findings in order."""
        return iter(self.findings)

    def __len__(self) -> int:
        """Number of findings."""
        return len(self.findings)

    @cached_property
    def counts(self) -> dict[str, int]:
        """How often each word occurs, most telling first; words that do not occur are left out."""
        counts = Counter(finding.word for finding in self.findings)
        return {word: counts[word] for word in WORDS if counts[word]}

    def count(self, *words: str) -> int:
        """How often one of some words occurs."""
        return sum(self.counts.get(word, 0) for word in words)

    def with_word(self, *words: str) -> "Ledger":
        """Only the findings with one of `words`."""
        return Ledger(tuple(finding for finding in self.findings if finding.word in words))

    def in_section(self, section: str) -> "Ledger":
        """Only the findings of one section."""
        return Ledger(tuple(finding for finding in self.findings if finding.section == section))

    @cached_property
    def opening(self) -> "Ledger":
        """What opens a review as not fitting.

        Of all comparisons in this ledger, which must be that of a whole review, those that fail by
        more than chance would bring (`adapterlab.judgement.stand_out`). A prediction that rests
        mostly on what was assumed keeps its word, but opens nothing.
        """
        sure = stand_out([finding.judgement for finding in self.findings])
        return Ledger(
            tuple(
                finding
                for finding, stands in zip(self.findings, sure, strict=True)
                if stands and not finding.is_mostly_assumed
            )
        )

    @property
    def comparisons(self) -> int:
        """How many comparisons were judged in which chance has a say."""
        return sum(finding.judgement.false_alarm > 0 for finding in self.findings)

    @property
    def false_alarms(self) -> float:
        """How many of them chance alone would let fail, at most. [1]."""
        return float(sum(finding.judgement.false_alarm for finding in self.findings))

    @property
    def about_chance(self) -> str:
        """What chance may have brought, as a sentence."""
        if not self.comparisons:
            return "No reading could be compared with a prediction or a published figure."
        failed = sum(finding.judgement.failed for finding in self.findings)
        chance = (
            f"Of {self.comparisons} comparisons chance alone would let up to "
            f"{self.false_alarms:.0f} fail"
        )
        if not failed:
            return f"{chance}; none did."
        chosen = len(self.opening)
        share = f"{100 * FALSE_DISCOVERIES:.0f} %"
        findings = "finding" if failed == 1 else "findings"
        opens = "opens" if chosen == 1 else "open"
        return (
            f"{chance}; {failed} {findings} failed. {chosen} of them {opens} this review: of what "
            f"is chosen so, at most {share} is expected to be a false alarm."
        )

    def table(self) -> pd.DataFrame:
        """The ledger as a table of texts: question, reading, prediction, limit, word."""
        return pd.DataFrame(
            [
                {
                    "question": finding.question,
                    "reading": str(finding.reading or "–"),
                    "the parts predict": str(finding.prediction or "–"),
                    "published limit": str(finding.limit or "–"),
                    "verdict": finding.word,
                }
                for finding in self.findings
            ],
            columns=["question", "reading", "the parts predict", "published limit", "verdict"],
        )

    def __repr__(self) -> str:
        """One sentence per line."""
        return "\n".join(f"• {finding.sentence}" for finding in self.findings) or "No findings."

    def _repr_html_(self) -> str:
        """The table, with every text escaped."""
        return self.table().to_html(index=False, escape=True, border=0, classes="ledger")
