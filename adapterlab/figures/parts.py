"""Pictures of the parts: the path of the energy, stress against rating, markings, photographs."""

import textwrap
from collections.abc import Callable
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyBboxPatch

from adapterlab.assess.parts import PartsAssessment
from adapterlab.assess.parts.blocks import Block
from adapterlab.assess.parts.markings import ReadPart
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    limit_line,
    new_figure,
    nothing_to_show,
)
from adapterlab.parts import preferred_values

_SIDES = {
    "mains": "mains",
    "primary": "live side",
    "barrier": "across the barrier",
    "secondary": "output side",
}
# Mark before the name, line and fill of the box: told apart without colour.
_LOOKS = {
    "present": ("●", "-", "#dbe7f0", MEASURED),
    "absent": ("✕", (0, (4, 2)), "white", LIMIT),
    "not seen": ("?", (0, (1, 1.5)), "white", QUIET),
}
_SHORT = {
    "mains pins and their way to the board": "mains pins",
    "fuse or fusible resistor": "fuse",
    "surge limiter (thermistor or resistor)": "surge limiter",
    "screen in or on the transformer": "screen",
    "current-sense resistor": "current sense",
    "barrier capacitor (class Y)": "barrier capacitor",
}


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def _box(axes: Axes, block: Block, left: float, top: float, width: float) -> None:
    mark, line, fill, color = _LOOKS[block.state]
    axes.add_patch(
        FancyBboxPatch(
            (left, top - 0.78),
            width,
            0.78,
            boxstyle="round,pad=0,rounding_size=0.08",
            facecolor=fill,
            edgecolor=color,
            linestyle=line,
            linewidth=1.8,
        )
    )
    name = _SHORT.get(block.text["name"], block.text["name"])
    axes.text(
        left + 0.1, top - 0.25, f"{mark} {name}", va="center", ha="left", fontsize=12, color=color
    )
    listed = ", ".join(part.reference for part in block.parts)
    below = _cut(listed or "in the transformer", 22) if block.state == "present" else block.state
    axes.text(left + 0.1, top - 0.57, below, va="center", ha="left", fontsize=11, color="#30343a")


def draw_path(result: PartsAssessment) -> Figure:
    """The blocks along the path of the energy: present, absent or not seen."""
    counts = {s: sum(block.state == s for block in result.blocks) for s in _LOOKS}
    figure, axes = new_figure(
        f"From the pins to the port {counts['present']} usual blocks are present, "
        f"{counts['absent']} absent and {counts['not seen']} not seen"
    )
    axes.set_axis_off()
    width, gap = 2.75, 0.35
    for column, (side, name) in enumerate(_SIDES.items()):
        left = column * (width + gap)
        axes.text(left + width / 2, 8.35, name, ha="center", fontsize=13, fontweight="bold")
        inside = [block for block in result.blocks if block.text["side"] == side]
        for place, block in enumerate(inside):
            _box(axes, block, left, 8.1 - 0.98 * place, width)
        if column < len(_SIDES) - 1:
            axes.annotate(
                "",
                (left + width + gap, 8.45),
                (left + width, 8.45),
                arrowprops={"arrowstyle": "->", "lw": 2, "color": QUIET},
            )
    axes.set_xlim(-0.05, 4 * width + 3 * gap + 0.05)
    axes.set_ylim(0.1, 8.8)
    return figure


def draw_stress(result: PartsAssessment) -> Figure:
    """What each part must stand as a share of its rating."""
    title = "What the parts must stand, as a share of what they are rated for"
    stresses = sorted(result.stresses, key=lambda stress: stress.ratio)[-12:]
    if not stresses:
        return nothing_to_show(title, "No part with a rating is listed whose stress is known.")
    worst = stresses[-1]
    title = (
        f"The tightest rating: {_cut(worst.reference, 12)} uses {worst.ratio * 100:.1f} % of what "
        "it is rated for"
    )
    figure, axes = new_figure(title)
    for place, stress in enumerate(stresses):
        color = LIMIT if stress.ratio > 1 else MEASURED
        axes.barh(
            place,
            stress.ratio * 100,
            height=0.62,
            facecolor="#c3d5e2" if stress.ratio <= 1 else "#ecd3de",
            edgecolor=color,
            hatch="" if stress.ratio <= 1 else "xx",
        )
        axes.annotate(
            f"{stress.stress.short} of {stress.rating:g} {stress.stress.unit}",
            (0, place),
            xytext=(6, 0),
            textcoords="offset points",
            va="center",
            fontsize=11,
            color="#20262c",
            bbox={"facecolor": "white", "alpha": 0.75, "edgecolor": "none", "pad": 1.5},
        )
    names = [f"{_cut(stress.reference, 12)}: {stress.what}" for stress in stresses]
    axes.set_yticks(range(len(stresses)), names, fontsize=11)
    axes.set_xlim(0, max(128.0, 130 * worst.ratio))
    axes.set_ylim(-0.6, len(stresses) + 0.1)
    limit_line(axes, 100, "rating", across=False)
    axes.set_xlabel("stress over rating (%)")
    axes.grid(visible=False, axis="y")
    return figure


