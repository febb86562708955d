"""Whether every distance is enough for what the published rules ask at its place."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.insulation.places import (
    SECTION,
    at_core,
    before_the_fuse,
    has_slot,
    is_joint,
)
from adapterlab.assess.insulation.requirements import RULES, Requirement, place_of, required
from adapterlab.assess.insulation.voltages import WindingVoltage, at_transformer
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, against_limit
from adapterlab.assess.report.value import Value
from adapterlab.dossier.distance import Distance
from adapterlab.published import rows

KINDS = {"clearance": "Clearance", "creepage": "Creepage distance", "thickness": "Thickness"}
FUNCTIONS = {
    "clearance": "insulation.required_clearance",
    "creepage": "insulation.required_creepage",
    "thickness": "insulation.required_thickness",
}
_SEAM = (
    "a joint is no wall in one piece: the way to the hand leads through its gap, where clearance "
    "and creepage count"
)
_CEMENTED = (
    "what a cemented joint must keep (IEC 62368-1, 5.4.4.5) is known by its clause number only"
)


@dataclass(frozen=True)
class Gap:
    """One distance of the dossier with what is asked for there.

    Attributes
    ----------
    distance : Distance
        As in the dossier.
    reading : Value
        With its standard uncertainty. [m]
    working_voltage, peak_voltage : float
        Rms and peak that count. [V]
    requirements : tuple of Requirement
        One for each rule that has a figure, the rule in force first; a superseded one only where
        it asks for more. Empty where the figures do not cover such a place.
    notes : tuple of str
        What was assumed, and what the reader must know.
    troubles : tuple of str
        Why a rule has no figure.
    why_not : str
        Why no verdict may rest on the reading, as the end of a sentence; empty if one may.
    not_covered : str
        Why the figures for its kind do not cover the place; empty if they do.
    """

    distance: Distance
    reading: Value
    working_voltage: float
    peak_voltage: float
    requirements: tuple[Requirement, ...]
    notes: tuple[str, ...]
    troubles: tuple[str, ...]
    why_not: str = ""
    not_covered: str = ""


def reading_of(specimen: Specimen, distance: Distance) -> tuple[Value, list[str]]:
    """Distance with its uncertainty, and what was assumed for it.

    Limits either way are taken as rectangular. Where none are noted, a calliper on a board is
    assumed to come out within an allowance, and its own accuracy adds to it.
    """
    if distance.uncertainty is not None:
        return Value(distance.distance, float(distance.uncertainty / np.sqrt(3)), "m"), []
    deviation = specimen.allowance("calliper.deviation")
    note = (
        f"No uncertainty is noted; ±{deviation.ends[1] * 1e3:g} mm is assumed, usual for a "
        "calliper on a board."
    )
    listed = specimen.is_metered("distance")
    own = specimen.reading("distance", distance.distance, "m").standard_uncertainty
    spread = float(np.hypot(deviation.distribution.std(), own if listed else 0.0))
    return Value(distance.distance, spread, "m", accuracy_assumed=not listed), [note]


def least_slot(pollution_degree: int) -> float:
    """Width below which a slot does not lengthen a way along the surface. [m]."""
    row = rows(SECTION, "slots", pollution_degree=pollution_degree)[0]
    return float(row["width"]) * 1e-3


def _slot(distance: Distance) -> str:
    """Why a creepage around a slot can't be judged; empty if it can."""
    if not has_slot(distance):
        return ""
    degree = distance.pollution_degree or 2
    least = Value(least_slot(degree), 0.0, "m")
    if distance.slot_width is None:
        return (
            f"the width of the slot is not noted, and one below {least} does not lengthen the way"
        )
    if distance.slot_width < least_slot(degree):
        shown = Value(distance.slot_width, 0.0, "m")
        return f"the slot is {shown} wide, and below {least} the way leads straight across it"
    return ""


def _functional(specimen: Specimen, place: str) -> str:
    fuse = before_the_fuse(specimen, place)
    if fuse:
        return (
            f"Before {fuse} a short circuit here is fed by the mains alone, so the distance may "
            "not be cut short on the plea that it does no harm."
        )
    return (
        "Functional insulation may be shorter only behind the fuse, and only where a short circuit "
        "does no harm."
    )


