"""The capacitors of a dossier whose life can be worked out, and those lives.

`case_of` gathers what is known of one capacitor, `lives_of` draws the lives of all of them
together, so that what they share is shared.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import constants, stats

from adapterlab.assess.finding import Finding, not_measured
from adapterlab.capacitor_life import (
    LOWEST_TEMPERATURE,
    electrolytic_life,
    polymer_life,
    ripple_temperature_rise,
    surroundings_temperature,
)
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import RatedCapacitor
from adapterlab.published import rows
from adapterlab.uncertainty import propagate

SECTION = "capacitor_life"
FUNCTIONS = {
    "wet electrolytic": "capacitor_life.electrolytic_life",
    "polymer": "capacitor_life.polymer_life",
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
HALVING = rows(SECTION, "halving_intervals")[0]
_RATIOS = [row["ratio"] for row in rows(SECTION, "core_to_case")]


@dataclass(frozen=True)
class Case:
    """One capacitor whose life can be worked out; times in hours, `ripple_rise` None if unknown."""

    capacitor: RatedCapacitor
    temperature: float
    origin: str
    rated_temperature: float
    base_life: float
    ripple_rise: float | None
    rated_ripple_rise: float

    @property
    def label(self) -> str:
        """Reference and place, as said aloud."""
        return label_of(self.capacitor)

    def distributions(self) -> dict[str, Any]:
        """What is uncertain about this capacitor alone; numbers where nothing is."""
        widest = self.rated_ripple_rise if self.ripple_rise is None else self.ripple_rise
        spread = self.capacitor.temperature_uncertainty
        lowest = LOWEST_TEMPERATURE + widest
        if lowest >= self.rated_temperature:
            raise ValueError(f"its ripple current would heat it by {widest:.3g} K")
        if not lowest <= self.temperature <= self.rated_temperature:
            raise ValueError(
                f"its case at {self.temperature:g} °C lies outside {lowest:.3g} to "
                f"{self.rated_temperature:g} °C"
            )
        share = self.capacitor.base_life_tolerance
        if share >= 1:
            raise ValueError(f"its base_life_tolerance must be below 100 %, got {share:.0%}")
        edges = np.array([lowest, self.rated_temperature]) - self.temperature
        least = self.base_life * (1 - share)
        return {
            "temperature": stats.truncnorm(*(edges / spread), self.temperature, spread)
            if spread > 0 and edges[0] < edges[1]
            else self.temperature,
            "base life": stats.uniform(least, 2 * share * self.base_life)
            if share > 0
            else self.base_life,
            "ripple": stats.uniform(0, widest)
            if self.ripple_rise is None and widest > 0
            else widest,
            "can": stats.uniform(min(_RATIOS), max(_RATIOS) - min(_RATIOS)),
        }

    def life(self, drawn: Mapping[str, Any], law: Mapping[str, Any]) -> Any:
        """Life [h] for values of the inputs of `distributions` and of the laws."""
        around = surroundings_temperature(drawn["temperature"], drawn["ripple"], drawn["can"])
        rating = (drawn["base life"], self.rated_temperature, around)
        if self.capacitor.type == "polymer":
            common = polymer_life(*rating, ripple_rise=drawn["ripple"])
            careful = polymer_life(*rating, ripple_rise=drawn["ripple"], rule="two-per-10-kelvin")
            return careful * (common / careful) ** law["polymer rule"]
        return electrolytic_life(
            *rating,
            drawn["ripple"],
            self.rated_ripple_rise,
            self.capacitor.base_life_includes_ripple,
            halving_interval=law["10-kelvin rule"],
        )


def label_of(capacitor: RatedCapacitor) -> str:
    """Reference and place of a capacitor, as said aloud."""
    return f"{capacitor.part} ({capacitor.place})" if capacitor.place else capacitor.part


def rounded(values: Any) -> Any:
    """Two significant digits."""
    array = np.asarray(values, dtype=float)
    digits = 1 - np.floor(np.log10(np.where(array > 0, array, 1.0))).astype(int)
    return np.array([round(value, place) for value, place in zip(array, digits, strict=True)])


def said(value: float) -> str:
    """Two significant digits, with commas between thousands."""
    shown = float(rounded([value])[0])
    return f"{shown:,.0f}" if shown >= 10 else f"{shown:g}"


def case_temperature(dossier: Dossier, capacitor: RatedCapacitor) -> tuple[float, str] | None:
    """Case temperature and where it stands: the capacitor's own entry, else its place's hottest."""
    if capacitor.temperature is not None:
        return capacitor.temperature, f"adapter.toml, [[capacitors]] {capacitor.part}"
    table = dossier.temperatures
    table = table[(table["place"] == capacitor.place) & (capacitor.place != "")]
    if capacitor.output_power is not None:
        table = table[np.isclose(table["output_power"], capacitor.output_power)]
    if table.empty:
        return None
    row = table.loc[table["temperature"].idxmax()]
    return float(row["temperature"]), f"temperatures.csv line {row['line']}"


def rated_temperature(dossier: Dossier, capacitor: RatedCapacitor) -> float | None:
    """Temperature marked on a capacitor, None if it is not noted. [°C]."""
    part = dossier.adapter.part(capacitor.part)
    return capacitor.rated_temperature or (part.rated_temperature if part else None)


def case_of(dossier: Dossier, capacitor: RatedCapacitor) -> Case | Finding:
    """What the life is worked out from, or a finding that says what is missing."""
    found = case_temperature(dossier, capacitor)
    rated = rated_temperature(dossier, capacitor)
    needed = []
    if found is None:
        needed.append(
            "the temperature of its case at full load, or that of its place in temperatures.csv"
        )
    if rated is None:
        needed.append("its rated_temperature")
    if capacitor.base_life is None:
        needed.append("its base_life from the maker's data sheet")
    if found is None or rated is None or capacitor.base_life is None:
        return not_measured(
            SECTION,
            f"How long does {label_of(capacitor)} last?",
            "; ".join(needed) + ".",
            FUNCTIONS[capacitor.type],
        )
    rise = capacitor.rated_ripple_rise
    if rise is None:
        rise = rows(SECTION, "rated_ripple_rises", type=capacitor.type)[0]["rise"]
    ripple = None
    if capacitor.ripple_current is not None and capacitor.rated_ripple_current is not None:
        ripple = ripple_temperature_rise(
            capacitor.ripple_current, capacitor.rated_ripple_current, rise
        )
    return Case(
        capacitor, found[0], found[1], rated, capacitor.base_life / constants.hour, ripple, rise
    )


def _laws(cases: list[Case]) -> dict[str, Any]:
    """The uncertain laws: one draw holds for every capacitor of its type."""
    types = {case.capacitor.type for case in cases}
    width = HALVING["half_width"]
    laws = {
        "10-kelvin rule": stats.uniform(HALVING["interval"] - width, 2 * width),
        "polymer rule": stats.uniform(0, 1),
    }
    return {
        name: laws[name]
        for name, kind in (("10-kelvin rule", "wet electrolytic"), ("polymer rule", "polymer"))
        if kind in types
    }


def lives_of(cases: list[Case]) -> pd.DataFrame:
    """Lives of all capacitors together, so that a law off for one is off for its like."""
    if not cases:
        return pd.DataFrame(columns=COLUMNS)
    own = [case.distributions() for case in cases]
    laws = _laws(cases)
    inputs = dict(laws)
    for n, one in enumerate(own):
        inputs |= {f"{n} {name}": value for name, value in one.items()}

    def together(**drawn: Any) -> list[Any]:
        return [
            case.life({name: drawn[f"{n} {name}"] for name in one}, drawn)
            for n, (case, one) in enumerate(zip(cases, own, strict=True))
        ]

    result = propagate(together, inputs)
    low, high = (np.atleast_1d(end) for end in result.interval(0.95))
    first = np.bincount(result.samples.argmin(axis=0), minlength=len(cases))
    table = []
    for n, case in enumerate(cases):
        causes = {
            name.removeprefix(f"{n} "): float(np.atleast_1d(spread)[n])
            for name, spread in result.contribution.items()
        }
        table.append(
            {
                "part": case.capacitor.part,
                "place": case.capacitor.place,
                "type": case.capacitor.type,
                "temperature": case.temperature,
                "temperature_uncertainty": case.capacitor.temperature_uncertainty,
                "rated_temperature": case.rated_temperature,
                "base_life": case.base_life,
                "ripple_rise": np.nan if case.ripple_rise is None else case.ripple_rise,
                "life": float(np.median(result.samples[n])),
                "low": low[n],
                "high": high[n],
                "standard_uncertainty": float(result.samples[n].std(ddof=1)),
                "first": first[n] / result.samples.shape[1],
                "spread_from": max(causes, key=lambda name: causes[name]),
            }
        )
    return pd.DataFrame(table, columns=COLUMNS)
