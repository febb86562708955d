"""What a converter leaves at its output: ripple, bursts at a light load, the rectifier's heat."""

from typing import Any

import numpy as np

from adapterlab.assess.flyback.modes import SECTION, note_of, result_of
from adapterlab.assess.model.feeds import BRIDGE_DROP, bridge_drop, bulk_voltage
from adapterlab.assess.model.inputs import Input, allowance, predict
from adapterlab.assess.model.stages import Stage
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.prediction import naming
from adapterlab.assess.report.value import Value, span
from adapterlab.flyback import (
    burst_current,
    burst_loss,
    burst_operation,
    diode_loss,
    operating_point,
    output_ripple,
    secondary_pulse,
    synchronous_loss,
)

_MAINS = (230.0, 50.0)
_DRAWS = 1024


def _inputs(stage: Stage, *names: str) -> dict[str, Input]:
    """Inputs of a stage on 230 V, with further allowances."""
    more = [allowance(name) for name in names]
    return bridge_drop() | stage.inputs | {item.name: item for item in more}


def smallest_peak() -> float:
    """Peak that a controller does not go below, over that at full load. [1]."""
    return allowance("controller.smallest_peak").middle


def burst_finding(stage: Stage) -> Finding | None:
    """Load below which pulses are left out, and the slow ripple that this makes."""
    if stage.output_capacitance is None:
        return None
    capacitance = stage.output_capacitance
    leakage, drain = stage.leakage_inductance or 0.0, stage.drain_capacitance or 0.0

    def at(**drawn: Any) -> list[Any]:
        numbers, source = stage.numbers(drawn), bulk_voltage(_MAINS, drawn[BRIDGE_DROP])
        full = operating_point(source, **numbers)
        peak, rate = drawn["controller.smallest_peak"] * full.primary_peak, full.switching_frequency
        closing = source if stage.switching_frequency else np.abs(source - full.reflected_voltage)
        given = np.asarray(
            burst_current(
                peak, numbers["magnetising_inductance"], rate, stage.output_voltage,
                numbers["diode_drop"], numbers["efficiency"],
            )
        )  # fmt: skip
        window = drawn["controller.burst_ripple"] * stage.output_voltage
        burst = burst_operation(
            0.3 * given, given, capacitance * drawn["output.capacitance_factor"], window
        )
        lost = drain * closing**2 / 2 + leakage * peak**2 / 2
        idle = burst_loss(
            burst.duty_cycle, rate, lost, drawn["controller.awake"], drawn["controller.asleep"]
        )
        return [given * stage.output_voltage, burst.burst_frequency, window, idle]

    inputs = _inputs(
        stage, "controller.smallest_peak", "controller.burst_ripple", "controller.awake",
        "controller.asleep", "output.capacitance_factor",
    )  # fmt: skip
    begins, rate, window, idle = predict(at, inputs, ("W", "Hz", "V", "W"), _DRAWS)
    more = ["switch node"] * bool(drain) + ["leakage inductance"] * bool(leakage)
    taken = ", ".join(["controller", *more[:-1]]) + (f" and {more[-1]} take" if more else " takes")
    return result_of(
        f"What does the {stage.name} converter do at a light load?",
        f"Below some {_about(begins)} the {stage.name} converter probably leaves out pulses; at a "
        f"third of that its output then rises and falls {_times(rate)} a second, by "
        f"{_about(window)}, and {taken} {_about(idle)}.",
        "burst_operation",
        prediction=begins.value,
        rests_on=begins.rests_on,
        figure="flyback_modes",
        note=f"That load{naming(begins.rests_on)}. {note_of(stage)}".strip(),
    )


def _about(found: Any) -> str:
    """Ends of a prediction as a rough span: two figures are all that it is good for."""
    low, high = (float(f"{end:.2g}") for end in found.interval)
    return span(low, high, found.value.unit)


def _times(found: Any) -> str:
    low, high = (float(f"{end:.2g}") for end in found.interval)
    return f"{low:.0f} to {high:.0f} times"


