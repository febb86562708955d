"""Sinusoidal mains, resistance, empty capacitor and bridge, solved for contact at the crest."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Floats, not_negative, positive


@dataclass(frozen=True)
class CrestCircuit:
    """The surge in closed form: a decaying part and a sine, until `stop` [rad]."""

    decaying: Floats
    sine: Floats
    lag: Floats
    decay: Floats
    stop: Floats

    def current(self, angle: Floats) -> Floats:
        """Current at an angle after contact, whether or not the bridge still conducts. [A]."""
        return self.decaying * np.exp(-angle / self.decay) - self.sine * np.sin(angle - self.lag)


def falling_root(function: Callable[[Floats], Floats], high: Floats) -> Floats:
    """Where a falling function of an array crosses zero between 0 and `high`, by bisection."""
    low, high = np.zeros_like(high), high.copy()
    for _ in range(54):
        middle = (low + high) / 2
        above = function(middle) > 0
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return (low + high) / 2


def crest_circuit(
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    resistance: ArrayLike,
    capacitance: ArrayLike,
    bridge_drop: ArrayLike,
) -> CrestCircuit:
    """The circuit solved."""
    crest = np.sqrt(2) * positive("mains_voltage", mains_voltage)
    omega = 2 * np.pi * positive("mains_frequency", mains_frequency)
    series, bulk = positive("resistance", resistance), positive("capacitance", capacitance)
    fall = not_negative("bridge_drop", bridge_drop)
    if np.any(fall >= crest):
        raise ValueError(
            f"bridge_drop must be below the mains voltage at contact, got {bridge_drop!r}"
        )
    decay = omega * series * bulk
    lag = np.arctan(decay)
    sine = crest / series * np.sin(lag)
    decaying = (crest - fall) / series - sine * np.sin(lag)
    # At `latest` source and drop cancel: by then the charged capacitor has stopped the current.
    latest = np.arccos(fall / crest)
    parts = np.broadcast_arrays(decaying, sine, lag, decay, latest)
    solved = CrestCircuit(*parts)
    return replace(solved, stop=falling_root(solved.current, solved.stop))
