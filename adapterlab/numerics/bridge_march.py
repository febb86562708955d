"""Capacitor-input rectifier followed step by step until its half periods repeat.

For what one smooth pulse cannot describe: a current that rings, or stops and starts again within
the half period. Each step is the exact answer of the circuit with the load's current as a straight
line of its voltage; starts and stops of the current are found within the step.
"""

from dataclasses import dataclass, replace

import numpy as np

from adapterlab.numerics.arguments import Floats
from adapterlab.numerics.bridge import Circuit, discharge_span

_STEPS, _PER_RING, _MOST_STEPS, _HALF_PERIODS = 400, 24, 40000, 200
_SETTLED = 1e-8
_ALWAYS = "the inductance keeps the current flowing all the time"
# What a source without impedance is given, so that there is something to solve. [s], [ohm]
_LEAST_TIME, _LEAST_SERIES = 1e-7, 1e-6


@dataclass(frozen=True)
class HalfPeriod:
    """Current and terminal voltage over a half period that repeats, from phase 0 on.

    `current` and `voltage` have the shape (n, steps + 1). `trouble` says what is wrong with a
    case, one text each, empty where nothing is.
    """

    current: Floats
    voltage: Floats
    trouble: list[str]


def _terminal(circuit: Circuit, stored: Floats) -> Floats:
    """Terminal voltage while no current flows in; NaN where the load asks for too much."""
    whole = 1 + circuit.esr * circuit.conductance
    inner = stored**2 - 4 * whole * circuit.esr * circuit.power
    return np.where(
        (inner >= 0) & (stored > 0), (stored + np.sqrt(np.maximum(inner, 0))) / (2 * whole), np.nan
    )


def stored_voltage(circuit: Circuit, terminal: Floats) -> Floats:
    """Voltage behind the series resistance while no current flows in."""
    return terminal + circuit.esr * circuit.load_current(terminal)


def discharged(circuit: Circuit, terminal: Floats, span: Floats) -> Floats:
    """Terminal voltage after the load alone has drawn for `span` [s]; NaN where it collapses."""
    start = terminal**2
    square = start - 2 * span * circuit.power / circuit.capacitance
    rate = 2 * circuit.conductance / circuit.capacitance
    faded = -np.expm1(-rate * span)
    square = np.where(
        rate > 0,
        start - faded * (start + circuit.power / np.where(rate > 0, circuit.conductance, 1.0)),
        square,
    )
    if (circuit.esr > 0).any():
        least = np.maximum(circuit.esr * circuit.power * 1.0001, 1e-12)
        square = np.maximum(square, least)
        for _ in range(4):
            error = discharge_span(circuit, square, start) - span
            slope = circuit.capacitance / 2 * (
                1 + circuit.esr * circuit.conductance - circuit.esr * circuit.power / square
            ) / (circuit.power + circuit.conductance * square)  # fmt: skip
            square = np.maximum(square + error / slope, least)
        square = np.where(square > 1.001 * least, square, np.nan)
    return np.sqrt(np.where(square > 1e-4 * start, square, np.nan))


