"""How long the output outlasts the mains."""

from collections.abc import Callable
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.model.feeds import (
    BRIDGE_DROP,
    bridge_drop,
    bulk_capacitance,
    bulk_inputs,
    bulk_voltage,
)
from adapterlab.assess.model.inputs import Input, measured, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import SECTION, mains_numbers
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.prediction import naming
from adapterlab.output_quality import hold_up_time

_FUNCTION = "output_quality.hold_up_time"
_SHARE, _ENDS, _POWER = "rectifier.share", "converter.lowest_bulk_voltage", "sweep.input_power"


def heaviest_rows(specimen: Specimen) -> list[Any]:
    """Row of most input power on each mains, in the order of the file."""
    rows = [row for row in specimen.load_sweep.itertuples() if row.input_power > 0]
    most: dict[int, Any] = {}
    for number, row in zip(mains_numbers(row.mains_voltage for row in rows), rows, strict=True):
        if number not in most or row.input_power > most[number].input_power:
            most[number] = row
    return list(most.values())


def _held(specimen: Specimen, mains: tuple[float, float]) -> Callable[..., Any]:
    """Time from the valley of the bulk voltage to the converter's letting go. [s]."""

    def held(**drawn: Any) -> Any:
        power = drawn[_SHARE] * drawn[_POWER]
        capacitance = bulk_capacitance(specimen, drawn)
        valley = bulk_voltage(mains, drawn[BRIDGE_DROP], power, capacitance)
        return hold_up_time(capacitance, valley, drawn[_ENDS], power)

    return held


def _finding(specimen: Specimen, row: Any, bulk: dict[str, Input]) -> Finding:
    volts, hertz = float(row.mains_voltage), float(row.mains_frequency)
    read = specimen.reading("input power", float(row.input_power), "W")
    inputs = bulk | bridge_drop() | {name: specimen.allowance(name) for name in (_SHARE, _ENDS)}
    inputs[_POWER] = measured(_POWER, read, f"{read} read at the mains")
    where = f"at {volts:.0f} V, {hertz:.0f} Hz and {read.short} input"
    question = f"How long does the output outlast the mains {where}?"
    try:
        (time,) = predict(_held(specimen, (volts, hertz)), inputs, "s")
    except ValueError as error:
        reason = str(error).split(":")[0].split(", got")[0].replace("_", " ")
        return not_measured(SECTION, question, f"{reason}.", _FUNCTION)
    return Finding(
        section=SECTION,
        question=question,
        judgement=rules.result(),
        sentence=(
            f"If the mains goes in the valley of the bulk voltage {where}, the parts predict that "
            f"the output lasts another {time}{naming(time.rests_on)}; half a period of the mains "
            f"is {0.5e3 / hertz:.1f} ms."
        ),
        prediction=time.value,
        rests_on=time.rests_on,
        draws=time,
        function=_FUNCTION,
        origin=f"load_sweep.csv line {row.line}",
    )


def hold_up_findings(specimen: Specimen) -> list[Finding]:
    """How long the bulk capacitor carries the heaviest load measured when the mains goes."""
    rows, bulk = heaviest_rows(specimen), bulk_inputs(specimen)
    if not bulk or not rows:
        needed = (
            "[[parts]] with the role 'bulk capacitor' and its value, and load_sweep.csv with input "
            "power."
        )
        question = "How long does the output outlast the mains?"
        return [not_measured(SECTION, question, needed, _FUNCTION)]
    return [_finding(specimen, row, bulk) for row in rows]
