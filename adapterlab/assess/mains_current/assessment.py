"""The mains current of a dossier: captures and sweep against the parts, harmonics, the filter."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.mains_current.limits import filter_finding, limit_findings
from adapterlab.assess.mains_current.points import (
    SECTION,
    Point,
    implied,
    points_of,
    sentence_of,
)
from adapterlab.assess.mains_current.prediction import (
    MainsPrediction,
    PowerFactorCurve,
    mains_prediction,
    power_factor_curve,
)
from adapterlab.assess.model.rectifier import Rectifier, rectifier_of
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
from adapterlab.dossier import Dossier
from adapterlab.mains_current import RectifierFit

_NEEDED = (
    "a capture of kind 'mains' with a voltage and a current channel over at least one period, or "
    "load_sweep.csv with mains voltage, current and power."
)
_NAMES = {
    "input_current_rms": "rms current",
    "input_current_peak": "peak current",
    "power_factor": "power factor",
    "total_harmonic_distortion": "harmonic distortion",
    "bulk_capacitance": "implied bulk capacitance",
    "source_resistance": "implied series resistance",
}


@dataclass(frozen=True)
class MainsCurrentAssessment:
    """What the mains captures and the load sweep say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    points : tuple of Point
        Operating points: one for each capture, and the largest load of each mains without one.
    predictions : tuple of MainsPrediction or None
        What the parts predict at each point.
    fits : tuple of RectifierFit or None
        What each point's capture implies.
    rectifier : Rectifier or None
        The parts; None if they are not listed.
    curves : tuple of PowerFactorCurve
        Power factor over load that the parts predict, for each mains of the sweep.
    sweep : tuple of tuple
        Mains voltage [V], input power [W], power factor [1] and its standard uncertainty [1] of
        every point of the load sweep.
    """

    findings: Ledger
    points: tuple[Point, ...]
    predictions: tuple[MainsPrediction | None, ...]
    fits: tuple[RectifierFit | None, ...]
    rectifier: Rectifier | None
    curves: tuple[PowerFactorCurve, ...]
    sweep: tuple[tuple[float, float, float, float], ...]


def _against_parts(
    point: Point, prediction: MainsPrediction, rectifier: Rectifier
) -> list[Finding]:
    """Readings of one point beside what the parts predict."""
    rows = (
        ("input_current_rms", "Mains current", "Do the parts explain the mains current?", ""),
        (
            "input_current_peak",
            "Peak of the mains current",
            "Do the parts explain the peaks of the mains current?",
            "",
        ),
        (
            "power_factor",
            "Power factor",
            "Do the parts explain the power factor?",
            "Usual causes of another value: a mains that is flat at its crests, a large inductance "
            "in front, a bulk capacitor that is not what is printed on it.",
        ),
        (
            "total_harmonic_distortion",
            "Harmonic distortion of the current",
            "Do the parts explain the harmonics?",
            "",
        ),
    )
    return [
        against_prediction(
            point.readings[name],
            prediction.figures[name],
            f"{subject} at {point.label}",
            f"the rectifier with {rectifier.label}",
            section=SECTION,
            question=question,
            origin=point.origins[name],
            figure="mains_current_power_factor"
            if name == "power_factor"
            else "mains_current_waveform",
            function="mains_current.rectifier_steady_state",
            note=f"{note} {point.note}".strip(),
        )
        for name, subject, question, note in rows
        if name in point.readings
    ]


def _against_marks(point: Point, fit: RectifierFit, prediction: MainsPrediction) -> list[Finding]:
    """Capacitance and resistance that the capture implies, beside the marked parts."""
    rows = (
        (
            "bulk_capacitance",
            "F",
            "Bulk capacitance",
            "What bulk capacitance does the mains current imply?",
            "the marked bulk capacitance",
            "Usual causes of a smaller value: a capacitor aged or dried out, or less in the can "
            "than printed on it.",
        ),
        (
            "source_resistance",
            "Ω",
            "Series resistance",
            "What series resistance does the mains current imply?",
            "the path of supply, limiter and choke",
            "Everything before the bridge, the limiter at its working temperature.",
        ),
    )
    found = []
    for name, unit, subject, question, cause, note in rows:
        value = replace(
            point.readings["input_current_peak"],
            value=getattr(fit, name),
            standard_uncertainty=getattr(fit, f"{name}_uncertainty"),
            unit=unit,
        )
        found.append(
            against_prediction(
                value,
                prediction.figures[name],
                f"{subject} that the mains current at {point.label} implies",
                cause,
                section=SECTION,
                question=question,
                origin=point.file,
                figure="mains_current_implied",
                function="mains_current.fit_rectifier",
                note=f"{note} {point.note}".strip(),
            )
        )
    return found


def _product_finding(point: Point) -> Finding | None:
    """The power factor of a capture as the product of its two factors, and the gap."""
    quality = point.quality
    if quality is None:
        return None
    gap = ""
    if abs(quality.product_gap) >= 0.0005:
        gap = (
            f", less exactly by {abs(quality.product_gap):.3f} because the voltage itself has "
            f"{100 * quality.voltage_distortion:.1f} % of harmonics"
        )
    return Finding(
        section=SECTION,
        question="Why is the power factor so low?",
        judgement=rules.result(),
        sentence=(
            f"At {point.label} the power factor is {quality.power_factor:.3f}: displacement factor "
            f"{quality.displacement_factor:.3f} times distortion factor "
            f"{quality.distortion_factor:.3f}{gap}. The short pulses do it, not a shift of phase."
        ),
        function="mains_current.power_quality",
        origin=point.file,
        figure="mains_current_split",
        note=sentence_of(quality.corrections),
    )


def _set_aside(file: str, reason: str) -> Finding:
    return Finding(
        section=SECTION,
        question=f"What does {file} tell?",
        judgement=rules.not_measured(reason),
        sentence=f"{file} is set aside: {reason}.",
        function="mains_current.power_quality",
        origin=file,
    )


def assess(dossier: Dossier | Specimen) -> MainsCurrentAssessment:
    """Mains current of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    MainsCurrentAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    rectifier = rectifier_of(specimen)
    points, sweep, aside = points_of(specimen)
    findings = [_set_aside(file, reason) for file, reason in aside]
    predictions: list[MainsPrediction | None] = []
    fits: list[RectifierFit | None] = []
    for point in points:
        prediction, fit = None, None
        if rectifier is not None:
            try:
                prediction = mains_prediction(
                    rectifier, point.mains_voltage, point.mains_frequency, point.input_power
                )
                findings += _against_parts(point, prediction, rectifier)
            except ValueError as error:
                findings.append(_set_aside(f"the prediction at {point.label}", str(error)))
        if prediction is not None and rectifier is not None and point.quality is not None:
            try:
                fit = implied(specimen, point, rectifier)
                findings += _against_marks(point, fit, prediction)
            except ValueError as error:
                findings.append(_set_aside(point.file, str(error)))
        predictions.append(prediction)
        fits.append(fit)
        product = _product_finding(point)
        findings += [product] if product is not None else []
    question = "Do the parts explain the mains current?"
    if rectifier is None:
        needed = (
            "[[parts]] with the role 'bulk capacitor', and 'inrush limiter' where there is one, "
            "each with value and tolerance."
        )
        findings.append(
            not_measured(SECTION, question, needed, "mains_current.rectifier_steady_state")
        )
    if not any(point.readings for point in points):
        findings.append(not_measured(SECTION, question, _NEEDED, "mains_current.power_quality"))
    findings += limit_findings(specimen, points)
    findings.append(filter_finding(specimen))
    return MainsCurrentAssessment(
        Ledger.of(findings),
        tuple(points),
        tuple(predictions),
        tuple(fits),
        rectifier,
        _curves(rectifier, points, sweep),
        sweep,
    )


