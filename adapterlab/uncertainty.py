"""Uncertainty of readings and of what is computed from them.

Instruments: `reading_uncertainty`. A number with its uncertainty: `Estimate`. Propagation of
distributions: `propagate`, which returns a `Propagated`. Decision against a limit:
`conformity_probability`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from adapterlab.numerics.arguments import Floats, Numbers, finite, fraction, not_negative, plain


@dataclass(frozen=True)
class Estimate:
    """A number and how well it is known.

    Attributes
    ----------
    value : float
        Best estimate. [any unit]
    standard_uncertainty : float
        Its standard uncertainty; 0 where it is taken as exact. [same unit]  Must be >= 0.
    """

    value: float
    standard_uncertainty: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no estimate."""
        finite("value", self.value)
        not_negative("standard_uncertainty", self.standard_uncertainty)

    @property
    def relative(self) -> float:
        """Standard uncertainty over the value. [1]."""
        return self.standard_uncertainty / abs(self.value)


def reading_uncertainty(
    reading: ArrayLike,
    fraction_of_reading: ArrayLike,
    fraction_of_full_scale: ArrayLike,
    full_scale: ArrayLike,
    resolution: ArrayLike = 0,
) -> Numbers:
    r"""Standard uncertainty of an instrument's reading from its accuracy limits.

    Parameters
    ----------
    reading : float or array_like
        Indicated value. [any unit], shape (...)
    fraction_of_reading : float or array_like
        Accuracy limit as a fraction of the reading. [1]  Must be >= 0.
    fraction_of_full_scale : float or array_like
        Accuracy limit as a fraction of full scale. [1]  Must be >= 0.
    full_scale : float or array_like
        Full scale of the range in use. [unit of reading]  Must be >= 0.
    resolution : float or array_like, optional
        Least step of the display. [unit of reading]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Standard uncertainty. [unit of reading], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not finite or, all but the reading, negative.

    Notes
    -----
    The limits of reading and full scale add up to the half-width of one rectangular
    distribution; rounding to the resolution is another, of half a step:

    .. math:: u^2 = \frac{(f_r |x| + f_s X)^2}{3} + \frac{r^2}{12}

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.7 (rectangular limits, fraction of reading plus fraction of range)
    and F.2.2.1 (resolution of a digital indication).

    Examples
    --------
    A voltmeter of 14 ppm of reading plus 2 ppm of a 1 V range reads 0.928571 V:

    >>> reading_uncertainty(0.928571, 14e-6, 2e-6, 1.0) * 1e6
    8.7
    """
    half_width = not_negative("fraction_of_reading", fraction_of_reading) * np.abs(
        finite("reading", reading)
    ) + not_negative("fraction_of_full_scale", fraction_of_full_scale) * not_negative(
        "full_scale", full_scale
    )
    step = not_negative("resolution", resolution)
    return plain(np.sqrt(half_width**2 / 3 + step**2 / 12))


def conformity_probability(
    value: ArrayLike,
    standard_uncertainty: ArrayLike,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
) -> Numbers:
    r"""Probability that the true value lies within its limits.

    Parameters
    ----------
    value : float or array_like
        Best estimate. [any unit], shape (...)
    standard_uncertainty : float or array_like
        Its standard uncertainty. [unit of value]  Must be >= 0.
    lower : float or array_like, optional
        Lower limit. [unit of value]  At least one limit must be given.
    upper : float or array_like, optional
        Upper limit. [unit of value]  Not below `lower`.

    Returns
    -------
    float or numpy.ndarray
        Probability from 0 to 1. [1], broadcast shape

    Raises
    ------
    ValueError
        If no limit is given, the upper one is below the lower one, an argument is not finite,
        or the uncertainty is negative.

    Notes
    -----
    Normal distribution about the estimate, no knowledge beforehand:

    .. math:: p = \Phi\left(\frac{T_U - y}{u}\right) - \Phi\left(\frac{T_L - y}{u}\right)

    Without uncertainty the probability is 1 on and within the limits and 0 outside.

    References
    ----------
    JCGM 106:2012, 7.2 to 7.4.

    Examples
    --------
    >>> conformity_probability(0.95, 0.025, upper=1.0)
    0.977
    """
    estimate = finite("value", value)
    spread = not_negative("standard_uncertainty", standard_uncertainty)
    if lower is None and upper is None:
        raise ValueError("lower and upper are both missing: give at least one limit")
    low = finite("lower", lower) if lower is not None else np.asarray(-np.inf)
    high = finite("upper", upper) if upper is not None else np.asarray(np.inf)
    if np.any(high < low):
        raise ValueError(f"upper must not be below lower, got {upper!r} and {lower!r}")
    exact = np.asarray((estimate >= low) & (estimate <= high), dtype=float)
    scale = np.where(spread > 0, spread, 1.0)
    chance = stats.norm.cdf((high - estimate) / scale) - stats.norm.cdf((low - estimate) / scale)
    return plain(np.where(spread > 0, chance, exact))


