"""The plan of a bench session for one adapter: points worth taking, meters, differences."""

from adapterlab.assess.bench_plan.assessment import BenchPlanAssessment, assess

__all__ = ["BenchPlanAssessment", "assess"]
