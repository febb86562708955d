"""What the varistor lets through and takes in a surge on the mains."""

from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.inrush.prediction import SECTION, by_the_marks
from adapterlab.assess.model.inputs import Input, predict
from adapterlab.assess.model.rectifier import listed
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.varistor import limiters_before
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    does_not_apply,
    not_measured,
)
from adapterlab.assess.report.prediction import Prediction, naming
from adapterlab.assess.report.value import span
from adapterlab.dossier.schema import Part
from adapterlab.inrush import varistor_exponent, varistor_surge
from adapterlab.published import rows

_QUESTION = "What does the varistor do with a surge on the mains?"
_FUNCTION = "inrush.varistor_surge"
_DRAWS = 256
_LEVELS = (1000.0, 2000.0)


def _steepness(specimen: Specimen, part: Part) -> Input:
    """Exponent of the varistor: through the clamping point of its data sheet, or assumed."""
    volts, amperes = part.clamping_voltage, part.clamping_current
    usual = specimen.allowance("varistor.exponent")
    if volts is None or amperes is None or part.value is None:
        return usual
    # A data sheet's clamping voltage is the highest: that of a part at its upper tolerance.
    top = specimen.part_value(part, "V", "varistor.tolerance").ends[1]
    if volts <= top or amperes <= 1e-3:
        return usual
    point = varistor_exponent(volts, amperes, top)
    said = f"a clamping point of {volts:g} V at {amperes:g} A noted for {part.reference}"
    return Input(
        usual.name, float(point), "", "noted", said, f"adapter.toml, part {part.reference}"
    )


def varistor_findings(specimen: Specimen) -> list[Finding]:
    """What a varistor holds, carries and takes in a surge of 1 kV and of 2 kV."""
    absorbers = specimen.adapter.parts_with_role("surge absorber")
    parts = [part for part in absorbers if part.value and part.kind == "varistor"]
    if not absorbers and "surge absorber" in specimen.adapter.construction.absent:
        why = "No surge absorber was found on the board: nothing clamps a surge on the mains."
        return [does_not_apply(SECTION, _QUESTION, why, _FUNCTION)]
    if not parts:
        needed = "[[parts]] with the role 'surge absorber' and its marked voltage as value."
        return [not_measured(SECTION, _QUESTION, needed, _FUNCTION)]
    return [finding for part in parts for finding in _of_one(specimen, part)]


def _predicted(
    specimen: Specimen, part: Part, before: list[Part]
) -> dict[float, tuple[Prediction, ...]]:
    """Voltage [V], current [A] and energy [J] at every level of the surge. [V]."""
    marked = specimen.part_value(part, "V", "varistor.tolerance")
    steep = _steepness(specimen, part)
    limiters = [specimen.part_value(p, "Ω", "limiter.tolerance") for p in before if p.value]
    inputs = {item.name: item for item in (marked, steep, *limiters)}
    source = float(rows(SECTION, "combination_wave")[0]["source_resistance"])

    def figures(**values: Any) -> list[Any]:
        series = source + sum(values[item.name] for item in limiters)
        return [
            figure
            for volts in _LEVELS
            for surge in [
                varistor_surge(
                    volts, values[marked.name], values[steep.name], source_resistance=series
                )
            ]
            for figure in (surge.voltage, surge.current, surge.energy)
        ]

    found = predict(figures, inputs, ["V", "A", "J"] * len(_LEVELS), _DRAWS, smooth=True)
    return {volts: tuple(found[3 * place : 3 * place + 3]) for place, volts in enumerate(_LEVELS)}


def _said(volts: float, figures: tuple[Prediction, ...]) -> str:
    """One level in words; the ends are those that the tolerances reach, for they are bounds."""
    held, carried, taken = (span(*_round(entry.reach), entry.value.unit) for entry in figures)
    return (
        f"keeps a surge of {volts / 1000:.0f} kV to between {held.replace(' to ', ' and ', 1)}, "
        f"carries {carried} and takes {taken}"
    )


def _round(ends: tuple[float, float]) -> tuple[float, float]:
    low, high = (float(f"{end:.2g}") for end in ends)
    return low, high


def _of_one(specimen: Specimen, part: Part) -> list[Finding]:
    before = limiters_before(specimen, part)
    predicted = _predicted(specimen, part, before)
    energy = predicted[_LEVELS[0]][2]
    place = (
        f"{listed(before)} stands in front of {part.reference} by the list of parts, and stays "
        "cold in so short a time. "
        if before
        else f"Nothing stands in front of {part.reference} by the list of parts. "
    )
    named = naming(energy.rests_on).removeprefix(", ")
    place += f"{named[:1].upper()}{named[1:]}, it" if named else part.reference
    common: dict[str, Any] = {
        "origin": "adapter.toml, parts",
        "function": _FUNCTION,
        "note": "A combination-wave generator of 2 Ω at the plug. Fuse, choke and wires are left "
        "out; they make it milder. The wave is taken as 8/20 µs behind a resistance too.",
    }
    words = "; it ".join(_said(volts, predicted[volts]) for volts in _LEVELS)
    finding = Finding(
        section=SECTION,
        question=_QUESTION,
        judgement=rules.result(),
        sentence=f"{place} {words}.",
        prediction=energy.value,
        draws=energy,
        rests_on=energy.rests_on,
        **common,
    )
    if part.rated_energy is None:
        return [finding]
    name = f"the data sheet of {part.reference}"
    source = f"adapter.toml, rated_energy of {part.reference}"
    limit = Limit(part.rated_energy, "J", "upper", name, source, verb="allows")
    return [
        finding,
        by_the_marks(
            energy,
            limit,
            f"Energy of a surge of {_LEVELS[0] / 1000:.0f} kV in {part.reference}, by its marks,",
            question="Does the varistor stand a surge of 1 kV?",
            **common,
        ),
    ]
