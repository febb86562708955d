"""Pictures of the plug-in surge: captures, implied parts, the circuit at work, angle of contact."""

from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure

from adapterlab.assess.inrush import InrushAssessment
from adapterlab.assess.inrush.captures import Surge
from adapterlab.assess.report.finding import judgement_of
from adapterlab.assess.report.value import Value
from adapterlab.figures.inrush.protection import draw_discharge, draw_fuse
from adapterlab.figures.style import (
    MARKERS,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    band,
    new_figure,
    nothing_to_show,
)
from adapterlab.inrush import Thermistor, plug_in_surge
from adapterlab.judgement import EXPLAINED, UNEXPLAINED

MILLI, MICRO = 1e3, 1e6
_NO_CAPTURE = "No plug-in capture with a current channel is listed."


def _words(surge: Surge, *names: str) -> dict[str, str]:
    """What the section says of some of a surge's quantities against the parts."""
    if surge.prediction is None:
        return {}
    figures = surge.prediction.figures
    return {name: judgement_of(getattr(surge, name), figures[name]).word for name in names}


def draw_capture(result: InrushAssessment) -> Figure:
    """The captured surges, each on the band that the parts predict, with the fitted curve."""
    if not result.surges:
        return nothing_to_show("The surge of current at plug-in", _NO_CAPTURE)
    shown = result.surges[:3]
    words = [_words(surge, "peak", "time_constant") for surge in shown]
    strange = {name for told in words for name, word in told.items() if word == UNEXPLAINED}
    explained = {word for told in words for word in told.values()} <= {EXPLAINED}
    tops = [surge.peak.short for surge in shown]
    title = f"The surge reaches {' and '.join([', '.join(tops[:-1]), tops[-1]]).lstrip(' and')}"
    if any(words):
        title += {
            frozenset(): ", as the parts predict" if explained else "",
            frozenset({"peak"}): ": a peak that the parts do not explain",
            frozenset({"time_constant"}): ", and does not die away as the parts predict",
        }.get(frozenset(strange), ", unlike what the parts predict")
    figure, panels = new_figure(title, 1, len(shown), squeeze=False)
    for place, (axes, surge) in enumerate(zip(panels[0], shown, strict=True)):
        end = 3.2 * surge.time_constant.value
        if surge.prediction is not None:
            predicted = surge.prediction
            end = max(end, 2.2 * predicted.figures["time_constant"].value.value)
            band(
                axes,
                predicted.time * MILLI,
                predicted.low,
                predicted.high,
                "predicted (95 %)",
            )
        seen = surge.time <= end
        axes.plot(
            surge.time[seen] * MILLI,
            surge.current[seen],
            color=MEASURED,
            marker="o",
            markersize=4,
            markevery=max(int(seen.sum() / 25), 1),
            linewidth=1.2,
            label="captured",
        )
        axes.plot(
            surge.fit.time * MILLI,
            surge.fit.current,
            color=QUIET,
            linestyle=(0, (4, 2)),
            label="fitted",
        )
        axes.set_xlim(-0.04 * end * MILLI, end * MILLI)
        axes.set_ylim(bottom=0)
        limiter = "warm" if surge.warm else "cold"
        axes.set_title(f"{surge.phase.value:.0f}°, limiter {limiter}", fontsize=14)
        axes.set_xlabel("time since contact (ms)")
        if place == 0:
            axes.set_ylabel("mains current (A)")
    handles, labels = panels[0][0].get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside lower center", ncols=3)
    return figure


def draw_implied(result: InrushAssessment) -> Figure:
    """Resistance and capacitance implied by the surges, on what the marked parts allow."""
    title = "Resistance and bulk capacitance that the surge implies"
    if not result.surges:
        return nothing_to_show(title, _NO_CAPTURE)
    first = result.surges[0]
    title = f"The surge implies {first.resistance.short} and {first.capacitance.short}"
    words = [_words(surge, "resistance", "capacitance") for surge in result.surges]
    apart = sorted({name for told in words for name, word in told.items() if word == UNEXPLAINED})
    if apart:
        title += f": that {' and '.join(apart)} does not fit the parts"
    elif {word for told in words for word in told.values()} == {EXPLAINED}:
        title += ", as the parts say"
    figure, panels = new_figure(title, 1, 2, sharey=True)
    kinds = (
        ("resistance", 1.0, "resistance of the path (Ω)"),
        ("capacitance", MICRO, "bulk capacitance (µF)"),
    )
    for axes, (name, factor, label) in zip(panels, kinds, strict=True):
        reach = [0.0]
        for place, surge in enumerate(result.surges):
            value: Value = getattr(surge, name)
            if surge.prediction is not None:
                low, high = (end * factor for end in surge.prediction.figures[name].reach)
                axes.barh(
                    -place,
                    high - low,
                    left=low,
                    height=0.55,
                    facecolor="none",
                    edgecolor=PREDICTED,
                    hatch="///",
                    alpha=0.6,
                    label="the parts, anywhere in their tolerances" if place == 0 else None,
                )
                reach.append(high)
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
        axes.set_xlim(0, 1.12 * max(reach))
        axes.set_ylim(0.6 - len(result.surges), 0.6)
        axes.set_xlabel(label)
        axes.grid(visible=False, axis="y")
    panels[0].set_yticks(
        [-place for place in range(len(result.surges))],
        [f"{s.phase.value:.0f}°,\n{'warm' if s.warm else 'cold'}" for s in result.surges],
    )
    handles, labels = panels[0].get_legend_handles_labels()
    figure.legend(handles[::-1], labels[::-1], loc="outside lower center", ncols=2)
    return figure


