"""The fuse: what the surges cost it, and what it can still open."""

from dataclasses import dataclass, replace
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.inrush.prediction import SECTION
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.rectifier import supply_inputs
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    does_not_apply,
    not_measured,
)
from adapterlab.assess.report.value import Value, span
from adapterlab.dossier.schema import Part
from adapterlab.inrush import (
    fuse_breaking_capacity,
    fuse_melting_range,
    fuse_pulses,
    pulse_fraction,
)
from adapterlab.parts import fuse_from_code
from adapterlab.published import rows

_FUNCTION = "inrush.pulse_fraction"


@dataclass(frozen=True)
class Fuse:
    """The fuse and the I²t it stands at every plug-in.

    Attributes
    ----------
    reference : str
        Its reference.
    melting : float
        I²t at which it melts, as its maker states. [A²s]
    limits : dict of str to Limit
        I²t it stands as often as a ``cold`` plug-in and a ``warm`` one come.
    pulses : dict of str to int
        How often that is. [1]
    doubt : str
        Why that melting figure is doubtful; empty if it is not.
    """

    reference: str
    melting: float
    limits: dict[str, Limit]
    pulses: dict[str, int]
    doubt: str


def fuse_of(specimen: Specimen) -> Fuse | None:
    """The first fuse with a listed melting I²t, or None."""
    for part in specimen.adapter.parts_with_role("fuse"):
        if part.melting_i_squared_t is None:
            continue
        limits, pulses = {}, {}
        for habit in rows(SECTION, "plug_ins"):
            number = habit["number"]
            row = rows(SECTION, "fuse_pulses", pulses=number)[0]
            name = f"a fuse maker's chart for {number:,} pulses of {part.reference}"
            allowed = part.melting_i_squared_t * pulse_fraction(number)
            limit = Limit.published(row, allowed, "A²s", "upper", name)
            limits[habit["limiter"]] = replace(limit, verb="allows")
            pulses[habit["limiter"]] = number
        doubt = ""
        if part.value is not None:
            low, high = fuse_melting_range(part.value)
            if not low / 2 <= part.melting_i_squared_t <= high:
                doubt = (
                    f" The listed figure is doubtful: a time-lag fuse of {part.value:g} A melts "
                    f"between {low:.2g} A²s and {high:.2g} A²s."
                )
        return Fuse(part.reference, part.melting_i_squared_t, limits, pulses, doubt)
    return None


def times_stood(fuse: Fuse, heat: float) -> str:
    """How often the chart lets a fuse take an I²t, in words."""
    try:
        number = fuse_pulses(heat, fuse.melting)
    except ValueError:
        return f"fewer than {rows(SECTION, 'fuse_pulses')[0]['pulses']} times"
    last = rows(SECTION, "fuse_pulses")[-1]["pulses"]
    if number >= last * 0.999:
        return f"at least {last:,} times, where the chart ends"
    return f"some {float(f'{number:.1g}'):,.0f} times"


def wear_finding(
    specimen: Specimen, fuse: Fuse | None, heat: Value | None, subject: str, **rest: Any
) -> Finding:
    """An I²t against what the fuse stands; `rest` holds question, limiter, origin, needed."""
    question, limiter = rest.pop("question"), rest.pop("limiter")
    needed = rest.pop("needed")
    if "fuse" in specimen.adapter.construction.absent:
        why = "No fuse was found on the board, so the surge wears none."
        return does_not_apply(SECTION, question, why, _FUNCTION)
    if fuse is None or heat is None:
        if fuse is None:
            needed = "[[parts]] with the role 'fuse' and its melting_i_squared_t."
        return not_measured(SECTION, question, needed, _FUNCTION)
    return against_limit(
        heat,
        fuse.limits[limiter],
        subject,
        section=SECTION,
        question=question,
        figure="inrush_fuse",
        function=_FUNCTION,
        note=f"{fuse.reference} melts at {Value(fuse.melting, 0.0, 'A²s')} by its listed figure, "
        "which is a nominal one; the chart is one maker's, for pulses 10 s apart at room "
        f"temperature, and makers differ. By it this surge may come "
        f"{times_stood(fuse, heat.value)}.{fuse.doubt}",
        **rest,
    )


def _opens(part: Part) -> str:
    """What a fuse opens by its marking, in words; both capacities where the letter is missing."""
    rated = part.value or 0.0
    low, high = (fuse_breaking_capacity(rated, letter) for letter in ("L", "H"))
    try:
        kind = fuse_from_code(part.marked).breaking_capacity
    except ValueError:
        kind = ""
    if kind.startswith("low"):
        return f"is marked for low breaking capacity and opens up to {Value(low, 0.0, 'A')}"
    if kind.startswith("high"):
        return f"is marked for high breaking capacity and opens up to {Value(high, 0.0, 'A')}"
    return (
        f"bears no letter of its breaking capacity that could be read: as a glass fuse it opens up "
        f"to {Value(low, 0.0, 'A')}, as a ceramic one up to {Value(high, 0.0, 'A')}"
    )


def breaking_findings(specimen: Specimen) -> list[Finding]:
    """What each fuse can open beside what a short circuit right behind it would draw."""
    found = []
    for part in specimen.adapter.parts_with_role("fuse"):
        if part.kind != "fuse" or part.value is None:
            continue
        ohms = supply_inputs(specimen)[0]
        low, high = (highest_mains(specimen) / end for end in reversed(ohms.ends))
        row = rows(SECTION, "breaking_capacity", letter="L")[0]
        found.append(
            Finding(
                section=SECTION,
                question=f"What can {part.reference} still open?",
                judgement=rules.result(),
                sentence=f"{part.reference} {_opens(part)}. A short circuit right behind it would "
                f"draw {span(low, high, 'A')} at {highest_mains(specimen):g} V, with {ohms.said}; "
                "behind a cold limiter its resistance decides.",
                function="inrush.fuse_breaking_capacity",
                origin="adapter.toml, parts",
                note="Rms, by ohms alone; the branch circuit's own breaker opens as well. "
                f"{row['source']}.",
            )
        )
    return found
