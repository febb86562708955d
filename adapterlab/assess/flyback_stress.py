"""What the parts of a converter must bear: switch with its leakage spike, rectifier, clamp."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import stats

from adapterlab.assess.finding import (
    Finding,
    Limit,
    Value,
    against_limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.flyback_stages import BRIDGE_DROP, ROOT, Stage, parts_of, spread_of
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import Part
from adapterlab.flyback import clamp_dissipation, operating_point, resistor_clamp_voltage
from adapterlab.uncertainty import propagate
from adapterlab.verdict import NO_LIMIT

SECTION = "flyback"
_KNOWN = {"read": "seen", "inferred": "inferred", "unknown": "memory"}
# Common practice: an LCR meter reads a leakage, a probe a clamp, to about this; a clamp's diode.
_LEAKAGE_LIMIT, _PROBE_LIMIT, _CLAMP_DROP = 0.1, 0.05, (0.7, 1.2)
_RESISTOR_TOLERANCE = 0.05
_DRAWS = 2048


@dataclass(frozen=True)
class Stress:
    """Voltage across one part at the highest mains and the highest output voltage.

    Attributes
    ----------
    stage, part, reference : str
        Converter; ``switch`` or ``output rectifier``; reference of the part, if known.
    plateau : Value
        Without spike or ringing. [V]
    top : Value or None
        With the leakage spike as the clamp cuts it, where the clamp is known. [V]
    rating : float or None
        As marked. [V]
    """

    stage: str
    part: str
    reference: str
    plateau: Value
    top: Value | None
    rating: float | None


def clamp_resistor(dossier: Dossier, stage: Stage) -> Part | None:
    """The resistor of a converter's clamp, if the dossier knows one with its value.

    A resistor that names no converter belongs to the only one there is.
    """
    several = len(dossier.adapter.construction.converters) > 1
    for part in parts_of(dossier, "clamp", stage, "resistor"):
        if part.value and (part.converter or not several):
            return part
    return None


def clamp_inputs(dossier: Dossier, stage: Stage) -> dict[str, Any]:
    """Distributions that tell the clamp: of its voltage as read, or of resistor and leakage.

    Empty if neither is known.
    """
    resistor, leakage = clamp_resistor(dossier, stage), stage.leakage_inductance
    found: dict[str, Any] = {}
    if leakage is not None:
        found["leakage"] = spread_of(leakage * (1 - _LEAKAGE_LIMIT), leakage * (1 + _LEAKAGE_LIMIT))
        found["clamp_drop"] = spread_of(*_CLAMP_DROP)
    if stage.clamp_voltage is not None:
        volts = stage.clamp_voltage
        found["clamp"] = spread_of(volts * (1 - _PROBE_LIMIT), volts * (1 + _PROBE_LIMIT))
    elif resistor is not None and resistor.value and leakage is not None:
        found["resistance"] = _resistance(resistor)
    else:
        return {}
    return found


def _resistance(part: Part) -> Any:
    value = part.value or 0.0
    tolerance = _RESISTOR_TOLERANCE if part.tolerance is None else part.tolerance
    return spread_of(value * (1 - tolerance), value * (1 + tolerance))


def clamp_volts(point: Any, **known: Any) -> Any:
    """Clamp voltage at an operating point, from what `clamp_inputs` knows."""
    if "clamp" in known:
        return known["clamp"]
    return resistor_clamp_voltage(
        known["leakage"], point.primary_peak, point.switching_frequency, known["resistance"],
        point.reflected_voltage, known["clamp_drop"],
    )  # fmt: skip


def highest_mains(dossier: Dossier) -> float:
    """Highest rated mains voltage; 240 V where the label is silent. [V]."""
    return dossier.adapter.nameplate.input_voltage_maximum or 240.0


def _at_the_top(dossier: Dossier, stage: Stage, drops: dict[str, Any]) -> Any:
    current = stage.output_voltage * stage.output_current / stage.highest_voltage
    return operating_point(
        ROOT * highest_mains(dossier) - drops["bridge_drop"],
        stage.highest_voltage,
        current,
        stage.turns_ratio,
        stage.magnetising_inductance,
        stage.switching_frequency,
        drops["diode_drop"],
        float(np.mean(stage.efficiency)),
    )


def stresses_of(dossier: Dossier, stage: Stage) -> list[Stress]:
    """Stress of switch and rectifier of one converter."""
    clamp = clamp_inputs(dossier, stage)

    def at(**drawn: Any) -> list[Any]:
        point = _at_the_top(dossier, stage, drawn)
        known = {name: drawn[name] for name in clamp}
        top = clamp_volts(point, **known) if clamp else point.reflected_voltage
        top = np.maximum(top + drawn.get("clamp_drop", 0.0), point.reflected_voltage)
        highest = point.switch_voltage - point.reflected_voltage + top
        return [point.switch_voltage, point.diode_voltage, highest]

    inputs = {"bridge_drop": spread_of(*BRIDGE_DROP), "diode_drop": spread_of(*stage.diode_drop)}
    drawn = propagate(at, inputs | clamp, _DRAWS)
    volts = [
        Value(float(mean), float(spread), "V")
        for mean, spread in zip(drawn.mean, drawn.standard_uncertainty, strict=True)
    ]
    found = []
    for place, role in enumerate(("switch", "output rectifier")):
        part = _weakest(dossier, role, stage)
        found.append(
            Stress(
                stage.name,
                role,
                part.reference if part else "",
                volts[place],
                volts[2] if role == "switch" and clamp else None,
                part.rated_voltage if part else None,
            )
        )
    return found


def _weakest(dossier: Dossier, role: str, stage: Stage) -> Part | None:
    """The part of a role with the lowest marked voltage."""
    rated = [part for part in parts_of(dossier, role, stage) if part.rated_voltage]
    return min(rated, key=lambda part: part.rated_voltage or 0.0, default=None)


def stress_finding(dossier: Dossier, stage: Stage, stress: Stress, note: str) -> Finding:
    """A stress against the rating marked on the part."""
    question = f"Does the rating of the {stress.part} hold in the {stage.name} converter?"
    value = stress.top or stress.plateau
    spike = "leakage spike included" if stress.top else "leakage spike not included"
    conditions = f"{highest_mains(dossier):g} V mains, {stage.highest_voltage:g} V out"
    subject = (
        f"The highest voltage predicted across the {stress.part} of the {stage.name} converter, "
        f"{spike} ({conditions}),"
    )
    part = dossier.adapter.part(stress.reference)
    if part is None or part.rated_voltage is None:
        needed = (
            f"[[parts]] with the role '{stress.part}' and its rated_voltage. {subject} is {value}."
        )
        found = not_measured(SECTION, question, needed, "flyback.operating_point")
        return replace(found, prediction=value)
    limit = Limit(
        part.rated_voltage,
        "V",
        "upper",
        f"the rating of {part.reference}",
        f"rating marked on the part {part.reference} ({part.identified_by})",
        _KNOWN[part.identified_by],
    )
    finding = against_limit(
        value,
        limit,
        subject,
        section=SECTION,
        question=question,
        function="flyback.operating_point",
        figure="flyback_stresses",
        note=" ".join(text for text in (_remark(dossier, stage, stress), note) if text),
    )
    free = 1 - value.value / part.rated_voltage
    if free > 0:
        finding = replace(
            finding,
            sentence=f"{finding.sentence} That leaves {100 * free:.0f} % of the rating free.",
        )
    return replace(finding, reading=None, prediction=value)


def _remark(dossier: Dossier, stage: Stage, stress: Stress) -> str:
    said = []
    rated = [p.rated_voltage for p in parts_of(dossier, stress.part, stage) if p.rated_voltage]
    if len(set(rated)) > 1:
        said.append("Of several such parts the one with the lowest rating is taken.")
    if stress.part == "output rectifier":
        said.append(
            "Ringing comes on top; without any damping it would reach twice the step (common "
            "practice)."
        )
    return " ".join(said)


def _clamp_load(dossier: Dossier, stage: Stage) -> tuple[Value, Value] | None:
    """Clamp voltage as resistor and leakage set it, and what it takes, at 230 V and full load.

    None where the leakage or the clamp is not known.
    """
    known = clamp_inputs(dossier, stage)
    if "leakage" not in known:
        return None
    resistor = clamp_resistor(dossier, stage)
    inputs = {
        "bridge_drop": spread_of(*BRIDGE_DROP),
        "diode_drop": spread_of(*stage.diode_drop),
        "efficiency": spread_of(*stage.efficiency),
        "inductance": spread_of(
            stage.magnetising_inductance * (1 - stage.inductance_tolerance),
            stage.magnetising_inductance * (1 + stage.inductance_tolerance),
        ),
    }
    if resistor is not None and resistor.value:
        known = {name: known[name] for name in ("leakage", "clamp_drop")}
        known["resistance"] = _resistance(resistor)

    def at(bridge_drop: Any, diode_drop: Any, efficiency: Any, inductance: Any, **rest: Any) -> Any:
        point = operating_point(
            ROOT * 230 - bridge_drop, stage.output_voltage, stage.output_current,
            stage.turns_ratio, inductance, stage.switching_frequency, diode_drop, efficiency,
        )  # fmt: skip
        volts = clamp_volts(point, **rest)
        power = clamp_dissipation(
            rest["leakage"], point.primary_peak, point.switching_frequency, volts,
            point.reflected_voltage, rest["clamp_drop"],
        )  # fmt: skip
        return [volts, power]

    drawn = propagate(at, inputs | known, _DRAWS)
    return (
        Value(float(drawn.mean[0]), float(drawn.standard_uncertainty[0]), "V"),
        Value(float(drawn.mean[1]), float(drawn.standard_uncertainty[1]), "W"),
    )


def clamp_findings(dossier: Dossier, stage: Stage, note: str) -> list[Finding]:
    """Voltage of the clamp as read against resistor and leakage, and what it takes."""
    question = f"How high does the clamp of the {stage.name} converter let the spike rise?"
    rest: dict[str, Any] = {
        "section": SECTION, "function": "flyback.resistor_clamp_voltage",
        "figure": "flyback_stresses", "note": note,
    }  # fmt: skip
    try:
        load = _clamp_load(dossier, stage)
    except ValueError as error:
        about = str(error).split(", got")[0].replace("_", " ")
        return [not_measured(SECTION, question, f"no figure: {about}.", rest["function"])]
    if load is None:
        needed = (
            "leakage_inductance of the converter or its transformer, and either clamp_voltage or "
            "the resistor of the clamp."
        )
        return [not_measured(SECTION, question, needed, rest["function"])]
    volts, power = load
    resistor, read = clamp_resistor(dossier, stage), stage.clamp_voltage
    found = []
    if resistor is not None and read is not None:
        limits = stats.uniform(read * (1 - _PROBE_LIMIT), 2 * read * _PROBE_LIMIT)
        found.append(
            against_prediction(
                Value(read, float(limits.std()), "V"),
                volts,
                f"The voltage of the clamp in the {stage.name} converter",
                f"its resistor {resistor.reference} with the leakage inductance",
                question=question,
                origin="construction.converters",
                **rest,
            )
        )
    held = f"lets the spike rise {volts} above the bulk voltage and "
    if resistor is None:
        held = f"at {volts} "
    found.append(
        Finding(
            question=f"What does the clamp of the {stage.name} converter cost?",
            word=NO_LIMIT,
            sentence=(
                f"At 230 V and full load the clamp of the {stage.name} converter {held}takes "
                f"{power} from leakage inductance and core."
            ),
            prediction=power,
            **(rest | {"function": "flyback.clamp_dissipation"}),
        )
    )
    return found
