"""Pictures of the output: voltages, ripple, transients, set points, events, modes offered."""

from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from adapterlab.assess.output_quality import OutputQualityAssessment
from adapterlab.assess.output_quality.outputs import LoadedOutput
from adapterlab.figures.style import (
    LIMIT,
    MARKERS,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    band,
    limit_line,
    measured,
    new_figure,
    nothing_to_show,
    plain_decades,
)
from adapterlab.output_quality import VOLTAGE_STEP, voltage_window
from adapterlab.published import rows

_MILLI = 1e3
_MOST_POINTS = 1500
_MOST_EVENTS = 3


def _span(time: Any) -> tuple[float, str]:
    """Factor and unit that suit a length of time."""
    length = float(np.ptp(time))
    if length < 2e-3:
        return 1e6, "µs"
    return (1e3, "ms") if length < 2 else (1.0, "s")


def _thinned(*columns: Any) -> list[Any]:
    """Every so many samples of long records."""
    step = max(len(columns[0]) // _MOST_POINTS, 1)
    return [np.asarray(column)[::step] for column in columns]


def draw_voltages(result: OutputQualityAssessment) -> Figure:
    """Error of every output against its load, all modes at once, on the window."""
    outputs = [item for item in result.outputs if item.kind == "fixed"]
    title = "Error of the output voltage against the load, all modes at once"
    if not outputs:
        return nothing_to_show(title, "No output voltage of a fixed mode has been measured.")
    usb = [item for item in outputs if item.connector == "USB-C"]
    width = rows("output_quality", "windows", kind="fixed", band="static")[0]["fraction"]
    if usb:
        worst = max(abs(item.error) for item in usb)
        inside = "stay within" if worst < width else "leave"
        title = (
            f"The USB-C outputs {inside} their window of ±{100 * width:.0f} %: the largest error "
            f"is {100 * worst:.1f} %"
        )
    figure, axes = new_figure(title)
    groups: dict[tuple[str, str], list[LoadedOutput]] = {}
    for item in outputs:
        groups.setdefault((item.port, item.mode), []).append(item)
    for number, ((port, mode), group) in enumerate(groups.items()):
        axes.errorbar(
            [item.current for item in group],
            [100 * item.error for item in group],
            yerr=[196 * item.voltage.standard_uncertainty / item.asked for item in group],
            marker=MARKERS[number % len(MARKERS)],
            color=SERIES[number % len(SERIES)],
            mfc=SERIES[number % len(SERIES)] if number < len(SERIES) else "white",
            linestyle="none",
            label=f"{port}, {mode}",
        )
    if usb:
        limit_line(axes, 100 * width, "USB Power Delivery, static window")
        limit_line(axes, -100 * width, "USB Power Delivery, static window")
    reach = max(1.3 * width, 1.2 * max(abs(item.error) for item in outputs))
    axes.set_ylim(-100 * reach, 100 * reach)
    axes.axhline(0, color=QUIET, linewidth=1)
    axes.set_xlabel("output current (A)")
    axes.set_ylabel("error of the voltage (%)")
    figure.legend(loc="outside lower center", ncols=min(len(groups), 4))
    return figure


def draw_ripple_step(result: OutputQualityAssessment) -> Figure:
    """Ripple against load with the step, if there is one."""
    title = "Ripple against load"
    if not result.sweeps:
        reason = "The ripple has not been read at 8 or more loads of one mode."
        return nothing_to_show(title, reason)
    sweep = max(result.sweeps, key=lambda item: (item.step.found, len(item.power)))
    step = sweep.step
    title = f"The ripple of {sweep.label} shows no step"
    if step.found:
        title = (
            f"The ripple of {sweep.label} jumps by a factor of {step.ratio:.2f} near "
            f"{step.load:.0f} W"
        )
        if sweep.predicted is not None and sweep.predicted.ratio is not None:
            title += f"; the parts predict {sweep.predicted.ratio.value.value:.2f}"
    figure, axes = new_figure(title)
    spread = sweep.ripple_uncertainty
    highest = float(sweep.ripple.max())
    if sweep.predicted is not None:
        curve = sweep.predicted
        ends = curve.low * _MILLI, curve.high * _MILLI
        band(axes, curve.power, *ends, "the parts predict (95 %)")
        axes.plot(curve.power, curve.ripple * _MILLI, color=PREDICTED, linestyle=":")
        highest = max(highest, float(curve.high.max()))
    measured(axes, sweep.power, sweep.ripple * _MILLI, spread * _MILLI, "measured (95 %)")
    if step.found:
        low, high = step.interval
        axes.axvspan(low, high, color=QUIET, alpha=0.25, linewidth=0,
                     label="the step lies here (95 %)")  # fmt: skip
        reach = 0.08 * float(np.ptp(sweep.power))
        for level, place in ((step.before, step.load - reach), (step.after, step.load + reach)):
            axes.plot([step.load, place], [level * _MILLI] * 2, color=MEASURED, linewidth=3)
        signs = {True: "✓ ", False: "✗ ", None: "? "}
        lines = [signs[cause.possible] + cause.name for cause in sweep.causes]
        axes.text(
            0.60, 0.02, "what the parts list allows:\n" + "\n".join(lines), ha="left", va="bottom",
            transform=axes.transAxes, fontsize=11, color=QUIET,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 2},
        )  # fmt: skip
    axes.set_ylim(0, 1.25 * highest * _MILLI)
    axes.set_xlabel("output power (W)")
    axes.set_ylabel("ripple, peak to peak (mV)")
    axes.legend(loc="upper left")
    return figure


