"""What an output does when the load asks for too much."""

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.capture import (
    Event,
    accuracy_of,
    asked_voltage,
    channel,
    common,
    named,
)
from adapterlab.assess.report.finding import Finding
from adapterlab.dossier.records import Record
from adapterlab.output_quality import Overcurrent, overcurrent, voltage_window

QUESTION = "What does the output do when the load asks for too much?"
FUNCTION = "overcurrent"


def read(specimen: Specimen, record: Record) -> Event:
    """Where the output lets go; raises ValueError if the load never rises."""
    volts, amperes = channel(record, "voltage"), channel(record, "current")
    low = voltage_window(asked_voltage(specimen, record)).static_minimum
    return Event(record, overcurrent(record.time, volts, amperes, low), low)


def findings(specimen: Specimen, event: Event) -> list[Finding]:
    """The largest current it gives, and what it does then."""
    result: Overcurrent = event.result
    record, most = event.record, float(event.result.limit_current)
    value = accuracy_of(specimen, "capture current", most, most, "A")
    ends = {
        "holds": "and holds its voltage to the end of the record",
        "stays off": "lets go there and stays off",
        "recovers": "lets go there and comes back once the load is less",
        "retries": f"lets go there and tries again every {result.retry_interval:.2g} s",
    }
    mode = specimen.adapter.mode(record.capture.port, record.capture.mode)
    rated = f", {100 * most / mode.current:.0f} % of its {mode.current:g} A" if mode else ""
    return [
        Finding(
            judgement=rules.result(),
            question=f"What does {named(record)} do when the load asks for too much?",
            sentence=f"{named(record)} gives up to {value}{rated}, {ends[result.behaviour]}.",
            reading=value,
            note="The output capacitor hides the limit for a moment, so a fast ramp reads high.",
            **common(record, "output_quality_events", FUNCTION),
        )
    ]
