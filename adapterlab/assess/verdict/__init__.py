"""All findings of a dossier in one ledger, and the lines that can be said aloud from it."""

from adapterlab.assess.verdict.assessment import (
    HEADINGS,
    SECTION,
    VerdictAssessment,
    assess,
    distances,
    has_number,
    lines,
    records,
    trace,
    word_counts,
)

__all__ = [
    "HEADINGS",
    "SECTION",
    "VerdictAssessment",
    "assess",
    "distances",
    "has_number",
    "lines",
    "records",
    "trace",
    "word_counts",
]
