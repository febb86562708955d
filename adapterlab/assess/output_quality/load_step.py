"""How an output answers a load that jumps."""

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.capture import (
    RECOVERY_BAND,
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
from adapterlab.assess.report.value import Value
from adapterlab.dossier.records import Record
from adapterlab.output_quality import (
    LoadTransients,
    load_transients,
    reaction_time,
    voltage_window,
)
from adapterlab.published import rows

QUESTION = "How does the output answer a load that jumps?"
FUNCTION = "load_transients"
_FIGURE = "output_quality_load_step"


def read(specimen: Specimen, record: Record) -> Event:
    """The steps of a capture; raises ValueError if there is none."""
    volts, amperes = channel(record, "voltage"), channel(record, "current")
    return Event(record, load_transients(record.time, volts, amperes, RECOVERY_BAND), 0.0)


def worst_of(result: LoadTransients, *, rising: bool) -> int | None:
    """Place of the step of largest deviation, among those up or those down; None if none is."""
    change = result.current_after - result.current_before
    chosen = np.flatnonzero(change > 0 if rising else change < 0)
    if len(chosen) == 0:
        return None
    return int(chosen[np.abs(result.deviation[chosen]).argmax()])


def _reaction(specimen: Specimen, event: Event, worst: int) -> str:
    """What the dip says of the converter's answer, where the output capacitor is known."""
    result: LoadTransients = event.result
    port = event.record.capture.port
    for item in specimen.adapter.construction.converters:
        mine = not item.ports or item.ports[0] == port
        if not (mine and item.output_capacitance and item.output_esr):
            continue
        step = abs(result.current_after[worst] - result.current_before[worst])
        dip = abs(result.deviation[worst])
        try:
            late = reaction_time(dip, step, item.output_capacitance, item.output_esr)
        except ValueError:
            return ""
        return (
            f" {Value(item.output_capacitance, 0.0, 'F').short} with "
            f"{Value(item.output_esr, 0.0, 'Ω').short} in series would carry the step alone for "
            f"about {late * 1e6:.0f} µs before the {item.name} converter answers."
        )
    return ""


def _answer(specimen: Specimen, event: Event, worst: int, rising: bool) -> Finding:
    result: LoadTransients = event.result
    record = event.record
    gain = accuracy_of(
        specimen, "capture voltage", float(result.extreme[worst]), result.deviation[worst], "V"
    )
    spread = float(np.hypot(gain.standard_uncertainty, np.sqrt(2) * result.noise))
    value = Value(abs(float(result.deviation[worst])), spread, "V")
    what, way = ("dips below", "jumps") if rising else ("rises above", "goes")
    recovery, band = float(result.recovery_time[worst]), f"{100 * RECOVERY_BAND:g} %"
    back = (
        f"never leaves {band} of it"
        if recovery <= 0
        else f"is within {band} of it again after {recovery * 1e6:.0f} µs"
    )
    return Finding(
        judgement=rules.result(),
        question=f"How does {named(record)} answer a load that {way}?",
        sentence=(
            f"From {result.current_before[worst]:.2f} to {result.current_after[worst]:.2f} A, "
            f"{named(record)} {what} its new steady voltage by {value} and {back}."
            + (_reaction(specimen, event, worst) if rising else "")
        ),
        reading=value,
        **common(record, _FIGURE, FUNCTION),
    )


def _window(specimen: Specimen, event: Event, worst: int) -> Finding:
    """The lowest voltage against the transient end of the window."""
    record, lowest = event.record, float(event.result.extreme[worst])
    published = rows(SECTION, "windows", kind="fixed", side="lower", band="transient")[0]
    end = voltage_window(asked_voltage(specimen, record)).transient_minimum
    name = "the transient window of USB Power Delivery"
    return against_limit(
        specimen.reading("capture voltage", lowest, "V"),
        Limit.published(published, end, "V", "lower", name),
        f"The lowest voltage of {named(record)} after the load jumps",
        not_judged="" if knows_its_window(specimen, record) else "its mode is not noted",
        question=f"Does {named(record)} stay within its transient window?",
        **common(record, _FIGURE, "voltage_window"),
    )


def findings(specimen: Specimen, event: Event) -> list[Finding]:
    """The worst step up and the worst step down; the lowest voltage against its window."""
    found = []
    for rising in (True, False):
        worst = worst_of(event.result, rising=rising)
        if worst is None:
            continue
        found.append(_answer(specimen, event, worst, rising))
        if rising and event.result.extreme[worst] > 0:
            found.append(_window(specimen, event, worst))
    return found
