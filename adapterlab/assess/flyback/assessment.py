"""Converters of a dossier: how they work, what their parts bear, where the watts go."""

from collections.abc import Sequence
from dataclasses import dataclass

from adapterlab.assess.flyback.budget import LossBudget
from adapterlab.assess.flyback.losses import loss_findings
from adapterlab.assess.flyback.modes import (
    SECTION,
    change_finding,
    mode_findings,
    peak_finding,
    range_finding,
)
from adapterlab.assess.flyback.output import burst_finding, rectifier_finding, ripple_finding
from adapterlab.assess.flyback.points import StagePoint, points_of
from adapterlab.assess.flyback.ports import Served, port_findings, served_by
from adapterlab.assess.flyback.stress import clamp_findings, stress_finding
from adapterlab.assess.model.feeds import bulk_inputs
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.model.stages import Stage, missing, stages_of
from adapterlab.assess.model.stresses import Stress, stresses_of
from adapterlab.assess.report.finding import Finding, does_not_apply, not_measured
from adapterlab.assess.report.ledger import Ledger
from adapterlab.dossier import Dossier

_FUNCTION = "flyback.operating_point"


@dataclass(frozen=True)
class FlybackAssessment:
    """What the power stages of a dossier predict.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    stages : tuple of Stage
        Every converter known well enough.
    points : tuple of StagePoint
        One for each converter, mains and instant of the bulk ripple.
    stresses : tuple of Stress
        Switch and rectifier of every stage.
    budget : LossBudget or None
        Where each watt goes; None without any stage.
    served : tuple of Served
        The label's combinations of outputs.
    """

    findings: Ledger
    stages: tuple[Stage, ...]
    points: tuple[StagePoint, ...]
    stresses: tuple[Stress, ...]
    budget: LossBudget | None
    served: tuple[Served, ...]

    def points_for(self, stage: Stage) -> list[StagePoint]:
        """Working points of one converter."""
        return [point for point in self.points if point.stage.name == stage.name]


def _mode_question(name: str) -> str:
    whose = f"the {name} converter" if name else "the converter"
    return f"In which mode does {whose} work at full load?"


def _missing_findings(specimen: Specimen) -> list[Finding]:
    """What the dossier lacks to work the converters out."""
    construction = specimen.adapter.construction
    if construction.topology == "other":
        why = "The dossier names another topology than a flyback, so none of this applies."
        return [does_not_apply(SECTION, _mode_question(""), why, _FUNCTION)]
    if not construction.converters:
        needed = (
            "[[construction.converters]] with turns_ratio and magnetising_inductance, read on "
            "the transformer with an LCR meter, and switching_frequency."
        )
        return [not_measured(SECTION, _mode_question(""), needed, _FUNCTION)]
    found = [
        not_measured(SECTION, _mode_question(item.name), f"{', '.join(lacking)}.", _FUNCTION)
        for item in construction.converters
        if (lacking := missing(specimen, item))
    ]
    if stages_of(specimen) and not bulk_inputs(specimen):
        question = "How far does the bulk voltage fall between two crests?"
        needed = "[[parts]] with the role 'bulk capacitor' and its value."
        found.append(not_measured(SECTION, question, needed, _FUNCTION))
    return found


def _stage_findings(
    specimen: Specimen, stage: Stage, points: Sequence[StagePoint], troubles: Sequence[str]
) -> list[Finding]:
    """Everything that is said of one converter by itself."""
    found = mode_findings(stage, points)
    if points:
        found += [
            peak_finding(stage, points),
            range_finding(specimen, stage, points),
            change_finding(stage, points),
        ]
        burst = burst_finding(stage)
        found += [burst] if burst is not None else []
        found += [ripple_finding(stage), rectifier_finding(stage)]
    found += [stress_finding(specimen, stage, stress) for stress in stresses_of(specimen, stage)]
    found += clamp_findings(specimen, stage)
    return found + [
        not_measured(SECTION, _mode_question(stage.name), f"no working point {text}.", _FUNCTION)
        for text in troubles
    ]


def assess(dossier: Dossier | Specimen) -> FlybackAssessment:
    """Operating points of every converter of one adapter.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    FlybackAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    stages = stages_of(specimen)
    points, troubles = points_of(specimen)
    findings = _missing_findings(specimen)
    for stage in stages:
        own = [point for point in points if point.stage.name == stage.name]
        findings += _stage_findings(specimen, stage, own, troubles.get(stage.name, ()))
    served = served_by(specimen)
    findings += port_findings(served)
    budget, said = loss_findings(specimen)
    stresses = tuple(stress for stage in stages for stress in stresses_of(specimen, stage))
    return FlybackAssessment(
        Ledger.of(findings + said), stages, points, stresses, budget, tuple(served)
    )
