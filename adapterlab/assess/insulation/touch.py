"""Whether the case is cool enough to touch."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.insulation.places import SECTION
from adapterlab.assess.model.heat import touch_temperature
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, Limit, against_limit, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.insulation import burn_threshold, temperature_at_ambient
from adapterlab.judgement import NOT_JUDGED
from adapterlab.published import judges, rows, standing_of

_METAL = ("shell", "connector", "metal", "plug pins")
_OUTSIDE = ("case", "housing", "enclosure")
_FUNCTION = "insulation.touch_temperature_limit"
_LONG = 60.0


@dataclass(frozen=True)
class Touched:
    """A touchable place at its highest output power, case closed.

    Attributes
    ----------
    place, material : str
        Where; ``metal`` or ``plastic``, by the name of the place.
    temperature, ambient : float
        As read. [°C]
    at_25 : Value
        Moved to an ambient of 25 °C. [°C]
    output_power : float or None
        Load; None where it was not noted. [W]
    line : int
        In temperatures.csv.
    """

    place: str
    material: str
    temperature: float
    ambient: float
    at_25: Value
    output_power: float | None
    line: int

    @property
    def subject(self) -> str:
        """Start of a sentence about it."""
        power = "" if self.output_power is None else f" at {self.output_power:g} W"
        return f"Temperature of the {self.place} ({self.material} assumed){power}"


def touched_places(specimen: Specimen) -> list[Touched]:
    """Touchable places, each at its highest output power and, of equals, at its warmest."""
    groups: dict[str, list[Touched]] = {}
    for _, row in specimen.temperatures.iterrows():
        place = str(row["place"])
        metal = any(word in place.lower() for word in _METAL)
        if not (metal or any(word in place.lower() for word in _OUTSIDE)):
            continue
        if row["case"] == "open" or pd.isna(row["ambient"]):
            continue
        groups.setdefault(place, []).append(_touched(specimen, row, metal))
    return [max(group, key=_order) for group in groups.values()]


def _order(touched: Touched) -> tuple[float, float]:
    return touched.output_power or 0.0, touched.at_25.value


def _touched(specimen: Specimen, row: pd.Series, metal: bool) -> Touched:
    read = specimen.reading("temperature", float(row["temperature"]), "°C")
    moved = float(temperature_at_ambient(row["temperature"], row["ambient"]))
    # Two readings of one thermometer, taken as independent: the wider case.
    spread = read.standard_uncertainty * 2**0.5
    power = None if pd.isna(row["output_power"]) else float(row["output_power"])
    return Touched(
        str(row["place"]),
        "metal" if metal else "plastic",
        float(row["temperature"]),
        float(row["ambient"]),
        replace(read, value=moved, standard_uncertainty=spread),
        power,
        int(row["line"]),
    )


def touch_findings(touched: Touched, maximum_ambient: float | None) -> list[Finding]:
    """One place against every figure that may judge, what others ask for, and where skin burns."""
    common: dict[str, Any] = {
        "section": SECTION,
        "origin": f"temperatures.csv line {touched.line}",
        "figure": "insulation_temperature",
    }
    subject = f"{touched.subject}, moved to an ambient of 25 °C,"
    table = rows(SECTION, "touch_temperatures", material=touched.material)
    firm = [step for step in table if judges(step) and step["contact_time"] <= _LONG]
    found = [
        against_limit(
            touched.at_25,
            Limit.published(
                step, step["temperature"], "°C", "upper",
                f"IEC 62368-1 ({touched.material}, {step['contact']})",
            ),
            subject,
            question=f"Is the {touched.place} cool enough to touch: {step['contact']}?",
            function=_FUNCTION,
            note="IEC 62368-1 compares at 25 °C and does not shift it to the maximum ambient. The "
            "record of the temperature holds neither mains voltage nor mode.",
            **common,
        )
        for step in firm
    ]  # fmt: skip
    weak = [step for step in table if step not in firm]
    return [*found, _others(touched, weak, maximum_ambient, common), _burns(touched, common)]


def _others(
    touched: Touched, weak: Sequence[dict[str, Any]], maximum_ambient: float | None,
    common: dict[str, Any],
) -> Finding:  # fmt: skip
    """The figures on which no verdict may rest, in one sentence."""
    asked = ", ".join(f"{step['temperature']:g} °C {step['contact']}" for step in weak)
    reason = "those figures are known from one reproduction or from memory only"
    older = rows(SECTION, "touch_rises", material=touched.material)[0]
    standing = standing_of(older)
    assert standing is not None
    ambient = 25.0 if maximum_ambient is None else maximum_ambient
    shifted = replace(touched.at_25, value=touched.at_25.value + ambient - 25.0)
    where = "at the maximum ambient, which is not named"
    if maximum_ambient is not None:
        where = f"at the maximum ambient of {ambient:g} °C, where it would be {shifted}"
    return Finding(
        judgement=rules.not_judged(reason),
        question=f"What else is asked of the {touched.place}'s temperature?",
        sentence=(
            f"{touched.subject} is {touched.at_25} in a room of 25 °C; for other times of contact "
            f"IEC 62368-1 asks for at most {asked}; IEC 60950-1, {standing.said}, for "
            f"{older['temperature']:g} °C {where}. {reason[0].upper()}{reason[1:]}: {NOT_JUDGED}."
        ),
        reading=touched.at_25,
        function=_FUNCTION,
        note="An adapter is held for minutes only on a lap or in a bed.",
        **common,
    )


def _burns(touched: Touched, common: dict[str, Any]) -> Finding:
    """Where skin burns on such a surface: thresholds, not limits."""
    minute, ten = (float(burn_threshold(time, touched.material)) for time in (60, 600))
    row = next(r for r in rows(SECTION, "burns", material=touched.material)
               if r["contact"] == "intended")  # fmt: skip
    standing = standing_of(row)
    assert standing is not None
    return Finding(
        judgement=rules.result(),
        question=f"Would the {touched.place} burn a hand that holds it?",
        sentence=(
            f"{touched.subject} is {touched.at_25} in a room of 25 °C; held for a minute, "
            f"{touched.material} burns the skin from {minute:g} °C on, held for ten from {ten:g} "
            f"°C on ({standing.name}, {standing.said})."
        ),
        reading=touched.at_25,
        function="insulation.burn_threshold",
        note="Thresholds, from which committees set limits; they are no limits of a product.",
        **common,
    )


def nothing_touched(specimen: Specimen) -> Finding:
    """What is missing for a verdict, and what the balance of heat makes of the case."""
    needed = "temperatures.csv with a place on the case, the ambient and the output power."
    balance = touch_temperature(specimen)
    if balance is not None:
        needed = (
            f"{needed} By the balance of heat it should be {balance} at full load in a room "
            "at 25 °C: a prediction, which no limit is held against."
        )
    return not_measured(SECTION, "Is the case cool enough to touch?", needed, _FUNCTION)
