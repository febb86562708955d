"""The uncertainty of a reading from the instruments a dossier lists."""

from collections.abc import Sequence

import numpy as np

from adapterlab.assess.report.finding import Value
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
    meter = meter_for(dossier.adapter.instruments_for(measures), value)
    return Value(float(value), 0.0, unit) if meter is None else reading_with(meter, value, unit)


def meter_for(meters: Sequence[Instrument], value: float) -> Instrument | None:
    """The meter whose range fits a reading best: the smallest that holds it, else the largest."""
    if not meters:
        return None
    fitting = [meter for meter in meters if meter.full_scale == 0 or abs(value) <= meter.full_scale]
    if fitting:
        return min(fitting, key=lambda meter: meter.full_scale or np.inf)
    return max(meters, key=lambda meter: meter.full_scale)


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
