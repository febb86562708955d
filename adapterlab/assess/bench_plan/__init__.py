"""The plan of a bench session for one adapter, and what its meters can tell."""

from adapterlab.assess.bench_plan.assessment import (
    METERS,
    SECTION,
    BenchPlanAssessment,
    assess,
    meter_needs,
)

__all__ = [
    "METERS",
    "SECTION",
    "BenchPlanAssessment",
    "assess",
    "meter_needs",
]
