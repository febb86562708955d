"""How well the listed meters tell an efficiency, and how small a difference they can tell."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.bench_plan.points import PlannedPoint
from adapterlab.assess.model.meters import METERS, Measured, Reader, points_apart, spread
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.bench_plan import coarsest_resolution, smallest_difference
from adapterlab.uncertainty import coverage_factor

SECTION = "bench_plan"
OWN = "last digit and scatter"
BUDGET_COLUMNS = ["load_fraction", "output_power", *METERS, OWN, "together",
                  "errors alike", "same meters", "other meters"]  # fmt: skip
# A second adapter a little less efficient, so that gain errors leave something of the difference.
_LESS = 0.01


@dataclass(frozen=True)
class Budget:
    """Uncertainty of the efficiency at one load, by its origin.

    Attributes
    ----------
    load_fraction, output_power : float
        [1], [W]
    parts : dict of str to float
        Standard uncertainty of the efficiency from each meter, and from last digit and scatter.
        [1]
    together : float
        All of them. [1]
    errors_alike : float
        Smallest difference that can be told on the same meters, if their errors are alike in both
        readings. [1]
    same_meters : float
        The same, whether they are or not. [1]
    other_meters : float
        Smallest difference that can be told on two such benches. [1]
    """

    load_fraction: float
    output_power: float
    parts: dict[str, float]
    together: float
    errors_alike: float
    same_meters: float
    other_meters: float

    @property
    def worst(self) -> tuple[str, float]:
        """What brings most of the variance, and its share. [1]."""
        name = max(self.parts, key=lambda key: self.parts[key])
        return name, self.parts[name] ** 2 / sum(part**2 for part in self.parts.values())


def _efficiency(point: PlannedPoint, read: Reader, less: float = 0.0) -> Measured:
    """Efficiency as the meters would give it, of an adapter a little less efficient if wanted."""
    measured = point.as_point(read)
    drawn = read("input power", point.output_power / (point.efficiency - less))
    return replace(measured, power=drawn).efficiency()


def budgets_of(points: Sequence[PlannedPoint], read: Reader) -> tuple[Budget, ...]:
    """Budget of the loading of most power at each of its loads, full load first."""
    first = points[0]
    found = []
    for point in points:
        if (point.key, point.mains_voltage) != (first.key, first.mains_voltage):
            continue
        one, other = _efficiency(point, read), _efficiency(point, read, _LESS)
        apart = one - other
        by_meter = np.abs(one.shared).sum(axis=0).tolist()
        alone = [float(np.hypot(item.standard_uncertainty, item.repeat)) for item in (one, other)]
        found.append(
            Budget(
                point.load_fraction,
                point.output_power,
                dict(zip(METERS, by_meter, strict=True)) | {OWN: one.independent},
                one.standard_uncertainty,
                float(smallest_difference(apart.if_alike, 0.0)),
                float(smallest_difference(apart.standard_uncertainty, 0.0)),
                float(smallest_difference(*alone)),
            )
        )
    return tuple(sorted(found, key=lambda item: -item.load_fraction))


def budget_table(budgets: Sequence[Budget]) -> pd.DataFrame:
    """The budgets for reading, in the order of `BUDGET_COLUMNS`."""
    found = [
        (item.load_fraction, item.output_power, *item.parts.values(), item.together,
         item.errors_alike, item.same_meters, item.other_meters)
        for item in budgets
    ]  # fmt: skip
    return pd.DataFrame(found, columns=BUDGET_COLUMNS)


def _both(first: float, second: float, between: str) -> str:
    """Two differences, as said aloud: their unit once."""
    return f"{points_apart(f'{100 * first:.2g} %')}{between}{100 * second:.2g}"


def budget_findings(budgets: Sequence[Budget]) -> list[Finding]:
    """The smallest difference of efficiency the bench can tell, and the meter to improve."""
    question = "How small a difference of efficiency can this bench tell?"
    function = "bench_plan.smallest_difference"
    if not budgets:
        needed = (
            "[[instruments]] for input power, output voltage and output current, with the accuracy "
            "their manuals state."
        )
        return [not_measured(SECTION, question, needed, function)]
    full, low = budgets[0], budgets[-1]
    sentence = (
        "To be told apart for sure on these same meters, two adapters must differ by "
        f"{_both(full.same_meters, low.same_meters, f' at {full.output_power:.3g} W, by ')} at "
        f"{low.output_power:.3g} W"
    )
    if full.errors_alike < 0.9 * full.same_meters:
        sentence += (
            "; if the meters' errors were known to be alike in both readings, "
            f"{_both(full.errors_alike, low.errors_alike, ' and ')} would do"
        )
        note = (
            "A transfer (24-hour) accuracy of each meter would say how much of its error is alike."
        )
    else:
        sentence += "; on two such benches by "
        sentence += _both(full.other_meters, low.other_meters, " and ")
        note = "What the transfer accuracies leave in common cancels in the difference."
    found = [
        Finding(
            SECTION,
            question,
            rules.result(),
            f"{sentence}.",
            function,
            Value(full.same_meters, 0.0, "%"),
            origin="adapter.toml, instruments",
            figure="bench_plan_difference",
            note=f"{note} Set and read anew an efficiency comes back within 0.05 percentage points "
            "(common practice); take a point twice to see that.",
        )
    ]
    for item in (full, low):
        name, share = item.worst
        what = name if name == OWN else f"the meter for {name}"
        found.append(
            Finding(
                SECTION,
                f"Which meter limits the efficiency at {100 * item.load_fraction:.0f} % load?",
                rules.result(),
                f"At {item.output_power:.3g} W {what} brings {100 * share:.0f} % of the variance "
                f"of the efficiency, which is known to ± {spread(item.together, '%')}: the one to "
                "improve.",
                "bench_plan.ratio_uncertainty",
                Value(item.together, 0.0, "%"),
                origin="adapter.toml, instruments",
                figure="bench_plan_budget",
            )
        )
    return found


def meter_needs(points: Sequence[PlannedPoint], half_width: float = 0.005) -> pd.DataFrame:
    """What the meters must hold and resolve for a given uncertainty of the efficiency.

    Parameters
    ----------
    points : sequence of PlannedPoint
        The plan.
    half_width : float, optional
        Half of the 95 % interval wanted for the efficiency at the least load. [1]

    Returns
    -------
    pandas.DataFrame
        One row for each meter: ``quantity``, ``unit``, ``least`` and ``most`` reading expected,
        ``accuracy`` (limit of error, as a fraction of the least reading [1]) and ``resolution``
        that leave each meter, and its rounding, an equal share.
    """
    share = half_width / coverage_factor() / np.sqrt(2 * len(METERS))
    readings = {
        "input power": ("W", [float(p.expected.power) for p in points]),
        "output voltage": ("V", [volts for p in points for volts in p.voltages.values()]),
        "output current": ("A", [amps for p in points for amps in p.currents.values()]),
    }
    found = []
    for quantity, (unit, values) in readings.items():
        least = min(values)
        found.append(
            {
                "quantity": quantity,
                "unit": unit,
                "least": least,
                "most": max(values),
                "accuracy": float(np.sqrt(3)) * share,
                "resolution": float(coarsest_resolution(share * least)),
            }
        )
    return pd.DataFrame(found)
