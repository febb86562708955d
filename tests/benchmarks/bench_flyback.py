"""How fast the flyback equations are, and that they hold what they promise.

Not collected by the ordinary test run:

    python -m pytest tests/benchmarks/bench_flyback.py -p no:nbval --benchmark-enable
"""

import re
import shutil
import subprocess
import time

import numpy as np
import pytest
from numpy.testing import assert_allclose
from places import NETLISTS

from adapterlab.flyback import (
    SecondaryPulse,
    combined_ripple,
    mode_map,
    operating_point,
    output_waveform,
    paralleled_capacitor_current,
    secondary_pulse,
    valley_number,
)

STAGE = (300, 20, 2, 4.5, 300e-6, 85e3)


@pytest.mark.benchmark(group="a million operating points, under 1 s")
def test_operating_points(benchmark):
    rng = np.random.default_rng(1)
    count = 1_000_000
    volts, output = rng.uniform(80, 380, count), rng.uniform(3.3, 21, count)
    amperes = rng.uniform(0.1, 5, count)
    benchmark(operating_point, volts, output, amperes, 4.5, 300e-6, 85e3, 0.05, 0.9)
    assert benchmark.stats.stats.min < 1


@pytest.mark.benchmark(group="a map of 200 x 200, under 0.2 s")
@pytest.mark.parametrize("kind", ["modes", "operating points", "valleys"])
def test_map(benchmark, kind):
    volts, loads = np.linspace(80, 380, 200), np.linspace(0.05, 4, 200)
    rest = (20, 4.5, 300e-6, 85e3, 0.05, 0.9)
    if kind == "modes":
        benchmark(mode_map, volts, loads, *rest, smallest_peak=0.3)
    elif kind == "valleys":
        benchmark(valley_number, volts, 20, loads[:, None], 5, 300e-6, 150e-12, 130e3)
    else:
        benchmark(operating_point, volts, 20, loads[:, None], 4.5, 300e-6, 85e3)
    assert benchmark.stats.stats.min < 0.2


@pytest.mark.benchmark(group="ripple of one to three converters at 1000 duties, under 0.2 s")
def test_paralleled(benchmark):
    duty = np.linspace(0.01, 0.99, 1000)

    def ripples():
        for count in (1, 2, 3):
            pulses = [SecondaryPulse(2 / duty / count, 0 * duty, duty, 85e3)] * count
            combined_ripple(pulses, 660e-6, 7e-3, np.arange(count) * 360 / count)
            paralleled_capacitor_current(duty, count, "ramp")

    benchmark(ripples)
    assert benchmark.stats.stats.min < 0.2


def _settled():
    pulse = secondary_pulse(operating_point(*STAGE))
    return pulse, output_waveform(pulse, 470e-6, 1e-3)


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs the circuit simulator")
def test_steady_state_beside_2000_settling_cycles(tmp_path):
    """At least 50 times faster, and both to 0.5 % of each other on ripple and rms.

    The netlist is that of the tests, run for 2000 periods; only its last one is kept.
    """
    netlist = (NETLISTS / "flyback_dcm_20v.cir").read_text(encoding="utf-8")
    period = 1 / 85e3
    stop, start = 2000 * period, 1999 * period
    lines = [
        line for line in netlist.splitlines() if not line.startswith((".tran", ".meas", ".end"))
    ]
    step = period / 300
    lines += [f".tran {step:.4g} {stop:.8g} {start:.8g} {step:.4g} UIC"]
    for name, what in (("ripple", "PP v(out)"), ("secondary_rms", "RMS i(Vsense)")):
        lines += [f".meas tran {name} {what} from={start:.8g} to={stop:.8g}"]
    (tmp_path / "long.cir").write_text("\n".join([*lines, ".end", ""]), encoding="utf-8")
    begin = time.perf_counter()
    run = subprocess.run(
        ["ngspice", "-b", "long.cir"], cwd=tmp_path, capture_output=True, text=True, timeout=120
    )
    simulated = time.perf_counter() - begin
    found = dict(re.findall(r"^([a-z]\w*)\s*=\s*([-+.\deE]+)", run.stdout, re.MULTILINE))
    repeats = 50
    begin = time.perf_counter()
    for _ in range(repeats):
        pulse, wave = _settled()
    direct = (time.perf_counter() - begin) / repeats
    assert_allclose(np.ptp(wave.ripple), float(found["ripple"]), rtol=0.005)
    rms = np.hypot(pulse.capacitor_rms, pulse.mean)
    assert_allclose(rms, float(found["secondary_rms"]), rtol=0.005)
    print(
        f"{simulated:.2f} s simulated, {direct * 1e3:.2f} ms solved: {simulated / direct:.0f} times"
    )
    assert simulated > 50 * direct
