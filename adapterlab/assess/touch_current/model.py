"""What bridges the barrier of an adapter, and what the rail makes of it for a reading."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.feeds import bulk_capacitance, bulk_inputs
from adapterlab.assess.model.inputs import Input, between, drawn, measured, predict
from adapterlab.assess.model.rectifier import chains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.assess.touch_current.readings import TouchReading
from adapterlab.touch_current import indicated_current, rail_waveform, series_capacitance

BRIDGE, PIN = "bridge-with-reservoir", "full-mains"
NETWORKS = ("weighted", "unweighted")
# A reservoir of fewer times the barrier's capacitance is left out of the rail model.
_LEAST_RESERVOIR = 500
_POINTS = 1024

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Barrier:
    """What the parts list puts across the barrier.

    Attributes
    ----------
    capacitors : tuple of tuple of Input
        Values of the barrier capacitors, those in series with each other together.
    windings : Input or None
        Capacitance between the windings; None if none was measured.
    references : tuple of str
        Of the barrier capacitors.
    marked : float
        Their marked values as one. [F]
    marked_ends : tuple of float
        The same with every part at either end of its tolerance. [F]
    """

    capacitors: tuple[tuple[Input, ...], ...]
    windings: Input | None
    references: tuple[str, ...]
    marked: float
    marked_ends: tuple[float, float]

    @property
    def label(self) -> str:
        """References and value of the capacitors, as said aloud."""
        how = "together" if len(self.references) > 1 else "marked"
        return f"{' and '.join(self.references)} ({Value(self.marked, 0.0, 'F')} {how})"

    @property
    def known(self) -> str:
        """Everything that is known to bridge the barrier, as said aloud."""
        if self.windings is None:
            return self.label
        return f"{self.label} and the windings' {Value(self.windings.middle, 0.0, 'F').short}"

    @property
    def is_one(self) -> bool:
        """Whether it is a single part."""
        return len(self.references) == 1 and self.windings is None

    @property
    def inputs(self) -> dict[str, Input]:
        """Everything it is made of, by parameter."""
        found = {part.name: part for chain in self.capacitors for part in chain}
        return found | ({} if self.windings is None else {"windings": self.windings})

    def capacitance(self, **values: Any) -> tuple[Any, Any]:
        """Capacitance of the capacitors and of the windings, from values of `inputs`. [F], [F]."""
        chains = [[np.asarray(values[part.name]) for part in chain] for chain in self.capacitors]
        capacitors = sum(
            np.asarray(series_capacitance(np.stack(np.broadcast_arrays(*chain), axis=-1)))
            for chain in chains
        )
        return capacitors, values.get("windings", 0.0)

    @property
    def prediction(self) -> Prediction:
        """Capacitance of everything together. [F]."""
        return predict(lambda **values: sum(self.capacitance(**values)), self.inputs, "F")[0]


def barrier_of(specimen: Specimen) -> Barrier | None:
    """What bridges the barrier of an adapter by its parts list.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    Barrier or None
        None unless every barrier capacitor has a value.
    """
    parts = specimen.adapter.parts_with_role("barrier capacitor")
    if not parts or any(not part.value for part in parts):
        return None
    capacitors = tuple(
        tuple(specimen.part_value(part, "F", "barrier.tolerance") for part in chain)
        for chain in chains(tuple(parts))
    )
    marked = sum(float(series_capacitance([p.middle for p in chain])) for chain in capacitors)
    low, high = (
        sum(float(series_capacitance([p.ends[end] for p in chain])) for chain in capacitors)
        for end in (0, 1)
    )
    references = tuple(part.reference for part in parts)
    return Barrier(capacitors, windings_of(specimen), references, marked, (low, high))


def windings_of(specimen: Specimen) -> Input | None:
    """Capacitance between the windings of all transformers; None if none was measured."""
    found = [t.interwinding_capacitance for t in specimen.adapter.transformers]
    total = sum(item for item in found if item is not None)
    if not total:
        return None
    low, high = specimen.allowance("windings.capacitance").ends
    return Input(
        "windings.capacitance",
        between((1 + low) * total, (1 + high) * total),
        "F",
        "noted",
        f"{Value(total, 0.0, 'F')} noted between the windings",
        "adapter.toml, transformers, interwinding_capacitance",
    )


@dataclass(frozen=True)
class RailModel:
    """The rail of one adapter, as far as its dossier tells.

    Attributes
    ----------
    specimen : Specimen
        The adapter.
    rail : str
        Where the barrier capacitance sits, as in `adapterlab.touch_current.RAILS`.
    """

    specimen: Specimen
    rail: str

    @property
    def bulk(self) -> dict[str, Input]:
        """Values of the bulk capacitors; empty if one has none, and no ripple is reckoned with."""
        return bulk_inputs(self.specimen)

    def reservoir(self, values: Mapping[str, Any] | None = None) -> Any:
        """All bulk capacitors together, from values of `bulk` or in the middle. [F]."""
        return bulk_capacitance(self.specimen, values)

    def inputs(self, reading: TouchReading) -> dict[str, Input]:
        """What a reading's prediction rests on beside what bridges the barrier."""
        known: dict[str, Input] = {}
        for name, value, unit in (
            ("mains voltage", reading.mains_voltage, "V"),
            ("mains frequency", reading.mains_frequency, "Hz"),
        ):
            read = self.specimen.reading(name, value, unit)
            known[name.replace(" ", "_")] = measured(
                f"{name}, line {reading.line}", read, f"{read} mains", source=reading.origin,
                column=f"meter of {name}",
            )  # fmt: skip
        assumed = {
            "slope": "mains.slope",
            "model": "rail_model.deviation",
            "junction": "bridge.junction_capacitance",
            "bridge_drop": "bridge.drop_at_microamperes",
        }
        if not reading.network:
            assumed["network"] = "touch_current.network"
        if self.bulk and reading.output_power > 0:
            known |= self.bulk
            assumed["efficiency"] = "converter.efficiency"
        return known | {key: self.specimen.allowance(name) for key, name in assumed.items()}

    def per_farad(self, reading: TouchReading, total: float, windings: float = 0.0) -> "Response":
        """What a reading shows for each farad, near a capacitance of which windings are a part."""
        return Response(self, reading, total, windings / total if self.rail == BRIDGE else 0.0)

    def ideal(self, reading: TouchReading) -> float:
        """What a reading shows for each farad with the ideal rail. [A/F]."""
        shown = indicated_current(
            1.0,
            reading.mains_voltage,
            reading.mains_frequency,
            self.rail,
            reading.network or "weighted",
            reading.quantity,
        )
        return float(shown)


