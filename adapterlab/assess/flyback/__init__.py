"""Converters of a dossier: how they work, what their parts bear, where the watts go."""

from adapterlab.assess.flyback.assessment import FlybackAssessment, assess
from adapterlab.assess.flyback.modes import SECTION

__all__ = [
    "SECTION",
    "FlybackAssessment",
    "assess",
]
