"""What the captures of events share: their level, their accuracy, how they are called."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.model.instruments import meter_for
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import SECTION
from adapterlab.assess.report.value import Value
from adapterlab.dossier.records import Record
from adapterlab.published import rows

RECOVERY_BAND = float(rows(SECTION, "practice", name="recovery band")[0]["value"])


@dataclass(frozen=True)
class Event:
    """One capture of an event and what was read from it.

    Attributes
    ----------
    record : Record
        As in the dossier.
    result : LoadTransients, Excursion, StartUp or Overcurrent
        What `adapterlab.output_quality` says of it.
    lower : float
        Voltage below which the output counts as gone or low; 0 where it plays no part. [V]
    """

    record: Record
    result: Any
    lower: float


def accuracy_of(specimen: Specimen, measures: str, level: float, change: float, unit: str) -> Value:
    """A difference of two levels on one capture, with the gain error of its instrument.

    The part of the accuracy that is a share of the range is an offset, which cancels.
    """
    meter = meter_for(specimen.meters(measures), level)
    spread = meter.fraction_of_reading / float(np.sqrt(3)) * abs(change)
    return Value(change, spread, unit, accuracy_assumed=not specimen.is_metered(measures))


def asked_voltage(specimen: Specimen, record: Record) -> float:
    """Voltage the port was asked for; where no fixed mode is named, what the record begins with."""
    mode = specimen.adapter.mode(record.capture.port, record.capture.mode)
    if mode is not None and mode.voltage is not None:
        return mode.voltage
    volts = record.channel("voltage")
    if volts is None:
        return 0.0
    return float(max(np.median(volts[: len(volts) // 20 + 1]), np.median(volts[-50:])))


def knows_its_window(specimen: Specimen, record: Record) -> bool:
    """Whether the capture names the fixed mode it was taken in."""
    mode = specimen.adapter.mode(record.capture.port, record.capture.mode)
    return mode is not None and mode.voltage is not None


def channel(record: Record, quantity: str) -> Any:
    """Samples of one quantity, of a capture that lacks nothing."""
    values = record.channel(quantity)
    if values is None:
        raise ValueError(f"the capture must hold a {quantity} channel")
    return values


def interval_of(record: Record) -> float:
    """Time between two samples. [s]."""
    return float(record.time[-1] - record.time[0]) / (len(record.time) - 1)


def named(record: Record) -> str:
    """The output, as said aloud."""
    capture = record.capture
    return f"{capture.port or 'the output'}{' (' + capture.mode + ')' if capture.mode else ''}"


def common(record: Record, figure: str, function: str) -> dict[str, Any]:
    """What all findings of one capture share."""
    return {
        "section": SECTION,
        "origin": record.capture.file,
        "figure": figure,
        "function": f"output_quality.{function}",
    }
