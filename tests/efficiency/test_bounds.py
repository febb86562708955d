"""Guards of the equations of efficiency, as their docstrings state them."""

import numpy as np
import pytest
from bounds import hold

from adapterlab import efficiency as eff

CURVE = eff.LossCurve(0.0, 0.05, 0.001, np.zeros((3, 3)), 20.0)


@pytest.mark.parametrize(
    ("function", "rest", "name", "good", "bad"),
    [
        (eff.efficiency, {"output_power": 10.0}, "input_power", 10.0, 9.99),
        (
            eff.cable_loss,
            {"output_current": 1.0, "connector": "USB-C"},
            "rated_current",
            5.0,
            5.001,
        ),
        (CURVE.loss, {}, "output_power", 20.0, 20.001),
        # Without any load and any fixed loss there is no input power to divide by.
        (CURVE.efficiency, {}, "output_power", 1.0, 0.0),
    ],
)
def test_bounds(function, rest, name, good, bad):
    hold(function, rest, name, good, bad)


@pytest.mark.parametrize(
    ("power", "ratio", "permitted"),
    [
        # IEC 62301:2011, 4.4.1, from memory: 2 % from 1 W on, 0.02 W below; above a ratio of 10 the
        # 2 % grow by 0.16 points for each unit, and below 1 W the larger of the two counts.
        (1.0, 5.0, 0.02),
        (10.0, 10.0, 0.2),
        (0.5, 9.0, 0.02),
        (0.5, 10.0, 0.02),
        (10.0, 15.0, 10 * (0.02 + 5 * 0.0016)),
        (0.9, 15.0, 0.9 * (0.02 + 5 * 0.0016)),
        (0.1, 15.0, 0.02),
    ],
)
def test_permitted_uncertainty_of_the_second_edition(power, ratio, permitted):
    found = eff.permitted_power_uncertainty(power, edition=2, current_ratio=ratio)
    assert found == pytest.approx(permitted)


def test_an_empty_row_has_no_average():
    with pytest.raises(ValueError, match="load_fraction must hold"):
        eff.average_active_efficiency([], [])
