"""The balance of heat in words: the measured case against what its size and losses predict."""

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import SECTION
from adapterlab.assess.model.heat import HeatModel
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.thermal.case import USUAL, case_temperatures

_QUESTION = "How warm does the case become?"
# Where on the case a thermocouple sits matters: a top over the transformer is no mean. [1]
_SPOT = 0.1


def predicted_case(model: HeatModel, loss: float, ambient: float) -> Value:
    """Case temperature from size and loss alone, before any calibration. [°C]."""
    usual = USUAL["transfer factor"]
    rise = (
        case_temperatures(loss, ambient, *model.size, transfer_factor=usual["value"]).case - ambient
    )
    spread = (usual["high"] - usual["low"]) / np.sqrt(12) / usual["value"]
    relative = float(np.hypot(model.slope * spread, _SPOT))
    return Value(float(ambient + rise), rise * relative, "°C")


def heat_findings(specimen: Specimen, model: HeatModel | None) -> list[Finding]:
    """Measured case temperature against the prediction, and the case in a room at 25 °C."""
    if model is None:
        needed = (
            "the size of the case on the nameplate, and a load sweep with four points or more of "
            "one mode."
        )
        return [not_measured(SECTION, _QUESTION, needed, "thermal.case_temperatures")]
    found = []
    if model.calibrated:
        row = model.readings.loc[model.readings["output_power"].idxmax()]
        reading = specimen.reading("temperature", float(row["temperature"]), "°C")
        found.append(
            against_prediction(
                reading,
                predicted_case(model, float(row["loss"]), float(row["ambient"])),
                f"The case at {row['output_power']:g} W in a room at {row['ambient']:g} °C",
                f"its surface of {model.area * 1e4:.0f} cm² with {row['loss']:.2g} W of loss",
                section=SECTION,
                question="Do losses and surface explain the temperature of the case?",
                function="thermal.case_temperatures",
                origin=f"temperatures.csv line {row['line']}",
                figure="capacitor_life_heat",
            )
        )
    shown = model.case_value(model.largest_power, 25.0)
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
            sentence=f"In a room at 25 °C and at {model.largest_power:.0f} W the case becomes "
            f"{shown} warm by the balance of heat, {how}.",
            function="thermal.case_temperatures",
            origin="load_sweep.csv, temperatures.csv and the size on the nameplate",
            prediction=shown,
            figure="capacitor_life_heat",
            note="What a hand meets. Whether it may is for the section on insulation.",
        )
    )
    return found
