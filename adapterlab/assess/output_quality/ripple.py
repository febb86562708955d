"""Ripple: its step against load and what may be behind it, its captures, what the parts predict."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.prediction import (
    PredictedSweep,
    converters_on,
    predicted_ripple,
    predicted_sweep,
    step_size_finding,
)
from adapterlab.assess.output_quality.static import SECTION, mains_groups, resolution_of
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.capture_kinds import lacking
from adapterlab.dossier.records import Record
from adapterlab.judgement import agrees
from adapterlab.output_quality import (
    RippleReading,
    RippleSpectrum,
    RippleStep,
    SineAmplitude,
    find_ripple_step,
    measure_ripple,
    ripple_spectrum,
    sine_amplitude,
)
from adapterlab.published import rows

_LEAST_LOADS = 8


@dataclass(frozen=True)
class Cause:
    """One thing that can make the ripple jump.

    Attributes
    ----------
    name : str
        What it is.
    possible : bool
        Whether the dossier allows it.
    reason : str
        Why, or why not.
    """

    name: str
    possible: bool
    reason: str


@dataclass(frozen=True)
class RippleSweep:
    """Ripple of one output against its load.

    Attributes
    ----------
    label : str
        Port, mode and mains.
    power, ripple, ripple_uncertainty : numpy.ndarray
        Output power, peak-to-peak ripple and its standard uncertainty. [W], [V], each shape (n,)
    step : RippleStep
        What `find_ripple_step` says of it.
    causes : tuple of Cause
        What may be behind a step; empty if there is none.
    predicted : PredictedSweep or None
        What the parts predict; None if they are not known.
    """

    label: str
    power: Any
    ripple: Any
    ripple_uncertainty: Any
    step: RippleStep
    causes: tuple[Cause, ...]
    predicted: PredictedSweep | None


@dataclass(frozen=True)
class RippleCapture:
    """One capture of the ripple.

    Attributes
    ----------
    record : Record
        As in the dossier.
    reading : RippleReading
        Its size.
    peak_to_peak : Value
        Its size with the instrument's uncertainty. [V]
    spectrum : RippleSpectrum
        Its lines.
    twice_mains : SineAmplitude or None
        Part at twice the mains frequency; None if the record is too short for it.
    predicted : Value or None
        Switching ripple that the parts predict; None if they are not known. [V]
    lines : tuple of tuple
        Name of each converter, its nominal frequency, and frequency and amplitude of the
        strongest line within 4 % of it. [Hz], [Hz], [V]
    """

    record: Record
    reading: RippleReading
    peak_to_peak: Value
    spectrum: RippleSpectrum
    twice_mains: SineAmplitude | None
    predicted: Value | None
    lines: tuple[tuple[str, float, float, float], ...]


def _causes(specimen: Specimen, port: str, step: RippleStep) -> tuple[Cause, ...]:
    """The four usual suspects, and which of them the dossier allows."""
    found = []
    converters = converters_on(specimen, port)
    low, high = step.interval
    if len(converters) > 1:
        first = converters[0]
        joins = [item.joins_above or first.rated_power for item in converters[1:]]
        near = min(joins, key=lambda power: abs(power - step.load))
        fits = 0.5 * near < step.load < 1.1 * near
        reason = (
            f"{len(converters)} converters feed {port}, and above {near:g} W the "
            f"{first.name} one alone is not enough"
        )
        found.append(Cause("a second converter joining", fits, reason))
    else:
        reason = f"{len(converters) or 'no'} converter is listed for {port}"
        found.append(Cause("a second converter joining", False, reason))
    share = rows(SECTION, "practice", name="burst below share of rated power")[0]["value"]
    rated = sum(item.rated_power for item in converters) or specimen.adapter.nameplate.rated_power
    light = step.load < share * rated and step.after < step.before
    reason = f"it would lie below about {share:.0%} of {rated:g} W, and the ripple would fall there"
    found.append(Cause("leaving burst mode", light, reason))
    hops = specimen.adapter.construction.topology == "quasi-resonant flyback" or any(
        item.switching_frequency is None for item in converters
    )
    reason = (
        "the converter switches in a valley of its ringing"
        if hops
        else "the converters listed keep a fixed frequency"
    )
    found.append(Cause("a change of valley", hops, reason))
    spans = [meter.full_scale for meter in specimen.adapter.instruments_for("ripple")]
    ends = sorted((step.before, step.after))
    crossed = [span for span in spans if span and ends[0] <= span <= 1.05 * ends[1]]
    reason = (
        f"a range ends at {1e3 * crossed[0]:g} mV, between the two sides"
        if crossed
        else f"no range of the meter ends between {1e3 * ends[0]:.0f} and {1e3 * ends[1]:.0f} mV"
    )
    found.append(Cause("a change of the meter's range", bool(crossed), reason))
    return tuple(found)


def sweeps_of(specimen: Specimen, points: pd.DataFrame) -> tuple[list[RippleSweep], list[Finding]]:
    """Every output whose ripple was read, alone and on one mains, at enough loads.

    The second result holds a finding for each that could not be worked out.
    """
    table = points[points["alone"] & points["ripple"].notna() & (points["kind"] == "fixed")]
    table = table.assign(mains=mains_groups(table["mains_voltage"]))
    found, troubles = [], []
    for (port, mode, _), group in table.groupby(["port", "mode", "mains"], sort=False):
        power, ripple = group["power"].to_numpy(), group["ripple"].to_numpy()
        if len(np.unique(power)) < _LEAST_LOADS or np.ptp(power) < 0.3 * power.max():
            continue
        mains = float(group["mains_voltage"].median())
        label = f"{port}, {mode}, {mains:.0f} V mains"
        try:
            step = find_ripple_step(power, ripple, resolution=resolution_of(specimen, "ripple"))
        except ValueError as error:
            question = f"Does the ripple jump with the load ({label})?"
            troubles.append(missing(question, f"{error}.", "find_ripple_step"))
            continue
        order = np.argsort(power)
        spread = [specimen.reading("ripple", value, "V").standard_uncertainty for value in ripple]
        causes = _causes(specimen, str(port), step) if step.found else ()
        volts = float(group["set_voltage"].median())
        predicted = predicted_sweep(specimen, str(port), volts, mains, power)
        found.append(
            RippleSweep(
                label, power[order], ripple[order], np.array(spread)[order], step, causes, predicted
            )
        )
    return found, troubles


def _millivolts(amplitude: float) -> str:
    return "less than 0.1 mV" if amplitude < 1e-4 else f"{1e3 * amplitude:.1f} mV"


def _evidence(sweep: RippleSweep, captures: list[RippleCapture]) -> str:
    """What captures on both sides of a step show at the frequency of a second converter."""
    said = []
    for capture in captures:
        asked = capture.record.capture
        if sweep.label.startswith(f"{asked.port}, {asked.mode},") and len(capture.lines) > 1:
            name, _, frequency, amplitude = capture.lines[1]
            said.append(
                f"{_millivolts(amplitude)} at {asked.load_current or 0:g} A "
                f"({frequency / 1e3:.0f} kHz)"
            )
    if len(said) < 2:
        return ""
    return f"Captures show of the {name} converter {', '.join(said)}. "


def step_findings(sweeps: list[RippleSweep], captures: list[RippleCapture]) -> list[Finding]:
    """One finding for each sweep: a step with the causes that the parts allow, or none."""
    found = []
    for sweep in sweeps:
        step = sweep.step
        question = f"Does the ripple jump with the load ({sweep.label})?"
        common: dict[str, Any] = {
            "section": SECTION,
            "question": question,
            "origin": "load_sweep.csv",
            "function": "output_quality.find_ripple_step",
            "figure": "output_quality_ripple_step",
        }
        if not step.found:
            sentence = (
                f"Ripple of {sweep.label}: no step shows (probability {step.probability:.2f} that "
                f"there is one)."
            )
            found.append(Finding(judgement=rules.result(), sentence=sentence, **common))
            found += _size(sweep, common)
            continue
        allowed = [cause for cause in sweep.causes if cause.possible]
        rest = [cause for cause in sweep.causes if not cause.possible]
        low, high = step.interval
        change = Value(step.after - step.before, step.step_uncertainty, "V")
        odds = "over 0.9999" if step.probability > 0.9999 else f"{step.probability:.4f}"
        sentence = (
            f"Between {low:.0f} and {high:.0f} W the ripple of {sweep.label} changes at one stroke "
            f"by {change}, from {1e3 * step.before:.0f} to {1e3 * step.after:.0f} mV (probability "
            f"{odds} that it is a step): "
        )
        sentence += (
            f"the parts list allows {' or '.join(cause.name for cause in allowed)}: explained."
            if allowed
            else "no cause that the parts list allows: unexplained."
        )
        note = "".join(f"{c.name[0].upper()}{c.name[1:]}: {c.reason}. " for c in allowed)
        note += _evidence(sweep, captures)
        if rest:
            note += "Ruled out: " + "; ".join(f"{c.name} ({c.reason})" for c in rest) + "."
        found.append(
            Finding(
                judgement=agrees(bool(allowed)),
                sentence=sentence,
                reading=Value(step.load, (high - low) / np.sqrt(12), "W"),
                note=note.strip(),
                **common,
            )
        )
        found += _size(sweep, common)
    return found


def _size(sweep: RippleSweep, common: dict[str, Any]) -> list[Finding]:
    """Size of the step against the prediction, if the parts predict one."""
    finding = step_size_finding(sweep.label, sweep.step, sweep.predicted, **common)
    return [finding] if finding else []


def capture_of(specimen: Specimen, record: Record) -> RippleCapture | str:
    """One capture of the ripple worked out, or why it can't be."""
    volts = record.channel("voltage")
    if volts is None:
        return f"it needs {lacking(record.capture)}"
    try:
        reading = measure_ripple(record.time, volts)
        spectrum = ripple_spectrum(record.time, volts)
    except ValueError as error:
        return str(error).split(", got")[0]
    twice = None
    mains = record.capture.mains_frequency
    if mains:
        try:
            twice = sine_amplitude(record.time, volts, 2 * mains)
        except ValueError:
            twice = None
    lines = []
    for item in converters_on(specimen, record.capture.port):
        nominal = item.switching_frequency
        near = np.abs(spectrum.frequency / nominal - 1) < 0.04 if nominal else np.array([False])
        if nominal and near.any():
            place = int(np.argmax(np.where(near, spectrum.amplitude, -1.0)))
            line = (float(spectrum.frequency[place]), float(spectrum.amplitude[place]))
            lines.append((item.name, nominal, *line))
    return RippleCapture(
        record,
        reading,
        specimen.reading("ripple", reading.peak_to_peak, "V"),
        spectrum,
        twice,
        predicted_ripple(specimen, record),
        tuple(lines),
    )


