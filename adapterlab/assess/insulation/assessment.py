"""Insulation of a dossier: distances, windings and touch temperature against published figures."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.insulation.gaps import (
    SECTION,
    Crossing,
    Gap,
    WindingVoltage,
    crossings_of,
    gaps_of,
    winding_voltages,
)
from adapterlab.assess.model.heat import touch_temperature
from adapterlab.assess.model.mains import (
    highest_mains,
)
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    not_measured,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier import Dossier
from adapterlab.insulation import (
    required_layers,
    strength_test_voltage,
    temperature_at_ambient,
)
from adapterlab.published import rows

_KINDS = {"clearance": "Clearance", "creepage": "Creepage distance", "thickness": "Thickness"}
_FUNCTIONS = {
    "clearance": "insulation.required_clearance",
    "creepage": "insulation.required_creepage",
    "thickness": "insulation.required_thickness",
}
_METAL = ("shell", "connector", "metal", "plug pins")


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
    temperatures : pandas.DataFrame
        One row for each touchable place at its highest output power: ``place``, ``material``,
        ``temperature``, ``ambient`` [°C], ``at_25`` [°C] with ``standard_uncertainty`` [K],
        ``output_power`` [W], ``line``.
    """

    findings: Ledger
    gaps: tuple[Gap, ...]
    windings: tuple[WindingVoltage, ...]
    crossings: tuple[Crossing, ...]
    temperatures: pd.DataFrame


def _about(gap: Gap) -> str:
    """Subject of a sentence about a distance."""
    inside = [f"{gap.distance.insulation} insulation"]
    if gap.distance.kind == "clearance":
        inside.append(f"{gap.peak_voltage:.0f} V peak")
    if gap.distance.kind == "creepage":
        inside.append(f"{gap.working_voltage:.0f} V rms")
    return f"{_KINDS[gap.distance.kind]}, {gap.distance.place} ({', '.join(inside)}),"


def _gap_findings(gap: Gap) -> list[Finding]:
    common: dict[str, Any] = {
        "section": SECTION,
        "origin": "adapter.toml, distances",
        "function": _FUNCTIONS[gap.distance.kind],
        "figure": "insulation_distances",
    }
    kind = _KINDS[gap.distance.kind].lower()
    found = []
    for need in gap.requirements:
        found.append(
            against_limit(
                gap.reading,
                need.limit,
                _about(gap),
                question=f"Is the {kind} enough for {need.name}: {gap.distance.place}?",
                note=" ".join((f"Decided by {need.reason}.", *gap.notes)),
                **common,
            )
        )
    if gap.troubles and not found:
        found.append(
            Finding(
                judgement=rules.result(),
                question=f"Is the {kind} enough: {gap.distance.place}?",
                sentence=f"{_about(gap)} is {gap.reading}; {'; '.join(gap.troubles)}.",
                reading=gap.reading,
                note=" ".join(gap.notes),
                **common,
            )
        )
    return found


def _sheet_findings(specimen: Specimen) -> list[Finding]:
    """Distances that are noted as so many layers: thin sheets are counted, not measured."""
    return [
        _layers(
            distance.place,
            distance.layers,
            distance.insulation,
            "adapter.toml, distances",
            "Which of the two tests the layers pass can't be seen on a bench.",
        )
        for distance in specimen.adapter.distances
        if (distance.layers or 1) > 1
    ]


def _layers(place: str, layers: int | None, insulation: str, origin: str, note: str) -> Finding:
    question = f"Are there enough layers: {place}?"
    common: dict[str, Any] = {
        "section": SECTION,
        "question": question,
        "origin": origin,
        "function": "insulation.required_layers",
        "figure": "insulation_barrier",
    }
    count = Value(float(layers or 0), 0.0, "")
    if insulation not in ("supplementary", "reinforced"):
        sentence = f"Layers, {place}: {count}; no number is asked for {insulation} insulation."
        return Finding(
            judgement=rules.result(), sentence=sentence, reading=count, note=note, **common
        )
    row = rows(SECTION, "sheets", rule="iec-60950-1", insulation=insulation)[0]
    pairs = required_layers(insulation, "iec-60950-1-pairs")
    limit = Limit.published(row, float(required_layers(insulation)), "", "lower", "IEC 60950-1")
    more = f"Two do if each passes the whole test alone, {pairs} if every two together pass it."
    return against_limit(
        count, limit, f"Number of layers, {place},", exact=True, note=f"{more} {note}", **common
    )


