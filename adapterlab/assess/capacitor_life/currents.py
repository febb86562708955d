"""Ripple currents that mains and converters send through each capacitor of an adapter.

`circuit_of` says what flows through one as a function of named inputs; `ripple_of` joins it with
what the dossier notes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import stats

from adapterlab.assess.model.feeds import (
    BRIDGE_DROP,
    bridge_drop,
    bulk_capacitance,
    bulk_inputs,
    bulk_voltage,
    rated_share,
)
from adapterlab.assess.model.inputs import Input, allowance, predict
from adapterlab.assess.model.rectifier import rectifier_of
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT, Stage, stages_of
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.capacitor_life import (
    equivalent_ripple_current,
    frequency_multiplier,
    pulsed_ripple_current,
    rectifier_ripple_current,
)
from adapterlab.dossier.schema import Converter, Part, RatedCapacitor
from adapterlab.flyback import (
    SecondaryPulse,
    ideal_conduction_time,
    operating_point,
    secondary_pulse,
)
from adapterlab.mains_current import rectifier_steady_state

MAINS = (230.0, 50.0)
_DRAWS = 512
_PULSES = "ripple.pulse_factor"
_SHARE = "ripple.rectifier_share"
# Frequency multipliers of a capacitor whose data sheet is not at hand, and where it is rated. [Hz]
_TABLES = {True: ("snap-in, long life", 120.0), False: ("snap-in", 100e3)}

_CONVERTERS = "turns ratio and inductance of every converter"
# Part of a power that converters may lack and still count as giving it.
_SLACK = 0.02

Values = Mapping[str, Any]


@dataclass(frozen=True)
class Source:
    """Something that sends ripple current through a capacitor.

    Attributes
    ----------
    name : str
        As said aloud.
    frequency, rms : float or numpy.ndarray
        [Hz], [A], of draws.
    """

    name: str
    frequency: Any
    rms: Any


@dataclass(frozen=True)
class Circuit:
    """What flows through one capacitor at full load on mains of 230 V.

    Attributes
    ----------
    inputs : dict of str to Input
        What that rests on, by name.
    sources : callable
        From drawn inputs to a list of `Source`.
    table : str
        Frequency multipliers taken for it.
    rated_frequency : float
        At which its ripple current is rated. [Hz]
    """

    inputs: dict[str, Input]
    sources: Callable[[Values], list[Source]]
    table: str
    rated_frequency: float

    def equivalent(self, values: Values) -> Any:
        """All sources as one current at the rated frequency. [A], shape of the draws."""
        found = self.sources(values)
        rms = np.stack(np.broadcast_arrays(*(source.rms for source in found)), axis=-1)
        hertz = np.stack(np.broadcast_arrays(*(source.frequency for source in found)), axis=-1)
        allowed = np.asarray(frequency_multiplier(hertz, self.table))
        rated = frequency_multiplier(self.rated_frequency, self.table)
        return equivalent_ripple_current(rms, allowed / rated)

    def middle(self) -> list[Source]:
        """The sources with every input at its middle."""
        return self.sources({name: item.middle for name, item in self.inputs.items()})


@dataclass(frozen=True)
class Ripple:
    """Ripple current of one capacitor at full load.

    Attributes
    ----------
    stated : Value or None
        As the dossier notes it, at the rated frequency. [A]
    noted : Input or None
        What it is multiplied by: how far a noted current may be off. [1]
    circuit : Circuit or None
        What the circuit sends.
    computed : Prediction or None
        That as equivalent at the rated frequency. [A]
    rated_frequency : float
        [Hz]
    lacking : str
        What it would take to compute it; empty if it was.
    """

    stated: Value | None
    noted: Input | None
    circuit: Circuit | None
    computed: Prediction | None
    rated_frequency: float
    lacking: str

    @property
    def best(self) -> Value | None:
        """The stated current, else the computed one. [A]."""
        if self.stated is not None:
            return self.stated
        return None if self.computed is None else self.computed.value

    @property
    def inputs(self) -> dict[str, Input]:
        """What the better known of both rests on."""
        if self.stated is not None:
            return {} if self.noted is None else {self.noted.name: self.noted}
        return {} if self.circuit is None else self.circuit.inputs

    def current(self, values: Values) -> Any:
        """The better known of both, of draws. [A]; None if neither is known."""
        if self.stated is not None:
            return self.stated.value * (1.0 if self.noted is None else values[self.noted.name])
        return None if self.circuit is None else self.circuit.equivalent(values)


def _mains_current(specimen: Specimen, values: Values, power: Any) -> Any:
    """What the rectifier sends through all bulk capacitors together. [A].

    The rectifier in its steady state where its parts are listed; else the closed form for mains
    without impedance, less what real paths take off.

    Raises
    ------
    ValueError
        If the capacitors run empty between two crests.
    """
    rectifier = rectifier_of(specimen)
    if rectifier is not None:
        steady = rectifier_steady_state(*MAINS, power, **rectifier.running(values))
        return steady.capacitor_current_rms
    line = (MAINS[0] - values[BRIDGE_DROP] / ROOT, MAINS[1], power,
            bulk_capacitance(specimen, values))  # fmt: skip
    return rectifier_ripple_current(*line, ideal_conduction_time(*line)) * values[_SHARE]


def _bulk(specimen: Specimen, part: Part, rated: float) -> Circuit:
    """Mains and every converter through one of the bulk capacitors."""
    stages, share = stages_of(specimen), _parallel_share(specimen, part)
    load = rated_share(specimen, stages)

    def sources(values: Values) -> list[Source]:
        power = load * sum(stage.power(values) for stage in stages)
        found = [Source("mains", 2 * MAINS[1], share * _mains_current(specimen, values, power))]
        volts = bulk_mean(specimen, values, power)
        for stage in stages:
            point = operating_point(volts, **stage.numbers(values))
            mean = stage.power(values) / volts
            rms = pulsed_ripple_current(np.maximum(point.primary_rms, mean), mean)
            name = f"{stage.name} converter"
            found.append(Source(name, point.switching_frequency, share * rms * values[_PULSES]))
        return found

    rectifier = rectifier_of(specimen)
    inputs = {_PULSES: allowance(_PULSES)} | bulk_inputs(specimen) | bridge_drop()
    inputs |= {_SHARE: allowance(_SHARE)} if rectifier is None else rectifier.inputs
    for stage in stages:
        inputs |= stage.inputs
    return Circuit(inputs, sources, _TABLES[True][0], rated)


def bulk_mean(specimen: Specimen, values: Values, power: Any) -> Any:
    """Bulk voltage halfway between crest and valley; at the crest without its capacitors. [V]."""
    crest = bulk_voltage(MAINS, values[BRIDGE_DROP])
    if not bulk_inputs(specimen):
        return crest
    held = bulk_capacitance(specimen, values)
    return (crest + bulk_voltage(MAINS, values[BRIDGE_DROP], power, held)) / 2


def _output(specimen: Specimen, part: Part, joined: list[Stage], rated: float) -> Circuit:
    """The pulses of every converter that feeds one of the output capacitors."""
    share, every = _parallel_share(specimen, part), stages_of(specimen)
    load = rated_share(specimen, every)

    def sources(values: Values) -> list[Source]:
        volts = bulk_mean(specimen, values, load * sum(stage.power(values) for stage in every))
        found = []
        for stage in joined:
            pulse = secondary_pulse(
                operating_point(volts, **stage.numbers(values)), stage.output_current
            )
            rms = np.maximum(_rms(pulse), stage.output_current)
            left = share * pulsed_ripple_current(rms, stage.output_current) * values[_PULSES]
            found.append(Source(f"{stage.name} converter", pulse.switching_frequency, left))
        return found

    inputs = {_PULSES: allowance(_PULSES)} | bulk_inputs(specimen) | bridge_drop()
    for stage in every:
        inputs |= stage.inputs
    return Circuit(inputs, sources, _TABLES[False][0], rated)


def _rms(pulse: SecondaryPulse) -> Any:
    """Of a pulse that falls in a straight line. [A]."""
    peak, valley = np.asarray(pulse.peak), np.asarray(pulse.valley)
    return np.sqrt((peak**2 + peak * valley + valley**2) / 3 * pulse.duty_cycle)


def feeding(specimen: Specimen, part: Part) -> list[Converter]:
    """Converters whose pulses an output capacitor takes: its own, and any that joins it."""
    listed = specimen.adapter.construction.converters
    if not part.converter:
        return listed if len(listed) == 1 else []
    own = next((item for item in listed if item.name == part.converter), None)
    return [
        item
        for item in listed
        if item is own or (own is not None and own.ports and set(own.ports) <= set(item.ports))
    ]


def _described(specimen: Specimen, converters: list[Converter], power: float) -> list[Stage]:
    """Stages of some converters; none unless all are described and reach a power together."""
    names = {item.name for item in converters}
    found = [stage for stage in stages_of(specimen) if stage.name in names]
    reach = sum(stage.output_voltage * stage.output_current for stage in found)
    return found if len(found) == len(names) and reach >= (1 - _SLACK) * power else []


def _largest_mode(specimen: Specimen, converters: list[Converter]) -> float:
    """Highest power that a mode of the ports these converters feed can take. [W]."""
    names = {name for item in converters for name in item.ports}
    ports = [port for port in specimen.adapter.ports if not names or port.name in names]
    return max(
        ((mode.voltage or mode.maximum_voltage or 0.0) * mode.current for port in ports
         for mode in port.modes), default=0.0,
    )  # fmt: skip


def _parallel_share(specimen: Specimen, part: Part) -> float:
    """A capacitor's part of those side by side with it, by capacitance. [1]."""
    others = [
        other
        for other in specimen.adapter.parts_with_role(part.role)
        if other.converter == part.converter
    ]
    if part.value is None or any(other.value is None for other in others):
        return 1.0 / len(others)
    return part.value / sum(other.value or 0.0 for other in others)


