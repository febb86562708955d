"""Every capture of an event: a load that jumps, a port plugged, a start, an overload."""

from types import ModuleType
from typing import cast

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality import load_step, overcurrent, port_change, start_up
from adapterlab.assess.output_quality.capture import Event
from adapterlab.assess.output_quality.outputs import SECTION, missing
from adapterlab.assess.report.finding import Finding, does_not_apply
from adapterlab.dossier.capture_kinds import lacking
from adapterlab.dossier.records import Record

# Kind of capture -> module with ``read``, ``findings``, QUESTION and FUNCTION.
KINDS: dict[str, ModuleType] = {
    "load step": load_step,
    "port change": port_change,
    "start-up": start_up,
    "overcurrent": overcurrent,
}


def _nothing(specimen: Specimen, kind: str, module: ModuleType) -> Finding:
    """What to say where no capture of a kind is listed."""
    if kind == "port change" and len(specimen.adapter.ports) == 1:
        why = "It has one port, so that no other one can disturb it."
        return does_not_apply(SECTION, module.QUESTION, why, f"output_quality.{module.FUNCTION}")
    needed = f"[[captures]] of the kind '{kind}' with the output voltage"
    needed += " and the load current." if kind in ("load step", "overcurrent") else "."
    return missing(module.QUESTION, needed, module.FUNCTION)


def _event(specimen: Specimen, record: Record, module: ModuleType) -> Event | str:
    """One capture worked out, or why it can't be."""
    if lacking(record.capture):
        return f"it needs {lacking(record.capture)}"
    try:
        return cast(Event, module.read(specimen, record))
    except ValueError as error:
        return str(error).split(", got")[0]


def events_of(specimen: Specimen) -> tuple[tuple[Event, ...], list[Finding]]:
    """Every capture of an event, and what is to be said of all of them."""
    events: list[Event] = []
    found: list[Finding] = []
    for kind, module in KINDS.items():
        records = specimen.records_of(kind)
        if not records:
            found.append(_nothing(specimen, kind, module))
        for record in records:
            event = _event(specimen, record, module)
            if isinstance(event, str):
                needed = f"{record.capture.file}: {event}."
                found.append(missing(module.QUESTION, needed, module.FUNCTION))
                continue
            events.append(event)
            found += module.findings(specimen, event)
    return tuple(events), found
