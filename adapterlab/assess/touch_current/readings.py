"""Touch-current readings as records, and the choice of which of them is spoken of."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import Value

SECTION = "touch_current"
KINDS = {"rms": "Touch current", "peak": "Peak touch current", "dc": "Direct touch current"}
_MAINS = (100, 110, 115, 120, 127, 220, 230, 240, 264)


@dataclass(frozen=True)
class TouchReading:
    """One row of ``touch_current.csv``.

    Attributes
    ----------
    condition : str
        Mains and load, as said aloud.
    mains_voltage, mains_frequency : float
        As read beside it. [V], [Hz]
    network : str
        ``weighted`` or ``unweighted``; empty where it was not noted.
    quantity : str
        ``rms``, ``peak`` or ``dc``.
    output_power : float
        Load; 0 where none was noted. [W]
    polarity : str
        ``a`` or ``b``; empty where it was not noted.
    line : int
        In the file.
    current : Value
        With the standard uncertainty of its meter. [A]
    """

    condition: str
    mains_voltage: float
    mains_frequency: float
    network: str
    quantity: str
    output_power: float
    polarity: str
    line: int
    current: Value

    @property
    def subject(self) -> str:
        """Start of a sentence about it."""
        return f"{KINDS[self.quantity]} at {self.condition} ({self.network or 'network not noted'})"

    @property
    def origin(self) -> str:
        """Where it stands in the dossier."""
        return f"touch_current.csv line {self.line}"

    @property
    def kind(self) -> tuple[str, str]:
        """Network and quantity."""
        return self.network, self.quantity


@dataclass(frozen=True)
class PolarityPair:
    """Readings of one kind with the plug both ways round.

    Attributes
    ----------
    a, b : TouchReading
        The larger reading of each way.
    """

    a: TouchReading
    b: TouchReading

    @property
    def larger(self) -> TouchReading:
        """The larger of the two."""
        return max(self.a, self.b, key=lambda reading: reading.current.value)

    @property
    def smaller(self) -> TouchReading:
        """The smaller of the two."""
        return min(self.a, self.b, key=lambda reading: reading.current.value)


def nominal(voltage: float) -> int:
    """Usual name of a mains voltage; whole volts where it has none."""
    near = [name for name in _MAINS if abs(voltage / name - 1) < 0.015]
    return near[0] if near else round(voltage)


def all_readings(specimen: Specimen) -> list[TouchReading]:
    """Every reading of an adapter, in the order of the file."""
    return [_reading(specimen, row) for _, row in specimen.touch_current.iterrows()]


def _reading(specimen: Specimen, row: pd.Series) -> TouchReading:
    power = 0.0 if pd.isna(row["output_power"]) else float(row["output_power"])
    voltage, frequency = float(row["mains_voltage"]), float(row["mains_frequency"])
    load = "loaded" if power > 0 else "no load"
    return TouchReading(
        f"{nominal(voltage)} V, {round(frequency)} Hz, {load}",
        voltage,
        frequency,
        row["network"],
        row["quantity"],
        power,
        row["polarity"],
        int(row["line"]),
        specimen.reading("touch current", float(row["touch_current"]), "A"),
    )


def largest(readings: Sequence[TouchReading]) -> TouchReading | None:
    """The largest reading, the first of equals; None of none."""
    return max(readings, key=lambda reading: reading.current.value, default=None)


def largest_of_each(readings: Sequence[TouchReading]) -> list[TouchReading]:
    """The largest reading of each condition, network and quantity."""
    groups: dict[tuple[str, str, str], list[TouchReading]] = {}
    for reading in readings:
        groups.setdefault((reading.condition, *reading.kind), []).append(reading)
    return [found for group in groups.values() if (found := largest(group)) is not None]


def to_infer_from(readings: Sequence[TouchReading]) -> TouchReading | None:
    """The reading a capacitance is worked out from.

    Rms, with a known network if any has one, at the least load, the first of these.
    """
    alike = [r for r in readings if r.quantity == "rms" and r.current.value > 0]
    named = [r for r in alike if r.network]
    return min(named or alike, key=lambda reading: reading.output_power, default=None)


def polarity_pairs(readings: Sequence[TouchReading]) -> list[PolarityPair]:
    """Readings of one condition, network and quantity that were taken both ways round."""
    groups: dict[tuple[str, str, str], dict[str, list[TouchReading]]] = {}
    for reading in readings:
        sides = groups.setdefault((reading.condition, *reading.kind), {})
        sides.setdefault(reading.polarity, []).append(reading)
    found = []
    for sides in groups.values():
        one, other = (largest(sides.get(side, [])) for side in "ab")
        if one is not None and other is not None:
            found.append(PolarityPair(one, other))
    return found


def to_split(pairs: Sequence[PolarityPair]) -> PolarityPair | None:
    """The pair that tells the seat: rms with a known network, weighted before unweighted."""
    usable = [p for p in pairs if p.a.quantity == "rms" and p.a.network and p.larger.current.value]
    return min(usable, key=lambda pair: pair.a.network != "weighted", default=None)


def beside_another(reading: TouchReading, step: float) -> Value:
    """A reading as known beside another of the same meter, whose gain is the same in both. [A]."""
    return replace(reading.current, standard_uncertainty=step)


def repeatability(specimen: Specimen) -> float:
    """Standard uncertainty of one reading against another of the same meter. [A].

    Half of the display's last step: rounding and the unrest of the last digit together (common
    practice). The meter's gain is the same in both.
    """
    meters = specimen.adapter.instruments_for("touch current")
    return max((meter.resolution for meter in meters), default=0.0) / 2