def draw_circuit(result: InrushAssessment) -> Figure:
    """Mains, bulk capacitor, current and limiter over the first two half periods."""
    if result.prediction is not None and result.rectifier is not None:
        surge, what = result.prediction.surge, "the parts as marked"
        warms = bool(result.rectifier.discs)
        mains = result.surges[0].mains_voltage.value if result.surges else 230.0
        frequency = result.surges[0].mains_frequency if result.surges else 50.0
        phase = result.surges[0].phase.value if result.surges else 90.0
    else:
        mains, frequency, phase, warms = 230.0, 50.0, 90.0, True
        what = "an example of 10 Ω and 47 µF"
        disc = Thermistor(10.0, 2900.0, 0.5, 0.012)
        surge = plug_in_surge(230, 50, 90, 47e-6, 1.0, thermistor=disc, duration=0.02)
    time = surge.time * MILLI
    turn = 2 * np.pi * frequency * surge.time + np.radians(phase)
    mains_curve = np.sqrt(2) * mains * np.abs(np.sin(turn))
    filled = Value(float(surge.half_cycle_voltage[0]), 0.0, "V").short
    title = f"With {what} the capacitor holds {filled} after the first half period"
    risen = float(surge.thermistor_temperature.max() - surge.thermistor_temperature[0])
    if warms:
        title += f"; the limiter has warmed by {risen:.0f} K"
    figure, panels = new_figure(title, 3 if warms else 2, 1, sharex=True)
    top, bottom = panels[:2]
    top.plot(time, mains_curve, color=QUIET, linestyle="--", label="mains, rectified")
    top.plot(time, surge.bulk_voltage, color=PREDICTED, label="bulk capacitor")
    top.set_ylabel("voltage (V)")
    top.set_ylim(0, 1.65 * mains_curve.max())
    top.legend(loc="upper right", ncols=2)
    bottom.plot(time, np.abs(surge.current), color=PREDICTED)
    bottom.set_ylabel("current (A)")
    bottom.set_ylim(0, 1.1 * surge.peak_current)
    if warms:
        panels[2].plot(time, surge.thermistor_temperature, color=PREDICTED)
        panels[2].set_ylabel("limiter (°C)")
        start = surge.thermistor_temperature[0]
        panels[2].set_ylim(start - 0.1 * risen - 0.1, start + 1.2 * risen + 0.1)
    panels[-1].set_xlabel("time since contact (ms)")
    panels[-1].set_xlim(-0.2, time[-1])
    figure.align_ylabels(panels)
    return figure


def draw_phase(result: InrushAssessment) -> Figure:
    """Peak of the surge against the angle of contact, with the worst angle and the captures."""
    if result.sweep is None:
        reason = "The parts list does not hold an inrush limiter and a bulk capacitor with values."
        return nothing_to_show("The surge against the angle of contact", reason)
    sweep = result.sweep
    warms = result.rectifier is not None and bool(result.rectifier.discs)
    figure, axes = new_figure(
        f"{'With the limiter cold the worst contact' if warms else 'The worst contact'} is at "
        f"{sweep.worst.phase:.0f}°, about {sweep.worst.value:.2g} A; left to chance "
        f"the surge is {sweep.by_chance.value:.0f} A on average"
    )
    band(axes, sweep.phase, sweep.low, sweep.high, "predicted, limiter cold (95 %)")
    axes.plot(sweep.phase, sweep.middle, color=PREDICTED, label="mean of the prediction")
    axes.plot(
        sweep.worst.phase,
        sweep.worst.value,
        "D",
        color=PREDICTED,
        markerfacecolor="white",
        markeredgewidth=2,
        markersize=11,
        label="worst angle, parts as marked",
    )
    for place, warm in enumerate((False, True)):
        those = [surge for surge in result.surges if surge.warm == warm]
        if those:
            axes.errorbar(
                [surge.phase.value for surge in those],
                [surge.peak.value for surge in those],
                yerr=[1.96 * surge.peak.standard_uncertainty for surge in those],
                fmt=MARKERS[place],
                color=(MEASURED, SERIES[3])[place],
                markersize=10,
                capsize=5,
                label=f"captured, limiter {'still warm' if warm else 'cold'}",
            )
    axes.set_xlim(-3, 183)
    axes.set_xticks(range(0, 181, 30))
    highest = max([sweep.high.max(), *(surge.peak.value for surge in result.surges)])
    axes.set_ylim(0, 1.32 * highest)
    axes.set_xlabel("angle of the mains at contact (°)")
    axes.set_ylabel("peak current (A)")
    axes.legend(loc="upper left", ncols=2)
    return figure


FIGURES: dict[str, Callable[[InrushAssessment], Figure]] = {
    "inrush_capture": draw_capture,
    "inrush_implied": draw_implied,
    "inrush_circuit": draw_circuit,
    "inrush_phase": draw_phase,
    "inrush_fuse": draw_fuse,
    "inrush_discharge": draw_discharge,
}
