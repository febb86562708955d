"""Two adapters side by side: which differences are real, and which parts explain them.

A difference is spoken of only if it holds whether the errors of the meters that read both are
alike in both readings or not.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess import SECTIONS
from adapterlab.assess.model.meters import METERS, Apart, Measured, points_apart, reader_of
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.report import Finding, Prediction, Value, judgement_of
from adapterlab.assess.standing import QUANTITIES, main_loading_at_home, spread_of_loads
from adapterlab.assess.standing import figures_of as standing_figures
from adapterlab.assess.verdict import VerdictAssessment
from adapterlab.dossier import Dossier
from adapterlab.judgement import EXPLAINED, NOT_JUDGED, WORDS, Judgement

# Which meter reads which figure of the standing.
_READ_BY = {"no_load_power": "no-load power", "ripple_pp": "ripple",
            "touch_current": "touch current"}  # fmt: skip
# Quantities whose zero is a convention, so that their ratio means nothing.
_NO_RATIO = {"°", "°C"}


@dataclass(frozen=True)
class Difference:
    """One figure of both adapters.

    Attributes
    ----------
    label : str
        What it is, as said aloud.
    first, second : Value
        The two figures.
    standard_uncertainty : float
        Of second less first; of those that may be true the largest. [unit of the figures]
    judgement : Judgement
        Whether the difference may be spoken of, with the probability of its sign.
    apart : Apart or None
        The difference as the same meters read it; None if other meters did, or none are listed.
    better : str
        Name of the adapter that does better; empty where neither is, or it can't be told.
    cause : str
        The parts that explain it, and whether they do; empty where none were found.
    sentence : str
        All of it in plain words.
    """

    label: str
    first: Value
    second: Value
    standard_uncertainty: float
    judgement: Judgement
    apart: Apart | None
    better: str
    cause: str
    sentence: str

    @property
    def probability(self) -> float:
        """Probability that the true difference has the sign of the one seen. [1]."""
        return self.judgement.probability or 0.0

    @property
    def ratio(self) -> float:
        """Second over first; NaN where the first is zero."""
        return self.second.value / self.first.value if self.first.value else np.nan


@dataclass(frozen=True)
class Explained:
    """A reading of both adapters beside what their parts predict, as ratios.

    Attributes
    ----------
    label, section : str
        What was read, and in which section.
    reading, prediction : Value
        Second over first: as read, and as the parts predict. [1]
    judgement : Judgement
        *explained* or *unexplained*.
    sentence : str
        The same in plain words.
    """

    label: str
    section: str
    reading: Value
    prediction: Value
    judgement: Judgement
    sentence: str

    @property
    def word(self) -> str:
        """The word of the judgement."""
        return self.judgement.word


@dataclass(frozen=True)
class Comparison:
    """Two adapters side by side.

    Attributes
    ----------
    names : tuple of str
        The two adapters.
    differences : tuple of Difference
        Figures both have.
    explained : tuple of Explained
        Readings whose ratio the parts predict.
    words : pandas.DataFrame
        How often each word was said of each section: ``section``, ``word``, and a column for each
        adapter.
    """

    names: tuple[str, str]
    differences: tuple[Difference, ...]
    explained: tuple[Explained, ...]
    words: pd.DataFrame


def same_meters(first: Dossier, second: Dossier, quantities: Sequence[str]) -> bool:
    """Whether both dossiers list the same meters, by name and accuracy, for some quantities."""
    return all(
        bool(first.adapter.instruments_for(quantity))
        and first.adapter.instruments_for(quantity) == second.adapter.instruments_for(quantity)
        for quantity in quantities
    )


def _efficiencies(dossier: Dossier) -> dict[str, Any]:
    """Figures from the load sweep with the origin of their uncertainty."""
    main = main_loading_at_home(specimen_of(dossier))
    if main is None or main.average is None:
        return {}
    found: dict[str, Any] = {
        "average_efficiency": main.average,
        "efficiency_spread": spread_of_loads(main),
    }
    if main.ten_percent is not None:
        found["ten_percent_efficiency"] = main.ten_percent
    return found


def _apart(
    dossiers: tuple[Dossier, Dossier], name: str, values: tuple[Value, Value]
) -> Apart | None:
    """Second less first as the same meters read both; None if others did, or none are listed."""
    if name in ("average_efficiency", "efficiency_spread", "ten_percent_efficiency"):
        if not same_meters(*dossiers, METERS):
            return None
        first, second = (_efficiencies(dossier)[name] for dossier in dossiers)
        return cast(Apart, second - first)
    meter = _READ_BY.get(name, "")
    if not meter or not same_meters(*dossiers, [meter]):
        return None
    first, second = (
        Measured.of(value.value, [(0, 1.0, reader_of(specimen_of(dossier))(meter, value.value))])
        for dossier, value in zip(dossiers, values, strict=True)
    )
    return second - first


def _subject(finding: Finding) -> str:
    """What was read and how: the sentence up to its verb, angles to the nearest ten degrees."""
    subject = finding.sentence.split(" is ")[0]
    return re.sub(r"\b(\d+)°", lambda match: f"about {round(int(match[1]), -1)}°", subject)


def _pairs(
    results: tuple[VerdictAssessment, VerdictAssessment],
) -> Iterator[tuple[Finding, Finding]]:
    """Findings of both that set the same reading against its parts."""
    known: dict[tuple[str, str, str], Finding] = {}
    for finding in results[0].findings:
        if finding.judgement.rule == "against_prediction":
            known.setdefault((finding.section, finding.question, _subject(finding)), finding)
    for finding in results[1].findings:
        match = known.pop((finding.section, finding.question, _subject(finding)), None)
        if match is not None and finding.judgement.rule == "against_prediction":
            yield match, finding


def _ratio(first: Value, second: Value) -> Value:
    """Second over first with its uncertainty, the two taken as independent."""
    ratio = second.value / first.value
    relative = np.hypot(
        first.standard_uncertainty / first.value, second.standard_uncertainty / second.value
    )
    assumed = first.accuracy_assumed or second.accuracy_assumed
    return Value(float(ratio), float(abs(ratio) * relative), "", accuracy_assumed=assumed)


def _predicted(names: tuple[str, str], first: Finding, second: Finding) -> Value | Prediction:
    """Second over first as their parts predict, draw by draw on one bench where there are draws."""
    assert first.prediction is not None
    assert second.prediction is not None
    one, other = first.draws, second.draws
    if one is None or other is None or one.samples.shape != other.samples.shape:
        return _ratio(first.prediction, second.prediction)
    if names[0] != names[1]:
        other = other.of_another(names[1])
    return other.over(one)


def _explain(names: tuple[str, str], first: Finding, second: Finding) -> Explained | None:
    values = [first.reading, second.reading, first.prediction, second.prediction]
    known = [value for value in values if value is not None and value.value > 0]
    if len(known) < 4 or len({value.unit for value in known}) > 1:
        return None
    if known[0].unit in _NO_RATIO:
        return None
    reading, prediction = _ratio(known[0], known[1]), _predicted(names, first, second)
    judged = judgement_of(reading, prediction)
    if judged.word == NOT_JUDGED:
        return None
    label = _subject(second)
    said = "explain" if judged.word == EXPLAINED else "do not explain"
    ends = ", but only at the ends of their tolerances" if judged.only_at_the_ends else ""
    shown = prediction.value if isinstance(prediction, Prediction) else prediction
    sentence = (
        f"{label} of {names[1]} is {reading} times that of {names[0]}; their parts predict "
        f"{shown} times: they {said} the difference{ends}."
    )
    return Explained(label, second.section, reading, shown, judged, sentence)


def _is_cause(name: str, item: Explained) -> bool:
    """Whether an explained reading is the figure of that name, and not another of its section."""
    words = {"touch_current": "Touch current at 230 V", "ripple_pp": "Ripple"}
    return name in words and item.label.startswith(words[name])


def _differences(
    dossiers: tuple[Dossier, Dossier],
    names: tuple[str, str],
    explained: Sequence[Explained],
) -> list[Difference]:
    figures = [standing_figures(dossier) for dossier in dossiers]
    found = []
    for quantity in QUANTITIES:
        if any(quantity.name not in own for own in figures):
            continue
        values = figures[0][quantity.name], figures[1][quantity.name]
        apart = _apart(dossiers, quantity.name, values)
        gap = values[1].value - values[0].value
        spread = float(np.hypot(values[0].standard_uncertainty, values[1].standard_uncertainty))
        judged = apart.judgement if apart else rules.difference(gap, spread)
        second_wins = (gap < 0) == quantity.lower_is_better
        told = judged.called and gap != 0 and not any(v.accuracy_assumed for v in values)
        better = names[int(second_wins)] if told else ""
        cause = next((item.sentence for item in explained if _is_cause(quantity.name, item)), "")
        found.append(
            Difference(
                quantity.label,
                *values,
                apart.standard_uncertainty if apart else spread,
                judged,
                apart,
                better,
                cause,
                "",
            )
        )
        found[-1] = replace(found[-1], sentence=_sentence(names, found[-1]))
    return found


def _sentence(names: tuple[str, str], found: Difference) -> str:
    first, second = found.first, found.second
    gap = Value(abs(second.value - first.value), found.standard_uncertainty, first.unit)
    text = f"{found.label[0].upper()}{found.label[1:]}: {names[0]} {first}, {names[1]} {second}"
    if gap.value == 0:
        return f"{text}: no difference shows."
    text += f"; apart by {points_apart(gap)}"
    if first.accuracy_assumed or second.accuracy_assumed:
        return f"{text}: not judged, for no instrument is listed for one of them."
    verdict = f"{found.better} does better" if found.better else "which does better is not sure"
    unsure = found.standard_uncertainty > 0 and found.probability < 0.9995
    doubt = f" (probability {found.probability:.3f})" if unsure else ""
    return f"{text}: {verdict}{doubt}."


def _words(
    results: tuple[VerdictAssessment, VerdictAssessment], names: tuple[str, str]
) -> pd.DataFrame:
    rows = []
    for section in SECTIONS:
        counts = [result.findings.in_section(section.stem).counts for result in results]
        rows += [
            (section.stem, word, *(count.get(word, 0) for count in counts))
            for word in WORDS
            if any(word in count for count in counts)
        ]
    return pd.DataFrame(rows, columns=["section", "word", *names])


def compare(
    dossiers: tuple[Dossier, Dossier], results: tuple[VerdictAssessment, VerdictAssessment]
) -> Comparison:
    """Set two adapters side by side.

    Parameters
    ----------
    dossiers : tuple of Dossier
        The two records.
    results : tuple of VerdictAssessment
        Their assessments.

    Returns
    -------
    Comparison
        Differences with their probability, and what the parts say to them.
    """
    first, second = (dossier.name for dossier in dossiers)
    names = (first, second) if first != second else (f"{first} (1)", f"{second} (2)")
    explained = [item for pair in _pairs(results) if (item := _explain(names, *pair)) is not None]
    return Comparison(
        names,
        tuple(_differences(dossiers, names, explained)),
        tuple(explained),
        _words(results, names),
    )
