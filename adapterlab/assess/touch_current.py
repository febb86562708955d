"""Touch current of a dossier: readings against the barrier capacitor and published limits."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from adapterlab.assess.finding import (
    Finding,
    Ledger,
    Limit,
    Value,
    against_limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.instrument import reading_of
from adapterlab.dossier import Dossier
from adapterlab.published import rows
from adapterlab.touch_current import (
    InferredCapacitance,
    indicated_current,
    infer_barrier_capacitance,
)
from adapterlab.uncertainty import conformity_probability
from adapterlab.verdict import EXPLAINED, NO_LIMIT, UNEXPLAINED

SECTION = "touch_current"
RAIL = "bridge-with-reservoir"
_MAINS = (100, 110, 115, 120, 127, 220, 230, 240, 264)


@dataclass(frozen=True)
class Barrier:
    """The capacitors across the barrier as one.

    Attributes
    ----------
    capacitance : float
        Marked value of all of them together. [F]
    standard_uncertainty : float
        From their tolerances, taken as rectangular. [F]
    low, high : float
        Ends of the tolerance. [F]
    label : str
        References and value, as said aloud.
    """

    capacitance: float
    standard_uncertainty: float
    low: float
    high: float
    label: str


@dataclass(frozen=True)
class TouchCurrentAssessment:
    """What the touch-current readings say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    readings : pandas.DataFrame
        One row for each condition: ``condition``, ``mains_voltage`` [V], ``mains_frequency``
        [Hz], ``network``, ``quantity``, ``output_power`` [W], ``current`` and
        ``standard_uncertainty`` [A] of the largest reading, ``predicted`` and
        ``predicted_uncertainty`` [A] (NaN without a barrier capacitor).
    barrier : Barrier or None
        The marked capacitors; None if none is listed with a value and a tolerance.
    inferred : InferredCapacitance or None
        Capacitance that the first rms reading implies; None without one.
    """

    findings: Ledger
    readings: pd.DataFrame
    barrier: Barrier | None
    inferred: InferredCapacitance | None


def barrier_of(dossier: Dossier) -> Barrier | None:
    """The barrier capacitors of a dossier as one: those in series joined, the others added.

    Parameters
    ----------
    dossier : Dossier
        The record.

    Returns
    -------
    Barrier or None
        None unless every barrier capacitor has a value and a tolerance.
    """
    parts = dossier.adapter.parts_with_role("barrier capacitor")
    if not parts or any(part.value is None or part.tolerance is None for part in parts):
        return None
    total = variance = low = high = 0.0
    done: set[str] = set()
    for part in parts:
        if part.reference in done:
            continue
        chain = [
            p
            for p in parts
            if p is part or p.in_series_with == part.reference or p.reference == part.in_series_with
        ]
        done |= {member.reference for member in chain}
        values = np.array([member.value for member in chain], dtype=float)
        shares = np.array([member.tolerance for member in chain], dtype=float)
        joined = 1 / (1 / values).sum()
        total += joined
        variance += float((((joined / values) ** 2 * values * shares) ** 2).sum() / 3)
        low += 1 / (1 / (values * (1 - shares))).sum()
        high += 1 / (1 / (values * (1 + shares))).sum()
    names = " and ".join(part.reference for part in parts)
    label = f"{names} ({Value(total, 0.0, 'F')} {'together' if len(parts) > 1 else 'marked'})"
    return Barrier(total, variance**0.5, low, high, label)


def _nominal(voltage: float) -> int:
    """Usual name of a mains voltage; whole volts where it has none."""
    near = [name for name in _MAINS if abs(voltage / name - 1) < 0.015]
    return near[0] if near else round(voltage)


def _conditions(dossier: Dossier) -> pd.DataFrame:
    """Largest reading of each condition: mains, network, quantity, load."""
    table = dossier.touch_current
    mains = table["mains_voltage"].map(_nominal).astype(str)
    frequency = table["mains_frequency"].round().astype(int).astype(str)
    load = np.where(table["output_power"].fillna(0) > 0, "loaded", "no load")
    keyed = table.assign(
        condition=mains + " V, " + frequency + " Hz, " + load,
        output_power=table["output_power"].fillna(0.0),
    )
    order = keyed.groupby(["condition", "network", "quantity"], sort=False)["touch_current"]
    return keyed.loc[order.idxmax()].reset_index(drop=True)


def _readings(dossier: Dossier, barrier: Barrier | None) -> pd.DataFrame:
    model = rows(SECTION, "models", rail=RAIL)[0]["relative_uncertainty"]
    result = []
    for row in _conditions(dossier).itertuples():
        reading = reading_of(dossier, "touch current", row.touch_current, "A")
        predicted = spread = float("nan")
        if barrier is not None and row.quantity != "dc":
            predicted = indicated_current(
                barrier.capacitance,
                row.mains_voltage,
                row.mains_frequency,
                RAIL,
                row.network,
                row.quantity,
            )
            spread = predicted * np.hypot(barrier.standard_uncertainty / barrier.capacitance, model)
        result.append(
            {
                "condition": row.condition,
                "mains_voltage": row.mains_voltage,
                "mains_frequency": row.mains_frequency,
                "network": row.network,
                "quantity": row.quantity,
                "output_power": row.output_power,
                "line": row.line,
                "current": row.touch_current,
                "standard_uncertainty": reading.standard_uncertainty,
                "predicted": predicted,
                "predicted_uncertainty": spread,
            }
        )
    columns = [
        "condition",
        "mains_voltage",
        "mains_frequency",
        "network",
        "quantity",
        "output_power",
        "line",
        "current",
        "standard_uncertainty",
        "predicted",
        "predicted_uncertainty",
    ]
    return pd.DataFrame(result, columns=columns)


def _subject(row: pd.Series) -> str:
    kind = {"rms": "Touch current", "peak": "Peak touch current", "dc": "Direct touch current"}
    return f"{kind[row['quantity']]} at {row['condition']} ({row['network']})"


def _against_parts(readings: pd.DataFrame, barrier: Barrier) -> list[Finding]:
    """Rms at every condition and peak at the first; weighted readings where there are any."""
    known = readings[readings["predicted"].notna()]
    weighted = known[known["network"] == "weighted"]
    chosen = known if weighted.empty else weighted
    first_peak = chosen[chosen["quantity"] == "peak"].head(1)
    chosen = pd.concat([chosen[chosen["quantity"] == "rms"], first_peak])
    found = []
    for _, row in chosen.iterrows():
        found.append(
            against_prediction(
                Value(row["current"], row["standard_uncertainty"], "A"),
                Value(row["predicted"], row["predicted_uncertainty"], "A"),
                _subject(row),
                f"the barrier capacitor {barrier.label}",
                section=SECTION,
                question="Does the barrier capacitor explain the touch current?",
                origin=f"touch_current.csv line {row['line']}",
                figure="touch_current_readings",
                function="touch_current.indicated_current",
            )
        )
    return found


def _against_limits(readings: pd.DataFrame) -> list[Finding]:
    """Each published limit against the largest reading of its kind."""
    found = []
    for limit in rows(SECTION, "limits"):
        alike = readings[
            (readings["quantity"] == limit["quantity"]) & (readings["network"] == limit["network"])
        ]
        question = f"Is the touch current within {limit['standard']}, {limit['short']}?"
        if alike.empty:
            needed = f"a {limit['network']} {limit['quantity']} reading."
            found.append(
                not_measured(SECTION, question, needed, "uncertainty.conformity_probability")
            )
            continue
        row = alike.loc[alike["current"].idxmax()]
        found.append(
            against_limit(
                Value(row["current"], row["standard_uncertainty"], "A"),
                Limit(
                    limit["limit"],
                    "A",
                    "upper",
                    f"{limit['standard']} ({limit['short']})",
                    limit["source"],
                    limit["known"],
                ),
                _subject(row),
                not_judged=limit.get("not_judged", ""),
                section=SECTION,
                question=question,
                note=limit["condition"],
                origin=f"touch_current.csv line {row['line']}",
                figure="touch_current_limits",
                function="uncertainty.conformity_probability",
            )
        )
    return found


def _infer(
    dossier: Dossier, readings: pd.DataFrame
) -> tuple[InferredCapacitance, pd.Series] | None:
    alike = readings[(readings["quantity"] == "rms") & (readings["current"] > 0)]
    if alike.empty:
        return None
    row = alike.sort_values(["output_power"], kind="stable").iloc[0]
    mains = reading_of(dossier, "mains voltage", row["mains_voltage"], "V")
    frequency = reading_of(dossier, "mains frequency", row["mains_frequency"], "Hz")
    inferred = infer_barrier_capacitance(
        row["current"],
        mains.value,
        frequency.value,
        RAIL,
        row["network"],
        "rms",
        touch_current_uncertainty=row["standard_uncertainty"],
        mains_voltage_uncertainty=mains.standard_uncertainty,
        mains_frequency_uncertainty=frequency.standard_uncertainty,
        model_uncertainty=rows(SECTION, "models", rail=RAIL)[0]["relative_uncertainty"],
    )
    return inferred, row


def _capacitance(inferred: InferredCapacitance, row: pd.Series, barrier: Barrier | None) -> Finding:
    reading = Value(inferred.capacitance, inferred.standard_uncertainty, "F")
    common: dict[str, Any] = {
        "section": SECTION,
        "question": "What capacitance does the reading imply?",
        "reading": reading,
        "origin": f"touch_current.csv line {row['line']}",
        "function": "touch_current.infer_barrier_capacitance",
        "figure": "touch_current_capacitance",
    }
    if barrier is None:
        sentence = f"The reading implies {reading} across the barrier; no marked value is listed."
        return Finding(word=NO_LIMIT, sentence=sentence, **common)
    inside = conformity_probability(
        inferred.capacitance, inferred.standard_uncertainty, barrier.low, barrier.high
    )
    word = EXPLAINED if inside >= 0.025 else UNEXPLAINED
    sentence = f"The reading implies {reading} across the barrier; {barrier.label} "
    if word == EXPLAINED:
        verb = "cover" if " and " in barrier.label else "covers"
        sentence += f"{verb} it within the tolerance with probability {inside:.2f}."
        note = ""
    else:
        extra = Value(
            inferred.capacitance - barrier.capacitance, inferred.standard_uncertainty, "F"
        )
        sentence += (
            f"{'lie' if ' and ' in barrier.label else 'lies'} "
            f"{'above' if extra.value < 0 else 'below'} it by more than the tolerance: "
            f"{Value(abs(extra.value), extra.standard_uncertainty, 'F')} "
            f"{'is missing' if extra.value < 0 else 'has no part to its name'}."
        )
        note = (
            "Usual causes of a larger value: a second capacitor not yet found, the transformer's "
            "inter-winding capacitance, a part whose marking was misread. Of a smaller one: a part "
            "in series, a cracked ceramic, a bad contact of the network."
        )
    return Finding(
        word=word,
        sentence=sentence,
        note=note,
        probability=inside,
        prediction=Value(barrier.capacitance, barrier.standard_uncertainty, "F"),
        **common,
    )


def _polarity(dossier: Dossier) -> list[Finding]:
    """Both plug polarities must agree for a capacitor on a rectified rail."""
    table = dossier.touch_current
    table = table[(table["quantity"] == "rms") & (table["network"] == "weighted")]
    quiet = table[table["output_power"].fillna(0) == 0]
    for _, group in quiet.groupby(quiet["mains_voltage"].round(-1), sort=False):
        sides = group.groupby("polarity")["touch_current"].first()
        if {"a", "b"} <= set(sides.index):
            first, second = (reading_of(dossier, "touch current", sides[s], "A") for s in "ab")
            # One meter took both, so its gain cancels: only rounding is left between them.
            meters = dossier.adapter.instruments_for("touch current")
            step = max((meter.resolution for meter in meters), default=0.0)
            model = rows(SECTION, "models", rail=RAIL)[0]["relative_uncertainty"]
            spread = float(np.hypot(step / np.sqrt(6), 0.01 * second.value))
            return [
                against_prediction(
                    Value(first.value, spread, "A"),
                    Value(second.value, model * second.value, "A"),
                    "Touch current with the plug one way round",
                    "the same rail with the plug the other way round",
                    section=SECTION,
                    question="Is it the same with either plug polarity?",
                    origin="touch_current.csv",
                    figure="touch_current_readings",
                    function="verdict.prediction_word",
                    note="A capacitor on a rectified rail gives the same both ways; one on a mains "
                    "pole gives all or almost nothing.",
                )
            ]
    return []


def assess(dossier: Dossier) -> TouchCurrentAssessment:
    """Touch current of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier
        The record.

    Returns
    -------
    TouchCurrentAssessment
        Findings and what the figures draw.
    """
    barrier = barrier_of(dossier)
    readings = _readings(dossier, barrier)
    if readings.empty:
        question = "Does the barrier capacitor explain the touch current?"
        needed = (
            "touch_current.csv with at least mains voltage, frequency, network, quantity and "
            "value, taken with both plug polarities."
        )
        missing = not_measured(SECTION, question, needed, "touch_current.indicated_current")
        return TouchCurrentAssessment(Ledger.of([missing]), readings, barrier, None)
    findings = _polarity(dossier) + _against_limits(readings)
    inferred = _infer(dossier, readings)
    if inferred is not None:
        findings.append(_capacitance(*inferred, barrier))
    if barrier is not None:
        findings += _against_parts(readings, barrier)
    else:
        findings.append(
            not_measured(
                SECTION,
                "Does the barrier capacitor explain the touch current?",
                "[[parts]] with the role 'barrier capacitor', its value and tolerance.",
                "touch_current.indicated_current",
            )
        )
    return TouchCurrentAssessment(
        Ledger.of(findings), readings, barrier, inferred[0] if inferred else None
    )
