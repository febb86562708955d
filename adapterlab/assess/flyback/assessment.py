"""Converters of a dossier: how they work, what their parts bear, where the watts go."""

from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.flyback.budget import QUARTER, LossBudget, budget_of, case_of
from adapterlab.assess.flyback.load import (
    Served,
    burst_finding,
    change_finding,
    port_findings,
    range_finding,
    rectifier_finding,
    ripple_finding,
    served_by,
)
from adapterlab.assess.flyback.points import StagePoint, points_of
from adapterlab.assess.flyback.stress import (
    clamp_findings,
    stress_finding,
)
from adapterlab.assess.model.feeds import bulk_inputs
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.model.stages import Stage, missing, stages_of
from adapterlab.assess.model.stresses import (
    Stress,
    stresses_of,
)
from adapterlab.assess.model.winding_points import (
    losses_of,
)
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier import Dossier

SECTION = "flyback"
_PLACE = {
    "valley": "in the valley of the bulk voltage",
    "crest": "at the crest of the bulk voltage",
}


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


def _note(stage: Stage) -> str:
    return f"Assumed after common practice: {'; '.join(stage.assumed)}." if stage.assumed else ""


def _mode_words(point: StagePoint) -> str:
    odds = "" if point.probability > 0.995 else f" (probability {point.probability:.2f})"
    named = "at the boundary" if point.mode == "boundary" else f"in {point.mode} conduction"
    return f"{named}{odds}"


def _mode_findings(stage: Stage, points: list[StagePoint]) -> list[Finding]:
    place = _PLACE | {"crest": "at its crest"}
    found = []
    for (volts, hertz), several in groupby(points, lambda p: (p.mains_voltage, p.mains_frequency)):
        group = list(several)
        says = [f"{_mode_words(point)} {place[point.instant]}" for point in group]
        if len(says) == 1:
            says = [f"{_mode_words(group[0])} {_PLACE[group[0].instant]}"]
        if len(says) > 1 and len({_mode_words(point) for point in group}) == 1:
            says = [f"{_mode_words(group[0])} all through the ripple of the bulk voltage"]
        closed = [point.duty_cycle.value.short for point in group]
        found.append(
            Finding(
                section=SECTION,
                question=f"In which mode does the {stage.name} converter work at full load?",
                judgement=rules.result(),
                sentence=(
                    f"At {volts:g} V, {hertz:g} Hz and full load ({stage.output_voltage:g} V, "
                    f"{stage.output_current:.3g} A) the {stage.name} converter works "
                    f"{' and '.join(says)}; its switch is closed for {' to '.join(closed)} of "
                    f"each period."
                ),
                function="flyback.operating_point",
                prediction=group[0].duty_cycle.value,
                rests_on=group[0].duty_cycle.rests_on,
                figure="flyback_modes",
                note=_note(stage),
            )
        )
    return found


def _peak_finding(stage: Stage, points: list[StagePoint]) -> Finding:
    """The largest peak; where it is the same everywhere, at the lowest input voltage."""
    largest = max(point.primary_peak.value.value for point in points)
    alike = [point for point in points if point.primary_peak.value.value > largest * (1 - 1e-6)]
    point = min(alike, key=lambda point: point.input_voltage.value.value)
    return Finding(
        section=SECTION,
        question=f"How large are the current peaks of the {stage.name} converter?",
        judgement=rules.result(),
        sentence=(
            f"The parts predict a primary peak of {point.primary_peak} in the {stage.name} "
            f"converter at {point.mains_voltage:g} V, {point.mains_frequency:g} Hz and full load, "
            f"{_PLACE[point.instant]}; the secondary then starts at {point.secondary_peak}."
        ),
        function="flyback.operating_point",
        prediction=point.primary_peak.value,
        rests_on=point.primary_peak.rests_on,
        figure="flyback_waveforms",
        note=_note(stage),
    )


def _gap(question: str, needed: str) -> Finding:
    return not_measured(SECTION, question, needed, "flyback.operating_point")


def _of_the_load(specimen: Specimen, stage: Stage, points: list[StagePoint]) -> list[Finding]:
    found = [range_finding(specimen, stage, points), change_finding(stage, points)]
    burst = burst_finding(stage)
    return [*found, *([burst] if burst else []), ripple_finding(stage), rectifier_finding(stage)]