def _crossing_finding(crossing: Crossing) -> Finding:
    place = (
        f"{crossing.converter} transformer, between {crossing.inner.name} and {crossing.outer.name}"
    )
    if not crossing.wire and crossing.layers is None:
        needed = "tape_layers_outside of the inner winding, 0 where there is none."
        question = f"Are there enough layers: {place}?"
        return not_measured(SECTION, question, needed, "insulation.required_layers")
    if not crossing.wire:
        note = (
            "Neither winding has wire that insulates by itself, so the tape is all there is; at "
            "the ends of the layers margins of the creepage distance are needed as well."
        )
        return _layers(place, crossing.layers, "reinforced", "adapter.toml, transformers", note)
    row = rows(SECTION, "winding_wires", insulation="triple insulated")[0]
    count = crossing.layers
    tape = {None: "whether there is any was not noted", 1: "there is 1 layer"}.get(
        count, f"there are {count} layers"
    )
    return Finding(
        section=SECTION,
        question=f"Are there enough layers: {place}?",
        judgement=rules.result(),
        sentence=(
            f"In the {place}, the wire of the winding '{crossing.wire}' is triple insulated: if it "
            f"is of the kind the standards describe, no tape is asked for; {tape}."
        ),
        function="insulation.required_layers",
        reading=None if count is None else Value(float(count), 0.0, ""),
        origin="adapter.toml, transformers",
        figure="insulation_barrier",
        note=f"{row['meaning'][0].upper()}{row['meaning'][1:]} ({row['source']}).",
    )


def _winding_finding(winding: WindingVoltage) -> Finding:
    spike = "leakage spike included" if winding.spike else "leakage spike not included"
    return Finding(
        section=SECTION,
        question=f"What does the {winding.converter} transformer put across the barrier?",
        judgement=rules.result(),
        sentence=(
            f"By the parts, the switching end of the {winding.converter} transformer stands "
            f"{winding.rms} rms and {winding.peak} peak ({spike}) above the output, "
            f"{winding.frequency / 1e3:.0f} thousand times a second, on a mains of "
            f"{winding.mains_voltage:g} V."
        ),
        function="insulation.primary_working_voltage",
        prediction=winding.rms,
        origin="adapter.toml, construction",
        figure="insulation_working_voltage",
        note="Rms decides the creepage distance, peak the clearance. The mains alone gives "
        "0.93 of its rms voltage on a rail behind the bridge.",
    )


def _strength(specimen: Specimen) -> Finding:
    peak = float(np.sqrt(2) * highest_mains(specimen))
    common: dict[str, Any] = {
        "section": SECTION,
        "question": "With what voltage would a laboratory try the barrier?",
        "judgement": rules.result(),
        "function": "insulation.strength_test_voltage",
    }
    try:
        direct = strength_test_voltage("reinforced", peak)
        alternating = strength_test_voltage("reinforced", peak, "iec-60950-1")
    except ValueError as error:
        return Finding(sentence=f"No test voltage is at hand: {error}.", **common)
    sentence = (
        f"For reinforced insulation on this mains a laboratory applies {direct:g} V direct (IEC "
        f"62368-1) or {alternating:g} V rms (IEC 60950-1) for a minute; no bench test of this kit "
        f"takes its place."
    )
    return Finding(
        sentence=sentence,
        note="Lethal, and it wears what it tests: not for a home bench.",
        **common,
    )


def _temperatures(specimen: Specimen) -> pd.DataFrame:
    """Touchable places at their highest output power, case closed."""
    columns = ["place", "material", "temperature", "ambient", "at_25", "standard_uncertainty",
               "accuracy_assumed", "output_power", "line"]  # fmt: skip
    table = specimen.temperatures
    metal = table["place"].str.contains("|".join(_METAL), case=False)
    outside = table["place"].str.contains("case|housing|enclosure", case=False) | metal
    table = table[outside & (table["case"] != "open") & table["ambient"].notna()]
    result = []
    for place, group in table.groupby("place", sort=False):
        row = group.loc[group["output_power"].fillna(0.0).idxmax()]
        read = specimen.reading("temperature", row["temperature"], "°C")
        result.append(
            {
                "place": place,
                "material": "metal" if metal[row.name] else "plastic",
                "temperature": row["temperature"],
                "ambient": row["ambient"],
                "at_25": temperature_at_ambient(row["temperature"], row["ambient"]),
                # Two readings of one thermometer, taken as independent: the wider case.
                "standard_uncertainty": read.standard_uncertainty * float(np.sqrt(2)),
                "accuracy_assumed": read.accuracy_assumed,
                "output_power": row["output_power"],
                "line": row["line"],
            }
        )
    return pd.DataFrame(result, columns=columns)


