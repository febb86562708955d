"""Pictures of the transformer: cross-section, gap, leakage, copper loss, flux."""

from adapterlab.figures.transformer.pictures import (
    FIGURES,
    MICRO,
    MILLI,
    draw_copper,
    draw_flux,
    draw_gap,
    draw_leakage,
)
from adapterlab.figures.transformer.section import draw_section, find

__all__ = [
    "FIGURES",
    "MICRO",
    "MILLI",
    "draw_copper",
    "draw_flux",
    "draw_gap",
    "draw_leakage",
    "draw_section",
    "find",
]
