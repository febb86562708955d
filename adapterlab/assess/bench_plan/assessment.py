"""The plan of a bench session for one adapter, and what its meters can tell."""

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from adapterlab.assess.bench_plan.budget import (
    Budget,
    budget_findings,
    budget_table,
    budgets_of,
    meter_needs,
)
from adapterlab.assess.bench_plan.open_points import open_finding, set_currents
from adapterlab.assess.bench_plan.points import PlannedPoint, plan_of, with_combinations
from adapterlab.assess.bench_plan.ranges import range_findings
from adapterlab.assess.model.loadings import sweep_of
from adapterlab.assess.model.meters import METERS, reader_of
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import not_measured
from adapterlab.assess.report.ledger import Ledger
from adapterlab.dossier import Dossier
from adapterlab.published import rows

SECTION = "bench_plan"
_COLUMNS = ["number", "mains", "loading", "load_fraction", "set", "output_power", "input_power",
            "input_current", "purposes", "measured"]  # fmt: skip


@dataclass(frozen=True)
class BenchPlanAssessment:
    """What to measure, and how well the listed meters do it.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    points : tuple of PlannedPoint
        The load points in order.
    budgets : tuple of Budget
        Uncertainty of the efficiency of the loading of most power, full load first. Empty if no
        meters are listed.
    conditions : tuple of str
        How the session is run.
    name : str
        The adapter.
    """

    findings: Ledger
    points: tuple[PlannedPoint, ...]
    budgets: tuple[Budget, ...]
    conditions: tuple[str, ...]
    name: str

    @property
    def table(self) -> pd.DataFrame:
        """The points for reading: ``number``, ``mains``, ``loading``, ``load_fraction`` [1],
        ``set`` (currents, as typed at the load), ``output_power`` and ``input_power`` [W],
        ``input_current`` [A], ``purposes``, ``measured``.
        """
        return _table(self.points)

    @property
    def budget(self) -> pd.DataFrame:
        """The budgets for reading; see `adapterlab.assess.bench_plan.budget.Budget`."""
        return budget_table(self.budgets)

    def needs(self, half_width: float = 0.005) -> pd.DataFrame:
        """What meters must do; see `adapterlab.assess.bench_plan.budget.meter_needs`."""
        return meter_needs(self.points, half_width)


def _table(points: Sequence[PlannedPoint]) -> pd.DataFrame:
    found = [
        {
            "number": point.number,
            "mains": f"{point.mains_voltage:g} V, {point.mains_frequency:g} Hz",
            "loading": point.loading,
            "load_fraction": point.load_fraction,
            "set": set_currents(point),
            "output_power": point.output_power,
            "input_power": point.expected.power,
            "input_current": point.expected.current_rms,
            "purposes": ", ".join(point.purposes),
            "measured": point.measured,
        }
        for point in points
    ]
    return pd.DataFrame(found, columns=_COLUMNS)


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
    sweep = sweep_of(specimen)
    points = plan_of(specimen.adapter, sweep.points)
    conditions = tuple(row["text"] for row in rows("bench_plan", "conditions"))
    budgets: tuple[Budget, ...] = ()
    if not points:
        needed = "[[ports]] on the nameplate with their modes, voltages and currents."
        question = "Which load points are worth taking?"
        findings = [not_measured(SECTION, question, needed, "assess.bench_plan.points.plan_of")]
    else:
        if all(specimen.adapter.instruments_for(quantity) for quantity in METERS):
            budgets = budgets_of(points, reader_of(specimen, sweep.scatter))
        findings = [open_finding(points), *budget_findings(budgets)]
        findings += range_findings(specimen, points)
        if with_combinations(specimen.adapter) is not specimen.adapter:
            conditions = (
                *conditions,
                "the label is silent on all ports together: their currents are reduced in "
                "proportion to the rated power (10 CFR 430 subpart B, appendix Z, 5(a)(1)(iv))",
            )
    return BenchPlanAssessment(
        Ledger.of(findings), tuple(points), budgets, conditions, specimen.name
    )
