"""What the listed parts say of the surge: the path of the current, and the surges it predicts."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Part
from adapterlab.inrush import (
    PlugInSurge,
    Thermistor,
    WorstPhase,
    plug_in_surge,
    thermistor_cooling,
    thermistor_working_temperature,
    worst_phase,
)
from adapterlab.judgement import ENDS
from adapterlab.published import rows

SECTION = "inrush"
Floats = NDArray[np.float64]
# Units of what `predict` tells, by name.
UNITS = {
    "resistance": "Ω",
    "capacitance": "F",
    "peak": "A",
    "time_constant": "s",
    "i_squared_t": "A²s",
    "energy": "J",
    "limiter_energy": "J",
    "limiter_rise": "K",
}
_DRAWS, _SWEEP_DRAWS, _SEED = 256, 32, 20190117


def uniform(low: float, high: float) -> Any:
    """Distribution in which every value from `low` to `high` is equally likely."""
    return stats.uniform(low, high - low) if high > low else low


def near(value: Value) -> Any:
    """Normal distribution of a value, or the value itself if it counts as exact."""
    spread = value.standard_uncertainty
    return stats.norm(value.value, spread) if spread > 0 else value.value


def allowance(name: str) -> Any:
    """Distribution of what the parts list leaves open, from the published table."""
    row = rows(SECTION, "allowances", name=name)[0]
    return uniform(row["low"], row["high"])


def mean(distribution: Any) -> float:
    """Mean of a distribution, or the number itself."""
    return float(distribution.mean()) if hasattr(distribution, "mean") else float(distribution)


def deviation(distribution: Any) -> float:
    """Standard deviation of a distribution; 0 of a number."""
    return float(distribution.std()) if hasattr(distribution, "std") else 0.0


@dataclass(frozen=True)
class Path:
    """The parts the surge flows through.

    Attributes
    ----------
    limiters, capacitors : tuple of Part
        Inrush limiters, in series, and bulk capacitors.
    inputs : dict of str to scipy.stats distribution or float
        Every number of the path.
    label : str
        References and values, as said aloud.
    """

    limiters: tuple[Part, ...]
    capacitors: tuple[Part, ...]
    inputs: dict[str, Any]
    label: str

    @property
    def discs(self) -> list[Part]:
        """The thermistors among the limiters."""
        return [part for part in self.limiters if part.kind == "thermistor"]


def rest_needed(path: Path | None) -> float:
    """Time after which the limiter counts as cold and the bulk capacitor as empty. [s]."""
    by_parts, at_least = rows(SECTION, "rest")
    times = [
        by_parts["time_constants"] * part.heat_capacity / part.dissipation_factor
        for part in (path.discs if path is not None else ())
        if part.heat_capacity and part.dissipation_factor
    ]
    return float(max(times, default=at_least["time"]))


def complete(parts: list[Part]) -> bool:
    """Whether there are any, each with value and tolerance."""
    return bool(parts) and all(
        part.value is not None and part.tolerance is not None for part in parts
    )


def listed(parts: tuple[Part, ...] | list[Part]) -> str:
    """Their references as said aloud."""
    return " and ".join(part.reference for part in parts)


def marked(part: Part) -> Any:
    """Distribution of a part's value within its tolerance."""
    value, tolerance = part.value or 0.0, min(part.tolerance or 0.0, 0.99)
    return uniform(value * (1 - tolerance), value * (1 + tolerance))


def _joined(parts: tuple[Part, ...], values: Mapping[str, Any]) -> Any:
    """Admittances of the bulk capacitors: those in series joined, the others added."""
    total: Any = 0.0
    left = list(parts)
    while left:
        chain, left = [left[0]], left[1:]
        # Grows while it is walked; parts may name each other, or themselves.
        for part in chain:
            joins = [
                p.reference == part.in_series_with or p.in_series_with == part.reference
                for p in left
            ]
            chain += [p for p, joined in zip(left, joins, strict=True) if joined]
            left = [p for p, joined in zip(left, joins, strict=True) if not joined]
        total = total + 1 / sum(1 / values[p.reference] for p in chain)
    return total


