"""Ceramic capacitors of a dossier: no drying out, and what voltage, heat and years leave."""

from dataclasses import dataclass
from typing import Any

from scipy import constants

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import SECTION, label_of, warmth_of
from adapterlab.assess.model.inputs import Input, allowance, between, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, does_not_apply, not_measured
from adapterlab.assess.report.prediction import Prediction, naming
from adapterlab.assess.report.value import Value, span
from adapterlab.capacitor_life import (
    aged_ceramic_capacitance,
    ceramic_capacitance_under_bias,
    dielectric_class,
)
from adapterlab.dossier.schema import RatedCapacitor
from adapterlab.published import rows

YEARS = 10.0
_FUNCTION = "capacitor_life.ceramic_capacitance_under_bias"
_CRACKS = (
    "What ends a ceramic capacitor is a crack: when the board is bent, by a screw, a fall or a "
    "pulled plug, its ends pull at a body that cannot give. Nobody can put a number to that from "
    "the outside."
)


@dataclass(frozen=True)
class Ceramic:
    """What is left of one class-2 ceramic capacitor.

    Attributes
    ----------
    part : str
        Reference.
    dielectric : str
        Its code.
    marked, voltage, rated_voltage : float
        [F], [V], [V]
    left : Prediction
        Capacitance left with its voltage on, at its temperature, after ten years. [F]
    """

    part: str
    dielectric: str
    marked: float
    voltage: float
    rated_voltage: float
    left: Prediction


def _ageing(part: str, code: str) -> Input:
    """Loss per tenfold of hours of the code, or of the code with the same last letter. [1]."""
    table = rows(SECTION, "ceramic_ageing")
    same = [row for row in table if row["dielectric"] == code]
    alike = [row for row in table if row["dielectric"][-1] == code[-1]]
    row = (same or alike or table)[0]
    said = f"{span(row['low'], row['high'], '%')} lost for each tenfold of hours assumed"
    ends = between(row["low"], row["high"])
    return Input(f"{part}.ageing", ends, "%", "assumed", said, row["source"])


def ceramic_of(specimen: Specimen, capacitor: RatedCapacitor) -> Ceramic | str:
    """What is left of a ceramic capacitor, or what it would take to say.

    Raises
    ------
    ValueError
        If the code is not one, or the part is hotter than its code allows.
    """
    part = specimen.adapter.part(capacitor.part)
    wanted = {
        "its dielectric (a code such as X7R)": capacitor.dielectric,
        "its working_voltage": capacitor.working_voltage,
        "value and rated_voltage of the part": part is not None
        and part.value is not None
        and part.rated_voltage is not None,
    }
    lacking = [name for name, value in wanted.items() if not value]
    if lacking or part is None or part.value is None or part.rated_voltage is None:
        return ", ".join(lacking)
    code = capacitor.dielectric.strip().upper()
    promised, warmth = dielectric_class(code), warmth_of(specimen, capacitor)
    if warmth is not None and warmth.reading.value > promised.highest_temperature:
        raise ValueError(
            f"at {warmth.reading.value:g} °C it is above the {promised.highest_temperature:g} °C "
            f"of {code}"
        )
    rated, volts = part.rated_voltage, capacitor.working_voltage or 0.0
    hours = YEARS * constants.year / constants.hour

    def left(marked: Any, heated: Any, half: Any, ageing: Any) -> Any:
        held = ceramic_capacitance_under_bias(marked, volts, half * rated)
        return aged_ceramic_capacitance(held * heated, ageing, hours)

    promise = between(1 + promised.least_change, 1 + promised.largest_change)
    inputs = {
        "marked": specimen.part_value(part, "F", "capacitor.tolerance"),
        "heated": Input(
            f"{part.reference}.heated", promise, "", "marked", f"what {code} promises over "
            "temperature", "EIA-198",
        ),
        "half": allowance("ceramic.half_voltage", f"{part.reference}.half_voltage"),
        "ageing": _ageing(part.reference, code),
    }  # fmt: skip
    value = predict(left, inputs, "F")[0]
    return Ceramic(capacitor.part, code, part.value, volts, rated, value)


def ceramic_findings(capacitor: RatedCapacitor, found: Ceramic | str) -> list[Finding]:
    """In words; `found` as `ceramic_of` gives it, or the reason why no figure can be given."""
    label, figure = label_of(capacitor), "capacitor_life_bias"
    origin = f"adapter.toml, [[capacitors]] {capacitor.part}"
    why = (
        f"{label} is ceramic: nothing in it dries out, so the laws of life do not apply and no "
        f"life is stated."
    )
    question = f"How long does {label} last?"
    told = [
        does_not_apply(
            SECTION, question, why, _FUNCTION, origin=origin, figure=figure, note=_CRACKS
        )
    ]
    question = f"How much does its voltage leave of {label}?"
    if not isinstance(found, Ceramic):
        return [*told, not_measured(SECTION, question, f"{found}.", _FUNCTION)]
    left, marked = found.left, Value(found.marked, 0.0, "F")
    sentence = (
        f"Of the {marked} ({found.dielectric}) of {label} about {left} are left with "
        f"{found.voltage:g} V across it after {YEARS:g} years{naming(left.rests_on)}."
    )
    return [
        *told,
        Finding(
            section=SECTION,
            question=question,
            judgement=rules.result(),
            sentence=sentence,
            function=_FUNCTION,
            origin=origin,
            prediction=left.value,
            rests_on=left.rests_on,
            figure=figure,
        ),
    ]
