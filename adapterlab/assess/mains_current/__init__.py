"""The mains current of a dossier: captures and sweep against the parts, harmonics, the filter."""

from adapterlab.assess.mains_current.assessment import (
    MainsCurrentAssessment,
    assess,
    power_split,
    readings,
)
from adapterlab.assess.mains_current.points import (
    Point,
)

__all__ = [
    "MainsCurrentAssessment",
    "Point",
    "assess",
    "power_split",
    "readings",
]
