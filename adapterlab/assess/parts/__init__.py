"""Parts of a dossier one by one: what is there, what it is marked with, what it must stand."""

from adapterlab.assess.parts.assessment import (
    PartsAssessment,
    assess,
)

__all__ = [
    "PartsAssessment",
    "assess",
]
