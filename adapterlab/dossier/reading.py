"""Reading a dossier folder: every error at once, gaps and warnings beside.

Nothing here writes into a dossier.
"""

import difflib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd
from pydantic import ValidationError
from pydantic_core import ErrorDetails

from adapterlab.dossier.capture_kinds import KINDS, lacking, unhelped
from adapterlab.dossier.fields import Table
from adapterlab.dossier.locate import line_of
from adapterlab.dossier.plausibility import implausible
from adapterlab.dossier.problems import DossierError, Problem
from adapterlab.dossier.records import Record, read_record
from adapterlab.dossier.schema import Adapter, Capture
from adapterlab.dossier.table_reading import empty_table, read_table
from adapterlab.dossier.tables import TABLES
from adapterlab.dossier.textfile import read_text

_FILE = "adapter.toml"


@dataclass(frozen=True)
class Dossier:
    """The record of one adapter, in SI units.

    Attributes
    ----------
    folder : pathlib.Path
        Where it was read.
    adapter : Adapter
        ``adapter.toml``.
    load_sweep, no_load, touch_current, temperatures : pandas.DataFrame
        The tables, without rows where the file is missing.
    records : tuple of Record
        Oscilloscope captures, in the order of ``adapter.toml``.
    problems : tuple of Problem
        Warnings, gaps and notes; a dossier with errors is never made.
    """

    folder: Path
    adapter: Adapter
    load_sweep: pd.DataFrame
    no_load: pd.DataFrame
    touch_current: pd.DataFrame
    temperatures: pd.DataFrame
    records: tuple[Record, ...]
    problems: tuple[Problem, ...]

    @property
    def name(self) -> str:
        """Name on the nameplate."""
        return self.adapter.nameplate.name

    def records_of(self, kind: str) -> list[Record]:
        """Captures of one kind."""
        return [record for record in self.records if record.capture.kind == kind]


def _allowed(error: ErrorDetails) -> str:
    """Pydantic's message in the words of this project."""
    kind, context = error["type"], error.get("ctx", {})
    messages = {
        "missing": "is missing and needed",
        "greater_than": "must be above {gt:g}",
        "greater_than_equal": "must be at least {ge:g}",
        "less_than": "must be below {lt:g}",
        "less_than_equal": "must be at most {le:g}",
        "literal_error": "allowed: {expected}",
        "float_type": "must be a number",
        "int_type": "must be a whole number",
        "string_type": "must be a text in quotes",
        "bool_type": "must be true or false",
        "list_type": "must be a list",
        "model_type": "must be a table",
        "too_short": "needs at least {min_length} entry",
        "too_long": "may have at most {max_length} entries",
        "string_too_short": "must not be empty",
        "value_error": "{error}",
    }
    template = messages.get(kind)
    return template.format(**context) if template else error["msg"]


def _shown(path: tuple[str | int, ...]) -> str:
    """A key's path as a reader counts: the first of several is 1."""
    return ".".join(str(step + 1 if isinstance(step, int) else step) for step in path)


def _remove(data: Any, path: tuple[str | int, ...]) -> None:
    for step in path[:-1]:
        data = data[step]
    del data[path[-1]]


def _nearest_key(path: tuple[str | int, ...]) -> str:
    """Spelling of a known key close to the last one in `path`."""
    model: type[Table] | None = Adapter
    for step in path[:-1]:
        if isinstance(step, str) and model is not None:
            annotation = str(model.model_fields[step].annotation)
            names = re.findall(r"\w+", annotation)
            model = next((c for c in Table.__subclasses__() if c.__name__ in names), None)
    known = list(model.model_fields) if model is not None else []
    near = difflib.get_close_matches(str(path[-1]), known, n=1)
    return f"; did you mean {near[0]}?" if near else ""


def _validate(data: dict[str, Any], text: str) -> tuple[Adapter | None, list[Problem]]:
    problems: list[Problem] = []
    for _ in range(2):
        try:
            return Adapter.model_validate(data), problems
        except ValidationError as failure:
            errors = failure.errors(include_url=False)
        unknown = [error["loc"] for error in errors if error["type"] == "extra_forbidden"]
        for path in unknown:
            hint = _nearest_key(path)
            problems.append(
                Problem(
                    "warning",
                    _FILE,
                    f"key not known, left out{hint}",
                    line_of(text, path),
                    _shown(path),
                )
            )
            _remove(data, path)
        if not unknown or len(unknown) < len(errors):
            for error in errors:
                if error["type"] == "extra_forbidden":
                    continue
                given = error["input"]
                shown = str(given) if isinstance(given, str | int | float) else ""
                problems.append(
                    Problem(
                        "error",
                        _FILE,
                        _allowed(error),
                        line_of(text, error["loc"]),
                        _shown(error["loc"]),
                        shown,
                    )
                )
            return None, problems
    return None, problems