def _curves(
    rectifier: Rectifier | None,
    points: list[Point],
    sweep: tuple[tuple[float, float, float, float], ...],
) -> tuple[PowerFactorCurve, ...]:
    """Predicted power factor over load, once for each mains that the sweep has."""
    found: dict[int, PowerFactorCurve] = {}
    for point in points:
        alike = [row[1] for row in sweep if abs(row[0] / point.mains_voltage.value - 1) < 0.02]
        if rectifier is None or not alike or round(point.mains_voltage.value) in found:
            continue
        try:
            found[round(point.mains_voltage.value)] = power_factor_curve(
                rectifier, point.mains_voltage.value, point.mains_frequency, max(alike)
            )
        except ValueError:
            continue
    return tuple(found.values())


def readings(result: MainsCurrentAssessment) -> list[dict[str, Any]]:
    """Readings of every point beside their predictions, as rows of texts.

    Parameters
    ----------
    result : MainsCurrentAssessment
        What `assess` returned.

    Returns
    -------
    list of dict
        ``point``, ``quantity``, ``reading`` and ``the parts predict``.
    """
    table = []
    for point, prediction, fit in zip(result.points, result.predictions, result.fits, strict=True):
        values = dict(point.readings)
        if fit is not None:
            for name, unit in (("bulk_capacitance", "F"), ("source_resistance", "Ω")):
                spread = getattr(fit, f"{name}_uncertainty")
                values[name] = Value(getattr(fit, name), spread, unit)
        for name, value in values.items():
            row = {"point": point.label, "quantity": _NAMES[name], "reading": str(value)}
            predicted = prediction.figures[name] if prediction is not None else "–"
            table.append(row | {"the parts predict": str(predicted)})
    return table


def power_split(result: MainsCurrentAssessment) -> list[dict[str, Any]]:
    """Power factor and its two factors for every capture, as rows of rounded numbers.

    Parameters
    ----------
    result : MainsCurrentAssessment
        What `assess` returned.

    Returns
    -------
    list of dict
        One row for each capture.
    """
    return [
        {
            "capture": point.label,
            "real power (W)": round(point.quality.input_power, 1),
            "apparent power (VA)": round(point.quality.apparent_power, 1),
            "power factor": round(point.quality.power_factor, 3),
            "displacement factor": round(point.quality.displacement_factor, 3),
            "distortion factor": round(point.quality.distortion_factor, 3),
            "crest factor": round(point.quality.current_crest_factor, 2),
            "pulse (°)": round(float(np.round(point.quality.conduction_angle, 0)), 0),
        }
        for point in result.points
        if point.quality is not None
    ]
