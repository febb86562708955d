"""Load points of a dossier with their uncertainties.

`points_read` are those of the load sweep as its meters would have them; `adapterlab.assess.model.
loadings` sorts them and judges their scatter.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab.assess.model.meters import Measured, Reading, readings
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.dossier.schema import Adapter
from adapterlab.efficiency import cable_loss, efficiency

_MAINS = (100, 110, 115, 120, 127, 220, 230, 240, 264)

# What was loaded: (port, mode, set voltage of an adjustable mode or 0), in the nameplate's order.
Key = tuple[tuple[str, str, float], ...]


@dataclass(frozen=True)
class Output:
    """One loaded port at one point.

    Attributes
    ----------
    port, mode : str
        As on the nameplate.
    set_voltage : float
        Voltage asked for in an adjustable mode, else 0. [V]
    voltage, current : Reading
        [V], [A]
    """

    port: str
    mode: str
    set_voltage: float
    voltage: Reading
    current: Reading

    def scattered(self, factor: float) -> "Output":
        """The same with so many times the rounding."""
        return replace(
            self, voltage=self.voltage.scattered(factor), current=self.current.scattered(factor)
        )


@dataclass(frozen=True)
class Point:
    """One operating point.

    Attributes
    ----------
    name, line : str, int
        As in ``load_sweep.csv``; the line of its first row.
    mains_voltage, mains_frequency : float
        [V], [Hz]
    power : Reading
        Input power. [W]
    outputs : tuple of Output
        Loaded ports, in the nameplate's order.
    """

    name: str
    line: int
    mains_voltage: float
    mains_frequency: float
    power: Reading
    outputs: tuple[Output, ...]

    @property
    def key(self) -> Key:
        """What was loaded."""
        return tuple((out.port, out.mode, out.set_voltage) for out in self.outputs)

    @property
    def output_power(self) -> float:
        """All ports together, at their connectors. [W]."""
        return sum(out.voltage.value * out.current.value for out in self.outputs)

    def on_supply(self, voltage: float, frequency: float, tolerance: float) -> bool:
        """Whether the mains was within `tolerance` of a nominal one."""
        return (
            abs(self.mains_voltage / voltage - 1) <= tolerance
            and abs(self.mains_frequency / frequency - 1) <= tolerance
        )

    def efficiency(self, cables: Mapping[str, tuple[str, float]] | None = None) -> Measured:
        """Efficiency, after the loss of a rule's cables if given.

        Parameters
        ----------
        cables : mapping of str to tuple, optional
            Connector and rated current [A] of each port, as `cable_loss` takes them.

        Returns
        -------
        Measured
            Efficiency. [1]

        Raises
        ------
        ValueError
            If more comes out than goes in, or a port's current is beyond the rule's cables.
        """
        drawn = self.power.value
        delivered = 0.0
        terms = []
        for out in self.outputs:
            volts, amperes = out.voltage.value, out.current.value
            lost = 0.0
            if cables is not None:
                connector, rated = cables[out.port]
                lost = cable_loss(amperes, rated, connector)
            delivered += volts * amperes - lost
            terms += [
                (1, amperes / drawn, out.voltage),
                (2, (volts - 2 * lost / amperes) / drawn, out.current),
            ]
        value = efficiency(drawn, delivered)
        return Measured.of(value, [(0, -value / drawn, self.power), *terms])

    def loss(self, slope: float = 0.0) -> Measured:
        """Input less output power.

        Parameters
        ----------
        slope : float, optional
            Rise of the loss with output power: an error of the output power moves a point along
            the loss curve as well as across it. [1]

        Returns
        -------
        Measured
            Loss. [W]
        """
        weight = 1 + slope
        terms = [(0, 1.0, self.power)]
        for out in self.outputs:
            terms += [
                (1, -weight * out.current.value, out.voltage),
                (2, -weight * out.voltage.value, out.current),
            ]
        return Measured.of(self.power.value - self.output_power, terms)

    def scattered(self, factor: float) -> "Point":
        """The same with readings that scatter so many times more than rounding alone makes them."""
        outputs = tuple(out.scattered(factor) for out in self.outputs)
        return replace(self, power=self.power.scattered(factor), outputs=outputs)


def _outputs(specimen: Specimen, rows: Sequence[Any]) -> list[list[Output]]:
    """Loaded ports of each point, in the nameplate's order."""
    volts = readings(specimen, "output voltage", [row.output_voltage for row in rows])
    amperes = readings(specimen, "output current", [row.output_current for row in rows])
    found: dict[str, list[Output]] = {}
    for row, voltage, current in zip(rows, volts, amperes, strict=True):
        mode = specimen.adapter.mode(str(row.port), str(row.mode))
        adjustable = mode is not None and mode.kind == "adjustable"
        asked = row.set_voltage if np.isfinite(row.set_voltage) else row.output_voltage
        setting = round(float(asked), 2) if adjustable else 0.0
        found.setdefault(row.point, []).append(
            Output(str(row.port), str(row.mode), setting, voltage, current)
        )
    order = [port.name for port in specimen.adapter.ports]
    for outputs in found.values():
        outputs.sort(key=lambda o: order.index(o.port) if o.port in order else len(order))
    return list(found.values())


@once
def points_read(specimen: Specimen) -> tuple[Point, ...]:
    """Points of the load sweep at which power flows, in the order of the file."""
    first: dict[str, Any] = {}
    rows = []
    for row in specimen.load_sweep.itertuples():
        first.setdefault(row.point, row)
        if row.output_current > 0 and row.output_voltage > 0 and first[row.point].input_power > 0:
            rows.append(row)
    starts = [first[point] for point in dict.fromkeys(row.point for row in rows)]
    power = readings(specimen, "input power", [row.input_power for row in starts])
    return tuple(
        Point(
            str(row.point),
            int(row.line),
            float(row.mains_voltage),
            float(row.mains_frequency),
            drawn,
            tuple(outputs),
        )
        for row, drawn, outputs in zip(starts, power, _outputs(specimen, rows), strict=True)
    )


def loading_name(adapter: Adapter, key: Iterable[tuple[str, str, float]]) -> str:
    """What was loaded, as said aloud; the port is left out where there is only one."""
    several = len(adapter.ports) != 1
    return " + ".join(
        (f"{port} " if several else "") + mode + (f" {voltage:g} V" if voltage else "")
        for port, mode, voltage in key
    )


def mains_name(voltage: float, frequency: float) -> str:
    """Usual name of a mains, such as ``230 V, 50 Hz``."""
    near = [name for name in _MAINS if abs(voltage / name - 1) < 0.015]
    return f"{near[0] if near else round(voltage)} V, {frequency:.0f} Hz"
