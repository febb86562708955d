"""Switching ripple that the parts of a dossier predict, for a capture and against load."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.model.feeds import BRIDGE_DROP, bridge_drop, bulk_voltage
from adapterlab.assess.model.inputs import Input, predict
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.model.stages import Stage, stages_of
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.dossier.records import Record
from adapterlab.dossier.schema import Converter
from adapterlab.flyback import ParalleledStage, RippleStep, ripple_against_load, ripple_step

_CAPACITANCE, _ESR = "output.capacitance_factor", "output.series_resistance_factor"
_SHARE, _BESIDE = "bulk.share_of_crest", "ripple.beside"
_DRAWS, _CAPTURE_DRAWS = 256, 512
_LOADS = 25
_EDGE = 1e-6
_HOME = 230.0
# Converters give a little more than they are rated for.
OVERLOAD = 1.1


@dataclass(frozen=True)
class SharedOutput:
    """A port with all the converters that can feed it.

    Attributes
    ----------
    stages : tuple of Stage
        Their power stages, the one that always works first.
    joins : tuple of float
        Output power above which each works. [W]
    brings : tuple of bool
        Whether each brings its own capacitor when it joins.
    pulse_phase : tuple of float or None
        Where the converters are synchronised. [°]
    doubt : str
        What the dossier leaves open of how they share, as the end of a sentence; empty if nothing.
    """

    stages: tuple[Stage, ...]
    joins: tuple[float, ...]
    brings: tuple[bool, ...]
    pulse_phase: tuple[float, ...] | None
    doubt: str

    def doubt_at(self, power: float) -> str:
        """The same where the port gives a power, which its converters must be able to. [W]."""
        rated = sum(stage.rated_power for stage in self.stages)
        if self.doubt or power <= OVERLOAD * rated:
            return self.doubt
        return (
            f"the converters listed for it are rated {Value(rated, 0.0, 'W')}, less than the "
            f"{power:.3g} W it gives"
        )

    @property
    def names(self) -> tuple[str, ...]:
        """The converters, the one that joins last at the end."""
        return tuple(stage.name for stage in self.stages)

    @property
    def last_joins(self) -> float | None:
        """Output power at which the last converter joins. [W], None if none does."""
        return max(self.joins) or None

    @property
    def capacitance(self) -> float:
        """Capacitor that always hangs on the port. [F]."""
        return self.stages[0].output_capacitance or 0.0

    @property
    def esr(self) -> float:
        """Its series resistance. [ohm]."""
        return self.stages[0].output_esr or 0.0

    def paralleled(self, drawn: dict[str, Any]) -> list[ParalleledStage]:
        """The power stages as the equations want them, of draws or in the middle."""
        found = []
        for stage, joins, brings in zip(self.stages, self.joins, self.brings, strict=True):
            numbers = stage.numbers(drawn)
            found.append(
                ParalleledStage(
                    stage.rated_power,
                    stage.turns_ratio,
                    numbers["magnetising_inductance"],
                    stage.switching_frequency,
                    numbers["diode_drop"],
                    numbers["efficiency"],
                    joins,
                    (stage.output_capacitance or 0.0) if brings else 0.0,
                    (stage.output_esr or 0.0) if brings else 0.0,
                )
            )
        return found


@dataclass(frozen=True)
class PredictedSweep:
    """Ripple against load as the parts predict it.

    Attributes
    ----------
    power, ripple, low, high : numpy.ndarray
        Output power, peak-to-peak ripple and the ends of its 95 % interval; where a converter
        joins, just below and just above. [W], [V], each shape (n,)
    step : RippleStep or None
        The step by its causes, of parts in the middle; None if none joins within these loads.
    ratio : Prediction or None
        Reading just above the step over that just below. [1]
    output : SharedOutput
        The converters.
    """

    power: Any
    ripple: Any
    low: Any
    high: Any
    step: RippleStep | None
    ratio: Prediction | None
    output: SharedOutput


def converters_on(specimen: Specimen, port: str) -> list[Converter]:
    """Converters that can feed a port, the one that is always there first."""
    listed = specimen.adapter.construction.converters
    found = [item for item in listed if not item.ports or port in item.ports]
    return sorted(found, key=lambda item: item.ports.index(port) if item.ports else 0)


def joins_above(converters: list[Converter], item: Converter) -> float:
    """Output power above which a converter works; if not noted, the rating of the first. [W]."""
    return 0.0 if item is converters[0] else item.joins_above or converters[0].rated_power


def _doubt(specimen: Specimen, converters: list[Converter]) -> str:
    boundary = specimen.adapter.construction.topology == "quasi-resonant flyback"
    for item in converters:
        if item.switching_frequency is None and not boundary:
            return f"the switching frequency of the {item.name} converter is not noted"
    if len(converters) < 2:
        return ""
    for item in converters[1:]:
        if item.joins_above is None:
            return f"the load above which the {item.name} converter joins is not noted"
    for item in converters:
        if not item.ports and len(specimen.adapter.ports) > 1:
            return f"the ports that the {item.name} converter feeds are not noted"
    return ""


@once
def output_of(specimen: Specimen, port: str) -> SharedOutput | None:
    """A port with its converters as the equations want them; None if too little is known.

    A converter's capacitor comes along if this port is the first that it feeds.
    """
    converters = converters_on(specimen, port)
    known = {stage.name: stage for stage in stages_of(specimen)}
    if not converters or any(item.name not in known for item in converters):
        return None
    first = converters[0]
    if first.output_capacitance is None or first.output_esr is None:
        return None
    converters = sorted(converters, key=lambda item: joins_above([first], item))
    pace = {item.switching_frequency for item in converters}
    together = specimen.adapter.construction.synchronised and len(pace) == 1 and None not in pace
    count = len(converters)
    return SharedOutput(
        tuple(known[item.name] for item in converters),
        tuple(joins_above([first], item) for item in converters),
        tuple(
            item is not first and item.ports[:1] in ([], [port]) and item.output_esr is not None
            for item in converters
        ),
        tuple(360 / count * place for place in range(count)) if together and count > 1 else None,
        _doubt(specimen, converters),
    )


def _swing(
    specimen: Specimen, output: SharedOutput, volts: float, mains: float
) -> tuple[dict[str, Input], Callable[..., Any]]:
    """Inputs by name, and the ripple [V] at currents of shape (n, 1) for draws of them."""
    rest = (specimen.allowance(name) for name in (_SHARE, _CAPACITANCE, _ESR))
    inputs = bridge_drop() | {item.name: item for item in rest}
    for stage in output.stages:
        inputs |= stage.inputs

    def at(current: Any, drawn: dict[str, Any]) -> Any:
        crest = bulk_voltage((mains, 50.0), drawn[BRIDGE_DROP])
        return ripple_against_load(
            current,
            drawn[_SHARE] * crest,
            volts,
            output.paralleled(drawn),
            drawn[_CAPACITANCE] * output.capacitance,
            drawn[_ESR] * output.esr,
            None if output.pulse_phase is None else np.array(output.pulse_phase),
        ).peak_to_peak

    return inputs, at


def predicted_ripple(specimen: Specimen, record: Record) -> Prediction | None:
    """Switching ripple that the parts predict for a capture; None if they are not known. [V].

    Converters at work share the load in the ratio of their ratings; not synchronised, their
    swings add.
    """
    capture = record.capture
    mode = specimen.adapter.mode(capture.port, capture.mode)
    output = output_of(specimen, capture.port)
    if mode is None or mode.voltage is None or not capture.load_current or output is None:
        return None
    inputs, at = _swing(specimen, output, mode.voltage, capture.mains_voltage or _HOME)
    load = capture.load_current
    try:
        (found,) = predict(lambda **drawn: at(load, drawn), inputs, "V", _CAPTURE_DRAWS)
    except ValueError:
        return None
    return found


def predicted_sweep(
    specimen: Specimen, port: str, volts: float, mains: float, power: Any
) -> PredictedSweep | None:
    """Ripple that a peak-to-peak meter should read against load; None if too little is known.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    port : str
        Its name.
    volts, mains : float
        Output and mains voltage. [V]
    power : array_like
        Loads, of which the lowest and the highest count; where the converter leaves out pulses
        nothing is predicted. [W]

    Returns
    -------
    PredictedSweep or None
        With its step, if a converter joins between these loads.
    """
    output = output_of(specimen, port)
    if output is None:
        return None
    low, high = float(np.min(power)), float(np.max(power))
    joins = output.last_joins
    share = specimen.allowance("controller.burst_share").middle
    lightest = max(low, share * output.stages[0].rated_power)
    if lightest >= high:
        return None
    loads = np.linspace(lightest, high, _LOADS)
    inside = joins is not None and lightest < joins < high
    edge = 0
    if joins is not None and inside:
        loads = np.sort(np.append(loads, [joins * (1 - _EDGE), joins * (1 + _EDGE)]))
        edge = int(np.searchsorted(loads, joins))
    inputs, at = _swing(specimen, output, volts, mains)
    inputs[_BESIDE] = specimen.allowance(_BESIDE)
    current = (loads / volts)[:, None]

    def reads(**drawn: Any) -> list[Any]:
        ripple = at(current, drawn) + drawn[_BESIDE]
        return [*ripple, ripple[edge] / ripple[edge - 1]]

    try:
        *ripple, ratio = predict(reads, inputs, ["V"] * len(loads) + [""], _DRAWS)
        step = _step(specimen, output, volts, mains) if inside else None
    except ValueError:
        return None
    return PredictedSweep(
        loads,
        np.array([item.value.value for item in ripple]),
        np.array([item.interval[0] for item in ripple]),
        np.array([item.interval[1] for item in ripple]),
        step,
        ratio if inside else None,
        output,
    )


def _step(specimen: Specimen, output: SharedOutput, volts: float, mains: float) -> RippleStep:
    """The step by its causes, of parts in the middle."""
    crest = float(bulk_voltage((mains, 50.0), bridge_drop()[BRIDGE_DROP].middle))
    middle = specimen.allowance(_SHARE).middle * crest
    phase = None if output.pulse_phase is None else np.array(output.pulse_phase)
    return ripple_step(middle, volts, output.paralleled({}), output.capacitance, output.esr, phase)
