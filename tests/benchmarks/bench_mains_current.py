"""The rectifier beside a circuit simulator and scipy's general solver, all to 0.5 %.

Not collected by the ordinary test run. The ratios of the medians are in the table's brackets:

    python -m pytest tests/benchmarks/bench_mains_current.py -p no:nbval --benchmark-enable

The other two settle over 20 periods from a full capacitor, as they must where the steady state is
not known; their steps are as coarse as 0.5 % on rms current, power and valley allows.
"""

import re
import shutil
import subprocess
import tracemalloc

import numpy as np
import pytest
from rectifier_ivp import settle

from adapterlab.mains_current import rectifier_steady_state

CASE = (230.0, 50.0, 63.0, 107e-6, 1.35, 10e-6, 0.45, 1.5, 0.06)
NETLIST = """rectifier, 20 periods
Vs s n SIN(0 325.269119 50)
Vm s a 0
Rs a b 1.35
Ls b c 10u
D1 c p sharp
D2 n p sharp
D3 0 c sharp
D4 0 n sharp
.model sharp D(IS=1e-12 N=0.05)
Vd p q 1.5
Rd q t 0.06
Re t k 0.45
Cb k 0 107u IC=323.77
Rn n 0 1e9
Rc c 0 1e9
Bl t 0 I = 63 / max(V(t), 30)
Bp power 0 V = (V(s) - V(n)) * I(Vm)
.options method=gear
.tran 40u 0.4 0 40u UIC
.meas tran rms RMS I(Vm) FROM=0.38 TO=0.4
.meas tran power AVG V(power) FROM=0.38 TO=0.4
.end
"""


def by_kit():
    found = rectifier_steady_state(*CASE)
    return found.input_current_rms, found.input_power


def by_solver():
    """Event-driven solve_ivp; rtol 1e-3 is the coarsest that keeps 0.5 %."""
    volts, hertz, power, store, series, coil, esr, drop, diodes = CASE
    time, current, _ = settle(
        volts, hertz, power, store, series + diodes, coil, esr, drop, 20, rtol=1e-3
    )
    source = np.sqrt(2) * volts * np.sin(2 * np.pi * hertz * time)
    return np.sqrt(np.mean(current[:-1] ** 2)), np.mean((source * current)[:-1])


def by_simulator(folder):
    (folder / "a.cir").write_text(NETLIST)
    output = subprocess.run(
        ["ngspice", "-b", "a.cir"], cwd=folder, capture_output=True, text=True, check=True
    )
    found = dict(re.findall(r"^(rms|power)\s*=\s*(\S+)", output.stdout, re.MULTILINE))
    return float(found["rms"]), float(found["power"])


@pytest.mark.benchmark(group="one steady state to 0.5 %")
@pytest.mark.parametrize("way", ["adapterlab", "scipy solve_ivp", "ngspice"])
def test_one(benchmark, tmp_path, way):
    if way == "ngspice" and not shutil.which("ngspice"):
        pytest.skip("ngspice is not installed")
    ways = {
        "adapterlab": by_kit,
        "scipy solve_ivp": by_solver,
        "ngspice": lambda: by_simulator(tmp_path),
    }
    run = ways[way]
    run()
    rounds = 30 if way == "adapterlab" else 5
    found = benchmark.pedantic(run, rounds=rounds, iterations=1)
    exact = rectifier_steady_state(*CASE)
    np.testing.assert_allclose(
        found, (exact.input_current_rms, exact.input_power), rtol=5e-3
    )  # fmt: skip


def drawn(count):
    rng = np.random.default_rng(1)
    volts, hertz, power, store, series, coil, esr, drop, diodes = CASE
    return (
        volts * (1 + 0.02 * rng.standard_normal(count)),
        hertz,
        power * (1 + 0.02 * rng.standard_normal(count)),
        store * rng.uniform(0.8, 1.2, count),
        series * rng.uniform(0.6, 1.5, count),
        coil * rng.uniform(0.5, 2.0, count),
        esr * rng.uniform(0.5, 1.3, count),
        drop * rng.uniform(0.8, 1.3, count),
        diodes,
    )


@pytest.mark.benchmark(group="10 000 steady states with drawn tolerances")
@pytest.mark.parametrize("what", ["all figures", "all figures and waveforms"])
def test_many(benchmark, what):
    cases = drawn(10_000)

    def run():
        found = rectifier_steady_state(*cases)
        return found.input_current if what.endswith("waveforms") else found

    benchmark.pedantic(run, rounds=3, warmup_rounds=1)


def test_memory_of_many():
    tracemalloc.start()
    rectifier_steady_state(*drawn(10_000))
    assert tracemalloc.get_traced_memory()[1] < 2**30
    tracemalloc.stop()
