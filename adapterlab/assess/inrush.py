"""The surge at plug-in of a dossier: captures against the parts, the fuse, the discharge."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import trapezoid

from adapterlab.assess.finding import (
    Finding,
    Ledger,
    Value,
    against_limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.inrush_parts import (
    SECTION,
    Floats,
    Fuse,
    Path,
    Prediction,
    allowance,
    discharge_finding,
    fuse_of,
    heating,
    path_of,
    predict,
    rest_needed,
)
from adapterlab.assess.instrument import reading_of
from adapterlab.dossier import Dossier, Record
from adapterlab.dossier.schema import Capture
from adapterlab.inrush import CREST_WINDOW, SurgeFit, fit_surge, i_squared_t
from adapterlab.verdict import NOT_MEASURED

_FIT_QUESTION = "Do the parts explain the plug-in surge?"
_NEEDED = (
    "a capture of kind 'plug-in' with a current channel, mains voltage and frequency, contact at "
    "the crest (phase 90 or 270), the adapter rested for some minutes."
)


@dataclass(frozen=True)
class Surge:
    """One plug-in capture near the crest and from rest.

    Attributes
    ----------
    file : str
        The capture's file.
    mains_voltage : Value
        Rms voltage of the mains. [V]
    mains_frequency : float
        Its frequency. [Hz]
    time, current : numpy.ndarray
        Time since contact [s] and current in the sense of the surge [A] from the last quiet
        sample on, shape (n,)
    peak, time_constant, i_squared_t : Value
        Highest current, time from it to 1/e, I²t until a quarter period later. [A], [s], [A²s]
    energy : Value or None
        Energy drawn from the mains until then; None without a voltage channel. [J]
    record_i_squared_t : Value
        I²t of the whole record, later half waves that top up the capacitor included. [A²s]
    fit : SurgeFit
        What `fit_surge` made of it, with a constant resistance.
    resistance, capacitance : Value
        Implied by the fit, the warming of a thermistor within the surge allowed for. [ohm], [F]
    prediction : Prediction or None
        What the parts predict; None if they are not listed.
    note : str
        What had to be assumed.
    """

    file: str
    mains_voltage: Value
    mains_frequency: float
    time: Floats
    current: Floats
    peak: Value
    time_constant: Value
    i_squared_t: Value
    energy: Value | None
    record_i_squared_t: Value
    fit: SurgeFit
    resistance: Value
    capacitance: Value
    prediction: Prediction | None
    note: str


@dataclass(frozen=True)
class InrushAssessment:
    """What the plug-in captures say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    surges : tuple of Surge
        Captures that this section's model covers.
    path : Path or None
        The parts the surge flows through; None if they are not listed.
    prediction : Prediction or None
        What they predict: of the first surge, or at 230 V 50 Hz without one.
    fuse : Fuse or None
        The fuse and what it stands; None if no melting I²t is listed.
    """

    findings: Ledger
    surges: tuple[Surge, ...]
    path: Path | None
    prediction: Prediction | None
    fuse: Fuse | None


def _aside(capture: Capture, path: Path | None) -> str:
    """Why a capture is not one of contact at the crest from rest; empty if it is one."""
    if capture.mains_voltage is None or capture.mains_frequency is None:
        return "its mains voltage or frequency is not noted"
    if capture.phase is None:
        return "its angle of contact is not noted"
    if abs(capture.phase % 180 - 90) > CREST_WINDOW:
        return (
            f"contact was at {capture.phase:.0f}°, and this section's model holds within "
            f"{CREST_WINDOW:.0f}° of the crest"
        )
    needed = rest_needed(path)
    if capture.rest_time is not None and capture.rest_time < needed:
        return (
            f"the adapter had rested for {capture.rest_time:.0f} s only; its limiter counts as "
            f"cold and its bulk capacitor as empty after {needed:.0f} s"
        )
    return ""


def _window(time: Floats, current: Floats, frequency: float) -> tuple[slice, int, float]:
    """Samples of the surge, index of its peak, and the noise before it. [A]."""
    top = int(np.argmax(np.abs(current)))
    quiet = np.flatnonzero(np.abs(current[: top + 1]) < 0.05 * abs(current[top]))
    first = int(quiet[-1]) if len(quiet) else top
    last = int(np.searchsorted(time, time[top] + 0.25 / frequency, side="right"))
    noise = float(np.std(current[:first])) if first > 10 else 0.0
    return slice(first, last), top, noise


def _fall_time(time: Floats, flow: Floats, noise: float) -> Value:
    """Time from the peak to 1/e of it, with the uncertainty of sampling and noise."""
    top = int(np.argmax(flow))
    level = flow[top] / np.e
    above = top + int(np.flatnonzero(flow[top:] >= level)[-1])
    below = top + int(np.argmax(flow[top:] < level))
    constant = float((time[above] + time[below]) / 2 - time[top])
    step = float(time[below] - time[below - 1])
    jitter = noise * constant / level
    return Value(constant, float(np.hypot(step / np.sqrt(6), jitter)), "s")


def _energy(dossier: Dossier, record: Record, window: slice, current: Floats) -> Value | None:
    volts = record.channel("voltage")
    if volts is None or not volts[window].any():
        return None
    drawn = abs(float(trapezoid(volts[window] * current[window], record.time[window])))
    variance = 0.0
    for name, values in (("current", current), ("voltage", volts)):
        top = reading_of(dossier, f"capture {name}", float(np.abs(values[window]).max()), "")
        variance += (top.standard_uncertainty / top.value) ** 2
    return Value(drawn, drawn * variance**0.5, "J")


def _unwarmed(fit: SurgeFit, path: Path | None, fall: Value | None) -> tuple[Value, Value]:
    """Cold resistance and capacitance behind a fit that took the resistance as constant."""
    unknown = allowance("heating fall")
    share = fall or Value(unknown.mean(), unknown.std(), "%")
    if path is not None and not path.warms:
        share = Value(0.0, 0.0, "%")
    found = []
    for quantity, value, spread, unit in (
        ("fitted resistance", fit.resistance, fit.resistance_uncertainty, "Ω"),
        ("fitted capacitance", fit.capacitance, fit.capacitance_uncertainty, "F"),
    ):
        part = heating(quantity)
        factor = 1 - part.mean() * share.value
        relative = np.sqrt(
            (spread / value) ** 2
            + (part.std() * share.value / factor) ** 2
            + (part.mean() * share.standard_uncertainty / factor) ** 2
        )
        found.append(Value(value / factor, float(value / factor * relative), unit))
    return found[0], found[1]


def _surge(dossier: Dossier, record: Record, path: Path | None) -> Surge:
    """Readings, fit and prediction of one capture; raises if it holds no surge."""
    capture, current = record.capture, record.channel("current")
    if current is None or capture.mains_voltage is None or capture.mains_frequency is None:
        raise ValueError("the capture needs a current channel, mains voltage and frequency")
    frequency = capture.mains_frequency
    window, top, _ = _window(record.time, current, frequency)
    # The probe's offset shows before contact, when no current can flow.
    current = current - (float(current[: window.start].mean()) if window.start > 10 else 0.0)
    window, top, noise = _window(record.time, current, frequency)
    flow = current * np.sign(current[top])
    peak = reading_of(dossier, "capture current", float(flow[top]), "A")
    gain = peak.standard_uncertainty / peak.value if peak.value > 0 else 0.0
    mains = reading_of(dossier, "mains voltage", capture.mains_voltage, "V")
    drop = allowance("bridge drop")
    deviation = allowance("phase deviation").std()
    if capture.phase_uncertainty is not None:
        deviation = capture.phase_uncertainty / np.sqrt(3)
    fit = fit_surge(
        record.time,
        current,
        mains.value,
        frequency,
        drop.mean(),
        phase=capture.phase or 0.0,
        gain_uncertainty=gain,
        mains_voltage_uncertainty=mains.standard_uncertainty,
        drop_uncertainty=drop.std(),
        phase_uncertainty=deviation,
    )
    prediction = predict(path, mains, frequency) if path is not None else None
    fall = prediction.values["fall"] if prediction is not None else None
    resistance, capacitance = _unwarmed(fit, path, fall)
    heat = i_squared_t(record.time[window], flow[window])
    total = i_squared_t(record.time[window.start :], flow[window.start :])
    return Surge(
        file=capture.file,
        mains_voltage=mains,
        mains_frequency=frequency,
        time=record.time[window.start :] - fit.contact_time,
        current=flow[window.start :],
        peak=Value(peak.value, float(np.hypot(peak.standard_uncertainty, noise)), "A"),
        time_constant=_fall_time(record.time[window], flow[window], noise),
        i_squared_t=Value(heat, 2 * gain * heat, "A²s"),
        energy=_energy(dossier, record, window, current),
        record_i_squared_t=Value(total, 2 * gain * total, "A²s"),
        fit=fit,
        resistance=resistance,
        capacitance=capacitance,
        prediction=prediction,
        note=""
        if capture.rest_time is not None
        else "The rest before this plug-in is not noted; it is taken as long enough.",
    )


def _against_parts(surge: Surge, prediction: Prediction, path: Path) -> list[Finding]:
    """Peak and time constant as read; resistance and capacitance as implied."""
    at = f"at {surge.mains_voltage.value:.0f} V"
    cause = f"the path of {path.label}"
    rows = (
        (
            "peak",
            surge.peak,
            f"Peak current of the surge {at}",
            "Do the parts explain the peak of the surge?",
            "inrush.crest_surge",
            "",
        ),
        (
            "time_constant",
            surge.time_constant,
            f"Time the surge {at} takes to fall to 1/e",
            "Do the parts explain how long the surge lasts?",
            "inrush.crest_surge",
            "",
        ),
        (
            "resistance",
            surge.resistance,
            "Resistance that the surge implies",
            "What resistance does the surge imply?",
            "inrush.fit_surge",
            "Of the whole path while the limiter is cold: limiter, supply, choke, bridge and the "
            "bulk capacitor's own. Usual causes of another value: a limiter that was still warm, "
            "a long lead, a marking misread.",
        ),
        (
            "capacitance",
            surge.capacitance,
            "Bulk capacitance that the surge implies",
            "What bulk capacitance does the surge imply?",
            "inrush.fit_surge",
            "Usual causes of a smaller value: less capacitance in the can than printed on it, an "
            "aged or dried-out part, a capacitor not yet empty. Of a larger one: a second "
            "capacitor not yet found.",
        ),
    )
    return [
        against_prediction(
            reading,
            prediction.values[name],
            subject,
            cause,
            section=SECTION,
            question=question,
            origin=surge.file,
            figure="inrush_implied" if "fit" in function else "inrush_capture",
            function=function,
            note=f"{note} {surge.note}".strip(),
        )
        for name, reading, subject, question, function, note in rows
    ]


def _against_fuse(surges: list[Surge], fuse: Fuse | None) -> Finding:
    """The largest I²t against what the fuse stands at every plug-in."""
    question = "Does the surge wear the fuse?"
    if fuse is None or not surges:
        needed = "[[parts]] with the role 'fuse' and its melting_i_squared_t"
        if fuse is not None:
            needed = _NEEDED.rstrip(".")
        return not_measured(SECTION, question, f"{needed}.", "inrush.pulse_fraction")
    surge = max(surges, key=lambda entry: entry.record_i_squared_t.value)
    return against_limit(
        surge.record_i_squared_t,
        fuse.limit,
        f"I²t of the surge at {surge.mains_voltage.value:.0f} V",
        section=SECTION,
        question=question,
        origin=surge.file,
        figure="inrush_fuse",
        function="inrush.i_squared_t",
        note=f"{fuse.reference} melts at {Value(fuse.melting, 0.0, 'A²s')} by its listed figure, "
        "which is a nominal one; the chart is one maker's, for pulses 10 s apart at room "
        "temperature, and makers differ. A hot restart is not covered.",
    )


def assess(dossier: Dossier) -> InrushAssessment:
    """Plug-in surge of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier
        The record.

    Returns
    -------
    InrushAssessment
        Findings and what the figures draw.
    """
    path, fuse = path_of(dossier), fuse_of(dossier)
    findings: list[Finding] = []
    surges: list[Surge] = []
    for record in dossier.records_of("plug-in"):
        reason = _aside(record.capture, path)
        if not reason:
            try:
                surges.append(_surge(dossier, record, path))
            except ValueError as error:
                reason = str(error)
        if reason:
            findings.append(
                Finding(
                    section=SECTION,
                    question=f"What does {record.capture.file} tell?",
                    word=NOT_MEASURED,
                    sentence=f"{record.capture.file} is set aside: {reason}.",
                    function="inrush.fit_surge",
                    origin=record.capture.file,
                )
            )
    if path is None:
        needed = "[[parts]] with the roles 'inrush limiter' and 'bulk capacitor', each with value "
        needed += "and tolerance."
        findings.append(not_measured(SECTION, _FIT_QUESTION, needed, "inrush.crest_surge"))
    if not surges:
        findings.append(not_measured(SECTION, _FIT_QUESTION, _NEEDED, "inrush.fit_surge"))
    for surge in surges:
        if path is not None and surge.prediction is not None:
            findings += _against_parts(surge, surge.prediction, path)
    findings += [_against_fuse(surges, fuse), discharge_finding(dossier)]
    prediction = surges[0].prediction if surges else None
    if prediction is None and path is not None:
        prediction = predict(path, Value(230.0, 0.0, "V"), 50.0)
    return InrushAssessment(Ledger.of(findings), tuple(surges), path, prediction, fuse)


def readings(result: InrushAssessment) -> list[dict[str, Any]]:
    """Readings of every surge beside their predictions, as rows of texts.

    Parameters
    ----------
    result : InrushAssessment
        What `assess` returned.

    Returns
    -------
    list of dict
        ``capture``, ``quantity``, ``reading`` and ``the parts predict``.
    """
    names = {
        "peak": "peak current",
        "time_constant": "time to 1/e",
        "i_squared_t": "I²t",
        "energy": "energy drawn",
        "resistance": "implied resistance",
        "capacitance": "implied capacitance",
    }
    table = []
    for surge in result.surges:
        for field, name in names.items():
            value = getattr(surge, field)
            if value is None:
                continue
            predicted = surge.prediction.values[field] if surge.prediction else "–"
            row = {"capture": surge.file.rsplit("/", 1)[-1], "quantity": name}
            table.append(row | {"reading": str(value), "the parts predict": str(predicted)})
    return table
