"""Guards of the plan's equations, as their docstrings state them."""

import pytest
from bounds import hold

from adapterlab import bench_plan as plan

LOAD = {"output_power": 60.0, "efficiency": 0.9, "mains_voltage": 230.0}
RATIO = {
    "numerator": 54.0, "denominator": 60.0, "numerator_uncertainty": 0.1,
    "denominator_uncertainty": 0.1,
}  # fmt: skip


@pytest.mark.parametrize(
    ("function", "rest", "name", "good", "bad"),
    [
        (plan.expected_input, LOAD, "crest_factor", 1.0, 0.999),
        (plan.expected_input, LOAD, "power_factor", 1.0, 1.001),
        (plan.ratio_uncertainty, RATIO, "correlation", 1.0, 1.001),
        (plan.ratio_uncertainty, RATIO, "correlation", -1.0, -1.001),
    ],
)
def test_bounds(function, rest, name, good, bad):
    hold(function, rest, name, good, bad)


def test_defaults_of_a_small_adapter():
    """Power factor 0.5 and crest factor 4, common practice: 60 W at 90 % from 230 V, by hand."""
    found = plan.expected_input(**LOAD)
    assert found.current_rms == pytest.approx(60 / 0.9 / 0.5 / 230)
    assert found.current_peak == pytest.approx(4 * 60 / 0.9 / 0.5 / 230)


def test_a_row_must_rise_and_last_and_may_just_last():
    assert plan.input_drift([0, 150, 300], [30, 29, 30]) == pytest.approx(1 / 30)
    # The reading exactly one span before the last still counts.
    assert plan.input_drift([0, 100, 250, 400], [99, 30, 30, 30]) == 0
    for time in ([0, 150, 150], [0, 150, 299]):
        with pytest.raises(ValueError, match="time must"):
            plan.input_drift(time, [30, 30, 30])
