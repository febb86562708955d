"""How fast the kit is, beside an independent way to do the same in the same run.

Not collected by the ordinary test run. Each group holds the kit's way and another one; the table
that pytest-benchmark prints gives their ratio in brackets:

    python -m pytest tests/benchmarks/bench_speed.py -p no:nbval --benchmark-enable
"""

import subprocess
import sys

import numpy as np
import pytest
from places import DEMO
from scipy import stats
from scipy.integrate import solve_ivp

from adapterlab.dossier.records import read_record
from adapterlab.dossier.schema import Capture, Channel
from adapterlab.flyback import operating_point
from adapterlab.inrush import crest_surge_current
from adapterlab.touch_current import body_network, indicated_current
from adapterlab.uncertainty import propagate


def python(code):
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.benchmark(group="import")
@pytest.mark.parametrize("code", ["import numpy", "import adapterlab"])
def test_import(benchmark, code):
    benchmark.pedantic(python, args=(code,), rounds=9)


@pytest.mark.benchmark(group="a capture of a million rows")
@pytest.mark.parametrize("way", ["adapterlab", "numpy.loadtxt"])
def test_capture(benchmark, tmp_path, way):
    path = tmp_path / "c.csv"
    rows = np.column_stack([np.arange(1_000_000) * 1e-8, np.sin(np.arange(1_000_000) / 1e4)])
    np.savetxt(path, rows, delimiter=",", header="time,CH1", fmt="%.8e")
    capture = Capture(
        kind="plug-in", file="c.csv", channels=[Channel(column=2, quantity="current")]
    )
    if way == "adapterlab":
        benchmark.pedantic(read_record, args=(path, capture), rounds=3)
    else:
        benchmark.pedantic(np.loadtxt, args=(path,), kwargs={"delimiter": ","}, rounds=3)


@pytest.mark.benchmark(group="body network at a million frequencies, beside ten copies in memory")
@pytest.mark.parametrize("way", ["adapterlab", "numpy copy"])
def test_network(benchmark, way):
    frequency = np.logspace(1, 6, 1_000_000)
    if way == "adapterlab":
        benchmark(body_network, frequency)
    else:
        benchmark(lambda: [frequency.copy() for _ in range(10)])


@pytest.mark.benchmark(group="uncertainty of a power to three digits")
@pytest.mark.parametrize("way", ["adapterlab", "numpy random draws"])
def test_propagation(benchmark, way):
    inputs = {"voltage": stats.norm(230, 1.15), "current": stats.norm(0.1, 0.001)}

    def random_draws():
        rng = np.random.default_rng(1)
        count = 1_000_000
        return (rng.normal(230, 1.15, count) * rng.normal(0.1, 0.001, count)).std()

    if way == "adapterlab":
        benchmark(propagate, lambda voltage, current: voltage * current, inputs)
    else:
        benchmark(random_draws)


@pytest.mark.benchmark(group="plug-in surge at the crest, 2000 instants")
@pytest.mark.parametrize("way", ["adapterlab", "scipy solve_ivp"])
def test_surge(benchmark, way):
    time = np.linspace(0, 4e-3, 2000)
    angular = 2 * np.pi * 50

    def rate(instant, charge):
        return [(325.27 * np.cos(angular * instant) - charge[0] / 47e-6) / 9.0]

    def general():
        return solve_ivp(rate, (0, 4e-3), [0.0], t_eval=time, rtol=1e-8, atol=1e-10)

    if way == "adapterlab":
        benchmark(crest_surge_current, time, 230, 50, 9.0, 47e-6)
    else:
        benchmark(general)


@pytest.mark.benchmark(group="weighted touch current of a thousand capacitors")
def test_indicated(benchmark):
    benchmark(indicated_current, np.linspace(1e-10, 1e-8, 1000), 230, 50, "bridge-with-reservoir")


@pytest.mark.benchmark(group="a million operating points, beside ten copies in memory")
@pytest.mark.parametrize("way", ["adapterlab", "numpy copy"])
def test_operating_points(benchmark, way):
    voltage = np.linspace(90, 375, 1_000_000)
    if way == "adapterlab":
        benchmark.pedantic(operating_point, args=(voltage, 20, 3, 4.5, 300e-6, 85e3), rounds=5)
    else:
        benchmark(lambda: [voltage.copy() for _ in range(10)])


@pytest.mark.benchmark(group="a whole review")
@pytest.mark.parametrize("name", ["alder-27", "birch-60", "cedar-65", "dogwood-18"])
def test_review(benchmark, tmp_path, name):
    command = [sys.executable, "-m", "adapterlab.kit.cli", "review", str(DEMO / name)]
    benchmark.pedantic(
        subprocess.run,
        args=([*command, "--out", str(tmp_path / "out")],),
        kwargs={"check": True, "capture_output": True},
        rounds=1,
    )