def conduct(
    circuit: Circuit, phase: Floats, current: Floats, stored: Floats, sign: Floats, span: Floats
) -> tuple[Floats, Floats, Floats]:
    """Current, stored and terminal voltage after conducting for `span` [s] from `phase` on."""
    capacitance, inductance, esr = circuit.capacitance, circuit.inductance, circuit.esr
    whole = 1 + esr * circuit.conductance
    inside = stored + esr * current
    inner = np.maximum(inside**2 - 4 * whole * esr * circuit.power, 0.0)
    terminal = np.maximum((inside + np.sqrt(inner)) / (2 * whole), 1e-3)
    fall = circuit.power / terminal**2 - circuit.conductance
    load = 2 * circuit.power / terminal
    keep = 1 / (1 - esr * fall)
    upper_left = -(circuit.series + keep * esr) / inductance
    upper_right, lower_left = -keep / inductance, keep / capacitance
    lower_right = fall * keep / capacitance
    upper = (-circuit.drop + keep * esr * load) / inductance
    lower = -keep * load / capacitance
    determinant = upper_left * lower_right - upper_right * lower_left
    still = (
        -(lower_right * upper - upper_right * lower) / determinant,
        -(upper_left * lower - lower_left * upper) / determinant,
    )
    first, second, pushed = current - still[0], stored - still[1], [still[0], still[1]]
    for order, amplitude in enumerate(circuit.mains.amplitudes, start=1):
        turning = 1j * order * circuit.omega
        swing = (sign / inductance) * amplitude
        swing = swing / (
            (turning - upper_left) * (turning - lower_right) - upper_right * lower_left
        )
        before = swing * np.exp(1j * order * phase)
        after = swing * np.exp(1j * order * (phase + circuit.omega * span))
        first = first - ((turning - lower_right) * before).imag
        second = second - (lower_left * before).imag
        pushed[0] = pushed[0] + ((turning - lower_right) * after).imag
        pushed[1] = pushed[1] + (lower_left * after).imag
    middle = (upper_left + lower_right) / 2
    apart = np.sqrt((middle**2 - determinant) + 0j)
    apart = np.where(np.abs(apart) < 1e-6 * np.abs(middle), 1e-6 * np.abs(middle), apart)
    fast, slow = np.exp((middle + apart) * span), np.exp((middle - apart) * span)
    mean, skew = ((fast + slow) / 2).real, ((fast - slow) / (2 * apart)).real
    half = (upper_left - lower_right) / 2
    moved = mean * first + skew * (half * first + upper_right * second)
    charged = mean * second + skew * (lower_left * first - half * second)
    flow, kept = moved + pushed[0], charged + pushed[1]
    return flow, kept, keep * (kept + esr * (flow - load))


class _March:
    """Every case at one phase of the mains."""

    def __init__(self, circuit: Circuit, steps: int, terminal: Floats) -> None:
        self.circuit, self.steps = circuit, steps
        self.current = np.zeros_like(circuit.crest)
        full = circuit.crest - circuit.drop
        self.terminal = np.where(terminal > 0, np.minimum(terminal, full), full)
        self.stored = stored_voltage(circuit, self.terminal)
        self.sign = np.ones_like(circuit.crest)
        self.on = np.zeros(len(circuit.crest), dtype=bool)

    def _start(self, phase: Floats, span: Floats) -> Floats:
        """How long until the mains exceeds the capacitor, `span` where it does not. [s]."""
        circuit = self.circuit
        low, high = np.zeros_like(span), span

        def ahead(moment: Floats) -> Floats:
            source = np.abs(circuit.mains.waveform(phase + circuit.omega * moment))
            return source - circuit.drop - discharged(circuit, self.terminal, moment)

        starts = ahead(span) > 0
        for _ in range(20):
            middle = (low + high) / 2
            above = ahead(middle) > 0
            low, high = np.where(above, low, middle), np.where(above, middle, high)
        return np.where(starts, high, span)

    def _stop(self, phase: Floats, span: Floats) -> Floats:
        """How long until the current, which is negative after `span`, was zero. [s]."""
        low, high = np.zeros_like(span), span
        for _ in range(20):
            middle = (low + high) / 2
            flow = conduct(
                self.circuit, phase, self.current, self.stored, self.sign, middle
            )[0]  # fmt: skip
            low, high = np.where(flow > 0, middle, low), np.where(flow > 0, high, middle)
        return high

    def step(self, index: int) -> None:
        """On by one step of the half period, with at most one start and one stop."""
        phase = np.full_like(self.current, np.pi * index / self.steps)
        left = np.pi / self.steps / self.circuit.omega
        for _ in range(3):
            part = self._part(phase, left)
            phase, left = phase + self.circuit.omega * part, left - part
            if not (left > 0).any():
                break

    def _part(self, phase: Floats, left: Floats) -> Floats:
        """On until the next start or stop, or for all that is left of the step."""
        circuit, part = self.circuit, left.copy()
        flow, kept, volts = self.current, self.stored, self.terminal
        ends = np.zeros_like(self.on)
        if self.on.any():
            flow, kept, volts = conduct(circuit, phase, flow, kept, self.sign, left)
            ends = self.on & (flow < 0)
        if ends.any():
            part = np.where(ends, self._stop(phase, left), part)
            flow, kept, volts = conduct(
                circuit, phase, self.current, self.stored, self.sign, part
            )  # fmt: skip
        off = ~self.on
        if off.any():
            idle = discharged(circuit, self.terminal, left)
            source = np.abs(circuit.mains.waveform(phase + circuit.omega * left)) - circuit.drop
            starts = off & (source > idle)
            if starts.any():
                part = np.where(starts, self._start(phase, left), part)
                idle = discharged(circuit, self.terminal, part)
            flow, volts = np.where(off, 0.0, flow), np.where(off, idle, volts)
            kept = np.where(off, stored_voltage(circuit, idle), kept)
            turned = np.sign(circuit.mains.waveform(phase + circuit.omega * part))
            self.sign = np.where(starts, turned, self.sign)
            self.on = self.on | starts
        self.current = np.where(ends, 0.0, flow)
        self.stored = kept
        self.terminal = np.where(ends, _terminal(circuit, kept), volts)
        self.on = self.on & ~ends
        return part

    def half_period(self) -> tuple[Floats, Floats]:
        """Current, along the half wave, and terminal voltage at every step of a half period."""
        current = np.empty((len(self.current), self.steps + 1))
        voltage = np.empty_like(current)
        current[:, 0], voltage[:, 0] = self.current * self.sign, self.terminal
        for index in range(self.steps):
            self.step(index)
            current[:, index + 1] = self.current * self.sign
            voltage[:, index + 1] = self.terminal
        # The next half period is this one with the mains turned round.
        self.sign = -self.sign
        return current, voltage


