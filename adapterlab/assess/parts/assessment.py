"""Parts of a dossier one by one: what is there, what it is marked with, what it must stand."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.parts.blocks import (
    SECTION,
    Block,
    ReadPart,
    blocks_of,
    read_parts,
    safety_class_of,
)
from adapterlab.assess.parts.stress import Stress, stresses_of
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    not_measured,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier import Dossier
from adapterlab.judgement import (
    FALLS_SHORT,
    UNEXPLAINED,
    agrees,
    required,
)
from adapterlab.parts import fuse_from_code, fuse_gate, preferred_series, safety_class_row

_COLUMNS = ["reference", "block", "side", "marked", "says", "sure", "purpose", "recognised",
            "photograph", "caption", "note"]  # fmt: skip


@dataclass(frozen=True)
class PartsAssessment:
    """What is inside, judged.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    blocks : tuple of Block
        Usual blocks along the path of the energy, with their states.
    parts : tuple of ReadPart
        Parts with their markings read.
    stresses : tuple of Stress
        What parts must stand beside what they are rated for.
    table : pandas.DataFrame
        One row for each part along the path: ``reference``, ``block``, ``side``, ``marked``,
        ``says``, ``sure``, ``purpose``, ``recognised``, ``photograph``, ``caption``, ``note``.
    photographs : tuple of (pathlib.Path, str)
        Pictures found in the dossier, with their captions.
    """

    findings: Ledger
    blocks: tuple[Block, ...]
    parts: tuple[ReadPart, ...]
    stresses: tuple[Stress, ...]
    table: pd.DataFrame
    photographs: tuple[tuple[Path, str], ...]


def _common(question: str, function: str, figure: str = "") -> dict[str, Any]:
    return {
        "section": SECTION,
        "question": question,
        "function": function,
        "figure": figure,
        "origin": "adapter.toml, parts",
    }


def _count(number: int) -> Value:
    return Value(float(number), 0.0, "")


def _block_findings(blocks: list[Block]) -> list[Finding]:
    found = []
    for block in blocks:
        text = block.text
        common = _common(f"Is there a {text['name']}?", "published.rows", "parts_path")
        listed = ", ".join(part.reference for part in block.parts)
        if block.contradicted:
            count = _count(max(len(block.parts), 1))
            sentence = (
                f"The dossier notes that no {text['name']} was found, and yet lists {count}, "
                f"{listed or 'in the transformer'}: {UNEXPLAINED}."
            )
            found.append(
                Finding(judgement=agrees(False), sentence=sentence, reading=count, **common)
            )
        elif block.state == "absent":
            sentence = (
                f"No {text['name']} was found. That means: {text['absence']}. It does not mean "
                f"{text['not_meant']}."
            )
            found.append(
                Finding(judgement=rules.result(), sentence=sentence, note=text["source"], **common)
            )
    unseen = [block.text["name"] for block in blocks if block.state == "not seen"]
    if unseen:
        needed = (
            f"neither listed nor noted as absent: {', '.join(unseen)}. List them as [[parts]] with "
            "their role, or name the role in construction.absent if it was looked for in vain."
        )
        question = "Which usual blocks have not been seen?"
        found.append(not_measured(SECTION, question, needed, "published.rows"))
    return found


def _marking_findings(parts: list[ReadPart]) -> list[Finding]:
    question = "Do the markings agree with the values listed?"
    common = _common(question, "parts.read_marking", "parts_markings")
    found = []
    for read in parts:
        if read.differs:
            sentence = (
                f"{read.part.reference} is marked '{read.part.marked}': "
                f"{'; '.join(read.differs)}: {UNEXPLAINED}."
            )
            note = "One of the two was misread, or the part was replaced by another."
            reading = _count(len(read.differs))
            found.append(
                Finding(
                    judgement=agrees(False), sentence=sentence, note=note, reading=reading, **common
                )
            )
    alike = [read for read in parts if read.marking is not None and not read.differs]
    if alike:
        names = ", ".join(read.part.reference for read in alike)
        sentence = (
            f"{len(alike)} {'marking agrees' if len(alike) == 1 else 'markings agree'} with what "
            f"is listed: {names}."
        )
        count = _count(len(alike))
        found.append(Finding(judgement=agrees(True), sentence=sentence, reading=count, **common))
    for read in parts:
        if read.trouble:
            sentence = f"{read.part.reference}, '{read.part.marked}': {read.trouble}."
            found.append(Finding(judgement=rules.result(), sentence=sentence, **common))
    return found


def _preferred_findings(parts: list[ReadPart]) -> list[Finding]:
    """Values that no series holds: unusual, and worth a second look."""
    common = _common("Are the values ones that are made?", "parts.preferred_series",
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
                f"{part.reference} is listed with {Value(part.value or 0.0, 0.0, unit)}, a value "
                "of no preferred series; it may be misread, or made to order."
            ),
            **common,
        )
        for part in odd
        for unit in ["F" if part.kind == "capacitor" else "Ω"]
    ]


def _class_finding(read: ReadPart, parts: list[ReadPart]) -> Finding | None:
    """Whether a capacitor's safety class suits the place it sits in."""
    part, role = read.part, read.part.role
    if role not in ("line capacitor", "barrier capacitor") or part.kind != "capacitor":
        return None
    where = "between the mains poles" if role == "line capacitor" else "across the barrier"
    common = _common(f"Has {part.reference} the right class?", "parts.safety_class_row")
    name = safety_class_of(read)
    if not name:
        if part.identified_by != "read":
            needed = f"the class printed on {part.reference}; its marking has not been read."
            return not_measured(SECTION, common["question"], needed, common["function"])
        sentence = (
            f"{part.reference} sits {where} and bears no safety class; IEC 60384-14 provides "
            f"{'class X' if role == 'line capacitor' else 'class Y1, or two of Y2 in series,'} "
            f"for that place: {FALLS_SHORT}."
        )
        return Finding(judgement=required(False), sentence=sentence, reading=_count(0), **common)
    row = safety_class_row(name)
    chain = [
        other
        for other in parts
        if other is read
        or other.part.reference == part.in_series_with
        or other.part.in_series_with == part.reference
    ]
    alike = sum(safety_class_of(other) == name for other in chain)
    if role == "line capacitor":
        suits = name in ("X1", "X2", "X3", "Y1", "Y2")
    else:
        needed_in_series = row.get("needed_in_series")
        suits = needed_in_series is not None and alike >= needed_in_series
    several = f", {alike} in series" if alike > 1 else ""
    judged = required(suits)
    sentence = (
        f"{part.reference} sits {where} and bears class {name}{several}, made by IEC 60384-14 for "
        f"{row['bridges']}: {judged.word}."
    )
    count = _count(alike)
    return Finding(judgement=judged, sentence=sentence, note=row["source"], reading=count, **common)


