"""Voltages across switch, output rectifier and clamp."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab.assess.model.feeds import BRIDGE_DROP, bridge_drop, bulk_voltage
from adapterlab.assess.model.inputs import Input, allowance, noted, predict
from adapterlab.assess.model.mains import top_of_mains
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.model.stages import Stage, parts_of
from adapterlab.assess.report.prediction import Prediction
from adapterlab.dossier.schema import Part
from adapterlab.flyback import operating_point, resistor_clamp_voltage

CLAMP_DROP = "clamp.diode_drop"


@dataclass(frozen=True)
class Stress:
    """Voltage across one part at the top of the mains and the highest output voltage.

    Attributes
    ----------
    stage, part, reference : str
        Converter; ``switch`` or ``output rectifier``; reference of the part, if known.
    plateau : Prediction
        Without spike or ringing. [V]
    top : Prediction or None
        With the leakage spike as the clamp cuts it, or with the ringing as it was read or as a
        snubber leaves it; None where that is not known. [V]
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


def _read(specimen: Specimen, stage: Stage, what: str, measures: str, unit: str) -> Input | None:
    """Something noted of a stage as an instrument read it; None if it is not noted."""
    value = getattr(stage, what)
    if value is None:
        return None
    said = f"{what.replace('_', ' ')} of the {stage.name} converter"
    return specimen.as_read(f"{stage.name}.{what}", measures, value, unit, said)


def why_not_rated(part: Part) -> str:
    """Why no verdict may rest on a part's rating, as the end of a sentence; empty if one may."""
    return {
        "read": "",
        "inferred": f"{part.reference} is inferred from its place and shape and was not read",
        "unknown": f"how {part.reference} was identified is not noted",
    }[part.identified_by]


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
        _read(specimen, stage, "leakage_inductance", "inductance", "H"),
        _read(specimen, stage, "clamp_voltage", "capture voltage", "V"),
        resistor,
        specimen.part_value(resistor, "Ω", "resistor.tolerance") if resistor else None,
        allowance(CLAMP_DROP, f"{stage.name}.{CLAMP_DROP}"),
    )  # fmt: skip


def _ringing(specimen: Specimen, stage: Stage) -> Input | None:
    """Overshoot of the output rectifier over the step of its voltage: read, or left by a snubber.

    [1]  None where neither a reading nor a snubber is listed.
    """
    name = f"{stage.name}.rectifier_ringing"
    if stage.rectifier_ringing is not None:
        said = f"ringing of the output rectifier in the {stage.name} converter"
        return noted(name, stage.rectifier_ringing, "%", "ringing.accuracy", said)
    return allowance("snubber.overshoot", name) if parts_of(specimen, "snubber", stage) else None


@once
def stresses_of(specimen: Specimen, stage: Stage) -> tuple[Stress, ...]:
    """Stress of switch and rectifier of one converter."""
    clamp, mains = clamp_of(specimen, stage), (top_of_mains(specimen), 50.0)
    ringing = _ringing(specimen, stage)
    current = stage.output_voltage * stage.output_current / stage.highest_voltage
    hardest = replace(stage, output_voltage=stage.highest_voltage, output_current=current)

    def at(**drawn: Any) -> list[Any]:
        source = bulk_voltage(mains, drawn[BRIDGE_DROP])
        point = operating_point(source, **hardest.numbers(drawn))
        spike = point.reflected_voltage
        if clamp.inputs:
            held = clamp.voltage(point, drawn) + drawn[clamp.drop.name]
            spike = np.maximum(held, point.reflected_voltage)
        blocked = point.diode_voltage
        step = blocked + drawn[stage.rectifier_drop.name]
        ring = drawn[ringing.name] * step if ringing is not None else 0.0
        return [point.switch_voltage, source + spike, blocked, blocked + ring]

    inputs = bridge_drop() | stage.inputs | clamp.inputs
    if ringing is not None:
        inputs |= {ringing.name: ringing}
    plateau, spiked, blocked, rung = predict(at, inputs, "V")
    found = []
    for role, volts, top in (
        ("switch", plateau, spiked if clamp.inputs else None),
        ("output rectifier", blocked, rung if ringing is not None else None),
    ):
        part = _weakest(specimen, role, stage)
        found.append(
            Stress(
                stage.name,
                role,
                part.reference if part else "",
                volts,
                top,
                part.rated_voltage if part else None,
            )
        )
    return tuple(found)


def _weakest(specimen: Specimen, role: str, stage: Stage) -> Part | None:
    """The part of a role with the lowest marked voltage."""
    rated = [part for part in parts_of(specimen, role, stage) if part.rated_voltage]
    return min(rated, key=lambda part: part.rated_voltage or 0.0, default=None)
