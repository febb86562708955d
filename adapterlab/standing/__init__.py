"""Where one adapter stands among others: percentile, robust distance, probability of a rank.

Equations only: which adapters count as peers, and which of their figures are compared, is
decided in ``assess/standing.py``.
"""

from adapterlab.standing.rank import (
    PercentileInterval,
    percentile_interval,
    percentile_rank,
    rank_probability,
    robust_z_score,
)

__all__ = [
    "PercentileInterval",
    "percentile_interval",
    "percentile_rank",
    "rank_probability",
    "robust_z_score",
]
