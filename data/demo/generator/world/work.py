"""Adapters at work: converters, heat and mains side brought together, loss by loss.

All operating points of all adapters of a batch are worked out at once. Three passes let the
temperatures settle; the mains side in between gives the bulk voltage and its swing.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import Akima1DInterpolator

from generator.world import coil as coils
from generator.world.adapter import Adapter, Converter
from generator.world.assemble import State, parts_of
from generator.world.control import Law, Operation, operate
from generator.world.heat import inside
from generator.world.mains import Mains
from generator.world.points import Point, port_voltage, shares
from generator.world.rectifier import steady_state
from generator.world.stage import Cycle, Parts

Floats = NDArray[np.float64]
GRID = (0.008, 0.03, 0.1, 0.3, 0.9, 2.0, 4.0, 7.0, 11.0, 16.0, 23.0, 32.0, 44.0, 60.0, 82.0, 110.0)
QUANTILES = (1 / 6, 1 / 2, 5 / 6)
FRONT_LOSSES = ("limiter", "bridge", "choke", "wiring", "bulk_resistance")
OF_SWITCH = ("switch", "switch edges", "current sense")
OF_TRANSFORMER = ("transformer copper", "transformer core")


@dataclass
class Job:
    """One adapter on its bench, and what is worked out about it.

    Attributes
    ----------
    adapter : Adapter
    supplies : dict
        Mains by name.
    ambient : float
        [C]
    points : list of Point
    curves : dict
        For each supply, functions of the power taken from the bulk.
    results : list of dict
        One for each point.
    """

    adapter: Adapter
    supplies: dict[str, Mains]
    ambient: float
    points: list[Point]
    curves: dict[str, "Curves"] = field(default_factory=dict)
    results: list[dict[str, Any]] = field(default_factory=list)

    def figure(self, name: str, place: int) -> float:
        """Figure of the rectifier at a point. [SI unit]."""
        result = self.results[place]
        curves = self.curves[self.points[place].supply]
        return curves.at(name, result["bulk power"], result["air"])


class Curves:
    """Figures of the rectifier between the loads and the air temperatures that were stepped.

    Parameters
    ----------
    power : numpy.ndarray
        Loads. [W], shape (n,)
    airs : numpy.ndarray
        Air around the limiter, in a cool and in a warm adapter. [C], shape (2, n)
    figures : dict
        Each shape (2, n).
    """

    def __init__(self, power: Floats, airs: Floats, figures: dict[str, Floats]) -> None:
        self._place = np.log(power)
        self._airs = airs
        self._curves = {
            name: Akima1DInterpolator(self._place, values.T) for name, values in figures.items()
        }

    def at(self, name: str, power: float, air: float) -> float:
        """Figure `name` at a load; beyond the loads stepped it stays as it is. [SI unit]."""
        place = np.clip(np.log(power), self._place[0], self._place[-1])
        cool, warm = self._curves[name](place)
        ends = [np.interp(place, self._place, row) for row in self._airs]
        share = np.clip((air - ends[0]) / (ends[1] - ends[0]), -0.5, 1.5)
        return float(cool + share * (warm - cool))


def loads_of(adapter: Adapter, supply: str, used: Floats) -> Floats:
    """Loads for which the rectifier is stepped on a supply: the loads used, and between them. [W].

    On a distorted mains the current changes its shape at some loads within a few per cent.
    """
    most = 1.35 * adapter.rated_power
    if supply == "264 V":  # used without load only
        return np.array(GRID[:5])
    if supply == "100 V":  # used at full load only
        return np.array([0.6, 0.8, 1.0]) * most
    loads = sorted({float(f"{load:.4g}") for load in used})
    loads += [load for load in GRID if all(abs(np.log(load / item)) > 0.12 for item in loads)]
    return np.array([*sorted(load for load in loads if load < 0.95 * most), most])


def work(jobs: Sequence[Job]) -> None:
    """Fill `curves` and `results` of every job."""
    table = [
        (job, place, share)
        for job in jobs
        for place, point in enumerate(job.points)
        for share in shares(job.adapter, point)
    ]
    converters = [job.adapter.converter(share.converter) for job, _, share in table]
    volts = np.array([share.volts for _, _, share in table])
    amperes = np.array([share.amperes for _, _, share in table])
    crest = np.array([job.supplies[job.points[place].supply].crest for job, place, _ in table])
    none = np.zeros(len(table))
    state = State(none + 60.0, none + 60.0, none + 60.0, none + 1.3, none + 1.3)
    bulk = [np.maximum(0.97 * crest - 2, 40.0)]
    for attempt in range(4):
        operation = _operate(converters, state, bulk, volts, amperes)
        if attempt == 3:
            break
        _factors(converters, operation, state, bulk, volts, amperes)
        _by_point(jobs, table, operation, amperes)
        if attempt == 0:
            _mains_side(jobs)
            _by_point(jobs, table, operation, amperes)
        bulk = _bulk_voltages(jobs, table)
        _temperatures(jobs, table, converters, operation, state)
    _by_point(jobs, table, operation, amperes, state, keep=True)


def _operate(
    converters: list[Converter], state: State, bulk: list[Floats], volts: Floats, amperes: Floats
) -> list[Operation]:
    """Working points at each of the bulk voltages given."""
    parts, law = parts_of(converters, state, volts, amperes)
    count = len(bulk)
    many = Parts(**{f.name: np.tile(getattr(parts, f.name), count) for f in fields(Parts)})
    laws = Law(**{f.name: np.tile(getattr(law, f.name), count) for f in fields(Law)})
    whole = operate(
        many,
        laws,
        np.concatenate(bulk),
        np.tile(volts, count),
        np.tile(amperes, count),
        np.tile(volts * amperes, count),
    )
    size = len(converters)
    return [_slice(whole, slice(index * size, (index + 1) * size)) for index in range(count)]


def _slice(whole: Operation, part: slice) -> Operation:
    values = {}
    for item in fields(Cycle):
        entry = getattr(whole.cycle, item.name)
        values[item.name] = (
            {key: row[part] for key, row in entry.items()} if item.name == "losses" else entry[part]
        )
    return Operation(
        whole.peak[part],
        whole.valley[part],
        whole.period[part],
        whole.pulse_period[part],
        whole.mode[part],
        Cycle(**values),
    )


def _factors(
    converters: list[Converter],
    operations: list[Operation],
    state: State,
    bulk: list[Floats],
    volts: Floats,
    amperes: Floats,
) -> None:
    """Share of alternating current in the copper, from the fields at the largest load."""
    operation = operations[len(operations) // 2]
    one, period = operation.cycle, operation.pulse_period
    loads = volts * amperes
    largest: dict[int, int] = {}
    for index, item in enumerate(converters):
        key = id(item)
        if key not in largest or loads[index] > loads[largest[key]]:
            largest[key] = index
    found = {}
    for key, index in largest.items():
        item, length = converters[index], period[index]
        on, off = one.on_time[index] / length, one.off_time[index] / length
        primary = coils.triangle(operation.valley[index], operation.peak[index], on, 0.0)
        secondary = coils.triangle(
            one.secondary_peak[index], one.secondary_end[index], min(off, 1 - on), on
        )
        found[key] = (
            item.coil.resistance_factors(1 / length, primary, secondary),
            1 / length,
        )
    for index, item in enumerate(converters):
        (primary, secondary), frequency = found[id(item)]
        relative = min(1 / period[index] / frequency, 2.0)
        mean = (operation.peak + operation.valley)[index] / 2 * one.on_time[index] / period[index]
        direct = mean**2 * period[index] / max(one.primary_square[index], 1e-18)
        state.primary[index] = 1 + (primary - 1) * relative * max(1 - direct, 0.0)
        steady = amperes[index] ** 2 * operation.period[index]
        direct = steady / max(one.secondary_square[index], 1e-18)
        state.secondary[index] = 1 + (secondary - 1) * relative * max(1 - direct, 0.0)
    state.factors = found


def _mean(operations: list[Operation], name: str) -> Floats:
    """Loss of one part, over the swing of the bulk voltage. [W]."""
    return sum(item.losses()[name] for item in operations) / len(operations)


def _mains_side(jobs: Sequence[Job]) -> None:
    """Step the rectifiers of all adapters at a grid of loads on each of their supplies.

    Twice: with the air inside as 0.85 and 1.3 times the loss of the highest mode leave it; other
    modes lie about those.
    """
    cases, where = [], []
    for job in jobs:
        body, room = job.adapter.body, job.ambient
        highest = max(mode.volts for mode in job.adapter.ports[0].modes if mode.span is None)
        known = np.array(
            sorted(
                (result["bulk power"], result["loss"])
                for point, result in zip(job.points, job.results, strict=True)
                if len(point.loads) == 0
                or (
                    len(point.loads) == 1
                    and point.loads[0].volts == highest
                    and point.loads[0].port == job.adapter.ports[0].name
                )
            )
        ).T
        for supply, mains in job.supplies.items():
            begin = len(cases)
            loads = loads_of(
                job.adapter, supply, known[0][known[0] > 0.2 * job.adapter.rated_power]
            )
            loss = np.interp(loads, *known)
            for share in (0.85, 1.3):
                airs = inside(body, share * loss + 0.02, room)
                cases += [
                    job.adapter.front.case(
                        mains=mains, power=float(load), air=float(air), bulk=float(air) + 4
                    )
                    for load, air in zip(loads, airs, strict=True)
                ]
            where.append((job, supply, loads, slice(begin, len(cases))))
    steady = steady_state(cases)
    figures = dict(steady.figures)
    figures["limiter_temperature"] = steady.limiter_temperature
    figures["limiter_resistance"] = steady.limiter_resistance
    for level in QUANTILES:
        figures[f"bulk_quantile_{level:.3f}"] = np.quantile(steady.bulk_voltage, level, axis=0)
    for job, supply, loads, part in where:
        airs = np.array([case.air for case in cases[part]]).reshape(2, -1)
        mine = {name: row[part].reshape(2, -1) for name, row in figures.items()}
        job.curves[supply] = Curves(loads, airs, mine)


def _bulk_voltages(jobs: Sequence[Job], table: list[Any]) -> list[Floats]:
    """Bulk voltage of every column at three levels of its swing."""
    columns = []
    for level in QUANTILES:
        name = f"bulk_quantile_{level:.3f}"
        values = {
            (id(job), place): job.figure(name, place)
            for job in jobs
            for place in range(len(job.points))
        }
        columns.append(np.array([values[id(job), place] for job, place, _ in table]))
    return columns


def _temperatures(
    jobs: Sequence[Job],
    table: list[Any],
    converters: list[Converter],
    operations: list[Operation],
    state: State,
) -> None:
    """Parts' temperatures from the losses of the last pass."""
    here = np.array([job.results[place]["air"] for job, place, _ in table])
    factors = {
        part: np.array([job.adapter.body.parts[part] for job, _, _ in table])
        for part in ("switch", "transformer", "output rectifier")
    }
    switch = sum(_mean(operations, name) for name in OF_SWITCH)
    transformer = sum(_mean(operations, name) for name in OF_TRANSFORMER)
    state.switch = here + factors["switch"] * switch
    state.transformer = here + factors["transformer"] * transformer
    state.rectifier = here + factors["output rectifier"] * _mean(operations, "output rectifier")


