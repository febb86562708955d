"""What feeds a converter, as named inputs: bulk capacitors, bridge, and the other converters.

`stage_inputs` are the inputs of one power stage, `bulk_inputs` those of the bulk capacitors;
`bulk_capacitance`, `drawn_power` and `bulk_voltage` are functions of their draws.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from adapterlab.assess.model.inputs import Input, allowance, between
from adapterlab.assess.model.rectifier import chains
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.model.stages import ROOT, Stage, missing, stage_of
from adapterlab.assess.report.value import Value
from adapterlab.flyback import bulk_valley_voltage, ideal_conduction_time

BRIDGE_DROP = "bridge.drop"


@once
def stages_of(specimen: Specimen) -> tuple[Stage, ...]:
    """Every converter that the dossier describes well enough to work it out."""
    return tuple(
        stage_of(specimen, converter)
        for converter in specimen.adapter.construction.converters
        if not missing(specimen, converter)
    )


def _span(name: str, ends: tuple[float, float], unit: str, said: str) -> Input:
    """An input that the dossier notes, or that a range of common practice stands for."""
    low, high = ends
    if high > low:
        shown = f"{Value(low, 0.0, unit)} to {Value(high, 0.0, unit)} assumed for {said}"
        return Input(name, between(low, high), unit, "assumed", shown, "common practice")
    return Input(name, low, unit, "noted", f"{Value(low, 0.0, unit)} noted for {said}")


def stage_inputs(stage: Stage) -> dict[str, Input]:
    """Inductance, rectifier drop and efficiency of a power stage, by their names."""
    tolerance, middle = stage.inductance_tolerance, stage.magnetising_inductance
    whose = f"of the {stage.name} converter"
    found = (
        Input(
            f"{stage.name}.magnetising_inductance",
            between(middle * (1 - tolerance), middle * (1 + tolerance)),
            "H",
            "marked",
            f"{Value(middle, 0.0, 'H')} (±{tolerance:.0%}) in the primary {whose}",
            "adapter.toml, construction.converters",
        ),
        _span(f"{stage.name}.rectifier_drop", stage.diode_drop, "V", f"the rectifier {whose}"),
        _span(f"{stage.name}.efficiency", stage.efficiency, "%", f"the efficiency {whose}"),
    )
    return {item.name: item for item in found}


def bulk_inputs(specimen: Specimen) -> dict[str, Input]:
    """Capacitance of every bulk capacitor; empty if one is not known."""
    parts = specimen.adapter.parts_with_role("bulk capacitor")
    if any(part.value is None for part in parts):
        return {}
    found = (specimen.part_value(part, "F", "bulk.tolerance") for part in parts)
    return {item.name: item for item in found}


def bulk_capacitance(specimen: Specimen, drawn: Mapping[str, Any]) -> Any:
    """All bulk capacitors together, those in series as one. [F], shape of the draws."""
    parts = tuple(specimen.adapter.parts_with_role("bulk capacitor"))
    total: Any = 0.0
    for chain in chains(parts):
        total = total + 1 / sum(1 / drawn[f"{part.reference}.value"] for part in chain)
    return total


def stage_power(stage: Stage, drawn: Mapping[str, Any]) -> Any:
    """Power that a stage at full load draws from the bulk capacitor. [W], shape of the draws."""
    volts = stage.output_voltage + drawn[f"{stage.name}.rectifier_drop"]
    return volts * stage.output_current / drawn[f"{stage.name}.efficiency"]


def rated_share(specimen: Specimen, stages: Sequence[Stage]) -> float:
    """Part of the stages' full loads that the nameplate allows at once. [1]."""
    outputs = sum(stage.output_voltage * stage.output_current for stage in stages)
    return min(1.0, specimen.adapter.nameplate.rated_power / outputs) if outputs else 1.0


def bulk_voltage(
    mains: tuple[float, float], drop: Any, power: Any = 0.0, capacitance: Any = None
) -> Any:
    """Bulk voltage at the crest, or in the valley if a capacitance is given. [V].

    Parameters
    ----------
    mains : tuple of float
        Voltage and frequency. [V], [Hz]
    drop : float or numpy.ndarray
        Of the bridge's two conducting diodes. [V]
    power : float or numpy.ndarray, optional
        Drawn from the capacitors. [W]
    capacitance : float or numpy.ndarray, optional
        Of all of them together. [F]

    Returns
    -------
    float or numpy.ndarray
        Voltage. [V]

    Raises
    ------
    ValueError
        If the capacitor runs empty between two crests.
    """
    voltage = mains[0] - drop / ROOT
    if capacitance is None:
        return ROOT * voltage
    line = (voltage, mains[1], power, capacitance)
    return np.asarray(bulk_valley_voltage(*line, ideal_conduction_time(*line)))


def bridge_drop() -> dict[str, Input]:
    """The drop of the bridge, by its name."""
    return {BRIDGE_DROP: allowance(BRIDGE_DROP)}
