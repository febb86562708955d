"""Readings that can be read but can hardly be true, and blanks that cost a verdict: no errors."""

from collections.abc import Iterator
from typing import Any

import pandas as pd

from adapterlab.dossier.fields import PART_UNITS
from adapterlab.dossier.locate import line_of
from adapterlab.dossier.problems import Problem
from adapterlab.dossier.schema import Adapter

# Meters are not perfect: only an excess beyond this share is remarked on.
_MARGIN = 1.02
# Column of a table -> the meter that reads it, and its SI unit.
_READ_BY = {
    "load_sweep": {
        "mains_voltage": ("mains voltage", "V"),
        "mains_current": ("mains current", "A"),
        "input_power": ("input power", "W"),
        "output_voltage": ("output voltage", "V"),
        "output_current": ("output current", "A"),
        "ripple_pp": ("ripple", "V"),
        "case_temperature": ("temperature", "°C"),
    },
    "no_load": {"mains_voltage": ("mains voltage", "V"), "power": ("no-load power", "W")},
    "touch_current": {
        "mains_voltage": ("mains voltage", "V"),
        "touch_current": ("touch current", "A"),
    },
    "temperatures": {"temperature": ("temperature", "°C")},
}


def _warn(file: str, line: Any, column: str, message: str) -> Problem:
    return Problem("warning", file, message, int(line) if line is not None else None, column)


def _point_of_sweep(adapter: Adapter, point: Any, rows: list[Any]) -> Iterator[Problem]:
    """Power of one operating point, whose rows may be several ports."""
    first = rows[0]
    file, line = str(first.file), first.line
    for column in ("mains_voltage", "mains_frequency", "mains_current", "input_power"):
        values = {getattr(row, column) for row in rows}
        if len({value for value in values if not pd.isna(value)}) > 1:
            yield _warn(
                file,
                rows[1].line,
                column,
                f"differs between the rows of point {point}; the first is used",
            )
    delivered = [row.output_voltage * row.output_current for row in rows]
    output = sum(value for value in delivered if not pd.isna(value))
    power = float(first.input_power)
    if power > 0 and output > power:
        yield _warn(
            file,
            line,
            "input_power",
            f"output {output:.3g} W is above input {power:.3g} W: efficiency over 1",
        )
    apparent = float(first.mains_voltage * first.mains_current)
    if apparent > 0 and power > apparent * _MARGIN:
        yield _warn(
            file,
            line,
            "input_power",
            f"power {power:.3g} W is above volts times amperes, {apparent:.3g} VA",
        )
    if output > 1.2 * adapter.nameplate.rated_power:
        yield _warn(
            file,
            line,
            "output_current",
            f"output {output:.3g} W is far above the rated power",
        )


def _load_sweep(adapter: Adapter, sweep: pd.DataFrame) -> Iterator[Problem]:
    table = list(sweep.itertuples())
    points: dict[Any, list[Any]] = {}
    for row in table:
        points.setdefault(row.point, []).append(row)
    for point, rows in points.items():
        yield from _point_of_sweep(adapter, point, rows)
    for row in table:
        mode = adapter.mode(str(row.port), str(row.mode))
        if adapter.ports and mode is None:
            yield _warn(
                str(row.file),
                row.line,
                "mode",
                f"port {row.port!r} has no mode {row.mode!r} on the nameplate",
            )
        elif mode is not None and row.output_current > 1.2 * mode.current:
            yield _warn(
                str(row.file),
                row.line,
                "output_current",
                f"{row.output_current:.3g} A is far above the rated {mode.current:.3g} A",
            )
        elif mode is not None and mode.voltage and row.output_voltage > 1.2 * mode.voltage:
            yield _warn(
                str(row.file),
                row.line,
                "output_voltage",
                f"{row.output_voltage:.3g} V is far above {mode.voltage:.3g} V",
            )


def _listed_twice(adapter: Adapter, text: str) -> Iterator[Problem]:
    """Parts under one reference, each with its line and its value."""
    places: dict[str, list[tuple[int | None, str]]] = {}
    for index, part in enumerate(adapter.parts):
        line = line_of(text, ("parts", index, "reference")) if text else None
        unit = PART_UNITS.get(part.kind, "")
        value = "no value" if part.value is None else f"{part.value:g} {unit}"
        shown = f"{part.kind}, {value}{', marked ' + repr(part.marked) if part.marked else ''}"
        places.setdefault(part.reference, []).append((line, shown))
    for reference, several in sorted(places.items()):
        if len(several) > 1:
            said = "; ".join(
                f"line {line}: {shown}" if line is not None else shown for line, shown in several
            )
            message = f"reference {reference!r} is used more than once ({said}); the first counts"
            yield _warn("adapter.toml", several[1][0], "parts", message)


