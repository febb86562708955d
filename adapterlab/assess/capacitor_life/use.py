"""How an adapter is used, and what that leaves of its capacitors: years, and shares that fail.

`uses_of` lists the profiles, `in_use` works one out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import constants

from adapterlab.assess.capacitor_life.cases import SECTION, Case
from adapterlab.assess.capacitor_life.lives import MODE, Population
from adapterlab.assess.model.heat import FACTOR, HeatModel, Loaded
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.prediction import Share
from adapterlab.capacitor_life import (
    LOWEST_TEMPERATURE,
    damage_share,
    equivalent_temperature,
    mission_profile_life,
    series_reliability,
    weibull_failing_share,
    year_shares,
)
from adapterlab.dossier.schema import Profile, Use
from adapterlab.judgement import ENDS
from adapterlab.published import rows

Floats = NDArray[np.float64]
HOURS_PER_YEAR = constants.year / constants.hour
MARKS = (2, 5, 10)
YEARS = np.linspace(0, 20, 81)
# A share below this is not stated: what else ages a part than heat no law tells.
LEAST_SHARE = 0.01


@dataclass(frozen=True)
class InUse:
    """What one way of using the adapter leaves of its capacitors.

    Attributes
    ----------
    profile : Profile
        Hours, loads and ambients of a year.
    own : bool
        Whether the dossier brought it.
    lives : pandas.DataFrame
        One row for each capacitor: ``part``, ``place``, median ``life`` with 95 % ``low`` and
        ``high`` by the law [years], ``first``, how likely it fails before the others [1],
        ``equivalent_temperature`` of its case [°C] and ``hot_wear``, the part of its wear that the
        hottest use causes [1].
    failing : pandas.DataFrame
        Share of adapters in which heat alone has made a capacitor fail: ``years``, ``share``, 95 %
        ``low`` and ``high`` [1].
    below_range : float
        Share of the year in which the capacitor that goes first is cooler than any law was
        stated for. [1]
    hottest_use : Use
        The use with the warmest parts.
    rests_on : tuple of Share
        Inputs that the life of the capacitor that goes first rests on.
    """

    profile: Profile
    own: bool
    lives: pd.DataFrame
    failing: pd.DataFrame
    below_range: float
    hottest_use: Use
    rests_on: tuple[Share, ...]

    def share_by(self, years: float) -> tuple[float, float, float]:
        """Share that heat alone makes fail within some years, with its 95 % interval. [1]."""
        row = self.failing.iloc[int(np.argmin(np.abs(self.failing["years"] - years)))]
        return float(row["share"]), float(row["low"]), float(row["high"])

    @property
    def told(self) -> tuple[int, ...]:
        """Years of which the share is large enough to be stated."""
        return tuple(mark for mark in MARKS if self.share_by(mark)[0] >= LEAST_SHARE)

    @property
    def weakest(self) -> pd.Series:
        """The capacitor most likely to fail first."""
        return self.lives.loc[self.lives["first"].idxmax()]


def uses_of(specimen: Specimen, heat: HeatModel) -> list[tuple[Profile, bool]]:
    """The library's profiles, fitted to the adapter's power, and the dossier's own."""
    rated = min(specimen.adapter.nameplate.rated_power, heat.largest_power)
    found: dict[str, list[Use]] = {}
    for row in rows(SECTION, "uses"):
        power = min(row["load"] * rated, row["most_power"])
        use = Use.model_construct(
            hours=float(row["hours"]), output_power=float(power), ambient=float(row["ambient"])
        )
        found.setdefault(row["profile"], []).append(use)
    ours = [(Profile.model_construct(name=name, uses=uses), False) for name, uses in found.items()]
    return ours + [(profile, True) for profile in specimen.adapter.profiles]


def _temperatures(population: Population, heat: HeatModel, uses: Sequence[Use]) -> Floats:
    """Case temperature of every capacitor in every use. [°C], shape (uses, parts, draws).

    Each sits above the adapter's case by a thermal resistance, which the measurement on it gives.
    """
    drawn, volts = population.drawn, heat.usual.mains_voltage
    found = []
    for use in uses:
        low, high = heat.losses(Loaded(use.output_power, volts))
        cool, hot = (heat.rise(loss, use.ambient, drawn[FACTOR]) for loss in (low, high))
        rise, made = (a + drawn[MODE] * (b - a) for a, b in ((cool, hot), (low, high)))
        found.append(np.maximum(use.ambient + rise + population.above * made, use.ambient))
    return np.stack(found)


def _too_hot(cases: Sequence[Case], warm: Floats) -> None:
    for case, mean in zip(cases, warm.mean(axis=-1).max(axis=0), strict=True):
        if mean > case.rated_temperature:
            raise ValueError(
                f"{case.label} would be at {mean:.0f} °C, above its rating of "
                f"{case.rated_temperature:g} °C"
            )


def in_use(population: Population, heat: HeatModel, profile: Profile, own: bool) -> InUse:
    """Lives and failing shares for one way of using the adapter.

    Parameters
    ----------
    population : Population
        The capacitors, drawn.
    heat : HeatModel
        Balance of heat.
    profile : Profile
        Hours, loads and ambients of a year.
    own : bool
        Whether the dossier brought it.

    Returns
    -------
    InUse
        What is left.

    Raises
    ------
    ValueError
        If the hours do not add up to a year, a load is beyond the load sweep, or a capacitor would
        be above its rating.
    """
    uses, cases = profile.uses, population.cases
    share = year_shares([use.hours for use in uses])
    warm = _temperatures(population, heat, uses)
    _too_hot(cases, warm)
    full = max((case.loaded or heat.usual).output_power for case in cases)
    each = np.stack(
        [
            population.lives(warm[n], min(use.output_power / full, 1.0))
            for n, use in enumerate(uses)
        ],
        axis=-1,
    )
    lives = np.asarray(mission_profile_life(each, share)) / HOURS_PER_YEAR
    first = population.first(lives)
    low, middle, high = np.quantile(lives, [ENDS[0], 0.5, ENDS[1]], axis=1)
    means = warm.mean(axis=-1)
    hottest = int(means.max(axis=1).argmax())
    wear = damage_share(each, share).mean(axis=1)
    table = [
        {
            "part": case.capacitor.part,
            "place": case.capacitor.place,
            "life": middle[n],
            "low": low[n],
            "high": high[n],
            "first": first[n],
            "equivalent_temperature": float(
                equivalent_temperature(np.maximum(means[:, n], LOWEST_TEMPERATURE), share)
            ),
            "hot_wear": wear[n, hottest],
        }
        for n, case in enumerate(cases)
    ]
    weakest = int(first.argmax())
    return InUse(
        profile,
        own,
        pd.DataFrame(table),
        _failing(population, lives),
        float(share[means[:, weakest] < LOWEST_TEMPERATURE].sum()),
        uses[hottest],
        population.rests_on(weakest, lives[weakest]),
    )


def _failing(population: Population, lives: Floats) -> pd.DataFrame:
    """Share of adapters with a capacitor that heat has made fail, against years."""
    shape, scale = population.drawn["life.shape"], population.characteristic(lives)
    working = 1 - weibull_failing_share(YEARS[:, None, None], scale, shape)
    share = np.asarray(1 - series_reliability(np.moveaxis(working, 1, -1)))
    low, high = np.quantile(share, ENDS, axis=1)
    return pd.DataFrame({"years": YEARS, "share": share.mean(axis=1), "low": low, "high": high})
