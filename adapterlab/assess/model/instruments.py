"""The uncertainty of a reading from the instruments a dossier lists."""

from collections.abc import Sequence
from typing import Any, cast

import numpy as np

from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Instrument
from adapterlab.uncertainty import reading_uncertainty


def usual_meter(measures: str) -> Instrument:
    """A usual instrument for a quantity, as the table of allowances has it.

    Parameters
    ----------
    measures : str
        Quantity, as in ``[[instruments]]``.

    Returns
    -------
    Instrument
        With its limit of error as a share of the reading, or as a share of a range.

    Raises
    ------
    ValueError
        If the table has no row ``meter.<quantity>``.
    """
    limit = allowance(f"meter.{measures}")
    most = limit.ends[1]
    of_reading = limit.unit == "%"
    return Instrument.model_construct(
        name="not listed",
        measures=cast(Any, measures),
        fraction_of_reading=most if of_reading else 0.0,
        fraction_of_full_scale=0.0 if of_reading else 1.0,
        full_scale=0.0 if of_reading else most,
    )


def meter_for(meters: Sequence[Instrument], value: float) -> Instrument:
    """The meter whose range fits a reading best: the smallest that holds it, else the largest."""
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
