"""The plan of a bench session for one adapter, and what its meters can tell."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.bench_plan.points import PlannedPoint, plan_of, with_combinations
from adapterlab.assess.model.meters import Measured, Reader, reader_of
from adapterlab.assess.model.points import points_of
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import (
    Finding,
    not_measured,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.bench_plan import coarsest_resolution, smallest_difference
from adapterlab.dossier import Dossier
from adapterlab.published import rows
from adapterlab.uncertainty import coverage_factor

SECTION = "bench_plan"
METERS = ("input power", "output voltage", "output current")
_COLUMNS = ["number", "mains", "loading", "load_fraction", "set", "output_power", "input_power",
            "input_current", "purposes", "measured"]  # fmt: skip
_BUDGET = ["load_fraction", "output_power", *METERS, "rounding", "together", "same meters",
           "other meters"]  # fmt: skip


@dataclass(frozen=True)
class BenchPlanAssessment:
    """What to measure, and how well the listed meters do it.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    points : tuple of PlannedPoint
        The load points in order.
    table : pandas.DataFrame
        The same for reading: ``number``, ``mains``, ``loading``, ``load_fraction`` [1], ``set``
        (currents, as typed at the load), ``output_power`` and ``input_power`` [W],
        ``input_current`` [A], ``purposes``, ``measured``.
    budget : pandas.DataFrame
        For the loading of most power, one row for each load: ``load_fraction`` [1],
        ``output_power`` [W], the standard uncertainty of efficiency from each meter, from
        ``rounding`` and ``together`` [1], and the smallest difference of efficiency that two
        adapters must have to be told apart with the ``same meters`` and with ``other meters`` [1].
        Empty if no meters are listed.
    conditions : tuple of str
        How the session is run.
    name : str
        The adapter.
    """

    findings: Ledger
    points: tuple[PlannedPoint, ...]
    table: pd.DataFrame
    budget: pd.DataFrame
    conditions: tuple[str, ...]
    name: str


def _set(point: PlannedPoint) -> str:
    several = len(point.currents) > 1
    return ", ".join(
        (f"{port} " if several else "") + f"{current:.3f} A"
        for port, current in point.currents.items()
    )


def _table(points: Sequence[PlannedPoint]) -> pd.DataFrame:
    found = [
        {
            "number": point.number,
            "mains": f"{point.mains_voltage:g} V, {point.mains_frequency:g} Hz",
            "loading": point.loading,
            "load_fraction": point.load_fraction,
            "set": _set(point),
            "output_power": point.output_power,
            "input_power": point.expected.power,
            "input_current": point.expected.current_rms,
            "purposes": ", ".join(point.purposes),
            "measured": point.measured,
        }
        for point in points
    ]
    return pd.DataFrame(found, columns=_COLUMNS)


def _efficiency(point: PlannedPoint, read: Reader, less: float = 0.0) -> Measured:
    """Efficiency as the meters would give it, of an adapter a little less efficient if wanted."""
    measured = point.as_point(read)
    drawn = read("input power", point.output_power / (point.efficiency - less))
    return type(measured)(
        "", 0, point.mains_voltage, point.mains_frequency, drawn, measured.outputs
    ).efficiency()


def _budget(points: Sequence[PlannedPoint], read: Reader) -> pd.DataFrame:
    """Uncertainty of the efficiency by its origin, for the loading of most power."""
    found = []
    chosen = [
        p for p in points if (p.key, p.mains_voltage) == (points[0].key, points[0].mains_voltage)
    ]
    for point in chosen:
        one, other = _efficiency(point, read), _efficiency(point, read, 0.01)
        by_meter = np.abs(one.shared).sum(axis=0)
        apart = (one - other).standard_uncertainty
        u = one.standard_uncertainty
        found.append(
            [
                point.load_fraction,
                point.output_power,
                *by_meter.tolist(),
                one.independent,
                u,
                float(smallest_difference(apart, 0.0)),
                float(smallest_difference(u, u)),
            ]
        )
    frame = pd.DataFrame(found, columns=_BUDGET)
    return frame.sort_values("load_fraction", ascending=False).reset_index(drop=True)


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


def _coverage_of_rules(points: Sequence[PlannedPoint]) -> Finding:
    """How many of the points each rule asks for are in the load sweep."""
    question = "Which load points are still to be taken?"
    function = "assess.bench_plan.points.plan_of"
    open_points = [point for point in points if not point.measured]
    if not open_points:
        return Finding(
            SECTION,
            question,
            rules.result(),
            f"All {len(points)} load points of the plan are in the load sweep.",
            function,
            Value(float(len(points)), 0.0, ""),
            origin="load_sweep.csv",
            figure="bench_plan_points",
        )
    counts = []
    for name in dict.fromkeys(name for point in points for name in point.purposes):
        asked = [point for point in points if name in point.purposes]
        missing = sum(not point.measured for point in asked)
        if missing:
            counts.append(f"{missing} of {len(asked)} for {name}")
    first = open_points[0]
    needed = (
        f"{len(open_points)} of {len(points)} load points of the plan are open ("
        f"{', '.join(counts)}); the first is {first.loading} on {first.mains_voltage:g} V "
        f"at {_set(first)}."
    )
    return not_measured(SECTION, question, needed, function)


def _resolving(budget: pd.DataFrame) -> list[Finding]:
    """The smallest difference of efficiency the bench can tell, and the meter to improve."""
    question = "How small a difference of efficiency can this bench tell?"
    function = "bench_plan.smallest_difference"
    if budget.empty:
        needed = (
            "[[instruments]] for input power, output voltage and output current, with the accuracy "
            "their manuals state."
        )
        return [not_measured(SECTION, question, needed, function)]
    full, low = budget.iloc[0], budget.iloc[-1]
    same, other = (float(full[name]) for name in ("same meters", "other meters"))
    found = [
        Finding(
            SECTION,
            question,
            rules.result(),
            f"At {full['output_power']:.3g} W two adapters on these same meters must differ by "
            f"{100 * same:.2g} percentage points to be told apart, on two such benches by "
            f"{100 * other:.2g}; at {low['output_power']:.3g} W by "
            f"{100 * float(low['same meters']):.2g} and {100 * float(low['other meters']):.2g}.",
            function,
            Value(same, 0.0, "%"),
            origin="adapter.toml, instruments",
            figure="bench_plan_difference",
            note="Leaves out how an adapter drifts and how well a point is set anew; take a point "
            "twice to see that.",
        )
    ]
    for row in (full, low):
        shares = {name: float(row[name]) ** 2 for name in (*METERS, "rounding")}
        worst = max(shares, key=lambda name: shares[name])
        share = shares[worst] / sum(shares.values())
        what = "rounding of the last digit" if worst == "rounding" else f"the meter for {worst}"
        found.append(
            Finding(
                SECTION,
                f"Which meter limits the efficiency at {100 * row['load_fraction']:.0f} % load?",
                rules.result(),
                f"At {row['output_power']:.3g} W {what} brings {100 * share:.0f} % of the variance "
                f"of the efficiency, whose standard uncertainty is {100 * row['together']:#.2g} "
                "percentage points: the one to improve.",
                "bench_plan.ratio_uncertainty",
                Value(float(row["together"]), 0.0, "%"),
                origin="adapter.toml, instruments",
                figure="bench_plan_budget",
            )
        )
    return found


def _ranges(specimen: Specimen, points: Sequence[PlannedPoint]) -> list[Finding]:
    """Whether the ranges of the listed meters hold what the plan leads to."""
    most = max(points, key=lambda point: point.expected.power)
    current = max(points, key=lambda point: float(point.expected.current_rms))
    needs = {
        "input power": (float(most.expected.power), "W"),
        "mains current": (float(current.expected.current_rms), "A"),
        "output voltage": (max(max(p.voltages.values()) for p in points), "V"),
        "output current": (max(max(p.currents.values()) for p in points), "A"),
    }
    found = []
    for quantity, (value, unit) in needs.items():
        meters = specimen.adapter.instruments_for(quantity)
        scales = [meter.full_scale for meter in meters if meter.full_scale > 0]
        if not scales or len(scales) < len(meters):
            continue
        question = f"Does the range for {quantity} hold the plan?"
        reach = Value(max(scales), 0.0, unit)
        need = Value(float(f"{value:.2g}"), 0.0, unit)
        enough = max(scales) >= value
        verdict = "it holds that" if enough else "a larger range is needed"
        if quantity == "mains current" and enough:
            peak = float(current.expected.current_peak)
            if peak > max(scales):
                verdict += f", if it takes peaks of {Value(float(f'{peak:.2g}'), 0.0, 'A')}"
        found.append(
            Finding(
                SECTION,
                question,
                rules.result(),
                f"The plan leads to {quantity} up to about {need}; the largest range listed is "
                f"{reach}: {verdict}.",
                "bench_plan.expected_input",
                need,
                origin="adapter.toml, instruments",
                note="Expected from the least efficiency a rule asks for; power factor 0.5 and "
                "crest factor 4 are common practice.",
            )
        )
    return found


def assess(dossier: Dossier | Specimen) -> BenchPlanAssessment:
    """Bench plan of one adapter.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    BenchPlanAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    points = plan_of(specimen.adapter, points_of(specimen))
    conditions = tuple(row["text"] for row in rows("bench_plan", "conditions"))
    budget = pd.DataFrame(columns=_BUDGET)
    if not points:
        needed = "[[ports]] on the nameplate with their modes, voltages and currents."
        question = "Which load points are worth taking?"
        findings = [not_measured(SECTION, question, needed, "assess.bench_plan.points.plan_of")]
    else:
        if all(specimen.adapter.instruments_for(quantity) for quantity in METERS):
            budget = _budget(points, reader_of(specimen))
        findings = [_coverage_of_rules(points), *_resolving(budget), *_ranges(specimen, points)]
        if with_combinations(specimen.adapter) is not specimen.adapter:
            conditions = (
                *conditions,
                "the label is silent on all ports together: their currents are reduced in "
                "proportion to the rated power (10 CFR 430 subpart B, appendix Z, 5(a)(1)(iv))",
            )
    return BenchPlanAssessment(
        Ledger.of(findings), tuple(points), _table(points), budget, conditions, specimen.name
    )
