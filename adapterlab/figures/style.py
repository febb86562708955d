"""The look of every picture: size, type, and how measured, predicted and limit differ.

Measured values are filled dots with bars, predictions open diamonds or hatched bands, limits
dashed lines with their name: told apart in grey as well as in colour.
"""

import textwrap
from typing import Any

import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from numpy.typing import ArrayLike

MEASURED, PREDICTED, LIMIT, QUIET = "#14507a", "#c8641e", "#8c1c4b", "#6b7075"
SERIES = ("#14507a", "#c8641e", "#3f8f5f", "#7a5aa6", "#a88a1a", "#4a9bb5")
MARKERS = ("o", "s", "^", "v", "P", "X")
# 9.6 x 5.4 inches: 960 x 540 pixels in a notebook, 1920 x 1080 when exported.
SIZE, SCREEN_DPI, EXPORT_DPI = (9.6, 5.4), 100, 200

_LOOK: Any = {
    "figure.figsize": SIZE,
    "figure.dpi": SCREEN_DPI,
    "figure.constrained_layout.use": True,
    "font.family": "DejaVu Sans",
    "font.size": 13,
    "axes.titlesize": 15,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 13,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": "#e3e5e8",
    "grid.linewidth": 0.8,
    "lines.linewidth": 2.0,
    "lines.markersize": 8,
    "legend.frameon": False,
    "legend.fontsize": 12,
    "svg.hashsalt": "adapterlab",
    "hatch.linewidth": 0.6,
    # Names come from dossiers: a dollar sign in one is no formula.
    "text.parse_math": False,
}

mpl.rcParams.update(_LOOK)


def new_figure(title: str, rows: int = 1, columns: int = 1, **options: Any) -> tuple[Figure, Any]:
    """An empty figure in the house style.

    Parameters
    ----------
    title : str
        What the figure shows, as a sentence; it is wrapped to the width.
    rows, columns : int, optional
        Grid of axes.
    **options
        Passed to ``matplotlib.pyplot.subplots``.

    Returns
    -------
    tuple
        The figure and its axes, as ``subplots`` gives them.
    """
    with mpl.rc_context(_LOOK):
        figure, axes = plt.subplots(rows, columns, **options)
        figure.suptitle(textwrap.fill(title, 76), x=0.01, ha="left", fontsize=15, fontweight="bold")
    return figure, axes


def measured(
    axes: Axes, x: ArrayLike, y: ArrayLike, spread: ArrayLike, label: str, **options: Any
) -> None:
    """Filled dots with bars of 95 % coverage.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where to draw.
    x, y : array_like
        Positions and readings, in the units of the axes. shape (n,)
    spread : array_like
        Standard uncertainty of the readings. shape (n,)
    label : str
        Text for the legend.
    **options
        Passed to ``errorbar``, such as ``color`` or ``fmt``.
    """
    style: dict[str, Any] = {"fmt": "o", "color": MEASURED, "capsize": 4} | options
    axes.errorbar(x, y, yerr=1.96 * np.asarray(spread, dtype=float), label=label, **style)


def predicted(
    axes: Axes, x: ArrayLike, y: ArrayLike, spread: ArrayLike, label: str, **options: Any
) -> None:
    """Open diamonds with dotted bars of 95 % coverage; parameters as in `measured`."""
    style: dict[str, Any] = {
        "fmt": "D",
        "color": PREDICTED,
        "mfc": "white",
        "mew": 2,
        "capsize": 6,
    } | options
    bars = axes.errorbar(x, y, yerr=1.96 * np.asarray(spread, dtype=float), label=label, **style)
    for bar in bars[2]:
        bar.set_linestyle(":")


def and_more(figure: Figure, shown: int, known: int, what: str) -> None:
    """Say in the corner how many rows a picture leaves out; nothing if it shows them all.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The picture.
    shown, known : int
        How many rows it has, and how many there are.
    what : str
        What they are, such as ``comparisons``.
    """
    if known > shown:
        figure.text(0.01, 0.01, f"and {known - shown} more {what}", color=QUIET, fontsize=11)


def band(axes: Axes, x: ArrayLike, low: ArrayLike, high: ArrayLike, label: str) -> None:
    """Hatched band of a prediction's 95 % interval along a curve."""
    look: dict[str, Any] = {"facecolor": "none", "edgecolor": PREDICTED, "hatch": "///"}
    axes.fill_between(x, low, high, label=label, alpha=0.55, linewidth=0.0, **look)


def limit_line(axes: Axes, value: float, label: str, *, across: bool = True) -> None:
    """Dashed line of a published limit, its name written along it.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where to draw.
    value : float
        The limit, in the units of the axis.
    label : str
        Its name.
    across : bool, optional
        Horizontal if true, else vertical.
    """
    if across:
        axes.axhline(value, color=LIMIT, linestyle=(0, (6, 3)), linewidth=1.8)
        axes.annotate(
            label,
            (1, value),
            xycoords=("axes fraction", "data"),
            xytext=(-4, 4),
            textcoords="offset points",
            ha="right",
            va="bottom",
            color=LIMIT,
            fontsize=11,
        )
    else:
        axes.axvline(value, color=LIMIT, linestyle=(0, (6, 3)), linewidth=1.8)
        axes.annotate(
            label,
            (value, 1),
            xycoords=("data", "axes fraction"),
            xytext=(4, -4),
            textcoords="offset points",
            ha="left",
            va="top",
            color=LIMIT,
            fontsize=11,
            rotation=90,
        )


def plain_decades(*axes: Axis) -> None:
    """Label logarithmic axes with plain numbers at the decades.

    Parameters
    ----------
    *axes : matplotlib.axis.Axis
        Such as ``axes.xaxis``; the usual labels are formulas, which the house style does not parse.
    """
    for axis in axes:
        axis.set_major_formatter("{x:,g}")
        axis.set_minor_formatter("")


def nothing_to_show(title: str, reason: str) -> Figure:
    """A figure that says why there is nothing in it.

    Parameters
    ----------
    title : str
        What it would have shown.
    reason : str
        What is missing.

    Returns
    -------
    matplotlib.figure.Figure
        The figure.
    """
    figure, axes = new_figure(title)
    axes.set_axis_off()
    axes.text(
        0.5,
        0.5,
        textwrap.fill(reason, 60),
        ha="center",
        va="center",
        color=QUIET,
        transform=axes.transAxes,
    )
    return figure
