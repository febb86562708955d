"""Ranks among peers: handbook figures, other algorithms and draws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from adapterlab.standing import (
    percentile_interval,
    percentile_rank,
    rank_probability,
    robust_z_score,
)

# NIST/SEMATECH e-Handbook, 7.2.6.2: twelve resistivities.
NIST = [95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1772, 95.0925,
        95.1990, 95.1682]  # fmt: skip
numbers = st.floats(-1e3, 1e3).map(lambda x: round(x, 1))
groups = st.lists(numbers, min_size=1, max_size=30)


def test_nist_ninetieth_percentile():
    """The handbook puts the 90th percentile at 95.1981, between the 11th and the 12th value."""
    assert percentile_rank(95.1981, NIST) == pytest.approx(11 / 12)
    # Its definition by rank: p (n + 1) = 11.7, and our share of 11 below is (p (n + 1) - 0.7) / n.
    assert np.quantile(NIST, 0.9, method="weibull") == pytest.approx(95.1981, abs=5e-5)
    assert percentile_rank(95.0610, NIST) == pytest.approx(0.5 / 12)
    assert percentile_rank(95.1772, NIST) == pytest.approx((7 + 2 / 2) / 12)


def test_ties_count_half_like_scipy():
    """Independent: scipy.stats.percentileofscore, kind mean."""
    for value in (*NIST, 95.0, 95.15, 96.0):
        theirs = stats.percentileofscore(NIST, value, kind="mean") / 100
        assert percentile_rank(value, NIST) == pytest.approx(theirs, abs=1e-12)


@pytest.mark.parametrize(
    ("group", "spread"),
    [
        pytest.param(range(1, 10), 2.9652, id="R-mad-help-page"),
        pytest.param([1, 2, 3, 4, 5, 6, 7, 8, 100], 2.9652, id="R-mad-help-page-outlier"),
    ],
)
def test_median_absolute_deviation(group, spread):
    """R stats::mad, examples: 2 times 1.4826."""
    assert robust_z_score(5 + spread, list(group)) == pytest.approx(1, abs=1e-9)


def test_median_absolute_deviation_of_scipy():
    """Independent: scipy.stats.median_abs_deviation."""
    theirs = (95.2 - np.median(NIST)) / (1.4826 * stats.median_abs_deviation(NIST))
    assert robust_z_score(95.2, NIST) == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(
    ("below", "count", "low", "high"),
    [
        # Brown, Cai and DasGupta 2001, section 4.1.2: the Jeffreys interval is the equal-tailed
        # Beta(x + 1/2, n - x + 1/2); their computed values, from memory of table 5.
        (2, 10, 0.044, 0.503),
        (5, 10, 0.224, 0.776),
    ],
)
def test_jeffreys_interval(below, count, low, high):
    group = [0] * below + [9] * (count - below)
    found = percentile_interval(5, 0, group)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-4)
    ends = stats.beta(below + 0.5, count - below + 0.5).ppf([0.025, 0.5, 0.975])
    assert_allclose([found.low, found.median, found.high], ends, atol=1e-9)


def test_interval_covers_as_often_as_it_says():
    """Of 400 groups of 12 the interval holds the true share in 95 %, give or take chance."""
    rng = np.random.default_rng(8)
    inside = 0
    for _ in range(400):
        value = rng.standard_normal()
        found = percentile_interval(value, 0, rng.standard_normal(12))
        inside += found.low <= stats.norm.cdf(value) <= found.high
    assert 0.92 <= inside / 400 <= 0.98


def test_a_vague_value_widens_the_interval():
    sharp, vague = (percentile_interval(0.3, spread, np.arange(-20, 21) / 10)
                    for spread in (0, 0.8))  # fmt: skip
    assert vague.high - vague.low > 1.3 * (sharp.high - sharp.low)


def test_rank_law_against_draws():
    """Independent: a million draws of value and peers."""
    rng = np.random.default_rng(3)
    peers, unsure = np.array([1.0, 1.4, 1.5, 2.2]), np.array([0.1, 0.3, 0.0, 0.2])
    law = rank_probability(1.45, 0.2, peers, unsure)
    value = 1.45 + 0.2 * rng.standard_normal(1_000_000)
    drawn = peers + unsure * rng.standard_normal((1_000_000, 4))
    counts = np.bincount((drawn < value[:, None]).sum(axis=1), minlength=5) / 1_000_000
    assert_allclose(law, counts, atol=2e-3)


def test_rank_law_is_binomial_for_equal_peers():
    """Exact value, equal peers with equal doubt: the binomial law."""
    law = rank_probability(0.5, 0, np.zeros(12), 1.0)
    assert_allclose(law, stats.binom(12, stats.norm.cdf(0.5)).pmf(np.arange(13)), rtol=1e-12)


@given(groups, numbers, st.floats(0, 20))
def test_rank_law_sums_to_one(group, value, spread):
    law = rank_probability(value, spread, group)
    assert law.shape == (len(group) + 1,)
    assert law.sum() == pytest.approx(1)
    assert (law >= -1e-15).all()


@given(groups, numbers, st.floats(0.1, 10), st.floats(-100, 100))
def test_scale_and_shift_change_nothing(group, value, scale, shift):
    same = percentile_rank(round(value, 1), group)
    assert 0 <= same <= 1
    assert percentile_rank(-value, [-x for x in group]) == pytest.approx(1 - same)
    if len(set(group)) > 2 and np.median(np.abs(np.array(group) - np.median(group))) > 0:
        moved = [scale * x + shift for x in group]
        assert robust_z_score(scale * value + shift, moved) == pytest.approx(
            robust_z_score(value, group), rel=1e-6, abs=1e-6
        )


@given(groups, numbers, numbers)
def test_more_beats_more(group, one, other):
    low, high = sorted((one, other))
    assert percentile_rank(low, group) <= percentile_rank(high, group)


def test_shapes_and_types():
    assert type(percentile_rank(3, [1, 2, 3, 4])) is float
    assert percentile_rank([[1, 2], [3, 4]], [1, 2, 3]).shape == (2, 2)
    assert robust_z_score([1, 2, 3], [1, 2, 3]).shape == (3,)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: percentile_rank(1, []), "peers must be one row of at least 1 value"),
        (lambda: percentile_rank(1, [[1, 2]]), "peers must be one row"),
        (lambda: percentile_rank(float("nan"), [1]), "value must be finite"),
        (lambda: percentile_rank(1, [1, float("inf")]), "peers must be finite"),
        (lambda: robust_z_score(1, [1]), "at least 2 values"),
        (lambda: robust_z_score(1, [2, 2, 2, 5]), "must not share one value"),
        (lambda: percentile_interval(1, -1, [1]), "standard_uncertainty must be finite and >= 0"),
        (lambda: percentile_interval(1, 1, [1], 1.0), "coverage must be above 0 and below 1"),
        (lambda: rank_probability(1, 1, np.zeros(2001), 1), "at most 2000"),
        (lambda: rank_probability(1, 1, [1, 2], -1), "peer_uncertainty must be finite and >= 0"),
    ],
)
def test_rejections(call, message):
    with pytest.raises(ValueError, match=message):
        call()
