"""The two judgements of the kit, and the words for them.

Against a published limit: `limit_word`. Against what the parts predict: `prediction_word`,
with `disagreement` as the figure behind it. `WORDS` lists every word that may be said.
"""

from adapterlab.judgement import (
    EXPLAINED,
    FALLS_SHORT,
    MEETS,
    NO_LIMIT,
    NOT_MEASURED,
    TOO_CLOSE,
    UNEXPLAINED,
    WORDS,
    disagreement,
    limit_word,
    prediction_word,
    probability_of_order,
)

__all__ = [
    "EXPLAINED",
    "FALLS_SHORT",
    "MEETS",
    "NOT_MEASURED",
    "NO_LIMIT",
    "TOO_CLOSE",
    "UNEXPLAINED",
    "WORDS",
    "disagreement",
    "limit_word",
    "prediction_word",
    "probability_of_order",
]
