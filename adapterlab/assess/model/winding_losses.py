"""Flux, copper loss and core loss of a transformer at the working points of its converter.

`points_of` makes the table the findings and pictures need; `copper_of` gives the loss of each
layer at one of them, `losses_in` copper and core of one row with their uncertainties.
"""

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import (
    BRIDGE_DROP,
    ROOT,
    Stage,
    bulk_of,
    missing,
    spread_of,
    stage_of,
)
from adapterlab.assess.model.windings import SECTION, Build, Layer, build_of
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Converter, Transformer
from adapterlab.flyback import (
    OperatingPoint,
    bulk_valley_voltage,
    ideal_conduction_time,
    operating_point,
    secondary_pulse,
)
from adapterlab.published import rows
from adapterlab.transformer import (
    layer_losses,
    pulse_harmonics,
    skin_depth,
    thickness_ratio,
    waveform_loss_density,
    winding_resistance,
)
from adapterlab.uncertainty import propagate

HARMONICS = 40
# Common practice: effective area of a core against the table or a calliper.
AREA_SPREAD = 0.03
_DRAWS = 256


@dataclass(frozen=True)
class Copper:
    """Loss of each layer of a stack.

    Attributes
    ----------
    direct : numpy.ndarray
        From the resistance for direct current and the rms current. [W], shape (..., layers)
    total : numpy.ndarray
        With skin and proximity effect. [W], shape (..., layers)
    """

    direct: Any
    total: Any


def _split(layer: Layer, build: Build, temperature: float) -> dict[str, float]:
    """Turns, resistance and porosity of one sublayer of strands."""
    window = build.window_width or layer.width
    abreast = layer.strands / layer.sublayers
    side = np.sqrt(np.pi) / 2 * layer.strand
    porosity = layer.width / window if layer.foil else layer.turns * abreast * side / window
    ohms = winding_resistance(layer.turns, build.turn_length(layer), layer.copper_area, temperature)
    return {
        "turns": layer.turns / layer.sublayers,
        "resistance": ohms / layer.sublayers,
        "porosity": min(1.0, porosity),
    }


def parallel_secondaries(build: Build) -> int:
    """Secondaries of equal turns, which share their current."""
    places = {layer.winding for layer in build.layers if layer.role == "secondary"}
    turns = {
        sum(layer.turns for layer in build.layers if layer.winding == place) for place in places
    }
    return max(1, len(places)) if len(turns) <= 1 else 1


def copper_of(
    build: Build, point: OperatingPoint, temperature: float, output_current: float | None = None
) -> Copper:
    """Copper loss of every layer at a working point.

    Parameters
    ----------
    build : Build
        A transformer with layers and a mean turn.
    point : OperatingPoint
        From scalars or arrays of one shape.
    temperature : float
        Of the copper. [°C]
    output_current : float, optional
        Current that the load takes: the mean of the secondary's pulses. [A]  None leaves them as
        the point has them, which counts all losses as taken behind the transformer.

    Returns
    -------
    Copper
        In the order of the layers.
    """
    orders = np.arange(1, HARMONICS + 1)
    frequency = np.asarray(point.switching_frequency)
    share = parallel_secondaries(build)
    primary = pulse_harmonics(
        point.primary_valley, point.primary_peak, 0.0, point.duty_cycle, orders
    )
    pulse = secondary_pulse(point, output_current)
    start, end = np.asarray(pulse.peak) / share, np.asarray(pulse.valley) / share
    secondary = pulse_harmonics(start, end, point.duty_cycle, point.secondary_duty, orders)
    means = {
        "primary": (np.asarray(point.primary_valley) + point.primary_peak) / 2 * point.duty_cycle,
        "secondary": (start + end) / 2 * point.secondary_duty,
    }
    squares = {
        "primary": np.asarray(point.primary_rms) ** 2,
        "secondary": (start**2 + start * end + end**2) / 3 * point.secondary_duty,
    }
    phasors = {"primary": primary, "secondary": secondary}
    idle, still = np.zeros_like(primary), np.zeros_like(means["primary"])
    steady, current, turns, thickness, ohms, owner = [], [], [], [], [], []
    for place, layer in enumerate(build.layers):
        piece = _split(layer, build, temperature)
        if layer.foil:
            depth = skin_depth(frequency, temperature)
            ratio_here = np.sqrt(piece["porosity"]) * layer.strand / depth
        else:
            ratio_here = thickness_ratio(layer.strand, frequency, piece["porosity"], temperature)
        for _ in range(layer.sublayers):
            steady.append(means.get(layer.role, still))
            current.append(phasors.get(layer.role, idle))
            turns.append(piece["turns"])
            ohms.append(piece["resistance"])
            thickness.append(ratio_here)
            owner.append(place)
    loss = layer_losses(
        np.stack(steady, axis=-1),
        np.stack(current, axis=-2),
        turns,
        np.stack(thickness, axis=-1),
        ohms,
    )
    direct = np.stack(
        [
            squares.get(build.layers[place].role, still) * value
            for place, value in zip(owner, ohms, strict=True)
        ],
        axis=-1,
    )
    gather = np.equal.outer(owner, np.arange(len(build.layers))).astype(float)
    return Copper(direct @ gather, loss @ gather)


