"""Operating points at which the mains current was read: captures, and rows of the load sweep."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.rectifier import Rectifier, allowance
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.capture_kinds import lacking
from adapterlab.dossier.records import Record
from adapterlab.dossier.schema import Capture
from adapterlab.mains_current import PowerQuality, RectifierFit, fit_rectifier, power_quality

Floats = NDArray[np.float64]
_SAME_MAINS, _SAME_LOAD = 0.02, 0.02


@dataclass(frozen=True)
class Point:
    """One operating point.

    Attributes
    ----------
    label : str
        Such as ``230 V, 66 W``.
    mains_voltage, input_power : Value
        [V], [W]
    mains_frequency : float
        [Hz]
    readings : dict of str to Value
        Some of ``input_current_rms`` [A], ``input_current_peak`` [A], ``power_factor`` [1],
        ``total_harmonic_distortion`` [1].
    origins : dict of str to str
        Where each of them stands in the dossier.
    file : str
        The capture; empty for a point of the sweep alone.
    time, current : numpy.ndarray
        Time from a rising zero of the mains on [s], and current [A]; empty without a capture.
    quality : PowerQuality or None
        What the capture amounts to.
    note : str
        What had to be corrected or assumed.
    """

    label: str
    mains_voltage: Value
    input_power: Value
    mains_frequency: float
    readings: dict[str, Value]
    origins: dict[str, str]
    file: str
    time: Floats
    current: Floats
    quality: PowerQuality | None
    note: str


def _sweep_rows(specimen: Specimen) -> list[dict[str, Any]]:
    """One row for each point of the sweep whose mains voltage, frequency and power are noted."""
    found = []
    for number, rows in specimen.load_sweep.groupby("point", sort=False):
        first = rows.iloc[0]
        needed = [float(first[key]) for key in ("mains_voltage", "mains_frequency", "input_power")]
        if not np.isfinite(needed).all() or min(needed) <= 0:
            continue
        names = (("mains voltage", "V"), ("mains frequency", "Hz"), ("input power", "W"))
        volts, hertz, power = (
            specimen.reading(name, value, unit)
            for (name, unit), value in zip(names, needed, strict=True)
        )
        readings = {}
        if float(first["mains_current"]) > 0:
            current = specimen.reading("mains current", float(first["mains_current"]), "A")
            factor = power.value / (volts.value * current.value)
            relative = np.sqrt(
                sum((v.standard_uncertainty / v.value) ** 2 for v in (volts, current, power))
            )
            readings = {
                "input_current_rms": current,
                "power_factor": Value(min(factor, 1.0), float(factor * relative), ""),
            }
        found.append(
            {
                "volts": volts,
                "hertz": hertz.value,
                "power": power,
                "readings": readings,
                "origin": f"load_sweep.csv, point {number}",
                "port": str(first["port"]),
                "mode": str(first["mode"]),
                "load": float(first["output_current"]),
                "single": len(rows) == 1,
            }
        )
    return found


def _matching(capture: Capture, rows: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The row of the sweep at the load and mains of a capture."""
    if capture.load_current is None or capture.mains_voltage is None:
        return None
    for row in rows:
        if (
            row["single"]
            and (row["port"], row["mode"]) == (capture.port, capture.mode)
            and abs(row["load"] - capture.load_current) <= _SAME_LOAD * capture.load_current
            and abs(row["volts"].value / capture.mains_voltage - 1) < _SAME_MAINS
        ):
            return row
    return None


def _channel_gain(specimen: Specimen, quantity: str, values: Floats) -> float:
    """Relative standard uncertainty of a channel near the peak it shows."""
    top = float(np.abs(values).max())
    if top == 0:
        return 0.0
    return specimen.reading(f"capture {quantity}", top, "").standard_uncertainty / top


