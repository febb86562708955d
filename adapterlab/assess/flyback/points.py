"""Working points of the power stages at full load, on every mains that counts."""

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.feeds import (
    BRIDGE_DROP,
    bridge_drop,
    bulk_capacitance,
    bulk_inputs,
    bulk_voltage,
    rated_share,
)
from adapterlab.assess.model.inputs import predict
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.model.stages import Stage, stages_of
from adapterlab.assess.report.prediction import Prediction
from adapterlab.flyback import MODES, operating_point

_UNITS = {
    "input_voltage": "V",
    "duty_cycle": "%",
    "primary_peak": "A",
    "primary_rms": "A",
    "secondary_peak": "A",
    "secondary_rms": "A",
    "switching_frequency": "Hz",
}


@dataclass(frozen=True)
class StagePoint:
    """A power stage at full load on one mains, at one instant of the bulk voltage.

    Attributes
    ----------
    stage : Stage
        The converter.
    mains_voltage, mains_frequency : float
        [V], [Hz]
    instant : str
        ``valley`` or ``crest`` of the bulk voltage.
    mode : str
        The likeliest way of working.
    probability : float
        Of that mode. [1]
    input_voltage, duty_cycle, switching_frequency : Prediction
        [V], [1], [Hz]
    primary_peak, primary_rms, secondary_peak, secondary_rms : Prediction
        [A]
    """

    stage: Stage
    mains_voltage: float
    mains_frequency: float
    instant: str
    mode: str
    probability: float
    input_voltage: Prediction
    duty_cycle: Prediction
    primary_peak: Prediction
    primary_rms: Prediction
    secondary_peak: Prediction
    secondary_rms: Prediction
    switching_frequency: Prediction


def mains_of(specimen: Specimen) -> list[tuple[float, float]]:
    """230 V and the lowest rated mains; 115 V 60 Hz too where it was measured."""
    plate, table = specimen.adapter.nameplate, specimen.load_sweep
    frequency = plate.input_frequency_minimum or 50.0
    chosen = [(230.0, 50.0), (plate.input_voltage_minimum or 100.0, frequency)]
    near = (table["mains_voltage"] / 115 - 1).abs() < 0.015
    if (near & ((table["mains_frequency"] / 60 - 1).abs() < 0.015)).any():
        chosen.append((115.0, 60.0))
    return list(dict.fromkeys(chosen))


def _point(
    specimen: Specimen, stage: Stage, mains: tuple[float, float], instant: str
) -> StagePoint:
    """Working point of a stage, the other converters drawing their share beside it."""
    stages = stages_of(specimen)
    others = [other for other in stages if other.name != stage.name]
    share = rated_share(specimen, stages)
    modes: list[NDArray[Any]] = []

    def at(**drawn: Any) -> list[Any]:
        capacitance, power = None, 0.0
        if instant == "valley":
            capacitance = bulk_capacitance(specimen, drawn)
            power = stage.power(drawn) + share * sum(other.power(drawn) for other in others)
        source = bulk_voltage(mains, drawn[BRIDGE_DROP], power, capacitance)
        point = operating_point(source, **stage.numbers(drawn))
        modes.append(np.asarray(point.mode))
        return [source, *(getattr(point, name) for name in list(_UNITS)[1:])]

    inputs = bridge_drop() | stage.inputs
    if instant == "valley":
        inputs |= bulk_inputs(specimen)
        for other in others:
            inputs |= other.inputs
    found = predict(at, inputs, list(_UNITS.values()))
    # The first call holds the draws; later ones are corners.
    counts = Counter(modes[0].ravel().tolist())
    mode = max(MODES, key=lambda name: counts[name])
    return StagePoint(stage, *mains, instant, mode, counts[mode] / counts.total(), *found)


@once
def points_of(specimen: Specimen) -> tuple[tuple[StagePoint, ...], dict[str, tuple[str, ...]]]:
    """Working points at full load, and what could not be computed by converter."""
    found: list[StagePoint] = []
    troubles: dict[str, tuple[str, ...]] = {}
    for stage in stages_of(specimen):
        for mains in mains_of(specimen):
            for instant in ("valley", "crest") if bulk_inputs(specimen) else ("crest",):
                try:
                    found.append(_point(specimen, stage, mains, instant))
                except ValueError as error:
                    # The rule that was broken, without the thousands of draws that broke it.
                    rule = str(error).split(":")[0].split(", got")[0].replace("_", " ")
                    text = f"at {mains[0]:g} V, {mains[1]:g} Hz, {instant} of the bulk voltage"
                    troubles[stage.name] = (*troubles.get(stage.name, ()), f"{text}: {rule}")
    return tuple(found), troubles
