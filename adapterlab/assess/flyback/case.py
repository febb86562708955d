"""What is loaded in the loss budget: which port, on which mains, by which converters."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.loadings import Loading, sweep_of
from adapterlab.assess.model.meters import Measured
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage, missing, stages_of
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Converter

# Of the highest power, for the curve of the sum.
SHARES = np.arange(1, 13) / 12


@dataclass(frozen=True)
class Load:
    """One load at which the loss was read.

    Attributes
    ----------
    power : float
        Of the output. [W]
    measured : Measured
        Input less output power. [W]
    """

    power: float
    measured: Measured

    @property
    def loss(self) -> Value:
        """Input less output power, as findings show it. [W]."""
        return self.measured.shown("W")


@dataclass(frozen=True)
class Case:
    """What is loaded.

    Attributes
    ----------
    port, name : str
        Port, and what is loaded as said aloud.
    voltage : float
        Of the output. [V]
    largest_power : float
        Of the output. [W]
    mains_voltage, mains_frequency : float
        [V], [Hz]
    mains : str
        The same as said aloud.
    loads : tuple of Load
        Where the loss was read, by rising power; empty without a load sweep.
    stages : tuple of Stage
        Converters that feed the port.
    lacking : tuple of str
        What is not known of other converters that feed it too.
    """

    port: str
    name: str
    voltage: float
    largest_power: float
    mains_voltage: float
    mains_frequency: float
    mains: str
    loads: tuple[Load, ...]
    stages: tuple[Stage, ...]
    lacking: tuple[str, ...]

    @property
    def mains_read(self) -> tuple[float, float]:
        """Voltage and frequency of the mains. [V], [Hz]."""
        return self.mains_voltage, self.mains_frequency

    @property
    def curve(self) -> NDArray[np.float64]:
        """Powers from a twelfth to the largest. [W], shape (12,)."""
        return self.largest_power * SHARES


def _feeding(specimen: Specimen, port: str) -> list[Converter]:
    converters = specimen.adapter.construction.converters
    return [item for item in converters if not item.ports or port in item.ports]


def _serving(stages: Sequence[Stage], port: str) -> tuple[Stage, ...]:
    return tuple(stage for stage in stages if port in stage.ports)


def _lacking(specimen: Specimen, port: str) -> tuple[str, ...]:
    """What the converters that feed a port lack, each with its name."""
    return tuple(
        f"{' and '.join(lacking)} of the {converter.name} converter"
        for converter in _feeding(specimen, port)
        if (lacking := missing(specimen, converter))
    )


def _swept(specimen: Specimen, stages: Sequence[Stage]) -> Loading | None:
    """The single port that was loaded to the most power; the higher mains if equal."""
    single = [
        loading
        for loading in sweep_of(specimen).loadings
        if len(loading.key) == 1 and _serving(stages, loading.key[0][0])
    ]
    return max(
        single,
        key=lambda item: (
            round(item.points[0].output_power),
            round(item.points[0].mains_voltage, -1),
            len(item.points),
        ),
        default=None,
    )


def case_of(specimen: Specimen) -> Case | None:
    """The single port that was loaded to the most power, else the first stage's full load.

    None without any stage.
    """
    stages = stages_of(specimen)
    if not stages:
        return None
    loading = _swept(specimen, stages)
    if loading is None:
        first = stages[0]
        return Case(
            first.ports[0], f"{first.output_voltage:g} V", first.output_voltage,
            first.output_voltage * first.output_current, 230.0, 50.0, "230 V, 50 Hz", (),
            _serving(stages, first.ports[0]), _lacking(specimen, first.ports[0]),
        )  # fmt: skip
    port, name, volts = loading.key[0]
    mode = specimen.adapter.mode(port, name)
    top = loading.points[0]
    loads = [Load(point.output_power, point.loss()) for point in loading.points]
    return Case(
        port, loading.name, volts or (mode.voltage if mode else None) or stages[0].output_voltage,
        top.output_power, top.mains_voltage, top.mains_frequency, loading.mains,
        tuple(sorted(loads, key=lambda load: load.power)),
        _serving(stages, port), _lacking(specimen, port),
    )  # fmt: skip
