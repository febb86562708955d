"""How the line capacitor runs down when the plug is pulled, by the marks of the parts."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.inrush.prediction import SECTION, by_the_marks
from adapterlab.assess.model.inputs import Input, predict
from adapterlab.assess.model.mains import highest_mains, mains_tolerance
from adapterlab.assess.model.rectifier import listed
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    does_not_apply,
    no_limit,
    not_measured,
)
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.inrush import bleed_loss, charged_capacitor_limit, discharge_time, discharge_voltage
from adapterlab.published import rows, standing_of

_QUESTION = "Does the line capacitor run down when the plug is pulled?"
_MAINS = 230.0
_DRAWS = 512


@dataclass(frozen=True)
class Discharge:
    """How the line capacitor runs down after the plug is pulled, at worst from the crest.

    Attributes
    ----------
    capacitors, resistors : str
        References, as said aloud.
    capacitance, resistance : float
        As marked: of the line capacitors together and of the discharge resistors in series.
        [F], [ohm]
    largest : float
        Capacitance with the tolerances added. [F]
    start_voltage : float
        Crest of the highest mains voltage on the label, with the mains tolerance. [V]
    level : float
        Voltage that counts as run down in the picture. [V]
    constant, time : Prediction
        Time constant, and time to that level. [s]
    after : tuple of Prediction
        Voltage after 1 s and after 2 s. [V]
    loss : Prediction
        Power the resistors burn at 230 V. [W]
    """

    capacitors: str
    resistors: str
    capacitance: float
    resistance: float
    largest: float
    start_voltage: float
    level: float
    constant: Prediction
    time: Prediction
    after: tuple[Prediction, Prediction]
    loss: Prediction


def discharge_of(specimen: Specimen) -> Discharge | None:
    """Discharge of the line capacitor by the marks of the parts, or None."""
    adapter = specimen.adapter
    capacitors = adapter.parts_with_role("line capacitor")
    resistors = adapter.parts_with_role("discharge resistor")
    if not capacitors or not resistors or any(p.value is None for p in (*capacitors, *resistors)):
        return None
    stores = [specimen.part_value(part, "F", "line_capacitor.tolerance") for part in capacitors]
    ohms = [specimen.part_value(part, "Ω", "resistor.tolerance") for part in resistors]
    inputs: dict[str, Input] = {item.name: item for item in (*stores, *ohms)}
    start = float(np.sqrt(2) * highest_mains(specimen) * mains_tolerance())
    level = float(rows(SECTION, "touch_voltage")[0]["voltage"])

    def figures(**values: Any) -> list[Any]:
        bulk = sum(values[item.name] for item in stores)
        series = sum(values[item.name] for item in ohms)
        left = [discharge_voltage(moment, bulk, series, start) for moment in (1.0, 2.0)]
        return [
            bulk * series,
            discharge_time(bulk, series, start, level),
            *left,
            bleed_loss(_MAINS, series),
        ]

    constant, time, first, second, loss = predict(
        figures, inputs, ["s", "s", "V", "V", "W"], _DRAWS
    )
    return Discharge(
        listed(capacitors),
        listed(resistors),
        sum(item.middle for item in stores),
        sum(item.middle for item in ohms),
        sum(item.ends[1] for item in stores),
        start,
        level,
        constant,
        time,
        (first, second),
        loss,
    )


def discharge_findings(specimen: Specimen, found: Discharge | None) -> list[Finding]:
    """The discharge beside both standards, and what is left on the pins after 1 s and 2 s."""
    if "line capacitor" in specimen.adapter.construction.absent:
        why = "No line capacitor was found on the board, so there is none to run down."
        return [does_not_apply(SECTION, _QUESTION, why, "inrush.discharge_time")]
    if found is None:
        needed = (
            "[[parts]] with the roles 'line capacitor' and 'discharge resistor', each with its "
            "value; some controllers do this job without a resistor."
        )
        return [not_measured(SECTION, _QUESTION, needed, "inrush.discharge_time")]
    return [_by_time_constant(found), _after_two_seconds(found), _left_on_the_pins(found)]


_COMMON: dict[str, Any] = {"origin": "adapter.toml, parts", "figure": "inrush_discharge"}


def _by_time_constant(found: Discharge) -> Finding:
    """The older standard: a time constant, for capacitors above 0.1 µF."""
    row = rows(SECTION, "discharge")[0]
    constant = found.constant.value
    subject = f"Time constant of {found.capacitors} with {found.resistors}, by their marks,"
    note = "Several discharge resistors are taken in series, the slower case."
    standing = standing_of(row)
    named = f"{row['standard']}, {standing.said}," if standing else row["standard"]
    if found.capacitance <= row["capacitance_above"]:
        floor = Value(row["capacitance_above"], 0.0, "F")
        why = (
            f"{subject} is {constant}. {named} asks for a discharge only above {floor}, and "
            f"{found.capacitors} has "
            f"{Value(found.capacitance, 0.0, 'F')}."
        )
        return no_limit(
            SECTION, _QUESTION, why, "inrush.discharge_time", prediction=constant, note=note,
            **_COMMON,
        )  # fmt: skip
    name = f"{row['standard']} for pluggable equipment of type A"
    limit = Limit.published(row, row["time_constant"], "s", "upper", name)
    return by_the_marks(
        found.constant,
        limit,
        subject,
        question=_QUESTION,
        note=note,
        function="inrush.discharge_time",
        **_COMMON,
    )


def _after_two_seconds(found: Discharge) -> Finding:
    """The standard in force: a voltage after two seconds that depends on the capacitance."""
    row = rows(SECTION, "charged_capacitor")[0]
    allowed = charged_capacitor_limit(found.largest, "ES1")
    name = f"{row['standard']}, table 5, for {Value(found.largest, 0.0, 'F')}"
    limit = replace(Limit.published(row, float(allowed), "V", "upper", name), verb="allows")
    return by_the_marks(
        found.after[1],
        limit,
        f"Voltage on the pins 2 s after the plug is pulled at a crest of "
        f"{found.start_voltage:.0f} V, by the marks of {found.capacitors} and {found.resistors},",
        question="Is the line capacitor harmless two seconds after the plug is pulled?",
        note="The level of class ES1, in normal use; the capacitance is the marked one with its "
        "tolerance added.",
        function="inrush.charged_capacitor_limit",
        **_COMMON,
    )


def _left_on_the_pins(found: Discharge) -> Finding:
    first, second = (_left(entry.value) for entry in found.after)
    return Finding(
        section=SECTION,
        question="What is left on the pins?",
        judgement=rules.result(),
        sentence=f"Pulled at a crest of {found.start_voltage:.0f} V, {found.capacitors} holds "
        f"{first} after 1 s and {second} after 2 s, and is below {found.level:.0f} V after "
        f"{found.time}; the price is {found.loss} in {found.resistors} all the time at "
        f"{_MAINS:.0f} V.",
        prediction=found.after[0].value,
        draws=found.after[0],
        rests_on=found.after[0].rests_on,
        note="By the marks of the parts; a probe across the pins hurries the discharge and shows "
        "less than there would be without it. Below that voltage is no promise that it can be "
        "touched: other parts may hold more.",
        function="inrush.discharge_voltage",
        **_COMMON,
    )


def _left(volts: Value) -> str:
    return str(volts) if volts.value >= 1 else "less than 1 V"
