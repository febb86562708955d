"""The two judgements of the kit, and the words for them.

Against a published limit: `limit_word`. Against what the parts predict: `prediction_word`,
with `disagreement` as the figure behind it. `WORDS` lists every word that may be said.
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from adapterlab.numerics.arguments import finite, not_negative, plain

MEETS, FALLS_SHORT, TOO_CLOSE = "meets", "falls short", "too close to call"
NO_LIMIT, NOT_MEASURED = "no limit applies", "not measured"
EXPLAINED, UNEXPLAINED = "explained", "unexplained"

# Most telling first: the order in which a reader should see them.
WORDS = (UNEXPLAINED, FALLS_SHORT, TOO_CLOSE, MEETS, EXPLAINED, NO_LIMIT, NOT_MEASURED)

_DOUBT = 0.025


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
    if value >= 1 - _DOUBT:
        return MEETS
    return FALLS_SHORT if value <= _DOUBT else TOO_CLOSE


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


def prediction_word(
    reading: float,
    reading_uncertainty: float,
    prediction: float,
    prediction_uncertainty: float,
) -> str:
    """Word for a reading against what the parts predict.

    Parameters
    ----------
    reading, prediction : float
        The two values. [any one unit]
    reading_uncertainty, prediction_uncertainty : float
        Their standard uncertainties. [same unit]  Must be >= 0, not both 0.

    Returns
    -------
    str
        ``unexplained`` if they differ by more than two combined standard uncertainties, else
        ``explained``.

    Raises
    ------
    ValueError
        As `disagreement`.

    References
    ----------
    JCGM 100:2008, 6.2.1 and G.1.3 (coverage factor 2 for about 95 %).

    Examples
    --------
    >>> prediction_word(130e-6, 2e-6, 100e-6, 6e-6)
    'unexplained'
    """
    distance = disagreement(reading, reading_uncertainty, prediction, prediction_uncertainty)
    return UNEXPLAINED if abs(distance) > 2 else EXPLAINED


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
