"""Converters of a dossier: conduction mode, peak currents and stresses at full load."""

from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from adapterlab.assess.finding import Finding, Ledger, Limit, Value, against_limit, not_measured
from adapterlab.assess.flyback_stages import (
    BRIDGE_DROP,
    ROOT,
    Stage,
    bulk_of,
    missing,
    points_of,
    spread_of,
    stage_of,
)
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import Part
from adapterlab.flyback import operating_point
from adapterlab.uncertainty import propagate
from adapterlab.verdict import NO_LIMIT

SECTION = "flyback"
_KNOWN = {"read": "seen", "inferred": "inferred", "unknown": "memory"}
_PLACE = {
    "valley": "in the valley of the bulk voltage",
    "crest": "at the crest of the bulk voltage",
}


@dataclass(frozen=True)
class FlybackAssessment:
    """What the power stages of a dossier predict.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    stages : tuple of Stage
        Every converter known well enough.
    points : pandas.DataFrame
        One row for each converter, mains and instant of the bulk ripple: ``converter``,
        ``mains_voltage`` [V], ``mains_frequency`` [Hz], ``instant`` (``valley`` or ``crest``),
        ``mode`` and its ``probability`` [1]; ``input_voltage`` [V], ``duty_cycle`` [1],
        ``primary_peak``, ``primary_rms``, ``secondary_peak``, ``secondary_rms`` [A] and
        ``switching_frequency`` [Hz], each with ``<name>_uncertainty``.
    """

    findings: Ledger
    stages: tuple[Stage, ...]
    points: pd.DataFrame


def _note(stage: Stage) -> str:
    return f"Assumed after common practice: {'; '.join(stage.assumed)}." if stage.assumed else ""


def _row_value(row: pd.Series, name: str, unit: str) -> Value:
    return Value(row[name], row[f"{name}_uncertainty"], unit)


def _mode_words(row: pd.Series) -> str:
    odds = "" if row["probability"] > 0.995 else f" (probability {row['probability']:.2f})"
    named = "at the boundary" if row["mode"] == "boundary" else f"in {row['mode']} conduction"
    return f"{named}{odds}"


def _mode_findings(stage: Stage, points: pd.DataFrame) -> list[Finding]:
    place = _PLACE | {"crest": "at its crest"}
    found = []
    for (volts, hertz), group in points.groupby(["mains_voltage", "mains_frequency"], sort=False):
        says = [f"{_mode_words(row)} {place[row['instant']]}" for _, row in group.iterrows()]
        if len(says) == 1:
            says = [f"{_mode_words(group.iloc[0])} {_PLACE[group.iloc[0]['instant']]}"]
        if len(says) > 1 and len({_mode_words(row) for _, row in group.iterrows()}) == 1:
            says = [f"{_mode_words(group.iloc[0])} all through the ripple of the bulk voltage"]
        closed = [_row_value(row, "duty_cycle", "%").short for _, row in group.iterrows()]
        found.append(
            Finding(
                section=SECTION,
                question=f"In which mode does the {stage.name} converter work at full load?",
                word=NO_LIMIT,
                sentence=(
                    f"At {volts:g} V, {hertz:g} Hz and full load ({stage.output_voltage:g} V, "
                    f"{stage.output_current:.3g} A) the {stage.name} converter works "
                    f"{' and '.join(says)}; its switch is closed for {' to '.join(closed)} of "
                    f"each period."
                ),
                function="flyback.operating_point",
                prediction=_row_value(group.iloc[0], "duty_cycle", "%"),
                figure="flyback_modes",
                note=_note(stage),
            )
        )
    return found


def _peak_finding(stage: Stage, points: pd.DataFrame) -> Finding:
    """The largest peak; where it is the same everywhere, at the lowest input voltage."""
    ordered = points.sort_values("input_voltage", kind="stable")
    row = ordered.loc[(ordered["primary_peak"] / ordered["primary_peak"].max()).round(6).idxmax()]
    value = _row_value(row, "primary_peak", "A")
    secondary = _row_value(row, "secondary_peak", "A")
    return Finding(
        section=SECTION,
        question=f"How large are the current peaks of the {stage.name} converter?",
        word=NO_LIMIT,
        sentence=(
            f"The parts predict a primary peak of {value} in the {stage.name} converter at "
            f"{row['mains_voltage']:g} V, {row['mains_frequency']:g} Hz and full load, "
            f"{_PLACE[row['instant']]}; the secondary then starts at {secondary}."
        ),
        function="flyback.operating_point",
        prediction=value,
        figure="flyback_waveforms",
        note=_note(stage),
    )


