"""What capacitance the reading implies, and what the parts leave over of it."""

from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, judgement_of
from adapterlab.assess.report.value import Value
from adapterlab.assess.touch_current.model import Barrier, Implied, RailModel
from adapterlab.assess.touch_current.readings import SECTION, TouchReading
from adapterlab.judgement import EXPLAINED, UNEXPLAINED, agrees
from adapterlab.touch_current import (
    InferredCapacitance,
    UnexplainedCapacitance,
    infer_barrier_capacitance,
    unexplained_capacitance,
)

QUESTION = "What capacitance does the reading imply?"
_CAUSES = (
    "Usual causes of a larger value: a second capacitor not yet found, the transformer's "
    "inter-winding capacitance, a screen joined to the output, a part whose marking was misread. "
    "Of a smaller one: a part in series, a cracked ceramic, a bad contact of the network."
)


def inferred_capacitance(
    specimen: Specimen, reading: TouchReading, model: RailModel, implied: Implied
) -> InferredCapacitance:
    """The implied capacitance with its interval.

    Raises
    ------
    ValueError
        If no barrier part could carry the reading.
    """
    mains = specimen.reading("mains voltage", reading.mains_voltage, "V")
    frequency = specimen.reading("mains frequency", reading.mains_frequency, "Hz")
    return infer_barrier_capacitance(
        reading.current.value,
        mains.value,
        frequency.value,
        model.rail,
        reading.network or "weighted",
        touch_current_uncertainty=reading.current.standard_uncertainty,
        mains_voltage_uncertainty=mains.standard_uncertainty,
        mains_frequency_uncertainty=frequency.standard_uncertainty,
        model_uncertainty=implied.model_uncertainty,
        model_factor=implied.model_factor,
    )


def rest_of(inferred: InferredCapacitance, barrier: Barrier) -> UnexplainedCapacitance:
    """What the parts leave over, every value within a tolerance equally likely."""
    low, high = barrier.marked_ends
    windings = barrier.windings
    return unexplained_capacitance(
        inferred.capacitance,
        inferred.standard_uncertainty,
        barrier.marked,
        (high - low) / 2 / barrier.marked,
        0.0 if windings is None else windings.middle,
        0.0 if windings is None else float(windings.distribution.std()),
    )


def capacitance_finding(
    inferred: InferredCapacitance,
    implied: Implied,
    reading: TouchReading,
    barrier: Barrier | None,
    rest: UnexplainedCapacitance | None,
) -> Finding:
    """The implied capacitance against what the parts add up to."""
    found = Value(inferred.capacitance, inferred.standard_uncertainty, "F")
    common: dict[str, Any] = {
        "section": SECTION,
        "question": QUESTION,
        "reading": found,
        "origin": reading.origin,
        "function": "touch_current.infer_barrier_capacitance",
        "figure": "touch_current_capacitance",
    }
    start = f"The reading implies {found} across the barrier"
    if barrier is None or rest is None:
        return Finding(
            judgement=rules.result(),
            sentence=f"{start}; no marked value is listed.",
            rests_on=implied.prediction.rests_on,
            **common,
        )
    expected = barrier.prediction
    judged = judgement_of(found, expected)
    one = barrier.is_one
    if judged.word == UNEXPLAINED:
        verb, end = (
            ("leave", "without a part to its name")
            if rest.capacitance > 0
            else ("promise", "more than that")
        )
        verb += "s" if one else ""
        tail = f"{verb} {_size(rest)} {end}: {judged.word}."
    else:
        tail = f"{'covers' if one else 'cover'} it within the tolerance: {judged.word}"
        if judged.only_at_the_ends:
            tail += " only with parts at the ends of their tolerances"
        tail += "."
    notes = [] if judged.word == EXPLAINED else [_CAUSES]
    largest = allowance("barrier.largest_usual_part").middle
    if inferred.capacitance > largest:
        shown = Value(largest, 0.0, "F")
        notes.append(f"Barrier capacitors of class Y1 usually end at {shown}.")
    return Finding(
        judgement=judged,
        sentence=f"{start}; {barrier.known} {tail}",
        note=" ".join(notes),
        prediction=expected.value,
        rests_on=expected.rests_on,
        **common,
    )


def _size(rest: UnexplainedCapacitance) -> str:
    """What is left over, or promised too much, with its interval."""
    low, high = sorted(abs(end) for end in rest.interval)
    if rest.interval[0] < 0 < rest.interval[1]:
        low = 0.0
    middle, low_text, high_text = (
        Value(float(f"{item:.2g}"), 0.0, "F").short
        for item in (np.abs(rest.capacitance), low, high)
    )
    return f"{middle} (95 %: {low_text} to {high_text})"


def too_large(reading: TouchReading) -> Finding:
    """A reading that no barrier part could carry."""
    most = Value(allowance("barrier.largest_capacitance").middle, 0.0, "F")
    return Finding(
        section=SECTION,
        question=QUESTION,
        judgement=agrees(False),
        sentence=f"{reading.subject} is {reading.current}, more than any barrier part could "
        f"carry: the largest capacitance that any rule lets across a barrier is {most}: "
        f"{UNEXPLAINED}.",
        reading=reading.current,
        origin=reading.origin,
        function="touch_current.infer_barrier_capacitance",
        figure="touch_current_readings",
        note="Look for a wrong unit or range first; then unplug: it may be a conducting path, or "
        "an output joined to the mains.",
    )
