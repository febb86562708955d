"""The rules that choose words: every word that the kit says of a reading is chosen here.

Against a published figure: `against_limit`, and `required` for what is counted. Against what the
parts predict: `against_prediction`, and `agrees` for what is counted. Between readings:
`difference` and `step`. Where there is nothing to choose: `result`, `no_limit`, `not_judged`,
`not_measured`, `does_not_apply`, `not_assessed`. Each returns a `Judgement`; nobody else can make
one. `WORDS` lists every word, most telling first.

`DOUBT` is the one threshold: a chance that lies below it is not believed.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from adapterlab.numerics.arguments import finite, not_negative, plain
from adapterlab.uncertainty import conformity_probability, coverage_factor

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
_FACTOR = coverage_factor(COVERAGE)
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
        Of a comparison with a prediction or between readings: how often chance alone would bring
        as large a disagreement. [1]
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
    only_at_the_ends: bool = False
    called: bool | None = None
    made_by: object = field(default=None, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Refuse a word that no rule chose."""
        if self.made_by is not _RULE_MADE_IT:
            raise ValueError(
                f"a judgement is made by a rule of adapterlab.judgement, got the word {self.word!r}"
            )


def _judged(word: str, rule: str, **rest: Any) -> Judgement:
    return Judgement(word, rule, **rest, made_by=_RULE_MADE_IT)


def limit_word(probability: float) -> str:
    """Word for a reading against a limit.

    Parameters
    ----------
    probability : float
        Probability of conformity. [1]  From 0 to 1.

    Returns
    -------
    str
        ``meets`` from 0.975 on, ``falls short`` up to 0.025, else ``too close to call``.

    Raises
    ------
    ValueError
        If the probability is not between 0 and 1.

    References
    ----------
    JCGM 106:2012, 7 (probability of conformity) and 8 (decision with a guard band); the two
    bounds are this kit's own.

    Examples
    --------
    >>> limit_word(0.4)
    'too close to call'
    """
    value = float(finite("probability", probability))
    if not 0 <= value <= 1:
        raise ValueError(f"probability must lie in [0, 1], got {probability!r}")
    if value >= 1 - DOUBT:
        return MEETS
    return FALLS_SHORT if value <= DOUBT else TOO_CLOSE


def against_limit(
    value: float,
    standard_uncertainty: float,
    lower: float | None = None,
    upper: float | None = None,
    reason: str = "",
    exact: bool = False,
) -> Judgement:
    """Rule for a reading against a published figure.

    Parameters
    ----------
    value, standard_uncertainty : float
        The reading. [any one unit]  The uncertainty must be >= 0.
    lower, upper : float, optional
        The published figure, on the side or sides where readings should stay clear of it. [same]
    reason : str, optional
        Why no verdict may rest on the figure; empty if one may.
    exact : bool, optional
        Whether the reading has no uncertainty by its nature, as a count has none. Otherwise an
        uncertainty of 0 means that the accuracy is not stated, and nothing is judged.

    Returns
    -------
    Judgement
        *meets*, *falls short* or *too close to call*; *not judged* with its reason.

    Raises
    ------
    ValueError
        As `adapterlab.uncertainty.conformity_probability`.

    References
    ----------
    JCGM 106:2012, 7 and 8; see `limit_word`.

    Examples
    --------
    >>> against_limit(240e-6, 2e-6, upper=250e-6).word
    'meets'
    >>> against_limit(240e-6, 0, upper=250e-6).word
    'not judged'
    """
    probability = float(conformity_probability(value, standard_uncertainty, lower, upper))
    if standard_uncertainty == 0 and not exact:
        reason = reason or "the accuracy of the instrument is not stated"
    if reason:
        return _judged(NOT_JUDGED, "against_limit", reason=reason, probability=probability)
    return _judged(limit_word(probability), "against_limit", probability=probability)


def required(present: bool) -> Judgement:
    """Rule for what a published text asks to be there, and somebody looked for.

    Parameters
    ----------
    present : bool
        Whether it is there.

    Returns
    -------
    Judgement
        *meets* or *falls short*.

    Raises
    ------
    ValueError
        Never.

    References
    ----------
    This kit's own: a count has no uncertainty.

    Examples
    --------
    >>> required(False).word
    'falls short'
    """
    return _judged(MEETS if present else FALLS_SHORT, "required", probability=float(present))


