"""What the parts that protect can do: fuses, varistors, couplers across the barrier."""

from dataclasses import replace
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.model.inputs import Input, predict
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.rectifier import supply_inputs
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT
from adapterlab.assess.model.stresses import why_not_rated
from adapterlab.assess.model.varistor import ContinuousVoltage, continuous_voltages
from adapterlab.assess.parts.common import SECTION, common, listed
from adapterlab.assess.parts.markings import ReadPart
from adapterlab.assess.report.finding import Finding, Limit, against_limit, not_measured
from adapterlab.assess.report.prediction import Prediction, naming
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Part
from adapterlab.parts import FuseMarking, fuse_breaking_capacity, fuse_from_code, fuse_gate
from adapterlab.published import rows, standing_of

_HOLDS, _OPENS = 1.5, 2.1


def fuse_findings(specimen: Specimen, parts: list[ReadPart]) -> list[Finding]:
    """When each fuse opens, and which short circuit it can still interrupt."""
    found = []
    for read in parts:
        if read.part.kind == "fuse" and read.marking is not None:
            fuse = fuse_from_code(read.part.marked)
            found += [*_times(read.part, fuse), _breaking(specimen, read.part, fuse)]
    return found


def _times(part: Part, fuse: FuseMarking) -> list[Finding]:
    """Times at small overloads, where the sheet tells them."""
    try:
        holds = fuse_gate(_HOLDS, fuse.sheet, fuse.rated_current).shortest or 0.0
        opens = fuse_gate(_OPENS, fuse.sheet, fuse.rated_current).longest or 0.0
    except ValueError:
        return []
    row = rows(SECTION, "fuse_gates", sheet=fuse.sheet)[0]
    sentence = (
        f"{part.reference} ({part.marked}) carries {_HOLDS * fuse.rated_current:.3g} A for at "
        f"least {holds / 60:.0f} min and opens at {_OPENS * fuse.rated_current:.3g} A within "
        f"{opens / 60:.0f} min: a fuse protects wires from fire, not people."
    )
    return [
        Finding(
            judgement=rules.result(),
            sentence=sentence,
            note=f"{row['source']}.",
            prediction=Value(_OPENS * fuse.rated_current, 0.0, "A"),
            **common(f"When does {part.reference} open?", "parts.fuse_gate"),
        )
    ]


def _short_circuit(specimen: Specimen, ahead: tuple[Input, ...]) -> Prediction:
    """Rms current of a short circuit on the highest rated mains, behind some resistances. [A]."""
    volts = highest_mains(specimen)
    supply = supply_inputs(specimen)[0]

    def at(**drawn: Any) -> Any:
        return volts / sum(drawn.values())

    items = (supply, specimen.allowance("wiring.resistance"), *ahead)
    return predict(at, {item.name: item for item in items}, "A")[0]


def _limiters_behind(specimen: Specimen, fuse: Part) -> list[Part]:
    """Inrush limiters that the dossier lists behind a fuse, in its order."""
    parts = list(specimen.adapter.parts)
    behind = parts[parts.index(fuse) + 1 :]
    return [part for part in behind if part.role == "inrush limiter" and part.value]


def _breaking(specimen: Specimen, part: Part, fuse: FuseMarking) -> Finding:
    """What a fuse can interrupt, beside what a short circuit may drive through it."""
    fields = common(f"Which short circuit can {part.reference} still interrupt?",
                    "parts.fuse_breaking_capacity")  # fmt: skip
    try:
        most = float(fuse_breaking_capacity(fuse.sheet, fuse.rated_current))
    except ValueError:
        needed = (
            f"the letters of {part.reference} for speed and breaking capacity, such as TL or TH; "
            f"'{part.marked}' does not tell its sheet of IEC 60127-2."
        )
        return not_measured(SECTION, fields["question"], needed, fields["function"])
    row = rows(SECTION, "fuse_breaking", sheet=fuse.sheet)[0]
    first = _short_circuit(specimen, ())
    sentence = (
        f"{part.reference} ({part.marked}) is made to interrupt up to {most:.0f} A; a short "
        f"circuit right behind it would drive {_span(first)} from {highest_mains(specimen):g} V"
        f"{naming(first.rests_on)}{_compared(first, most)}"
    )
    limiters = _limiters_behind(specimen, part)
    if limiters:
        cold = tuple(specimen.part_value(item, "Ω", "limiter.tolerance") for item in limiters)
        later = _short_circuit(specimen, cold)
        names = listed([item.reference for item in limiters])
        sentence += (
            f" Behind {names}, still cold, it would drive {_span(later)}{_compared(later, most)}"
        )
    return Finding(
        judgement=rules.result(),
        sentence=sentence,
        prediction=first.value,
        rests_on=first.rests_on,
        note=f"{row['source']}. Beyond that the arc may go on inside until the glass bursts or "
        "the house's own fuse opens.",
        **fields,
    )


