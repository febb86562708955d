"""Random draws: a stream for each adapter and purpose, and how parts lie in their tolerances."""

import math
import zlib
from dataclasses import dataclass, field

import numpy as np


def stream(seed: int, index: int, purpose: str) -> np.random.Generator:
    """Source of randomness that belongs to one adapter and one purpose alone."""
    return np.random.default_rng([seed, index, zlib.crc32(purpose.encode())])


@dataclass
class Parts:
    """Draws true values of marked parts.

    Nobody publishes where parts lie in their tolerances. JCGM 100:2008, 4.3.7, takes every value
    for equally likely where only the ends are known: 11 parts in 20. Parts of one batch lie close
    together somewhere inside (common practice): 6 in 20. Parts from which the closer grades were
    picked out lie near an end (common practice): 3 in 20. None lies outside.

    Attributes
    ----------
    rng : numpy.random.Generator
        Source.
    drawn : dict
        Where each part came to lie, -1 to 1, for the record.
    """

    rng: np.random.Generator
    drawn: dict[str, float] = field(default_factory=dict)

    def place(self, name: str) -> float:
        """Where a part lies in its tolerance, from -1 to 1."""
        kind, value = self.rng.random(), self.rng.uniform(-1, 1)
        middle, near = self.rng.uniform(-0.6, 0.6), self.rng.standard_normal() / 8
        end = math.copysign(self.rng.uniform(0.8, 1.0), value)
        place = value if kind < 0.55 else middle + near if kind < 0.85 else end
        self.drawn[name] = float(np.clip(place, -1, 1))
        return self.drawn[name]

    def true(self, name: str, marked: float, tolerance: float) -> float:
        """True value of a part inside its marked tolerance."""
        return marked * (1 + tolerance * self.place(name))


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Value whose order of magnitude is spread evenly."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


E6 = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)


def preferred(value: float, series: tuple[float, ...] = E12) -> float:
    """Nearest value of a series of IEC 60063."""
    decade = 10 ** math.floor(math.log10(value))
    steps = [item * decade * factor for factor in (1, 10) for item in series]
    return float(f"{min(steps, key=lambda step: abs(math.log(step / value))):.3g}")


def nearest(value: float, choices: tuple[float, ...]) -> float:
    """Nearest of some sizes, by ratio."""
    return min(choices, key=lambda size: abs(math.log(size / value)))


def at_least(value: float, choices: tuple[float, ...]) -> float:
    """Smallest of some sizes that is enough, or the largest."""
    return next((size for size in choices if size >= value), choices[-1])