def _supply(specimen: Specimen) -> dict[str, Any]:
    """Resistance and inductance in front of the adapter, and of its chokes."""
    supply, found = specimen.adapter.supply, {}
    chokes = specimen.adapter.parts_with_role("line choke")
    for name, value, spread in (
        ("supply resistance", supply.resistance, supply.resistance_uncertainty),
        ("supply inductance", supply.inductance, supply.inductance_uncertainty),
    ):
        found[name] = allowance(name)
        if value is not None:
            spread = 0.1 * value if spread is None else spread
            # A resistance or inductance known poorly is still not below zero.
            found[name] = stats.truncnorm(-value / spread, np.inf, loc=value, scale=spread)
    found["chokes"] = sum(part.series_resistance or 0.0 for part in chokes)
    found["leakage"] = sum(part.leakage_inductance or 0.0 for part in chokes)
    if chokes and not found["leakage"]:
        found["leakage"] = allowance("choke leakage")
    return found


def path_of(specimen: Specimen) -> Path | None:
    """The surge's path from the parts list.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    Path or None
        None unless every inrush limiter and bulk capacitor has a value and a tolerance.
    """
    limiters = specimen.adapter.parts_with_role("inrush limiter")
    capacitors = specimen.adapter.parts_with_role("bulk capacitor")
    if not complete(limiters) or not complete(capacitors):
        return None
    inputs: dict[str, Any] = _supply(specimen) | {
        "ambient": allowance("ambient"),
        "bridge": allowance("bridge resistance"),
        "drop": allowance("bridge drop"),
    }
    noted = specimen.temperatures["ambient"].dropna()
    if not noted.empty:
        row = rows(SECTION, "allowances", name="ambient deviation")[0]
        inputs["ambient"] = uniform(noted.mean() + row["low"], noted.mean() + row["high"])
    conductance = {p.reference: 1 / (p.series_resistance or np.inf) for p in capacitors}
    inputs["esr"] = allowance("capacitor resistance")
    if all(conductance.values()):
        row = rows(SECTION, "allowances", name="capacitor resistance factor")[0]
        ohms = 1 / _joined(tuple(capacitors), conductance)
        inputs["esr"] = uniform(ohms * row["low"], ohms * row["high"])
    for part in (*limiters, *capacitors):
        inputs[part.reference] = marked(part)
    discs = [part for part in limiters if part.kind == "thermistor"]
    if discs:
        inputs["beta"] = discs[0].beta or allowance("limiter beta")
        heat = [part.heat_capacity for part in discs if part.heat_capacity]
        inputs["heat_capacity"] = allowance("limiter heat capacity")
        if len(heat) == len(discs):
            row = rows(SECTION, "allowances", name="limiter heat capacity factor")[0]
            inputs["heat_capacity"] = uniform(sum(heat) * row["low"], sum(heat) * row["high"])
        lost = sum(part.dissipation_factor or 0.01 for part in discs)
        row = rows(SECTION, "allowances", name="limiter dissipation factor")[0]
        inputs["dissipation_factor"] = uniform(lost * row["low"], lost * row["high"])
    series = sum(part.value or 0.0 for part in limiters)
    bulk = _joined(tuple(capacitors), {p.reference: p.value for p in capacitors})
    label = (
        f"{listed(limiters)} ({Value(series, 0.0, 'Ω')}) with {listed(capacitors)} "
        f"({Value(bulk, 0.0, 'F')})"
    )
    return Path(tuple(limiters), tuple(capacitors), inputs, label)


def draw(inputs: Mapping[str, Any], count: int) -> dict[str, Any]:
    """Draws of every input that has a distribution, evenly spread; the others as they are."""
    names = [name for name, value in inputs.items() if hasattr(value, "ppf")]
    drawn = dict(inputs)
    if names:
        sobol = stats.qmc.Sobol(len(names), scramble=True, rng=_SEED)
        points = np.clip(sobol.random_base2(int(np.log2(count))).T, 1e-9, 1 - 1e-9)
        drawn |= {name: inputs[name].ppf(row) for name, row in zip(names, points, strict=True)}
    return drawn


def circuit(path: Path, drawn: Mapping[str, Any]) -> dict[str, Any]:
    """Arguments of `plug_in_surge` for drawn numbers of the path."""
    resistors = sum(drawn[p.reference] for p in path.limiters if p.kind != "thermistor")
    arguments = {
        "bulk_capacitance": _joined(path.capacitors, drawn),
        "series_resistance": drawn["supply resistance"] + drawn["chokes"] + resistors,
        "source_inductance": drawn["supply inductance"] + drawn["leakage"],
        "bulk_esr": drawn["esr"],
        "bridge_drop": drawn["drop"],
        "bridge_resistance": drawn["bridge"],
        "ambient": drawn["ambient"],
    }
    if path.discs:
        arguments["thermistor"] = Thermistor(
            sum(drawn[part.reference] for part in path.discs),
            drawn["beta"],
            drawn["heat_capacity"],
            drawn["dissipation_factor"],
        )
    return arguments


