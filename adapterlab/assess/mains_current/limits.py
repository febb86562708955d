"""Harmonic limits of a dossier's mains current, and the corners of its mains filter."""

from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.mains_current.points import SECTION, Point
from adapterlab.assess.model.rectifier import chains, listed
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.mains_current import filter_corner, harmonic_limits
from adapterlab.published import rows

_QUESTION = "Are these harmonics allowed?"


def nearest_order(point: Point, equipment_class: str) -> tuple[int, float, float]:
    """Order, current [A] and limit [A] of the harmonic that comes closest to its limit.

    The limits are those that a larger appliance of the same input power would meet, so that they
    can be shown where none applies.
    """
    if point.quality is None:
        raise ValueError("point must have a capture")
    limits = harmonic_limits(equipment_class, point.input_power.value, threshold=0)
    currents = point.quality.harmonic_currents[1:]
    place = int(np.ma.argmax(currents / limits))
    return place + 2, float(currents[place]), float(limits[place])


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
    highest = max((point.input_power.value for point in public), default=0.0)
    common: dict[str, Any] = {
        "section": SECTION,
        "question": _QUESTION,
        "function": "mains_current.harmonic_limits",
        "figure": "mains_current_harmonics",
    }
    if not public:
        needed = f"input power, or a capture, at {row['voltage']:.0f} V or more."
        return [not_measured(SECTION, _QUESTION, needed, common["function"])]
    if highest <= row["power"]:
        sentence = (
            f"{row['standard']} sets no limit for equipment of up to {row['power']:.0f} W, and "
            f"this adapter draws at most {highest:.0f} W: no limit applies, and a rectifier "
            "without correction is what is usual"
        )
        if captured:
            order, current, limit = nearest_order(captured[0], "D")
            shown, allowed = (Value(entry, 0.0, "A").short for entry in (current, limit))
            sentence += (
                f". For scale: harmonic {order} is {shown}, where the limits per watt for "
                f"computers would allow {allowed} at this power if they reached down so far"
            )
        return [
            Finding(
                judgement=rules.result(), sentence=f"{sentence}.", origin=public[0].file, **common
            )
        ]
    if not captured:
        needed = "a capture of kind 'mains' with voltage and current at full load."
        return [not_measured(SECTION, _QUESTION, needed, common["function"])]
    found = []
    point = max(captured, key=lambda entry: entry.input_power.value)
    relative = point.readings["input_current_peak"].standard_uncertainty
    relative /= point.readings["input_current_peak"].value
    for equipment_class in ("A", "D"):
        order, current, limit = nearest_order(point, equipment_class)
        source = rows(SECTION, "harmonic_limits", equipment_class=equipment_class)[0]
        found.append(
            against_limit(
                Value(current, relative * current, "A"),
                Limit(
                    limit,
                    "A",
                    "upper",
                    f"{row['standard']} class {equipment_class}",
                    source["source"],
                    source["known"],
                ),
                f"Harmonic {order} at {point.label}, the closest to its limit,",
                not_judged="which class an adapter sold alone belongs to is for the product it "
                "feeds to decide"
                if equipment_class == "D"
                else "",
                origin=point.file,
                **common,
            )
        )
    return found


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
