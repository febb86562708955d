"""Insulation of a dossier: distances, windings and touch temperature against published figures."""

from dataclasses import dataclass

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.insulation.gaps import Gap, gap_findings, gaps_of
from adapterlab.assess.insulation.layers import (
    Crossing,
    crossing_finding,
    crossings_of,
    sheet_findings,
)
from adapterlab.assess.insulation.places import SECTION
from adapterlab.assess.insulation.touch import (
    Touched,
    nothing_touched,
    touch_findings,
    touched_places,
)
from adapterlab.assess.insulation.voltages import (
    WindingVoltage,
    noted_findings,
    winding_finding,
    winding_voltages,
)
from adapterlab.assess.insulation.ways import way_findings
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.ledger import Ledger
from adapterlab.dossier import Dossier
from adapterlab.insulation import strength_test_voltage


@dataclass(frozen=True)
class InsulationAssessment:
    """What stands between the mains and the hand, judged.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    gaps : tuple of Gap
        Distances with what is asked for at each.
    windings : tuple of WindingVoltage
        Working voltage of each transformer that is known well enough.
    crossings : tuple of Crossing
        Where a mains-side winding meets an output winding.
    touched : tuple of Touched
        Touchable places at their highest output power.
    """

    findings: Ledger
    gaps: tuple[Gap, ...]
    windings: tuple[WindingVoltage, ...]
    crossings: tuple[Crossing, ...]
    touched: tuple[Touched, ...]


def _strength(specimen: Specimen) -> Finding:
    peak = float(np.sqrt(2) * highest_mains(specimen))
    try:
        direct = strength_test_voltage("reinforced", peak)
        alternating = strength_test_voltage("reinforced", peak, "iec-60950-1")
    except ValueError as error:
        sentence = f"No test voltage is at hand: {error}."
    else:
        sentence = (
            f"For reinforced insulation on this mains a laboratory applies {direct:g} V direct "
            f"(IEC 62368-1) or, by IEC 60950-1, which it superseded, {alternating:g} V rms for a "
            "minute; no bench test of this kit takes its place."
        )
    return Finding(
        section=SECTION,
        question="With what voltage would a laboratory try the barrier?",
        judgement=rules.result(),
        sentence=sentence,
        function="insulation.strength_test_voltage",
        note="Lethal, and it wears what it tests: not for a home bench.",
    )


def assess(dossier: Dossier | Specimen) -> InsulationAssessment:
    """Insulation of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    InsulationAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    windings = winding_voltages(specimen)
    gaps, crossings = gaps_of(specimen, windings), crossings_of(specimen)
    findings = [finding for gap in gaps for finding in gap_findings(gap)]
    findings += sheet_findings(specimen)
    findings += [crossing_finding(crossing) for crossing in crossings]
    findings += [winding_finding(winding) for winding in windings]
    findings += noted_findings(specimen.adapter.distances, windings)
    if gaps or crossings:
        findings.append(_strength(specimen))
    touched = touched_places(specimen)
    ambient = specimen.adapter.nameplate.maximum_ambient
    for place in touched:
        findings += touch_findings(place, ambient)
    findings += way_findings(specimen)
    if not crossings:
        needed = "[[transformers]] with the windings from the inside outwards and their tape."
        question = "What lies between the windings of the transformer?"
        function = "insulation.required_layers"
        findings.append(not_measured(SECTION, question, needed, function))
    if not touched:
        findings.append(nothing_touched(specimen))
    return InsulationAssessment(
        Ledger.of(findings), tuple(gaps), tuple(windings), tuple(crossings), tuple(touched)
    )
