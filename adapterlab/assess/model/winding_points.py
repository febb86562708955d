"""Flux, copper loss and core loss of a transformer at the working points of its converter.

`points_of` works out every point that findings and pictures need; `losses_of` is what the loss
budget of a converter takes from it.
"""

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.model.feeds import (
    BRIDGE_DROP,
    bridge_drop,
    bulk_capacitance,
    bulk_inputs,
    bulk_voltage,
    rated_share,
)
from adapterlab.assess.model.inputs import Input, allowance, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage, stages_of
from adapterlab.assess.model.winding_losses import copper_of, core_loss_of
from adapterlab.assess.model.windings import Build, build_of, converter_of, temperature_of
from adapterlab.assess.report.prediction import Prediction
from adapterlab.flyback import operating_point

MAINS = (230.0, 50.0)
_DRAWS = 512
_UNITS = ("V", "A", "T", "T", "W", "W", "W")


@dataclass(frozen=True)
class WorkingPoint:
    """A transformer at full load on one mains, at one instant of the bulk voltage.

    Attributes
    ----------
    mains_voltage, mains_frequency : float
        [V], [Hz]
    instant : str
        ``valley`` or ``crest`` of the bulk voltage.
    source : Prediction
        The bulk voltage. [V]
    primary_peak : Prediction
        Peak current of the primary. [A]
    flux, swing : Prediction
        Peak and swing of the flux density. [T]
    copper, copper_direct, core : Prediction
        Loss in the copper, what resistance for direct current alone would lose there, and loss in
        the core. [W]
    """

    mains_voltage: float
    mains_frequency: float
    instant: str
    source: Prediction
    primary_peak: Prediction
    flux: Prediction
    swing: Prediction
    copper: Prediction
    copper_direct: Prediction
    core: Prediction

    @property
    def said(self) -> str:
        """Mains and instant, as said aloud."""
        where = "in the valley" if self.instant == "valley" else "at the crest"
        return f"at {self.mains_voltage:g} V and full load, {where} of the bulk voltage"


def mains_of(specimen: Specimen) -> list[tuple[float, float]]:
    """230 V, and the lowest rated mains where the nameplate tells it. [V], [Hz]."""
    plate = specimen.adapter.nameplate
    lowest = plate.input_voltage_minimum
    noted = [] if lowest is None else [(lowest, plate.input_frequency_minimum or 50.0)]
    return list(dict.fromkeys([MAINS, *noted]))


def _others(specimen: Specimen, own: Stage) -> list[Stage]:
    return [stage for stage in stages_of(specimen) if stage.name != own.name]


def inputs_of(
    specimen: Specimen, build: Build, stage: Stage, temperature: Input, instant: str
) -> dict[str, Input]:
    """Everything that a working point of one transformer rests on, by its name.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    build : Build
        The transformer.
    stage : Stage
        Its converter.
    temperature : Input
        Of core and copper. [°C]
    instant : str
        ``valley`` or ``crest``: in the valley the bulk capacitors count, and the power of the
        other converters that they feed.

    Returns
    -------
    dict of str to Input
        Name -> input.
    """
    area = allowance("core.area_factor", f"{build.converter}.core_area")
    named = (area, temperature, allowance("core.loss_line"), allowance("copper.model_factor"))
    found = {item.name: item for item in named} | bridge_drop() | stage.inputs
    if instant == "valley":
        found |= bulk_inputs(specimen)
        for other in _others(specimen, stage):
            found |= other.inputs
    return found


def point_at(
    specimen: Specimen,
    build: Build,
    stage: Stage,
    temperature: Input,
    mains: tuple[float, float],
    instant: str,
) -> WorkingPoint:
    """Working point of a transformer on one mains, at one instant of the bulk voltage.

    Parameters
    ----------
    specimen, build, stage, temperature, instant
        As in `inputs_of`; the transformer with core area and primary turns.
    mains : tuple of float
        Voltage and frequency. [V], [Hz]

    Returns
    -------
    WorkingPoint
        Its predictions. Without winding table or mean turn the losses in copper are 0.

    Raises
    ------
    ValueError
        If the converter cannot work there.
    """
    others = _others(specimen, stage)
    share = rated_share(specimen, [stage, *others])
    bare = build.mean_turn_length is None or not build.layers

    def at(**drawn: Any) -> list[Any]:
        power, capacitance = stage.power(drawn), None
        if instant == "valley":
            capacitance = bulk_capacitance(specimen, drawn)
            power = power + share * sum(other.power(drawn) for other in others)
        source = bulk_voltage(mains, drawn[BRIDGE_DROP], power, capacitance)
        inductance = drawn[stage.magnetising_inductance.name]
        point = operating_point(source, **stage.numbers(drawn))
        area = (build.core_area or 0.0) * drawn[f"{build.converter}.core_area"]
        scale = inductance / (build.primary_turns * area)
        copper = direct = 0.0 * scale
        if not bare:
            loss = copper_of(build, point, drawn[temperature.name], stage.output_current)
            copper = loss.total.sum(axis=-1) * drawn["copper.model_factor"]
            direct = loss.direct.sum(axis=-1)
        first, last = core_loss_of(build, point, inductance, area)
        return [
            source,
            point.primary_peak,
            scale * point.primary_peak,
            scale * (point.primary_peak - np.asarray(point.primary_valley)),
            copper,
            direct,
            first + drawn["core.loss_line"] * (last - first),
        ]

    inputs = inputs_of(specimen, build, stage, temperature, instant)
    return WorkingPoint(*mains, instant, *predict(at, inputs, _UNITS, _DRAWS))


def points_of(
    specimen: Specimen, build: Build, stage: Stage, temperature: Input
) -> tuple[tuple[WorkingPoint, ...], list[str]]:
    """Working points at full load, and what could not be computed.

    Parameters
    ----------
    specimen, build, stage, temperature
        As in `point_at`.

    Returns
    -------
    tuple of WorkingPoint, list of str
        One for each mains and instant, and the troubles as texts.
    """
    found, troubles = [], []
    for mains in mains_of(specimen):
        for instant in ("valley", "crest") if bulk_inputs(specimen) else ("crest",):
            try:
                found.append(point_at(specimen, build, stage, temperature, mains, instant))
            except ValueError as error:
                rule = str(error).split(":")[0].split(", got")[0].replace("_", " ")
                troubles.append(f"at {mains[0]:g} V, {instant} of the bulk voltage: {rule}")
    return tuple(found), troubles


def losses_of(
    specimen: Specimen, stage: Stage, mains: tuple[float, float] = MAINS
) -> tuple[Prediction, Prediction] | None:
    """Copper and core loss of one converter's transformer at a working point.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    stage : Stage
        The converter, with the output voltage and current that are wanted.
    mains : tuple of float, optional
        Voltage and frequency. [V], [Hz]

    Returns
    -------
    tuple of Prediction or None
        Copper and core, in the valley of the bulk voltage if its capacitor is known, else at the
        crest. [W]  None if the transformer's windings or core are not described, or it cannot
        work there.
    """
    for transformer in specimen.adapter.transformers:
        converter = converter_of(specimen, transformer)
        if converter is None or converter.name != stage.name:
            continue
        build = build_of(specimen, transformer)
        core = (build.core_area, build.path_length, build.mean_turn_length)
        if None in core or not build.layers or build.primary_turns <= 0:
            continue
        warm = temperature_of(specimen, transformer)
        instant = "valley" if bulk_inputs(specimen) else "crest"
        with suppress(ValueError):
            point = point_at(specimen, build, stage, warm, mains, instant)
            return point.copper, point.core
    return None
