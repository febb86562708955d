"""How fast the transformer's equations are, beside an independent way in the same run.

Not collected by the ordinary test run; the results of both ways are compared first.

    python -m pytest tests/benchmarks/bench_transformer.py -p no:nbval --benchmark-enable
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from adapterlab.transformer import (
    dowell_resistance_factor,
    fringing_factor,
    gap_for_inductance,
    layer_losses,
    pulse_harmonics,
    waveform_loss_density,
)

MU = 4e-7 * np.pi
WINDINGS, HARMONICS = 100_000, 40


def complex_factor(ratio, layers):
    """The same resistance factor from complex hyperbolic functions, written independently."""
    wave = (1 + 1j) * ratio
    skin = wave / np.tanh(wave)
    proximity = 2 * wave * np.tanh(wave / 2)
    return np.real(skin + (layers**2 - 1) / 3 * proximity)


@pytest.mark.benchmark(group="ac loss of 100 000 windings with 40 harmonics each")
@pytest.mark.parametrize(
    "way", ["adapterlab", "complex hyperbolic functions", "one by one (1/100)"]
)
def test_windings(benchmark, way):
    rng = np.random.default_rng(1)
    ratio = rng.uniform(0.1, 2, (WINDINGS, 1)) * np.sqrt(np.arange(1, HARMONICS + 1))
    layers = rng.integers(1, 5, (WINDINGS, 1)).astype(float)
    current = rng.uniform(0, 1, (WINDINGS, HARMONICS))

    def ours():
        return (dowell_resistance_factor(ratio, layers) * current**2).sum(axis=1)

    def other(rows=slice(None)):
        return (complex_factor(ratio[rows], layers[rows]) * current[rows] ** 2).sum(axis=1)

    def singly():
        return [other(slice(row, row + 1)) for row in range(WINDINGS // 100)]

    np.testing.assert_allclose(ours()[:1000], other(slice(1000)), rtol=1e-9)
    ways = {"adapterlab": ours, "complex hyperbolic functions": other}
    benchmark.pedantic(ways.get(way, singly), rounds=3)


@pytest.mark.benchmark(group="copper loss of 2 000 stacks of 8 layers with 40 harmonics each")
def test_stacks(benchmark):
    duty = np.linspace(0.1, 0.5, 2000)
    orders = np.arange(1, HARMONICS + 1)

    def ours():
        primary = pulse_harmonics(0.0, 1.5, 0.0, duty, orders)
        secondary = pulse_harmonics(6.0, 0.0, duty, 0.4, orders)
        current = np.stack([primary] * 2 + [secondary] * 4 + [primary] * 2, axis=-2)
        mean = np.stack([0.75 * duty] * 8, axis=-1)
        ratio = np.full(8, 0.9)
        return layer_losses(mean, current, [18, 18, 4, 4, 4, 4, 18, 18], ratio, np.full(8, 0.1))

    benchmark.pedantic(ours, rounds=3)


@pytest.mark.benchmark(group="gap for 100 000 inductances, beside scipy's brentq for 200 of them")
@pytest.mark.parametrize("way", ["adapterlab", "brentq (1/500)"])
def test_gaps(benchmark, way):
    inductance = np.linspace(200e-6, 900e-6, WINDINGS)
    few = inductance[:: WINDINGS // 200]

    def ours():
        return gap_for_inductance(60, inductance, 31e-6, 12.8e-3, 47e-3)

    def other():
        def excess(gap, target):
            factor = fringing_factor(gap, 31e-6, 12.8e-3)
            return MU * 60**2 * 31e-6 / (gap / factor + 47e-3 / 2200) - target

        return [brentq(excess, 1e-6, 1.2e-2, args=(target,)) for target in few]

    np.testing.assert_allclose(ours()[:: WINDINGS // 200], other(), rtol=1e-6)
    benchmark.pedantic(ours if way == "adapterlab" else other, rounds=3)


@pytest.mark.benchmark(group="core loss of 100 000 flux waveforms of 4 corners")
def test_core_loss(benchmark):
    share = np.zeros((WINDINGS, 4))
    share[:, 1], share[:, 2], share[:, 3] = np.linspace(0.1, 0.4, WINDINGS), 0.8, 1.0
    flux = np.array([0.0, 0.2, 0.0, 0.0])
    benchmark(
        waveform_loss_density, share, np.broadcast_to(flux, share.shape), 85e3, 0.78, 1.5, 2.6
    )
