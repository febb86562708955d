"""Two adapters side by side: which differences are real, and which parts explain them.

Where both were read on the same meters, what those meters do to both cancels in the difference.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from adapterlab.assess import SECTIONS
from adapterlab.assess.model.meters import Measured, reader_of
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.assess.report.finding import (
    Finding,
    judgement_of,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.assess.standing import QUANTITIES, main_loading_at_home, spread_of_loads
from adapterlab.assess.standing import figures_of as standing_figures
from adapterlab.assess.verdict import VerdictAssessment
from adapterlab.dossier import Dossier
from adapterlab.judgement import DOUBT, EXPLAINED, WORDS, probability_of_order

_METERS = ("input power", "output voltage", "output current")
# Which meter reads which figure of the standing.
_READ_BY = {"no_load_power": "no-load power", "ripple_pp": "ripple",
            "touch_current": "touch current"}  # fmt: skip
_SURE = 1 - DOUBT
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
        Of second less first, what common meters do to both left out. [unit of the figures]
    probability : float
        Probability that the true difference has the sign of the one seen. [1]
    common_meters : bool
        Whether the same meters read both.
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
    probability: float
    common_meters: bool
    better: str
    cause: str
    sentence: str

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
    word : str
        *explained* or *unexplained*.
    sentence : str
        The same in plain words.
    """

    label: str
    section: str
    reading: Value
    prediction: Value
    word: str
    sentence: str


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


def _efficiencies(dossier: Dossier) -> dict[str, Measured]:
    """Figures from the load sweep with the origin of their uncertainty."""
    main = main_loading_at_home(specimen_of(dossier))
    if main is None or main.average is None:
        return {}
    found = {"average_efficiency": main.average, "efficiency_spread": spread_of_loads(main)}
    if main.ten_percent is not None:
        found["ten_percent_efficiency"] = main.ten_percent
    return found


def _spread_of_difference(
    dossiers: tuple[Dossier, Dossier], name: str, values: tuple[Value, Value]
) -> tuple[float, bool]:
    """Standard uncertainty of the difference, and whether common meters were allowed for."""
    apart = float(np.hypot(values[0].standard_uncertainty, values[1].standard_uncertainty))
    if name in ("average_efficiency", "efficiency_spread", "ten_percent_efficiency"):
        if same_meters(*dossiers, _METERS):
            first, second = (_efficiencies(dossier)[name] for dossier in dossiers)
            return (second - first).standard_uncertainty, True
        return apart, False
    meter = _READ_BY.get(name, "")
    if meter and same_meters(*dossiers, [meter]):
        one, other = (
            reader_of(specimen_of(dossier))(meter, value.value)
            for dossier, value in zip(dossiers, values, strict=True)
        )
        shared = np.abs(other.constant - one.constant).sum()
        return float(np.sqrt(shared**2 + one.rounding**2 + other.rounding**2)), True
    return apart, False


def _times(value: Value) -> str:
    return str(replace(value, unit=""))


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
        if finding.reading is not None and finding.prediction is not None:
            known.setdefault((finding.section, finding.question, _subject(finding)), finding)
    for finding in results[1].findings:
        match = known.pop((finding.section, finding.question, _subject(finding)), None)
        if match is not None and finding.reading is not None and finding.prediction is not None:
            yield match, finding


def _ratio(first: Value, second: Value) -> Value:
    """Second over first with its uncertainty, the two taken as independent."""
    ratio = second.value / first.value
    relative = np.hypot(
        first.standard_uncertainty / first.value, second.standard_uncertainty / second.value
    )
    return Value(float(ratio), float(abs(ratio) * relative), "")


def _explain(names: tuple[str, str], first: Finding, second: Finding) -> Explained | None:
    values = [first.reading, second.reading, first.prediction, second.prediction]
    known = [value for value in values if value is not None and value.value > 0]
    if len(known) < 4 or len({value.unit for value in known}) > 1:
        return None
    if known[0].unit in _NO_RATIO:
        return None
    reading, prediction = _ratio(known[0], known[1]), _ratio(known[2], known[3])
    if reading.standard_uncertainty + prediction.standard_uncertainty == 0:
        return None
    word = judgement_of(reading, prediction).word
    label = _subject(second)
    said = "explain" if word == EXPLAINED else "do not explain"
    sentence = (
        f"{label} of {names[1]} is {_times(reading)} times that of {names[0]}; their parts predict "
        f"{_times(prediction)} times: they {said} the difference."
    )
    return Explained(label, second.section, reading, prediction, word, sentence)


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
        spread, common = _spread_of_difference(dossiers, quantity.name, values)
        gap = values[1].value - values[0].value
        probability = probability_of_order(gap, spread)
        sure = probability >= _SURE and gap != 0
        second_wins = (gap < 0) == quantity.lower_is_better
        better = names[int(second_wins)] if sure else ""
        cause = next((item.sentence for item in explained if _is_cause(quantity.name, item)), "")
        found.append(
            Difference(
                quantity.label,
                *values,
                spread,
                probability,
                common,
                better,
                cause,
                _sentence(quantity.label, names, values, spread, probability, common, better),
            )
        )
    return found


def _sentence(
    label: str,
    names: tuple[str, str],
    values: tuple[Value, Value],
    spread: float,
    probability: float,
    common: bool,
    better: str,
) -> str:
    gap = Value(abs(values[1].value - values[0].value), spread, values[0].unit)
    shown = str(gap).replace("%", "percentage points") if gap.unit == "%" else str(gap)
    text = f"{label[0].upper()}{label[1:]}: {names[0]} {values[0]}, {names[1]} {values[1]}"
    if gap.value == 0:
        return f"{text}: no difference shows."
    text += f"; apart by {shown}"
    verdict = f"{better} does better" if better else "which of them does better is not sure"
    doubt = f" (probability {probability:.3f})" if spread > 0 and probability < 0.9995 else ""
    meters = ", the meters' common errors left out" if common else ""
    return f"{text}{meters}: {verdict}{doubt}."


def _words(
    results: tuple[VerdictAssessment, VerdictAssessment], names: tuple[str, str]
) -> pd.DataFrame:
    counts = [
        pd.Series([(f.section, f.word) for f in result.findings], dtype=object).value_counts()
        for result in results
    ]
    table = pd.concat(counts, axis=1).fillna(0).astype(int)
    order = [section.stem for section in SECTIONS]
    rows = [
        (*place, *(int(count) for count in numbers))
        for place, numbers in zip(table.index, table.to_numpy(), strict=True)
    ]
    rows.sort(key=lambda row: (order.index(row[0]), WORDS.index(row[1])))
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
