"""One judgement of the kit, with everything behind it.

`Value` is a number with uncertainty and unit; `Limit` a published figure; `Finding` the
judgement; `Ledger` a list of findings that shows itself. `against_limit` and
`against_prediction` make the two usual kinds, `not_measured` the third.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd

from adapterlab.judgement import (
    NO_LIMIT,
    NOT_MEASURED,
    WORDS,
    limit_word,
    prediction_word,
)
from adapterlab.published import judges
from adapterlab.uncertainty import conformity_probability, coverage_factor

_PREFIXES = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M"}
_UNPREFIXED = {"%", "°C", "K", "h", "years", "A²s", "g/W", "per W", "kWh", ""}


@dataclass(frozen=True)
class Value:
    """A number with its uncertainty.

    Attributes
    ----------
    value : float
        Best estimate. [unit]
    standard_uncertainty : float
        Standard uncertainty; 0 if none is known. [unit]
    unit : str
        SI unit as shown, or ``%`` for a fraction (0.89 shows as 89 %), ``°C``, ``h``, ``years``.
    interval : tuple of float or None
        Ends of the 95 % interval where it is not symmetric. [unit]
    """

    value: float
    standard_uncertainty: float
    unit: str
    interval: tuple[float, float] | None = None

    def __str__(self) -> str:
        """Value ± 95 % half-width, rounded to what the uncertainty justifies."""
        factor, unit = _scale(self.value, self.unit, self._half_width)
        shown = self.value * factor
        if self.interval is not None:
            low, high = (f"{end * factor:.2g}" for end in self.interval)
            return f"{shown:.2g} {unit} ({low} to {high})"
        half_width = self._half_width * factor
        if half_width <= 0:
            return f"{shown:.4g} {unit}".strip()
        decimals = _decimals(half_width)
        number = f"{round(shown, decimals):.{max(decimals, 0)}f}"
        spread = f"{round(half_width, decimals):.{max(decimals, 0)}f}"
        joined = f"{number} ± {spread}"
        gap = "" if unit == "°" else " "
        return f"({joined}){gap}{unit}" if unit else joined

    @property
    def _half_width(self) -> float:
        return coverage_factor() * self.standard_uncertainty

    @property
    def short(self) -> str:
        """Value alone, rounded to what the uncertainty justifies."""
        factor, unit = _scale(self.value, self.unit, self._half_width)
        half_width = self._half_width * factor
        if half_width <= 0:
            return f"{self.value * factor:.3g} {unit}".strip()
        decimals = _decimals(half_width)
        return f"{round(self.value * factor, decimals):.{max(decimals, 0)}f} {unit}".strip()


def _decimals(half_width: float) -> int:
    """Decimals that leave two digits of the half-width when it starts with 1, else one."""
    exponent = math.floor(math.log10(half_width))
    lead = half_width / 10**exponent
    return -exponent + (1 if lead < 2 else 0)


def _scale(value: float, unit: str, half_width: float = 0.0) -> tuple[float, str]:
    """Factor and prefixed unit that suit the value as it will be rounded."""
    if unit == "%":
        return 100.0, "%"
    if unit in _UNPREFIXED or value == 0:
        return 1.0, unit
    rounded = round(value, _decimals(half_width)) if half_width > 0 else value
    exponent = 3 * math.floor(math.log10(abs(rounded or value)) / 3)
    exponent = min(max(exponent, -12), 6)
    return 10.0**-exponent, _PREFIXES[exponent] + unit


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
    """

    value: float
    unit: str
    kind: str
    name: str
    source: str
    known: str = "seen"

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
    word : str
        One of `adapterlab.judgement.WORDS`.
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
    probability : float or None
        Probability of conformity with the limit. [1]
    figure : str
        Name of the picture that shows it.
    note : str
        What else the reader must know.
    """

    section: str
    question: str
    word: str
    sentence: str
    function: str
    reading: Value | None = None
    origin: str = ""
    prediction: Value | None = None
    limit: Limit | None = None
    probability: float | None = None
    figure: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse a word of somebody's own."""
        if self.word not in WORDS:
            raise ValueError(f"word must be one of {', '.join(WORDS)}, got {self.word!r}")


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
        Whether the reading has no uncertainty by its nature. Otherwise an uncertainty of 0 means
        that no instrument is listed, and nothing is judged.
    **rest
        Other fields of `Finding`.

    Returns
    -------
    Finding
        With its word; a figure known only from memory is shown but never judged.

    Raises
    ------
    ValueError
        If the units differ.
    """
    if reading.unit != limit.unit:
        raise ValueError(f"limit must be in {reading.unit!r}, got {limit.unit!r}")
    side = {"upper": limit.value} if limit.kind == "upper" else {"lower": limit.value}
    probability = conformity_probability(reading.value, reading.standard_uncertainty, **side)
    if not judges({"known": limit.known}):
        not_judged = "that figure is known from memory only"
    if reading.standard_uncertainty == 0 and not exact:
        not_judged = not_judged or "the accuracy of the instrument is not listed"
    sentence = f"{subject} is {reading}; {limit.name} asks for {limit.bound}"
    if not_judged:
        word = NO_LIMIT
        sentence += f", but {not_judged}, so no verdict rests on it."
    else:
        word = limit_word(probability)
        doubt = f" (probability {probability:.3f})" if 0.001 < probability < 0.999 else ""
        sentence += f": {word}{doubt}."
    return Finding(
        word=word,
        sentence=sentence,
        reading=reading,
        limit=limit,
        probability=probability,
        **rest,
    )


def against_prediction(
    reading: Value, prediction: Value, subject: str, cause: str, **rest: Any
) -> Finding:
    """Finding for a reading against what the parts predict.

    Parameters
    ----------
    reading, prediction : Value
        The two values, in one unit, each with its uncertainty.
    subject : str
        Start of the sentence.
    cause : str
        What predicts, such as ``the barrier capacitor CY1 (1 nF)``.
    **rest
        Other fields of `Finding`.

    Returns
    -------
    Finding
        With its word.

    Raises
    ------
    ValueError
        If the units differ or neither value has an uncertainty.
    """
    if reading.unit != prediction.unit:
        raise ValueError(f"prediction must be in {reading.unit!r}, got {prediction.unit!r}")
    word = prediction_word(
        reading.value,
        reading.standard_uncertainty,
        prediction.value,
        prediction.standard_uncertainty,
    )
    sentence = f"{subject} is {reading}; {cause} predicts {prediction}: {word}"
    if reading.standard_uncertainty == 0:
        sentence += " (the reading counts as exact, for no instrument accuracy is listed)"
    sentence += "."
    return Finding(word=word, sentence=sentence, reading=reading, prediction=prediction, **rest)


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
        section=section,
        question=question,
        word=NOT_MEASURED,
        function=function,
        sentence=f"{question} Not measured: {needed}",
    )


@dataclass(frozen=True)
class Ledger:
    """Findings in order, most telling words first within each section.

    Attributes
    ----------
    findings : tuple of Finding
        The findings.
    """

    findings: tuple[Finding, ...]

    @classmethod
    def of(cls, findings: Iterable[Finding]) -> "Ledger":
        """Ledger with the most telling words first; the order is kept otherwise."""
        return cls(tuple(sorted(findings, key=lambda finding: WORDS.index(finding.word))))

    def __iter__(self) -> Iterator[Finding]:
        """Findings in order."""
        return iter(self.findings)

    def __len__(self) -> int:
        """Number of findings."""
        return len(self.findings)

    def with_word(self, *words: str) -> "Ledger":
        """Only the findings with one of `words`."""
        return Ledger(tuple(finding for finding in self.findings if finding.word in words))

    def in_section(self, section: str) -> "Ledger":
        """Only the findings of one section."""
        return Ledger(tuple(finding for finding in self.findings if finding.section == section))

    def table(self) -> pd.DataFrame:
        """The ledger as a table of texts: question, reading, prediction, limit, word."""
        return pd.DataFrame(
            [
                {
                    "question": finding.question,
                    "reading": str(finding.reading or "–"),
                    "the parts predict": str(finding.prediction or "–"),
                    "published limit": str(finding.limit or "–"),
                    "verdict": finding.word,
                }
                for finding in self.findings
            ],
            columns=["question", "reading", "the parts predict", "published limit", "verdict"],
        )

    def __repr__(self) -> str:
        """One sentence per line."""
        return "\n".join(f"• {finding.sentence}" for finding in self.findings) or "No findings."

    def _repr_html_(self) -> str:
        """The table, with every text escaped."""
        return self.table().to_html(index=False, escape=True, border=0, classes="ledger")
