"""Pictures of capacitor life: how long each one lasts, and how far the rule can be trusted."""

from adapterlab.figures.capacitor_life.heat import draw_case, draw_heat
from adapterlab.figures.capacitor_life.pictures import (
    FIGURES,
    draw_law,
    draw_lives,
)
from adapterlab.figures.capacitor_life.use import draw_bias, draw_end, draw_failing

__all__ = [
    "FIGURES",
    "draw_bias",
    "draw_case",
    "draw_end",
    "draw_failing",
    "draw_heat",
    "draw_law",
    "draw_lives",
]
