"""Captures made fit for use: even time steps, clipping, frequency, whole periods."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import make_interp_spline

from adapterlab.numerics.arguments import Floats, finite

_JITTER, _GAP, _LEAST_RATE = 2e-3, 6.0, 90
_ORDERS = (1, 2, 3, 5, 7)


def even(
    time: ArrayLike, voltage: ArrayLike, current: ArrayLike
) -> tuple[Floats, Floats, Floats, list[str]]:
    """The capture with even time steps, and what was done to it."""
    moments, volts, flow = (
        finite("time", time), finite("voltage", voltage), finite("current", current)
    )  # fmt: skip
    if moments.ndim != 1 or moments.shape != volts.shape or moments.shape != flow.shape:
        raise ValueError(
            f"time, voltage and current must be of one length, got shapes {moments.shape}, "
            f"{volts.shape} and {flow.shape}"
        )
    if len(moments) < 50:
        raise ValueError(f"time must hold at least 50 samples, got {len(moments)}")
    steps = np.diff(moments)
    if not (steps > 0).all():
        place = int(np.argmin(steps))
        raise ValueError(f"time must rise from sample to sample, got {moments[place + 1]!r} "
                         f"after {moments[place]!r}")  # fmt: skip
    usual = float(np.median(steps))
    if steps.max() > _GAP * usual:
        raise ValueError(
            f"time has a gap of {steps.max():.3g} s where steps are {usual:.3g} s: the capture is "
            "not whole"
        )
    unevenness = float(np.abs(steps / steps.mean() - 1).max())
    if unevenness <= _JITTER:
        return moments, volts, flow, []
    count = int(np.floor((moments[-1] - moments[0]) / usual)) + 1
    grid = np.linspace(moments[0], moments[-1], max(count, len(moments)))
    volts, flow = (make_interp_spline(moments, values)(grid) for values in (volts, flow))
    note = f"time steps varied by up to {unevenness:.0%}; the capture was resampled evenly"
    return grid, volts, flow, [note]


def clipping(values: Floats) -> bool:
    """Whether the signal runs into a ceiling or a floor: it comes up steadily and then stands."""
    reach = float(np.ptp(values))
    if reach == 0:
        return False
    return any(_stands(side * values, reach) for side in (1.0, -1.0))


def _stands(values: Floats, reach: float) -> bool:
    top = float(values.max())
    if top < 0.1 * reach:
        # The resting line of a current that flows one way only.
        return False
    at_top = values >= top - 1e-9 * reach
    edges = np.flatnonzero(np.diff(at_top.astype(int)) == 1)
    runs = [int(np.argmin(np.append(at_top[edge + 1 :], False))) for edge in edges]
    if not runs or max(runs) < 4:
        return False
    # How many samples lie within the next step below: a crest that is round spends time there.
    levels = np.unique(values[values > top - 0.25 * reach])
    quantum = float(np.diff(levels).min()) if len(levels) > 1 else reach
    approach = np.array([top - values[edge] for edge in edges])
    below = (values < top - 1e-9 * reach) & (values >= top - 1.6 * max(quantum, 1e-4 * reach))
    steady = float(np.median(approach)) < 0.2 * reach
    return steady and int(at_top.sum()) > 8 * int(below.sum()) + 2 * len(runs)


def _crossings(time: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Times at which the values cross zero for good, and their direction."""
    level = 0.3 * float(np.sqrt(np.mean(values**2)))
    state = np.where(values > level, 1, np.where(values < -level, -1, 0))
    places = np.flatnonzero(state)
    turns = np.flatnonzero(np.diff(state[places]) != 0)
    times, signs = [], []
    for turn in turns:
        first, last = places[turn], places[turn + 1]
        part = slice(max(first - 1, 0), last + 2)
        slope, offset = np.polyfit(time[part] - time[first], values[part], 1)
        times.append(time[first] - offset / slope)
        signs.append(state[last])
    return np.array(times), np.array(signs)


def frequency_of(time: Floats, voltage: Floats) -> float:
    """Frequency of the fundamental: zero crossings, then a fit with harmonics. [Hz]."""
    centred = voltage - (voltage.max() + voltage.min()) / 2
    times, _ = _crossings(time, centred)
    duration = float((time[-1] - time[0]) * len(time) / (len(time) - 1))
    if len(times) < 2:
        raise ValueError(
            f"voltage holds no whole period: it crosses zero {len(times)} times in the "
            f"{duration:.3g} s captured; at least one period is needed"
        )
    omega = np.pi * (len(times) - 1) / float(times[-1] - times[0])
    local = time - float(time.mean())
    for _ in range(12):
        angle = omega * local
        waves = [np.ones_like(local)]
        for order in _ORDERS:
            waves += [np.cos(order * angle), np.sin(order * angle)]
        basis = np.array(waves).T
        found = np.linalg.lstsq(basis, voltage, rcond=None)[0]
        change = sum(
            order
            * local
            * (found[2 * k + 2] * waves[2 * k + 1] - found[2 * k + 1] * waves[2 * k + 2])
            for k, order in enumerate(_ORDERS)
        )
        step = float(np.linalg.lstsq(np.column_stack([basis, change]), voltage, rcond=None)[0][-1])
        omega += float(np.clip(step, -0.05 * omega, 0.05 * omega))
        if abs(step) < 1e-12 * omega:
            break
    if duration * omega < 2 * np.pi * (1 - 1e-4):
        raise ValueError(
            f"capture is shorter than one period: {duration:.4g} s at "
            f"{omega / (2 * np.pi):.4g} Hz; at least one period is needed"
        )
    rate = 2 * np.pi / omega / float(np.mean(np.diff(time)))
    if rate < _LEAST_RATE:
        raise ValueError(
            f"time steps are too long: {rate:.0f} samples in a period, at least {_LEAST_RATE} are "
            "needed for the harmonics to order 40"
        )
    return float(omega / (2 * np.pi))


@dataclass(frozen=True)
class Whole:
    """The first whole number of periods of a capture.

    `count` samples; their `angle` from the first on [rad]; `weights` of a mean over the periods,
    and the same through a Hann `window` (plain with one period), each summing to 1.
    """

    periods: int
    count: int
    angle: Floats
    weights: Floats
    window: Floats


def whole_periods(time: Floats, frequency: float) -> Whole:
    """Weights over the largest whole number of periods; the end joins the start."""
    step = float(np.mean(np.diff(time)))
    periods = int(len(time) * step * frequency + 1e-4)
    span = periods / frequency
    count = min(int(np.ceil(span / step - 1e-6)), len(time))
    angle = 2 * np.pi * frequency * step * np.arange(count, dtype=float)
    weights: Floats = np.full(count, step)
    rest = span - (count - 1) * step
    weights[[0, -1]] = (step + rest) / 2
    weights /= weights.sum()
    window = weights.copy()
    if periods > 1:
        window *= 1 - np.cos(angle / periods)
        window /= window.sum()
    return Whole(periods, count, angle, weights, window)
