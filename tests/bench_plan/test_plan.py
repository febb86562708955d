"""Planning on the bench: differences, steadiness and expected input, by hand and against draws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from adapterlab.bench_plan import (
    coarsest_resolution,
    expected_input,
    input_drift,
    is_steady,
    ratio_uncertainty,
    smallest_difference,
)
from adapterlab.uncertainty import propagate


def test_steadiness_of_appendix_z():
    """10 CFR 430 subpart B, appendix Z, 5(a)(1)(ii): (30.0 - 28.6) / 30.0 = 4.667 %, within 5 %."""
    assert input_drift([0, 150, 300], [30.0, 29.0, 28.6]) == pytest.approx(0.04667, abs=5e-6)
    assert is_steady([0, 150, 300], [30.0, 29.0, 28.6])
    # 5(b): several outputs at once may drift by 1 % only.
    assert not is_steady([0, 150, 300], [30.0, 29.0, 28.6], "several")
    assert is_steady([0, 150, 300], [30.0, 29.9, 29.71], "several")


def test_only_the_last_five_minutes_count():
    time = np.arange(0, 1801, 60.0)
    power = np.where(time < 1490, 40.0, 30.0)
    assert input_drift(time, power) == 0
    assert input_drift(time, power, 600) == pytest.approx(0.25)


def test_relative_uncertainties_add_as_squares():
    """JCGM 100:2008, 5.1.6, equation (12): for a quotient the relative ones add as squares."""
    assert ratio_uncertainty(50.0, 0.25, 60.0, 0.12) == pytest.approx(
        50 / 60 * np.hypot(0.005, 0.002), rel=1e-12
    )


def test_rounding_step():
    """JCGM 100:2008, F.2.2.1: the standard uncertainty of a display step is 0.29 of it."""
    assert 0.29 / coarsest_resolution(0.29) == pytest.approx(0.29, abs=0.0014)
    assert coarsest_resolution(1.0) == pytest.approx(1 / stats.uniform(0, 1).std(), rel=1e-12)


def test_uncertainty_of_a_ratio_against_draws():
    """Independent: JCGM 101 propagation of distributions, with correlation."""
    drawn = propagate(
        lambda out, drawn: out / drawn,
        {"out": stats.norm(54, 0.10), "drawn": stats.norm(60, 0.08)},
        correlation={("out", "drawn"): 0.3},
    )
    found = ratio_uncertainty(54, 0.10, 60, 0.08, 0.3)
    assert found == pytest.approx(drawn.standard_uncertainty, rel=5e-3)


def test_smallest_difference_against_draws():
    """Independent: 95 % of the differences of two equal adapters stay below it."""
    rng = np.random.default_rng(4)
    pair = rng.multivariate_normal([0, 0], [[9, 4.8], [4.8, 4]], 400_000)
    apart = np.abs(pair[:, 0] - pair[:, 1])
    assert smallest_difference(3, 2, 0.8) == pytest.approx(np.quantile(apart, 0.95), rel=5e-3)


@given(st.floats(0, 10), st.floats(-1, 1))
def test_a_common_meter_cancels(spread, correlation):
    """Equal uncertainties: u sqrt(2 (1 - r)), and nothing is left of a common error."""
    expected = 1.959964 * spread * np.sqrt(2 * (1 - correlation))
    assert smallest_difference(spread, spread, correlation) == pytest.approx(
        expected, rel=1e-6, abs=1e-6
    )


@given(st.floats(0.01, 200), st.floats(0.3, 1), st.floats(85, 264), st.floats(0.3, 1))
def test_input_is_consistent(power, efficiency, voltage, factor):
    found = expected_input(power, efficiency, voltage, factor, 3.0)
    assert found.power * efficiency == pytest.approx(power)
    assert found.current_rms * voltage * factor == pytest.approx(found.power)
    assert found.current_peak == pytest.approx(3 * found.current_rms)


def test_shapes_and_types():
    found = expected_input([10, 20, 30], 0.8, [[115], [230]])
    assert found.current_rms.shape == (2, 3)
    assert type(expected_input(10, 0.8, 230).power) is float
    assert ratio_uncertainty([1, 2], 0.1, 3, 0.1).shape == (2,)
    assert smallest_difference([1, 2], 1).shape == (2,)
    assert type(coarsest_resolution(1)) is float


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: expected_input(-1, 0.8, 230), "output_power must be finite and >= 0"),
        (lambda: expected_input(1, 1.2, 230), "efficiency must be finite and above 0 and at most"),
        (lambda: expected_input(1, 0.9, 0), "mains_voltage must be finite and > 0"),
        (lambda: expected_input(1, 0.9, 230, 0.5, 0.9), "crest_factor must be at least 1"),
        (lambda: input_drift([0, 300], [1, 0]), "power must be finite and > 0"),
        (lambda: input_drift([0, 200], [1, 1]), "must cover at least 300 s"),
        (lambda: input_drift([0, 200, 100], [1, 1, 1]), "time must rise"),
        (lambda: input_drift([0, 300], [1, 1, 1]), "two equal rows"),
        (lambda: is_steady([0, 300], [1, 1], "many"), "outputs must be one of one, several"),
        (lambda: ratio_uncertainty(1, 0.1, 0, 0.1), "denominator must be finite and > 0"),
        (lambda: smallest_difference(1, 1, 1.5), r"correlation must lie in \[-1, 1\]"),
        (lambda: coarsest_resolution(0), "standard_uncertainty must be finite and > 0"),
    ],
)
def test_rejections(call, message):
    with pytest.raises(ValueError, match=message):
        call()
