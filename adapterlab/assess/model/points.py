"""Load points of a dossier with their uncertainties, sorted by mains and by what was loaded."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.meters import Measured, Reading, readings
from adapterlab.assess.model.specimen import Specimen
from adapterlab.dossier.schema import Adapter
from adapterlab.efficiency import (
    LossCurve,
    average_active_efficiency,
    cable_loss,
    efficiency,
    fit_loss_curve,
)
from adapterlab.published import rows as published_rows

ACTIVE = published_rows("efficiency", "load_points", name="active")[0]
TEN_PERCENT = published_rows("efficiency", "load_points", name="ten per cent")[0]
_MAINS = (100, 110, 115, 120, 127, 220, 230, 240, 264)

# What was loaded: (port, mode, set voltage of an adjustable mode or 0), in the nameplate's order.
Key = tuple[tuple[str, str, float], ...]


@dataclass(frozen=True)
class Output:
    """One loaded port at one point.

    Attributes
    ----------
    port, mode : str
        As on the nameplate.
    set_voltage : float
        Voltage asked for in an adjustable mode, else 0. [V]
    voltage, current : Reading
        [V], [A]
    """

    port: str
    mode: str
    set_voltage: float
    voltage: Reading
    current: Reading


@dataclass(frozen=True)
class Point:
    """One operating point.

    Attributes
    ----------
    name, line : str, int
        As in ``load_sweep.csv``; the line of its first row.
    mains_voltage, mains_frequency : float
        [V], [Hz]
    power : Reading
        Input power. [W]
    outputs : tuple of Output
        Loaded ports, in the nameplate's order.
    """

    name: str
    line: int
    mains_voltage: float
    mains_frequency: float
    power: Reading
    outputs: tuple[Output, ...]

    @property
    def key(self) -> Key:
        """What was loaded."""
        return tuple((out.port, out.mode, out.set_voltage) for out in self.outputs)

    @property
    def output_power(self) -> float:
        """All ports together, at their connectors. [W]."""
        return sum(out.voltage.value * out.current.value for out in self.outputs)

    def on_supply(self, voltage: float, frequency: float, tolerance: float) -> bool:
        """Whether the mains was within `tolerance` of a nominal one."""
        return (
            abs(self.mains_voltage / voltage - 1) <= tolerance
            and abs(self.mains_frequency / frequency - 1) <= tolerance
        )

    def efficiency(self, cables: Mapping[str, tuple[str, float]] | None = None) -> Measured:
        """Efficiency, after the loss of a rule's cables if given.

        Parameters
        ----------
        cables : mapping of str to tuple, optional
            Connector and rated current [A] of each port, as `cable_loss` takes them.

        Returns
        -------
        Measured
            Efficiency. [1]

        Raises
        ------
        ValueError
            If more comes out than goes in, or a port's current is beyond the rule's cables.
        """
        drawn = self.power.value
        delivered, variance = 0.0, 0.0
        by_voltage, by_current = np.zeros(2), np.zeros(2)
        for out in self.outputs:
            volts, amperes = out.voltage.value, out.current.value
            lost = 0.0
            if cables is not None:
                connector, rated = cables[out.port]
                lost = cable_loss(amperes, rated, connector)
            slope = volts - 2 * lost / amperes
            delivered += volts * amperes - lost
            by_voltage += amperes * out.voltage.constant
            by_current += slope * out.current.constant
            variance += (amperes * out.voltage.rounding) ** 2 + (slope * out.current.rounding) ** 2
        value = efficiency(drawn, delivered)
        shared = np.stack([-value * self.power.constant, by_voltage, by_current], axis=1)
        rounding = np.sqrt(variance + (value * self.power.rounding) ** 2)
        return Measured(value, shared / drawn, float(rounding / drawn))

    def loss(self, slope: float = 0.0) -> Measured:
        """Input less output power.

        Parameters
        ----------
        slope : float, optional
            Rise of the loss with output power: an error of the output power moves a point along
            the loss curve as well as across it. [1]

        Returns
        -------
        Measured
            Loss. [W]
        """
        weight = 1 + slope
        by_voltage, by_current = np.zeros(2), np.zeros(2)
        variance = self.power.rounding**2
        for out in self.outputs:
            volts, amperes = weight * out.voltage.value, weight * out.current.value
            by_voltage += amperes * out.voltage.constant
            by_current += volts * out.current.constant
            variance += (amperes * out.voltage.rounding) ** 2 + (volts * out.current.rounding) ** 2
        shared = np.stack([self.power.constant, -by_voltage, -by_current], axis=1)
        return Measured(self.power.value - self.output_power, shared, float(np.sqrt(variance)))


def _outputs(specimen: Specimen, rows: Sequence[Any]) -> list[list[Output]]:
    """Loaded ports of each point, in the nameplate's order."""
    volts = readings(specimen, "output voltage", [row.output_voltage for row in rows])
    amperes = readings(specimen, "output current", [row.output_current for row in rows])
    found: dict[str, list[Output]] = {}
    for row, voltage, current in zip(rows, volts, amperes, strict=True):
        mode = specimen.adapter.mode(str(row.port), str(row.mode))
        adjustable = mode is not None and mode.kind == "adjustable"
        asked = row.set_voltage if np.isfinite(row.set_voltage) else row.output_voltage
        setting = round(float(asked), 2) if adjustable else 0.0
        found.setdefault(row.point, []).append(
            Output(str(row.port), str(row.mode), setting, voltage, current)
        )
    order = [port.name for port in specimen.adapter.ports]
    for outputs in found.values():
        outputs.sort(key=lambda o: order.index(o.port) if o.port in order else len(order))
    return list(found.values())