class Distribution(Protocol):
    """What `propagate` asks of an uncertain input; frozen distributions of scipy.stats have it."""

    def ppf(self, q: Floats) -> Floats:
        """Value below which a share `q` lies."""
        ...

    def mean(self) -> float:
        """Mean."""
        ...


@dataclass(frozen=True)
class Propagated:
    """What `propagate` found: for one output plain numbers, for several one entry each.

    Attributes
    ----------
    mean : float or numpy.ndarray
        Mean of each output. [unit of output], shape () or (outputs,)
    standard_uncertainty : float or numpy.ndarray
        Standard deviation of each output. [unit of output], shape () or (outputs,)
    correlation : numpy.ndarray
        Correlation of the outputs with each other. [1], shape (outputs, outputs)
    contribution : dict of str to float or numpy.ndarray
        Standard uncertainty that each input alone causes, the others held at their means
        (JCGM 101:2008, annex B). [unit of output], shape () or (outputs,)
    samples : numpy.ndarray
        The output values drawn. [unit of output], shape (outputs, draws)
    """

    mean: Numbers
    standard_uncertainty: Numbers
    correlation: Floats
    contribution: dict[str, Numbers]
    samples: Floats

    def interval(
        self, coverage: float = 0.95, *, shortest: bool = False
    ) -> tuple[Numbers, Numbers]:
        """Coverage interval of each output.

        Parameters
        ----------
        coverage : float, optional
            Probability that the interval holds the value. [1]  Above 0, below 1.
        shortest : bool, optional
            Take the shortest interval instead of the one with equal tails.

        Returns
        -------
        tuple of float or numpy.ndarray
            Lower and upper end. [unit of output], each of shape () or (outputs,)

        Raises
        ------
        ValueError
            If the coverage is not between 0 and 1.

        References
        ----------
        JCGM 101:2008, 7.7.
        """
        if not 0 < coverage < 1:
            raise ValueError(f"coverage must be above 0 and below 1, got {coverage!r}")
        if not shortest:
            low, high = np.quantile(self.samples, [(1 - coverage) / 2, (1 + coverage) / 2], axis=1)
        else:
            ordered = np.sort(self.samples, axis=1)
            span = int(np.ceil(coverage * ordered.shape[1]))
            widths = ordered[:, span - 1 :] - ordered[:, : ordered.shape[1] - span + 1]
            start = np.argmin(widths, axis=1)
            rows = np.arange(len(ordered))
            low, high = ordered[rows, start], ordered[rows, start + span - 1]
        if np.ndim(self.mean) == 0:
            return float(low[0]), float(high[0])
        return low, high


def _correlation_matrix(
    names: list[str], correlation: Mapping[tuple[str, str], float] | None
) -> Floats | None:
    if not correlation:
        return None
    matrix = np.eye(len(names))
    for (first, second), value in correlation.items():
        for name in (first, second):
            if name not in names:
                raise ValueError(
                    f"correlation names {name!r}, which is not an uncertain input; "
                    f"those are {', '.join(names)}"
                )
        if first == second or not -1 <= value <= 1:
            raise ValueError(
                f"correlation of {first!r} and {second!r} must join two inputs and lie in "
                f"[-1, 1], got {value!r}"
            )
        row, column = names.index(first), names.index(second)
        matrix[row, column] = matrix[column, row] = value
    if np.linalg.eigvalsh(matrix).min() < -1e-10:
        raise ValueError(
            f"correlation is impossible: no inputs can be correlated like {correlation!r}"
        )
    return matrix


def _as_rows(result: object, draws: int) -> tuple[Floats, bool]:
    """Output of the function as (outputs, draws), and whether it is one output only."""
    if isinstance(result, Mapping):
        result = list(result.values())
    if isinstance(result, np.ndarray) and result.ndim == 2:
        result = list(result)
    several = isinstance(result, tuple | list)
    parts = result if isinstance(result, tuple | list) else [result]
    rows = np.array([np.broadcast_to(np.asarray(part, dtype=float), (draws,)) for part in parts])
    if not np.isfinite(rows).all():
        raise ValueError(
            "function gave values that are not finite for some of the inputs drawn; "
            "narrow the distributions to where it is valid"
        )
    return rows, not several


