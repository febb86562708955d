"""Life of a dossier's capacitors, which of them goes first, and how many adapters fail by when."""

from dataclasses import dataclass

import pandas as pd
from scipy import stats

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import (
    FUNCTIONS,
    SECTION,
    Case,
    case_of,
    label_of,
    rated_temperature,
    rounded,
    said,
    warmth_of,
)
from adapterlab.assess.capacitor_life.ceramic import Ceramic, ceramic_findings, ceramic_of
from adapterlab.assess.capacitor_life.end import end_findings, end_of, kinds_of
from adapterlab.assess.capacitor_life.heat import heat_findings
from adapterlab.assess.capacitor_life.laws import laws_of, voltage_note
from adapterlab.assess.capacitor_life.lives import Population, table_of
from adapterlab.assess.capacitor_life.ripple import ripple_findings
from adapterlab.assess.capacitor_life.use import HOURS_PER_YEAR, MARKS, InUse
from adapterlab.assess.capacitor_life.years import longer, odds_of, span_of, use_findings
from adapterlab.assess.model.heat import HeatModel, heat_model
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    does_not_apply,
    not_measured,
)
from adapterlab.assess.report.ledger import Ledger
from adapterlab.assess.report.prediction import Share, naming
from adapterlab.assess.report.value import Value
from adapterlab.dossier import Dossier
from adapterlab.dossier.schema import RatedCapacitor
from adapterlab.judgement import ENDS

# Below it the ten-kelvin rule lies below makers' own tables. [°C]
_CAREFUL = 60.0


@dataclass(frozen=True)
class CapacitorLifeAssessment:
    """What temperature, ripple and use leave of the capacitors' lives.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    lives : pandas.DataFrame
        One row for each capacitor with a life, shortest first: ``part``, ``place``, ``type``,
        ``temperature`` of the case, ``temperature_uncertainty`` and ``rated_temperature`` [°C],
        ``base_life`` [h], ``ripple_rise`` [K] (NaN if unknown), median ``life``, its 95 %
        interval ``low`` and ``high`` and ``standard_uncertainty`` [h] in continuous use,
        ``first``, the probability that in one adapter it fails before the others [1], and
        ``spread_from``, the input that spreads the life most.
    cases : tuple of Case
        What each life was worked out from, in the order of the dossier.
    heat : HeatModel or None
        Balance of heat of the case.
    used : tuple of InUse
        What each way of using the adapter leaves.
    ceramics : tuple of Ceramic
        Ceramic capacitors whose code and voltage are known.
    end : pandas.DataFrame
        ``effect``, ``where``, ``new``, ``least`` and ``most`` aged, ``unit``.
    """

    findings: Ledger
    lives: pd.DataFrame
    cases: tuple[Case, ...]
    heat: HeatModel | None
    used: tuple[InUse, ...]
    ceramics: tuple[Ceramic, ...]
    end: pd.DataFrame

    def table(self) -> pd.DataFrame:
        """The lives in years of continuous use, rounded for showing."""
        lives = self.lives
        years = {name: rounded(lives[name] / HOURS_PER_YEAR) for name in ("life", "low", "high")}
        return pd.DataFrame(
            {
                "part": lives["part"],
                "place": lives["place"],
                "type": lives["type"],
                "case (°C)": lives["temperature"].round(0),
                "years": years["life"],
                "95 % from": years["low"],
                "to": years["high"],
                "goes first": lives["first"].round(2),
                "spread mostly from": lives["spread_from"],
            }
        )

    def currents(self) -> pd.DataFrame:
        """Ripple currents in ampere, rounded for showing: each source, and all together."""
        found = []
        for case in self.cases:
            row: dict[str, object] = {"part": case.capacitor.part}
            circuit = case.ripple.circuit
            for source in () if circuit is None else circuit.middle():
                row[f"{source.name} (A)"] = round(float(source.rms), 2)
            together, rated = case.ripple.computed, case.capacitor.rated_ripple_current
            row["together (A)"] = None if together is None else round(together.value.value, 2)
            row["rated (A)"] = rated
            for name, kelvin in (
                ("heats by (K)", case.ripple_rise),
                ("by resistance (K)", case.resistance_rise),
            ):
                row[name] = None if kelvin is None else round(kelvin, 1)
            found.append(row)
        return pd.DataFrame(found)

    def laws(self) -> pd.DataFrame:
        """What each form of the law says of each wet capacitor, in years of continuous use."""
        found = [laws_of(case) for case in self.cases if case.capacitor.type != "polymer"]
        return pd.DataFrame(
            [
                {"part": row["part"]}
                | {
                    law: None if hours is None else float(rounded([hours / HOURS_PER_YEAR])[0])
                    for law, hours in row["hours"].items()
                }
                for row in found
            ]
        )

    def in_years(self) -> pd.DataFrame:
        """For each way of use: which part first, its years, and shares that fail, rounded."""
        found = []
        for use in self.used:
            weakest = use.weakest
            years, low, high = rounded([weakest["life"], weakest["low"], weakest["high"]])
            row = {
                "use": use.profile.name,
                "goes first": weakest["part"],
                "years": years,
                "95 % from": low,
                "to": high,
            }
            found.append(
                row
                | {
                    f"failing by heat in {mark}": span_of(use.share_by(mark))
                    if mark in use.told
                    else "not stated"
                    for mark in MARKS
                }
            )
        return pd.DataFrame(found)