def other_resistance(path: Path | None) -> Value:
    """Resistance of the path but for its thermistors. [ohm]."""
    if path is None:
        names: dict[str, Any] = {
            name: allowance(f"{name} resistance") for name in ("supply", "bridge", "capacitor")
        }
    else:
        names = {key: path.inputs[key] for key in ("supply resistance", "chokes", "bridge", "esr")}
        names |= {p.reference: marked(p) for p in path.limiters if p.kind != "thermistor"}
    total = sum(mean(value) for value in names.values())
    return Value(total, float(np.hypot.reduce([deviation(v) for v in names.values()])), "Ω")


def restart_temperature(
    path: Path, specimen: Specimen, mains_voltage: float, rest: float
) -> Floats:
    """Draws of the limiter's temperature so long after full load. [°C], shape (draws,).

    It settled at the mains current of the highest load noted at that mains voltage, in air as warm
    as anything between the room and the hottest place noted inside.
    """
    sweep, inside = specimen.load_sweep, specimen.temperatures["temperature"].dropna()
    inputs = path.inputs | {"warm": allowance("warm limiter")}
    near_by = sweep[(sweep["mains_voltage"] / mains_voltage - 1).abs() < 0.1]
    known = not near_by.empty and near_by["mains_current"].notna().any() and not inside.empty
    if known:
        top = float(inside.max())
        inputs["air"] = uniform(mean(path.inputs["ambient"]), top)
    drawn = draw(inputs, _DRAWS)
    disc = circuit(path, drawn)["thermistor"]
    if known:
        current = float(near_by["mains_current"].max())
        warm = thermistor_working_temperature(disc, current, drawn["air"])
        return np.asarray(thermistor_cooling(disc, warm, rest, drawn["air"]))
    return np.asarray(thermistor_cooling(disc, drawn["warm"], rest, drawn["ambient"]))


@dataclass(frozen=True)
class Prediction:
    """The surge that the parts predict.

    Attributes
    ----------
    time : numpy.ndarray
        Times since contact. [s], shape (n,)
    low, middle, high : numpy.ndarray
        Current in the sense of the surge: ends of the 95 % band and its mean. [A], shape (n,)
    surge : PlugInSurge
        The surge of the parts at their marked values.
    values : dict of str to Value
        The names of `UNITS`: ``resistance`` of the path at contact, ``capacitance``, ``peak``,
        ``time_constant`` from the peak to 1/e, ``i_squared_t`` and ``energy`` drawn until the
        end of `time`, and what the limiter takes of it and by how much it warms.
    intervals : dict of str to tuple of float
        95 % intervals of the same.
    """

    time: Floats
    low: Floats
    middle: Floats
    high: Floats
    surge: PlugInSurge
    values: dict[str, Value]
    intervals: dict[str, tuple[float, float]]


def _fall_times(time: Floats, flow: Floats) -> Floats:
    """Time from each curve's peak to 1/e of it. [s], shape (curves,)."""
    found = np.empty(len(flow))
    for row, curve in enumerate(flow):
        top = int(np.argmax(curve))
        level = curve[top] / np.e
        below = top + int(np.argmax(curve[top:] < level))
        pair = curve[[below, below - 1]]
        found[row] = np.interp(level, pair, time[[below, below - 1]]) - time[top]
    return found


