"""Bench files as text: encodings, separators, decimal commas.

Real files come from spreadsheets and oscilloscopes: with a byte-order mark, Windows line ends,
semicolons and decimal commas, instrument preambles, comments and blank lines.
"""

import csv
import re
from pathlib import Path

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


def read_text(path: Path) -> str:
    """Text of a file, its encoding found out.

    Parameters
    ----------
    path : pathlib.Path
        The file; UTF-8 with or without a byte-order mark, UTF-16 with one, or Windows Latin.

    Returns
    -------
    str
        The text, its lines ended by a line feed.
    """
    data = path.read_bytes()
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252", errors="replace")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def separator_of(line: str) -> str:
    """Column separator of a line: semicolon, tab or comma, whichever makes most columns."""
    return max(";\t,", key=lambda mark: (len(split_line(line, mark)), mark != ","))


def split_line(line: str, separator: str) -> list[str]:
    """Cells of one line, stripped; quotes are honoured."""
    return [cell.strip() for cell in next(csv.reader([line], delimiter=separator), [])]


def parse_number(cell: str, separator: str) -> float | None:
    """Number in a cell, or None where there is none.

    Parameters
    ----------
    cell : str
        Text of the cell.
    separator : str
        Column separator; with any but a comma, a comma is read as the decimal sign.

    Examples
    --------
    >>> parse_number("1,5", ";")
    1.5
    >>> parse_number("1,5", ",") is None
    True
    """
    text = cell.strip()
    if separator != "," and "." not in text:
        text = text.replace(",", ".", 1)
    return float(text) if _NUMBER.fullmatch(text) else None


def is_comment(line: str) -> bool:
    """Whether a line is blank, a comment, or only separators."""
    stripped = line.strip().strip(";,\t ").strip('"')
    return not stripped or stripped[0] in "#%!"
