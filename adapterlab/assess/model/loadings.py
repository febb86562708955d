"""Load points sorted by mains and by what was loaded, with averages and loss curves.

`sweep_of` does so for a whole adapter; `main_loading` picks the loading that says most.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.meters import Apart, Measured
from adapterlab.assess.model.points import Key, Point, loading_name, mains_name, points_read
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.dossier.schema import Adapter
from adapterlab.efficiency import LossCurve, average_active_efficiency, fit_loss_curve
from adapterlab.published import rows

ACTIVE = rows("efficiency", "load_points", name="active")[0]
TEN_PERCENT = rows("efficiency", "load_points", name="ten per cent")[0]


def reference_currents(adapter: Adapter, key: Key) -> dict[str, float]:
    """Nameplate current of each loaded port; empty where the nameplate does not tell. [A]."""
    if len(key) > 1:
        for combination in adapter.combinations:
            named = {(out.port, out.mode): out.current for out in combination.outputs}
            if set(named) == {(port, mode) for port, mode, _ in key}:
                return {port: named[port, mode] for port, mode, _ in key}
        return {}
    mode = adapter.mode(key[0][0], key[0][1])
    return {} if mode is None else {key[0][0]: mode.current}


def load_fractions(point: Point, reference: Mapping[str, float]) -> NDArray[np.float64]:
    """Current of each loaded port over its reference current. [1], shape (ports,)."""
    return np.array([out.current.value / reference[out.port] for out in point.outputs])


def nearest(
    points: Sequence[Point], reference: Mapping[str, float], target: float, tolerance: float
) -> Point | None:
    """The point whose ports all are nearest to a share of their reference current."""
    apart = [
        float(np.abs(load_fractions(point, reference) - target).max()) if reference else np.inf
        for point in points
    ]
    if not apart or min(apart) > tolerance + 1e-9:
        return None
    return points[int(np.argmin(apart))]


def active_points(
    points: Sequence[Point], reference: Mapping[str, float]
) -> tuple[list[Point], list[float]]:
    """Points for the average active efficiency, and the load fractions that are missing."""
    found, missing = [], []
    for target in ACTIVE["fractions"]:
        point = nearest(points, reference, target, ACTIVE["tolerance"])
        if point is None:
            missing.append(target)
        else:
            found.append(point)
    return found, missing


def average_of(
    points: Sequence[Point],
    reference: Mapping[str, float],
    cables: Mapping[str, tuple[str, float]] | None = None,
) -> Measured:
    """Average active efficiency of the four points that `active_points` found."""
    parts = [point.efficiency(cables) for point in points]
    fractions = [float(load_fractions(point, reference).mean()) for point in points]
    value = average_active_efficiency(fractions, [part.value for part in parts])
    return Measured.mean(value, parts)


@dataclass(frozen=True)
class Loading:
    """All points with the same ports and modes loaded on one mains.

    Attributes
    ----------
    mains, name : str
        As said aloud.
    key : tuple
        What was loaded.
    points : tuple of Point
        By falling output power.
    reference : dict of str to float
        Nameplate current of each port, empty if unknown. [A]
    average, ten_percent : Measured or None
        Average active efficiency and efficiency at 10 % load; None where points are missing. [1]
    curve : LossCurve or None
        Fitted losses; None with fewer than four points.
    """

    mains: str
    name: str
    key: Key
    points: tuple[Point, ...]
    reference: dict[str, float]
    average: Measured | None
    ten_percent: Measured | None
    curve: LossCurve | None

    @property
    def assumed(self) -> str:
        """What was assumed for meters that are not listed, as said aloud; empty if all are."""
        return self.points[0].loss().assumed

    def fraction(self, point: Point) -> float:
        """Load of a point over the nameplate's, NaN if unknown. [1]."""
        return float(load_fractions(point, self.reference).mean()) if self.reference else np.nan

    def between(self, least: float) -> list[Point]:
        """Points from a share of the nameplate's load up to all of it, by rising efficiency."""
        reach = ACTIVE["tolerance"]
        inside = [p for p in self.points if least - reach <= self.fraction(p) <= 1 + reach]
        return sorted(inside, key=lambda point: point.efficiency().value)

    def spread(self, least: float) -> Apart | None:
        """Highest less lowest efficiency over those points; None with fewer than two. [1]."""
        points = self.between(least)
        return points[-1].efficiency() - points[0].efficiency() if len(points) > 1 else None


