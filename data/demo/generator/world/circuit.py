"""Mains side stepped through time: source, line capacitor, choke, exponential bridge, reservoir.

Every array holds one entry for each adapter and operating point; all of them advance together.

    source - resistance, inductance - [line capacitor] - resistance, leakage - bridge - reservoir

The four diodes are alike: ``i = saturation (exp(v / scale) - 1)``. Seen from the mains, two
conduct in series, so the bridge input stands at ``reservoir + 2 scale ln(i / saturation)``. With
the other voltages linear in the current, each implicit step asks for ``i`` in
``i + a ln i = b``, which is ``a`` times Wright's omega function.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# Weight of the new instant in each step: 0.5 would ring after the diodes close, 1 would damp.
WEIGHT = 0.6
LOWEST_VOLTAGE = 60.0


def wright_omega(argument: Floats) -> Floats:
    """Solution w of ``w + ln w = argument``, element by element."""
    small = np.exp(np.clip(argument, -600.0, 1.0))
    large = np.maximum(argument, 1.0)
    result = np.where(argument > 1.0, large - np.log(large), small / (1 + small))
    held = np.maximum(argument, -600.0)
    for _ in range(3):
        result = result * (1 + held - np.log(result)) / (1 + result)
    return result


@dataclass
class Circuit:
    """Parts of the mains side and their momentary state, one entry for each column.

    Attributes
    ----------
    resistance, inductance : numpy.ndarray
        From the ideal source to the line capacitor. [ohm], [H]
    line_capacitance : numpy.ndarray
        Zero where there is none. [F]
    inner_resistance, inner_inductance : numpy.ndarray
        From the line capacitor to the bridge, the bulk resistance of two diodes included.
        [ohm], [H]
    saturation, scale : numpy.ndarray
        Of one diode. [A], [V]
    bulk_capacitance, bulk_resistance : numpy.ndarray
        Reservoir and its series resistance. [F], [ohm]
    """

    resistance: Floats
    inductance: Floats
    line_capacitance: Floats
    inner_resistance: Floats
    inner_inductance: Floats
    saturation: Floats
    scale: Floats
    bulk_capacitance: Floats
    bulk_resistance: Floats
    supply_current: Floats = field(init=False)
    line_voltage: Floats = field(init=False)
    current: Floats = field(init=False)
    bridge_voltage: Floats = field(init=False)
    store: Floats = field(init=False)
    load: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.rest(np.zeros_like(self.resistance))

    def rest(self, store: Floats) -> None:
        """Set every current to zero and the reservoir to `store` volts."""
        zero = np.zeros_like(store)
        self.supply_current, self.line_voltage = zero.copy(), zero.copy()
        self.current, self.bridge_voltage = zero.copy(), zero.copy()
        self.store, self.load = store.copy(), zero.copy()

    def terminal(self) -> Floats:
        """Voltage at the reservoir's terminals. [V]."""
        return self.store + self.bulk_resistance * (np.abs(self.current) - self.load)

    def advance(self, step: float, before: Floats, after: Floats, load: Floats) -> None:
        """One implicit step.

        Parameters
        ----------
        step : float
            [s]
        before, after : numpy.ndarray
            Source at both ends of the step. [V]
        load : numpy.ndarray
            Current taken from the reservoir during the step. [A]
        """
        kept = (1 - WEIGHT) / WEIGHT
        first = self.inductance / (WEIGHT * step)
        second = self.inner_inductance / (WEIGHT * step)
        outer = first + self.resistance
        inner = second + self.inner_resistance
        push = (
            first * self.supply_current
            + kept * (before - self.resistance * self.supply_current - self.line_voltage)
            + after
        )
        charge = self.line_capacitance / (WEIGHT * step)
        slope = charge + 1 / outer
        held = (
            charge * self.line_voltage
            + kept * (self.supply_current - self.current) * (charge > 0)
            + push / outer
        )
        drive = (
            second * self.current
            + kept
            * (self.line_voltage - self.inner_resistance * self.current - self.bridge_voltage)
            + held / slope
        )
        stiffness = inner + 1 / slope
        magnitude = np.abs(self.current)
        fraction = step / self.bulk_capacitance
        level = (
            self.store
            + fraction * ((1 - WEIGHT) * (magnitude - self.load) - WEIGHT * load)
            - self.bulk_resistance * load
        )
        total = stiffness + self.bulk_resistance + WEIGHT * fraction
        unit = 2 * self.scale / total
        force = (np.abs(drive) - level) / (2 * self.scale)
        flow = unit * wright_omega(force + np.log(self.saturation / unit))
        new = np.copysign(flow, drive)
        self.bridge_voltage = drive - stiffness * new
        self.line_voltage = (held - new) / slope
        self.supply_current = np.where(charge > 0, (push - self.line_voltage) / outer, new)
        self.store = self.store + fraction * (
            (1 - WEIGHT) * (magnitude - self.load) + WEIGHT * (flow - load)
        )
        self.current, self.load = new, load

    def constant_power(self, power: Floats) -> Floats:
        """Current of a converter that takes `power`. [A]."""
        return power / np.maximum(self.terminal(), LOWEST_VOLTAGE)
