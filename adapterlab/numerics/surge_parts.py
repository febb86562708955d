"""What a plug-in surge is made of: its circuit, its track, and arithmetic for one or for many."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.numerics.diodes import Bridge
from adapterlab.numerics.mains import Mains


class Numbers:
    """Functions for one surge on Python floats."""

    exp, expm1, sqrt = math.exp, math.expm1, math.sqrt
    sin, cos, floor = math.sin, math.cos, math.floor
    least, most, any, all = min, max, bool, bool

    @staticmethod
    def where(condition: Any, yes: Any, no: Any) -> Any:
        """One of two, as `numpy.where` does for arrays."""
        return yes if condition else no


class Arrays:
    """The same functions for many surges."""

    exp, expm1, sqrt = np.exp, np.expm1, np.sqrt
    sin, cos, floor = np.sin, np.cos, np.floor
    least, most, any, all = np.minimum, np.maximum, np.any, np.all
    where = np.where


@dataclass(frozen=True)
class Circuit:
    """The parts; every number a float, or every number an array of shape (n,).

    `start_angle` is in radians, `load_start` may be infinite, and without a thermistor
    `resistance_25` is 0.
    """

    mains: Mains
    bridge: Bridge
    start_angle: Any
    bulk_capacitance: Any
    inductance: Any
    series_resistance: Any
    bulk_esr: Any
    resistance_25: Any
    beta: Any
    heat_capacity: Any
    dissipation_factor: Any
    ambient: Any
    load_power: Any
    load_start: Any
    start_voltage: Any
    start_temperature: Any


@dataclass
class Track:
    """Where the surges were, and what went where until the end.

    `nodes` holds time, signed current, voltage at the terminals of the bulk capacitor, temperature
    and I²t: the start, then middle and end of each step. `voltage` is that of the capacitance.
    """

    nodes: list[tuple[Any, ...]]
    squares: Any
    load_charge: Any
    thermistor_energy: Any
    esr_energy: Any
    load_energy: Any
    source_energy: Any
    voltage: Any


def falling_zero(ops: Any, function: Callable[[Any], Any], low: Any, high: Any) -> Any:
    """Where a function that is positive at `low` and negative at `high` crosses zero."""
    above, below = function(low), function(high)
    for _ in range(6):
        span = above - below
        share = ops.where(span > 0, above / ops.where(span > 0, span, 1.0), 0.5)
        middle = low + (high - low) * ops.least(ops.most(share, 0.02), 0.98)
        value = function(middle)
        positive = value > 0
        # The end that stays counts half, so that it moves too (the Illinois rule).
        below = ops.where(positive, below / 2, value)
        above = ops.where(positive, value, above / 2)
        low, high = ops.where(positive, middle, low), ops.where(positive, high, middle)
    return (low + high) / 2
