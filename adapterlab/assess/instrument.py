"""The uncertainty of a reading from the instruments a dossier lists."""

import numpy as np

from adapterlab.assess.finding import Value
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import Instrument
from adapterlab.uncertainty import reading_uncertainty


def reading_of(dossier: Dossier, measures: str, value: float, unit: str) -> Value:
    """A reading with the standard uncertainty of the instrument that took it.

    Parameters
    ----------
    dossier : Dossier
        The record, whose ``[[instruments]]`` are looked up.
    measures : str
        Quantity the instrument measures, as in ``[[instruments]]``.
    value : float
        The reading. [unit]
    unit : str
        Unit as shown in findings.

    Returns
    -------
    Value
        With uncertainty 0 if no instrument is listed. Where several ranges of one quantity are
        listed, the smallest that holds the reading is taken.
    """
    meters = dossier.adapter.instruments_for(measures)
    if not meters:
        return Value(float(value), 0.0, unit)
    fitting = [meter for meter in meters if meter.full_scale == 0 or abs(value) <= meter.full_scale]
    ranges = [meter.full_scale or np.inf for meter in (fitting or meters)]
    meter = (fitting or meters)[int(np.argmin(ranges) if fitting else np.argmax(ranges))]
    return reading_with(meter, value, unit)


def reading_with(meter: Instrument, value: float, unit: str) -> Value:
    """A reading with the standard uncertainty of one instrument; parameters as `reading_of`."""
    spread = reading_uncertainty(
        value,
        meter.fraction_of_reading,
        meter.fraction_of_full_scale,
        meter.full_scale,
        meter.resolution,
    )
    return Value(float(value), float(spread), unit)