def core_loss_of(build: Build, point: OperatingPoint, inductance: Any, area: Any) -> list[Any]:
    """Loss of the core after each published line of its material. [W], one for each line."""
    scale = inductance / (build.primary_turns * area)
    valley, peak = scale * point.primary_valley, scale * point.primary_peak
    opens = np.asarray(point.duty_cycle, dtype=float)
    ends = np.minimum(opens + point.secondary_duty, 1.0)
    share = np.stack(np.broadcast_arrays(0 * opens, opens, ends, 0 * opens + 1), axis=-1)
    flux = np.stack(np.broadcast_arrays(valley, peak, valley, valley), axis=-1)
    found = []
    for row in rows(SECTION, "core_loss"):
        alpha, beta = row["frequency_exponent"], row["flux_exponent"]
        cycles = (row["frequency_khz"] * 1e3) ** alpha
        coefficient = row["loss_kw_per_m3"] * 1e3 / (cycles * row["peak_flux_density_t"] ** beta)
        density = waveform_loss_density(
            share, flux, point.switching_frequency, coefficient, alpha, beta
        )
        found.append(density * area * (build.path_length or 0.0))
    return found


def _mains(lowest: float | None) -> list[float]:
    return list(dict.fromkeys([230.0, lowest or 100.0]))


def row_at(
    build: Build, stage: Stage, temperature: float, volts: float, frequency: float, instant: str,
    bulk: Any, others: float,
) -> dict[str, Any]:  # fmt: skip
    """Row of the table for one mains and one ``instant`` of the bulk voltage.

    Parameters as in `points_of`; the row holds means and standard uncertainties of the draws.
    """
    bare = build.mean_turn_length is None or not build.layers

    def at(
        magnetising_inductance: Any, bridge_drop: Any, diode_drop: Any, efficiency: Any,
        area: Any, bulk_capacitance: Any = None,
    ) -> list[Any]:  # fmt: skip
        voltage = volts - bridge_drop / ROOT
        source = ROOT * voltage
        if instant == "valley":
            drawn = (stage.output_voltage + diode_drop) * stage.output_current / efficiency
            line = (voltage, frequency, drawn + others, bulk_capacitance)
            source = bulk_valley_voltage(*line, ideal_conduction_time(*line))
        numbers = stage.numbers() | {
            "magnetising_inductance": magnetising_inductance,
            "diode_drop": diode_drop,
            "efficiency": efficiency,
        }
        point = operating_point(source, **numbers)
        scale = magnetising_inductance / (build.primary_turns * area)
        copper = 0.0 * scale
        direct = copper
        if not bare:
            loss = copper_of(build, point, temperature, stage.output_current)
            copper, direct = loss.total.sum(axis=-1), loss.direct.sum(axis=-1)
        return [
            source,
            point.primary_peak,
            scale * point.primary_peak,
            scale * (point.primary_peak - np.asarray(point.primary_valley)),
            copper,
            direct,
            *core_loss_of(build, point, magnetising_inductance, area),
        ]

    tolerance = stage.inductance_tolerance
    middle, area = stage.magnetising_inductance, build.core_area or 0.0
    inputs = {
        "magnetising_inductance": spread_of(middle * (1 - tolerance), middle * (1 + tolerance)),
        "bridge_drop": spread_of(*BRIDGE_DROP),
        "diode_drop": spread_of(*stage.diode_drop),
        "efficiency": spread_of(*stage.efficiency),
        "area": stats.uniform(area * (1 - AREA_SPREAD), 2 * area * AREA_SPREAD),
    }
    if instant == "valley":
        inputs["bulk_capacitance"] = bulk
    drawn = propagate(at, inputs, draws=_DRAWS)
    names = ["input_voltage", "primary_peak", "flux", "swing", "copper", "copper_direct"]
    names += [f"core_{place}" for place in range(len(rows(SECTION, "core_loss")))]
    row: dict[str, Any] = {"mains_voltage": volts, "mains_frequency": frequency, "instant": instant}
    for place, name in enumerate(names):
        row[name] = float(drawn.mean[place])
        row[f"{name}_uncertainty"] = float(drawn.standard_uncertainty[place])
    return row


def points_of(
    build: Build, stage: Stage, temperature: float, lowest: float | None,
    lowest_frequency: float | None, bulk: Any, others: float,
) -> tuple[pd.DataFrame, list[str]]:  # fmt: skip
    """Table of working points at full load, and what could not be computed.

    Parameters
    ----------
    build : Build
        A transformer with core area and primary turns.
    stage : Stage
        Its converter.
    temperature : float
        Of the copper. [°C]
    lowest, lowest_frequency : float or None
        Lowest rated mains; 100 V, 50 Hz where the nameplate is silent. [V], [Hz]
    bulk : distribution or None
        Capacitance of the bulk capacitors. [F]
    others : float
        Power that other converters draw from them. [W]

    Returns
    -------
    tuple
        The table, one row per mains and instant, and the troubles as texts.
    """
    found, troubles = [], []
    for volts in _mains(lowest):
        frequency = 50.0 if volts == 230 else (lowest_frequency or 50.0)
        for instant in ("valley", "crest") if bulk is not None else ("crest",):
            try:
                found.append(
                    row_at(build, stage, temperature, volts, frequency, instant, bulk, others)
                )
            except ValueError as error:
                rule = str(error).split(":")[0].split(", got")[0].replace("_", " ")
                troubles.append(f"at {volts:g} V, {instant} of the bulk voltage: {rule}")
    return pd.DataFrame(found), troubles