def _by_point(
    jobs: Sequence[Job],
    table: list[Any],
    operations: list[Operation],
    amperes: Floats,
    state: State | None = None,
    keep: bool = False,
) -> None:
    """Results of every job: powers, losses, air inside."""
    power = sum(item.input_power for item in operations) / len(operations)
    losses = {name: _mean(operations, name) for name in operations[0].losses()}
    rows: dict[Any, list[int]] = {}
    for index, (job, place, _) in enumerate(table):
        rows.setdefault((id(job), place), []).append(index)
    for job in jobs:
        job.results = []
        for place, point in enumerate(job.points):
            mine = rows[id(job), place]
            extra = job.adapter.standby["start-up"]
            drawn = float(power[mine].sum()) + extra
            output = sum(port_voltage(job.adapter, load) * load.amperes for load in point.loads)
            result: dict[str, Any] = {"bulk power": drawn, "output power": output}
            job.results.append(result)
            # The air inside follows the loss, which follows the limiter, which follows the air.
            loss = 1.15 * (drawn - output) + 0.02
            for _ in range(4):
                result["air"] = float(inside(job.adapter.body, np.array(loss), job.ambient))
                if not job.curves:
                    break
                front = {name: job.figure(f"{name}_loss", place) for name in FRONT_LOSSES}
                resistors = job.adapter.front.discharge
                volts = job.supplies[point.supply].voltage
                front["discharge"] = volts**2 / (2 * resistors.true) if resistors else 0.0
                result["input power"] = drawn + sum(front.values())
                result["front losses"] = front
                loss = result["input power"] - output
            result["loss"] = loss
            if keep:
                result |= _details(job, point, mine, operations, losses, state, amperes)


