"""What an assessment hands on: values, predictions, limits, findings and the ledger."""

from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    against_prediction,
    does_not_apply,
    judgement_of,
    no_limit,
    not_measured,
    why_not_judged,
)
from adapterlab.assess.report.ledger import Ledger
from adapterlab.assess.report.prediction import ORIGINS, Prediction, Share, naming
from adapterlab.assess.report.value import Value, span

__all__ = [
    "ORIGINS",
    "Finding",
    "Ledger",
    "Limit",
    "Prediction",
    "Share",
    "Value",
    "against_limit",
    "against_prediction",
    "does_not_apply",
    "judgement_of",
    "naming",
    "no_limit",
    "not_measured",
    "span",
    "why_not_judged",
]