def draw_ripple_capture(result: OutputQualityAssessment) -> Figure:
    """One capture of the ripple in time, and its spectrum."""
    title = "The ripple in time and by frequency"
    if not result.captures:
        return nothing_to_show(title, "The ripple has not been captured with an oscilloscope.")
    capture = max(
        result.captures,
        key=lambda item: (
            item.record.capture.load_current or 0.0,
            -float(np.ptp(item.record.time)),
        ),
    )
    record, reading = capture.record, capture.reading
    volts = np.asarray(record.channel("voltage"))
    asked = record.capture
    title = (
        f"Ripple of {asked.port} at {asked.load_current or 0:g} A: "
        f"{reading.peak_to_peak * _MILLI:.0f} mV peak to peak, mostly at "
        f"{reading.frequency / 1e3:.0f} kHz"
    )
    figure, (left, right) = new_figure(title, 1, 2)
    shown = record.time - record.time[0] <= min(12 / reading.frequency, float(np.ptp(record.time)))
    factor, unit = _span(record.time[shown])
    middle = float(np.mean(volts))
    left.plot(record.time[shown] * factor, (volts[shown] - middle) * _MILLI, color=MEASURED)
    top = float(np.max(volts) - middle)
    bottom = top - reading.peak_to_peak if reading.spikes == 0 else -reading.peak_to_peak / 2
    for end in (bottom, bottom + reading.peak_to_peak):
        left.axhline(end * _MILLI, color=QUIET, linestyle="--", linewidth=1.5)
    left.set_xlabel(f"time ({unit})")
    left.set_ylabel("output voltage, mean taken off (mV)")
    frequency, amplitude = capture.spectrum.frequency / 1e3, capture.spectrum.amplitude * _MILLI
    inside = (frequency > 0.3 * reading.frequency / 1e3) & (frequency < 6 * reading.frequency / 1e3)
    right.semilogy(frequency[inside], np.maximum(amplitude[inside], 1e-3), color=MEASURED)
    lowest = min((line.nominal for line in capture.lines), default=0.0)
    for line in capture.lines:
        left_of = len(capture.lines) > 1 and line.nominal == lowest
        right.axvline(line.nominal / 1e3, color=PREDICTED, linestyle=":", linewidth=2)
        right.annotate(
            line.converter, (line.nominal / 1e3, 1), xycoords=("data", "axes fraction"), va="top",
            xytext=(-6 if left_of else 6, -4), textcoords="offset points", fontsize=12,
            ha="right" if left_of else "left", color=PREDICTED,
        )  # fmt: skip
    right.set_xlim(left=0)
    right.set_ylim(max(float(amplitude[inside].min()), 1e-2) / 2, 6 * float(amplitude.max()))
    plain_decades(right.yaxis)
    right.set_xlabel("frequency (kHz)")
    right.set_ylabel("amplitude of each line (mV)")
    return figure


