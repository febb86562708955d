"""The parts between plug and converter: one record of them, for the surge as for the steady state.

`rectifier_of` turns the parts list into named inputs, `Rectifier.path` turns drawn inputs into the
numbers of the circuit. How warm the limiter is stands in `adapterlab.assess.model.limiter`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.model.inputs import Input, between, drawn
from adapterlab.assess.model.limiter import (
    ONLY_AT_PLUG_IN,
    ONLY_AT_WORK,
    disc_of,
    limiter_inputs,
)
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Part
from adapterlab.inrush import Thermistor
from adapterlab.mains_current import RectifierSteadyState, rectifier_steady_state
from adapterlab.numerics.diodes import Bridge


@dataclass(frozen=True)
class Path:
    """The circuit between plug and converter, in numbers or in draws of shape (n,).

    Attributes
    ----------
    bulk_capacitance, bulk_esr : float or numpy.ndarray
        Of the bulk capacitors together. [F], [ohm]
    resistance : float or numpy.ndarray
        In series before the bridge, but for thermistors. [ohm]
    inductance : float or numpy.ndarray
        In series before the bridge. [H]
    bridge : Bridge
        Its two conducting diodes.
    disc : Thermistor or None
        The thermistors in series as one; None without any.
    room : float or numpy.ndarray
        Temperature of the room, and of a cold limiter. [°C]
    """

    bulk_capacitance: Any
    bulk_esr: Any
    resistance: Any
    inductance: Any
    bridge: Bridge
    disc: Thermistor | None
    room: Any

    @property
    def other_resistance(self) -> Any:
        """Everything but thermistors that a surge flows through. [ohm]."""
        return self.resistance + self.bridge.resistance + self.bulk_esr

    def at_plug_in(self) -> dict[str, Any]:
        """Arguments of `plug_in_surge`, but for mains and angle of contact."""
        return {
            "bulk_capacitance": self.bulk_capacitance,
            "series_resistance": self.resistance,
            "source_inductance": self.inductance,
            "bulk_esr": self.bulk_esr,
            "bridge_drop": self.bridge.drop,
            "bridge_resistance": self.bridge.resistance,
            "thermistor": self.disc,
            "ambient": self.room,
        }

    def running(self, limiter: Any) -> dict[str, Any]:
        """Arguments of `rectifier_steady_state`, but for mains and load.

        `limiter` is the resistance of the thermistors at work. [ohm]
        """
        return {
            "bulk_capacitance": self.bulk_capacitance,
            "source_resistance": self.resistance + limiter,
            "source_inductance": self.inductance,
            "bulk_esr": self.bulk_esr,
            "bridge_drop": self.bridge.drop,
            "bridge_resistance": self.bridge.resistance,
        }


@dataclass(frozen=True)
class Rectifier:
    """The parts between plug and converter.

    Attributes
    ----------
    capacitors, limiters, chokes : tuple of Part
        Bulk capacitors, inrush limiters and line chokes.
    inputs : dict of str to Input
        Everything that the circuit rests on, by name.
    label : str
        Bulk capacitors with their value, as said aloud.
    path_label : str
        Limiter and bulk capacitors with their values, as said aloud.
    """

    capacitors: tuple[Part, ...]
    limiters: tuple[Part, ...]
    chokes: tuple[Part, ...]
    inputs: dict[str, Input]
    label: str
    path_label: str

    @property
    def discs(self) -> tuple[Part, ...]:
        """The thermistors among the limiters."""
        return tuple(part for part in self.limiters if part.kind == "thermistor")

    @property
    def at_work(self) -> dict[str, Input]:
        """The inputs that the steady state rests on."""
        return {name: item for name, item in self.inputs.items() if name not in ONLY_AT_PLUG_IN}

    @property
    def at_plug_in(self) -> dict[str, Input]:
        """The inputs that a surge rests on."""
        return {name: item for name, item in self.inputs.items() if name not in ONLY_AT_WORK}

    def path(self, drawn_values: Mapping[str, Any]) -> Path:
        """The circuit from drawn inputs, those that are left out at their middle."""
        values = self.middle() | dict(drawn_values)
        resistance = values["supply.resistance"] + values["wiring.resistance"]
        inductance = values["supply.inductance"]
        for part in self.limiters:
            if part.kind != "thermistor":
                resistance = resistance + values[f"{part.reference}.value"]
        for part in self.chokes:
            resistance = resistance + (part.series_resistance or 0.0)
            inductance = inductance + _leakage(part, values)
        store: Any = 0.0
        admittance: Any = 0.0
        for chain in chains(self.capacitors):
            store = store + 1 / sum(1 / values[f"{part.reference}.value"] for part in chain)
            admittance = admittance + 1 / sum(_series_resistance(part, values) for part in chain)
        return Path(
            store,
            1 / admittance,
            resistance,
            inductance,
            Bridge(values["bridge.drop"], values["bridge.resistance"]),
            disc_of(self.discs, values),
            values["room.temperature"],
        )

    def running(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """Arguments of `rectifier_steady_state` from drawn inputs, but for mains and load."""
        path, values = self.path(values), self.middle() | dict(values)
        warm = path.disc.resistance_25 * values["thermistor.warm_share"] if path.disc else 0.0
        return path.running(warm)

    def middle(self) -> dict[str, float]:
        """Every input at its middle."""
        return {name: item.middle for name, item in self.inputs.items()}

    def draws(self, count: int) -> dict[str, Any]:
        """Arguments of `rectifier_steady_state` from draws of every input."""
        return self.running(drawn(self.at_work, count))


def _series_resistance(part: Part, values: Mapping[str, Any]) -> Any:
    if part.series_resistance:
        return part.series_resistance * values["bulk.series_resistance_factor"]
    return values["bulk.series_resistance"]


def chains(parts: Sequence[Part]) -> list[list[Part]]:
    """Capacitors that stand in series, together; those in parallel apart."""
    found: list[list[Part]] = []
    for part in parts:
        tied = [
            chain
            for chain in found
            if any(
                part.in_series_with == other.reference or other.in_series_with == part.reference
                for other in chain
            )
        ]
        found = [chain for chain in found if chain not in tied]
        found.append([other for chain in tied for other in chain] + [part])
    return found


def _noted(specimen: Specimen, name: str, value: float | None, spread: float | None) -> Input:
    """The supply's resistance or inductance as noted, else as assumed."""
    assumed = specimen.allowance(name)
    if value is None:
        return assumed
    half = specimen.allowance("supply.reading").ends[1] * value if spread is None else spread
    shown = f"{Value(value, 0.0, assumed.unit)} noted for the supply and its leads"
    # What is known poorly is still not below zero.
    ends = between(max(value - half, 0.0), value + half)
    return Input(name, ends, assumed.unit, "noted", shown, "adapter.toml, [supply]", bench=True)


