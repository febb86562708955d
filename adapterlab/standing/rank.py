"""Where one adapter stands among others: percentile, robust distance, probability of a rank.

Equations only: which adapters count as peers, and which of their figures are compared, is
decided in ``assess/standing.py``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from adapterlab.numerics.arguments import Floats, Numbers, finite, fraction, not_negative, plain

# Nodes that stand for the normal distribution of a reading.
_NODES = 257
# The exact law of a rank costs the square of the group's size.
_MOST_UNCERTAIN_PEERS = 2000
# Median absolute deviation of a normal distribution to its standard deviation.
_NORMAL_CONSISTENCY = 1.4826


@dataclass(frozen=True)
class PercentileInterval:
    """Share of the population that lies below a value, as far as a group of peers can tell.

    Attributes
    ----------
    low, high : float
        Ends of the interval. [1]
    median : float
        Middle of the distribution of that share. [1]
    """

    low: float
    high: float
    median: float


def _group(peers: ArrayLike, least: int = 1) -> Floats:
    group = np.asarray(finite("peers", peers))
    if group.ndim != 1 or group.size < least:
        raise ValueError(
            f"peers must be one row of at least {least} value{'s' if least > 1 else ''}, "
            f"got shape {group.shape}"
        )
    return group


def percentile_rank(value: ArrayLike, peers: ArrayLike) -> Numbers:
    r"""Share of a group that lies below a value, ties counted half.

    Parameters
    ----------
    value : float or array_like
        Value to place. [any one unit], any shape
    peers : array_like
        Values of the group, the value's own owner left out. [same unit], shape (n,)

    Returns
    -------
    float or numpy.ndarray
        Share from 0 to 1. [1], shape of `value`

    Raises
    ------
    ValueError
        If the group is empty, not one row, or anything is not finite.

    Notes
    -----
    .. math:: \frac{\#\{x_i < x\} + \tfrac12 \#\{x_i = x\}}{n}

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2 (percentiles; there the inverse
    question is asked, with n + 1 in the place of n). Ties: mean rank, as ``scipy.stats``
    ``percentileofscore(kind="mean")``.

    Examples
    --------
    >>> percentile_rank(3, [1, 2, 3, 4])
    0.625
    """
    wanted = finite("value", value)
    group = np.sort(_group(peers))
    below = np.searchsorted(group, wanted, side="left")
    up_to = np.searchsorted(group, wanted, side="right")
    return plain((below + up_to) / (2 * group.size))


def robust_z_score(value: ArrayLike, peers: ArrayLike) -> Numbers:
    r"""Distance from a group's median in units of its robust spread.

    Parameters
    ----------
    value : float or array_like
        Value to place. [any one unit], any shape
    peers : array_like
        Values of the group. [same unit], shape (n,) with n >= 2

    Returns
    -------
    float or numpy.ndarray
        Signed distance. [1], shape of `value`

    Raises
    ------
    ValueError
        If the group has fewer than two members or more than half of it is one and the same
        value, so that it has no robust spread.

    Notes
    -----
    .. math:: z = \frac{x - \operatorname{med}(x_i)}
              {1.4826 \cdot \operatorname{med}|x_i - \operatorname{med}(x_i)|}

    The factor makes the spread of a normal group its standard deviation. One odd peer in ten
    hardly moves it.

    References
    ----------
    R Core Team, ``stats::mad`` (default constant 1.4826).

    Examples
    --------
    >>> robust_z_score(8, [1, 2, 3, 4, 5, 6, 7, 8, 100])
    1.01
    """
    wanted = finite("value", value)
    group = _group(peers, 2)
    middle = np.median(group)
    spread = _NORMAL_CONSISTENCY * np.median(np.abs(group - middle))
    if spread == 0:
        raise ValueError(
            f"peers must not share one value by more than half, got {middle:g} that often"
        )
    return plain((wanted - middle) / spread)


def percentile_interval(
    value: float,
    standard_uncertainty: float,
    peers: ArrayLike,
    coverage: float = 0.95,
) -> PercentileInterval:
    r"""Interval for the share of a population below a value, of which a group was drawn.

    Parameters
    ----------
    value : float
        Value to place. [any one unit]
    standard_uncertainty : float
        Its standard uncertainty. [same unit]  Must be >= 0.
    peers : array_like
        Values of the group. [same unit], shape (n,)
    coverage : float, optional
        Probability that the interval holds the share. [1]  Above 0 and below 1.

    Returns
    -------
    PercentileInterval
        Ends and middle. [1]

    Raises
    ------
    ValueError
        As `percentile_rank`, or if the uncertainty is negative or the coverage outside (0, 1).

    Notes
    -----
    If k of n peers lie below, the share in the population they were drawn from follows
    Beta(k + ½, n − k + ½) (Jeffreys' prior). The doubt about the value itself mixes such laws
    over the normal distribution of the value; ties count half. With few peers the interval is
    wide, and that is the point of it.

    References
    ----------
    Brown, Cai and DasGupta, Statistical Science 16 (2001) 101, section 3.1 (Jeffreys interval).

    Examples
    --------
    >>> found = percentile_interval(10, 0, [8, 9, 9, 11, 12])
    >>> print(f"{found.low:.2f} to {found.high:.2f}")
    0.21 to 0.91
    """
    group = np.sort(_group(peers))
    spread = float(not_negative("standard_uncertainty", standard_uncertainty))
    inside = float(fraction("coverage", coverage))
    if inside >= 1:
        raise ValueError(f"coverage must be above 0 and below 1, got {coverage!r}")
    drawn = _nodes(float(finite("value", value)), spread)
    below = np.asarray(percentile_rank(drawn, group)) * group.size

    def at_most(share: Floats) -> Floats:
        laws = special.betainc(
            below[:, None] + 0.5, group.size - below[:, None] + 0.5, share[None, :]
        )
        return np.asarray(laws.mean(axis=0))

    wanted = np.array([(1 - inside) / 2, 0.5, (1 + inside) / 2])
    low, high = np.zeros(3), np.ones(3)
    for _ in range(40):
        middle = (low + high) / 2
        under = at_most(middle) < wanted
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    first, median, last = ((low + high) / 2).tolist()
    return PercentileInterval(first, last, median)


def _nodes(value: float, spread: float) -> Floats:
    """Equally likely values that stand for a normal distribution."""
    if spread == 0:
        return np.array([value])
    return value + spread * stats.norm.ppf((np.arange(_NODES) + 0.5) / _NODES)


def rank_probability(
    value: float,
    standard_uncertainty: float,
    peers: ArrayLike,
    peer_uncertainty: ArrayLike = 0.0,
) -> Floats:
    r"""Probability of each place a value may take in a group, both being uncertain.

    Parameters
    ----------
    value : float
        Value to place. [any one unit]
    standard_uncertainty : float
        Its standard uncertainty. [same unit]  Must be >= 0.
    peers : array_like
        Values of the group. [same unit], shape (n,)
    peer_uncertainty : float or array_like, optional
        Standard uncertainty of each of them, independent of the others. [same unit],
        shape () or (n,)  Must be >= 0.

    Returns
    -------
    numpy.ndarray
        Probability that exactly 0, 1, … n peers lie below the value. [1], shape (n + 1,)

    Raises
    ------
    ValueError
        As `percentile_rank`; if an uncertainty is negative; or if more than 2000 uncertain
        peers are given (the exact law costs the square of their number).

    Notes
    -----
    For a given true value each peer lies below it with probability
    :math:`\Phi((x - x_i)/u_i)`, independently, so the count follows the Poisson binomial law.
    The normal law of the value itself is stood for by 257 equally likely values.

    References
    ----------
    Poisson binomial law: Y. H. Wang, Statistica Sinica 3 (1993) 295.

    Examples
    --------
    >>> rank_probability(10, 0.5, [9, 9.8, 12]).round(2)
    array([0.02, 0.32, 0.66, 0.  ])
    """
    group = np.sort(_group(peers))
    doubt = not_negative("peer_uncertainty", peer_uncertainty)
    spread = float(not_negative("standard_uncertainty", standard_uncertainty))
    centre = float(finite("value", value))
    if not np.any(doubt):
        return _places(centre, spread, group)
    if group.size > _MOST_UNCERTAIN_PEERS:
        raise ValueError(
            f"peers must be at most {_MOST_UNCERTAIN_PEERS} where they are uncertain, "
            f"got {group.size}"
        )
    centres = np.asarray(finite("peers", peers))
    doubts = np.broadcast_to(doubt, centres.shape)
    drawn = _nodes(centre, spread)
    law = np.zeros((drawn.size, group.size + 1))
    law[:, 0] = 1.0
    for number, (peer, unsure) in enumerate(zip(centres, doubts, strict=True), start=1):
        gap = drawn - peer
        with np.errstate(over="ignore"):
            below = special.ndtr(gap / unsure) if unsure > 0 else np.heaviside(gap, 0.5)
        before = law[:, :number].copy()
        law[:, : number + 1] *= (1 - below)[:, None]
        law[:, 1 : number + 1] += before * below[:, None]
    return np.asarray(law.mean(axis=0))


def _places(value: float, spread: float, group: Floats) -> Floats:
    """The same where the peers are exact: areas of the bell curve between them."""
    if spread > 0:
        with np.errstate(over="ignore"):
            edges = special.ndtr((group - value) / spread)
    else:
        edges = 1 - np.heaviside(value - group, 0.5)
    return np.diff(np.concatenate([[0.0], edges, [1.0]]))
