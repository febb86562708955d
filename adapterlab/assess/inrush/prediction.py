"""The surges that the listed parts predict: of one contact, and at every angle of contact."""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.inputs import Input, drawn, measured, predict
from adapterlab.assess.model.limiter import temperature_after_rest
from adapterlab.assess.model.rectifier import Path, Rectifier
from adapterlab.assess.report.finding import Finding, Limit, against_limit
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.inrush import PlugInSurge, Thermistor, WorstPhase, plug_in_surge, worst_phase
from adapterlab.judgement import ENDS

SECTION = "inrush"
Floats = NDArray[np.float64]
# What is predicted, and its unit.
UNITS = {
    "resistance": "Ω",
    "capacitance": "F",
    "peak": "A",
    "time_constant": "s",
    "i_squared_t": "A²s",
    "energy": "J",
    "limiter_energy": "J",
    "limiter_rise": "K",
}
DRAWS, SWEEP_DRAWS = 256, 32


@dataclass(frozen=True)
class Contact:
    """How the plug went in.

    Attributes
    ----------
    mains_voltage : Value
        Rms voltage of the mains. [V]
    mains_frequency : float
        Its frequency. [Hz]
    phase : Value
        Angle of the mains at contact, within half a turn. [degrees]
    rest : float or None
        Time since the adapter last worked, where the limiter is still warm. [s]  None if cold.
    current : float or None
        Rms mains current at which it worked before. [A]  None if nobody knows.
    """

    mains_voltage: Value
    mains_frequency: float
    phase: Value
    rest: float | None = None
    current: float | None = None


@dataclass(frozen=True)
class SurgePrediction:
    """The surge that the parts predict.

    Attributes
    ----------
    time : numpy.ndarray
        Times since contact. [s], shape (n,)
    low, middle, high : numpy.ndarray
        Current in the sense of the surge: ends of the 95 % band and its mean. [A], shape (n,)
    surge : PlugInSurge
        The surge of the parts at their middle.
    figures : dict of str to Prediction
        The names of `UNITS`: ``resistance`` of the path at contact, ``capacitance``, ``peak``,
        ``time_constant`` from the peak to 1/e, ``i_squared_t`` and ``energy`` drawn until the
        end of `time`, and what the limiter takes of it and by how much it warms.
    """

    time: Floats
    low: Floats
    middle: Floats
    high: Floats
    surge: PlugInSurge
    figures: dict[str, Prediction]


def fall_times(time: Floats, flow: Floats) -> Floats:
    """Time from each curve's peak to 1/e of it. [s], shape (curves,)."""
    found = np.empty(len(flow))
    for row, curve in enumerate(flow):
        top = int(np.argmax(curve))
        level = curve[top] / np.e
        below = top + int(np.argmax(curve[top:] < level))
        pair = curve[[below, below - 1]]
        found[row] = np.interp(level, pair, time[[below, below - 1]]) - time[top]
    return found


def start_temperature(path: Path, values: dict[str, Any], contact: Contact) -> Any:
    """Temperature of the limiter at contact. [°C]."""
    if contact.rest is None or path.disc is None:
        return path.room
    return temperature_after_rest(path.disc, values, contact.current, contact.rest)


def warm_inputs(rectifier: Rectifier, contact: Contact, in_use: Input) -> dict[str, Input]:
    """What the temperature of a limiter that is still warm rests on besides."""
    if contact.rest is None or not rectifier.discs:
        return {}
    extra = in_use if contact.current is None else rectifier.inputs["inside.air"]
    return {extra.name: extra}


