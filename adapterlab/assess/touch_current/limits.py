"""Touch-current readings against every published limit, and what is not known for want of notes."""

from typing import Any

import pandas as pd

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
from adapterlab.assess.touch_current.model import SECTION
from adapterlab.touch_current import (
    RAILS,
    TouchCurrentLimit,
    largest_barrier_capacitance,
    touch_current_limits,
)

KINDS = {"rms": "Touch current", "peak": "Peak touch current", "dc": "Direct touch current"}
_ONE_WAY = "Taken with the plug one way round only; the other way may give more."


def subject(row: pd.Series) -> str:
    """Start of a sentence about a reading."""
    network = row["network"] or "network not noted"
    return f"{KINDS[row['quantity']]} at {row['condition']} ({network})"


def _alike(readings: pd.DataFrame, limit: TouchCurrentLimit) -> pd.DataFrame:
    return readings[
        (readings["quantity"] == limit.quantity) & (readings["network"] == limit.network)
    ]


def against_limits(readings: pd.DataFrame, both_ways: bool) -> list[Finding]:
    """Each published limit against the largest reading of its kind.

    Parameters
    ----------
    readings : pandas.DataFrame
        Largest reading of each condition.
    both_ways : bool
        Whether readings were taken with both plug polarities.

    Returns
    -------
    list of Finding
        One for each limit that has a reading, and one for each kind of reading that is missing.
    """
    found: list[Finding] = []
    missing: dict[tuple[str, str], list[str]] = {}
    for limit in touch_current_limits():
        if limit.network == "own":
            continue
        alike = _alike(readings, limit)
        if alike.empty:
            missing.setdefault((limit.network, limit.quantity), []).append(limit.name)
            continue
        row = alike.loc[alike["current"].idxmax()]
        note = limit.condition + f"; guards against {limit.guards}."
        found.append(
            against_limit(
                Value(row["current"], row["standard_uncertainty"], "A"),
                Limit(limit.limit, "A", "upper", limit.name, limit.source, limit.known),
                subject(row),
                not_judged=limit.not_judged,
                section=SECTION,
                question=f"Is the touch current within {limit.standard}, {limit.short}?",
                note=note if both_ways else f"{note} {_ONE_WAY}",
                origin=f"touch_current.csv line {row['line']}",
                figure="touch_current_limits",
                function="touch_current.limit_conformity",
            )
        )
    for (network, quantity), names in missing.items():
        article = "an" if network.startswith("u") else "a"
        needed = f"{article} {network} {quantity} reading, for {', '.join(dict.fromkeys(names))}."
        if quantity == "dc":
            needed += " A capacitor passes none; a leaking part would."
        question = f"Is the {network} {quantity} touch current within its limits?"
        found.append(not_measured(SECTION, question, needed, "touch_current.limit_conformity"))
    return found


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
