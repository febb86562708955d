"""What an output does in time: a load that jumps, a port that switches over, start and overload."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import ndimage, signal

from adapterlab.numerics.arguments import Floats, finite, fraction, positive

_LEAST = 50


@dataclass(frozen=True)
class LoadTransients:
    """Every sudden change of load in a record.

    Attributes
    ----------
    time : numpy.ndarray
        When the load changed. [s], shape (k,)
    current_before, current_after : numpy.ndarray
        Load before and after. [A], shape (k,)
    voltage_before, voltage_after : numpy.ndarray
        Steady voltage before and after. [V], shape (k,)
    extreme : numpy.ndarray
        Voltage farthest from the steady one that follows, below it if the load rose. [V],
        shape (k,)
    deviation : numpy.ndarray
        Extreme less `voltage_after`: negative for a dip. [V], shape (k,)
    recovery_time : numpy.ndarray
        From the change until the voltage stays within the band. [s], shape (k,)
    noise : float
        Standard deviation of the smoothed voltage's noise. [V]
    """

    time: Floats
    current_before: Floats
    current_after: Floats
    voltage_before: Floats
    voltage_after: Floats
    extreme: Floats
    deviation: Floats
    recovery_time: Floats
    noise: float


@dataclass(frozen=True)
class Excursion:
    """Time that a voltage spends below a threshold.

    Attributes
    ----------
    start : float
        When it first fell below; the first sample if it began there. [s]
    duration : float
        From then until it is above for good; 0 if it never fell below. [s]
    lowest : float
        Lowest voltage, single samples ignored. [V]
    before, after : float
        Median voltage before it fell and after it came back; alike if it never fell. [V]
    returned : bool
        Whether it was above the threshold again at the end of the record.
    """

    start: float
    duration: float
    lowest: float
    before: float
    after: float
    returned: bool


@dataclass(frozen=True)
class StartUp:
    """How an output comes up.

    Attributes
    ----------
    delay : float
        From time 0 of the record to 10 % of the final voltage. [s]
    rise_time : float
        From 10 to 90 % of the final voltage. [s]
    final_voltage : float
        Median of the last tenth of the record. [V]
    overshoot : float
        Highest voltage less the final one, at least 0. [V]
    setback : float
        Largest fall on the way up to 90 %; 0 for a steady rise. [V]
    slew : float
        Steepest rise. [V/s]
    """

    delay: float
    rise_time: float
    final_voltage: float
    overshoot: float
    setback: float
    slew: float


@dataclass(frozen=True)
class Overcurrent:
    """What an output does when the load asks for too much.

    Attributes
    ----------
    behaviour : str
        ``holds`` (never let go), ``retries`` (came back at least twice), ``recovers`` (came back
        once) or ``stays off``.
    limit_current : float
        Largest current while the voltage still stood. [A]
    trip_time : float
        When the voltage let go; the last sample if it never did. [s]
    attempts : int
        How often it came back. [1]
    retry_interval : float
        Mean time between two attempts; 0 with fewer than two. [s]
    """

    behaviour: str
    limit_current: float
    trip_time: float
    attempts: int
    retry_interval: float


def _rows(time: ArrayLike, **others: ArrayLike) -> tuple[Floats, ...]:
    """Rows of one length with a rising time."""
    instants = finite("time", time)
    result = [instants]
    for name, values in others.items():
        row = finite(name, values)
        if instants.ndim != 1 or row.shape != instants.shape:
            raise ValueError(
                f"time and {name} must be rows of one length, got shapes {instants.shape} and "
                f"{row.shape}"
            )
        result.append(row)
    if len(instants) < _LEAST:
        raise ValueError(f"time must hold at least {_LEAST} samples, got {len(instants)}")
    if not np.all(np.diff(instants) > 0):
        place = int(np.argmax(np.diff(instants) <= 0))
        raise ValueError(
            f"time must rise, got {instants[place]:g} s followed by {instants[place + 1]:g} s"
        )
    return tuple(result)


def _steady(values: Floats) -> Floats:
    """The values without single outliers."""
    return np.asarray(ndimage.median_filter(values, 5, mode="nearest"))


def _edges(current: Floats) -> tuple[list[int], list[float]]:
    """Places where the load jumps, and the level on each stretch between them."""
    calm = _steady(current)
    low, high = np.quantile(calm, [0.01, 0.99])
    middle, reach = (low + high) / 2, 0.1 * (high - low)
    scatter = float(np.median(np.abs(np.diff(current)))) + 1e-12
    if high - low < 10 * scatter:
        raise ValueError(
            f"current must hold a change of load, got values from {low:.3g} to {high:.3g} A"
        )
    state = np.where(calm > middle + reach, 1, np.where(calm < middle - reach, -1, 0))
    known = np.flatnonzero(state)
    change = np.flatnonzero(np.diff(state[known]))
    places = [int((known[spot] + known[spot + 1] + 1) // 2) for spot in change]
    stretches = np.split(current, places)
    return places, [float(np.median(stretch)) for stretch in stretches]


def load_transients(
    time: ArrayLike, voltage: ArrayLike, current: ArrayLike, band: float = 0.01
) -> LoadTransients:
    r"""Dip, overshoot and recovery of an output whose load jumps.

    Parameters
    ----------
    time : array_like
        Instants, rising. [s], shape (n,), at least 50 samples
    voltage : array_like
        Output voltage. [V], shape (n,)
    current : array_like
        Load current. [A], shape (n,)
    band : float, optional
        Half-width of the band in which the voltage counts as recovered, as a fraction of the
        steady voltage that follows. [1]  Above 0, at most 1.

    Returns
    -------
    LoadTransients
        One entry for each change of load.

    Raises
    ------
    ValueError
        If the rows differ in length, the time does not rise, a value is not finite, or the load
        never changes.

    Notes
    -----
    The voltage is smoothed by a parabola over about a two-hundredth of the record, which follows a
    ringing of more than a fortieth of the record and takes away most of the noise. The last
    third of each stretch counts as steady, so a stretch should be at least three times as long as
    the transient.

    References
    ----------
    Recovery to within 1 %: common practice.

    Examples
    --------
    >>> time = np.arange(4000) * 1e-6
    >>> loaded = time >= 1e-3
    >>> dip = np.where(loaded, -0.3 * np.exp(-np.maximum(time - 1e-3, 0) / 1e-4), 0.0)
    >>> found = load_transients(time, 12 + dip, np.where(loaded, 2.0, 0.2))
    >>> print(f"{found.deviation[0]:.2f} V, {found.recovery_time[0] * 1e6:.0f} us")
    -0.30 V, 92 us
    """
    instants, volts, amperes = _rows(time, voltage=voltage, current=current)
    width = float(fraction("band", band))
    places, levels = _edges(amperes)
    bounds = [0, *places, len(instants)]
    length = max(5, len(instants) // 200 | 1)
    noise = float(np.std(np.diff(volts)) / np.sqrt(2)) * np.sqrt(2.25 / length)
    columns: list[list[float]] = [[] for _ in range(6)]
    for number, place in enumerate(places):
        earlier, later = volts[bounds[number] : place], volts[place : bounds[number + 2]]
        before = float(np.median(earlier[-max(len(earlier) // 3, 1) :]))
        after = float(np.median(later[-max(len(later) // 3, 1) :]))
        smooth = later
        if len(later) > length:
            smooth = signal.savgol_filter(later, length, 2, mode="interp")
        away = smooth - after
        # The side to which the load pushes: down when it rises.
        push = 1.0 if levels[number + 1] > levels[number] else -1.0
        worst = int((push * away).argmin())
        outside = np.flatnonzero(np.abs(away) > width * abs(after))
        last = place + (int(outside[-1]) + 1 if len(outside) else 0)
        last = min(last, len(instants) - 1)
        row = (before, after, smooth[worst], away[worst], instants[last] - instants[place])
        for column, value in zip(columns, (instants[place], *row), strict=True):
            column.append(float(value))
    start, before_all, after_all, extreme, deviation, recovery = map(np.array, columns)
    return LoadTransients(
        start, np.array(levels[:-1]), np.array(levels[1:]), before_all, after_all, extreme,
        deviation, recovery, float(noise),
    )  # fmt: skip


def excursion(time: ArrayLike, voltage: ArrayLike, lower: float) -> Excursion:
    """How long and how far a voltage falls below a threshold.

    Parameters
    ----------
    time : array_like
        Instants, rising. [s], shape (n,), at least 50 samples
    voltage : array_like
        Output voltage. [V], shape (n,)
    lower : float
        Threshold. [V]  Must be > 0.

    Returns
    -------
    Excursion
        From the first time below to the last.

    Raises
    ------
    ValueError
        If the rows differ in length, the time does not rise, a value is not finite, or the
        threshold is not above zero.

    Notes
    -----
    A median of five samples takes out single outliers first.

    References
    ----------
    Definition.

    Examples
    --------
    >>> time = np.arange(1000) * 1e-3
    >>> gap = (time > 0.2) & (time < 0.5)
    >>> excursion(time, np.where(gap, 0.0, 20.0), 19.0).duration
    0.3
    """
    instants, volts = _rows(time, voltage=voltage)
    threshold = float(positive("lower", lower))
    calm = _steady(volts)
    below = np.flatnonzero(calm < threshold)
    if len(below) == 0:
        middle = float(np.median(volts))
        return Excursion(float(instants[0]), 0.0, float(calm.min()), middle, middle, True)
    first, last = int(below[0]), int(below[-1])
    returned = last + 1 < len(instants)
    end = last + 1 if returned else last
    before = float(np.median(volts[:first])) if first else float(volts[0])
    after = float(np.median(volts[end:])) if returned else float(volts[-1])
    return Excursion(
        float(instants[first]), float(instants[end] - instants[first]), float(calm.min()),
        before, after, returned,
    )  # fmt: skip


def start_up(time: ArrayLike, voltage: ArrayLike) -> StartUp:
    """Delay, rise and overshoot of an output after plugging in.

    Parameters
    ----------
    time : array_like
        Instants, rising, 0 at contact with the mains. [s], shape (n,), at least 50 samples
    voltage : array_like
        Output voltage, from nothing to steady. [V], shape (n,)

    Returns
    -------
    StartUp
        Times and voltages.

    Raises
    ------
    ValueError
        If the rows differ in length, the time does not rise, a value is not finite, or the output
        does not come up from below a tenth of its final voltage.

    Notes
    -----
    The final voltage is the median of the last tenth of the record. A median of five samples takes
    out single outliers. The steepest rise is taken over a fiftieth of the rise time or two
    samples.

    References
    ----------
    Rise time from 10 to 90 %: common practice.

    Examples
    --------
    >>> time = np.arange(-100, 900) * 1e-4
    >>> volts = np.clip((time - 0.02) / 0.01, 0, 1) * 5.0
    >>> found = start_up(time, volts)
    >>> found.delay * 1e3, found.rise_time * 1e3
    (21.0, 8.0)
    """
    instants, volts = _rows(time, voltage=voltage)
    final = float(np.median(volts[-max(len(volts) // 10, 1) :]))
    calm = _steady(volts)
    if final <= 0 or calm[0] > 0.1 * final:
        raise ValueError(
            f"voltage must come up from below a tenth of its final value, got {calm[0]:.3g} V at "
            f"first and {final:.3g} V at last"
        )
    low = int(np.argmax(calm >= 0.1 * final))
    high = low + int(np.argmax(calm[low:] >= 0.9 * final))
    rise = float(instants[high] - instants[low])
    interval = float(instants[-1] - instants[0]) / (len(instants) - 1)
    apart = max(int(rise / 50 / interval), 2)
    climb = (calm[apart:] - calm[:-apart]) / (instants[apart:] - instants[:-apart])
    way_up = calm[low : high + 1]
    return StartUp(
        float(instants[low]),
        rise,
        final,
        max(float(calm.max()) - final, 0.0),
        float((np.maximum.accumulate(way_up) - way_up).max()),
        float(climb.max()),
    )


def overcurrent(
    time: ArrayLike, voltage: ArrayLike, current: ArrayLike, lower: float
) -> Overcurrent:
    """What an output does when the load asks for more than it can give.

    Parameters
    ----------
    time : array_like
        Instants, rising. [s], shape (n,), at least 50 samples
    voltage : array_like
        Output voltage, standing at first. [V], shape (n,)
    current : array_like
        Load current. [A], shape (n,)
    lower : float
        Voltage below which the output has let go. [V]  Must be > 0.

    Returns
    -------
    Overcurrent
        Its behaviour, and the current at which it let go.

    Raises
    ------
    ValueError
        If the rows differ in length, the time does not rise, a value is not finite, the threshold
        is not above zero, or the output does not stand at first.

    Notes
    -----
    A median of five samples takes out single outliers. An attempt counts if the voltage comes
    above the threshold again.

    References
    ----------
    Definition.

    Examples
    --------
    >>> time = np.arange(1000) * 1e-3
    >>> load = 2 + 2 * time
    >>> found = overcurrent(time, np.where(load < 3.2, 12.0, 0.0), load, 10.0)
    >>> found.behaviour, found.limit_current
    ('stays off', 3.2)
    """
    instants, volts, amperes = _rows(time, voltage=voltage, current=current)
    threshold = float(positive("lower", lower))
    up = _steady(volts) >= threshold
    if not up[0]:
        raise ValueError(
            f"voltage must stand above lower ({lower!r} V) at first, got {volts[0]:.3g} V"
        )
    load = _steady(amperes)
    changes = np.flatnonzero(np.diff(up.astype(int)))
    trip = int(changes[0]) if len(changes) else len(instants) - 1
    back = instants[changes[1::2] + 1]
    attempts = len(back)
    if len(changes) == 0:
        behaviour = "holds"
    elif attempts == 0:
        behaviour = "stays off"
    else:
        behaviour = "retries" if attempts > 1 else "recovers"
    between = float(np.diff(back).mean()) if attempts > 1 else 0.0
    return Overcurrent(
        behaviour, float(load[: trip + 1].max()), float(instants[trip]), attempts, between
    )
