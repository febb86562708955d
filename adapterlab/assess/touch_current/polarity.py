"""Whether it is the same with either plug polarity, and where the path starts.

One meter took both readings, so its gain cancels: the difference is judged far more sharply than
either reading alone.
"""

from collections.abc import Sequence

from adapterlab.assess.model.inputs import predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, judgement_of, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.assess.touch_current.model import BRIDGE, PIN
from adapterlab.assess.touch_current.readings import (
    SECTION,
    PolarityPair,
    repeatability,
    to_split,
)
from adapterlab.judgement import EXPLAINED, NOT_JUDGED, agrees
from adapterlab.touch_current import PolaritySplit, split_by_polarity

QUESTION = "Is it the same with either plug polarity?"
# Below this share of the larger reading the smaller one counts as almost nothing.
_ALMOST_NOTHING = 0.2


def split_of(specimen: Specimen, pairs: Sequence[PolarityPair]) -> PolaritySplit | None:
    """Where the capacitance sits, from the pair that tells it; None without one."""
    pair = to_split(pairs)
    if pair is None:
        return None
    return split_by_polarity(
        pair.a.current.value,
        pair.b.current.value,
        (pair.a.mains_voltage + pair.b.mains_voltage) / 2,
        (pair.a.mains_frequency + pair.b.mains_frequency) / 2,
        pair.a.network,
        touch_current_uncertainty=repeatability(specimen),
    )


def seat_of(pairs: Sequence[PolarityPair]) -> str:
    """Rail the readings speak of: a mains pin if one polarity gives almost nothing."""
    pair = to_split(pairs)
    if pair is None:
        return BRIDGE
    almost = _ALMOST_NOTHING * pair.larger.current.value
    return PIN if pair.smaller.current.value < almost else BRIDGE


def polarity_finding(
    specimen: Specimen, pairs: Sequence[PolarityPair], split: PolaritySplit | None
) -> Finding:
    """Whether both plug polarities agree, and what their difference says."""
    pair = to_split(pairs)
    if pair is None or split is None:
        noted = set(specimen.touch_current["polarity"]) - {""}
        lacking = "the other polarity" if noted else "the polarity of any reading"
        needed = (
            f"touch_current.csv lacks {lacking}. So it is not known whether the capacitor sits "
            "behind the bridge or on a mains pin, nor whether the larger of the two readings is "
            "here. Needed: rms readings with polarity a and b."
        )
        return not_measured(SECTION, QUESTION, needed, "touch_current.split_by_polarity")
    stray = {"stray": specimen.allowance("pin.stray_capacitance")}
    expected = predict(lambda stray: stray, stray, "F")[0]
    most = Value(stray["stray"].ends[1], 0.0, "F")
    found = Value(
        split.terminal_capacitance,
        split.terminal_uncertainty,
        "F",
        accuracy_assumed=pair.a.current.accuracy_assumed,
    )
    on_a_pin = seat_of(pairs) == PIN
    judged = agrees(False) if on_a_pin else judgement_of(found, expected)
    one, other = (str(Value(side.current.value, 0.0, "A")) for side in (pair.a, pair.b))
    start = f"Touch current at {pair.a.condition} is {one} "
    start += "either way round" if one == other else f"one way and {other} the other way round"
    if judged.word == NOT_JUDGED:
        sentence = f"{start}, but {judged.reason}, so it can't be said whether they differ."
    elif on_a_pin:
        sentence = (
            f"{start}, all or almost nothing: the path sits on a mains pin, before the bridge, "
            f"and is {found} there: {judged.word} for a capacitor on a rail."
        )
    elif judged.word == EXPLAINED:
        sentence = (
            f"{start}, as it must be for a capacitor on a rail behind the bridge; from a mains "
            f"pin comes no more than the {most} assumed for board and leads: {judged.word}."
        )
    else:
        sentence = (
            f"{start}: beside the path behind the bridge {found} sits on the mains pin that is "
            f"live at the larger reading, more than the {most} assumed for board and leads: "
            f"{judged.word}."
        )
    return Finding(
        section=SECTION,
        question=QUESTION,
        judgement=judged,
        sentence=sentence,
        reading=found,
        prediction=expected.value,
        rests_on=expected.rests_on,
        origin=pair.larger.origin,
        figure="touch_current_polarity",
        function="touch_current.split_by_polarity",
        note="A capacitor on a rail behind a bridge gives the same both ways; one on a mains pin "
        "gives all or almost nothing. A difference says where to look.",
    )
