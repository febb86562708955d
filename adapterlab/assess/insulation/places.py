"""What the name of a place says: which parts it names, and what lies there."""

import re
from collections.abc import Iterable

from adapterlab.assess.model.specimen import Specimen
from adapterlab.dossier.distance import Distance

SECTION = "insulation"
_JOINTS = {"seam", "joint", "parting"}


def words_of(place: str) -> set[str]:
    """Words and references of a place, in small letters."""
    return set(re.findall(r"\w+", place.lower()))


def named_in(place: str, references: Iterable[str]) -> bool:
    """Whether a place names one of some parts."""
    return bool(words_of(place) & {reference.lower() for reference in references})


def is_joint(distance: Distance) -> bool:
    """Whether a thickness was taken at a joint of the case, through whose gap a way may lead."""
    if distance.joint is not None:
        return distance.joint == "open"
    return distance.kind == "thickness" and bool(words_of(distance.place) & _JOINTS)


def has_slot(distance: Distance) -> bool:
    """Whether a creepage distance leads around a slot in the board."""
    if distance.slot_width is not None:
        return True
    return distance.kind == "creepage" and bool(words_of(distance.place) & {"slot", "slots"})


def at_core(place: str) -> bool:
    """Whether a way leads to, from or around a transformer's core."""
    return "core" in words_of(place)


def live_to_neutral(place: str) -> bool:
    """Whether a way leads from pole to pole of the mains."""
    words = words_of(place)
    return "neutral" in words and bool(words & {"live", "line", "phase"})


def before_the_fuse(specimen: Specimen, place: str) -> str:
    """The fuse, or what limits the inrush, that a place lies before; empty if it names none."""
    parts = specimen.adapter.parts
    fuses = {p.reference.lower(): p.reference for p in parts
             if p.role in ("fuse", "inrush limiter")}  # fmt: skip
    found = re.search(r"\bbefore (?:the )?(\w+)", place.lower())
    if not found:
        return ""
    return fuses.get(found[1], "the fuse" if found[1] == "fuse" else "")
