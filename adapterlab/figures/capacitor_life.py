"""Pictures of capacitor life: how long each one lasts, and how far the rule can be trusted."""

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from adapterlab.assess.capacitor_life import HOURS_PER_YEAR, CapacitorLifeAssessment
from adapterlab.capacitor_life import LOWEST_TEMPERATURE, electrolytic_life, polymer_life
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    band,
    new_figure,
    nothing_to_show,
)
from adapterlab.published import rows

_KINDS = {"wet electrolytic": "D", "polymer": "s"}
_PLAIN = FuncFormatter(lambda value, _: f"{value:g}")


def _years(value: float) -> str:
    """Two significant digits."""
    return f"{float(f'{value:.2g}'):g}"


def draw_lives(result: CapacitorLifeAssessment) -> Figure:
    """Life of each capacitor with its interval, the one most likely to go first on top."""
    lives = result.lives
    title = "Life of each capacitor at its measured temperature"
    if lives.empty:
        return nothing_to_show(title, "No capacitor is listed with its temperature and base life.")
    most = min(
        rows("capacitor_life", "longest_lives", type=kind)[0]["years"] for kind in lives["type"]
    )
    worst = lives.loc[lives["first"].idxmax()]
    years = worst["life"] / HOURS_PER_YEAR
    end = "by the law, more than makers state" if years > most else "of continuous use"
    title = f"{worst['part']} lasts about {_years(years)} years {end}"
    if len(lives) > 1:
        likely = "goes first" if worst["first"] >= 0.975 else "most likely goes first"
        title = f"{worst['part']} {likely}: about {_years(years)} years {end}"
    figure, axes = new_figure(title)
    for place, row in enumerate(lives.itertuples()):
        middle, low, high = (value / HOURS_PER_YEAR for value in (row.life, row.low, row.high))
        bars = axes.errorbar(
            middle,
            place,
            xerr=[[middle - low], [high - middle]],
            fmt=_KINDS[row.type],
            color=PREDICTED,
            mfc="white",
            mew=2,
            markersize=11,
            capsize=7,
        )
        bars[2][0].set_linestyle(":")
        axes.annotate(
            _years(middle),
            (middle, place),
            xytext=(0, 12),
            textcoords="offset points",
            ha="center",
            fontsize=14,
            color=PREDICTED,
        )
    for kind in dict.fromkeys(lives["type"]):
        axes.plot([], [], _KINDS[kind], color=PREDICTED, mfc="white", mew=2, markersize=11,
                  label=f"{kind} (95 %)")  # fmt: skip
    axes.axvline(
        most,
        color=LIMIT,
        linestyle=(0, (6, 3)),
        linewidth=1.8,
        label=f"makers state at most about {most:g} years",
    )
    names = [
        f"{row.part}, {row.temperature:.0f} °C\n{row.place or row.type}"
        for row in lives.itertuples()
    ]
    axes.set_yticks(range(len(lives)), names)
    axes.set_ylim(len(lives) - 0.5, -0.7)
    axes.set_xscale("log")
    axes.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.xaxis.set_major_formatter(_PLAIN)
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.set_xlabel("life in years of continuous use")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def _draw_capacitors(axes: Axes, result: CapacitorLifeAssessment) -> None:
    """How far below its rated temperature each capacitor was measured."""
    lives = result.lives
    axes.errorbar(
        lives["rated_temperature"] - lives["temperature"],
        range(len(lives)),
        xerr=1.96 * lives["temperature_uncertainty"],
        fmt="o",
        color=MEASURED,
        capsize=4,
    )
    axes.set_yticks(range(len(lives)), [f"{row.part}, {row.type}" for row in lives.itertuples()])
    axes.tick_params(axis="y", labelsize=11)
    axes.set_ylim(len(lives) - 0.4, -0.6)


def draw_law(result: CapacitorLifeAssessment) -> Figure:
    """The rule with its interval, a maker's own table, and where the capacitors sit."""
    table = rows("capacitor_life", "maker_tables")[0]
    spread = rows("capacitor_life", "halving_intervals")[0]
    below = result.lives["rated_temperature"] - result.lives["temperature"]
    farthest = below + 2 * result.lives["temperature_uncertainty"]
    reach = max([70.0, *farthest])
    # A rating that keeps the whole curve above the lowest temperature of the law.
    rated = LOWEST_TEMPERATURE + reach
    cooler = np.linspace(0, reach, 141)
    narrow, wide = (spread["interval"] + sign * spread["half_width"] for sign in (-1, 1))
    curves = [
        electrolytic_life(1.0, rated, rated - cooler, halving_interval=h)
        for h in (wide, spread["interval"], narrow)
    ]
    published = np.array(table["rated_ripple"])
    distance = table["rated_temperature"] - np.array(table["temperature"])
    rule = electrolytic_life(1.0, table["rated_temperature"], table["temperature"])
    excess = (published / rule)[distance.argmax()]
    title = (
        f"Ten kelvin cooler, twice the life: near the rating that is fair, {distance.max():g} K "
        f"below it one maker's own table says {excess:.0f} times more"
    )
    count = len(result.lives)
    if count:
        ratios = (1, 0.1 + 0.1 * count)
        figure, (axes, lower) = new_figure(title, 2, 1, sharex=True, height_ratios=ratios)
        _draw_capacitors(lower, result)
    else:
        figure, lower = new_figure(title)
        axes = lower
    axes.plot(cooler, curves[1], color=PREDICTED, label="10-kelvin rule, wet")
    band(axes, cooler, curves[0], curves[2], f"doubling every {narrow:g} to {wide:g} K")
    axes.plot(
        distance, published, "x", color=QUIET, mew=2.5, markersize=9, label=f"{table['name']} table"
    )
    if "polymer" in set(result.lives["type"]):
        axes.plot(
            cooler,
            polymer_life(1.0, rated, rated - cooler),
            color=PREDICTED,
            linestyle="-.",
            label="polymer, ten times per 20 K",
        )
    axes.set_yscale("log")
    axes.set_xlim(-1, reach + 1)
    axes.yaxis.set_major_formatter(_PLAIN)
    axes.yaxis.set_minor_formatter(NullFormatter())
    lower.set_xlabel(
        "kelvin below the rated temperature" + (" (dots: measured, 95 %)" if count else "")
    )
    axes.set_ylabel("life over base life")
    axes.legend(loc="upper left")
    return figure


FIGURES: dict[str, Callable[[CapacitorLifeAssessment], Figure]] = {
    "capacitor_life_lives": draw_lives,
    "capacitor_life_law": draw_law,
}
