"""Pictures of the flyback converter: its waveforms and energies, and the list of all pictures."""

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from adapterlab.assess.flyback import FlybackAssessment
from adapterlab.assess.model.stages import Stage
from adapterlab.figures.flyback.circuit import draw_circuit
from adapterlab.figures.flyback.maps import MISSING, draw_cancellation, draw_modes
from adapterlab.figures.flyback.parts import draw_losses, draw_stresses
from adapterlab.figures.style import MEASURED, PREDICTED, QUIET, new_figure, nothing_to_show
from adapterlab.flyback import OperatingPoint, operating_point, waveforms

MICRO = 1e6
_SPANS = {
    "discontinuous": "then the core rests",
    "boundary": "and starts over at once",
    "continuous": "and never empties it",
}


def _shaded(axes: Axes, stage: Stage, point: OperatingPoint) -> None:
    """Power into the core upwards, out of it downwards, with the two energies written in."""
    wave = waveforms(point, periods=1)
    time = wave.time * MICRO
    source = point.switch_voltage - point.reflected_voltage
    output = stage.output_voltage + stage.rectifier_drop.middle
    into, out_of = source * wave.primary_current, -output * wave.secondary_current
    joule = MICRO * np.trapezoid(source * wave.primary_current, wave.time)
    opens, ends = time[1], time[3]
    for values, colour, hatch, label, place in (
        (into, MEASURED, "", "charge", (opens, 0.6 * into.max())),
        (out_of, PREDICTED, "///", "release", ((opens + ends) / 2, 1.05 * out_of.min())),
    ):
        axes.fill_between(time, values, color=colour, alpha=0.35, hatch=hatch, linewidth=0)
        axes.plot(time, values, color=colour)
        axes.annotate(
            f"{label} {joule:.0f} µJ", place, xytext=(7, 0), textcoords="offset points",
            va="center", color=colour,
        )  # fmt: skip
    axes.set_ylim(1.7 * out_of.min(), 1.3 * into.max())
    axes.axhline(0, color=QUIET, linewidth=1)


def draw_waveforms(result: FlybackAssessment) -> Figure:
    """One switching period of every converter at full load: energies, currents, voltage."""
    stages = [s for s in result.stages if result.points_for(s)][:3]
    if not stages:
        return nothing_to_show("One switching period of the converter", MISSING)
    first = {stage.name: result.points_for(stage)[0] for stage in stages}
    points = {
        stage.name: operating_point(first[stage.name].input_voltage.value.value, **stage.numbers())
        for stage in stages
    }
    modes = {point.mode for point in points.values()}
    ends = _SPANS[modes.pop()] if len(modes) == 1 else "in its own way"
    mains = f"{first[stages[0].name].mains_voltage:g}\u00a0V mains, full load"
    title = f"What the core takes in, it gives off in the same period, {ends} ({mains})"
    figure, grid = new_figure(title, 3, len(stages), sharex="col", squeeze=False)
    for column, stage in enumerate(stages):
        point = points[stage.name]
        wave = waveforms(point, periods=1)
        time = wave.time * MICRO
        energy, current, voltage = grid[:, column]
        load = f"{stage.output_voltage:g} V, {stage.output_current:.3g} A"
        energy.set_title(f"{stage.name}: {load}", fontsize=13, loc="left")
        _shaded(energy, stage, point)
        current.plot(time, wave.primary_current, color=MEASURED)
        current.plot(time, wave.secondary_current, color=PREDICTED, linestyle=(0, (5, 2)))
        current.set_ylim(0, 1.3 * point.secondary_peak)
        for height, colour, words in (
            (0.98, PREDICTED, f"secondary, peak {point.secondary_peak:.1f} A"),
            (0.72, MEASURED, f"primary, peak {point.primary_peak:.2f} A"),
        ):
            current.text(
                0.99, height, words, transform=current.transAxes, ha="right", va="top", color=colour
            )
        voltage.plot(time, wave.switch_voltage, color="black")
        voltage.set_ylim(0, 1.35 * point.switch_voltage)
        voltage.annotate(
            f"{point.switch_voltage:.0f} V, spike not drawn", (time[2], point.switch_voltage),
            xytext=(6, 3), textcoords="offset points",
        )  # fmt: skip
        voltage.set_xlabel("time (µs)")
        voltage.set_xlim(0, time[-1])
    for row, label in enumerate(("power into\nthe core (W)", "current (A)", "switch\nvoltage (V)")):
        grid[row, 0].set_ylabel(label)
    figure.align_ylabels()
    return figure


FIGURES: dict[str, Callable[[FlybackAssessment], Figure]] = {
    "flyback_circuit": draw_circuit,
    "flyback_waveforms": draw_waveforms,
    "flyback_modes": draw_modes,
    "flyback_stresses": draw_stresses,
    "flyback_losses": draw_losses,
    "flyback_cancellation": draw_cancellation,
}
