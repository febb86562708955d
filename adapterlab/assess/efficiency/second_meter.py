"""Whether two meters at the mains agree."""

import numpy as np

from adapterlab.assess.model.instruments import reading_with
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, against_prediction, not_measured
from adapterlab.assess.report.value import Value

SECTION = "efficiency"


def second_meter_findings(specimen: Specimen) -> list[Finding]:
    """Whether a second meter for the input power agrees with the first.

    Parameters
    ----------
    specimen : Specimen
        The adapter; the second meter is the second listed for ``input power``, and its readings
        stand in ``second_input_power``.

    Returns
    -------
    list of Finding
        One, about the point where the two lie furthest apart; none without a second reading.
    """
    sweep = specimen.load_sweep.drop_duplicates("point")
    rows = sweep[sweep["second_input_power"].notna() & (sweep["input_power"] > 0)]
    if rows.empty:
        return []
    question = "Do two meters at the mains agree?"
    function = "verdict.disagreement"
    meters = specimen.adapter.instruments_for("input power")
    if len(meters) < 2:
        needed = "the accuracy of both meters, as two [[instruments]] that measure input power."
        return [not_measured(SECTION, question, needed, function)]
    pairs = [
        (
            reading_with(meters[0], row.input_power, "W"),
            reading_with(meters[1], row.second_input_power, "W"),
            row,
        )
        for row in rows.itertuples()
    ]
    worst = int(np.argmax([_apart(first, second) for first, second, _ in pairs]))
    first, second, row = pairs[worst]
    return [
        against_prediction(
            second,
            first,
            f"Input power at point {row.point} on {meters[1].name}",
            meters[0].name,
            section=SECTION,
            question=question,
            function=function,
            origin=f"{row.file} point {row.point}",
            note=f"The worst of {len(pairs)} points with two readings.",
        )
    ]


def _apart(first: Value, second: Value) -> float:
    spread = np.hypot(first.standard_uncertainty, second.standard_uncertainty)
    return float(abs(first.value - second.value) / spread) if spread else 0.0
