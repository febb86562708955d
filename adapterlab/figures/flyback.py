"""Pictures of the flyback converter: its circuit, its waveforms, where its mode changes."""

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Arc, Circle, Polygon

from adapterlab.assess.flyback import FlybackAssessment
from adapterlab.assess.flyback_stages import Stage
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    new_figure,
    nothing_to_show,
)
from adapterlab.flyback import MODES, operating_point, waveforms

MICRO = 1e6
_MISSING = (
    "No converter is known well enough: [[construction.converters]] needs turns_ratio and "
    "magnetising_inductance, and a port with a fixed mode."
)
_LINES = {"discontinuous": (0, (5, 2)), "boundary": (0, (1, 1)), "continuous": "-"}
_SPANS = {
    "discontinuous": "the current stops in every period",
    "boundary": "the next period begins as the current reaches zero",
    "continuous": "the current never stops",
}


def _stage(result: FlybackAssessment, converter: str | None) -> Stage | None:
    for stage in result.stages:
        if converter in (None, stage.name):
            return stage
    return None


def draw_waveforms(result: FlybackAssessment, converter: str | None = None) -> Figure:
    """Currents and switch voltage over two periods at full load, for one converter."""
    stage = _stage(result, converter)
    own = result.points[result.points["converter"] == stage.name] if stage else result.points
    if stage is None or own.empty:
        return nothing_to_show("Currents and switch voltage of the converter", _MISSING)
    row = own.iloc[0]
    point = operating_point(row["input_voltage"], **stage.numbers())
    wave = waveforms(point)
    time = wave.time * MICRO
    load = f"{stage.output_voltage:g}\u00a0V, {stage.output_current:.3g}\u00a0A"
    title = (
        f"At {row['mains_voltage']:g}\u00a0V mains and full load {_SPANS[point.mode]} "
        f"({stage.name} converter, {load})"
    )
    left_out = "leakage spike not drawn"
    if point.mode == "discontinuous":
        left_out = "leakage spike and idle ringing not drawn"
    figure, axes = new_figure(title, 3, 1, sharex=True)
    panels = (
        (wave.primary_current, "primary\ncurrent (A)", f"peak {point.primary_peak:.2f} A"),
        (wave.secondary_current, "secondary\ncurrent (A)", f"peak {point.secondary_peak:.1f} A"),
        (wave.switch_voltage, "switch\nvoltage (V)", f"{point.switch_voltage:.0f} V; {left_out}"),
    )
    for panel, (values, label, note), colour in zip(axes, panels, SERIES, strict=False):
        panel.fill_between(time, values, color=colour, alpha=0.15, linewidth=0)
        panel.plot(time, values, color=colour)
        panel.set_ylabel(label)
        panel.set_ylim(0, 1.35 * values.max())
        top = int(np.argmax(values))
        panel.annotate(
            note,
            (time[top], values[top]),
            xytext=(6, 3),
            textcoords="offset points",
            va="bottom",
            color=colour,
        )
    axes[2].set_xlabel("time (µs)")
    axes[2].set_xlim(0, time[-1])
    return figure


def draw_modes(result: FlybackAssessment, converter: str | None = None) -> Figure:
    """Peak current against input voltage for three loads, with the mode in the line."""
    stage = _stage(result, converter)
    own = result.points[result.points["converter"] == stage.name] if stage else result.points
    if stage is None or own.empty:
        return nothing_to_show("Where the conduction mode changes", _MISSING)
    low, high = own["input_voltage"].min(), own["input_voltage"].max()
    voltage = np.linspace(0.75 * low, 1.08 * high, 400)
    numbers = stage.numbers()
    shares = ((1.0, "full load"), (0.5, "half load"), (0.25, "quarter load"))
    points = {
        label: operating_point(
            voltage, **numbers | {"output_current": share * stage.output_current}
        )
        for share, label in shares
    }
    seen = {str(mode) for point in points.values() for mode in np.unique(point.mode)}
    figure, axes = new_figure(_modes_title(seen, stage))
    for (label, point), colour, tag in zip(points.items(), SERIES, "●▲■", strict=False):
        for mode in MODES:
            part = np.where(point.mode == mode, point.primary_peak, np.nan)
            if np.isfinite(part).any():
                axes.plot(voltage, part, color=colour, linestyle=_LINES[mode], linewidth=3)
        end = point.primary_peak[-1]
        axes.annotate(
            f"{tag} {label}", (voltage[-1], end), xytext=(0, 7), textcoords="offset points",
            ha="right", color=colour,
        )  # fmt: skip
    if stage.switching_frequency is not None:
        load = stage.output_current * _boundary_share(voltage, stage)
        edge = operating_point(
            voltage,
            **numbers | {"output_current": load, "switching_frequency": None},
        )
        axes.plot(voltage, edge.primary_peak, color=LIMIT, linestyle=_LINES["boundary"])
    axes.set_ylim(0, 1.35 * max(point.primary_peak.max() for point in points.values()))
    names = {mode: f"{mode} conduction" for mode in MODES}
    names["boundary"] = "at the boundary" if seen == {"boundary"} else "boundary between the two"
    for mode in MODES:
        if mode in seen or (mode == "boundary" and stage.switching_frequency is not None):
            colour = LIMIT if mode == "boundary" and seen != {"boundary"} else QUIET
            axes.plot([], [], color=colour, linestyle=_LINES[mode], label=names[mode])
    for volts in sorted(set(own["mains_voltage"])):
        here = own[own["mains_voltage"] == volts]["input_voltage"]
        axes.axvspan(here.min(), here.max(), color=QUIET, alpha=0.13, linewidth=0)
        axes.annotate(
            f"{volts:g} V\nmains", (here.mean(), 0.02), xycoords=("data", "axes fraction"),
            ha="center", color=QUIET, fontsize=11,
        )  # fmt: skip
    axes.set_xlabel("voltage of the bulk capacitor (V)")
    axes.set_ylabel("primary peak current (A)")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def _boundary_share(voltage: np.ndarray, stage: Stage) -> np.ndarray:
    """Load at the boundary over full load: the boundary frequency falls as the load rises."""
    free = operating_point(voltage, **stage.numbers() | {"switching_frequency": None})
    return np.asarray(free.switching_frequency / stage.switching_frequency)


