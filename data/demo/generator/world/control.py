"""Controllers: which peak current and which period bring the output current asked for."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.world.stage import Cycle, Parts, cycle

Floats = NDArray[np.float64]
ROUNDS = 9
VALLEYS = 6


@dataclass(frozen=True)
class Law:
    """Control law of each converter, one entry for each column.

    Attributes
    ----------
    frequency : numpy.ndarray
        At full load, or the most that a valley-switching controller allows. [Hz]
    quasi_resonant : numpy.ndarray
        1 for valley switching, 0 for a fixed frequency.
    fold_power, floor_frequency : numpy.ndarray
        Output power below which the frequency falls in proportion, and where it stops. [W], [Hz]
    burst_peak : numpy.ndarray
        Least primary peak; below it whole periods are left out. [A]
    """

    frequency: Floats
    quasi_resonant: Floats
    fold_power: Floats
    floor_frequency: Floats
    burst_peak: Floats


def _ring(parts: Parts, bulk: Floats, reflected: Floats, idle: Floats) -> tuple[Floats, Floats]:
    """Amplitude left of the idle ringing after `idle` seconds, and its angular frequency."""
    omega = 1 / np.sqrt(parts.inductance * parts.drain_capacitance)
    return reflected * np.exp(-omega * np.maximum(idle, 0.0) / (2 * parts.ring_quality)), omega


def _discontinuous(
    parts: Parts,
    bulk: Floats,
    output: Floats,
    peak: Floats,
    period: Floats,
    valley_number: Floats,
    shortest: Floats | None = None,
) -> tuple[Cycle, Floats]:
    """Period that starts from rest; `valley_number` 0 ends it at a jittering clock.

    `shortest` is the time between the pulses of one burst, where periods are left out.
    """
    none = np.zeros_like(bulk)
    reflected = parts.turns_ratio * (output + 0.3)
    omega = 1 / np.sqrt(parts.inductance * parts.drain_capacitance)
    by_valley = valley_number > 0
    idle = np.pi / omega * (2 * valley_number - 1)
    for _ in range(2):
        # A clock that jitters meets every phase of the ringing; a valley detector the lowest.
        left, _omega = _ring(parts, bulk, reflected, idle)
        low = np.maximum(bulk - left, 0.0)
        turn_on = np.where(by_valley, low, bulk)
        square = np.where(by_valley, low**2, bulk**2 + left**2 / 2)
        pulses = period if shortest is None else shortest
        found = cycle(parts, bulk, output, peak, none, period, pulses, turn_on, square, none)
        idle = np.where(by_valley, idle, period - found.active)
        period = np.where(by_valley, found.active + idle, period)
    return found, period


def _continuous(
    parts: Parts, bulk: Floats, output: Floats, valley: Floats, period: Floats
) -> tuple[Cycle, Floats]:
    """Period that ends before the secondary current does; finds the peak that fills it."""
    reflected = parts.turns_ratio * (output + 0.3)
    turn_on = bulk + reflected

    def work(peak: Floats) -> Cycle:
        return cycle(parts, bulk, output, peak, valley, period, period, turn_on, turn_on**2, valley)

    swing = bulk * reflected / (bulk + reflected) * period / parts.inductance
    peak = _root(lambda peak: work(peak).active - period, valley + swing / 3, valley + swing * 2)
    return work(peak), peak


@dataclass(frozen=True)
class Operation:
    """Converters at work, one entry for each column.

    Attributes
    ----------
    peak, valley, period : numpy.ndarray
        Primary current at turn-off and at turn-on, mean time between turn-ons. [A], [A], [s]
    pulse_period : numpy.ndarray
        Time between turn-ons inside a burst. [s]
    mode : numpy.ndarray
        0 discontinuous, 1 continuous, 2 boundary or valley, 3 bursts.
    cycle : Cycle
        What happens in one period.
    """

    peak: Floats
    valley: Floats
    period: Floats
    pulse_period: Floats
    mode: NDArray[np.intp]
    cycle: Cycle

    @property
    def input_power(self) -> Floats:
        """Drawn from the bulk. [W]."""
        return self.cycle.source_energy / self.period

    def losses(self) -> dict[str, Floats]:
        """Loss by part. [W]."""
        return {name: energy / self.period for name, energy in self.cycle.losses.items()}


def _root(function: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """Where a rising function crosses zero: secants kept inside a shrinking bracket.

    Parameters
    ----------
    function : callable
        Works on all columns at once.
    low, high : numpy.ndarray
        Bracket.

    Returns
    -------
    numpy.ndarray
        After a fixed number of rounds, so that no column depends on its neighbours.
    """
    at_low, at_high = function(low), function(high)
    side = np.zeros_like(low)
    for _ in range(ROUNDS):
        slope = np.where(at_high > at_low, at_high - at_low, 1.0)
        guess = np.clip(low - at_low * (high - low) / slope, low, high)
        value = function(guess)
        above = value > 0
        # Illinois: an end that stays twice running counts half.
        at_low = np.where(above, np.where(side > 0, at_low / 2, at_low), value)
        at_high = np.where(above, value, np.where(side < 0, at_high / 2, at_high))
        side = np.where(above, 1.0, -1.0)
        low, high = np.where(above, low, guess), np.where(above, guess, high)
    slope = np.where(at_high > at_low, at_high - at_low, 1.0)
    return np.clip(low - at_low * (high - low) / slope, low, high)


def _peak_for(
    parts: Parts, bulk: Floats, output: Floats, current: Floats, period: Floats, number: Floats
) -> tuple[Floats, Cycle, Floats]:
    """Peak of discontinuous periods that bring `current`."""

    def excess(logarithm: Floats) -> Floats:
        found, length = _discontinuous(parts, bulk, output, np.exp(logarithm), period, number)
        return np.log(np.maximum(found.charge, 1e-14) / length / current)

    guess = 0.5 * np.log(2 * current * (output + 1) * period / parts.inductance)
    peak = np.exp(_root(excess, guess - 3.0, guess + 3.0))
    return peak, *_discontinuous(parts, bulk, output, peak, period, number)


def operate(
    parts: Parts, law: Law, bulk: Floats, output: Floats, current: Floats, power: Floats
) -> Operation:
    """Working points of all columns.

    Parameters
    ----------
    parts, law : Parts, Law
        Converters and their controllers.
    bulk, output, current : numpy.ndarray
        Bulk voltage; voltage and current at the output capacitor. [V], [V], [A]
    power : numpy.ndarray
        Output power that the controller goes by when it folds its frequency back. [W]

    Returns
    -------
    Operation
        Each column does not depend on its neighbours.
    """
    clock = np.clip(law.frequency * power / law.fold_power, law.floor_frequency, law.frequency)
    quasi = law.quasi_resonant > 0
    number = np.where(quasi, 1.0, 0.0)
    period = 1 / clock
    peak, found, length = _peak_for(parts, bulk, output, current, period, number)
    for valley in range(2, VALLEYS + 1):
        fast = np.flatnonzero(quasi & (number > 0) & (1 / length > clock))
        if fast.size == 0:
            break
        chosen = parts.pick(fast)
        number[fast] = valley
        peak[fast], part, length[fast] = _peak_for(
            chosen, bulk[fast], output[fast], current[fast], period[fast], number[fast]
        )
    # Beyond the last valley a timer holds the frequency.
    number[quasi & (1 / length > clock)] = 0.0
    peak, found, length = _peak_for(parts, bulk, output, current, period, number)
    mode = np.where(number > 0, 2, 0)
    # Bursts: the least peak, as often as the load asks for it.
    none = np.zeros_like(peak)
    least_pulse, wait = _discontinuous(parts, bulk, output, law.burst_peak, 1 / clock, none)
    burst = np.flatnonzero(least_pulse.charge > current * wait)
    inside = length.copy()
    if burst.size:
        mode[burst] = 3
        chosen, least = parts.pick(burst), law.burst_peak[burst]
        fixed = (chosen, bulk[burst], output[burst], least)
        none, short = np.zeros(burst.size), 1 / law.floor_frequency[burst]

        def lack(long: Floats) -> Floats:
            trial, _length = _discontinuous(*fixed, long, none, short)
            return current[burst] * long - trial.charge

        stored = chosen.inductance * least**2
        longest = stored / (chosen.overhead + current[burst] * output[burst])
        wait = _root(lack, 0.2 * np.minimum(short, longest), longest)
        trial, length[burst] = _discontinuous(*fixed, wait, none, short)
        peak[burst], inside[burst] = least, short
        _place(found, trial, burst)
    # Continuous: a discontinuous period would not end in time.
    valley_current = np.zeros_like(peak)
    over = np.flatnonzero((mode == 0) & (found.active > length * (1 + 1e-9)))
    if over.size:
        mode[over] = 1
        chosen, volts, time = parts.pick(over), (bulk[over], output[over]), length[over]

        def surplus(valley: Floats) -> Floats:
            return _continuous(chosen, *volts, valley, time)[0].charge - current[over] * time

        valley_current[over] = _root(surplus, np.zeros(over.size), peak[over])
        trial, peak[over] = _continuous(chosen, *volts, valley_current[over], time)
        _place(found, trial, over)
    return Operation(peak, valley_current, length, inside, mode, found)


def _place(whole: Cycle, part: Cycle, where: NDArray[np.intp]) -> None:
    """Put the entries of `part` into `whole`."""
    for name in Cycle.__dataclass_fields__:
        if name == "losses":
            for key, values in part.losses.items():
                whole.losses[key][where] = values
        else:
            getattr(whole, name)[where] = getattr(part, name)
