"""Findings in order."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import pandas as pd

from adapterlab.assess.report.finding import Finding
from adapterlab.judgement import WORDS


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

    def with_word(self, *words: str) -> "Ledger":
        """Only the findings with one of `words`."""
        return Ledger(tuple(finding for finding in self.findings if finding.word in words))

    def in_section(self, section: str) -> "Ledger":
        """Only the findings of one section."""
        return Ledger(tuple(finding for finding in self.findings if finding.section == section))

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
