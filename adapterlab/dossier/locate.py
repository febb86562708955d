"""Line of a key in a TOML text, so that an error can point at it.

The standard library's reader gives values without places. This one only finds places; it does
not judge the text, which is known to be well-formed by then.
"""

import re
from collections.abc import Sequence

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*([A-Za-z0-9_\-."']+)\s*=""")


def _split(dotted: str) -> list[str]:
    return [piece.strip().strip("\"'") for piece in dotted.split(".")]


def _places(text: str) -> dict[tuple[str | int, ...], int]:
    """Line of every table and key, under its full path."""
    found: dict[tuple[str | int, ...], int] = {}
    counts: dict[tuple[str | int, ...], int] = {}
    here: tuple[str | int, ...] = ()
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header:
            names = _split(header[2])
            here = ()
            for depth, name in enumerate(names):
                here = (*here, name)
                if depth == len(names) - 1 and header[1] == "[[":
                    counts[here] = counts.get(here, -1) + 1
                if here in counts:
                    here = (*here, counts[here])
            found.setdefault(here, number)
            continue
        key = _KEY.match(line)
        if key:
            found.setdefault((*here, *_split(key[1])), number)
    return found


def line_of(text: str, path: Sequence[str | int]) -> int | None:
    r"""Line of the key at `path`, or of the nearest table around it.

    Parameters
    ----------
    text : str
        A TOML document.
    path : sequence of str and int
        Keys from the top; whole numbers count the entries of an array of tables from 0.

    Returns
    -------
    int or None
        Line counted from 1; None where not even the outermost table is written.

    Examples
    --------
    >>> line_of("[[parts]]\nkind = 'fuse'\n[[parts]]\nkind = 'tea'\n", ["parts", 1, "kind"])
    4
    """
    places = _places(text)
    for length in range(len(path), 0, -1):
        line = places.get(tuple(path[:length]))
        if line is not None:
            return line
    return None
