"""Figures from standards, handbooks and makers, as data with their sources.

One TOML file for each subject; every row says where it comes from (``source``) and how it is
known (``known``). `rows` reads a table, `load` a whole file. A limit is used for a verdict only
if `judges` says so.
"""

import tomllib
from functools import cache
from importlib import resources
from typing import Any

# A row as it stands in the file: what its columns hold, the code that reads it knows.
Row = dict[str, Any]

KNOWN = {
    "seen": "printed in a copy or reproduction of the document",
    "corroborated": "recalled, and a printed document agrees on at least one row",
    "inferred": "follows from a printed text",
    "computed": "worked out from printed figures",
    "common practice": "a habit of the trade without one source",
    "memory": "recalled only; never the sole ground of a verdict",
}


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
        If there is no such file, it is not well-formed, or a row lacks source or ``known``.
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
            place = f"published/{subject}.toml, {name} row {number}"
            if not row.get("source"):
                raise ValueError(f"{place}: source is missing")
            if row.get("known") not in KNOWN:
                raise ValueError(
                    f"{place}: known must be one of {', '.join(KNOWN)}, got {row.get('known')!r}"
                )
    return data


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
    'seen'
    """
    data = load(subject)
    if table not in data:
        raise ValueError(f"table must be one of {', '.join(data)}, got {table!r}")
    return [
        row for row in data[table] if all(row.get(key) == value for key, value in match.items())
    ]


def judges(row: Row) -> bool:
    """Whether a published figure is known well enough to be the ground of a verdict."""
    return bool(row["known"] != "memory")
