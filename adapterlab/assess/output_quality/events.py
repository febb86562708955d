"""Captures of the output in time: a jump of the load, a change of ports, start and overload."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.static import SECTION
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.capture_kinds import lacking
from adapterlab.dossier.records import Record
from adapterlab.output_quality import (
    Excursion,
    LoadTransients,
    Overcurrent,
    StartUp,
    excursion,
    load_transients,
    overcurrent,
    reaction_time,
    start_up,
    voltage_window,
)
from adapterlab.published import rows


@dataclass(frozen=True)
class Event:
    """One capture of an event and what was read from it.

    Attributes
    ----------
    record : Record
        As in the dossier.
    result : LoadTransients, Excursion, StartUp or Overcurrent
        What `adapterlab.output_quality` says of it.
    lower : float
        Voltage below which the output counts as gone or low; 0 where it plays no part. [V]
    """

    record: Record
    result: Any
    lower: float


def _gain(specimen: Specimen) -> float:
    """Relative standard uncertainty of a voltage difference on a capture; 0 if not listed.

    The part that is a fraction of full scale is an offset, which cancels in differences.
    """
    meters = specimen.adapter.instruments_for("capture voltage")
    meters = meters or specimen.adapter.instruments_for("ripple")
    return max((meter.fraction_of_reading for meter in meters), default=0.0) / float(np.sqrt(3))


def _set_voltage(specimen: Specimen, record: Record) -> float:
    """Voltage the port was asked for; where no fixed mode is named, what the record begins with."""
    mode = specimen.adapter.mode(record.capture.port, record.capture.mode)
    if mode is not None and mode.voltage is not None:
        return mode.voltage
    volts = record.channel("voltage")
    if volts is None:
        return 0.0
    return float(max(np.median(volts[: len(volts) // 20 + 1]), np.median(volts[-50:])))


def _channel(record: Record, quantity: str) -> Any:
    values = record.channel(quantity)
    if values is None:
        raise ValueError(f"it needs {lacking(record.capture)}")
    return values


def event_of(specimen: Specimen, record: Record) -> Event | str:
    """One capture worked out, or why it can't be."""
    kind = record.capture.kind
    asked = _set_voltage(specimen, record)
    band = rows(SECTION, "practice", name="recovery band")[0]["value"]
    try:
        volts, low = _channel(record, "voltage"), voltage_window(asked).static_minimum
        if kind == "load step":
            amperes = _channel(record, "current")
            return Event(record, load_transients(record.time, volts, amperes, band), 0.0)
        if kind == "port change":
            if not record.capture.port:
                return f"it needs {lacking(record.capture)}"
            return Event(record, excursion(record.time, volts, low), low)
        if kind == "start-up":
            return Event(record, start_up(record.time, volts), 0.0)
        amperes = _channel(record, "current")
        return Event(record, overcurrent(record.time, volts, amperes, low), low)
    except ValueError as error:
        return str(error).split(", got")[0]


def _named(record: Record) -> str:
    capture = record.capture
    return f"{capture.port or 'the output'}{' (' + capture.mode + ')' if capture.mode else ''}"


def _base(record: Record, figure: str, function: str) -> dict[str, Any]:
    return {
        "section": SECTION,
        "origin": record.capture.file,
        "figure": figure,
        "function": f"output_quality.{function}",
    }


def _reaction(specimen: Specimen, event: Event, result: LoadTransients, worst: int) -> str:
    """What the dip says of the converter's answer, where the output capacitor is known."""
    port = event.record.capture.port
    for item in specimen.adapter.construction.converters:
        mine = not item.ports or item.ports[0] == port
        if mine and item.output_capacitance and item.output_esr:
            step = abs(result.current_after[worst] - result.current_before[worst])
            try:
                late = reaction_time(
                    abs(result.deviation[worst]), step, item.output_capacitance, item.output_esr
                )
            except ValueError:
                return ""
            return (
                f" {Value(item.output_capacitance, 0.0, 'F').short} with "
                f"{Value(item.output_esr, 0.0, 'Ω').short} in series carried the step alone for "
                f"about {late * 1e6:.0f} µs before the {item.name} converter answered."
            )
    return ""


