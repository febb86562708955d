"""What the listed parts say of the surge: the path of the current, the fuse, the discharge."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from adapterlab.assess.finding import (
    Finding,
    Limit,
    Value,
    against_limit,
    not_measured,
)
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import Part
from adapterlab.inrush import (
    crest_surge,
    crest_surge_current,
    pulse_fraction,
    thermistor_resistance,
)
from adapterlab.published import rows
from adapterlab.uncertainty import Propagated, propagate
from adapterlab.verdict import NO_LIMIT

SECTION = "inrush"
Floats = NDArray[np.float64]
_OUTPUTS = ("resistance", "capacitance", "peak", "time_constant", "i_squared_t", "energy", "fall")
_DRAWS = 2048


def uniform(low: float, high: float) -> Any:
    """Distribution in which every value from `low` to `high` is equally likely."""
    return stats.uniform(low, high - low) if high > low else low


def allowance(name: str) -> Any:
    """Distribution of what the parts list leaves open, from the published table."""
    row = rows(SECTION, "allowances", name=name)[0]
    return uniform(row["low"], row["high"])


def heating(quantity: str) -> Any:
    """Distribution of the part of a thermistor's fall that a quantity shows."""
    row = rows(SECTION, "heating", quantity=quantity)[0]
    return uniform(row["low"], row["high"])


@dataclass(frozen=True)
class Path:
    """The parts the surge flows through.

    Attributes
    ----------
    limiters, capacitors : tuple of Part
        Inrush limiters, in series, and bulk capacitors.
    chokes : tuple of Part
        Line chokes with a listed resistance.
    ambient : scipy.stats distribution
        Temperature of the cold limiter. [°C]
    label : str
        References and values, as said aloud.
    """

    limiters: tuple[Part, ...]
    capacitors: tuple[Part, ...]
    chokes: tuple[Part, ...]
    ambient: Any
    label: str

    @property
    def warms(self) -> bool:
        """Whether a thermistor is among the limiters."""
        return any(part.kind == "thermistor" for part in self.limiters)


def rest_needed(path: Path | None) -> float:
    """Time after which the limiter counts as cold and the bulk capacitor as empty. [s]."""
    by_parts, at_least = rows(SECTION, "rest")
    times = [
        by_parts["time_constants"] * part.heat_capacity / part.dissipation_factor
        for part in (path.limiters if path is not None else ())
        if part.kind == "thermistor" and part.heat_capacity and part.dissipation_factor
    ]
    return float(max(times, default=at_least["time"]))


def _complete(parts: list[Part]) -> bool:
    return bool(parts) and all(
        part.value is not None and part.tolerance is not None for part in parts
    )


def _listed(parts: tuple[Part, ...] | list[Part]) -> str:
    return " and ".join(part.reference for part in parts)


def nominal_capacitance(parts: tuple[Part, ...], values: dict[str, Any]) -> Any:
    """Capacitors as one: those in series joined, the others added. [F]."""
    total: Any = 0.0
    for part in parts:
        if any(part.reference == other.in_series_with for other in parts):
            continue
        chain = [p for p in parts if p is part or p.reference == part.in_series_with]
        total = total + 1 / sum(1 / values[p.reference] for p in chain)
    return total


def _capacitor_resistance(parts: tuple[Part, ...], unlisted: Any) -> Any:
    """Their series resistances as one. [ohm]."""
    conductance: Any = 0.0
    for part in parts:
        if any(part.reference == other.in_series_with for other in parts):
            continue
        chain = [p for p in parts if p is part or p.reference == part.in_series_with]
        conductance = conductance + 1 / sum(p.series_resistance or unlisted for p in chain)
    return 1 / conductance


def path_of(dossier: Dossier) -> Path | None:
    """The surge's path from the parts list.

    Parameters
    ----------
    dossier : Dossier
        The record.

    Returns
    -------
    Path or None
        None unless every inrush limiter and bulk capacitor has a value and a tolerance.
    """
    limiters = dossier.adapter.parts_with_role("inrush limiter")
    capacitors = dossier.adapter.parts_with_role("bulk capacitor")
    if not _complete(limiters) or not _complete(capacitors):
        return None
    chokes = [p for p in dossier.adapter.parts_with_role("line choke") if p.series_resistance]
    noted = dossier.temperatures["ambient"].dropna()
    ambient = allowance("ambient")
    if not noted.empty:
        deviation = rows(SECTION, "allowances", name="ambient deviation")[0]
        middle = float(noted.mean())
        ambient = uniform(middle + deviation["low"], middle + deviation["high"])
    values = {part.reference: part.value for part in capacitors}
    series = sum(part.value or 0.0 for part in limiters)
    bulk = nominal_capacitance(tuple(capacitors), values)
    label = (
        f"{_listed(limiters)} ({Value(series, 0.0, 'Ω')}) with {_listed(capacitors)} "
        f"({Value(bulk, 0.0, 'F')})"
    )
    return Path(tuple(limiters), tuple(capacitors), tuple(chokes), ambient, label)


