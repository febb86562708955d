"""Whether the load sweep was run as the rules' method asks: warm-up, room, distortion."""

from dataclasses import dataclass

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import Value, span
from adapterlab.dossier.schema import Adapter
from adapterlab.published import rows

SECTION = "efficiency"
METHOD = "10 CFR 430 appendix Z"
_QUESTION = "Were the readings taken as the rules' method asks?"
_FUNCTION = "efficiency.rule_supply"


@dataclass(frozen=True)
class Condition:
    """One thing that the method asks of a load sweep.

    Attributes
    ----------
    name : str
        As said aloud.
    entry : str
        Where it stands in ``adapter.toml``.
    recorded : str
        As recorded, as said aloud; empty if it is not.
    asked : str
        What the method asks, as said aloud.
    kept : bool
        Whether what is recorded is as asked.
    """

    name: str
    entry: str
    recorded: str
    asked: str
    kept: bool


def _listed(names: list[str]) -> str:
    return ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1]


def conditions_of(adapter: Adapter) -> tuple[Condition, ...]:
    """Warm-up, room and distortion of the supply, beside what the method asks."""
    published = {row["name"]: row for row in rows("bench_plan", "conditions")}
    least = published["warm-up"]["value"]
    middle, spread = published["ambient"]["value"], published["ambient"]["spread"]
    most = published["supply"]["largest_distortion"]
    warm_up, ambient = adapter.sweep.warm_up, adapter.sweep.ambient
    distortion = adapter.supply.distortion

    def minutes(seconds: float) -> str:
        return f"{seconds / 60:.0f} minutes"

    return (
        Condition(
            "the warm-up",
            "[sweep] warm_up",
            "" if warm_up is None else minutes(warm_up),
            f"{minutes(least)} at full load",
            warm_up is not None and warm_up >= least,
        ),
        Condition(
            "the room",
            "[sweep] ambient",
            "" if ambient is None else str(Value(ambient, 0.0, "°C")),
            span(middle - spread, middle + spread, "°C"),
            ambient is not None and abs(ambient - middle) <= spread,
        ),
        Condition(
            "the distortion of the supply",
            "[supply] distortion",
            "" if distortion is None else str(Value(distortion, 0.0, "%")),
            f"at most {Value(most, 0.0, '%')}",
            distortion is not None and distortion <= most,
        ),
    )


def not_kept(adapter: Adapter) -> str:
    """Why no verdict may rest on the readings, as the end of a sentence; empty if one may."""
    broken = [item for item in conditions_of(adapter) if item.recorded and not item.kept]
    said = [f"{item.name} was {item.recorded}, where the method asks for {item.asked}"
            for item in broken]  # fmt: skip
    return " and ".join(said)


def unrecorded(adapter: Adapter) -> str:
    """What a rule's note says of conditions that are not recorded; empty if all are."""
    names = [item.name for item in conditions_of(adapter) if not item.recorded]
    if not names:
        return ""
    listed = _listed(names)
    verb = "are" if len(names) > 1 else "is"
    return f"{listed[0].upper()}{listed[1:]} {verb} not recorded."


def condition_finding(specimen: Specimen) -> Finding:
    """Whether the readings were taken as the method asks, as far as that is recorded."""
    found = conditions_of(specimen.adapter)
    lacking = [item for item in found if not item.recorded]
    if lacking:
        needed = _listed([item.entry for item in lacking])
        asked = _listed([f"{item.name} ({item.asked})" for item in lacking])
        return not_measured(
            SECTION, _QUESTION, f"{needed}; {METHOD} prescribes {asked}.", _FUNCTION
        )
    said = _listed([f"{item.name} was {item.recorded} ({item.asked} asked)" for item in found])
    kept = all(item.kept for item in found)
    way = "as the method asks" if kept else "not as the method asks"
    return Finding(
        SECTION,
        _QUESTION,
        rules.result(),
        f"The load sweep was run {way}: {said}.",
        _FUNCTION,
        origin="adapter.toml, sweep and supply",
        note=f"As {METHOD} has it, which Regulation (EU) 2025/2052, Annex IV, 5, accepts.",
    )
