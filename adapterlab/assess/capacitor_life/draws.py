"""Lives of all capacitors of an adapter with their uncertainty, drawn together.

One draw holds one value of each law for all capacitors, so that what is wrong for one is wrong
for its like. `draw` makes the draws, `Draws.lives` the lives of them, `lives_of` the table.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special, stats

from adapterlab.assess.capacitor_life.cases import HALVING, SECTION, Case
from adapterlab.capacitor_life import (
    LOWEST_TEMPERATURE,
    characteristic_life,
    electrolytic_life,
    first_failure_probability,
    polymer_life,
    surroundings_temperature,
)
from adapterlab.judgement import ENDS
from adapterlab.published import rows

Floats = NDArray[np.float64]
COUNT = 8192
_SEED = 20190117
# Draws of one input alone, and draws enough for the mean of a probability.
_LONE, _ENOUGH = 128, 8192
_OWN = ("temperature", "base life", "ripple", "can")
_SHARED = (
    "10-kelvin rule",
    "polymer rule",
    "meaning of life",
    "spread of parts",
    "longest life",
    "heat balance",
    "mode in use",
)
COLUMNS = [
    "part",
    "place",
    "type",
    "temperature",
    "temperature_uncertainty",
    "rated_temperature",
    "base_life",
    "ripple_rise",
    "life",
    "low",
    "high",
    "standard_uncertainty",
    "first",
    "spread_from",
]
_FAILED = rows(SECTION, "populations", name="share failed at the stated life")[0]
_SHAPE = rows(SECTION, "populations", name="Weibull shape of wearing out")[0]
_LONGEST = rows(SECTION, "longest_lives")[0]


@dataclass(frozen=True)
class Draws:
    """Values drawn for everything that is uncertain.

    Attributes
    ----------
    cases : tuple of Case
        The capacitors.
    temperature, base_life, ripple_rise, ratio : numpy.ndarray
        Of each. [°C], [h], [K], [1], shape (parts, draws)
    halving_interval, polymer_weight : numpy.ndarray
        The laws. [K], [1], shape (draws,)
    failed_share, shape : numpy.ndarray
        What a maker means by life, and the spread of a population. [1], shape (draws,)
    longest_life : numpy.ndarray
        What makers state at most. [years], shape (draws,)
    heat, mode : numpy.ndarray
        Probability that the balance of heat errs by less, and where between the best and the
        worst mode the losses lie. [1], shape (draws,)
    """

    cases: tuple[Case, ...]
    temperature: Floats
    base_life: Floats
    ripple_rise: Floats
    ratio: Floats
    halving_interval: Floats
    polymer_weight: Floats
    failed_share: Floats
    shape: Floats
    longest_life: Floats
    heat: Floats
    mode: Floats

    def lives(
        self, temperature: Floats | None = None, load: float = 1.0, *, floor: bool = False
    ) -> Floats:
        """Life of each capacitor in continuous use.

        Parameters
        ----------
        temperature : numpy.ndarray, optional
            Of the cases. [°C], shape (parts, draws)  As drawn if not given.
        load : float, optional
            Load over the one of the temperatures: ripple current goes with it. [1]
        floor : bool, optional
            Count what is cooler than the laws' range as if it were at its end, and what is hotter
            than the rating as if it were at the rating.

        Returns
        -------
        numpy.ndarray
            Lives. [h], shape (parts, draws)
        """
        warm = self.temperature if temperature is None else temperature
        return np.stack(
            [
                self._life(n, case, warm[n], self.ripple_rise[n] * load**2, floor)
                for n, case in enumerate(self.cases)
            ]
        )

    def _life(self, n: int, case: Case, warm: Floats, rise: Floats, floor: bool) -> Any:
        around = np.asarray(surroundings_temperature(warm, rise, self.ratio[n]))
        if floor:
            around = np.clip(around, LOWEST_TEMPERATURE, case.rated_temperature)
        rating = (self.base_life[n], case.rated_temperature, around)
        if case.capacitor.type == "polymer":
            common = polymer_life(*rating, ripple_rise=rise)
            careful = polymer_life(*rating, ripple_rise=rise, rule="two-per-10-kelvin")
            return careful * (common / careful) ** self.polymer_weight
        return electrolytic_life(
            *rating,
            rise,
            case.rated_ripple_rise,
            case.capacitor.base_life_includes_ripple,
            halving_interval=self.halving_interval,
        )

    def first(self, lives: Floats) -> Floats:
        """How likely each capacitor is the first to fail. [1], shape (parts,)."""
        some = slice(None, None, max(1, lives.shape[1] // _ENOUGH))
        shape = self.shape[some]
        scale = characteristic_life(lives[:, some], self.failed_share[some], shape)
        return first_failure_probability(np.asarray(scale).T, shape).mean(axis=0)

    def characteristic(self, lives: Floats) -> Floats:
        """Characteristic lives of the populations. [unit of lives], shape (parts, draws)."""
        return np.asarray(characteristic_life(lives, self.failed_share, self.shape))


def _between(points: Floats, low: float, high: float) -> Floats:
    return low + points * (high - low)


def _temperature(case: Case, points: Floats) -> Floats:
    """Normal, cut off where no life is stated."""
    spread = case.temperature_uncertainty
    lowest = LOWEST_TEMPERATURE + case.widest_rise
    if spread <= 0:
        return np.full_like(points, case.temperature)
    ends = special.ndtr((np.array([lowest, case.rated_temperature]) - case.temperature) / spread)
    drawn = case.temperature + spread * special.ndtri(_between(points, *ends))
    return np.clip(drawn, lowest, case.rated_temperature)


def draw(cases: Sequence[Case], count: int = COUNT, seed: int = _SEED) -> Draws:
    """Draw what is uncertain about capacitors and laws.

    Parameters
    ----------
    cases : sequence of Case
        At least one capacitor, each within the range of its law.
    count : int, optional
        Number of draws, rounded up to a power of two.
    seed : int, optional
        Start of the scrambling.

    Returns
    -------
    Draws
        Points of a scrambled Sobol sequence, put through the distributions.
    """
    names = len(_OWN) * len(cases) + len(_SHARED)
    power = int(np.ceil(np.log2(count)))
    points = stats.qmc.Sobol(names, scramble=True, rng=seed).random_base2(power).T
    return _placed(tuple(cases), np.clip(points, 1e-12, 1 - 1e-12))


def _placed(cases: tuple[Case, ...], points: Floats) -> Draws:
    own = points[: len(_OWN) * len(cases)].reshape(len(cases), len(_OWN), -1)
    law = dict(zip(_SHARED, points[len(_OWN) * len(cases) :], strict=True))
    temperature = np.stack([_temperature(case, own[n, 0]) for n, case in enumerate(cases)])
    base = np.stack(
        [
            case.base_life * (1 + case.capacitor.base_life_tolerance * (2 * own[n, 1] - 1))
            for n, case in enumerate(cases)
        ]
    )
    rise = np.stack([_rise(case, own[n, 2]) for n, case in enumerate(cases)])
    ratio = np.stack([_between(own[n, 3], *case.ratio) for n, case in enumerate(cases)])
    width = HALVING["half_width"]
    failed = np.log([_FAILED["low"], _FAILED["high"]])
    return Draws(
        cases,
        temperature,
        base,
        rise,
        ratio,
        HALVING["interval"] + width * (2 * law["10-kelvin rule"] - 1),
        law["polymer rule"],
        np.exp(_between(law["meaning of life"], *failed)),
        _between(law["spread of parts"], _SHAPE["low"], _SHAPE["high"]),
        _between(law["longest life"], _LONGEST["low"], _LONGEST["years"]),
        law["heat balance"],
        law["mode in use"],
    )


def _rise(case: Case, points: Floats) -> Floats:
    """Any rise up to the rated one if the current is not known, else the known one's spread."""
    if case.ripple_rise is None:
        return case.rated_ripple_rise * points
    current = case.ripple.best
    if case.ripple.stated is not None or current is None or current.value == 0:
        return np.full_like(points, case.ripple_rise)
    spread = 2 * current.standard_uncertainty / current.value
    return np.clip(case.ripple_rise * (1 + spread * special.ndtri(points)), 0, case.widest_rise)


