"""One judgement of the kit, with everything behind it.

`Limit` is a published figure, `Finding` the judgement. `against_limit` and `against_prediction`
make the two usual kinds, `not_measured`, `no_limit` and `does_not_apply` those that say why there
is no verdict; any other is a `Finding` with the `Judgement` that a rule of
`adapterlab.judgement` made.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.report.prediction import MOSTLY, Prediction, Share, naming
from adapterlab.assess.report.value import Value
from adapterlab.judgement import COVERAGE, NOT_JUDGED, Judgement
from adapterlab.published import Standing, standing_of, why_not
from adapterlab.uncertainty import coverage_factor


@dataclass(frozen=True)
class Limit:
    """A published figure a reading is held against.

    Attributes
    ----------
    value : float
        The figure. [unit]
    unit : str
        As in `Value`.
    kind : str
        ``upper`` or ``lower``: on which side readings should stay clear of it.
    name : str
        Standard or rule, as said aloud.
    source : str
        Document and place.
    known : str
        How the figure is known: a key of `adapterlab.published.KNOWN`.
    verb : str
        What it does, between its name and the bound.
    standing : Standing or None
        Whether the document is in force; None for what the dossier itself notes.
    witness : str
        What agrees with a figure that is known second-hand.
    """

    value: float
    unit: str
    kind: str
    name: str
    source: str
    known: str = "noted"
    verb: str = "asks for"
    standing: Standing | None = None
    witness: str = ""

    @classmethod
    def published(
        cls, row: Mapping[str, Any], value: float, unit: str, kind: str, name: str
    ) -> "Limit":
        """Limit from a row of the published tables, with its source, witness and standing."""
        return cls(
            value,
            unit,
            kind,
            name,
            row["source"],
            row["known"],
            standing=standing_of(row),
            witness=row.get("witness", ""),
        )

    @property
    def why_not(self) -> str:
        """Why no verdict may rest on it, as the end of a sentence; empty if one may."""
        return why_not({"known": self.known, "witness": self.witness})

    @property
    def said(self) -> str:
        """Whose it is and whether that is in force, as the subject of its verb."""
        return f"{self.name}, {self.standing.said}," if self.standing else self.name

    @property
    def ground(self) -> str:
        """What a figure rests on that was not seen in its own document, in brackets."""
        if self.known == "two":
            return " (by two reproductions)"
        if self.known == "second-hand" and self.witness:
            return " (second-hand, with a second witness)"
        return ""

    @property
    def bound(self) -> str:
        """Such as ``at most 250 µA``."""
        word = "at most" if self.kind == "upper" else "at least"
        return f"{word} {Value(self.value, 0.0, self.unit)}"

    def __str__(self) -> str:
        """The bound and whose it is."""
        return f"{self.bound}: {self.name}"


@dataclass(frozen=True)
class Finding:
    """One line of the ledger.

    Attributes
    ----------
    section : str
        Stem of the section.
    question : str
        What was asked, short.
    judgement : Judgement
        The word and what it rests on, as a rule of `adapterlab.judgement` chose it.
    sentence : str
        The finding in plain words, with its number.
    function : str
        Library function that gave the figure, such as ``touch_current.barrier_current``.
    reading : Value or None
        What was measured.
    origin : str
        Where the reading stands in the dossier.
    prediction : Value or None
        What the parts predict.
    limit : Limit or None
        What a published rule asks.
    rests_on : tuple of Share
        Uncertain inputs of the prediction, the one of largest share first.
    figure : str
        Name of the picture that shows it.
    note : str
        What else the reader must know.
    draws : Prediction or None
        The prediction with its draws, where it has some.
    """

    section: str
    question: str
    judgement: Judgement
    sentence: str
    function: str
    reading: Value | None = None
    origin: str = ""
    prediction: Value | None = None
    limit: Limit | None = None
    rests_on: tuple[Share, ...] = ()
    figure: str = ""
    note: str = ""
    draws: Prediction | None = field(default=None, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Refuse a word that no rule chose."""
        if not isinstance(self.judgement, Judgement):
            raise TypeError(f"judgement must be made by a rule, got {self.judgement!r}")

    @property
    def word(self) -> str:
        """The word of the judgement."""
        return self.judgement.word

    @property
    def probability(self) -> float | None:
        """Probability of the judgement. [1]."""
        return self.judgement.probability

    @property
    def assumed(self) -> tuple[Share, ...]:
        """The assumed inputs that the prediction rests on."""
        return tuple(share for share in self.rests_on if share.origin == "assumed")

    @property
    def is_mostly_assumed(self) -> bool:
        """Whether assumed inputs carry more than half of the prediction's variance."""
        return sum(share.share for share in self.assumed) > MOSTLY


