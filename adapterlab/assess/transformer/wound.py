"""One transformer of the dossier with its converter, and what its parts predict of it."""

import re
from dataclasses import dataclass
from typing import Any

import pandas as pd
from scipy import stats
from scipy.constants import mu_0

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage
from adapterlab.assess.model.winding_losses import AREA_SPREAD
from adapterlab.assess.model.windings import SECTION, Build
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Transformer
from adapterlab.published import rows
from adapterlab.transformer import core_named, gapped_inductance, saturation_flux_density
from adapterlab.uncertainty import propagate

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
    temperature : float
        Of core and copper. [°C]
    saturation : Value or None
        Flux density at which the core begins to saturate there. [T]
    measured, predicted : Value or None
        Inductance by meter, and from core, gap and turns. [H]
    leakage, predicted_leakage : Value or None
        The same for the leakage inductance. [H]
    points : pandas.DataFrame
        Working points at full load: ``mains_voltage``, ``instant``, and mean and uncertainty of
        ``flux``, ``swing`` [T], ``copper``, ``copper_direct``, ``core_0``, ``core_1`` [W].
    """

    build: Build
    stage: Stage | None
    temperature: float
    saturation: Value | None
    measured: Value | None
    predicted: Value | None
    leakage: Value | None
    predicted_leakage: Value | None
    points: pd.DataFrame


def permeability() -> tuple[float, float]:
    """Relative permeability of power ferrite, and the share by which it may differ."""
    row = rows(SECTION, "permeability", material=MATERIAL)[0]
    return row["initial_permeability"], row["spread"]


def predicted_inductance(specimen: Specimen, build: Build) -> Value | None:
    """Inductance from turns, gap and core; None if one of them is missing or can't be."""
    if not build.gap or not build.core_area or build.primary_turns <= 0:
        return None
    if build.window_width is not None and build.gap >= build.window_width:
        return None
    gap = specimen.reading("distance", build.gap, "m")
    middle, spread = permeability()
    fringing = rows(SECTION, "models", name="fringing")[0]["spread"]
    area, width, path = build.core_area, build.window_width, build.path_length or 0.0

    def at(length: Any, section: Any, permeability: Any, beside: Any) -> Any:
        bare = gapped_inductance(build.primary_turns, length, section)
        full = bare if width is None else gapped_inductance(build.primary_turns, length, section,
                                                            width)  # fmt: skip
        whole = bare + (full - bare) * beside
        # The core's own reluctance adds to that of the gap.
        core = path / (mu_0 * permeability * section * build.primary_turns**2)
        return 1 / (1 / whole + core)

    error = min(gap.standard_uncertainty, gap.value / 4)
    inputs = {
        "length": stats.uniform(gap.value - error * 3**0.5, 2 * error * 3**0.5)
        if error > 0
        else gap.value,
        "section": stats.uniform(area * (1 - AREA_SPREAD), 2 * area * AREA_SPREAD),
        "permeability": stats.uniform(middle * (1 - spread), 2 * middle * spread),
        "beside": stats.uniform(1 - fringing, 2 * fringing),
    }
    drawn = propagate(at, inputs, draws=2048)
    return Value(drawn.mean, drawn.standard_uncertainty, "H")


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
