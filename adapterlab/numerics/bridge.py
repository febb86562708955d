"""Capacitor-input rectifier in periodic steady state, one conduction pulse in each half period.

The pulse is a polynomial through Radau points (collocation); its start and length follow from
Newton's method with two conditions: the current ends at zero, and the discharge that follows
brings the capacitor back to where the pulse began. Every case is one row, so that a thousand
cases cost little more than one. The points crowd at the start of the pulse, where an inductance
makes a thin layer.
"""

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.polynomial import legendre
from scipy.special import roots_jacobi

from adapterlab.numerics.arguments import Bools, Floats, Places
from adapterlab.numerics.diodes import Bridge
from adapterlab.numerics.mains import Mains

NODES = 20
_TOLERANCE, _ITERATIONS, _CHUNK = 1e-8, 40, 512
# A tail of the Legendre series above this share of the pulse means that the points are too few.
_TAIL = 1e-2


def _collocation(count: int) -> tuple[Floats, Floats]:
    """Radau points on (0, 1] and the matrix that integrates from 0 to each of them."""
    inner, _ = roots_jacobi(count - 1, 1, 0)
    points = np.append((inner + 1) / 2, 1.0)
    basis = legendre.legvander(2 * points - 1, count - 1)
    primitive = [
        legendre.legval(2 * points - 1, legendre.legint(row, lbnd=-1)) / 2 for row in np.eye(count)
    ]
    return points, np.asarray(np.linalg.solve(basis.T, primitive).T, dtype=float)


POINTS, _integral = _collocation(NODES)
# Time within the pulse goes with the square of the point.
PLACES = POINTS**2
_INTEGRATE = _integral * (2 * POINTS)
_DIFFERENTIATE = np.linalg.inv(_INTEGRATE)
_UNIT = np.eye(NODES)
WEIGHTS = _INTEGRATE[-1]
TO_SERIES = np.linalg.inv(legendre.legvander(2 * POINTS - 1, NODES - 1))


@dataclass(frozen=True)
class Circuit:
    """The circuit, each field with cases of shape (n,), in SI units.

    `mains` has odd harmonics only, so that one half wave is like the other; `resistance` and
    `inductance` before the `bridge`; `capacitance` and `esr` of the bulk capacitor; the load draws
    `power` and `conductance` times voltage.
    """

    mains: Mains
    resistance: Floats
    inductance: Floats
    capacitance: Floats
    esr: Floats
    bridge: Bridge
    power: Floats
    conductance: Floats

    def take(self, places: Places) -> "Circuit":
        """The cases at some places."""
        return Circuit(
            self.mains.take(places),
            self.resistance[places],
            self.inductance[places],
            self.capacitance[places],
            self.esr[places],
            self.bridge.take(places),
            self.power[places],
            self.conductance[places],
        )

    @cached_property
    def crest(self) -> Floats:
        """Crest of the mains. [V]."""
        return np.asarray(self.mains.crest)

    @cached_property
    def omega(self) -> Floats:
        """Angular frequency. [rad/s]."""
        return np.asarray(self.mains.omega)

    @cached_property
    def series(self) -> Floats:
        """Resistance in series, diodes included. [ohm]."""
        return self.resistance + np.asarray(self.bridge.resistance)

    @cached_property
    def drop(self) -> Floats:
        """Drop of the diodes. [V]."""
        return np.asarray(self.bridge.drop)

    def load_current(self, voltage: Floats) -> Floats:
        """Current the load draws at a voltage. [A]."""
        return self.power / voltage + self.conductance * voltage


@dataclass(frozen=True)
class Pulse:
    """The conduction pulse: `start` and `length` as angles of the mains [rad], shape (n,).

    `current` and terminal `voltage` of the bulk capacitor at the nodes, shape (n, nodes), and
    `start_voltage` [V]; `good` where the solution is one, resolved, and of one pulse.
    """

    start: Floats
    length: Floats
    current: Floats
    voltage: Floats
    start_voltage: Floats
    good: Bools


def discharge_span(circuit: Circuit, end: Floats, start: Floats) -> Floats:
    """Time in which the load alone takes the squared voltage from `start` down to `end`. [s]."""
    power, slope, esr = circuit.power, circuit.conductance, circuit.esr
    at_end, at_start = power + slope * end, power + slope * start
    share = slope * (start - end) / at_end
    small = np.abs(share) < 1e-9
    stretched = np.where(small, 1.0, np.log1p(share) / np.where(small, 1.0, share))
    span = (1 + esr * slope) * (start - end) / at_end * stretched
    span -= esr * np.log(start * at_end / (end * at_start))
    return circuit.capacitance / 2 * span


def _span_slope(circuit: Circuit, square: Floats) -> Floats:
    """Derivative of the time above with respect to the squared voltage at its start."""
    power, slope, esr = circuit.power, circuit.conductance, circuit.esr
    return circuit.capacitance / 2 * (1 + esr * slope - esr * power / square) / (
        power + slope * square
    )  # fmt: skip


