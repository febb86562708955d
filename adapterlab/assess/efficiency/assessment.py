"""Efficiency of a dossier: averages, losses and no-load power against published rules."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from adapterlab.assess.efficiency.conditions import condition_finding
from adapterlab.assess.efficiency.load import common_range, extreme_finding, spread_findings
from adapterlab.assess.efficiency.losses import loss_findings, rest_findings
from adapterlab.assess.efficiency.mains import mains_findings
from adapterlab.assess.efficiency.modes import mode_findings
from adapterlab.assess.efficiency.no_load import against_no_load, meter_finding
from adapterlab.assess.efficiency.rules import SECTION, against_rules
from adapterlab.assess.efficiency.second_meter import second_meter_findings
from adapterlab.assess.efficiency.year import year_findings
from adapterlab.assess.model.loadings import Loading, main_loading, sweep_of
from adapterlab.assess.model.no_load import NoLoad, no_load_readings
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.ledger import Ledger
from adapterlab.dossier import Dossier

_QUESTION = "How much of the mains power reaches the device?"
_POINT_COLUMNS = [
    "mains",
    "loading",
    "point",
    "load_fraction",
    "output_power",
    "input_power",
    "efficiency",
    "standard_uncertainty",
    "loss",
    "loss_uncertainty",
]
_AVERAGE_COLUMNS = [
    "mains",
    "loading",
    "average",
    "average_uncertainty",
    "ten_percent",
    "ten_percent_uncertainty",
    "spread",
]
_JUDGED_COLUMNS = [
    "rule",
    "quantity",
    "loading",
    "value",
    "standard_uncertainty",
    "limit",
    "word",
]


@dataclass(frozen=True)
class EfficiencyAssessment:
    """What the load sweep and the no-load readings say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    loadings : tuple of Loading
        Points by mains and by what was loaded, with averages and loss curves.
    points : pandas.DataFrame
        One row for each point: ``mains``, ``loading``, ``point``, ``load_fraction`` [1],
        ``output_power`` and ``input_power`` [W], ``efficiency`` and its ``standard_uncertainty``
        [1], ``loss`` and ``loss_uncertainty`` [W].
    no_load : tuple of NoLoad
        Every reading without load.
    judged : pandas.DataFrame
        One row for each verdict: ``rule``, ``quantity`` (``average``, ``10 %``, ``no load``),
        ``loading``, ``value``, ``standard_uncertainty`` and ``limit`` [1 or W], ``word``.
    name : str
        The adapter.
    """

    findings: Ledger
    loadings: tuple[Loading, ...]
    points: pd.DataFrame
    no_load: tuple[NoLoad, ...]
    judged: pd.DataFrame
    name: str

    @property
    def main_loading(self) -> Loading | None:
        """The loading with a loss curve that reaches the most power."""
        return main_loading(self.loadings)

    @property
    def averages(self) -> pd.DataFrame:
        """Loadings with an average: ``mains``, ``loading``, ``average``, ``average_uncertainty``,
        ``ten_percent``, ``ten_percent_uncertainty``, ``spread`` over loads that all have [1].
        """
        least, known = common_range(self.loadings)
        found = []
        for loading in known:
            low, spread = loading.ten_percent, loading.spread(least)
            assert loading.average is not None
            found.append(
                (
                    loading.mains,
                    loading.name,
                    loading.average.value,
                    loading.average.standard_uncertainty,
                    low.value if low else np.nan,
                    low.standard_uncertainty if low else np.nan,
                    spread.value if spread else np.nan,
                )
            )
        return pd.DataFrame(found, columns=_AVERAGE_COLUMNS)


def _table(loadings: Sequence[Loading]) -> pd.DataFrame:
    found = []
    for loading in loadings:
        for point in loading.points:
            share, loss = point.efficiency(), point.loss()
            found.append(
                (
                    loading.mains,
                    loading.name,
                    point.name,
                    loading.fraction(point),
                    point.output_power,
                    point.power.value,
                    share.value,
                    share.standard_uncertainty,
                    loss.value,
                    loss.standard_uncertainty,
                )
            )
    return pd.DataFrame(found, columns=_POINT_COLUMNS)


def _left_out(names: Sequence[str]) -> list[Finding]:
    """What to say of points at which more comes out than goes in."""
    if not names:
        return []
    needed = (
        f"points {', '.join(names)} give more than they take; they are left out. Check the meters."
    )
    return [not_measured(SECTION, _QUESTION, needed, "efficiency.efficiency")]


def assess(dossier: Dossier | Specimen) -> EfficiencyAssessment:
    """Efficiency of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    EfficiencyAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    sweep = sweep_of(specimen)
    loadings = sweep.loadings
    judged = against_rules(specimen.adapter, sweep.points)
    against_no_load(specimen, judged)
    findings = judged.findings + meter_finding(specimen) + _left_out(sweep.left_out)
    if not loadings:
        needed = (
            "load_sweep.csv with mains voltage and frequency, input power, and voltage and current "
            "of each loaded port, at 100, 75, 50, 25 and 10 % of the nameplate's current."
        )
        findings.append(not_measured(SECTION, _QUESTION, needed, "efficiency.efficiency"))
    else:
        findings += [condition_finding(specimen), extreme_finding(loadings)]
        findings += spread_findings(loadings)
        findings += mode_findings(loadings, len(specimen.adapter.ports) > 1)
        findings += loss_findings(loadings) + mains_findings(loadings)
        findings += rest_findings(specimen, loadings)
        findings += year_findings(specimen, main_loading(loadings))
        findings += second_meter_findings(specimen)
    return EfficiencyAssessment(
        Ledger.of(findings),
        loadings,
        _table(loadings),
        no_load_readings(specimen),
        pd.DataFrame(judged.rows, columns=_JUDGED_COLUMNS),
        specimen.name,
    )