def _span(found: Prediction) -> str:
    low, high = (float(f"{end:.2g}") for end in found.interval)
    return f"{low:g} to {high:g} A"


def _compared(found: Prediction, most: float) -> str:
    """How a short circuit compares with what the fuse can interrupt, as the end of a sentence."""
    low, high = found.interval
    if low > most:
        return ", more than that."
    return ", which it can interrupt." if high < most else ", which it may or may not interrupt."


def varistor_findings(specimen: Specimen) -> list[Finding]:
    """Whether each varistor bears the mains without end."""
    return [_varistor(specimen, item) for item in continuous_voltages(specimen)]


def _varistor(specimen: Specimen, item: ContinuousVoltage) -> Finding:
    part, reference = item.part, item.part.reference
    fields = common(f"Does {reference} bear the mains without end?", "published.rows",
                    "parts_stress")  # fmt: skip
    subject = f"The highest mains that {reference} must bear without end"
    if item.rating is not None:
        limit = Limit(
            item.rating, "V", "upper", f"the highest continuous voltage of {reference}",
            f"rated_voltage of {reference}, as listed in the dossier", verb="allows",
        )  # fmt: skip
        reason = why_not_rated(part)
    else:
        usual = rows(SECTION, "varistors", varistor_voltage=part.value) if part.value else []
        if not usual:
            needed = f"rated_voltage of {reference}: its highest continuous alternating voltage."
            return not_measured(SECTION, fields["question"], needed, fields["function"])
        row = usual[0]
        limit = Limit.published(
            row, row["continuous_voltage"], "V", "upper",
            f"a usual varistor of {part.value:g} V at 1 mA",
        )  # fmt: skip
        limit, reason = replace(limit, verb="allows"), ""
    value = Value(item.stress, 0.0, "V")
    finding = against_limit(
        value, limit, subject, not_judged=reason, exact=True, note=_asked_of_varistors(specimen),
        **fields,
    )  # fmt: skip
    return replace(finding, reading=None, prediction=value)


def _asked_of_varistors(specimen: Specimen) -> str:
    """What standards ask of that voltage, none of which is known well enough to judge by."""
    rated, said = highest_mains(specimen), []
    for row in rows(SECTION, "varistor_factors"):
        standing = standing_of(row)
        name = f"{standing.name}, {standing.said}," if standing else row["rule"]
        seen = " (from memory)" if row["known"] == "memory" else ""
        said.append(
            f"{name} asks for {row['factor']:g} times the rated mains{seen}, "
            f"{row['factor'] * rated:.0f} V"
        )
    return f"Shown, not judged by: {'; '.join(said)}."


def coupler_findings(specimen: Specimen) -> list[Finding]:
    """What couplers are rated to isolate against the test of the barrier."""
    row = rows("insulation", "strength_tests", rule="iec-62368-1", insulation="reinforced")[0]
    if ROOT * highest_mains(specimen) > row["peak_voltage"]:
        return []
    alike: dict[tuple[float, str], list[str]] = {}
    for part in specimen.adapter.parts_with_role("feedback isolator"):
        if part.rated_voltage:
            key = (part.rated_voltage, why_not_rated(part).replace(part.reference, "it"))
            alike.setdefault(key, []).append(part.reference)
    found = []
    for (volts, reason), references in alike.items():
        names = listed(references)
        verb = "is" if len(references) == 1 else "are"
        question = f"{'Does' if verb == 'is' else 'Do'} {names} stand the test of the barrier?"
        limit = Limit.published(row, row["voltage"], "V", "lower", "the test of IEC 62368-1")
        found.append(
            against_limit(
                Value(ROOT * volts, 0.0, "V"),
                limit,
                f"The crest of the {Value(volts, 0.0, 'V')} rms that {names} {verb} rated to "
                "isolate",
                not_judged=reason,
                exact=True,
                note=row["source"],
                **common(question, "insulation.strength_test_voltage"),
            )
        )
    return found
