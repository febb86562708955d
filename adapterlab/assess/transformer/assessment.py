"""The transformers of a dossier: what is wound against what is measured and what it must bear."""

from dataclasses import dataclass

from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.model.stages import missing, stage_of
from adapterlab.assess.model.winding_points import WorkingPoint, points_of
from adapterlab.assess.model.windings import SECTION, build_of, converter_of, temperature_of
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.ledger import Ledger
from adapterlab.assess.transformer.findings import (
    flux_findings,
    inductance_finding,
    loss_findings,
    power_findings,
    ratio_findings,
    window_findings,
)
from adapterlab.assess.transformer.layers import (
    barrier_findings,
    capacitance_findings,
    leakage_findings,
    leakage_read,
    predicted_leakage,
    screen_findings,
)
from adapterlab.assess.transformer.wound import (
    Wound,
    inductance_read,
    predicted_inductance,
    saturation_of,
)
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import Transformer


@dataclass(frozen=True)
class TransformerAssessment:
    """What the transformers of one adapter say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    transformers : tuple of Wound
        In the order of the record.
    """

    findings: Ledger
    transformers: tuple[Wound, ...]


def _wound(specimen: Specimen, transformer: Transformer) -> tuple[Wound, list[Finding]]:
    adapter = specimen.adapter
    build, converter = build_of(specimen, transformer), converter_of(specimen, transformer)
    applies = adapter.construction.topology != "other"
    known = converter is not None and applies and not missing(specimen, converter)
    stage = stage_of(specimen, converter) if known and converter is not None else None
    temperature = temperature_of(specimen, transformer)
    saturation, trouble = saturation_of(transformer, temperature.middle)
    extra = []
    if trouble:
        question = f"When does the core of the {build.converter} transformer saturate?"
        extra.append(
            not_measured(SECTION, question, f"{trouble}.", "transformer.saturation_flux_density")
        )
    points: tuple[WorkingPoint, ...] = ()
    if stage is not None and build.core_area and build.primary_turns > 0:
        points, troubles = points_of(specimen, build, stage, temperature)
        question = f"Does the core of the {build.converter} transformer stay clear of saturation?"
        extra += [
            not_measured(SECTION, question, f"no working point {text}.", "flyback.operating_point")
            for text in troubles
        ]
    wound = Wound(
        build,
        stage,
        temperature,
        saturation,
        inductance_read(converter),
        predicted_inductance(specimen, build),
        leakage_read(specimen, transformer),
        predicted_leakage(build),
        points,
    )
    findings = [
        inductance_finding(build, wound),
        *ratio_findings(specimen, build, converter),
        *window_findings(specimen, build),
        *flux_findings(wound, transformer),
        *leakage_findings(specimen, transformer, build),
        *barrier_findings(build),
        *screen_findings(transformer, build, wound.measured),
        *capacitance_findings(specimen, transformer, build),
        *loss_findings(wound),
        *power_findings(wound, transformer),
        *extra,
    ]
    return wound, findings


def assess(dossier: Dossier | Specimen) -> TransformerAssessment:
    """Transformers of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    TransformerAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    if not specimen.adapter.transformers:
        question = "Is the transformer well made?"
        needed = (
            "[[transformers]] with core, gap and the table of windings from the inside outwards; "
            "a transformer has to be taken apart for it."
        )
        gap = not_measured(SECTION, question, needed, "transformer.gapped_inductance")
        return TransformerAssessment(Ledger.of([gap]), ())
    wounds, findings = [], []
    for transformer in specimen.adapter.transformers:
        wound, own = _wound(specimen, transformer)
        wounds.append(wound)
        findings += own
    return TransformerAssessment(Ledger.of(findings), tuple(wounds))