def _remarks(case: Case, row: pd.Series) -> str:
    """What the reader of a life must know besides."""
    told = []
    if case.estimated:
        told.append(
            "No temperature was measured on it: that of its case is an estimate from the balance "
            "of heat and what is usual inside a closed case."
        )
    else:
        told.append(
            "The thermocouple sits on the case; the law counts from the air around it, so the "
            "case's own rise is taken off."
        )
    if case.room.origin == "noted":
        told.append(f"In a room at {case.room.middle:g} °C; a warmer one shortens the life.")
    if case.ripple_rise is None:
        told.append(
            f"Its ripple current or rating is not noted: any rise from 0 to "
            f"{case.rated_ripple_rise:.2g} K is allowed for."
        )
    elif case.ripple_rise > case.rated_ripple_rise:
        told.append("It carries more ripple current than its rating.")
    if case.capacitor.type == "polymer":
        told.append(
            "Makers disagree on polymer: from a factor of 4 to a factor of 10 for 20 K; "
            "the interval spans both."
        )
    elif case.temperature < _CAREFUL:
        told.append(
            f"Below {_CAREFUL:g} °C makers' tables lie above the rule, so the figure is careful."
        )
    spread = max(float(row["temperature_uncertainty"]), 1e-9)
    above = stats.norm.sf(case.rated_temperature, row["temperature"], spread)
    if above > 0.001:
        told.append(
            f"With probability {above:.3f} the case is above its rating, where no life is "
            f"stated; that part counts as if at the rating."
        )
    return " ".join(told)


def _life_finding(
    specimen: Specimen, case: Case, row: pd.Series, rests_on: tuple[Share, ...]
) -> Finding:
    years, low, high = (row[name] / HOURS_PER_YEAR for name in ("life", "low", "high"))
    if case.warmth is not None:
        warm, origin = f"its case read at {case.warmth.reading}", case.warmth.origin
    else:
        guess = Value(row["temperature"], row["temperature_uncertainty"], "°C")
        warm = f"its case estimated at {guess}"
        origin = "the balance of heat, for nothing was measured on it"
    under = "" if case.loaded is None else f" {case.loaded.said}"
    sentence = (
        f"{case.label}, {case.capacitor.type}, lasts by the law about {said(years)} years "
        f"({said(low)} to {said(high)}) of continuous use with {warm}{under}, or "
        f"{said(row['life'])} hours{longer(years)}{naming(rests_on)}."
    )
    part = specimen.adapter.part(case.capacitor.part)
    note = f"{_remarks(case, row)} {voltage_note(case, part.rated_voltage if part else None)}"
    return Finding(
        section=SECTION,
        question=f"How long does {case.label} last?",
        judgement=rules.result(),
        sentence=sentence,
        function=FUNCTIONS[case.capacitor.type],
        origin=origin,
        prediction=_years(row),
        rests_on=rests_on,
        figure="capacitor_life_lives",
        note=note.strip(),
    )


def _outside(case: Case, reason: str) -> Finding:
    why = f"{case.label} is outside the laws' range, {reason}: no life is stated there."
    question = f"How long does {case.label} last?"
    return does_not_apply(SECTION, question, why, FUNCTIONS[case.capacitor.type])


def _rating(specimen: Specimen, capacitor: RatedCapacitor) -> list[Finding]:
    """Measured temperature against the temperature marked on the part."""
    warmth, rated = warmth_of(specimen, capacitor), rated_temperature(specimen, capacitor)
    if warmth is None or rated is None:
        return []
    under = "" if warmth.loaded is None else f" {warmth.loaded.said}"
    return [
        against_limit(
            warmth.reading,
            Limit(
                rated,
                "°C",
                "upper",
                f"the rating of {capacitor.part}",
                "the maker's rating on the part, as noted in adapter.toml",
                verb="allows",
            ),
            f"Case temperature of {label_of(capacitor)}{under}",
            section=SECTION,
            question="Is every capacitor within its rated temperature?",
            origin=warmth.origin,
            figure="capacitor_life_law",
            function="uncertainty.conformity_probability",
        )
    ]


