"""Pictures of the touch current: circuit, rail, network, readings, polarity, capacitor, limits."""

import textwrap
from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.figure import Figure

from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.assess.touch_current import TouchCurrentAssessment
from adapterlab.assess.touch_current.explained import QUESTION
from adapterlab.assess.touch_current.limits import judged_reading
from adapterlab.assess.touch_current.model import PIN
from adapterlab.assess.touch_current.readings import PolarityPair, TouchReading
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    measured,
    new_figure,
    nothing_to_show,
    plain_decades,
    predicted,
)
from adapterlab.figures.touch_current.circuit import draw_path
from adapterlab.judgement import EXPLAINED, UNEXPLAINED
from adapterlab.touch_current import TouchCurrentLimit, body_network, touch_current_limits

MICRO, NANO = 1e6, 1e9
_MOST = 6


def _labels(readings: Sequence[TouchReading]) -> list[str]:
    return [
        f"{_broken(r.condition)}\n{r.network or 'network not noted'} {r.quantity}" for r in readings
    ]


def _broken(condition: str) -> str:
    """A condition on two lines: the mains above the load."""
    return condition.replace(", ", " ", 1).replace(", ", "\n")


def _span(count: int) -> tuple[float, float]:
    """Ends of an axis with `count` places, few of them not spread over its whole width."""
    middle, half = (count - 1) / 2, max(count, 3) / 2 + 0.1
    return middle - half, middle + half


def draw_readings(result: TouchCurrentAssessment) -> Figure:
    """Every reading beside what the marked barrier capacitor predicts."""
    readings = [r for r in result.readings if r.network != "unweighted"]
    left = len(readings) - _MOST
    readings = readings[:_MOST]
    title = "Touch current as read, beside what the barrier capacitor predicts"
    if not readings:
        return nothing_to_show(title, "No touch current has been measured.")
    words = {f.word for f in result.findings if f.question == QUESTION}
    if result.barrier is not None and words & {EXPLAINED, UNEXPLAINED}:
        verb = "explain" if UNEXPLAINED not in words else "do not explain"
        if result.barrier.is_one:
            verb = {"explain": "explains", "do not explain": "does not explain"}[verb]
        with_windings = " and the windings" if result.barrier.windings is not None else ""
        title = f"{result.barrier.label}{with_windings} {verb} the touch current"
    if left > 0:
        title += f" (and {left} more)"
    figure, axes = new_figure(title)
    place = np.arange(len(readings))
    measured(
        axes,
        place - 0.08,
        [r.current.value * MICRO for r in readings],
        [r.current.standard_uncertainty * MICRO for r in readings],
        "measured (95 %)",
    )
    top = max(r.current.value for r in readings)
    known = [(at, result.predictions[r.line]) for at, r in enumerate(readings)
             if r.line in result.predictions]  # fmt: skip
    if known:
        predicted(
            axes,
            np.array([at for at, _ in known]) + 0.08,
            [item.value.value * MICRO for _, item in known],
            [item.value.standard_uncertainty * MICRO for _, item in known],
            "predicted from the parts (95 %)",
        )
        top = max(top, *(item.interval[1] for _, item in known))
    axes.set_xticks(place, _labels(readings), fontsize=11)
    axes.set_xlim(*_span(len(readings)))
    axes.set_ylim(0, 1.45 * top * MICRO)
    axes.set_ylabel("touch current (µA)")
    axes.legend(loc="upper left")
    return figure


def _may_judge(limit: TouchCurrentLimit, result: TouchCurrentAssessment) -> bool:
    """Whether a limit may judge this adapter: one for a sine only where the path is on a pin."""
    return limit.judges and (not limit.sine_only or result.rail == PIN)