def against_limit(
    reading: Value,
    limit: Limit,
    subject: str,
    *,
    not_judged: str = "",
    exact: bool = False,
    **rest: Any,
) -> Finding:
    """Finding for a reading against a published figure.

    Parameters
    ----------
    reading : Value
        What was measured.
    limit : Limit
        What is asked; must be in the reading's unit.
    subject : str
        Start of the sentence, such as ``Touch current at 230 V``.
    not_judged : str, optional
        Why no verdict may rest on the limit, as the end of a sentence; empty if it may.
    exact : bool, optional
        Whether the reading has no uncertainty by its nature, as a count has none. Otherwise an
        uncertainty of 0 means that the accuracy is not stated, and nothing is judged.
    **rest
        Other fields of `Finding`.

    Returns
    -------
    Finding
        With its word; a figure that is not known well enough is shown but never judged.

    Raises
    ------
    ValueError
        If the units differ.
    """
    if reading.unit != limit.unit:
        raise ValueError(f"limit must be in {reading.unit!r}, got {limit.unit!r}")
    side = {"upper": limit.value} if limit.kind == "upper" else {"lower": limit.value}
    judged = rules.against_limit(
        reading.value,
        reading.standard_uncertainty,
        reason=not_judged or limit.why_not or why_not_judged(reading, exact),
        exact=exact,
        **side,
    )
    named = naming(rest.get("rests_on", ()))
    sentence = f"{subject} is {reading}{named}; {limit.said} {limit.verb} {limit.bound}"
    sentence += limit.ground
    if judged.word == NOT_JUDGED:
        sentence += f", but {judged.reason}, so no verdict rests on it."
    else:
        chance = judged.probability or 0.0
        doubt = f" (probability {chance:.3f})" if 0.001 < chance < 0.999 else ""
        sentence += f": {judged.word}{doubt}."
    if limit.known == "second-hand" and limit.witness:
        rest["note"] = f"{rest.get('note', '')} Second witness: {limit.witness}.".strip()
    return Finding(judgement=judged, sentence=sentence, reading=reading, limit=limit, **rest)


def against_prediction(
    reading: Value,
    prediction: Value | Prediction,
    subject: str,
    cause: str,
    *,
    not_judged: str = "",
    exact: bool = False,
    **rest: Any,
) -> Finding:
    """Finding for a reading against what the parts predict.

    Parameters
    ----------
    reading : Value
        What was measured.
    prediction : Prediction or Value
        What the parts predict, in the same unit; a bare `Value` knows no marked tolerances.
    subject : str
        Start of the sentence.
    cause : str
        What predicts, such as ``the barrier capacitor CY1 (1 nF)``.
    not_judged : str, optional
        Why no verdict may rest on the comparison, as the end of a sentence; empty if one may.
    exact : bool, optional
        As in `against_limit`.
    **rest
        Other fields of `Finding`.

    Returns
    -------
    Finding
        With its word. The sentence names the assumed inputs that matter.

    Raises
    ------
    ValueError
        If the units differ.
    """
    shown = prediction.value if isinstance(prediction, Prediction) else prediction
    if reading.unit != shown.unit:
        raise ValueError(f"prediction must be in {reading.unit!r}, got {shown.unit!r}")
    judged = judgement_of(reading, prediction, not_judged, exact=exact)
    rest.setdefault("rests_on", getattr(prediction, "rests_on", ()))
    rest.setdefault("draws", prediction if isinstance(prediction, Prediction) else None)
    named = naming(rest["rests_on"])
    sentence = f"{subject} is {reading}; {cause} predicts {shown}{named}"
    if judged.word == NOT_JUDGED:
        sentence += f", but {judged.reason}, so no verdict rests on it"
    else:
        sentence += f": {judged.word}"
    if judged.only_at_the_ends:
        sentence += ", but only with parts at the ends of their tolerances"
    return Finding(
        judgement=judged, sentence=f"{sentence}.", reading=reading, prediction=shown, **rest
    )


def why_not_judged(reading: Value, exact: bool = False) -> str:
    """Why no verdict may rest on a reading, as the end of a sentence; empty if one may."""
    if reading.accuracy_assumed:
        return "no instrument is listed for it and its accuracy is assumed"
    if reading.standard_uncertainty == 0 and not exact:
        return "the accuracy of the reading is not stated"
    return ""


def judgement_of(
    reading: Value,
    prediction: Value | Prediction,
    not_judged: str = "",
    *,
    exact: bool = False,
) -> Judgement:
    """Judgement of a reading against a prediction, as `against_prediction` takes them."""
    if isinstance(prediction, Prediction):
        ends, reach = prediction.interval, prediction.reach
        rest = prediction.rest_uncertainty
    else:
        rest = prediction.standard_uncertainty
        half = coverage_factor(COVERAGE) * rest
        ends = prediction.interval or (prediction.value - half, prediction.value + half)
        reach = None
    return rules.against_prediction(
        reading.value,
        reading.standard_uncertainty,
        ends,
        reach,
        rest,
        not_judged or why_not_judged(reading, exact),
    )


def not_measured(section: str, question: str, needed: str, function: str) -> Finding:
    """Finding for what the dossier does not hold.

    Parameters
    ----------
    section, question, function : str
        As in `Finding`.
    needed : str
        What would have to be measured or noted.

    Returns
    -------
    Finding
        With the word *not measured*.
    """
    return Finding(
        section,
        question,
        rules.not_measured(needed),
        f"{question} Not measured: {needed}",
        function,
    )


def no_limit(section: str, question: str, why: str, function: str, **rest: Any) -> Finding:
    """Finding where the published limit does not cover this adapter; parameters as `not_measured`.

    `why` says why not, as a whole sentence.
    """
    return Finding(section, question, rules.no_limit(why), why, function, **rest)


def does_not_apply(section: str, question: str, why: str, function: str, **rest: Any) -> Finding:
    """Finding where the question has no sense for this adapter; parameters as `no_limit`."""
    return Finding(section, question, rules.does_not_apply(why), why, function, **rest)
