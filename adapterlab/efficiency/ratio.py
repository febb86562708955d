"""How much of the mains power reaches the device, and what published rules ask for.

Ratios: `efficiency`, `average_active_efficiency` with `average_efficiency_uncertainty`,
`efficiency_spread`. Losses: `fit_loss_curve`. Limits and how a rule measures stand in
`adapterlab.efficiency.rules` and can be had from here too: `minimum_average_efficiency`,
`minimum_ten_percent_efficiency`, `maximum_no_load_power`; `rule_supply`, `nameplate_category`,
`cable_loss`, `derating_factor`, `permitted_power_uncertainty`. A year of use:
`adapterlab.efficiency.use.yearly_use`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from adapterlab.numerics.arguments import (
    Floats,
    Numbers,
    finite,
    fraction,
    not_negative,
    plain,
    positive,
)
from adapterlab.published import rows

_ACTIVE = rows("efficiency", "load_points", name="active")[0]


def efficiency(input_power: ArrayLike, output_power: ArrayLike) -> Numbers:
    """Share of the input power that arrives at the output.

    Parameters
    ----------
    input_power : float or array_like
        Power drawn from the mains. [W]  Must be > 0.
    output_power : float or array_like
        Power given to the load, all ports together. [W]  From 0 to `input_power`.

    Returns
    -------
    float or numpy.ndarray
        Efficiency. [1], broadcast shape

    Raises
    ------
    ValueError
        If a power is out of range, or more comes out than goes in.

    References
    ----------
    Regulation (EU) 2019/1782, Art. 2(16).

    Examples
    --------
    >>> efficiency(2.476, 3.367 * 0.5)
    0.680
    """
    drawn = positive("input_power", input_power)
    given = not_negative("output_power", output_power)
    if np.any(given > drawn):
        raise ValueError(
            f"output_power must not exceed input_power, got {output_power!r} and {input_power!r}"
        )
    return plain(given / drawn)


def average_active_efficiency(
    load_fraction: ArrayLike, efficiency: ArrayLike, *, tolerance: float = 0.02
) -> Numbers:
    """Mean efficiency at 25, 50, 75 and 100 % load.

    Parameters
    ----------
    load_fraction : array_like
        Output current over reference current. [1], shape (n,)
    efficiency : array_like
        Efficiency at these loads. [1], shape (..., n)  Above 0, at most 1.
    tolerance : float, optional
        How far a load may lie from 0.25, 0.5, 0.75 or 1. [1]

    Returns
    -------
    float or numpy.ndarray
        Mean of the four efficiencies, each taken at the nearest load. [1], shape (...)

    Raises
    ------
    ValueError
        If one of the four loads is missing, the shapes do not match, or a number is out of range.

    Notes
    -----
    Other loads may be present and are left out. A mean of efficiencies, not of powers: it weighs
    a quarter load as much as a full one.

    References
    ----------
    Regulation (EU) 2019/1782, Art. 2(17) and Annex II, 2(b) (loads within 2 points); 10 CFR 430
    subpart B, appendix Z, 5(a)(1)(vi) (arithmetic mean).

    Examples
    --------
    >>> average_active_efficiency([1.0, 0.75, 0.5, 0.25, 0.1], [0.86, 0.87, 0.88, 0.85, 0.7])
    0.865
    """
    load = np.atleast_1d(not_negative("load_fraction", load_fraction))
    value = np.atleast_1d(fraction("efficiency", efficiency))
    if load.ndim != 1 or value.shape[-1] != len(load):
        raise ValueError(
            f"efficiency must have one value for each load_fraction, got shapes {value.shape} "
            f"and {load.shape}"
        )
    reach = float(positive("tolerance", tolerance)) + 1e-9
    chosen = []
    for point in _ACTIVE["fractions"]:
        nearest = int(np.argmin(np.abs(load - point))) if load.size else -1
        if nearest < 0 or abs(load[nearest] - point) > reach:
            raise ValueError(
                f"load_fraction must hold {point:g} within {tolerance:g}, got {load_fraction!r}"
            )
        chosen.append(nearest)
    return plain(value[..., chosen].mean(axis=-1))


def average_efficiency_uncertainty(shared: ArrayLike, independent: ArrayLike) -> float:
    r"""Standard uncertainty of a mean over points that the same instruments took.

    Parameters
    ----------
    shared : array_like
        What each instrument's constant error does to each point, with its sign: sensitivity
        times standard uncertainty. [1], shape (instruments, n)
    independent : array_like
        What changes from point to point, such as rounding. [1], shape (n,)  Must be >= 0.

    Returns
    -------
    float
        Standard uncertainty of the mean. [1]

    Raises
    ------
    ValueError
        If a number is not finite or the shapes do not match.

    Notes
    -----
    A wattmeter that reads 0.1 % high does so at all four loads: averaging does not help, so its
    parts add up linearly. Only what is independent shrinks:

    .. math:: u^2 = \sum_m \Big(\frac1n \sum_i c_{mi}\Big)^2 + \frac1{n^2} \sum_i r_i^2

    References
    ----------
    JCGM 100:2008, 5.2.2 (correlated inputs), with correlation 1 within an instrument and 0
    between instruments.

    Examples
    --------
    >>> average_efficiency_uncertainty([[0.001] * 4], [0.001] * 4)
    0.00112
    """
    common, loose = finite("shared", shared), not_negative("independent", independent)
    if loose.ndim != 1 or common.ndim != 2 or common.shape[1] != loose.size or not loose.size:
        raise ValueError(
            f"shared must have the shape (instruments, n) and independent (n,), got "
            f"{common.shape} and {loose.shape}"
        )
    return float(np.sqrt((common.mean(axis=1) ** 2).sum() + (loose**2).sum() / loose.size**2))


@dataclass(frozen=True)
class EfficiencySpread:
    """How far efficiencies lie apart.

    Attributes
    ----------
    lowest, highest : float or numpy.ndarray
        Least and largest value. [1], shape (...)
    range : float or numpy.ndarray
        Highest less lowest. [1], same shape
    mean : float or numpy.ndarray
        Arithmetic mean. [1], same shape
    standard_deviation : float or numpy.ndarray
        Of the sample, with n - 1 in the denominator. [1], same shape
    """

    lowest: Numbers
    highest: Numbers
    range: Numbers
    mean: Numbers
    standard_deviation: Numbers


def efficiency_spread(efficiency: ArrayLike) -> EfficiencySpread:
    """Spread of efficiencies, across loads or across modes.

    Parameters
    ----------
    efficiency : array_like
        At least two efficiencies. [1], shape (..., n)  Above 0, at most 1.

    Returns
    -------
    EfficiencySpread
        Lowest, highest, range, mean and sample standard deviation along the last axis. [1]

    Raises
    ------
    ValueError
        If there are fewer than two values or one is out of range.

    References
    ----------
    JCGM 100:2008, 4.2.2 (experimental standard deviation).

    Examples
    --------
    >>> spread = efficiency_spread([0.85, 0.88, 0.87, 0.86])
    >>> print(f"{spread.range:.3f} {spread.standard_deviation:.4f}")
    0.030 0.0129
    """
    values = np.atleast_1d(fraction("efficiency", efficiency))
    if values.shape[-1] < 2:
        raise ValueError(f"efficiency must hold at least two values, got {efficiency!r}")
    lowest, highest = values.min(axis=-1), values.max(axis=-1)
    return EfficiencySpread(
        plain(lowest),
        plain(highest),
        plain(highest - lowest),
        plain(values.mean(axis=-1)),
        plain(values.std(axis=-1, ddof=1)),
    )


@dataclass(frozen=True)
class LossCurve:
    """Loss = fixed + proportional · output power + quadratic · output power².

    Attributes
    ----------
    fixed : float
        Loss that is there at any load while the converter switches. [W]
    proportional : float
        Loss over output power, as from voltage drops. [1]
    quadratic : float
        Loss over output power squared, as from resistances. [1/W]
    covariance : numpy.ndarray
        Covariance of the three, in this order. [products of their units], shape (3, 3)
    largest_power : float
        Largest output power of the fit; beyond it the curve says nothing. [W]
    """

    fixed: float
    proportional: float
    quadratic: float
    covariance: NDArray[np.float64]
    largest_power: float

    def _terms(self, output_power: ArrayLike) -> Floats:
        power = not_negative("output_power", output_power)
        if np.any(power > self.largest_power * (1 + 1e-9)):
            raise ValueError(
                f"output_power must be at most {self.largest_power:g} W, the largest power of the "
                f"fit, got {output_power!r}"
            )
        return np.stack([np.ones_like(power), power, power**2], axis=-1)

    def loss(self, output_power: ArrayLike) -> Numbers:
        """Loss at an output power.

        Parameters
        ----------
        output_power : float or array_like
            Power given to the load. [W]  From 0 to `largest_power`.

        Returns
        -------
        float or numpy.ndarray
            Loss. [W], shape of `output_power`

        Raises
        ------
        ValueError
            If a power is negative or above `largest_power`.
        """
        terms = self._terms(output_power)
        return plain(terms @ np.array([self.fixed, self.proportional, self.quadratic]))

    def loss_uncertainty(self, output_power: ArrayLike) -> Numbers:
        """Standard uncertainty of `loss`, from the covariance. [W]; arguments as there."""
        terms = self._terms(output_power)
        return plain(np.sqrt(np.einsum("...i,ij,...j", terms, self.covariance, terms)))

    def efficiency(self, output_power: ArrayLike) -> Numbers:
        """Efficiency at an output power.

        Parameters
        ----------
        output_power : float or array_like
            Power given to the load. [W]  From 0 to `largest_power`.

        Returns
        -------
        float or numpy.ndarray
            Output over output and loss. [1], shape of `output_power`

        Raises
        ------
        ValueError
            If a power is out of range, or the curve gives no input power above zero there.
        """
        drawn = np.asarray(self.loss(output_power)) + np.asarray(output_power, dtype=float)
        if np.any(drawn <= 0):
            raise ValueError(
                f"output_power must be where the curve's input power is above 0, "
                f"got {output_power!r}"
            )
        return plain(np.asarray(output_power, dtype=float) / drawn)


def fit_loss_curve(
    output_power: ArrayLike,
    loss_power: ArrayLike,
    *,
    loss_uncertainty: ArrayLike | None = None,
    shared_uncertainty: ArrayLike | None = None,
) -> LossCurve:
    r"""Loss curve with a fixed, a proportional and a quadratic term.

    Parameters
    ----------
    output_power : array_like
        Power given to the load. [W], shape (n,)  At least four points, three of them different.
    loss_power : array_like
        Input less output power. [W], shape (n,)
    loss_uncertainty : float or array_like, optional
        Standard uncertainty of each loss that is independent of the others. [W], shape (n,)
        Points weigh as its inverse square. Without it all weigh the same.
    shared_uncertainty : array_like, optional
        What each instrument's constant error does to each loss, with its sign. [W], shape
        (instruments, n)  Widens the covariance, leaves the weights alone.

    Returns
    -------
    LossCurve
        The three coefficients with their covariance, and the curve.

    Raises
    ------
    ValueError
        If there are too few points, the shapes do not match, or a number is out of range.

    Notes
    -----
    Linear least squares. The scatter about the curve is estimated from the residuals with n - 3
    degrees of freedom; where `loss_uncertainty` is given, the covariance is widened by the
    residuals but never narrowed. A constant error of an instrument shifts the coefficients by
    the pseudo-inverse times that error, which leaves no trace in the residuals:

    .. math:: \Sigma = \max(1, \chi^2_\nu)\,(A^T W A)^{-1} + \sum_m (H c_m)(H c_m)^T,
              \quad H = (A^T W A)^{-1} A^T W

    References
    ----------
    The three-term form: A. P. Dobos, PVWatts Version 5 Manual, NREL/TP-6A20-62641 (2014), for
    inverters. Least squares with known weights: JCGM 100:2008, H.3, and common practice.

    Examples
    --------
    >>> curve = fit_loss_curve([2, 5, 10, 20], [0.604, 0.775, 1.1, 1.9])
    >>> print(f"{curve.fixed:.3f} W, {curve.proportional:.3f}, {curve.quadratic:.4f} /W")
    0.500 W, 0.050, 0.0010 /W
    """
    power = np.atleast_1d(not_negative("output_power", output_power))
    loss = np.atleast_1d(finite("loss_power", loss_power))
    if power.ndim != 1 or loss.shape != power.shape:
        raise ValueError(
            f"loss_power must have the shape of output_power, (n,), got {loss.shape} and "
            f"{power.shape}"
        )
    if power.size < 4 or np.unique(power).size < 3:
        raise ValueError(
            f"output_power must hold at least four points, three of them different, "
            f"got {output_power!r}"
        )
    weight = np.ones_like(power)
    if loss_uncertainty is not None:
        weight = 1 / np.broadcast_to(positive("loss_uncertainty", loss_uncertainty), power.shape)
    scale = power.max() ** np.arange(3)
    design = np.stack([np.ones_like(power), power, power**2], axis=1) / scale
    inverse = np.linalg.pinv(design * weight[:, None]) / scale[:, None]
    values = inverse @ (loss * weight)
    residuals = (loss - design * scale @ values) * weight
    scatter = float(residuals @ residuals) / (power.size - 3)
    covariance = inverse @ inverse.T * (scatter if loss_uncertainty is None else max(scatter, 1.0))
    if shared_uncertainty is not None:
        common = np.atleast_2d(finite("shared_uncertainty", shared_uncertainty))
        if common.shape[1] != power.size:
            raise ValueError(
                f"shared_uncertainty must have the shape (instruments, {power.size}), "
                f"got {common.shape}"
            )
        shifts = inverse @ (common * weight).T
        covariance = covariance + shifts @ shifts.T
    fixed, proportional, quadratic = (float(value) for value in values)
    return LossCurve(fixed, proportional, quadratic, covariance, float(power.max()))
