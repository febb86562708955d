"""Oscilloscope records: probes with gain, offset and delay, noise, few bits, and their files."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
STEPS = (1.0, 2.0, 5.0)


@dataclass(frozen=True)
class Scope:
    """Oscilloscope with its probes, as they truly are.

    Attributes
    ----------
    bits : int
        Of its converter, over eight divisions.
    noise : float
        Standard deviation of its noise, in steps of eight bits.
    delay : float
        By which the clamp lags behind the voltage probe. [s]
    bandwidth : float
        Of the clamp. [Hz]
    """

    bits: int
    noise: float
    delay: float
    bandwidth: float


def draw_scope(rng: np.random.Generator, bits: int) -> Scope:
    """Noise of 0.3 to 0.7 steps of 8 bits; a clamp of 100 kHz to 1 MHz, 0.2 to 3 us behind."""
    return Scope(
        bits,
        float(rng.uniform(0.3, 0.7)),
        float(rng.uniform(0.2e-6, 3e-6)),
        float(np.exp(rng.uniform(np.log(1e5), np.log(1e6)))),
    )


def span_for(peak: float) -> float:
    """Range of eight divisions in steps of 1, 2, 5 that holds a trace of that peak. [V]."""
    needed = 1.08 * peak / 4
    decade = 10.0 ** np.floor(np.log10(needed))
    division = next(step * decade for step in (*STEPS, 10.0) if step * decade >= needed * 0.999999)
    return 8 * float(division)


def smaller(span: float, peak: float) -> float:
    """Largest range that a trace of that peak overruns by a quarter at least. [V]."""
    while span / 2 > 0.8 * peak:
        decade = 10.0 ** np.floor(np.log10(span / 8 * 1.000001))
        lead = round(span / 8 / decade)
        span = 8 * {1: 0.5, 2: 1.0, 5: 2.0}[lead] * decade
    return span


def digitised(
    volts: Floats, span: float, scope: Scope, rng: np.random.Generator
) -> tuple[NDArray[np.intp], float]:
    """Codes of a channel, and the volts of one step."""
    step = span / 2**scope.bits
    noise = scope.noise * span / 256 * rng.standard_normal(volts.size)
    codes = np.round((volts + noise) / step).astype(int)
    top = 2 ** (scope.bits - 1)
    return np.clip(codes, -top, top - 1), step


def write(
    path: Path,
    start: float,
    interval: float,
    channels: Sequence[tuple[NDArray[np.intp], float]],
    bits: int,
) -> None:
    """Write a record as instruments do: a few lines about it, then time and volts."""
    count = channels[0][0].size
    columns = []
    for codes, step in channels:
        values, places = np.unique(codes, return_inverse=True)
        texts = np.array([f"{value * step + 0.0:.6g}" for value in values], dtype=object)
        columns.append(texts[places])
    times = [f"{start + index * interval:.8g}" for index in range(count)]
    names = [f"CH{index + 1}" for index in range(len(channels))]
    lines = [
        f"# sample interval,{interval:g}",
        f"# samples,{count}",
        f"# vertical bits,{bits}",
        ",".join(["time", *names]),
        ",".join(["s", *("V" for _ in names)]),
        *(",".join(row) for row in zip(times, *columns, strict=True)),
    ]
    path.write_bytes(("\n".join(lines) + "\n").encode())
