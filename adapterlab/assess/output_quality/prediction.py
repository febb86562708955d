"""Switching ripple that the parts of a dossier predict, for a capture and against load."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import stats

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT, inductance_of
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.records import Record
from adapterlab.dossier.schema import Converter
from adapterlab.flyback import ParalleledStage, RippleStep, ripple_against_load, ripple_step
from adapterlab.output_quality import RippleStep as MeasuredStep
from adapterlab.published import rows
from adapterlab.uncertainty import propagate

# Common practice where the parts do not say: tolerance of capacitance, of series resistance.
_CAPACITANCE, _RESISTANCE = 0.2, 0.4
# Share of the crest that the bulk voltage keeps between two crests, at the least.
_VALLEY = 0.88
# What a peak-to-peak reading holds beside the switching: noise and twice the mains. [V]
_BESIDE = (0.0, 10e-3)
_DRAWS = 256
_EDGE = 1e-6


@dataclass(frozen=True)
class SharedOutput:
    """A port with all the converters that can feed it.

    Attributes
    ----------
    names : tuple of str
        The converters, the one that always works first.
    stages : tuple of ParalleledStage
        Their power stages.
    tolerance : tuple of float
        Of their inductances. [1]
    capacitance, esr : float
        Capacitor that always hangs on the port. [F], [ohm]
    pulse_phase : numpy.ndarray or None
        Where the converters are synchronised. [°], shape (converters,)
    """

    names: tuple[str, ...]
    stages: tuple[ParalleledStage, ...]
    tolerance: tuple[float, ...]
    capacitance: float
    esr: float
    pulse_phase: Any

    def joins_at(self) -> float | None:
        """Output power at which the last converter joins. [W], None if none does."""
        return max(stage.joins_above for stage in self.stages) or None


@dataclass(frozen=True)
class PredictedSweep:
    """Ripple against load as the parts predict it.

    Attributes
    ----------
    power, ripple, ripple_uncertainty : numpy.ndarray
        Output power, peak-to-peak ripple and its standard uncertainty; where a converter joins,
        just below and just above. [W], [V], each shape (n,)
    step : RippleStep or None
        The step by its causes; None if no converter joins within these loads.
    ratio : Value or None
        Reading just above the step over that just below. [1]
    names : tuple of str
        The converters, the one that joins last.
    """

    power: Any
    ripple: Any
    ripple_uncertainty: Any
    step: RippleStep | None
    ratio: Value | None
    names: tuple[str, ...]


def converters_on(specimen: Specimen, port: str) -> list[Converter]:
    """Converters that can feed a port, the one that is always there first."""
    listed = specimen.adapter.construction.converters
    found = [item for item in listed if not item.ports or port in item.ports]
    return sorted(found, key=lambda item: item.ports.index(port) if item.ports else 0)


def output_of(specimen: Specimen, port: str) -> SharedOutput | None:
    """A port with its converters as the equations want them; None if too little is known.

    A converter of which the dossier does not say when it joins does so above the first one's
    rated power. Its capacitor comes along if this port is the first that it feeds.
    """
    converters = converters_on(specimen, port)
    if not converters or any(not c.turns_ratio or not c.magnetising_inductance for c in converters):
        return None
    first = converters[0]
    if first.output_capacitance is None or first.output_esr is None:
        return None
    joins = {item.name: item.joins_above or first.rated_power for item in converters[1:]}
    joins[first.name] = 0.0
    converters = sorted(converters, key=lambda item: joins[item.name])
    stages = []
    for item in converters:
        brings = (
            item is not first and item.ports[:1] in ([], [port]) and item.output_esr is not None
        )
        stages.append(
            ParalleledStage(
                item.rated_power, item.turns_ratio or 1.0, item.magnetising_inductance or 1.0,
                item.switching_frequency, item.rectifier_drop or 0.0, item.efficiency or 1.0,
                joins[item.name],
                (item.output_capacitance or 0.0) if brings else 0.0,
                (item.output_esr or 0.0) if brings else 0.0,
            )
        )  # fmt: skip
    pace = {stage.switching_frequency for stage in stages}
    together = specimen.adapter.construction.synchronised and len(pace) == 1 and None not in pace
    return SharedOutput(
        tuple(item.name for item in converters),
        tuple(stages),
        tuple(inductance_of(item).ends[1] / inductance_of(item).middle - 1 for item in converters),
        first.output_capacitance,
        first.output_esr,
        360 / len(stages) * np.arange(len(stages)) if together and len(stages) > 1 else None,
    )


def _about(value: float, share: float) -> Any:
    return stats.uniform(value * (1 - share), 2 * share * value) if value * share > 0 else value


def _swing(
    output: SharedOutput, volts: float, mains: float
) -> tuple[dict[str, Any], Callable[..., Any]]:
    """Inputs of unknown size, and the ripple [V] at currents of shape (n, 1) for draws of them."""
    crest = ROOT * mains
    inputs = {
        "bulk": stats.uniform(_VALLEY * crest, (1 - _VALLEY) * crest),
        "capacitance": _about(output.capacitance, _CAPACITANCE),
        "resistance": _about(output.esr, _RESISTANCE),
    }
    pairs = zip(output.stages, output.tolerance, strict=True)
    for place, (stage, spread) in enumerate(pairs):
        inputs[f"inductance_{place}"] = _about(stage.magnetising_inductance, spread)

    def at(current: Any, drawn: dict[str, Any]) -> Any:
        stages = [
            replace(stage, magnetising_inductance=drawn[f"inductance_{place}"])
            for place, stage in enumerate(output.stages)
        ]
        return ripple_against_load(
            current, drawn["bulk"], volts, stages, drawn["capacitance"], drawn["resistance"],
            output.pulse_phase,
        ).peak_to_peak  # fmt: skip

    return inputs, at


def predicted_ripple(specimen: Specimen, record: Record) -> Value | None:
    """Switching ripple that the parts predict for a capture; None if they are not known.

    Converters at work share the load in the ratio of their ratings; not synchronised, their
    swings add.
    """
    capture = record.capture
    mode = specimen.adapter.mode(capture.port, capture.mode)
    output = output_of(specimen, capture.port)
    if mode is None or mode.voltage is None or not capture.load_current or output is None:
        return None
    inputs, at = _swing(output, mode.voltage, capture.mains_voltage or 230.0)
    load = capture.load_current
    try:
        drawn = propagate(lambda **draws: at(load, draws), inputs, draws=2 * _DRAWS)
    except ValueError:
        return None
    return Value(drawn.mean, drawn.standard_uncertainty, "V")


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
    joins = output.joins_at()
    share = rows("output_quality", "practice", name="burst below share of rated power")[0]["value"]
    lightest = max(low, share * output.stages[0].rated_power)
    if lightest >= high:
        return None
    loads = np.linspace(lightest, high, 25)
    inside = joins is not None and lightest < joins < high
    if joins is not None and inside:
        loads = np.sort(np.append(loads, [joins * (1 - _EDGE), joins * (1 + _EDGE)]))
    inputs, at = _swing(output, volts, mains)
    inputs["beside"] = stats.uniform(_BESIDE[0], _BESIDE[1] - _BESIDE[0])
    edge = int(np.searchsorted(loads, joins)) if joins is not None and inside else 1
    current = (loads / volts)[:, None]

    def reads(**draws: Any) -> Any:
        ripple = at(current, draws) + draws["beside"]
        return np.concatenate([ripple, [ripple[edge] / ripple[edge - 1]]])

    try:
        drawn = propagate(reads, inputs, draws=_DRAWS)
        step = None
        if inside:
            middle = (1 + _VALLEY) / 2 * ROOT * mains
            step = ripple_step(
                middle, volts, output.stages, output.capacitance, output.esr, output.pulse_phase
            )
    except ValueError:
        return None
    mean, spread = np.asarray(drawn.mean), np.asarray(drawn.standard_uncertainty)
    ratio = Value(float(mean[-1]), float(spread[-1]), "") if inside else None
    return PredictedSweep(loads, mean[:-1], spread[:-1], step, ratio, output.names)


def step_size_finding(
    label: str, measured: MeasuredStep, predicted: PredictedSweep | None, **common: Any
) -> Finding | None:
    """Size of a step as read against what the joining converter predicts, with its causes.

    Parameters
    ----------
    label : str
        Port, mode and mains.
    measured : MeasuredStep
        What `find_ripple_step` says.
    predicted : PredictedSweep or None
        What the parts say.
    **common
        Fields of the finding, question apart.

    Returns
    -------
    Finding or None
        None if the parts predict no step within these loads.
    """
    if predicted is None or predicted.step is None or predicted.ratio is None:
        return None
    step, first, late = predicted.step, predicted.names[0], predicted.names[-1]
    joins = f"the {late} converter joining above {step.load_power:g} W"
    alone = ", none of which comes along," if step.from_capacitors == 1 else " in parallel"
    causes = (
        f"Three causes make {step.ratio:.2f} times of the switching ripple: the lower peak of the "
        f"{first} converter, which carries less, {step.from_current:.2f} times; the phase, as the "
        f"pulses of the {late} converter meet its own, {step.from_phase:.2f} times; the output "
        f"capacitors{alone} {step.from_capacitors:.2f} times."
    )
    common |= {
        "question": f"Is the jump of the ripple as large as predicted ({label})?",
        "function": "flyback.ripple_step",
        "note": "Predicted as a meter that holds peaks reads it, noise and twice the mains "
        f"({1e3 * _BESIDE[0]:g} to {1e3 * _BESIDE[1]:g} mV, common practice) included.",
    }
    if not measured.found:
        sentence = f"The ripple of {label} shows no step; {joins} predicts {predicted.ratio} times."
        return Finding(
            judgement=rules.result(),
            sentence=f"{sentence} {causes}",
            prediction=predicted.ratio,
            **common,
        )
    ratio = measured.after / measured.before
    spread = measured.step_uncertainty / measured.before
    finding = against_prediction(
        Value(ratio, spread, ""),
        predicted.ratio,
        f"The ripple of {label} just above its step, over that just below,",
        joins,
        **common,
    )
    return replace(finding, sentence=f"{finding.sentence} {causes}")
