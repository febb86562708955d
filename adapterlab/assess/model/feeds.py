"""What feeds the converters, as named inputs: bulk capacitors and bridge.

`bulk_inputs` are the capacitors' values, `bridge_drop` the drop of the bridge;
`bulk_capacitance` and `bulk_voltage` are functions of their draws.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from adapterlab.assess.model.inputs import Input, allowance
from adapterlab.assess.model.rectifier import chains
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.model.stages import ROOT, Stage
from adapterlab.flyback import bulk_valley_voltage, ideal_conduction_time

BRIDGE_DROP = "bridge.drop"


def bridge_drop() -> dict[str, Input]:
    """Drop of the bridge's two conducting diodes together, by its name. [V]."""
    return {BRIDGE_DROP: allowance(BRIDGE_DROP)}


@once
def bulk_inputs(specimen: Specimen) -> dict[str, Input]:
    """Value of every bulk capacitor by its name; none unless all are known. [F]."""
    parts = specimen.adapter.parts_with_role("bulk capacitor")
    if any(part.value is None for part in parts):
        return {}
    found = (specimen.part_value(part, "F", "bulk.tolerance") for part in parts)
    return {item.name: item for item in found}


def bulk_capacitance(specimen: Specimen, drawn: Mapping[str, Any] | None = None) -> Any:
    """All bulk capacitors together, those in series as one, of draws or in the middle. [F]."""
    middle = {name: item.middle for name, item in bulk_inputs(specimen).items()}
    values = middle | dict(drawn or {})
    total: Any = 0.0
    for chain in chains(tuple(specimen.adapter.parts_with_role("bulk capacitor"))):
        total = total + 1 / sum(1 / values[f"{part.reference}.value"] for part in chain)
    return total


def rated_share(specimen: Specimen, stages: Sequence[Stage]) -> float:
    """Part of the stages' full loads that the nameplate allows at once. [1]."""
    outputs = sum(stage.output_voltage * stage.output_current for stage in stages)
    return min(1.0, specimen.adapter.nameplate.rated_power / outputs) if outputs else 1.0


def bulk_voltage(
    mains: tuple[float, float], drop: Any, power: Any = 0.0, capacitance: Any = None
) -> Any:
    """Bulk voltage at the crest, or in the valley if a capacitance is given.

    Parameters
    ----------
    mains : tuple of float
        Voltage and frequency. [V], [Hz]
    drop : float or numpy.ndarray
        Of the bridge's two conducting diodes together. [V]
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
    if capacitance is None:
        return ROOT * mains[0] - drop
    line = (mains[0] - drop / ROOT, mains[1], power, capacitance)
    return np.asarray(bulk_valley_voltage(*line, ideal_conduction_time(*line)))
