"""The bench plan: published procedure, propagation by hand, the plan of every demo adapter."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from places import DEMO
from scipy import stats

from adapterlab.assess import bench_plan as section
from adapterlab.assess.bench_plan.points import plan_of, with_combinations
from adapterlab.bench_plan import (
    coarsest_resolution,
    expected_input,
    input_drift,
    is_steady,
    ratio_uncertainty,
    smallest_difference,
)
from adapterlab.dossier import read_dossier
from adapterlab.uncertainty import propagate

NAMES = ["alder-27", "birch-60", "cedar-65", "dogwood-18"]


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


# --- the plan ---


def currents(points, supply, purpose, loading):
    return [
        tuple(round(value, 4) for value in point.currents.values())
        for point in points
        if (point.mains_voltage, point.loading) == (supply, loading) and purpose in point.purposes
    ]


def test_plan_of_one_port_by_hand():
    """alder-27: 5 V 3 A, 9 V 3 A, 12 V 2.25 A; loads worked out by hand from the rules' texts."""
    points = plan_of(read_dossier(DEMO / "alder-27").adapter)
    # Regulation (EU) 2019/1782, Annex II, 2(b): every fixed voltage, nameplate current.
    assert currents(points, 230, "EU 2019/1782", "5 V") == [(3,), (2.25,), (1.5,), (0.75,), (0.3,)]
    assert currents(points, 230, "EU 2019/1782", "9 V") == [(3,), (2.25,), (1.5,), (0.75,), (0.3,)]
    # Regulation (EU) 2025/2052, Annex II, 1(h), (i), note 2: ends only; 2 A counts at 5 V, but
    # the 10 % point keeps the nameplate's current.
    assert currents(points, 230, "EU 2025/2052", "5 V") == [(2,), (1.5,), (1,), (0.5,), (0.3,)]
    assert currents(points, 230, "EU 2025/2052", "9 V") == []
    assert currents(points, 230, "EU 2025/2052", "12 V") == [
        (2.25,), (1.6875,), (1.125,), (0.5625,), (0.225,)
    ]  # fmt: skip
    # Appendix Z, 6(a): 115 V, 2, 1.5, 1 and 0.5 A at the lowest voltage, no 10 % point.
    assert currents(points, 115, "US level VI", "5 V") == [(2,), (1.5,), (1,), (0.5,)]


def test_points_come_once_and_from_full_load_downwards():
    points = plan_of(read_dossier(DEMO / "birch-60").adapter)
    seen = {
        (p.mains_voltage, p.key, tuple(round(c, 3) for c in p.currents.values())) for p in points
    }
    assert len(seen) == len(points)
    assert [point.number for point in points] == list(range(1, len(points) + 1))
    for loading in {(p.mains_voltage, p.loading) for p in points}:
        powers = [p.output_power for p in points if (p.mains_voltage, p.loading) == loading]
        assert powers == sorted(powers, reverse=True)


def test_silent_label_is_reduced_in_proportion(tmp_path):
    """10 CFR 430 subpart B, appendix Z, 5(a)(1)(iv): D = P / sum(V I), here 65 / 77 = 0.844156."""
    (tmp_path / "adapter.toml").write_text(
        '[nameplate]\nname = "x"\nrated_power = "65 W"\n'
        '[[ports]]\nname = "C"\nconnector = "USB-C"\n'
        'modes = [{ name = "20 V", voltage = "20 V", current = "3.25 A" }]\n'
        '[[ports]]\nname = "A"\nconnector = "USB-A"\n'
        'modes = [{ name = "5 V", voltage = "5 V", current = "2.4 A" }]\n'
    )
    dossier = read_dossier(tmp_path)
    (combination,) = with_combinations(dossier.adapter).combinations
    assert_allclose(
        [out.current for out in combination.outputs], [0.844156 * 3.25, 0.844156 * 2.4], atol=6e-4
    )
    assert combination.total_power == pytest.approx(65, abs=0.02)
    assert any("in proportion" in text for text in section.assess(dossier).conditions)


@pytest.mark.parametrize("name", NAMES)
def test_demo_plans(name):
    result = section.assess(read_dossier(DEMO / name))
    assert len(result.table) == len(result.points) > 0
    assert len(result.findings) >= 3
    budget = result.budget.astype(float)
    parts = budget[[*section.METERS, "rounding"]].to_numpy()
    assert_allclose(budget["together"], np.sqrt((parts**2).sum(axis=1)), rtol=1e-9)
    assert (budget["same meters"] < budget["other meters"]).all()
    assert_allclose(budget["other meters"], 1.959964 * np.sqrt(2) * budget["together"], rtol=1e-6)


def test_points_in_the_sweep_count_as_taken():
    result = section.assess(read_dossier(DEMO / "alder-27"))
    taken = result.table[result.table["measured"]]
    assert {"EU 2019/1782", "EU 2025/2052", "US level VI"} <= set(
        ", ".join(taken["purposes"]).split(", ")
    )


def test_what_meters_must_do_reaches_the_aim():
    """With errors just at the limits that `meter_needs` allows, the aim is met by hand."""
    points = plan_of(read_dossier(DEMO / "birch-60").adapter)
    needs = section.meter_needs(points, 0.005).set_index("quantity")
    variance = 0.0
    for row in needs.itertuples():
        variance += (row.accuracy / np.sqrt(3)) ** 2 + (
            row.resolution / np.sqrt(12) / row.least
        ) ** 2
    assert 1.959964 * np.sqrt(variance) == pytest.approx(0.005, rel=1e-5)


def test_without_ports_nothing_is_planned(tmp_path):
    (tmp_path / "adapter.toml").write_text('[nameplate]\nname = "x"\nrated_power = "18 W"\n')
    result = section.assess(read_dossier(tmp_path))
    assert [finding.word for finding in result.findings] == ["not measured"]
    assert result.table.empty
