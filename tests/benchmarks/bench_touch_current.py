"""How fast the touch current is worked out, beside the circuit simulator and plain loops.

python -m pytest tests/benchmarks/bench_touch_current.py -p no:nbval --benchmark-enable
"""

import shutil
import subprocess

import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import ROOT
from scipy import stats

from adapterlab.assess.touch_current import assess
from adapterlab.dossier import read_dossier
from adapterlab.touch_current import (
    infer_barrier_capacitance,
    open_circuit_voltage,
    rail_waveform,
)
from adapterlab.uncertainty import propagate

NETLISTS = ROOT / "tests" / "netlists"
DRAWS = 100_000
WAYS = ["adapterlab", "ngspice"]


def ngspice(name):
    if not shutil.which("ngspice"):
        pytest.skip("ngspice is not installed")
    command = ["ngspice", "-b", f"{name}.cir"]
    subprocess.run(command, cwd=NETLISTS, check=True, capture_output=True, timeout=60)


def loaded():
    return rail_waveform(1.5e-9, 230, 50, bridge_drop=0.6, bulk_capacitance=22e-6, load_power=25)


@pytest.mark.benchmark(group="one waveform to its periodic state, no load")
@pytest.mark.parametrize("way", WAYS)
def test_waveform(benchmark, way):
    if way == "ngspice":
        benchmark.pedantic(ngspice, args=("touch_current_bridge",), rounds=5)
    else:
        benchmark(rail_waveform, 1.5e-9, 230, 50, bridge_drop=0.6)


@pytest.mark.benchmark(group="one waveform to its periodic state, 25 W (both within 0.1 %)")
@pytest.mark.parametrize("way", WAYS)
def test_loaded_waveform(benchmark, way):
    if way == "ngspice":
        benchmark.pedantic(ngspice, args=("touch_current_load",), rounds=5)
    else:
        wave = benchmark(loaded)
        fine = rail_waveform(
            1.5e-9, 230, 50, bridge_drop=0.6, bulk_capacitance=22e-6, load_power=25, points=32768
        )
        assert_allclose(wave.indicated_rms, fine.indicated_rms, rtol=1e-4)


@pytest.mark.benchmark(group="two voltmeters in their periodic state")
@pytest.mark.parametrize("way", WAYS)
def test_voltmeter(benchmark, way):
    if way == "ngspice":
        benchmark.pedantic(ngspice, args=("touch_current_meter",), rounds=5)
    else:
        benchmark(open_circuit_voltage, 1.5e-9, 230, 50, meter_resistance=[10e6, 1e6])


@pytest.mark.benchmark(group="a hundred waveforms")
@pytest.mark.parametrize("way", ["together", "one by one"])
def test_many_waveforms(benchmark, way):
    capacitances = np.linspace(0.5e-9, 5e-9, 100)
    if way == "together":
        benchmark(rail_waveform, capacitances, 230, 50)
    else:
        benchmark.pedantic(lambda: [rail_waveform(c, 230, 50) for c in capacitances], rounds=3)


@pytest.mark.benchmark(group="100 000 draws of the inference (aim: 0.1 s)")
@pytest.mark.parametrize("way", ["arrays", "propagate"])
def test_inference(benchmark, way):
    inputs = {
        "touch_current": stats.norm(87e-6, 1e-6),
        "mains_voltage": stats.norm(230, 0.2),
        "mains_frequency": stats.norm(50, 0.01),
    }
    if way == "arrays":
        drawn = {name: law.rvs(DRAWS, random_state=1) for name, law in inputs.items()}
        benchmark(lambda: infer_barrier_capacitance(**drawn))
    else:
        benchmark(
            lambda: propagate(
                lambda **drawn: infer_barrier_capacitance(**drawn).capacitance, inputs, DRAWS
            )
        )


@pytest.mark.benchmark(group="the whole section on a dossier (aim: 1.5 s)")
def test_assess(benchmark):
    benchmark(assess, read_dossier(ROOT / "data" / "demo" / "birch-60"))
