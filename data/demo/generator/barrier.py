"""Touch current in the time domain: mains, bridge, reservoir, barrier capacitor, body network."""

import math
from dataclasses import dataclass

import numpy as np

SKIN_RESISTANCE, SKIN_CAPACITANCE, BODY_RESISTANCE = 1500.0, 0.22e-6, 500.0
FILTER_RESISTANCE, FILTER_CAPACITANCE = 10e3, 0.022e-6
DIODE_DROP, DIODE_RESISTANCE = 0.7, 2.0


@dataclass(frozen=True)
class Barrier:
    """Paths across the barrier, as they truly are.

    Attributes
    ----------
    capacitance : float
        From the negative rail behind the bridge to the output, all paths together. [F]
    stray_capacitance : float
        From the live pin to the output. [F]
    diode_capacitance : float
        Of each bridge diode. [F]
    """

    capacitance: float
    stray_capacitance: float = 10e-12
    diode_capacitance: float = 8e-12


@dataclass(frozen=True)
class Indicated:
    """What an ideal touch-current meter shows.

    Attributes
    ----------
    weighted_rms, weighted_peak, unweighted_rms, unweighted_peak : float
        Indications. [A]
    """

    weighted_rms: float
    weighted_peak: float
    unweighted_rms: float
    unweighted_peak: float


def touch_current(
    barrier: Barrier,
    bulk_capacitance: float,
    mains_voltage: float,
    mains_frequency: float,
    load_power: float,
    polarity: str,
    periods: int = 4,
    step: float = 5e-6,
) -> Indicated:
    """Simulate bridge and body network with backward Euler steps, and read the last period.

    Parameters
    ----------
    barrier : Barrier
        Capacitances.
    bulk_capacitance : float
        Reservoir. [F]
    mains_voltage, mains_frequency : float
        Source, one pole earthed. [V], [Hz]
    load_power : float
        Power taken from the reservoir. [W]
    polarity : str
        ``a``: the pin called live is live; ``b``: the plug is turned round.
    periods : int
        Periods simulated.
    step : float
        Time step. [s]

    Returns
    -------
    Indicated
        Readings of the network of IEC 60990, figure 4.
    """  # fmt: skip
    per_period = round(1 / mains_frequency / step)
    step = 1 / mains_frequency / per_period
    crest = math.sqrt(2) * mains_voltage
    skin = 1 / (1 / SKIN_RESISTANCE + SKIN_CAPACITANCE / step)
    share = step / (FILTER_RESISTANCE * FILTER_CAPACITANCE)
    body = 1 / (1 / BODY_RESISTANCE + 1 / FILTER_RESISTANCE / (1 + share))
    network = skin + body
    series = step / barrier.capacitance + network
    junction = barrier.diode_capacitance / step
    reservoir = bulk_capacitance / step
    conductance = 1 / DIODE_RESISTANCE
    negative, positive, store = 0.0, crest, crest
    across_barrier = across_skin = across_filter = 0.0
    poles = (0.0, 0.0)
    weighted, unweighted = [], []
    for index in range(periods * per_period):
        live = crest * math.sin(2 * math.pi * index / per_period)
        before, poles = poles, (live, 0.0) if polarity == "a" else (0.0, live)
        stray = barrier.stray_capacitance / step * (poles[0] - before[0])
        skin_source = skin * SKIN_CAPACITANCE / step * across_skin
        body_source = body * across_filter / (1 + share) / FILTER_RESISTANCE
        offset = across_barrier + skin_source + body_source + network * stray
        last = (negative, positive)
        load = load_power / max(store, 60.0)
        for _ in range(30):
            into, slope_in, out, slope_out = 0.0, 0.0, 0.0, 0.0
            for pole, old in zip(poles, before, strict=True):
                drop = pole - positive
                into += junction * (drop - old + last[1])
                slope_in += junction
                if drop > DIODE_DROP:
                    into += conductance * (drop - DIODE_DROP)
                    slope_in += conductance
                drop = negative - pole
                out += junction * (drop - last[0] + old)
                slope_out += junction
                if drop > DIODE_DROP:
                    out += conductance * (drop - DIODE_DROP)
                    slope_out += conductance
            charging = reservoir * (positive - negative - store) + load
            touch = (negative - offset) / series
            error_p = into - charging
            error_n = charging - out - touch
            a, b = -slope_in - reservoir, reservoir
            c, d = reservoir, -reservoir - slope_out - 1 / series
            determinant = a * d - b * c
            move_p = (b * error_n - d * error_p) / determinant
            move_n = (c * error_p - a * error_n) / determinant
            positive += move_p
            negative += move_n
            if abs(move_p) + abs(move_n) < 1e-9:
                break
        store = positive - negative
        touch = (negative - offset) / series
        across_barrier += step / barrier.capacitance * touch
        total = touch + stray
        across_skin = skin * total + skin_source
        across_body = body * total + body_source
        across_filter = (across_filter + share * across_body) / (1 + share)
        if index >= (periods - 1) * per_period:
            weighted.append(across_filter / BODY_RESISTANCE)
            unweighted.append(across_body / BODY_RESISTANCE)
    shown = [np.array(weighted), np.array(unweighted)]
    values = [f(trace) for trace in shown for f in (_rms, lambda item: np.abs(item).max())]
    return Indicated(*(float(value) for value in values))


def _rms(trace: np.ndarray) -> float:
    return float(np.sqrt((trace**2).mean()))
