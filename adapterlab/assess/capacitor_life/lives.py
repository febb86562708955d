"""Lives of all capacitors of an adapter with their uncertainty, drawn together.

One draw holds one value of each law for all capacitors, so that what is wrong for one is wrong
for its like. `Population` holds the draws and gives the lives; `table_of` is the table of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from adapterlab.assess.capacitor_life.cases import Case
from adapterlab.assess.model.heat import FACTOR, HeatModel
from adapterlab.assess.model.inputs import Input, allowance, drawn, shares_of
from adapterlab.assess.report.prediction import Share
from adapterlab.capacitor_life import (
    LOWEST_TEMPERATURE,
    characteristic_life,
    electrolytic_life,
    first_failure_probability,
    polymer_life,
    surroundings_temperature,
)
from adapterlab.judgement import ENDS

Floats = NDArray[np.float64]
LAWS = ("life.halving_interval", "life.polymer_weight")
MANY = ("life.failed_share", "life.shape")
MODE = "use.mode"
# What each input is called in a table.
_SHORT = {
    "temperature": "its temperature",
    "contact": "contact of the thermometer",
    "above_case": "its place in the case",
    "loss": "the loss in the case",
    "base_life": "its base life",
    "rated_rise": "its rise at rated ripple",
    "core_ratio": "core over can",
    "ripple_noted": "its ripple current",
    "ripple_share": "its ripple current",
    "life.halving_interval": "the 10-kelvin rule",
    "life.polymer_weight": "the polymer rule",
    FACTOR: "the balance of heat",
    "room.temperature": "the room",
}
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


@dataclass(frozen=True)
class Population:
    """Capacitors of one adapter, and of many like it.

    Attributes
    ----------
    cases : tuple of Case
        The capacitors, at least one.
    heat : HeatModel or None
        Balance of heat.
    """

    cases: tuple[Case, ...]
    heat: HeatModel | None = None

    @cached_property
    def inputs(self) -> dict[str, Input]:
        """Everything that the lives rest on, by name."""
        found = {name: allowance(name) for name in (*LAWS, *MANY, MODE)}
        for case in self.cases:
            found |= case.inputs
        return found | ({} if self.heat is None else {FACTOR: self.heat.factor})

    @cached_property
    def drawn(self) -> dict[str, Any]:
        """Their draws."""
        return drawn(self.inputs)

    @cached_property
    def temperature(self) -> Floats:
        """Of the cases, as read. [°C], shape (parts, draws)."""
        return self._each(lambda case: case.warm(self.drawn))

    @cached_property
    def rises(self) -> Floats:
        """Of the cores by ripple current, at the load of the readings. [K], (parts, draws)."""
        return self._each(lambda case: case.rise(self.drawn))

    @cached_property
    def above(self) -> Floats:
        """How far each sits above the adapter's case. [K/W], shape (parts, draws)."""
        if self.heat is None:
            raise ValueError("heat must be a balance of heat, got none")
        heat = self.heat
        return self._each(lambda case: case.above_shell(self.drawn, heat))

    def _each(self, found: Any) -> Floats:
        count = np.shape(self.drawn["life.shape"])
        return np.stack(
            [np.broadcast_to(np.asarray(found(case), dtype=float), count) for case in self.cases]
        )

    def lives(self, temperature: Floats | None = None, load: float = 1.0) -> Floats:
        """Life of each capacitor in continuous use.

        Parameters
        ----------
        temperature : numpy.ndarray, optional
            Of the cases. [°C], shape (parts, draws)  As read if not given.
        load : float, optional
            Load over the one of the readings: ripple current goes with it. [1]

        Returns
        -------
        numpy.ndarray
            Lives. [h], shape (parts, draws)  What is cooler than the laws' range counts as if it
            were at its end, and what is hotter than the rating as if it were at the rating.
        """
        warm = self.temperature if temperature is None else temperature
        rises = self.rises * load**2
        return np.stack([self._life(case, warm[n], rises[n]) for n, case in enumerate(self.cases)])

    def _life(self, case: Case, warm: Floats, rise: Floats) -> Any:
        around = np.asarray(surroundings_temperature(warm, rise, case.of(self.drawn, "core_ratio")))
        around = np.clip(around, LOWEST_TEMPERATURE, case.rated_temperature)
        rating = (case.of(self.drawn, "base_life"), case.rated_temperature, around)
        if case.capacitor.type == "polymer":
            common = polymer_life(*rating, ripple_rise=rise)
            careful = polymer_life(*rating, ripple_rise=rise, rule="two-per-10-kelvin")
            return careful * (common / careful) ** self.drawn["life.polymer_weight"]
        return electrolytic_life(
            *rating,
            rise,
            case.of(self.drawn, "rated_rise"),
            case.capacitor.base_life_includes_ripple,
            halving_interval=self.drawn["life.halving_interval"],
        )

    def first(self, lives: Floats) -> Floats:
        """How likely each capacitor is the first to fail. [1], shape (parts,)."""
        shape = self.drawn["life.shape"]
        return first_failure_probability(self.characteristic(lives).T, shape).mean(axis=0)

    def characteristic(self, lives: Floats) -> Floats:
        """Characteristic lives of the populations. [unit of lives], shape (parts, draws)."""
        failed, shape = (self.drawn[name] for name in MANY)
        return np.asarray(characteristic_life(lives, failed, shape))

    def rests_on(self, place: int, life: Floats) -> tuple[Share, ...]:
        """Inputs that the logarithm of a capacitor's life rests on, the largest share first."""
        common = (*LAWS, MODE, FACTOR)
        inputs = {name: self.inputs[name] for name in common if name in self.inputs}
        return shares_of(np.log(life), inputs | self.cases[place].inputs)

    @cached_property
    def continuous(self) -> Floats:
        """Lives in continuous use at the temperature read. [h], shape (parts, draws)."""
        return self.lives()

    @cached_property
    def shares(self) -> tuple[tuple[Share, ...], ...]:
        """What each of those rests on."""
        return tuple(self.rests_on(place, life) for place, life in enumerate(self.continuous))


def short_name(share: Share) -> str:
    """What an input is called in a table."""
    return _SHORT.get(share.name) or _SHORT.get(share.name.partition(".")[2], share.name)


def table_of(population: Population | None) -> pd.DataFrame:
    """Lives of all capacitors together in continuous use at the temperature read.

    Parameters
    ----------
    population : Population or None
        None where no life can be worked out.

    Returns
    -------
    pandas.DataFrame
        One row for each capacitor, in their order.
    """
    if population is None:
        return pd.DataFrame(columns=COLUMNS)
    lives = population.continuous
    low, middle, high = np.quantile(lives, [ENDS[0], 0.5, ENDS[1]], axis=1)
    first = population.first(lives)
    table: Sequence[dict[str, Any]] = [
        {
            "part": case.capacitor.part,
            "place": case.capacitor.place,
            "type": case.capacitor.type,
            "temperature": float(population.temperature[n].mean()),
            "temperature_uncertainty": float(population.temperature[n].std(ddof=1)),
            "rated_temperature": case.rated_temperature,
            "base_life": case.own["base_life"].middle,
            "ripple_rise": np.nan if case.ripple_rise is None else case.ripple_rise,
            "life": float(middle[n]),
            "low": float(low[n]),
            "high": float(high[n]),
            "standard_uncertainty": float(lives[n].std(ddof=1)),
            "first": float(first[n]),
            "spread_from": short_name(population.shares[n][0]),
        }
        for n, case in enumerate(population.cases)
    ]
    return pd.DataFrame(table, columns=COLUMNS)
