"""An adapter among its peers, in three pictures."""

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from adapterlab.assess.standing import QUANTITIES, SMALL, Place, Quantity, StandingAssessment
from adapterlab.figures.style import MEASURED, QUIET, new_figure, nothing_to_show

_NO_PEERS = "There are no peers to compare with, or too few."
_BY_NAME = {quantity.name: quantity for quantity in QUANTITIES}
# Factor and unit that give numbers a reader can hold.
_SHOWN = {"%": (100.0, "%"), "W": (1e3, "mW"), "V": (1e3, "mV"), "A": (1e6, "µA"),
          "g/W": (1.0, "g/W"), "per W": (1.0, "price per W")}  # fmt: skip


def _label(quantity: Quantity) -> str:
    return f"{quantity.label[0].upper()}{quantity.label[1:]}".replace(" from", "\nfrom")


def draw_places(result: StandingAssessment) -> Figure:
    """Share of the peers that each figure beats, with its interval."""
    title = "How many of its peers the adapter beats"
    if not result.places:
        return nothing_to_show(title, _NO_PEERS)
    ordered = sorted(result.places, key=lambda place: place.better_than)
    best, worst = _BY_NAME[ordered[-1].quantity], _BY_NAME[ordered[0].quantity]
    title = f"Among its peers it does best in {best.label}, worst in {worst.label}"
    figure, axes = new_figure(title)
    spot = np.arange(len(ordered))
    share = 100 * np.array([place.better_than for place in ordered])
    low = 100 * np.array([place.low for place in ordered])
    high = 100 * np.array([place.high for place in ordered])
    axes.hlines(spot, low, high, color=QUIET, linewidth=5, alpha=0.45,
                label="of all such, if these are a fair sample (95 %)")  # fmt: skip
    axes.plot(share, spot, "o", color=MEASURED, label="of these peers")
    axes.axvline(50, color=QUIET, linewidth=1, linestyle=":")
    for place, at in zip(ordered, spot, strict=True):
        axes.text(103, at, f"{place.first_place}" + (
            f"–{place.last_place}" if place.last_place > place.first_place else ""
        ) + f" of {place.peers + 1}", va="center", fontsize=11)  # fmt: skip
    axes.text(103, len(ordered) - 0.45, "place", fontsize=11, color=QUIET)
    axes.set_yticks(spot, [_label(_BY_NAME[place.quantity]) for place in ordered], fontsize=11)
    axes.set_xlim(-3, 125)
    axes.set_xticks(range(0, 101, 25))
    axes.set_ylim(-0.6, len(ordered) - 0.2)
    axes.set_xlabel("better than this share (%)")
    figure.legend(loc="outside lower center", ncols=2)
    return figure


def _strip(axes: Axes, place: Place, peers: NDArray[np.float64]) -> None:
    quantity = _BY_NAME[place.quantity]
    factor, unit = _SHOWN[place.unit]
    values = factor * np.sort(peers)
    spread = 0.8 * (np.arange(values.size) * 0.618 % 1 - 0.5)
    axes.plot(values, spread, "o", color=QUIET, markersize=5, mfc="white", mew=1.2)
    axes.errorbar(
        factor * place.value, 0, xerr=1.96 * factor * place.standard_uncertainty, fmt="D",
        color=MEASURED, markersize=10, capsize=4,
    )  # fmt: skip
    axes.axvline(np.median(values), color=QUIET, linewidth=1, linestyle=":")
    axes.set_ylim(-0.8, 0.8)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    way = "← better" if quantity.lower_is_better else "better →"
    axes.set_title(f"{_label(quantity)}  {way}", fontsize=10, fontweight="normal")
    axes.set_xlabel(unit, fontsize=10, labelpad=1)
    axes.tick_params(labelsize=10)


def draw_values(result: StandingAssessment) -> Figure:
    """Every figure of every peer, the adapter's own marked."""
    title = "The adapter among its peers, figure by figure"
    if not result.places:
        return nothing_to_show(title, _NO_PEERS)
    few = result.places[0].peers < SMALL
    title = (
        f"The adapter (diamond) among {result.places[0].peers} peers"
        f"{', a small group' if few else ''}; dotted: their median"
    )
    rows = (len(result.places) + 1) // 2
    figure, grid = new_figure(title, rows, 2, squeeze=False)
    for axes in grid.flat[len(result.places) :]:
        axes.set_axis_off()
    for axes, place in zip(grid.flat, result.places, strict=False):
        _strip(axes, place, result.peers[place.quantity].dropna().to_numpy())
    return figure


def draw_price(result: StandingAssessment) -> Figure:
    """Average efficiency against price per watt."""
    title = "Does efficiency cost more?"
    link = result.price_link
    if link is None:
        return nothing_to_show(title, "Needs peers with price and average efficiency.")
    known = {place.quantity: place for place in result.places}
    peers = result.peers.dropna(subset=["average_efficiency", "price_per_watt"])
    together, judged, count = link
    dear = "dearer" if together > 0 else "cheaper"
    shows = "Among these" if judged.called else "It does not show that among these"
    figure, axes = new_figure(
        f"{shows} {count} peers the {dear} are the more efficient (rank correlation {together:.2f})"
    )
    axes.plot(peers["price_per_watt"], 100 * peers["average_efficiency"], "o", color=QUIET,
              mfc="white", mew=1.5, label="peers")  # fmt: skip
    own = known["average_efficiency"]
    axes.errorbar(
        known["price_per_watt"].value, 100 * own.value,
        yerr=196 * own.standard_uncertainty, fmt="D", color=MEASURED, markersize=11, capsize=5,
        label="this adapter",
    )  # fmt: skip
    axes.set_xlabel("price per watt of rated power (currency of the nameplate / W)")
    axes.set_ylabel("average efficiency (%)")
    axes.legend(loc="best")
    return figure


FIGURES: dict[str, Callable[[StandingAssessment], Figure]] = {
    "standing_places": draw_places,
    "standing_values": draw_values,
    "standing_price": draw_price,
}