def _budget(specimen: Specimen, stages: list[Stage]) -> tuple[LossBudget | None, list[Finding]]:
    """The loss budget and what it says; a broken rule is said, not raised."""
    question = "Do the losses that the parts predict add up to those measured?"
    if not stages:
        return None, []
    try:
        case = case_of(specimen, stages)
        wound = {}
        for stage in stages:
            asked = replace(
                stage,
                output_voltage=case.voltage,
                output_current=stage.rated_power / case.voltage,
            )
            lost = losses_of(specimen, asked, (case.mains_voltage, case.mains_frequency))
            if lost is not None:
                wound[stage.name] = (lost[0].value, lost[1].value)
        budget = budget_of(specimen, stages, wound, case)
    except ValueError as error:
        rule = str(error).split(", got")[0].replace("_", " ")
        return None, [_gap(question, f"no budget: {rule}.")]
    return budget, [] if budget is None else _loss_findings(budget, question)


def _loss_findings(budget: LossBudget, question: str) -> list[Finding]:
    place = f"with {budget.loading} from {budget.mains}"
    full = budget.at_full_load()
    largest = ", ".join(
        f"{row['item']} {Value(row['loss'], row['standard_uncertainty'], 'W')}"
        for _, row in full.head(4).iterrows()
    )
    sum_of = Value(float(budget.total[-1]), float(budget.total_uncertainty[-1]), "W")
    note = "Copper and core of the transformer come from its windings."
    if budget.allowed:
        note = f"Without a figure of their own: {', '.join(budget.allowed)}."
    rest: dict[str, Any] = {"section": SECTION, "function": "flyback.conduction_loss"}
    rest |= {"figure": "flyback_losses", "note": note}
    found = [
        Finding(
            question="Where does each watt go at full load?",
            judgement=rules.result(),
            sentence=f"At {budget.output_power[-1]:.3g} W {place} the parts predict a loss of "
            f"{sum_of}; the largest items are {largest}.",
            prediction=sum_of,
            **rest,
        )
    ]
    if budget.measured is None:
        needed = "load_sweep.csv with at least four loads of one port that these converters feed."
        return [*found, not_measured(SECTION, question, needed, rest["function"])]
    for index, label in ((-1, "at full load"), (QUARTER, "at a quarter of the load")):
        power = budget.output_power[index]
        reading, spread = budget.measured[index], budget.measured_uncertainty[index]
        sum_of = Value(float(budget.total[index]), float(budget.total_uncertainty[index]), "W")
        left = Value(
            reading - sum_of.value, float((spread**2 + sum_of.standard_uncertainty**2) ** 0.5), "W"
        )
        finding = against_prediction(
            Value(float(reading), float(spread), "W"),
            sum_of,
            f"The loss measured {label} ({power:.3g} W {place})",
            "the sum of the loss budget",
            question=f"{question[:-1]} {label}?",
            origin="load_sweep.csv",
            **rest,
        )
        found.append(replace(finding, sentence=f"{finding.sentence} Not accounted for: {left}."))
    return found


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
    construction = specimen.adapter.construction
    question = "In which mode does the converter work at full load?"
    findings, stages = [], stages_of(specimen)
    if construction.topology == "other":
        findings.append(_gap(question, "nothing here applies: the dossier names no flyback."))
    elif not construction.converters:
        needed = (
            "[[construction.converters]] with turns_ratio and magnetising_inductance, read on "
            "the transformer with an LCR meter, and switching_frequency."
        )
        findings.append(_gap(question, needed))
    else:
        for converter in construction.converters:
            lacking = missing(specimen, converter)
            if lacking:
                about = f"In which mode does the {converter.name} converter work at full load?"
                findings.append(_gap(about, f"{', '.join(lacking)}."))
    if stages and not bulk_inputs(specimen):
        needed = "[[parts]] with the role 'bulk capacitor' and its value."
        findings.append(_gap("How far does the bulk voltage fall between two crests?", needed))
    points, troubles = points_of(specimen)
    stresses: list[Stress] = []
    for stage in stages:
        own = [point for point in points if point.stage.name == stage.name]
        findings += _mode_findings(stage, own)
        if own:
            findings.append(_peak_finding(stage, own))
            findings += _of_the_load(specimen, stage, own)
        borne = stresses_of(specimen, stage)
        stresses += borne
        findings += [stress_finding(specimen, stage, stress, _note(stage)) for stress in borne]
        findings += clamp_findings(specimen, stage, _note(stage))
        for trouble in troubles.get(stage.name, ()):
            about = f"In which mode does the {stage.name} converter work at full load?"
            findings.append(_gap(about, f"no working point {trouble}."))
    served = served_by(specimen)
    findings += port_findings(served)
    budget, said = _budget(specimen, list(stages))
    return FlybackAssessment(
        Ledger.of(findings + said), stages, points, tuple(stresses), budget, tuple(served)
    )
