"""How a converter works: its mode, its peaks, and where both change."""

from collections.abc import Sequence
from itertools import groupby
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.flyback.points import StagePoint
from adapterlab.assess.model.feeds import BRIDGE_DROP, bulk_voltage
from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import span
from adapterlab.flyback import (
    MODES,
    boundary_current,
    operating_point,
    valley_number,
    valley_switching,
)

SECTION = "flyback"
_PLACE = {
    "valley": "in the valley of the bulk voltage",
    "crest": "at the crest of the bulk voltage",
}

_CREST = {False: "at the crest of the bulk voltage", True: "at its crest"}


def note_of(stage: Stage) -> str:
    """What is supposed of a converter, as a sentence; empty if nothing is."""
    return f"Assumed after common practice: {'; '.join(stage.assumed)}." if stage.assumed else ""


def crest(mains_voltage: float) -> float:
    """Bulk voltage at the crest of a mains, behind a bridge of the middle drop. [V]."""
    return float(bulk_voltage((mains_voltage, 50.0), allowance(BRIDGE_DROP).middle))


def ceiling() -> float:
    """Frequency that a quasi-resonant controller does not go above. [Hz]."""
    return allowance("controller.highest_frequency").middle


def result_of(question: str, sentence: str, function: str, **rest: Any) -> Finding:
    """A finding that is held against nothing."""
    return Finding(SECTION, question, rules.result(), sentence, f"flyback.{function}", **rest)


_NAMED = {"boundary": "at the boundary"} | {mode: f"in {mode} conduction" for mode in MODES[::2]}


def _mode_words(points: Sequence[StagePoint]) -> str:
    """Way of working in the valley and at the crest, with the chance of what is not sure."""
    sure = all(point.probability > 0.995 for point in points)
    if sure and len(points) > 1 and len({point.mode for point in points}) == 1:
        return f"{_NAMED[points[0].mode]} all through the ripple of the bulk voltage"
    said = []
    for point in points:
        odds = "" if point.probability > 0.995 else f", with probability {point.probability:.2f}"
        said.append(f"{_NAMED[point.mode]} {_PLACE[point.instant]}{odds}")
    return " and ".join(said).replace("at the crest of the bulk voltage", _CREST[len(said) > 1])


def mode_findings(stage: Stage, points: Sequence[StagePoint]) -> list[Finding]:
    """Mode and duty on every mains, in the valley and at the crest of the bulk voltage."""
    found = []
    for (volts, hertz), several in groupby(points, lambda p: (p.mains_voltage, p.mains_frequency)):
        group = list(several)
        closed = [point.duty_cycle.value.short for point in group]
        found.append(
            result_of(
                f"In which mode does the {stage.name} converter work at full load?",
                f"At {volts:g} V, {hertz:g} Hz and full load ({stage.output_voltage:g} V, "
                f"{stage.output_current:.3g} A) the {stage.name} converter works "
                f"{_mode_words(group)}; its switch is closed for {' to '.join(closed)} of each "
                "period.",
                "operating_point",
                prediction=group[0].duty_cycle.value,
                rests_on=group[0].duty_cycle.rests_on,
                figure="flyback_modes",
                note=note_of(stage),
            )
        )
    return found


def peak_finding(stage: Stage, points: Sequence[StagePoint]) -> Finding:
    """The largest peak; where it is the same everywhere, at the lowest input voltage."""
    largest = max(point.primary_peak.value.value for point in points)
    alike = [point for point in points if point.primary_peak.value.value > largest * (1 - 1e-6)]
    point = min(alike, key=lambda point: point.input_voltage.value.value)
    return result_of(
        f"How large are the current peaks of the {stage.name} converter?",
        f"The parts predict a primary peak of {point.primary_peak} in the {stage.name} converter "
        f"at {point.mains_voltage:g} V, {point.mains_frequency:g} Hz and full load, "
        f"{_PLACE[point.instant]}; the secondary then starts at {point.secondary_peak}.",
        "operating_point",
        prediction=point.primary_peak.value,
        rests_on=point.primary_peak.rests_on,
        figure="flyback_waveforms",
        note=note_of(stage),
    )


def _frequency(stage: Stage, source: Any, numbers: dict[str, Any]) -> tuple[Any, Any]:
    """Frequency of a stage, below its ceiling, and the valley it waits for (0 where unknown)."""
    if stage.switching_frequency is not None:
        return stage.switching_frequency, 0
    if stage.drain_capacitance is None:
        edge = operating_point(source, **numbers).switching_frequency
        return np.minimum(edge, ceiling()), 0
    ringing = {key: value for key, value in numbers.items() if key != "switching_frequency"}
    ringing["drain_capacitance"] = stage.drain_capacitance
    number = valley_number(source, highest_frequency=ceiling(), **ringing)
    return valley_switching(source, valley=number, **ringing).switching_frequency, number


