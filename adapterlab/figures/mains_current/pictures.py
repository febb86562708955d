"""Pictures of the mains current: half-period anatomy, pulse, harmonics, power factor, circuit."""

from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure

from adapterlab.assess.mains_current import MainsCurrentAssessment
from adapterlab.assess.report.finding import judgement_of
from adapterlab.assess.report.value import Value
from adapterlab.figures.mains_current.circuit import draw_circuit
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    band,
    measured,
    new_figure,
    nothing_to_show,
    plain_decades,
    predicted,
)
from adapterlab.judgement import EXPLAINED, UNEXPLAINED
from adapterlab.mains_current import (
    RectifierSteadyState,
    harmonic_limits,
    rectifier_steady_state,
)
from adapterlab.uncertainty import coverage_factor

MICRO = 1e6
_ORDERS = np.arange(1, 40, 2)
_NO_CAPTURE = "No capture of mains voltage and current is listed."


def _anatomy_case(result: MainsCurrentAssessment) -> tuple[RectifierSteadyState, str]:
    """The rectifier to show: the parts at the first point, or an example."""
    for point, prediction in zip(result.points, result.predictions, strict=True):
        if prediction is not None:
            return prediction.steady, f"at {point.label}"
    found = rectifier_steady_state(230, 50, 25, 47e-6, 2.0, bridge_drop=1.6)
    return found, "with an example of 25 W on 47 µF at 230 V"


def draw_anatomy(result: MainsCurrentAssessment) -> Figure:
    """One half period: rectified mains, bulk voltage and the pulse of current."""
    steady, where = _anatomy_case(result)
    figure, (top, bottom) = new_figure(
        f"The bridge conducts for {steady.conduction_angle:.0f}° of each 180°, {where}: only then "
        "is the mains above the capacitor",
        2,
        1,
        sharex=True,
    )
    angle = 360 * np.arange(500) / 1000
    rectified, bulk = np.abs(steady.source_voltage[:500]), steady.bulk_voltage[:500]
    current = steady.input_current[:500]
    flowing = current > 0
    top.plot(angle, rectified, color=QUIET, linestyle="--", label="mains, rectified")
    top.plot(angle, bulk, color=MEASURED, label="bulk capacitor")
    top.set_ylabel("voltage (V)")
    top.set_ylim(0, 1.42 * rectified.max())
    top.legend(loc="upper right", ncols=2)
    bottom.fill_between(angle, current, color=PREDICTED, alpha=0.35, linewidth=0)
    bottom.plot(angle, current, color=PREDICTED, label="current from the mains")
    sine = float(steady.harmonic_currents[0]) * np.sqrt(2)
    shift = np.degrees(np.arccos(float(steady.displacement_factor)))
    # The pulse comes before the crest: its fundamental leads.
    bottom.plot(
        angle,
        np.maximum(sine * np.sin(np.radians(angle + shift)), 0),
        color=QUIET,
        linestyle=":",
        label="its fundamental",
    )
    bottom.set_ylabel("current (A)")
    bottom.set_ylim(0, 1.35 * current.max())
    bottom.set_xlabel("angle of the mains (°)")
    bottom.set_xticks(np.arange(0, 181, 30))
    bottom.legend(loc="upper right")
    for axes in (top, bottom):
        if flowing.any():
            axes.axvspan(
                angle[flowing][0], angle[flowing][-1], color=PREDICTED, alpha=0.10, linewidth=0
            )
    return figure


def draw_waveform(result: MainsCurrentAssessment) -> Figure:
    """The captured current on the band that the parts predict."""
    shown = [
        (point, prediction)
        for point, prediction in zip(result.points, result.predictions, strict=True)
        if point.quality is not None
    ]
    if not shown:
        return nothing_to_show("The captured mains current on the prediction", _NO_CAPTURE)
    shown = shown[:2]
    peaks = " and ".join(point.readings["input_current_peak"].short for point, _ in shown)
    title = f"The mains current comes in pulses of {peaks}"
    words = [
        judgement_of(
            point.readings["input_current_peak"], prediction.figures["input_current_peak"]
        ).word
        for point, prediction in shown
        if prediction is not None
    ]
    if words:
        if set(words) == {EXPLAINED}:
            title += ", as the parts predict"
        elif UNEXPLAINED in words:
            title += ": peaks that the parts do not explain"
    figure, grid = new_figure(title, 1, len(shown), sharey=True, squeeze=False)
    for axes, (point, prediction) in zip(grid[0], shown, strict=True):
        angle = 360 * point.mains_frequency * point.time
        inside = (angle % 360 >= 30) & (angle % 360 < 150)
        if prediction is not None:
            band(axes, prediction.phase, prediction.low, prediction.high, "the parts (95 %)")
        axes.plot(
            angle[inside] % 360,
            point.current[inside],
            linestyle="",
            marker="o",
            markersize=3,
            color=MEASURED,
            label="captured",
        )
        axes.set_xlim(35, 145)
        axes.set_xlabel("angle of the mains (°)")
        axes.set_title(point.label, fontsize=13)
    highest = max(float(np.abs(point.current).max()) for point, _ in shown)
    grid[0][0].set_ylim(-0.06 * highest, 1.35 * highest)
    grid[0][0].set_ylabel("mains current (A)")
    grid[0][0].legend(loc="upper left")
    return figure


