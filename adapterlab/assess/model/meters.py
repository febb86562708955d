"""Readings of a load sweep with the kinds of error their meters may have.

What a meter does to every reading alike (a share of the reading, a share of its range) is kept
apart from what differs from reading to reading: rounding, scatter, and the transfer accuracy where
the dossier states one. `Measured` is a number from such readings, `Apart` the difference of two.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from adapterlab import judgement as rules
from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.instruments import meter_for
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import Value
from adapterlab.efficiency import average_efficiency_uncertainty
from adapterlab.judgement import COVERAGE, Judgement
from adapterlab.uncertainty import coverage_factor, reading_uncertainty

Floats = NDArray[np.float64]
METERS = ("input power", "output voltage", "output current")
_REPEAT = float(allowance("sweep.repeat").distribution.std())


@dataclass(frozen=True)
class Reading:
    """A reading and what its meter may do to it.

    Attributes
    ----------
    value : float
        As written down. [its unit]
    gain, offset : float
        Standard uncertainty from the share of the reading and from the share of the range. [same]
    rounding : float
        Standard uncertainty from the last digit and from scatter beyond it. [same]
    transfer : float or None
        Standard uncertainty from the stated transfer accuracy, the part of gain and offset that
        differs from reading to reading; None if none is stated. [same]
    assumed : str
        What was assumed for its accuracy where no meter is listed, as said aloud.
    """

    value: float
    gain: float
    offset: float
    rounding: float
    transfer: float | None = None
    assumed: str = ""

    def scattered(self, factor: float) -> "Reading":
        """The same with so many times the rounding."""
        return replace(self, rounding=factor * self.rounding)

    def shown(self, unit: str) -> Value:
        """As findings show it."""
        spread = float(np.hypot(self.gain + self.offset, self.rounding))
        return Value(self.value, spread, unit, accuracy_assumed=bool(self.assumed))

    @property
    def constant(self) -> Floats:
        """Gain and offset. [same unit], shape (2,)."""
        return np.array([self.gain, self.offset])

    @property
    def common(self) -> Floats:
        """Gain and offset without the transfer accuracy. [same unit], shape (2,)."""
        whole = self.gain + self.offset
        if self.transfer is None:
            return self.constant
        own = min(self.transfer / whole, 1.0) if whole > 0 else 0.0
        return self.constant * (1 - own)


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
    common : numpy.ndarray
        The same without the transfer accuracies. [same unit], shape (2, 3)
    independent : float
        Standard uncertainty from rounding and scatter, which differ from reading to reading.
        [same unit]
    transfer : float
        Standard uncertainty from the transfer accuracies, which do so too. [same unit]
    stated : tuple of bool
        Of which meters the dossier states the transfer accuracy.
    assumed : str
        What was assumed for meters that are not listed, as said aloud; empty if all are.
    """

    value: float
    shared: Floats
    common: Floats
    independent: float
    transfer: float = 0.0
    stated: tuple[bool, bool, bool] = (False, False, False)
    assumed: str = ""

    @classmethod
    def of(cls, value: float, terms: Iterable[tuple[int, float, Reading]]) -> "Measured":
        """A number from readings: place of the meter in `METERS`, sensitivity and reading."""
        shared, common = np.zeros((2, 3)), np.zeros((2, 3))
        independent, transfer = 0.0, 0.0
        stated = [True, True, True]
        assumed: dict[str, None] = {}
        for meter, slope, reading in terms:
            shared[:, meter] += slope * reading.constant
            common[:, meter] += slope * reading.common
            independent += (slope * reading.rounding) ** 2
            transfer += (slope * (reading.transfer or 0.0)) ** 2
            stated[meter] &= reading.transfer is not None
            assumed |= dict.fromkeys([reading.assumed] if reading.assumed else [])
        one, two, three = stated
        flags = (one, two, three)
        return cls(
            value, shared, common, independent**0.5, transfer**0.5, flags, ", ".join(assumed)
        )

    @classmethod
    def mean(cls, value: float, parts: Sequence["Measured"]) -> "Measured":
        """Mean of numbers that the same meters read, given with its value."""
        count = len(parts)
        one, two, three = (all(flags) for flags in zip(*(p.stated for p in parts), strict=True))
        return cls(
            value,
            np.mean([part.shared for part in parts], axis=0),
            np.mean([part.common for part in parts], axis=0),
            float(np.linalg.norm([part.independent for part in parts])) / count,
            float(np.linalg.norm([part.transfer for part in parts])) / count,
            (one, two, three),
            parts[0].assumed,
        )

    @property
    def standard_uncertainty(self) -> float:
        """All parts together, gain and offset of one meter at their worst. [same unit]."""
        meters = np.abs(self.shared).sum(axis=0)
        return average_efficiency_uncertainty(meters[:, None], [self.independent])

    @property
    def repeat(self) -> float:
        """Standard uncertainty of its coming back when it is set and read anew. [same unit]."""
        return _REPEAT * abs(self.value)

    @property
    def directions(self) -> Floats:
        """Gain and offset of each meter together, and against each other. [same unit], shape (6,).

        Each in full: a curve through readings must not be known better than the readings.
        """
        gain, offset = self.shared
        return np.concatenate([gain + offset, gain - offset])

    def shown(self, unit: str) -> Value:
        """As findings show it."""
        return Value(
            self.value, self.standard_uncertainty, unit, accuracy_assumed=bool(self.assumed)
        )

    def __sub__(self, other: "Measured") -> "Apart":
        """Difference of two numbers that the same meters read."""
        fresh = [self.independent, other.independent, self.transfer, other.transfer]
        fresh += [self.repeat, other.repeat]
        whole = (np.abs(item.shared).sum(axis=0) for item in (self, other))
        return Apart(
            self.value - other.value,
            self.common - other.common,
            np.hypot(*whole),
            float(np.linalg.norm(fresh)),
            tuple(map(min, self.stated, other.stated)),
            self.assumed or other.assumed,
        )