def _through(places: Floats, values: Floats, at: Any) -> Any:
    """The parabola through three points; a constant where they are one."""
    if places[0] == places[2]:
        return 1.0
    low, middle, high = places
    first, second, third = values
    return (
        first * (at - middle) * (at - high) / ((low - middle) * (low - high))
        + second * (at - low) * (at - high) / ((middle - low) * (middle - high))
        + third * (at - low) * (at - middle) / ((high - low) * (high - middle))
    )


class Response:
    """What the rail makes of a capacitance, as a function quick enough to be drawn from.

    A reading is ωVC times a factor that depends on four ratios: junction to barrier capacitance,
    windings' share, the diodes' drop to the crest, and the charge a period takes out of the
    reservoir to what it holds. The rail is solved at the middle and at both ends of each; between
    them each has its parabola, and the four multiply. That lies within 0.1 % of solving the rail
    for every draw.

    Parameters
    ----------
    model : RailModel
        The adapter's rail.
    reading : TouchReading
        What was read.
    total : float
        Capacitance near which it is used. [F]
    winding_share : float
        Part of it that lies between the windings. [1]
    """

    def __init__(
        self, model: RailModel, reading: TouchReading, total: float, winding_share: float
    ) -> None:
        self._model, self._reading = model, reading
        self.inputs = model.inputs(reading)
        self._total, self._share = total, winding_share
        self._bulk = bool(model.bulk) and reading.output_power > 0
        middle = {key: item.middle for key, item in self.inputs.items()}
        ends = [{key: item.ends[end] for key, item in self.inputs.items()} for end in (0, 1)]
        self._places = {}
        for name, centre in self._ratios(total, winding_share, middle).items():
            low, high = sorted(
                self._ratios(total * wide, winding_share * wide, values)[name]
                for values, wide in zip(ends, (1.3, 0.7), strict=True)
            )
            self._places[name] = np.array([low, centre, high])
        self._factors = {network: self._solve(network) for network in self._networks}

    @property
    def _networks(self) -> tuple[str, ...]:
        return (self._reading.network,) if self._reading.network else NETWORKS

    def _ratios(self, total: Any, winding_share: Any, values: dict[str, Any]) -> dict[str, Any]:
        voltage, frequency = self._reading.mains_voltage, self._reading.mains_frequency
        found = {
            "junction": values["junction"] / total,
            "windings": winding_share,
            "drop": values["bridge_drop"] / (np.sqrt(2) * voltage),
        }
        if self._bulk:
            held = self._model.reservoir(values) * voltage**2 * frequency
            found["charge"] = self._reading.output_power / values["efficiency"] / held
        return found

    def _solve(self, network: str) -> dict[str, Floats]:
        """The rail's factor at the three places of each ratio, over that in the middle."""
        names = list(self._places)
        table = np.tile([self._places[name][1] for name in names], (2 * len(names) + 1, 1))
        for row, name in enumerate(names):
            table[2 * row + 1, row], table[2 * row + 2, row] = self._places[name][[0, 2]]
        ratio = dict(zip(names, table.T, strict=True))
        voltage, frequency = self._reading.mains_voltage, self._reading.mains_frequency
        bulk = self._reservoir
        wave = rail_waveform(
            self._total * (1 - ratio["windings"]),
            voltage,
            frequency,
            self._model.rail,
            network,
            bulk_capacitance=bulk,
            load_power=0.0 if bulk is None else ratio["charge"] * bulk * voltage**2 * frequency,
            bridge_drop=ratio["drop"] * np.sqrt(2) * voltage,
            diode_capacitance=ratio["junction"] * self._total,
            interwinding_capacitance=self._total * ratio["windings"],
            points=_POINTS,
        )
        shown = wave.indicated_rms if self._reading.quantity == "rms" else wave.indicated_peak
        factor = np.asarray(shown) / (2 * np.pi * frequency * voltage * self._total)
        found = {"": factor[:1]}
        for row, name in enumerate(names):
            found[name] = factor[[2 * row + 1, 0, 2 * row + 2]] / factor[0]
        return found

    @property
    def _reservoir(self) -> float | None:
        if not self._bulk:
            return None
        bulk = float(self._model.reservoir())
        return bulk if bulk >= _LEAST_RESERVOIR * self._total else None

    def at(self, total: Any, winding_share: Any = None, **values: Any) -> Any:
        """Reading for each farad. [A/F], broadcast shape."""
        share = self._share if winding_share is None else winding_share
        factors = []
        for network in self._networks:
            found = self._factors[network]
            factor = found[""][0]
            for name, place in self._ratios(total, share, values).items():
                factor = factor * _through(self._places[name], found[name], place)
            factors.append(factor)
        factor = factors[0]
        if len(factors) > 1:
            factor = factor + values["network"] * (factors[1] - factor)
        omega = 2 * np.pi * values["mains_frequency"]
        steep = omega * values["mains_voltage"] * (1 + values["slope"])
        return steep * (1 + values["model"]) * factor