def draw_harmonics(result: MainsCurrentAssessment) -> Figure:
    """Harmonic currents as bars beside what the parts predict and the published limits."""
    captured = [
        (point, point.quality, prediction)
        for point, prediction in zip(result.points, result.predictions, strict=True)
        if point.quality is not None
    ]
    if not captured:
        return nothing_to_show("Harmonics of the mains current", _NO_CAPTURE)
    point, quality, prediction = captured[0]
    power = point.input_power.value
    applies = harmonic_limits("A", power).count() > 0
    third = quality.harmonic_currents[2] / quality.harmonic_currents[0]
    figure, axes = new_figure(
        f"The third harmonic is {third:.0%} of the fundamental at {point.label}; "
        + (
            "the limits apply at this power"
            if applies
            else "the limits are drawn for scale, none applies at this power"
        )
    )
    lines = quality.harmonic_currents[_ORDERS - 1]
    axes.bar(_ORDERS, lines, width=1.1, color=MEASURED, alpha=0.55, label="captured")
    if prediction is not None:
        middle = prediction.harmonics[_ORDERS - 1]
        low = prediction.harmonics_low[_ORDERS - 1]
        high = prediction.harmonics_high[_ORDERS - 1]
        axes.errorbar(
            _ORDERS,
            (low + high) / 2,
            yerr=(high - low) / 2,
            fmt="none",
            ecolor=PREDICTED,
            capsize=5,
            linewidth=1.6,
            label="the parts (95 %)",
        )
        axes.plot(_ORDERS, middle, "D", mfc="white", mec=PREDICTED, mew=1.6, markersize=5)
    for kind, style in (("A", "-"), ("D", (0, (5, 2)))):
        limits = harmonic_limits(kind, power, threshold=0)[_ORDERS[1:] - 2]
        name = "class A" if kind == "A" else f"class D, {power:.0f} W"
        axes.step(
            _ORDERS[1:],
            limits,
            where="mid",
            color=LIMIT,
            linestyle=style,
            linewidth=1.8,
            label=f"{name}{'' if applies else ', for scale'}",
        )
    axes.set_yscale("log")
    plain_decades(axes.yaxis)
    axes.set_ylim(0.4 * float(lines.min()), 12)
    axes.set_xticks(np.arange(1, 40, 4))
    axes.set_xlabel("order of the harmonic")
    axes.set_ylabel("rms current (A)")
    axes.legend(loc="upper right", ncols=2)
    return figure


def draw_split(result: MainsCurrentAssessment) -> Figure:
    """The power factor as the product of displacement and distortion factor."""
    captured = [point for point in result.points if point.quality is not None]
    if not captured:
        return nothing_to_show("What makes the power factor", _NO_CAPTURE)
    qualities = [point.quality for point in captured if point.quality is not None]
    first = qualities[0]
    way = "lags" if first.displacement_angle > 0 else "leads"
    shape = first.distortion_factor < first.displacement_factor
    figure, axes = new_figure(
        f"The power factor of {first.power_factor:.2f} comes from the "
        f"{'shape' if shape else 'shift'} of the current: its fundamental {way} the voltage by "
        f"{'only ' if shape else ''}{abs(first.displacement_angle):.0f}°"
    )
    names = ("displacement\nfactor", "distortion\nfactor", "their\nproduct", "power\nfactor")
    width = 0.8 / len(captured)
    for place, (point, quality) in enumerate(zip(captured, qualities, strict=True)):
        values = (
            quality.displacement_factor,
            quality.distortion_factor,
            quality.displacement_factor * quality.distortion_factor,
            quality.power_factor,
        )
        at = np.arange(4) + (place - (len(captured) - 1) / 2) * width
        bars = axes.bar(
            at,
            values,
            0.92 * width,
            color=SERIES[place % len(SERIES)],
            hatch=("", "//", "xx", "..")[place % 4],
            edgecolor="white",
            label=point.label,
        )
        axes.bar_label(bars, [f"{value:.2f}" for value in values], padding=3, fontsize=14)
    axes.set_xticks(np.arange(4), names)
    axes.set_ylim(0, 1.3)
    axes.set_ylabel("factor")
    axes.legend(loc="upper right", ncols=len(captured))
    return figure