def _cross_references(adapter: Adapter, text: str) -> Iterator[Problem]:
    file = "adapter.toml"
    references = [part.reference for part in adapter.parts]
    yield from _listed_twice(adapter, text)
    for capacitor in adapter.capacitors:
        if capacitor.part not in references:
            yield _warn(file, None, "capacitors", f"part {capacitor.part!r} is not in [[parts]]")
    for combination in adapter.combinations:
        for output in combination.outputs:
            if adapter.mode(output.port, output.mode) is None:
                yield _warn(
                    file, None, "combinations", f"port {output.port!r} has no mode {output.mode!r}"
                )


def _half_stated(adapter: Adapter) -> Iterator[Problem]:
    """Instruments of whose accuracy a part was left blank."""
    for place, meter in enumerate(adapter.instruments, start=1):
        if meter.has_accuracy:
            continue
        yield Problem(
            "gap",
            "adapter.toml",
            f"{meter.name!r} for {meter.measures} does not state its accuracy whole, so no verdict "
            "rests on its readings; write fraction_of_reading and, with full_scale, "
            'fraction_of_full_scale, "0 %" where the manual has no such part',
            None,
            f"instruments.{place}",
        )


def _efficiencies(adapter: Adapter, sweep: pd.DataFrame, text: str) -> Iterator[Problem]:
    """Converters that would draw more from the bulk capacitor than the mains gave at full load.

    The most efficient of those that feed a port is taken, so that no blank can make a warning.
    """
    points: dict[str, list[Any]] = {}
    for row in sweep.itertuples():
        points.setdefault(row.point, []).append(row)

    def delivered(rows: list[Any]) -> float:
        return float(sum(row.output_voltage * row.output_current for row in rows))

    rows = max(points.values(), key=delivered, default=[])
    drawn, worst = 0.0, (1.0, 0)
    for row in rows:
        feeding = [
            (converter.efficiency or 1.0, index, converter.rectifier_drop or 0.0)
            for index, converter in enumerate(adapter.construction.converters)
            if not converter.ports or row.port in converter.ports
        ]
        best, index, drop = max(feeding, default=(1.0, 0, 0.0))
        drawn += (row.output_voltage + drop) * row.output_current / best
        worst = min(worst, (best, index))
    # More out than in is said of the readings themselves.
    if rows and delivered(rows) <= rows[0].input_power < drawn and worst[0] < 1:
        line = line_of(text, ("construction", "converters", worst[1], "efficiency"))
        where = f"adapter.toml, line {line}" if line else "adapter.toml"
        yield _warn(
            str(rows[0].file),
            rows[0].line,
            "input_power",
            f"{rows[0].input_power:.4g} W from the mains, but converters of {worst[0]:.3g} "
            f"efficiency ({where}, construction.converters) would draw {drawn:.4g} W from the "
            "bulk capacitor alone",
        )


def _beyond_the_meter(adapter: Adapter, name: str, table: pd.DataFrame) -> Iterator[Problem]:
    """Readings that no listed range of their meter could show."""
    for column, (quantity, unit) in _READ_BY[name].items():
        meters = adapter.instruments_for(quantity)
        if not meters or any(meter.full_scale == 0 for meter in meters):
            continue
        widest = max(meters, key=lambda meter: meter.full_scale)
        beyond = table[table[column].abs() > widest.full_scale * _MARGIN]
        for row in beyond.itertuples():
            yield _warn(
                str(row.file),
                row.line,
                column,
                f"{getattr(row, column):.4g} {unit} is above the {widest.full_scale:g} {unit} that "
                f"{widest.name!r} can show ([[instruments]] in adapter.toml, {quantity})",
            )


def implausible(adapter: Adapter, tables: dict[str, pd.DataFrame], text: str = "") -> list[Problem]:
    """Warnings about readings and entries that contradict physics or each other, and gaps.

    Parameters
    ----------
    adapter : Adapter
        The record.
    tables : dict of pandas.DataFrame
        The tables as read, by name.
    text : str, optional
        ``adapter.toml``, so that a warning can point at its lines.

    Returns
    -------
    list of Problem
        One warning for each contradiction, one gap for each instrument whose accuracy is not
        stated whole.
    """
    found = [
        *_cross_references(adapter, text),
        *_half_stated(adapter),
        *_load_sweep(adapter, tables["load_sweep"]),
        *_efficiencies(adapter, tables["load_sweep"], text),
    ]
    for name, table in tables.items():
        found += _beyond_the_meter(adapter, name, table)
    for row in tables["no_load"].itertuples():
        if row.power > 0.1 * adapter.nameplate.rated_power:
            found.append(
                _warn(
                    str(row.file),
                    row.line,
                    "power",
                    f"{row.power:.3g} W without load is far more than usual",
                )
            )
    for row in tables["temperatures"].itertuples():
        if row.temperature < row.ambient:
            found.append(
                _warn(
                    str(row.file),
                    row.line,
                    "temperature",
                    f"{row.temperature:.1f} C is below the ambient",
                )
            )
    return found