def disagreement(
    reading: ArrayLike,
    reading_uncertainty: ArrayLike,
    prediction: ArrayLike,
    prediction_uncertainty: ArrayLike,
) -> Any:
    r"""Distance of a reading from its prediction in combined standard uncertainties.

    Parameters
    ----------
    reading, prediction : float or array_like
        The two values. [any one unit], shapes broadcast
    reading_uncertainty, prediction_uncertainty : float or array_like
        Their standard uncertainties. [same unit]  Must be >= 0, not both 0.

    Returns
    -------
    float or numpy.ndarray
        Signed distance, positive where the reading is the larger. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not finite, an uncertainty is negative, or both are zero.

    Notes
    -----
    .. math:: z = \frac{x - p}{\sqrt{u_x^2 + u_p^2}}

    References
    ----------
    The normalised error of ISO 13528:2022, 9.7, with standard instead of expanded
    uncertainties (from memory).

    Examples
    --------
    >>> disagreement(130e-6, 2e-6, 100e-6, 6e-6)
    4.74
    """
    spread = np.hypot(
        not_negative("reading_uncertainty", reading_uncertainty),
        not_negative("prediction_uncertainty", prediction_uncertainty),
    )
    if np.any(spread == 0):
        raise ValueError(
            "reading_uncertainty and prediction_uncertainty must not both be 0, got "
            f"{reading_uncertainty!r} and {prediction_uncertainty!r}"
        )
    return plain((finite("reading", reading) - finite("prediction", prediction)) / spread)


def against_prediction(
    reading: float,
    reading_uncertainty: float,
    interval: tuple[float, float],
    reach: tuple[float, float] | None = None,
    rest_uncertainty: float = 0.0,
    reason: str = "",
) -> Judgement:
    r"""Rule for a reading against what the parts predict.

    Parameters
    ----------
    reading, reading_uncertainty : float
        The reading. [any one unit]  The uncertainty must be >= 0.
    interval : tuple of float
        95 % interval of the prediction with every input by its distribution. [same unit]
    reach : tuple of float, optional
        Farthest ends that the prediction reaches with the marked tolerances at their ends and
        95 % of everything else; `interval` if not given. [same unit]
    rest_uncertainty : float, optional
        Standard uncertainty of everything else than marked tolerances. [same unit]
    reason : str, optional
        Why no verdict may rest on the reading, such as a meter whose accuracy is assumed; empty
        if one may.

    Returns
    -------
    Judgement
        *not judged* where there is a reason. Else *unexplained* only where the 95 % interval of
        the reading misses the reach; *explained* otherwise, `Judgement.only_at_the_ends`
        where it misses the interval.

    Raises
    ------
    ValueError
        If a value is not finite, an uncertainty is negative, or the ends of an interval are in
        the wrong order.

    Notes
    -----
    A marked tolerance is a limit that the maker vouches for, not a standard deviation: a part at
    its end is as good as one in the middle. So the two intervals must miss each other, and not
    only the reading its prediction. The p-value counts from the reach without the 95 % of the
    rest, and is 1 within that:

    .. math:: p = 2\Phi\left(-\frac{g + 1.96\,u_r}{\sqrt{u_x^2 + u_r^2}}\right)

    with the gap *g* between reading and reach (negative inside) and the standard uncertainties
    of the reading and of the rest.

    References
    ----------
    JCGM 100:2008, 4.3.7 (a quantity known only by its limits) and 6.2.1 (coverage).

    Examples
    --------
    >>> against_prediction(130e-6, 2e-6, (90e-6, 110e-6)).word
    'unexplained'
    >>> against_prediction(113e-6, 2e-6, (90e-6, 110e-6)).word
    'explained'
    """
    value = float(finite("reading", reading))
    spread = float(not_negative("reading_uncertainty", reading_uncertainty))
    rest = float(not_negative("rest_uncertainty", rest_uncertainty))
    low, high = _ends("interval", interval)
    far_low, far_high = _ends("reach", interval if reach is None else reach)
    far_low, far_high = min(low, far_low), max(high, far_high)
    gap = max(far_low - value, value - far_high)
    inside = max(low - value, value - high)
    half = _FACTOR * spread
    if reason:
        return _judged(NOT_JUDGED, "against_prediction", reason=reason)
    return _judged(
        UNEXPLAINED if gap > half else EXPLAINED,
        "against_prediction",
        p_value=_chance(gap + _FACTOR * rest, float(np.hypot(spread, rest))),
        only_at_the_ends=bool(inside > half >= gap),
    )


