"""Every loaded output of the sweep whose voltage asked for is known."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from adapterlab.assess.model.meters import readings
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Mode
from adapterlab.output_quality import static_error

SECTION = "output_quality"
# A gap in the mains voltage wider than this share begins another mains.
_MAINS_GAP = 0.04


@dataclass(frozen=True)
class LoadedOutput:
    """One output at one point of the load sweep.

    Attributes
    ----------
    port, mode, connector : str
        As on the nameplate.
    kind : str
        ``fixed`` or ``programmable``.
    asked : float
        Voltage asked for. [V]
    current : float
        Of this output. [A]
    voltage : Value
        As read. [V]
    ripple : Value or None
        Peak to peak. [V]
    power : float
        Of all outputs of the point. [W]
    alone : bool
        Whether no other port was loaded.
    mains_voltage, mains_frequency : float
        [V], [Hz]
    line : int
        Of ``load_sweep.csv``.
    """

    port: str
    mode: str
    connector: str
    kind: str
    asked: float
    current: float
    voltage: Value
    ripple: Value | None
    power: float
    alone: bool
    mains_voltage: float
    mains_frequency: float
    line: int

    @property
    def error(self) -> float:
        """Voltage less the one asked for, over the latter. [1]."""
        return float(static_error(self.asked, self.voltage.value))


def _kind(mode: Mode | None) -> str:
    return "programmable" if mode is not None and mode.kind == "adjustable" else "fixed"


@once
def outputs_of(specimen: Specimen) -> tuple[LoadedOutput, ...]:
    """Every loaded output whose voltage asked for is known, in the order of the file."""
    rows = list(specimen.load_sweep.itertuples())
    connectors = {port.name: port.connector for port in specimen.adapter.ports}
    volts = readings(specimen, "output voltage", [row.output_voltage for row in rows])
    read = [row.ripple_pp if np.isfinite(row.ripple_pp) else 0.0 for row in rows]
    swings = readings(specimen, "ripple", read)
    power: dict[str, float] = defaultdict(float)
    loaded: dict[str, int] = defaultdict(int)
    for row in rows:
        power[row.point] += row.output_voltage * row.output_current
        loaded[row.point] += 1
    found = []
    for row, voltage, swing in zip(rows, volts, swings, strict=True):
        mode = specimen.adapter.mode(str(row.port), str(row.mode))
        fixed = mode.voltage if mode is not None else None
        asked = row.set_voltage if np.isfinite(row.set_voltage) else fixed or 0.0
        if not asked > 0:
            continue
        found.append(
            LoadedOutput(
                str(row.port),
                str(row.mode),
                connectors.get(str(row.port), "") if mode is not None else "",
                _kind(mode),
                float(asked),
                float(row.output_current),
                voltage.shown("V"),
                swing.shown("V") if np.isfinite(row.ripple_pp) else None,
                power[row.point],
                loaded[row.point] == 1,
                float(row.mains_voltage),
                float(row.mains_frequency),
                int(row.line),
            )
        )
    return tuple(found)


def mains_numbers(voltages: Iterable[float]) -> list[int]:
    """Number of the mains that each voltage belongs to, the lowest first."""
    values = np.asarray(list(voltages), dtype=float)
    order = np.argsort(values, kind="stable")
    ordered = values[order]
    numbers = np.zeros(values.size, dtype=int)
    numbers[order[1:]] = np.cumsum(np.diff(ordered) > _MAINS_GAP * ordered[:-1])
    return numbers.tolist()


def grouped(outputs: Sequence[LoadedOutput], *names: str) -> list[list[LoadedOutput]]:
    """Outputs alike in some fields, in the order of their first."""
    groups: dict[tuple[object, ...], list[LoadedOutput]] = {}
    for output in outputs:
        groups.setdefault(tuple(getattr(output, name) for name in names), []).append(output)
    return list(groups.values())


def missing(question: str, needed: str, function: str) -> Finding:
    """Short for a finding of this section that was not measured."""
    return not_measured(SECTION, question, needed, f"output_quality.{function}")
