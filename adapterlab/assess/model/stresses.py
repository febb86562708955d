"""Voltages across switch, output rectifier and clamp."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import BRIDGE_DROP, ROOT, Stage, parts_of, spread_of
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Part
from adapterlab.flyback import operating_point, resistor_clamp_voltage
from adapterlab.uncertainty import propagate

KNOWN = {"read": "seen", "inferred": "inferred", "unknown": "memory"}


# Common practice: an LCR meter reads a leakage, a probe a clamp, to about this; a clamp's diode.
LEAKAGE_LIMIT, PROBE_LIMIT, CLAMP_DROP = 0.1, 0.05, (0.7, 1.2)


_RESISTOR_TOLERANCE = 0.05


DRAWS = 2048


@dataclass(frozen=True)
class Stress:
    """Voltage across one part at the highest mains and the highest output voltage.

    Attributes
    ----------
    stage, part, reference : str
        Converter; ``switch`` or ``output rectifier``; reference of the part, if known.
    plateau : Value
        Without spike or ringing. [V]
    top : Value or None
        With the leakage spike as the clamp cuts it, where the clamp is known. [V]
    rating : float or None
        As marked. [V]
    """

    stage: str
    part: str
    reference: str
    plateau: Value
    top: Value | None
    rating: float | None


def clamp_resistor(specimen: Specimen, stage: Stage) -> Part | None:
    """The resistor of a converter's clamp, if the dossier knows one with its value.

    A resistor that names no converter belongs to the only one there is.
    """
    several = len(specimen.adapter.construction.converters) > 1
    for part in parts_of(specimen, "clamp", stage, "resistor"):
        if part.value and (part.converter or not several):
            return part
    return None


def clamp_inputs(specimen: Specimen, stage: Stage) -> dict[str, Any]:
    """Distributions that tell the clamp: of its voltage as read, or of resistor and leakage.

    Empty if neither is known.
    """
    resistor, leakage = clamp_resistor(specimen, stage), stage.leakage_inductance
    found: dict[str, Any] = {}
    if leakage is not None:
        found["leakage"] = spread_of(leakage * (1 - LEAKAGE_LIMIT), leakage * (1 + LEAKAGE_LIMIT))
        found["clamp_drop"] = spread_of(*CLAMP_DROP)
    if stage.clamp_voltage is not None:
        volts = stage.clamp_voltage
        found["clamp"] = spread_of(volts * (1 - PROBE_LIMIT), volts * (1 + PROBE_LIMIT))
    elif resistor is not None and resistor.value and leakage is not None:
        found["resistance"] = clamp_resistance(resistor)
    else:
        return {}
    return found


def clamp_resistance(part: Part) -> Any:
    """Resistance of a clamp's resistor within its tolerance. [ohm]."""
    value = part.value or 0.0
    tolerance = _RESISTOR_TOLERANCE if part.tolerance is None else part.tolerance
    return spread_of(value * (1 - tolerance), value * (1 + tolerance))


def clamp_volts(point: Any, **known: Any) -> Any:
    """Clamp voltage at an operating point, from what `clamp_inputs` knows."""
    if "clamp" in known:
        return known["clamp"]
    return resistor_clamp_voltage(
        known["leakage"], point.primary_peak, point.switching_frequency, known["resistance"],
        point.reflected_voltage, known["clamp_drop"],
    )  # fmt: skip


def _at_the_top(specimen: Specimen, stage: Stage, drops: dict[str, Any]) -> Any:
    current = stage.output_voltage * stage.output_current / stage.highest_voltage
    return operating_point(
        ROOT * highest_mains(specimen) - drops["bridge_drop"],
        stage.highest_voltage,
        current,
        stage.turns_ratio,
        stage.magnetising_inductance,
        stage.switching_frequency,
        drops["diode_drop"],
        float(np.mean(stage.efficiency)),
    )


def stresses_of(specimen: Specimen, stage: Stage) -> list[Stress]:
    """Stress of switch and rectifier of one converter."""
    clamp = clamp_inputs(specimen, stage)

    def at(**drawn: Any) -> list[Any]:
        point = _at_the_top(specimen, stage, drawn)
        known = {name: drawn[name] for name in clamp}
        top = clamp_volts(point, **known) if clamp else point.reflected_voltage
        top = np.maximum(top + drawn.get("clamp_drop", 0.0), point.reflected_voltage)
        highest = point.switch_voltage - point.reflected_voltage + top
        return [point.switch_voltage, point.diode_voltage, highest]

    inputs = {"bridge_drop": spread_of(*BRIDGE_DROP), "diode_drop": spread_of(*stage.diode_drop)}
    drawn = propagate(at, inputs | clamp, DRAWS)
    volts = [
        Value(float(mean), float(spread), "V")
        for mean, spread in zip(drawn.mean, drawn.standard_uncertainty, strict=True)
    ]
    found = []
    for place, role in enumerate(("switch", "output rectifier")):
        part = _weakest(specimen, role, stage)
        found.append(
            Stress(
                stage.name,
                role,
                part.reference if part else "",
                volts[place],
                volts[2] if role == "switch" and clamp else None,
                part.rated_voltage if part else None,
            )
        )
    return found


def _weakest(specimen: Specimen, role: str, stage: Stage) -> Part | None:
    """The part of a role with the lowest marked voltage."""
    rated = [part for part in parts_of(specimen, role, stage) if part.rated_voltage]
    return min(rated, key=lambda part: part.rated_voltage or 0.0, default=None)
