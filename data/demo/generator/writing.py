"""Texts of a dossier: tables, captures, and the filled-in adapter file."""

import json
import re
import shutil
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

DEMO = Path(__file__).resolve().parent.parent
TEMPLATES = Path(__file__).resolve().parent / "templates"
_SLOT = re.compile(r"@(\w+)\(([^)@]*)\)@")


def empty_folder(name: str) -> Path:
    """The dossier's folder, emptied."""
    folder = DEMO / name
    if folder.exists():
        shutil.rmtree(folder)
    (folder / "captures").mkdir(parents=True)
    return folder


def fill(name: str, functions: Mapping[str, Callable[[str], str]]) -> str:
    """Template of an adapter file with the shared bench put in and every slot filled.

    Parameters
    ----------
    name : str
        Adapter.
    functions : mapping
        What each slot ``@function(argument)@`` becomes.

    Returns
    -------
    str
        The file.
    """
    text = (TEMPLATES / f"{name}.toml").read_text(encoding="utf-8")
    text = text.replace("@bench@\n", (TEMPLATES / "bench.toml").read_text(encoding="utf-8"))
    return _SLOT.sub(lambda slot: functions[slot[1]](slot[2]), text)


def write_text(path: Path, text: str, line_end: str = "\n") -> None:
    """Write a text with the line ends given."""
    path.write_bytes(text.replace("\n", line_end).encode())


def write_table(
    path: Path,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    separator: str = ",",
    comment: str = "",
    line_end: str = "\n",
) -> None:
    """Write a typed-in table; with a semicolon the numbers get a decimal comma."""
    lines = [f"# {comment}"] if comment else []
    lines += [separator.join(columns)]
    for row in rows:
        cells = [_decimal_comma(cell) if separator == ";" else cell for cell in row]
        lines.append(separator.join(cells))
    write_text(path, "\n".join(lines) + "\n", line_end)


def _decimal_comma(cell: str) -> str:
    return cell.replace(".", ",") if re.fullmatch(r"[-+]?\d+\.\d+(e[-+]?\d+)?", cell) else cell


def write_capture(
    path: Path,
    start: float,
    interval: float,
    channels: Sequence[np.ndarray],
    spans: Sequence[float],
    rng: np.random.Generator,
    bits: int = 10,
    noise: float = 0.7,
    separator: str = ",",
    line_end: str = "\n",
) -> None:
    """Write an oscilloscope record of volts at the channels.

    Parameters
    ----------
    path : pathlib.Path
        File.
    start, interval : float
        First time and sampling interval. [s]
    channels : sequence of numpy.ndarray
        Volts at each input, shape (n,) each.
    spans : sequence of float
        Peak-to-peak range of each input. [V]
    rng : numpy.random.Generator
        Source of the noise.
    bits, noise : int, float
        Converter's bits, and standard deviation of its noise in its smallest steps.
    separator, line_end : str
        Dialect.
    """
    steps = [span / 2**bits for span in spans]
    codes = [
        np.clip(
            np.round(channel / step + noise * rng.standard_normal(len(channel))),
            -(2 ** (bits - 1)),
            2 ** (bits - 1) - 1,
        )
        for channel, step in zip(channels, steps, strict=True)
    ]
    columns = ["time"] + [f"CH{index + 1}" for index in range(len(channels))]
    lines = [
        f"# sample interval{separator}{interval:g}",
        f"# samples{separator}{len(channels[0])}",
        f"# vertical bits{separator}{bits}",
        separator.join(columns),
        separator.join(["s"] + ["V"] * len(channels)),
    ]
    for index in range(len(channels[0])):
        cells = [f"{start + index * interval:.8g}"] + [
            f"{code[index] * step + 0.0:.5g}" for code, step in zip(codes, steps, strict=True)
        ]
        if separator == ";":
            cells = [cell.replace(".", ",") for cell in cells]
        lines.append(separator.join(cells))
    write_text(path, "\n".join(lines) + "\n", line_end)


def _tidy(value: Any) -> Any:
    if isinstance(value, float | np.floating):
        return float(f"{value:.6g}")
    if isinstance(value, Mapping):
        return {key: _tidy(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_tidy(item) for item in value]
    return value


def write_truth(name: str, truth: Mapping[str, Any]) -> None:
    """Record what is true of an adapter, floats to six figures."""
    folder = DEMO / "truth"
    folder.mkdir(exist_ok=True)
    write_text(folder / f"{name}.json", json.dumps(_tidy(truth), indent=2) + "\n")
