"""Every entry of a dossier that somebody may not have noted, and the dossier without it.

`entries_of` lists them: each key and table of adapter.toml, each table of readings, each of its
columns and rows, each capture. `without` writes the dossier less one of them. `accusations` counts
what a review of it says that would be said aloud against the adapter.
"""

import csv
import shutil
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit

from adapterlab.assess import verdict
from adapterlab.dossier import inspect_dossier
from adapterlab.judgement import FALLS_SHORT, UNEXPLAINED

Accusation = tuple[str, str, str]


@dataclass(frozen=True)
class Entry:
    """One thing that may be missing from a dossier.

    Attributes
    ----------
    file : str
        In the dossier's folder.
    path : tuple of str and int
        In adapter.toml: keys from the top. In a table: ``("column", name)`` or ``("row", line)``;
        empty for the whole file.
    """

    file: str
    path: tuple[str | int, ...]

    def __str__(self) -> str:
        """Place, as a reader would look for it."""
        return f"{self.file}: {'.'.join(map(str, self.path)) or 'whole'}"


def _keys(table: Any, path: tuple[str | int, ...]) -> Iterator[tuple[str | int, ...]]:
    items = table.items() if isinstance(table, dict) else enumerate(table)
    for key, value in items:
        here = (*path, key)
        if here != ("nameplate",):
            yield here
        if isinstance(value, dict) or (
            isinstance(value, list) and value and isinstance(value[0], dict)
        ):
            yield from _keys(value, here)


def entries_of(folder: Path) -> list[Entry]:
    """Every entry of a dossier, in the order of its files."""
    text = (folder / "adapter.toml").read_text(encoding="utf-8")
    found = [Entry("adapter.toml", path) for path in _keys(tomlkit.parse(text).unwrap(), ())]
    for file in sorted(folder.glob("*.csv")):
        with file.open(encoding="utf-8", newline="") as stream:
            table = list(csv.reader(stream))
        found.append(Entry(file.name, ()))
        found += [Entry(file.name, ("column", name)) for name in table[0]]
        found += [Entry(file.name, ("row", line)) for line in range(2, len(table) + 1)]
    return found


def _without_key(text: str, path: tuple[str | int, ...]) -> str:
    document = tomlkit.parse(text)
    place: Any = document
    for key in path[:-1]:
        place = place[key]
    del place[path[-1]]
    return tomlkit.dumps(document)


def without(folder: Path, entry: Entry, copy: Path) -> Path:
    """Write a copy of a dossier less one entry.

    Parameters
    ----------
    folder : pathlib.Path
        The dossier.
    entry : Entry
        What to leave out.
    copy : pathlib.Path
        Folder to write; must not exist.

    Returns
    -------
    pathlib.Path
        `copy`. Captures and photographs are linked, not copied.
    """
    copy.mkdir(parents=True)
    for file in folder.iterdir():
        if file.is_dir():
            shutil.copytree(file, copy / file.name)
        else:
            shutil.copy(file, copy / file.name)
    place = copy / entry.file
    if not entry.path:
        place.unlink()
    elif entry.file == "adapter.toml":
        place.write_text(
            _without_key(place.read_text(encoding="utf-8"), entry.path), encoding="utf-8"
        )
    else:
        with place.open(encoding="utf-8", newline="") as stream:
            table = list(csv.reader(stream))
        kind, which = entry.path
        if kind == "row":
            del table[int(which) - 1]
        else:
            column = table[0].index(str(which))
            table = [row[:column] + row[column + 1 :] for row in table]
        with place.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream, lineterminator="\n").writerows(table)
    return copy


def accusations(folder: Path) -> Counter[Accusation] | None:
    """How often each question of a section gets *falls short* or *unexplained*.

    Parameters
    ----------
    folder : pathlib.Path
        A dossier.

    Returns
    -------
    collections.Counter or None
        (section, question, word) -> count; None where the dossier is refused, for what is needed
        is missing.
    """
    dossier, _ = inspect_dossier(folder)
    if dossier is None:
        return None
    return Counter(
        (finding.section, finding.question, finding.word)
        for finding in verdict.assess(dossier).findings
        if finding.word in (FALLS_SHORT, UNEXPLAINED)
    )


def has_twin(folder: Path, entry: Entry) -> bool:
    """Whether the entry is, or belongs to, one of several parts that serve one role together."""
    if entry.file != "adapter.toml" or entry.path[0] != "parts" or len(entry.path) < 2:
        return False
    text = (folder / "adapter.toml").read_text(encoding="utf-8")
    parts = tomlkit.parse(text).unwrap()["parts"]
    role = parts[entry.path[1]].get("role")
    whole_or_role = len(entry.path) == 2 or entry.path[2] == "role"
    return whole_or_role and sum(part.get("role") == role for part in parts) > 1
