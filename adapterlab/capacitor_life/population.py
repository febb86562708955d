"""From one capacitor to many, and from many parts to one adapter.

Spread of a population: `weibull_failing_share`, `weibull_time`, `characteristic_life`. Systems:
`series_reliability`, `parallel_reliability`, `first_failure_probability`. Failures at random:
`failures_in_time`, `mean_life_bounds`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from adapterlab.numerics.arguments import (
    Floats,
    Numbers,
    fraction,
    not_negative,
    one_of,
    plain,
    positive,
)


def _share(name: str, value: ArrayLike) -> Floats:
    share = fraction(name, value)
    if np.any(share >= 1):
        raise ValueError(f"{name} must be above 0 and below 1, got {value!r}")
    return share


def weibull_failing_share(
    time: ArrayLike, characteristic_life: ArrayLike, shape_parameter: ArrayLike
) -> Numbers:
    r"""Share of a population that has failed by a time.

    Parameters
    ----------
    time : float or array_like
        [any unit of time]  Must be >= 0.
    characteristic_life : float or array_like
        Time at which 63.2 % have failed. [unit of time]  Must be > 0.
    shape_parameter : float or array_like
        [1]  Must be > 0: below 1 early failures, 1 random ones, above 1 wearing out.

    Returns
    -------
    float or numpy.ndarray
        Failed share. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: F = 1 - e^{-(t/\eta)^\beta}

    References
    ----------
    Altair Activate 2021 reference, wblinv (the inverse).

    Examples
    --------
    >>> weibull_failing_share(1.8586, 2, 5)
    0.500
    """
    age = not_negative("time", time) / positive("characteristic_life", characteristic_life)
    with np.errstate(over="ignore"):
        return plain(-np.expm1(-(age ** positive("shape_parameter", shape_parameter))))


def weibull_time(
    failing_share: ArrayLike, characteristic_life: ArrayLike, shape_parameter: ArrayLike
) -> Numbers:
    r"""Time by which a share of a population has failed.

    Parameters
    ----------
    failing_share : float or array_like
        [1]  Above 0, below 1.
    characteristic_life : float or array_like
        Time at which 63.2 % have failed. [any unit of time]  Must be > 0.
    shape_parameter : float or array_like
        [1]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Time. [unit of characteristic_life], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: t = \eta\,[-\ln(1 - F)]^{1/\beta}

    References
    ----------
    Altair Activate 2021 reference, wblinv.

    Examples
    --------
    >>> weibull_time(0.5, 200, 6)
    188.1486
    """
    scale = positive("characteristic_life", characteristic_life)
    logarithm = -np.log1p(-_share("failing_share", failing_share))
    return plain(scale * logarithm ** (1 / positive("shape_parameter", shape_parameter)))


def characteristic_life(
    life: ArrayLike, failing_share: ArrayLike, shape_parameter: ArrayLike
) -> Numbers:
    r"""Characteristic life of a population of which a share has failed at the stated life.

    Parameters
    ----------
    life : float or array_like
        Stated life. [any unit of time]  Must be > 0.
    failing_share : float or array_like
        Share that has failed by then: 0.01 if the maker promises at most 1 %, 0.5 if the life is
        a median. [1]  Above 0, below 1.
    shape_parameter : float or array_like
        [1]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Characteristic life. [unit of life], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: \eta = L\,[-\ln(1 - F)]^{-1/\beta}

    References
    ----------
    Altair Activate 2021 reference, wblinv, solved for the scale. Vishay 048 RML data sheet
    28318, p. 145 (at most 1 % at the end of the useful life).

    Examples
    --------
    >>> characteristic_life(10, 0.01, 4)
    31.6
    """
    unit = weibull_time(failing_share, 1.0, shape_parameter)
    return plain(positive("life", life) / np.asarray(unit))


def _reliability(value: ArrayLike) -> Floats:
    share = not_negative("reliability", value)
    if share.ndim == 0 or np.any(share > 1):
        raise ValueError(
            f"reliability must be a list of shares from 0 to 1, one for each part, got {value!r}"
        )
    return share


def series_reliability(reliability: ArrayLike) -> Numbers:
    r"""Share of systems that work, where every part is needed.

    Parameters
    ----------
    reliability : array_like
        Share of each part that works. [1], shape (..., parts)  From 0 to 1.

    Returns
    -------
    float or numpy.ndarray
        Share of systems that work. [1], shape without the last axis

    Raises
    ------
    ValueError
        If a share is out of range or there is no list.

    Notes
    -----
    .. math:: R = \prod_i R_i

    for parts that fail independently. Parts that share a hot case do not quite.

    References
    ----------
    Miller & Freund's Probability and Statistics for Engineers, 8th ed. (2011), ch. 16, p. 488.

    Examples
    --------
    >>> series_reliability([0.97] * 5)
    0.859
    """
    return plain(_reliability(reliability).prod(axis=-1))


def parallel_reliability(reliability: ArrayLike) -> Numbers:
    r"""Share of systems that work, where one part of several is enough.

    Parameters
    ----------
    reliability : array_like
        Share of each part that works. [1], shape (..., parts)  From 0 to 1.

    Returns
    -------
    float or numpy.ndarray
        Share of systems that work. [1], shape without the last axis

    Raises
    ------
    ValueError
        If a share is out of range or there is no list.

    Notes
    -----
    .. math:: R = 1 - \prod_i (1 - R_i)

    Capacitors side by side seldom count: the ripple of one lands on the others.

    References
    ----------
    Miller & Freund, 8th ed. (2011), ch. 16, p. 489.

    Examples
    --------
    >>> parallel_reliability([0.7, 0.7, 0.7])
    0.973
    """
    return plain(1 - (1 - _reliability(reliability)).prod(axis=-1))


def first_failure_probability(characteristic_life: ArrayLike, shape_parameter: ArrayLike) -> Floats:
    r"""How likely each part of a series system is the one that fails first.

    Parameters
    ----------
    characteristic_life : array_like
        Of each part. [any unit of time], shape (..., parts)  Must be > 0.
    shape_parameter : float or array_like
        Common to all parts. [1], shape (...)  Must be > 0.

    Returns
    -------
    numpy.ndarray
        Probability of each part; adds up to 1 along the last axis. [1], shape (..., parts)

    Raises
    ------
    ValueError
        If an argument is out of range or there is no list.

    Notes
    -----
    .. math:: p_i = \frac{\eta_i^{-\beta}}{\sum_j \eta_j^{-\beta}}

    With one shape for all, the hazards keep their ratio for ever.

    References
    ----------
    Derived from the hazard of a series system; held against a simulation in the tests.

    Examples
    --------
    >>> first_failure_probability([10, 20], 1)
    array([0.667, 0.333])
    """
    scale = positive("characteristic_life", characteristic_life)
    if scale.ndim == 0:
        raise ValueError(
            f"characteristic_life must be a list, one for each part, got {characteristic_life!r}"
        )
    shape = positive("shape_parameter", shape_parameter)[..., np.newaxis]
    # Relative to the shortest, so that no power overflows.
    hazard = (scale.min(axis=-1, keepdims=True) / scale) ** shape
    return np.asarray(hazard / hazard.sum(axis=-1, keepdims=True))


def failures_in_time(failures: ArrayLike, components: ArrayLike, hours: ArrayLike) -> Numbers:
    r"""Failures for each thousand million hours of operation, FIT.

    Parameters
    ----------
    failures : float or array_like
        Failures counted. [1]  Must be >= 0.
    components : float or array_like
        Parts watched. [1]  Must be > 0.
    hours : float or array_like
        How long each was watched. [h]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Failure rate. [1e-9/h], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: \lambda = 10^9\, n / (N t)

    A rate is the same at every age: it says nothing of wearing out.

    References
    ----------
    AMD/Xilinx UG116, Device reliability report, 'Failure rate determination'.

    Examples
    --------
    >>> failures_in_time(5, 1e6, 1000)
    5.0
    """
    watched = positive("components", components) * positive("hours", hours)
    return plain(1e9 * not_negative("failures", failures) / watched)


@dataclass(frozen=True)
class MeanLifeBounds:
    """Where the mean life of randomly failing parts lies.

    Attributes
    ----------
    lower : float
        Lower bound. [unit of total_time]
    upper : float or None
        Upper bound; None if nothing has failed. [unit of total_time]
    """

    lower: float
    upper: float | None


def mean_life_bounds(
    total_time: float,
    failures: int,
    confidence: float,
    *,
    truncated_by: str = "time",
    sides: int = 2,
) -> MeanLifeBounds:
    r"""Bounds of the mean life from a count of failures.

    Parameters
    ----------
    total_time : float
        Running time of all parts together, failed or not. [any unit of time]  Must be > 0.
    failures : int
        Failures counted. Must be >= 0, and >= 1 if the test ended at a failure.
    confidence : float
        [1]  Above 0, below 1.
    truncated_by : str, optional
        What ended the watch: ``time`` or ``failure``.
    sides : int, optional
        2 for an interval, 1 for a bound on one side.

    Returns
    -------
    MeanLifeBounds
        Bounds. [unit of total_time]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: \frac{2T}{\chi^2_{1-\alpha,\,2n+2}} \quad\text{to}\quad
              \frac{2T}{\chi^2_{\alpha,\,2n}}

    with alpha the confidence left out on each side; 2n in both where a failure ended the test.
    For failures at random only: three wet capacitors that dried out are not such.

    References
    ----------
    Miller & Freund, 8th ed. (2011), ch. 16, p. 495 (ended by a failure); documentation of the
    Python package reliability 0.9, 'Reliability test planner' (ended by time).

    Examples
    --------
    >>> bounds = mean_life_bounds(43410, 10, 0.9, truncated_by="failure")
    >>> print(f"{bounds.lower:.0f} h to {bounds.upper:.0f} h")
    2764 h to 8001 h
    """
    one_of("truncated_by", truncated_by, ("time", "failure"))
    if sides not in (1, 2):
        raise ValueError(f"sides must be 1 or 2, got {sides!r}")
    ended = truncated_by == "failure"
    if failures < ended or failures != int(failures):
        raise ValueError(f"failures must be a whole number >= {int(ended)}, got {failures!r}")
    outside = (1 - float(_share("confidence", confidence))) / sides
    twice = 2 * float(positive("total_time", total_time))
    lower = twice / stats.chi2.ppf(1 - outside, 2 * failures + (0 if ended else 2))
    upper = twice / stats.chi2.ppf(outside, 2 * failures) if failures else None
    return MeanLifeBounds(float(lower), None if upper is None else float(upper))