def _read_adapter(folder: Path) -> tuple[Adapter | None, list[Problem]]:
    path = folder / _FILE
    if not path.is_file():
        return None, [Problem("error", _FILE, "is missing; every dossier needs its nameplate")]
    text = read_text(path)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"line (\d+)", str(error))
        message = re.sub(r" \(at .*\)", "", str(error))
        return None, [
            Problem(
                "error",
                _FILE,
                f"is not well-formed TOML: {message}",
                int(place[1]) if place else None,
            )
        ]
    return _validate(data, text)


def _inside(folder: Path, file: str) -> bool:
    return (folder / file).resolve().is_relative_to(folder.resolve())


def _remarks(capture: Capture, place: int | None) -> list[Problem]:
    """What its entry leaves out, and whether anybody reads it."""
    sections = " and ".join(KINDS[capture.kind].sections)
    if not sections:
        message = f"is kept, but no section reads a capture of the kind {capture.kind!r}"
        return [Problem("gap", _FILE, message, place, "captures.file", capture.file)]
    missing, more = lacking(capture), unhelped(capture)
    if missing:
        message = f"for {sections} to read this {capture.kind} capture, add {missing}"
        return [Problem("gap", _FILE, message, place, "captures.file", capture.file)]
    message = f"with {more} noted, {sections} could say more of this {capture.kind} capture"
    return [Problem("note", _FILE, message, place, "captures.file", capture.file)] if more else []


def _read_records(folder: Path, adapter: Adapter) -> tuple[list[Record], list[Problem]]:
    records: list[Record] = []
    problems: list[Problem] = []
    text = read_text(folder / _FILE)
    for index, capture in enumerate(adapter.captures):
        place = line_of(text, ("captures", index, "file"))
        path = folder / capture.file
        wrong = "" if _inside(folder, capture.file) else "lies outside the dossier folder"
        wrong = wrong or ("" if path.is_file() else "no such file in the dossier")
        if wrong:
            problems.append(Problem("error", _FILE, wrong, place, "captures.file", capture.file))
            continue
        record, found = read_record(path, capture)
        problems += found
        if record is not None:
            records.append(record)
            problems += _remarks(capture, place)
    return records, problems


def _read_all_of(folder: Path, name: str, ports: list[str]) -> tuple[pd.DataFrame, list[Problem]]:
    """A table from its file, and from further files such as ``load_sweep_115v.csv``."""
    paths = [folder / f"{name}.csv", *sorted(folder.glob(f"{name}_*.csv"))]
    frames, problems = [], []
    for path in paths:
        if not path.is_file():
            continue
        frame, found = read_table(path, TABLES[name], ports)
        problems += found
        part = path.stem.removeprefix(name).strip("_")
        if part and "point" in frame:
            frame["point"] = frame["point"].map(lambda point, part=part: f"{part} {point}")
        frames.append(frame)
    if not frames:
        return empty_table(name), [Problem("gap", f"{name}.csv", "is missing")]
    return pd.concat(frames, ignore_index=True), problems


def inspect_dossier(folder: str | Path) -> tuple[Dossier | None, list[Problem]]:
    """Read a dossier and say everything there is to say about it.

    Parameters
    ----------
    folder : str or pathlib.Path
        The dossier's folder.

    Returns
    -------
    Dossier or None
        The record; None if there is any error.
    list of Problem
        Errors, warnings, gaps and notes, in the order of the files.
    """
    folder = Path(folder)
    if not folder.is_dir():
        what = "is not a folder" if folder.exists() else "no such folder"
        return None, [Problem("error", str(folder), what)]
    adapter, problems = _read_adapter(folder)
    ports = [port.name for port in adapter.ports] if adapter else []
    tables: dict[str, pd.DataFrame] = {}
    for name in TABLES:
        tables[name], found = _read_all_of(folder, name, ports)
        problems += found
    if adapter is None:
        return None, problems
    records, found = _read_records(folder, adapter)
    problems += found
    if not any(problem.severity == "error" for problem in problems):
        problems += implausible(adapter, tables, read_text(folder / _FILE))
        dossier = Dossier(
            folder, adapter, records=tuple(records), problems=tuple(problems), **tables
        )
        return dossier, problems
    return None, problems


def read_dossier(folder: str | Path) -> Dossier:
    """Read the record of one adapter.

    Parameters
    ----------
    folder : str or pathlib.Path
        The dossier's folder, with at least ``adapter.toml`` and its nameplate in it.

    Returns
    -------
    Dossier
        The record in SI units.

    Raises
    ------
    DossierError
        If anything in the folder is wrong; it lists every error with its place.
    """
    dossier, problems = inspect_dossier(folder)
    if dossier is None:
        raise DossierError(str(folder), [p for p in problems if p.severity == "error"])
    return dossier
