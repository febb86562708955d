"""What a bench must be able to read, and how small a difference it can tell.

Which points are to be taken, and with which meters, is decided in ``assess/bench_plan.py``.
"""

from adapterlab.bench_plan.plan import (
    ExpectedInput,
    coarsest_resolution,
    expected_input,
    input_drift,
    is_steady,
    ratio_uncertainty,
    smallest_difference,
)

__all__ = [
    "ExpectedInput",
    "coarsest_resolution",
    "expected_input",
    "input_drift",
    "is_steady",
    "ratio_uncertainty",
    "smallest_difference",
]