def draw_power_factor(result: MainsCurrentAssessment) -> Figure:
    """Power factor over input power, read and predicted."""
    title = "Power factor over load"
    if not result.sweep and not result.curves:
        return nothing_to_show(title, "No load sweep with mains current is listed.")
    if result.sweep:
        volts, power, factor, spread = np.array(result.sweep).T
        title = (
            f"The power factor lies between {factor.min():.2f} and {factor.max():.2f} over the "
            "whole sweep"
        )
    figure, axes = new_figure(title)
    for place, curve in enumerate(result.curves):
        color = SERIES[place % len(SERIES)]
        axes.fill_between(
            curve.power,
            curve.low,
            curve.high,
            facecolor="none",
            edgecolor=color,
            hatch=("///", "\\\\\\")[place % 2],
            alpha=0.5,
            linewidth=0,
            label=f"the parts at {curve.mains_voltage:.0f} V (95 %)",
        )
    groups = sorted({round(value / 5) * 5 for value in volts}) if result.sweep else []
    for place, nominal in enumerate(reversed(groups)):
        rows = np.abs(volts / nominal - 1) < 0.03
        measured(
            axes,
            power[rows],
            factor[rows],
            spread[rows],
            f"read at {nominal:.0f} V",
            color=SERIES[place % len(SERIES)],
            fmt=("o", "s", "^")[place % 3],
            markersize=6,
        )
    axes.set_ylim(0, 1)
    axes.set_xlim(left=0)
    axes.set_xlabel("input power (W)")
    axes.set_ylabel("power factor")
    axes.legend(loc="upper right", ncols=2)
    return figure


def draw_implied(result: MainsCurrentAssessment) -> Figure:
    """Bulk capacitance and series resistance that the captures imply, on the marked parts."""
    shown = [
        (point, prediction, fit)
        for point, prediction, fit in zip(
            result.points, result.predictions, result.fits, strict=True
        )
        if fit is not None and prediction is not None
    ]
    if not shown:
        return nothing_to_show(
            "Bulk capacitance and series resistance that the mains current implies", _NO_CAPTURE
        )
    first, predicted_first, fit = shown[0]
    capacitance = Value(fit.bulk_capacitance, fit.bulk_capacitance_uncertainty, "F")
    resistance = Value(fit.source_resistance, fit.source_resistance_uncertainty, "Ω")
    figure, panels = new_figure(
        f"The pulse at {first.label} implies {capacitance.short} behind {resistance.short}", 1, 2
    )
    kinds = (
        ("bulk_capacitance", MICRO, "bulk capacitance (µF)"),
        ("source_resistance", 1.0, "series resistance, warm (Ω)"),
    )
    for axes, (name, factor, label) in zip(panels, kinds, strict=True):
        low, high = (end * factor for end in predicted_first.figures[name].reach)
        half = (high - low) / 2 / coverage_factor()
        predicted(axes, [0], [(low + high) / 2], [half], "the parts, anywhere in their tolerances")
        reach = [high]
        for place, (_, _, one) in enumerate(shown, start=1):
            value = getattr(one, name) * factor
            spread = getattr(one, f"{name}_uncertainty") * factor
            measured(
                axes,
                [place],
                [value],
                [spread],
                "implied by the current" if place == 1 else "_",
                markersize=10,
            )
            reach.append(value + 2 * spread)
        axes.set_xlim(-0.6, len(shown) + 0.6)
        axes.set_xticks(
            range(len(shown) + 1), ["marked", *(point.label.split(",")[0] for point, _, _ in shown)]
        )
        axes.set_ylim(0, 1.4 * max(reach))
        axes.set_ylabel(label)
    panels[0].legend(loc="upper left")
    return figure


FIGURES: dict[str, Callable[[MainsCurrentAssessment], Figure]] = {
    "mains_current_circuit": draw_circuit,
    "mains_current_anatomy": draw_anatomy,
    "mains_current_waveform": draw_waveform,
    "mains_current_harmonics": draw_harmonics,
    "mains_current_split": draw_split,
    "mains_current_power_factor": draw_power_factor,
    "mains_current_implied": draw_implied,
}
