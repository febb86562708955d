"""Mains side of an adapter in the time domain: rectifier in steady state, surge at plug-in.

Circuit: sine source, resistance and inductance in series, bridge (constant drop and a
resistance for the two conducting diodes), bulk capacitor with its series resistance.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Front:
    """Parts between the mains and the converter, as they truly are.

    Attributes
    ----------
    bulk_capacitance, bulk_esr : float
        Bulk capacitor. [F], [ohm]
    hot_resistance : float
        Series resistance in steady state, limiter warm, supply included. [ohm]
    other_resistance : float
        Series resistance at plug-in without the limiter: supply, choke, wiring. [ohm]
    inductance : float
        Supply and choke leakage. [H]
    bridge_drop, bridge_resistance : float
        Two conducting diodes together. [V], [ohm]
    """

    bulk_capacitance: float
    bulk_esr: float
    hot_resistance: float
    other_resistance: float
    inductance: float
    bridge_drop: float
    bridge_resistance: float


@dataclass(frozen=True)
class Limiter:
    """Inrush limiter: a thermistor, or a plain resistor with ``beta`` zero.

    Attributes
    ----------
    resistance_25 : float
        Resistance at 25 C. [ohm]
    beta : float
        Thermistor constant. [K]
    heat_capacity, dissipation_factor : float
        Thermal data. [J/K], [W/K]
    """

    resistance_25: float
    beta: float = 0.0
    heat_capacity: float = 1.0
    dissipation_factor: float = 0.0

    def resistance(self, celsius: float) -> float:
        """Resistance at a temperature. [ohm]."""
        return self.resistance_25 * math.exp(self.beta * (1 / (celsius + 273.15) - 1 / 298.15))


def steady_state(
    front: Front,
    mains_voltage: float,
    mains_frequency: float,
    load_power: Floats,
    periods: int = 6,
    step: float = 1e-6,
) -> dict[str, Floats]:
    """Last period of the rectifier with a load of constant power.

    Parameters
    ----------
    front : Front
        The parts.
    mains_voltage, mains_frequency : float
        Source. [V], [Hz]
    load_power : numpy.ndarray
        Power taken behind the bulk capacitor. [W], shape (n,)
    periods : int
        Periods simulated.
    step : float
        Time step. [s]

    Returns
    -------
    dict
        ``input_power``, ``power_factor``, ``input_rms``, ``valley``, ``mean``,
        ``capacitor_rms``, each shape (n,); ``current`` shape (samples, n), ``voltage`` (samples,).
    """  # fmt: skip
    per_period = round(1 / mains_frequency / step)
    step = 1 / mains_frequency / per_period
    crest = math.sqrt(2) * mains_voltage
    load_power = np.asarray(load_power, dtype=float)
    bulk = np.full_like(load_power, crest - front.bridge_drop)
    current = np.zeros_like(bulk)
    resistance = front.hot_resistance + front.bridge_resistance + front.bulk_esr
    gain, charge = step / front.inductance, step / front.bulk_capacitance
    angles = 2 * np.pi * np.arange(per_period) / per_period + np.pi / 2
    source = crest * np.sin(angles)
    kept, terminal, drawn = [], [], []
    for period in range(periods):
        for value in np.abs(source):
            load = load_power / bulk
            current = current + gain * (value - front.bridge_drop - resistance * current - bulk)
            np.maximum(current, 0.0, out=current)
            bulk = bulk + charge * (current - load)
            if period == periods - 1:
                kept.append(current)
                terminal.append(bulk + front.bulk_esr * (current - load))
                drawn.append(current - load)
    flow = np.sign(source)[:, None] * np.array(kept)
    rms = np.sqrt((flow**2).mean(axis=0))
    power = (source[:, None] * flow).mean(axis=0)
    volts = np.array(terminal)
    return {
        "input_power": power,
        "input_rms": rms,
        "power_factor": power / (mains_voltage * rms),
        "valley": volts.min(axis=0),
        "mean": volts.mean(axis=0),
        "capacitor_rms": np.sqrt((np.array(drawn) ** 2).mean(axis=0)),
        "current": flow,
        "voltage": source,
    }


def surge(
    front: Front,
    limiter: Limiter,
    mains_voltage: float,
    mains_frequency: float,
    phase: float,
    limiter_temperature: float = 25.0,
    ambient: float = 25.0,
    start_voltage: float = 0.0,
    duration: float = 0.02,
    sample: float = 5e-6,
    substeps: int = 20,
) -> dict[str, Floats]:
    """Current from the moment the plug makes contact; the converter has not started yet.

    Parameters
    ----------
    front, limiter : Front, Limiter
        The parts.
    mains_voltage, mains_frequency : float
        Source. [V], [Hz]
    phase : float
        Angle of the mains sine at contact. [degrees]
    limiter_temperature, ambient : float
        At contact. [C]
    start_voltage : float
        Left on the bulk capacitor. [V]
    duration, sample : float
        Length and sampling interval. [s]
    substeps : int
        Steps of the solver in one sample.

    Returns
    -------
    dict
        ``time``, ``current`` (signed), ``voltage`` of the mains, ``bulk``, each shape (n,).
    """  # fmt: skip
    step = sample / substeps
    crest, omega = math.sqrt(2) * mains_voltage, 2 * math.pi * mains_frequency
    fixed = front.other_resistance + front.bridge_resistance + front.bulk_esr
    angle = math.radians(phase)
    current, bulk, celsius = 0.0, start_voltage, limiter_temperature
    rows = []
    for index in range(round(duration / sample)):
        value = crest * math.sin(omega * index * sample + angle)
        rows.append((index * sample, math.copysign(current, value), value, bulk))
        resistance = limiter.resistance(celsius)
        for part in range(substeps):
            value = abs(crest * math.sin(omega * (index * sample + part * step) + angle))
            push = value - front.bridge_drop - bulk - (fixed + resistance) * current
            current = max(current + step / front.inductance * push, 0.0)
            bulk += step / front.bulk_capacitance * current
            heat = resistance * current**2 - limiter.dissipation_factor * (celsius - ambient)
            celsius += step / limiter.heat_capacity * heat
    columns = np.array(rows).T
    return dict(zip(("time", "current", "voltage", "bulk"), columns, strict=True))
