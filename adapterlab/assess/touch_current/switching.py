"""Whether switching-frequency current flows through the body.

One meter took the weighted and the unweighted reading, so its gain cancels.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy import stats

from adapterlab.assess.model.inputs import Input, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, against_prediction, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.assess.touch_current.model import RailModel
from adapterlab.assess.touch_current.readings import (
    SECTION,
    TouchReading,
    beside_another,
    repeatability,
)

QUESTION = "Does switching-frequency current flow through the body?"


def weighted_and_unweighted(
    readings: Sequence[TouchReading],
) -> tuple[TouchReading, TouchReading] | None:
    """The first weighted rms reading that has an unweighted one at the same condition."""
    plain = {r.condition: r for r in reversed(readings) if r.kind == ("unweighted", "rms")}
    for reading in readings:
        if reading.kind == ("weighted", "rms") and reading.condition in plain:
            return reading, plain[reading.condition]
    return None


def rounded(reading: TouchReading, step: float) -> Input:
    """A reading as known against another of the same meter: by its last digit alone."""
    value = reading.current.value
    return Input(
        f"touch current, line {reading.line}, last digit",
        stats.norm(value, step) if step > 0 else value,
        "A",
        "measured",
        f"the last digit of the reading of {Value(value, 0.0, 'A')}",
        reading.origin,
    )


def switching_finding(
    specimen: Specimen, readings: Sequence[TouchReading], model: RailModel
) -> Finding:
    """Whether the unweighted reading holds more than the mains puts into it."""
    pair = weighted_and_unweighted(readings)
    if pair is None or pair[0].current.value <= 0:
        needed = (
            "the same condition read weighted and unweighted, rms. So it is not known how much "
            "of the converter's own current, which the weighting hides, flows beside the mains."
        )
        return not_measured(SECTION, QUESTION, needed, "touch_current.switching_current")
    weighted, plain = pair
    step = repeatability(specimen)
    guess = weighted.current.value / model.ideal(weighted)
    here, there = (model.per_farad(reading, guess) for reading in pair)
    ratio = specimen.allowance("touch_current.network_ratio")

    def unweighted(current: Any, network_ratio: Any, **values: Any) -> Any:
        return current * (1 + network_ratio) * there.at(guess, **values) / here.at(guess, **values)

    inputs = {"current": rounded(weighted, step), "network_ratio": ratio} | here.inputs
    expected = predict(unweighted, inputs, "A")[0]
    seen, most = plain.current.value, expected.value.value
    excess = max(seen**2 - most**2, 0.0)
    doubt = float(np.hypot(step, expected.value.standard_uncertainty))
    hidden = Value(float(f"{np.sqrt(excess + 4 * seen * doubt):.2g}"), 0.0, "A")
    return against_prediction(
        beside_another(plain, step),
        expected,
        f"Unweighted touch current at {plain.condition}",
        "the weighted reading, if all of it comes from the mains,",
        section=SECTION,
        question=QUESTION,
        origin=plain.origin,
        figure="touch_current_network",
        function="touch_current.switching_current",
        note=f"Up to {hidden.short} of switching-frequency current (95 %) could hide beside the "
        "mains' part. It comes through the windings; nerves hardly feel it, "
        "so only the unweighted network shows it.",
    )
