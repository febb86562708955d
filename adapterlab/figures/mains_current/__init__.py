"""Pictures of the mains current: half-period anatomy, pulse, harmonics, power factor, circuit."""

from adapterlab.figures.mains_current.circuit import draw_circuit
from adapterlab.figures.mains_current.pictures import (
    FIGURES,
    MICRO,
    draw_anatomy,
    draw_harmonics,
    draw_implied,
    draw_power_factor,
    draw_split,
    draw_waveform,
)

__all__ = [
    "FIGURES",
    "MICRO",
    "draw_anatomy",
    "draw_circuit",
    "draw_harmonics",
    "draw_implied",
    "draw_power_factor",
    "draw_split",
    "draw_waveform",
]
