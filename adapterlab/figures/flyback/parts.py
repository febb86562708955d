"""What the parts of a converter bear, and where each watt goes."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from adapterlab.assess.flyback import FlybackAssessment
from adapterlab.assess.flyback.budget import LossBudget
from adapterlab.figures.flyback.maps import MISSING
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    band,
    new_figure,
    nothing_to_show,
)


def _stress_title(result: FlybackAssessment) -> str:
    rated = [stress for stress in result.stresses if stress.rating is not None]
    if not rated:
        return "The voltages that the parts must bear; no rating is known"
    over = [s for s in rated if s.highest.value.value > (s.rating or 0)]
    if not over:
        return "Every rating that is known lies above the voltage its part must bear"
    return f"The {over[0].part} must bear more than its rating"


def draw_stresses(result: FlybackAssessment) -> Figure:
    """Bars of the highest voltages beside the ratings marked on the parts."""
    if not result.stresses:
        return nothing_to_show("Voltages against the ratings of the parts", MISSING)
    figure, axes = new_figure(_stress_title(result))
    names = []
    for place, stress in enumerate(reversed(result.stresses)):
        scale = stress.rating or stress.highest.value.value
        plateau = 100 * stress.plateau.value.value / scale
        colour = PREDICTED if stress.rating else QUIET
        axes.barh(place, plateau, color=colour, alpha=0.75, height=0.55)
        end, shown = plateau, stress.plateau
        if stress.top is not None:
            end, shown = 100 * stress.top.value.value / scale, stress.top
            axes.barh(place, end - plateau, left=plateau, height=0.55, facecolor="white",
                      edgecolor=colour, hatch="///", linewidth=1.5)  # fmt: skip
        rating = f" of {stress.rating:g} V" if stress.rating else ", rating not known"
        axes.text(max(end, 100) + 3, place, f"{shown.value.value:.3g} V{rating}", va="center")
        if stress.rating:
            axes.plot([100, 100], [place - 0.4, place + 0.4], color=LIMIT, linewidth=4)
        part = f" {stress.reference}" if stress.reference else ""
        names.append(f"{stress.part}{part}\n({stress.stage})")
    axes.set_yticks(range(len(names)), names)
    axes.set_xlim(0, 155)
    axes.set_xticks(range(0, 121, 20))
    axes.set_xlabel("share of the rating (%)")
    axes.grid(visible=False, axis="y")
    axes.barh([0], [0], color=PREDICTED, alpha=0.75, label="plateau")
    if any(stress.top for stress in result.stresses):
        axes.barh(
            [0], [0], facecolor="white", edgecolor=PREDICTED, hatch="///", label="spike or ringing"
        )
    if any(stress.rating for stress in result.stresses):
        axes.plot([], [], color=LIMIT, linewidth=4, label="rating")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def _loss_title(budget: LossBudget) -> str:
    largest = next(iter(budget.items))
    if budget.unknown:
        return f"Not every loss is known; of the others the {largest} takes the most"
    if not budget.case.loads:
        return f"Of all losses the {largest} should take the most at full load"
    loss, total = budget.case.loads[-1].loss, budget.sums[-1].value
    gap = loss.value - total.value
    both = float(np.hypot(loss.standard_uncertainty, total.standard_uncertainty))
    if gap > 2 * both:
        return f"{gap:.1f} W more are lost at full load than the parts account for"
    if gap < -2 * both:
        return f"The parts would lose {-gap:.1f} W more at full load than is measured"
    return f"The parts account for the watts that are lost; the {largest} takes the most"


def _draw_items(axes: Axes, budget: LossBudget) -> None:
    """Every item at the largest power as a bar with its interval."""
    rows = list(budget.items.items())[::-1]
    names = []
    lacking = any("clamp" in text for text in budget.unknown)
    for place, (item, loss) in enumerate(rows):
        allowed = item in budget.allowed
        middle, (low, high) = loss.value.value, loss.interval
        axes.barh(place, middle, color="white" if allowed else PREDICTED, height=0.7,
                  edgecolor=PREDICTED, hatch="///" if allowed else "", alpha=0.85)  # fmt: skip
        axes.errorbar(middle, place, xerr=[[middle - low], [high - middle]], color="black",
                      capsize=3, linewidth=1.3)  # fmt: skip
        if item == "clamp" and lacking:
            axes.annotate("not known", (0, place), xytext=(6, 0), textcoords="offset points",
                          va="center", color=LIMIT)  # fmt: skip
        names.append(f"{item} *" if allowed else item)
    axes.set_yticks(range(len(names)), names, fontsize=12)
    axes.set_xlim(left=0)
    star = "; * allowance" if budget.allowed else ""
    axes.set_xlabel(f"loss at {budget.case.largest_power:.0f} W out (W){star}")
    axes.grid(visible=False, axis="y")


def draw_losses(result: FlybackAssessment) -> Figure:
    """Items at full load as bars, and their sum against load beside the losses measured."""
    budget = result.budget
    if budget is None:
        return nothing_to_show("Where each watt goes", MISSING)
    figure, (bars, curve) = new_figure(_loss_title(budget), 1, 2, width_ratios=(5, 4))
    _draw_items(bars, budget)
    power = budget.case.curve
    ends = np.array([total.interval for total in budget.curve])
    band(curve, power, ends[:, 0], ends[:, 1], "sum of the parts, 95 %")
    curve.plot(power, [total.value.value for total in budget.curve], color=PREDICTED,
               linestyle=(0, (5, 2)))  # fmt: skip
    if budget.case.loads:
        losses = [load.loss for load in budget.case.loads]
        curve.errorbar(
            [load.power for load in budget.case.loads], [loss.value for loss in losses],
            yerr=[1.96 * loss.standard_uncertainty for loss in losses], color=MEASURED, fmt="o",
            capsize=3, markersize=6, label="measured",
        )  # fmt: skip
    if budget.joining is not None:
        joins = budget.joining[1]
        curve.axvline(joins, color=QUIET, linestyle=":", linewidth=2)
        curve.annotate(
            "another joins", (joins, 0.02), xycoords=("data", "axes fraction"), xytext=(5, 0),
            textcoords="offset points", color=QUIET,
        )  # fmt: skip
    curve.set_xlabel("output power (W)")
    curve.set_ylabel("loss (W)")
    curve.set_ylim(bottom=0)
    curve.legend(loc="upper left")
    return figure
