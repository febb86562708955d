"""The rectifier by scipy's general solver, with events for the start and the stop of the current.

An independent way to the same figures: it simulates cycle after cycle until the circuit settles.
"""

import numpy as np
from scipy.integrate import solve_ivp


def settle(voltage, frequency, power, capacitance, resistance, inductance, esr, drop, periods,
           start=None, rtol=1e-7, harmonics=()):  # fmt: skip
    """Time, current and terminal voltage of the last period, from a full capacitor on.

    `inductance` must be above zero; `resistance` holds that of the diodes; `harmonics` of the
    source are (order, amplitude over the fundamental, angle in radians), sines of their own angle.
    """
    omega = 2 * np.pi * frequency
    first = np.sqrt(2) * voltage / np.sqrt(1 + sum(share**2 for _, share, _ in harmonics))

    def mains(moment):
        angle = omega * moment
        rest = sum(share * np.sin(order * angle + lag) for order, share, lag in harmonics)
        return first * (np.sin(angle) + rest)

    crest = max(mains(np.linspace(0, 0.5 / frequency, 2001)))

    def terminal(stored, current):
        inside = stored + esr * current
        return (inside + np.sqrt(np.maximum(inside**2 - 4 * esr * power, 0.0))) / 2

    def conducting(moment, state, sign):
        current, stored = state
        volts = terminal(stored, current)
        source = sign * mains(moment)
        return [
            (source - drop - resistance * current - volts) / inductance,
            (current - power / volts) / capacitance,
        ]

    def idle(_, state):
        return [-power / terminal(state[0], 0.0) / capacitance]

    def stops(_, state, sign):
        return state[0] if sign else 0.0

    def starts(moment, state):
        return abs(mains(moment)) - drop - terminal(state[0], 0.0)

    stops.terminal, stops.direction = True, -1
    starts.terminal, starts.direction = True, 1
    moment, end, widest = 0.0, periods / frequency, 1 / frequency / 100
    stored = start or crest - drop
    parts = []
    while moment < end:
        rest = solve_ivp(idle, (moment, end), [stored], events=starts, rtol=rtol, atol=1e-9, max_step=widest,
                         dense_output=True)  # fmt: skip
        parts.append((moment, rest.t[-1], rest.sol, False))
        moment, stored = rest.t[-1], rest.y[0, -1]
        if moment >= end:
            break
        sign = np.sign(mains(moment))
        pulse = solve_ivp(conducting, (moment, end), [0.0, stored], events=stops, args=(sign,),
                          rtol=rtol, atol=1e-9, dense_output=True)  # fmt: skip
        parts.append((moment, pulse.t[-1], pulse.sol, True))
        moment, stored = pulse.t[-1], pulse.y[1, -1]
    time = end - 1 / frequency + np.linspace(0, 1 / frequency, 8001)
    current, volts = np.zeros_like(time), np.zeros_like(time)
    for first, last, solution, on in parts:
        inside = (time >= first) & (time <= last)
        if inside.any():
            state = solution(time[inside])
            current[inside] = state[0] if on else 0.0
            volts[inside] = terminal(state[-1], current[inside])
    return time, current * np.sign(mains(time)), volts
