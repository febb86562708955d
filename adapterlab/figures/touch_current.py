"""Pictures of the touch current: readings, limits, the capacitor implied, the rail's waveform."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.figure import Figure

from adapterlab.assess.touch_current import TouchCurrentAssessment
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    limit_line,
    measured,
    new_figure,
    nothing_to_show,
    predicted,
)
from adapterlab.published import judges, rows
from adapterlab.touch_current import body_network

MICRO = 1e6


def _labels(readings: pd.DataFrame) -> list[str]:
    return [
        f"{row.condition.replace(', ', ' ')}\n{row.network} {row.quantity}"
        for row in readings.itertuples()
    ]


def draw_readings(result: TouchCurrentAssessment) -> Figure:
    """Every reading beside what the marked barrier capacitor predicts."""
    readings = result.readings[result.readings["network"] != "unweighted"].head(6)
    title = "Touch current as read, beside what the barrier capacitor predicts"
    if readings.empty:
        return nothing_to_show(title, "No touch current has been measured.")
    distance = (readings["current"] - readings["predicted"]).abs()
    limit = 2 * np.hypot(readings["standard_uncertainty"], readings["predicted_uncertainty"])
    if result.barrier is not None:
        apart = bool((distance > limit).any())
        several = " and " in result.barrier.label
        can, cannot = ("explain", "do not explain") if several else ("explains", "does not explain")
        verb = cannot if apart else can
        title = f"{result.barrier.label} {verb} the touch current"
    figure, axes = new_figure(title)
    place = np.arange(len(readings))
    measured(
        axes,
        place - 0.08,
        readings["current"] * MICRO,
        readings["standard_uncertainty"] * MICRO,
        "measured (95 %)",
    )
    if result.barrier is not None:
        predicted(
            axes,
            place + 0.08,
            readings["predicted"] * MICRO,
            readings["predicted_uncertainty"] * MICRO,
            "predicted from the part (95 %)",
        )
    axes.set_xticks(place, _labels(readings), fontsize=11)
    axes.set_xlim(-0.5, len(readings) - 0.5)
    top = readings[["current", "predicted"]].max(axis=None) * MICRO
    axes.set_ylim(0, 1.45 * top)
    axes.set_ylabel("touch current (µA)")
    axes.legend(loc="upper left")
    return figure


def _judged(row: Any) -> bool:
    return judges({"known": row.known}) and not isinstance(row.not_judged, str)


def draw_limits(result: TouchCurrentAssessment) -> Figure:
    """The largest rms and peak readings against the limits of several standards."""
    title = "The published limits of touch current differ by more than a factor of five"
    table = pd.DataFrame(rows("touch_current", "limits")).sort_values("limit")
    figure, axes = new_figure(title)
    for place, row in enumerate(table.itertuples()):
        solid = _judged(row)
        axes.plot(
            [row.limit * MICRO] * 2,
            [place - 0.36, place + 0.36],
            color=LIMIT,
            linewidth=3,
            linestyle="-" if solid else (0, (1, 1)),
        )
        alike = result.readings[
            (result.readings["quantity"] == row.quantity)
            & (result.readings["network"] == row.network)
        ]
        if not alike.empty:
            top = alike.loc[alike["current"].idxmax()]
            axes.errorbar(
                top["current"] * MICRO,
                place,
                fmt="o",
                color=MEASURED,
                capsize=4,
                xerr=1.96 * top["standard_uncertainty"] * MICRO,
            )
    names = [
        f"{row.standard}, {row.short} ({row.quantity})" + ("" if _judged(row) else " *")
        for row in table.itertuples()
    ]
    axes.set_yticks(range(len(table)), names, fontsize=12)
    axes.set_xlim(left=0)
    axes.set_xlabel("touch current (µA)")
    axes.plot([], [], color=LIMIT, linewidth=3, label="published limit")
    axes.plot(
        [],
        [],
        color=LIMIT,
        linewidth=3,
        linestyle=(0, (1, 1)),
        label="* not judged (from memory, or other scope)",
    )
    axes.plot([], [], "o", color=MEASURED, label="largest reading")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def draw_capacitance(result: TouchCurrentAssessment) -> Figure:
    """Capacitance implied by the reading, on the tolerance band of the marked part."""
    title = "Capacitance across the barrier that the reading implies"
    if result.inferred is None:
        return nothing_to_show(title, "No rms touch current has been measured.")
    nano = 1e9
    found, barrier = result.inferred, result.barrier
    if barrier is not None:
        inside = barrier.low <= found.capacitance <= barrier.high
        title = (
            f"The reading implies {found.capacitance * nano:.2f} nF across the barrier, "
            f"{'within' if inside else 'outside'} the tolerance of {barrier.label}"
        )
    figure, axes = new_figure(title)
    if barrier is not None:
        axes.axvspan(
            barrier.low * nano,
            barrier.high * nano,
            facecolor="none",
            edgecolor=PREDICTED,
            hatch="///",
            alpha=0.6,
            label="tolerance of the marked part",
        )
        axes.axvline(barrier.capacitance * nano, color=PREDICTED, linestyle=":")
    low, high = found.interval
    axes.errorbar(
        found.capacitance * nano,
        0,
        fmt="o",
        color=MEASURED,
        capsize=8,
        markersize=12,
        xerr=[[(found.capacitance - low) * nano], [(high - found.capacitance) * nano]],
        label="implied by the reading (95 %)",
    )
    axes.set_yticks([])
    axes.set_ylim(-1, 1)
    axes.annotate(
        f"{found.capacitance * nano:.2f} nF",
        (found.capacitance * nano, 0),
        xytext=(0, 14),
        textcoords="offset points",
        ha="center",
        color=MEASURED,
        fontsize=16,
    )
    reach = max(high, barrier.high if barrier else high)
    axes.set_xlim(0, 1.25 * reach * nano)
    axes.set_xlabel("capacitance (nF)")
    axes.legend(loc="upper left")
    return figure


def draw_rail(_: TouchCurrentAssessment | None = None) -> Figure:
    """Voltage of the negative rail against earth, and the current it drives."""
    figure, (top, bottom) = new_figure(
        "Behind a bridge the rail moves only half of the time", 2, 1, sharex=True
    )
    angle = np.linspace(0, 2, 1441)
    live = np.cos(np.pi * angle)
    quarter = (np.floor(2 * angle) % 4).astype(int)
    rail = np.select([quarter == 0, quarter == 1, quarter == 2], [0, live, -1], live - 1)
    top.plot(angle, live, color=QUIET, linestyle="--", label="live pole")
    top.plot(angle, rail, color=MEASURED, label="negative rail")
    top.set_ylabel("voltage over\nmains crest")
    top.set_ylim(-1.15, 1.75)
    top.legend(loc="upper right", ncols=2)
    current = np.where(quarter % 2 == 1, -np.sin(np.pi * angle), 0)
    bottom.plot(
        angle, -np.sin(np.pi * angle), color=QUIET, linestyle="--", label="on a full-mains rail"
    )
    bottom.plot(angle, current, color=MEASURED, label="behind the bridge")
    bottom.set_ylabel("current\nover ωCV̂")
    bottom.set_ylim(-1.25, 1.75)
    bottom.set_xlabel("time in half periods of the mains (10 ms each at 50 Hz)")
    bottom.legend(loc="upper right", ncols=2)
    return figure


def draw_network(_: TouchCurrentAssessment | None = None) -> Figure:
    """How the body network weighs a current by its frequency."""
    figure, axes = new_figure("The body network forgives high frequencies, as nerves do")
    frequency = np.logspace(1, 6, 400)
    network = body_network(frequency)
    axes.loglog(frequency, network.weighting, color=MEASURED, label="weighted (U2 over 500 Ω)")
    axes.loglog(
        frequency,
        network.unweighted,
        color=QUIET,
        linestyle="--",
        label="unweighted (U1 over 500 Ω)",
    )
    limit_line(axes, 50, "50 Hz mains", across=False)
    axes.set_xlabel("frequency (Hz)")
    axes.set_ylabel("indicated over true current")
    axes.legend(loc=(0.24, 0.06))
    return figure


FIGURES: dict[str, Callable[[TouchCurrentAssessment], Figure]] = {
    "touch_current_readings": draw_readings,
    "touch_current_limits": draw_limits,
    "touch_current_capacitance": draw_capacitance,
    "touch_current_rail": draw_rail,
    "touch_current_network": draw_network,
}