def predicted_current(model: RailModel, reading: TouchReading, barrier: Barrier) -> Prediction:
    """What the parts predict for a reading. [A]."""
    on_rail = model.rail == BRIDGE
    windings = barrier.windings.middle if barrier.windings is not None else 0.0
    response = model.per_farad(reading, barrier.marked + windings, windings)

    def current(**values: Any) -> Any:
        own = {key: values.pop(key) for key in barrier.inputs}
        capacitors, between_windings = barrier.capacitance(**own)
        total = capacitors + between_windings
        share = between_windings / total if on_rail else 0.0
        return total * response.at(total, share, **values)

    return predict(current, barrier.inputs | response.inputs, "A")[0]


@dataclass(frozen=True)
class Implied:
    """Capacitance across the barrier that a reading implies.

    Attributes
    ----------
    prediction : Prediction
        With everything it rests on. [F]
    model_factor, model_uncertainty : float
        Reading of the rail over that of the ideal one, and its relative standard uncertainty. [1]
    """

    prediction: Prediction
    model_factor: float
    model_uncertainty: float


def implied_capacitance(
    model: RailModel, reading: TouchReading, barrier: Barrier | None
) -> Implied:
    """The capacitance a reading implies, wherever it sits."""
    ideal = model.ideal(reading)
    guess = reading.current.value / ideal
    windings = 0.0 if barrier is None or barrier.windings is None else barrier.windings.middle
    response = model.per_farad(reading, guess, min(windings, guess))
    read = measured(
        f"touch current, line {reading.line}", reading.current, f"a reading of {reading.current}",
        source=reading.origin, column="meter of touch current",
    )  # fmt: skip

    def capacitance(current: Any, **values: Any) -> Any:
        total = current / response.at(guess, **values)
        return current / response.at(total, **values)

    found = predict(capacitance, {"current": read} | response.inputs, "F")[0]
    steady: Callable[..., Any] = partial(response.at, found.value.value)
    values = drawn(response.inputs)
    values |= {"mains_voltage": reading.mains_voltage, "mains_frequency": reading.mains_frequency}
    factor = np.atleast_1d(steady(**values)) / ideal
    return Implied(found, float(factor.mean()), float(factor.std(ddof=1) / factor.mean()))
