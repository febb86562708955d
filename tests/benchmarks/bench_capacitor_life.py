"""How fast lives and heat are, beside an independent way to do the same in the same run.

Not collected by the ordinary test run:

    python -m pytest tests/benchmarks/bench_capacitor_life.py -p no:nbval --benchmark-enable
"""

import numpy as np
import pytest
from adapterlab.assess.capacitor_life.draws import lives_of
from places import DEMO
from scipy.optimize import brentq

from adapterlab.assess import capacitor_life as section
from adapterlab.dossier import read_dossier
from adapterlab.thermal.case import box_heat_flow, case_temperatures

BOX = (0.068, 0.062, 0.029)


@pytest.fixture(scope="module")
def cases():
    return section.assess(read_dossier(DEMO / "birch-60")).cases


@pytest.mark.benchmark(group="lives of all capacitors of an adapter, 100 000 draws (bound 0.3 s)")
@pytest.mark.parametrize("way", ["adapterlab", "numpy random draws"])
def test_lives(benchmark, cases, way):
    def plainly():
        rng, count = np.random.default_rng(1), 100_000
        interval = rng.uniform(8, 12, count)
        lives = []
        for case in cases:
            warm = rng.normal(case.temperature, case.temperature_uncertainty, count)
            around = warm - case.widest_rise / rng.uniform(1.0, 1.6, count)
            lives.append(case.base_life * 2 ** ((case.rated_temperature - around) / interval))
        return np.quantile(lives, [0.025, 0.5, 0.975], axis=1)

    if way == "adapterlab":
        benchmark.pedantic(lives_of, args=(cases, 100_000), rounds=7, warmup_rounds=1)
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
