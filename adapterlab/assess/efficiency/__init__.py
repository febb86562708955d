"""Efficiency of a dossier: averages, losses and no-load power against published rules."""

from adapterlab.assess.efficiency.assessment import (
    EfficiencyAssessment,
    assess,
)
from adapterlab.assess.model.points import main_loading

__all__ = [
    "EfficiencyAssessment",
    "assess",
    "main_loading",
]
