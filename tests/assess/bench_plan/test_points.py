"""The bench plan: published procedure, propagation by hand, the plan of every demo adapter."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import DEMO

from adapterlab.assess import bench_plan as section
from adapterlab.assess.bench_plan.points import plan_of, with_combinations
from adapterlab.dossier import read_dossier

NAMES = ["alder-27", "birch-60", "cedar-65", "dogwood-18"]


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
    parts = np.array([list(item.parts.values()) for item in result.budgets])
    assert_allclose(budget["together"], np.sqrt((parts**2).sum(axis=1)), rtol=1e-9)


def test_points_in_the_sweep_count_as_taken():
    result = section.assess(read_dossier(DEMO / "alder-27"))
    taken = result.table[result.table["measured"]]
    assert {"EU 2019/1782", "EU 2025/2052", "US level VI"} <= set(
        ", ".join(taken["purposes"]).split(", ")
    )


def test_what_meters_must_do_reaches_the_aim():
    """With errors just at the limits that `meter_needs` allows, the aim is met by hand."""
    needs = section.assess(read_dossier(DEMO / "birch-60")).needs(0.005).set_index("quantity")
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
