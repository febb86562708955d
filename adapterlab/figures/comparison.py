"""Two adapters side by side, in two pictures."""

import textwrap
from collections.abc import Callable

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from adapterlab.assess.comparison import Comparison
from adapterlab.assess.report import Value
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    QUIET,
    and_more,
    measured,
    new_figure,
    nothing_to_show,
    predicted,
)
from adapterlab.judgement import UNEXPLAINED

_MOST = 8


def _plain(value: float, _: object) -> str:
    return f"{value:g}"


def _bars(value: Value) -> list[list[float]]:
    """Lengths of the 95 % interval below and above a value."""
    half = 1.96 * value.standard_uncertainty
    low, high = value.interval or (value.value - half, value.value + half)
    return [[max(0.0, value.value - low)], [max(0.0, high - value.value)]]


def draw_ratios(result: Comparison) -> Figure:
    """Each figure of the second adapter over that of the first."""
    first, second = result.names
    title = f"{second} beside {first}"
    known = [item for item in result.differences if item.first.value > 0 and item.second.value > 0]
    if not known:
        return nothing_to_show(title, "The two have no measured figure in common.")
    wins = [sum(item.better == name for item in known) for name in result.names]
    figure, axes = new_figure(
        f"{first} does better in {wins[0]}, {second} in {wins[1]} of {len(known)} figures"
    )
    for spot, item in enumerate(reversed(known)):
        sure = item.better != ""
        spread = 1.96 * item.standard_uncertainty / item.first.value
        axes.errorbar(
            item.ratio,
            spot,
            xerr=spread,
            fmt="o" if item.better != first else "s",
            color=MEASURED if sure else QUIET,
            mfc=MEASURED if item.better == second else "white",
            mew=2,
            markersize=10,
            capsize=4,
        )
    axes.axvline(1, color=QUIET, linewidth=1)
    axes.plot([], [], "o", color=MEASURED, markersize=10, label=f"{second} does better")
    axes.plot([], [], "s", color=MEASURED, mfc="white", mew=2, markersize=10,
              label=f"{first} does better")  # fmt: skip
    axes.plot([], [], "o", color=QUIET, mfc="white", mew=2, markersize=10, label="not sure")
    axes.set_xscale("log")
    axes.xaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    axes.xaxis.set_major_formatter(FuncFormatter(_plain))
    axes.xaxis.set_minor_formatter(NullFormatter())
    labels = [textwrap.fill(item.label, 30) for item in reversed(known)]
    axes.set_yticks(range(len(known)), labels, fontsize=11)
    axes.set_xlabel(f"{second} over {first}")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def draw_explained(result: Comparison) -> Figure:
    """Ratio of the readings beside the ratio that the parts predict."""
    title = "Do the parts explain the differences?"
    if not result.explained:
        return nothing_to_show(title, "No reading of both has a prediction from both their parts.")
    ordered = sorted(result.explained, key=lambda item: item.word != UNEXPLAINED)[:_MOST][::-1]
    odd, known = sum(item.word == UNEXPLAINED for item in result.explained), len(result.explained)
    figure, axes = new_figure(
        f"Of {known} differences between the two {odd} {'is' if odd == 1 else 'are'} unexplained"
        if odd
        else f"The parts explain all {known} differences between the two"
    )
    spots = np.arange(len(ordered), dtype=float)
    for item, spot in zip(ordered, spots, strict=True):
        look = {"color": LIMIT, "fmt": "X"} if item.word == UNEXPLAINED else {}
        for value, draw, lift in (
            (item.prediction, predicted, -0.14),
            (item.reading, measured, 0.14),
        ):
            label = "" if spot else ("the parts predict" if draw is predicted else "measured")
            draw(
                axes, [value.value], [spot + lift], [0.0], label, xerr=_bars(value),
                **(look if draw is measured else {}),
            )  # fmt: skip
    axes.axvline(1, color=QUIET, linewidth=1)
    labels = [textwrap.fill(item.label, 46) for item in ordered]
    axes.set_yticks(spots, labels, fontsize=10)
    axes.set_xlim(left=0)
    axes.set_xlabel(f"{result.names[1]} over {result.names[0]}")
    figure.legend(loc="outside lower center", ncols=2)
    and_more(figure, len(ordered), known, "differences")
    return figure


FIGURES: dict[str, Callable[[Comparison], Figure]] = {
    "comparison_ratios": draw_ratios,
    "comparison_explained": draw_explained,
}
