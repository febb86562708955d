"""What an output does in time: load step, change of ports, start, overload."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Loop:
    """Output filter and control loop of a port, as they truly are.

    Attributes
    ----------
    capacitance, resistance : float
        Of the output capacitors. [F], [ohm]
    droop : float
        Resistance that the loop holds. [ohm]
    crossover, integral, lag : float
        Frequency where the loop's gain is one [Hz], share of integral action, delay of the
        converter's current. [s]
    """

    capacitance: float
    resistance: float
    droop: float
    crossover: float
    integral: float
    lag: float


def draw_loop(
    rng: np.random.Generator, capacitance: float, resistance: float, droop: float
) -> Loop:
    """Loops of such adapters cross over at 1 to 5 kHz, and integrate slowly (common practice)."""
    return Loop(
        capacitance,
        resistance,
        droop,
        float(rng.uniform(1e3, 5e3)),
        float(rng.uniform(0.1, 0.3)),
        float(rng.uniform(10e-6, 25e-6)),
    )


def load_step(
    loop: Loop,
    volts: float,
    low: float,
    high: float,
    interval: float,
    before: int,
    during: int,
    after: int,
) -> Floats:
    """Output voltage while the load goes from `low` to `high` amperes and back.

    States: voltage of the capacitor, current of the converter, sum of the error. Between the
    steps the system is linear, and one matrix takes it from sample to sample.
    """
    omega = 2 * np.pi * loop.crossover
    gain = omega * loop.capacitance
    # Error = volts - droop load - (charge + resistance (current - load)).
    system = np.array(
        [
            [0.0, 1 / loop.capacitance, 0.0],
            [-gain / loop.lag, (-gain * loop.resistance - 1) / loop.lag, 1 / loop.lag],
            [-loop.integral * omega * gain, -loop.integral * omega * gain * loop.resistance, 0.0],
        ]
    )

    def drive(load: float) -> Floats:
        wanted = volts - loop.droop * load + loop.resistance * load
        return np.array(
            [
                -load / loop.capacitance,
                gain * wanted / loop.lag,
                loop.integral * omega * gain * wanted,
            ]
        )

    def advance(load: float, state: Floats, samples: int) -> tuple[Floats, Floats]:
        rest = -np.linalg.solve(system, drive(load))
        step = expm(system * interval)
        rows = np.empty((samples, 3))
        away = state - rest
        for index in range(samples):
            rows[index] = rest + away
            away = step @ away
        return rows[:, 0] + loop.resistance * (rows[:, 1] - load), rest + away

    state = np.array([volts - loop.droop * low, low, low])
    pieces = []
    for load, samples in ((low, before), (high, during), (low, after)):
        piece, state = advance(load, state, samples)
        pieces.append(piece)
    return np.concatenate(pieces)


def port_change(
    loop: Loop,
    volts: float,
    ohms: float,
    off: float,
    back: float,
    again: float,
    limit: float,
    interval: float,
    samples: int,
    start: float,
) -> Floats:
    """Output voltage of a loaded port while another one is plugged in at time 0.

    It goes off, comes back at 5 V and asks again; the reference climbs 25 V in 100 ms, the
    converter gives at most `limit` amperes, a bleeder of 330 ohm and the load empty the capacitor.
    """
    parts = 20
    step = interval / parts
    inner = max(loop.droop, 0.01)
    slope = step / loop.capacitance
    leak = 1 / ohms + 1 / 330.0
    output = volts / (1 + inner * leak)
    values = np.empty(samples)
    for index in range(samples):
        values[index] = output
        for part in range(parts):
            instant = start + index * interval + part * step
            if instant < off:
                wanted = volts
            elif instant < back:
                wanted = 0.0
            elif instant < again:
                wanted = min(250.0 * (instant - back), 5.0)
            else:
                wanted = min(5.0 + 250.0 * (instant - again), volts)
            given = (wanted - output) / inner
            if given > limit:
                output += slope * (limit - output * leak)
            elif given < 0:
                output -= slope * output * leak
            else:
                output = (output + slope * wanted / inner) / (1 + slope * (1 / inner + leak))
    return values


def start_up(
    volts: float,
    wait: float,
    climb: float,
    natural: float,
    damping: float,
    interval: float,
    samples: int,
    start: float,
) -> Floats:
    """Output voltage after plugging in at time 0: a wait, then a soft start that may overshoot."""
    parts = 10
    step = interval / parts
    omega = 2 * np.pi * natural
    values, output, speed = np.empty(samples), 0.0, 0.0
    for index in range(samples):
        values[index] = output
        for part in range(parts):
            instant = start + index * interval + part * step
            target = volts * min(max((instant - wait) / climb, 0.0), 1.0)
            speed += step * (omega**2 * (target - output) - 2 * damping * omega * speed)
            output += step * speed
    return values


def overload(
    loop: Loop,
    volts: float,
    limit: float,
    interval: float,
    samples: int,
    start: float,
    demand: Floats,
    pause: float,
) -> tuple[Floats, Floats, list[float]]:
    """Output voltage and load current while a load climbs past what the converter gives.

    Above `limit` the voltage falls; below 85 % the converter stops, and tries again after `pause`
    for 25 ms at a time. Returns the times of the stops too.
    """
    parts, inner = 10, max(loop.droop, 0.01)
    step = interval / parts
    output, running, changed = volts - inner * demand[0], True, start
    values, amperes, stops = np.empty(samples), np.empty(samples), []
    slope = step / loop.capacitance
    for index in range(samples):
        wanted = demand[index]
        for part in range(parts):
            instant = start + index * interval + part * step
            load = min(wanted, output / 0.25)
            given = min(max((volts - output) / inner, 0.0), limit) if running else 0.0
            stiff = (1 / inner if running and given < limit else 0.0) + (
                4.0 if wanted > output / 0.25 else 0.0
            )
            output = max(output + slope * (given - load) / (1 + slope * stiff), 0.0)
            if running and output < 0.85 * volts and instant - changed > 25e-3:
                running, changed = False, instant
                stops.append(instant)
            elif not running and instant - changed > pause:
                running, changed = True, instant
        values[index], amperes[index] = output, min(wanted, output / 0.25)
    return values, amperes, stops
