"""Readings against each other: plug polarity, weighted beside unweighted, one mains and another.

One meter took them all, so its gain cancels, and differences are judged far more sharply than
any of the readings alone.
"""

import numpy as np
import pandas as pd

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
    judgement_of,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.assess.touch_current.model import BRIDGE, PIN, SECTION, RailModel, usual
from adapterlab.judgement import EXPLAINED, agrees
from adapterlab.touch_current import PolaritySplit, scale_touch_current, split_by_polarity

# Below this share of the larger reading the smaller one counts as almost nothing.
_ALMOST_NOTHING = 0.2
_POLARITY = "Is it the same with either plug polarity?"
_SWITCHING = "Does switching-frequency current flow through the body?"
_SCALING = "Does it grow with mains voltage times frequency, as through a capacitor?"


def repeatability(specimen: Specimen) -> float:
    """Standard uncertainty of one reading against another of the same meter. [A].

    Half of the display's last step: rounding and the unrest of the last digit together (common
    practice).
    """
    meters = specimen.adapter.instruments_for("touch current")
    return max((meter.resolution for meter in meters), default=0.0) / 2


def polarity_pairs(keyed: pd.DataFrame) -> pd.DataFrame:
    """Readings taken with the plug both ways round.

    Parameters
    ----------
    keyed : pandas.DataFrame
        The table of readings with their conditions.

    Returns
    -------
    pandas.DataFrame
        ``condition``, ``network``, ``quantity``, ``mains_voltage`` [V], ``mains_frequency``
        [Hz], and the readings ``a`` and ``b`` [A]; one row for each pair.
    """
    found = []
    groups = ["condition", "network", "quantity"]
    for (condition, network, quantity), group in keyed.groupby(groups, sort=False):
        sides = group.groupby("polarity")["touch_current"].max()
        if {"a", "b"} <= set(sides.index):
            found.append(
                {
                    "condition": condition,
                    "network": network,
                    "quantity": quantity,
                    "mains_voltage": group["mains_voltage"].mean(),
                    "mains_frequency": group["mains_frequency"].mean(),
                    "a": sides["a"],
                    "b": sides["b"],
                    "line": group["line"].min(),
                }
            )
    columns = [*groups, "mains_voltage", "mains_frequency", "a", "b", "line"]
    return pd.DataFrame(found, columns=columns)


def _best_pair(pairs: pd.DataFrame) -> pd.Series | None:
    usable = pairs[(pairs["quantity"] == "rms") & (pairs["network"] != "")]
    usable = usable[usable[["a", "b"]].max(axis=1) > 0]
    if usable.empty:
        return None
    weighted = usable[usable["network"] == "weighted"]
    return (usable if weighted.empty else weighted).iloc[0]


def split_of(specimen: Specimen, pairs: pd.DataFrame) -> PolaritySplit | None:
    """Where the capacitance sits, from the first pair of rms readings; None without one."""
    pair = _best_pair(pairs)
    if pair is None:
        return None
    return split_by_polarity(
        pair["a"], pair["b"], pair["mains_voltage"], pair["mains_frequency"], pair["network"],
        touch_current_uncertainty=repeatability(specimen),
    )  # fmt: skip


def seat_of(pairs: pd.DataFrame) -> str:
    """Rail the readings speak of: a mains pin if one polarity gives almost nothing."""
    pair = _best_pair(pairs)
    if pair is not None and min(pair["a"], pair["b"]) < _ALMOST_NOTHING * max(pair["a"], pair["b"]):
        return PIN
    return BRIDGE


def polarity(specimen: Specimen, pairs: pd.DataFrame, split: PolaritySplit | None) -> Finding:
    """Whether both plug polarities agree, and what their difference says."""
    pair = _best_pair(pairs)
    if pair is None or split is None:
        noted = set(specimen.touch_current["polarity"]) - {""}
        lacking = "the other polarity" if noted else "the polarity of any reading"
        needed = (
            f"touch_current.csv lacks {lacking}. So it is not known whether the capacitor sits "
            "behind the bridge or on a mains pin, nor whether the larger of the two readings is "
            "here. Needed: rms readings with polarity a and b."
        )
        return not_measured(SECTION, _POLARITY, needed, "touch_current.split_by_polarity")
    stray = usual("largest usual stray capacitance from a mains pin")
    expected = Value(stray / 2, stray / np.sqrt(12), "F")
    found = Value(split.terminal_capacitance, split.terminal_uncertainty, "F")
    on_a_pin = seat_of(pairs) == PIN
    judged = agrees(False) if on_a_pin else judgement_of(found, expected)
    word = judged.word
    one, other = (str(Value(pair[side], 0.0, "A")) for side in "ab")
    start = f"Touch current at {pair['condition']} is {one} "
    start += "either way round" if one == other else f"one way and {other} the other way round"
    if on_a_pin:
        sentence = (
            f"{start}, all or almost nothing: the path sits on a mains pin, before the bridge, "
            f"and is {found} there: {word} for a capacitor on a rail."
        )
    elif word == EXPLAINED:
        sentence = (
            f"{start}, as it must be for a capacitor on a rail behind the bridge; from a mains "
            f"pin comes no more than the board's usual stray capacitance: {word}."
        )
    else:
        sentence = (
            f"{start}: beside the path behind the bridge {found} sits on the mains pin that is "
            f"live at the larger reading, more than a board's usual stray capacitance: {word}."
        )
    return Finding(
        section=SECTION,
        question=_POLARITY,
        judgement=judged,
        sentence=sentence,
        reading=found,
        prediction=expected,
        origin=f"touch_current.csv line {pair['line']}",
        figure="touch_current_polarity",
        function="touch_current.split_by_polarity",
        note="A capacitor on a rail behind a bridge gives the same both ways; one on a mains pin "
        "gives all or almost nothing. A difference says where to look.",
    )


