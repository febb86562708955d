"""One plug-in capture: what is read off it, what it implies, and what the parts predict for it."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.integrate import trapezoid

from adapterlab.assess.inrush.prediction import (
    DRAWS,
    Contact,
    Floats,
    SurgePrediction,
    start_temperature,
    surge_prediction,
    warm_inputs,
)
from adapterlab.assess.model.inputs import drawn
from adapterlab.assess.model.limiter import rest_needed
from adapterlab.assess.model.rectifier import Rectifier
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier import Record
from adapterlab.dossier.capture_kinds import lacking
from adapterlab.inrush import (
    SurgeFit,
    SurgePath,
    Thermistor,
    fit_surge,
    i_squared_t,
    thermistor_temperature,
)
from adapterlab.numerics.mains import Mains
from adapterlab.uncertainty import Estimate


@dataclass(frozen=True)
class Surge:
    """One plug-in capture.

    Attributes
    ----------
    file : str
        The capture's file.
    warm : bool
        Whether the limiter had less rest than it needs to cool.
    mains_voltage : Value
        Rms voltage of the mains. [V]
    mains_frequency : float
        Its frequency. [Hz]
    noted_phase, phase : Value or None, Value
        Angle of contact as noted and as the capture implies, within half a turn. [degrees]
    time, current : numpy.ndarray
        Time since contact [s] and current in the sense of the surge [A] from the last quiet
        sample on, shape (n,)
    peak, time_constant, i_squared_t : Value
        Highest current, time from it to 1/e, I²t until the end of the record. [A], [s], [A²s]
    energy : Value or None
        Energy drawn from the mains until then; None without a voltage channel. [J]
    fit : SurgeFit
        What `fit_surge` made of it.
    resistance, capacitance : Value
        Implied by the fit: of the whole path at contact [ohm], of the bulk capacitor [F].
    limiter_temperature : Value or None
        Temperature at which the marked thermistor has the resistance implied. [°C]  None for a
        cold limiter, or one that is no thermistor.
    prediction : SurgePrediction or None
        What the parts predict; None if they are not listed.
    note : str
        What had to be assumed.
    """

    file: str
    warm: bool
    mains_voltage: Value
    mains_frequency: float
    noted_phase: Value | None
    phase: Value
    time: Floats
    current: Floats
    peak: Value
    time_constant: Value
    i_squared_t: Value
    energy: Value | None
    fit: SurgeFit
    resistance: Value
    capacitance: Value
    limiter_temperature: Value | None
    prediction: SurgePrediction | None
    note: str

    @property
    def label(self) -> str:
        """How it was plugged in, as said aloud."""
        limiter = "limiter still warm" if self.warm else "limiter cold"
        at = f"{self.mains_voltage.value:.0f} V, contact at {self.phase.value:.0f}°"
        return f"{at}, {limiter}"


def _first(current: Floats) -> int:
    """Last sample without current before the surge."""
    size = np.abs(current - np.median(current[: max(len(current) // 100, 5)]))
    top = int(np.argmax(size))
    quiet = np.flatnonzero(size[: top + 1] < 0.05 * size[top])
    return int(quiet[-1]) if len(quiet) else top


def _fall_time(time: Floats, flow: Floats, noise: float) -> Value:
    """Time from the peak to 1/e of it, with the uncertainty of sampling and noise."""
    top = int(np.argmax(flow))
    level = flow[top] / np.e
    below = top + int(np.argmax(flow[top:] < level))
    above = below - 1
    constant = float((time[above] + time[below]) / 2 - time[top])
    step = float(time[below] - time[above])
    # Where the top is flat, noise moves the highest sample about.
    flat = time[top + np.flatnonzero(flow[top:] >= flow[top] - 4 * noise)]
    jitter = np.hypot(noise * constant / level, np.ptp(flat) / np.sqrt(12))
    return Value(constant, float(np.hypot(step / np.sqrt(6), jitter)), "s")


def _energy(
    specimen: Specimen, volts: Floats | None, current: Floats, time: Floats
) -> Value | None:
    if volts is None or not volts.any():
        return None
    drawn = abs(float(trapezoid(volts * current, time)))
    variance = 0.0
    for name, values in (("current", current), ("voltage", volts)):
        top = specimen.reading(f"capture {name}", float(np.abs(values).max()), "")
        variance += (top.standard_uncertainty / top.value) ** 2
    metered = specimen.is_metered("capture current", "capture voltage")
    return Value(drawn, drawn * variance**0.5, "J", accuracy_assumed=not metered)


def _seen_phase(time: Floats, volts: Floats, frequency: float, contact: float) -> float:
    """Angle of the captured mains at contact, within half a turn. [degrees]."""
    after = time > contact + 2e-4
    angle = 2 * np.pi * frequency * (time[after] - contact)
    waves = np.column_stack([np.sin(angle), np.cos(angle), np.ones_like(angle)])
    sine, cosine, _ = np.linalg.lstsq(waves, volts[after], rcond=None)[0]
    return float(np.degrees(np.arctan2(cosine, sine)) % 180)


def _disc(rectifier: Rectifier | None) -> Thermistor | None:
    """The thermistors as one, at the middle of what they may be."""
    return rectifier.path({}).disc if rectifier is not None else None


def _limiter_temperature(rectifier: Rectifier, resistance: Value, other: Value) -> Value | None:
    """Temperature at which the marked thermistor has what is left of a resistance. [°C]."""
    disc, left = _disc(rectifier), resistance.value - other.value
    if disc is None or left <= 0 or not disc.beta:
        return None
    beta = float(np.asarray(disc.beta))
    warm = thermistor_temperature(left, disc.resistance_25, beta)
    parts = [rectifier.inputs[f"{part.reference}.value"] for part in rectifier.discs]
    spreads = [resistance.standard_uncertainty, other.standard_uncertainty]
    spreads += [item.deviation * left / item.middle for item in parts]
    slope = (warm + 273.15) ** 2 / beta / left
    by_beta = rectifier.inputs["thermistor.beta"].deviation / beta * abs(warm - 25.0)
    return Value(warm, float(np.hypot(np.hypot.reduce(spreads) * slope, by_beta)), "°C")


@dataclass(frozen=True)
class _Trace:
    """A capture that can be read: its curves, and the angle of contact as known beforehand.

    `first` is the last quiet sample, `gain` the relative uncertainty of the current channel;
    `noted` is the angle as asked for, `seen` that of the captured voltage.
    """

    record: Record
    time: Floats
    current: Floats
    volts: Floats | None
    first: int
    mains: Value
    frequency: float
    peak: Value
    noted: Value | None
    seen: Value | None

    @property
    def known(self) -> Value | None:
        """The angle of contact, by the captured voltage before the note."""
        return self.noted if self.seen is None else self.seen

    @property
    def gain(self) -> float:
        """Relative standard uncertainty of the current channel. [1]."""
        peak = self.peak
        return peak.standard_uncertainty / peak.value if peak.value > 0 else 0.0


def _trace(specimen: Specimen, record: Record) -> _Trace:
    """What is read of a capture before anything is fitted; raises if it tells nothing."""
    capture, current = record.capture, record.channel("current")
    if current is None or capture.mains_voltage is None or capture.mains_frequency is None:
        raise ValueError(f"it needs {lacking(capture)}")
    time, volts, first = record.time, record.channel("voltage"), _first(current)
    if volts is not None:
        rms = [float(np.sqrt(np.mean(values[first:] ** 2))) for values in (volts, current)]
        if rms[0] < 0.3 * capture.mains_voltage < 0.6 * rms[1]:
            raise ValueError(
                "its current channel reads like the mains and its voltage channel does not: "
                "they look swapped"
            )
    noted = seen = None
    if capture.phase is not None:
        half = capture.phase_uncertainty
        spread = (
            half / np.sqrt(3) if half else specimen.allowance("contact.phase_deviation").deviation
        )
        noted = Value(capture.phase % 180, float(spread), "°")
    if volts is not None and volts[first:].any():
        angle = _seen_phase(time, volts, capture.mains_frequency, float(time[first]))
        seen = Value(angle, specimen.allowance("contact.captured_phase").deviation, "°")
    return _Trace(
        record,
        time,
        current,
        volts,
        first,
        specimen.reading("mains voltage", capture.mains_voltage, "V"),
        capture.mains_frequency,
        specimen.reading("capture current", float(np.abs(current).max()), "A"),
        noted,
        seen,
    )


def mains_current_before(specimen: Specimen, mains_voltage: float) -> float | None:
    """Rms mains current at the highest load noted on that mains. [A]  None if none is noted."""
    sweep = specimen.load_sweep
    alike = sweep[(sweep["mains_voltage"] / mains_voltage - 1).abs() < 0.1]
    currents = alike["mains_current"].dropna()
    return None if currents.empty else float(currents.max())


def _known_path(
    specimen: Specimen, rectifier: Rectifier | None, trace: _Trace, celsius: float
) -> SurgePath:
    """What the fit holds fixed."""
    volts, known = trace.mains, trace.known
    names = ("other_resistance", "inductance", "drop")
    if rectifier is None:
        bare = [specimen.allowance(name) for name in ("supply.resistance", "bridge.resistance",
                                                      "bulk.series_resistance")]  # fmt: skip
        others = Estimate(
            sum(item.middle for item in bare), float(np.hypot.reduce([i.deviation for i in bare]))
        )
        coil, drop = (specimen.allowance(name) for name in ("supply.inductance", "bridge.drop"))
        held = {
            "other_resistance": others,
            "inductance": Estimate(coil.middle, coil.deviation),
            "drop": Estimate(drop.middle, drop.deviation),
        }
        heat = 0.0
    else:
        path = rectifier.path(drawn(rectifier.at_plug_in, DRAWS))
        drawn_ones = (path.other_resistance, path.inductance, path.bridge.drop)
        held = {
            name: Estimate(float(np.mean(values)), float(np.std(values)))
            for name, values in zip(names, drawn_ones, strict=True)
        }
        warmth = None if path.disc is None else np.asarray(path.disc.heat_capacity, dtype=float)
        heat = 0.0 if warmth is None else float(warmth.std() / warmth.mean())
    return SurgePath(
        Mains(volts.value, trace.frequency),
        volts.standard_uncertainty,
        None if known is None else Estimate(known.value, known.standard_uncertainty),
        _disc(rectifier),
        celsius,
        heat,
        held["other_resistance"],
        held["inductance"],
        held["drop"],
    )


def _temperature_before(specimen: Specimen, rectifier: Rectifier, contact: Contact) -> float:
    """Temperature of the limiter at contact, as far as parts and loads tell. [°C]."""
    in_use = specimen.allowance("thermistor.temperature_in_use")
    inputs = rectifier.at_plug_in | warm_inputs(rectifier, contact, in_use)
    values = rectifier.middle() | drawn(inputs, DRAWS)
    return float(np.median(start_temperature(rectifier.path(values), values, contact)))


def surge_of(specimen: Specimen, record: Record, rectifier: Rectifier | None) -> Surge:
    """Readings, fit and prediction of one capture.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    record : Record
        The capture.
    rectifier : Rectifier or None
        The parts the surge flows through.

    Returns
    -------
    Surge
        What it tells.

    Raises
    ------
    ValueError
        If it tells nothing: the message ends the sentence "it is set aside:".
    """
    trace, capture = _trace(specimen, record), record.capture
    needed = rest_needed(rectifier.discs if rectifier is not None else ())
    warm = capture.rest_time is not None and capture.rest_time < needed
    guess = trace.known or Value(90.0, 0.0, "°")
    contact = Contact(
        trace.mains, trace.frequency, guess, capture.rest_time if warm else None,
        mains_current_before(specimen, trace.mains.value) if warm else None,
    )  # fmt: skip
    celsius = rectifier.inputs["room.temperature"].middle if rectifier is not None else 25.0
    adjusts = warm and rectifier is not None and bool(rectifier.discs)
    if adjusts and rectifier is not None:
        celsius = _temperature_before(specimen, rectifier, contact)
    path = _known_path(specimen, rectifier, trace, celsius)
    fit = fit_surge(trace.time, trace.current, path, gain_uncertainty=trace.gain)
    found = _warmth(rectifier, fit, path) if warm else None
    if adjusts and found is not None:
        # Once more with the limiter as warm as the first fit found it.
        path = replace(path, thermistor_temperature=found.value)
        fit = fit_surge(trace.time, trace.current, path, gain_uncertainty=trace.gain)
        found = _warmth(rectifier, fit, path)
    phase = Value(fit.phase, fit.phase_uncertainty, "°")
    length = min(float(trace.time[-1]) - fit.contact_time, 1 / trace.frequency)
    prediction = None
    if rectifier is not None:
        in_use = specimen.allowance("thermistor.temperature_in_use")
        contact = replace(contact, phase=trace.known or phase)
        prediction = surge_prediction(rectifier, contact, length, in_use)
    return _read(specimen, trace, fit, warm, found, prediction, _notes(trace, fit, warm, needed))


def _warmth(rectifier: Rectifier | None, fit: SurgeFit, path: SurgePath) -> Value | None:
    """Temperature of a warm limiter that the fit implies."""
    if rectifier is None:
        return None
    other = path.other_resistance
    return _limiter_temperature(
        rectifier,
        Value(fit.resistance, fit.resistance_uncertainty, "Ω"),
        Value(other.value, other.standard_uncertainty, "Ω"),
    )


def _notes(trace: _Trace, fit: SurgeFit, warm: bool, needed: float) -> str:
    rest, notes = trace.record.capture.rest_time, []
    if rest is None:
        notes.append("The rest before this plug-in is not noted; it is taken as long enough.")
    if abs(fit.offset) > 5e-3 * trace.peak.value:
        notes.append(f"An offset of {fit.offset:.2g} A before contact was taken off.")
    if warm:
        notes.append(
            f"After a rest of {rest:.0f} s the limiter is still warm; it counts as "
            f"cold after {needed:.0f} s. The bulk capacitor is taken as empty."
        )
    return " ".join(notes)


def _read(
    specimen: Specimen,
    trace: _Trace,
    fit: SurgeFit,
    warm: bool,
    limiter: Value | None,
    prediction: SurgePrediction | None,
    note: str,
) -> Surge:
    """The surge with everything read off its curve."""
    flow = fit.polarity * (trace.current - fit.offset)
    noise = float(np.std(flow[: trace.first])) if trace.first > 10 else 0.0
    time, volts = trace.time[trace.first :], trace.volts
    flow = flow[trace.first :]
    total = i_squared_t(time, flow)
    spread = float(np.hypot(trace.peak.standard_uncertainty, noise))
    held = volts[trace.first :] if volts is not None else None

    def seen(value: float, uncertainty: float, unit: str) -> Value:
        """A figure off the curve; it is as sure as the current channel is known."""
        assumed = trace.peak.accuracy_assumed
        return Value(float(value), float(uncertainty), unit, accuracy_assumed=assumed)

    fall = _fall_time(time, flow, noise)
    return Surge(
        file=trace.record.capture.file,
        warm=warm,
        mains_voltage=trace.mains,
        mains_frequency=trace.frequency,
        noted_phase=trace.noted,
        phase=Value(fit.phase, fit.phase_uncertainty, "°"),
        time=time - fit.contact_time,
        current=flow,
        peak=seen(flow.max(), spread, "A"),
        time_constant=seen(fall.value, fall.standard_uncertainty, "s"),
        i_squared_t=seen(total, 2 * trace.gain * total, "A²s"),
        energy=_energy(specimen, held, flow, time),
        fit=fit,
        resistance=seen(fit.resistance, fit.resistance_uncertainty, "Ω"),
        capacitance=seen(fit.capacitance, fit.capacitance_uncertainty, "F"),
        limiter_temperature=limiter,
        prediction=prediction,
        note=note,
    )