def draw_limits(result: TouchCurrentAssessment) -> Figure:
    """The largest rms and peak readings against the limits of several standards."""
    groups: dict[tuple[float, str], list[TouchCurrentLimit]] = {}
    for limit in touch_current_limits():
        if limit.network == "weighted" and limit.quantity != "dc":
            groups.setdefault((limit.limit, limit.quantity), []).append(limit)
    least, most = (Value(end(groups)[0], 0.0, "A").short for end in (min, max))
    figure, axes = new_figure(f"The published limits of touch current reach from {least} to {most}")
    names = []
    for place, (key, alike) in enumerate(sorted(groups.items())):
        value, quantity = key
        alike = sorted(alike, key=lambda limit: not _may_judge(limit, result))
        judged = _may_judge(alike[0], result)
        axes.plot(
            [value * MICRO] * 2,
            [place - 0.36, place + 0.36],
            color=LIMIT,
            linewidth=3.5,
            linestyle="-" if judged else (0, (1, 1)),
        )
        more = f" and {len(alike) - 1} more" if len(alike) > 1 else ""
        old = ", superseded" if alike[0].standing.state == "superseded" else ""
        name = f"{alike[0].standard}{old}, {alike[0].short}{more} ({quantity})"
        names.append(textwrap.fill(f"{name}{'' if judged else ' *'}", 31))
        top = judged_reading(result.readings, "weighted", quantity)
        if top is not None:
            axes.errorbar(
                top.current.value * MICRO,
                place,
                fmt="o",
                color=MEASURED,
                capsize=5,
                markersize=9,
                xerr=1.96 * top.current.standard_uncertainty * MICRO,
            )
    axes.set_yticks(range(len(names)), names, fontsize=12)
    axes.set_xscale("log")
    axes.set_xticks([50, 100, 200, 500, 1000, 2000, 4000], minor=False)
    axes.xaxis.set_major_formatter("{x:g}")
    axes.xaxis.set_minor_formatter("")
    shown = [r.current.value * MICRO for r in result.readings if r.current.value > 0]
    axes.set_xlim(min([40, *(0.7 * x for x in shown)]), max([6000, *(1.4 * x for x in shown)]))
    axes.set_xlabel("touch current (µA)")
    axes.plot([], [], color=LIMIT, linewidth=3.5, label="published limit")
    dotted = (0, (1, 1))
    axes.plot([], [], color=LIMIT, linewidth=3.5, linestyle=dotted, label="* not judged")
    axes.plot([], [], "o", color=MEASURED, label="largest reading (95 %)")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def draw_capacitance(result: TouchCurrentAssessment) -> Figure:
    """Capacitance implied by the reading, beside what the known parts add up to."""
    title = "Capacitance across the barrier that the reading implies"
    if result.inferred is None:
        return nothing_to_show(
            title, "No rms touch current has been measured that a part explains."
        )
    found, barrier, windings = result.inferred, result.barrier, result.windings
    if barrier is not None:
        apart = [f for f in result.findings if f.figure == "touch_current_capacitance"]
        fits = bool(apart) and apart[0].word == EXPLAINED
        title = (
            f"The reading implies {Value(found.capacitance, found.standard_uncertainty, 'F').short}"
            f"; the known parts {'explain' if fits else 'do not explain'} it"
        )
    else:
        fits = True
    figure, axes = new_figure(title)
    end, spread = 0.0, 0.0
    pieces = []
    if barrier is not None:
        low, high = barrier.marked_ends
        spread_of_parts = (high - low) / 2 / np.sqrt(3)
        pieces.append((barrier.marked, spread_of_parts, barrier.label, "///"))
    if windings is not None:
        pieces.append(
            (windings.value, windings.standard_uncertainty, f"windings ({windings.short})", "xx")
        )
    for value, uncertainty, label, hatch in pieces:
        axes.barh(0, value * NANO, 0.5, end * NANO, facecolor="none", edgecolor=PREDICTED,
                  hatch=hatch, linewidth=1.5, label=label)  # fmt: skip
        end += value
        spread = float(np.hypot(spread, uncertainty))
    if not fits and found.capacitance > end:
        rest = found.capacitance - end
        axes.barh(0, rest * NANO, 0.5, end * NANO, facecolor="none", edgecolor=QUIET, linestyle=":",
                  linewidth=2, label=f"no part to its name ({rest * 1e12:.0f} pF)")  # fmt: skip
    if pieces:
        axes.errorbar(end * NANO, 0, xerr=1.96 * spread * NANO, color=PREDICTED, capsize=8, lw=2)
    low, high = found.interval
    axes.barh(1, found.capacitance * NANO, 0.5, color=MEASURED, alpha=0.25)
    axes.errorbar(
        found.capacitance * NANO,
        1,
        fmt="o",
        color=MEASURED,
        capsize=8,
        markersize=11,
        xerr=[[(found.capacitance - low) * NANO], [(high - found.capacitance) * NANO]],
        label="implied by the reading (95 %)",
    )
    axes.set_yticks([0, 1], ["the parts say", "the reading says"])
    axes.set_ylim(-0.6, 2.0)
    axes.set_xlim(0, 1.2 * max(high, end + 2 * spread) * NANO)
    axes.set_xlabel("capacitance (nF)")
    axes.legend(loc="upper left", ncols=2)
    return figure


