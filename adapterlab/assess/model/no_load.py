"""Readings without load, with their uncertainty."""

from collections.abc import Iterable
from dataclasses import dataclass

from adapterlab.assess.model.points import mains_name
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.report.value import Value


@dataclass(frozen=True)
class NoLoad:
    """One reading of the power without load.

    Attributes
    ----------
    mains : str
        As said aloud.
    cable : str
        ``none``, ``plugged``, or empty where the record does not tell.
    power : Value
        [W]
    mains_voltage, mains_frequency : float
        [V], [Hz]
    line : int
        Of ``no_load.csv``.
    """

    mains: str
    cable: str
    power: Value
    mains_voltage: float
    mains_frequency: float
    line: int

    @property
    def may_be_bare(self) -> bool:
        """Whether nothing was plugged in, as far as the record tells."""
        return self.cable != "plugged"


@once
def no_load_readings(specimen: Specimen) -> tuple[NoLoad, ...]:
    """Every reading without load, in the order of the file."""
    listed = bool(specimen.adapter.instruments_for("no-load power"))
    measures = "no-load power" if listed else "input power"
    return tuple(
        NoLoad(
            mains_name(row.mains_voltage, row.mains_frequency),
            str(row.cable or ""),
            specimen.reading(measures, row.power, "W"),
            float(row.mains_voltage),
            float(row.mains_frequency),
            int(row.line),
        )
        for row in specimen.no_load.itertuples()
    )


def at_rest(specimen: Specimen, mains: str) -> NoLoad | None:
    """The largest reading on a mains with nothing plugged in, as the rules count it."""
    return largest(item for item in no_load_readings(specimen) if item.mains == mains)


def largest(readings: Iterable[NoLoad]) -> NoLoad | None:
    """The largest of readings with nothing plugged in; of those that may be such if none is."""
    bare = [item for item in readings if item.may_be_bare]
    sure = [item for item in bare if item.cable == "none"]
    return max(sure or bare, key=lambda item: item.power.value, default=None)
