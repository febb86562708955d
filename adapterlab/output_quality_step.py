"""A step in the ripple against load: where it is, how large, and how sure."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab._args import Floats, finite, not_negative

# Fewest points in all and on either side of a step; largest number treated one by one.
_LEAST, _SIDE, _MOST = 8, 3, 200
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


def _checked(load: ArrayLike, ripple: ArrayLike) -> tuple[Floats, Floats]:
    """The points in order of load, neighbours joined where there are very many."""
    loads, values = finite("load", load), finite("ripple", ripple)
    if loads.ndim != 1 or loads.shape != values.shape:
        raise ValueError(
            f"load and ripple must be rows of one length, got shapes {loads.shape} and "
            f"{values.shape}"
        )
    different = len(np.unique(loads))
    if different < _LEAST:
        raise ValueError(
            f"load must hold at least {_LEAST} different loads to tell a step from a bend, got "
            f"{different}"
        )
    order = np.argsort(loads, kind="stable")
    loads, values = loads[order], values[order]
    if len(loads) <= _MOST:
        return loads, values
    groups = [np.array_split(row, _MOST) for row in (loads, values)]
    means = [np.array([part.mean() for part in parts]) for parts in groups]
    return means[0], means[1]


def _whitened(place: Floats) -> tuple[Floats, Floats]:
    """Directions in which straight lines vanish and smooth bends are independent.

    Returns the directions as columns, shape (n, n - 2), and the variance of a bend of unit
    strength along each.
    """
    low = np.minimum(place[:, None], place)
    high = np.maximum(place[:, None], place)
    bend = low**2 * (3 * high - low) / 6
    line = np.column_stack([np.ones_like(place), place])
    free = np.linalg.qr(line, mode="complete")[0][:, 2:]
    variance, turn = np.linalg.eigh(free.T @ bend @ free)
    return free @ turn, np.clip(variance, 0, None)


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
        If the rows differ in length, a value is not finite, the resolution is negative, or there
        are fewer than 8 different loads.

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
    Beyond 200 points neighbours are joined to 200 means.

    References
    ----------
    G. Wahba, J. R. Stat. Soc. B 40 (1978) 364 (the smooth law as a prior; from memory). R. E. Kass,
    A. E. Raftery, J. Am. Stat. Assoc. 90 (1995) 773 (comparing laws by their marginal
    likelihoods; from memory).

    Examples
    --------
    >>> loads = np.arange(1.0, 13.0)
    >>> wobble = 0.2 * np.cos(2.3 * loads)
    >>> step = find_ripple_step(loads, 20 + loads + wobble + 9 * (loads > 7))
    >>> step.found, step.load
    (True, 7.5)
    """
    rounding = float(not_negative("resolution", resolution))
    loads, values = _checked(load, ripple)
    count, span = len(loads), loads[-1] - loads[0]
    # Data without any noise would make every law infinitely unlikely: a floor far below them.
    floor = rounding**2 / 12 + (1e-7 * np.abs(values).max() + 1e-300) ** 2
    turned, variance = _whitened((loads - loads[0]) / span)
    gaps = np.arange(_SIDE - 1, count - _SIDE)
    gaps = gaps[loads[gaps] < loads[gaps + 1]]
    above = np.arange(count)[:, None] > gaps
    data, jump = turned.T @ values, turned.T @ above.astype(float)
    weight = 1 / (1 + _BEND[:, None] * variance)
    size = weight @ jump**2
    match = weight @ (data[:, None] * jump)
    spread = weight @ data**2 + floor
    half = (count - 2) / 2
    bendy = 0.5 * np.log(weight).sum(axis=1)
    smooth = bendy - half * np.log(spread)
    # Axes: strength of the bend, gap, size of the step.
    widened = 1 + _STEP * size[:, :, None]
    explained = _STEP * match[:, :, None] ** 2 / widened
    left = np.maximum(spread[:, None, None] - explained, floor)
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
    mean = _STEP * match[:, best, None] / widened[:, best]
    change = float((shares * mean).sum())
    noise = left[:, best] / (count - 2)
    scatter = noise * _STEP / widened[:, best] + (mean - change) ** 2
    # The smooth law without the jump, where the bend is as strong as the data ask for.
    bends = shares.sum(axis=1) @ weight
    cleaned = values - change * above[:, best]
    law = cleaned - turned @ (bends * (turned.T @ cleaned))
    below = int(gaps[best])
    before = float(law[below : below + 2].mean())
    after = before + change
    return RippleStep(
        bool(probability >= _CERTAIN),
        float(loads[below : below + 2].mean()),
        before,
        after,
        after / before if before else np.inf * change,
        probability,
        (float(loads[gaps[first]]), float(loads[gaps[last] + 1])),
        float(np.sqrt((shares * scatter).sum())),
    )