def _stress_findings(stresses: list[Stress]) -> list[Finding]:
    """One finding for each load; parts of one kind under the same load share theirs."""
    alike: dict[tuple[Any, ...], list[Stress]] = {}
    for stress in stresses:
        if not stress.elsewhere:
            key = (stress.role, stress.what, stress.stress, stress.rating, stress.known)
            alike.setdefault(key, []).append(stress)
    return [
        _stress_finding(group[0], " and ".join(stress.reference for stress in group))
        for group in alike.values()
    ]


def _stress_finding(stress: Stress, names: str) -> Finding:
    common = _common(
        f"{'Do' if ' and ' in names else 'Does'} {names} stand the {stress.what}?",
        "uncertainty.conformity_probability",
        "parts_stress",
    )
    if stress.rating.standard_uncertainty > 0:
        limit = Limit(stress.stress.value, stress.stress.unit, "lower", "the crest of the mains",
                      stress.reason, "noted")  # fmt: skip
        return against_limit(
            stress.rating,
            limit,
            f"The varistor voltage of {names}",
            note=f"It is set beside {stress.reason}.",
            **common,
        )
    limit = Limit(stress.rating.value, stress.rating.unit, "upper", f"the rating of {names}",
                  f"rating of {names}, as listed in the dossier", stress.known)  # fmt: skip
    finding = against_limit(
        stress.stress,
        limit,
        f"The {stress.what} that {names} must stand",
        exact=not stress.reason.startswith("the highest mains current measured"),
        not_judged="how the part was identified is not noted" if stress.known == "memory" else "",
        note=f"Stress: {stress.reason}.",
        **common,
    )
    return replace(finding, reading=None, prediction=stress.stress)


