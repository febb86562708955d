"""Touch current of a dossier: readings against the barrier capacitor, each other and limits."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.assess.touch_current.checks import (
    polarity,
    polarity_pairs,
    scaling,
    seat_of,
    split_of,
    switching,
)
from adapterlab.assess.touch_current.limits import (
    against_limits,
    allowed_capacitances,
    network_gap,
    subject,
)
from adapterlab.assess.touch_current.model import (
    SECTION,
    Barrier,
    RailModel,
    barrier_of,
    rail_model,
    readings_of,
    usual,
    windings_of,
    with_conditions,
)
from adapterlab.dossier import Dossier
from adapterlab.judgement import EXPLAINED, UNEXPLAINED, agrees, within
from adapterlab.touch_current import (
    InferredCapacitance,
    PolaritySplit,
    RailWaveform,
    UnexplainedCapacitance,
    infer_barrier_capacitance,
    rail_waveform,
    scale_touch_current,
    unexplained_capacitance,
)
from adapterlab.uncertainty import conformity_probability

_EXPLAINS = "Does the barrier capacitor explain the touch current?"
_IMPLIES = "What capacitance does the reading imply?"
_HIGHEST = "What would it be at the highest mains?"
_CAUSES = (
    "Usual causes of a larger value: a second capacitor not yet found, the transformer's "
    "inter-winding capacitance, a screen joined to the output, a part whose marking was misread. "
    "Of a smaller one: a part in series, a cracked ceramic, a bad contact of the network."
)
_TOP = (264.0, 60.0)


@dataclass(frozen=True)
class TouchCurrentAssessment:
    """What the touch-current readings say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    readings : pandas.DataFrame
        One row for each condition, network and quantity: ``condition``, ``mains_voltage`` [V],
        ``mains_frequency`` [Hz], ``network``, ``quantity``, ``output_power`` [W], ``polarity``,
        ``current`` and ``standard_uncertainty`` [A] of the largest reading, ``predicted`` and
        ``predicted_uncertainty`` [A] (NaN without a barrier capacitor).
    barrier : Barrier or None
        The marked capacitors; None if none is listed with a value and a tolerance.
    windings : Value or None
        Capacitance between the windings; None if not measured. [F]
    inferred : InferredCapacitance or None
        Capacitance that the first rms reading implies; None without one.
    rest : UnexplainedCapacitance or None
        What the parts leave over of it; None without reading or part.
    polarities : pandas.DataFrame
        Readings with the plug both ways round, as `polarity_pairs` gives them.
    split : PolaritySplit or None
        Where the capacitance sits, from both polarities; None without them.
    rail : str
        Where the readings say that the capacitor sits, as in `adapterlab.touch_current.RAILS`.
    wave : RailWaveform
        Rail and current of the first reading, or of an example: 1 nF at 230 V, 50 Hz.
    wave_label : str
        What `wave` shows.
    allowed : pandas.DataFrame
        Largest capacitor under each limit and rail, at the top of the adapter's mains range.
    highest_mains : tuple of float
        That mains. [V], [Hz]
    references : dict of str to str
        References of the parts on the current's path, by role.
    """

    findings: Ledger
    readings: pd.DataFrame
    barrier: Barrier | None
    windings: Value | None
    inferred: InferredCapacitance | None
    rest: UnexplainedCapacitance | None
    polarities: pd.DataFrame
    split: PolaritySplit | None
    rail: str
    wave: RailWaveform
    wave_label: str
    allowed: pd.DataFrame
    highest_mains: tuple[float, float]
    references: dict[str, str]


def _against_parts(
    readings: pd.DataFrame, barrier: Barrier, windings: Value | None
) -> list[Finding]:
    """Rms at every condition and peak at the first; weighted readings where there are any."""
    known = readings[readings["predicted"].notna()]
    weighted = known[known["network"] == "weighted"]
    chosen = known if weighted.empty else weighted
    first_peak = chosen[chosen["quantity"] == "peak"].head(1)
    chosen = pd.concat([chosen[chosen["quantity"] == "rms"], first_peak])
    cause = f"the barrier capacitor {barrier.label}"
    if windings is not None:
        cause += f" with the windings' {windings.short}"
    return [
        against_prediction(
            Value(row["current"], row["standard_uncertainty"], "A"),
            Value(row["predicted"], row["predicted_uncertainty"], "A"),
            subject(row),
            cause,
            section=SECTION,
            question=_EXPLAINS,
            origin=f"touch_current.csv line {row['line']}",
            figure="touch_current_readings",
            function="touch_current.rail_waveform",
        )
        for _, row in chosen.iterrows()
    ]


def _first_rms(readings: pd.DataFrame) -> pd.Series | None:
    """The reading to infer from: rms, with a known network if any has one, without load."""
    alike = readings[(readings["quantity"] == "rms") & (readings["current"] > 0)]
    if alike.empty:
        return None
    named = alike[alike["network"] != ""]
    return (alike if named.empty else named).sort_values("output_power", kind="stable").iloc[0]


def _infer(specimen: Specimen, row: pd.Series, model: RailModel) -> InferredCapacitance:
    mains = specimen.reading("mains voltage", row["mains_voltage"], "V")
    frequency = specimen.reading("mains frequency", row["mains_frequency"], "Hz")
    ideal = model.ideal(row)
    case = {
        "touch_current": row["current"],
        "mains_voltage": mains.value,
        "mains_frequency": frequency.value,
        "rail": model.rail,
        "network": row["network"] or "weighted",
    }
    infer_barrier_capacitance(**case)  # raises where no part could carry the reading
    each, spread = model.per_farad(row, row["current"] / ideal)
    return infer_barrier_capacitance(
        **case,
        touch_current_uncertainty=row["standard_uncertainty"],
        mains_voltage_uncertainty=mains.standard_uncertainty,
        mains_frequency_uncertainty=frequency.standard_uncertainty,
        model_uncertainty=spread / each,
        model_factor=each / ideal,
    )


def _rest(
    inferred: InferredCapacitance, barrier: Barrier, windings: Value | None
) -> UnexplainedCapacitance:
    known = windings or Value(0.0, 0.0, "F")
    tolerance = np.sqrt(3) * barrier.standard_uncertainty / barrier.capacitance
    return unexplained_capacitance(
        inferred.capacitance,
        inferred.standard_uncertainty,
        barrier.capacitance,
        tolerance,
        known.value,
        known.standard_uncertainty,
    )


def _capacitance(
    inferred: InferredCapacitance,
    rest: UnexplainedCapacitance | None,
    row: pd.Series,
    barrier: Barrier | None,
    windings: Value | None,
) -> Finding:
    reading = Value(inferred.capacitance, inferred.standard_uncertainty, "F")
    common: dict[str, Any] = {
        "section": SECTION,
        "question": _IMPLIES,
        "reading": reading,
        "origin": f"touch_current.csv line {row['line']}",
        "function": "touch_current.infer_barrier_capacitance",
        "figure": "touch_current_capacitance",
    }
    if barrier is None or rest is None:
        sentence = f"The reading implies {reading} across the barrier; no marked value is listed."
        return Finding(judgement=rules.result(), sentence=sentence, **common)
    added = windings or Value(0.0, 0.0, "F")
    inside = conformity_probability(
        inferred.capacitance - added.value,
        float(np.hypot(inferred.standard_uncertainty, added.standard_uncertainty)),
        barrier.low,
        barrier.high,
    )
    known = (
        barrier.label if windings is None else f"{barrier.label} and the windings' {added.short}"
    )
    judged = within(inside)
    word = judged.word
    note = "" if word == EXPLAINED else _CAUSES
    sentence = f"The reading implies {reading} across the barrier; {known} "
    one = windings is None and not barrier.several
    if word == EXPLAINED:
        sentence += (
            f"{'covers' if one else 'cover'} it within the tolerance, with probability "
            f"{'over 0.99' if inside > 0.99 else f'{inside:.2f}'}: {word}."
        )
    else:
        low, high = sorted(abs(end) for end in rest.interval)
        if rest.interval[0] < 0 < rest.interval[1]:
            low = 0.0
        middle, low_text, high_text = (
            Value(float(f"{item:.2g}"), 0.0, "F").short
            for item in (abs(rest.capacitance), low, high)
        )
        size = f"{middle} (95 %: {low_text} to {high_text})"
        if rest.capacitance > 0:
            sentence += f"{'leaves' if one else 'leave'} {size} without a part to its name: {word}."
        else:
            sentence += f"{'promises' if one else 'promise'} {size} more than that: {word}."
    if inferred.capacitance > usual("largest usual class Y1 part"):
        note += f" Barrier capacitors of class Y1 usually end at {_largest()}."
    return Finding(
        judgement=judged,
        sentence=sentence,
        note=note.strip(),
        prediction=Value(
            barrier.capacitance + added.value,
            float(np.hypot(barrier.standard_uncertainty, added.standard_uncertainty)),
            "F",
        ),
        **common,
    )


def _largest() -> str:
    return str(Value(usual("largest usual class Y1 part"), 0.0, "F"))


def _too_large(row: pd.Series) -> Finding:
    shown = Value(row["current"], row["standard_uncertainty"], "A")
    most = Value(usual("largest capacitance"), 0.0, "F")
    return Finding(
        section=SECTION,
        question=_IMPLIES,
        judgement=agrees(False),
        sentence=f"{subject(row)} is {shown}, more than any barrier part could carry: the "
        f"largest capacitance that any rule lets across a barrier is {most}: {UNEXPLAINED}.",
        reading=shown,
        origin=f"touch_current.csv line {row['line']}",
        function="touch_current.infer_barrier_capacitance",
        figure="touch_current_readings",
        note="Look for a wrong unit or range first; then unplug: it may be a conducting path, or "
        "an output joined to the mains.",
    )


def _at_the_top(
    readings: pd.DataFrame, row: pd.Series, top: tuple[float, float], model: RailModel
) -> list[Finding]:
    """The first reading scaled to the highest mains, unless it was read near there."""
    product = (readings["mains_voltage"] * readings["mains_frequency"]).max()
    if product > 0.97 * top[0] * top[1]:
        return []
    factor = scale_touch_current(
        1.0, row["mains_voltage"], row["mains_frequency"], *top, model.rail,
        row["network"] or "weighted",
    )  # fmt: skip
    shape = usual("relative effect of the mains waveform") * row["current"]
    scaled = Value(
        row["current"] * factor, float(np.hypot(row["standard_uncertainty"], shape)) * factor, "A"
    )
    return [
        Finding(
            section=SECTION,
            question=_HIGHEST,
            judgement=rules.result(),
            sentence=f"Scaled with voltage times frequency to {top[0]:.0f} V, {top[1]:.0f} Hz, the "
            f"top of its mains range with 10 % on it, the touch current would be {scaled}.",
            reading=scaled,
            origin=f"touch_current.csv line {row['line']}",
            function="touch_current.scale_touch_current",
            figure="touch_current_limits",
            note="A calculation, not a reading: limits are held against readings only.",
        )
    ]


def _wave(
    row: pd.Series | None, model: RailModel, barrier: Barrier | None,
    inferred: InferredCapacitance | None,
) -> tuple[RailWaveform, str]:  # fmt: skip
    """Waveform for the picture: the inferred capacitance, else the marked one, else 1 nF."""
    capacitance = barrier.capacitance if barrier is not None else 1e-9
    whose = "marked" if barrier is not None else "as an example"
    if inferred is not None:
        capacitance, whose = inferred.capacitance, "as inferred"
    voltage, frequency, condition = 230.0, 50.0, "230 V, 50 Hz"
    load = 0.0
    if row is not None:
        voltage, frequency = row["mains_voltage"], row["mains_frequency"]
        condition, load = row["condition"], row["output_power"]
    wave = rail_waveform(
        capacitance, voltage, frequency, model.rail, "unweighted", diode_capacitance=10e-12,
        **model.circuit(capacitance, load),
    )  # fmt: skip
    return wave, f"{Value(capacitance, 0.0, 'F').short} {whose}, {condition}"


def _references(specimen: Specimen) -> dict[str, str]:
    roles = ("fuse", "rectifier bridge", "bulk capacitor", "barrier capacitor", "transformer")
    return {
        role: " + ".join(part.reference for part in specimen.adapter.parts_with_role(role))
        for role in roles
    }


def assess(dossier: Dossier | Specimen) -> TouchCurrentAssessment:
    """Touch current of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    TouchCurrentAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    barrier, windings = barrier_of(specimen), windings_of(specimen)
    pairs = polarity_pairs(with_conditions(specimen))
    model = rail_model(specimen, seat_of(pairs), barrier, windings)
    readings = readings_of(specimen, model, barrier, windings)
    split = split_of(specimen, pairs)
    plate = specimen.adapter.nameplate
    top = (
        1.1 * plate.input_voltage_maximum if plate.input_voltage_maximum else _TOP[0],
        plate.input_frequency_maximum or _TOP[1],
    )
    row = _first_rms(readings)
    inferred = rest = None
    findings: list[Finding] = []
    if readings.empty:
        needed = (
            "touch_current.csv with at least mains voltage, frequency, network, quantity and "
            "value, taken with both plug polarities."
        )
        findings = [not_measured(SECTION, _EXPLAINS, needed, "touch_current.rail_waveform")]
    else:
        findings = [polarity(specimen, pairs, split), *network_gap(specimen)]
        findings += against_limits(readings, both_ways=not pairs.empty)
        findings.append(switching(specimen, readings, model))
        findings += scaling(specimen, readings, model)
        if row is not None:
            findings += _at_the_top(readings, row, top, model)
            try:
                inferred = _infer(specimen, row, model)
            except ValueError:
                findings.append(_too_large(row))
            else:
                rest = None if barrier is None else _rest(inferred, barrier, windings)
                findings.append(_capacitance(inferred, rest, row, barrier, windings))
        if barrier is not None:
            findings += _against_parts(readings, barrier, windings)
        else:
            needed = "[[parts]] with the role 'barrier capacitor', its value and tolerance."
            findings.append(not_measured(SECTION, _EXPLAINS, needed, "touch_current.rail_waveform"))
    wave, label = _wave(row, model, barrier, inferred)
    return TouchCurrentAssessment(
        findings=Ledger.of(findings),
        readings=readings,
        barrier=barrier,
        windings=windings,
        inferred=inferred,
        rest=rest,
        polarities=pairs,
        split=split,
        rail=model.rail,
        wave=wave,
        wave_label=label,
        allowed=allowed_capacitances(*top),
        highest_mains=top,
        references=_references(specimen),
    )
