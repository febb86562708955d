"""Life of a dossier's capacitors, which of them goes first, and how many adapters fail by when."""

from adapterlab.assess.capacitor_life.assessment import (
    CapacitorLifeAssessment,
    assess,
)
from adapterlab.assess.capacitor_life.use import (
    HOURS_PER_YEAR,
)

__all__ = [
    "HOURS_PER_YEAR",
    "CapacitorLifeAssessment",
    "assess",
]
