"""Where the efficiency is lowest and highest, and how much it changes with the load."""

from collections.abc import Sequence

from adapterlab import judgement as rules
from adapterlab.assess.model.loadings import ACTIVE, TEN_PERCENT, Loading
from adapterlab.assess.model.meters import points_apart
from adapterlab.assess.model.points import Point
from adapterlab.assess.report.finding import Finding

SECTION = "efficiency"


def _said(loading: Loading, point: Point) -> str:
    value, watts = point.efficiency().shown("%"), f"{point.output_power:.3g} W"
    return f"{value} at {watts} from {loading.name} on {loading.mains}"


def extreme_finding(loadings: Sequence[Loading]) -> Finding:
    """The points of lowest and of highest efficiency."""
    every = [(loading, point) for loading in loadings for point in loading.points]
    every.sort(key=lambda item: item[1].efficiency().value)
    lowest, highest = every[0], every[-1]
    return Finding(
        SECTION,
        "Where is the efficiency lowest and highest?",
        rules.result(),
        f"Efficiency is lowest, {_said(*lowest)}, and highest, {_said(*highest)}.",
        "efficiency.efficiency",
        lowest[1].efficiency().shown("%"),
        origin=f"load_sweep.csv points {lowest[1].name} and {highest[1].name}",
        figure="efficiency_load",
    )


def common_range(loadings: Sequence[Loading]) -> tuple[float, list[Loading]]:
    """Least load that every loading with an average has, and those loadings. [1]."""
    known = [loading for loading in loadings if loading.average is not None]
    if known and all(loading.ten_percent is not None for loading in known):
        return float(TEN_PERCENT["fractions"][0]), known
    return float(min(ACTIVE["fractions"])), known


def spread_findings(loadings: Sequence[Loading]) -> list[Finding]:
    """The loading whose efficiency changes most with load, over a range that all of them have."""
    least, known = common_range(loadings)
    spreads = [(apart, item) for item in known if (apart := item.spread(least)) is not None]
    if not spreads:
        return []
    most, loading = max(spreads, key=lambda item: item[0].value)
    ordered = loading.between(least)
    return [
        Finding(
            SECTION,
            "How much does efficiency change with load?",
            most.judgement,
            f"Between {100 * least:.0f} and 100 % load efficiency changes most for {loading.name} "
            f"on {loading.mains}: by {points_apart(most.shown('%'))}, from "
            f"{ordered[0].output_power:.3g} W to {ordered[-1].output_power:.3g} W.",
            "efficiency.efficiency_spread",
            most.shown("%"),
            origin=f"load_sweep.csv points {ordered[0].name} and {ordered[-1].name}",
            figure="efficiency_load",
            note=most.doubt("%"),
        )
    ]
