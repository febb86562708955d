"""Pictures of the efficiency: along the load, against the rules, where the watts go, at rest."""

import re
from collections.abc import Callable

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from adapterlab.assess.efficiency import EfficiencyAssessment
from adapterlab.assess.model.loadings import Loading
from adapterlab.figures.style import (
    LIMIT,
    MARKERS,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    measured,
    new_figure,
    nothing_to_show,
)

_NO_SWEEP = "No load sweep has been measured."
_TERMS = (
    ("the same at any load", "#cfd8e3", ""),
    ("in step with the power", "#8fb3cf", "//"),
    ("with its square", "#e3b48c", "xx"),
)


def _lines(loadings: tuple[Loading, ...]) -> list[Loading]:
    """At most six loadings with a curve, on the mains with most of them."""
    curved = [loading for loading in loadings if loading.curve is not None]
    mains = [loading.mains for loading in curved]
    if not mains:
        return []
    chosen = max(dict.fromkeys(mains), key=mains.count)
    return [loading for loading in curved if loading.mains == chosen][: len(SERIES)]


def draw_load(result: EfficiencyAssessment) -> Figure:
    """Efficiency along the output power, every mode with its fitted curve."""
    lines = _lines(result.loadings)
    if not lines:
        return nothing_to_show("Efficiency along the load", _NO_SWEEP)
    table = result.points[
        (result.points["mains"] == lines[0].mains)
        & result.points["loading"].isin([line.name for line in lines])
    ]
    low, high = table.loc[table["efficiency"].idxmin()], table.loc[table["efficiency"].idxmax()]
    title = (
        f"{result.name} on {lines[0].mains}: best at {high['efficiency']:.1%} "
        f"({high['loading']}, {high['output_power']:.3g} W), worst at {low['efficiency']:.1%} "
        f"({low['loading']}, {low['output_power']:.2g} W)"
    )
    figure, axes = new_figure(_title(title))
    for place, line in enumerate(lines):
        own = table[table["loading"] == line.name]
        measured(
            axes,
            own["output_power"],
            own["efficiency"] * 100,
            own["standard_uncertainty"] * 100,
            line.name,
            color=SERIES[place],
            fmt=MARKERS[place],
        )
        if line.curve is not None:
            power = np.linspace(own["output_power"].min(), own["output_power"].max(), 200)
            axes.plot(power, line.curve.efficiency(power) * 100, ":", color=SERIES[place])
    axes.plot([], [], ":", color=QUIET, label="three-term loss curve")
    axes.set_xlim(left=0)
    axes.set_xlabel("output power (W)")
    axes.set_ylabel("efficiency (%)")
    axes.legend(loc="lower right", ncols=2 if len(lines) > 3 else 1)
    return figure


def _title(text: str) -> str:
    """Title whose numbers stay on one line with their units."""
    return re.sub(r"(?<=\d) (?=(V|Hz|W|mW|%)\b|%)", "\u00a0", text.replace("%", " %"))


def _against_marks(axes: Axes, table: pd.DataFrame, factor: float, side: str) -> None:
    """A row for each verdict: dot with bar, dashed mark for its limit, hatched where it fails."""
    reach = 2 * factor * float(table[["value", "limit"]].max().max()) if len(table) else 0.0
    for place, row in enumerate(table.itertuples()):
        value, limit = row.value * factor, row.limit * factor
        axes.plot(
            [limit] * 2,
            [place - 0.38, place + 0.38],
            color=LIMIT,
            linewidth=3,
            linestyle=(0, (2, 1)),
        )
        axes.barh(
            place,
            reach if side == "upper" else limit,
            left=limit if side == "upper" else 0,
            height=0.76,
            color="none",
            edgecolor="#d9a9be",
            hatch="//",
            linewidth=0,
        )
        axes.errorbar(
            value,
            place,
            xerr=1.96 * row.standard_uncertainty * factor,
            fmt="o",
            color=MEASURED,
            capsize=4,
        )
    axes.set_ylim(len(table) - 0.4, -0.6)
    axes.grid(visible=False, axis="y")
    name = "largest allowed" if side == "upper" else "least asked for"
    axes.plot([], [], color=LIMIT, linewidth=3, linestyle=(0, (2, 1)), label=name)
    axes.bar(0, 0, color="none", edgecolor="#d9a9be", hatch="//", linewidth=0, label="beyond it")
    axes.plot([], [], "o", color=MEASURED, label="measured (95 %)")


