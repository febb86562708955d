"""Pictures of the plug-in surge: capture, implied parts, the circuit at work, the fuse."""

from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure

from adapterlab.assess.finding import Value
from adapterlab.assess.inrush import InrushAssessment, Surge
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    band,
    limit_line,
    new_figure,
    nothing_to_show,
)
from adapterlab.inrush import crest_surge, crest_surge_current, rc_inrush_current
from adapterlab.published import rows
from adapterlab.verdict import UNEXPLAINED, prediction_word

MILLI, MICRO = 1e3, 1e6
_NO_CAPTURE = "No plug-in capture at the crest of the mains and from rest is listed."


def _strange(surge: Surge, *names: str) -> list[str]:
    """Which of a surge's quantities the parts do not explain."""
    if surge.prediction is None:
        return []
    apart = []
    for name in names:
        value, predicted = getattr(surge, name), surge.prediction.values[name]
        spreads = (value.standard_uncertainty, predicted.standard_uncertainty)
        if prediction_word(value.value, spreads[0], predicted.value, spreads[1]) == UNEXPLAINED:
            apart.append(name)
    return apart


def draw_capture(result: InrushAssessment) -> Figure:
    """The captured surge on the band that the parts predict, with the fitted curve."""
    if not result.surges:
        return nothing_to_show("The surge of current at plug-in", _NO_CAPTURE)
    surge = result.surges[0]
    title = (
        f"The surge starts at {surge.peak.short} and falls to 1/e in {surge.time_constant.short}"
    )
    if surge.prediction is not None:
        apart = _strange(surge, "peak", "time_constant")
        predicted_time = surge.prediction.values["time_constant"].value
        faster = surge.time_constant.value < predicted_time
        title += {
            (): ", as the parts predict",
            ("peak",): ": the peak is not what the parts predict",
            ("time_constant",): f", {'faster' if faster else 'slower'} than the parts predict",
        }.get(tuple(apart), ", unlike what the parts predict")
    figure, axes = new_figure(title)
    end = 3.5 * surge.time_constant.value
    if surge.prediction is not None:
        predicted = surge.prediction
        end = max(end, 2.5 * predicted.values["time_constant"].value)
        band(
            axes,
            predicted.time * MILLI,
            predicted.low,
            predicted.high,
            "predicted from the parts (95 %)",
        )
    shown = surge.time <= end
    axes.plot(
        surge.time[shown] * MILLI,
        surge.current[shown],
        color=MEASURED,
        marker="o",
        markersize=4,
        markevery=max(int(shown.sum() / 60), 1),
        linewidth=1.2,
        label="captured",
    )
    fitted = np.linspace(0.0, min(end, 0.249 / surge.mains_frequency), 300)
    drop = rows("inrush", "allowances", name="bridge drop")[0]
    axes.plot(
        fitted * MILLI,
        crest_surge_current(
            fitted,
            surge.mains_voltage.value,
            surge.mains_frequency,
            surge.fit.resistance,
            surge.fit.capacitance,
            (drop["low"] + drop["high"]) / 2,
        ),
        color=QUIET,
        linestyle=(0, (4, 2)),
        label="one resistance, one capacitance fitted",
    )
    axes.set_xlim(min(-0.02 * end, 0.0) * MILLI, end * MILLI)
    axes.set_ylim(bottom=0)
    axes.set_xlabel("time since contact (ms)")
    axes.set_ylabel("mains current (A)")
    axes.legend(loc="upper right")
    return figure


def draw_implied(result: InrushAssessment) -> Figure:
    """Resistance and capacitance implied by the surges, on what the marked parts allow."""
    title = "Resistance and bulk capacitance that the surge implies"
    if not result.surges:
        return nothing_to_show(title, _NO_CAPTURE)
    first = result.surges[0]
    title = f"The surge implies {first.resistance.short} and {first.capacitance.short}"
    if first.prediction is not None:
        apart = _strange(first, "resistance", "capacitance")
        title += ", as the parts say" if not apart else f": that {' and '.join(apart)} "
        title += "" if not apart else "does not fit the parts"
    figure, panels = new_figure(title, 1, 2)
    kinds = (
        ("resistance", 1.0, "resistance of the cold path (Ω)"),
        ("capacitance", MICRO, "bulk capacitance (µF)"),
    )
    for axes, (name, factor, label) in zip(panels, kinds, strict=True):
        reach = [0.0]
        if first.prediction is not None:
            low, high = (end * factor for end in first.prediction.intervals[name])
            axes.axvspan(
                low,
                high,
                facecolor="none",
                edgecolor=PREDICTED,
                hatch="///",
                alpha=0.6,
                label="the parts, within their tolerances (95 %)",
            )
            axes.axvline(
                first.prediction.values[name].value * factor, color=PREDICTED, linestyle=":"
            )
            axes.annotate(
                first.prediction.values[name].short,
                (first.prediction.values[name].value * factor, 0.72),
                ha="center",
                color=PREDICTED,
                fontsize=16,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.85},
            )
            reach.append(high)
        for place, surge in enumerate(result.surges):
            value: Value = getattr(surge, name)
            half = 1.96 * value.standard_uncertainty * factor
            axes.errorbar(
                value.value * factor,
                -place,
                xerr=half,
                fmt="o",
                color=MEASURED,
                capsize=8,
                markersize=11,
                label="implied by the surge (95 %)" if place == 0 else None,
            )
            axes.annotate(
                value.short,
                (value.value * factor, -place),
                xytext=(0, 14),
                textcoords="offset points",
                ha="center",
                color=MEASURED,
                fontsize=16,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.85},
            )
            reach.append(value.value * factor + half)
        axes.set_xlim(0, 1.15 * max(reach))
        axes.set_ylim(-len(result.surges), 1)
        axes.set_yticks([])
        axes.set_xlabel(label)
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=2)
    return figure


