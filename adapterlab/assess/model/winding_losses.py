"""Copper loss and core loss of a transformer that is laid out, at a given working point.

`copper_of` gives the loss of each layer, `core_loss_of` that of the core after each published
line, `sine_factor` how the resistance of a winding grows with frequency.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.assess.model.windings import SECTION, Build, Layer
from adapterlab.flyback import OperatingPoint, secondary_pulse
from adapterlab.published import rows
from adapterlab.transformer import (
    layer_losses,
    pulse_harmonics,
    skin_depth,
    thickness_ratio,
    waveform_loss_density,
    winding_resistance,
)

HARMONICS = 40


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


def _split(layer: Layer, build: Build, temperature: ArrayLike) -> dict[str, Any]:
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
    build: Build,
    point: OperatingPoint,
    temperature: ArrayLike,
    output_current: float | None = None,
) -> Copper:
    """Copper loss of every layer at a working point.

    Parameters
    ----------
    build : Build
        A transformer with layers and a mean turn.
    point : OperatingPoint
        From scalars or arrays of one shape.
    temperature : float or array_like
        Of the copper. [°C], in the shape of the point
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
        np.stack(np.broadcast_arrays(*thickness), axis=-1),
        np.stack(np.broadcast_arrays(*ohms), axis=-1),
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
