"""What the loss budget says: where the watts go, and whether they add up at every load."""

from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.flyback.budget import LossBudget, budget_of
from adapterlab.assess.flyback.case import Load, case_of
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
    judgement_of,
    not_measured,
)
from adapterlab.assess.report.prediction import Prediction, naming
from adapterlab.assess.report.value import Value
from adapterlab.judgement import Judgement

SECTION = "flyback"
FUNCTION = "flyback.conduction_loss"
_OTHERS = {
    rules.EXPLAINED: "At {} both are nearer to each other.",
    rules.UNEXPLAINED: "At {} it is unexplained too.",
}
_QUESTION = "Do the losses that the parts predict add up to those measured"


@dataclass(frozen=True)
class _Compared:
    """One load: what was lost, what the parts predict, and the word, or why there is none."""

    load: Load
    total: Prediction
    reason: str
    judgement: Judgement

    @property
    def left(self) -> Value:
        """What was lost beyond the prediction. [W]."""
        loss, predicted = self.load.loss, self.total.value
        spread = np.hypot(loss.standard_uncertainty, predicted.standard_uncertainty)
        return Value(loss.value - predicted.value, float(spread), "W")

    @property
    def farness(self) -> float:
        """Distance between both in combined standard uncertainties. [1]."""
        left = self.left
        return abs(left.value) / left.standard_uncertainty


def loss_findings(specimen: Specimen) -> tuple[LossBudget | None, list[Finding]]:
    """The loss budget and what it says; a broken rule is said, not raised."""
    case = case_of(specimen)
    if case is None:
        return None, []
    try:
        budget = budget_of(specimen, case)
    except ValueError as error:
        rule = str(error).split(", got")[0].replace("_", " ")
        return None, [not_measured(SECTION, f"{_QUESTION}?", f"no budget: {rule}.", FUNCTION)]
    return budget, [_where(budget), *_against_readings(budget)]


def _place(budget: LossBudget) -> str:
    return f"with {budget.case.name} from {budget.case.mains}"


def _common(budget: LossBudget) -> dict[str, Any]:
    note = "Copper and core of the transformer come from its windings."
    if budget.allowed:
        note = f"Without a figure of their own: {', '.join(budget.allowed)}."
    return {"section": SECTION, "function": FUNCTION, "figure": "flyback_losses", "note": note}


def _where(budget: LossBudget) -> Finding:
    """The largest items at full load."""
    largest = ", ".join(f"{item} {loss}" for item, loss in list(budget.items.items())[:4])
    without = f", not counting {' and '.join(budget.unknown)}" if budget.unknown else ""
    return Finding(
        question="Where does each watt go at full load?",
        judgement=rules.result(),
        sentence=(
            f"At {budget.case.largest_power:.3g} W {_place(budget)} the parts predict a loss of "
            f"{budget.total}{naming(budget.total.rests_on)}{without}; the largest items are "
            f"{largest}."
        ),
        prediction=budget.total.value,
        rests_on=budget.total.rests_on,
        **_common(budget),
    )


def _against_readings(budget: LossBudget) -> list[Finding]:
    if not budget.case.loads:
        needed = "load_sweep.csv with loads of one port that these converters feed."
        return [not_measured(SECTION, f"{_QUESTION}?", needed, FUNCTION)]
    compared = []
    for load, total in zip(budget.case.loads, budget.sums, strict=True):
        reason = _why_not(budget, load.power)
        compared.append(_Compared(load, total, reason, judgement_of(load.loss, total, reason)))
    runs = groupby(compared, lambda item: (item.judgement.word, item.reason))
    found = [_of_a_run(budget, list(run)) for _, run in runs]
    joining = budget.joining
    return found if joining is None else [*found, _over_the_step(budget, *joining)]


def _why_not(budget: LossBudget, power: float) -> str:
    """Why the sum may not be held against a loss at some load; empty if it may."""
    if budget.unknown:
        return f"the sum leaves out {' and '.join(budget.unknown)}"
    if power < budget.lightest_power:
        return (
            f"below some {budget.lightest_power:.2g} W the converter may leave out pulses, which "
            "the sum does not follow"
        )
    return ""


def _of_a_run(budget: LossBudget, run: list[_Compared]) -> Finding:
    """One finding for neighbouring loads with the same word: it shows the one that fits worst."""
    worst = max(run, key=lambda item: item.farness)
    low, high = run[0].load.power, run[-1].load.power
    loads = f"at {high:.3g} W" if low == high else f"from {low:.3g} to {high:.3g} W"
    finding = against_prediction(
        worst.load.loss,
        worst.total,
        f"The loss measured at {worst.load.power:.3g} W {_place(budget)}",
        "the sum of the loss budget",
        not_judged=worst.reason,
        question=f"{_QUESTION} {loads}?",
        origin="load_sweep.csv",
        **_common(budget),
    )
    said = [finding.sentence]
    if not worst.reason:
        said.append(_remainder(worst))
    if len(run) > 1:
        others = f"the other {len(run) - 1} loads {loads}"
        said.append(_OTHERS.get(finding.word, "The same holds for {}.").format(others))
    return replace(finding, sentence=" ".join(said))


def _remainder(worst: _Compared) -> str:
    """What is left over, and which way it points."""
    left = worst.left
    if worst.farness < 2:
        return f"What is left, {left}, may be nothing."
    if left.value > 0:
        return f"{left} are lost in no part that is known."
    over = Value(-left.value, left.standard_uncertainty, "W")
    return f"The parts would lose {over} more than is lost: some of them take less than predicted."


def _over_the_step(budget: LossBudget, place: int, joins: float) -> Finding:
    """Rise of the loss over the load at which another converter joins."""
    below, above = budget.case.loads[place], budget.case.loads[place + 1]
    reason = _why_not(budget, below.power)
    return against_prediction(
        (above.measured - below.measured).shown("W"),
        budget.steps[place],
        f"From {below.power:.3g} to {above.power:.3g} W, across the {joins:g} W above which "
        f"another converter joins, the rise of the loss {_place(budget)}",
        "the sum of the loss budget",
        not_judged=reason,
        question="Does the loss rise as the parts predict where another converter joins?",
        origin="load_sweep.csv",
        **_common(budget),
    )
