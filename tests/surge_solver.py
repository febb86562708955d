"""The plug-in circuit by scipy's general solver: an opinion independent of the library."""

from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

from adapterlab.inrush import Thermistor, plug_in_surge


@dataclass(frozen=True)
class Case:
    """A circuit, as in the netlist of the same name."""

    mains: tuple[float, float, float]
    parts: tuple[float, float, float, float, float, float]  # C, R, L, ESR, drop, bridge R
    disc: tuple[float, float, float, float] | None = None
    ambient: float = 25.0
    start_temperature: float = 25.0
    load: tuple[float, float] = (0.0, np.inf)
    duration: float = 0.02
    start_voltage: float = 0.0
    # Order, amplitude over the fundamental, angle in radians.
    harmonics: tuple[tuple[int, float, float], ...] = ()

    def arguments(self):
        power, start = self.load
        return {
            "thermistor": Thermistor(*self.disc) if self.disc else None,
            "ambient": self.ambient,
            "load_power": power,
            "load_start": start if np.isfinite(start) else None,
            "duration": self.duration,
            "start_voltage": self.start_voltage,
            "thermistor_temperature": self.start_temperature,
        }

    def shape(self):
        found = np.zeros(max([1, *(order for order, _, _ in self.harmonics)]), dtype=complex)
        found[0] = 1.0
        for order, share, lag in self.harmonics:
            found[order - 1] = share * np.exp(1j * lag)
        return found

    def surge(self, **more):
        wave = {"harmonics": self.shape()} if self.harmonics else {}
        return plug_in_surge(*self.mains, *self.parts, **(self.arguments() | wave | more))


def by_solver(case, tolerance=1e-7, points=200):
    """The circuit by scipy's general solver with events.

    Each stretch is sampled at `points` times beside the solver's own.
    Returns the times, the current in the sense of the mains at them, and the state at the end:
    inductor current, voltage of the capacitance, temperature, I²t.
    """
    voltage, frequency, phase = case.mains
    bulk, ohms, coil, esr, drop, diodes = case.parts
    marked, beta, heat, lost = case.disc or (0.0, 0.0, 1.0, 0.0)
    crest, omega, angle = np.sqrt(2) * voltage, 2 * np.pi * frequency, np.radians(phase)
    power, begin = case.load

    crest = crest / np.sqrt(1 + sum(share**2 for _, share, _ in case.harmonics))

    def mains(time):
        here = omega * time + angle
        rest = sum(share * np.sin(order * here + lag) for order, share, lag in case.harmonics)
        return crest * (np.sin(here) + rest)

    def limiter(celsius):
        return marked * np.exp(beta * (1 / (celsius + 273.15) - 1 / 298.15))

    def load(time, terminal, volts):
        if time < begin or volts <= 0:
            return 0.0
        held = (terminal + np.sqrt(max(terminal**2 - 4 * esr * power, 0))) / 2
        return power / max(held, 60)

    def flow(time, state, side):
        if coil:
            return state[0]
        current = 0.0
        for _ in range(20):
            taken = load(time, state[1] + esr * current, state[1])
            push = side * mains(time) - drop - state[1] + esr * taken
            current = push / (ohms + diodes + esr + limiter(state[2]))
        return current

    def lack(time, state):
        volts = state[1] - esr * load(time, state[1], state[1])
        return abs(mains(time)) - drop - volts

    def slope(time, state, side):
        current = flow(time, state, side) if side else 0.0
        taken = load(time, state[1] + esr * current, state[1])
        push = side * mains(time) - drop - state[1] - esr * (current - taken)
        path = ohms + diodes + limiter(state[2])
        warming = limiter(state[2]) * current**2 - lost * (state[2] - case.ambient)
        rise = (push - path * current) / coil if coil and side else 0.0
        return [rise, (current - taken) / bulk, warming / heat, current**2]

    time, state = 0.0, [0.0, case.start_voltage, case.start_temperature, 0.0]
    times, currents = [], []
    on = lack(0, state) > 0
    while time < case.duration * (1 - 1e-12):
        side = (1.0 if mains(time + 1e-9) >= 0 else -1.0) if on else 0.0
        first = time

        def event(now, state, side=side, first=first):
            if now < first + 1e-8:
                return 1.0 if side else -1.0
            return flow(now, state, side) if side else lack(now, state)

        event.terminal, event.direction = True, -1 if on else 1
        solved = solve_ivp(
            lambda now, values, side=side: slope(now, values, side),
            (time, begin if time < begin < case.duration else case.duration),
            state,
            method="LSODA",
            events=event,
            rtol=tolerance,
            atol=tolerance / 10,
            max_step=2e-4 if tolerance < 1e-6 else 1e-3,
            first_step=1e-8,
            dense_output=True,
        )
        fine = np.union1d(np.linspace(time, solved.t[-1], points), solved.t)
        times.append(fine)
        states = solved.sol(fine).T
        flows = [side * flow(t, y, side) if on else 0.0 for t, y in zip(fine, states, strict=True)]
        currents.append(np.array(flows))
        time, state = solved.t[-1], list(solved.y[:, -1])
        if solved.status == 1:
            on, state[0] = not on, 0.0
    return np.concatenate(times), np.concatenate(currents), state
