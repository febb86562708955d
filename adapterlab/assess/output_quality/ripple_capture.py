"""Captures of the ripple: size, spikes, lines of the spectrum, and what the parts predict."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import SECTION, missing
from adapterlab.assess.output_quality.prediction import (
    converters_on,
    output_of,
    predicted_ripple,
)
from adapterlab.assess.report.finding import Finding, against_prediction
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.dossier.capture_kinds import lacking
from adapterlab.dossier.records import Record
from adapterlab.output_quality import (
    RippleReading,
    RippleSpectrum,
    SineAmplitude,
    measure_ripple,
    ripple_spectrum,
    sine_amplitude,
)
from adapterlab.published import rows

_QUESTION = "How large is the ripple?"
# A line belongs to a converter within this share of its nominal frequency.
_LINE_WIDTH = 0.04


@dataclass(frozen=True)
class Line:
    """The strongest line of a spectrum near a converter's frequency.

    Attributes
    ----------
    converter : str
        Whose it is.
    nominal, frequency : float
        As listed, and where the line stands. [Hz]
    amplitude : float
        [V]
    """

    converter: str
    nominal: float
    frequency: float
    amplitude: float


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
    predicted : Prediction or None
        Switching ripple that the parts predict; None if they are not known. [V]
    lines : tuple of Line
        Of each converter whose frequency is listed.
    doubt : str
        What the dossier leaves open of how its converters share; empty if nothing.
    """

    record: Record
    reading: RippleReading
    peak_to_peak: Value
    spectrum: RippleSpectrum
    twice_mains: SineAmplitude | None
    predicted: Prediction | None
    lines: tuple[Line, ...]
    doubt: str


def millivolts(amplitude: float) -> str:
    """A small voltage, as said aloud."""
    return "less than 0.1 mV" if amplitude < 1e-4 else f"{1e3 * amplitude:.1f} mV"


def _lines(specimen: Specimen, port: str, spectrum: RippleSpectrum) -> tuple[Line, ...]:
    found = []
    for item in converters_on(specimen, port):
        nominal = item.switching_frequency
        if not nominal:
            continue
        near = np.abs(spectrum.frequency / nominal - 1) < _LINE_WIDTH
        if near.any():
            place = int(np.argmax(np.where(near, spectrum.amplitude, -1.0)))
            frequency, amplitude = spectrum.frequency[place], spectrum.amplitude[place]
            found.append(Line(item.name, nominal, float(frequency), float(amplitude)))
    return tuple(found)


def _twice_mains(record: Record, volts: Any) -> SineAmplitude | None:
    if not record.capture.mains_frequency:
        return None
    try:
        return sine_amplitude(record.time, volts, 2 * record.capture.mains_frequency)
    except ValueError:
        return None


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
    capture = record.capture
    output, mode = (
        output_of(specimen, capture.port),
        specimen.adapter.mode(capture.port, capture.mode),
    )
    power = (capture.load_current or 0.0) * ((mode.voltage or 0.0) if mode else 0.0)
    return RippleCapture(
        record,
        reading,
        specimen.reading("ripple", reading.peak_to_peak, "V"),
        spectrum,
        _twice_mains(record, volts),
        predicted_ripple(specimen, record),
        _lines(specimen, record.capture.port, spectrum),
        "" if output is None else output.doubt_at(power),
    )


def captures_of(specimen: Specimen) -> tuple[tuple[RippleCapture, ...], list[Finding]]:
    """Every capture of the ripple, and a finding for each that can't be used."""
    found, troubles = [], []
    for record in specimen.records_of("ripple"):
        capture = capture_of(specimen, record)
        if isinstance(capture, str):
            needed = f"{record.capture.file}: {capture}."
            troubles.append(missing(_QUESTION, needed, "measure_ripple"))
        else:
            found.append(capture)
    if not specimen.records_of("ripple"):
        needed = "[[captures]] of the kind 'ripple', with the bandwidth of the oscilloscope."
        troubles.append(missing(_QUESTION, needed, "measure_ripple"))
    return tuple(found), troubles


def _bandwidth_note(record: Record) -> str:
    """What the record's bandwidth and sampling mean for the reading."""
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
        follow = Value(float(f"{sampled:.2g}"), 0.0, "Hz")
        note += (
            f" The samples follow only up to {follow}: spikes between them are missed, faster "
            "ripple shows at a wrong frequency."
        )
    return note + " No limit of its own is published; the voltage window is the bound."


def _where(record: Record) -> str:
    capture = record.capture
    load = f" at {capture.load_current:g} A" if capture.load_current is not None else ""
    mode = f", {capture.mode}" if capture.mode else ""
    file = capture.file.rsplit("/", 1)[-1]
    return f"{capture.port or 'the output'}{mode}{load} ({file})"


def _size(capture: RippleCapture) -> Finding:
    """Size with and without spikes, part at twice the mains, lines of the converters."""
    reading, place = capture.reading, _where(capture.record)
    rms = Value(reading.rms, 0.0, "V").short
    sentence = f"Ripple of {place} is {capture.peak_to_peak} peak to peak, {rms} rms"
    if reading.spikes:
        whole = Value(reading.peak_to_peak_with_spikes, 0.0, "V").short
        many = "spikes were" if reading.spikes > 1 else "spike was"
        sentence += f"; {reading.spikes} isolated {many} set aside, with which it is {whole}"
    if capture.twice_mains is not None:
        slow = capture.twice_mains
        part = Value(2 * slow.amplitude, 2 * slow.standard_uncertainty, "V")
        sentence += f"; {part} of it comes at twice the mains frequency"
    for line in capture.lines:
        sentence += (
            f"; near the {line.nominal / 1e3:g} kHz of the {line.converter} converter stands "
            f"{millivolts(line.amplitude)} at {line.frequency / 1e3:.1f} kHz"
        )
    return Finding(
        section=SECTION,
        question=f"How large is the ripple of {place}?",
        judgement=rules.result(),
        sentence=f"{sentence}.",
        reading=capture.peak_to_peak,
        origin=capture.record.capture.file,
        function="output_quality.measure_ripple",
        figure="output_quality_ripple_capture",
        note=_bandwidth_note(capture.record),
    )


def _against_parts(capture: RippleCapture, predicted: Prediction) -> Finding:
    place, mains = _where(capture.record), capture.record.capture.mains_voltage
    return against_prediction(
        capture.peak_to_peak,
        predicted,
        f"The ripple of {place}",
        "the charge of each pulse into the output capacitor",
        not_judged=capture.doubt,
        section=SECTION,
        question=f"Do the parts explain the ripple of {place}?",
        origin=capture.record.capture.file,
        function="output_quality.measure_ripple",
        figure="output_quality_ripple_capture",
        note="" if mains else "The mains voltage of the capture is not noted; 230 V is taken.",
    )


def capture_findings(captures: Sequence[RippleCapture]) -> list[Finding]:
    """What each capture shows; of several at one load the first is held against the parts."""
    found: list[Finding] = []
    compared = set()
    for capture in captures:
        found.append(_size(capture))
        asked = capture.record.capture
        key = (asked.port, asked.mode, asked.load_current)
        if capture.predicted is not None and key not in compared:
            compared.add(key)
            found.append(_against_parts(capture, capture.predicted))
    return found
