"""How an output comes up when the adapter is plugged in."""

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.capture import (
    Event,
    accuracy_of,
    asked_voltage,
    channel,
    common,
    knows_its_window,
    named,
)
from adapterlab.assess.output_quality.outputs import SECTION
from adapterlab.assess.report.finding import Finding, Limit, against_limit
from adapterlab.dossier.records import Record
from adapterlab.output_quality import StartUp, start_up, voltage_window
from adapterlab.published import rows

QUESTION = "How does the output come up?"
FUNCTION = "start_up"
_FIGURE = "output_quality_events"
# A fall on the way of less than this share of the final voltage is noise.
_SETBACK = 0.02


def read(specimen: Specimen, record: Record) -> Event:
    """The rise; raises ValueError if the record does not begin below a tenth of its end."""
    return Event(record, start_up(record.time, channel(record, "voltage")), 0.0)


def findings(specimen: Specimen, event: Event) -> list[Finding]:
    """Delay, rise and overshoot; the highest voltage against its transient window."""
    result: StartUp = event.result
    record = event.record
    highest = result.final_voltage + result.overshoot
    over = accuracy_of(specimen, "capture voltage", highest, result.overshoot, "V")
    steady = (
        "without falling back"
        if result.setback < _SETBACK * result.final_voltage
        else f"with a fall of {result.setback:.2f} V on the way"
    )
    published = rows(SECTION, "windows", kind="fixed", side="upper", band="transient")[0]
    end = voltage_window(asked_voltage(specimen, record)).transient_maximum
    name = "the transient window of USB Power Delivery"
    base = common(record, _FIGURE, FUNCTION)
    return [
        Finding(
            judgement=rules.result(),
            question=f"How does {named(record)} come up?",
            sentence=(
                f"{named(record)} comes up {result.delay * 1e3:.0f} ms after contact, from 10 to "
                f"90 % in {result.rise_time * 1e3:.1f} ms {steady}, and overshoots by {over}."
            ),
            reading=over,
            note=f"Steepest rise {result.slew / 1e3:.2g} V/ms.",
            **base,
        ),
        against_limit(
            specimen.reading("capture voltage", highest, "V"),
            Limit.published(published, end, "V", "upper", name),
            f"The highest voltage of {named(record)} while it comes up",
            not_judged="" if knows_its_window(specimen, record) else "its mode is not noted",
            question=f"Does {named(record)} stay below its transient window on starting?",
            **base | {"function": "output_quality.voltage_window"},
        ),
    ]
