"""How an adapter is used, and what that leaves of its capacitors: years, and shares that fail.

`uses_of` lists the profiles, `in_use` works one out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import constants, special

from adapterlab.assess.capacitor_life.cases import SECTION, Case
from adapterlab.assess.capacitor_life.draws import Draws
from adapterlab.assess.model.heat import HeatModel
from adapterlab.assess.model.specimen import Specimen
from adapterlab.capacitor_life import (
    LOWEST_TEMPERATURE,
    damage_share,
    equivalent_temperature,
    mission_profile_life,
    series_reliability,
    stated_life,
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
# The curve of failing shares is smooth: every fourth draw is enough for it.
_THINNED = 4


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
        Share of adapters with a failed capacitor: ``years``, ``share``, 95 % ``low`` and ``high``,
        and the share ``by_heat`` alone, without the longest life that makers state [1].
    below_range : float
        Share of the year in which the capacitor that goes first is cooler than any law was
        stated for. [1]
    hottest_use : Use
        The use with the warmest parts.
    """

    profile: Profile
    own: bool
    lives: pd.DataFrame
    failing: pd.DataFrame
    below_range: float
    hottest_use: Use

    def share_by(self, years: float) -> tuple[float, float, float]:
        """Share of adapters failing within some years, with its 95 % interval. [1]."""
        row = self._row(years)
        return float(row["share"]), float(row["low"]), float(row["high"])

    def by_heat(self, years: float) -> float:
        """The same by heat alone, without the longest life that makers state. [1]."""
        return float(self._row(years)["by_heat"])

    def _row(self, years: float) -> pd.Series:
        return self.failing.iloc[int(np.argmin(np.abs(self.failing["years"] - years)))]

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


def _factor(heat: HeatModel, drawn: Draws) -> Floats:
    """Values of the balance's factor. [1], shape (draws,)."""
    normal = heat.factor + heat.factor_uncertainty * special.ndtri(drawn.heat)
    return np.asarray(np.maximum(normal, 0.1 * heat.factor))


def _rises(heat: HeatModel, drawn: Draws, use: Use) -> tuple[Floats, Floats]:
    """Rise of the case and loss in a use. [K], [W], each shape (draws,)."""
    factor = _factor(heat, drawn)
    low, high = heat.losses(use.output_power)
    warm = [heat.rise(loss, use.ambient) for loss in (low, high)]
    scale = (factor / heat.factor) ** -heat.slope
    loss = np.asarray(low + drawn.mode * (high - low))
    return (warm[0] + drawn.mode * (warm[1] - warm[0])) * scale, loss


def _temperatures(heat: HeatModel, drawn: Draws, uses: Sequence[Use]) -> Floats:
    """Case temperature of every capacitor in every use. [°C], shape (uses, parts, draws).

    Each sits above the adapter's case by a thermal resistance, which the measurement on it gives.
    """
    factor = _factor(heat, drawn)
    above = []
    for n, case in enumerate(drawn.cases):
        room = 25.0 if case.ambient is None else case.ambient
        loss = heat.main_loss(min(case.output_power or heat.largest_power, heat.largest_power))
        shell = heat.rise(loss, room, factor)
        above.append((drawn.temperature[n] - room - shell) / loss)
    found = []
    for use in uses:
        rise, made = _rises(heat, drawn, use)
        found.append(use.ambient + rise + np.stack(above) * made)
    return np.maximum(np.stack(found), np.array([use.ambient for use in uses])[:, None, None])


def _too_hot(cases: Sequence[Case], warm: Floats) -> None:
    for case, mean in zip(cases, warm.mean(axis=-1).max(axis=0), strict=True):
        if mean > case.rated_temperature:
            raise ValueError(
                f"{case.label} would be at {mean:.0f} °C, above its rating of "
                f"{case.rated_temperature:g} °C"
            )


def in_use(drawn: Draws, heat: HeatModel, profile: Profile, own: bool) -> InUse:
    """Lives and failing shares for one way of using the adapter.

    Parameters
    ----------
    drawn : Draws
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
    uses = profile.uses
    share = year_shares([use.hours for use in uses])
    warm = _temperatures(heat, drawn, uses)
    _too_hot(drawn.cases, warm)
    full = [case.output_power or heat.largest_power for case in drawn.cases]
    loads = [min(use.output_power / max(full), 1.0) for use in uses]
    each = np.stack(
        [drawn.lives(warm[n], load, floor=True) for n, load in enumerate(loads)], axis=-1
    )
    lives = np.asarray(mission_profile_life(each, share)) / HOURS_PER_YEAR
    first = drawn.first(lives)
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
        for n, case in enumerate(drawn.cases)
    ]
    below = means[:, int(first.argmax())] < LOWEST_TEMPERATURE
    return InUse(
        profile,
        own,
        pd.DataFrame(table),
        _failing(drawn, lives),
        float(share[below].sum()),
        uses[hottest],
    )


def _failing(drawn: Draws, lives: Floats) -> pd.DataFrame:
    """Share of adapters with a failed capacitor against years.

    The law's life is cut off at what makers state, for the rubber seal ages whatever the heat.
    """
    some: Any = (..., slice(None, None, _THINNED))
    shape = drawn.shape[some]

    def failing(years: Floats) -> Floats:
        scale = drawn.characteristic(years)[some]
        working = 1 - weibull_failing_share(YEARS[:, None, None], scale, shape)
        return np.asarray(1 - series_reliability(np.moveaxis(working, 1, -1)))

    share = failing(stated_life(lives, drawn.longest_life))
    low, high = np.quantile(share, ENDS, axis=1)
    return pd.DataFrame(
        {
            "years": YEARS,
            "share": share.mean(axis=1),
            "low": low,
            "high": high,
            "by_heat": failing(lives).mean(axis=1),
        }
    )