def _weakest(dossier: Dossier, role: str) -> tuple[Part | None, str]:
    """The part of a role with the lowest marked voltage, and what to say of the others."""
    rated = [part for part in dossier.adapter.parts_with_role(role) if part.rated_voltage]
    if not rated:
        return None, ""
    part = min(rated, key=lambda candidate: candidate.rated_voltage or 0.0)
    apart = {candidate.rated_voltage for candidate in rated} != {part.rated_voltage}
    return part, "Of several such parts the one with the lowest rating is taken." if apart else ""


def _stress(dossier: Dossier, stage: Stage, what: str) -> Finding:
    """Highest voltage of the switch or the rectifier against the rating marked on the part."""
    role, field = {
        "switch": ("switch", "switch_voltage"),
        "output rectifier": ("output rectifier", "diode_voltage"),
    }[what]
    question = f"Does the rating of the {what} hold in the {stage.name} converter?"
    part, remark = _weakest(dossier, role)
    highest = dossier.adapter.nameplate.input_voltage_maximum or 240.0
    current = stage.output_voltage * stage.output_current / stage.highest_voltage

    def at(bridge_drop: Any, diode_drop: Any) -> Any:
        point = operating_point(
            ROOT * highest - bridge_drop,
            stage.highest_voltage,
            current,
            stage.turns_ratio,
            stage.magnetising_inductance,
            stage.switching_frequency,
            diode_drop,
        )
        return getattr(point, field)

    drawn = propagate(
        at,
        {"bridge_drop": spread_of(*BRIDGE_DROP), "diode_drop": spread_of(*stage.diode_drop)},
        2048,
    )
    value = Value(drawn.mean, drawn.standard_uncertainty, "V")
    subject = (
        f"The highest voltage predicted across the {what} of the {stage.name} converter, leakage "
        f"spike not included ({highest:g} V mains, {stage.highest_voltage:g} V out),"
    )
    if part is None or part.rated_voltage is None:
        needed = f"[[parts]] with the role '{role}' and its rated_voltage. {subject} is {value}."
        return replace(
            not_measured(SECTION, question, needed, "flyback.operating_point"), prediction=value
        )
    limit = Limit(
        part.rated_voltage,
        "V",
        "upper",
        f"the rating of {part.reference}",
        f"rating marked on the part {part.reference} ({part.identified_by})",
        _KNOWN[part.identified_by],
    )
    finding = against_limit(
        value,
        limit,
        subject,
        section=SECTION,
        question=question,
        function="flyback.operating_point",
        figure="flyback_waveforms",
        note=" ".join(text for text in (remark, _note(stage)) if text),
    )
    return replace(finding, reading=None, prediction=value)


def _gap(question: str, needed: str) -> Finding:
    return not_measured(SECTION, question, needed, "flyback.operating_point")


def assess(dossier: Dossier) -> FlybackAssessment:
    """Operating points of every converter of one adapter.

    Parameters
    ----------
    dossier : Dossier
        The record.

    Returns
    -------
    FlybackAssessment
        Findings and what the figures draw.
    """
    construction = dossier.adapter.construction
    question = "In which mode does the converter work at full load?"
    findings, stages = [], []
    if construction.topology == "other":
        findings.append(_gap(question, "nothing here applies: the dossier names no flyback."))
    elif not construction.converters:
        needed = (
            "[[construction.converters]] with turns_ratio and magnetising_inductance, read on "
            "the transformer with an LCR meter, and switching_frequency."
        )
        findings.append(_gap(question, needed))
    else:
        for converter in construction.converters:
            lacking = missing(dossier, converter)
            if lacking:
                about = f"In which mode does the {converter.name} converter work at full load?"
                findings.append(_gap(about, f"{', '.join(lacking)}."))
            else:
                stages.append(stage_of(dossier, converter))
    bulk = bulk_of(dossier)
    if stages and bulk is None:
        needed = "[[parts]] with the role 'bulk capacitor' and its value."
        findings.append(_gap("How far does the bulk voltage fall between two crests?", needed))
    points, troubles = points_of(dossier, stages, bulk)
    for stage in stages:
        own = points[points["converter"] == stage.name]
        findings += _mode_findings(stage, own)
        if not own.empty:
            findings.append(_peak_finding(stage, own))
        findings += [_stress(dossier, stage, what) for what in ("switch", "output rectifier")]
        for trouble in troubles.get(stage.name, []):
            about = f"In which mode does the {stage.name} converter work at full load?"
            findings.append(_gap(about, f"no working point {trouble}."))
    return FlybackAssessment(Ledger.of(findings), tuple(stages), points)
