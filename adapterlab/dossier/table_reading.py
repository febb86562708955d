"""Reading the typed-in tables: many dialects in, one data frame in SI units out.

`read_table` collects what is wrong with a file all at once. A table may be long, one row for each
loaded port, or wide, with a port's name before its columns; units stand in the headings or on a
line of their own below them.
"""

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from adapterlab.dossier.problems import Problem
from adapterlab.dossier.tables import SUFFIXES, TABLES, Column, headings
from adapterlab.dossier.textfile import (
    is_comment,
    parse_number,
    read_text,
    separator_of,
    split_line,
)

# Heading name -> position in the line, factor to the SI unit, heading as written.
_Places = dict[str, tuple[int, float, str]]
_SPELLING = str.maketrans({"°": "", "µ": "u", "μ": "u", "[": "", "]": "", "(": "", ")": ""})


@dataclass
class _Reading:
    """A table while it is read: where its columns stand and what is wrong with it."""

    file: str
    columns: Mapping[str, Column]
    separator: str = ","
    places: _Places = field(default_factory=dict)
    ports: dict[str, _Places] = field(default_factory=dict)
    rows: list[dict[str, object]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def say(self, severity: str, message: str, line: int | None, column: str, value: str) -> None:
        self.problems.append(Problem(severity, self.file, message, line, column, value))  # type: ignore[arg-type]

    @property
    def groups(self) -> list[tuple[str, _Places]]:
        """Columns that make one row of the result: all of them, or those of one port each."""
        if not self.ports:
            return [("", self.places)]
        return [(port, self.places | places) for port, places in self.ports.items()]


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


def _of_port(
    written: str, columns: Mapping[str, Column], ports: Sequence[str]
) -> tuple[str, str, float] | None:
    """Port, column and factor of a heading such as ``C1 output_voltage_v``."""
    for port in ports:
        start = written.strip().strip('"')
        if start.lower().startswith(port.lower()) and start[len(port) : len(port) + 1] in " _:":
            match = _match(start[len(port) + 1 :], columns)
            if match is not None:
                return port, *match
    return None


def _with_units(cells: Sequence[str], below: Sequence[str]) -> list[str]:
    """Headings with the units of the line below them."""
    units = [unit.translate(_SPELLING).strip().lower().replace("%", "percent") for unit in below]
    units += [""] * (len(cells) - len(units))
    return [
        f"{cell}_{unit}" if unit and cell else cell
        for cell, unit in zip(cells, units, strict=False)
    ]


def _known(cells: Sequence[str], columns: Mapping[str, Column], ports: Sequence[str]) -> int:
    return sum(
        _match(cell, columns) is not None or _of_port(cell, columns, ports) is not None
        for cell in cells
    )


def _unknown_heading(reading: _Reading, written: str, line: int) -> None:
    known = [n + s for n, c in reading.columns.items() for s in SUFFIXES.get(c.unit, [""])]
    near = difflib.get_close_matches(written.lower(), known, n=1, cutoff=0.75)
    hint = f"; did you mean {near[0]}?" if near else ""
    severity = "warning" if near else "note"
    reading.say(severity, f"column not known, left out{hint}", line, written, "")


def _read_header(reading: _Reading, cells: list[str], line: int, ports: Sequence[str]) -> None:
    for position, written in enumerate(cells):
        match = _match(written, reading.columns)
        places = reading.places
        if match is None:
            wide = _of_port(written, reading.columns, ports)
            if wide is None:
                if written:
                    _unknown_heading(reading, written, line)
                continue
            places = reading.ports.setdefault(wide[0], {})
            match = wide[1:]
        name, factor = match
        if name in places:
            message = f"is given twice, also as {places[name][2]}; keep one"
            reading.say("error", message, line, written, "")
            continue
        places[name] = (position, factor, written)
    for port, places in reading.groups:
        for name, column in reading.columns.items():
            if column.required and name not in places and not (port and name == "port"):
                allowed = " or ".join(name + s for s in SUFFIXES.get(column.unit, [""]))
                whose = f" for {port}" if port else ""
                reading.say("error", f"column is missing{whose}: {allowed}", line, name, "")


def _read_cell(
    reading: _Reading, name: str, place: tuple[float, str], cell: str, line: int
) -> object:
    column = reading.columns[name]
    factor, written = place
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


def _is_blank(reading: _Reading, places: _Places, cells: list[str]) -> bool:
    """Whether a row says what to measure but holds no reading."""
    outcomes = [place for name, (place, _, _) in places.items() if reading.columns[name].outcome]
    return bool(outcomes) and not any(cells[place] for place in outcomes if place < len(cells))


def _read_line(reading: _Reading, cells: list[str], line: int) -> bool:
    """Read one line into rows; False if it is planned and not measured yet."""
    measured = False
    for port, places in reading.groups:
        own = reading.ports.get(port, places)
        if _is_blank(reading, own, cells):
            continue
        measured = True
        row: dict[str, object] = {"port": port} if port else {}
        for name, (position, factor, written) in places.items():
            cell = cells[position] if position < len(cells) else ""
            row[name] = _read_cell(reading, name, (factor, written), cell, line)
        reading.rows.append(row)
        reading.lines.append(line)
    return measured


def _find_header(reading: _Reading, lines: Sequence[str], ports: Sequence[str]) -> int | None:
    """Read the headings; index of the first line below them, None if there are none."""
    written = [(index, text) for index, text in enumerate(lines) if not is_comment(text)]
    for place, (index, text) in enumerate(written):
        separator = separator_of(text)
        cells = split_line(text, separator)
        below = split_line(written[place + 1][1], separator) if place + 1 < len(written) else []
        united = _with_units(cells, below)
        plain, with_units = (_known(row, reading.columns, ports) for row in (cells, united))
        if max(plain, with_units) < 2:
            continue
        reading.separator = separator
        has_units = with_units > plain
        _read_header(reading, united if has_units else cells, index + 1, ports)
        return (written[place + 1][0] if has_units else index) + 1
    return None


def read_table(
    path: Path, columns: Mapping[str, Column], ports: Sequence[str] = ()
) -> tuple[pd.DataFrame, list[Problem]]:
    """Read one table of a dossier.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    columns : mapping of str to Column
        What the table may hold, such as ``TABLES["no_load"]``.
    ports : sequence of str, optional
        Ports whose name may stand before a heading, as in ``C1 output_voltage_v``; such a wide
        table gives one row for each port that was read.

    Returns
    -------
    pandas.DataFrame
        One row for each data line, all columns of the table in SI units without unit suffix,
        NaN or an empty text where nothing was given, and where it stands as ``line`` and ``file``.
    list of Problem
        Everything wrong or unknown.
    """
    reading = _Reading(path.name, columns)
    lines = read_text(path).split("\n")
    start = _find_header(reading, lines, ports)
    if start is None:
        expected = ", ".join(headings(columns))
        reading.say("error", f"no line of column headings; expected {expected}", None, "", "")
        return _frame(reading), reading.problems
    planned = []
    for line, text in enumerate(lines[start:], start=start + 1):
        if is_comment(text):
            continue
        if not _read_line(reading, split_line(text, reading.separator), line):
            planned.append(line)
    if planned:
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
    frame["file"] = pd.Series([reading.file] * len(frame), dtype="str")
    return frame


def empty_table(name: str) -> pd.DataFrame:
    """A table without rows, with the columns `read_table` gives."""
    return _frame(_Reading(f"{name}.csv", TABLES[name]))
