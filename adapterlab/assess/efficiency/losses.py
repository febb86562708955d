"""Where the watts go as the load grows, and whether the adapter rests without one."""

from collections.abc import Sequence

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.loadings import Loading, main_loading
from adapterlab.assess.model.no_load import at_rest
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import Value

SECTION = "efficiency"
_FUNCTION = "efficiency.fit_loss_curve"


def loss_findings(loadings: Sequence[Loading]) -> list[Finding]:
    """The three terms of the loss curve that reaches the most power."""
    loading = main_loading(loadings)
    if loading is None or loading.curve is None:
        needed = "at least four load points of one mode on one mains."
        question = "Where do the watts go as the load grows?"
        return [not_measured(SECTION, question, needed, _FUNCTION)]
    curve, spread = loading.curve, np.sqrt(np.diag(loading.curve.covariance))
    fixed = Value(curve.fixed, float(spread[0]), "W")
    share = Value(curve.proportional, float(spread[1]), "%")
    top = curve.largest_power
    square = Value(curve.quadratic * top**2, float(spread[2]) * top**2, "W")
    return [
        Finding(
            SECTION,
            "Where do the watts go as the load grows?",
            rules.result(),
            f"With {loading.name} on {loading.mains} the adapter turns {fixed} into heat at any "
            f"load, {share} of what it delivers, and a part that grows with the square and "
            f"reaches {square} at {top:.3g} W.",
            _FUNCTION,
            fixed,
            origin="load_sweep.csv",
            figure="efficiency_losses",
            note="The three terms are correlated: their sum is known better than each of them.",
        )
    ]


def rest_findings(specimen: Specimen, loadings: Sequence[Loading]) -> list[Finding]:
    """The fixed loss under load beside the power without load: skipping of cycles."""
    loading = main_loading(loadings)
    if loading is None or loading.curve is None:
        return []
    reading = at_rest(specimen, loading.mains)
    if reading is None:
        return []
    fixed = Value(loading.curve.fixed, float(np.sqrt(loading.curve.covariance[0, 0])), "W")
    idle = reading.power
    judged = rules.difference(
        fixed.value - idle.value,
        float(np.hypot(fixed.standard_uncertainty, idle.standard_uncertainty)),
    )
    sentence = (
        f"Under load the fixed part of the loss is {fixed} ({loading.name} on {loading.mains}); "
        f"with nothing plugged in the adapter draws {idle}"
    )
    if not judged.called:
        sentence += ": as far as can be told the same, as of a converter that never rests."
    elif fixed.value > idle.value:
        sentence += ", as a converter does that skips most of its switching cycles while idle."
    else:
        sentence += ": something draws power that the loss under load does not show."
    return [
        Finding(
            SECTION,
            "Does the adapter rest when nothing is plugged in?",
            judged,
            sentence,
            _FUNCTION,
            idle,
            origin=f"no_load.csv line {reading.line}",
            figure="efficiency_no_load",
        )
    ]
