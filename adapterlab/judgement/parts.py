"""Rules for a reading against what the parts predict."""

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from adapterlab.judgement.words import (
    DOUBT,
    EXPLAINED,
    FACTOR,
    NOT_JUDGED,
    UNEXPLAINED,
    Judgement,
    judged,
)
from adapterlab.numerics.arguments import Numbers, finite, not_negative, plain


def disagreement(
    reading: ArrayLike,
    reading_uncertainty: ArrayLike,
    prediction: ArrayLike,
    prediction_uncertainty: ArrayLike,
) -> Numbers:
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
        Why no verdict may rest on the comparison; empty if one may.

    Returns
    -------
    Judgement
        *unexplained* only where the 95 % interval of the reading misses the reach; *explained*
        otherwise, `Judgement.only_at_the_ends` where it misses the interval; *not judged* with its
        reason.

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
    half = FACTOR * spread
    if reason:
        return judged(NOT_JUDGED, "against_prediction", reason=reason)
    return judged(
        UNEXPLAINED if gap > half else EXPLAINED,
        "against_prediction",
        p_value=_chance(gap + FACTOR * rest, float(np.hypot(spread, rest))),
        false_alarm=2 * DOUBT,
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
    return judged(EXPLAINED if matches else UNEXPLAINED, "agrees", p_value=float(matches))


def within(probability: float, reason: str = "") -> Judgement:
    """Rule for a part inferred from a reading against its own marked tolerance.

    Parameters
    ----------
    probability : float
        Probability that the true value lies within the tolerance. [1]  From 0 to 1.
    reason : str, optional
        Why no verdict may rest on the reading; empty if one may.

    Returns
    -------
    Judgement
        *unexplained* below 0.025, else *explained*; *not judged* with its reason.

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
    if reason:
        return judged(NOT_JUDGED, "within", reason=reason, probability=value)
    word = EXPLAINED if value >= DOUBT else UNEXPLAINED
    chance = min(1.0, 2 * value)
    return judged(word, "within", probability=value, p_value=chance, false_alarm=2 * DOUBT)
