"""Oscilloscope records of the mains side: plug-in and steady state."""

from typing import Any

import numpy as np

from generator.mains_side import steady_state, surge
from generator.session import Session
from generator.writing import write_capture


def probe(session: Session, quantity: str, values: Any, scale: float) -> Any:
    """Volts at the oscilloscope for true `values`, with the probe's errors."""
    meter = session.bench.meters[quantity]
    return (values * (1 + meter.gain) + meter.offset) / scale


def plug_in(
    session: Session,
    file: str,
    phase: float = 90.0,
    limiter_temperature: float = 25.0,
    separator: str = ",",
    line_end: str = "\n",
    spans: tuple[float, float] = (10.0, 4.0),
) -> None:
    """Record a plug-in at 230 V 50 Hz: current at 10 A/V, voltage at 200 V/V.

    The record starts 1 ms before contact. The switch that makes contact misses the phase asked
    for by up to 2 degrees.
    """
    truth = session.truth
    phase += float(session.rng.uniform(-2.0, 2.0))
    result = surge(truth.front, truth.limiter, 230.0, 50.0, phase, limiter_temperature)
    quiet = np.zeros(200)
    current = np.concatenate([quiet, result["current"]])
    volts = np.concatenate([quiet, result["voltage"]])
    write_capture(
        session.folder / "captures" / file,
        -1e-3,
        5e-6,
        [
            probe(session, "capture current", current, 10.0),
            probe(session, "capture voltage", volts, 200.0),
        ],
        spans,
        session.rng,
        separator=separator,
        line_end=line_end,
    )
    session.record.setdefault("plug_in", {})[file] = {
        "mains_voltage": 230.0,
        "mains_frequency": 50.0,
        "phase": phase,
        "limiter_temperature": limiter_temperature,
        "limiter_resistance": truth.limiter.resistance(limiter_temperature),
        "peak_current": float(np.abs(current).max()),
        "peak_time": float(result["time"][np.abs(result["current"]).argmax()]),
        "i_squared_t": float((current**2).sum() * 5e-6),
        "charge": float(np.abs(current).sum() * 5e-6),
    }


def mains(
    session: Session, file: str, voltage: float, frequency: float, label: str, power: float
) -> None:
    """Record 60 ms of mains current at 1 A/V and mains voltage at 200 V/V."""
    drawn = power + session.loss(label, power, voltage)
    resistive = 0.0
    for _ in range(2):
        load = np.array([drawn - resistive])
        result = steady_state(session.truth.front, voltage, frequency, load)
        resistive += float(result["input_power"][0]) - drawn
    count = result["current"].shape[0]
    interval = 20e-6
    time = np.arange(round(0.06 / interval)) * interval
    place = np.round((time * frequency + 0.1) % 1.0 * count).astype(int) % count
    write_capture(
        session.folder / "captures" / file,
        0.0,
        interval,
        [
            probe(session, "capture current", result["current"][place, 0], 1.0),
            probe(session, "capture voltage", result["voltage"][place], 200.0),
        ],
        (10.0, 4.0),
        session.rng,
        noise=0.5,
    )
    names = ("input_power", "power_factor", "input_rms", "valley", "mean", "capacitor_rms")
    session.record.setdefault("mains", {})[file] = {
        "mains_voltage": voltage,
        "mains_frequency": frequency,
        "output_power": power,
        **{key: float(result[key][0]) for key in names},
        "input_peak": float(np.abs(result["current"]).max()),
    }