def _spread_from(cases: tuple[Case, ...]) -> list[str]:
    """The input that spreads the life of each capacitor most, the others at their middles."""
    names = [f"{n} {name}" for n in range(len(cases)) for name in _OWN] + list(_SHARED[:2])
    lone = (np.arange(_LONE) + 0.5) / _LONE
    points = np.full((len(_OWN) * len(cases) + len(_SHARED), len(names), _LONE), 0.5)
    points[np.arange(len(names)), np.arange(len(names))] = lone
    lives = _placed(cases, points.reshape(len(points), -1)).lives()
    spread = np.log(lives).reshape(len(cases), len(names), _LONE).std(axis=-1)
    return [names[most].removeprefix(f"{n} ") for n, most in enumerate(spread.argmax(axis=1))]


def lives_of(cases: Sequence[Case], count: int = COUNT) -> pd.DataFrame:
    """Lives of all capacitors together in continuous use at the measured temperature."""
    if not cases:
        return pd.DataFrame(columns=COLUMNS)
    drawn = draw(cases, count)
    lives = drawn.lives()
    low, middle, high = np.quantile(lives, [ENDS[0], 0.5, ENDS[1]], axis=1)
    first, spread_from = drawn.first(lives), _spread_from(drawn.cases)
    table = [
        {
            "part": case.capacitor.part,
            "place": case.capacitor.place,
            "type": case.capacitor.type,
            "temperature": case.temperature,
            "temperature_uncertainty": case.temperature_uncertainty,
            "rated_temperature": case.rated_temperature,
            "base_life": case.base_life,
            "ripple_rise": np.nan if case.ripple_rise is None else case.ripple_rise,
            "life": float(middle[n]),
            "low": float(low[n]),
            "high": float(high[n]),
            "standard_uncertainty": float(lives[n].std(ddof=1)),
            "first": float(first[n]),
            "spread_from": spread_from[n],
        }
        for n, case in enumerate(cases)
    ]
    return pd.DataFrame(table, columns=COLUMNS)
