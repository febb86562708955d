"""The rules that choose words: every word that the kit says of a reading is chosen here.

Against a published figure: `against_limit`, and `required` for what is counted. Against what the
parts predict: `against_prediction`, and `agrees` for what is counted. Between readings:
`difference` and `step`. Where there is nothing to choose: `result`, `no_limit`, `not_judged`,
`not_measured`, `does_not_apply`, `not_assessed`. Each returns a `Judgement`; nobody else can make
one. `WORDS` lists every word, most telling first.

Their files: `limits`, `parts`, `differences`, `unjudged`, `many`; the words stand in `words`.

`DOUBT` is the one threshold: a chance that lies below it is not believed. `stand_out` chooses, over
all comparisons of a review, which failures are more than chance would bring.
"""

from adapterlab.judgement.differences import difference, probability_of_order, step
from adapterlab.judgement.limits import against_limit, limit_word, required
from adapterlab.judgement.many import stand_out
from adapterlab.judgement.parts import (
    against_prediction,
    agrees,
    disagreement,
    within,
)
from adapterlab.judgement.unjudged import (
    does_not_apply,
    no_limit,
    not_assessed,
    not_judged,
    not_measured,
    result,
)
from adapterlab.judgement.words import (
    COVERAGE,
    DOES_NOT_APPLY,
    DOUBT,
    ENDS,
    EXPLAINED,
    FALLS_SHORT,
    FALSE_DISCOVERIES,
    MEETS,
    NO_LIMIT,
    NOT_ASSESSED,
    NOT_JUDGED,
    NOT_MEASURED,
    RESULT,
    TOO_CLOSE,
    UNEXPLAINED,
    WORDS,
    Judgement,
)

__all__ = [
    "COVERAGE",
    "DOES_NOT_APPLY",
    "DOUBT",
    "ENDS",
    "EXPLAINED",
    "FALLS_SHORT",
    "FALSE_DISCOVERIES",
    "Judgement",
    "MEETS",
    "NOT_ASSESSED",
    "NOT_JUDGED",
    "NOT_MEASURED",
    "NO_LIMIT",
    "RESULT",
    "TOO_CLOSE",
    "UNEXPLAINED",
    "WORDS",
    "against_limit",
    "against_prediction",
    "agrees",
    "difference",
    "disagreement",
    "does_not_apply",
    "limit_word",
    "no_limit",
    "not_assessed",
    "not_judged",
    "not_measured",
    "probability_of_order",
    "required",
    "result",
    "stand_out",
    "step",
    "within",
]
