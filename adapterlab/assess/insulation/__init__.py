"""Insulation of a dossier: distances, windings and touch temperature against published figures."""

from adapterlab.assess.insulation.assessment import (
    InsulationAssessment,
    assess,
)

__all__ = [
    "InsulationAssessment",
    "assess",
]
