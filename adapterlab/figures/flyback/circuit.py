"""The circuit of a flyback converter."""

from typing import Any

import schemdraw
import schemdraw.elements as elm
from matplotlib.figure import Figure

from adapterlab.figures.style import MEASURED, PREDICTED, QUIET, new_figure

_TEXT = 13


def draw_circuit(_: Any = None) -> Figure:
    """Bulk capacitor, transformer, switch with its clamp, rectifier, output capacitor, load."""
    figure, axes = new_figure("A flyback fills its core from one side and empties it on the other")
    drawing = schemdraw.Drawing(canvas=axes, show=False)
    drawing.config(fontsize=_TEXT, lw=2, font="DejaVu Sans")
    top, node, floor = 5.6, 2.3, 0.0
    coil = elm.Transformer(t1=5, t2=5, loop=False).anchor("p1").at((6.0, top - 0.4))
    drawing += coil.color("black")
    primary, secondary = coil.absanchors["p1"], coil.absanchors["s1"]
    low, out_low = coil.absanchors["p2"], coil.absanchors["s2"]
    left, right = primary.x, secondary.x

    def wire(*corners: tuple[float, float], colour: str = "black") -> None:
        for start, end in zip(corners, corners[1:], strict=False):
            drawing.add(elm.Line().at(start).to(end).color(colour))

    def part(kind: Any, start: tuple[float, float], end: tuple[float, float], **style: Any) -> None:
        drawing.add(kind.at(start).to(end).color(style.get("colour", "black")))

    wire((0, top), (left, top), (left, primary.y))
    wire((left, low.y), (left, node))
    part(elm.Capacitor(), (0.9, top), (0.9, floor))
    wire((0, floor), (left, floor))
    for height in (top, floor):
        drawing.add(elm.Dot(open=True).at((0, height)))
    # The clamp stands between the switch node and the upper rail.
    part(elm.Resistor(), (2.9, top), (2.9, top - 1.9), colour=QUIET)
    part(elm.Capacitor(), (3.7, top), (3.7, top - 1.9), colour=QUIET)
    wire((2.9, top - 1.9), (3.7, top - 1.9), colour=QUIET)
    part(elm.Diode(), (3.3, node), (3.3, top - 1.9), colour=QUIET)
    wire((3.3, node), (left, node), colour=QUIET)
    switch = elm.Switch().at((left, node)).to((left, floor))
    drawing.add(switch)
    # The output.
    wire((right, secondary.y), (right, top), (right + 0.4, top))
    part(elm.Diode(), (right + 0.4, top), (right + 2.6, top))
    wire((right + 2.6, top), (right + 5.4, top))
    bottom = 1.4
    wire((right, out_low.y), (right, bottom), (right + 5.4, bottom))
    part(elm.Capacitor(), (right + 3.3, top), (right + 3.3, bottom))
    part(elm.ResistorIEC(), (right + 5.4, top), (right + 5.4, bottom))
    # The windings run against each other: the dots say so.
    for x, y in ((left - 0.2, primary.y - 0.3), (right + 0.2, out_low.y + 0.3)):
        drawing.add(elm.Dot().at((x, y)))
    drawing.draw(show=False)
    texts = (
        (-0.25, (top + floor) / 2, "rectified\nmains", "right", QUIET),
        (1.4, 2.2, "bulk\ncapacitor", "left", "black"),
        (3.3, top + 0.45, "clamp: burns the leakage spike", "center", QUIET),
        (left - 0.15, (primary.y + low.y) / 2, "primary", "right", MEASURED),
        (right + 0.2, (primary.y + low.y) / 2, "secondary", "left", PREDICTED),
        (left + 0.5, node / 2, "switch", "left", "black"),
        (right + 1.5, top + 0.6, "output rectifier", "center", "black"),
        (right + 3.3, bottom - 0.5, "output capacitor", "center", "black"),
        (right + 5.8, (top + bottom) / 2, "load", "left", "black"),
    )
    for x, y, text, side, colour in texts:
        axes.text(x, y, text, ha=side, va="center", color=colour, fontsize=_TEXT + 2)
    axes.set_xlim(-1.9, right + 6.9)
    axes.set_ylim(-0.5, top + 1.1)
    axes.set_aspect("equal")
    axes.set_axis_off()
    return figure