def _load_step(specimen: Specimen, event: Event) -> list[Finding]:
    result: LoadTransients = event.result
    gain, record = _gain(specimen), event.record
    found = []
    asked = _set_voltage(specimen, record)
    for rising in (True, False):
        change = result.current_after - result.current_before
        chosen = np.flatnonzero(change > 0 if rising else change < 0)
        if len(chosen) == 0:
            continue
        worst = int(chosen[np.abs(result.deviation[chosen]).argmax()])
        size = float(result.deviation[worst])
        spread = float(np.hypot(gain * size, np.sqrt(2) * result.noise)) if gain else 0.0
        value = Value(abs(size), spread, "V")
        what = "dips below" if rising else "rises above"
        way = "jumps" if rising else "goes"
        recovery = result.recovery_time[worst]
        band = "1 %"
        back = (
            f"never leaves {band} of it"
            if recovery <= 0
            else f"is within {band} of it again after {recovery * 1e6:.0f} µs"
        )
        finding = Finding(
            judgement=rules.result(),
            question=f"How does {_named(record)} answer a load that {way}?",
            sentence=(
                f"From {result.current_before[worst]:.2f} to {result.current_after[worst]:.2f} A, "
                f"{_named(record)} {what} its new steady voltage by {value} and {back}."
                + (_reaction(specimen, event, result, worst) if rising else "")
            ),
            reading=value,
            **_base(record, "output_quality_load_step", "load_transients"),
        )
        found.append(finding)
        if rising and asked and result.extreme[worst] > 0:
            found.append(_transient_window(event, result, worst, asked, spread))
    return found


def _transient_window(
    event: Event, result: LoadTransients, worst: int, asked: float, spread: float
) -> Finding:
    """The lowest voltage against the transient end of the window."""
    known = rows(SECTION, "windows", kind="fixed", side="lower", band="transient")[0]
    base = _base(event.record, "output_quality_load_step", "voltage_window")
    return against_limit(
        Value(float(result.extreme[worst]), spread, "V"),
        Limit.published(
            known,
            voltage_window(asked).transient_minimum,
            "V",
            "lower",
            "the transient window of USB Power Delivery",
        ),
        f"The lowest voltage of {_named(event.record)} after the load jumps",
        question=f"Does {_named(event.record)} stay within its transient window?",
        **base,
    )


def _port_change(specimen: Specimen, event: Event) -> list[Finding]:
    result: Excursion = event.result
    record = event.record
    other = record.capture.other_port or "another port"
    base = _base(record, "output_quality_events", "excursion")
    interval = float(record.time[-1] - record.time[0]) / (len(record.time) - 1)
    question = f"What happens to {record.capture.port} while {other} is plugged or unplugged?"
    if result.duration == 0:
        gain = _gain(specimen)
        value = Value(result.before - result.lowest, gain * abs(result.before - result.lowest), "V")
        sentence = (
            f"While {other} changes, {_named(record)} stays within its window; it dips by {value}."
        )
        return [
            Finding(
                judgement=rules.result(),
                question=question,
                sentence=sentence,
                reading=value,
                **base,
            )
        ]
    value = Value(result.duration, interval / float(np.sqrt(6)), "s")
    off = rows(SECTION, "port_states", name="off")[0]["value"]
    depth = (
        f"goes off altogether (below {off:g} V)"
        if result.lowest < off
        else f"falls to {result.lowest:.2f} V"
    )
    end = (
        f"is back at {result.after:.1f} V"
        if result.returned
        else "has not come back when the record ends"
    )
    sentence = (
        f"While {other} changes, {_named(record)} {depth}: it is below its window for {value} and "
        f"then {end}."
    )
    note = "Ports that share power renegotiate; a device that charges through it notices a gap."
    findings = [
        Finding(
            judgement=rules.result(),
            question=question,
            sentence=sentence,
            reading=value,
            note=note,
            **base,
        )
    ]
    if result.lowest < off and result.returned:
        findings.append(_off_time(event, off, interval))
    return findings


def _off_time(event: Event, off: float, interval: float) -> Finding:
    """How long the voltage takes to die away, against the published time."""
    volts = _channel(event.record, "voltage")
    gone = excursion(event.record.time, volts, off)
    start = event.result.start
    known = rows(SECTION, "port_states", name="time to off")[0]
    return against_limit(
        Value(gone.start - start, interval / float(np.sqrt(6)), "s"),
        Limit.published(known, known["value"], "s", "upper", "USB Power Delivery (tSafe0V)"),
        f"The time in which {_named(event.record)} dies away to {off:g} V",
        question=f"Does {event.record.capture.port} switch off in time?",
        **_base(event.record, "output_quality_events", "excursion"),
    )  # fmt: skip


