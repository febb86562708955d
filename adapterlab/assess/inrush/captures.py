"""One plug-in capture: what is read off it, what it implies, and what the parts predict for it."""

from dataclasses import dataclass

import numpy as np
from scipy.integrate import trapezoid

from adapterlab.assess.inrush.parts import (
    Floats,
    Path,
    Prediction,
    allowance,
    deviation,
    marked,
    mean,
    other_resistance,
    predict,
    rest_needed,
    restart_temperature,
)
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier import Record
from adapterlab.dossier.capture_kinds import lacking
from adapterlab.inrush import (
    SurgeFit,
    Thermistor,
    fit_surge,
    i_squared_t,
    thermistor_temperature,
)


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
    prediction : Prediction or None
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
    prediction: Prediction | None
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
    return Value(drawn, drawn * variance**0.5, "J")


def _seen_phase(time: Floats, volts: Floats, frequency: float, contact: float) -> float:
    """Angle of the captured mains at contact, within half a turn. [degrees]."""
    after = time > contact + 2e-4
    angle = 2 * np.pi * frequency * (time[after] - contact)
    waves = np.column_stack([np.sin(angle), np.cos(angle), np.ones_like(angle)])
    sine, cosine, _ = np.linalg.lstsq(waves, volts[after], rcond=None)[0]
    return float(np.degrees(np.arctan2(cosine, sine)) % 180)


def _disc(path: Path | None) -> Thermistor | None:
    """The thermistors of the path as one, at their marked values."""
    if path is None or not path.discs:
        return None
    names = ("beta", "heat_capacity", "dissipation_factor")
    return Thermistor(
        sum(part.value or 0.0 for part in path.discs), *(mean(path.inputs[name]) for name in names)
    )


def _limiter_temperature(path: Path, resistance: Value, other: Value) -> Value | None:
    """Temperature at which the marked thermistor has what is left of a resistance. [°C]."""
    disc, left = _disc(path), resistance.value - other.value
    if disc is None or left <= 0 or not mean(disc.beta):
        return None
    warm = thermistor_temperature(left, disc.resistance_25, disc.beta)
    spreads = [resistance.standard_uncertainty, other.standard_uncertainty]
    spreads += [deviation(marked(part)) * left / (part.value or 1.0) for part in path.discs]
    slope = (warm + 273.15) ** 2 / mean(disc.beta) / left
    return Value(warm, float(np.hypot.reduce(spreads) * slope), "°C")


def surge_of(specimen: Specimen, record: Record, path: Path | None) -> Surge:
    """Readings, fit and prediction of one capture.

    Parameters
    ----------
    dossier : Dossier
        The record of the adapter.
    record : Record
        The capture.
    path : Path or None
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
    capture, current = record.capture, record.channel("current")
    if current is None or capture.mains_voltage is None or capture.mains_frequency is None:
        raise ValueError(f"it needs {lacking(capture)}")
    frequency, time, volts = capture.mains_frequency, record.time, record.channel("voltage")
    first = _first(current)
    if volts is not None:
        rms = [float(np.sqrt(np.mean(values[first:] ** 2))) for values in (volts, current)]
        if rms[0] < 0.3 * capture.mains_voltage < 0.6 * rms[1]:
            raise ValueError(
                "its current channel reads like the mains and its voltage channel does not: "
                "they look swapped"
            )
    mains = specimen.reading("mains voltage", capture.mains_voltage, "V")
    peak = specimen.reading("capture current", float(np.abs(current).max()), "A")
    gain = peak.standard_uncertainty / peak.value if peak.value > 0 else 0.0
    noted = None
    if capture.phase is not None:
        spread = allowance("phase deviation").std()
        if capture.phase_uncertainty is not None:
            spread = capture.phase_uncertainty / np.sqrt(3)
        noted = Value(capture.phase % 180, float(spread), "°")
    needed = rest_needed(path)
    warm = capture.rest_time is not None and capture.rest_time < needed
    other, disc = other_resistance(path), _disc(path)
    at_contact: Floats | None = None
    celsius = mean(path.inputs["ambient"]) if path is not None else 25.0
    if warm and path is not None and disc is not None:
        at_contact = restart_temperature(
            path, specimen, capture.mains_voltage, capture.rest_time or 0.0
        )
        celsius = float(np.median(at_contact))
    known = noted
    if volts is not None and volts[first:].any():
        seen = _seen_phase(time, volts, frequency, float(time[first]))
        known = Value(seen, allowance("captured phase").std(), "°")
    inputs = path.inputs if path is not None else {}
    coil = [inputs.get(k, allowance(k)) for k in ("supply inductance",)]
    coil += [inputs["leakage"]] if inputs else []
    heat = inputs.get("heat_capacity", 1.0)
    drop = allowance("bridge drop")
    fit = None
    for _ in range(2 if warm and disc is not None else 1):
        fit = fit_surge(
            time,
            current,
            mains.value,
            frequency,
            drop.mean(),
            phase=None if known is None else known.value,
            phase_uncertainty=known.standard_uncertainty if known is not None else 1.0,
            thermistor=disc,
            thermistor_temperature=celsius,
            other_resistance=other.value,
            source_inductance=sum(mean(part) for part in coil),
            gain_uncertainty=gain,
            mains_voltage_uncertainty=mains.standard_uncertainty,
            bridge_drop_uncertainty=drop.std(),
            source_inductance_uncertainty=float(np.hypot.reduce([deviation(c) for c in coil])),
            other_resistance_uncertainty=other.standard_uncertainty,
            heat_capacity_uncertainty=deviation(heat) / mean(heat),
        )
        resistance = Value(fit.resistance, fit.resistance_uncertainty, "Ω")
        found = _limiter_temperature(path, resistance, other) if warm and path else None
        celsius = found.value if found is not None else celsius
    assert fit is not None
    phase = Value(fit.phase, fit.phase_uncertainty, "°")
    flow = fit.polarity * (current - fit.offset)
    noise = float(np.std(flow[:first])) if first > 10 else 0.0
    shown = slice(first, None)
    total = i_squared_t(time[shown], flow[shown])
    length = min(float(time[-1]) - fit.contact_time, 1 / frequency)
    notes = []
    if capture.rest_time is None:
        notes.append("The rest before this plug-in is not noted; it is taken as long enough.")
    if abs(fit.offset) > 5e-3 * peak.value:
        notes.append(f"An offset of {fit.offset:.2g} A before contact was taken off.")
    if warm:
        notes.append(
            f"After a rest of {capture.rest_time:.0f} s the limiter is still warm; it counts as "
            f"cold after {needed:.0f} s. The bulk capacitor is taken as empty."
        )
    return Surge(
        file=capture.file,
        warm=warm,
        mains_voltage=mains,
        mains_frequency=frequency,
        noted_phase=noted,
        phase=phase,
        time=time[shown] - fit.contact_time,
        current=flow[shown],
        peak=Value(float(flow.max()), float(np.hypot(peak.standard_uncertainty, noise)), "A"),
        time_constant=_fall_time(time[shown], flow[shown], noise),
        i_squared_t=Value(total, 2 * gain * total, "A²s"),
        energy=_energy(
            specimen, volts[shown] if volts is not None else None, flow[shown], time[shown]
        ),
        fit=fit,
        resistance=resistance,
        capacitance=Value(fit.capacitance, fit.capacitance_uncertainty, "F"),
        limiter_temperature=found,
        prediction=predict(path, mains, frequency, known or phase, length, at_contact)
        if path is not None
        else None,
        note=" ".join(notes),
    )
