"""Pictures of capacitor life: how long each one lasts, and how far the rule can be trusted."""

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from adapterlab.assess.capacitor_life import HOURS_PER_YEAR, CapacitorLifeAssessment
from adapterlab.assess.capacitor_life.laws import TOUCHES
from adapterlab.assess.capacitor_life.years import VOUCHED
from adapterlab.assess.model.inputs import allowance
from adapterlab.capacitor_life import (
    LOWEST_TEMPERATURE,
    activation_energy_life,
    electrolytic_life,
    implied_activation_energy,
    polymer_life,
)
from adapterlab.figures.capacitor_life.heat import draw_case, draw_heat
from adapterlab.figures.capacitor_life.use import draw_bias, draw_end, draw_failing
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    band,
    new_figure,
    nothing_to_show,
)
from adapterlab.judgement import ENDS
from adapterlab.published import rows

_KINDS = {"wet electrolytic": "D", "polymer": "s"}
# Ranges are drawn for the usual rating. [°C]
_RATED = 105.0
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
    worst = lives.loc[lives["first"].idxmax()]
    years = worst["life"] / HOURS_PER_YEAR
    end = "by the law, more than makers vouch for" if years > VOUCHED else "of continuous use"
    title = f"{worst['part']} lasts about {_years(years)} years {end}"
    if len(lives) > 1:
        likely = "goes first" if worst["first"] >= ENDS[1] else "most likely goes first"
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
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        )
    for kind in dict.fromkeys(lives["type"]):
        axes.plot([], [], _KINDS[kind], color=PREDICTED, mfc="white", mew=2, markersize=11,
                  label=f"{kind} (95 %)")  # fmt: skip
    axes.axvline(
        VOUCHED,
        color=LIMIT,
        linestyle=(0, (6, 3)),
        linewidth=1.8,
        label=f"makers vouch for at most {VOUCHED:g} years",
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
    """How far below its rated temperature each capacitor was read, and the ranges of laws."""
    lives, ranges = result.lives, rows("capacitor_life", "ranges")
    for place, row in enumerate(ranges, start=len(lives)):
        ends = [_RATED - row[f"{end}_temperature"] for end in ("lowest", "highest")]
        axes.plot(ends, [place, place], color=QUIET, linewidth=5, solid_capstyle="butt")
    axes.errorbar(
        lives["rated_temperature"] - lives["temperature"],
        range(len(lives)),
        xerr=1.96 * lives["temperature_uncertainty"],
        fmt="o",
        color=MEASURED,
        capsize=4,
    )
    names = [f"{row.part}, {row.type}" for row in lives.itertuples()]
    names += [row["name"] for row in ranges]
    axes.set_yticks(range(len(names)), names)
    axes.tick_params(axis="y", labelsize=11)
    axes.set_ylim(len(names) - 0.4, -0.6)


def draw_law(result: CapacitorLifeAssessment) -> Figure:
    """The rule with its interval, a maker's own table, and where the capacitors sit."""
    table = rows("capacitor_life", "maker_tables")[0]
    spread = allowance("life.halving_interval")
    below = result.lives["rated_temperature"] - result.lives["temperature"]
    farthest = below + 2 * result.lives["temperature_uncertainty"]
    reach = max([70.0, *farthest])
    # A rating that keeps the whole curve above the lowest temperature of the law.
    rated = LOWEST_TEMPERATURE + reach
    cooler = np.linspace(0, reach, 141)
    narrow, wide = spread.ends
    curves = [
        electrolytic_life(1.0, rated, rated - cooler, halving_interval=h)
        for h in (wide, spread.middle, narrow)
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
    ratios = (1, 0.35 + 0.09 * count)
    figure, (axes, lower) = new_figure(title, 2, 1, sharex=True, height_ratios=ratios)
    _draw_capacitors(lower, result)
    axes.plot(cooler, curves[1], color=PREDICTED, label="10-kelvin rule, wet")
    band(axes, cooler, curves[0], curves[2], f"doubling every {narrow:g} to {wide:g} K")
    axes.plot(distance, published, "x", color=QUIET, mew=2.5, markersize=9, label="a maker's table")
    # Drawn for parts rated at the temperature of the table, whatever the adapter's are.
    warm = table["rated_temperature"] - cooler[cooler <= distance.max()]
    single = implied_activation_energy(TOUCHES)
    arrhenius = activation_energy_life(1.0, table["rated_temperature"], warm, single)
    axes.plot(
        cooler[cooler <= distance.max()],
        arrhenius,
        color=QUIET,
        linestyle=":",
        label=f"Arrhenius, {single:.2f} eV",
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
    lower.set_xlabel("kelvin below the rated temperature (ranges: parts rated at 105 °C)")
    axes.set_ylabel("life over base life")
    axes.legend(loc="upper left")
    return figure


FIGURES: dict[str, Callable[[CapacitorLifeAssessment], Figure]] = {
    "capacitor_life_lives": draw_lives,
    "capacitor_life_law": draw_law,
    "capacitor_life_heat": draw_heat,
    "capacitor_life_case": draw_case,
    "capacitor_life_failing": draw_failing,
    "capacitor_life_bias": draw_bias,
    "capacitor_life_end": draw_end,
}
