"""Standing among 100 000 peers, beside scipy's percentiles of the same numbers.

python -m pytest tests/benchmarks/bench_standing.py -p no:nbval --benchmark-enable
"""

import numpy as np
import pytest
from scipy import stats

from adapterlab.dossier.peers import read_peers
from adapterlab.standing import (
    percentile_interval,
    percentile_rank,
    rank_probability,
    robust_z_score,
)

PEERS = np.random.default_rng(5).normal(size=(8, 100_000))


def everything():
    for peers in PEERS:
        percentile_rank(0.3, peers)
        robust_z_score(0.3, peers)
        percentile_interval(0.3, 0.01, peers)
        rank_probability(0.3, 0.01, peers)


def percentiles_by_scipy():
    for peers in PEERS:
        stats.percentileofscore(peers, 0.3, kind="mean")
        stats.median_abs_deviation(peers)


@pytest.mark.benchmark(group="100 000 peers, 8 figures")
@pytest.mark.parametrize("way", [everything, percentiles_by_scipy])
def test_standing(benchmark, way):
    benchmark.pedantic(way, rounds=5)


@pytest.mark.benchmark(group="reading 100 000 peers")
@pytest.mark.parametrize("way", ["adapterlab", "numpy.genfromtxt"])
def test_reading(benchmark, tmp_path, way):
    path = tmp_path / "peers.csv"
    rows = ["name,rated_power_w,average_efficiency,no_load_power_mw,ripple_pp_mv,mass_g"]
    rows += [f"p{i},20,0.{8000 + i % 999},{i % 97},{i % 89},{50 + i % 31}" for i in range(100_000)]
    path.write_text("\n".join(rows), encoding="utf-8")
    if way == "adapterlab":
        benchmark.pedantic(read_peers, args=(path,), rounds=2)
    else:
        benchmark.pedantic(np.genfromtxt, args=(path,), rounds=2,
                           kwargs={"delimiter": ",", "skip_header": 1})  # fmt: skip