def _voltages(
    specimen: Specimen, distance: Distance, windings: Sequence[WindingVoltage], notes: list[str]
) -> tuple[float, float, float | None]:
    """Rms, peak and frequency that count at a place. [V], [V], [Hz]."""
    mains = highest_mains(specimen)
    rms = distance.working_voltage or mains
    peak, frequency = distance.peak_voltage or float(np.sqrt(2) * rms), distance.frequency
    if distance.working_voltage is None:
        notes.append(f"No working voltage is noted; the highest rated mains, {mains:g} V, is.")
    winding = at_transformer(distance.place, windings)
    if winding is not None and distance.insulation != "functional":
        by_parts = winding.rms.value.value, winding.peak.value.value
        rms, peak = max(rms, by_parts[0]), max(peak, by_parts[1])
        frequency = frequency or winding.frequency
        notes.append(
            f"By the parts the switching end of the winding reaches {by_parts[0]:.0f} V rms and "
            f"{by_parts[1]:.0f} V peak; the larger of these and what is noted counts."
        )
    return rms, peak, frequency


def _gap(specimen: Specimen, distance: Distance, windings: Sequence[WindingVoltage]) -> Gap:
    reading, notes = reading_of(specimen, distance)
    mains, altitude = highest_mains(specimen), specimen.adapter.nameplate.maximum_altitude
    rms, peak, frequency = mains, float(np.sqrt(2) * mains), distance.frequency
    if distance.kind == "thickness" and is_joint(distance):
        return Gap(distance, reading, rms, peak, (), tuple(notes), (), not_covered=_SEAM)
    if distance.kind != "thickness":
        rms, peak, frequency = _voltages(specimen, distance, windings, notes)
        if altitude is None:
            notes.append("No highest altitude is named; up to 2000 m is assumed.")
    if distance.insulation == "functional":
        notes.append(_functional(specimen, distance.place))
    if at_core(distance.place) and distance.kind != "thickness":
        notes.append(
            "A ferrite core counts as a conductor: the ways on its two sides add up, the core "
            "itself adds nothing."
        )
    if distance.insulation in ("basic", "supplementary") and distance.kind == "creepage":
        notes.append(
            "A laboratory's report asks for 3.0 mm of basic insulation at 240 V where the table "
            "has 2.5 mm at 250 V (report CQASZ20210400194S, p. 43)."
        )
    place = place_of(distance, rms, peak, frequency, mains, altitude)
    found: list[Requirement] = []
    troubles = []
    for rule in RULES:
        try:
            requirement, remark = required(rule, place)
        except ValueError as error:
            troubles.append(f"{RULES[rule]} has no figure here: {error}")
            continue
        if not found or requirement.distance > found[0].distance * (1 + 1e-9):
            found.append(requirement)
        else:
            notes.append(f"{RULES[rule]}, superseded, asked for no more.")
        notes += [remark] if remark and remark not in notes else []
    cemented = _CEMENTED if distance.joint == "cemented" else ""
    return Gap(
        distance,
        reading,
        rms,
        peak,
        tuple(found),
        tuple(notes),
        tuple(troubles),
        _slot(distance) or cemented,
    )


def gaps_of(specimen: Specimen, windings: Sequence[WindingVoltage]) -> list[Gap]:
    """Every distance of a dossier that is not made of thin sheets."""
    return [
        _gap(specimen, distance, windings)
        for distance in specimen.adapter.distances
        if (distance.layers or 1) == 1
    ]


def _about(gap: Gap) -> str:
    """Subject of a sentence about a distance."""
    inside = [f"{gap.distance.insulation} insulation"]
    if gap.distance.kind == "clearance":
        inside.append(f"{gap.peak_voltage:.0f} V peak")
    if gap.distance.kind == "creepage":
        inside.append(f"{gap.working_voltage:.0f} V rms")
    return f"{KINDS[gap.distance.kind]}, {gap.distance.place} ({', '.join(inside)}),"


def gap_findings(gap: Gap) -> list[Finding]:
    """One distance against every rule that asks for something there."""
    kind, place = KINDS[gap.distance.kind].lower(), gap.distance.place
    common: dict[str, Any] = {
        "section": SECTION,
        "origin": "adapter.toml, distances",
        "function": FUNCTIONS[gap.distance.kind],
        "figure": "insulation_distances",
    }
    if gap.requirements:
        return [
            against_limit(
                gap.reading,
                need.limit,
                _about(gap),
                not_judged=gap.why_not,
                question=f"Is the {kind} enough for {need.name}: {place}?",
                note=" ".join((f"Decided by {need.reason}.", *gap.notes)),
                **common,
            )
            for need in gap.requirements
        ]
    why = gap.not_covered or "; ".join(gap.troubles)
    return [
        Finding(
            judgement=rules.no_limit(why),
            question=f"Is the {kind} enough: {place}?",
            sentence=f"{_about(gap)} is {gap.reading}; no limit applies, for {why}."
            if gap.not_covered
            else f"{_about(gap)} is {gap.reading}; {why}.",
            reading=gap.reading,
            note=" ".join(gap.notes),
            **common,
        )
    ]
