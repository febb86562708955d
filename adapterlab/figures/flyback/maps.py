"""Where the mode of a converter changes, and where the ripple of several cancels."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from adapterlab.assess.flyback import FlybackAssessment
from adapterlab.assess.flyback.modes import ceiling
from adapterlab.assess.flyback.output import smallest_peak
from adapterlab.assess.model.stages import Stage
from adapterlab.figures.style import LIMIT, PREDICTED, QUIET, SERIES, new_figure, nothing_to_show
from adapterlab.flyback import (
    interleaved_ripple_factor,
    mode_map,
    operating_point,
    paralleled_capacitor_current,
    valley_number,
)

MISSING = (
    "No converter is known well enough: [[construction.converters]] needs turns_ratio and "
    "magnetising_inductance, and a port with a fixed mode."
)
_TINTS = ("#f1d9a6", "#cfe0ee", "#e3c3d3")
_HATCHES = ("...", "", "///")
_VALLEYS = ("#cfe0ee", "#a9c8e0", "#84b0d1", "#6198c0", "#417fad")
_GRID = 160


def _filled(axes: Axes, volts: Any, loads: Any, codes: Any, tints: Any, hatches: Any) -> None:
    """Areas of one code each, told apart by tint and hatching."""
    levels = np.arange(len(tints) + 1) - 0.5
    axes.pcolormesh(
        volts, loads, codes, cmap=ListedColormap(tints), vmin=-0.5, vmax=len(tints) - 0.5,
        rasterized=True,
    )  # fmt: skip
    if any(hatches) and np.ptp(codes) > 0:
        axes.contourf(volts, loads, codes, levels=levels, colors="none", hatches=list(hatches))


def _mode_panel(axes: Axes, stage: Stage, volts: Any, loads: Any) -> list[Any]:
    """Modes of a converter of fixed frequency; returns the names seen."""
    numbers = stage.numbers()
    numbers.pop("output_current")
    full = operating_point(volts[-1], **stage.numbers()).primary_peak
    found = mode_map(volts, loads, **numbers, smallest_peak=smallest_peak() * full)
    _filled(axes, volts, loads, found.mode, _TINTS, _HATCHES)
    axes.plot(volts, found.boundary_current, color=LIMIT, linewidth=3)
    return [(name, _TINTS[code], _HATCHES[code]) for code, name in enumerate(found.names)
            if (found.mode == code).any()]  # fmt: skip


def _valley_panel(axes: Axes, stage: Stage, volts: Any, loads: Any) -> list[Any]:
    """Valleys of a quasi-resonant converter."""
    numbers = stage.numbers()
    for name in ("output_current", "switching_frequency"):
        numbers.pop(name)
    number = valley_number(
        volts, output_current=loads[:, None], drain_capacitance=stage.drain_capacitance or 1e-12,
        highest_frequency=ceiling(), **numbers,
    )  # fmt: skip
    codes = np.minimum(number, len(_VALLEYS)) - 1
    hatches = ("", "...", "///", "xx", "\\\\\\")
    _filled(axes, volts, loads, codes, _VALLEYS, hatches)
    lines = axes.contour(volts, loads, codes, levels=np.arange(0.5, codes.max()), colors=[LIMIT])
    lines.set_linewidth(2)
    last = len(_VALLEYS) - 1
    return [(f"valley {code + 1}{' or later' if code == last else ''}", _VALLEYS[code],
             hatches[code]) for code in range(len(_VALLEYS)) if (codes == code).any()]  # fmt: skip


def _title(stages: list[Stage]) -> str:
    if all(stage.switching_frequency is None for stage in stages):
        return "The lighter the load, the later the valley in which the switch closes"
    return "Low input voltage and high load keep the current from reaching zero"


def draw_modes(result: FlybackAssessment) -> Figure:
    """Map of input voltage against load for every converter, tinted by mode."""
    known = [s for s in result.stages if result.points_for(s)]
    stages = [s for s in known if s.switching_frequency or s.drain_capacitance][:3]
    if not stages:
        reason = MISSING if not known else "The converter works at the boundary at every load; "
        reason += "" if not known else "drain_capacitance would tell in which valley it closes."
        return nothing_to_show("Where the way of working changes", reason)
    figure, grid = new_figure(_title(stages), 1, len(stages), squeeze=False)
    handles: dict[str, Any] = {}
    for axes, stage in zip(grid[0], stages, strict=True):
        own = result.points_for(stage)
        sources = [point.input_voltage.value.value for point in own]
        volts = np.linspace(0.75 * min(sources), 1.05 * max(sources), _GRID)
        top = 1.5 * stage.output_current
        loads = np.linspace(0.005 * top, top, _GRID)
        panel = _mode_panel if stage.switching_frequency else _valley_panel
        for name, tint, hatch in panel(axes, stage, volts, loads):
            handles[name] = Patch(facecolor=tint, hatch=hatch, edgecolor=QUIET, label=name)
        axes.axhline(stage.output_current, color="black", linestyle=(0, (6, 3)), linewidth=1.5)
        axes.annotate(
            "full load", (0.62, stage.output_current), xycoords=("axes fraction", "data"),
            xytext=(0, 4), textcoords="offset points", ha="center", va="bottom",
        )  # fmt: skip
        supplies = sorted({point.mains_voltage for point in own})
        for number, mains in enumerate(supplies):
            above = number == 1 and len(supplies) > 2
            here = [
                source
                for point, source in zip(own, sources, strict=True)
                if point.mains_voltage == mains
            ]
            axes.plot([min(here), max(here)], [stage.output_current] * 2, color="black",
                      linewidth=7, solid_capstyle="butt")  # fmt: skip
            axes.annotate(
                f"{mains:g} V", (float(np.mean(here)), stage.output_current),
                xytext=(0, 8 if above else -8), textcoords="offset points", ha="center",
                va="bottom" if above else "top", fontsize=12,
                bbox={"facecolor": "white", "alpha": 0.7, "linewidth": 0, "pad": 1},
            )  # fmt: skip
        axes.set_title(f"{stage.name}, {stage.output_voltage:g} V out", fontsize=13, loc="left")
        axes.set_xlabel("bulk voltage (V)")
        axes.set_ylim(0, top)
        axes.grid(visible=False)
    grid[0, 0].set_ylabel("output current (A)")
    if any(stage.switching_frequency for stage in stages):
        handles["edge"] = Line2D([], [], color=LIMIT, linewidth=3, label="boundary")
    figure.legend(
        handles=list(handles.values()), loc="outside lower center", ncols=min(len(handles), 5)
    )
    return figure


def draw_cancellation(result: FlybackAssessment) -> Figure:
    """Capacitor current and ripple of one, two and three converters against their duty."""
    duty = np.linspace(0.05, 0.95, 451)
    title = "Several converters ease their capacitor, most of all if they run in step"
    figure, (pulsed, triangles) = new_figure(title, 1, 2, width_ratios=(3, 2))
    styles = ("-", (0, (6, 2)), (0, (2, 1)))
    for count, colour, style in zip((1, 2, 3), SERIES, styles, strict=False):
        label = f"{count} converter" + ("s in step" if count > 1 else "")
        pulsed.plot(duty, paralleled_capacitor_current(duty, count, "ramp"), color=colour,
                    linestyle=style, label=label)  # fmt: skip
        triangles.plot(duty, interleaved_ripple_factor(duty, count), color=colour, linestyle=style)
    free = paralleled_capacitor_current(duty, 2, "ramp", synchronised=False)
    pulsed.plot(duty, free, color=QUIET, linewidth=3, alpha=0.7, label="2 converters, not in step")
    for stage in result.stages[:2]:
        own = result.points_for(stage)
        if not own:
            continue
        point = operating_point(own[0].input_voltage.value.value, **stage.numbers())
        one = paralleled_capacitor_current(min(point.secondary_duty, 0.95), 1, "ramp")
        pulsed.plot(point.secondary_duty, one, "D", color=PREDICTED, mfc="white", mew=2, ms=10)
        pulsed.annotate(
            f"{stage.name}, alone", (point.secondary_duty, one), xytext=(10, 6),
            textcoords="offset points", color=PREDICTED,
        )  # fmt: skip
    pulsed.set_title("flyback pulses", fontsize=13, loc="left")
    pulsed.set_xlabel("duty of the output rectifier")
    pulsed.set_ylabel("capacitor current, rms\n(over the output current)")
    pulsed.set_ylim(0, 2.6)
    pulsed.legend(loc="upper right")
    triangles.set_title("for contrast: triangles", fontsize=13, loc="left")
    triangles.set_xlabel("duty")
    triangles.set_ylabel("swing over that of one")
    triangles.set_ylim(0, 1.1)
    return figure
