"""The blocks of an adapter along the path of the energy, and what the markings say.

`blocks_of` finds which blocks are present, absent or not seen; `read_parts` reads every marking
and sets it beside the values listed.
"""

from dataclasses import dataclass
from typing import Any

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.fields import PART_UNITS
from adapterlab.dossier.schema import Part
from adapterlab.parts import KINDS, Marking, read_marking
from adapterlab.published import rows

SECTION = "parts"
STATES = ("present", "absent", "not seen")
# Rounding on a label.
_SAME = 0.005


@dataclass(frozen=True)
class Block:
    """One block of the energy path.

    Attributes
    ----------
    role : str
        As in ``[[parts]]``.
    state : str
        ``present`` (a part is listed), ``absent`` (looked for and not found) or ``not seen``.
    parts : tuple of Part
        The parts of that role.
    text : dict
        Its row in ``published/parts.toml``: ``name``, ``side``, ``essential``, ``purpose``,
        ``recognised``, ``absence``, ``not_meant``.
    contradicted : bool
        Whether a part is listed although the role is noted as absent.
    """

    role: str
    state: str
    parts: tuple[Part, ...]
    text: dict[str, Any]
    contradicted: bool


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
        Where the marking and what is listed differ.
    """

    part: Part
    marking: Marking | None
    trouble: str
    says: str
    differs: tuple[str, ...]


def blocks_of(specimen: Specimen) -> list[Block]:
    """Every usual block in the order of the energy, with its state."""
    adapter = specimen.adapter
    screened = any(
        winding.role == "screen"
        for transformer in adapter.transformers
        for winding in transformer.windings
    )
    found = []
    for row in rows(SECTION, "blocks"):
        role = row["role"]
        parts = tuple(adapter.parts_with_role(role))
        here = bool(parts) or (role == "screen" and screened)
        noted = role in adapter.construction.absent
        state = "present" if here else "absent" if noted else "not seen"
        found.append(Block(role, state, parts, row, here and noted))
    return found


def _unit(kind: str) -> str:
    unit = PART_UNITS.get(kind, "")
    return {"ohm": "Ω"}.get(unit, unit)


def _says(marking: Marking, kind: str) -> str:
    """What a marking says, as a list in words."""
    said = []
    if marking.value is not None:
        tolerance = "" if marking.tolerance is None else f" ± {marking.tolerance * 100:g} %"
        said.append(f"{Value(marking.value, 0.0, _unit(kind))}{tolerance}")
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
    """Where what is printed and what is listed disagree."""
    unit = _unit(part.kind)
    pairs = (
        ("value", marking.value, part.value, unit),
        ("tolerance", marking.tolerance, part.tolerance, "%"),
        ("voltage", marking.rated_voltage, part.rated_voltage, "V"),
        ("temperature", marking.rated_temperature, part.rated_temperature, "°C"),
    )
    found = [
        f"{name} {Value(printed, 0.0, written)} on the part, {Value(listed, 0.0, written)} listed"
        for name, printed, listed, written in pairs
        if printed is not None
        and listed is not None
        and abs(printed - listed) > _SAME * max(abs(printed), abs(listed))
    ]
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


def safety_class_of(read: ReadPart) -> str:
    """Safety class as listed, or as printed; empty if neither."""
    printed = read.marking.safety_class if read.marking else ""
    return read.part.safety_class or printed