def _pairs_of(readings: pd.DataFrame, first: dict[str, str], second: dict[str, str]) -> pd.Series:
    """First reading of one kind, and of another kind at the same condition."""
    one, other = (
        readings[(readings[list(kind)] == pd.Series(kind)).all(axis=1)] for kind in (first, second)
    )
    both = one.merge(other, on="condition", suffixes=("", "_other"))
    return both.iloc[0] if len(both) else pd.Series(dtype=object)


def switching(specimen: Specimen, readings: pd.DataFrame, model: RailModel) -> Finding:
    """Whether the unweighted reading holds more than the mains puts into it."""
    pair = _pairs_of(
        readings,
        {"network": "weighted", "quantity": "rms"},
        {"network": "unweighted", "quantity": "rms"},
    )
    if pair.empty or pair["current"] <= 0:
        needed = (
            "the same condition read weighted and unweighted, rms. So it is not known how much "
            "of the converter's own current, which the weighting hides, flows beside the mains."
        )
        return not_measured(SECTION, _SWITCHING, needed, "touch_current.switching_current")
    unweighted_row = pd.Series({**pair, "network": "unweighted"})
    guess = pair["current"] / model.ideal(pair)
    ratio = model.per_farad(unweighted_row, guess)[0] / model.per_farad(pair, guess)[0]
    expected = pair["current"] * ratio
    step = repeatability(specimen)
    spread = float(np.hypot(step, step * ratio))
    excess = max(pair["current_other"] ** 2 - expected**2, 0.0)
    hidden = np.sqrt(excess + 4 * pair["current_other"] * max(spread, 0.002 * expected))
    shown = Value(float(f"{hidden:.2g}"), 0.0, "A")
    return against_prediction(
        Value(pair["current_other"], step, "A"),
        Value(expected, float(np.hypot(step * ratio, 0.002 * expected)), "A"),
        f"Unweighted touch current at {pair['condition']}",
        "the weighted reading, if all of it comes from the mains,",
        section=SECTION,
        question=_SWITCHING,
        origin=f"touch_current.csv line {pair['line_other']}",
        figure="touch_current_network",
        function="touch_current.switching_current",
        note=f"Up to {shown.short} of switching-frequency current (95 %) could hide beside the "
        "mains' part. It comes through the windings; nerves hardly feel it, "
        "so only the unweighted network shows it.",
    )


def scaling(specimen: Specimen, readings: pd.DataFrame, model: RailModel) -> list[Finding]:
    """A reading at one mains carried over to another mains where it was read as well."""
    quiet = readings[
        (readings["quantity"] == "rms")
        & (readings["network"] == "weighted")
        & (readings["output_power"] == 0)
    ]
    if len(quiet) < 2:
        return []
    here, there = quiet.iloc[0], quiet.iloc[1]
    if here["current"] <= 0:
        return []
    scaled = scale_touch_current(
        here["current"],
        here["mains_voltage"],
        here["mains_frequency"],
        there["mains_voltage"],
        there["mains_frequency"],
        model.rail,
    )
    step, shape = repeatability(specimen), usual("relative effect of the mains waveform")
    return [
        against_prediction(
            Value(there["current"], step, "A"),
            Value(
                scaled,
                float(np.hypot(step * scaled / here["current"], shape * scaled)),
                "A",
            ),
            f"Touch current at {there['condition']}",
            f"scaling the reading at {here['condition']}",
            section=SECTION,
            question=_SCALING,
            origin=f"touch_current.csv line {there['line']}",
            figure="touch_current_readings",
            function="touch_current.scale_touch_current",
            note="A path that is no capacitor, such as a leaking insulation, would not follow the "
            "frequency.",
        )
    ]
