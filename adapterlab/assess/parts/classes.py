"""Whether a safety capacitor's class suits the place it sits in."""

from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.model.stresses import why_not_rated
from adapterlab.assess.parts.common import SECTION, common, count, documented
from adapterlab.assess.parts.markings import ReadPart
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.judgement import Judgement
from adapterlab.parts import safety_class_row
from adapterlab.published import rows, standing_of, why_not

_WHERE = {
    "line capacitor": "between the mains poles",
    "barrier capacitor": "across the barrier",
}
_PROVIDED = {
    "line capacitor": "class X",
    "barrier capacitor": "class Y1, or two of Y2 in series,",
}


def class_findings(parts: list[ReadPart]) -> list[Finding]:
    """One finding for each capacitor between the mains poles or across the barrier."""
    return [
        _class_finding(read, parts)
        for read in parts
        if read.part.role in _WHERE and read.part.kind == "capacitor"
    ]


def _required(suits: bool, row: dict[str, Any], read: ReadPart) -> Judgement:
    """Word for a class that the standard provides or not, if both row and part were seen."""
    reason = why_not(row) or why_not_rated(read.part)
    return rules.not_judged(reason) if reason else rules.required(suits)


def _in_series(read: ReadPart, parts: list[ReadPart]) -> int:
    """How many capacitors of the same class stand in series with one, itself included."""
    part = read.part
    chain = [
        other
        for other in parts
        if other is read
        or other.part.reference == part.in_series_with
        or other.part.in_series_with == part.reference
    ]
    return sum(other.safety_class == read.safety_class for other in chain)


def _suits(read: ReadPart, alike: int, row: dict[str, Any]) -> bool:
    if read.part.role == "line capacitor":
        return read.safety_class in ("X1", "X2", "X3", "Y1", "Y2")
    needed = row.get("needed_in_series")
    return needed is not None and alike >= needed


def _lacking(read: ReadPart, parts: list[ReadPart]) -> str:
    """What would have to be noted first; empty if nothing."""
    part = read.part
    if not read.safety_class and (part.identified_by != "read" or not part.marked.strip()):
        return f"the class printed on {part.reference}; its marking has not been read."
    references = {other.part.reference for other in parts}
    if part.in_series_with and part.in_series_with not in references:
        return f"[[parts]] {part.in_series_with}, which is noted in series with {part.reference}."
    return ""


def _class_finding(read: ReadPart, parts: list[ReadPart]) -> Finding:
    part, name = read.part, read.safety_class
    fields = common(f"Has {part.reference} the right class?", "parts.safety_class_row")
    lacking = _lacking(read, parts)
    if lacking:
        return not_measured(SECTION, fields["question"], lacking, fields["function"])
    row = safety_class_row(name) if name else rows(SECTION, "safety_classes")[0]
    standard = documented("IEC 60384-14", standing_of(row))
    alike = _in_series(read, parts) if name else 0
    judged = _required(bool(name) and _suits(read, alike, row), row, read)
    sits = f"{part.reference} sits {_WHERE[part.role]} and bears"
    if name:
        series = ", as does the one in series with it" if alike > 1 else ""
        said = f"{sits} class {name}{series}; {standard} makes that class for {row['bridges']}"
    else:
        said = f"{sits} no safety class; {standard} provides {_PROVIDED[part.role]} for that place"
    end = f": {judged.word}"
    if judged.reason:
        end = f", but {judged.reason}, so no verdict rests on it"
    return Finding(
        judgement=judged,
        sentence=f"{said}{end}.",
        note=row["source"] if name else "",
        reading=count(alike),
        **fields,
    )
