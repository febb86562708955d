"""Statistics the kit takes of its readings, against certified data sets.

NIST Statistical Reference Datasets, univariate summary statistics: Michelson's speed of light (100 values)
and the numerical-accuracy sets, certified to 15 digits. They are scaled into the range of an efficiency;
mean and standard deviation scale with them.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from adapterlab.efficiency import efficiency_spread
from adapterlab.standing import percentile_rank, robust_z_score

MICHELSON = [
    299.85, 299.74, 299.9, 300.07, 299.93, 299.85, 299.95, 299.98, 299.98, 299.88,
    300.0, 299.98, 299.93, 299.65, 299.76, 299.81, 300.0, 300.0, 299.96, 299.96,
    299.96, 299.94, 299.96, 299.94, 299.88, 299.8, 299.85, 299.88, 299.9, 299.84,
    299.83, 299.79, 299.81, 299.88, 299.88, 299.83, 299.8, 299.79, 299.76, 299.8,
    299.88, 299.88, 299.88, 299.86, 299.72, 299.72, 299.62, 299.86, 299.97, 299.95,
    299.88, 299.91, 299.85, 299.87, 299.84, 299.84, 299.85, 299.84, 299.84, 299.84,
    299.89, 299.81, 299.81, 299.82, 299.8, 299.77, 299.76, 299.74, 299.75, 299.76,
    299.91, 299.92, 299.89, 299.86, 299.88, 299.72, 299.84, 299.85, 299.85, 299.78,
    299.89, 299.84, 299.78, 299.81, 299.76, 299.81, 299.79, 299.81, 299.82, 299.85,
    299.87, 299.87, 299.81, 299.74, 299.81, 299.94, 299.95, 299.8, 299.81, 299.87,
]  # fmt: skip


@pytest.mark.parametrize(
    ("values", "scale", "mean", "deviation", "tolerance"),
    [
        pytest.param(MICHELSON, 1e-3, 299.852400000000, 0.0790105478190518, 1e-10, id="Michelso"),
        # NumAcc2: 1.2 and 500 times 1.1 and 1.3; exact by construction.
        pytest.param([1.2, *[1.1, 1.3] * 500], 0.5, 1.2, 0.1, 1e-12, id="NumAcc2"),
        # NumAcc3: the same on top of a million, where a one-pass formula loses every digit.
        pytest.param([1000000.2, *[1000000.1, 1000000.3] * 500], 9e-7, 1000000.2, 0.1, 1e-8,
                     id="NumAcc3"),
    ],
)  # fmt: skip
def test_certified_mean_and_deviation(values, scale, mean, deviation, tolerance):
    found = efficiency_spread(scale * np.array(values))
    assert_allclose(found.mean / scale, mean, rtol=1e-14)
    assert_allclose(found.standard_deviation / scale, deviation, rtol=tolerance)


def test_percentiles_of_a_certified_set():
    """Independent: ranks counted one by one, ties half; the median splits the set."""
    for value in (299.62, 299.85, 299.90, 300.07):
        counted = sum(x < value for x in MICHELSON) + sum(x == value for x in MICHELSON) / 2
        assert percentile_rank(value, MICHELSON) == pytest.approx(counted / 100)
    assert abs(robust_z_score(float(np.median(MICHELSON)), MICHELSON)) < 1e-12