@dataclass(frozen=True)
class Prediction:
    """The surge that the parts predict, contact at the crest, limiter cold.

    Attributes
    ----------
    time : numpy.ndarray
        Times since contact. [s], shape (n,)
    low, middle, high : numpy.ndarray
        Current: ends of the 95 % band and its mean. [A], shape (n,)
    values : dict of str to Value
        ``resistance`` of the cold path, ``capacitance``, ``peak``, ``time_constant``,
        ``i_squared_t``, ``energy`` drawn until the bridge blocks, and ``fall``: share by which
        the path's resistance falls within the surge.
    intervals : dict of str to tuple of float
        95 % intervals of the same.
    """

    time: Floats
    low: Floats
    middle: Floats
    high: Floats
    values: dict[str, Value]
    intervals: dict[str, tuple[float, float]]


def _inputs(path: Path, mains_voltage: Value) -> dict[str, Any]:
    """Every number of the path with its distribution."""
    spread = mains_voltage.standard_uncertainty
    inputs: dict[str, Any] = {
        "mains_voltage": stats.norm(mains_voltage.value, spread) if spread else mains_voltage.value,
        "ambient": path.ambient,
        "supply": allowance("supply resistance"),
        "bridge": allowance("bridge resistance"),
        "drop": allowance("bridge drop"),
        "esr_factor": allowance("capacitor resistance factor"),
        "esr": allowance("capacitor resistance"),
        "peak_factor": allowance("peak factor"),
        "time_share": heating("time constant"),
        "heat_share": heating("i_squared_t"),
        "fall_guess": allowance("heating fall"),
    }
    for part in (*path.limiters, *path.capacitors):
        value, tolerance = part.value or 0.0, min(part.tolerance or 0.0, 0.99)
        inputs[part.reference] = uniform(value * (1 - tolerance), value * (1 + tolerance))
    return inputs


def _model(path: Path, mains_frequency: float, time: Floats) -> Callable[..., list[Any]]:
    """Function of the inputs drawn that gives `_OUTPUTS` and the current at every time."""

    def surge(**drawn: Any) -> list[Any]:
        source = (drawn["mains_voltage"], mains_frequency)
        bulk = nominal_capacitance(path.capacitors, drawn)
        listed = all(part.series_resistance for part in path.capacitors)
        esr = _capacitor_resistance(path.capacitors, drawn["esr"])
        other = drawn["supply"] + drawn["bridge"] + esr * (drawn["esr_factor"] if listed else 1.0)
        other = other + sum(part.series_resistance or 0.0 for part in path.chokes)
        cold = {
            part.reference: drawn[part.reference]
            * thermistor_resistance(drawn["ambient"], 1.0, part.beta or 0.0)
            for part in path.limiters
        }
        series = other + sum(cold.values())
        first = crest_surge(*source, series, bulk, drawn["drop"])
        fall: Any = 0.0
        for part in path.limiters:
            share = cold[part.reference] / series
            if part.kind != "thermistor":
                continue
            if part.beta and part.heat_capacity:
                warm = drawn["ambient"] + first.resistor_energy * share / part.heat_capacity
                ratio = thermistor_resistance(warm, 1.0, part.beta) / thermistor_resistance(
                    drawn["ambient"], 1.0, part.beta
                )
                fall = fall + share * (1 - ratio)
            else:
                fall = fall + share * drawn["fall_guess"]
        slow = series * (1 - drawn["time_share"] * fall)
        warm_path = series * (1 - drawn["heat_share"] * fall)
        flow = crest_surge_current(time[:, None], *source, series, bulk, drawn["drop"])
        carried = bulk * first.final_voltage * drawn["drop"]
        return [
            series,
            bulk,
            first.peak_current * drawn["peak_factor"],
            crest_surge(*source, slow, bulk, drawn["drop"]).time_constant,
            crest_surge(*source, warm_path, bulk, drawn["drop"]).i_squared_t,
            first.resistor_energy + first.capacitor_energy + carried,
            fall,
            *np.broadcast_to(flow, (len(time), np.size(flow[0]))),
        ]

    return surge


