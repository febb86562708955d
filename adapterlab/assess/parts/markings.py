"""What the markings say, held against what is listed."""

from collections import defaultdict
from dataclasses import dataclass

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.parts.common import common, count, listed
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.value import Value
from adapterlab.dossier.fields import PART_UNITS
from adapterlab.dossier.schema import Part
from adapterlab.parts import KINDS, Marking, preferred_series, read_marking

# Rounding on a label.
_SAME = 0.005
_QUESTION = "Do the markings agree with the values listed?"


@dataclass(frozen=True)
class ReadPart:
    """A part with its marking read.

    Attributes
    ----------
    part : Part
        As in the dossier.
    marking : Marking or None
        None if there is no marking, or nothing of it could be read.
    trouble : str
        Why it could not be read; empty if it could, or if there is nothing to read.
    says : str
        What the marking says, in words.
    differs : tuple of str
        Where the marking contradicts itself or what is listed.
    """

    part: Part
    marking: Marking | None
    trouble: str
    says: str
    differs: tuple[str, ...]

    @property
    def safety_class(self) -> str:
        """Safety class as listed, or as printed; empty if neither."""
        return self.part.safety_class or (self.marking.safety_class if self.marking else "")


def unit_of(kind: str) -> str:
    """Unit of the value of a kind of part, as shown."""
    unit = PART_UNITS.get(kind, "")
    return {"ohm": "Ω"}.get(unit, unit)


def _says(marking: Marking, kind: str) -> str:
    """What a marking says, as a list in words."""
    said = []
    if marking.value is not None:
        tolerance = "" if marking.tolerance is None else f" ± {marking.tolerance * 100:g} %"
        said.append(f"{Value(marking.value, 0.0, unit_of(kind))}{tolerance}")
    if marking.safety_class:
        said.append(f"class {marking.safety_class}")
    volts = marking.rated_voltage
    if volts is not None and not (kind in ("diode", "bridge", "transistor") and said):
        said.append(f"{Value(volts, 0.0, 'V')}")
    if marking.rated_current is not None and kind != "fuse":
        said.append(f"{Value(marking.rated_current, 0.0, 'A')}")
    if marking.rated_temperature is not None:
        said.append(f"{marking.rated_temperature:g} °C")
    return ", ".join([*said, *marking.words])


def _differs(part: Part, marking: Marking) -> tuple[str, ...]:
    """Where what is printed contradicts itself or what is listed."""
    unit = unit_of(part.kind)
    pairs = (
        ("value", marking.value, part.value, unit),
        ("tolerance", marking.tolerance, part.tolerance, "%"),
        ("voltage", marking.rated_voltage, part.rated_voltage, "V"),
        ("temperature", marking.rated_temperature, part.rated_temperature, "°C"),
    )
    found = [
        f"{name} {Value(printed, 0.0, written)} on the part, {Value(noted, 0.0, written)} listed"
        for name, printed, noted, written in pairs
        if printed is not None
        and noted is not None
        and abs(printed - noted) > _SAME * max(abs(printed), abs(noted))
    ]
    if marking.value is not None and marking.second_value is not None:
        both = (marking.value, marking.second_value)
        shown = " and ".join(str(Value(value, 0.0, unit)) for value in both)
        found.append(f"two values on the part, {shown}")
    if marking.safety_class and part.safety_class and marking.safety_class != part.safety_class:
        found.append(f"class {marking.safety_class} on the part, {part.safety_class} listed")
    return tuple(found)


def _read(part: Part) -> ReadPart:
    if not part.marked.strip() or part.kind not in KINDS:
        return ReadPart(part, None, "", "", ())
    try:
        marking = read_marking(part.marked, part.kind)
    except ValueError as error:
        return ReadPart(part, None, str(error).split(", got")[0], "", ())
    return ReadPart(part, marking, "", _says(marking, part.kind), _differs(part, marking))


def read_parts(specimen: Specimen) -> list[ReadPart]:
    """Every part of the dossier with its marking read, in the order of the file."""
    return [_read(part) for part in specimen.adapter.parts]


