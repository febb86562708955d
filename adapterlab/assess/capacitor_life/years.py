"""Ways of use in words: which part fails first, after how long, and in how many adapters."""

import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import SECTION, said
from adapterlab.assess.capacitor_life.draws import Draws
from adapterlab.assess.capacitor_life.use import MARKS, InUse, in_use, uses_of
from adapterlab.assess.model.heat import HeatModel
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.capacitor_life import LOWEST_TEMPERATURE
from adapterlab.dossier.schema import Profile
from adapterlab.judgement import ENDS
from adapterlab.published import rows

_FUNCTION = "capacitor_life.mission_profile_life"


def percent(share: float) -> str:
    """A share as said aloud."""
    return "less than 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _sentence(use: InUse) -> str:
    weakest = use.weakest
    years = [said(weakest[name]) for name in ("life", "low", "high")]
    shares = [use.share_by(mark) for mark in MARKS]
    told = ", ".join(
        f"{percent(share)} within {mark} years"
        for mark, (share, _, _) in zip(MARKS, shares, strict=True)
    )
    most = rows(SECTION, "longest_lives")[0]["years"]
    by = "by the law, longer than any maker states" if weakest["life"] > most else "by the law"
    return (
        f"Used as '{use.profile.name}', {_who(weakest)}, after about {years[0]} years "
        f"({years[1]} to {years[2]}) {by}; of such adapters a capacitor fails in {told}."
    )


def _who(weakest: pd.Series) -> str:
    odds = f"probability {weakest['first']:.2f}"
    if weakest["first"] >= ENDS[1]:
        return f"{weakest['part']} goes first ({odds})"
    if weakest["first"] >= 0.5:
        return f"{weakest['part']} most likely goes first ({odds})"
    return f"which part goes first is not settled, {weakest['part']} being likeliest ({odds})"


def _note(use: InUse) -> str:
    weakest, hot = use.weakest, use.hottest_use
    said = []
    if len(use.profile.uses) > 1:
        said.append(
            f"It wears as if always at {weakest['equivalent_temperature']:.0f} °C; "
            f"{weakest['hot_wear']:.0%} of the wear comes from the {hot.hours:g} hours a year at "
            f"{hot.output_power:.3g} W."
        )
    if use.below_range > 0:
        said.append(
            f"In {use.below_range:.0%} of the year it is cooler than {LOWEST_TEMPERATURE:g} °C, "
            f"where no law was stated: that time counts as if at {LOWEST_TEMPERATURE:g} °C."
        )
    cap = rows(SECTION, "longest_lives")[0]
    low, high = use.share_by(10)[1:]
    said.append(
        f"Shares count no part for longer than the {cap['low']:g} to {cap['years']:g} years that "
        f"makers state; within 10 years they lie between {percent(low)} and {percent(high)}."
    )
    said.append(f"By heat alone {percent(use.by_heat(10))} would have failed by then.")
    return " ".join(said)


def _finding(use: InUse) -> Finding:
    row = use.weakest
    low, high = float(row["low"]), float(row["high"])
    return Finding(
        section=SECTION,
        question=f"How long does the adapter last, used as '{use.profile.name}'?",
        judgement=rules.result(),
        sentence=_sentence(use),
        function=_FUNCTION,
        origin="adapter.toml, [[profiles]]" if use.own else "a profile of the library",
        prediction=Value(float(row["life"]), (high - low) / 4, "years", (low, high)),
        figure="capacitor_life_failing",
        note=_note(use),
    )


def _refused(profile: Profile, reason: str) -> Finding:
    question = f"How long does the adapter last, used as '{profile.name}'?"
    return not_measured(SECTION, question, f"the profile can't be used: {reason}.", _FUNCTION)


def use_findings(
    specimen: Specimen, drawn: Draws | None, heat: HeatModel | None
) -> tuple[list[InUse], list[Finding]]:
    """Every profile worked out, and what to say of each.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    drawn : Draws or None
        Its capacitors; None if there are none with a life.
    heat : HeatModel or None
        Balance of heat; None if it can't be made.

    Returns
    -------
    list of InUse
        One for each profile that could be worked out.
    list of Finding
        One for each profile.
    """
    if drawn is None or heat is None:
        needed = "a capacitor with its temperature and base life, the size of the case and a load "
        needed += "sweep: then hours, loads and rooms turn into years."
        question = "How long does the adapter last in daily use?"
        return [], [not_measured(SECTION, question, needed, _FUNCTION)]
    used, told = [], []
    for profile, own in uses_of(specimen, heat):
        try:
            use = in_use(drawn, heat, profile, own)
        except ValueError as error:
            told.append(_refused(profile, str(error)))
        else:
            used.append(use)
            told.append(_finding(use))
    return used, told
