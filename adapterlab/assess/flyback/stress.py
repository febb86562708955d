"""What the parts of a converter must bear: switch with its leakage spike, rectifier, clamp."""

from dataclasses import replace
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.flyback.modes import SECTION, note_of
from adapterlab.assess.model.feeds import BRIDGE_DROP, bridge_drop, bulk_voltage
from adapterlab.assess.model.inputs import Input, predict
from adapterlab.assess.model.mains import top_of_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage, parts_of
from adapterlab.assess.model.stresses import Clamp, Stress, clamp_of, why_not_rated
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.prediction import Prediction
from adapterlab.flyback import clamp_dissipation, operating_point
from adapterlab.published import rows

MAINS = (230.0, 50.0)
_RINGING = rows("flyback", "ringing", damping="none")[0]
# What comes on top of the plateau where nothing tells how much.
_ON_TOP = {
    "switch": "the leakage spike comes on top, and neither clamp_voltage nor the clamp's resistor "
    "with the leakage inductance is listed",
    "output rectifier": f"ringing comes on top, up to {1 + _RINGING['overshoot']:g} times the step "
    "without any damping, and neither a snubber nor rectifier_ringing is listed",
}
_INCLUDED = {"switch": "leakage spike", "output rectifier": "ringing"}


def stress_finding(specimen: Specimen, stage: Stage, stress: Stress) -> Finding:
    """A stress against the rating marked on the part.

    What is known without spike or ringing can only fall short of a rating, never meet it.
    """
    question = f"Does the rating of the {stress.part} hold in the {stage.name} converter?"
    value = stress.highest.value
    which = f"{_INCLUDED[stress.part]} {'' if stress.top else 'not '}included"
    conditions = f"{top_of_mains(specimen):.0f} V mains, {stage.highest_voltage:g} V out"
    subject = (
        f"The highest voltage predicted across the {stress.part} of the {stage.name} converter, "
        f"{which} ({conditions}),"
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
    )
    rest: dict[str, Any] = {
        "section": SECTION,
        "question": question,
        "function": "flyback.operating_point",
        "figure": "flyback_stresses",
        "rests_on": stress.highest.rests_on,
        "note": " ".join(filter(None, (_remark(specimen, stage, stress), note_of(stage)))),
    }
    reason = why_not_rated(part)
    finding = against_limit(value, limit, subject, not_judged=reason, **rest)
    if not reason and stress.top is None and finding.word != rules.FALLS_SHORT:
        finding = against_limit(value, limit, subject, not_judged=_ON_TOP[stress.part], **rest)
    free = 1 - value.value / part.rated_voltage
    if free > 0 and stress.top is not None:
        said = f"{finding.sentence} That leaves {100 * free:.0f} % of the rating free."
        finding = replace(finding, sentence=said)
    return replace(finding, reading=None, prediction=value)


def _remark(specimen: Specimen, stage: Stage, stress: Stress) -> str:
    """Which of several parts was taken."""
    rated = [p.rated_voltage for p in parts_of(specimen, stress.part, stage) if p.rated_voltage]
    several = len(set(rated)) > 1
    return "Of several such parts the one with the lowest rating is taken." if several else ""


def _clamp_load(
    stage: Stage, clamp: Clamp, inputs: dict[str, Input]
) -> tuple[Prediction, Prediction]:
    """Clamp voltage at 230 V and full load, and the power that the clamp takes."""
    leakage = clamp.leakage
    assert leakage is not None

    def at(**drawn: Any) -> list[Any]:
        source = bulk_voltage(MAINS, drawn[BRIDGE_DROP])
        point = operating_point(source, **stage.numbers(drawn))
        volts = clamp.voltage(point, drawn)
        power = clamp_dissipation(
            drawn[leakage.name], point.primary_peak, point.switching_frequency, volts,
            point.reflected_voltage, drawn[clamp.drop.name],
        )  # fmt: skip
        return [volts, power]

    found = predict(at, bridge_drop() | stage.inputs | {leakage.name: leakage} | inputs, ("V", "W"))
    return found[0], found[1]


def clamp_findings(specimen: Specimen, stage: Stage) -> list[Finding]:
    """Voltage of the clamp as read against resistor and leakage, and what it takes."""
    question = f"How high does the clamp of the {stage.name} converter let the spike rise?"
    rest: dict[str, Any] = {
        "section": SECTION, "function": "flyback.resistor_clamp_voltage",
        "figure": "flyback_stresses", "note": note_of(stage),
    }  # fmt: skip
    clamp = clamp_of(specimen, stage)
    known = clamp.by_its_resistor or clamp.inputs
    if clamp.leakage is None or not known:
        needed = (
            "leakage_inductance of the converter or its transformer, and either clamp_voltage or "
            "the resistor of the clamp."
        )
        return [not_measured(SECTION, question, needed, rest["function"])]
    try:
        volts, power = _clamp_load(stage, clamp, known)
    except ValueError as error:
        about = str(error).split(", got")[0].replace("_", " ")
        return [not_measured(SECTION, question, f"no figure: {about}.", rest["function"])]
    found = []
    if clamp.resistor is not None and clamp.read is not None and clamp.by_its_resistor:
        found.append(
            against_prediction(
                specimen.reading("capture voltage", clamp.read.middle, "V"),
                volts,
                f"The voltage of the clamp in the {stage.name} converter",
                f"its resistor {clamp.resistor.reference} with the leakage inductance",
                question=question,
                origin="construction.converters",
                **rest,
            )
        )
    held = f"lets the spike rise {volts} above the bulk voltage and "
    if clamp.resistor is None:
        held = f"at {volts} "
    found.append(
        Finding(
            question=f"What does the clamp of the {stage.name} converter cost?",
            judgement=rules.result(),
            sentence=(
                f"At 230 V and full load the clamp of the {stage.name} converter {held}takes "
                f"{power} from leakage inductance and core."
            ),
            prediction=power.value,
            rests_on=power.rests_on,
            **(rest | {"function": "flyback.clamp_dissipation"}),
        )
    )
    return found
