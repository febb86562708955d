"""The transformers of a dossier: what is wound against what is measured and what it must bear."""

from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from adapterlab.assess.finding import Finding, Ledger, Value, not_measured
from adapterlab.assess.flyback_stages import Stage, bulk_of, missing, stage_of
from adapterlab.assess.transformer_build import SECTION, build_of
from adapterlab.assess.transformer_findings import (
    flux_findings,
    inductance_finding,
    loss_findings,
    power_findings,
    ratio_findings,
    window_findings,
)
from adapterlab.assess.transformer_layers import (
    capacitance_findings,
    insulation_findings,
    leakage_findings,
    leakage_reading,
    predicted_leakage,
    screen_findings,
)
from adapterlab.assess.transformer_points import losses_in, points_of, row_at
from adapterlab.assess.transformer_wound import (
    Wound,
    predicted_inductance,
    saturation_of,
    temperature_of,
)
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import Converter, Transformer


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


def _converter_of(dossier: Dossier, transformer: Transformer) -> Converter | None:
    """Whose transformer it is; one that names nobody belongs to an only converter."""
    converters = dossier.adapter.construction.converters
    converter = next((item for item in converters if item.name == transformer.converter), None)
    if converter is None and len(converters) == 1 and not transformer.converter:
        return converters[0]
    return converter


def _others(dossier: Dossier, own: Stage) -> float:
    """Power that the other converters draw from the bulk capacitor at the rated power. [W]."""
    others = [
        stage_of(dossier, other)
        for other in dossier.adapter.construction.converters
        if other.name != own.name and not missing(dossier, other)
    ]
    outputs = sum(item.output_voltage * item.output_current for item in [*others, own])
    share = min(1.0, dossier.adapter.nameplate.rated_power / outputs)
    return share * sum(item.input_power for item in others)


def losses_of(
    dossier: Dossier, stage: Stage, mains: tuple[float, float] = (230.0, 50.0)
) -> tuple[Value, Value] | None:
    """Copper and core loss of one converter's transformer at a working point.

    Parameters
    ----------
    dossier : Dossier
        The record.
    stage : Stage
        The converter, with the output voltage and current that are wanted.
    mains : tuple of float, optional
        Voltage and frequency. [V], [Hz]

    Returns
    -------
    tuple of Value or None
        Copper and core, in the valley of the bulk voltage if its capacitor is known, else at the
        crest. [W]  None if the transformer's windings or core are not described, or it cannot
        work there.
    """
    for transformer in dossier.adapter.transformers:
        converter = _converter_of(dossier, transformer)
        if converter is None or converter.name != stage.name:
            continue
        build = build_of(transformer)
        core = (build.core_area, build.path_length, build.mean_turn_length)
        if None in core or not build.layers or build.primary_turns <= 0:
            continue
        temperature, _ = temperature_of(dossier, transformer)
        bulk = bulk_of(dossier)
        instant = "valley" if bulk is not None else "crest"
        rest = (bulk, _others(dossier, stage))
        with suppress(ValueError):
            return losses_in(row_at(build, stage, temperature, *mains, instant, *rest))
    return None


def _wound(dossier: Dossier, transformer: Transformer) -> tuple[Wound, list[Finding]]:
    adapter = dossier.adapter
    build = build_of(transformer)
    converter = _converter_of(dossier, transformer)
    if converter is not None and not transformer.converter:
        build = replace(build, converter=converter.name)
    applies = adapter.construction.topology != "other"
    known = converter is not None and applies and not missing(dossier, converter)
    stage = stage_of(dossier, converter) if known and converter is not None else None
    temperature, _ = temperature_of(dossier, transformer)
    saturation, trouble = saturation_of(transformer, temperature)
    extra = []
    if trouble:
        question = f"When does the core of the {build.converter} transformer saturate?"
        extra.append(
            not_measured(SECTION, question, f"{trouble}.", "transformer.saturation_flux_density")
        )
    measured = None
    if converter is not None and converter.magnetising_inductance:
        value = converter.magnetising_inductance
        spread = converter.magnetising_inductance_tolerance / np.sqrt(3)
        measured = Value(value, float(spread * value), "H")
    points = pd.DataFrame()
    if stage is not None and build.core_area and build.primary_turns > 0:
        plate = adapter.nameplate
        points, troubles = points_of(
            build, stage, temperature, plate.input_voltage_minimum,
            plate.input_frequency_minimum, bulk_of(dossier), _others(dossier, stage),
        )  # fmt: skip
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
        measured,
        predicted_inductance(dossier, build),
        leakage_reading(transformer),
        predicted_leakage(build),
        points,
    )
    findings = [
        inductance_finding(build, wound),
        *ratio_findings(build, converter),
        *window_findings(build),
        *flux_findings(wound, transformer),
        *leakage_findings(transformer, build),
        *insulation_findings(build),
        *screen_findings(transformer, build),
        *capacitance_findings(transformer, build),
        *loss_findings(wound),
        *power_findings(dossier, wound),
        *extra,
    ]
    return wound, findings


def assess(dossier: Dossier) -> TransformerAssessment:
    """Transformers of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier
        The record.

    Returns
    -------
    TransformerAssessment
        Findings and what the figures draw.
    """
    if not dossier.adapter.transformers:
        question = "Is the transformer well made?"
        needed = (
            "[[transformers]] with core, gap and the table of windings from the inside outwards; "
            "a transformer has to be taken apart for it."
        )
        gap = not_measured(SECTION, question, needed, "transformer.gapped_inductance")
        return TransformerAssessment(Ledger.of([gap]), ())
    wounds, findings = [], []
    for transformer in dossier.adapter.transformers:
        wound, own = _wound(dossier, transformer)
        wounds.append(wound)
        findings += own
    return TransformerAssessment(Ledger.of(findings), tuple(wounds))
