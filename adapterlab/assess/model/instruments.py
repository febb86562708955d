"""The uncertainty of a reading from the instruments a dossier lists."""

from collections.abc import Sequence

import numpy as np

from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Instrument
from adapterlab.uncertainty import reading_uncertainty


def meter_for(meters: Sequence[Instrument], value: float) -> Instrument | None:
    """The meter whose range fits a reading best: the smallest that holds it, else the largest."""
    if not meters:
        return None
    fitting = [meter for meter in meters if meter.full_scale == 0 or abs(value) <= meter.full_scale]
    if fitting:
        return min(fitting, key=lambda meter: meter.full_scale or np.inf)
    return max(meters, key=lambda meter: meter.full_scale)


def reading_with(meter: Instrument, value: float, unit: str) -> Value:
    """A reading with the standard uncertainty of one instrument; in `unit`."""
    spread = reading_uncertainty(
        value,
        meter.fraction_of_reading,
        meter.fraction_of_full_scale,
        meter.full_scale,
        meter.resolution,
    )
    return Value(float(value), float(spread), unit)
