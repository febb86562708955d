"""Ways of use in words: which part fails first, after how long, and in how many adapters."""

import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import SECTION, said
from adapterlab.assess.capacitor_life.lives import Population
from adapterlab.assess.capacitor_life.use import InUse, in_use, uses_of
from adapterlab.assess.model.heat import HeatModel
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.prediction import naming
from adapterlab.assess.report.value import Value
from adapterlab.capacitor_life import LOWEST_TEMPERATURE
from adapterlab.dossier.schema import Profile
from adapterlab.judgement import ENDS
from adapterlab.published import rows

_FUNCTION = "capacitor_life.mission_profile_life"
# What makers vouch for at most. [years]
VOUCHED: float = min(row["years"] for row in rows(SECTION, "longest_lives"))


def percent(share: float) -> str:
    """A share as said aloud."""
    if share < 0.01:
        return "less than 1 %"
    return "more than 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def span_of(share: tuple[float, float, float]) -> str:
    """A share with its interval, as said aloud."""
    middle, low, high = (percent(end) for end in share)
    return f"{middle} ({low} to {high})"


def longer(years: float) -> str:
    """What to add to a life that is longer than makers vouch for."""
    return f", longer than the {VOUCHED:g} years that makers vouch for" if years > VOUCHED else ""


def _shares(use: InUse) -> str:
    """The shares that can be stated, as the end of the sentence."""
    told = [f"{span_of(use.share_by(mark))} within {mark} years" for mark in use.told]
    told[:1] = [text.replace(" within", " of such adapters within") for text in told[:1]]
    if not told:
        return "no share that fails is stated, for heat alone gives less than 1 % within 10 years"
    return f"heat alone makes a capacitor fail in {', '.join(told)}"


def sentence_of(use: InUse) -> str:
    """What is said of one way of use."""
    weakest = use.weakest
    years = [said(weakest[name]) for name in ("life", "low", "high")]
    made_up = "" if use.own else ", a use made up to compare"
    return (
        f"Used as '{use.profile.name}'{made_up}, {_who(weakest)}, by the law after about "
        f"{years[0]} years ({years[1]} to {years[2]}){longer(weakest['life'])}"
        f"{naming(use.rests_on)}; {_shares(use)}."
    )


def odds_of(probability: float) -> str:
    """A probability as said aloud."""
    return "probability above 0.99" if probability >= 0.995 else f"probability {probability:.2f}"


def _who(weakest: pd.Series) -> str:
    odds = odds_of(weakest["first"])
    if weakest["first"] >= ENDS[1]:
        return f"{weakest['part']} goes first ({odds})"
    if weakest["first"] >= 0.5:
        return f"{weakest['part']} most likely goes first ({odds})"
    return f"which part goes first is not settled, {weakest['part']} being likeliest ({odds})"


def _note(use: InUse) -> str:
    weakest, hot = use.weakest, use.hottest_use
    told = []
    if len(use.profile.uses) > 1:
        told.append(
            f"It wears as if always at {weakest['equivalent_temperature']:.0f} °C; "
            f"{weakest['hot_wear']:.0%} of the wear comes from the {hot.hours:g} hours a year at "
            f"{hot.output_power:.3g} W."
        )
    if use.below_range > 0:
        told.append(
            f"In {use.below_range:.0%} of the year it is cooler than {LOWEST_TEMPERATURE:g} °C, "
            f"where no law was stated: that time counts as if at {LOWEST_TEMPERATURE:g} °C."
        )
    if use.told:
        told.append(
            "The shares rest on 1 % to 50 % having failed at the stated life, as makers differ, "
            "and on a Weibull shape of 3 to 6, which no maker prints."
        )
    told.append("What else ages a capacitor than heat, such as its rubber seal, no law tells.")
    return " ".join(told)


def _finding(use: InUse) -> Finding:
    row = use.weakest
    low, high = float(row["low"]), float(row["high"])
    return Finding(
        section=SECTION,
        question=f"How long does the adapter last, used as '{use.profile.name}'?",
        judgement=rules.result(),
        sentence=sentence_of(use),
        function=_FUNCTION,
        origin="adapter.toml, [[profiles]]" if use.own else "a profile of the library",
        prediction=Value(float(row["life"]), (high - low) / 4, "years", (low, high)),
        rests_on=use.rests_on,
        figure="capacitor_life_failing",
        note=_note(use),
    )


def _refused(profile: Profile, reason: str) -> Finding:
    question = f"How long does the adapter last, used as '{profile.name}'?"
    return not_measured(SECTION, question, f"the profile can't be used: {reason}.", _FUNCTION)


def use_findings(
    specimen: Specimen, population: Population | None, heat: HeatModel | None
) -> tuple[list[InUse], list[Finding]]:
    """Every profile worked out, and what to say of each.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    population : Population or None
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
    if population is None or heat is None:
        needed = "a capacitor with its temperature and base life, the size of the case and a load "
        needed += "sweep: then hours, loads and rooms turn into years."
        question = "How long does the adapter last in daily use?"
        return [], [not_measured(SECTION, question, needed, _FUNCTION)]
    used, told = [], []
    for profile, own in uses_of(specimen, heat):
        try:
            use = in_use(population, heat, profile, own)
        except ValueError as error:
            told.append(_refused(profile, str(error)))
        else:
            used.append(use)
            told.append(_finding(use))
    return used, told