def _ends(name: str, interval: tuple[float, float]) -> tuple[float, float]:
    low, high = (float(finite(name, end)) for end in interval)
    if low > high:
        raise ValueError(f"{name} must be (low, high), got {interval!r}")
    return low, high


def _chance(distance: float, spread: float) -> float:
    """Two-sided chance of a normal deviation beyond a distance; 1 where there is none."""
    if distance <= 0:
        return 1.0
    return float(2 * ndtr(-distance / spread)) if spread > 0 else 0.0


def agrees(matches: bool) -> Judgement:
    """Rule for what is counted or read against what the parts list says.

    Parameters
    ----------
    matches : bool
        Whether the two say the same.

    Returns
    -------
    Judgement
        *explained* or *unexplained*.

    Raises
    ------
    ValueError
        Never.

    References
    ----------
    This kit's own: a count has no uncertainty.

    Examples
    --------
    >>> agrees(True).word
    'explained'
    """
    return _judged(EXPLAINED if matches else UNEXPLAINED, "agrees", p_value=float(matches))


def within(probability: float) -> Judgement:
    """Rule for a part inferred from a reading against its own marked tolerance.

    Parameters
    ----------
    probability : float
        Probability that the true value lies within the tolerance. [1]  From 0 to 1.

    Returns
    -------
    Judgement
        *unexplained* below 0.025, else *explained*.

    Raises
    ------
    ValueError
        If the probability is not between 0 and 1.

    References
    ----------
    JCGM 106:2012, 7 (probability of conformity with a tolerance interval).

    Examples
    --------
    >>> within(0.01).word
    'unexplained'
    """
    value = float(finite("probability", probability))
    if not 0 <= value <= 1:
        raise ValueError(f"probability must lie in [0, 1], got {probability!r}")
    word = EXPLAINED if value >= DOUBT else UNEXPLAINED
    return _judged(word, "within", probability=value, p_value=min(1.0, 2 * value))


def prediction_word(
    reading: float,
    reading_uncertainty: float,
    prediction: float,
    prediction_uncertainty: float,
) -> str:
    """Word for a reading against a prediction of which only a standard uncertainty is known.

    Parameters
    ----------
    reading, prediction : float
        The two values. [any one unit]
    reading_uncertainty, prediction_uncertainty : float
        Their standard uncertainties. [same unit]  Must be >= 0.

    Returns
    -------
    str
        ``unexplained`` if their 95 % intervals miss each other, else ``explained``.

    Raises
    ------
    ValueError
        As `against_prediction`.

    References
    ----------
    JCGM 100:2008, 6.2.1 and G.1.3 (coverage factor 2 for about 95 %).

    Examples
    --------
    >>> prediction_word(130e-6, 2e-6, 100e-6, 6e-6)
    'unexplained'
    """
    half = _FACTOR * float(not_negative("prediction_uncertainty", prediction_uncertainty))
    ends = (prediction - half, prediction + half)
    return against_prediction(reading, reading_uncertainty, ends).word


def difference(difference: float, *standard_uncertainties: float) -> Judgement:
    """Rule for a difference of two readings: whether it may be spoken of.

    Parameters
    ----------
    difference : float
        One reading less the other. [any unit]
    *standard_uncertainties : float
        Standard uncertainty of the difference under each assumption that may be true of the
        errors, such as independent and wholly shared. [same unit]  At least one, each >= 0.

    Returns
    -------
    Judgement
        *result*; `Judgement.called` only if the sign is sure under every assumption.

    Raises
    ------
    ValueError
        If no uncertainty is given, or a value is not finite or an uncertainty negative.

    References
    ----------
    JCGM 106:2012, 7.2, with a limit of zero; see `probability_of_order`.

    Examples
    --------
    >>> difference(0.6, 0.1).called, difference(0.6, 0.1, 0.5).called
    (True, False)
    """
    if not standard_uncertainties:
        raise ValueError("standard_uncertainties must name at least one, got none")
    chance = min(
        float(probability_of_order(difference, spread)) for spread in standard_uncertainties
    )
    return _judged(
        RESULT,
        "difference",
        probability=chance,
        p_value=2 * (1 - chance),
        called=chance >= 1 - DOUBT,
    )