def range_finding(specimen: Specimen, stage: Stage, points: Sequence[StagePoint]) -> Finding:
    """Modes, duty and frequency from the lowest valley to the highest crest, at every output."""
    low = min(point.input_voltage.value.value for point in points)
    source = np.linspace(low, crest(highest_mains(specimen)), 25)
    output = np.linspace(stage.lowest_voltage, stage.highest_voltage, 25)[:, None]
    full = stage.output_voltage * stage.output_current
    current = np.minimum(full / output, stage.largest_current)
    load = stage.numbers() | {"output_voltage": output, "output_current": current}
    rate, valley = _frequency(stage, source, load)
    point = operating_point(source, **load | {"switching_frequency": rate})
    duty = f"{span(round(point.duty_cycle.min(), 2), round(point.duty_cycle.max(), 2), '%')}"
    reach = f"{stage.highest_voltage:g} V out"
    if stage.lowest_voltage < stage.highest_voltage:
        reach = f"{stage.lowest_voltage:g} to {reach}"
    way, note = f"works {_ways(point.mode)}", note_of(stage)
    if stage.switching_frequency is None:
        hertz = span(round(float(rate.min()), -3), round(float(rate.max()), -3), "Hz")
        last = int(np.max(valley))
        numbers = "1" if last == 1 else f"1 to {last}"
        which = f" in valley {numbers} of its ringing" if last else ""
        way = f"closes its switch after its core has emptied{which}, at {hertz}"
        note = f"{note} {_ceiling_note()}".strip()
    return result_of(
        f"Does the {stage.name} converter keep its way of working over its whole range?",
        f"From {low:.0f} V of bulk voltage to {source[-1]:.0f} V and from {reach}, at the most "
        f"current it may give, the {stage.name} converter {way}; its switch is closed for {duty} "
        "of each period.",
        "operating_point",
        figure="flyback_modes",
        note=note,
    )


def _ways(modes: Any) -> str:
    """The modes that occur, as said aloud."""
    return " or ".join(_NAMED[mode] for mode in MODES if (modes == mode).any())


def _ceiling_note() -> str:
    return (
        f"A ceiling of {ceiling() / 1e3:.0f} kHz is assumed (common practice), above which the "
        "controller waits for a later valley."
    )


def change_finding(stage: Stage, points: Sequence[StagePoint]) -> Finding:
    """Load at which the mode changes, or the valley that a quasi-resonant controller takes."""
    question = f"At which load does the {stage.name} converter change its way of working?"
    if stage.switching_frequency is None:
        return _valleys(stage, question)
    numbers = stage.numbers()
    full = numbers.pop("output_current")
    sources = [point.input_voltage.value.value for point in points]
    said = []
    for label, source in (
        ("in the lowest valley", min(sources)),
        ("at the highest crest", max(sources)),
    ):
        edge = boundary_current(source, **numbers)
        place = f"{label} of the bulk voltage ({source:.0f} V)"
        reached = "within" if edge < full else "beyond"
        said.append(f"above {edge:.2g} A {place}, {reached} its full load of {full:.3g} A")
    return result_of(
        question,
        f"At {stage.output_voltage:g} V out the current of the {stage.name} converter no longer "
        f"reaches zero {'; and '.join(said)}.",
        "boundary_current",
        figure="flyback_modes",
        note=note_of(stage),
    )


def _valleys(stage: Stage, question: str) -> Finding:
    if stage.drain_capacitance is None:
        return not_measured(
            SECTION,
            question,
            "drain_capacitance of the converter, from the period of its idle ringing.",
            "flyback.valley_switching",
        )
    source = crest(230.0)
    numbers = stage.numbers()
    numbers.pop("switching_frequency")
    numbers["drain_capacitance"] = stage.drain_capacitance
    numbers["output_current"] = stage.output_current * np.array([1.0, 0.5, 0.25, 0.1])
    number = valley_number(source, highest_frequency=ceiling(), **numbers)
    point = valley_switching(source, valley=number, **numbers)
    loads = ("full load", "half", "a quarter", "a tenth")
    taken = ", ".join(
        f"number {which:.0f} at {load} ({rate / 1e3:.0f} kHz)"
        for which, load, rate in zip(number, loads, point.switching_frequency, strict=True)
    )
    return result_of(
        question,
        f"Once its core is empty, the drain of the {stage.name} converter rings with a period "
        f"of {point.ring_period[0] * 1e6:.2g} µs; at 230 V its valley lies at "
        f"{point.valley_voltage[0]:.0f} V, and a controller that stays below "
        f"{ceiling() / 1e3:.0f} kHz takes {taken}.",
        "valley_switching",
        figure="flyback_modes",
        note=_ceiling_note(),
    )
