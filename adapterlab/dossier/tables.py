"""The typed-in tables of a dossier: which columns they have and how they are read.

`TABLES` describes every table; `read_table` turns a file into a data frame in SI units and
collects what is wrong with it, all at once.
"""

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from adapterlab.dossier.problems import Problem
from adapterlab.dossier.textfile import (
    is_comment,
    parse_number,
    read_text,
    separator_of,
    split_line,
)

# Suffix of a column name -> factor to the SI unit.
SUFFIXES: dict[str, dict[str, float]] = {
    "V": {"_v": 1.0, "_mv": 1e-3, "_uv": 1e-6, "_kv": 1e3},
    "A": {"_a": 1.0, "_ma": 1e-3, "_ua": 1e-6},
    "W": {"_w": 1.0, "_mw": 1e-3, "_uw": 1e-6},
    "Hz": {"_hz": 1.0, "_khz": 1e3},
    "s": {"_s": 1.0, "_ms": 1e-3, "_min": 60.0, "_h": 3600.0},
    "C": {"_c": 1.0},
    "kg": {"_g": 1e-3, "_kg": 1.0},
    "1": {"": 1.0, "_percent": 1e-2},
}


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    unit : str
        SI unit (a key of `SUFFIXES`), or empty for text.
    required : bool
        Whether the table makes no sense without it.
    choices : tuple of str
        Texts allowed; empty for any.
    least, most : float
        Range allowed, in the SI unit.
    outcome : bool
        Whether it is read off a meter: a row without any outcome is planned, not yet measured.
    """

    unit: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    least: float = float("-inf")
    most: float = float("inf")
    outcome: bool = False

    @property
    def dtype(self) -> str:
        """Type of the column in a data frame."""
        return "float64" if self.unit else "str"


_MAINS = {
    "mains_voltage": Column("V", required=True, least=1.0, most=500.0),
    "mains_frequency": Column("Hz", required=True, least=10.0, most=1000.0),
}

TABLES: dict[str, dict[str, Column]] = {
    "load_sweep": {
        "point": Column(required=True),
        **_MAINS,
        "mains_current": Column("A", least=0.0, most=50.0, outcome=True),
        "input_power": Column("W", required=True, least=0.0, most=2000.0, outcome=True),
        "port": Column(required=True),
        "mode": Column(required=True),
        "set_voltage": Column("V", least=0.0, most=60.0),
        "set_current": Column("A", least=0.0, most=50.0),
        "output_voltage": Column("V", required=True, least=0.0, most=100.0, outcome=True),
        "output_current": Column("A", required=True, least=0.0, most=50.0, outcome=True),
        "ripple_pp": Column("V", least=0.0, most=50.0, outcome=True),
        "case_temperature": Column("C", least=-40.0, most=200.0, outcome=True),
    },
    "no_load": {
        **_MAINS,
        "power": Column("W", required=True, least=0.0, most=100.0, outcome=True),
        "averaging_time": Column("s", least=0.0),
        "cable": Column(choices=("none", "plugged")),
        "crest_factor": Column("1", least=1.0, most=1000.0),
        "power_factor": Column("1", least=0.0, most=1.0),
    },
    "touch_current": {
        **_MAINS,
        "polarity": Column(choices=("a", "b")),
        "network": Column(required=True, choices=("weighted", "unweighted", "ammeter")),
        "touched_part": Column(),
        "quantity": Column(required=True, choices=("rms", "peak", "dc")),
        "touch_current": Column("A", required=True, least=0.0, most=1.0, outcome=True),
        "output_power": Column("W", least=0.0, most=1000.0),
    },
    "temperatures": {
        "place": Column(required=True),
        "temperature": Column("C", required=True, least=-40.0, most=300.0, outcome=True),
        "ambient": Column("C", least=-40.0, most=100.0),
        "case": Column(choices=("open", "closed")),
        "output_power": Column("W", least=0.0, most=1000.0),
        "time_at_load": Column("s", least=0.0),
    },
}


@dataclass
class _Reading:
    """A table while it is read: where its columns stand and what is wrong with it."""

    file: str
    columns: Mapping[str, Column]
    separator: str = ","
    places: dict[str, tuple[int, float, str]] = field(default_factory=dict)
    rows: list[dict[str, object]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def say(self, severity: str, message: str, line: int | None, column: str, value: str) -> None:
        self.problems.append(Problem(severity, self.file, message, line, column, value))  # type: ignore[arg-type]


def _match(written: str, columns: Mapping[str, Column]) -> tuple[str, float] | None:
    """Column and factor a heading stands for."""
    heading = written.strip().strip('"').lower().replace(" ", "_")
    for name, column in columns.items():
        if not column.unit:
            if heading == name:
                return name, 1.0
            continue
        for suffix, factor in SUFFIXES[column.unit].items():
            if heading == name + suffix:
                return name, factor
    return None


def headings(columns: Mapping[str, Column]) -> list[str]:
    """Column headings of a table in their first spelling: what is set, then what is read."""
    order = sorted(columns, key=lambda key: columns[key].outcome)
    return [
        key + (next(iter(SUFFIXES[columns[key].unit])) if columns[key].unit else "")
        for key in order
    ]


def _read_header(reading: _Reading, cells: list[str], line: int) -> None:
    for position, written in enumerate(cells):
        match = _match(written, reading.columns)
        if match is None:
            if written:
                known = [
                    n + s for n, c in reading.columns.items() for s in SUFFIXES.get(c.unit, [""])
                ]
                near = difflib.get_close_matches(written.lower(), known, n=1, cutoff=0.75)
                hint = f"; did you mean {near[0]}?" if near else ""
                reading.say(
                    "warning" if near else "note",
                    f"column not known, left out{hint}",
                    line,
                    written,
                    "",
                )
            continue
        name, factor = match
        if name in reading.places:
            reading.say(
                "error",
                f"is given twice, also as {reading.places[name][2]}; keep one",
                line,
                written,
                "",
            )
            continue
        reading.places[name] = (position, factor, written)
    for name, column in reading.columns.items():
        if column.required and name not in reading.places:
            allowed = " or ".join(name + suffix for suffix in SUFFIXES.get(column.unit, [""]))
            reading.say("error", f"column is missing: {allowed}", line, name, "")


def _read_cell(reading: _Reading, name: str, cell: str, line: int) -> object:
    column = reading.columns[name]
    _, factor, written = reading.places[name]
    if cell == "":
        if column.required:
            reading.say(
                "error", "is empty, and this column needs a value in every row", line, written, ""
            )
        return float("nan") if column.unit else ""
    if not column.unit:
        text = cell.lower() if column.choices else cell
        if column.choices and text not in column.choices:
            reading.say("error", f"allowed: {', '.join(column.choices)}", line, written, cell)
        return text
    number = parse_number(cell, reading.separator)
    if number is None:
        reading.say("error", "is not a number", line, written, cell)
        return float("nan")
    value = number * factor
    if not column.least <= value <= column.most:
        low, high = column.least / factor, column.most / factor
        reading.say("error", f"is outside {low:g} to {high:g}", line, written, cell)
    return value


def _is_planned(reading: _Reading, cells: list[str]) -> bool:
    """Whether a row says what to measure but holds no reading."""
    outcomes = [
        position
        for name, (position, _, _) in reading.places.items()
        if reading.columns[name].outcome
    ]
    return bool(outcomes) and not any(cells[place] for place in outcomes if place < len(cells))


def read_table(path: Path, columns: Mapping[str, Column]) -> tuple[pd.DataFrame, list[Problem]]:
    """Read one table of a dossier.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    columns : mapping of str to Column
        What the table may hold, such as ``TABLES["no_load"]``.

    Returns
    -------
    pandas.DataFrame
        One row for each data line, all columns of the table in SI units without unit suffix,
        NaN or an empty text where nothing was given, and the line in the file as ``line``.
    list of Problem
        Everything wrong or unknown.
    """
    reading = _Reading(path.name, columns)
    header_found = False
    planned: list[int] = []
    for line, text in enumerate(read_text(path).split("\n"), start=1):
        if is_comment(text):
            continue
        if not header_found:
            separator = separator_of(text)
            cells = split_line(text, separator)
            if sum(_match(cell, reading.columns) is not None for cell in cells) >= 2:
                header_found = True
                reading.separator = separator
                _read_header(reading, cells, line)
            continue
        cells = split_line(text, reading.separator)
        if _is_planned(reading, cells):
            planned.append(line)
            continue
        row = {}
        for column, (position, _, _) in reading.places.items():
            row[column] = _read_cell(
                reading, column, cells[position] if position < len(cells) else "", line
            )
        reading.rows.append(row)
        reading.lines.append(line)
    if not header_found:
        reading.say(
            "error",
            f"no line of column headings; expected {', '.join(headings(columns))}",
            None,
            "",
            "",
        )
    elif planned:
        count = f"{len(planned)} row{'s are' if len(planned) > 1 else ' is'}"
        reading.say("gap", f"{count} planned and not measured yet", planned[0], "", "")
    elif not reading.rows:
        reading.say("gap", "holds no rows", None, "", "")
    return _frame(reading), reading.problems


def _frame(reading: _Reading) -> pd.DataFrame:
    frame = pd.DataFrame(reading.rows, columns=list(reading.columns))
    for name, column in reading.columns.items():
        frame[name] = frame[name].astype(column.dtype)
        if not column.unit:
            frame[name] = frame[name].fillna("")
    frame["line"] = pd.Series(reading.lines, dtype="int64")
    return frame


def empty_table(name: str) -> pd.DataFrame:
    """A table without rows, with the columns `read_table` gives."""
    return _frame(_Reading(f"{name}.csv", TABLES[name]))