def _start_up(specimen: Specimen, event: Event) -> list[Finding]:
    result: StartUp = event.result
    record = event.record
    gain = _gain(specimen)
    value = Value(result.overshoot, gain * result.overshoot, "V")
    steady = (
        "without falling back"
        if result.setback < 0.02 * result.final_voltage
        else f"with a fall of {result.setback:.2f} V on the way"
    )
    base = _base(record, "output_quality_events", "start_up")
    slew = rows(SECTION, "port_states", name="steepest rise")[0]
    return [
        Finding(
            judgement=rules.result(),
            question=f"How does {_named(record)} come up?",
            sentence=(
                f"{_named(record)} comes up {result.delay * 1e3:.0f} ms after contact, from 10 to "
                f"90 % in {result.rise_time * 1e3:.1f} ms {steady}, and overshoots by {value}."
            ),
            reading=value,
            note=f"Steepest rise {result.slew / 1e3:.2g} V/ms; a USB source may rise at most "
            f"{slew['value'] / 1e3:g} V/ms (from memory, not judged).",
            **base,
        ),
        against_limit(
            replace(value, value=result.final_voltage + result.overshoot,
                    standard_uncertainty=gain * (result.final_voltage + result.overshoot)),
            _upper(specimen, record),
            f"The highest voltage of {_named(record)} while it comes up",
            question=f"Does {_named(record)} stay below its transient window on starting?",
            **(base | {"function": "output_quality.voltage_window"}),
        ),
    ]  # fmt: skip


def _upper(specimen: Specimen, record: Record) -> Limit:
    known = rows(SECTION, "windows", kind="fixed", side="upper", band="transient")[0]
    end = voltage_window(_set_voltage(specimen, record)).transient_maximum
    name = "the transient window of USB Power Delivery"
    return Limit.published(known, end, "V", "upper", name)


def _overcurrent(specimen: Specimen, event: Event) -> list[Finding]:
    result: Overcurrent = event.result
    record = event.record
    meters = specimen.adapter.instruments_for("capture current")
    gain = max((meter.fraction_of_reading for meter in meters), default=0.0) / np.sqrt(3)
    value = Value(result.limit_current, float(gain * result.limit_current), "A")
    ends = {
        "holds": "and holds its voltage to the end of the record",
        "stays off": "lets go there and stays off",
        "recovers": "lets go there and comes back once the load is less",
        "retries": f"lets go there and tries again every {result.retry_interval:.2g} s",
    }
    mode = specimen.adapter.mode(record.capture.port, record.capture.mode)
    rated = f", {result.limit_current / mode.current:.0%} of its {mode.current:g} A" if mode else ""
    return [
        Finding(
            judgement=rules.result(),
            question=f"What does {_named(record)} do when the load asks for too much?",
            sentence=f"{_named(record)} gives up to {value}{rated}, {ends[result.behaviour]}.",
            reading=value,
            note="The output capacitor hides the limit for a moment, so a fast ramp reads high.",
            **_base(record, "output_quality_events", "overcurrent"),
        )
    ]


_JUDGES: dict[str, Callable[[Specimen, Event], list[Finding]]] = {
    "load step": _load_step,
    "port change": _port_change,
    "start-up": _start_up,
    "overcurrent": _overcurrent,
}
_FUNCTIONS = {
    "load step": "load_transients",
    "port change": "excursion",
    "start-up": "start_up",
    "overcurrent": "overcurrent",
}
_QUESTIONS = {
    "load step": "How does the output answer a load that jumps?",
    "port change": "What happens to one port while another is plugged?",
    "start-up": "How does the output come up?",
    "overcurrent": "What does the output do when the load asks for too much?",
}


def events_of(specimen: Specimen) -> tuple[list[Event], list[Finding]]:
    """Every capture of an event, and what is to be said of all of them."""
    events, found = [], []
    for kind, judge in _JUDGES.items():
        records = specimen.records_of(kind)
        if not records and kind == "port change" and len(specimen.adapter.ports) < 2:
            continue
        function = f"output_quality.{_FUNCTIONS[kind]}"
        if not records:
            needed = f"[[captures]] of the kind '{kind}' with the output voltage"
            needed += " and the load current." if kind in ("load step", "overcurrent") else "."
            found.append(not_measured(SECTION, _QUESTIONS[kind], needed, function))
        for record in records:
            event = event_of(specimen, record)
            if isinstance(event, str):
                needed = f"{record.capture.file}: {event}."
                found.append(not_measured(SECTION, _QUESTIONS[kind], needed, function))
                continue
            events.append(event)
            found += judge(specimen, event)
    return events, found
