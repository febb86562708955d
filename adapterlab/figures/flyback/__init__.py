"""Pictures of the flyback converter: its waveforms and energies, and the list of all pictures."""

from adapterlab.figures.flyback.circuit import draw_circuit
from adapterlab.figures.flyback.maps import MISSING, draw_cancellation, draw_modes
from adapterlab.figures.flyback.parts import draw_losses, draw_stresses
from adapterlab.figures.flyback.pictures import (
    FIGURES,
    MICRO,
    draw_waveforms,
)

__all__ = [
    "FIGURES",
    "MICRO",
    "MISSING",
    "draw_cancellation",
    "draw_circuit",
    "draw_losses",
    "draw_modes",
    "draw_stresses",
    "draw_waveforms",
]
