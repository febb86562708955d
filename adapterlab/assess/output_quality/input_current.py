"""Whether the input current on the label is enough at the lowest mains voltage."""

from typing import Any

import numpy as np

from adapterlab.assess.model.inputs import measured, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import SECTION
from adapterlab.assess.report.finding import Finding, Limit, against_limit, not_measured
from adapterlab.assess.report.value import Value

_FUNCTION = "uncertainty.conformity_probability"
# Readings so near to the lowest mains voltage of the sweep belong to it.
_SAME_MAINS = 1.03
# Beyond this ratio of mains voltages a current read is not reckoned to the lowest.
_FURTHEST = 1.3
# Ratio less one at which the power factor has moved as far as the allowance says.
_WHOLE_DRIFT = 0.15


def heaviest_on_the_lowest_mains(specimen: Specimen) -> Any:
    """Row of the sweep with the largest mains current on its lowest mains; None if none is."""
    rows = [row for row in specimen.load_sweep.itertuples() if row.mains_current > 0]
    if not rows:
        return None
    lowest = min(row.mains_voltage for row in rows)
    near = [row for row in rows if row.mains_voltage <= _SAME_MAINS * lowest]
    return max(near, key=lambda row: row.mains_current)


def input_current_finding(specimen: Specimen) -> Finding:
    """Input current at the lowest mains voltage on the label against the label's figure."""
    question = "Is the input current on the label enough at the lowest mains voltage?"
    plate = specimen.adapter.nameplate
    row, lowest = heaviest_on_the_lowest_mains(specimen), plate.input_voltage_minimum
    if plate.input_current is None or lowest is None or row is None:
        needed = (
            "[nameplate] input_current and input_voltage_minimum, and load_sweep.csv with "
            "mains_current at a mains voltage near the lowest."
        )
        return not_measured(SECTION, question, needed, _FUNCTION)
    ratio = max(float(row.mains_voltage) / lowest, 1.0)
    if ratio > _FURTHEST:
        needed = (
            f"load_sweep.csv with mains_current at {lowest:g} V or a little above; the lowest so "
            f"far is {row.mains_voltage:.0f} V."
        )
        return not_measured(SECTION, question, needed, _FUNCTION)
    read = specimen.reading("mains current", float(row.mains_current), "A")
    part = min(1.0, (ratio - 1) / _WHOLE_DRIFT)
    (moved,) = predict(
        lambda current, drift: current * ratio * (1 + part * drift),
        {
            "current": measured("sweep.mains_current", read, f"{read} read"),
            "drift": specimen.allowance("mains.power_factor_drift"),
        },
        "A",
    )
    spread = float(np.std(moved.samples, ddof=1))
    value = Value(read.value * ratio, spread, "A", accuracy_assumed=read.accuracy_assumed)
    subject = f"The input current at {lowest:g} V and {row.input_power:.1f} W"
    if ratio > 1.005:
        subject += f", reckoned from {read} at {row.mains_voltage:.0f} V,"
    return against_limit(
        value,
        Limit(plate.input_current, "A", "upper", "the label", "input current on the nameplate"),
        subject,
        section=SECTION,
        question=question,
        origin=f"load_sweep.csv line {row.line}",
        function=_FUNCTION,
        rests_on=moved.rests_on,
        note="At the heaviest load measured. Standards usually allow a tenth more than the label "
        "(from memory).",
    )
