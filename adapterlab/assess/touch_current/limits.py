"""Whether the touch current keeps the published limits, and what notes are missing for that."""

from collections.abc import Sequence
from typing import Any

import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, Limit, against_limit, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.assess.touch_current.model import PIN, RailModel
from adapterlab.assess.touch_current.readings import SECTION, TouchReading, largest
from adapterlab.assess.touch_current.scaling import at_the_top, is_at_the_top
from adapterlab.judgement import MEETS
from adapterlab.touch_current import (
    RAILS,
    TouchCurrentLimit,
    largest_barrier_capacitance,
    touch_current_limits,
)

FUNCTION = "touch_current.limit_conformity"
_ONE_WAY = "Taken with the plug one way round only; the other way may give more."


def limit_of(row: TouchCurrentLimit) -> Limit:
    """A row of the limits as findings carry it."""
    return Limit(row.limit, "A", "upper", row.name, row.source, row.known, standing=row.standing)


def judged_reading(
    readings: Sequence[TouchReading], network: str, quantity: str
) -> TouchReading | None:
    """The reading that a limit is held against: the largest of its kind, at any mains and load."""
    return largest([r for r in readings if r.kind == (network, quantity)])


def _beyond(
    specimen: Specimen, reading: TouchReading, limit: Limit, top: tuple[float, float],
    model: RailModel,
) -> tuple[str, str]:  # fmt: skip
    """What follows for a limit from a reading that was taken below the highest mains.

    Why it can't be judged, where it meets the limit only as read; and a note.
    """
    if reading.quantity == "dc" or is_at_the_top(reading, top):
        return "", ""
    there = at_the_top(specimen, reading, top, model)
    said = f"carried over to {top[0]:.0f} V, {top[1]:.0f} Hz it would be {there}"
    spread = there.value.standard_uncertainty
    if rules.against_limit(there.value.value, spread, upper=limit.value).word == MEETS:
        return "", f"Standards ask for the top of the mains tolerance; {said}."
    as_read = rules.against_limit(
        reading.current.value, reading.current.standard_uncertainty, upper=limit.value
    )
    return (f"{said}, too near the limit or above it" if as_read.word == MEETS else ""), ""


def against_limits(
    specimen: Specimen,
    readings: Sequence[TouchReading],
    both_ways: bool,
    top: tuple[float, float],
    model: RailModel,
) -> list[Finding]:
    """Each published limit that covers an adapter against the largest reading of its kind.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    readings : sequence of TouchReading
        All of them.
    both_ways : bool
        Whether readings were taken with both plug polarities.
    top : tuple of float
        Highest mains. [V], [Hz]
    model : RailModel
        Where the readings say that the path starts.

    Returns
    -------
    list of Finding
        One for each limit that has a reading, one for each kind of reading that is missing, and
        one for the limits that are written for other things.
    """
    found: list[Finding] = []
    missing: dict[tuple[str, str], list[str]] = {}
    others: list[TouchCurrentLimit] = []
    for row in touch_current_limits():
        if row.not_covered:
            others.append(row)
            continue
        no_sine = row.sine_only and model.rail != PIN
        reading = judged_reading(readings, row.network, row.quantity)
        if reading is None:
            if not no_sine and row.judges:
                missing.setdefault((row.network, row.quantity), []).append(row.name)
            continue
        common: dict[str, Any] = {
            "section": SECTION,
            "question": f"Is the touch current within {row.standard}, {row.short}?",
            "origin": reading.origin,
            "figure": "touch_current_limits",
            "function": FUNCTION,
        }
        limit = limit_of(row)
        if no_sine:
            found.append(_no_sine(reading, limit, common))
            continue
        reason, note = _beyond(specimen, reading, limit, top, model)
        notes = [f"{row.condition[0].upper()}{row.condition[1:]}; guards against {row.guards}."]
        notes += [note] if note else []
        notes += [] if both_ways else [_ONE_WAY]
        found.append(
            against_limit(
                reading.current,
                limit,
                reading.subject,
                not_judged=reason,
                note=" ".join(notes),
                **common,
            )
        )
    found += [_missing(network, quantity, names) for (network, quantity), names in missing.items()]
    return [*found, _written_for_others(others)]


def _no_sine(reading: TouchReading, limit: Limit, common: dict[str, Any]) -> Finding:
    reason = (
        "that figure holds for a sine, which the current behind a bridge is not: its peak counts"
    )
    return Finding(
        judgement=rules.no_limit(reason),
        sentence=f"{reading.subject} is {reading.current}; {limit.said} asks for {limit.bound}, "
        f"but {reason}.",
        reading=reading.current,
        **common,
    )


def _missing(network: str, quantity: str, names: Sequence[str]) -> Finding:
    article = "an" if network.startswith("u") else "a"
    needed = f"{article} {network} {quantity} reading, for {', '.join(dict.fromkeys(names))}."
    if quantity == "dc":
        needed += " A capacitor passes none; a leaking part would."
    question = f"Is the {network} {quantity} touch current within its limits?"
    return not_measured(SECTION, question, needed, FUNCTION)


def _written_for_others(others: Sequence[TouchCurrentLimit]) -> Finding:
    """The limits that do not cover an adapter, in one sentence."""
    listed: dict[str, list[str]] = {}
    for row in others:
        shown = f"{Value(row.limit, 0.0, 'A').short} {row.quantity} ({row.standard})"
        listed.setdefault(row.not_covered, []).append(shown)
    text = "; ".join(f"for {what} {', '.join(rows)}" for what, rows in listed.items())
    return Finding(
        section=SECTION,
        question="Which published limits are written for other things?",
        judgement=rules.no_limit("they are written for other things than such an adapter"),
        sentence=f"Limits that are written for other things than such an adapter: {text}.",
        function=FUNCTION,
        figure="touch_current_limits",
    )


def network_gap(specimen: Specimen) -> list[Finding]:
    """What is not known where the network of a reading was not noted."""
    table = specimen.touch_current
    lines = table.loc[table["network"] == "", "line"]
    if lines.empty:
        return []
    where = ", ".join(str(line) for line in lines)
    needed = (
        f"the network of line {where} of touch_current.csv is not noted. So those readings can't "
        "be held against limits, which name a network, and it is not known whether they hold "
        "switching-frequency current that a weighting would have taken away."
    )
    question = "With which body network was it measured?"
    return [not_measured(SECTION, question, needed, "touch_current.body_network")]


def allowed_capacitances(mains_voltage: float, mains_frequency: float) -> pd.DataFrame:
    """Largest barrier capacitor under each limit and each model of the rail.

    Parameters
    ----------
    mains_voltage, mains_frequency : float
        Highest mains. [V], [Hz]

    Returns
    -------
    pandas.DataFrame
        One row for each weighted rms or peak limit: ``limit`` (its name), ``quantity``,
        ``known``, and the capacitance [F] for each rail.
    """
    table: list[dict[str, Any]] = []
    for limit in touch_current_limits():
        if limit.network != "weighted" or limit.quantity == "dc":
            continue
        entry: dict[str, Any] = {"limit": limit.name, "quantity": limit.quantity}
        entry["known"] = limit.known
        for rail in RAILS:
            entry[rail] = largest_barrier_capacitance(
                limit.limit, mains_voltage, mains_frequency, rail, "weighted", limit.quantity
            )
        table.append(entry)
    return pd.DataFrame(table)
