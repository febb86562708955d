"""Adapters at work: converters, heat and mains side brought together, loss by loss.

All operating points of all adapters of a batch are worked out at once. Three passes let the
temperatures settle; the mains side in between gives the bulk voltage and its swing.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from generator.world import coil as coils
from generator.world.adapter import Adapter, Converter
from generator.world.control import Law, Operation, operate
from generator.world.heat import case_rise
from generator.world.mains import Mains
from generator.world.points import Point, port_voltage, shares
from generator.world.rectifier import steady_state
from generator.world.stage import Cycle, Parts

Floats = NDArray[np.float64]
GRID = (0.03, 0.15, 0.6, 2.0, 5.0, 10.0, 18.0, 30.0, 48.0, 75.0, 130.0)
QUANTILES = (1 / 6, 1 / 2, 5 / 6)
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


class Curves:
    """Figures of the rectifier between the loads that were stepped, in the logarithm of the load."""

    def __init__(self, power: Floats, figures: dict[str, Floats]) -> None:
        self._splines = {}
        for name, values in figures.items():
            positive = bool((values > 0).all())
            kept = np.log(values) if positive else values
            self._splines[name] = (CubicSpline(np.log(power), kept), positive)
        self.names = tuple(figures)

    def at(self, name: str, power: float) -> float:
        """Figure `name` at a load. [SI unit]."""
        spline, positive = self._splines[name]
        value = float(spline(np.log(power)))
        return float(np.exp(value)) if positive else value


def loads_of(adapter: Adapter) -> Floats:
    """Loads for which the rectifier is stepped. [W]."""
    most = 1.35 * adapter.rated_power
    inside = [load for load in GRID if load < 0.85 * most]
    return np.array([*inside, most])


@dataclass
class _State:
    """Temperatures and wave factors of every column, from pass to pass."""

    switch: Floats
    transformer: Floats
    rectifier: Floats
    primary: Floats
    secondary: Floats
    factors: dict[int, tuple[tuple[float, float], float]] = field(default_factory=dict)


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
    state = _State(none + 60.0, none + 60.0, none + 60.0, none + 1.3, none + 1.3)
    bulk = [np.maximum(0.97 * crest - 2, 40.0)]
    for attempt in range(4):
        operation = _operate(converters, state, bulk, volts, amperes)
        if attempt == 3:
            break
        _factors(converters, operation, state, bulk, volts, amperes)
        taken = _by_point(jobs, table, operation, amperes)
        if attempt == 0:
            _mains_side(jobs)
        bulk = _bulk_voltages(jobs, table, taken)
        _temperatures(jobs, table, converters, operation, state)
    _by_point(jobs, table, operation, amperes, state, keep=True)


def _parts(converters: list[Converter], state: _State, volts: Floats, amperes: Floats) -> tuple[Parts, Law]:  # fmt: skip
    """Arrays of all columns at their temperatures."""

    def each(function: Any) -> Floats:
        return np.array([float(function(item)) for item in converters])

    def extra(name: str) -> Floats:
        return each(lambda item: item.extras[name])

    rise = extra("switch rise")
    sync = each(lambda item: item.synchronous)
    channel = each(lambda item: item.rectifier["resistance"].true)
    warm_channel = channel * np.where(sync > 0, 1 + 0.004 * (state.rectifier - 25.0), 1.0)
    scale = each(lambda item: item.rectifier["scale"]) * (state.rectifier + 273.15) / 298.15
    # A Schottky's drop at 1 A falls by 1 mV/K (makers' curves).
    drop = each(
        lambda item: -item.rectifier["scale"] * np.log(item.rectifier["saturation"])
    ) - 1e-3 * (state.rectifier - 25.0)
    winding = each(lambda item: item.coil.turns * item.coil.area)
    inductance = each(lambda item: item.inductance.true)
    frequency_power, flux_power = extra("ferrite frequency"), extra("ferrite flux")
    cold = 1 + extra("ferrite cold") * np.clip((100.0 - state.transformer) / 75.0, 0, 1.2) ** 2
    # From sine loss at 100 kHz and 200 mT to loss by slope and swing: Venkatachalam and others,
    # 2002: factor = k / ((2 pi)^(a-1) integral |cos|^a 2^(b-a)).
    angle = (np.arange(720) + 0.5) / 720 * 2 * np.pi
    integral = np.array([(np.abs(np.cos(angle)) ** power).mean() * 2 * np.pi
                         for power in frequency_power])  # fmt: skip
    sine = extra("ferrite loss") / (100e3**frequency_power * 0.2**flux_power)
    factor = sine / (
        (2 * np.pi) ** (frequency_power - 1) * integral * 2 ** (flux_power - frequency_power)
    )
    # The controller draws its current at the voltage of the winding, which follows the output.
    supply = each(lambda item: item.auxiliary_turns / item.coil.secondary_turns) * (volts + 0.4)
    current = np.where(amperes > 0.02, extra("controller current"), extra("idle current"))
    gate = extra("gate charge") * 11.0 + sync * 15e-9 * 6.0
    parts = Parts(
        inductance=inductance,
        leakage=each(lambda item: item.leakage.true),
        drain_capacitance=each(lambda item: item.drain_capacitance.true),
        turns_ratio=each(lambda item: item.ratio),
        switch=each(lambda item: item.switch.true) * (1 + rise * (state.switch - 25.0)),
        sense=each(lambda item: item.sense.true),
        primary=each(lambda item: item.coil.direct_resistance("primary"))
        * coils.warm(state.transformer) * state.primary,
        secondary=each(lambda item: item.coil.direct_resistance("secondary"))
        * coils.warm(state.transformer) * state.secondary,
        clamp_resistance=each(
            lambda item: item.clamp_resistor.true if item.clamp_resistor else 0.0
        ),
        clamp_level=each(lambda item: item.clamp_level),
        fall_time=extra("fall time"),
        ring_quality=extra("ring quality"),
        synchronous=sync,
        rectifier_resistance=warm_channel,
        rectifier_scale=scale,
        rectifier_saturation=np.exp(-drop / scale),
        dead_time=extra("dead time"),
        rectifier_charge=extra("rectifier capacitance"),
        core_factor=factor * cold,
        core_frequency=frequency_power,
        core_flux=flux_power,
        core_scale=inductance / winding,
        core_volume=each(lambda item: item.coil.area * item.coil.path),
        overhead=current * supply,
        gate_energy=gate,
    )  # fmt: skip
    quasi = each(lambda item: item.quasi_resonant)
    law = Law(
        frequency=np.where(
            quasi > 0, extra("highest frequency"), each(lambda item: item.frequency.true)
        ),
        quasi_resonant=quasi,
        fold_power=each(lambda item: item.extras["fold share"] * item.rated_power),
        floor_frequency=extra("floor frequency"),
        burst_peak=extra("burst peak"),
    )
    return parts, law


def _operate(
    converters: list[Converter], state: _State, bulk: list[Floats], volts: Floats, amperes: Floats
) -> list[Operation]:
    """Working points at each of the bulk voltages given."""
    parts, law = _parts(converters, state, volts, amperes)
    count = len(bulk)
    many = Parts(**{f.name: np.tile(getattr(parts, f.name), count) for f in fields(Parts)})
    laws = Law(**{f.name: np.tile(getattr(law, f.name), count) for f in fields(Law)})
    whole = operate(
        many, laws, np.concatenate(bulk), np.tile(volts, count), np.tile(amperes, count),
        np.tile(volts * amperes, count),
    )  # fmt: skip
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
        whole.peak[part], whole.valley[part], whole.period[part], whole.pulse_period[part],
        whole.mode[part], Cycle(**values),
    )  # fmt: skip


def _factors(
    converters: list[Converter], operations: list[Operation], state: _State, bulk: list[Floats],
    volts: Floats, amperes: Floats,
) -> None:  # fmt: skip
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
            item.coil.resistance_factors(1 / length, primary, secondary), 1 / length,
        )  # fmt: skip
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
    """Step the rectifiers of all adapters at a grid of loads on each of their supplies."""
    cases, owners = [], []
    for job in jobs:
        powers = np.array([result["bulk power"] for result in job.results])
        losses = np.array([result["loss"] for result in job.results])
        order = np.argsort(powers)
        for supply, mains in job.supplies.items():
            for power in loads_of(job.adapter):
                guess = float(np.interp(power, powers[order], losses[order]))
                body = job.adapter.body
                air = job.ambient + float(
                    case_rise(body, np.array(guess), job.ambient) + body.inner * guess
                )
                cases.append(
                    job.adapter.front.case(mains=mains, power=float(power), air=air, bulk=air + 4)
                )
                owners.append((job, supply))
    steady = steady_state(cases)
    figures = dict(steady.figures)
    figures["limiter_temperature"] = steady.limiter_temperature
    figures["limiter_resistance"] = steady.limiter_resistance
    for level in QUANTILES:
        figures[f"bulk_quantile_{level:.3f}"] = np.quantile(steady.bulk_voltage, level, axis=0)
    for job in jobs:
        for supply in job.supplies:
            mine = [i for i, owner in enumerate(owners) if owner[0] is job and owner[1] == supply]
            power = np.array([cases[index].power for index in mine])
            job.curves[supply] = Curves(power, {key: row[mine] for key, row in figures.items()})


def _bulk_voltages(jobs: Sequence[Job], table: list[Any], taken: dict[Any, float]) -> list[Floats]:
    """Bulk voltage of every column at three levels of its swing."""
    columns = []
    for level in QUANTILES:
        name = f"bulk_quantile_{level:.3f}"
        values = {
            key: job.curves[job.points[key[1]].supply].at(name, taken[key])
            for job in jobs
            for key in ((id(job), place) for place in range(len(job.points)))
        }
        columns.append(np.array([values[id(job), place] for job, place, _ in table]))
    return columns


def _temperatures(
    jobs: Sequence[Job], table: list[Any], converters: list[Converter],
    operations: list[Operation], state: _State,
) -> None:  # fmt: skip
    """Parts' temperatures from the losses of the last pass."""
    air = {}
    for job in jobs:
        losses = np.array([result["loss"] for result in job.results])
        body = job.adapter.body
        rises = case_rise(body, losses, job.ambient) + body.inner * losses
        for place, rise in enumerate(rises):
            air[id(job), place] = job.ambient + float(rise)
    here = np.array([air[id(job), place] for job, place, _ in table])
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
    jobs: Sequence[Job], table: list[Any], operations: list[Operation], amperes: Floats,
    state: _State | None = None, keep: bool = False,
) -> dict[Any, float]:  # fmt: skip
    """Power taken from the bulk at every point; results of every job."""
    power = sum(item.input_power for item in operations) / len(operations)
    losses = {name: _mean(operations, name) for name in operations[0].losses()}
    rows: dict[Any, list[int]] = {}
    for index, (job, place, _) in enumerate(table):
        rows.setdefault((id(job), place), []).append(index)
    taken = {}
    for job in jobs:
        job.results = []
        for place, point in enumerate(job.points):
            mine = rows[id(job), place]
            extra = job.adapter.standby["start-up"]
            drawn = float(power[mine].sum()) + extra
            output = sum(port_voltage(job.adapter, load) * load.amperes for load in point.loads)
            result: dict[str, Any] = {"bulk power": drawn, "output power": output}
            loss = drawn - output
            if job.curves:
                curve = job.curves[point.supply]
                front = {
                    name: curve.at(f"{name}_loss", drawn)
                    for name in ("limiter", "bridge", "choke", "wiring", "bulk_resistance")
                }
                resistors = job.adapter.front.discharge
                volts = job.supplies[point.supply].voltage
                front["discharge"] = volts**2 / (2 * resistors.true) if resistors else 0.0
                result["input power"] = curve.at("input_power", drawn) + front["discharge"]
                result["front losses"] = front
                loss = result["input power"] - output
            result["loss"] = loss
            if keep:
                result |= _details(job, point, mine, operations, losses, state, amperes)
            job.results.append(result)
            taken[id(job), place] = drawn
    return taken


def _details(
    job: Job, point: Point, mine: list[int], operations: list[Operation],
    losses: dict[str, Floats], state: _State | None, amperes: Floats,
) -> dict[str, Any]:  # fmt: skip
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