def fitted(points: Sequence[Point]) -> LossCurve | None:
    """Loss curve through points, errors of the meters included; None if there are too few."""
    power = np.array([point.output_power for point in points])
    if len(power) < 4 or len(np.unique(power.round(6))) < 3:
        return None
    slopes: Any = np.zeros_like(power)
    for _ in range(2):
        parts = [point.loss(slope) for point, slope in zip(points, slopes, strict=True)]
        rounding = np.array([part.independent for part in parts])
        curve = fit_loss_curve(
            power,
            [part.value for part in parts],
            loss_uncertainty=rounding if (rounding > 0).all() else None,
            shared_uncertainty=np.array([part.directions for part in parts]).T,
        )
        slopes = curve.proportional + 2 * curve.quadratic * power
    return curve


def scatter_of(groups: Iterable[Sequence[Point]]) -> float:
    """Scatter about all loss curves over what rounding alone explains, at least 1. [1].

    Two or three readings beyond the three coefficients cannot tell the scatter of one curve; all
    curves together can, because the same meters took them.
    """
    squares, freedom = 0.0, 0
    for points in groups:
        curve = fitted(points)
        if curve is None:
            continue
        for point in points:
            part = point.loss()
            if part.independent > 0:
                squares += ((part.value - curve.loss(point.output_power)) / part.independent) ** 2
        freedom += len(points) - 3
    return max(1.0, float(np.sqrt(squares / freedom))) if freedom else 1.0


def _loading(adapter: Adapter, mains: str, key: Key, members: Sequence[Point]) -> Loading:
    reference = reference_currents(adapter, key)
    active, missing = active_points(members, reference)
    low = nearest(members, reference, TEN_PERCENT["fractions"][0], TEN_PERCENT["tolerance"])
    return Loading(
        mains,
        loading_name(adapter, key),
        key,
        tuple(sorted(members, key=lambda point: -point.output_power)),
        reference,
        None if missing else average_of(active, reference),
        None if low is None else low.efficiency(),
        fitted(members),
    )


@dataclass(frozen=True)
class Sweep:
    """The load sweep of an adapter.

    Attributes
    ----------
    points : tuple of Point
        Those at which no more comes out than goes in, in the order of the file, with the scatter
        that was seen.
    loadings : tuple of Loading
        The same by mains and by what was loaded.
    left_out : tuple of str
        Names of the other points.
    scatter : float
        How many times more the readings scatter than their last digit makes them. [1]
    """

    points: tuple[Point, ...]
    loadings: tuple[Loading, ...]
    left_out: tuple[str, ...]
    scatter: float


@once
def sweep_of(specimen: Specimen) -> Sweep:
    """The load sweep of an adapter, its points sorted.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    Sweep
        Points and loadings.
    """
    read = points_read(specimen)
    good = [point for point in read if point.output_power < point.power.value]
    groups: dict[tuple[str, Key], list[Point]] = {}
    for point in good:
        mains = mains_name(point.mains_voltage, point.mains_frequency)
        groups.setdefault((mains, point.key), []).append(point)
    scatter = scatter_of(groups.values())
    seen = {id(point): point.scattered(scatter) for point in good}
    loadings = tuple(
        _loading(specimen.adapter, mains, key, [seen[id(point)] for point in members])
        for (mains, key), members in groups.items()
    )
    left_out = tuple(point.name for point in read if id(point) not in seen)
    return Sweep(tuple(seen.values()), loadings, left_out, scatter)


def main_loading(loadings: Sequence[Loading]) -> Loading | None:
    """The loading with a loss curve that reaches the most power; the higher mains if equal."""
    curved = [loading for loading in loadings if loading.curve is not None]
    return max(
        curved,
        key=lambda item: (
            round(item.points[0].output_power),
            round(item.points[0].mains_voltage, -1),
            len(item.points),
        ),
        default=None,
    )