def surge_prediction(
    rectifier: Rectifier, contact: Contact, duration: float, in_use: Input
) -> SurgePrediction:
    """The surge that the parts predict, with its uncertainty.

    Parameters
    ----------
    rectifier : Rectifier
        The parts.
    contact : Contact
        How the plug went in.
    duration : float
        How long to follow the surge. [s]
    in_use : Input
        Temperature of the limiter in use where no mains current tells it. [°C]

    Returns
    -------
    SurgePrediction
        Figures and band.
    """
    inputs = rectifier.at_plug_in | warm_inputs(rectifier, contact, in_use) | {
        "mains.voltage": measured(
            "mains.voltage", contact.mains_voltage, f"{contact.mains_voltage} of mains"
        ),
        "contact.phase": measured("contact.phase", contact.phase, f"contact at {contact.phase}"),
    }  # fmt: skip
    runs: list[tuple[Floats, Floats]] = []

    def figures(**values: Any) -> list[Any]:
        path, phase = rectifier.path(values), np.mod(values["contact.phase"], 360.0)
        start = start_temperature(path, values, contact)
        many = plug_in_surge(
            values["mains.voltage"], contact.mains_frequency, phase, **path.at_plug_in(),
            thermistor_temperature=start, duration=duration, samples=301,
        )  # fmt: skip
        flow = np.atleast_2d(many.current * np.sign(np.sin(np.radians(phase)))[..., None])
        runs.append((many.time, flow))
        limiter = path.disc.resistance(start) if path.disc is not None else 0.0
        resistors = [p for p in rectifier.limiters if p not in rectifier.discs]
        taken = sum(values[f"{part.reference}.value"] for part in resistors) * many.i_squared_t
        return [
            path.other_resistance + limiter,
            path.bulk_capacitance,
            many.peak_current,
            fall_times(many.time, flow),
            many.i_squared_t,
            many.energy.mains,
            many.energy.thermistor + taken,
            many.thermistor_temperature.max(axis=-1) - start if path.disc is not None else 0.0,
        ]

    predicted = predict(figures, inputs, list(UNITS.values()), DRAWS, smooth=True)
    time, flow = runs[0]
    low, high = np.quantile(flow, ENDS, axis=0)
    middle = {name: item.middle for name, item in inputs.items()}
    path = rectifier.path(middle)
    one = plug_in_surge(
        contact.mains_voltage.value,
        contact.mains_frequency,
        contact.phase.value % 360,
        **path.at_plug_in(),
        thermistor_temperature=start_temperature(path, rectifier.middle() | middle, contact),
        duration=duration,
    )
    found = dict(zip(UNITS, predicted, strict=True))
    return SurgePrediction(time, low, flow.mean(axis=0), high, one, found)


@dataclass(frozen=True)
class Sweep:
    """The surge at every angle of contact, limiter cold.

    Attributes
    ----------
    phase : numpy.ndarray
        Angles. [degrees], shape (n,)
    low, middle, high : numpy.ndarray
        Peak current: ends of the 95 % band of the parts' tolerances and its mean. [A], shape (n,)
    worst : WorstPhase
        Angle and height of the largest peak with the parts at their middle.
    by_chance : Value
        Peak if contact comes at any angle, with 95 % interval. [A]
    """

    phase: Floats
    low: Floats
    middle: Floats
    high: Floats
    worst: WorstPhase
    by_chance: Value


def sweep(rectifier: Rectifier, mains_voltage: float, mains_frequency: float) -> Sweep:
    """Peak against the angle of contact, with the tolerances of the parts."""
    phase = np.linspace(0, 180, 19)
    parts = rectifier.path(drawn(rectifier.at_plug_in, SWEEP_DRAWS)).at_plug_in()
    disc = parts.pop("thermistor")
    parts = {name: np.reshape(value, (-1, 1)) for name, value in parts.items()}
    if disc is not None:
        disc = Thermistor(*(np.reshape(getattr(disc, f.name), (-1, 1)) for f in fields(disc)))
    length = 0.5 / mains_frequency
    peaks = plug_in_surge(
        mains_voltage, mains_frequency, phase, **parts, thermistor=disc, duration=length, samples=2
    ).peak_current
    middle = rectifier.path({}).at_plug_in()
    worst = worst_phase(mains_voltage=mains_voltage, mains_frequency=mains_frequency, **middle)
    low, high = np.quantile(peaks, ENDS, axis=0)
    every = peaks[:, :-1]
    ends = np.quantile(every, ENDS)
    chance = Value(float(every.mean()), float(every.std()), "A", (float(ends[0]), float(ends[1])))
    return Sweep(phase, low, peaks.mean(axis=0), high, worst, chance)


def by_the_marks(prediction: Prediction, limit: Limit, subject: str, **rest: Any) -> Finding:
    """Finding for what the parts predict against what a published figure or a rating allows."""
    finding = against_limit(
        prediction.value, limit, subject, rests_on=prediction.rests_on, section=SECTION, **rest
    )
    return replace(finding, reading=None, prediction=prediction.value, draws=prediction)
