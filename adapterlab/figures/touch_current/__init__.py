"""Pictures of the touch current: circuit, rail, network, readings, polarity, capacitor, limits."""

from adapterlab.figures.touch_current.circuit import draw_path
from adapterlab.figures.touch_current.pictures import (
    FIGURES,
    MICRO,
    NANO,
    draw_capacitance,
    draw_limits,
    draw_network,
    draw_polarity,
    draw_rail,
    draw_readings,
)

__all__ = [
    "FIGURES",
    "MICRO",
    "NANO",
    "draw_capacitance",
    "draw_limits",
    "draw_network",
    "draw_path",
    "draw_polarity",
    "draw_rail",
    "draw_readings",
]