def _details(
    job: Job,
    point: Point,
    mine: list[int],
    operations: list[Operation],
    losses: dict[str, Floats],
    state: State | None,
    amperes: Floats,
) -> dict[str, Any]:
    """Losses by part and the converters' currents of one point."""
    middle = operations[len(operations) // 2]
    idle = job.adapter.standby["output current"] / len(job.adapter.converters)
    stages, at_capacitors, feeding = {}, 0.0, 0.0
    for index, share in zip(mine, shares(job.adapter, point), strict=True):
        one, period = middle.cycle, middle.period[index]
        converter = job.adapter.converter(share.converter)
        stages[share.converter] = {
            "volts": share.volts,
            "amperes": share.amperes,
            "mode": int(middle.mode[index]),
            "frequency": float(1 / middle.pulse_period[index]),
            "mean frequency": float(1 / period),
            "primary peak": float(middle.peak[index]),
            "primary valley": float(middle.valley[index]),
            "primary rms": float(np.sqrt(one.primary_square[index] / period)),
            "secondary peak": float(one.secondary_peak[index]),
            "secondary end": float(one.secondary_end[index]),
            "secondary rms": float(np.sqrt(one.secondary_square[index] / period)),
            "capacitor rms": float(
                np.sqrt(max(one.secondary_square[index] / period - amperes[index] ** 2, 0.0))
            ),
            "on time": float(one.on_time[index]),
            "off time": float(one.off_time[index]),
            "commutation": float(one.commutation[index]),
            "clamp voltage": float(one.clamp[index]),
            "switch celsius": float(state.switch[index]),
            "transformer celsius": float(state.transformer[index]),
            "rectifier celsius": float(state.rectifier[index]),
            "input power": float(
                sum(item.input_power[index] for item in operations) / len(operations)
            ),
            "losses": {name: float(row[index]) for name, row in losses.items()},
            "copper factors": [float(item) for item in state.factors[id(converter)][0]],
        }
        at_capacitors += share.volts * (share.amperes - idle)
        feeding += share.volts * idle
    delivered = sum(port_voltage(job.adapter, load) * load.amperes for load in point.loads)
    return {
        "stages": stages,
        "path loss": at_capacitors - delivered,
        "output controllers": feeding,
    }
