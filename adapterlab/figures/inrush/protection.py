"""Pictures of the parts under stress: the fuse's I²t, the discharge of the line capacitor."""

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from adapterlab.assess.inrush.fuse import times_stood
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.figures.style import (
    LIMIT,
    MARKERS,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    band,
    limit_line,
    new_figure,
    nothing_to_show,
)
from adapterlab.inrush import discharge_voltage
from adapterlab.published import rows


def draw_fuse(result: Any) -> Figure:
    """I²t of each plug-in against what the fuse stands how often.

    Parameters
    ----------
    result : InrushAssessment
        What `adapterlab.assess.inrush.assess` returned.

    Returns
    -------
    matplotlib.figure.Figure
        The picture.
    """
    title, fuse = "How far the surge goes towards wearing the fuse", result.fuse
    if fuse is None:
        return nothing_to_show(title, "No fuse with a melting I²t is listed.")
    chart = rows("inrush", "fuse_pulses")
    pulses = np.array([row["pulses"] for row in chart], dtype=float)
    allowed = fuse.melting * np.array([row["fraction"] for row in chart])
    if result.surges:
        heat = max(surge.i_squared_t.value for surge in result.surges)
        title = (
            f"The largest surge costs {Value(heat, 0.0, 'A²s').short}; by one maker's chart "
            f"{fuse.reference} stands that {times_stood(fuse, heat)}"
        )
    figure, axes = new_figure(title)
    axes.axhline(fuse.melting, color=LIMIT, linewidth=2.5)
    axes.annotate(
        f"{fuse.reference} melts",
        (1, fuse.melting),
        xycoords=("axes fraction", "data"),
        xytext=(-4, 5),
        textcoords="offset points",
        ha="right",
        color=LIMIT,
        fontsize=14,
    )
    axes.loglog(
        pulses,
        allowed,
        color=LIMIT,
        linestyle=(0, (6, 3)),
        marker="s",
        label=f"{fuse.reference} stands this so often",
    )
    lowest = allowed[-1]
    for place, surge in enumerate(result.surges):
        heat = surge.i_squared_t
        half = 1.96 * heat.standard_uncertainty
        axes.axhspan(
            max(heat.value - half, 1e-9), heat.value + half, color=SERIES[place % 6], alpha=0.18
        )
        number = fuse.pulses["warm" if surge.warm else "cold"]
        axes.errorbar(
            number,
            heat.value,
            yerr=half,
            fmt=MARKERS[place % 6],
            color=SERIES[place % 6],
            markersize=11,
            capsize=6,
            label=f"{surge.phase.value:.0f}°, limiter {'still warm' if surge.warm else 'cold'}",
        )
        lowest = min(lowest, heat.value)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter("{x:,g}")
        axis.set_minor_formatter("")
    axes.set_xlim(70, 1.4e5)
    axes.set_ylim(lowest / 4, 4 * fuse.melting)
    axes.set_xlabel("number of plug-ins, with time to cool in between")
    axes.set_ylabel("I²t of one plug-in (A²s)")
    axes.legend(loc="lower left", ncols=2)
    return figure


def draw_discharge(result: Any) -> Figure:
    """Voltage on the pins after the plug is pulled, with what a probe makes of it.

    Parameters
    ----------
    result : InrushAssessment
        What `adapterlab.assess.inrush.assess` returned.

    Returns
    -------
    matplotlib.figure.Figure
        The picture.
    """
    found = result.discharge
    if found is None:
        reason = "No line capacitor with discharge resistors and their values is listed."
        return nothing_to_show("How the line capacitor runs down", reason)
    figure, axes = new_figure(
        f"Pulled at {found.start_voltage:.0f} V, the pins are below {found.level:.0f} V after "
        f"{found.time.value.short}, by the marks of the parts"
    )
    bulk, series, start = found.capacitance, found.resistance, found.start_voltage
    middle = found.time.value.value
    time = np.linspace(0, max(2.2, 1.6 * middle), 300)
    low, high = (start * np.exp(-time / constant) for constant in found.constant.reach)
    band(axes, time, low, high, "with the parts anywhere in their tolerances")
    axes.plot(
        time, discharge_voltage(time, bulk, series, start), color=PREDICTED, label="as marked"
    )
    probe = rows("inrush", "probe")[0]["resistance"]
    axes.plot(
        time,
        discharge_voltage(time, bulk, series, start, probe_resistance=probe),
        color=QUIET,
        linestyle=(0, (4, 2)),
        label=f"as a probe of {Value(probe, 0.0, 'Ω').short} shows it",
    )
    limit_line(axes, found.level, f"{found.level:.0f} V")
    axes.axvline(middle, color=MEASURED, linestyle=":", linewidth=1.8)
    axes.annotate(
        f"below {found.level:.0f} V\nafter {found.time.value.short}",
        (middle, found.level),
        xytext=(14, 44),
        textcoords="offset points",
        color=MEASURED,
        fontsize=14,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.85},
    )
    axes.set_xlim(0, time[-1])
    axes.set_ylim(0, 1.08 * start)
    axes.set_xlabel("time since the plug was pulled (s)")
    axes.set_ylabel("voltage between the pins (V)")
    axes.legend(loc="upper right")
    return figure