def rectifier_finding(stage: Stage) -> Finding:
    """What the rectifier takes at full load, and what the other kind would take in its place."""

    def at(**drawn: Any) -> list[Any]:
        drop = drawn["rectifier.drop.diode"]
        source = bulk_voltage(_MAINS, drawn[BRIDGE_DROP])
        point = operating_point(source, **stage.numbers(drawn) | {"diode_drop": drop})
        pulse = secondary_pulse(point, stage.output_current)
        rms = np.hypot(pulse.capacitor_rms, stage.output_current)
        transistor = synchronous_loss(
            rms, pulse.peak, drawn["rectifier.resistance"], point.switching_frequency,
            drawn["rectifier.dead_time"], temperature_factor=drawn["rectifier.warm_factor"],
        )  # fmt: skip
        return [diode_loss(stage.output_current, rms, drop), transistor]

    inputs = _inputs(
        stage, "rectifier.drop.diode", "rectifier.resistance", "rectifier.dead_time",
        "rectifier.warm_factor",
    )  # fmt: skip
    diode, transistor = predict(at, inputs, "W", _DRAWS)
    says = {
        "diode": "Its rectifier is a diode.",
        "synchronous": "Its rectifier is a transistor.",
        "unknown": "Which of them it has is not known.",
    }[stage.rectifier]
    return result_of(
        f"What does the kind of rectifier matter to the {stage.name} converter?",
        f"At full load a diode would take {_about(diode)} as output rectifier of the {stage.name} "
        f"converter, a transistor switched in step {_about(transistor)}. {says}",
        "synchronous_loss",
        prediction=(transistor if stage.rectifier == "synchronous" else diode).value,
        rests_on=(*diode.rests_on, *transistor.rests_on),
        figure="flyback_losses",
        note=f"The diode{naming(diode.rests_on)}; the transistor{naming(transistor.rests_on)}.",
    )


def ripple_finding(stage: Stage) -> Finding:
    """Ripple that one converter alone leaves at its full load, by cause."""
    question = f"What ripple do the pulses of the {stage.name} converter leave at full load?"
    capacitance, esr = stage.output_capacitance, stage.output_esr
    if capacitance is None or esr is None:
        needed = "output_capacitance and output_esr of the converter."
        return not_measured(SECTION, question, needed, "flyback.output_ripple")

    def at(**drawn: Any) -> list[Any]:
        point = operating_point(bulk_voltage(_MAINS, drawn[BRIDGE_DROP]), **stage.numbers(drawn))
        pulse = secondary_pulse(point, stage.output_current)
        rise = _rise_time(stage, point)
        ripple = output_ripple(
            pulse, capacitance * drawn["output.capacitance_factor"],
            esr * drawn["output.series_resistance_factor"], stage.output_esl or 0.0,
            1.0 if rise is None else rise,
        )  # fmt: skip
        rises = 0.0 if rise is None else rise
        parts = (ripple.resistive, ripple.capacitive, ripple.spike)
        return [ripple.peak_to_peak, *parts, ripple.capacitor_rms, rises]

    inputs = _inputs(stage, "output.capacitance_factor", "output.series_resistance_factor")
    units = ("V", "V", "V", "V", "A", "s")
    ripple, *found = predict(at, inputs, units, _DRAWS)
    plain = [Value(float(f"{x.value.value:.2g}"), 0.0, x.value.unit) for x in found]
    resistive, capacitive, spike, rms, rise = plain
    needle = ""
    if stage.output_esl and rise.value > 0:
        needle = (
            f" With a current that jumps up within {rise} the capacitor's own "
            f"inductance would add needles of {spike}, if no ceramic capacitor beside "
            "it took them."
        )
    return result_of(
        question,
        f"At 230 V and full load the pulses of the {stage.name} converter alone leave {ripple} "
        f"peak to peak at its output capacitor: the resistance would make {resistive} "
        f"by itself, the capacitance {capacitive}; {rms} rms flow through "
        f"it.{needle}",
        "output_ripple",
        prediction=ripple.value,
        rests_on=ripple.rests_on,
        figure="flyback_waveforms",
        note=f"Values of the parts at room temperature. {note_of(stage)}".strip(),
    )


def _rise_time(stage: Stage, point: Any) -> Any:
    """Time the leakage inductance takes to hand its current over, as the clamp allows; or None.

    [s]
    """
    if stage.leakage_inductance is None or stage.clamp_voltage is None:
        return None
    above = stage.clamp_voltage - point.reflected_voltage
    if np.any(above <= 0):
        return None
    return stage.leakage_inductance * point.primary_peak / above
