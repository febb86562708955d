"""One transformer of the dossier with its converter, and what its parts predict of it."""

import re
from dataclasses import dataclass
from typing import Any

from scipy.constants import mu_0

from adapterlab.assess.model.inputs import Input, allowance, between, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage, inductance_of
from adapterlab.assess.model.winding_points import WorkingPoint
from adapterlab.assess.model.windings import Build, Layer
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Converter, Transformer
from adapterlab.transformer import core_named, gapped_inductance, saturation_flux_density

MATERIAL = "power ferrite"


@dataclass(frozen=True)
class Wound:
    """One transformer with its converter.

    Attributes
    ----------
    build : Build
        Its layers.
    stage : Stage or None
        Its converter at full load; None if too little is known of it.
    temperature : Input
        Of core and copper. [°C]
    saturation : Value or None
        Flux density at which the core begins to saturate there. [T]
    measured : Value or None
        Inductance as noted. [H]
    predicted : Prediction or None
        Inductance from core, gap and turns. [H]
    leakage : Value or None
        Leakage inductance as read. [H]
    predicted_leakage : Prediction or None
        The same from the layers. [H]
    points : tuple of WorkingPoint
        Working points at full load.
    """

    build: Build
    stage: Stage | None
    temperature: Input
    saturation: Value | None
    measured: Value | None
    predicted: Prediction | None
    leakage: Value | None
    predicted_leakage: Prediction | None
    points: tuple[WorkingPoint, ...]

    @property
    def worst(self) -> WorkingPoint | None:
        """Where the flux is highest; of points within 1 % of it the one of lowest bulk voltage.

        Where the current stops in each period the flux is alike everywhere.
        """
        if not self.points:
            return None
        most = max(point.flux.value.value for point in self.points)
        near = [point for point in self.points if point.flux.value.value >= 0.99 * most]
        return min(near, key=lambda point: point.source.value.value)


def inductance_read(converter: Converter | None) -> Value | None:
    """Inductance of the primary as noted for its converter, within its tolerance. [H]."""
    if converter is None or not converter.magnetising_inductance:
        return None
    read = inductance_of(converter)
    spread = float(read.distribution.std()) if read.is_uncertain else 0.0
    return Value(read.middle, spread, "H", accuracy_assumed=read.origin == "assumed")


def _gap(specimen: Specimen, build: Build) -> Input:
    """The gap as felt; never less than a quarter of itself."""
    length = build.gap or 0.0
    error = specimen.reading("distance", length, "m").standard_uncertainty * 3**0.5
    error = min(error, 0.75 * length)
    return Input(
        f"{build.converter}.gap",
        between(length - error, length + error),
        "m",
        "measured",
        f"a gap of {Value(length, 0.0, 'm')} measured",
        "adapter.toml, transformers",
    )


def predicted_inductance(specimen: Specimen, build: Build) -> Prediction | None:
    """Inductance from turns, gap, core and window; None if one is missing or can't be."""
    if not build.gap or not build.core_area or not build.path_length or build.primary_turns <= 0:
        return None
    if build.window_width is None or build.gap >= build.window_width:
        return None
    turns, listed = build.primary_turns, build.core_area
    width, path = build.window_width, build.path_length

    def at(gap: Any, area: Any, permeability: Any, fringing: Any) -> Any:
        section = listed * area
        bare = gapped_inductance(turns, gap, section)
        whole = bare + (gapped_inductance(turns, gap, section, width) - bare) * fringing
        # The core's own reluctance adds to that of the gap.
        core = path / (mu_0 * permeability * section * turns**2)
        return 1 / (1 / whole + core)

    inputs = {
        "gap": _gap(specimen, build),
        "area": allowance("core.area_factor", f"{build.converter}.core_area"),
        "permeability": allowance("core.permeability"),
        "fringing": allowance("core.fringing_factor"),
    }
    return predict(at, inputs, "H")[0]


def _moved(layer: Layer, drawn: Any) -> Any:
    """Height of a layer with its insulation drawn. [m]."""
    if layer.spread == 0:
        return layer.height
    place = drawn["enamel"]
    if layer.triple_insulated:
        least, most = allowance("wire.triple_insulation").ends
        place = (drawn["triple"] - least) / (most - least)
    return layer.height + layer.spread * (2 * place - 1)


def _layer_inputs(build: Build) -> dict[str, Input]:
    """What the heights of a build's layers rest on."""
    found = {}
    loose = [layer for layer in build.layers if layer.spread > 0]
    if any(not layer.triple_insulated for layer in loose):
        found["enamel"] = allowance("wire.enamel")
    if any(layer.triple_insulated for layer in loose):
        found["triple"] = allowance("wire.triple_insulation")
    if any(layer.tape_layers and layer.tape_thickness is None for layer in build.layers):
        found["tape"] = allowance("tape.thickness")
    return found


def stack_height(build: Build) -> Prediction:
    """Height of all layers with their tape. [m]."""

    def at(**drawn: Any) -> Any:
        total: Any = 0.0
        for layer in build.layers:
            tape = layer.tape_thickness or drawn.get("tape", 0.0)
            total = total + _moved(layer, drawn) + (layer.tape_layers or 0) * tape
        return total

    return predict(at, _layer_inputs(build), "m")[0]


def layer_width(build: Build, layer: Layer) -> Prediction:
    """Room that a layer takes along the window. [m]."""

    def at(**drawn: Any) -> Any:
        return layer.width * _moved(layer, drawn) / layer.height

    return predict(at, _layer_inputs(build), "m")[0]


def core_trouble(text: str) -> str:
    """Why the core's name is not in the table, with near names; empty if it is."""
    try:
        core_named(re.split(r"\bsize\b|,|;|\(", text)[0].strip())
    except ValueError as error:
        return f"The {error}."
    return ""


def saturation_of(transformer: Transformer, temperature: float) -> tuple[Value | None, str]:
    """Flux density at which its core begins to saturate, or why that is not known."""
    if transformer.saturation_flux_density is not None:
        return Value(transformer.saturation_flux_density, 0.0, "T"), ""
    try:
        value = saturation_flux_density(transformer.material or MATERIAL, temperature)
    except ValueError as error:
        return None, str(error)
    return Value(round(float(value), 2), 0.0, "T"), ""
