"""Faults that can be planted, each in one adapter or on one bench."""

from dataclasses import dataclass, replace

import numpy as np

from generator.world.adapter import Adapter, Marked
from generator.world.meters import Meter

# What `size` counts, and what is drawn where none is given: at least twice what tolerances allow.
KINDS = {
    "marked-value": ("bulk capacitor below its marking, in tolerances of 20 %", 2.0, 3.0),
    "hidden-capacitor": ("second barrier capacitor, in fifths of the listed one", 2.0, 4.0),
    "dried-bulk": ("bulk capacitor lost, in tolerances of 20 %, resistance grown", 2.0, 3.0),
    "wrong-thermistor": ("limiter off its marking, in tolerances of 20 %", 2.0, 3.0),
    "wattmeter": ("wattmeter's gain off, in per cent", 3.0, 3.0),
    "exchanged": ("channels of the captures exchanged", 1.0, 1.0),
    "clipped": ("current of the captures beyond the screen", 1.0, 1.0),
}


@dataclass(frozen=True)
class Fault:
    """One planted fault.

    Attributes
    ----------
    kind : str
        One of `KINDS`, or empty.
    size : float
        See `KINDS`.
    sign : float
        Direction, where there are two.
    """

    kind: str = ""
    size: float = 0.0
    sign: float = 1.0


def draw_fault(kind: str, size: float | None, rng: np.random.Generator) -> Fault:
    """Fault of a kind; its size drawn where none is given."""
    if not kind:
        return Fault()
    if kind not in KINDS:
        raise ValueError(f"fault: {kind!r}, must be one of {', '.join(KINDS)}")
    drawn = float(rng.uniform(*KINDS[kind][1:]))
    sign = float(rng.choice([-1.0, 1.0]))
    return Fault(kind, drawn if size is None else size, sign)


def in_adapter(adapter: Adapter, fault: Fault) -> Adapter:
    """Adapter with a fault of its parts; the marks stay as they are."""
    front, barrier = adapter.front, adapter.barrier
    off = 0.20 * fault.size
    if fault.kind in ("marked-value", "dried-bulk"):
        factor = 1 - min(off, 0.85)
        bulk = tuple(
            Marked(part.marked, part.marked * factor, part.tolerance) for part in front.bulk
        )
        grown = 2.0 + fault.size if fault.kind == "dried-bulk" else 1 / factor
        front = replace(front, bulk=bulk, electrolyte=front.electrolyte * grown)
    elif fault.kind == "wrong-thermistor":
        factor = 1 + fault.sign * min(off, 0.8)
        part = front.limiter
        front = replace(front, limiter=Marked(part.marked, part.marked * factor, part.tolerance))
    elif fault.kind == "hidden-capacitor":
        marked = 1 / sum(1 / part.marked for part in barrier.capacitors)
        barrier = replace(barrier, hidden=off * marked)
    return replace(adapter, front=front, barrier=barrier)


def on_bench(meters: dict[str, Meter], fault: Fault) -> None:
    """Fault of an instrument."""
    if fault.kind == "wattmeter":
        meters["input power"].gain = fault.sign * fault.size / 100
