"""Voltages across switch, output rectifier and clamp."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab.assess.model.feeds import BRIDGE_DROP, bridge_drop, bulk_voltage
from adapterlab.assess.model.inputs import Input, allowance, between, predict
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.model.stages import Stage, parts_of
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Part
from adapterlab.flyback import operating_point, resistor_clamp_voltage

KNOWN = {"read": "noted", "inferred": "noted", "unknown": "memory"}
CLAMP_DROP = "clamp.diode_drop"


@dataclass(frozen=True)
class Stress:
    """Voltage across one part at the highest mains and the highest output voltage.

    Attributes
    ----------
    stage, part, reference : str
        Converter; ``switch`` or ``output rectifier``; reference of the part, if known.
    plateau : Prediction
        Without spike or ringing. [V]
    top : Prediction or None
        With the leakage spike as the clamp cuts it, where the clamp is known. [V]
    rating : float or None
        As marked. [V]
    """

    stage: str
    part: str
    reference: str
    plateau: Prediction
    top: Prediction | None
    rating: float | None

    @property
    def highest(self) -> Prediction:
        """The highest voltage that is known. [V]."""
        return self.top or self.plateau


@dataclass(frozen=True)
class Clamp:
    """What is known of a converter's clamp.

    Attributes
    ----------
    leakage : Input or None
        Leakage inductance. [H]
    read : Input or None
        Voltage of the clamp as noted. [V]
    resistor : Part or None
        Its resistor, if the dossier knows one with its value.
    resistance : Input or None
        Value of the resistor. [ohm]
    drop : Input
        Of its diode. [V]
    """

    leakage: Input | None
    read: Input | None
    resistor: Part | None
    resistance: Input | None
    drop: Input

    @property
    def inputs(self) -> dict[str, Input]:
        """What tells its voltage, by name: its own reading, else resistor and leakage; or none."""
        if self.read is not None:
            return self._named(self.read, self.drop)
        return self.by_its_resistor

    @property
    def by_its_resistor(self) -> dict[str, Input]:
        """What tells its voltage without a reading, by name; empty if that is not known."""
        if self.leakage is None or self.resistance is None:
            return {}
        return self._named(self.leakage, self.resistance, self.drop)

    @staticmethod
    def _named(*items: Input) -> dict[str, Input]:
        return {item.name: item for item in items}

    def voltage(self, point: Any, drawn: Mapping[str, Any]) -> Any:
        """Voltage of the clamp at a working point, from draws of `inputs`. [V]."""
        if self.read is not None and self.read.name in drawn:
            return drawn[self.read.name]
        assert self.leakage is not None
        assert self.resistance is not None
        return resistor_clamp_voltage(
            drawn[self.leakage.name], point.primary_peak, point.switching_frequency,
            drawn[self.resistance.name], point.reflected_voltage, drawn[self.drop.name],
        )  # fmt: skip


def _noted(name: str, value: float | None, unit: str, accuracy: str, said: str) -> Input | None:
    """A noted value with the accuracy that is assumed for it; None if it is not noted."""
    if value is None:
        return None
    half = allowance(accuracy).ends[1]
    shown = f"±{Value(half, 0.0, '%')} assumed for the {Value(value, 0.0, unit)} noted as {said}"
    ends = between(value * (1 - half), value * (1 + half))
    return Input(name, ends, unit, "assumed", shown, allowance(accuracy).source)


def clamp_of(specimen: Specimen, stage: Stage) -> Clamp:
    """Clamp of a converter. A resistor that names no converter belongs to the only one there is."""
    several = len(specimen.adapter.construction.converters) > 1
    resistors = [
        part
        for part in parts_of(specimen, "clamp", stage, "resistor")
        if part.value and (part.converter or not several)
    ]
    resistor = resistors[0] if resistors else None
    return Clamp(
        _noted(f"{stage.name}.leakage_inductance", stage.leakage_inductance, "H",
               "leakage.accuracy", f"leakage inductance of {stage.name}"),
        _noted(f"{stage.name}.clamp_voltage", stage.clamp_voltage, "V",
               "clamp.accuracy", f"clamp voltage of {stage.name}"),
        resistor,
        specimen.part_value(resistor, "Ω", "resistor.tolerance") if resistor else None,
        allowance(CLAMP_DROP, f"{stage.name}.{CLAMP_DROP}"),
    )  # fmt: skip


@once
def stresses_of(specimen: Specimen, stage: Stage) -> tuple[Stress, ...]:
    """Stress of switch and rectifier of one converter."""
    clamp, mains = clamp_of(specimen, stage), (highest_mains(specimen), 50.0)
    current = stage.output_voltage * stage.output_current / stage.highest_voltage
    top = replace(stage, output_voltage=stage.highest_voltage, output_current=current)

    def at(**drawn: Any) -> list[Any]:
        source = bulk_voltage(mains, drawn[BRIDGE_DROP])
        point = operating_point(source, **top.numbers(drawn))
        spike = point.reflected_voltage
        if clamp.inputs:
            held = clamp.voltage(point, drawn) + drawn[clamp.drop.name]
            spike = np.maximum(held, point.reflected_voltage)
        return [point.switch_voltage, point.diode_voltage, source + spike]

    plateau, blocked, highest = predict(at, bridge_drop() | stage.inputs | clamp.inputs, "V")
    found = []
    for role, volts in (("switch", plateau), ("output rectifier", blocked)):
        part = _weakest(specimen, role, stage)
        found.append(
            Stress(
                stage.name,
                role,
                part.reference if part else "",
                volts,
                highest if role == "switch" and clamp.inputs else None,
                part.rated_voltage if part else None,
            )
        )
    return tuple(found)


def _weakest(specimen: Specimen, role: str, stage: Stage) -> Part | None:
    """The part of a role with the lowest marked voltage."""
    rated = [part for part in parts_of(specimen, role, stage) if part.rated_voltage]
    return min(rated, key=lambda part: part.rated_voltage or 0.0, default=None)
