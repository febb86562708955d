"""Touch current of a dossier: readings against the barrier capacitor, each other and limits."""

from adapterlab.assess.touch_current.assessment import (
    TouchCurrentAssessment,
    assess,
)
from adapterlab.assess.touch_current.model import (
    Barrier,
    barrier_of,
)
from adapterlab.assess.touch_current.readings import (
    SECTION,
    TouchReading,
)

__all__ = [
    "SECTION",
    "Barrier",
    "TouchCurrentAssessment",
    "TouchReading",
    "assess",
    "barrier_of",
]
