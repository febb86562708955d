"""Converters of a dossier: how they work, what their parts bear, where the watts go."""

from adapterlab.assess.flyback.assessment import (
    SECTION,
    FlybackAssessment,
    assess,
)

__all__ = [
    "SECTION",
    "FlybackAssessment",
    "assess",
]
