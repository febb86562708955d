"""Whether there are enough layers of thin sheet, in the transformer and elsewhere."""

from dataclasses import dataclass
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.insulation.places import SECTION
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, Limit, against_limit, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Winding
from adapterlab.insulation import required_layers
from adapterlab.published import rows

_FUNCTION = "insulation.required_layers"


@dataclass(frozen=True)
class Crossing:
    """Where a winding on the mains side meets one on the output side.

    Attributes
    ----------
    converter : str
        Its transformer's converter.
    inner, outer : Winding
        The two windings.
    layers : int or None
        Layers of tape between them; None if nobody counted them. [1]
    """

    converter: str
    inner: Winding
    outer: Winding
    layers: int | None

    @property
    def place(self) -> str:
        """As said aloud."""
        return f"{self.converter} transformer, between {self.inner.name} and {self.outer.name}"

    @property
    def wire(self) -> str:
        """Name of the winding whose wire is insulated by itself; empty if neither is."""
        own = [w.name for w in (self.inner, self.outer) if w.insulation == "triple insulated"]
        return own[0] if own else ""


def crossings_of(specimen: Specimen) -> list[Crossing]:
    """Every place inside the transformers where the barrier lies between two windings."""
    found = []
    for transformer in specimen.adapter.transformers:
        for inner, outer in zip(transformer.windings[:-1], transformer.windings[1:], strict=True):
            if (inner.role == "secondary") != (outer.role == "secondary"):
                name = transformer.converter or transformer.core or "only"
                found.append(Crossing(name, inner, outer, inner.tape_layers_outside))
    return found


def sheet_findings(specimen: Specimen) -> list[Finding]:
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
        if distance.layers is not None and distance.layers > 1
    ]


def _layers(place: str, layers: int, insulation: str, origin: str, note: str) -> Finding:
    common: dict[str, Any] = {
        "section": SECTION,
        "question": f"Are there enough layers: {place}?",
        "origin": origin,
        "function": _FUNCTION,
        "figure": "insulation_barrier",
    }
    count = Value(float(layers), 0.0, "")
    if insulation not in ("supplementary", "reinforced"):
        why = f"no number of layers is asked for {insulation} insulation"
        return Finding(
            judgement=rules.no_limit(why),
            sentence=f"Number of layers, {place}, is {count}; {why}.",
            reading=count,
            note=note,
            **common,
        )
    row = rows(SECTION, "sheets", rule="iec-60950-1", insulation=insulation)[0]
    pairs = required_layers(insulation, "iec-60950-1-pairs")
    limit = Limit.published(row, float(required_layers(insulation)), "", "lower", "IEC 60950-1")
    more = f"Two do if each passes the whole test alone, {pairs} if every two together pass it."
    return against_limit(
        count, limit, f"Number of layers, {place},", exact=True, note=f"{more} {note}", **common
    )


def crossing_finding(crossing: Crossing) -> Finding:
    """Whether the tape between two windings is enough, or the wire does without."""
    place, count = crossing.place, crossing.layers
    question = f"Are there enough layers: {place}?"
    if crossing.wire:
        return _insulated_wire(crossing, question)
    if count is None:
        needed = "tape_layers_outside of the inner winding, 0 where there is none."
        return not_measured(SECTION, question, needed, _FUNCTION)
    note = (
        "Neither winding has wire that insulates by itself, so the tape is all there is; at "
        "the ends of the layers margins of the creepage distance are needed as well."
    )
    return _layers(place, count, "reinforced", "adapter.toml, transformers", note)


def _insulated_wire(crossing: Crossing, question: str) -> Finding:
    row = rows(SECTION, "winding_wires", insulation="triple insulated")[0]
    count = crossing.layers
    tape = {None: "whether there is any was not noted", 1: "there is 1 layer"}.get(
        count, f"there are {count} layers"
    )
    return Finding(
        section=SECTION,
        question=question,
        judgement=rules.no_limit("triple-insulated wire of the right kind needs no tape"),
        sentence=(
            f"In the {crossing.place}, the wire of the winding '{crossing.wire}' is triple "
            f"insulated: if it is of the kind the standards describe, no tape is asked for; {tape}."
        ),
        function=_FUNCTION,
        reading=None if count is None else Value(float(count), 0.0, ""),
        origin="adapter.toml, transformers",
        figure="insulation_barrier",
        note=f"{row['meaning'][0].upper()}{row['meaning'][1:]} ({row['source']}).",
    )