def draw_averages(result: EfficiencyAssessment) -> Figure:
    """Average efficiencies and 10 % points against what each rule asks for."""
    table = result.judged[result.judged["quantity"] != "no load"]
    title = "Average efficiency against what the rules ask for"
    if table.empty:
        reason = "No loading that a rule judges has been measured at all its load points."
        return nothing_to_show(title, reason)
    table = table.assign(margin=table["value"] - table["limit"])
    tight = table.loc[table["margin"].idxmin()]
    met = int((table["word"] == "meets").sum())
    what = "average" if tight["quantity"] == "average" else "10% load"
    points = abs(tight["margin"]) * 100
    worst = "tightest" if tight["margin"] >= 0 else "furthest off"
    amount = f"{points:.1f} points" if points >= 0.05 else "less than 0.1 point"
    title = (
        f"{met} of {len(table)} minimums are met; {worst} is {tight['rule']} for "
        f"{tight['loading']} ({what}), {amount} {'above' if tight['margin'] >= 0 else 'below'} it"
    )
    figure, axes = new_figure(_title(title))
    _against_marks(axes, table, 100.0, "lower")
    names = [
        f"{row.rule}: {row.loading}{', 10 % load' if row.quantity == '10 %' else ''}"
        for row in table.itertuples()
    ]
    axes.set_yticks(range(len(table)), names, fontsize=11 if len(table) > 8 else 12)
    spread = 196 * table["standard_uncertainty"]
    low = min((table["value"] * 100 - spread).min(), table["limit"].min() * 100)
    high = max((table["value"] * 100 + spread).max(), table["limit"].max() * 100)
    axes.set_xlim(low - 2, min(high + 2, 100))
    axes.set_xlabel("efficiency (%)")
    figure.legend(*axes.get_legend_handles_labels(), loc="outside lower center", ncols=3)
    return figure


def draw_losses(result: EfficiencyAssessment) -> Figure:
    """Loss along the output power, split into its three fitted terms."""
    loading = result.main_loading
    if loading is None or loading.curve is None:
        return nothing_to_show("Where the watts go as the load grows", _NO_SWEEP)
    curve, top = loading.curve, loading.curve.largest_power
    power = np.linspace(0, top, 200)
    parts = [np.full_like(power, curve.fixed), curve.proportional * power]
    parts.append(curve.quadratic * power**2)
    apart = all(part[-1] >= 0 for part in parts)
    shares = [part[-1] / curve.loss(top) for part in parts]
    largest = int(np.argmax(shares))
    title = (
        f"At {top:.3g} W, {shares[largest]:.0%} of the loss at {loading.name} "
        f"{('is ', 'grows ', 'grows ')[largest]}{_TERMS[largest][0]}"
        if apart
        else f"At {loading.name} the adapter loses {curve.loss(top):.3g} W at {top:.3g} W"
    )
    figure, axes = new_figure(_title(f"{title} ({loading.mains})"))
    if apart:
        base = np.zeros_like(power)
        for part, (label, colour, hatch) in zip(parts, _TERMS, strict=True):
            axes.fill_between(
                power,
                base,
                base + part,
                facecolor=colour,
                edgecolor="white",
                hatch=hatch,
                linewidth=0,
                label=label,
            )
            base = base + part
    axes.plot(power, curve.loss(power), ":", color=PREDICTED, label="their sum, fitted")
    own = result.points[
        (result.points["loading"] == loading.name) & (result.points["mains"] == loading.mains)
    ]
    measured(axes, own["output_power"], own["loss"], own["loss_uncertainty"], "measured (95 %)")
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
    axes.set_xlabel("output power (W)")
    axes.set_ylabel("loss (W)")
    handles, labels = axes.get_legend_handles_labels()
    axes.legend(handles[::-1], labels[::-1], loc="upper left")
    return figure


def draw_no_load(result: EfficiencyAssessment) -> Figure:
    """Power without load against the largest that each rule allows."""
    if not result.no_load:
        return nothing_to_show(
            "Power drawn when nothing is plugged in", "No power without load has been measured."
        )
    milli = 1e3
    judged = result.judged[result.judged["quantity"] == "no load"]
    most = max(result.no_load, key=lambda item: item.power.value)
    extra = "" if most.may_be_bare else " with a bare cable plugged in"
    title = f"Doing nothing, {result.name} draws at most {most.power.value * milli:.0f} mW{extra}"
    figure, axes = new_figure(_title(f"{title} ({most.mains})"))
    _against_marks(axes, judged, milli, "upper")
    others = [item for item in result.no_load if not (len(judged) and item.may_be_bare)]
    for place, row in enumerate(others, start=len(judged)):
        axes.errorbar(
            row.power.value * milli,
            place,
            xerr=1.96 * row.power.standard_uncertainty * milli,
            fmt="o",
            color=MEASURED,
            capsize=4,
        )
    names = [f"{row.rule}, {row.loading}" for row in judged.itertuples()]
    names += [f"{'nothing' if row.may_be_bare else 'cable'} plugged, {row.mains}" for row in others]
    axes.set_yticks(range(len(names)), names, fontsize=12)
    axes.set_ylim(len(names) - 0.4, -0.6)
    reach = max(most.power.value, judged["limit"].max() if len(judged) else 0)
    axes.set_xlim(0, 1.15 * reach * milli or 1.0)
    axes.set_xlabel("power without load (mW)")
    figure.legend(*axes.get_legend_handles_labels(), loc="outside lower center", ncols=3)
    return figure


FIGURES: dict[str, Callable[[EfficiencyAssessment], Figure]] = {
    "efficiency_load": draw_load,
    "efficiency_averages": draw_averages,
    "efficiency_losses": draw_losses,
    "efficiency_no_load": draw_no_load,
}
