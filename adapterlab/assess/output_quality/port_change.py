"""What happens to one port while another is plugged or unplugged."""

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.capture import (
    Event,
    accuracy_of,
    asked_voltage,
    channel,
    common,
    interval_of,
    named,
)
from adapterlab.assess.output_quality.outputs import SECTION
from adapterlab.assess.report.finding import Finding, Limit, against_limit
from adapterlab.assess.report.value import Value
from adapterlab.dossier.records import Record
from adapterlab.output_quality import Excursion, excursion, voltage_window
from adapterlab.published import rows

QUESTION = "What happens to one port while another is plugged?"
FUNCTION = "excursion"
_FIGURE = "output_quality_events"


def read(specimen: Specimen, record: Record) -> Event:
    """The excursion below the window."""
    volts = channel(record, "voltage")
    low = voltage_window(asked_voltage(specimen, record)).static_minimum
    return Event(record, excursion(record.time, volts, low), low)


def _spread(record: Record) -> float:
    """Standard uncertainty of a time between two crossings. [s]."""
    return interval_of(record) / float(np.sqrt(6))


def _off_time(event: Event, off: float) -> Finding:
    """How long the voltage takes to die away, against the published time."""
    record = event.record
    gone = excursion(record.time, channel(record, "voltage"), off)
    published = rows(SECTION, "port_states", name="time to off")[0]
    return against_limit(
        Value(gone.start - event.result.start, _spread(record), "s"),
        Limit.published(
            published, published["value"], "s", "upper", "USB Power Delivery (tSafe0V)"
        ),
        f"The time in which {named(record)} dies away to {off:g} V",
        question=f"Does {record.capture.port} switch off in time?",
        **common(record, _FIGURE, FUNCTION),
    )


def findings(specimen: Specimen, event: Event) -> list[Finding]:
    """Whether the port stays within its window, how long it is gone, and how fast it dies away."""
    result: Excursion = event.result
    record = event.record
    other = record.capture.other_port or "another port"
    base = common(record, _FIGURE, FUNCTION)
    question = f"What happens to {record.capture.port} while {other} is plugged or unplugged?"
    off = float(rows(SECTION, "port_states", name="off")[0]["value"])
    if result.duration == 0:
        dip = accuracy_of(
            specimen, "capture voltage", result.before, result.before - result.lowest, "V"
        )
        sentence = (
            f"While {other} changes, {named(record)} stays within its window; it dips by {dip}."
        )
        return [
            Finding(
                judgement=rules.result(), question=question, sentence=sentence, reading=dip, **base
            )
        ]
    gone = Value(result.duration, _spread(record), "s")
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
    found = [
        Finding(
            judgement=rules.result(),
            question=question,
            sentence=f"While {other} changes, {named(record)} {depth}: it is below its window for "
            f"{gone} and then {end}.",
            reading=gone,
            note="Ports that share power renegotiate; a device that charges through it notices a "
            "gap.",
            **base,
        )
    ]
    if result.lowest < off and result.returned:
        found.append(_off_time(event, off))
    return found
