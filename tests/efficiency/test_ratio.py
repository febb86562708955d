"""Tests for the efficiency section. Every expected number states where it comes from."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from adapterlab.efficiency import (
    average_active_efficiency,
    average_efficiency_uncertainty,
    cable_loss,
    derating_factor,
    efficiency,
    efficiency_spread,
    fit_loss_curve,
    maximum_no_load_power,
    minimum_average_efficiency,
    minimum_ten_percent_efficiency,
    nameplate_category,
    permitted_power_uncertainty,
    rule_supply,
)

CURVE = fit_loss_curve([2, 5, 10, 20], [0.604, 0.775, 1.1, 1.9])

# TI, TIDT264, efficiency data at 120 V 60 Hz: output volts, milliamperes, input mW, printed %.
TABLE = np.array(
    [
        (3.330, 51, 282.0, 60.22), (3.334, 100, 528.9, 63.04), (3.337, 150, 771.0, 64.92),
        (3.343, 200, 1006, 66.46), (3.344, 250, 1248, 66.99), (3.348, 300, 1494, 67.23),
        (3.353, 350, 1747, 67.18), (3.356, 400, 1998, 67.19), (3.353, 450, 2245, 67.21),
        (3.367, 500, 2476, 67.99), (3.372, 550, 2745, 67.56), (3.376, 600, 2996, 67.61),
    ]
)  # fmt: skip


def test_a_printed_table_of_readings():
    """TI TIDT264, efficiency data table: twelve points, two decimals of a percent."""
    volts, milliamperes, milliwatts, printed = TABLE.T
    assert_allclose(100 * efficiency(milliwatts, volts * milliamperes), printed, atol=0.006)


@pytest.mark.parametrize(
    ("rule", "power", "category", "printed"),
    [
        # Regulation (EU) 2019/1782, annex II 1(b): worked from its formulas to six digits.
        ("eu-2019-1782", 5, "low-voltage", 0.0834 * np.log(5) - 0.0014 * 5 + 0.609),
        ("eu-2019-1782", 12, "low-voltage", 0.799441),
        ("eu-2019-1782", 27, "basic", 0.866204),
        ("eu-2019-1782", 45, "basic", 0.877273),
        ("eu-2019-1782", 60, "multiple-voltage", 0.860),
        ("eu-2019-1782", 35, "multiple-voltage", 0.075 * np.log(35) + 0.561),
        # Boundaries: 1.0 W and 49.0 W belong to the row below.
        ("eu-2019-1782", 1.0, "basic", 0.66),
        ("eu-2019-1782", 1.0001, "basic", 0.071 * np.log(1.0001) - 0.0014 * 1.0001 + 0.67),
        ("eu-2019-1782", 49.0, "basic", 0.877719),
        ("eu-2019-1782", 49.0001, "basic", 0.880),
        ("eu-2019-1782", 0.8, "low-voltage", 0.5006),
        # Regulation (EU) 2025/2052, annex II, table 4.
        ("eu-2025-2052", 12, "basic", 0.832628),
        ("eu-2025-2052", 27, "basic", 0.872954),
        ("eu-2025-2052", 65, "basic", 0.89),
        ("eu-2025-2052", 10, "low-voltage", 0.790036),
        ("eu-2025-2052", 30, "multiple-voltage", 0.866293),
        # 10 CFR 430.32(w), from memory; 12 V 1 A is printed as 83 % by a component maker.
        ("us-vi", 12, "basic", 0.829628),
        ("us-vi", 27, "basic", 0.866204),
        ("us-vi", 10, "low-voltage", 0.787036),
        ("us-vi", 65, "basic", 0.880),
    ],
)
def test_minimum_average(rule, power, category, printed):
    assert_allclose(minimum_average_efficiency(rule, power, category), printed, atol=6e-6)


@pytest.mark.parametrize(
    ("power", "category", "adaptive", "printed"),
    [
        # Regulation (EU) 2025/2052, annex II, tables 2 (not adaptive) and 3 (adaptive).
        (65, "basic", True, 0.79),
        (65, "basic", False, 0.83),
        (27, "basic", True, 0.071 * np.log(27) - 0.00115 * 27 + 0.57),
        (27, "basic", False, 0.071 * np.log(27) - 0.00115 * 27 + 0.61),
        (15, "low-voltage", True, 0.0834 * np.log(15) - 0.0011 * 15 + 0.509),
        (60, "multiple-voltage", True, 0.78),
    ],
)
def test_minimum_at_ten_percent(power, category, adaptive, printed):
    found = minimum_ten_percent_efficiency("eu-2025-2052", power, category, adaptive)
    assert_allclose(found, printed, rtol=1e-9)


@pytest.mark.parametrize(
    ("rule", "power", "category", "adaptive", "printed"),
    [
        # Regulation (EU) 2019/1782, annex II 1(a).
        ("eu-2019-1782", 27, "basic", 0, 0.10),
        ("eu-2019-1782", 49, "low-voltage", 0, 0.10),
        ("eu-2019-1782", 65, "basic", 0, 0.21),
        ("eu-2019-1782", 60, "multiple-voltage", 0, 0.30),
        # Regulation (EU) 2025/2052, table 1 and its note 1 (cap of 0.300 W).
        ("eu-2025-2052", 27, "basic", 1, 0.075),
        ("eu-2025-2052", 65, "basic", 1, 0.150),
        ("eu-2025-2052", 45, "multiple-voltage", 0, 0.100),
        ("eu-2025-2052", 45, "multiple-voltage", 3, 0.075 + 2 * 0.025),
        ("eu-2025-2052", 100, "multiple-voltage", 9, 0.300),
        # 10 CFR 430.32(w), from memory; 0.100 W at 12 W is printed by a component maker.
        ("us-vi", 27, "basic", 0, 0.100),
        ("us-vi", 65, "basic", 0, 0.210),
        ("us-vi", 60, "multiple-voltage", 0, 0.300),
    ],
)
def test_no_load(rule, power, category, adaptive, printed):
    assert_allclose(maximum_no_load_power(rule, power, category, adaptive), printed, rtol=1e-9)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: minimum_ten_percent_efficiency("eu-2019-1782", 27, "basic"), "sets no"),
        (lambda: minimum_ten_percent_efficiency("us-vi", 27, "basic"), "sets no"),
        (lambda: minimum_ten_percent_efficiency("eu-2025-2052", 10, "basic"), "10"),
        (lambda: minimum_average_efficiency("eu-1999", 27, "basic"), "rule must be one of"),
        (lambda: minimum_average_efficiency("us-vi", 27, "tiny"), "category must be one of"),
        (lambda: minimum_average_efficiency("us-vi", 0, "basic"), "rated_power must"),
        (lambda: minimum_average_efficiency("eu-2019-1782", 251, "basic"), "250"),
        (lambda: efficiency(0, 1), "input_power must"),
        (lambda: efficiency(1, -1), "output_power must"),
        (lambda: average_active_efficiency([0.25, 0.5, 1.0], [0.8, 0.8, 0.8]), "75"),
        (lambda: fit_loss_curve([1, 2, 3], [1, 2, 3]), "4|four"),
        (lambda: fit_loss_curve([1, 1, 2, 2], [1, 1, 1, 1]), "three of them different"),
        (lambda: fit_loss_curve([1, 2, 3, 4], [1, 2, 3]), "shape of output_power"),
        (lambda: CURVE.loss(20.1), "at most 20 W"),
        (lambda: CURVE.loss(-0.1), "output_power must"),
        (lambda: efficiency(1, 1.01), "must not exceed"),
        (lambda: efficiency_spread([0.8]), "at least two"),
        (lambda: average_active_efficiency([0.25, 0.5, 0.75, 0.97], [0.8] * 4), "hold 1 within"),
        (lambda: average_efficiency_uncertainty([[0.1, 0.1]], [0.1]), "shape"),
        (lambda: maximum_no_load_power("us-vi", 27, "basic", -1), "adaptive_outputs must"),
        (lambda: minimum_average_efficiency("eu-2019-1782", [27, 300], "basic"), "at most 250 W"),
        (lambda: cable_loss(3, 6, "USB-C"), "rated_current must"),
        (lambda: cable_loss(3, 3, "barrel"), "connector must be one of"),
        (lambda: permitted_power_uncertainty(1, edition=3), "edition must"),
        (lambda: permitted_power_uncertainty(1, edition=2), "current_ratio is missing"),
        (lambda: rule_supply("tea"), "rule must be one of"),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()


@pytest.mark.parametrize(
    ("volts", "amperes", "category"),
    [(5, 0.5, "basic"), (5, 0.55, "low-voltage"), (5.9, 3, "low-voltage"), (6.0, 3, "basic")],
)
def test_low_voltage(volts, amperes, category):
    """Regulation (EU) 2019/1782, article 2(2): below 6 V and at least 550 mA."""
    assert nameplate_category(volts, amperes) == category


def test_supplies_of_the_rules():
    """EU 2019/1782 article 1: 230 V 50 Hz; 10 CFR 430 subpart B appendix Z, 4(c): 115 V 60 Hz."""
    supplies = {rule: rule_supply(rule) for rule in ("eu-2019-1782", "eu-2025-2052", "us-vi")}
    assert {(s.voltage, s.frequency) for s in supplies.values()} == {(230, 50), (115, 60)}
    assert (supplies["us-vi"].voltage, supplies["us-vi"].frequency) == (115, 60)


def test_cable():
    """Regulation (EU) 2025/2052, table 8 and annex IV 3(a): 0.130 ohm up to 3 A: 1.17 W at 3 A."""
    assert_allclose(cable_loss(3.0, 3.0, "USB-C"), 1.17, rtol=1e-9)
    assert_allclose(cable_loss(5.0, 5.0, "USB-C"), 2.5, rtol=1e-9)


def test_lead_of_other_connectors():
    """1 m of 0.519 mm² there and back: 2/(58 · 0.519) = 0.066441 ohm; IEC 60028 from memory."""
    assert_allclose(cable_loss(1.0, 2.4, "other"), 0.066441, atol=1e-6)


def test_derating():
    """10 CFR 430 subpart B appendix Z, 5(a)(1)(iv): 65 W over 20 V 3.25 A and 5 V 2.4 A."""
    assert_allclose(derating_factor(65, [20 * 3.25, 5 * 2.4]), 65 / 77, rtol=1e-12)


def test_power_meter_allowance():
    """IEC 62301, edition 2, 4.4.1 (from memory): 0.02 W below 1 W at ratios up to 10."""
    assert_allclose(permitted_power_uncertainty(0.5, 8.0, edition=2), 0.02, rtol=1e-9)
    assert_allclose(permitted_power_uncertainty(5.0, 60.0, edition=2), 0.5, rtol=1e-9)
    assert_allclose(permitted_power_uncertainty(0.075, 60.0, edition=2), 0.02, rtol=1e-9)


def test_power_meter_allowance_of_the_first_edition():
    """IEC 62301:2005: 2 % from 0.5 W on, 0.01 W below; at 0.5 W both are the same."""
    found = permitted_power_uncertainty([0.075, 0.499, 0.5, 2.0])
    assert_allclose(found, [0.01, 0.01, 0.01, 0.04], rtol=1e-9)


def test_normalised_inverter_curve_is_a_three_term_loss():
    """PVWatts version 5 manual, NREL/TP-6A20-62641: efficiency -0.0162 z - 0.0059/z + 0.9858.

    Loss over rated input: 0.0059 + 0.0142 z + 0.0162 z^2 of the *input* share z. Held against
    the fit by giving it points of that very polynomial.
    """
    share = np.linspace(0.1, 1, 12)
    curve = fit_loss_curve(share, 0.0059 + (1 - 0.9858) * share + 0.0162 * share**2)
    assert_allclose(
        [curve.fixed, curve.proportional, curve.quadratic], [0.0059, 0.0142, 0.0162], rtol=1e-6
    )


def test_printed_output_of_the_inverter_model():
    """pvlib, tests/test_inverter.py, after the same manual: 90 W and 50 W into a 100 W inverter."""
    share = np.array([0.1, 0.25, 0.5, 0.75, 0.9, 1.0])
    given = (0.95 / 0.9637) * (-0.0162 * share**2 - 0.0059 + 0.9858 * share)
    assert_allclose(given[[4, 2]] * 100, [85.58556604752516, 47.60843624], atol=5e-9)
    # In terms of the output the loss is not exactly quadratic, yet three terms come close.
    curve = fit_loss_curve(given, share - given)
    assert_allclose(curve.efficiency(given) * share, given, rtol=2e-4)


@given(st.floats(0.01, 2), st.floats(0, 0.3), st.floats(0, 0.01), st.floats(0.3, 2), st.booleans())
def test_fit_returns_what_made_the_points(fixed, proportional, quadratic, scale, weighted):
    """Round trip; and at the best point the fixed and the quadratic loss are the same."""
    power = scale * np.array([1.0, 4.0, 10.0, 20.0, 30.0])
    loss = fixed + proportional * power + quadratic * power**2
    spread = np.linspace(0.001, 0.01, 5) if weighted else None
    curve = fit_loss_curve(power, loss, loss_uncertainty=spread)
    assert_allclose(curve.loss(power), loss, rtol=1e-9)
    assert_allclose([curve.fixed, curve.proportional], [fixed, proportional], atol=1e-8)
    best = np.sqrt(fixed / quadratic) if quadratic > 1e-6 else np.inf
    if power[0] < best < power[-1]:
        around = curve.efficiency(best * np.array([0.99, 1.0, min(1.01, power[-1] / best)]))
        assert around[1] == pytest.approx(around.max(), abs=1e-12)
        assert_allclose(1 / around[1], 1 + proportional + 2 * np.sqrt(fixed * quadratic), rtol=1e-6)


def test_covariance_against_simulated_meters():
    """Independent: refit 4000 times with a gain error, an offset and rounding drawn afresh."""
    rng = np.random.default_rng(3)
    power = np.array([1.5, 4.0, 8.0, 12.0, 15.0])
    loss = 0.5 + 0.08 * power + 0.003 * power**2
    gain, offset, rounding = 1e-3 * (power + loss), np.full(5, 0.02), np.full(5, 0.003)
    refits = []
    for _ in range(4000):
        drawn = loss + gain * rng.normal() + offset * rng.normal() + rounding * rng.normal(size=5)
        refits.append(np.polyfit(power, drawn, 2)[::-1])
    curve = fit_loss_curve(
        power, loss, loss_uncertainty=rounding, shared_uncertainty=[gain, offset]
    )
    assert_allclose(np.sqrt(np.diag(curve.covariance)), np.std(refits, axis=0), rtol=0.05)
    assert_allclose(np.corrcoef(np.transpose(refits))[0, 1], _correlation(curve)[0, 1], atol=0.05)


def _correlation(curve):
    spread = np.sqrt(np.diag(curve.covariance))
    return curve.covariance / np.outer(spread, spread)


def test_fit_against_numpy():
    """Independent: numpy.polyfit on the printed table above, covariance scaled by residuals."""
    volts, milliamperes, milliwatts, _ = TABLE.T
    output = volts * milliamperes / 1e3
    loss = milliwatts / 1e3 - output
    found = fit_loss_curve(output, loss)
    coefficients, covariance = np.polyfit(output, loss, 2, cov=True)
    assert_allclose([found.quadratic, found.proportional, found.fixed], coefficients, rtol=1e-7)
    assert_allclose(found.covariance[::-1, ::-1], covariance, rtol=1e-5)
    assert_allclose(found.loss(output), np.polyval(coefficients, output), rtol=1e-9)
    assert_allclose(found.efficiency(output), output / (output + found.loss(output)), rtol=1e-9)


def test_spread_against_numpy():
    values = TABLE[:, 3] / 100
    found = efficiency_spread(values)
    assert (found.lowest, found.highest) == (values.min(), values.max())
    assert_allclose(
        [found.range, found.mean, found.standard_deviation],
        [np.ptp(values), values.mean(), values.std(ddof=1)],
        rtol=1e-12,
    )


def test_average_is_the_mean_of_four_points():
    """Appendix Z, 5(a)(1)(vi): arithmetic mean; a 10 % point beside them does not count."""
    loads, values = [1.0, 0.749, 0.51, 0.25, 0.1], [0.90, 0.89, 0.87, 0.82, 0.7]
    assert_allclose(average_active_efficiency(loads, values), (0.90 + 0.89 + 0.87 + 0.82) / 4)


def test_one_meter_for_four_points_does_not_average_its_error_away():
    """JCGM 100:2008, 5.2.2 note 1: fully correlated inputs add linearly, independent ones don't."""
    constant, noise = 0.002, 0.004
    found = average_efficiency_uncertainty(np.full((1, 4), constant), np.full(4, noise))
    assert_allclose(found, np.hypot(constant, noise / 2), rtol=1e-12)


