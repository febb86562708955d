"""Ripple against load: whether it jumps, what may be behind it, how large the jump should be."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import (
    SECTION,
    LoadedOutput,
    mains_numbers,
    missing,
)
from adapterlab.assess.output_quality.prediction import (
    OVERLOAD,
    PredictedSweep,
    converters_on,
    joins_above,
    predicted_sweep,
)
from adapterlab.assess.output_quality.resistance import resolution_of
from adapterlab.assess.output_quality.ripple_capture import RippleCapture, millivolts
from adapterlab.assess.report.finding import Finding, against_prediction
from adapterlab.assess.report.prediction import naming
from adapterlab.assess.report.value import Value
from adapterlab.judgement import Judgement
from adapterlab.output_quality import RippleStep, find_ripple_step

_LEAST_LOADS = 8
# Loads must span this share of the largest.
_LEAST_SPAN = 0.3
# A step belongs to a converter that joins at a load, from this share of it up to that one.
_JOINS_FROM, _JOINS_TO = 0.5, 1.1
# A range that ends so far above the larger side may still have been left.
_RANGE_REACH = 1.05


@dataclass(frozen=True)
class Cause:
    """One thing that can make the ripple jump.

    Attributes
    ----------
    name : str
        What it is.
    possible : bool or None
        Whether the dossier allows it; None where it does not tell.
    reason : str
        Why, or why not.
    """

    name: str
    possible: bool | None
    reason: str


@dataclass(frozen=True)
class RippleSweep:
    """Ripple of one output against its load.

    Attributes
    ----------
    label : str
        Port, mode and mains.
    port, mode : str
        As on the nameplate.
    power, ripple, ripple_uncertainty : numpy.ndarray
        Output power, peak-to-peak ripple and its standard uncertainty. [W], [V], each shape (n,)
    step : RippleStep
        What `find_ripple_step` says of it.
    causes : tuple of Cause
        What may be behind a step; empty if there is none.
    predicted : PredictedSweep or None
        What the parts predict; None if they are not known.
    """

    label: str
    port: str
    mode: str
    power: Any
    ripple: Any
    ripple_uncertainty: Any
    step: RippleStep
    causes: tuple[Cause, ...]
    predicted: PredictedSweep | None


def _second_converter(specimen: Specimen, port: str, step: RippleStep, most: float) -> Cause:
    name = "a second converter joining"
    converters = converters_on(specimen, port)
    rated = sum(item.rated_power for item in converters)
    if not converters:
        return Cause(name, None, f"no converter is listed for {port}")
    if most > OVERLOAD * rated:
        return Cause(
            name,
            None,
            f"the converters listed for {port} are rated {rated:g} W, less than the {most:.3g} W "
            "it gives",
        )
    if len(converters) == 1:
        return Cause(name, False, f"one converter is listed for {port}")
    joins = [joins_above(converters, item) for item in converters[1:]]
    near = min(joins, key=lambda power: abs(power - step.load))
    fits = _JOINS_FROM * near < step.load < _JOINS_TO * near
    reason = (
        f"{len(converters)} converters feed {port}, and above {near:g} W the "
        f"{converters[0].name} one alone is not enough"
    )
    if not fits and any(item.joins_above is None for item in converters[1:]):
        return Cause(name, None, "the load above which the other one joins is not noted")
    return Cause(name, fits, reason)


def _burst(specimen: Specimen, port: str, step: RippleStep) -> Cause:
    share = specimen.allowance("controller.burst_share").middle
    converters = converters_on(specimen, port)
    rated = sum(item.rated_power for item in converters) or specimen.adapter.nameplate.rated_power
    light = step.load < share * rated and step.after < step.before
    reason = (
        f"it would lie below about {100 * share:.0f} % of {rated:g} W, and the ripple would fall "
        "there"
    )
    return Cause("leaving burst mode", light, reason)


def _valley(specimen: Specimen, port: str) -> Cause:
    name = "a change of valley"
    construction, converters = specimen.adapter.construction, converters_on(specimen, port)
    if construction.topology == "quasi-resonant flyback":
        return Cause(name, True, "the converter switches in a valley of its ringing")
    if not converters:
        return Cause(name, None, f"no converter is listed for {port}")
    if any(item.switching_frequency is None for item in converters):
        return Cause(name, None, "the frequency of a converter is not noted")
    return Cause(name, False, "the converters listed keep a fixed frequency")


def _range(specimen: Specimen, step: RippleStep) -> Cause:
    name = "a change of the meter's range"
    spans = [meter.full_scale for meter in specimen.adapter.instruments_for("ripple")]
    if not any(spans):
        return Cause(name, None, "the ranges of the meter are not listed")
    low, high = sorted((step.before, step.after))
    crossed = [span for span in spans if span and low <= span <= _RANGE_REACH * high]
    if crossed:
        return Cause(name, True, f"a range ends at {1e3 * crossed[0]:g} mV, between the two sides")
    return Cause(
        name, False, f"no range of the meter ends between {1e3 * low:.0f} and {1e3 * high:.0f} mV"
    )


def causes_of(specimen: Specimen, port: str, step: RippleStep, most: float) -> tuple[Cause, ...]:
    """The four usual suspects, and which of them the dossier allows, of a port giving `most`."""
    return (
        _second_converter(specimen, port, step, most),
        _burst(specimen, port, step),
        _valley(specimen, port),
        _range(specimen, step),
    )


def _sweep(specimen: Specimen, group: Sequence[LoadedOutput], label: str) -> RippleSweep:
    ordered = sorted(group, key=lambda item: item.power)
    power = np.array([item.power for item in ordered])
    swings = [item.ripple or Value(0.0, 0.0, "V") for item in ordered]
    ripple = np.array([swing.value for swing in swings])
    step = find_ripple_step(power, ripple, resolution=resolution_of(specimen, "ripple"))
    first = group[0]
    mains = float(np.median([item.mains_voltage for item in group]))
    asked = float(np.median([item.asked for item in group]))
    return RippleSweep(
        label,
        first.port,
        first.mode,
        power,
        ripple,
        np.array([swing.standard_uncertainty for swing in swings]),
        step,
        causes_of(specimen, first.port, step, float(power[-1])) if step.found else (),
        predicted_sweep(specimen, first.port, asked, mains, power),
    )


def sweeps_of(
    specimen: Specimen, outputs: Sequence[LoadedOutput]
) -> tuple[tuple[RippleSweep, ...], list[Finding]]:
    """Every output whose ripple was read, alone and on one mains, at enough loads.

    The second result holds a finding for each that could not be worked out.
    """
    read = [item for item in outputs if item.alone and item.ripple and item.kind == "fixed"]
    numbers = dict(
        zip(map(id, read), mains_numbers(item.mains_voltage for item in read), strict=True)
    )
    groups: dict[tuple[str, str, int], list[LoadedOutput]] = {}
    for item in read:
        groups.setdefault((item.port, item.mode, numbers[id(item)]), []).append(item)
    found, troubles = [], []
    for (port, mode, _), group in groups.items():
        power = [item.power for item in group]
        if len(set(power)) < _LEAST_LOADS or max(power) - min(power) < _LEAST_SPAN * max(power):
            continue
        mains = float(np.median([item.mains_voltage for item in group]))
        label = f"{port}, {mode}, {mains:.0f} V mains"
        try:
            found.append(_sweep(specimen, group, label))
        except ValueError as error:
            question = f"Does the ripple jump with the load ({label})?"
            troubles.append(missing(question, f"{error}.", "find_ripple_step"))
    if not found and not troubles:
        needed = "load_sweep.csv with ripple at 8 or more loads of one mode, one port loaded."
        troubles.append(missing("Does the ripple jump with the load?", needed, "find_ripple_step"))
    return tuple(found), troubles


def word_of(causes: Sequence[Cause]) -> Judgement:
    """Judgement of a step: allowed by a cause, by none, or not to be told."""
    if any(cause.possible for cause in causes):
        return rules.agrees(True)
    unknown = [cause.reason for cause in causes if cause.possible is None]
    return rules.not_judged(unknown[0]) if unknown else rules.agrees(False)


def _evidence(sweep: RippleSweep, captures: Sequence[RippleCapture]) -> str:
    """What captures on both sides of a step show at the frequency of a second converter."""
    said, name = [], ""
    for capture in captures:
        asked = capture.record.capture
        if (asked.port, asked.mode) == (sweep.port, sweep.mode) and len(capture.lines) > 1:
            line = capture.lines[1]
            name = line.converter
            said.append(
                f"{millivolts(line.amplitude)} at {asked.load_current or 0:g} A "
                f"({line.frequency / 1e3:.0f} kHz)"
            )
    return f"Captures show of the {name} converter {', '.join(said)}. " if len(said) > 1 else ""


def _jump(sweep: RippleSweep, captures: Sequence[RippleCapture]) -> Finding:
    """A step with the causes that the parts allow, or none."""
    step = sweep.step
    common: dict[str, Any] = {
        "section": SECTION,
        "question": f"Does the ripple jump with the load ({sweep.label})?",
        "origin": "load_sweep.csv",
        "function": "output_quality.find_ripple_step",
        "figure": "output_quality_ripple_step",
    }
    if not step.found:
        sentence = (
            f"Ripple of {sweep.label}: no step shows (probability {step.probability:.2f} that "
            "there is one)."
        )
        return Finding(judgement=rules.step(step.probability), sentence=sentence, **common)
    low, high = step.interval
    change = Value(step.after - step.before, step.step_uncertainty, "V")
    odds = "over 0.9999" if step.probability > 0.9999 else f"{step.probability:.4f}"
    judgement = word_of(sweep.causes)
    allowed = [cause for cause in sweep.causes if cause.possible]
    open_ones = [cause for cause in sweep.causes if cause.possible is None]
    rest = [cause for cause in sweep.causes if cause.possible is False]
    sentence = (
        f"Between {low:.0f} and {high:.0f} W the ripple of {sweep.label} changes at one stroke by "
        f"{change}, from {1e3 * step.before:.0f} to {1e3 * step.after:.0f} mV (probability {odds} "
        "that it is a step)"
    )
    if allowed:
        names = " or ".join(cause.name for cause in allowed)
        sentence += f": the parts list allows {names}: {judgement.word}."
    elif open_ones:
        sentence += f", but {judgement.reason}, so no verdict rests on it."
    else:
        sentence += (
            f": no cause that the parts list allows: {judgement.word}. A part that is not listed "
            "is the first to look for."
        )
    note = "".join(
        f"{cause.name[0].upper()}{cause.name[1:]}: {cause.reason}. " for cause in allowed
    )
    note += _evidence(sweep, captures)
    if open_ones:
        said = "; ".join(f"{cause.name} ({cause.reason})" for cause in open_ones)
        note += f"Can't be told: {said}. "
    if rest:
        note += "Ruled out: " + "; ".join(f"{cause.name} ({cause.reason})" for cause in rest) + "."
    return Finding(
        judgement=judgement,
        sentence=sentence,
        reading=Value(step.load, (high - low) / np.sqrt(12), "W"),
        note=note.strip(),
        **common,
    )


def _size(sweep: RippleSweep) -> Finding | None:
    """Size of a step as read against what the joining converter predicts, with its causes."""
    predicted, measured = sweep.predicted, sweep.step
    if predicted is None or predicted.step is None or predicted.ratio is None:
        return None
    step, names = predicted.step, predicted.output.names
    first, late = names[0], names[-1]
    joins = f"the {late} converter joining above {step.load_power:g} W"
    alone = ", none of which comes along," if step.from_capacitors == 1 else " in parallel"
    causes = (
        f"Three causes make {step.ratio:.2f} times of the switching ripple: the lower peak of the "
        f"{first} converter, which carries less, {step.from_current:.2f} times; the phase, as the "
        f"pulses of the {late} converter meet its own, {step.from_phase:.2f} times; the output "
        f"capacitors{alone} {step.from_capacitors:.2f} times."
    )
    common: dict[str, Any] = {
        "section": SECTION,
        "question": f"Is the jump of the ripple as large as predicted ({sweep.label})?",
        "origin": "load_sweep.csv",
        "function": "flyback.ripple_step",
        "figure": "output_quality_ripple_step",
        "note": "Predicted as a meter that holds peaks reads it, noise and twice the mains "
        "included.",
    }
    if not measured.found:
        shown = f"{predicted.ratio} times{naming(predicted.ratio.rests_on)}"
        return Finding(
            judgement=rules.result(),
            sentence=f"The ripple of {sweep.label} shows no step; {joins} predicts {shown}. "
            f"{causes}",
            prediction=predicted.ratio.value,
            rests_on=predicted.ratio.rests_on,
            **common,
        )
    finding = against_prediction(
        Value(measured.after / measured.before, measured.step_uncertainty / measured.before, ""),
        predicted.ratio,
        f"The ripple of {sweep.label} just above its step, over that just below,",
        joins,
        not_judged=predicted.output.doubt_at(float(sweep.power[-1])),
        **common,
    )
    return replace(finding, sentence=f"{finding.sentence} {causes}")


def step_findings(
    sweeps: Sequence[RippleSweep], captures: Sequence[RippleCapture]
) -> list[Finding]:
    """For each sweep whether it jumps, and how large the jump should be if one is predicted."""
    found = []
    for sweep in sweeps:
        found.append(_jump(sweep, captures))
        size = _size(sweep)
        if size is not None:
            found.append(size)
    return found
