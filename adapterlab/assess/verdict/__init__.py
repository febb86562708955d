"""All findings of a dossier in one ledger, and the lines that can be said aloud from it."""

from adapterlab.assess.verdict.assessment import (
    SECTION,
    VerdictAssessment,
    assess,
    distances,
    records,
)
from adapterlab.assess.verdict.sheet import HEADINGS, OPENING, Chapter, Line, chapters, trace

__all__ = [
    "HEADINGS",
    "OPENING",
    "SECTION",
    "Chapter",
    "Line",
    "VerdictAssessment",
    "assess",
    "chapters",
    "distances",
    "records",
    "trace",
]
