"""A step in the ripple against load: where it is, how large, and how sure."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cho_solve_banded, cholesky_banded

from adapterlab.numerics.arguments import Floats, finite, not_negative

# Fewest points in all and on either side of a step; largest number treated one by one.
_LEAST, _SIDE, _MOST = 8, 3, 400
# Loads closer than this share of their range count as one.
_SAME = 1e-4
# Squares of smoothness (how far the law bends) and of the step, both over the noise's square.
_BEND = 10.0 ** np.arange(-1, 10)
_STEP = 10.0 ** np.arange(1, 6)
_CERTAIN = 0.975


@dataclass(frozen=True)
class RippleStep:
    """What `find_ripple_step` found.

    Attributes
    ----------
    found : bool
        Whether the probability of a step is at least 0.975.
    load : float
        Place of the step: middle of the gap between two loads that most likely holds it. [unit
        of load]
    before, after : float
        Smooth law just below and just above that place. [unit of ripple]
    ratio : float
        After over before. [1]
    probability : float
        Probability that there is a step at all. [1]
    interval : tuple of float
        Loads between which the step lies with a probability of 0.95, if there is one. [unit of
        load]
    step_uncertainty : float
        Standard uncertainty of after less before. [unit of ripple]
    """

    found: bool
    load: float
    before: float
    after: float
    ratio: float
    probability: float
    interval: tuple[float, float]
    step_uncertainty: float


@dataclass(frozen=True)
class _Points:
    """Readings in order of load, those at one load joined.

    `place` runs from 0 to 1, `count` readings have the mean `value`, `within` is the sum of their
    squared distances from it.
    """

    load: Floats
    place: Floats
    count: Floats
    value: Floats
    within: float


def _points(load: ArrayLike, ripple: ArrayLike) -> _Points:
    """The readings checked and joined; where there are very many loads, neighbours as well."""
    loads, values = finite("load", load), finite("ripple", ripple)
    if loads.ndim != 1 or loads.shape != values.shape:
        raise ValueError(
            f"load and ripple must be rows of one length, got shapes {loads.shape} and "
            f"{values.shape}"
        )
    order = np.argsort(loads, kind="stable")
    loads, values = loads[order], values[order]
    span = loads[-1] - loads[0] if len(loads) else 0.0
    fresh = np.concatenate([[True], np.diff(loads) > _SAME * span]) if span > 0 else [True]
    starts = np.flatnonzero(fresh)
    if len(starts) < _LEAST:
        raise ValueError(
            f"load must hold at least {_LEAST} different loads to tell a step from a bend, got "
            f"{len(starts) if span > 0 else min(len(loads), 1)}"
        )
    if len(starts) > _MOST:
        starts = starts[np.linspace(0, len(starts), _MOST, endpoint=False).astype(int)]
    count = np.diff([*starts, len(loads)]).astype(float)
    mean = np.add.reduceat(values, starts) / count
    within = float(((values - np.repeat(mean, count.astype(int))) ** 2).sum())
    joined = np.add.reduceat(loads, starts) / count
    place = (joined - joined[0]) / (joined[-1] - joined[0])
    return _Points(joined, place, count, mean, within)


@dataclass(frozen=True)
class _Laws:
    """The smooth law at each strength of its bend, in units of the noise.

    `determinant` is the logarithm of that of the covariance of the second differences, `square`
    what the readings differ from the law, shape (strengths,); `size` and `match` how a step in
    each gap stands to itself and to the readings, shape (strengths, gaps); `factors` the
    triangular roots of the covariances.
    """

    determinant: Floats
    square: Floats
    size: Floats
    match: Floats
    factors: Floats


def _differences(points: _Points, values: Floats) -> Floats:
    """Second divided differences, in which straight lines vanish."""
    slopes = np.diff(values) / np.diff(points.place)
    return np.diff(slopes)


def _inverse_bands(factors: Floats) -> tuple[Floats, Floats]:
    """Diagonal of the inverse of banded matrices, and what stands beside it.

    Takes the lower triangular roots, shape (strengths, 3, n), and works upwards from the last row.
    """
    root = factors[:, 0]
    near, far = factors[:, 1] / root, factors[:, 2] / root
    diagonal, beside = np.zeros_like(root), np.zeros_like(root)
    below = below_beside = below_far = np.zeros(len(root))
    for row in range(root.shape[1] - 1, -1, -1):
        own_far = -near[:, row] * below_beside - far[:, row] * below_far
        own = -near[:, row] * below - far[:, row] * below_beside
        below_far = below
        below = 1 / root[:, row] ** 2 - near[:, row] * own - far[:, row] * own_far
        below_beside = own
        diagonal[:, row], beside[:, row] = below, own
    return diagonal, beside[:, :-1]


def _laws(points: _Points) -> _Laws:
    """Second differences of noise and of a bend have banded covariances; their sum is solved."""
    gap, noise = np.diff(points.place), 1 / points.count
    left, right = 1 / gap[:-1], 1 / gap[1:]
    middle = -(left + right)
    rough, bent = np.zeros((3, len(left))), np.zeros((3, len(left)))
    rough[0] = left**2 * noise[:-2] + middle**2 * noise[1:-1] + right**2 * noise[2:]
    rough[1, :-1] = middle[:-1] * left[1:] * noise[1:-2] + right[:-1] * middle[1:] * noise[2:-1]
    rough[2, :-2] = right[:-2] * left[2:] * noise[2:-2]
    bent[0], bent[1, :-1] = (gap[:-1] + gap[1:]) / 3, gap[1:-1] / 6
    factors = np.array([cholesky_banded(rough + bend * bent, lower=True) for bend in _BEND])
    data = _differences(points, points.value)
    weighed = np.array([cho_solve_banded((factor, True), data) for factor in factors])
    diagonal, beside = _inverse_bands(factors)
    # A step between two loads touches only the two second differences that span it.
    between = gap[1:-1]
    return _Laws(
        2 * np.log(factors[:, 0]).sum(axis=1),
        (weighed * data).sum(axis=1),
        (diagonal[:, :-1] - 2 * beside + diagonal[:, 1:]) / between**2,
        (weighed[:, :-1] - weighed[:, 1:]) / between,
        factors,
    )


def _smoothed(points: _Points, factor: Floats, values: Floats) -> Floats:
    """Values of the smooth law where `values` would have been read."""
    weighed = cho_solve_banded((factor, True), _differences(points, values))
    slopes = np.diff(np.concatenate([[0.0], weighed, [0.0]])) / np.diff(points.place)
    return values - np.diff(np.concatenate([[0.0], slopes, [0.0]])) / points.count


def find_ripple_step(load: ArrayLike, ripple: ArrayLike, *, resolution: float = 0.0) -> RippleStep:
    r"""Where the ripple jumps as the load rises, and the probability that it does.

    Parameters
    ----------
    load : array_like
        Load of each reading, in any order and unit. [any unit], shape (n,)  At least 8 different
        ones.
    ripple : array_like
        Ripple at each. [any unit], shape (n,)
    resolution : float, optional
        Least step of the meter. [unit of ripple]  The noise is taken as no smaller than its
        rounding.

    Returns
    -------
    RippleStep
        Place, size and probability; where no step is found, those of the most likely candidate.

    Raises
    ------
    ValueError
        If the rows differ in length, a value is not finite, the resolution is negative, there
        are fewer than 8 different loads, or the ripple is zero below the step.

    Notes
    -----
    Two laws compete, with equal odds beforehand. The smooth one is a straight line plus a bend of
    unknown strength (once-integrated Brownian motion, the law behind the cubic smoothing spline,
    which follows curves and kinks but not jumps) plus noise of unknown size. The other adds a
    jump of unknown size at an unknown place, with at least three points on either side:

    .. math:: y = a + b x + \sigma s W(x) + \delta\,[x > x_s] + \varepsilon

    Strength, size and place are averaged over, the place evenly, the others evenly on a
    logarithmic scale from 0.3 to 30 000 (strength) and 3 to 300 (size) times the noise; a, b and
    the noise have flat priors. The probability is that of the second law after seeing the data.
    A kink is no step; a single outlier is none either. Of several steps the largest counts.
    Beyond 400 loads neighbours are joined to 400 means.

    References
    ----------
    G. Wahba, J. R. Stat. Soc. B 40 (1978) 364 (the smooth law as a prior; from memory). R. E. Kass,
    A. E. Raftery, J. Am. Stat. Assoc. 90 (1995) 773 (comparing laws by their marginal
    likelihoods; from memory). P. J. Green, B. W. Silverman, Nonparametric Regression and
    Generalized Linear Models, 1994, 2.1 (the banded form; from memory).

    Examples
    --------
    >>> loads = np.arange(1.0, 13.0)
    >>> wobble = 0.2 * np.cos(2.3 * loads)
    >>> step = find_ripple_step(loads, 20 + loads + wobble + 9 * (loads > 7))
    >>> step.found, step.load
    (True, 7.5)
    """
    rounding = float(not_negative("resolution", resolution))
    points = _points(load, ripple)
    different, readings = len(points.load), float(points.count.sum())
    # Data without any noise would make every law infinitely unlikely: a floor far below them.
    largest = float(np.abs(points.value).max())
    floor = rounding**2 / 12 + (1e-7 * largest) ** 2
    if largest == 0:
        raise ValueError("ripple must not be zero at every load")
    laws = _laws(points)
    gaps = np.arange(_SIDE - 1, different - _SIDE)
    size, match = laws.size[:, gaps - 1, None], laws.match[:, gaps - 1, None]
    spread = laws.square + points.within + floor
    bendy = -0.5 * laws.determinant
    half = (readings - 2) / 2
    smooth = bendy - half * np.log(spread)
    # Axes: strength of the bend, gap, size of the step.
    widened = 1 + _STEP * size
    left = np.maximum(spread[:, None, None] - _STEP * match**2 / widened, floor)
    stepped = bendy[:, None, None] - 0.5 * np.log(widened) - half * np.log(left)
    top = max(smooth.max(), stepped.max())
    chance = np.exp(stepped - top)
    plain_law = float(np.exp(smooth - top).mean())
    step_law = float(chance.mean())
    probability = step_law / (step_law + plain_law)
    by_gap = chance.sum(axis=(0, 2)) / chance.sum()
    best = int(by_gap.argmax())
    inside = np.cumsum(by_gap)
    first = int(np.searchsorted(inside, 0.025))
    last = min(int(np.searchsorted(inside, 0.975)), len(gaps) - 1)
    shares = chance[:, best] / chance[:, best].sum()
    mean = _STEP * match[:, best] / widened[:, best]
    change = float((shares * mean).sum())
    noise = left[:, best] / (readings - 2)
    scatter = noise * _STEP / widened[:, best] + (mean - change) ** 2
    # The smooth law without the jump, its bend as strong as the data ask for.
    below = int(gaps[best])
    cleaned = points.value - change * (np.arange(different) > below)
    lines = np.array([_smoothed(points, factor, cleaned) for factor in laws.factors])
    before = float((shares.sum(axis=1) @ lines)[below : below + 2].mean())
    after = before + change
    if before == 0:
        raise ValueError(
            "ripple must not be zero just below its step, where a ratio has no meaning"
        )
    return RippleStep(
        bool(probability >= _CERTAIN),
        float(points.load[below : below + 2].mean()),
        before,
        after,
        after / before,
        probability,
        (float(points.load[gaps[first]]), float(points.load[gaps[last] + 1])),
        float(np.sqrt((shares * scatter).sum())),
    )
