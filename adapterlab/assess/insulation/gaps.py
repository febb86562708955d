"""Distances of a dossier, and what the published rules ask for at each of them.

`gaps_of` reads the distances, `winding_voltages` works out what each transformer puts across
the barrier, `crossings_of` finds where a primary winding meets a secondary one.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.mains import (
    highest_mains,
)
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT, missing, stage_of
from adapterlab.assess.report.finding import Limit
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Distance, Winding
from adapterlab.flyback import operating_point
from adapterlab.insulation import (
    altitude_factor,
    creepage_row,
    high_frequency_distances,
    mains_transient,
    primary_working_voltage,
    required_clearance,
    required_creepage,
    required_thickness,
    temporary_overvoltage,
)
from adapterlab.published import judges, rows
from adapterlab.uncertainty import propagate

SECTION = "insulation"
RULES = {"iec-62368-1": "IEC 62368-1", "iec-60950-1": "IEC 60950-1"}
_FIRMNESS = (
    "own", "cited", "two", "second-hand", "one", "computed", "common practice", "memory",
)  # fmt: skip
_HIGH_FREQUENCY = 30e3


@dataclass(frozen=True)
class Requirement:
    """What one rule asks for at one place.

    Attributes
    ----------
    rule : str
        Name as said aloud.
    distance : float
        Least distance. [m]
    rows : tuple of dict
        Published rows that it rests on, the least well known of them first.
    reason : str
        What decides it, as the end of a sentence.
    """

    rule: str
    distance: float
    rows: tuple[Mapping[str, Any], ...]
    reason: str

    @property
    def name(self) -> str:
        """The rule as said aloud."""
        return RULES[self.rule]

    @property
    def known(self) -> str:
        """How the least well known of its rows is known."""
        return str(self.rows[0]["known"])

    @property
    def limit(self) -> Limit:
        """As findings carry it. [m]."""
        source = "; ".join(dict.fromkeys(row["source"] for row in self.rows))
        witness = ""
        if judges(self.rows[0]):
            witness = "; ".join(dict.fromkeys(filter(None, (r.get("witness") for r in self.rows))))
        return Limit.published(
            {"source": source, "known": self.known, "witness": witness, "status": self.rule},
            self.distance, "m", "lower", self.name,
        )  # fmt: skip


@dataclass(frozen=True)
class WindingVoltage:
    """What the switching end of a transformer puts across the barrier, by the parts.

    Attributes
    ----------
    converter : str
        As in the dossier.
    references : tuple of str
        Transformers it stands for, as in ``[[parts]]``.
    rms, peak : Value
        Working voltage at the highest rated mains. [V]
    frequency : float
        Switching frequency. [Hz]
    mains_voltage, reflected_voltage, duty_cycle : float
        What it was worked out from. [V], [V], [1]
    spike : bool
        Whether the leakage spike is in the peak.
    """

    converter: str
    references: tuple[str, ...]
    rms: Value
    peak: Value
    frequency: float
    mains_voltage: float
    reflected_voltage: float
    duty_cycle: float
    spike: bool


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
        One for each rule that has a figure.
    notes : tuple of str
        What was assumed, and what the reader must know.
    troubles : tuple of str
        Why a rule has no figure.
    """

    distance: Distance
    reading: Value
    working_voltage: float
    peak_voltage: float
    requirements: tuple[Requirement, ...]
    notes: tuple[str, ...]
    troubles: tuple[str, ...]