def supply_inputs(specimen: Specimen) -> tuple[Input, Input]:
    """Resistance and inductance of the supply and its leads, as noted or assumed. [ohm], [H]."""
    supply = specimen.adapter.supply
    return (
        _noted(specimen, "supply.resistance", supply.resistance, supply.resistance_uncertainty),
        _noted(specimen, "supply.inductance", supply.inductance, supply.inductance_uncertainty),
    )


def _leakage(part: Part, values: Mapping[str, Any]) -> Any:
    """What a common-mode choke leaves for the current that flows through both windings. [H]."""
    if part.leakage_inductance:
        return part.leakage_inductance * values["choke.leakage_factor"]
    return part.value * values["choke.leakage_share"] if part.value else values["choke.leakage"]


def _left_open(capacitors: Sequence[Part], chokes: Sequence[Part]) -> list[str]:
    """Names of the allowances that these parts need."""
    found = ["wiring.resistance", "bridge.drop", "bridge.resistance"]
    for part in capacitors:
        listed = part.series_resistance is not None
        found.append(f"bulk.series_resistance{'_factor' if listed else ''}")
    for part in chokes:
        listed = part.leakage_inductance is not None
        found.append(
            "choke.leakage_factor" if listed else "choke.leakage_share" if part.value
            else "choke.leakage"
        )  # fmt: skip
    return list(dict.fromkeys(found))


@once
def rectifier_of(specimen: Specimen) -> Rectifier | None:
    """The parts between plug and converter, from the parts list.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    Rectifier or None
        None unless there is a bulk capacitor, and every bulk capacitor and every inrush limiter
        that is listed has a value.
    """
    adapter = specimen.adapter
    capacitors = tuple(adapter.parts_with_role("bulk capacitor"))
    limiters = tuple(adapter.parts_with_role("inrush limiter"))
    chokes = tuple(adapter.parts_with_role("line choke"))
    if not capacitors or any(part.value is None for part in (*capacitors, *limiters)):
        return None
    found = [
        *supply_inputs(specimen),
        *(specimen.allowance(name) for name in _left_open(capacitors, chokes)),
        *(specimen.part_value(part, "F", "bulk.tolerance") for part in capacitors),
        *limiter_inputs(specimen, limiters),
    ]
    inputs = {item.name: item for item in found}
    bulk = sum(1 / sum(1 / (p.value or 1.0) for p in chain) for chain in chains(capacitors))
    label = f"{listed(capacitors)} ({Value(bulk, 0.0, 'F')})"
    series = sum(part.value or 0.0 for part in limiters)
    first = f"{listed(limiters)} ({Value(series, 0.0, 'Ω')}) with " if limiters else ""
    return Rectifier(capacitors, limiters, chokes, inputs, label, first + label)


def listed(parts: Sequence[Part]) -> str:
    """References of parts, as said aloud."""
    names = [part.reference for part in parts]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def at_input_power(
    parts: Mapping[str, Any],
    mains_voltage: Any,
    mains_frequency: Any,
    input_power: Any,
    share: float = 0.97,
    corrections: int = 2,
    harmonics: Any = None,
) -> RectifierSteadyState:
    """The rectifier whose load makes it draw an input power from the mains.

    Parameters
    ----------
    parts : mapping
        Arguments of `rectifier_steady_state`, but for mains and load.
    mains_voltage, mains_frequency, input_power : float or numpy.ndarray
        [V], [Hz], [W]
    share : float, optional
        Share of the input power that is thought to reach the capacitor. [1]
    corrections : int, optional
        How often the load is corrected; each brings the input power closer.
    harmonics : array_like, optional
        Shape of the mains, as `rectifier_steady_state` takes it.

    Returns
    -------
    RectifierSteadyState
        With the input power met to about 1 part in 10 000.

    Raises
    ------
    ValueError
        If there is no steady state.
    """
    load: Any = np.asarray(input_power) * share
    mains = (mains_voltage, mains_frequency)
    found = rectifier_steady_state(*mains, load, **parts, harmonics=harmonics)
    for _ in range(corrections):
        load = load + input_power - found.input_power
        found = rectifier_steady_state(*mains, load, **parts, harmonics=harmonics)
    return found
