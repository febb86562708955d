"""What was understood of a dossier's files, in a few lines a person can check."""

import numpy as np

from adapterlab.dossier.reading import Dossier
from adapterlab.dossier.records import Record
from adapterlab.dossier.tables import TABLES


def _span(low: float, high: float, unit: str) -> str:
    return f"{low:.4g} to {high:.4g} {unit}"


def _table_line(dossier: Dossier, name: str) -> str | None:
    frame = getattr(dossier, name)
    if frame.empty:
        return None
    filled = [
        column
        for column, kind in TABLES[name].items()
        if (frame[column].notna().any() if kind.unit else (frame[column] != "").any())
    ]
    files = ", ".join(dict.fromkeys(frame["file"]))
    rows = f"{len(frame)} row{'s' if len(frame) != 1 else ''}"
    return f"{files}: {rows}; understood {', '.join(filled)}"


def _sweep_line(dossier: Dossier) -> str | None:
    sweep = dossier.load_sweep
    if sweep.empty:
        return None
    modes = dict.fromkeys(zip(sweep["port"], sweep["mode"], strict=True))
    mains = sorted({5 * round(volts / 5) for volts in sweep["mains_voltage"]})
    return (
        f"  {sweep['point'].nunique()} points on {' and '.join(f'{v:.0f} V' for v in mains)}, "
        f"{len(modes)} port and mode pair{'s' if len(modes) != 1 else ''}, output current "
        + _span(sweep["output_current"].min(), sweep["output_current"].max(), "A")
    )


def _record_line(record: Record) -> str:
    steps = np.diff(record.time)
    even = "even" if np.ptp(steps) < 0.01 * steps.mean() else "uneven"
    channels = "; ".join(
        f"{entry.name or entry.quantity} "
        + _span(values.min(), values.max(), "V" if entry.quantity == "voltage" else "A")
        for entry, values in zip(record.capture.channels, record.channels, strict=True)
    )
    return (
        f"{record.capture.file}: {record.capture.kind}, {len(record.time)} samples from "
        f"{_span(record.time[0], record.time[-1], 's')}, {even} steps of {np.median(steps):.3g} s; "
        f"{channels}"
    )


def understood(dossier: Dossier) -> list[str]:
    """What was read, line by line.

    Parameters
    ----------
    dossier : Dossier
        The record.

    Returns
    -------
    list of str
        One line for each file, with rows, columns and ranges in SI units.
    """
    lines = []
    for name in TABLES:
        lines.append(_table_line(dossier, name))
        if name == "load_sweep":
            lines.append(_sweep_line(dossier))
    lines += [_record_line(record) for record in dossier.records]
    return [line for line in lines if line]
