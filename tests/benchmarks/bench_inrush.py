"""How fast the plug-in surge is, beside ngspice and scipy's general solver in the same run.

Not collected by the ordinary test run:

    python -m pytest tests/benchmarks/bench_inrush.py -p no:nbval --benchmark-enable

Each way is first held to 0.5 % of a reference in peak, I²t and bulk voltage; its step and tolerance
are the largest that keep to that. The time of ngspice includes its start, which is a group of its own.
"""

import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest
from places import NETLISTS
from scipy import stats
from surge_solver import Case, by_solver

from adapterlab.inrush import SurgePath, Thermistor, fit_surge, plug_in_surge, worst_phase
from adapterlab.numerics.mains import Mains
from adapterlab.uncertainty import Estimate

CREST = Case((230, 50, 90), (107e-6, 0.8, 10e-6, 0.45, 1.5, 0.06), (8.4, 2900, 0.75, 0.014))
LOADED = replace(CREST, load=(40.0, 0.02))
LOAD = "Bl pb n I=(time >= 0.02 ? 40/max(v(pb)-v(n),60) : 0)\n"
_RESULT = re.compile(r"^(peak|heat|bulk_end)\s*=\s*([-+.\deE]+)", re.MULTILINE)


def netlist(folder, loaded):
    """The netlist of the tests for 100 ms, steps of at most 100 µs, default tolerances."""
    text = (NETLISTS / "inrush_surge_crest.cir").read_text(encoding="utf-8")
    text = text.replace(".tran 2u 0.02 0 2u UIC", ".tran 100u 0.1 0 100u UIC")
    text = text.replace("reltol=1e-4 abstol=1e-6", "abstol=1e-6").replace("=0.02\n", "=0.1\n")
    text = text.replace("AT=0.019998", "AT=0.09999")
    if loaded:
        text = text.replace("Rn n 0 1e9\n", f"Rn n 0 1e9\n{LOAD}")
    path = folder / "surge.cir"
    path.write_text(text, encoding="utf-8")
    return path


def by_ngspice(path):
    output = subprocess.run(
        ["ngspice", "-b", path.name],
        cwd=path.parent,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    ).stdout
    found = {name: float(value) for name, value in _RESULT.findall(output)}
    return found["peak"], found["heat"], found["bulk_end"]


def by_kit(case):
    surge = case.surge(duration=0.1)
    return surge.peak_current, surge.i_squared_t, surge.bulk_voltage[-1]


def by_scipy(case):
    _, flow, state = by_solver(replace(case, duration=0.1), 1e-4, 2)
    return np.abs(flow).max(), state[3], state[1]


@pytest.fixture(scope="module")
def references():
    fine = {}
    for name, case in (("empty", CREST), ("loaded", LOADED)):
        _, flow, state = by_solver(replace(case, duration=0.1))
        fine[name] = np.abs(flow).max(), state[3], state[1]
    return fine


@pytest.mark.parametrize("load", ["empty", "loaded"])
@pytest.mark.parametrize("way", ["adapterlab", "ngspice", "scipy solve_ivp"])
def test_one_surge_of_100_ms(benchmark, tmp_path, references, way, load):
    benchmark.group = f"one surge of 100 ms, {load}"
    case = LOADED if load == "loaded" else CREST
    if way == "ngspice":
        if not shutil.which("ngspice"):
            pytest.skip("ngspice is not installed")
        found = benchmark.pedantic(
            by_ngspice, args=(netlist(tmp_path, load == "loaded"),), rounds=15, warmup_rounds=2
        )
    else:
        function = by_kit if way == "adapterlab" else by_scipy
        rounds = 60 if way == "adapterlab" else 5
        found = benchmark.pedantic(function, args=(case,), rounds=rounds, warmup_rounds=2)
    np.testing.assert_allclose(found, references[load], rtol=5e-3)


@pytest.mark.benchmark(group="what ngspice takes to start and stop")
def test_start_of_ngspice(benchmark, tmp_path):
    if not shutil.which("ngspice"):
        pytest.skip("ngspice is not installed")
    path = tmp_path / "nothing.cir"
    path.write_text("Nothing\nV1 a 0 1\nR1 a 0 1\n.tran 1 1\n.end\n", encoding="utf-8")
    command = ["ngspice", "-b", path.name]
    run = {"cwd": tmp_path, "capture_output": True, "check": False}
    benchmark.pedantic(subprocess.run, args=(command,), kwargs=run, rounds=15, warmup_rounds=2)


@pytest.mark.benchmark(group="10 000 surges, first half cycle, phase and tolerances drawn")
def test_many_surges(benchmark):
    draws = stats.qmc.Sobol(4, rng=1).random(2**14)[:10_000].T
    disc = Thermistor(6.7 + 3.4 * draws[0], 2800 + 200 * draws[1], 0.75, 0.014)

    def many():
        return plug_in_surge(
            230, 50, 360 * draws[2], 107e-6 * (0.8 + 0.4 * draws[3]), 0.8, 10e-6, 0.45, 1.5, 0.06,
            thermistor=disc, duration=0.01,
        ).peak_current  # fmt: skip

    assert benchmark.pedantic(many, rounds=5).shape == (10_000,)


@pytest.mark.benchmark(group="worst phase of one circuit")
def test_worst_phase(benchmark):
    benchmark(
        worst_phase,
        mains_voltage=230,
        mains_frequency=50,
        bulk_capacitance=107e-6,
        series_resistance=1.3,
        source_inductance=10e-6,
        thermistor=Thermistor(8.4, 2900, 0.75, 0.014),
    )


@pytest.mark.benchmark(group="fit of a capture of 4000 samples, phase known")
def test_fit(benchmark):
    when, flow, _ = by_solver(CREST)
    time = np.arange(4180) * 5e-6 - 1e-3
    noise = 0.08 * np.random.default_rng(1).standard_normal(len(time))
    seen = np.interp(time - 2.3e-6, when, flow, left=0) + noise
    disc = Thermistor(8.0, 2900, 0.75, 0.014)
    path = SurgePath(
        Mains(230, 50),
        phase=Estimate(90, 2.0),
        thermistor=disc,
        other_resistance=Estimate(1.3),
        bridge_drop=Estimate(1.5),
    )
    benchmark(fit_surge, time, seen, path)