def draw_rail(result: TouchCurrentAssessment) -> Figure:
    """Voltage of the rail against earth over one mains period, and the current it drives."""
    wave = result.wave
    behind = result.rail != PIN
    title = (
        "Behind a bridge the rail moves, and current flows, only half of the time"
        if behind
        else "On a mains pin the capacitor sees the whole mains all the time"
    )
    figure, (top, bottom) = new_figure(title, 2, 1, sharex=True)
    time = wave.time * 1e3
    top.plot(time, wave.mains_voltage, color=QUIET, linestyle="--", label="live pole")
    name = "negative rail" if behind else "pin with the capacitor"
    top.plot(time, wave.rail_voltage, color=MEASURED, label=name)
    crest = wave.mains_voltage.max()
    top.set_ylabel("voltage (V)")
    top.set_ylim(-1.15 * crest, 1.85 * crest)
    top.legend(loc="upper right", ncols=2)
    top.text(0.01, 0.93, result.wave_label, transform=top.transAxes, va="top", fontsize=12)
    slope = np.gradient(wave.mains_voltage, wave.time)
    scale = wave.peak / np.abs(slope).max()
    if behind:
        bottom.plot(
            time, scale * slope * MICRO, color=QUIET, linestyle="--", label="on the live pole"
        )
    bottom.plot(time, wave.current * MICRO, color=MEASURED, label="through the body")
    bottom.axhspan(-wave.rms * MICRO, wave.rms * MICRO, color=MEASURED, alpha=0.08, linewidth=0)
    text = f"band: ± rms ({wave.rms * MICRO:.3g} µA); peak {wave.peak * MICRO:.3g} µA"
    bottom.text(0.01, 0.93, text, transform=bottom.transAxes, va="top", fontsize=12)
    bottom.set_ylabel("current (µA)")
    bottom.set_ylim(-1.25 * wave.peak * MICRO, 2.3 * wave.peak * MICRO)
    bottom.set_xlabel("time (ms)")
    bottom.set_xlim(0, time[-1])
    bottom.legend(loc="upper right", ncols=2)
    return figure


def draw_polarity(result: TouchCurrentAssessment) -> Figure:
    """Readings with the plug both ways round, beside the three patterns there are."""
    pairs = [pair for pair in result.polarities if pair.a.quantity == "rms"][:4]
    title = "Turning the plug round tells where the capacitor sits"
    if not pairs:
        return nothing_to_show(title, "No rms reading was taken with the plug both ways round.")
    words = [f for f in result.findings if f.figure == "touch_current_polarity"]
    if words:
        same = words[0].word == EXPLAINED
        title = (
            "The same with the plug either way round: the path starts behind the bridge"
            if same
            else "Not the same with the plug turned round: something sits on a mains pin"
        )
    figure, (left, right) = new_figure(title, 1, 2, width_ratios=(3, 2))
    place = np.arange(len(pairs))
    look = (("a", -0.18, MEASURED, "", "one way"), ("b", 0.18, "white", "///", "the other way"))
    for side, shift, fill, hatch, label in look:
        shown = [getattr(pair, side).current.value * MICRO for pair in pairs]
        left.bar(place + shift, shown, 0.34, color=fill, edgecolor=MEASURED,
                 hatch=hatch, label=label)  # fmt: skip
    left.set_xticks(place, _pair_labels(pairs), fontsize=11)
    left.set_xlim(*_span(len(pairs)))
    left.set_ylim(0, 1.35 * max(pair.larger.current.value for pair in pairs) * MICRO)
    left.set_ylabel("touch current, rms (µA)")
    left.legend(loc="upper left", ncols=2)
    left.set_title("measured", fontsize=13)
    patterns = {
        "behind the\nbridge": (1, 1),
        "on a\nmains pin": (1, 0.02),
        "some of\nboth": (1, 0.7),
    }
    for index, (one, other) in enumerate(patterns.values()):
        right.bar(index - 0.18, one, 0.34, color=PREDICTED, edgecolor=PREDICTED)
        right.bar(index + 0.18, other, 0.34, color="white", edgecolor=PREDICTED, hatch="///")
    right.set_xticks(range(3), list(patterns), fontsize=11)
    right.set_ylim(0, 1.35)
    right.set_yticks([0, 1], ["0", "larger"])
    right.set_title("what each seat would give", fontsize=13)
    return figure


def _pair_labels(pairs: Sequence[PolarityPair]) -> list[str]:
    return [
        f"{_broken(pair.a.condition)}\n{pair.a.network or 'network not noted'}" for pair in pairs
    ]


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
    for low, high, name in ((45, 65, "mains"), (4e4, 3e5, "converter")):
        axes.axvspan(low, high, color=QUIET, alpha=0.15, linewidth=0)
        middle = float(np.sqrt(low * high))
        axes.text(middle, 0.03, name, rotation=90, ha="center", color=QUIET)
    axes.set_xlabel("frequency (Hz)")
    plain_decades(axes.xaxis, axes.yaxis)
    axes.set_ylabel("indicated over true current")
    axes.legend(loc=(0.22, 0.06))
    return figure


FIGURES: dict[str, Callable[[TouchCurrentAssessment], Figure]] = {
    "touch_current_path": draw_path,
    "touch_current_rail": draw_rail,
    "touch_current_readings": draw_readings,
    "touch_current_polarity": draw_polarity,
    "touch_current_capacitance": draw_capacitance,
    "touch_current_network": draw_network,
    "touch_current_limits": draw_limits,
}