def draw_load_step(result: OutputQualityAssessment) -> Figure:
    """Output voltage and load current while the load jumps."""
    title = "What the output does when the load jumps"
    events = [event for event in result.events if event.record.capture.kind == "load step"]
    if not events:
        return nothing_to_show(title, "No load step has been captured.")
    event = events[0]
    record, found = event.record, event.result
    rising = found.current_after > found.current_before
    chosen = np.flatnonzero(rising) if rising.any() else np.arange(len(found.time))
    worst = int(chosen[np.abs(found.deviation[chosen]).argmax()])
    size = abs(found.deviation[worst]) * _MILLI
    way = "dips" if found.deviation[worst] < 0 else "rises"
    title = f"When the load jumps, {record.capture.port} {way} by {size:.0f} mV and recovers"
    figure, (top, bottom) = new_figure(
        title, 2, 1, sharex=True, gridspec_kw={"height_ratios": [3, 1]}
    )
    factor, unit = _span(record.time)
    time, volts, amperes = _thinned(
        record.time, record.channel("voltage"), record.channel("current")
    )
    top.plot(time * factor, volts, color=QUIET, linewidth=0.8, alpha=0.7, label="samples")
    for number, start in enumerate(found.time):
        stop = [*found.time[1:], record.time[-1]][number]
        after = found.voltage_after[number]
        top.plot([start * factor, stop * factor], [after] * 2, color=MEASURED, linestyle="--",
                 label="steady afterwards" if number == 0 else None)  # fmt: skip
        top.plot((start + found.recovery_time[number]) * factor, after, "o", color=MEASURED,
                 label="within 1 % again" if number == 0 else None)  # fmt: skip
        down = found.deviation[number] < 0
        top.annotate(
            f"{found.deviation[number] * _MILLI:+.0f} mV".replace("-", "−"),
            (start * factor, found.extreme[number]),
            xytext=(14, -2 if down else 2),
            textcoords="offset points",
            va="top" if down else "bottom",
            color=MEASURED,
        )
    reach = float(np.ptp(volts))
    top.set_ylim(float(volts.min()) - 0.25 * reach, float(volts.max()) + 0.45 * reach)
    top.set_ylabel("output voltage (V)")
    top.legend(loc="upper left", ncols=3)
    bottom.plot(time * factor, amperes, color=SERIES[1])
    bottom.set_ylim(0, 1.25 * float(amperes.max()))
    bottom.set_ylabel("load (A)")
    bottom.set_xlabel(f"time ({unit})")
    return figure


def draw_set_points(result: OutputQualityAssessment) -> Figure:
    """Set-point error across the range of the adjustable modes."""
    title = "How well an adjustable output hits the voltage asked for"
    points = result.set_points
    if not points:
        return nothing_to_show(title, "No adjustable mode has been measured.")
    largest = max(abs(point.error.value) for point in points)
    title = (
        f"Its own drop added back, the adjustable output misses by up to {largest * _MILLI:.0f} "
        f"mV, {largest / VOLTAGE_STEP:.1f} of its steps"
    )
    figure, axes = new_figure(title)
    asked = np.array([point.output.asked for point in points])
    raw = np.array([point.output.error for point in points])
    error = np.array([point.error.value for point in points]) / asked
    spread = np.array([point.error.standard_uncertainty for point in points]) / asked
    axes.plot(asked, 100 * raw, "v", color=QUIET, mfc="white", mew=2, label="as read at its load")
    measured(axes, asked, 100 * error, 100 * spread, "own drop added back (95 %)")
    ends = voltage_window(1.0, "programmable")
    for end in (ends.static_minimum, ends.static_maximum):
        limit_line(axes, 100 * (end - 1), "USB Power Delivery, programmable window")
    along = np.linspace(0.9 * asked.min(), 1.05 * asked.max(), 60)
    half = 50 * VOLTAGE_STEP / along
    label = f"one step of {VOLTAGE_STEP * _MILLI:g} mV"
    axes.fill_between(along, -half, half, color=QUIET, alpha=0.25, linewidth=0, label=label)
    reach = max(6.5, 120 * float(np.abs(raw).max()))
    axes.set_ylim(-reach, 1.25 * reach)
    axes.set_xlabel("voltage asked for (V)")
    axes.set_ylabel("error (%)")
    axes.legend(loc="upper left", ncols=3)
    return figure


