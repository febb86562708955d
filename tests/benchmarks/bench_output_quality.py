"""How fast the output section is, beside an independent way where there is one.

python -m pytest tests/benchmarks/bench_output_quality.py -p no:nbval --benchmark-enable
"""

import numpy as np
import pytest
from scipy import signal

from adapterlab.assess import output_quality as section
from adapterlab.dossier import read_dossier
from adapterlab.output_quality import find_ripple_step, measure_ripple, ripple_spectrum

RNG = np.random.default_rng(11)
PLATE = """
[nameplate]
name = "fir-60"
rated_power = "60 W"
[[ports]]
name = "C"
connector = "USB-C"
modes = [{ name = "20 V", voltage = "20 V", current = "3 A" }]
[[instruments]]
name = "multimeter"
measures = "output voltage"
fraction_of_reading = "0.05 %"
resolution = 0.001
"""


@pytest.mark.benchmark(group="step in the ripple, beside a linear fit at every gap")
@pytest.mark.parametrize("count", [20, 500])
@pytest.mark.parametrize("way", ["adapterlab", "numpy.linalg.lstsq"])
def test_step(benchmark, count, way):
    load = np.linspace(1, 60, count)
    ripple = 30 + 0.5 * load + RNG.normal(size=count) + 8 * (load > 38)

    def by_hand():
        sizes = []
        for gap in range(3, count - 3):
            columns = np.column_stack([np.ones(count), load, np.arange(count) >= gap])
            sizes.append(np.linalg.lstsq(columns, ripple, rcond=None)[1])
        return int(np.argmin(sizes))

    if way == "adapterlab":
        step = benchmark(find_ripple_step, load, ripple)
        assert step.found
    else:
        benchmark(by_hand)


@pytest.mark.benchmark(group="a sweep of 500 points to all findings: under 0.5 s")
def test_sweep(benchmark, tmp_path):
    load = np.linspace(0.1, 3, 500)
    rows = "".join(
        f"{i},230,50,{22 * amps:.3f},C,20 V,{20.05 - 0.02 * amps:.3f},{amps:.4f},"
        f"{20 + 10 * amps + 12 * (amps > 1.9) + RNG.normal():.1f}\n"
        for i, amps in enumerate(load)
    )
    (tmp_path / "adapter.toml").write_text(PLATE, encoding="utf-8")
    (tmp_path / "load_sweep.csv").write_text(
        "point,mains_voltage_v,mains_frequency_hz,input_power_w,port,mode,output_voltage_v,"
        "output_current_a,ripple_pp_mv\n" + rows,
        encoding="utf-8",
    )
    result = benchmark(lambda: section.assess(read_dossier(tmp_path)))
    assert result.sweeps[0].step.found


@pytest.mark.benchmark(group="a capture of a million samples: ripple and spectrum, under 0.3 s")
@pytest.mark.parametrize("way", ["ripple", "ripple and spectrum", "scipy.signal.welch"])
def test_capture(benchmark, way):
    time = np.arange(1_000_000) * 2e-8
    wave = 0.02 * signal.sawtooth(2 * np.pi * 85e3 * time) + 1e-3 * RNG.normal(size=1_000_000)
    wave[[1000, 500_000]] += 0.5
    if way == "ripple":
        assert benchmark(measure_ripple, time, wave).spikes == 2
    elif way == "ripple and spectrum":
        benchmark(lambda: (measure_ripple(time, wave), ripple_spectrum(time, wave)))
    else:
        benchmark(signal.welch, wave, 5e7, nperseg=2**16)
