"""Harmonic limits of a dossier's mains current, and the corners of its mains filter."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.mains_current.points import SECTION, Point, capture_value
from adapterlab.assess.model.rectifier import chains, listed
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    does_not_apply,
    no_limit,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.mains_current import PowerQuality, filter_corner, harmonic_limits
from adapterlab.published import rows

_QUESTION = "Are these harmonics allowed?"
# No adapter of today turns less of its input into output at full load.
_POOR_EFFICIENCY = 0.8


@dataclass(frozen=True)
class Harmonic:
    """One harmonic of the current beside its limit: `order`, `current` [A] and `limit` [A]."""

    order: int
    current: float
    limit: float


def nearest_order(quality: PowerQuality, power: float, equipment_class: str) -> Harmonic:
    """The harmonic that comes closest to its limit.

    The limits are those that a larger appliance of the same input power would meet, so that they
    can be shown where none applies.
    """
    limits = harmonic_limits(equipment_class, power, threshold=0)
    currents = quality.harmonic_currents[1:]
    place = int(np.ma.argmax(currents / limits))
    return Harmonic(place + 2, float(currents[place]), float(limits[place]))


def limit_row(equipment_class: str, order: int) -> dict[str, Any]:
    """Row of the published table that a harmonic's limit is from."""
    return next(
        row
        for row in rows(SECTION, "harmonic_limits", equipment_class=equipment_class)
        if order in range(row["first"], row["last"] + 1, 2)
    )


def supply_trouble(quality: PowerQuality) -> str:
    """Where the captured mains has more harmonics than the rule's own supply; empty if nowhere."""
    allowed = {row["order"]: row["share"] for row in rows(SECTION, "supply")}
    shares = quality.harmonic_voltages / quality.harmonic_voltages[0]
    beyond = [
        f"{100 * shares[order - 1]:.1f} % of order {order} ({100 * share:.1f} % allowed)"
        for order, share in allowed.items()
        if shares[order - 1] > share
    ]
    if not beyond:
        return ""
    return (
        "the mains was more distorted than the supply that the rule is measured on: it had "
        + " and ".join(beyond)
    )


def draws_at_most(specimen: Specimen, points: list[Point]) -> float | None:
    """Highest input power on a mains that the limits are for. [W]  None if nobody knows.

    Nothing less than the rated output power can be the input at full load: where less was
    measured, full load was not, and what it draws there is only known to stay below the threshold
    where even a converter of 80 % would.
    """
    row, rated = rows(SECTION, "threshold")[0], specimen.adapter.nameplate.rated_power
    public = [p for p in points if p.mains_voltage.value >= 0.9 * row["voltage"]]
    highest = max((point.input_power.value for point in public), default=0.0)
    if highest >= rated or (public and rated / _POOR_EFFICIENCY <= row["power"]):
        return highest
    return None


def limit_findings(specimen: Specimen, points: list[Point]) -> list[Finding]:
    """Harmonics against the published table, with an honest word on whether it applies.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    points : list of Point
        Its operating points.

    Returns
    -------
    list of Finding
        One finding; two where a limit applies.
    """
    row = rows(SECTION, "threshold")[0]
    public = [p for p in points if p.mains_voltage.value >= 0.9 * row["voltage"]]
    captured = [point for point in public if point.quality is not None]
    common: dict[str, Any] = {
        "section": SECTION,
        "question": _QUESTION,
        "function": "mains_current.harmonic_limits",
        "figure": "mains_current_harmonics",
    }
    highest = draws_at_most(specimen, points)
    if highest is None:
        needed = f"input power at full load, at {row['voltage']:.0f} V or more."
        return [not_measured(SECTION, _QUESTION, needed, common["function"])]
    if highest <= row["power"]:
        return [_below_the_threshold(row, highest, captured, public[0].file, common)]
    if not captured:
        needed = "a capture of kind 'mains' with voltage and current at full load."
        return [not_measured(SECTION, _QUESTION, needed, common["function"])]
    point = max(captured, key=lambda entry: entry.input_power.value)
    return [_of_class(specimen, point, name, common) for name in ("A", "D")]


