"""Plug-in surge stepped through time: many contacts together, limiters that warm as they go."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.world.rectifier import Case, circuit_of, column, limiter

Floats = NDArray[np.float64]
SAMPLE = 5e-6
# Steps in each sample: many while the line capacitor rings, fewer after.
EARLY, LATE, EARLY_SAMPLES = 50, 5, 40


@dataclass(frozen=True)
class Surge:
    """Records of all contacts, from the moment of contact.

    Attributes
    ----------
    time : numpy.ndarray
        [s], shape (samples,)
    current, plug_voltage, bulk_voltage, bulk_current : numpy.ndarray
        At the plug, at the plug, across the reservoir, into the bridge. [A], [V], shape
        (samples, n)
    probed : numpy.ndarray
        Current through the single pole of a clamp's bandwidth. [A], shape (samples, n)
    limiter_temperature : numpy.ndarray
        At the end. [C], shape (n,)
    limiter_energy : numpy.ndarray
        Heat in the limiter over the record. [J], shape (n,)
    """

    time: Floats
    current: Floats
    plug_voltage: Floats
    bulk_voltage: Floats
    bulk_current: Floats
    probed: Floats
    limiter_temperature: Floats
    limiter_energy: Floats


def surge(
    cases: list[Case],
    angles: Floats,
    celsius: Floats,
    heat_capacity: Floats,
    bandwidth: Floats,
    duration: float = 0.02,
) -> Surge:
    """Step all contacts; the converter has not started yet.

    Parameters
    ----------
    cases : list of Case
        Adapters; their `power` is left aside.
    angles : numpy.ndarray
        Of the fundamental at contact. [degrees], shape (n,)
    celsius, heat_capacity : numpy.ndarray
        Limiters at contact, and their heat capacity. [C], [J/K], shape (n,)
    bandwidth : numpy.ndarray
        Of the current probe. [Hz], shape (n,)
    duration : float
        [s]

    Returns
    -------
    Surge
        Every 5 us.
    """
    count = round(duration / SAMPLE)
    circuit = circuit_of(cases, celsius)
    first = column(cases, "limiter_first") > 0
    air, dissipation = column(cases, "air"), column(cases, "dissipation")
    supply = np.array([case.mains.resistance for case in cases])
    fixed_outer = circuit.resistance - first * limiter(cases, celsius)
    fixed_inner = circuit.inner_resistance - ~first * limiter(cases, celsius)
    none, idle = np.zeros(len(cases)), np.zeros(len(cases))
    kept = {
        name: np.empty((count, len(cases)))
        for name in ("current", "plug_voltage", "bulk_voltage", "bulk_current", "probed")
    }
    energy, probed, hot = none.copy(), none.copy(), limiter(cases, celsius)
    follow = 2 * np.pi * bandwidth
    plug = _source(cases, angles, np.zeros(1))[0]
    for index in range(count):
        for name, value in (
            ("current", circuit.supply_current),
            ("plug_voltage", plug),
            ("bulk_voltage", circuit.terminal()),
            ("bulk_current", circuit.current),
            ("probed", probed),
        ):
            kept[name][index] = value
        steps = EARLY if index < EARLY_SAMPLES else LATE
        step = SAMPLE / steps
        times = index * SAMPLE + step * np.arange(steps + 1)
        sources = _source(cases, angles, times)
        share = 1 - np.exp(-follow * step)
        for part in range(steps):
            before = circuit.supply_current
            circuit.advance(none + step, sources[part], sources[part + 1], idle)
            probed = probed + share * ((before + circuit.supply_current) / 2 - probed)
            slope = (circuit.supply_current - before) / step
            plug = sources[part + 1] - supply * circuit.supply_current - circuit.inductance * slope
            if part % 5 == 0:
                hot = limiter(cases, celsius)
            heat = hot * np.where(first, circuit.supply_current, circuit.current) ** 2
            energy += step * heat
            celsius = celsius + step / heat_capacity * (heat - dissipation * (celsius - air))
            circuit.resistance = fixed_outer + first * hot
            circuit.inner_resistance = fixed_inner + ~first * hot
    return Surge(
        np.arange(count) * SAMPLE, **kept, limiter_temperature=celsius, limiter_energy=energy
    )


def _source(cases: list[Case], angles: Floats, times: Floats) -> Floats:
    """Voltage of every source, shape (times, n)."""
    return np.array(
        [case.mains.at(times, angle) for case, angle in zip(cases, angles, strict=True)]
    ).T
