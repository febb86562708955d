"""Ceramic capacitors of a dossier: no drying out, and what voltage, heat and years leave."""

from dataclasses import dataclass
from typing import Any

from scipy import constants, stats

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import SECTION, case_temperature, label_of
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.capacitor_life import (
    aged_ceramic_capacitance,
    ceramic_capacitance_under_bias,
    dielectric_class,
)
from adapterlab.dossier.schema import RatedCapacitor
from adapterlab.published import rows
from adapterlab.uncertainty import propagate

YEARS = 10.0
BIAS = rows(SECTION, "ceramic_bias")[0]
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
    left : Value
        Capacitance left with its voltage on, at its temperature, after ten years. [F]
    """

    part: str
    dielectric: str
    marked: float
    voltage: float
    rated_voltage: float
    left: Value


def _ageing(code: str) -> dict[str, Any]:
    """Rate of the code, or of the code with the same last letter."""
    table = rows(SECTION, "ceramic_ageing")
    same = [row for row in table if row["dielectric"] == code]
    alike = [row for row in table if row["dielectric"][-1] == code[-1]]
    return (same or alike or table)[0]


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
    promised, rate = dielectric_class(code), _ageing(code)
    measured = case_temperature(specimen, capacitor)
    if measured is not None and measured[0] > promised.highest_temperature:
        raise ValueError(
            f"at {measured[0]:g} °C it is above the {promised.highest_temperature:g} °C of {code}"
        )
    rated, volts = part.rated_voltage, capacitor.working_voltage or 0.0
    tolerance = 0.2 if part.tolerance is None else part.tolerance
    hours = YEARS * constants.year / constants.hour

    def left(tolerated: Any, heated: Any, half: Any, ageing: Any) -> Any:
        held = ceramic_capacitance_under_bias((part.value or 0.0) * tolerated, volts, half * rated)
        return aged_ceramic_capacitance(held * heated, ageing, hours)

    drawn = propagate(
        left,
        {
            "tolerated": stats.uniform(1 - tolerance, 2 * tolerance + 1e-9),
            "heated": stats.uniform(
                1 + promised.least_change, promised.largest_change - promised.least_change
            ),
            "half": stats.uniform(BIAS["low"], BIAS["high"] - BIAS["low"]),
            "ageing": stats.uniform(rate["low"], rate["high"] - rate["low"]),
        },
        draws=2048,
    )
    value = Value(drawn.mean, drawn.standard_uncertainty, "F", drawn.interval(0.95))
    return Ceramic(capacitor.part, code, part.value, volts, rated, value)


def ceramic_finding(capacitor: RatedCapacitor, found: Ceramic | str) -> Finding:
    """In words; `found` as `ceramic_of` gives it, or the reason why no figure can be given."""
    label = label_of(capacitor)
    sentence = (
        f"{label} is ceramic: nothing in it dries out, so the laws of life do not apply and no "
        f"life is stated."
    )
    prediction = None
    if isinstance(found, Ceramic):
        prediction = found.left
        marked = Value(found.marked, 0.0, "F")
        low, high = found.left.interval or (0.0, 0.0)
        shown = [str(Value(float(f"{x:.2g}"), 0.0, "F")) for x in (found.left.value, low, high)]
        sentence += (
            f" Of its {marked} ({found.dielectric}) about {shown[0]} ({shown[1]} to {shown[2]}) "
            f"are left with {found.voltage:g} V across it after {YEARS:g} years."
        )
    elif found:
        sentence += f" How much capacitance its voltage leaves cannot be said: {found}."
    return Finding(
        section=SECTION,
        question=f"How long does {label} last?",
        judgement=rules.result(),
        sentence=sentence,
        function="capacitor_life.ceramic_capacitance_under_bias",
        origin=f"adapter.toml, [[capacitors]] {capacitor.part}",
        prediction=prediction,
        figure="capacitor_life_bias",
        note=_CRACKS,
    )