def predict(path: Path, mains_voltage: Value, mains_frequency: float) -> Prediction:
    """The surge that the parts predict, with its uncertainty.

    Parameters
    ----------
    path : Path
        The parts.
    mains_voltage : Value
        Rms voltage of the mains. [V]
    mains_frequency : float
        Its frequency. [Hz]

    Returns
    -------
    Prediction
        Figures and band.
    """
    marked = {part.reference: part.value for part in path.capacitors}
    constant = 1.2 * sum(part.value or 0.0 for part in path.limiters)
    constant *= nominal_capacitance(path.capacitors, marked)
    time = np.linspace(0.0, min(6 * constant, 0.249 / mains_frequency), 90)
    model = _model(path, mains_frequency, time)
    found: Propagated = propagate(model, _inputs(path, mains_voltage), draws=_DRAWS)
    low, high = found.interval(0.95)
    units = dict(zip(_OUTPUTS, ("Ω", "F", "A", "s", "A²s", "J", "%"), strict=True))
    count = len(_OUTPUTS)
    return Prediction(
        time,
        low[count:],
        found.mean[count:],
        high[count:],
        {
            name: Value(float(found.mean[row]), float(found.standard_uncertainty[row]), units[name])
            for row, name in enumerate(_OUTPUTS)
        },
        {name: (float(low[row]), float(high[row])) for row, name in enumerate(_OUTPUTS)},
    )


@dataclass(frozen=True)
class Fuse:
    """The fuse and the I²t it stands at every plug-in.

    Attributes
    ----------
    reference : str
        Its reference.
    melting : float
        I²t at which it melts, as its maker states. [A²s]
    allowed : float
        I²t it stands as often as `plug_ins`. [A²s]
    plug_ins : int
        How often. [1]
    limit : Limit
        The same as a limit.
    """

    reference: str
    melting: float
    allowed: float
    plug_ins: int
    limit: Limit


def fuse_of(dossier: Dossier) -> Fuse | None:
    """The first fuse with a listed melting I²t, or None."""
    for part in dossier.adapter.parts_with_role("fuse"):
        if part.melting_i_squared_t is not None:
            number = rows(SECTION, "plug_ins")[0]["number"]
            allowed = part.melting_i_squared_t * pulse_fraction(number)
            row = rows(SECTION, "fuse_pulses", pulses=number)[0]
            name = f"a fuse maker's chart for {number:,} pulses of {part.reference}"
            limit = Limit(allowed, "A²s", "upper", name, row["source"], row["known"])
            return Fuse(part.reference, part.melting_i_squared_t, allowed, number, limit)
    return None


def discharge_finding(dossier: Dossier) -> Finding:
    """Time constant of the line capacitor, from the marks of it and its discharge resistors."""
    question = "Does the line capacitor run down when the plug is pulled?"
    capacitors = dossier.adapter.parts_with_role("line capacitor")
    resistors = dossier.adapter.parts_with_role("discharge resistor")
    if not _complete(capacitors) or not _complete(resistors):
        needed = (
            "[[parts]] with the roles 'line capacitor' and 'discharge resistor', each with value "
            "and tolerance; some controllers do this job without a resistor."
        )
        return not_measured(SECTION, question, needed, "inrush.discharge_time")
    bulk = sum(part.value or 0.0 for part in capacitors)
    series = sum(part.value or 0.0 for part in resistors)
    relative = [
        sum(((part.value or 0) * (part.tolerance or 0)) ** 2 / 3 for part in parts) ** 0.5 / total
        for parts, total in ((capacitors, bulk), (resistors, series))
    ]
    constant = Value(bulk * series, bulk * series * float(np.hypot(*relative)), "s")
    row = rows(SECTION, "discharge")[0]
    subject = f"Time constant of {_listed(capacitors)} with {_listed(resistors)}, by their marks,"
    note = "Several discharge resistors are taken in series, the slower case."
    common: dict[str, Any] = {
        "section": SECTION,
        "question": question,
        "origin": "adapter.toml, parts",
        "function": "inrush.discharge_time",
    }
    if bulk <= row["capacitance_above"]:
        return Finding(
            word=NO_LIMIT,
            sentence=f"{subject} is {constant}; {row['standard']} asks for a discharge only above "
            f"{Value(row['capacitance_above'], 0.0, 'F')}.",
            reading=constant,
            note=note,
            **common,
        )
    limit = Limit(
        row["time_constant"],
        "s",
        "upper",
        f"{row['standard']}, pluggable type A",
        row["source"],
        row["known"],
    )
    return against_limit(constant, limit, subject, note=f"{note} {row['condition']}.", **common)
