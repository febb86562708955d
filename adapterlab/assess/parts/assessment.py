"""Parts of a dossier one by one: what is there, what it is marked with, what it must stand."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.parts.blocks import Block, block_findings, blocks_of
from adapterlab.assess.parts.classes import class_findings
from adapterlab.assess.parts.markings import (
    ReadPart,
    certainty_findings,
    marking_findings,
    preferred_findings,
    read_parts,
    twice_findings,
)
from adapterlab.assess.parts.protection import (
    coupler_findings,
    fuse_findings,
    varistor_findings,
)
from adapterlab.assess.parts.stress import Stress, stress_findings, stresses_of
from adapterlab.assess.report.ledger import Ledger
from adapterlab.dossier import Dossier

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
    findings = [
        *block_findings(blocks),
        *marking_findings(parts),
        *twice_findings(specimen),
        *preferred_findings(parts),
        *class_findings(parts),
        *stress_findings(stresses),
        *varistor_findings(specimen),
        *coupler_findings(specimen),
        *fuse_findings(specimen, parts),
        *certainty_findings(parts),
    ]
    return PartsAssessment(
        Ledger.of(findings),
        tuple(blocks),
        tuple(parts),
        tuple(stresses),
        _table(specimen, blocks, parts),
        tuple(_photographs(specimen)),
    )
