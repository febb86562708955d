"""Converters of many adapters as arrays, their parts at the temperatures of the moment."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.world import coil as coils
from generator.world.adapter import Converter
from generator.world.control import Law
from generator.world.stage import Parts

Floats = NDArray[np.float64]


@dataclass
class State:
    """Temperatures and wave factors of every column, from pass to pass."""

    switch: Floats
    transformer: Floats
    rectifier: Floats
    primary: Floats
    secondary: Floats
    factors: dict[int, tuple[tuple[float, float], float]] = field(default_factory=dict)


def parts_of(
    converters: list[Converter], state: State, volts: Floats, amperes: Floats
) -> tuple[Parts, Law]:
    """Arrays of all columns at their temperatures."""

    def each(function: Any) -> Floats:
        return np.array([float(function(item)) for item in converters])

    def extra(name: str) -> Floats:
        return each(lambda item: item.extras[name])

    rise = extra("switch rise")
    sync = each(lambda item: item.synchronous)
    channel = each(lambda item: item.rectifier["resistance"].true)
    warm_channel = channel * np.where(sync > 0, 1 + 0.004 * (state.rectifier - 25.0), 1.0)
    scale = each(lambda item: item.rectifier["scale"]) * (state.rectifier + 273.15) / 298.15
    # A Schottky's drop at 1 A falls by 1 mV/K (makers' curves).
    drop = each(
        lambda item: -item.rectifier["scale"] * np.log(item.rectifier["saturation"])
    ) - 1e-3 * (state.rectifier - 25.0)
    winding = each(lambda item: item.coil.turns * item.coil.area)
    inductance = each(lambda item: item.inductance.true)
    frequency_power, flux_power = extra("ferrite frequency"), extra("ferrite flux")
    cold = 1 + extra("ferrite cold") * np.clip((100.0 - state.transformer) / 75.0, 0, 1.2) ** 2
    # From sine loss at 100 kHz and 200 mT to loss by slope and swing: Venkatachalam and others,
    # 2002: factor = k / ((2 pi)^(a-1) integral |cos|^a 2^(b-a)).
    angle = (np.arange(720) + 0.5) / 720 * 2 * np.pi
    integral = np.array(
        [(np.abs(np.cos(angle)) ** power).mean() * 2 * np.pi for power in frequency_power]
    )
    sine = extra("ferrite loss") / (100e3**frequency_power * 0.2**flux_power)
    factor = sine / (
        (2 * np.pi) ** (frequency_power - 1) * integral * 2 ** (flux_power - frequency_power)
    )
    # The controller draws its current at the voltage of the winding, which follows the output.
    supply = each(lambda item: item.auxiliary_turns / item.coil.secondary_turns) * (volts + 0.4)
    current = np.where(amperes > 0.02, extra("controller current"), extra("idle current"))
    gate = extra("gate charge") * 11.0 + sync * 15e-9 * 6.0
    parts = Parts(
        inductance=inductance,
        leakage=each(lambda item: item.leakage.true),
        drain_capacitance=each(lambda item: item.drain_capacitance.true),
        turns_ratio=each(lambda item: item.ratio),
        switch=each(lambda item: item.switch.true) * (1 + rise * (state.switch - 25.0)),
        sense=each(lambda item: item.sense.true),
        primary=each(lambda item: item.coil.direct_resistance("primary"))
        * coils.warm(state.transformer)
        * state.primary,
        secondary=each(lambda item: item.coil.direct_resistance("secondary"))
        * coils.warm(state.transformer)
        * state.secondary,
        clamp_resistance=each(
            lambda item: item.clamp_resistor.true if item.clamp_resistor else 0.0
        ),
        clamp_level=each(lambda item: item.clamp_level),
        fall_time=extra("fall time"),
        ring_quality=extra("ring quality"),
        synchronous=sync,
        rectifier_resistance=warm_channel,
        rectifier_scale=scale,
        rectifier_saturation=np.exp(-drop / scale),
        dead_time=extra("dead time"),
        rectifier_charge=extra("rectifier capacitance"),
        core_factor=factor * cold,
        core_frequency=frequency_power,
        core_flux=flux_power,
        core_scale=inductance / winding,
        core_volume=each(lambda item: item.coil.area * item.coil.path),
        overhead=current * supply,
        gate_energy=gate,
    )
    quasi = each(lambda item: item.quasi_resonant)
    law = Law(
        frequency=np.where(
            quasi > 0, extra("highest frequency"), each(lambda item: item.frequency.true)
        ),
        quasi_resonant=quasi,
        fold_power=each(lambda item: item.extras["fold share"] * item.rated_power),
        floor_frequency=extra("floor frequency"),
        burst_peak=extra("burst peak"),
    )
    return parts, law