def predict(
    path: Path,
    mains_voltage: Value,
    mains_frequency: float,
    phase: Value,
    duration: float,
    temperature: Floats | None = None,
) -> Prediction:
    """The surge that the parts predict, with its uncertainty.

    Parameters
    ----------
    path : Path
        The parts.
    mains_voltage : Value
        Rms voltage of the mains. [V]
    mains_frequency : float
        Its frequency. [Hz]
    phase : Value
        Angle of the mains at contact, within half a turn. [degrees]
    duration : float
        How long to follow the surge. [s]
    temperature : numpy.ndarray, optional
        Draws of the limiter's temperature at contact. [°C]  By default that of the air.

    Returns
    -------
    Prediction
        Figures and band.
    """
    inputs = path.inputs | {"mains_voltage": near(mains_voltage), "phase": near(phase)}
    drawn = draw(inputs, _DRAWS)
    source = (drawn["mains_voltage"], mains_frequency, np.mod(drawn["phase"], 360.0))
    parts = circuit(path, drawn)
    start = parts["ambient"] if temperature is None else temperature
    many = plug_in_surge(
        *source, **parts, thermistor_temperature=start, duration=duration, samples=301
    )
    turn = np.sign(np.sin(np.radians(source[2])))[..., None] if np.ndim(source[2]) else 1.0
    flow = np.broadcast_to(many.current * turn, (_DRAWS, len(many.time)))
    disc = parts.get("thermistor")
    ohms = parts["series_resistance"] + parts["bulk_esr"] + parts["bridge_resistance"]
    found = {
        "resistance": ohms + (disc.resistance(start) if disc is not None else 0.0),
        "capacitance": parts["bulk_capacitance"],
        "peak": many.peak_current,
        "time_constant": _fall_times(many.time, flow),
        "i_squared_t": many.i_squared_t,
        "energy": many.energy.mains,
        "limiter_energy": many.energy.thermistor,
        "limiter_rise": many.thermistor_temperature.max(axis=-1) - start,
    }
    if disc is None:
        resistors = sum(drawn[p.reference] for p in path.limiters)
        found |= {"limiter_energy": resistors * many.i_squared_t, "limiter_rise": 0.0}
    table = {name: np.broadcast_to(value, (_DRAWS,)) for name, value in found.items()}
    low, high = np.quantile(flow, ENDS, axis=0)
    middle = circuit(path, {name: mean(value) for name, value in path.inputs.items()})
    one = plug_in_surge(
        mains_voltage.value,
        mains_frequency,
        phase.value % 360,
        **middle,
        thermistor_temperature=float(np.mean(start)),
        duration=duration,
    )
    return Prediction(
        many.time,
        low,
        flow.mean(axis=0),
        high,
        one,
        {name: Value(float(row.mean()), float(row.std()), UNITS[name])
         for name, row in table.items()},
        {name: tuple(np.quantile(row, ENDS).tolist()) for name, row in table.items()},
    )  # fmt: skip


@dataclass(frozen=True)
class Sweep:
    """The surge at every angle of contact, limiter cold.

    Attributes
    ----------
    phase : numpy.ndarray
        Angles. [degrees], shape (n,)
    low, middle, high : numpy.ndarray
        Peak current: ends of the 95 % band of the parts' tolerances and its mean. [A], shape (n,)
    worst : WorstPhase
        Angle and height of the largest peak with the parts at their marked values.
    by_chance : Value
        Peak if contact comes at any angle, with 95 % interval. [A]
    """

    phase: Floats
    low: Floats
    middle: Floats
    high: Floats
    worst: WorstPhase
    by_chance: Value


def sweep(path: Path, mains_voltage: float, mains_frequency: float) -> Sweep:
    """Peak against the angle of contact, with the tolerances of the parts."""
    phase = np.linspace(0, 180, 19)
    drawn = draw(path.inputs, _SWEEP_DRAWS)
    parts = circuit(path, drawn)
    disc = parts.pop("thermistor", None)
    parts = {name: np.reshape(value, (-1, 1)) for name, value in parts.items()}
    if disc is not None:
        fields = ("resistance_25", "beta", "heat_capacity", "dissipation_factor")
        disc = Thermistor(*(np.reshape(getattr(disc, name), (-1, 1)) for name in fields))
    length = 0.5 / mains_frequency
    peaks = plug_in_surge(
        mains_voltage, mains_frequency, phase, **parts, thermistor=disc, duration=length, samples=2
    ).peak_current
    middle = circuit(path, {name: mean(value) for name, value in path.inputs.items()})
    worst = worst_phase(mains_voltage=mains_voltage, mains_frequency=mains_frequency, **middle)
    low, high = np.quantile(peaks, ENDS, axis=0)
    every = peaks[:, :-1]
    ends = np.quantile(every, ENDS)
    chance = Value(float(every.mean()), float(every.std()), "A", (float(ends[0]), float(ends[1])))
    return Sweep(phase, low, peaks.mean(axis=0), high, worst, chance)
