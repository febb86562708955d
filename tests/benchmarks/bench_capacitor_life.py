"""How fast lives and heat are, beside an independent way to do the same in the same run.

Not collected by the ordinary test run:

    python -m pytest tests/benchmarks/bench_capacitor_life.py -p no:nbval --benchmark-enable
"""

import numpy as np
import pytest
from places import DEMO
from scipy.optimize import brentq

from adapterlab.assess import capacitor_life as section
from adapterlab.assess.capacitor_life.lives import Population, table_of
from adapterlab.dossier import read_dossier
from adapterlab.thermal.case import box_heat_flow, case_temperatures

BOX = (0.068, 0.062, 0.029)


@pytest.fixture(scope="module")
def assessed():
    return section.assess(read_dossier(DEMO / "birch-60"))


@pytest.mark.benchmark(group="lives of all capacitors of an adapter, 2048 draws (bound 0.3 s)")
@pytest.mark.parametrize("way", ["adapterlab", "numpy random draws"])
def test_lives(benchmark, assessed, way):
    def plainly():
        rng, count = np.random.default_rng(1), 2048
        lives = []
        for case in assessed.cases:
            around = rng.normal(70, 1.5, count) - rng.uniform(0, 5, count)
            interval = rng.uniform(8, 12, count)
            lives.append(2000 * 2 ** ((case.rated_temperature - around) / interval))
        return np.quantile(lives, [0.025, 0.5, 0.975], axis=1)

    if way == "adapterlab":
        benchmark.pedantic(
            lambda: table_of(Population(assessed.cases, assessed.heat)), rounds=7, warmup_rounds=1
        )
        assert benchmark.stats["median"] < 0.3
    else:
        benchmark.pedantic(plainly, rounds=7, warmup_rounds=1)


@pytest.mark.benchmark(group="case temperature on a grid of 100 x 100 (bound 1 s)")
@pytest.mark.parametrize("way", ["adapterlab", "scipy brentq, a hundredth of it"])
def test_grid(benchmark, way):
    loss, ambient = np.linspace(0.1, 10, 100), np.linspace(-10, 40, 100)

    def excess(case, watts, room):
        return 0.9 * box_heat_flow(case, room, *BOX).total - watts

    def one_by_one():
        return [
            brentq(excess, room, 150, args=(watts, room))
            for watts in loss[::10]
            for room in ambient[::10]
        ]

    if way == "adapterlab":
        benchmark.pedantic(case_temperatures, args=(loss[:, None], ambient, *BOX), rounds=7)
        assert benchmark.stats["median"] < 1.0
    else:
        benchmark.pedantic(one_by_one, rounds=3)
