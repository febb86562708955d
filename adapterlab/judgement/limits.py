"""Rules for a reading against a published figure."""

from adapterlab.judgement.words import (
    DOUBT,
    FALLS_SHORT,
    MEETS,
    NOT_JUDGED,
    TOO_CLOSE,
    Judgement,
    judged,
)
from adapterlab.numerics.arguments import finite
from adapterlab.uncertainty import conformity_probability


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
        return judged(NOT_JUDGED, "against_limit", reason=reason, probability=probability)
    return judged(
        limit_word(probability),
        "against_limit",
        probability=probability,
        p_value=probability,
        false_alarm=DOUBT if standard_uncertainty > 0 else 0.0,
    )


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
    chance = float(present)
    return judged(MEETS if present else FALLS_SHORT, "required", probability=chance, p_value=chance)
