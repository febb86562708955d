"""The balance of heat in words: the measured case against what its size and losses predict."""

from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import SECTION
from adapterlab.assess.model.heat import FACTOR, ROOM, CaseReading, HeatModel
from adapterlab.assess.model.inputs import allowance, predict
from adapterlab.assess.report.finding import Finding, against_prediction, not_measured
from adapterlab.assess.report.prediction import Prediction, naming
from adapterlab.thermal.case import case_temperatures

_QUESTION = "How warm does the case become?"


def predicted_case(model: HeatModel, reading: CaseReading) -> Prediction:
    """Case temperature at a reading from size and loss alone, before any calibration. [°C]."""
    usual = allowance(FACTOR)

    def at(loss: Any, factor: Any, spot: Any) -> Any:
        found = case_temperatures(loss, reading.ambient, *model.size, transfer_factor=factor)
        return reading.ambient + (found.case - reading.ambient) * spot

    inputs = {
        "loss": model.loss_input(reading.loaded, "case.loss"),
        "factor": usual,
        "spot": allowance("case.spot_factor"),
    }
    return predict(at, inputs, "°C")[0]


def heat_findings(model: HeatModel | None) -> list[Finding]:
    """Measured case temperature against the prediction, and the case in a room at 25 °C."""
    if model is None:
        needed = (
            "the size of the case on the nameplate, and a load sweep with four points or more of "
            "one mode."
        )
        return [not_measured(SECTION, _QUESTION, needed, "thermal.case_temperatures")]
    found = []
    if model.calibrated:
        read = model.fullest
        found.append(
            against_prediction(
                read.reading,
                predicted_case(model, read),
                f"The case {read.loaded.said} in a room at {read.ambient:g} °C",
                f"its surface of {model.area * 1e4:.0f} cm² with {read.loss:.2g} W of loss",
                section=SECTION,
                question="Do losses and surface explain the temperature of the case?",
                function="thermal.case_temperatures",
                origin=f"temperatures.csv line {read.line}",
                figure="capacitor_life_heat",
            )
        )
    shown = model.case_at(model.largest_power, ROOM)
    count = len(model.readings)
    how = (
        f"calibrated on {count} reading{'s' if count > 1 else ''} of the case"
        if model.calibrated
        else "from its size alone, for no case temperature was measured"
    )
    found.append(
        Finding(
            section=SECTION,
            question=_QUESTION,
            judgement=rules.result(),
            sentence=f"In a room at {ROOM:g} °C and {model.fully_loaded} the case becomes {shown} "
            f"warm by the balance of heat, {how}{naming(shown.rests_on)}.",
            function="thermal.case_temperatures",
            origin="load_sweep.csv, temperatures.csv and the size on the nameplate",
            prediction=shown.value,
            rests_on=shown.rests_on,
            figure="capacitor_life_heat",
            note="What a hand meets. Whether it may is for the section on insulation.",
        )
    )
    return found
