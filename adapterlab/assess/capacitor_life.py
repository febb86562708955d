"""Life of a dossier's capacitors at their measured temperatures, and which of them goes first."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import constants, stats

from adapterlab.assess.finding import (
    Finding,
    Ledger,
    Limit,
    Value,
    against_limit,
    not_measured,
)
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
from adapterlab.verdict import NO_LIMIT

SECTION = "capacitor_life"
HOURS_PER_YEAR = constants.year / constants.hour
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
_HALVING = rows(SECTION, "halving_intervals")[0]
_RATIOS = [row["ratio"] for row in rows(SECTION, "core_to_case")]


@dataclass(frozen=True)
class CapacitorLifeAssessment:
    """What temperature and ripple leave of the capacitors' lives.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    lives : pandas.DataFrame
        One row for each capacitor with a life, shortest first: ``part``, ``place``, ``type``,
        ``temperature`` of the case, ``temperature_uncertainty`` and ``rated_temperature`` [°C],
        ``base_life`` [h], ``ripple_rise`` [K] (NaN if unknown), median ``life``, its 95 %
        interval ``low`` and ``high`` and ``standard_uncertainty`` [h] in continuous use,
        ``first``, the probability that it goes before the others [1], and ``spread_from``, the
        input that spreads the life most.
    """

    findings: Ledger
    lives: pd.DataFrame

    def table(self) -> pd.DataFrame:
        """The lives in years of continuous use, rounded for showing."""
        lives = self.lives
        years = {name: _rounded(lives[name] / HOURS_PER_YEAR) for name in ("life", "low", "high")}
        return pd.DataFrame(
            {
                "part": lives["part"],
                "place": lives["place"],
                "type": lives["type"],
                "case (°C)": lives["temperature"].round(0),
                "years": years["life"],
                "95 % from": years["low"],
                "to": years["high"],
                "goes first": lives["first"].round(2),
                "spread mostly from": lives["spread_from"],
            }
        )


@dataclass(frozen=True)
class _Case:
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
        return _label(self.capacitor)

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


def _label(capacitor: RatedCapacitor) -> str:
    return f"{capacitor.part} ({capacitor.place})" if capacitor.place else capacitor.part


def _rounded(values: Any) -> Any:
    """Two significant digits."""
    array = np.asarray(values, dtype=float)
    digits = 1 - np.floor(np.log10(np.where(array > 0, array, 1.0))).astype(int)
    return np.array([round(value, place) for value, place in zip(array, digits, strict=True)])


def _said(value: float) -> str:
    """Two significant digits, with commas between thousands."""
    rounded = float(_rounded([value])[0])
    return f"{rounded:,.0f}" if rounded >= 10 else f"{rounded:g}"


def _temperature(dossier: Dossier, capacitor: RatedCapacitor) -> tuple[float, str] | None:
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


def _rated_temperature(dossier: Dossier, capacitor: RatedCapacitor) -> float | None:
    part = dossier.adapter.part(capacitor.part)
    return capacitor.rated_temperature or (part.rated_temperature if part else None)


def _case(dossier: Dossier, capacitor: RatedCapacitor) -> _Case | Finding:
    """What the life is worked out from, or a finding that says what is missing."""
    found = _temperature(dossier, capacitor)
    rated = _rated_temperature(dossier, capacitor)
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
            f"How long does {_label(capacitor)} last?",
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
    return _Case(
        capacitor, found[0], found[1], rated, capacitor.base_life / constants.hour, ripple, rise
    )


def _laws(cases: list[_Case]) -> dict[str, Any]:
    """The uncertain laws: one draw holds for every capacitor of its type."""
    types = {case.capacitor.type for case in cases}
    width = _HALVING["half_width"]
    laws = {
        "10-kelvin rule": stats.uniform(_HALVING["interval"] - width, 2 * width),
        "polymer rule": stats.uniform(0, 1),
    }
    return {
        name: laws[name]
        for name, kind in (("10-kelvin rule", "wet electrolytic"), ("polymer rule", "polymer"))
        if kind in types
    }


def _lives(cases: list[_Case]) -> pd.DataFrame:
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


def _remarks(case: _Case) -> str:
    """What the reader of a life must know besides."""
    said = [
        "The thermocouple sits on the case; the law counts from the air around it, so the "
        "case's own rise is taken off."
    ]
    if case.capacitor.ambient is not None:
        said.append(f"In a room at {case.capacitor.ambient:g} °C; a warmer one shortens the life.")
    if case.ripple_rise is None:
        said.append(
            f"Its ripple current or rating is not noted: any rise from 0 to "
            f"{case.rated_ripple_rise:g} K is allowed for."
        )
    elif case.ripple_rise > case.rated_ripple_rise:
        said.append("It carries more ripple current than its rating.")
    if case.capacitor.type == "polymer":
        said.append(
            "Makers disagree on polymer: from a factor of 4 to a factor of 10 for 20 K; "
            "the interval spans both."
        )
    elif case.temperature < _HALVING["lowest_temperature"]:
        said.append(
            f"Below {_HALVING['lowest_temperature']:g} °C makers' tables lie above the "
            f"rule, so the figure is careful."
        )
    above = stats.norm.sf(
        case.rated_temperature, case.temperature, max(case.capacitor.temperature_uncertainty, 1e-9)
    )
    if above > 0.001:
        said.append(
            f"With probability {above:.3f} the case is above its rating, where no life is "
            f"stated; that part is left out."
        )
    return " ".join(said)


def _life_finding(case: _Case, row: pd.Series) -> Finding:
    years, low, high = (row[name] / HOURS_PER_YEAR for name in ("life", "low", "high"))
    reading = Value(case.temperature, case.capacitor.temperature_uncertainty, "°C")
    sentence = (
        f"{case.label}, {case.capacitor.type}, lasts about {_said(years)} years "
        f"({_said(low)} to {_said(high)}) of continuous use with its case at {reading}, or "
        f"{_said(row['life'])} hours"
    )
    most = rows(SECTION, "longest_lives", type=case.capacitor.type)[0]["years"]
    cap = f"makers state no more than about {most:g} years, whatever the law gives."
    sentence += f"; {cap}" if years > most else "."
    note = _remarks(case)
    if high > most >= years:
        note += f" The upper end is the law's: {cap}"
    return Finding(
        section=SECTION,
        question=f"How long does {case.label} last?",
        word=NO_LIMIT,
        sentence=sentence,
        function=FUNCTIONS[case.capacitor.type],
        origin=case.origin,
        prediction=_years(row),
        figure="capacitor_life_lives",
        note=note,
    )


def _outside(case: _Case, reason: str) -> Finding:
    return Finding(
        section=SECTION,
        question=f"How long does {case.label} last?",
        word=NO_LIMIT,
        sentence=f"{case.label} is outside the maker's range, {reason}: no life is stated there.",
        function=FUNCTIONS[case.capacitor.type],
        origin=case.origin,
    )


def _ceramic(capacitor: RatedCapacitor) -> Finding:
    return Finding(
        section=SECTION,
        question=f"How long does {_label(capacitor)} last?",
        word=NO_LIMIT,
        sentence=f"{_label(capacitor)} is ceramic: nothing in it dries out, so this law does not "
        f"apply and no life is stated.",
        function="capacitor_life.electrolytic_life",
        origin=f"adapter.toml, [[capacitors]] {capacitor.part}",
    )


def _rating(dossier: Dossier, capacitor: RatedCapacitor) -> list[Finding]:
    """Measured temperature against the temperature marked on the part."""
    found, rated = _temperature(dossier, capacitor), _rated_temperature(dossier, capacitor)
    if found is None or rated is None:
        return []
    return [
        against_limit(
            Value(found[0], capacitor.temperature_uncertainty, "°C"),
            Limit(
                rated,
                "°C",
                "upper",
                f"the rating of {capacitor.part}",
                "the maker's rating on the part, as noted in adapter.toml",
                "seen",
            ),
            f"Case temperature of {_label(capacitor)}",
            section=SECTION,
            question="Is every capacitor within its rated temperature?",
            origin=found[1],
            figure="capacitor_life_law",
            function="uncertainty.conformity_probability",
        )
    ]


def _first(lives: pd.DataFrame) -> Finding:
    """Which capacitor goes first; `lives` has the shortest life on top and two rows or more."""
    order = lives.sort_values("first", ascending=False, kind="stable")
    row, rival = order.iloc[0], order.iloc[1]
    years, low, high = (_said(row[name] / HOURS_PER_YEAR) for name in ("life", "low", "high"))
    span = f"after about {years} years ({low} to {high}) of continuous use"
    odds, rest = f"probability {row['first']:.2f}", f"{rival['part']} {rival['first']:.2f}"
    if row["first"] >= 0.975:
        sentence = f"{row['part']} goes first with {odds}, {span}."
    elif row["first"] >= 0.5:
        sentence = f"{row['part']} most likely goes first ({odds}; {rest}), {span}."
    else:
        sentence = f"Which goes first is not settled: {row['part']} has {odds}, {span}; {rest}."
    return Finding(
        section=SECTION,
        question="Which capacitor goes first?",
        word=NO_LIMIT,
        sentence=sentence,
        function="uncertainty.propagate",
        figure="capacitor_life_lives",
        origin="adapter.toml, [[capacitors]]",
        prediction=_years(row),
        note="The law's own uncertainty is common to capacitors of one type and cancels among "
        "them; that of the temperatures does not.",
    )


def _years(row: pd.Series) -> Value:
    """A life of the table in years, its interval skewed as it is."""
    life, spread, low, high = (
        float(row[name]) / HOURS_PER_YEAR
        for name in ("life", "standard_uncertainty", "low", "high")
    )
    return Value(life, spread, "years", (low, high))


def assess(dossier: Dossier) -> CapacitorLifeAssessment:
    """Lives of one adapter's capacitors, judged.

    Parameters
    ----------
    dossier : Dossier
        The record, with its ``[[capacitors]]``.

    Returns
    -------
    CapacitorLifeAssessment
        Findings and what the figures draw.
    """
    listed = dossier.adapter.capacitors
    if not listed:
        needed = (
            "[[capacitors]] with the type, the case temperature at full load, the rated "
            "temperature and the base life of each."
        )
        missing = not_measured(
            SECTION, "Which capacitor goes first?", needed, "capacitor_life.electrolytic_life"
        )
        return CapacitorLifeAssessment(Ledger.of([missing]), _lives([]))
    findings = [found for capacitor in listed for found in _rating(dossier, capacitor)]
    cases = []
    others = []
    for capacitor in listed:
        if capacitor.type == "ceramic":
            others.append(_ceramic(capacitor))
            continue
        case = _case(dossier, capacitor)
        if isinstance(case, Finding):
            others.append(case)
            continue
        try:
            _lives([case])
        except ValueError as error:
            others.append(_outside(case, str(error)))
        else:
            cases.append(case)
    lives = _lives(cases)
    told = [_life_finding(case, lives.iloc[n]) for n, case in enumerate(cases)]
    lives = lives.sort_values("life", kind="stable").reset_index(drop=True)
    if len(lives) > 1:
        told.insert(0, _first(lives))
    return CapacitorLifeAssessment(Ledger.of([*findings, *told, *others]), lives)