def marking_findings(parts: list[ReadPart]) -> list[Finding]:
    """Markings that contradict the list, that agree with it, and that can't be read."""
    fields = common(_QUESTION, "parts.read_marking", "parts_markings")
    found = [
        Finding(
            judgement=rules.agrees(False),
            sentence=(
                f"{read.part.reference} is marked '{read.part.marked}': "
                f"{'; '.join(read.differs)}: {rules.UNEXPLAINED}."
            ),
            note="One of the two was misread, or the part was replaced by another.",
            reading=count(len(read.differs)),
            **fields,
        )
        for read in parts
        if read.differs
    ]
    alike = [read.part.reference for read in parts if read.marking and not read.differs]
    if alike:
        many = "marking agrees" if len(alike) == 1 else "markings agree"
        sentence = f"{len(alike)} {many} with what is listed: {listed(alike)}."
        found.append(
            Finding(
                judgement=rules.agrees(True), sentence=sentence, reading=count(len(alike)), **fields
            )
        )
    for read in parts:
        if read.trouble:
            trouble = read.trouble.replace("marked ", "its marking ", 1)
            sentence = f"{read.part.reference}, '{read.part.marked}': {trouble}."
            found.append(
                Finding(judgement=rules.result(), sentence=sentence, reading=count(1), **fields)
            )
    return found


def _entry(part: Part, number: int) -> str:
    """A part as one of several entries: which one, and what it says."""
    said: list[str] = [part.kind]
    if part.value is not None:
        said.append(str(Value(part.value, 0.0, unit_of(part.kind))))
    if part.marked:
        said.append(f"marked '{part.marked}'")
    return f"the {number}. of [[parts]] ({', '.join(said)})"


def twice_findings(specimen: Specimen) -> list[Finding]:
    """Parts that are listed twice under one reference."""
    entries: dict[str, list[str]] = defaultdict(list)
    for number, part in enumerate(specimen.adapter.parts, start=1):
        entries[part.reference].append(_entry(part, number))
    return [
        Finding(
            judgement=rules.agrees(False),
            sentence=(
                f"adapter.toml lists {reference} {len(places)} times: {listed(places)}: "
                f"{rules.UNEXPLAINED}. Where only one can count, it is the first."
            ),
            reading=count(len(places)),
            **common(f"Is {reference} listed once?", "parts.read_marking", "parts_markings"),
        )
        for reference, places in entries.items()
        if len(places) > 1
    ]


def preferred_findings(parts: list[ReadPart]) -> list[Finding]:
    """Values that no series holds: unusual, and worth a second look."""
    fields = common("Are the values ones that are made?", "parts.preferred_series",
                    "parts_markings")  # fmt: skip
    odd = [
        read.part
        for read in parts
        if read.part.kind in ("capacitor", "resistor")
        and read.part.value
        and not preferred_series(read.part.value)
    ]
    return [
        Finding(
            judgement=rules.result(),
            sentence=(
                f"{part.reference} is listed with {value}, a value of no preferred series; it may "
                "be misread, or made to order."
            ),
            reading=value,
            **fields,
        )
        for part in odd
        for value in [Value(part.value or 0.0, 0.0, unit_of(part.kind))]
    ]


def certainty_findings(parts: list[ReadPart]) -> list[Finding]:
    """How many parts were read, inferred, and not identified."""
    if not parts:
        return []
    known = {
        word: [read.part.reference for read in parts if read.part.identified_by == word]
        for word in ("read", "inferred", "unknown")
    }
    sentence = (
        f"Of {len(parts)} parts listed, {len(known['read'])} were read from their markings, "
        f"{len(known['inferred'])} inferred from place and shape"
    )
    unknown = known["unknown"]
    sentence += f", and {len(unknown)} not identified: {listed(unknown)}." if unknown else "."
    return [
        Finding(
            judgement=rules.result(),
            sentence=sentence,
            reading=count(len(known["read"])),
            **common("How sure is it what the parts are?", "published.rows", "parts_path"),
        )
    ]
