"""The circuit of the touch current: its path from the live pole through a body to earth."""

from typing import Any

import schemdraw
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from schemdraw import elements as elm

from adapterlab.assess.touch_current import TouchCurrentAssessment
from adapterlab.assess.touch_current.model import PIN
from adapterlab.figures.style import LIMIT, MEASURED, QUIET, new_figure

_TOP, _BOTTOM, _LOW = 7.6, 0.6, 4.2
_RESERVOIR, _PRIMARY, _BARRIER, _SECONDARY, _OUTPUT, _BODY = 5.9, 9.0, 9.8, 10.6, 13.4, 15.6
# From the body's earth to the live pole, as the current flows while that pole falls.
_PATH = ((_BODY, 0), (_BODY, _LOW), (_OUTPUT, _LOW), (_OUTPUT, _BOTTOM), (3.2, _BOTTOM),
         (3.2, 4.7), (2.3, 4.7), (2.3, 6.6), (0, 6.6), (0, 4.9))  # fmt: skip
_ARROWS = (
    ((_BODY - 0.7, _LOW), (-0.7, 0)),
    ((_OUTPUT, 2.6), (0, -0.7)),
    ((7.6, _BOTTOM), (-0.7, 0)),
    ((3.2, 3.3), (0, 0.7)),
    ((1.9, 6.6), (-0.9, 0)),
)


def _draw(drawing: Any) -> None:
    """Every element, on the coordinates of the axes."""

    def put(element: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
        drawing.add(element.at(start).to(end))

    def wire(*points: tuple[float, float]) -> None:
        for start, end in zip(points, points[1:], strict=False):
            put(elm.Line(), start, end)

    put(elm.SourceSin(), (0, 2), (0, 6.6))
    put(elm.Fuse(), (0, 6.6), (2.3, 6.6))
    wire((2.3, 6.6), (2.3, 4.7), (3.2, 4.7))
    wire((0, 2), (0, 1.8), (2.3, 1.8), (2.3, 3.4), (4.6, 3.4))
    drawing.add(elm.Ground().at((0, 1.8)))
    for middle, across in ((4.7, 3.2), (3.4, 4.6)):
        put(elm.Diode(), (across, middle), (across, _TOP))
        put(elm.Diode(), (across, _BOTTOM), (across, middle))
        drawing.add(elm.Dot().at((across, middle)))
    wire((3.2, _TOP), (_PRIMARY, _TOP))
    put(elm.Capacitor2(), (_RESERVOIR, _TOP), (_RESERVOIR, _BOTTOM))
    put(elm.Inductor2(loops=3), (_PRIMARY, _TOP), (_PRIMARY, 4.6))
    put(elm.Switch(), (_PRIMARY, 4.6), (_PRIMARY, _BOTTOM))
    put(elm.Inductor2(loops=3), (_SECONDARY, 4.6), (_SECONDARY, _TOP))
    put(elm.Diode(), (_SECONDARY, _TOP), (_OUTPUT, _TOP))
    put(elm.Capacitor2(), (_OUTPUT, _TOP), (_OUTPUT, _LOW))
    wire((_OUTPUT, _TOP), (_BODY, _TOP))
    wire((_SECONDARY, 4.6), (_SECONDARY, _LOW), (_BODY, _LOW))
    wire((3.2, _BOTTOM), (_BARRIER - 1, _BOTTOM))
    put(elm.Capacitor(), (_BARRIER - 1, _BOTTOM), (_BARRIER + 1, _BOTTOM))
    wire((_BARRIER + 1, _BOTTOM), (_OUTPUT, _BOTTOM), (_OUTPUT, _LOW))
    put(elm.RBox(), (_BODY, _LOW), (_BODY, 0))
    drawing.add(elm.Ground().at((_BODY, 0)))


def _write(axes: Axes, references: dict[str, str]) -> None:
    def named(role: str, otherwise: str) -> str:
        return references.get(role) or otherwise

    for across, up, text, side, colour in (
        (-0.9, 4.3, "mains", "right", QUIET),
        (1.15, 7.2, named("fuse", "fuse"), "center", QUIET),
        (2.95, 7.9, named("rectifier bridge", "bridge"), "left", QUIET),
        (_RESERVOIR + 0.4, 3.5, named("bulk capacitor", "reservoir"), "left", QUIET),
        (_BARRIER, -0.35, named("barrier capacitor", "barrier capacitor"), "center", MEASURED),
        (_BODY - 0.4, 7.95, "output", "center", QUIET),
        (_BODY + 0.6, 2.1, "body, or\nits network", "left", MEASURED),
        (_BARRIER, 8.3, "barrier", "center", LIMIT),
        (7.6, -2.2, "through earth, while the live pole falls", "center", MEASURED),
    ):
        axes.text(across, up, text, ha=side, va="center", color=colour, fontsize=13)


def draw_path(result: TouchCurrentAssessment) -> Figure:
    """Circuit with the way of the touch current drawn over it."""
    figure, axes = new_figure(
        "The touch current flows through body, barrier capacitor and bridge"
        if result.rail != PIN
        else "Drawn for a capacitor behind the bridge; the readings speak of one on a mains pin"
    )
    wide: dict[str, Any] = {"color": MEASURED, "linewidth": 9, "alpha": 0.28, "zorder": 0}
    axes.plot(*zip(*_PATH, strict=True), solid_joinstyle="round", **wide)
    earth = ([_BODY, _BODY, 0, 0], [-0.5, -1.4, -1.4, 0.9])
    axes.plot(*earth, linestyle=(0, (1, 0.6)), **wide)
    for (across, up), (right, above) in _ARROWS:
        look = {"arrowstyle": "-|>", "color": MEASURED, "lw": 2.2}
        axes.annotate("", (across + right, up + above), (across, up), zorder=5, arrowprops=look)
    axes.plot([_BARRIER] * 2, [7.9, 1.2], color=LIMIT, linestyle=(0, (6, 3)), linewidth=2)
    drawing = schemdraw.Drawing(canvas=axes, show=False, fontsize=13, lw=1.6)
    _draw(drawing)
    drawing.draw(show=False)
    if result.windings is not None:
        ends = [_PRIMARY + 0.35, _SECONDARY - 0.35]
        axes.plot(ends, [6.1, 6.1], color=MEASURED, linewidth=3.5, linestyle=(0, (1, 1)))
        text = f"windings\n{result.windings.short}"
        axes.text(_PRIMARY - 0.4, 6.1, text, ha="right", va="center", color=MEASURED, fontsize=13)
    _write(axes, result.references)
    axes.set_axis_off()
    axes.set_aspect("equal")
    axes.set_xlim(-2.3, 18.6)
    axes.set_ylim(-2.5, 8.7)
    return figure
