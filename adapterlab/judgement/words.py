"""The words, and the record that only a rule can make."""

from dataclasses import dataclass, field

from adapterlab.uncertainty import coverage_factor

MEETS, FALLS_SHORT, TOO_CLOSE = "meets", "falls short", "too close to call"
NOT_JUDGED, NO_LIMIT = "not judged", "no limit applies"
EXPLAINED, UNEXPLAINED = "explained", "unexplained"
RESULT, NOT_MEASURED = "result", "not measured"
DOES_NOT_APPLY, NOT_ASSESSED = "does not apply", "could not be assessed"

WORDS = (
    NOT_ASSESSED,
    UNEXPLAINED,
    FALLS_SHORT,
    TOO_CLOSE,
    MEETS,
    EXPLAINED,
    NOT_JUDGED,
    RESULT,
    NO_LIMIT,
    DOES_NOT_APPLY,
    NOT_MEASURED,
)

DOUBT = 0.025
COVERAGE = 1 - 2 * DOUBT
ENDS = (DOUBT, 1 - DOUBT)
# Share of false alarms among the failures that open a review.
FALSE_DISCOVERIES = 0.05
FACTOR = coverage_factor(COVERAGE)
_RULE_MADE_IT = object()


@dataclass(frozen=True)
class Judgement:
    """A word with what it rests on, as one of this module's rules chose it.

    Attributes
    ----------
    word : str
        One of `WORDS`.
    rule : str
        Name of the rule that chose it.
    reason : str
        Why no verdict could be given, or what the word needs to hold; the end of a sentence.
    probability : float or None
        Against a limit: of conformity. Between readings: that the true difference has the sign of
        the one seen, or that the step is real. [1]
    p_value : float or None
        Of a comparison: how often chance alone would bring as bad a reading, or as large a
        difference, if nothing were wrong. [1]  None where nothing was judged.
    false_alarm : float
        How often at most the rule says *falls short* or *unexplained* though nothing is wrong;
        0 where chance has no say. [1]
    only_at_the_ends : bool
        Whether the reading is explained only with parts at the ends of their tolerances.
    called : bool or None
        Between readings: whether the difference or the step may be spoken of as one.
    """

    word: str
    rule: str
    reason: str = ""
    probability: float | None = None
    p_value: float | None = None
    false_alarm: float = 0.0
    only_at_the_ends: bool = False
    called: bool | None = None
    made_by: object = field(default=None, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Refuse a word that no rule chose."""
        if self.made_by is not _RULE_MADE_IT:
            raise ValueError(
                f"a judgement is made by a rule of adapterlab.judgement, got the word {self.word!r}"
            )

    @property
    def failed(self) -> bool:
        """Whether the word is *falls short* or *unexplained*."""
        return self.word in (FALLS_SHORT, UNEXPLAINED)


def judged(
    word: str,
    rule: str,
    *,
    reason: str = "",
    probability: float | None = None,
    p_value: float | None = None,
    false_alarm: float = 0.0,
    only_at_the_ends: bool = False,
    called: bool | None = None,
) -> Judgement:
    """A judgement; for the rules of this package only."""
    return Judgement(
        word, rule, reason, probability, p_value, false_alarm, only_at_the_ends, called,
        made_by=_RULE_MADE_IT,
    )  # fmt: skip
