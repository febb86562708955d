"""The cross-section of a transformer's window, to scale, from its winding table."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from adapterlab.assess.model.windings import Build, Layer
from adapterlab.assess.transformer import TransformerAssessment
from adapterlab.assess.transformer.layers import interfaces_of
from adapterlab.assess.transformer.wound import Wound
from adapterlab.figures.style import LIMIT, QUIET, SERIES, new_figure, nothing_to_show

MILLI = 1e3
_CORE = "#c9ccd1"
# Fill, outline, and the mark in the middle that tells the roles apart in grey.
_LOOKS = {
    "primary": (SERIES[0], SERIES[0], None),
    "secondary": ("white", SERIES[1], SERIES[1]),
    "auxiliary": ("white", SERIES[2], None),
    "screen": ("#333333", "#333333", None),
}
_LIMB = 0.9
# Height of a line of text over the width of the window.
_LINE = 0.062


def find(result: TransformerAssessment, converter: str | None) -> Wound | None:
    """The transformer of a converter, or the first."""
    for wound in result.transformers:
        if converter in (None, wound.build.converter):
            return wound
    return None


def _frame(axes: Axes, build: Build) -> None:
    """Core about the window, the centre leg below with its gap to scale."""
    width, height = (
        (build.window_width or 0.0) * MILLI,
        (build.window_height or build.height) * MILLI,
    )
    for x, y, wide, high in (
        (-_LIMB, -_LIMB, width + 2 * _LIMB, _LIMB),
        (-_LIMB, height, width + 2 * _LIMB, _LIMB),
        (-_LIMB, 0, _LIMB, height),
        (width, 0, _LIMB, height),
    ):
        axes.add_patch(Rectangle((x, y), wide, high, facecolor=_CORE, edgecolor="none"))
    gap = (build.gap or 0.0) * MILLI
    if 0 < gap < width:
        axes.add_patch(
            Rectangle((width / 2 - gap / 2, -_LIMB), gap, _LIMB, facecolor="white", edgecolor=QUIET)
        )
    axes.add_patch(Rectangle((0, 0), width, height, fill=False, edgecolor="black", linewidth=1.2))
    words = f"centre leg, gap {gap:.2f} mm" if gap else "centre leg"
    axes.text(0.1, -_LIMB / 2, words, va="center", fontsize=11)
    axes.text(width, height + _LIMB / 2, "outer leg", va="center", ha="right", fontsize=11)


def _wires(axes: Axes, layer: Layer, width: float) -> None:
    fill, edge, dot = _LOOKS[layer.role]
    bottom, height = layer.bottom * MILLI, layer.height * MILLI
    if layer.foil:
        wide = layer.width * MILLI
        axes.add_patch(
            Rectangle(
                ((width - wide) / 2, bottom), wide, max(height, 0.03), color=edge, linewidth=0
            )
        )
        return
    count = max(1, round(layer.turns * max(1, layer.strands if layer.sublayers == 1 else 1)))
    pitch = layer.width * MILLI / count
    start = (width - layer.width * MILLI) / 2
    centres = [(start + (number + 0.5) * pitch, bottom + height / 2) for number in range(count)]
    outer = [Circle(centre, height / 2) for centre in centres]
    rim = edge if fill == "white" else "white"
    axes.add_collection(PatchCollection(outer, facecolor=fill, edgecolor=rim, linewidth=1.0))
    if dot:
        copper = [Circle(centre, layer.copper_height * MILLI / 2) for centre in centres]
        axes.add_collection(PatchCollection(copper, facecolor=dot, edgecolor="white", hatch="...",
                                            linewidth=0.5))  # fmt: skip


def _tape(axes: Axes, layer: Layer, width: float) -> None:
    if layer.tape_layers:
        axes.add_patch(
            Rectangle(
                (0, (layer.bottom + layer.height) * MILLI), width, layer.tape_height * MILLI,
                facecolor="#f3e3a2", edgecolor="#a88a1a", hatch="\\\\\\\\", linewidth=0.4,
            )
        )  # fmt: skip


def _label(layer: Layer, turns: float, layers: int, tape: int | None) -> str:
    outside = f"; {tape} tape{'s' if tape > 1 else ''}" if tape else ""
    if tape is None:
        outside = "; tape not counted"
    if layer.foil:
        return f"{layer.name}\n{layer.strand * MILLI:.2g} mm foil{outside}"
    wire = f"{layer.strand * MILLI:.2g} mm"
    if layer.strands > 1:
        wire = f"{layer.strands} × {wire}"
    several = f" in {layers} layers" if layers > 1 else ""
    kind = " (triple insulated)" if layer.triple_insulated else ""
    return f"{layer.name}{kind}\n{turns:g} turns{several} of {wire}{outside}"


def draw_section(result: TransformerAssessment, converter: str | None = None) -> Figure:
    """Cross-section of the window to scale, centre leg at the bottom."""
    wound = find(result, converter)
    if wound is None or not wound.build.layers:
        reason = wound.build.trouble if wound is not None else "no transformer is listed"
        return nothing_to_show(
            "The transformer cut through, to scale",
            f"Nothing to draw: {reason}. [[transformers]] needs winding_width and its windings.",
        )
    build = wound.build
    width = (build.window_width or 0.0) * MILLI
    height = (build.window_height or build.height) * MILLI
    over = build.height * MILLI - height
    widest = max(width, max(layer.width for layer in build.layers) * MILLI)
    title = (
        f"The layers of the {build.converter} transformer take {build.height * MILLI / height:.0%} "
        "of the height of their window"
    )
    if widest > width * (1 + 1e-9):
        title = f"A layer of the {build.converter} transformer is {widest - width:.1f} mm too wide"
    if over > 0:
        title = f"The layers of the {build.converter} transformer are {over:.2f} mm too high"
    figure, axes = new_figure(title)
    axes.set_axis_off()
    axes.set_aspect("equal")
    _frame(axes, build)
    if over > 0:
        axes.add_patch(
            Rectangle((0, height), width, over, facecolor="none", edgecolor=LIMIT, hatch="xx")
        )
    if widest > width * (1 + 1e-9):
        axes.plot([width] * 2, [0, height], color=LIMIT, linestyle=(0, (6, 3)), linewidth=2)
    for layer in build.layers:
        _tape(axes, layer, width)
        _wires(axes, layer, width)
    top = _labels(axes, build, max(width, (widest + width) / 2) + _LIMB)
    axes.plot([0, 2], [-_LIMB - 0.9 * _LINE * width] * 2, color="black", linewidth=3)
    axes.text(2.2, -_LIMB - 0.9 * _LINE * width, "2 mm", va="center", fontsize=11)
    _barriers(axes, build, width)
    axes.text(
        -_LIMB, -_LIMB - 2.1 * _LINE * width,
        "hatched: tape    filled: primary    dotted core in a ring: secondary    ring: auxiliary"
        "    black: screen",
        va="center", fontsize=10.5, color=QUIET,
    )  # fmt: skip
    axes.set_xlim(min(-_LIMB, (width - widest) / 2) - 0.2, 1.95 * max(width, 0.9 * widest) + 1.5)
    axes.set_ylim(
        -_LIMB - (2.8 + len(interfaces_of(build))) * _LINE * width,
        max(height + _LIMB, build.height * MILLI, top) + 0.2,
    )
    return figure


def _barriers(axes: Axes, build: Build, width: float) -> None:
    """Where mains side and output side meet, lettered, with what keeps them apart."""
    for number, place in enumerate(interfaces_of(build)):
        letter = "ABCDEFGH"[number % 8]
        middle = (place.bottom + place.height / 2) * MILLI
        axes.plot([-0.45, width + 0.45], [middle] * 2, color=LIMIT, linestyle=(0, (4, 2)), lw=1.2)
        axes.text(-0.62, middle, letter, ha="center", va="center", color=LIMIT, fontsize=11.5)
        axes.text(
            -_LIMB, -_LIMB - (3.1 + number) * _LINE * width,
            f"{letter}: mains side meets output side, kept apart by {place.keeps_apart}",
            va="center", fontsize=11, color=LIMIT,
        )  # fmt: skip


def _labels(axes: Axes, build: Build, edge: float) -> float:
    """A text per winding on the right, with a leader, none over another; their upper end."""
    places: list[tuple[float, str, str]] = []
    for number in dict.fromkeys(layer.winding for layer in build.layers):
        own = [layer for layer in build.layers if layer.winding == number]
        middle = np.mean([layer.bottom + layer.height / 2 for layer in own]) * MILLI
        text = _label(own[0], sum(layer.turns for layer in own), len(own), own[-1].tape_layers)
        places.append((float(middle), text, own[0].role))
    high = (build.window_height or build.height) * MILLI
    line_height = _LINE * (build.window_width or 0.0) * MILLI
    lines = np.arange(len(places)) * 2.3 * line_height
    lines += max(high / 2 - lines.mean(), -_LIMB / 2)
    for (place, text, role), line in zip(places, lines, strict=True):
        colour = _LOOKS[role][1]
        axes.annotate(
            text, (edge - _LIMB, place), xytext=(edge + 0.5, line), va="center", fontsize=11.5,
            color=colour, annotation_clip=False, linespacing=1.15,
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 1.0, "relpos": (0, 0.5)},
        )  # fmt: skip
    return float(lines[-1] + 1.2 * line_height)
