"""Oscilloscope records: long files of time and channels.

`read_record` finds the numbers under whatever preamble the instrument wrote. It is quick on a
well-formed file of a million rows and slow, but exact about the place, on a broken one.
"""

import io
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from adapterlab.dossier.problems import Problem
from adapterlab.dossier.schema import Capture
from adapterlab.dossier.textfile import is_comment, parse_number, read_text, split_line

_PREAMBLE = 200
# How instruments name the step and the beginning of the time in the lines above their samples.
_INTERVAL = re.compile(r"interval|increment|time\s*step|sampling\s*period", re.IGNORECASE)
_START = re.compile(r"start|first\s*sample|time\s*of\s*first|trigger\s*offset", re.IGNORECASE)


@dataclass(frozen=True)
class Record:
    """One capture in SI units.

    Attributes
    ----------
    capture : Capture
        The entry of ``adapter.toml`` it belongs to.
    time : numpy.ndarray
        Time of each sample, rising. [s], shape (n,)
    channels : tuple of numpy.ndarray
        Volts or amperes of each channel listed, in their order. [V] or [A], each shape (n,)
    """

    capture: Capture
    time: NDArray[np.float64]
    channels: tuple[NDArray[np.float64], ...]

    def channel(self, quantity: str) -> NDArray[np.float64] | None:
        """First channel that holds `quantity` (``voltage`` or ``current``), or None."""
        for entry, values in zip(self.capture.channels, self.channels, strict=True):
            if entry.quantity == quantity:
                return values
        return None


def _numbers(line: str, separator: str) -> list[float | None]:
    return [parse_number(cell, separator) for cell in split_line(line, separator) if cell != ""]


def _data_start(lines: list[str], columns: int) -> tuple[int, str] | None:
    """Index and separator of the first line that holds a number in each column wanted."""
    for index, line in enumerate(lines):
        if is_comment(line):
            continue
        for separator in ";\t,":
            numbers = _numbers(line, separator)
            if len(numbers) >= columns and None not in numbers[:columns]:
                return index, separator
    return None


def _from_header(lines: list[str], wanted: re.Pattern[str]) -> float | None:
    """Number beside a name in the lines above the samples."""
    for line in lines:
        text = line.strip().lstrip("#%!").strip()
        if not wanted.search(text):
            continue
        for separator in (";", "\t", ",", ":", "="):
            numbers = [parse_number(cell, separator) for cell in text.split(separator)[1:]]
            known = [number for number in numbers if number is not None]
            if known:
                return known[0]
    return None


def _clock(
    capture: Capture, head: list[str], count: int
) -> tuple[NDArray[np.float64] | None, list[Problem]]:
    """Times of the samples of a file that lists none."""
    interval = capture.sample_interval
    if interval is None:
        found = _from_header(head, _INTERVAL)
        interval = found * capture.time_scale if found is not None else None
    if interval is None or interval <= 0:
        message = (
            "holds no time column and its header no sample interval above zero; give "
            "sample_interval"
        )
        return None, [Problem("error", capture.file, message)]
    start = capture.start_time
    if start is None:
        found = _from_header(head, _START)
        start = found * capture.time_scale if found is not None else 0.0
    return start + interval * np.arange(count, dtype=np.float64), []


def _read_slowly(
    lines: list[str], start: int, separator: str, columns: int, file: str
) -> tuple[NDArray[np.float64], list[Problem]]:
    rows: list[list[float]] = []
    problems: list[Problem] = []
    for number, line in enumerate(lines[start:], start=start + 1):
        if is_comment(line):
            continue
        cells = split_line(line, separator)
        row = [parse_number(cell, separator) for cell in cells[:columns]]
        row += [None] * (columns - len(row))
        for position, value in enumerate(row):
            if value is None and len(problems) < 50:
                cell = cells[position] if position < len(cells) else ""
                message = "is not a number" if cell else "is missing"
                problems.append(
                    Problem("error", file, message, number, f"column {position + 1}", cell)
                )
        rows.append([float("nan") if value is None else value for value in row])
    return np.asarray(rows, dtype=float).reshape(-1, columns), problems


def read_record(path: Path, capture: Capture) -> tuple[Record | None, list[Problem]]:
    """Read one oscilloscope export.

    Parameters
    ----------
    path : pathlib.Path
        The file: any preamble, then one line per sample with the time in the first column, or
        without time where the capture says so and gives the interval, or the preamble does.
    capture : Capture
        Its entry in ``adapter.toml``.

    Returns
    -------
    Record or None
        The samples in SI units; None if the file can't be used.
    list of Problem
        What is wrong with it: at most 50 places.
    """
    file = capture.file
    text = read_text(path)
    columns = max(channel.column for channel in capture.channels)
    head = text.split("\n", _PREAMBLE)
    found = _data_start(head[:_PREAMBLE], columns)
    if found is None:
        message = f"no line with {columns} columns of numbers among the first {_PREAMBLE}"
        return None, [Problem("error", file, message)]
    start, separator = found
    problems: list[Problem] = []
    try:
        values = pd.read_csv(
            io.StringIO(text),
            sep=separator,
            decimal="." if separator == "," else ",",
            skiprows=start,
            header=None,
            usecols=list(range(columns)),
            comment="#",
            dtype="float64",
            engine="c",
        ).to_numpy()
        if not np.isfinite(values).all():
            raise ValueError
    except ValueError:
        values, problems = _read_slowly(text.split("\n"), start, separator, columns, file)
    if problems:
        return None, problems
    if len(values) < 2:
        return None, [Problem("error", file, "holds fewer than two samples")]
    if capture.time == "interval":
        clock, problems = _clock(capture, head[:start], len(values))
        if clock is None:
            return None, problems
        time = clock
    else:
        time = values[:, 0] * capture.time_scale
    step = np.diff(time)
    if not (step > 0).all():
        index = int(np.argmin(step > 0))
        message = f"time does not rise after sample {index + 1} ({time[index]:g} s)"
        return None, [Problem("error", file, message, None, "column 1")]
    channels = tuple(
        (values[:, channel.column - 1] + channel.offset) * channel.scale
        for channel in capture.channels
    )
    return Record(capture, time, channels), problems
