"""Converters of a dossier: conduction mode, peak currents and stresses at full load."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from adapterlab.assess.finding import Finding, Ledger, Limit, Value, against_limit, not_measured
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import Converter, Mode, Part
from adapterlab.flyback import bulk_valley_voltage, ideal_conduction_time, operating_point
from adapterlab.uncertainty import propagate
from adapterlab.verdict import NO_LIMIT

SECTION = "flyback"
_ROOT = float(np.sqrt(2))
# Common practice, where the dossier is silent: (lowest, highest).
_EFFICIENCY = (0.85, 0.95)
_RECTIFIER_DROP = {"diode": (0.3, 0.7), "synchronous": (0.02, 0.1), "unknown": (0.02, 0.7)}
_BULK_TOLERANCE = 0.2
_BRIDGE_DROP = (1.0, 2.0)
_KNOWN = {"read": "seen", "inferred": "inferred", "unknown": "memory"}
_PLACE = {
    "valley": "in the valley of the bulk voltage",
    "crest": "at the crest of the bulk voltage",
}
_COLUMNS = (
    "input_voltage",
    "duty_cycle",
    "primary_peak",
    "primary_rms",
    "secondary_peak",
    "secondary_rms",
    "switching_frequency",
)


@dataclass(frozen=True)
class Stage:
    """One converter's power stage at the full load of its nameplate mode.

    Attributes
    ----------
    name : str
        As in the dossier.
    output_voltage, output_current : float
        Full load. [V], [A]
    highest_voltage : float
        Highest output voltage that any of its modes can have. [V]
    turns_ratio : float
        Primary to secondary. [1]
    magnetising_inductance, inductance_tolerance : float
        Seen from the primary, and its relative tolerance. [H], [1]
    switching_frequency : float or None
        None for a converter that works at the boundary. [Hz]
    diode_drop, efficiency : tuple of float
        Lowest and highest; alike where the dossier states them. [V], [1]
    assumed : tuple of str
        What the dossier does not say and was taken from common practice.
    """

    name: str
    output_voltage: float
    output_current: float
    highest_voltage: float
    turns_ratio: float
    magnetising_inductance: float
    inductance_tolerance: float
    switching_frequency: float | None
    diode_drop: tuple[float, float]
    efficiency: tuple[float, float]
    assumed: tuple[str, ...]

    @property
    def input_power(self) -> float:
        """Power drawn from the bulk capacitor at full load. [W]."""
        drop, efficiency = np.mean(self.diode_drop), np.mean(self.efficiency)
        return float((self.output_voltage + drop) * self.output_current / efficiency)

    def numbers(self) -> dict[str, Any]:
        """Middle values as `adapterlab.flyback.operating_point` takes them by name."""
        return {
            "output_voltage": self.output_voltage,
            "output_current": self.output_current,
            "turns_ratio": self.turns_ratio,
            "magnetising_inductance": self.magnetising_inductance,
            "switching_frequency": self.switching_frequency,
            "diode_drop": float(np.mean(self.diode_drop)),
            "efficiency": float(np.mean(self.efficiency)),
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


def _spread(low: float, high: float) -> Any:
    """A number if the ends are alike, else a rectangular distribution between them."""
    return stats.uniform(low, high - low) if high > low else low


def _modes(dossier: Dossier, converter: Converter) -> list[Mode]:
    ports = dossier.adapter.ports
    return [m for p in ports if not converter.ports or p.name in converter.ports for m in p.modes]


def _missing(dossier: Dossier, converter: Converter) -> list[str]:
    needed = [
        key
        for key in ("turns_ratio", "magnetising_inductance")
        if getattr(converter, key) is None or getattr(converter, key) == 0
    ]
    if not any(mode.kind == "fixed" for mode in _modes(dossier, converter)):
        needed.append("a fixed mode of one of its ports")
    return needed


def _stage(dossier: Dossier, converter: Converter) -> Stage:
    modes = _modes(dossier, converter)
    fixed = [(mode.voltage * mode.current, mode.voltage, mode.current)
             for mode in modes if mode.voltage is not None]  # fmt: skip
    _, voltage, current = max(fixed)
    construction, assumed = dossier.adapter.construction, []
    drop, efficiency = _RECTIFIER_DROP[construction.rectifier], _EFFICIENCY
    if converter.rectifier_drop is not None:
        drop = (converter.rectifier_drop, converter.rectifier_drop)
    else:
        assumed.append(f"rectifier drop {drop[0]:g} to {drop[1]:g} V")
    if converter.efficiency is not None:
        efficiency = (converter.efficiency, converter.efficiency)
    else:
        assumed.append(f"efficiency {efficiency[0]:.0%} to {efficiency[1]:.0%}")
    if converter.switching_frequency is None:
        assumed.append("a frequency that keeps the current at the boundary")
    if construction.topology == "unknown":
        assumed.append("a flyback converter")
    return Stage(
        converter.name,
        voltage,
        min(current, converter.rated_power / voltage),
        max(mode.maximum_voltage or mode.voltage or 0.0 for mode in modes),
        converter.turns_ratio or 0.0,
        converter.magnetising_inductance or 0.0,
        converter.magnetising_inductance_tolerance,
        converter.switching_frequency,
        drop,
        efficiency,
        tuple(assumed),
    )


def _bulk(dossier: Dossier) -> Any:
    """Capacitance of all bulk capacitors together as a distribution; None if not known."""
    parts = dossier.adapter.parts_with_role("bulk capacitor")
    if not parts or any(part.value is None for part in parts):
        return None
    total = 0.0
    for part in parts:
        chain = [
            p.value or 0.0
            for p in parts
            if p is part or p.in_series_with == part.reference or p.reference == part.in_series_with
        ]
        total += 1 / sum(1 / value for value in chain) / len(chain)
    known = [_BULK_TOLERANCE if part.tolerance is None else part.tolerance for part in parts]
    return _spread(total * (1 - max(known)), total * (1 + max(known)))


def _mains(dossier: Dossier) -> list[tuple[float, float]]:
    """230 V and the lowest rated mains; 115 V 60 Hz too where it was measured."""
    plate, table = dossier.adapter.nameplate, dossier.load_sweep
    frequency = plate.input_frequency_minimum or 50.0
    chosen = [(230.0, 50.0), (plate.input_voltage_minimum or 100.0, frequency)]
    near = (table["mains_voltage"] / 115 - 1).abs() < 0.015
    if (near & ((table["mains_frequency"] / 60 - 1).abs() < 0.015)).any():
        chosen.append((115.0, 60.0))
    return list(dict.fromkeys(chosen))


def _point(
    stage: Stage, mains: tuple[float, float], instant: str, bulk: Any, others: float
) -> dict[str, Any]:
    """One row of the table of points: means and standard uncertainties of the draws."""

    def at(
        magnetising_inductance: Any,
        bridge_drop: Any,
        diode_drop: Any,
        efficiency: Any,
        bulk_capacitance: Any = None,
    ) -> list[Any]:
        voltage = mains[0] - bridge_drop / _ROOT
        source = _ROOT * voltage
        if instant == "valley":
            drawn = (stage.output_voltage + diode_drop) * stage.output_current / efficiency
            line = (voltage, mains[1], drawn + others, bulk_capacitance)
            source = bulk_valley_voltage(*line, ideal_conduction_time(*line))
        point = operating_point(
            source,
            stage.output_voltage,
            stage.output_current,
            stage.turns_ratio,
            magnetising_inductance,
            stage.switching_frequency,
            diode_drop,
            efficiency,
        )
        values = [source] + [getattr(point, name) for name in _COLUMNS[1:]]
        return [*values, *(np.equal(point.mode, name) * 1.0 for name in ("boundary", "continuous"))]

    tolerance = stage.inductance_tolerance
    inputs = {
        "magnetising_inductance": _spread(
            stage.magnetising_inductance * (1 - tolerance),
            stage.magnetising_inductance * (1 + tolerance),
        ),
        "bridge_drop": _spread(*_BRIDGE_DROP),
        "diode_drop": _spread(*stage.diode_drop),
        "efficiency": _spread(*stage.efficiency),
    }
    if instant == "valley":
        inputs["bulk_capacitance"] = bulk
    drawn = propagate(at, inputs, draws=2048)
    boundary, continuous = (round(float(share), 6) for share in drawn.mean[-2:])
    shares = {
        "discontinuous": 1 - boundary - continuous,
        "boundary": boundary,
        "continuous": continuous,
    }
    mode = max(shares, key=lambda name: shares[name])
    row: dict[str, Any] = {
        "converter": stage.name,
        "mains_voltage": mains[0],
        "mains_frequency": mains[1],
        "instant": instant,
        "mode": mode,
        "probability": shares[mode],
    }
    for place, name in enumerate(_COLUMNS):
        row[name] = float(drawn.mean[place])
        row[f"{name}_uncertainty"] = float(drawn.standard_uncertainty[place])
    return row


def _points(
    dossier: Dossier, stages: list[Stage], bulk: Any
) -> tuple[pd.DataFrame, dict[str, list[str]]]:
    """Table of points, and what could not be computed by converter."""
    rows: list[dict[str, Any]] = []
    troubles: dict[str, list[str]] = {}
    outputs = sum(stage.output_voltage * stage.output_current for stage in stages)
    share = min(1.0, dossier.adapter.nameplate.rated_power / outputs) if outputs else 1.0
    for stage in stages:
        others = share * sum(other.input_power for other in stages if other is not stage)
        for mains in _mains(dossier):
            for instant in ("valley", "crest") if bulk is not None else ("crest",):
                try:
                    rows.append(_point(stage, mains, instant, bulk, others))
                except ValueError as error:
                    # The rule that was broken, without the thousands of draws that broke it.
                    rule = str(error).split(":")[0].split(", got")[0].replace("_", " ")
                    text = f"at {mains[0]:g} V, {mains[1]:g} Hz, {instant} of the bulk voltage"
                    troubles.setdefault(stage.name, []).append(f"{text}: {rule}")
    names = ["converter", "mains_voltage", "mains_frequency", "instant", "mode", "probability"]
    names += [column for name in _COLUMNS for column in (name, f"{name}_uncertainty")]
    return pd.DataFrame(rows, columns=names), troubles


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
            _ROOT * highest - bridge_drop,
            stage.highest_voltage,
            current,
            stage.turns_ratio,
            stage.magnetising_inductance,
            stage.switching_frequency,
            diode_drop,
        )
        return getattr(point, field)

    drawn = propagate(
        at, {"bridge_drop": _spread(*_BRIDGE_DROP), "diode_drop": _spread(*stage.diode_drop)}, 2048
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
            missing = _missing(dossier, converter)
            if missing:
                about = f"In which mode does the {converter.name} converter work at full load?"
                findings.append(_gap(about, f"{', '.join(missing)}."))
            else:
                stages.append(_stage(dossier, converter))
    bulk = _bulk(dossier)
    if stages and bulk is None:
        needed = "[[parts]] with the role 'bulk capacitor' and its value."
        findings.append(_gap("How far does the bulk voltage fall between two crests?", needed))
    points, troubles = _points(dossier, stages, bulk)
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
