"""What a rectifier's half period amounts to: effective values, harmonics, waveforms."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial import legendre

from adapterlab.numerics.arguments import Floats, Integers
from adapterlab.numerics.bridge import (
    NODES,
    TO_SERIES,
    Circuit,
    Pulse,
    discharge_span,
    solve_pulses,
)
from adapterlab.numerics.bridge_march import (
    HalfPeriod,
    conduct,
    discharged,
    march,
    stored_voltage,
    with_inductance,
)
from adapterlab.numerics.mains import Complexes

SAMPLES, ORDERS = 1000, 40
_CHUNK = 96
_gauss, _gauss_weights = np.polynomial.legendre.leggauss(48)
_FINE = (_gauss + 1) / 2
FINE_PLACES, _FINE_WEIGHTS = _FINE**2, _FINE * _gauss_weights
_TO_FINE = legendre.legvander(2 * _FINE - 1, NODES - 1) @ TO_SERIES
_DENSE = np.linspace(0, 1, 129)
_TO_DENSE = legendre.legvander(2 * _DENSE - 1, NODES - 1) @ TO_SERIES
# A pulse whose series has a tail above the share starts with a kink; up to this place the circuit
# is followed exactly, its load a straight line of its voltage.
_KINK, _EARLY = (
    1e-5,
    (np.geomspace(1e-6, 3e-3, 40), np.linspace(0, 0.03, 24), np.linspace(0, 0.1, 32)),
)
_few, _few_weights = np.polynomial.legendre.leggauss(12)
_FEW, _FEW_WEIGHTS = (_few + 1) / 2, _few_weights / 2


@dataclass(frozen=True)
class Figures:
    """Every figure of every case, shape (n,); complex `harmonics` have the shape (n, orders)."""

    highest: Floats
    lowest: Floats
    mean: Floats
    current_rms: Floats
    current_peak: Floats
    power: Floats
    harmonics: Complexes
    capacitor_rms: Floats
    conduction: Floats


@dataclass(frozen=True)
class Solution:
    """All cases solved: pulses, and half periods followed step by step where `stepped` says so."""

    circuit: Circuit
    pulse: Pulse
    stepped: Integers
    half: HalfPeriod | None


def solve(circuit: Circuit) -> Solution:
    """Periodic steady state of every case; raises where there is none."""
    pulse = solve_pulses(circuit)
    bad = np.flatnonzero(~pulse.good)
    if not len(bad):
        return Solution(circuit, pulse, bad, None)
    part = circuit.take(bad)
    # No source gives more than half its voltage into half its current.
    given = part.crest**2 / 8
    for place in bad[given < (part.series * part.power)]:
        raise ValueError(
            _refusal(circuit, int(place), "the load asks for more than the source has")
        )
    with np.errstate(all="ignore"):
        half = march(part, _at_zero(part, pulse, bad))
    for place, text in zip(bad, half.trouble, strict=True):
        if text:
            raise ValueError(_refusal(circuit, int(place), text))
    polished = solve_pulses(part, _single(half))
    for name, values in vars(polished).items():
        getattr(pulse, name)[bad[polished.good]] = values[polished.good]
    left = ~polished.good
    kept = replace(half, current=half.current[left], voltage=half.voltage[left])
    return Solution(circuit, pulse, bad[left], kept if left.any() else None)


def _refusal(circuit: Circuit, place: int, text: str) -> str:
    case = circuit.take(place)
    source = f"{float(np.asarray(case.mains.voltage)):.4g} V, {case.omega / (2 * np.pi):.4g} Hz"
    drawn = f"load_power {case.power:.4g} W"
    if case.conductance > 0:
        drawn += f", load_resistance {1 / case.conductance:.4g} ohm"
    cause = ""
    if "more than" in text:
        cause = ": the source is too weak"
    elif "empty" in text:
        cause = "; bulk_capacitance is too small to hold this load, or the source is too weak"
    return (
        f"no steady state: {text}{cause} ({drawn}, bulk_capacitance {case.capacitance:.4g} F, "
        f"source {source}, {case.series:.4g} ohm with diodes, {case.inductance:.4g} H)"
    )


def _at_zero(part: Circuit, pulse: Pulse, places: Integers) -> Floats:
    """Terminal voltage at phase 0 that pulses which nearly are solutions leave; else NaN."""
    end = pulse.start[places] + pulse.length[places]
    idle = np.maximum(np.pi - end, 0.0) / part.omega
    left = discharged(part, pulse.voltage[places, -1], idle)
    balance = discharge_span(part, pulse.start_voltage[places] ** 2, pulse.voltage[places, -1] ** 2)
    missing = np.abs(balance * part.omega - (np.pi - pulse.length[places]))
    return np.where((missing < 1e-3) & (end < np.pi), left, np.nan)


def _single(half: HalfPeriod) -> tuple[Floats, Floats]:
    """Start and length of the longest pulse of half periods followed step by step."""
    steps = half.current.shape[1] - 1
    flowing = half.current[:, :-1] > 0
    start, length = np.full(len(flowing), 1.0), np.full(len(flowing), 1.0)
    for row, on in enumerate(flowing):
        first = np.flatnonzero(on & ~np.roll(on, 1))
        if len(first):
            runs = [int(np.argmin(np.append(np.roll(on, -place), False))) for place in first]
            best = int(np.argmax(runs))
            start[row] = np.pi * (first[best] - 0.5) / steps
            length[row] = np.pi * (runs[best] + 1) / steps
    return start, np.minimum(length, 3.1)


def _harmonics(flow: Floats, angle: Floats, weights: Floats) -> Complexes:
    """Complex rms of orders 1 to 40 from one half wave; the even ones vanish."""
    spectrum = np.zeros((len(flow), ORDERS), dtype=complex)
    turn = np.exp(-1j * angle)
    double, wave = turn * turn, flow * weights * turn
    for order in range(1, ORDERS + 1, 2):
        spectrum[:, order - 1] = wave.sum(axis=1) * (1j * np.sqrt(2) / np.pi)
        wave *= double
    return spectrum


def _peak(circuit: Circuit, pulse: Pulse, dense: Floats) -> Floats:
    """Highest current; where a series would overshoot the kink at the start, from the circuit."""
    highest: Floats = dense.max(axis=1)
    tail = np.abs(pulse.current @ TO_SERIES[-2:].T).max(axis=1)
    kinked = np.flatnonzero(tail > _KINK * highest)
    if len(kinked):
        part = with_inductance(circuit.take(kinked))
        wide = part.take(np.s_[:, None])
        phase = pulse.start[kinked][:, None]
        stored = stored_voltage(wide, pulse.start_voltage[kinked][:, None])
        flow, ahead = np.zeros_like(stored), np.ones_like(stored)
        early = np.zeros(len(kinked))
        lasting = (pulse.length[kinked] / part.omega)[:, None]
        turn = 1 / (wide.inductance * wide.capacitance)
        turn = turn - ((wide.series + wide.esr) / (2 * wide.inductance)) ** 2
        # Where the circuit rings, the first swing is highest after half a turn.
        swing = np.minimum(np.pi / np.sqrt(np.where(turn > 0, turn, np.inf)), 0.1 * lasting)
        for shares in _EARLY:
            span = np.concatenate([swing, shares * lasting], axis=1)
            flows, kept, _ = conduct(wide, phase, flow, stored, ahead, span)
            early = np.maximum(early, flows.max(axis=1))
            flow, stored, swing = flows[:, -1:], kept[:, -1:], swing[:, :0]
            phase = phase + wide.omega * span[:, -1:]
        late = dense[kinked][:, _DENSE**2 > 0.1].max(axis=1)
        highest[kinked] = np.maximum(early, late)
    return highest


def drawn_power(circuit: Circuit, pulse: Pulse) -> Floats:
    """Power that the source gives. [W], shape (n,)."""
    angle = pulse.start[:, None] + FINE_PLACES * pulse.length[:, None]
    source = circuit.mains.waveform(angle)
    flow = pulse.current @ _TO_FINE.T
    found: Floats = (source * flow * _FINE_WEIGHTS).sum(axis=1) * pulse.length / np.pi
    return found


def current_at(circuit: Circuit, pulse: Pulse, phase: Floats) -> Floats:
    """Mains current of every case at its own phases. [A], shape of `phase` (n, samples)."""
    after = (phase - pulse.start[:, None]) % np.pi
    share = after / pulse.length[:, None]
    flow = _series(pulse.current @ TO_SERIES.T, 2 * np.sqrt(np.minimum(share, 1.0)) - 1)
    # A pulse that outlasts its half wave goes on, reversed, in the next.
    sign = np.where((phase - pulse.start[:, None]) % (2 * np.pi) < np.pi, 1.0, -1.0)
    return np.where(share <= 1, flow * sign, 0.0)


def _of_pulses(circuit: Circuit, pulse: Pulse) -> Figures:
    omega, length = circuit.omega, pulse.length
    flow, volts = pulse.current @ _TO_FINE.T, pulse.voltage @ _TO_FINE.T
    angle = pulse.start[:, None] + FINE_PLACES * length[:, None]
    span = (length / np.pi)[:, None] * _FINE_WEIGHTS
    source = circuit.mains.waveform(angle)
    draw = circuit.power[:, None] / volts + circuit.conductance[:, None] * volts
    # While the load alone draws, an integral over time becomes one over voltage.
    low, high = pulse.start_voltage, pulse.voltage[:, -1]
    idle = low[:, None] + (high - low)[:, None] * _FEW
    idle_draw = circuit.power[:, None] / idle + circuit.conductance[:, None] * idle
    pace = 1 + circuit.esr * circuit.conductance
    pace = pace[:, None] - (circuit.esr * circuit.power)[:, None] / idle**2
    idle_span = pace / idle_draw * _FEW_WEIGHTS
    idle_span *= ((high - low) * circuit.capacitance * omega / np.pi)[:, None]
    dense, dense_volts = pulse.current @ _TO_DENSE.T, pulse.voltage @ _TO_DENSE.T
    return Figures(
        highest=dense_volts.max(axis=1),
        lowest=np.minimum(dense_volts[:, 1:].min(axis=1), low),
        mean=(volts * span).sum(axis=1) + (idle * idle_span).sum(axis=1),
        current_rms=np.sqrt((flow**2 * span).sum(axis=1)),
        current_peak=_peak(circuit, pulse, dense),
        power=(source * flow * span).sum(axis=1),
        harmonics=_harmonics(flow, angle, span * np.pi),
        capacitor_rms=np.sqrt(
            ((flow - draw) ** 2 * span).sum(axis=1) + (idle_draw**2 * idle_span).sum(axis=1)
        ),
        conduction=np.degrees(length),
    )


def _crest(values: Floats) -> Floats:
    """Highest value of every row, of the parabola through it and its neighbours."""
    rows = np.arange(len(values))
    place = np.clip(values.argmax(axis=1), 1, values.shape[1] - 2)
    before, top, after = (values[rows, place + shift] for shift in (-1, 0, 1))
    bend = 2 * top - before - after
    raised = top + (after - before) ** 2 / (8 * np.where(bend > 0, bend, 1.0))
    return np.maximum(values.max(axis=1), np.where(bend > 0, raised, top))


def _of_half(circuit: Circuit, half: HalfPeriod) -> Figures:
    steps = half.current.shape[1] - 1
    angle = np.linspace(0.0, np.pi, steps + 1)
    weights = np.full(steps + 1, 1 / steps)
    weights[[0, -1]] /= 2
    draw = circuit.power[:, None] / half.voltage + circuit.conductance[:, None] * half.voltage
    source = circuit.mains.waveform(angle[None, :])
    into = np.abs(half.current) - draw
    return Figures(
        highest=_crest(half.voltage),
        lowest=-_crest(-half.voltage),
        mean=half.voltage @ weights,
        current_rms=np.sqrt(half.current**2 @ weights),
        current_peak=_crest(np.abs(half.current)),
        power=(source * half.current) @ weights,
        harmonics=_harmonics(half.current, angle[None, :], weights * np.pi),
        capacitor_rms=np.sqrt(into**2 @ weights),
        conduction=np.degrees(np.pi * (half.current != 0).mean(axis=1)),
    )


def figures(solution: Solution) -> Figures:
    """The figures of a solution, a few hundred cases at a time."""
    count = len(solution.circuit.crest)
    parts = []
    for begin in range(0, count, _CHUNK):
        part = slice(begin, begin + _CHUNK)
        pulse = Pulse(*(values[part] for values in vars(solution.pulse).values()))
        with np.errstate(all="ignore"):
            some = solution.circuit.take(part) if count > _CHUNK else solution.circuit
            parts.append(_of_pulses(some, pulse))
    joined = parts[0]
    if len(parts) > 1:
        joined = Figures(
            *(np.concatenate([vars(part)[name] for part in parts]) for name in vars(joined))
        )
    if solution.half is not None:
        exact = _of_half(solution.circuit.take(solution.stepped), solution.half)
        for name, values in vars(exact).items():
            vars(joined)[name][solution.stepped] = values
    return joined


def _series(coefficients: Floats, point: Floats) -> Floats:
    """Legendre series of every row at its own points, by Clenshaw's rule."""
    later = last = np.zeros_like(point)
    for order in range(NODES - 1, 0, -1):
        ahead = coefficients[:, order, None] + (2 * order + 1) / (order + 1) * point * last
        last, later = ahead - (order + 1) / (order + 2) * later, last
    return coefficients[:, :1] + point * last - later / 2


