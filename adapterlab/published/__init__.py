"""Figures from standards, handbooks and makers, as data with their sources.

One TOML file for each subject; every row says where it comes from (``source``) and how it is
known (``known``). `rows` reads a table, `load` a whole file. Whether a verdict may rest on a row
is told by `judges`, and why not by `why_not`. A row that is a limit names its document under
``status``; `standing_of` says whether that document is in force, and for which products.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

# A row as it stands in the file: what its columns hold, the code that reads it knows.
Row = dict[str, Any]

KNOWN = {
    "own": "seen in the document's own text, or in a maker's own sheet for that maker's figure",
    "cited": "seen in a numbered report, a maker's note or an article that cites the clause",
    "two": "two separate reproductions agree",
    "noted": "written in the dossier, such as the rating of a part",
    "second-hand": "seen where its document can't be found: a report without a number, a comment "
    "in source code, a table for hobbyists; judges only beside a second witness",
    "one": "seen in one reproduction only",
    "computed": "worked out from printed figures, or follows from a printed text",
    "common practice": "a habit of the trade without one source",
    "memory": "recalled only",
    "not found": "looked for and not found",
}
STATES = ("in force", "superseded", "withdrawn", "to come", "not looked up")
_NOT_A_GROUND = {
    "second-hand": "that figure is known second-hand only",
    "one": "that figure is known from one reproduction only",
    "computed": "that figure was worked out and is not printed",
    "common practice": "that figure is a habit of the trade",
    "memory": "that figure is known from memory only",
    "not found": "that figure was looked for and not found",
}


@dataclass(frozen=True)
class Standing:
    """Whether a document that sets limits is in force, and for what.

    Attributes
    ----------
    name : str
        The document, as said aloud.
    state : str
        One of `STATES`.
    said : str
        The same as said after its name, such as ``superseded by IEC 62368-1 in December 2020``.
    products : str
        What it is written for, as the end of *written for*; empty where it covers adapters.
    source, known : str
        Where that stands, and how it is known.
    """

    name: str
    state: str
    said: str
    products: str
    source: str
    known: str


@cache
def load(subject: str) -> dict[str, Any]:
    """A whole file of published figures.

    Parameters
    ----------
    subject : str
        Name of the file without its ending, such as ``touch_current``.

    Returns
    -------
    dict
        Its tables: name -> list of rows, each with ``source`` and ``known``.

    Raises
    ------
    ValueError
        If there is no such file, it is not well-formed, a row lacks source or ``known``, or its
        ``status`` names no document of ``standards.toml``.
    """
    folder = resources.files(__name__)
    file = folder / f"{subject}.toml"
    if not file.is_file():
        names = sorted(
            p.name.removesuffix(".toml") for p in folder.iterdir() if p.name.endswith(".toml")
        )
        raise ValueError(f"subject must be one of {', '.join(names)}, got {subject!r}")
    try:
        data = tomllib.loads(file.read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"published/{subject}.toml is not well-formed: {error}") from None
    for name, table in data.items():
        if not isinstance(table, list):
            raise ValueError(f"published/{subject}.toml: {name} must be an array of tables")
        for number, row in enumerate(table, start=1):
            _check(f"published/{subject}.toml, {name} row {number}", row)
    return data


def _check(place: str, row: Row) -> None:
    if not row.get("source"):
        raise ValueError(f"{place}: source is missing")
    if row.get("known") not in KNOWN:
        raise ValueError(
            f"{place}: known must be one of {', '.join(KNOWN)}, got {row.get('known')!r}"
        )
    if "state" in row and row["state"] not in STATES:
        raise ValueError(f"{place}: state must be one of {', '.join(STATES)}, got {row['state']!r}")
    if "status" in row and row["status"] not in _standings():
        raise ValueError(
            f"{place}: status must be one of {', '.join(_standings())}, got {row['status']!r}"
        )


@cache
def _standings() -> dict[str, Standing]:
    return {
        row["key"]: Standing(**{"products": ""} | {k: v for k, v in row.items() if k != "key"})
        for row in load("standards")["standards"]
    }


def rows(subject: str, table: str, **match: object) -> list[Row]:
    """Rows of a table that match the values given.

    Parameters
    ----------
    subject : str
        Name of the file without its ending.
    table : str
        Name of the table in it.
    **match
        Column values a row must have.

    Returns
    -------
    list of dict
        The matching rows, in the order of the file; empty if none match.

    Raises
    ------
    ValueError
        If there is no such file or table.

    Examples
    --------
    >>> rows("touch_current", "networks", name="weighted")[0]["known"]
    'two'
    """
    data = load(subject)
    if table not in data:
        raise ValueError(f"table must be one of {', '.join(data)}, got {table!r}")
    return [
        row for row in data[table] if all(row.get(key) == value for key, value in match.items())
    ]


def standing_of(row: Mapping[str, Any]) -> Standing | None:
    """Whether the document that a row is from is in force; None for a row that is no limit.

    Parameters
    ----------
    row : mapping
        A row, or anything with its ``status``.

    Returns
    -------
    Standing or None
        As in ``standards.toml``.

    Examples
    --------
    >>> standing_of({"status": "iec-60950-1"}).said
    'superseded by IEC 62368-1 in December 2020'
    """
    return _standings()[row["status"]] if row.get("status") else None


def why_not(row: Mapping[str, Any]) -> str:
    """Why no verdict may rest on a row, as the end of a sentence; empty if one may.

    Parameters
    ----------
    row : mapping
        A row, or anything with its ``known`` and, if it has one, its ``witness``.

    Returns
    -------
    str
        The reason.

    Examples
    --------
    >>> why_not({"known": "memory"})
    'that figure is known from memory only'
    >>> why_not({"known": "second-hand", "witness": "a maker's guide"})
    ''
    """
    if row["known"] == "second-hand" and row.get("witness"):
        return ""
    return _NOT_A_GROUND.get(row["known"], "")


def judges(row: Mapping[str, Any]) -> bool:
    """Whether a published figure is known well enough to be the ground of a verdict."""
    return not why_not(row)