@dataclass(frozen=True)
class Apart:
    """Difference of two numbers that the same meters read.

    No published figure says which share of an accuracy limit is common to two readings: it holds
    gain and offset, which are, but linearity, frequency and power factor too, which may not be. So
    two uncertainties stand side by side, one for errors that are alike in both readings and one
    for errors that are independent; where the dossier states a meter's transfer accuracy, that
    is its independent part and the two agree on it.

    Attributes
    ----------
    value : float
        One less the other. [unit of the numbers]
    alike : numpy.ndarray
        What gain and offset (rows) of each meter (columns) leave of it if they are alike in both.
        [same unit], shape (2, 3)
    alone : numpy.ndarray
        What each meter does to it if its errors are independent. [same unit], shape (3,)
    fresh : float
        Standard uncertainty from what differs in any case: rounding, scatter, transfer
        accuracies, and setting the load anew. [same unit]
    stated : tuple of bool
        Of which meters the dossier states the transfer accuracy.
    assumed : str
        What was assumed for meters that are not listed, as said aloud; empty if all are.
    """

    value: float
    alike: Floats
    alone: Floats
    fresh: float
    stated: tuple[bool, ...]
    assumed: str = ""

    @property
    def if_alike(self) -> float:
        """Standard uncertainty if a meter's errors are alike in both readings. [same unit]."""
        return float(np.hypot(np.linalg.norm(np.abs(self.alike).sum(axis=0)), self.fresh))

    @property
    def if_independent(self) -> float:
        """Standard uncertainty if they are not, but for transfer accuracies stated. [same unit]."""
        meters = np.where(self.stated, np.abs(self.alike).sum(axis=0), self.alone)
        return float(np.hypot(np.linalg.norm(meters), self.fresh))

    @property
    def standard_uncertainty(self) -> float:
        """The larger of the two. [same unit]."""
        return max(self.if_alike, self.if_independent)

    @property
    def judgement(self) -> Judgement:
        """Whether the difference may be spoken of: only if it holds either way."""
        if self.assumed:
            return rules.not_judged(f"not all of its meters are listed ({self.assumed})")
        return rules.difference(self.value, self.if_alike, self.if_independent)

    def doubt(self, unit: str) -> str:
        """How large the difference may be either way, as a sentence for a note."""
        if self.assumed:
            return f"With {self.assumed}."
        if all(self.stated):
            return "What the meters' transfer accuracies leave in common cancels in the difference."
        alike, independent = (spread(value, unit) for value in (self.if_alike, self.if_independent))
        return (
            "Nothing listed says which share of a meter's error is common to two readings: the "
            f"difference is known to ± {alike} if all of it is, to ± {independent} if none is."
        )

    def shown(self, unit: str) -> Value:
        """As findings show it."""
        return Value(
            self.value, self.standard_uncertainty, unit, accuracy_assumed=bool(self.assumed)
        )

    def __sub__(self, other: "Apart") -> "Apart":
        """Difference of two differences."""
        return Apart(
            self.value - other.value,
            self.alike - other.alike,
            np.hypot(self.alone, other.alone),
            float(np.hypot(self.fresh, other.fresh)),
            tuple(map(min, self.stated, other.stated)),
            self.assumed or other.assumed,
        )


def points_apart(value: Value | str) -> str:
    """A difference of efficiencies, as said aloud."""
    return str(value).replace("%", "percentage points")


def spread(standard_uncertainty: float, unit: str) -> str:
    """Half-width of a 95 % interval, as said aloud."""
    half = Value(coverage_factor(COVERAGE) * standard_uncertainty, 0.0, unit)
    text = f"{half.value * 100:.2g} %" if unit == "%" else half.short
    return points_apart(text)


def readings(specimen: Specimen, measures: str, values: Sequence[float]) -> list[Reading]:
    """Readings of one quantity with the kinds of their uncertainty."""
    found = [meter_for(specimen.meters(measures), value) for value in values]
    assumed = "" if specimen.is_metered(measures) else allowance(f"meter.{measures}").said
    share = [meter.fraction_of_reading for meter in found]
    reach = [meter.fraction_of_full_scale for meter in found]
    scale = [meter.full_scale for meter in found]
    gain = reading_uncertainty(values, share, 0.0, 0.0)
    constant = reading_uncertainty(values, share, reach, scale)
    rounding = reading_uncertainty(values, 0.0, 0.0, 0.0, [meter.resolution for meter in found])
    transfer = reading_uncertainty(
        values,
        [meter.transfer_of_reading or 0.0 for meter in found],
        [meter.transfer_of_full_scale or 0.0 for meter in found],
        scale,
    )
    kinds = np.column_stack([gain, constant - gain, rounding, transfer]).tolist()
    return [
        Reading(float(value), g, o, r, part if meter.has_transfer else None, assumed)
        for value, meter, (g, o, r, part) in zip(values, found, kinds, strict=True)
    ]


# Quantity and value -> reading with its kinds of uncertainty.
Reader = Callable[[str, float], Reading]


def reader_of(specimen: Specimen, scatter: float = 1.0) -> Reader:
    """A function that splits the uncertainty of a reading into its kinds.

    `scatter` tells how many times more readings scatter than their last digit makes them.
    """
    return lambda measures, value: readings(specimen, measures, [value])[0].scattered(scatter)
