"""Whether the barrier capacitor explains the touch current."""

from collections.abc import Mapping, Sequence

from adapterlab.assess.report.finding import Finding, against_prediction
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.touch_current.model import Barrier
from adapterlab.assess.touch_current.readings import SECTION, TouchReading

QUESTION = "Does the barrier capacitor explain the touch current?"


def judged_readings(readings: Sequence[TouchReading]) -> list[TouchReading]:
    """Rms at every condition and the first peak; weighted readings where there are any."""
    weighted = [r for r in readings if r.network == "weighted" and r.quantity != "dc"]
    chosen = weighted or [r for r in readings if r.quantity != "dc"]
    peaks = [r for r in chosen if r.quantity == "peak"]
    return [r for r in chosen if r.quantity == "rms"] + peaks[:1]


def against_parts(
    readings: Sequence[TouchReading], predictions: Mapping[int, Prediction], barrier: Barrier
) -> list[Finding]:
    """Each judged reading against what the parts predict.

    Parameters
    ----------
    readings : sequence of TouchReading
        Largest reading of each kind.
    predictions : mapping of int to Prediction
        Line -> what the parts predict. [A]
    barrier : Barrier
        What bridges the barrier.

    Returns
    -------
    list of Finding
        One for each judged reading.
    """
    cause = f"the barrier capacitor {barrier.label}"
    if barrier.windings is not None:
        cause = f"the barrier capacitor {barrier.known.replace(' and the', ' with the', 1)}"
    return [
        against_prediction(
            reading.current,
            predictions[reading.line],
            reading.subject,
            cause,
            section=SECTION,
            question=QUESTION,
            origin=reading.origin,
            figure="touch_current_readings",
            function="touch_current.rail_waveform",
        )
        for reading in judged_readings(readings)
    ]
