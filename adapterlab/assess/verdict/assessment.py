"""All findings of a dossier in one ledger, and the lines that can be said aloud from it."""

from dataclasses import dataclass
from importlib import import_module
from typing import Any

import numpy as np
import pandas as pd

from adapterlab.assess import SECTIONS
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.report import Finding, Ledger
from adapterlab.dossier import Dossier
from adapterlab.judgement import COVERAGE, NOT_JUDGED
from adapterlab.uncertainty import coverage_factor

SECTION = "verdict"


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


def distances(ledger: Ledger) -> pd.DataFrame:
    """How far each reading lies from its prediction.

    Parameters
    ----------
    ledger : Ledger
        The findings.

    Returns
    -------
    pandas.DataFrame
        ``section``, ``question``, ``word`` and ``distance`` of every finding that was held against
        a prediction. [1]  A distance beyond 1 or -1 is *unexplained*: it is the difference of
        reading and prediction over what both may be off on that side, the prediction with marked
        parts at the ends of their tolerances.
    """
    rows = [
        {
            "section": finding.section,
            "question": finding.question,
            "word": finding.word,
            "distance": _distance(finding),
        }
        for finding in ledger
        if finding.judgement.rule == "against_prediction" and finding.word != NOT_JUDGED
    ]
    return pd.DataFrame(rows, columns=["section", "question", "word", "distance"])


def _distance(finding: Finding) -> float:
    reading, predicted = finding.reading, finding.prediction
    assert reading is not None
    assert predicted is not None
    factor = coverage_factor(COVERAGE)
    half = factor * predicted.standard_uncertainty
    low, high = predicted.interval or (predicted.value - half, predicted.value + half)
    if finding.draws is not None:
        low, high = finding.draws.reach
    difference = reading.value - predicted.value
    side = high - predicted.value if difference > 0 else predicted.value - low
    room = side + factor * reading.standard_uncertainty
    return difference / room if room > 0 else float(np.sign(difference)) * np.inf


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
    opened = {id(finding) for finding in ledger.opening}
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
        row["p_value"] = finding.judgement.p_value
        row["reason"] = finding.judgement.reason
        row["opens"] = id(finding) in opened
        row["assumed"] = "; ".join(share.said for share in finding.assumed)
        row["figure"] = finding.figure
        row["function"] = f"adapterlab.{finding.function}" if finding.function else ""
        row["note"] = finding.note
        rows.append(row)
    return pd.DataFrame(rows)


def _plain_unit(unit: str) -> str:
    """Fractions are stored as fractions, so their unit is 1, not percent."""
    return "1" if unit == "%" else unit
