"""The surge cut out of a capture, before anything is fitted."""

from dataclasses import dataclass

import numpy as np

from adapterlab.numerics.arguments import Floats


@dataclass(frozen=True)
class Cut:
    """The part of a capture that is fitted, in the sense of the surge."""

    time: Floats
    current: Floats
    last_quiet: float
    step: float
    sudden: bool
    peak: float
    noise: float
    offset: float
    polarity: int


def cut_out(time: Floats, current: Floats, period: float) -> Cut:
    """Find the surge in a capture; raises if there is none."""
    base = float(np.median(current[: max(len(current) // 100, 5)]))
    current = current - base
    top = int(np.argmax(np.abs(current)))
    before = np.flatnonzero(np.abs(current[:top]) < 0.05 * abs(current[top]))
    if len(before) < 2:
        raise ValueError("current holds no surge: it must begin before contact, without current")
    # The last sample without current, found again with the offset and noise of those before it.
    quiet = current[: max(before[-1] * 9 // 10, 2)]
    offset, noise = float(np.mean(quiet)), float(np.std(quiet)) if len(quiet) > 10 else 0.0
    polarity = 1 if current[top] > offset else -1
    flow = polarity * (current - offset)
    peak = float(flow[top])
    if peak <= 10 * noise:
        raise ValueError(f"current holds no surge: its peak of {peak:.3g} A is lost in noise")
    # A saturated channel shows no noise: its highest value stands still.
    level = int(np.argmax(flow[top:] < peak))
    if level > 4:
        raise ValueError(
            f"current must not be clipped: {level} samples in a row show its highest value, "
            f"{peak:.3g} A"
        )
    silent = np.flatnonzero(flow[:top] < max(5 * noise, 1e-3 * peak))
    last = int(silent[-1]) if len(silent) else int(before[-1])
    end = int(np.searchsorted(time, time[last] + period, side="right"))
    if time[-1] < time[last] + period / 2:
        raise ValueError(
            f"time must go on for half a period of the mains, {period / 2:.3g} s, after contact"
        )
    after = flow[top:end]
    if after.min() > peak / np.e or np.argmax(after < peak / np.e) < 4:
        raise ValueError(
            "current holds no surge: it must fall to 1/e of its peak within a period of the mains, "
            "over at least 4 samples"
        )
    sudden = bool(flow[last + 2] > 0.3 * peak)
    first = top if top <= last + 2 else last + 2
    return Cut(
        time[first:end],
        flow[first:end],
        float(time[last]),
        float(time[last + 1] - time[last]),
        sudden,
        peak,
        max(noise, 1e-4 * peak),
        base + offset,
        polarity,
    )
