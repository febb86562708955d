"""Rules for what readings say of each other: a difference, a step."""

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from adapterlab.judgement.words import DOUBT, RESULT, Judgement, judged
from adapterlab.numerics.arguments import Numbers, finite, not_negative, plain


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
    return judged(
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
    return judged(RESULT, "step", probability=value, p_value=1 - value, called=value >= 1 - DOUBT)


def probability_of_order(difference: ArrayLike, standard_uncertainty: ArrayLike) -> Numbers:
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