def _weakest_first(*used: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
    def looseness(row: Mapping[str, Any]) -> tuple[bool, int]:
        return not judges(row), _FIRMNESS.index(row["known"])

    return tuple(sorted(used, key=looseness, reverse=True))


def _bracket(table: list[dict[str, Any]], column: str, value: float) -> list[dict[str, Any]]:
    """The rows a value lies between; one where it is met exactly or lies outside."""
    steps = [row[column] for row in table]
    above = min(int(np.searchsorted(steps, value)), len(table) - 1)
    return [table[above]] if value >= steps[above] or above == 0 else table[above - 1 : above + 1]


def winding_voltages(specimen: Specimen) -> list[WindingVoltage]:
    """Working voltage of every transformer whose converter is known well enough."""
    found = []
    parts = [part for part in specimen.adapter.parts if part.role == "transformer"]
    construction = specimen.adapter.construction
    if construction.topology == "other":
        return []
    mains = highest_mains(specimen)
    for place, converter in enumerate(construction.converters):
        if missing(specimen, converter):
            continue
        stage = stage_of(specimen, converter)
        current = stage.output_voltage * stage.output_current / stage.highest_voltage

        def at(bridge_drop: Any, diode_drop: Any, magnetising_inductance: Any) -> Any:
            point = operating_point(
                ROOT * mains - bridge_drop,
                stage.highest_voltage,  # noqa: B023
                current,  # noqa: B023
                stage.turns_ratio,  # noqa: B023
                magnetising_inductance,
                stage.switching_frequency,  # noqa: B023
                diode_drop,
            )
            spike = np.maximum(0.0, (converter.clamp_voltage or 0.0) - point.reflected_voltage)  # noqa: B023
            winding = primary_working_voltage(
                mains, point.reflected_voltage, point.duty_cycle, spike
            )
            return [
                winding.rms,
                winding.peak,
                point.reflected_voltage + 0 * winding.rms,
                point.duty_cycle,
                point.switching_frequency + 0 * winding.rms,
            ]

        inputs = {
            "bridge_drop": allowance("bridge.drop").distribution,
            "diode_drop": stage.rectifier_drop.distribution,
            "magnetising_inductance": stage.magnetising_inductance.distribution,
        }
        try:
            drawn = propagate(at, inputs, draws=512)
        except ValueError:
            continue
        own = parts if len(construction.converters) == 1 else parts[place : place + 1]
        mean = drawn.mean
        spread = np.where(drawn.standard_uncertainty < 1e-6 * mean, 0.0, drawn.standard_uncertainty)
        found.append(
            WindingVoltage(
                converter.name,
                tuple(part.reference for part in own),
                Value(float(mean[0]), float(spread[0]), "V"),
                Value(float(mean[1]), float(spread[1]), "V"),
                float(mean[4]),
                mains,
                float(mean[2]),
                float(mean[3]),
                converter.clamp_voltage is not None,
            )
        )
    return found


def _at_transformer(place: str, windings: list[WindingVoltage]) -> WindingVoltage | None:
    """The transformer a place names, if any."""
    words = set(re.findall(r"\w+", place))
    return next((w for w in windings if words & set(w.references)), None)


def _reading(specimen: Specimen, distance: Distance) -> tuple[Value, list[str]]:
    """Distance with its uncertainty; limits either way are taken as rectangular."""
    if distance.uncertainty is not None:
        return Value(distance.distance, float(distance.uncertainty / np.sqrt(3)), "m"), []
    if distance.kind == "thickness":
        read = specimen.reading("distance", distance.distance, "m")
        if read.standard_uncertainty > 0:
            return read, []
    deviation = specimen.allowance("calliper.deviation")
    note = (
        f"No uncertainty is noted; ±{deviation.ends[1] * 1e3:g} mm is assumed, usual for a "
        "calliper on a board."
    )
    return Value(distance.distance, float(deviation.distribution.std()), "m"), [note]


def _clearance(rule: str, gap: Distance, peak: float, mains: float, altitude: float) -> Requirement:
    if rule == "iec-60950-1":
        return _older_clearance(gap, peak, altitude)
    transient = float(mains_transient(mains))
    swell = 0.0 if gap.insulation == "functional" else float(temporary_overvoltage(mains))
    common: dict[str, Any] = {"withstand_voltage": transient, "altitude": altitude}
    by_impulse = required_clearance(1.0, gap.insulation, **common)
    by_peak = required_clearance(peak, gap.insulation, **common)
    needed = required_clearance(peak, gap.insulation, temporary_overvoltage=swell, **common)
    impulses = _bracket(rows(SECTION, "mains_transients"), "mains_voltage", mains)[-1:]
    used: list[Mapping[str, Any]] = [
        *impulses, *_bracket(rows(SECTION, "clearances"), "withstand_voltage", transient)
    ]  # fmt: skip
    reason = f"an impulse of {transient:g} V"
    if needed > by_impulse:
        decisive = swell if needed > by_peak else peak
        row = rows(SECTION, "peak_clearances")[0]
        used = [row | {"known": "one" if decisive in row["one"] else row["known"]}]
        reason = f"{peak:.0f} V peak"
        if needed > by_peak:
            used += _bracket(rows(SECTION, "temporary_overvoltages"), "mains_voltage", mains)[-1:]
            reason = f"the temporary overvoltage of {swell:g} V peak"
    return _at_altitude(rule, float(needed), used, reason, altitude)


def _older_clearance(gap: Distance, peak: float, altitude: float) -> Requirement:
    # The figures of IEC 60950-1 are printed for a mains above 150 V, which covers lower ones too.
    transient = 2500.0
    needed = required_clearance(
        peak, gap.insulation, withstand_voltage=transient, altitude=altitude, rule="iec-60950-1"
    )
    used = rows(SECTION, "clearances_60950", insulation=gap.insulation)[:1]
    if peak > used[0]["peak_voltage"]:
        used += _bracket(rows(SECTION, "additional_clearances"), "peak_voltage", peak)[-1:]
    reason = f"a mains transient of {transient:g} V and {peak:.0f} V peak"
    return _at_altitude("iec-60950-1", float(needed), used, reason, altitude)


def _at_altitude(
    rule: str, needed: float, used: Sequence[Mapping[str, Any]], reason: str, altitude: float
) -> Requirement:
    if altitude > 2000:
        used = [*used, *_bracket(rows(SECTION, "altitudes"), "altitude", altitude)]
        reason += f" at {altitude:g} m (factor {altitude_factor(altitude):.2f})"
    return Requirement(rule, needed, _weakest_first(*used), reason)


def _known_at(row: Mapping[str, Any], voltage: float) -> str:
    """How a row of creepage distances is known at one of its voltages."""
    return next((known for known in ("two", "one") if voltage in row[known]), "memory")


def _creepage(gap: Distance, rms: float, air: Requirement) -> Requirement:
    degree, group = gap.pollution_degree or 2, gap.material_group or "IIIa"
    row = creepage_row(degree, group)
    steps = [{"voltage": voltage} for voltage in row["working_voltages"]]
    bracket = [step["voltage"] for step in _bracket(steps, "voltage", rms)]
    known, at = [_known_at(row, voltage) for voltage in bracket], rms
    if known[0] != "two" and known[-1] == "two":
        # A row that two copies print, rather than one between it and another from one copy.
        known, at = known[-1:], bracket[-1]
    by_table = required_creepage(at, gap.insulation, degree, group)
    needed = required_creepage(at, gap.insulation, degree, group, clearance=air.distance)
    used = [row | {"known": item} for item in known]
    if needed > by_table:
        # The table's figure was still the one to beat, so it must be as firm as the clearance.
        reason = f"the clearance required there, for {air.reason}"
        return Requirement(air.rule, float(needed), _weakest_first(*air.rows, *used), reason)
    reason = f"{rms:.0f} V rms{'' if at == rms else f' (the row of {at:g} V)'}"
    reason += f", pollution degree {degree}, material group {group}"
    return Requirement(air.rule, float(needed), _weakest_first(*used), reason)


def _at_high_frequency(
    gap: Distance, peak: float, frequency: float, found: Requirement
) -> tuple[Requirement, str]:
    """The larger of a requirement and what the frequency alone asks for, and what to say of it."""
    fast = high_frequency_distances(peak, gap.insulation, frequency, gap.pollution_degree or 2)
    alone = float(getattr(fast, gap.kind))
    row = rows(SECTION, "high_frequency_clearances")[0]
    remark = (
        f"At {frequency / 1e3:.0f} kHz and {peak:.0f} V peak IEC 60664-4 asks for "
        f"{alone * 1e3:.2g} mm by itself (from memory), "
    )
    if alone <= found.distance:
        return found, remark + "less than the mains does."
    reason = f"{peak:.0f} V peak at {frequency / 1e3:.0f} kHz"
    return (
        Requirement(found.rule, alone, (row,), reason),
        remark + "more than the mains does.",
    )


def _gap(specimen: Specimen, gap: Distance, windings: list[WindingVoltage]) -> Gap:
    reading, notes = _reading(specimen, gap)
    mains, plate = highest_mains(specimen), specimen.adapter.nameplate
    rms, peak = (
        gap.working_voltage or mains,
        gap.peak_voltage or ROOT * (gap.working_voltage or mains),
    )
    frequency = gap.frequency
    if gap.kind != "thickness":
        if gap.working_voltage is None:
            notes.append(f"No working voltage is noted; the highest rated mains, {mains:g} V, is.")
        winding = _at_transformer(gap.place, windings)
        if winding is not None and gap.insulation != "functional":
            rms, peak = max(rms, winding.rms.value), max(peak, winding.peak.value)
            frequency = frequency or winding.frequency
            notes.append(
                f"The switching end of the winding reaches {winding.rms.value:.0f} V rms and "
                f"{winding.peak.value:.0f} V peak; the larger of these and what is noted counts."
            )
        if plate.maximum_altitude is None:
            notes.append("No highest altitude is named; up to 2000 m is taken.")
    if gap.insulation == "functional":
        notes.append("Functional insulation may be shorter if a short circuit there does no harm.")
    found, troubles = [], []
    for rule in RULES:
        try:
            requirement, remark = _required(rule, gap, rms, peak, frequency, specimen)
        except ValueError as error:
            troubles.append(f"{RULES[rule]} has no figure here: {error}")
            continue
        found.append(requirement)
        notes += [remark] if remark and remark not in notes else []
    return Gap(gap, reading, rms, peak, tuple(found), tuple(notes), tuple(troubles))


def _required(
    rule: str, gap: Distance, rms: float, peak: float, frequency: float | None, specimen: Specimen
) -> tuple[Requirement, str]:
    if gap.kind == "thickness":
        table = rows(SECTION, "thicknesses", insulation=gap.insulation, rule=rule)
        if not table:
            raise ValueError(f"none is asked for {gap.insulation} insulation")
        reason = f"{gap.insulation} insulation in one piece"
        needed = required_thickness(gap.insulation)
        return Requirement(rule, needed, tuple(table), reason), ""
    altitude = specimen.adapter.nameplate.maximum_altitude or 0.0
    requirement = _clearance(rule, gap, peak, highest_mains(specimen), altitude)
    if gap.kind == "creepage":
        requirement = _creepage(gap, rms, requirement)
    if frequency is None or frequency <= _HIGH_FREQUENCY:
        return requirement, ""
    try:
        return _at_high_frequency(gap, peak, frequency, requirement)
    except ValueError:
        return requirement, f"No figure for {frequency / 1e3:.0f} kHz and {peak:.0f} V is at hand."


def gaps_of(specimen: Specimen, windings: list[WindingVoltage]) -> list[Gap]:
    """Every distance of a dossier that is not made of thin sheets."""
    return [
        _gap(specimen, distance, windings)
        for distance in specimen.adapter.distances
        if (distance.layers or 1) == 1
    ]


@dataclass(frozen=True)
class Crossing:
    """Where a winding on the mains side meets one on the output side.

    Attributes
    ----------
    converter : str
        Its transformer's converter.
    inner, outer : Winding
        The two windings.
    layers : int or None
        Layers of tape between them; None if nobody counted them. [1]
    """

    converter: str
    inner: Winding
    outer: Winding
    layers: int | None

    @property
    def wire(self) -> str:
        """Name of the winding whose wire is insulated by itself; empty if neither is."""
        own = [w.name for w in (self.inner, self.outer) if w.insulation == "triple insulated"]
        return own[0] if own else ""


def crossings_of(specimen: Specimen) -> list[Crossing]:
    """Every place inside the transformers where the barrier lies between two windings."""
    found = []
    for transformer in specimen.adapter.transformers:
        for inner, outer in zip(transformer.windings[:-1], transformer.windings[1:], strict=True):
            if (inner.role == "secondary") != (outer.role == "secondary"):
                name = transformer.converter or transformer.core or "only"
                found.append(Crossing(name, inner, outer, inner.tape_layers_outside))
    return found
