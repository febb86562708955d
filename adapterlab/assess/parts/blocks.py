"""The blocks of an adapter along the path of the energy: present, absent or not seen."""

from dataclasses import dataclass
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.parts.common import SECTION, an, common, count, listed
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.dossier.schema import Part
from adapterlab.published import rows

STATES = ("present", "absent", "not seen")


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


def block_findings(blocks: list[Block]) -> list[Finding]:
    """What is absent and what that means, what is contradicted, what has not been seen."""
    found = []
    for block in blocks:
        if block.contradicted:
            found.append(_contradiction(block))
        elif block.state == "absent":
            found.append(_absence(block))
    unseen = [block.text["name"] for block in blocks if block.state == "not seen"]
    if unseen:
        needed = (
            f"neither listed nor noted as absent: {', '.join(unseen)}. List them as [[parts]] with "
            "their role, or name the role in construction.absent if it was looked for in vain."
        )
        question = "Which usual blocks have not been seen?"
        found.append(not_measured(SECTION, question, needed, "published.rows"))
    return found


def _asked(block: Block) -> str:
    name = block.text["name"]
    return f"{'Are' if name.startswith('mains pins') else 'Is'} there {an(name)}?"


def _contradiction(block: Block) -> Finding:
    references = [part.reference for part in block.parts]
    place = f"[[parts]] {listed(references)}" if references else "a winding of the transformer"
    return Finding(
        judgement=rules.agrees(False),
        sentence=(
            f"In adapter.toml, construction.absent says that no {block.text['name']} was found, "
            f"and yet {place} has that role: {rules.UNEXPLAINED}."
        ),
        reading=count(max(len(references), 1)),
        **common(_asked(block), "published.rows", "parts_path"),
    )


def _absence(block: Block) -> Finding:
    text = block.text
    return Finding(
        judgement=rules.result(),
        sentence=(
            f"No {text['name']} was found. That means: {text['absence']}. It does not mean "
            f"{text['not_meant']}."
        ),
        reading=count(0),
        note=text["source"],
        **common(_asked(block), "published.rows", "parts_path"),
    )