def _fuse_findings(parts: list[ReadPart]) -> list[Finding]:
    """What a fuse of a known sheet does at twice its current."""
    found = []
    for read in parts:
        if read.part.kind != "fuse" or read.marking is None:
            continue
        fuse = fuse_from_code(read.part.marked)
        try:
            holds = fuse_gate(1.5, fuse.sheet, fuse.rated_current)
            opens = fuse_gate(2.1, fuse.sheet, fuse.rated_current)
        except ValueError:
            continue
        common = _common(f"When does {read.part.reference} open?", "parts.fuse_gate")
        sentence = (
            f"{read.part.reference} ({read.part.marked}) carries "
            f"{1.5 * fuse.rated_current:.3g} A for at least {(holds.shortest or 0) / 60:.0f} min "
            f"and opens at {2.1 * fuse.rated_current:.3g} A within "
            f"{(opens.longest or 0) / 60:.0f} min: a fuse protects wires from fire, not people."
        )
        note = f"IEC 60127-2, sheet {fuse.sheet}."
        found.append(Finding(judgement=rules.result(), sentence=sentence, note=note, **common))
    return found


def _certainty(parts: list[ReadPart]) -> list[Finding]:
    if not parts:
        return []
    counts = {
        word: [read.part.reference for read in parts if read.part.identified_by == word]
        for word in ("read", "inferred", "unknown")
    }
    sentence = (
        f"Of {len(parts)} parts listed, {len(counts['read'])} were read from their markings, "
        f"{len(counts['inferred'])} inferred from place and shape"
    )
    unknown = counts["unknown"]
    sentence += f", and {len(unknown)} not identified: {', '.join(unknown)}." if unknown else "."
    common = _common("How sure is it what the parts are?", "published.rows", "parts_path")
    return [Finding(judgement=rules.result(), sentence=sentence, **common)]


def _picture(folder: Path, file: str) -> Path | None:
    """A picture's path, if it lies inside the dossier."""
    path = (folder / file).resolve()
    return path if file and path.is_relative_to(folder.resolve()) and path.is_file() else None


def _photographs(specimen: Specimen) -> list[tuple[Path, str]]:
    adapter = specimen.adapter
    named = [(entry.file, entry.caption, entry.part) for entry in adapter.photographs]
    known = {file for file, _, _ in named}
    named += [
        (part.photograph, "", part.reference)
        for part in adapter.parts
        if part.photograph and part.photograph not in known
    ]
    found = []
    for file, caption, part in named:
        path = _picture(specimen.folder, file)
        if path is not None:
            found.append((path, ": ".join(text for text in (part, caption) if text) or file))
    return found


def _table(specimen: Specimen, blocks: list[Block], parts: list[ReadPart]) -> pd.DataFrame:
    captions = {entry.file: entry.caption for entry in specimen.adapter.photographs}
    by_part = {entry.part: entry.file for entry in specimen.adapter.photographs if entry.part}
    places = {block.role: number for number, block in enumerate(blocks)}
    texts = {block.role: block.text for block in blocks}
    result = []
    for read in sorted(parts, key=lambda read: places.get(read.part.role, len(places))):
        part, text = read.part, texts.get(read.part.role, {})
        photograph = part.photograph or by_part.get(part.reference, "")
        result.append(
            {
                "reference": part.reference,
                "block": text.get("name", "other"),
                "side": text.get("side", ""),
                "marked": part.marked,
                "says": read.says,
                "sure": part.identified_by,
                "purpose": text.get("purpose", ""),
                "recognised": text.get("recognised", ""),
                "photograph": photograph,
                "caption": captions.get(photograph, ""),
                "note": part.note,
            }
        )
    return pd.DataFrame(result, columns=_COLUMNS)


def assess(dossier: Dossier | Specimen) -> PartsAssessment:
    """Parts of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    PartsAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    blocks, parts, stresses = blocks_of(specimen), read_parts(specimen), stresses_of(specimen)
    findings = _block_findings(blocks) + _marking_findings(parts) + _preferred_findings(parts)
    findings += [f for f in (_class_finding(read, parts) for read in parts) if f is not None]
    findings += _stress_findings(stresses)
    findings += _fuse_findings(parts) + _certainty(parts)
    return PartsAssessment(
        Ledger.of(findings),
        tuple(blocks),
        tuple(parts),
        tuple(stresses),
        _table(specimen, blocks, parts),
        tuple(_photographs(specimen)),
    )
