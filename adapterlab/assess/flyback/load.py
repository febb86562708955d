"""How a converter follows its load, what ripple it leaves, and which port it can serve."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.flyback.points import StagePoint
from adapterlab.assess.model.feeds import BRIDGE_DROP, bulk_voltage
from adapterlab.assess.model.inputs import allowance, between
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage
from adapterlab.assess.report.finding import (
    Finding,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.flyback import (
    MODES,
    boundary_current,
    burst_current,
    burst_loss,
    burst_operation,
    diode_loss,
    operating_point,
    output_ripple,
    port_allocation,
    secondary_pulse,
    synchronous_loss,
    valley_number,
    valley_switching,
)
from adapterlab.judgement import agrees
from adapterlab.uncertainty import propagate

SECTION = "flyback"
# Common practice: the peak that a controller does not go below, over that at full load; the
# slow ripple it allows, over the output voltage.
SMALLEST_PEAK, _BURST_RIPPLE = (0.2, 0.35), (0.003, 0.01)
# A quasi-resonant controller waits for a later valley rather than go above this. [Hz]
CEILING = 130e3
# What the controllers take during a burst and in the pause; a diode and a transistor as rectifier.
_AWAKE, _ASLEEP = (0.05, 0.25), (5e-3, 30e-3)
_DIODE, _TRANSISTOR, _DEAD_TIME = (0.4, 0.6), (5e-3, 20e-3), (50e-9, 300e-9)
_DRAWS = 1024


@dataclass(frozen=True)
class Served:
    """A combination of outputs on the label, and what the converters' ratings say of it.

    Attributes
    ----------
    claim : str
        Such as ``20 V 2 A at C1 with 9 V 2.22 A at C2``.
    possible : bool
        Whether every output gets what it asks for.
    power : pandas.DataFrame
        Converters down, ports across. [W]
    short : float
        What is lacking in all. [W]
    """

    claim: str
    possible: bool
    power: pd.DataFrame
    short: float


def _info(question: str, sentence: str, function: str, **rest: Any) -> Finding:
    return Finding(SECTION, question, rules.result(), sentence, f"flyback.{function}", **rest)


def _crest(volts: float) -> float:
    return float(bulk_voltage((volts, 50.0), allowance(BRIDGE_DROP).middle))


def range_finding(specimen: Specimen, stage: Stage, points: list[StagePoint]) -> Finding:
    """Modes, duty and frequency from the lowest valley to the highest crest, at every output."""
    low = min(point.input_voltage.value.value for point in points)
    source = np.linspace(low, _crest(highest_mains(specimen)), 25)
    output = np.linspace(stage.lowest_voltage, stage.highest_voltage, 25)[:, None]
    full = stage.output_voltage * stage.output_current
    current = np.minimum(full / output, stage.largest_current)
    point = operating_point(
        source, **stage.numbers() | {"output_voltage": output, "output_current": current}
    )
    seen = [mode for mode in MODES if (point.mode == mode).any()]
    words = {"boundary": "at the boundary"} | {m: f"in {m} conduction" for m in MODES[::2]}
    duty = [f"{100 * end:.0f} %" for end in (point.duty_cycle.min(), point.duty_cycle.max())]
    rate = point.switching_frequency / 1e3
    pace = "" if stage.switching_frequency else f", at {rate.min():.0f} to {rate.max():.0f} kHz"
    reach = f"{stage.highest_voltage:g} V out"
    if stage.lowest_voltage < stage.highest_voltage:
        reach = f"{stage.lowest_voltage:g} to {reach}"
    return _info(
        f"Does the {stage.name} converter keep its way of working over its whole range?",
        f"From {low:.0f} V of bulk voltage to {source[-1]:.0f} V and from {reach}, at the most "
        f"current it may give, the {stage.name} converter works "
        f"{' or '.join(words[mode] for mode in seen)}; its switch is closed for {duty[0]} to "
        f"{duty[1]} of each period{pace}.",
        "operating_point",
        figure="flyback_modes",
    )


def change_finding(stage: Stage, points: list[StagePoint]) -> Finding:
    """Load at which the mode changes, or the valley that a quasi-resonant controller takes."""
    question = f"At which load does the {stage.name} converter change its way of working?"
    if stage.switching_frequency is None:
        return _valleys(stage, question)
    numbers = stage.numbers()
    full = numbers.pop("output_current")
    said = []
    sources = [point.input_voltage.value.value for point in points]
    for label, source in (
        ("in the lowest valley", min(sources)),
        ("at the highest crest", max(sources)),
    ):
        edge = boundary_current(source, **numbers)
        place = f"{label} of the bulk voltage ({source:.0f} V)"
        reached = "within" if edge < full else "beyond"
        said.append(f"above {edge:.2g} A {place}, {reached} its full load of {full:.3g} A")
    return _info(
        question,
        f"At {stage.output_voltage:g} V out the current of the {stage.name} converter no longer "
        f"reaches zero {'; and '.join(said)}.",
        "boundary_current",
        figure="flyback_modes",
    )


def _valleys(stage: Stage, question: str) -> Finding:
    if stage.drain_capacitance is None:
        return not_measured(
            SECTION,
            question,
            "drain_capacitance of the converter, from the period of its idle ringing.",
            "flyback.valley_switching",
        )
    source = _crest(230.0)
    numbers = stage.numbers()
    numbers.pop("switching_frequency")
    numbers["drain_capacitance"] = stage.drain_capacitance
    numbers["output_current"] = stage.output_current * np.array([1.0, 0.5, 0.25, 0.1])
    number = valley_number(source, highest_frequency=CEILING, **numbers)
    point = valley_switching(source, valley=number, **numbers)
    loads = ("full load", "half", "a quarter", "a tenth")
    taken = ", ".join(
        f"number {which:.0f} at {load} ({rate / 1e3:.0f} kHz)"
        for which, load, rate in zip(number, loads, point.switching_frequency, strict=True)
    )
    return _info(
        question,
        f"Once its core is empty, the drain of the {stage.name} converter rings with a period "
        f"of {point.ring_period[0] * 1e6:.2g} µs; at 230 V its valley lies at "
        f"{point.valley_voltage[0]:.0f} V, and the controller takes {taken}.",
        "valley_switching",
        figure="flyback_modes",
        note=f"Assumed after common practice: a ceiling of {CEILING / 1e3:.0f} kHz, above which "
        "the controller waits for the next valley.",
    )


def burst_finding(stage: Stage) -> Finding | None:
    """Load below which pulses are left out, and the slow ripple that this makes."""
    if stage.output_capacitance is None:
        return None
    capacitance, numbers = stage.output_capacitance, stage.numbers()
    full = operating_point(_crest(230.0), **numbers)
    rate = float(full.switching_frequency)
    inputs = {
        "peak": between(*SMALLEST_PEAK),
        "window": between(*_BURST_RIPPLE),
        "awake": between(*_AWAKE),
        "asleep": between(*_ASLEEP),
    }
    leakage = stage.leakage_inductance or 0.0
    source = full.switch_voltage - full.reflected_voltage
    closing = source if stage.switching_frequency else abs(source - full.reflected_voltage)
    node = (stage.drain_capacitance or 0.0) * closing**2 / 2

    def at(peak: Any, window: Any, awake: Any, asleep: Any) -> list[Any]:
        given = burst_current(
            peak * full.primary_peak, numbers["magnetising_inductance"], rate, stage.output_voltage,
            numbers["diode_drop"], numbers["efficiency"],
        )  # fmt: skip
        burst = burst_operation(
            0.3 * np.asarray(given), given, capacitance, window * stage.output_voltage
        )
        lost = node + leakage * (peak * full.primary_peak) ** 2 / 2
        idle = burst_loss(burst.duty_cycle, rate, lost, awake, asleep)
        return [np.asarray(given) * stage.output_voltage, burst.burst_frequency, idle]

    drawn = propagate(at, inputs, _DRAWS)
    low, high = drawn.interval(0.95)
    begins = Value(float(drawn.mean[0]), float(drawn.standard_uncertainty[0]), "W")
    return _info(
        f"What does the {stage.name} converter do at a light load?",
        f"Below some {low[0]:.1f} to {high[0]:.1f} W the {stage.name} converter probably leaves "
        f"out pulses; at a third of that its output then rises and falls "
        f"{low[1]:.0f} to {high[1]:.0f} times a second, by "
        f"{_BURST_RIPPLE[0] * stage.output_voltage * 1e3:.0f} to "
        f"{_BURST_RIPPLE[1] * stage.output_voltage * 1e3:.0f} mV, and controllers, switch node "
        f"and leakage inductance take {1e3 * low[2]:.0f} to {1e3 * high[2]:.0f} mW.",
        "burst_operation",
        prediction=begins,
        figure="flyback_modes",
        note="Assumed after common practice: a peak current not below "
        f"{100 * SMALLEST_PEAK[0]:.0f} to {100 * SMALLEST_PEAK[1]:.0f} % of that at full load.",
    )


def rectifier_finding(stage: Stage) -> Finding:
    """What the rectifier takes at full load, and what the other kind would take in its place."""
    numbers = stage.numbers()
    inputs = {
        "diode": between(*_DIODE),
        "resistance": between(*_TRANSISTOR),
        "dead_time": between(*_DEAD_TIME),
    }

    def at(diode: Any, resistance: Any, dead_time: Any) -> list[Any]:
        point = operating_point(_crest(230.0), **numbers | {"diode_drop": diode})
        pulse = secondary_pulse(point, stage.output_current)
        rms = np.hypot(pulse.capacitor_rms, stage.output_current)
        transistor = synchronous_loss(
            rms, pulse.peak, resistance, point.switching_frequency, dead_time,
            temperature_factor=1.4,
        )  # fmt: skip
        return [diode_loss(stage.output_current, rms, diode), transistor]

    drawn = propagate(at, inputs, _DRAWS)
    diode, transistor = (
        Value(float(mean), float(spread), "W")
        for mean, spread in zip(drawn.mean, drawn.standard_uncertainty, strict=True)
    )
    says = {
        "diode": "Its rectifier is a diode.",
        "synchronous": "Its rectifier is a transistor.",
        "unknown": "Which of them it has is not known.",
    }[stage.rectifier]
    return _info(
        f"What does the kind of rectifier matter to the {stage.name} converter?",
        f"At full load a diode would take {diode} as output rectifier of the {stage.name} "
        f"converter, a transistor switched in step {transistor}. {says}",
        "synchronous_loss",
        figure="flyback_losses",
        note=f"Assumed after common practice: a drop of {_DIODE[0]:g} to {_DIODE[1]:g} V against "
        f"{_TRANSISTOR[0] * 1e3:.0f} to {_TRANSISTOR[1] * 1e3:.0f} milliohms.",
    )


def _rise_time(stage: Stage, point: Any) -> float | None:
    """Time the leakage inductance takes to hand its current over, as the clamp allows. [s]."""
    if stage.leakage_inductance is None or stage.clamp_voltage is None:
        return None
    above = stage.clamp_voltage - point.reflected_voltage
    return stage.leakage_inductance * point.primary_peak / above if above > 0 else None


def ripple_finding(stage: Stage) -> Finding:
    """Ripple that one converter alone leaves at its full load, by cause."""
    question = f"What ripple do the pulses of the {stage.name} converter leave at full load?"
    if stage.output_capacitance is None or stage.output_esr is None:
        needed = "output_capacitance and output_esr of the converter."
        return not_measured(SECTION, question, needed, "flyback.output_ripple")
    point = operating_point(_crest(230.0), **stage.numbers())
    pulse = secondary_pulse(point, stage.output_current)
    rise = _rise_time(stage, point)
    ripple = output_ripple(
        pulse, stage.output_capacitance, stage.output_esr, stage.output_esl or 0.0, rise or 1.0
    )
    needle = ""
    if stage.output_esl and rise:
        needle = (
            f" With a current that jumps up within {rise * 1e9:.0f} ns the capacitor's own "
            f"inductance would add needles of {ripple.spike * 1e3:.0f} mV, if no ceramic capacitor "
            "beside it took them."
        )
    return _info(
        question,
        f"At 230 V and full load the pulses of the {stage.name} converter alone leave "
        f"{ripple.peak_to_peak * 1e3:.0f} mV peak to peak at its output capacitor: the resistance "
        f"would make {ripple.resistive * 1e3:.0f} mV by itself, the capacitance "
        f"{ripple.capacitive * 1e3:.0f} mV; {ripple.capacitor_rms:.2g} A rms flow through it."
        f"{needle}",
        "output_ripple",
        prediction=Value(ripple.peak_to_peak, 0.0, "V"),
        figure="flyback_waveforms",
        note="Values of the parts as marked, at room temperature.",
    )


def served_by(specimen: Specimen) -> list[Served]:
    """Every combination of the label against the ratings of the converters."""
    adapter = specimen.adapter
    converters = adapter.construction.converters
    found: list[Served] = []
    for combination in adapter.combinations:
        modes = [adapter.mode(out.port, out.mode) for out in combination.outputs]
        volts = [mode.voltage if mode else None for mode in modes]
        if not converters or any(value is None for value in volts):
            continue
        ports = [out.port for out in combination.outputs]
        amperes = [out.current for out in combination.outputs]
        best = port_allocation(
            [converter.rated_power for converter in converters],
            [float(value or 0.0) for value in volts],
            amperes,
            [[not c.ports or port in c.ports for port in ports] for c in converters],
        )
        claim = " with ".join(
            f"{value:g} V {current:g} A at {port}"
            for value, current, port in zip(volts, amperes, ports, strict=True)
        )
        table = pd.DataFrame(best.power, index=[c.name for c in converters], columns=ports)
        found.append(Served(claim, best.possible, table, float(best.short.sum())))
    return found


def port_findings(served: Sequence[Served]) -> list[Finding]:
    """One finding for each combination."""
    found = []
    for case in served:
        ways = [
            f"{name} gives {watts:.3g} W to {port}"
            for name, row in case.power.iterrows()
            for port, watts in row.items()
            if watts > 0.05
        ]
        how = f"the {', the '.join(ways)}" if ways else "no converter reaches these ports"
        given = float(case.power.to_numpy().sum())
        judged, verdict = agrees(case.possible), "the ratings of the converters allow it"
        if not case.possible:
            verdict = f"the ratings of the converters leave {case.short:.3g} W short"
        found.append(
            Finding(
                section=SECTION,
                question=f"Can the converters serve {case.claim}?",
                judgement=judged,
                sentence=f"The label promises {case.claim}: {verdict} ({how}): {judged.word}.",
                function="flyback.port_allocation",
                reading=Value(given + case.short, 0.0, "W"),
                prediction=Value(given, 0.0, "W"),
                origin="combinations",
            )
        )
    return found
