"""Steadiness of the output of a dossier: voltage, ripple, transients, claims of the label."""

from adapterlab.assess.output_quality.assessment import OutputQualityAssessment, assess

__all__ = ["OutputQualityAssessment", "assess"]