def _event_panel(axes: Axes, event: Any) -> str:
    """One event; its heading is returned."""
    record, kind = event.record, event.record.capture.kind
    found = event.result
    factor, unit = _span(record.time)
    time, volts = _thinned(record.time, record.channel("voltage"))
    axes.plot(time * factor, volts, color=MEASURED)
    axes.set_xlabel(f"time ({unit})")
    axes.set_ylabel("output voltage (V)")
    axes.set_ylim(min(-0.05 * volts.max(), volts.min()), 1.3 * volts.max())
    port = record.capture.port or "the output"
    if kind == "port change":
        axes.axvspan(
            found.start * factor,
            (found.start + found.duration) * factor,
            color=SERIES[1],
            alpha=0.25,
            label=f"below its window: {found.duration * _MILLI:.0f} ms",
        )
        axes.axhline(
            event.lower, color=LIMIT, linestyle=(0, (6, 3)), label="lower end of the window"
        )
        axes.legend(loc="upper left", fontsize=11)
        if found.duration == 0:
            return f"{port} keeps its voltage while another port changes"
        return f"{port} is gone for {found.duration * _MILLI:.0f} ms while another port changes"
    if kind == "start-up":
        axes.axvline(0, color=QUIET, linestyle=":")
        return f"{port} comes up {found.delay * _MILLI:.0f} ms after contact"
    twin = axes.twinx()
    twin.grid(visible=False)
    time, amperes = _thinned(record.time, record.channel("current"))
    twin.plot(time * factor, amperes, color=SERIES[1], linestyle="--")
    twin.set_ylabel("load (A), dashed", color=SERIES[1])
    twin.set_ylim(0, 1.6 * float(amperes.max()))
    return f"{port} lets go at {found.limit_current:.2f} A"


def draw_events(result: OutputQualityAssessment) -> Figure:
    """Captures of a change of ports, a start and an overload."""
    title = "What the output does when ports change, on starting and when overloaded"
    every = [event for event in result.events if event.record.capture.kind != "load step"]
    if not every:
        reason = "No change of ports, start or overload has been captured."
        return nothing_to_show(title, reason)
    events = every[:_MOST_EVENTS]
    figure, axes = new_figure(title, 1, len(events), squeeze=False)
    headings = [_event_panel(axes[0, place], event) for place, event in enumerate(events)]
    if len(every) > len(events):
        headings.append(f"and {len(every) - len(events)} more")
    sentence = "; ".join(headings)
    figure.suptitle(
        sentence[0].upper() + sentence[1:], x=0.01, ha="left", fontsize=15, fontweight="bold",
        wrap=True,
    )  # fmt: skip
    return figure


def draw_modes(result: OutputQualityAssessment) -> Figure:
    """Current at each fixed voltage: expected, on the label, and drawn on the bench."""
    title = "Modes offered against the modes that the power rules expect"
    found = [(port.port, mode) for port in result.ports for mode in port.modes]
    if not found:
        return nothing_to_show(title, "No USB-C port with fixed modes is described.")
    wanted = [mode for _, mode in found if mode.expected]
    lacking = sum(mode.is_lacking for mode in wanted)
    title = "Every USB-C port offers the voltages that the power rules expect"
    if lacking:
        title = f"{lacking} of {len(wanted)} modes that the power rules expect are not listed"
    figure, axes = new_figure(title)
    for place, (_, mode) in enumerate(found):
        first = place == 0
        if mode.expected:
            axes.bar(
                place, mode.expected, width=0.62, facecolor="none", edgecolor=LIMIT, linewidth=2,
                linestyle=(0, (6, 3)),
            )  # fmt: skip
        axes.bar(place, mode.offered or 0.0, width=0.4, color=SERIES[5],
                 label="on the label" if first else None)  # fmt: skip
        if mode.measured is not None:
            axes.plot(place, mode.measured, "o", color=MEASURED)
    axes.bar(0, 0, facecolor="none", edgecolor=LIMIT, linewidth=2, linestyle=(0, (6, 3)),
             label="expected (IEC 62680-1-2)")  # fmt: skip
    axes.plot([], [], "o", color=MEASURED, label="drawn on the bench")
    axes.set_xticks(range(len(found)), [f"{port}\n{mode.voltage:g} V" for port, mode in found])
    axes.set_ylim(0, 1.4 * max(max(mode.expected or 0.0, mode.offered or 0.0) for _, mode in found))
    axes.set_ylabel("current (A)")
    axes.legend(loc="upper left", ncols=3)
    return figure


FIGURES: dict[str, Callable[[OutputQualityAssessment], Figure]] = {
    "output_quality_voltages": draw_voltages,
    "output_quality_ripple_step": draw_ripple_step,
    "output_quality_ripple_capture": draw_ripple_capture,
    "output_quality_load_step": draw_load_step,
    "output_quality_set_points": draw_set_points,
    "output_quality_events": draw_events,
    "output_quality_modes": draw_modes,
}