def _of_capture(specimen: Specimen, record: Record, rows: list[dict[str, Any]]) -> Point:
    """The point of one capture; raises if it cannot be used."""
    volts, current = record.channel("voltage"), record.channel("current")
    if volts is None or current is None:
        raise ValueError(f"it needs {lacking(record.capture)}")
    gain = _channel_gain(specimen, "current", current)
    quality = power_quality(
        record.time,
        volts,
        current,
        voltage_gain_uncertainty=_channel_gain(specimen, "voltage", volts),
        current_gain_uncertainty=gain,
    )
    row = _matching(record.capture, rows)
    spread = quality.standard_uncertainty
    readings = {
        "input_current_rms": Value(quality.input_current_rms, spread["input_current_rms"], "A"),
        "input_current_peak": Value(quality.input_current_peak, spread["input_current_peak"], "A"),
        "power_factor": Value(quality.power_factor, spread["power_factor"], ""),
        "total_harmonic_distortion": Value(
            quality.total_harmonic_distortion, spread["total_harmonic_distortion"], "%"
        ),
    }
    origins = dict.fromkeys(readings, record.capture.file)
    mains = Value(quality.mains_voltage, spread["mains_voltage"], "V")
    power = Value(quality.input_power, spread["input_power"], "W")
    notes = list(quality.corrections)
    if row is not None:
        mains, power = _repeated(row["volts"]), _repeated(row["power"])
        readings |= row["readings"]
        origins |= dict.fromkeys(row["readings"], row["origin"])
    else:
        notes.append("power and voltage are the capture's own")
    if quality.voltage_distortion > 0.03:
        notes.append(
            f"the mains has {quality.voltage_distortion:.1%} harmonics; the prediction takes a sine"
        )
    return Point(
        label=f"{mains.value:.0f} V, {power.value:.0f} W",
        mains_voltage=mains,
        input_power=power,
        mains_frequency=quality.mains_frequency,
        readings=readings,
        origins=origins,
        file=record.capture.file,
        time=record.time - quality.rising_zero,
        current=_forward(current - quality.current_offset, volts),
        quality=quality,
        note="; ".join(notes).capitalize(),
    )


def _repeated(value: Value) -> Value:
    """A reading of the sweep, for a capture that was taken at another time."""
    again = value.value * float(allowance("repeat").std())
    return Value(value.value, float(np.hypot(value.standard_uncertainty, again)), value.unit)


def _forward(current: Floats, volts: Floats) -> Floats:
    """The current in the direction in which it takes power."""
    return current if float((current * volts).sum()) >= 0 else -current


def points_of(
    specimen: Specimen,
) -> tuple[list[Point], tuple[tuple[float, float, float, float], ...], list[tuple[str, str]]]:
    """Operating points of a dossier.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    tuple
        The points; mains voltage, input power, power factor and its uncertainty of every row of
        the sweep; and the captures set aside, each with the reason.
    """
    rows = _sweep_rows(specimen)
    points: list[Point] = []
    aside = []
    for record in specimen.records_of("mains"):
        try:
            points.append(_of_capture(specimen, record, rows))
        except ValueError as error:
            aside.append((record.capture.file, str(error)))
    nothing = np.zeros(0)
    for row in sorted(rows, key=lambda row: -row["power"].value):
        volts = row["volts"].value
        if any(abs(point.mains_voltage.value / volts - 1) < _SAME_MAINS for point in points):
            continue
        points.append(
            Point(
                f"{volts:.0f} V, {row['power'].value:.0f} W",
                row["volts"],
                row["power"],
                row["hertz"],
                row["readings"],
                dict.fromkeys(row["readings"], row["origin"]),
                "",
                nothing,
                nothing,
                None,
                "",
            )
        )
    points.sort(key=lambda point: -point.mains_voltage.value)
    sweep = tuple(
        (
            row["volts"].value,
            row["power"].value,
            row["readings"]["power_factor"].value,
            row["readings"]["power_factor"].standard_uncertainty,
        )
        for row in rows
        if row["readings"]
    )
    return points, sweep, aside


def implied(specimen: Specimen, point: Point, rectifier: Rectifier) -> RectifierFit:
    """Bulk capacitance and series resistance behind a point's capture.

    Raises
    ------
    ValueError
        If no rectifier explains the capture.
    """
    drawn, middle = rectifier.draws(64), rectifier.middle()
    spread = {
        name: float(np.std(np.broadcast_to(drawn[name], 64), ddof=1))
        for name in ("source_inductance", "bulk_esr", "bridge_drop", "bridge_resistance")
    }
    return fit_rectifier(
        point.time,
        point.current,
        point.mains_voltage.value,
        point.mains_frequency,
        point.input_power.value,
        0.0,
        middle["source_inductance"],
        middle["bulk_esr"],
        middle["bridge_drop"],
        middle["bridge_resistance"],
        gain_uncertainty=_channel_gain(specimen, "current", point.current),
        mains_voltage_uncertainty=point.mains_voltage.standard_uncertainty,
        input_power_uncertainty=point.input_power.standard_uncertainty,
        source_inductance_uncertainty=spread["source_inductance"],
        bulk_esr_uncertainty=spread["bulk_esr"],
        drop_uncertainty=spread["bridge_drop"],
        bridge_resistance_uncertainty=spread["bridge_resistance"],
    )