def _below_the_threshold(
    row: dict[str, Any], highest: float, captured: list[Point], file: str, common: dict[str, Any]
) -> Finding:
    """No limit applies; for scale, the harmonic closest to what a larger appliance must keep."""
    why = (
        f"{row['standard']} sets no limit for equipment of up to {row['power']:.0f} W, and this "
        f"adapter draws at most {highest:.0f} W. A rectifier without correction is what is usual "
        "there"
    )
    if captured and captured[0].quality is not None:
        point = captured[0]
        near = nearest_order(captured[0].quality, point.input_power.value, "D")
        shown, allowed = (Value(entry, 0.0, "A").short for entry in (near.current, near.limit))
        why += (
            f". For scale: harmonic {near.order} is {shown}, where the limits per watt for "
            f"computers would allow {allowed} at this power if they reached down so far"
        )
    section, question, function = (common[key] for key in ("section", "question", "function"))
    return no_limit(section, question, f"{why}.", function, origin=file, figure=common["figure"])


def _of_class(
    specimen: Specimen, point: Point, equipment_class: str, common: dict[str, Any]
) -> Finding:
    """The harmonic of a capture that comes closest to the limits of a class."""
    assert point.quality is not None
    near = nearest_order(point.quality, point.input_power.value, equipment_class)
    row, standard = (
        limit_row(equipment_class, near.order),
        rows(SECTION, "threshold")[0]["standard"],
    )
    reading = capture_value(specimen, "current", near.current, "A")
    flat = near.current * specimen.allowance("capture.flatness").deviation
    spread = float(np.hypot(reading.standard_uncertainty, flat))
    trouble = supply_trouble(point.quality)
    if equipment_class == "D":
        trouble = (
            "which class an adapter sold alone belongs to is for the product it feeds to decide"
        )
    name = f"{standard} class {equipment_class}"
    return against_limit(
        replace(reading, standard_uncertainty=spread),
        Limit.published(row, near.limit, "A", "upper", name),
        f"Harmonic {near.order} at {point.label}, the closest to its limit,",
        not_judged=trouble,
        origin=point.file,
        note=f"The captured mains itself has {100 * point.quality.voltage_distortion:.1f} % of "
        "harmonics.",
        **common,
    )


def filter_finding(specimen: Specimen) -> Finding:
    """Corners of the mains filter from its parts; nothing is judged, for no emission is measured.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    Finding
        With the corners, or what would be needed for them.
    """
    question = "From which frequency on does the mains filter work?"
    function = "mains_current.filter_corner"
    adapter = specimen.adapter
    chokes = [part for part in adapter.parts_with_role("line choke") if part.value]
    across = [part for part in adapter.parts_with_role("line capacitor") if part.value]
    barrier = tuple(p for p in adapter.parts_with_role("barrier capacitor") if p.value)
    if not chokes:
        if "line choke" in adapter.construction.absent:
            why = "No line choke was found on the board, so there is no filter to speak of."
            return does_not_apply(SECTION, question, why, function)
        needed = "[[parts]] with the role 'line choke' and its value; some adapters have none."
        return not_measured(SECTION, question, needed, function)
    corners = []
    inductance = sum(part.value or 0.0 for part in chokes)
    if barrier:
        store = sum(1 / sum(1 / (p.value or 1.0) for p in chain) for chain in chains(barrier))
        corner = filter_corner(inductance, store)
        corners.append(
            f"for common mode {Value(corner.frequency, 0.0, 'Hz').short} "
            f"({listed(chokes)} with {listed(barrier)})"
        )
    if across:
        store = sum(part.value or 0.0 for part in across)
        leakage = sum(part.leakage_inductance or 0.0 for part in chokes)
        low, high = specimen.allowance("choke.leakage_share").ends
        ends = [leakage] if leakage else [high * inductance, low * inductance]
        found = [Value(float(filter_corner(end, store).frequency), 0.0, "Hz") for end in ends]
        text = " to ".join(value.short for value in found)
        origin = "leakage as measured" if leakage else "leakage not measured"
        corners.append(f"for differential mode {text} ({listed(across)}, {origin})")
    if not corners:
        needed = "[[parts]] with the roles 'line capacitor' and 'barrier capacitor' and values."
        return not_measured(SECTION, question, needed, function)
    return Finding(
        section=SECTION,
        question=question,
        judgement=rules.result(),
        sentence=f"Corners of the mains filter: {'; '.join(corners)}. Above them it attenuates by "
        "up to 40 dB per decade; emission itself was not measured, so no limit is judged.",
        function=function,
        origin="adapter.toml, parts",
        note="Without losses, self-resonance and the impedances of source and load.",
    )
