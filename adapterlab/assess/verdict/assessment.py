"""All findings of a dossier in one ledger, and the lines that can be said aloud from it."""

from collections import Counter
from dataclasses import dataclass
from importlib import import_module
from typing import Any

import pandas as pd

from adapterlab.assess import SECTIONS
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.report.finding import (
    Finding,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.dossier import Dossier
from adapterlab.judgement import (
    EXPLAINED,
    FALLS_SHORT,
    MEETS,
    NOT_ASSESSED,
    NOT_MEASURED,
    RESULT,
    TOO_CLOSE,
    UNEXPLAINED,
    WORDS,
    disagreement,
)

SECTION = "verdict"
HEADINGS = {
    UNEXPLAINED: "What does not fit",
    FALLS_SHORT: "What falls short",
    TOO_CLOSE: "What is too close to call",
    MEETS: "What meets its limit",
    EXPLAINED: "What fits",
    RESULT: "Worth knowing",
    NOT_MEASURED: "What was not measured",
    NOT_ASSESSED: "What could not be assessed",
}


@dataclass(frozen=True)
class VerdictAssessment:
    """Every section's findings together.

    Attributes
    ----------
    findings : Ledger
        All findings, most telling words first.
    sections : dict of str to object
        Each section's own assessment, by stem.
    """

    findings: Ledger
    sections: dict[str, Any]


def assess(dossier: Dossier) -> VerdictAssessment:
    """Assess every section of a dossier.

    Parameters
    ----------
    dossier : Dossier
        The record.

    Returns
    -------
    VerdictAssessment
        The ledger and the sections behind it.
    """
    stems = [section.stem for section in SECTIONS if section.stem != SECTION]
    specimen = specimen_of(dossier)
    sections = {stem: import_module(f"adapterlab.assess.{stem}").assess(specimen) for stem in stems}
    findings = [finding for result in sections.values() for finding in result.findings]
    return VerdictAssessment(Ledger.of(findings), sections)


def word_counts(ledger: Ledger) -> dict[str, int]:
    """How often each word occurs, most telling first, words that do not occur left out.

    Parameters
    ----------
    ledger : Ledger
        The findings.

    Returns
    -------
    dict of str to int
        Word -> count.
    """
    counts = Counter(finding.word for finding in ledger)
    return {word: counts[word] for word in WORDS if counts[word]}


def has_number(finding: Finding) -> bool:
    """Whether a finding has a figure of its own behind its sentence."""
    return finding.reading is not None or finding.prediction is not None


def lines(ledger: Ledger) -> dict[str, list[Finding]]:
    """Findings worth a line of their own, under the headings of the segment sheet.

    Parameters
    ----------
    ledger : Ledger
        The findings.

    Returns
    -------
    dict of str to list of Finding
        Heading -> the first finding of each question under each word. Sentences without a
        number behind them only appear under *not measured*; limits that are not judged are
        left out.
    """
    chosen: dict[str, list[Finding]] = {}
    seen: set[tuple[str, str, str]] = set()
    for finding in ledger:
        key = (finding.word, finding.section, finding.question)
        heading = HEADINGS.get(finding.word)
        if heading is None or key in seen:
            continue
        if not has_number(finding) and finding.word not in (NOT_MEASURED, NOT_ASSESSED):
            continue
        seen.add(key)
        chosen.setdefault(heading, []).append(finding)
    return chosen


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


def distances(ledger: Ledger) -> pd.DataFrame:
    """How far each reading lies from its prediction.

    Parameters
    ----------
    ledger : Ledger
        The findings.

    Returns
    -------
    pandas.DataFrame
        ``section``, ``question``, ``word`` and ``distance`` [combined standard uncertainties]
        of every finding that has both a reading and a prediction.
    """
    rows = [
        {
            "section": finding.section,
            "question": finding.question,
            "word": finding.word,
            "distance": disagreement(
                finding.reading.value,
                finding.reading.standard_uncertainty,
                finding.prediction.value,
                finding.prediction.standard_uncertainty,
            ),
        }
        for finding in ledger
        if finding.reading is not None
        and finding.prediction is not None
        and finding.reading.standard_uncertainty + finding.prediction.standard_uncertainty > 0
    ]
    return pd.DataFrame(rows, columns=["section", "question", "word", "distance"])


def records(ledger: Ledger) -> pd.DataFrame:
    """The ledger as plain columns, for a spreadsheet.

    Parameters
    ----------
    ledger : Ledger
        The findings.

    Returns
    -------
    pandas.DataFrame
        One row for each finding; empty cells where a finding has no such figure.
    """
    rows = []
    for finding in ledger:
        row: dict[str, object] = {
            "section": finding.section,
            "question": finding.question,
            "word": finding.word,
            "sentence": finding.sentence,
            "origin": finding.origin,
        }
        for name, value in (("reading", finding.reading), ("prediction", finding.prediction)):
            row[name] = value.value if value else None
            row[f"{name}_standard_uncertainty"] = value.standard_uncertainty if value else None
        shown = finding.reading or finding.prediction
        row["unit"] = _plain_unit(shown.unit) if shown else ""
        row["limit"] = finding.limit.value if finding.limit else None
        row["limit_kind"] = finding.limit.kind if finding.limit else ""
        row["limit_name"] = finding.limit.name if finding.limit else ""
        row["limit_source"] = finding.limit.source if finding.limit else ""
        row["limit_known"] = finding.limit.known if finding.limit else ""
        row["probability"] = finding.probability
        row["figure"] = finding.figure
        row["function"] = f"adapterlab.{finding.function}" if finding.function else ""
        row["note"] = finding.note
        rows.append(row)
    return pd.DataFrame(rows)


def _plain_unit(unit: str) -> str:
    """Fractions are stored as fractions, so their unit is 1, not percent."""
    return "1" if unit == "%" else unit
