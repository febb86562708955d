"""What the published rules ask for at a place, and on which of their rows that rests."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.insulation.places import SECTION
from adapterlab.assess.report.finding import Limit
from adapterlab.dossier.distance import Distance
from adapterlab.insulation import (
    altitude_factor,
    creepage_row,
    high_frequency_distances,
    mains_transient,
    required_clearance,
    required_creepage,
    required_thickness,
    temporary_overvoltage,
)
from adapterlab.published import Row, judges, rows

# The rule in force first.
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
        Key of `RULES`.
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
        row = {"source": source, "known": self.known, "witness": witness, "status": self.rule}
        return Limit.published(row, self.distance, "m", "lower", self.name)


@dataclass(frozen=True)
class Place:
    """What a requirement depends on.

    Attributes
    ----------
    kind, insulation : str
        As in `adapterlab.dossier.schema.Distance`.
    rms, peak : float
        Voltages that count. [V]
    frequency : float or None
        Of these voltages; None for the mains'. [Hz]
    mains_voltage, altitude : float
        Highest rated mains and altitude. [V], [m]
    pollution_degree : int
        1 to 3. [1]
    material_group : str
        As in `adapterlab.insulation.required_creepage`.
    """

    kind: str
    insulation: str
    rms: float
    peak: float
    frequency: float | None
    mains_voltage: float
    altitude: float
    pollution_degree: int
    material_group: str


def place_of(
    distance: Distance, rms: float, peak: float, frequency: float | None, mains: float,
    altitude: float | None,
) -> Place:  # fmt: skip
    """A distance with its voltages, and what is taken where the dossier is silent."""
    return Place(
        distance.kind,
        distance.insulation,
        rms,
        peak,
        frequency,
        mains,
        altitude or 0.0,
        distance.pollution_degree or 2,
        distance.material_group or "IIIa",
    )


def weakest_first(*used: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
    """Rows with those on which no verdict may rest first, the least well known before others."""

    def looseness(row: Mapping[str, Any]) -> tuple[bool, int]:
        return not judges(row), _FIRMNESS.index(row["known"])

    return tuple(sorted(used, key=looseness, reverse=True))


def _bracket(table: Sequence[Row], column: str, value: float) -> list[Row]:
    """The rows a value lies between; one where it is met exactly or lies outside."""
    steps = [row[column] for row in table]
    above = min(int(np.searchsorted(steps, value)), len(table) - 1)
    if value >= steps[above] or above == 0:
        return [table[above]]
    return list(table[above - 1 : above + 1])


def _clearance(place: Place) -> Requirement:
    transient = float(mains_transient(place.mains_voltage))
    swell = 0.0
    if place.insulation != "functional":
        swell = float(temporary_overvoltage(place.mains_voltage))
    common: dict[str, Any] = {"withstand_voltage": transient, "altitude": place.altitude}
    by_impulse = required_clearance(1.0, place.insulation, **common)
    by_peak = required_clearance(place.peak, place.insulation, **common)
    needed = required_clearance(place.peak, place.insulation, temporary_overvoltage=swell, **common)
    mains = ("mains_voltage", place.mains_voltage)
    used: list[Mapping[str, Any]] = [
        *_bracket(rows(SECTION, "mains_transients"), *mains)[-1:],
        *_bracket(rows(SECTION, "clearances"), "withstand_voltage", transient),
    ]
    reason = f"an impulse of {transient:g} V"
    if needed > by_impulse:
        decisive = swell if needed > by_peak else place.peak
        row = rows(SECTION, "peak_clearances")[0]
        used = [row | {"known": "one" if decisive in row["one"] else row["known"]}]
        reason = f"{place.peak:.0f} V peak"
        if needed > by_peak:
            used += _bracket(rows(SECTION, "temporary_overvoltages"), *mains)[-1:]
            reason = f"the temporary overvoltage of {swell:g} V peak"
    return _at_altitude("iec-62368-1", float(needed), used, reason, place.altitude)


def _older_clearance(place: Place) -> Requirement:
    # The figures of IEC 60950-1 are printed for a mains above 150 V, which covers lower ones too.
    transient = 2500.0
    needed = required_clearance(
        place.peak,
        place.insulation,
        withstand_voltage=transient,
        altitude=place.altitude,
        rule="iec-60950-1",
    )
    used = rows(SECTION, "clearances_60950", insulation=place.insulation)[:1]
    if place.peak > used[0]["peak_voltage"]:
        used += _bracket(rows(SECTION, "additional_clearances"), "peak_voltage", place.peak)[-1:]
    reason = f"a mains transient of {transient:g} V and {place.peak:.0f} V peak"
    return _at_altitude("iec-60950-1", float(needed), used, reason, place.altitude)


def _at_altitude(
    rule: str, needed: float, used: Sequence[Mapping[str, Any]], reason: str, altitude: float
) -> Requirement:
    if altitude > 2000:
        used = [*used, *_bracket(rows(SECTION, "altitudes"), "altitude", altitude)]
        reason += f" at {altitude:g} m (factor {altitude_factor(altitude):.2f})"
    return Requirement(rule, needed, weakest_first(*used), reason)


def _known_at(row: Mapping[str, Any], voltage: float) -> str:
    """How a row of creepage distances is known at one of its voltages."""
    return next((known for known in ("two", "one") if voltage in row[known]), "memory")


def _creepage(place: Place, air: Requirement) -> Requirement:
    degree, group = place.pollution_degree, place.material_group
    row = creepage_row(degree, group)
    steps = [{"voltage": voltage} for voltage in row["working_voltages"]]
    bracket = [step["voltage"] for step in _bracket(steps, "voltage", place.rms)]
    known, at = [_known_at(row, voltage) for voltage in bracket], place.rms
    if known[0] != "two" and known[-1] == "two":
        # A row that two copies print, rather than one between it and another from one copy.
        known, at = known[-1:], bracket[-1]
    by_table = required_creepage(at, place.insulation, degree, group)
    needed = required_creepage(at, place.insulation, degree, group, clearance=air.distance)
    used = [row | {"known": item} for item in known]
    if needed > by_table:
        # The table's figure was still the one to beat, so it must be as firm as the clearance.
        reason = f"the clearance required there, for {air.reason}"
        return Requirement(air.rule, float(needed), weakest_first(*air.rows, *used), reason)
    reason = f"{place.rms:.0f} V rms{'' if at == place.rms else f' (the row of {at:g} V)'}"
    reason += f", pollution degree {degree}, material group {group}"
    return Requirement(air.rule, float(needed), weakest_first(*used), reason)


def _at_high_frequency(place: Place, found: Requirement) -> tuple[Requirement, str]:
    """The larger of a requirement and what the frequency alone asks for, and what to say of it."""
    frequency = place.frequency or 0.0
    fast = high_frequency_distances(place.peak, place.insulation, frequency, place.pollution_degree)
    alone = float(getattr(fast, place.kind))
    row = rows(SECTION, "high_frequency_clearances")[0]
    remark = (
        f"At {frequency / 1e3:.0f} kHz and {place.peak:.0f} V peak IEC 60664-4 asks for "
        f"{alone * 1e3:.2g} mm by itself (from memory), "
    )
    if alone <= found.distance:
        return found, remark + "less than the mains does."
    reason = f"{place.peak:.0f} V peak at {frequency / 1e3:.0f} kHz"
    return Requirement(found.rule, alone, (row,), reason), remark + "more than the mains does."


def required(rule: str, place: Place) -> tuple[Requirement, str]:
    """What a rule asks for at a place, and a remark.

    Parameters
    ----------
    rule : str
        Key of `RULES`.
    place : Place
        Where.

    Returns
    -------
    tuple of Requirement and str
        The remark is empty where there is nothing to say.

    Raises
    ------
    ValueError
        If the rule has no figure there.
    """
    if place.kind == "thickness":
        table = rows(SECTION, "thicknesses", insulation=place.insulation, rule=rule)
        if not table:
            raise ValueError(f"none is asked for {place.insulation} insulation")
        reason = f"{place.insulation} insulation in one piece"
        return Requirement(rule, required_thickness(place.insulation), tuple(table), reason), ""
    found = _clearance(place) if rule == "iec-62368-1" else _older_clearance(place)
    if place.kind == "creepage":
        found = _creepage(place, found)
    if place.frequency is None or place.frequency <= _HIGH_FREQUENCY:
        return found, ""
    try:
        return _at_high_frequency(place, found)
    except ValueError:
        return found, (
            f"No figure for {place.frequency / 1e3:.0f} kHz and {place.peak:.0f} V is at hand."
        )
