"""Pictures of use and age: shares that fail, ceramic under voltage, and what ageing does."""

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import PercentFormatter

from adapterlab.assess.capacitor_life import CapacitorLifeAssessment
from adapterlab.assess.capacitor_life.years import VOUCHED, span_of
from adapterlab.assess.model.inputs import allowance
from adapterlab.capacitor_life import ceramic_capacitance_under_bias
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    band,
    new_figure,
    nothing_to_show,
)

_HALF = allowance("ceramic.half_voltage")
_DASHES = ("-", "--", "-.", (0, (1, 1)), (0, (5, 1, 1, 1, 1, 1)))


def draw_failing(result: CapacitorLifeAssessment) -> Figure:
    """Share of adapters with a failed capacitor against years, for each way of use."""
    title = "Share of adapters with a failed capacitor against years"
    if not result.used:
        return nothing_to_show(
            title,
            "A capacitor with temperature and base life, the size of the case and a load sweep are "
            "needed.",
        )
    worst = max(result.used, key=lambda use: use.share_by(10)[0])
    title = (
        "Heat alone makes less than 1 % of such adapters lose a capacitor within ten years, "
        "whatever the use; what else ages them no law tells"
    )
    if 10 in worst.told:
        title = (
            f"Used as '{worst.profile.name}', heat makes {span_of(worst.share_by(10))} of such "
            "adapters lose a capacitor within ten years"
        )
    figure, axes = new_figure(title)
    table = worst.failing
    for name in ("low", "high"):
        axes.plot(table["years"], table[name], ":", color=PREDICTED, linewidth=1.6)
    axes.plot([], [], ":", color=PREDICTED, label=f"95 %, {worst.profile.name}")
    for place, use in enumerate(result.used):
        axes.plot(
            use.failing["years"], use.failing["share"], color=SERIES[place % len(SERIES)],
            linestyle=_DASHES[place % len(_DASHES)], linewidth=2.6, label=use.profile.name,
        )  # fmt: skip
    axes.axvspan(VOUCHED, 20, facecolor=LIMIT, alpha=0.08, linewidth=0)
    axes.annotate(
        f"beyond the {VOUCHED:g} years\nthat makers vouch for", ((VOUCHED + 20) / 2, 1.0),
        ha="center", va="top", color=LIMIT, fontsize=12,
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.7},
    )  # fmt: skip
    axes.set(xlim=(0, 20), ylim=(0, 1.02), xticks=[0, 2, 5, 10, 15, 20])
    axes.yaxis.set_major_formatter(PercentFormatter(1.0))
    axes.set_xlabel("years of such use")
    axes.set_ylabel("adapters with a capacitor\nthat heat made fail")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def draw_bias(result: CapacitorLifeAssessment) -> Figure:
    """Capacitance of class-2 ceramic against steady voltage, with the adapter's parts."""
    share = np.linspace(0, 1, 101)
    low, high = (np.asarray(ceramic_capacitance_under_bias(1.0, share, end)) for end in _HALF.ends)
    title = (
        f"At its rated voltage a class-2 ceramic capacitor keeps {low[-1]:.0%} to {high[-1]:.0%} "
        f"of its capacitance"
    )
    if result.ceramics:
        part = result.ceramics[0]
        title = (
            f"{part.part}, marked {part.marked * 1e6:.3g} µF, has about {part.left.value.short} "
            f"left with {part.voltage:g} V across it after ten years"
        )
    figure, axes = new_figure(title)
    band(axes, share, low, high, "class 2, voltage alone")
    axes.plot(share, np.sqrt(low * high), color=PREDICTED)
    for place, part in enumerate(result.ceramics):
        ends, middle = part.left.interval, part.left.value.value / part.marked
        axes.errorbar(
            part.voltage / part.rated_voltage, middle,
            yerr=[[middle - ends[0] / part.marked], [ends[1] / part.marked - middle]],
            fmt=("D", "s", "^")[place % 3], color=MEASURED, mfc="white", mew=2, markersize=11,
            capsize=6, label=f"{part.part} ({part.dielectric}): voltage, heat, ten years, 95 %",
        )  # fmt: skip
    axes.plot([0, 1], [1, 1], color=QUIET, linestyle=(0, (1, 2)), label="class 1, film: no change")
    axes.yaxis.set_major_formatter(PercentFormatter(1.0))
    axes.xaxis.set_major_formatter(PercentFormatter(1.0))
    axes.set(xlim=(0, 1), ylim=(0, 1.12))
    axes.set_xlabel("steady voltage over rated voltage")
    axes.set_ylabel("capacitance left")
    axes.legend(loc="lower left")
    return figure


def draw_end(result: CapacitorLifeAssessment) -> Figure:
    """What grows and what shrinks when the capacitors are worn out, relative to new."""
    table = result.end
    title = "What a circuit with worn-out capacitors looks like"
    if table.empty:
        return nothing_to_show(
            title, "Capacitors with their place, and a converter with its parts, are needed."
        )
    ripple = table[table["effect"].str.contains("ripple")]
    if not ripple.empty:
        row = ripple.iloc[-1]
        growth = (row["least"] / row["new"], row["most"] / row["new"])
        title = (
            f"Worn-out capacitors show before they fail: the ripple grows to between "
            f"{growth[0]:.1f} and {growth[1]:.1f} times"
        )
    figure, axes = new_figure(title)
    for place, row in enumerate(table.itertuples()):
        low, high = sorted((row.least / row.new, row.most / row.new))
        axes.barh(
            place, high - low, left=low, height=0.5, facecolor="none", edgecolor=PREDICTED,
            hatch="///", label="worn out" if place == 0 else None,
        )  # fmt: skip
        axes.plot(1, place, "o", color=MEASURED, label="new" if place == 0 else None)
    axes.axvline(1, color=QUIET, linewidth=1.0)
    axes.set_yticks(range(len(table)), [f"{row.effect}\n{row.where}" for row in table.itertuples()])
    axes.set_ylim(len(table) - 0.4, -0.6)
    axes.set_xlim(left=0)
    axes.set_xlabel("over the value with new capacitors")
    figure.legend(loc="outside lower center", ncols=2)
    return figure
