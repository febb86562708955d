"""What the parts of a converter must bear: switch with its leakage spike, rectifier, clamp."""

from dataclasses import replace
from typing import Any

from scipy import stats

from adapterlab import judgement as rules
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import BRIDGE_DROP, ROOT, Stage, parts_of, spread_of
from adapterlab.assess.model.stresses import (
    DRAWS,
    KNOWN,
    PROBE_LIMIT,
    Stress,
    clamp_inputs,
    clamp_resistance,
    clamp_resistor,
    clamp_volts,
)
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.flyback import clamp_dissipation, operating_point
from adapterlab.uncertainty import propagate

SECTION = "flyback"


def stress_finding(specimen: Specimen, stage: Stage, stress: Stress, note: str) -> Finding:
    """A stress against the rating marked on the part."""
    question = f"Does the rating of the {stress.part} hold in the {stage.name} converter?"
    value = stress.top or stress.plateau
    spike = "leakage spike included" if stress.top else "leakage spike not included"
    conditions = f"{highest_mains(specimen):g} V mains, {stage.highest_voltage:g} V out"
    subject = (
        f"The highest voltage predicted across the {stress.part} of the {stage.name} converter, "
        f"{spike} ({conditions}),"
    )
    part = specimen.adapter.part(stress.reference)
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
        KNOWN[part.identified_by],
    )
    finding = against_limit(
        value,
        limit,
        subject,
        section=SECTION,
        question=question,
        function="flyback.operating_point",
        figure="flyback_stresses",
        note=" ".join(text for text in (_remark(specimen, stage, stress), note) if text),
    )
    free = 1 - value.value / part.rated_voltage
    if free > 0:
        finding = replace(
            finding,
            sentence=f"{finding.sentence} That leaves {100 * free:.0f} % of the rating free.",
        )
    return replace(finding, reading=None, prediction=value)


def _remark(specimen: Specimen, stage: Stage, stress: Stress) -> str:
    said = []
    rated = [p.rated_voltage for p in parts_of(specimen, stress.part, stage) if p.rated_voltage]
    if len(set(rated)) > 1:
        said.append("Of several such parts the one with the lowest rating is taken.")
    if stress.part == "output rectifier":
        said.append(
            "Ringing comes on top; without any damping it would reach twice the step (common "
            "practice)."
        )
    return " ".join(said)


def _clamp_load(specimen: Specimen, stage: Stage) -> tuple[Value, Value] | None:
    """Clamp voltage as resistor and leakage set it, and what it takes, at 230 V and full load.

    None where the leakage or the clamp is not known.
    """
    known = clamp_inputs(specimen, stage)
    if "leakage" not in known:
        return None
    resistor = clamp_resistor(specimen, stage)
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
        known["resistance"] = clamp_resistance(resistor)

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

    drawn = propagate(at, inputs | known, DRAWS)
    return (
        Value(float(drawn.mean[0]), float(drawn.standard_uncertainty[0]), "V"),
        Value(float(drawn.mean[1]), float(drawn.standard_uncertainty[1]), "W"),
    )


def clamp_findings(specimen: Specimen, stage: Stage, note: str) -> list[Finding]:
    """Voltage of the clamp as read against resistor and leakage, and what it takes."""
    question = f"How high does the clamp of the {stage.name} converter let the spike rise?"
    rest: dict[str, Any] = {
        "section": SECTION, "function": "flyback.resistor_clamp_voltage",
        "figure": "flyback_stresses", "note": note,
    }  # fmt: skip
    try:
        load = _clamp_load(specimen, stage)
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
    resistor, read = clamp_resistor(specimen, stage), stage.clamp_voltage
    found = []
    if resistor is not None and read is not None:
        limits = stats.uniform(read * (1 - PROBE_LIMIT), 2 * read * PROBE_LIMIT)
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
            judgement=rules.result(),
            sentence=(
                f"At 230 V and full load the clamp of the {stage.name} converter {held}takes "
                f"{power} from leakage inductance and core."
            ),
            prediction=power,
            **(rest | {"function": "flyback.clamp_dissipation"}),
        )
    )
    return found