def step(probability: float) -> Judgement:
    """Rule for a step in a row of readings: whether it is there.

    Parameters
    ----------
    probability : float
        Probability that there is one. [1]  From 0 to 1.

    Returns
    -------
    Judgement
        *result*; `Judgement.called` from 0.975 on.

    Raises
    ------
    ValueError
        If the probability is not between 0 and 1.

    References
    ----------
    The bound is this kit's own; the probability is that of
    `adapterlab.output_quality.find_ripple_step`.

    Examples
    --------
    >>> step(0.99).called
    True
    """
    value = float(finite("probability", probability))
    if not 0 <= value <= 1:
        raise ValueError(f"probability must lie in [0, 1], got {probability!r}")
    return _judged(RESULT, "step", probability=value, p_value=1 - value, called=value >= 1 - DOUBT)


def result() -> Judgement:
    """Rule for a figure that is held against nothing.

    Returns
    -------
    Judgement
        *result*.

    Raises
    ------
    ValueError
        Never.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> result().word
    'result'
    """
    return _judged(RESULT, "result")


def not_judged(reason: str) -> Judgement:
    """Rule for a limit that exists where no verdict can rest on it; the reason is said.

    Parameters
    ----------
    reason : str
        Why no verdict can rest on the limit; the end of a sentence.  Must not be empty.

    Returns
    -------
    Judgement
        *not judged*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> not_judged("its source is a memory").word
    'not judged'
    """
    return _judged(NOT_JUDGED, "not_judged", reason=_why(reason))


def no_limit(reason: str) -> Judgement:
    """Rule for a published limit that does not cover this adapter; the reason is said.

    Parameters
    ----------
    reason : str
        Why the limit does not cover this adapter; the end of a sentence.  Must not be empty.

    Returns
    -------
    Judgement
        *no limit applies*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> no_limit("it draws less than 75 W").word
    'no limit applies'
    """
    return _judged(NO_LIMIT, "no_limit", reason=_why(reason))


def does_not_apply(reason: str) -> Judgement:
    """Rule for a question that has no sense for this adapter; the reason is said.

    Parameters
    ----------
    reason : str
        Why the question has no sense here; the end of a sentence.  Must not be empty.

    Returns
    -------
    Judgement
        *does not apply*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> does_not_apply("it has one converter").word
    'does not apply'
    """
    return _judged(DOES_NOT_APPLY, "does_not_apply", reason=_why(reason))


def not_measured(needed: str) -> Judgement:
    """Rule for what the dossier does not hold; what would be needed is said.

    Parameters
    ----------
    needed : str
        Which reading or entry is missing; the end of a sentence.  Must not be empty.

    Returns
    -------
    Judgement
        *not measured*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> not_measured("a capture of kind ripple").word
    'not measured'
    """
    return _judged(NOT_MEASURED, "not_measured", reason=_why(needed))


def not_assessed(reason: str) -> Judgement:
    """Rule for a question at which the kit itself failed; why and where is said.

    Parameters
    ----------
    reason : str
        What failed, and where.  Must not be empty.

    Returns
    -------
    Judgement
        *could not be assessed*.

    Raises
    ------
    ValueError
        If nothing is said.

    References
    ----------
    This kit's own.

    Examples
    --------
    >>> not_assessed("ValueError in the ripple").word
    'could not be assessed'
    """
    return _judged(NOT_ASSESSED, "not_assessed", reason=_why(reason))


def _why(reason: str) -> str:
    if not reason.strip():
        raise ValueError(f"reason must say why, got {reason!r}")
    return reason


def probability_of_order(difference: ArrayLike, standard_uncertainty: ArrayLike) -> Any:
    r"""Probability that a true difference has the sign of the one seen.

    Parameters
    ----------
    difference : float or array_like
        One result less the other. [any unit], shapes broadcast
    standard_uncertainty : float or array_like
        Standard uncertainty of the difference. [same unit]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        From 0.5 (nobody can tell) to 1. [1], broadcast shape

    Raises
    ------
    ValueError
        If a value is not finite or the uncertainty negative.

    Notes
    -----
    .. math:: p = \Phi(|d|/u)

    For normal errors. Without uncertainty the sign is certain, except of no difference.

    References
    ----------
    JCGM 106:2012, 7.2 (normal distribution of the measurand), with a limit of zero.

    Examples
    --------
    >>> probability_of_order(0.6, 0.3)
    0.977
    """
    gap = np.abs(finite("difference", difference))
    spread = not_negative("standard_uncertainty", standard_uncertainty)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        distance = np.where(spread > 0, gap / spread, np.where(gap > 0, np.inf, 0.0))
    return plain(ndtr(distance))
