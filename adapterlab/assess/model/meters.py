"""Readings of a load sweep with the kinds of error their meters may have.

What a meter does to every reading alike (a share of the reading, a share of its range) is kept
apart from rounding, which differs from reading to reading: the one cancels in a difference on the
same meters, the other does not.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.instruments import meter_for
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.efficiency import average_efficiency_uncertainty
from adapterlab.uncertainty import reading_uncertainty


@dataclass(frozen=True)
class Reading:
    """A reading and what its meter may do to it.

    Attributes
    ----------
    value : float
        As written down. [its unit]
    gain, offset : float
        Standard uncertainty from the share of the reading and from the share of the range; both
        stay the same as long as the meter does. [same unit]
    rounding : float
        Standard uncertainty from the last digit. [same unit]
    """

    value: float
    gain: float
    offset: float
    rounding: float

    @property
    def constant(self) -> NDArray[np.float64]:
        """Gain and offset. [same unit], shape (2,)."""
        return np.array([self.gain, self.offset])


@dataclass(frozen=True)
class Measured:
    """A number from the load sweep with the origin of its uncertainty.

    Attributes
    ----------
    value : float
        Best estimate. [unit of the number]
    shared : numpy.ndarray
        What gain and offset (rows) of the meters for input power, output voltage and output
        current (columns) do to it, with sign, as standard uncertainties. [same unit], shape (2, 3)
    independent : float
        Standard uncertainty from rounding, which differs from reading to reading. [same unit]
    """

    value: float
    shared: NDArray[np.float64]
    independent: float

    @property
    def standard_uncertainty(self) -> float:
        """All parts together, gain and offset of one meter at their worst. [same unit]."""
        meters = np.abs(self.shared).sum(axis=0)
        return average_efficiency_uncertainty(meters[:, None], [self.independent])

    @property
    def directions(self) -> NDArray[np.float64]:
        """Gain and offset of each meter together, and against each other. [same unit], shape (6,).

        Each in full: a curve through readings must not be known better than the readings.
        """
        gain, offset = self.shared
        return np.concatenate([gain + offset, gain - offset])

    def shown(self, unit: str) -> Value:
        """As findings show it."""
        return Value(self.value, self.standard_uncertainty, unit)

    def __sub__(self, other: "Measured") -> "Measured":
        """Difference, in which what the same meters do to both cancels."""
        return Measured(
            self.value - other.value,
            self.shared - other.shared,
            float(np.hypot(self.independent, other.independent)),
        )


def readings(specimen: Specimen, measures: str, values: Sequence[float]) -> list[Reading]:
    """Readings of one quantity with the kinds of their uncertainty."""
    listed = specimen.adapter.instruments_for(measures)
    if not listed:
        return [Reading(float(value), 0.0, 0.0, 0.0) for value in values]
    found = [meter_for(listed, value) for value in values]
    share = [meter.fraction_of_reading for meter in found]
    reach = [meter.fraction_of_full_scale for meter in found]
    scale = [meter.full_scale for meter in found]
    step = [meter.resolution for meter in found]
    gain = reading_uncertainty(values, share, 0.0, 0.0)
    constant = reading_uncertainty(values, share, reach, scale)
    rounding = reading_uncertainty(values, 0.0, 0.0, 0.0, step)
    return [
        Reading(float(value), *kinds)
        for value, *kinds in zip(
            values, gain.tolist(), (constant - gain).tolist(), rounding.tolist(), strict=True
        )
    ]


# Quantity and value -> reading with its kinds of uncertainty.
Reader = Callable[[str, float], Reading]


def reader_of(specimen: Specimen) -> Reader:
    """A function that splits the uncertainty of a reading into its kinds."""
    return lambda measures, value: readings(specimen, measures, [value])[0]
