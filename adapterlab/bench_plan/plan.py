"""What a bench must be able to read, and how small a difference it can tell.

Which points are to be taken, and with which meters, is decided in ``assess/bench_plan.py``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import (
    Numbers,
    finite,
    fraction,
    not_negative,
    one_of,
    plain,
    positive,
)
from adapterlab.published import rows
from adapterlab.uncertainty import coverage_factor

_STEADINESS = {row["outputs"]: row for row in rows("bench_plan", "steadiness")}
_POWER_FACTOR, _CREST_FACTOR = (
    float(rows("allowances", "allowances", name=f"mains.{name}")[0]["low"])
    for name in ("power_factor", "crest_factor")
)


@dataclass(frozen=True)
class ExpectedInput:
    """What the meter at the mains will show.

    Attributes
    ----------
    power : float or numpy.ndarray
        Real power. [W], broadcast shape
    current_rms : float or numpy.ndarray
        Rms current. [A], broadcast shape
    current_peak : float or numpy.ndarray
        Peak current, which must not overload the meter's range. [A], broadcast shape
    """

    power: Numbers
    current_rms: Numbers
    current_peak: Numbers


def expected_input(
    output_power: ArrayLike,
    efficiency: ArrayLike,
    mains_voltage: ArrayLike,
    power_factor: ArrayLike = _POWER_FACTOR,
    crest_factor: ArrayLike = _CREST_FACTOR,
) -> ExpectedInput:
    r"""Input power and current to expect at a load point.

    Parameters
    ----------
    output_power : float or array_like
        Power at the output. [W]  Must be >= 0.
    efficiency : float or array_like
        Efficiency expected. [1]  Above 0 and at most 1.
    mains_voltage : float or array_like
        Rms voltage of the mains. [V]  Must be > 0.
    power_factor : float or array_like, optional
        Real over apparent power. [1]  Above 0 and at most 1.
    crest_factor : float or array_like, optional
        Peak over rms of the mains current. [1]  Must be >= 1.

    Returns
    -------
    ExpectedInput
        Power and currents. [W], [A]

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    .. math:: P = P_{out}/\eta, \quad I = P/(V \lambda), \quad \hat I = k I

    The defaults are those of a small adapter without power-factor correction.

    References
    ----------
    Definitions: IEEE Std 1459-2010, 3.1. Defaults: ``published/allowances.toml``, common practice.

    Examples
    --------
    >>> expected = expected_input(60, 0.9, 230)
    >>> print(f"{expected.power:.1f} W, {expected.current_rms:.2f} A")
    66.7 W, 0.58 A
    """
    delivered = not_negative("output_power", output_power)
    crest = finite("crest_factor", crest_factor)
    if np.any(crest < 1):
        raise ValueError(f"crest_factor must be at least 1, got {crest_factor!r}")
    power = delivered / fraction("efficiency", efficiency)
    apparent = power / fraction("power_factor", power_factor)
    current = apparent / positive("mains_voltage", mains_voltage)
    return ExpectedInput(plain(power), plain(current), plain(current * crest))


def input_drift(time: ArrayLike, power: ArrayLike, span: float = 300.0) -> float:
    r"""Drift of the input power over the last minutes of a record.

    Parameters
    ----------
    time : array_like
        Times of the readings, rising. [s], shape (n,)
    power : array_like
        Input power. [W], shape (n,)  Must be > 0.
    span : float, optional
        Length of the window that ends with the last reading. [s]  Must be > 0.

    Returns
    -------
    float
        Largest less smallest power in the window over the largest. [1]

    Raises
    ------
    ValueError
        If times do not rise, shapes differ, or the record is shorter than the window.

    Notes
    -----
    .. math:: (P_{max} - P_{min})/P_{max}

    References
    ----------
    10 CFR 430 subpart B, appendix Z (87 FR 51221), 5(a)(1)(ii).

    Examples
    --------
    >>> input_drift([0, 150, 300], [30.0, 29.1, 28.6])
    0.0467
    """
    when, drawn = finite("time", time), positive("power", power)
    if when.ndim != 1 or when.shape != drawn.shape or when.size < 2:
        raise ValueError(
            f"time and power must be two equal rows of at least 2 readings, got shapes "
            f"{when.shape} and {drawn.shape}"
        )
    if np.any(np.diff(when) <= 0):
        raise ValueError("time must rise from reading to reading")
    width = float(positive("span", span))
    if when[-1] - when[0] < width * (1 - 1e-9):
        raise ValueError(f"time must cover at least {width:g} s, got {when[-1] - when[0]:g} s")
    window = drawn[when >= when[-1] - width * (1 + 1e-9)]
    return float((window.max() - window.min()) / window.max())


def is_steady(time: ArrayLike, power: ArrayLike, outputs: str = "one") -> bool:
    """Whether an adapter has settled enough for a reading.

    Parameters
    ----------
    time : array_like
        Times of the readings, rising. [s], shape (n,)
    power : array_like
        Input power. [W], shape (n,)  Must be > 0.
    outputs : str, optional
        ``one`` output voltage at a time, or ``several`` at once.

    Returns
    -------
    bool
        True if the drift over the last five minutes is within the published bound.

    Raises
    ------
    ValueError
        As `input_drift`, or if `outputs` is another word.

    References
    ----------
    10 CFR 430 subpart B, appendix Z (87 FR 51221), 5(a)(1)(ii) and 5(b).

    Examples
    --------
    >>> is_steady([0, 150, 300], [30.0, 29.1, 28.6]), is_steady([0, 300], [30.0, 29.1], "several")
    (True, False)
    """
    bound = _STEADINESS[one_of("outputs", outputs, _STEADINESS)]
    return input_drift(time, power, bound["span"]) <= bound["drift"]


def ratio_uncertainty(
    numerator: ArrayLike,
    numerator_uncertainty: ArrayLike,
    denominator: ArrayLike,
    denominator_uncertainty: ArrayLike,
    correlation: ArrayLike = 0.0,
) -> Numbers:
    r"""Standard uncertainty of a ratio of two readings.

    Parameters
    ----------
    numerator, denominator : float or array_like
        The readings. [any unit], shapes broadcast.  The denominator must be > 0.
    numerator_uncertainty, denominator_uncertainty : float or array_like
        Their standard uncertainties. [same unit]  Must be >= 0.
    correlation : float or array_like, optional
        Correlation of their errors. [1]  From -1 to 1.

    Returns
    -------
    float or numpy.ndarray
        Standard uncertainty of numerator over denominator. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    .. math:: u^2(a/b) = \frac{u_a^2 + (a/b)^2 u_b^2 - 2 r (a/b) u_a u_b}{b^2}

    To first order in the uncertainties. Errors of one meter in both readings have r near 1 and
    cancel.

    References
    ----------
    JCGM 100:2008, 5.2.2, equation (16).

    Examples
    --------
    >>> ratio_uncertainty(54, 0.1, 60, 0.1)
    0.00224
    """
    top, bottom = finite("numerator", numerator), positive("denominator", denominator)
    above = not_negative("numerator_uncertainty", numerator_uncertainty)
    below = not_negative("denominator_uncertainty", denominator_uncertainty)
    together = _correlation(correlation)
    ratio = top / bottom
    variance = above**2 + (ratio * below) ** 2 - 2 * together * ratio * above * below
    return plain(np.sqrt(np.maximum(variance, 0.0)) / bottom)


def _correlation(correlation: ArrayLike) -> Numbers:
    value = finite("correlation", correlation)
    if np.any(np.abs(value) > 1):
        raise ValueError(f"correlation must lie in [-1, 1], got {correlation!r}")
    return value


def smallest_difference(
    first_uncertainty: ArrayLike,
    second_uncertainty: ArrayLike,
    correlation: ArrayLike = 0.0,
    coverage: float = 0.95,
) -> Numbers:
    r"""Smallest difference of two results that a bench can tell from none.

    Parameters
    ----------
    first_uncertainty, second_uncertainty : float or array_like
        Standard uncertainties of the two results. [any one unit]  Must be >= 0.
    correlation : float or array_like, optional
        Correlation of their errors: near 1 where the same meters took both. [1]  From -1 to 1.
    coverage : float, optional
        Probability with which no difference stays below it. [1]

    Returns
    -------
    float or numpy.ndarray
        Difference. [same unit], broadcast shape

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Notes
    -----
    .. math:: \Delta = k\sqrt{u_1^2 + u_2^2 - 2 r u_1 u_2}

    References
    ----------
    JCGM 100:2008, 5.2.2, equation (16), for the difference of two quantities; k as in its 6.2.

    Examples
    --------
    >>> print(smallest_difference(0.003, 0.003), smallest_difference(0.003, 0.003, 0.9))
    0.00832 0.00263
    """
    first = not_negative("first_uncertainty", first_uncertainty)
    second = not_negative("second_uncertainty", second_uncertainty)
    variance = first**2 + second**2 - 2 * _correlation(correlation) * first * second
    return plain(coverage_factor(coverage) * np.sqrt(np.maximum(variance, 0.0)))


def coarsest_resolution(standard_uncertainty: ArrayLike) -> Numbers:
    r"""Display step whose rounding alone makes up a standard uncertainty.

    Parameters
    ----------
    standard_uncertainty : float or array_like
        Standard uncertainty that rounding may bring. [any unit]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Step of the last digit. [same unit], same shape

    Raises
    ------
    ValueError
        If the uncertainty is not above zero.

    Notes
    -----
    .. math:: \delta = \sqrt{12}\,u

    References
    ----------
    JCGM 100:2008, F.2.2.1 (u = 0.29 of the step).

    Examples
    --------
    >>> coarsest_resolution(0.29)
    1.00
    """
    return plain(np.sqrt(12) * positive("standard_uncertainty", standard_uncertainty))