def circuit_of(specimen: Specimen, part: Part, rated: float) -> Circuit | str:
    """What flows through a capacitor, or what it would take to say.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    part : Part
        The capacitor.
    rated : float
        Frequency at which its ripple current is rated. [Hz]

    Returns
    -------
    Circuit or str
        What flows, or what lacks.
    """
    every = specimen.adapter.construction.converters
    if part.role == "bulk capacitor":
        if not bulk_inputs(specimen):
            return "the value of every bulk capacitor"
        if not _described(specimen, every, specimen.adapter.nameplate.rated_power):
            return f"{_CONVERTERS}, enough for the rated power"
        return _bulk(specimen, part, rated)
    if part.role == "output capacitor":
        own = feeding(specimen, part)
        joined = _described(specimen, own, min(_largest_mode(specimen, own),
                            specimen.adapter.nameplate.rated_power))  # fmt: skip
        if not joined:
            return f"{_CONVERTERS} that feeds it, enough for its modes"
        return _output(specimen, part, joined, rated)
    return "a clamp-on reading, for no equation of the kit covers its place"


def _stated(capacitor: RatedCapacitor) -> tuple[Value | None, Input | None]:
    """The ripple current noted, and how far it may be off."""
    noted, spread = capacitor.ripple_current, capacitor.ripple_current_uncertainty
    if noted is None:
        return None, None
    name = f"{capacitor.part}.ripple_noted"
    if spread is None:
        factor = allowance("ripple.noted_factor", name)
        return Value(noted, noted * float(factor.distribution.std()), "A"), factor
    shown = Value(noted, spread, "A")
    said = f"a ripple current of {shown} noted for {capacitor.part}"
    source = f"adapter.toml, [[capacitors]] {capacitor.part}"
    return shown, Input(name, stats.norm(1.0, spread / noted), "", "noted", said, source)


def ripple_of(specimen: Specimen, capacitor: RatedCapacitor) -> Ripple:
    """Ripple current of a capacitor: as stated, and as the circuit predicts it."""
    part = specimen.adapter.part(capacitor.part)
    bulk = part is not None and part.role == "bulk capacitor"
    rated = capacitor.rated_ripple_frequency or _TABLES[bulk][1]
    stated, noted = _stated(capacitor)
    if part is None:
        return Ripple(stated, noted, None, None, rated, "its entry in [[parts]]")
    circuit = circuit_of(specimen, part, rated)
    if isinstance(circuit, str):
        return Ripple(stated, noted, None, None, rated, circuit)

    def at(**values: Any) -> Any:
        return circuit.equivalent(values)

    try:
        computed = predict(at, circuit.inputs, "A", _DRAWS)[0]
    except ValueError as error:
        lacking = f"values that fit together ({str(error).split(':')[0]})"
        return Ripple(stated, noted, None, None, rated, lacking)
    return Ripple(stated, noted, circuit, computed, rated, "")
