"""Which ways across the barrier nobody measured."""

from collections.abc import Iterable

from adapterlab.assess.insulation.gaps import FUNCTIONS, KINDS
from adapterlab.assess.insulation.places import (
    SECTION,
    at_core,
    is_joint,
    live_to_neutral,
    named_in,
    words_of,
)
from adapterlab.assess.model.rectifier import chains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.dossier.distance import Distance

QUESTION = "Which ways across the barrier were not measured?"
_BOTH = ("clearance", "creepage")


def _lacking(distances: Iterable[Distance], kinds: Iterable[str]) -> str:
    """Kinds that none of some distances has, as said aloud; empty if all are there."""
    known = {distance.kind for distance in distances}
    return " and ".join(kind for kind in kinds if kind not in known)


def missing_ways(specimen: Specimen) -> list[str]:
    """Ways that a board of such parts has and the dossier does not hold, as said aloud.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    list of str
        Such as ``creepage between the legs of CY1``.
    """
    adapter = specimen.adapter
    distances = adapter.distances
    wanted: list[tuple[str, list[Distance], tuple[str, ...]]] = []
    for chain in chains(tuple(adapter.parts_with_role("barrier capacitor"))):
        names = [part.reference for part in chain]
        own = [d for d in distances if named_in(d.place, names)]
        wanted.append((f"between the legs of {' and '.join(names)}", own, _BOTH))
    wanted.append(
        ("from live to neutral", [d for d in distances if live_to_neutral(d.place)], _BOTH)
    )
    for part in adapter.parts_with_role("feedback isolator"):
        own = [d for d in distances if named_in(d.place, [part.reference])]
        wanted.append((f"under {part.reference}", own, ("creepage",)))
    for part in adapter.parts_with_role("transformer"):
        here = [d for d in distances if named_in(d.place, [part.reference])]
        pins = [d for d in here if words_of(d.place) & {"pin", "pins"}]
        wanted.append((f"at each pair of pins of {part.reference} across the barrier", pins, _BOTH))
        core = [d for d in here if at_core(d.place)]
        if not core:
            wanted.append((f"past the core of {part.reference}", core, _BOTH))
    for joint in filter(is_joint, distances):
        through = [d for d in distances if d.kind != "thickness"
                   and words_of(d.place) & {"seam", "joint", "parting"}]  # fmt: skip
        wanted.append((f"through the gap of the joint ({joint.place})", through, _BOTH))
    found = [(place, _lacking(own, kinds)) for place, own, kinds in wanted]
    return list(dict.fromkeys(f"{kinds} {place}" for place, kinds in found if kinds))


def way_findings(specimen: Specimen) -> list[Finding]:
    """One finding for each kind of distance that is missing altogether, and one for all places."""
    found = []
    distances = specimen.adapter.distances
    for kind, function in FUNCTIONS.items():
        if not any(distance.kind == kind for distance in distances):
            needed = (
                f"[[distances]] of kind '{kind}' with the place, the insulation it serves and the "
                f"working voltage, taken with a calliper on an unplugged, discharged board."
            )
            question = f"Is the {KINDS[kind].lower()} of the barrier enough?"
            found.append(not_measured(SECTION, question, needed, function))
    missing = missing_ways(specimen) if distances else []
    if missing:
        needed = f"{'; '.join(missing)}. Unplug and discharge first."
        finding = not_measured(SECTION, QUESTION, needed, "insulation.required_creepage")
        found.append(finding)
    return found
