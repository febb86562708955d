"""One adapter as all sections see it.

`specimen_of` turns a dossier into a `Specimen` once; from then on the specimen travels, and the
dossier no further. What several sections draw from it stands in the modules beside this one as
functions of the specimen under `once`, so that each is worked out one time for one adapter.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from scipy import stats

from adapterlab.assess.model.inputs import Input, allowance, between, measured
from adapterlab.assess.model.instruments import (
    meter_for,
    reading_with,
    usual_meter,
)
from adapterlab.assess.report.value import Value
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import Instrument, Part

P = ParamSpec("P")
R = TypeVar("R")


class Specimen:
    """An adapter: its record, its readings with their doubt, and its inputs by name.

    Attributes
    ----------
    name, folder, adapter, problems
        As in `adapterlab.dossier.Dossier`.
    load_sweep, no_load, touch_current, temperatures : pandas.DataFrame
        The tables of readings.
    """

    def __init__(self, dossier: Dossier) -> None:
        self.name = dossier.name
        self.folder = dossier.folder
        self.adapter = dossier.adapter
        self.problems = dossier.problems
        self.load_sweep = dossier.load_sweep
        self.no_load = dossier.no_load
        self.touch_current = dossier.touch_current
        self.temperatures = dossier.temperatures
        self._known: dict[Any, Any] = {}
        self._records_of = dossier.records_of

    def records_of(self, kind: str) -> list[Any]:
        """Captures of one kind."""
        return self._records_of(kind)

    def recall(self, key: Any, work_out: Callable[[], R]) -> R:
        """What was worked out under a key before, or is now."""
        if key not in self._known:
            self._known[key] = work_out()
        found: R = self._known[key]
        return found

    def reading(self, measures: str, value: float, unit: str) -> Value:
        """A reading with the standard uncertainty of the instrument that took it.

        Parameters
        ----------
        measures : str
            Quantity, as in ``[[instruments]]``.
        value : float
            The reading. [unit]
        unit : str
            Unit as shown in findings.

        Returns
        -------
        Value
            Where several ranges of one quantity are listed, the smallest that holds the reading
            is taken. Where no instrument with its accuracy is listed, a usual one is assumed, and
            the value says so.
        """
        meter = meter_for(self.meters(measures), value)
        read = reading_with(meter, value, unit)
        return read if self.is_metered(measures) else replace(read, accuracy_assumed=True)

    def as_read(self, name: str, measures: str, value: float, unit: str, said: str) -> Input:
        """A value noted in ``adapter.toml`` as an instrument read it, with the doubt of that.

        Parameters
        ----------
        name : str
            Of the input.
        measures, value, unit
            As in `reading`.
        said : str
            What was read, as said aloud.

        Returns
        -------
        Input
            Measured; assumed where no instrument with its accuracy is listed.
        """
        read = self.reading(measures, value, unit)
        if not read.accuracy_assumed:
            return measured(name, read, f"{read} read as {said}")
        usual = self.allowance(f"meter.{measures}")
        half = Value(usual.ends[1], 0.0, usual.unit)
        spread = stats.norm(read.value, read.standard_uncertainty)
        shown = f"±{half} assumed for the {said} ({Value(value, 0.0, unit)})"
        return Input(name, spread, unit, "assumed", shown, usual.source)

    def meters(self, measures: str) -> list[Instrument]:
        """Instruments that read a quantity, as listed; a usual one if none is with its accuracy."""
        listed = [m for m in self.adapter.instruments_for(measures) if m.has_accuracy]
        return listed or [usual_meter(measures)]

    def is_metered(self, *measures: str) -> bool:
        """Whether an instrument with its accuracy is listed for every one of some quantities."""
        return all(
            any(meter.has_accuracy for meter in self.adapter.instruments_for(quantity))
            for quantity in measures
        )

    def allowance(self, name: str, called: str = "") -> Input:
        """An input that the dossier leaves open; see `adapterlab.assess.model.inputs.allowance`."""
        return allowance(name, called)

    def part_value(self, part: Part, unit: str, tolerance: str = "") -> Input:
        """The marked value of a part, every value within its tolerance equally likely.

        Parameters
        ----------
        part : Part
            With a value.
        unit : str
            As in `Value`.
        tolerance : str, optional
            Allowance to take where the part bears no tolerance; none if not given.

        Returns
        -------
        Input
            Called ``<reference>.value``. Parts with the same marking come from one reel and share
            their draw, unless their ``reel`` differs. *Assumed* where the tolerance was.

        Raises
        ------
        ValueError
            If the part has no value, or neither tolerance nor allowance is known.
        """
        if part.value is None:
            raise ValueError(f"part {part.reference} must have a value, got none")
        name, source = f"{part.reference}.value", f"adapter.toml, part {part.reference}"
        half, origin = part.tolerance, "marked"
        shown = f"{Value(part.value, 0.0, unit)} of {part.reference}"
        if half is not None:
            shown += f" (±{Value(half, 0.0, '%')})"
        else:
            if not tolerance:
                raise ValueError(f"part {part.reference} must have a tolerance, got none")
            open_one = allowance(tolerance)
            half, origin, source = open_one.ends[1], "assumed", open_one.source
            shown = f"±{Value(half, 0.0, '%')} assumed for the {shown}"
        ends = between(part.value * (1 - half), part.value * (1 + half))
        reel = f"{part.kind} {part.marked or part.value!r} {part.value!r} {half!r} {part.reel}"
        column = f"reel of {reel}" if part.marked else ""
        return Input(name, ends, unit, origin, shown, source, column)


def specimen_of(record: Dossier | Specimen) -> Specimen:
    """The specimen of a dossier; a specimen is handed back as it is.

    Parameters
    ----------
    record : Dossier or Specimen
        The record.

    Returns
    -------
    Specimen
        The adapter.
    """
    return record if isinstance(record, Specimen) else Specimen(record)


def once(
    function: Callable[Concatenate[Specimen, P], R],
) -> Callable[Concatenate[Specimen, P], R]:
    """Work a function of a specimen out once for each set of (hashable) arguments."""

    @wraps(function)
    def recalled(specimen: Specimen, *args: P.args, **named: P.kwargs) -> R:
        key = (function.__module__, function.__qualname__, args, tuple(sorted(named.items())))
        return specimen.recall(key, lambda: function(specimen, *args, **named))

    return cast(Callable[Concatenate[Specimen, P], R], recalled)