def _touch_findings(row: pd.Series, maximum_ambient: float | None) -> list[Finding]:
    power = "" if pd.isna(row["output_power"]) else f" at {row['output_power']:g} W"
    common: dict[str, Any] = {
        "section": SECTION,
        "origin": f"temperatures.csv line {row['line']}",
        "function": "insulation.touch_temperature_limit",
        "figure": "insulation_temperature",
        "note": f"The surface is taken to be {row['material']}.",
    }
    reading = Value(
        row["at_25"], row["standard_uncertainty"], "°C", accuracy_assumed=row["accuracy_assumed"]
    )
    found = []
    for step in rows(SECTION, "touch_temperatures", material=row["material"]):
        limit = Limit.published(
            step, step["temperature"], "°C", "upper",
            f"IEC 62368-1 ({row['material']}, {step['contact']})",
        )  # fmt: skip
        long = step["contact_time"] > 60
        finding = against_limit(
            reading,
            limit,
            f"Temperature of the {row['place']}{power}, moved to an ambient of 25 °C,",
            not_judged="an adapter is held that long only on a lap or in a bed" if long else "",
            question=f"Is the {row['place']} cool enough to touch: {step['contact']}?",
            **common,
        )
        found.append(
            replace(
                finding,
                note=f"{common['note']} IEC 62368-1 compares at 25 °C and does not shift it to "
                "the maximum ambient.",
            )
        )
    older = rows(SECTION, "touch_rises", material=row["material"])[0]
    ambient = 25.0 if maximum_ambient is None else maximum_ambient
    shifted = row["at_25"] + ambient - 25.0
    limit = Limit.published(
        older, older["temperature"], "°C", "upper",
        f"IEC 60950-1 ({row['material']}, external surface)",
    )  # fmt: skip
    found.append(
        against_limit(
            replace(reading, value=shifted),
            limit,
            f"Temperature of the {row['place']}{power}, moved to an ambient of {ambient:g} °C,",
            not_judged="" if maximum_ambient else "the nameplate names no maximum ambient",
            question=f"Is the {row['place']} cool enough for IEC 60950-1?",
            **common
            | {
                "note": f"{common['note']} IEC 60950-1 compares at the maximum ambient, so the "
                "reading is moved there."
            },
        )
    )
    return found


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
    findings = [finding for gap in gaps for finding in _gap_findings(gap)]
    findings += _sheet_findings(specimen)
    findings += [_crossing_finding(crossing) for crossing in crossings]
    findings += [_winding_finding(winding) for winding in windings]
    if gaps or crossings:
        findings.append(_strength(specimen))
    temperatures = _temperatures(specimen)
    ambient = specimen.adapter.nameplate.maximum_ambient
    for _, row in temperatures.iterrows():
        findings += _touch_findings(row, ambient)
    for kind, function in _FUNCTIONS.items():
        if not any(distance.kind == kind for distance in specimen.adapter.distances):
            needed = (
                f"[[distances]] of kind '{kind}' with the place, the insulation it serves and the "
                f"working voltage, taken with a calliper on an unplugged, discharged board."
            )
            name = _KINDS[kind].lower()
            findings.append(
                not_measured(SECTION, f"Is the {name} of the barrier enough?", needed, function)
            )
    if not crossings:
        needed = "[[transformers]] with the windings from the inside outwards and their tape."
        findings.append(
            not_measured(
                SECTION,
                "What lies between the windings of the transformer?",
                needed,
                "insulation.required_layers",
            )
        )
    if temperatures.empty:
        needed = "temperatures.csv with a place on the case, the ambient and the output power."
        balance = touch_temperature(specimen)
        if balance is not None:
            needed = (
                f"{needed} By the balance of heat it should be {balance} at full load in a room "
                "at 25 °C: a prediction, which no limit is held against."
            )
        findings.append(
            not_measured(
                SECTION,
                "Is the case cool enough to touch?",
                needed,
                "insulation.touch_temperature_limit",
            )
        )
    return InsulationAssessment(
        Ledger.of(findings), tuple(gaps), tuple(windings), tuple(crossings), temperatures
    )
