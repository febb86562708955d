"""Pictures of the plug-in surge: captures, implied parts, the circuit at work, angle of contact."""

from adapterlab.figures.inrush.pictures import (
    FIGURES,
    MICRO,
    MILLI,
    draw_capture,
    draw_circuit,
    draw_implied,
    draw_phase,
)
from adapterlab.figures.inrush.protection import draw_discharge, draw_fuse

__all__ = [
    "FIGURES",
    "MICRO",
    "MILLI",
    "draw_capture",
    "draw_circuit",
    "draw_discharge",
    "draw_fuse",
    "draw_implied",
    "draw_phase",
]