def points_of(specimen: Specimen) -> list[Point]:
    """Points of the load sweep at which power flows, in the order of the file."""
    first: dict[str, Any] = {}
    rows = []
    for row in specimen.load_sweep.itertuples():
        first.setdefault(row.point, row)
        if row.output_current > 0 and row.output_voltage > 0 and first[row.point].input_power > 0:
            rows.append(row)
    starts = [first[point] for point in dict.fromkeys(row.point for row in rows)]
    power = readings(specimen, "input power", [row.input_power for row in starts])
    return [
        Point(
            str(row.point),
            int(row.line),
            float(row.mains_voltage),
            float(row.mains_frequency),
            drawn,
            tuple(outputs),
        )
        for row, drawn, outputs in zip(starts, power, _outputs(specimen, rows), strict=True)
    ]


def loading_name(adapter: Adapter, key: Iterable[tuple[str, str, float]]) -> str:
    """What was loaded, as said aloud; the port is left out where there is only one."""
    several = len(adapter.ports) != 1
    return " + ".join(
        (f"{port} " if several else "") + mode + (f" {voltage:g} V" if voltage else "")
        for port, mode, voltage in key
    )


def mains_name(voltage: float, frequency: float) -> str:
    """Usual name of a mains, such as ``230 V, 50 Hz``."""
    near = [name for name in _MAINS if abs(voltage / name - 1) < 0.015]
    return f"{near[0] if near else round(voltage)} V, {frequency:.0f} Hz"


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
    return Measured(
        average_active_efficiency(fractions, [part.value for part in parts]),
        np.mean([part.shared for part in parts], axis=0),
        float(np.sqrt(sum(part.independent**2 for part in parts)) / len(parts)),
    )


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

    def fraction(self, point: Point) -> float:
        """Load of a point over the nameplate's, NaN if unknown. [1]."""
        return float(load_fractions(point, self.reference).mean()) if self.reference else np.nan


def fitted(points: Sequence[Point], scatter: float = 1.0) -> LossCurve | None:
    """Loss curve through points, errors of the meters included; None if there are too few.

    `scatter` tells how much more the readings scatter than rounding alone would make them.
    """
    power = np.array([point.output_power for point in points])
    if len(power) < 4 or len(np.unique(power.round(6))) < 3:
        return None
    slopes: Any = np.zeros_like(power)
    for _ in range(2):
        parts = [point.loss(slope) for point, slope in zip(points, slopes, strict=True)]
        rounding = scatter * np.array([part.independent for part in parts])
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


def loadings_of(specimen: Specimen, points: Iterable[Point]) -> list[Loading]:
    """Points sorted by mains and by what was loaded, in the order of the file."""
    groups: dict[tuple[str, Key], list[Point]] = {}
    for point in points:
        mains = mains_name(point.mains_voltage, point.mains_frequency)
        groups.setdefault((mains, point.key), []).append(point)
    scatter = scatter_of(groups.values())
    loadings = []
    for (mains, key), members in groups.items():
        reference = reference_currents(specimen.adapter, key)
        active, missing = active_points(members, reference)
        low = nearest(members, reference, TEN_PERCENT["fractions"][0], TEN_PERCENT["tolerance"])
        loadings.append(
            Loading(
                mains,
                loading_name(specimen.adapter, key),
                key,
                tuple(sorted(members, key=lambda point: -point.output_power)),
                reference,
                None if missing else average_of(active, reference),
                None if low is None else low.efficiency(),
                fitted(members, scatter),
            )
        )
    return loadings


def main_loading(loadings: Sequence[Loading]) -> Loading | None:
    """The loading with a loss curve that reaches the most power; the higher mains if equal."""
    fitted = [loading for loading in loadings if loading.curve is not None]
    return max(
        fitted,
        key=lambda item: (
            round(item.points[0].output_power),
            round(item.points[0].mains_voltage, -1),
            len(item.points),
        ),
        default=None,
    )


def possible_loadings(specimen: Specimen) -> tuple[list[Loading], list[Point], list[str]]:
    """Loadings of the points at which no more comes out than goes in.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    tuple of list of Loading, list of Point, list of str
        The loadings, those points, and the names of the points left out.
    """
    every = points_of(specimen)
    good = [point for point in every if point.output_power < point.power.value]
    left_out = [point.name for point in every if point not in good]
    return loadings_of(specimen, good), good, left_out
