"""Efficiency of a dossier: averages, losses and no-load power against published rules."""

from adapterlab.assess.efficiency.assessment import EfficiencyAssessment, assess

__all__ = ["EfficiencyAssessment", "assess"]
