"""What the parts of a converter bear, and where each watt goes."""

import numpy as np
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
        axes.barh([0], [0], facecolor="white", edgecolor=PREDICTED, hatch="///", label="spike")
    if any(stress.rating for stress in result.stresses):
        axes.plot([], [], color=LIMIT, linewidth=4, label="rating")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def _loss_title(budget: LossBudget) -> str:
    largest = budget.at_full_load()["item"].iloc[0]
    if budget.measured is None:
        return f"Of all losses the {largest} should take the most at full load"
    gap = budget.measured[-1] - budget.total[-1]
    both = np.hypot(budget.measured_uncertainty[-1], budget.total_uncertainty[-1])
    if gap > 2 * both:
        return f"{gap:.1f} W more are lost at full load than the parts account for"
    if gap < -2 * both:
        return f"The parts would lose {-gap:.1f} W more at full load than is measured"
    return f"The parts account for the watts that are lost; the {largest} takes the most"


def draw_losses(result: FlybackAssessment) -> Figure:
    """Items at full load as bars, and their sum against load beside the measured curve."""
    budget = result.budget
    if budget is None:
        return nothing_to_show("Where each watt goes", MISSING)
    figure, (bars, curve) = new_figure(_loss_title(budget), 1, 2, width_ratios=(5, 4))
    table = budget.at_full_load().iloc[::-1].reset_index(drop=True)
    for place, row in table.iterrows():
        allowed = row["item"] in budget.allowed
        bars.barh(place, row["loss"], color="white" if allowed else PREDICTED, height=0.7,
                  edgecolor=PREDICTED, hatch="///" if allowed else "", alpha=0.85)  # fmt: skip
        bars.errorbar(row["loss"], place, xerr=1.96 * row["standard_uncertainty"], color="black",
                      capsize=3, linewidth=1.3)  # fmt: skip
    names = [f"{item} *" if item in budget.allowed else item for item in table["item"]]
    bars.set_yticks(range(len(names)), names, fontsize=12)
    bars.set_xlim(left=0)
    star = "; * allowance" if budget.allowed else ""
    bars.set_xlabel(f"loss at {budget.output_power[-1]:.0f} W out (W){star}")
    bars.grid(visible=False, axis="y")
    power, total, spread = budget.output_power, budget.total, 1.96 * budget.total_uncertainty
    band(curve, power, total - spread, total + spread, "sum of the parts, 95 %")
    curve.plot(power, total, color=PREDICTED, linestyle=(0, (5, 2)))
    if budget.measured is not None:
        curve.plot(power, budget.measured, color=MEASURED, linewidth=3, label="measured")
    curve.set_xlabel("output power (W)")
    curve.set_ylabel("loss (W)")
    curve.set_ylim(bottom=0)
    curve.legend(loc="upper left")
    return figure