@given(st.floats(1.001, 49), st.floats(1.001, 1.2))
def test_limits_rise_with_power(power, factor):
    higher = min(power * factor, 49.0)
    for rule in ("eu-2019-1782", "eu-2025-2052", "us-vi"):
        for category in ("basic", "low-voltage", "multiple-voltage"):
            low = minimum_average_efficiency(rule, power, category)
            assert low <= minimum_average_efficiency(rule, higher, category) + 1e-12


@given(st.floats(0.01, 250), st.sampled_from(["basic", "low-voltage", "multiple-voltage"]))
def test_the_us_level_is_that_of_the_european_rule(power, category):
    """The efficiency figures up to 250 W are the same: how the recalled ones are corroborated."""
    american = minimum_average_efficiency("us-vi", power, category)
    assert american == minimum_average_efficiency("eu-2019-1782", power, category)
    assert 0 < american < 1


def test_shapes_and_types():
    assert type(CURVE.loss(3)) is float
    assert type(CURVE.efficiency(3)) is float
    assert CURVE.loss([[1, 2], [3, 4]]).shape == (2, 2)
    assert CURVE.loss_uncertainty([1, 2, 3]).shape == (3,)
    assert type(average_active_efficiency([0.25, 0.5, 0.75, 1], [0.8] * 4)) is float
    assert average_active_efficiency([0.25, 0.5, 0.75, 1], np.full((3, 4), 0.8)).shape == (3,)
    assert nameplate_category(5, [0.5, 3]).tolist() == ["basic", "low-voltage"]
    assert type(cable_loss(1, 1, "USB-C")) is float
    assert type(efficiency(10.0, 9.0)) is float
    assert type(minimum_average_efficiency("us-vi", 27, "basic")) is float
    assert minimum_average_efficiency("us-vi", [[5], [60]], "basic").shape == (2, 1)
