"""The plan of a bench session in three pictures."""

from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import LogLocator, NullFormatter

from adapterlab.assess.bench_plan import METERS, BenchPlanAssessment
from adapterlab.figures.style import (
    LIMIT,
    MARKERS,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    new_figure,
    nothing_to_show,
)

_NO_PORTS = "The nameplate lists no ports, so nothing can be planned."
_NO_METERS = "No meters for input power, output voltage and output current are listed."


def draw_points(result: BenchPlanAssessment) -> Figure:
    """Every load point: output power against loading, done and open."""
    title = "The load points worth taking"
    if not result.points:
        return nothing_to_show(title, _NO_PORTS)
    done = sum(point.measured for point in result.points)
    names = list(dict.fromkeys((point.mains_voltage, point.loading) for point in result.points))
    figure, axes = new_figure(f"{done} of {len(result.points)} planned load points are taken")
    for row, (mains, loading) in enumerate(reversed(names)):
        alike = [p for p in result.points if (p.mains_voltage, p.loading) == (mains, loading)]
        axes.plot([p.output_power for p in alike], [row] * len(alike), color=QUIET, linewidth=0.8)
        for point in alike:
            axes.plot(
                point.output_power,
                row,
                "o" if point.measured else "s",
                color=MEASURED if point.measured else LIMIT,
                mfc=MEASURED if point.measured else "white",
                mew=2,
                markersize=8,
            )
    axes.plot([], [], "o", color=MEASURED, label="in the load sweep")
    axes.plot([], [], "s", color=LIMIT, mfc="white", mew=2, label="still to take")
    size = 11 if len(names) < 16 else 9
    labels = [f"{loading}, {mains:g} V" for mains, loading in reversed(names)]
    axes.set_yticks(range(len(names)), labels, fontsize=size)
    axes.set_ylim(-0.7, len(names) - 0.3)
    axes.set_xlim(left=0)
    axes.set_xlabel("output power (W)")
    figure.legend(loc="outside lower center", ncols=2)
    return figure


def draw_budget(result: BenchPlanAssessment) -> Figure:
    """Standard uncertainty of the efficiency by meter, at each load."""
    title = "Which meter limits the efficiency"
    budget = result.budget
    if budget.empty:
        return nothing_to_show(title, _NO_METERS)
    low = budget.iloc[-1]
    worst = max((*METERS, "rounding"), key=lambda name: low[name])
    what = "rounding" if worst == "rounding" else f"the meter for {worst}"
    figure, axes = new_figure(f"At light load {what} limits what is known of the efficiency")
    spot = np.arange(len(budget))
    for place, name in enumerate((*METERS, "rounding")):
        axes.bar(
            spot + 0.2 * (place - 1.5),
            100 * budget[name].astype(float),
            0.18,
            color="white",
            edgecolor=SERIES[place],
            hatch=("///", "...", "xx", "")[place],
            linewidth=1.6,
            label=name,
        )
    axes.plot(spot, 100 * budget["together"], "D", color=MEASURED, label="together")
    loads = zip(budget["load_fraction"], budget["output_power"], strict=True)
    axes.set_xticks(spot, [f"{100 * share:.0f} %\n{power:.3g} W" for share, power in loads])
    axes.set_ylabel("standard uncertainty\n(percentage points)")
    axes.set_xlabel("load")
    axes.set_ylim(0, 108 * float(budget["together"].max()))
    figure.legend(loc="outside lower center", ncols=5)
    return figure


def draw_difference(result: BenchPlanAssessment) -> Figure:
    """Smallest difference of efficiency that can be told, with the same and with other meters."""
    title = "How small a difference of efficiency the bench can tell"
    budget = result.budget
    if budget.empty:
        return nothing_to_show(title, _NO_METERS)
    gain = float(budget["other meters"].iloc[0] / budget["same meters"].iloc[0])
    figure, axes = new_figure(
        f"The same meters for both adapters tell them apart {gain:.0f} times finer at full load"
    )
    for name, label, colour, marker, style in (
        ("other meters", "with other, equal meters", PREDICTED, MARKERS[1], "--"),
        ("same meters", "with the same meters", MEASURED, MARKERS[0], "-"),
    ):
        apart = 100 * budget[name]
        axes.plot(budget["output_power"], apart, style, marker=marker, color=colour, label=label)
    axes.set_yscale("log")
    axes.yaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.set_xlabel("output power (W)")
    axes.set_ylabel("smallest difference that shows\n(percentage points)")
    axes.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.legend(loc="best")
    return figure


FIGURES: dict[str, Callable[[BenchPlanAssessment], Figure]] = {
    "bench_plan_points": draw_points,
    "bench_plan_budget": draw_budget,
    "bench_plan_difference": draw_difference,
}