def waveforms(solution: Solution) -> tuple[Floats, Floats]:
    """Mains current and voltage of the bulk capacitor over one period, shape (n, samples)."""
    count = len(solution.circuit.crest)
    current, voltage = np.empty((2, count, SAMPLES // 2))
    phase = 2 * np.pi * np.arange(SAMPLES // 2) / SAMPLES
    for begin in range(0, count, _CHUNK):
        part = slice(begin, begin + _CHUNK)
        circuit = solution.circuit.take(part)
        pulse = Pulse(*(values[part] for values in vars(solution.pulse).values()))
        current[part] = current_at(circuit, pulse, phase[None, :])
        after = (phase - pulse.start[:, None]) % np.pi
        share = after / pulse.length[:, None]
        inside = share <= 1
        point = 2 * np.sqrt(np.minimum(share, 1.0)) - 1
        idle = np.maximum(after - pulse.length[:, None], 0.0) / circuit.omega[:, None]
        with np.errstate(all="ignore"):
            fading = discharged(
                circuit.take(np.s_[:, None]),
                pulse.voltage[:, -1:],
                idle,
            )
        voltage[part] = np.where(inside, _series(pulse.voltage @ TO_SERIES.T, point), fading)
    if solution.half is not None:
        steps = solution.half.current.shape[1] - 1
        grid = np.linspace(0, np.pi, steps + 1)
        for row, place in enumerate(solution.stepped):
            current[place] = np.interp(phase, grid, solution.half.current[row])
            voltage[place] = np.interp(phase, grid, solution.half.voltage[row])
    return np.concatenate([current, -current], axis=1), np.concatenate([voltage, voltage], axis=1)