def propagate(  # type: ignore[explicit-any]  # inputs go by keyword, under names of the caller's
    function: Callable[..., object],
    inputs: Mapping[str, float | Distribution],
    draws: int = 8192,
    seed: int = 20190117,
    correlation: Mapping[tuple[str, str], float] | None = None,
) -> Propagated:
    """Distribution of a function of uncertain inputs.

    Parameters
    ----------
    function : callable
        Takes the inputs by keyword as arrays of shape (draws,) and returns one array, or
        several as tuple, list, mapping or array of shape (outputs, draws).
    inputs : mapping of str to float or scipy.stats distribution
        A number for what is known, a frozen distribution for what is not.
    draws : int, optional
        Number of draws, rounded up to a power of two.
    seed : int, optional
        Start of the scrambling; the same seed gives the same answer.
    correlation : mapping of pair of str to float, optional
        Correlation of two inputs, through a normal copula: exact for normal inputs, the
        correlation of the underlying normal variables for others.

    Returns
    -------
    Propagated
        Mean, standard uncertainty, intervals, correlations and contributions.

    Raises
    ------
    ValueError
        If there is no uncertain input, a correlation is impossible or names another input,
        `draws` is below 2, or the function gives a value that is not finite.

    Notes
    -----
    The draws are points of a scrambled Sobol sequence, which fill the space evenly, so that
    8192 of them do the work of some hundred thousand random ones for smooth functions.

    References
    ----------
    JCGM 101:2008 (propagation of distributions using a Monte Carlo method); scipy.stats.qmc.

    Examples
    --------
    A power of 230 V (u = 1.15 V) times 0.1 A (u = 1 mA):

    >>> power = propagate(lambda voltage, current: voltage * current,
    ...                   {"voltage": stats.norm(230, 1.15), "current": stats.norm(0.1, 0.001)})
    >>> print(f"{power.mean:.2f} W, u = {power.standard_uncertainty:.3f} W")
    23.00 W, u = 0.257 W
    """
    if draws < 2:
        raise ValueError(f"draws must be at least 2, got {draws!r}")
    known = {name: value for name, value in inputs.items() if isinstance(value, float | int)}
    uncertain = {n: value for n, value in inputs.items() if not isinstance(value, float | int)}
    for name, value in known.items():
        finite(name, value)
    if not uncertain:
        raise ValueError(f"inputs holds no scipy.stats distribution, got {sorted(known)}")
    names = list(uncertain)
    power = int(np.ceil(np.log2(draws)))
    points = stats.qmc.Sobol(len(names), scramble=True, rng=seed).random_base2(power).T
    points = np.clip(points, 1e-12, 1 - 1e-12)
    matrix = _correlation_matrix(names, correlation)
    if matrix is not None:
        values, vectors = np.linalg.eigh(matrix)
        root = vectors * np.sqrt(np.clip(values, 0, None))
        points = stats.norm.cdf(root @ stats.norm.ppf(points))
    drawn = {name: uncertain[name].ppf(points[row]) for row, name in enumerate(names)}
    rows, single = _as_rows(function(**known, **drawn), 2**power)

    def shaped(values: Floats) -> Numbers:
        return float(values[0]) if single else values

    middle = {name: float(uncertain[name].mean()) for name in names}
    contribution = {}
    for name in names:
        alone, _ = _as_rows(function(**known, **(middle | {name: drawn[name]})), 2**power)
        contribution[name] = shaped(alone.std(axis=1, ddof=1))
    spread = rows.std(axis=1, ddof=1)
    moving = spread > 0
    joint = np.eye(len(rows))
    if moving.sum() > 1:
        joint[np.ix_(moving, moving)] = np.corrcoef(rows[moving])
    return Propagated(shaped(rows.mean(axis=1)), shaped(spread), joint, contribution, rows)


def coverage_factor(coverage: float = 0.95) -> float:
    """Half-width of a normal coverage interval in standard uncertainties.

    Parameters
    ----------
    coverage : float, optional
        Probability the interval holds. [1]  Above 0, at most 1.

    Returns
    -------
    float
        Coverage factor. [1]

    Raises
    ------
    ValueError
        If the coverage is not above 0 and below 1.

    References
    ----------
    JCGM 100:2008, table G.1.

    Examples
    --------
    >>> coverage_factor(0.95)
    1.96
    """
    level = float(fraction("coverage", coverage))
    if level == 1:
        raise ValueError("coverage must be below 1, got 1")
    return float(stats.norm.ppf((1 + level) / 2))