def _valued(result: PartsAssessment) -> list[ReadPart]:
    return [
        read
        for read in result.parts
        if read.part.kind in ("capacitor", "resistor") and read.part.value
    ]


def draw_markings(result: PartsAssessment) -> Figure:
    """Values of capacitors and resistors within their decade, on the preferred values."""
    title = "Most parts are made to the preferred values of a decade"
    parts = _valued(result)[:16]
    if not parts:
        return nothing_to_show(title, "No capacitor or resistor with a value is listed.")
    differing = [read for read in parts if read.differs]
    if differing:
        verb = "differs" if len(differing) == 1 else "differ"
        title = f"{len(differing)} of {len(parts)} listed values {verb} from the marking"
    figure, axes = new_figure(title)
    for value in preferred_values("E24"):
        coarse = value in preferred_values("E6")
        axes.axvline(value, color="#b9bec4" if coarse else "#e6e8ea", linewidth=2 if coarse else 1)
    for place, read in enumerate(parts[::-1]):
        value = read.part.value or 1.0
        decade = 10.0 ** np.floor(np.log10(value))
        share = read.part.tolerance or 0.0
        axes.errorbar(
            value / decade,
            place,
            xerr=share * value / decade,
            fmt="D",
            color=PREDICTED,
            mfc="white",
            mew=2,
            capsize=4,
            label="listed, with its tolerance" if place == 0 else None,
        )
        if read.marking is not None and read.marking.value:
            axes.plot(read.marking.value / decade, place, "|", color=MEASURED, markersize=20, mew=3,
                      label="as the marking says")  # fmt: skip
    axes.set_xscale("log")
    axes.set_xlim(0.68, 10.5)
    ticks = [*preferred_values("E6"), 10.0]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.set_xticks([], minor=True)
    names = [f"{_cut(read.part.reference, 10)} {_cut(read.part.marked, 16)}" for read in parts]
    axes.set_yticks(range(len(parts)), names[::-1], fontsize=11)
    axes.set_ylim(-0.6, len(parts) - 0.4)
    axes.grid(visible=False)
    axes.set_xlabel("value within its decade (strong lines: E6, fine lines: E24)")
    handles, labels = axes.get_legend_handles_labels()
    unique = dict(zip(labels, handles, strict=True))
    figure.legend(unique.values(), unique.keys(), loc="outside lower center", ncols=2)
    return figure


def draw_series(_: PartsAssessment | None = None) -> Figure:
    """Preferred values with their usual tolerances: each series tiles the decade."""
    figure, axes = new_figure(
        "Preferred values stand in equal ratios, so that tolerances just meet"
    )
    for place, (series, tolerance) in enumerate((("E24", 0.05), ("E12", 0.1), ("E6", 0.2))):
        for number, value in enumerate(preferred_values(series)):
            axes.barh(
                place,
                2 * tolerance * value,
                left=value * (1 - tolerance),
                height=0.5,
                facecolor="#c3d5e2" if number % 2 else "white",
                edgecolor=MEASURED,
            )
            axes.plot(value, place, "o", color=MEASURED, markersize=5)
    axes.set_xscale("log")
    axes.set_xlim(0.75, 11)
    ticks = [*preferred_values("E6"), 10.0]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.set_xticks([], minor=True)
    axes.set_yticks([0, 1, 2], ["E24, ±5 %", "E12, ±10 %", "E6, ±20 %"])
    axes.set_ylim(-0.6, 2.6)
    axes.set_xlabel("value within its decade (each step multiplies by the same ratio)")
    return figure


def _shown(axes: Axes, path: Path, caption: str, width: int) -> None:
    axes.set_axis_off()
    axes.set_title(
        textwrap.shorten(caption, width, placeholder=" …"), fontsize=12, fontweight="normal"
    )
    try:
        axes.imshow(plt.imread(path))
    except (OSError, ValueError, SyntaxError):
        axes.text(0.5, 0.5, "this file is no picture that can be read", ha="center", va="center",
                  color=QUIET, transform=axes.transAxes)  # fmt: skip


def draw_photographs(result: PartsAssessment) -> Figure:
    """The first four photographs of the dossier, with their captions."""
    title = "Photographs of the parts"
    chosen = result.photographs[:4]
    if not chosen:
        return nothing_to_show(title, "No photograph is in the dossier.")
    columns = 1 if len(chosen) == 1 else 2
    figure, grid = new_figure(title, -(-len(chosen) // columns), columns, squeeze=False)
    for axes in grid.flat:
        axes.set_axis_off()
    for axes, (path, caption) in zip(grid.flat, chosen, strict=False):
        _shown(axes, path, caption, 90 if columns == 1 else 50)
    return figure


FIGURES: dict[str, Callable[[PartsAssessment], Figure]] = {
    "parts_path": draw_path,
    "parts_stress": draw_stress,
    "parts_markings": draw_markings,
    "parts_series": draw_series,
    "parts_photographs": draw_photographs,
}