def with_inductance(circuit: Circuit) -> Circuit:
    """The circuit with so small an inductance, where it has none, that nothing notices."""
    series = np.maximum(circuit.series + circuit.esr, _LEAST_SERIES)
    least = series * np.minimum(_LEAST_TIME, 1e-2 * series * circuit.capacitance)
    return replace(circuit, inductance=np.maximum(circuit.inductance, least))


def march(circuit: Circuit, terminal: Floats) -> HalfPeriod:
    """The half period that repeats.

    It starts at phase 0 with no current and the terminal voltages given, or with a full capacitor
    where none is given (NaN).
    """
    circuit = with_inductance(circuit)
    count = len(circuit.crest)
    ring = np.sqrt(np.maximum(
        1 / (circuit.inductance * circuit.capacitance)
        - ((circuit.series + circuit.esr) / circuit.inductance) ** 2 / 4, 0.0,
    ))  # fmt: skip
    wanted = np.ceil(_PER_RING * ring / (2 * circuit.omega))
    trouble = np.full(count, "", dtype=object)
    trouble[wanted > _MOST_STEPS] = "the current rings too fast to be followed"
    steps = int(np.clip(wanted[wanted <= _MOST_STEPS].max(initial=0), _STEPS, _MOST_STEPS))
    state = _March(circuit, steps, terminal)
    history: list[Floats] = []
    restless = np.zeros(count, dtype=int)
    settled = np.zeros(count, dtype=bool)
    for _ in range(_HALF_PERIODS):
        current, voltage = state.half_period()
        gone = ~np.isfinite(voltage[:, -1])
        trouble[gone & (trouble == "")] = "the bulk capacitor runs empty between two half waves"
        swing = np.ptp(voltage, axis=1) + 1e-6 * voltage[:, 0]
        settled = np.abs(voltage[:, -1] - voltage[:, 0]) < 1e-5 * swing
        settled &= np.abs(current[:, -1] + current[:, 0]) <= 1e-5 * np.abs(current).max(axis=1)
        restless = np.where((current == 0).mean(axis=1) < 0.004, restless + 1, 0)
        trouble[(restless > 6) & (trouble == "")] = _ALWAYS
        if gone.any() or (settled | (trouble != "")).all():
            break
        history = [*history, state.stored.copy()]
        if len(history) == 3:
            _leap(state, history)
            history = []
    never = ~settled & (trouble == "") & ~(trouble != "").any()
    trouble[never] = "the half periods do not settle to a repeating one"
    trouble[settled & (restless > 0)] = _ALWAYS
    return HalfPeriod(current, voltage, list(trouble))


def _leap(state: _March, history: list[Floats]) -> None:
    """Where three half periods approach a limit evenly, go there (Aitken)."""
    first, second, third = history
    now, then = third - second, second - first
    ratio = np.where(np.abs(then) > 0, now / np.where(then == 0, 1.0, then), 0.0)
    goal = third + now * ratio / (1 - np.clip(ratio, -0.9, 0.98))
    even = (~state.on) & (np.abs(ratio) < 0.98) & (goal > 0.6 * third) & (goal < 1.4 * third)
    state.stored = np.where(even, goal, state.stored)
    state.terminal = np.where(even, _terminal(state.circuit, state.stored), state.terminal)