def _guess(circuit: Circuit) -> tuple[Floats, Floats]:
    """Start and length of the pulse, roughly: from ripple, resistance and inductance."""
    top = circuit.crest - circuit.drop
    flow = circuit.load_current(0.95 * top)
    drain = np.minimum(2 * flow / (circuit.omega * circuit.capacitance * 0.95 * top), 0.6)
    late = np.arcsin(drain) / 2
    square, early = np.cos(late) ** 2, np.full_like(late, 0.5)
    for _ in range(6):
        early = np.arccos(np.sqrt(np.clip(square - drain * (np.pi - early - late), 0.03, 1.0)))
    resistance = circuit.series + circuit.esr
    by_resistance = np.cbrt(1.5 * np.pi * flow * resistance / circuit.crest)
    reactance = circuit.omega * circuit.inductance
    by_inductance = (2 * np.pi * flow * reactance / circuit.crest) ** 0.25
    before = np.cbrt(early**3 + by_resistance**3 + by_inductance**3)
    after = np.cbrt(late**3 + by_resistance**3 + (1.3 * by_inductance) ** 3)
    before = np.minimum(before, 1.3)
    return np.pi / 2 - before, np.minimum(before + after, 2.8)


class _Newton:
    """State of Newton's method for one chunk of cases."""

    def __init__(self, circuit: Circuit, guess: tuple[Floats, Floats]) -> None:
        self.circuit = circuit
        self.lowest = np.arcsin(np.minimum(circuit.drop / circuit.crest, 0.99)) + 1e-3
        self.highest = np.asarray(circuit.mains.crest_angle) - 1e-5
        start, self.length = guess
        self.start = np.maximum(start, self.lowest)
        self.last = 0.95 * (circuit.crest - circuit.drop)
        self.excess: Floats = np.zeros((len(start), NODES))
        self.current: Floats = self.excess
        self.voltage: Floats = self.excess
        self.fresh = True
        self.moved = np.full(len(start), np.inf)
        self.stable = np.ones(len(start), dtype=bool)

    def step(self) -> None:
        """One iteration: solve the pulse, correct its start, length and load current."""
        circuit, length, esr = self.circuit, self.length, self.circuit.esr
        first = np.asarray(circuit.mains.waveform(self.start)) - circuit.drop
        rise = np.asarray(circuit.mains.slope(self.start))
        load = circuit.load_current(first)
        # The load is load + excess - fall · (voltage - first), the fall that of the pulse's end.
        fall = circuit.power / self.last**2 - circuit.conductance
        steep = circuit.power / first**2 - circuit.conductance
        angle = self.start[:, None] + PLACES * length[:, None]
        slope = circuit.mains.slope(angle)
        sources = np.empty((4, len(first), NODES))
        sources[0] = circuit.mains.waveform(angle) - (first + circuit.drop)[:, None]
        sources[1] = slope - rise[:, None]
        sources[2] = PLACES * slope
        sources[3] = self.excess
        push, push_start, push_length, excess = sources
        stored = sources @ _INTEGRATE.T
        store = length / (circuit.omega * circuit.capacitance)
        coil = circuit.omega * circuit.inductance / length
        keep = 1 - fall * esr
        # Voltage law times (1 - fall · impedance of the capacitor), so that only currents remain.
        matrix = (
            (coil * keep)[:, None, None] * _DIFFERENTIATE
            + (circuit.series * keep + esr - fall * store * coil)[:, None, None] * _UNIT
            + (store * (1 - fall * circuit.series))[:, None, None] * _INTEGRATE
        )
        less, more = (fall * store)[:, None], store[:, None]
        right = np.empty((len(first), NODES, 3))
        right[:, :, 0] = keep[:, None] * push - less * stored[0] + esr[:, None] * excess
        right[:, :, 0] += more * (stored[3] + PLACES * load[:, None])
        right[:, :, 1] = keep[:, None] * push_start - less * stored[1]
        right[:, :, 1] -= PLACES * (store * steep * rise)[:, None]
        right[:, :, 2] = keep[:, None] * push_length - less * stored[2]
        right[:, :, 2] += (store / length)[:, None] * (
            stored[3] + PLACES * load[:, None] - fall[:, None] * stored[0]
        )
        if self.fresh:
            self.current = np.asarray(np.linalg.solve(matrix, right[:, :, :1])[:, :, 0], float)
        # The matrix changes with the length too; for its slope the last current will do.
        right[:, :, 2] += (coil * keep / length)[:, None] * (self.current @ _DIFFERENTIATE.T)
        right[:, :, 2] -= (store * (1 - fall * circuit.series) / length)[:, None] * (
            self.current @ _INTEGRATE.T
        )
        solved: Floats = np.asarray(np.linalg.solve(matrix, right), float)
        current, by_length = solved[:, :, 0], solved[:, :, 2]
        lag = current @ _DIFFERENTIATE.T
        offset = push - circuit.series[:, None] * current - coil[:, None] * lag
        end_start = push_start[:, -1] - circuit.series * solved[:, -1, 1]
        end_start -= coil * (solved[:, :, 1] @ _DIFFERENTIATE[-1])
        end_length = push_length[:, -1] - circuit.series * by_length[:, -1]
        end_length -= coil * (by_length @ _DIFFERENTIATE[-1] - lag[:, -1] / length)
        last = np.maximum(first + offset[:, -1], 0.1 * first)
        self._correct(
            (first, last, rise),
            (current[:, -1], solved[:, -1, 1], by_length[:, -1]),
            (rise + end_start, end_length),
        )
        self.current, self.start_voltage, self.fresh = current, first, False
        self.voltage = np.maximum(first[:, None] + offset, 0.05 * first[:, None])
        self.last = np.minimum(last, circuit.crest)
        fall = circuit.power / self.last**2 - circuit.conductance
        self.excess = (
            circuit.power[:, None] / self.voltage + circuit.conductance[:, None] * self.voltage
            + fall[:, None] * (self.voltage - first[:, None]) - load[:, None]
        )  # fmt: skip

    def _correct(
        self,
        volts: tuple[Floats, Floats, Floats],
        ends: tuple[Floats, Floats, Floats],
        slopes: tuple[Floats, Floats],
    ) -> None:
        circuit, (first, last, rise) = self.circuit, volts
        low, high = first**2, last**2
        missing = discharge_span(circuit, low, high) - (np.pi - self.length) / circuit.omega
        top, bottom = _span_slope(circuit, high), _span_slope(circuit, low)
        by_start = 2 * (top * last * slopes[0] - bottom * first * rise)
        by_length = 2 * top * last * slopes[1] + 1 / circuit.omega
        final, final_start, final_length = ends
        determinant = final_start * by_length - final_length * by_start
        move_start = -(final * by_length - final_length * missing) / determinant
        move_length = -(final_start * missing - by_start * final) / determinant
        self.moved = np.maximum(np.abs(move_start), np.abs(move_length))
        # A pulse that starts later must end with more charge than the discharge takes.
        self.stable = by_start - by_length * final_start / final_length < 0
        share = np.minimum(
            0.3 / np.maximum(np.abs(move_start), 0.3),
            0.4 * self.length / np.maximum(np.abs(move_length), 0.4 * self.length),
        )
        start = np.clip(self.start + share * move_start, self.lowest, self.highest)
        self.start, self.length = start, np.clip(self.length + share * move_length, 1e-5, np.pi)

    def pulse(self) -> Pulse:
        """The result, with what can be trusted."""
        highest = np.abs(self.current).max(axis=1)
        tail = np.abs(self.current @ TO_SERIES[-2:].T).max(axis=1)
        good = (self.moved < _TOLERANCE) & self.stable & (self.length < 0.999 * np.pi)
        # Only a circuit that goes on ringing can need more points, or stop within the pulse.
        circuit, lowest = self.circuit, self.current.min(axis=1)
        series = circuit.series + circuit.esr
        calm = series**2 * circuit.capacitance >= 4 * circuit.inductance
        calm |= 8 * circuit.inductance * circuit.omega < 0.03 * series * self.length
        good &= calm | ((tail < _TAIL * highest) & (lowest > -1e-2 * highest))
        good &= lowest > -0.1 * highest
        if not circuit.mains.is_sine:
            # A wave with two humps may start a pulse of each.
            good &= (lowest > -5e-3 * highest) & ~self._starts_again()
        return Pulse(
            self.start, self.length, self.current, self.voltage, self.start_voltage, good
        )  # fmt: skip

    def _starts_again(self) -> Bools:
        """Whether the mains exceeds the capacitor while the load alone should draw."""
        circuit, first = self.circuit, self.start_voltage[:, None]
        share = np.linspace(0.0, 1.0, 42)[1:-1]
        angle = self.start[:, None] + self.length[:, None]
        angle = angle + share * (np.pi - self.length)[:, None]
        held = np.sqrt(self.last[:, None] ** 2 * (1 - share) + first**2 * share)
        ahead = np.abs(np.asarray(circuit.mains.waveform(angle))) - circuit.drop[:, None] - held
        return np.asarray((ahead > 1e-4 * circuit.crest[:, None]).any(axis=1))


def solve_pulses(circuit: Circuit, guess: tuple[Floats, Floats] | None = None) -> Pulse:
    """Start, length and shape of the pulse of every case; `good` says where it can be trusted."""
    found = []
    with np.errstate(all="ignore"):
        start, length = _guess(circuit) if guess is None else guess
        for begin in range(0, len(circuit.crest), _CHUNK):
            part = slice(begin, begin + _CHUNK)
            some = circuit.take(part) if len(circuit.power) > _CHUNK else circuit
            newton = _Newton(some, (start[part], length[part]))
            for _ in range(_ITERATIONS):
                newton.step()
                if (newton.moved < _TOLERANCE).all():
                    break
            found.append(newton.pulse())
    return found[0] if len(found) == 1 else _joined(found)


def _joined(parts: list[Pulse]) -> Pulse:
    names = [entry.name for entry in fields(Pulse)]
    return Pulse(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))
