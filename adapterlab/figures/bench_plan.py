"""The plan of a bench session in three pictures."""

from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import LogLocator, NullFormatter

from adapterlab.assess.bench_plan import BenchPlanAssessment
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
    budgets = result.budgets
    if not budgets:
        return nothing_to_show(title, _NO_METERS)
    names = list(budgets[0].parts)
    worst, _ = budgets[-1].worst
    what = worst if worst == names[-1] else f"the meter for {worst}"
    figure, axes = new_figure(f"At light load {what} limits what is known of the efficiency")
    spot = np.arange(len(budgets))
    for place, name in enumerate(names):
        axes.bar(
            spot + 0.2 * (place - 1.5),
            [100 * item.parts[name] for item in budgets],
            0.18,
            color="white",
            edgecolor=SERIES[place],
            hatch=("///", "...", "xx", "")[place],
            linewidth=1.6,
            label=name,
        )
    together = [100 * item.together for item in budgets]
    axes.plot(spot, together, "D", color=MEASURED, label="together")
    axes.set_xticks(
        spot, [f"{100 * item.load_fraction:.0f} %\n{item.output_power:.3g} W" for item in budgets]
    )
    axes.set_ylabel("standard uncertainty\n(percentage points)")
    axes.set_xlabel("load")
    axes.set_ylim(0, 1.08 * max(together))
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def draw_difference(result: BenchPlanAssessment) -> Figure:
    """Smallest difference of efficiency that can be told, by what is known of the meters."""
    title = "How small a difference of efficiency the bench can tell"
    budgets = result.budgets
    if not budgets:
        return nothing_to_show(title, _NO_METERS)
    full = budgets[0]
    figure, axes = new_figure(
        f"At {full.output_power:.3g} W these meters tell two adapters apart from "
        f"{100 * full.same_meters:.2g} percentage points on"
    )
    curves = [
        ("on the same meters, for sure", "same_meters", MEASURED, "-"),
        ("if a meter errs alike in both readings", "errors_alike", PREDICTED, ":"),
        ("on two such benches", "other_meters", LIMIT, "--"),
    ]
    if full.errors_alike >= 0.9 * full.same_meters:
        curves.pop(1)
    elif full.other_meters <= 1.02 * full.same_meters:
        curves[0] = ("on the same meters or on two such benches, for sure", *curves[0][1:])
        curves.pop(2)
    for place, (label, name, colour, style) in enumerate(curves):
        axes.plot(
            [item.output_power for item in budgets],
            [100 * getattr(item, name) for item in budgets],
            style,
            marker=MARKERS[place],
            color=colour,
            label=label,
        )
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