def losses_in(row: Any) -> tuple[Value, Value]:
    """Copper and core loss of a row of the table, with the uncertainty of their models. [W]."""
    model = rows(SECTION, "models", name="copper")[0]["relative_uncertainty"]
    copper = float(np.hypot(row["copper_uncertainty"], model * row["copper"]))
    low, high = sorted((row["core_0"], row["core_1"]))
    return (
        Value(row["copper"], copper, "W"),
        Value((low + high) / 2, (high - low) / float(np.sqrt(12)), "W"),
    )


def sine_factor(build: Build, role: str, frequency: Any, temperature: float) -> Any:
    """Resistance of a winding for sines over that for direct current, both windings in step.

    Parameters
    ----------
    build : Build
        A transformer with layers and a mean turn.
    role : str
        ``primary`` or ``secondary``.
    frequency : array_like
        Frequencies. [Hz], shape (n,)
    temperature : float
        Of the copper. [°C]

    Returns
    -------
    numpy.ndarray
        Factor. [1], shape (n,)
    """
    cycles = np.asarray(frequency, dtype=float)[:, None]
    ratio = build.primary_turns / build.secondary_turns / parallel_secondaries(build)
    current = {"primary": 1.0, "secondary": -ratio}
    drive, turns, ohms, thickness, own = [], [], [], [], []
    for layer in build.layers:
        piece = _split(layer, build, temperature)
        side = layer.strand if layer.foil else np.sqrt(np.pi) / 2 * layer.strand
        for _ in range(layer.sublayers):
            drive.append([current.get(layer.role, 0.0)])
            turns.append(piece["turns"])
            ohms.append(piece["resistance"])
            thickness.append(side * np.sqrt(piece["porosity"]))
            own.append(layer.role == role)
    ratios = np.array(thickness) / skin_depth(cycles, temperature)
    loss = layer_losses(np.zeros(len(turns)), drive, turns, ratios, ohms)
    direct = (np.array(ohms) * np.array(drive)[:, 0] ** 2)[own].sum()
    return loss[:, own].sum(axis=-1) / direct


# Common practice, where the dossier is silent.
_TEMPERATURE = 90.0


def temperature_of(specimen: Specimen, transformer: Transformer) -> tuple[float, str]:
    """Temperature in use and where it is from."""
    if transformer.temperature is not None:
        return transformer.temperature, "as listed"
    table = specimen.temperatures
    own = table[table["place"].str.contains("transformer", case=False, na=False)]
    if own.empty:
        return _TEMPERATURE, "assumed"
    row = own.loc[own["output_power"].fillna(0).idxmax()]
    return float(row["temperature"]), "as measured"


def converter_of(specimen: Specimen, transformer: Transformer) -> Converter | None:
    """Whose transformer it is; one that names nobody belongs to an only converter."""
    converters = specimen.adapter.construction.converters
    converter = next((item for item in converters if item.name == transformer.converter), None)
    if converter is None and len(converters) == 1 and not transformer.converter:
        return converters[0]
    return converter


def other_power(specimen: Specimen, own: Stage) -> float:
    """Power that the other converters draw from the bulk capacitor at the rated power. [W]."""
    others = [
        stage_of(specimen, other)
        for other in specimen.adapter.construction.converters
        if other.name != own.name and not missing(specimen, other)
    ]
    outputs = sum(item.output_voltage * item.output_current for item in [*others, own])
    share = min(1.0, specimen.adapter.nameplate.rated_power / outputs)
    return share * sum(item.input_power for item in others)


def losses_of(
    specimen: Specimen, stage: Stage, mains: tuple[float, float] = (230.0, 50.0)
) -> tuple[Value, Value] | None:
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
    tuple of Value or None
        Copper and core, in the valley of the bulk voltage if its capacitor is known, else at the
        crest. [W]  None if the transformer's windings or core are not described, or it cannot
        work there.
    """
    for transformer in specimen.adapter.transformers:
        converter = converter_of(specimen, transformer)
        if converter is None or converter.name != stage.name:
            continue
        build = build_of(transformer)
        core = (build.core_area, build.path_length, build.mean_turn_length)
        if None in core or not build.layers or build.primary_turns <= 0:
            continue
        temperature, _ = temperature_of(specimen, transformer)
        bulk = bulk_of(specimen)
        instant = "valley" if bulk is not None else "crest"
        rest = (bulk, other_power(specimen, stage))
        with suppress(ValueError):
            return losses_in(row_at(build, stage, temperature, *mains, instant, *rest))
    return None
