"""Touch current of a dossier: readings against the barrier capacitor, each other and limits."""

from adapterlab.assess.touch_current.assessment import (
    TouchCurrentAssessment,
    assess,
)
from adapterlab.assess.touch_current.model import (
    SECTION,
    Barrier,
    barrier_of,
)

__all__ = [
    "SECTION",
    "Barrier",
    "TouchCurrentAssessment",
    "assess",
    "barrier_of",
]