def _modes_title(seen: set[str], stage: Stage) -> str:
    if stage.switching_frequency is None:
        return (
            f"The {stage.name} converter changes its frequency, so its current always just "
            "reaches zero"
        )
    if "continuous" in seen:
        return (
            f"Low input voltage and high load keep the current of the {stage.name} converter "
            "from reaching zero"
        )
    return f"The current of the {stage.name} converter stops in every period at these loads"


def _wire(axes: Axes, *corners: tuple[float, float]) -> None:
    axes.plot(*zip(*corners, strict=True), color="black", linewidth=2, solid_capstyle="round")


def _winding(axes: Axes, x: float, bottom: float, turns: int, side: float, colour: str) -> None:
    """Half circles on one side of a vertical line, from `bottom` upwards."""
    first, last = (270, 90) if side > 0 else (90, 270)
    for number in range(turns):
        axes.add_patch(
            Arc((x, bottom + 0.5 * number + 0.25), 0.5, 0.5, theta1=first, theta2=last,
                color=colour, linewidth=3)
        )  # fmt: skip


def _capacitor(axes: Axes, x: float, y: float, low: float, high: float) -> None:
    _wire(axes, (x, high), (x, y + 0.12))
    _wire(axes, (x, y - 0.12), (x, low))
    for plate in (y - 0.12, y + 0.12):
        _wire(axes, (x - 0.4, plate), (x + 0.4, plate))


def draw_circuit(_: FlybackAssessment | None = None) -> Figure:
    """The circuit: bulk capacitor, two windings on one core, switch, rectifier, output."""
    figure, axes = new_figure("A flyback fills its core from one side and empties it on the other")
    top, floor = 5.0, 0.0
    _wire(axes, (0, top), (4, top), (4, 4.5))
    _wire(axes, (0, floor), (4, floor), (4, 0.7))
    _wire(axes, (4, 2.5), (4, 1.7))
    _wire(axes, (4, 1.7), (3.55, 0.8))
    _capacitor(axes, 1.2, 2.5, floor, top)
    _winding(axes, 4, 2.5, 4, 1, MEASURED)
    for core in (4.62, 4.82):
        axes.plot([core, core], [2.4, 4.6], color=QUIET, linewidth=3)
    _winding(axes, 5.44, 2.5, 4, -1, PREDICTED)
    _wire(axes, (5.44, 4.5), (5.44, top), (6.5, top))
    _wire(axes, (7.1, top), (9.4, top), (9.4, 3.6))
    _wire(axes, (9.4, 2.0), (9.4, 1.0), (5.44, 1.0), (5.44, 2.5))
    axes.add_patch(Polygon([(6.5, 4.7), (6.5, 5.3), (7.05, 5.0)], closed=True, color="black"))
    _wire(axes, (7.1, 4.7), (7.1, 5.3))
    _capacitor(axes, 8.0, 3.0, 1.0, top)
    axes.add_patch(Polygon([(9.2, 2.0), (9.6, 2.0), (9.6, 3.6), (9.2, 3.6)], fill=False, lw=2))
    for place in ((4.35, 4.75), (5.1, 2.3)):
        axes.add_patch(Circle(place, 0.09, color="black"))
    for place in ((0, top), (0, floor)):
        axes.add_patch(Circle(place, 0.09, facecolor="white", edgecolor="black", lw=2, zorder=3))
    texts = (
        (0.0, 2.5, "rectified\nmains", "center", QUIET),
        (1.75, 2.5, "bulk\ncapacitor", "left", "black"),
        (3.75, 3.5, "primary", "right", MEASURED),
        (5.75, 3.5, "secondary", "left", PREDICTED),
        (4.2, 1.2, "switch", "left", "black"),
        (6.8, 5.55, "output rectifier", "center", "black"),
        (8.0, 0.45, "output capacitor", "center", "black"),
        (9.75, 2.8, "load", "left", "black"),
    )
    for x, y, text, side, colour in texts:
        axes.text(x, y, text, ha=side, va="center", color=colour, fontsize=15)
    axes.set_xlim(-0.8, 10.6)
    axes.set_ylim(-0.3, 5.9)
    axes.set_aspect("equal")
    axes.set_axis_off()
    return figure


FIGURES: dict[str, Callable[[FlybackAssessment], Figure]] = {
    "flyback_waveforms": draw_waveforms,
    "flyback_modes": draw_modes,
    "flyback_circuit": draw_circuit,
}
