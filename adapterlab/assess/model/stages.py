"""The power stages of an adapter, as named inputs.

`stages_of` reads every converter that is described well enough, `missing` says what one lacks,
`parts_of` finds the parts of one.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.model.inputs import Input, allowance, between
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Converter, Mode, Part

ROOT = float(np.sqrt(2))


@dataclass(frozen=True)
class Stage:
    """One converter's power stage at the full load of its nameplate mode.

    Attributes
    ----------
    name : str
        As in the dossier.
    output_voltage, output_current : float
        Full load. [V], [A]
    lowest_voltage, highest_voltage, largest_current : float
        Ends of the output voltage and largest current that any of its modes can have. [V], [A]
    rated_power, joins_above : float
        Rating, and the output power above which it helps an output it shares. [W]
    turns_ratio : float
        Primary to secondary. [1]
    switching_frequency : float or None
        None for a converter that works at the boundary. [Hz]
    magnetising_inductance : Input
        Seen from the primary. [H]
    rectifier_drop : Input
        Of its output rectifier, one diode or transistor. [V]
    efficiency : Input
        ``(output_voltage + rectifier_drop) * output_current`` over what it draws from the bulk
        capacitor. [1]
    supposed : tuple of str
        What the dossier does not say of its kind, and is supposed.
    ports : tuple of str
        Ports it feeds.
    rectifier : str
        ``diode``, ``synchronous`` or ``unknown``.
    leakage_inductance, drain_capacitance, clamp_voltage : float or None
        None where the dossier is silent. [H], [F], [V]
    rectifier_ringing : float or None
        Overshoot of the output rectifier's reverse voltage over its step, as read. [1]
    output_capacitance, output_esr, output_esl : float or None
        Output capacitor; None where the dossier is silent. [F], [ohm], [H]
    """

    name: str
    output_voltage: float
    output_current: float
    lowest_voltage: float
    highest_voltage: float
    largest_current: float
    rated_power: float
    joins_above: float
    turns_ratio: float
    switching_frequency: float | None
    magnetising_inductance: Input
    rectifier_drop: Input
    efficiency: Input
    supposed: tuple[str, ...]
    ports: tuple[str, ...]
    rectifier: str
    leakage_inductance: float | None
    drain_capacitance: float | None
    clamp_voltage: float | None
    rectifier_ringing: float | None
    output_capacitance: float | None
    output_esr: float | None
    output_esl: float | None

    @property
    def inputs(self) -> dict[str, Input]:
        """Inductance, rectifier drop and efficiency by their names."""
        own = (self.magnetising_inductance, self.rectifier_drop, self.efficiency)
        return {item.name: item for item in own}

    @property
    def assumed(self) -> tuple[str, ...]:
        """What the dossier does not say and was assumed, as said aloud."""
        open_ones = (item.said for item in self.inputs.values() if item.origin == "assumed")
        return (*open_ones, *self.supposed)

    def power(self, drawn: Mapping[str, Any] | None = None) -> Any:
        """Power drawn from the bulk capacitor at full load, of draws or in the middle. [W]."""
        drop = self._of(self.rectifier_drop, drawn)
        return (self.output_voltage + drop) * self.output_current / self._of(self.efficiency, drawn)

    def numbers(self, drawn: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """What `adapterlab.flyback.operating_point` takes by name, of draws or in the middle."""
        return {
            "output_voltage": self.output_voltage,
            "output_current": self.output_current,
            "turns_ratio": self.turns_ratio,
            "magnetising_inductance": self._of(self.magnetising_inductance, drawn),
            "switching_frequency": self.switching_frequency,
            "diode_drop": self._of(self.rectifier_drop, drawn),
            "efficiency": self._of(self.efficiency, drawn),
        }

    @staticmethod
    def _of(item: Input, drawn: Mapping[str, Any] | None) -> Any:
        return (drawn or {}).get(item.name, item.middle)


def modes_of(specimen: Specimen, converter: Converter) -> list[Mode]:
    """Modes of the ports a converter feeds; of all ports if it names none."""
    ports = specimen.adapter.ports
    return [m for p in ports if not converter.ports or p.name in converter.ports for m in p.modes]


def missing(specimen: Specimen, converter: Converter) -> list[str]:
    """What the dossier lacks to work out a converter; empty if nothing."""
    needed = [
        key
        for key in ("turns_ratio", "magnetising_inductance")
        if getattr(converter, key) is None or getattr(converter, key) == 0
    ]
    if not any(mode.kind == "fixed" for mode in modes_of(specimen, converter)):
        needed.append("a fixed mode of one of its ports")
    return needed


@once
def stages_of(specimen: Specimen) -> tuple[Stage, ...]:
    """Power stage of every converter that lacks nothing; none where they are no flybacks."""
    construction = specimen.adapter.construction
    if construction.topology == "other":
        return ()
    return tuple(
        stage_of(specimen, converter)
        for converter in construction.converters
        if not missing(specimen, converter)
    )


def inductance_of(converter: Converter) -> Input:
    """Magnetising inductance as listed, with its tolerance as listed, else as assumed. [H]."""
    value, said = converter.magnetising_inductance or 0.0, f"the {converter.name} converter's"
    half, origin = converter.magnetising_inductance_tolerance, "marked"
    source = "adapter.toml, construction.converters"
    if half is None:
        open_one = allowance("inductance.tolerance")
        half, origin, source = open_one.ends[1], "assumed", open_one.source
        said = f"±{half:.0%} assumed for {said} {Value(value, 0.0, 'H')}"
    else:
        said = f"{said} {Value(value, 0.0, 'H')} (±{half:.0%})"
    ends = between(value * (1 - half), value * (1 + half))
    name = f"{converter.name}.magnetising_inductance"
    return Input(name, ends, "H", origin, said, source)


def _noted_or_assumed(
    converter: Converter, what: str, value: float | None, unit: str, row: str
) -> Input:
    name = f"{converter.name}.{what}"
    if value is None:
        return allowance(row, name)
    said = f"{Value(value, 0.0, unit)} noted as {what.replace('_', ' ')} of {converter.name}"
    return Input(name, value, unit, "noted", said, "adapter.toml, construction.converters")


def stage_of(specimen: Specimen, converter: Converter) -> Stage:
    """Power stage of a converter that lacks nothing, at its mode of highest power."""
    modes = modes_of(specimen, converter)
    fixed = [(mode.voltage * mode.current, mode.voltage, mode.current)
             for mode in modes if mode.voltage is not None]  # fmt: skip
    _, voltage, current = max(fixed)
    construction, supposed = specimen.adapter.construction, []
    if converter.switching_frequency is None:
        supposed.append("a frequency that keeps the current at the boundary")
    if construction.topology == "unknown":
        supposed.append("a flyback converter")
    return Stage(
        converter.name,
        voltage,
        min(current, converter.rated_power / voltage),
        min(mode.minimum_voltage or mode.voltage or np.inf for mode in modes),
        max(mode.maximum_voltage or mode.voltage or 0.0 for mode in modes),
        max(mode.current for mode in modes),
        converter.rated_power,
        converter.joins_above or 0.0,
        converter.turns_ratio or 0.0,
        converter.switching_frequency,
        inductance_of(converter),
        _noted_or_assumed(
            converter, "rectifier_drop", converter.rectifier_drop, "V",
            f"rectifier.drop.{construction.rectifier}",
        ),
        _noted_or_assumed(
            converter, "efficiency", converter.efficiency, "%", "converter.efficiency"
        ),
        tuple(supposed),
        tuple(converter.ports or [port.name for port in specimen.adapter.ports]),
        construction.rectifier,
        converter.leakage_inductance or _measured_leakage(specimen, converter),
        converter.drain_capacitance,
        converter.clamp_voltage,
        converter.rectifier_ringing,
        converter.output_capacitance,
        converter.output_esr,
        converter.output_esl,
    )  # fmt: skip


def _measured_leakage(specimen: Specimen, converter: Converter) -> float | None:
    """Leakage inductance as read on the transformer of a converter."""
    alone = len(specimen.adapter.construction.converters) == 1
    for transformer in specimen.adapter.transformers:
        if transformer.converter == converter.name or (alone and not transformer.converter):
            return transformer.leakage_inductance
    return None


def parts_of(specimen: Specimen, role: str, stage: Stage, kind: str = "") -> list[Part]:
    """Parts of a role that belong to a converter; those that name none belong to all."""
    return [
        part
        for part in specimen.adapter.parts_with_role(role)
        if part.converter in ("", stage.name) and kind in ("", part.kind)
    ]