def _first(lives: pd.DataFrame, rests_on: tuple[Share, ...]) -> Finding:
    """Which capacitor goes first; `lives` has the shortest life on top and two rows or more."""
    order = lives.sort_values("first", ascending=False, kind="stable")
    row, rival = order.iloc[0], order.iloc[1]
    years, low, high = (said(row[name] / HOURS_PER_YEAR) for name in ("life", "low", "high"))
    span = (
        f"by the law after about {years} years ({low} to {high}) of continuous use"
        f"{longer(row['life'] / HOURS_PER_YEAR)}"
    )
    odds, rest = odds_of(row["first"]), f"{rival['part']} {rival['first']:.2f}"
    if row["first"] >= ENDS[1]:
        sentence = f"{row['part']} goes first ({odds}), {span}"
    elif row["first"] >= 0.5:
        sentence = f"{row['part']} most likely goes first ({odds}; {rest}), {span}"
    else:
        sentence = f"Which goes first is not settled: {row['part']} has {odds}, {span}; {rest}"
    return Finding(
        section=SECTION,
        question="Which capacitor goes first?",
        judgement=rules.result(),
        sentence=f"{sentence}{naming(rests_on)}.",
        function="capacitor_life.first_failure_probability",
        figure="capacitor_life_lives",
        origin="adapter.toml, [[capacitors]]",
        prediction=_years(row),
        rests_on=rests_on,
        note="The law's own uncertainty is common to capacitors of one type and cancels among "
        "them; that of the temperatures does not, nor does the spread from part to part.",
    )


def _years(row: pd.Series) -> Value:
    """A life of the table in years, its interval skewed as it is."""
    life, spread, low, high = (
        float(row[name]) / HOURS_PER_YEAR
        for name in ("life", "standard_uncertainty", "low", "high")
    )
    return Value(life, spread, "years", (low, high))


def _ceramics(specimen: Specimen) -> tuple[list[Ceramic], list[Finding]]:
    found, told = [], []
    for capacitor in specimen.adapter.capacitors:
        if capacitor.type != "ceramic":
            continue
        try:
            ceramic = ceramic_of(specimen, capacitor)
        except ValueError as error:
            ceramic = str(error).split("; got")[0]
        if isinstance(ceramic, Ceramic):
            found.append(ceramic)
        told += ceramic_findings(capacitor, ceramic)
    return found, told


def _cases(specimen: Specimen, heat: HeatModel | None) -> tuple[list[Case], list[Finding]]:
    """The capacitors whose life can be worked out, and what to say of the others."""
    found, told = [], []
    for capacitor in specimen.adapter.capacitors:
        if capacitor.type == "ceramic":
            continue
        case = case_of(specimen, capacitor, heat)
        if isinstance(case, Finding):
            told.append(case)
            continue
        try:
            case.check()
        except ValueError as error:
            told.append(_outside(case, str(error)))
        else:
            found.append(case)
    return found, told


def assess(dossier: Dossier | Specimen) -> CapacitorLifeAssessment:
    """Lives of one adapter's capacitors, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    CapacitorLifeAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    listed, heat = specimen.adapter.capacitors, heat_model(specimen)
    findings = [found for capacitor in listed for found in _rating(specimen, capacitor)]
    ceramics, others = _ceramics(specimen)
    if not listed:
        needed = (
            "[[capacitors]] with the type, the case temperature at full load, the rated "
            "temperature and the base life of each."
        )
        question = "Which capacitor goes first?"
        others.append(not_measured(SECTION, question, needed, "capacitor_life.electrolytic_life"))
    cases, left_out = _cases(specimen, heat)
    population = Population(tuple(cases), heat) if cases else None
    lives, told = table_of(population), []
    if population is not None:
        rests_on = population.shares
        told = [
            _life_finding(specimen, case, lives.iloc[n], rests_on[n])
            for n, case in enumerate(cases)
        ]
        if len(cases) > 1:
            told.insert(0, _first(lives, rests_on[int(lives["first"].idxmax())]))
    used, spent = use_findings(specimen, population, heat)
    end = end_of(specimen)
    findings += heat_findings(heat)
    for case in cases:
        findings += ripple_findings(case)
    return CapacitorLifeAssessment(
        Ledger.of(
            [*findings, *told, *spent, *others, *left_out, *end_findings(end, kinds_of(specimen))]
        ),
        lives.sort_values("life", kind="stable").reset_index(drop=True),
        tuple(cases),
        heat,
        tuple(used),
        tuple(ceramics),
        end,
    )
