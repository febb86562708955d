"""Operating points at which the mains current was read: captures, and rows of the load sweep."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.inputs import Input
from adapterlab.assess.model.rectifier import Rectifier
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.capture_kinds import lacking
from adapterlab.dossier.records import Record
from adapterlab.dossier.schema import Capture
from adapterlab.mains_current import (
    PowerQuality,
    RectifierFit,
    RectifierPath,
    fit_rectifier,
    power_quality,
)
from adapterlab.numerics.mains import Mains
from adapterlab.uncertainty import Estimate

SECTION = "mains_current"
# A phase is made a delay at this frequency. [Hz]
_NOMINAL = 50.0
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


@dataclass(frozen=True)
class SweepRow:
    """One point of the load sweep, as the mains side sees it.

    Attributes
    ----------
    mains_voltage, input_power : Value
        [V], [W]
    mains_frequency : float
        [Hz]
    current, power_factor : Value or None
        Mains current [A] and power factor [1]; None where no current was read.
    origin : str
        Where it stands in the dossier.
    port, mode : str
        What is loaded.
    load_current : float
        Current of the load. [A]
    alone : bool
        Whether no other port is loaded.
    """

    mains_voltage: Value
    input_power: Value
    mains_frequency: float
    current: Value | None
    power_factor: Value | None
    origin: str
    port: str
    mode: str
    load_current: float
    alone: bool

    @property
    def readings(self) -> dict[str, Value]:
        """What of the current was read, by name."""
        if self.current is None or self.power_factor is None:
            return {}
        return {"input_current_rms": self.current, "power_factor": self.power_factor}


def _power_factor(volts: Value, current: Value, power: Value) -> Value:
    """Real over apparent power, the three meters independent."""
    factor = power.value / (volts.value * current.value)
    relative = np.hypot.reduce(
        [item.standard_uncertainty / item.value for item in (volts, current, power)]
    )
    assumed = any(item.accuracy_assumed for item in (volts, current, power))
    return Value(min(factor, 1.0), float(factor * relative), "", accuracy_assumed=assumed)


def sweep_rows(specimen: Specimen) -> list[SweepRow]:
    """Every point of the sweep whose mains voltage, frequency and power are noted."""
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
        current = None
        if float(first["mains_current"]) > 0:
            current = specimen.reading("mains current", float(first["mains_current"]), "A")
        found.append(
            SweepRow(
                volts,
                power,
                hertz.value,
                current,
                _power_factor(volts, current, power) if current is not None else None,
                f"load_sweep.csv, point {number}",
                str(first["port"]),
                str(first["mode"]),
                float(first["output_current"]),
                len(rows) == 1,
            )
        )
    return found


def matching(capture: Capture, rows: list[SweepRow]) -> SweepRow | None:
    """The row of the sweep at the load and mains of a capture; None if there is none."""
    if capture.load_current is None or capture.mains_voltage is None:
        return None
    for row in rows:
        if (
            row.alone
            and (row.port, row.mode) == (capture.port, capture.mode)
            and abs(row.load_current - capture.load_current) <= _SAME_LOAD * capture.load_current
            and abs(row.mains_voltage.value / capture.mains_voltage - 1) < _SAME_MAINS
        ):
            return row
    return None


def capture_value(
    specimen: Specimen, quantity: str, value: float, unit: str, spread: float | None = None
) -> Value:
    """A figure of a capture; its accuracy counts as assumed where its channel is not listed.

    `spread` is its standard uncertainty; the channel's own at that value if not given.
    """
    read = specimen.reading(f"capture {quantity}", value, unit)
    return read if spread is None else replace(read, standard_uncertainty=spread)


def channel_gain(specimen: Specimen, quantity: str, values: Floats) -> float:
    """Relative standard uncertainty of a channel near the peak it shows."""
    top = float(np.abs(values).max())
    return capture_value(specimen, quantity, top, "").standard_uncertainty / top if top else 0.0


def _of_capture(specimen: Specimen, record: Record, rows: list[SweepRow]) -> Point:
    """The point of one capture; raises if it cannot be used."""
    volts, current = record.channel("voltage"), record.channel("current")
    if volts is None or current is None:
        raise ValueError(f"it needs {lacking(record.capture)}")
    lag = np.radians(specimen.allowance("capture.phase").deviation)
    quality = power_quality(
        record.time,
        volts,
        current,
        voltage_gain_uncertainty=channel_gain(specimen, "voltage", volts),
        current_gain_uncertainty=channel_gain(specimen, "current", current),
        delay_uncertainty=float(lag) / (2 * np.pi * _NOMINAL),
        flatness_uncertainty=specimen.allowance("capture.flatness").deviation,
    )
    row = matching(record.capture, rows)
    spread = quality.standard_uncertainty
    units = {
        "input_current_rms": "A",
        "input_current_peak": "A",
        "power_factor": "",
        "total_harmonic_distortion": "%",
    }
    readings = {
        name: capture_value(specimen, "current", getattr(quality, name), unit, spread[name])
        for name, unit in units.items()
    }
    origins = dict.fromkeys(readings, record.capture.file)
    mains = capture_value(specimen, "voltage", quality.mains_voltage, "V", spread["mains_voltage"])
    power = capture_value(specimen, "current", quality.input_power, "W", spread["input_power"])
    notes = list(quality.corrections)
    own = (power, mains)
    if row is not None:
        repeat = specimen.allowance("mains.repeat")
        mains, power = _repeated(row.mains_voltage, repeat), _repeated(row.input_power, repeat)
        readings |= row.readings
        origins |= dict.fromkeys(row.readings, row.origin)
        notes.append(
            f"power and voltage are those of {row.origin}; by its own channels the capture has "
            f"{own[0]} and {own[1]}"
        )
    else:
        notes.append("power and voltage are the capture's own")
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
        note=sentence_of(notes),
    )


def sentence_of(notes: Sequence[str]) -> str:
    """Notes as one sentence that begins with a capital; empty without any."""
    text = "; ".join(notes)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _repeated(value: Value, repeat: Input) -> Value:
    """A reading of the sweep, for a capture that was taken at another time."""
    again = value.value * repeat.deviation
    return replace(value, standard_uncertainty=float(np.hypot(value.standard_uncertainty, again)))


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
    rows = sweep_rows(specimen)
    points: list[Point] = []
    aside = []
    for record in specimen.records_of("mains"):
        try:
            points.append(_of_capture(specimen, record, rows))
        except ValueError as error:
            aside.append((record.capture.file, str(error)))
    for row in sorted(rows, key=lambda row: -row.input_power.value):
        volts = row.mains_voltage.value
        if not any(abs(point.mains_voltage.value / volts - 1) < _SAME_MAINS for point in points):
            points.append(_of_sweep(row))
    points.sort(key=lambda point: -point.mains_voltage.value)
    sweep = tuple(
        (
            row.mains_voltage.value,
            row.input_power.value,
            row.power_factor.value,
            row.power_factor.standard_uncertainty,
        )
        for row in rows
        if row.power_factor is not None
    )
    return points, sweep, aside


def _of_sweep(row: SweepRow) -> Point:
    """The point of a row of the sweep without a capture."""
    volts, nothing = row.mains_voltage.value, np.zeros(0)
    return Point(
        f"{volts:.0f} V, {row.input_power.value:.0f} W",
        row.mains_voltage,
        row.input_power,
        row.mains_frequency,
        row.readings,
        dict.fromkeys(row.readings, row.origin),
        "",
        nothing,
        nothing,
        None,
        "",
    )


def implied(specimen: Specimen, point: Point, rectifier: Rectifier) -> RectifierFit:
    """Bulk capacitance and series resistance behind a point's capture.

    Raises
    ------
    ValueError
        If no rectifier explains the capture.
    """
    middle = rectifier.running(rectifier.middle())
    draws = rectifier.draws(64)
    known = {
        name: Estimate(float(middle[name]), float(np.std(np.broadcast_to(draws[name], 64), ddof=1)))
        for name in ("source_inductance", "bulk_esr", "bridge_drop", "bridge_resistance")
    }
    path = RectifierPath(
        Mains(point.mains_voltage.value, point.mains_frequency),
        Estimate(point.input_power.value, point.input_power.standard_uncertainty),
        point.mains_voltage.standard_uncertainty,
        **known,
    )
    gain = channel_gain(specimen, "current", point.current)
    return fit_rectifier(point.time, point.current, path, gain_uncertainty=gain)