def draw_circuit(result: InrushAssessment) -> Figure:
    """Voltage of the bulk capacitor and current, beside those of a constant source."""
    resistance, capacitance, what = 10.0, 33e-6, "an example of 10 Ω and 33 µF"
    voltage, frequency = 230.0, 50.0
    if result.prediction is not None:
        resistance = result.prediction.values["resistance"].value
        capacitance = result.prediction.values["capacitance"].value
        what = "the listed parts"
    if result.surges:
        voltage = result.surges[0].mains_voltage.value
        frequency = result.surges[0].mains_frequency
    surge = crest_surge(voltage, frequency, resistance, capacitance)
    figure, (top, bottom) = new_figure(
        f"The mains turns down before the capacitor is full: with {what} the current stops after "
        f"{Value(surge.stop_time, 0.0, 's').short}",
        2,
        1,
        sharex=True,
    )
    time = np.linspace(0.0, min(1.4 * surge.stop_time, 0.249 / frequency), 400)
    mains = np.sqrt(2) * voltage * np.cos(2 * np.pi * frequency * time)
    current = crest_surge_current(time, voltage, frequency, resistance, capacitance)
    bulk = np.where(time < surge.stop_time, mains - resistance * current, surge.final_voltage)
    top.plot(time * MILLI, mains, color=QUIET, linestyle="--", label="mains")
    top.plot(time * MILLI, bulk, color=MEASURED, label="bulk capacitor")
    top.set_ylabel("voltage (V)")
    top.set_ylim(0, 1.5 * np.sqrt(2) * voltage)
    top.legend(loc="upper right", ncols=2)
    constant = rc_inrush_current(time, np.sqrt(2) * voltage, resistance, capacitance)
    bottom.plot(
        time * MILLI, constant, color=QUIET, linestyle="--", label="if the mains stood still"
    )
    bottom.plot(time * MILLI, current, color=MEASURED, label="on the real mains")
    bottom.axvline(surge.stop_time * MILLI, color=QUIET, linestyle=":")
    bottom.set_ylabel("current (A)")
    bottom.set_ylim(0, 1.15 * surge.peak_current)
    bottom.set_xlabel("time since contact at the crest (ms)")
    bottom.legend(loc="upper right")
    return figure


def draw_fuse(result: InrushAssessment) -> Figure:
    """I²t as it grows through the capture, against what the fuse stands."""
    title = "How far the surge goes towards wearing the fuse"
    if not result.surges:
        return nothing_to_show(title, _NO_CAPTURE)
    surge = max(result.surges, key=lambda entry: entry.record_i_squared_t.value)
    total = surge.record_i_squared_t
    fuse = result.fuse
    title = f"One plug-in costs {total.short}; no fuse with a melting figure is listed"
    if fuse is not None:
        share = total.value / fuse.allowed
        title = (
            f"One plug-in costs {total.short}, {100 * share:.0f} % of what {fuse.reference} may "
            f"meet {fuse.plug_ins:,} times"
        )
    figure, axes = new_figure(title)
    later = surge.time > 0
    moments, flow = surge.time[later], surge.current[later]
    grown = np.cumsum(flow**2 * np.gradient(moments))
    axes.loglog(moments * MILLI, grown, color=MEASURED, label="captured, summed up")
    axes.plot(moments[-1] * MILLI, grown[-1], "o", color=MEASURED, markersize=10)
    if fuse is not None:
        limit_line(axes, fuse.allowed, f"{fuse.reference}, {fuse.plug_ins:,} times")
        axes.axhline(fuse.melting, color=LIMIT, linewidth=2.5)
        axes.annotate(
            f"{fuse.reference} melts",
            (1, fuse.melting),
            xycoords=("axes fraction", "data"),
            xytext=(-4, 4),
            textcoords="offset points",
            ha="right",
            color=LIMIT,
            fontsize=11,
        )
    top = fuse.melting if fuse is not None else 3 * grown[-1]
    axes.set_ylim(10 ** np.floor(np.log10(grown[-1] / 20)), 10 ** np.ceil(np.log10(1.5 * top)))
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter("{x:g}")
        axis.set_minor_formatter("")
    axes.set_xlim(moments[0] * MILLI, 1.3 * moments[-1] * MILLI)
    axes.set_xlabel("time since contact (ms)")
    axes.set_ylabel("I²t so far (A²s)")
    axes.legend(loc="upper left")
    return figure


FIGURES: dict[str, Callable[[InrushAssessment], Figure]] = {
    "inrush_capture": draw_capture,
    "inrush_implied": draw_implied,
    "inrush_circuit": draw_circuit,
    "inrush_fuse": draw_fuse,
}