def _bandwidth_note(capture: RippleCapture) -> str:
    """What the record's bandwidth and sampling mean for the reading."""
    record = capture.record
    usual = rows(SECTION, "practice", name="ripple bandwidth")[0]["value"]
    stated = record.capture.bandwidth
    sampled = 0.5 / (float(record.time[-1] - record.time[0]) / (len(record.time) - 1))
    if stated is None:
        note = "The bandwidth is not stated; by convention it is 20 MHz."
    elif abs(stated / usual - 1) < 0.05:
        note = f"Bandwidth {stated / 1e6:g} MHz, the makers' convention."
    else:
        note = f"Bandwidth {stated / 1e6:g} MHz; by convention it is {usual / 1e6:g} MHz."
    if sampled < (stated or usual):
        note += (
            f" The samples follow only up to {sampled / 1e6:.2g} MHz: spikes between them are "
            "missed, faster ripple shows at a wrong frequency."
        )
    return note + " No limit of its own is published; the voltage window is the bound."


def _where(record: Record) -> str:
    capture = record.capture
    load = f" at {capture.load_current:g} A" if capture.load_current is not None else ""
    return f"{capture.port or 'the output'}{', ' + capture.mode if capture.mode else ''}{load}"


def capture_findings(captures: list[RippleCapture]) -> list[Finding]:
    """Size with and without spikes, part at twice the mains, and what the parts predict."""
    found, compared = [], set()
    for capture in captures:
        record, reading = capture.record, capture.reading
        common: dict[str, Any] = {
            "section": SECTION,
            "origin": record.capture.file,
            "figure": "output_quality_ripple_capture",
        }
        place = f"{_where(record)} ({record.capture.file.rsplit('/', 1)[-1]})"
        rms = Value(reading.rms, 0.0, "V").short
        sentence = f"Ripple of {place} is {capture.peak_to_peak} peak to peak, {rms} rms"
        if reading.spikes:
            whole = Value(reading.peak_to_peak_with_spikes, 0.0, "V").short
            many = "spikes were" if reading.spikes > 1 else "spike was"
            sentence += f"; {reading.spikes} isolated {many} set aside, with which it is {whole}"
        if capture.twice_mains is not None:
            slow = Value(
                2 * capture.twice_mains.amplitude,
                2 * capture.twice_mains.standard_uncertainty,
                "V",
            )
            sentence += f"; {slow} of it comes at twice the mains frequency"
        for name, nominal, frequency, amplitude in capture.lines:
            sentence += (
                f"; near the {nominal / 1e3:g} kHz of the {name} converter stands "
                f"{_millivolts(amplitude)} at {frequency / 1e3:.1f} kHz"
            )
        found.append(
            Finding(
                question=f"How large is the ripple of {place}?",
                judgement=rules.result(),
                sentence=sentence + ".",
                reading=capture.peak_to_peak,
                function="output_quality.measure_ripple",
                note=_bandwidth_note(capture),
                **common,
            )
        )
        key = (record.capture.port, record.capture.mode, record.capture.load_current)
        if capture.predicted is None or key in compared:
            continue
        compared.add(key)
        found.append(
            against_prediction(
                capture.peak_to_peak,
                capture.predicted,
                f"The ripple of {place}",
                "the charge of each pulse into the output capacitor",
                question=f"Do the parts explain the ripple of {place}?",
                function="output_quality.measure_ripple",
                note="The series resistance is taken to within 40 %, the capacitance to within "
                "20 % (common practice).",
                **common,
            )
        )
    return found


def missing(question: str, needed: str, function: str) -> Finding:
    """Short for a finding of this section that was not measured."""
    return not_measured(SECTION, question, needed, f"output_quality.{function}")
