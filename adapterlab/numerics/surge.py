"""The plug-in circuit in time: one surge on Python floats, many on arrays, by the same formulas.

While the bridge conducts, the circuit is linear but for the warming thermistor and the load. Each
step solves it in closed form with both as they are in its middle; `walk` goes from event to event.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from scipy.constants import zero_Celsius

# Below this voltage of the bulk capacitor the load draws a constant current. [V]
LOAD_FLOOR = 60.0
# And below this one less and less, for an empty capacitor gives nothing. [V]
LOAD_END = 5.0
# A step while conducting is at most this share of the time conducted so far, this share of a half
# period, and this angle of a ringing that has not died away. [1], [1], [rad]
GROWTH, LONGEST, RINGING = 0.11, 1 / 32, 0.12
# After the first rise of the current the share is larger by this. [1]
_LATER = 2.5
_WARM = 1 / (25 + zero_Celsius)


class _Numbers:
    """Functions for one surge on Python floats."""

    exp, expm1, sqrt = math.exp, math.expm1, math.sqrt
    sin, cos, floor = math.sin, math.cos, math.floor
    least, most, any, all = min, max, bool, bool

    @staticmethod
    def where(condition: Any, yes: Any, no: Any) -> Any:
        return yes if condition else no


class _Arrays:
    """The same functions for many surges."""

    exp, expm1, sqrt = np.exp, np.expm1, np.sqrt
    sin, cos, floor = np.sin, np.cos, np.floor
    least, most, any, all = np.minimum, np.maximum, np.any, np.all
    where = np.where


@dataclass(frozen=True)
class Circuit:
    """The parts; every field a float, or every field an array of shape (n,).

    `fixed_resistance` is that of all parts but the thermistor; `start_angle` is in radians,
    `load_start` may be infinite, and without a thermistor `resistance_25` is 0.
    """

    crest: Any
    omega: Any
    start_angle: Any
    bulk_capacitance: Any
    inductance: Any
    fixed_resistance: Any
    bulk_esr: Any
    bridge_drop: Any
    resistance_25: Any
    beta: Any
    heat_capacity: Any
    dissipation_factor: Any
    ambient: Any
    load_power: Any
    load_start: Any
    start_voltage: Any
    start_temperature: Any


@dataclass
class Track:
    """Where the surges were, and what went where until the end.

    `nodes` holds time, signed current, voltage at the terminals of the bulk capacitor, temperature
    and I²t: the start, then middle and end of each step. `voltage` is that of the capacitance.
    """

    nodes: list[tuple[Any, ...]]
    squares: Any
    load_charge: Any
    thermistor_energy: Any
    esr_energy: Any
    load_energy: Any
    source_energy: Any
    voltage: Any


class _State(NamedTuple):
    """Start of a step: time, current and its slope, capacitor, thermistor, load's current."""

    time: Any
    flow: Any
    slope: Any
    volts: Any
    warmth: Any
    taken: Any


class _Step(NamedTuple):
    """Middle and end of a step, its integrals, and whether the bridge conducts after it."""

    flow_m: Any
    volts_m: Any
    warmth_m: Any
    flow: Any
    volts: Any
    warmth: Any
    squares: Any
    heat: Any
    source: Any
    taken: Any
    span: Any
    conducts: Any


def _falling_zero(ops: Any, function: Callable[[Any], Any], low: Any, high: Any) -> Any:
    """Where a function that is positive at `low` and negative at `high` crosses zero."""
    above, below = function(low), function(high)
    for _ in range(6):
        span = above - below
        share = ops.where(span > 0, above / ops.where(span > 0, span, 1.0), 0.5)
        middle = low + (high - low) * ops.least(ops.most(share, 0.02), 0.98)
        value = function(middle)
        positive = value > 0
        # The end that stays counts half, so that it moves too (the Illinois rule).
        below = ops.where(positive, below / 2, value)
        above = ops.where(positive, value, above / 2)
        low, high = ops.where(positive, middle, low), ops.where(positive, high, middle)
    return (low + high) / 2


class _Walk:
    """The circuit with what stays the same from step to step."""

    def __init__(self, circuit: Circuit, single: bool) -> None:
        ops: Any = _Numbers if single else _Arrays
        self.ops, self.circuit = ops, circuit
        self.heats = ops.any(circuit.resistance_25 > 0)
        self.loads = ops.any(circuit.load_power > 0)
        self.cooling = circuit.dissipation_factor / circuit.heat_capacity
        bulk, omega = circuit.bulk_capacitance, circuit.omega
        self.cold = circuit.fixed_resistance + self.limiter(circuit.start_temperature)
        # Without inductance, one so small that the current follows at once.
        tiny = 1e-8 * circuit.fixed_resistance**2 * bulk
        self.at_once = circuit.inductance <= tiny
        self.coil = coil = ops.most(circuit.inductance, tiny)
        self.reactance = omega * coil - 1 / (omega * bulk)
        self.stiffness = 1 / (coil * bulk)
        half_period, slow = math.pi / omega, self.cold * bulk
        self.longest = half_period * LONGEST
        self.slow, self.fading = slow, ops.least(0.25 * slow, self.longest)
        rings = coil > 0.05 * self.cold * slow
        self.ringing = ops.where(rings, RINGING / ops.sqrt(self.stiffness), self.longest)
        quickest = ops.where(self.at_once, slow, ops.least(coil / self.cold, slow))
        finest = ops.least(self.longest, self.ringing)
        self.first = ops.least(0.1 * quickest, finest)
        # After a later start the current rises slowly: no need to begin with the shortest steps.
        self.renewed = ops.least(0.2 * slow, finest / 2) / GROWTH
        self.risen = ops.least(15 * coil / self.cold, slow)
        self.settled = self.renewed + 12 * coil / self.cold
        self.shortest = 2e-7 * half_period
        self.nothing = 0.0 * circuit.crest

    def longest_step(self, time: Any, age: Any) -> Any:
        """Longest step so long after contact and after the bridge began to conduct. [s]."""
        ops = self.ops
        later = ops.most(age - self.risen, 0.0)
        step = self.first + GROWTH * (age + (_LATER - 1) * later)
        step = ops.least(step, ops.where(time < 5 * self.slow, self.fading, self.longest))
        return ops.least(step, ops.where(age < self.settled, self.ringing, self.longest))

    def limiter(self, celsius: Any) -> Any:
        """Resistance of the thermistor. [ohm]."""
        circuit = self.circuit
        if not self.heats:
            return circuit.resistance_25
        exponent = circuit.beta * (1 / (celsius + zero_Celsius) - _WARM)
        return circuit.resistance_25 * self.ops.exp(exponent)

    def load(self, time: Any, terminal: Any) -> Any:
        """Current of the load; `terminal` is its voltage if it drew none. [A]."""
        ops, circuit = self.ops, self.circuit
        if not self.loads:
            return self.nothing
        begun = time >= circuit.load_start
        if not ops.any(begun):
            return self.nothing
        power = ops.where(begun, circuit.load_power, 0.0)
        # Its own current lowers the voltage by the capacitor's series resistance.
        held = terminal - circuit.bulk_esr * power / ops.most(terminal, LOAD_FLOOR)
        share = ops.least(ops.most(terminal / LOAD_END, 0.0), 1.0)
        return share * power / ops.most(held, LOAD_FLOOR)

    def missing(self, time: Any, volts: Any, taken: Any) -> Any:
        """What the mains lacks to make the bridge conduct. [V]."""
        circuit, ops = self.circuit, self.ops
        mains = circuit.crest * abs(ops.sin(circuit.omega * time + circuit.start_angle))
        return volts - circuit.bulk_esr * taken + circuit.bridge_drop - mains

    def linear(self, state: _State, push: Any, ohms: Any, taken: Any) -> Callable[..., Any]:
        """The linear circuit solved: current and voltage a time after the start of the step.

        The function returned takes that time and the sine and cosine of the mains then.
        """
        ops, circuit, coil = self.ops, self.circuit, self.coil
        bulk, reactance = circuit.bulk_capacitance, self.reactance
        damping = ohms / (2 * coil)
        inside = damping * damping - self.stiffness
        gap = ops.most(ops.sqrt(abs(inside)), 1e-7 * damping)
        creeps = inside > 0
        only_creep, only_ring = ops.all(creeps), not ops.any(creeps)
        slowest = self.stiffness / (damping + gap)
        scale = push / (ohms * ohms + reactance * reactance)
        lift = scale / (circuit.omega * bulk)
        level = (circuit.bulk_esr - ohms) * taken - circuit.bridge_drop
        here = circuit.omega * state.time + circuit.start_angle
        sine, cosine = ops.sin(here), ops.cos(here)
        # What the steady sinusoid does not hold at the start dies away, creeping or ringing.
        flow = state.flow - taken - scale * (ohms * sine - reactance * cosine)
        volts = state.volts - level + lift * (ohms * cosine + reactance * sine)
        flow_slope, volts_slope = -damping * flow - volts / coil, damping * volts + flow / bulk

        def after(time: Any, sine: Any, cosine: Any) -> Any:
            if not only_ring:
                even = ops.exp(-slowest * time)
                odd = -even * ops.expm1(-2 * gap * time) / (2 * gap)
                even = even - gap * odd
            if not only_creep:
                decay = ops.exp(-damping * time)
                ringing = decay * ops.cos(gap * time), decay * ops.sin(gap * time) / gap
                if only_ring:
                    even, odd = ringing
                else:
                    even = ops.where(creeps, even, ringing[0])
                    odd = ops.where(creeps, odd, ringing[1])
            steady = scale * (ohms * sine - reactance * cosine)
            held = lift * (ohms * cosine + reactance * sine)
            return (
                taken + steady + even * flow + odd * flow_slope,
                level - held + even * volts + odd * volts_slope,
            )

        return after

    def conduct(self, state: _State, side: Any, span: Any) -> tuple[_Step, Callable[[Any], Any]]:
        """Step of `span` with the bridge conducting, and its current as a function of time."""
        ops, circuit = self.ops, self.circuit
        fixed, ambient = circuit.fixed_resistance, circuit.ambient
        push = side * circuit.crest
        here = circuit.omega * state.time + circuit.start_angle
        middle, last = here + circuit.omega * span / 2, here + circuit.omega * span
        mains_m, mains_e = (ops.sin(middle), ops.cos(middle)), (ops.sin(last), ops.cos(last))
        ohms = ohms_m = self.limiter(state.warmth)
        taken, warmth_m = state.taken, state.warmth
        # Thermistor and load in the middle, with the current going on as in the step before.
        guess = ops.most(state.flow + state.slope * span / 2, 0.0)
        if self.heats:
            rate = ohms * (state.flow * state.flow + guess * guess) / 2 / circuit.heat_capacity
            rate = rate - self.cooling * (state.warmth - ambient)
            warmth_m = state.warmth + span / 2 * rate
            ohms_m = self.limiter(warmth_m)
        if self.loads:
            brought = (state.flow + guess) / 2 - taken
            volts_m = state.volts + brought * span / 2 / circuit.bulk_capacitance
            taken = self.load(state.time, volts_m + circuit.bulk_esr * guess)
        after = self.linear(state, push, fixed + ohms_m, taken)
        flow_m, volts_m = after(span / 2, *mains_m)
        raw, volts = after(span, *mains_e)
        flow, warmth, heat, sixth = raw, state.warmth, 0.0 * span, span / 6
        if self.heats:
            begun = ohms * state.flow * state.flow + 4 * ohms_m * flow_m * flow_m
            lost = span * self.cooling * (warmth_m - ambient)
            rough = sixth * (begun + ohms_m * raw * raw)
            ohms_e = self.limiter(state.warmth + rough / circuit.heat_capacity - lost)
            # The resistance at the end is not that of the middle, and the current follows it
            # within inductance over resistance.
            turns = (fixed + ohms_m) / self.coil * span
            lag = ops.exp(-turns)
            shift = (1 + lag) / 2 - (1 - lag) / ops.most(turns, 1e-3)
            shift = ops.where(turns > 1e-3, shift, 0.0)
            flow = raw * (1 - (ohms_e - ohms) / (fixed + ohms_m) * shift)
            heat = sixth * (begun + ohms_e * flow * flow)
            warmth = state.warmth + heat / circuit.heat_capacity - lost
        squares = sixth * (state.flow * state.flow + 4 * flow_m * flow_m + flow * flow)
        source = state.flow * ops.sin(here) + 4 * flow_m * mains_m[0] + flow * mains_e[0]

        def current(time: Any) -> Any:
            there = here + circuit.omega * time
            return after(time, ops.sin(there), ops.cos(there))[0]

        conducts = raw >= 0
        flow = ops.most(flow, 0.0)
        return (
            _Step(flow_m, volts_m, warmth_m, flow, volts, warmth, squares, heat,
                  sixth * push * source, taken, span, conducts),
            current,
        )  # fmt: skip

    def conduct_until(self, state: _State, side: Any, on: Any, span: Any) -> _Step:
        """The same, ended where the current ends."""
        step, current = self.conduct(state, side, span)
        stops = self.ops.where(on, step.conducts, True) == False  # noqa: E712
        if not self.ops.any(stops):
            return step
        low = self.ops.where(step.flow_m > 0, span / 2, 0.0)
        end = _falling_zero(self.ops, current, low, span)
        shorter, _ = self.conduct(state, side, self.ops.where(stops, end, span))
        flow = self.ops.where(stops, 0.0, shorter.flow)
        return shorter._replace(flow=flow, conducts=step.conducts)

    def idle_until(self, state: _State, on: Any, span: Any) -> _Step:
        """Step with the bridge blocked, ended where it begins to conduct."""
        ops, circuit = self.ops, self.circuit
        time, volts, bulk = state.time, state.volts, circuit.bulk_capacitance
        taken, lost = state.taken, state.taken / bulk

        def held(after: Any) -> Any:
            """Under constant power, or below the floor under constant current. [V]."""
            if not self.loads:
                return volts
            curved = ops.sqrt(ops.most(volts * (volts - 2 * lost * after), 0.0))
            straight = ops.most(volts - lost * after, 0.0)
            return ops.where(volts > LOAD_FLOOR, curved, straight)

        def missing(after: Any) -> Any:
            return self.missing(time + after, held(after), taken)

        soonest = ops.least(self.shortest, span)
        starts = ops.where(on, False, missing(span) < 0)
        if ops.any(starts):
            turn = _falling_zero(ops, missing, soonest, span)
            turn = ops.where(missing(soonest) > 0, turn, soonest)
            span = ops.where(starts, turn, span)
        left = held(span)
        # A capacitor that runs empty gives no more.
        taken = ops.where(span > 0, (volts - left) * bulk / ops.where(span > 0, span, 1.0), 0.0)
        cooled = circuit.ambient + (state.warmth - circuit.ambient) * ops.exp(-self.cooling * span)
        nothing = 0.0 * span
        return _Step(
            nothing, held(span / 2), (state.warmth + cooled) / 2, nothing, left, cooled,
            nothing, nothing, nothing, taken, span, starts,
        )  # fmt: skip


def walk(circuit: Circuit, duration: float, single: bool) -> Track:
    """Go through the surges until `duration`; `single` if the fields are floats."""
    walker = _Walk(circuit, single)
    ops, omega, angle = walker.ops, circuit.omega, circuit.start_angle
    where, esr, bulk = ops.where, circuit.bulk_esr, circuit.bulk_capacitance
    zero = 0.0 * circuit.crest
    volts = zero + circuit.start_voltage
    start = -walker.missing(zero, volts, walker.load(zero, volts))
    # A hair later, so that contact at the zero crossing belongs to the half wave that begins.
    on, side = start > 0, where(ops.sin(angle + 1e-9) < 0, -1.0, 1.0)
    flow = where(on, where(walker.at_once, start / walker.cold, 0.0), 0.0)
    taken = walker.load(zero, volts + esr * flow)
    state = _State(zero, flow, zero, volts, zero + circuit.start_temperature, taken)
    end, quarter, age = zero + duration, math.pi / 4, zero
    total = Track([], zero, zero, zero, zero, zero, zero, volts)
    terminal = volts + esr * (flow - taken)
    total.nodes.append((zero, side * flow, terminal, state.warmth, zero))
    nodes, load_start, loads = total.nodes, circuit.load_start, walker.loads
    least, most = ops.least, ops.most
    squares = heat = source = zero
    while ops.any(state.time < end):
        event = least(where(state.time < load_start, load_start, end), end)
        left = event - state.time
        if loads:
            # Not so long that the load takes more than a tenth of what is there.
            room = 0.1 * bulk * (state.volts + 2 * LOAD_END)
            left = least(left, room / most(state.taken, 1e-9))
        step: Any = None
        if ops.any(on):
            span = where(on, least(walker.longest_step(state.time, age), left), 0.0)
            step = walker.conduct_until(state, side, on, span)
        if not ops.all(on):
            # Idle steps end with each quarter of a half period, the crest among them.
            place = (omega * state.time + angle) / quarter
            span = least((ops.floor(place + 1e-9) + 1 - place) * quarter / omega, left)
            idle = walker.idle_until(state, on, where(on, 0.0, span))
            both = [] if step is None else zip(step, idle, strict=True)
            step = _Step(*(where(on, *pair) for pair in both)) if both else idle
        (
            flow_m,
            volts_m,
            warmth_m,
            flow,
            volts,
            warmth,
            squared,
            heated,
            pushed,
            taken,
            span,
            goes,
        ) = step
        if loads:
            # What an empty capacitor could not give was not taken.
            taken = taken + bulk * least(volts, 0.0) / most(span, 1e-15)
        volts = most(volts, 0.0)
        half = squares + (5 * state.flow**2 + 8 * flow_m**2 - flow**2) * span / 24
        middle = volts_m + esr * (flow_m - taken)
        nodes.append((state.time + span / 2, side * flow_m, middle, warmth_m, half))
        squares, heat, source = squares + squared, heat + heated, source + pushed
        if loads:
            brought = bulk * (volts - state.volts) + taken * span
            held = (state.volts + 4 * volts_m + volts) / 6
            given = taken * (span * (held - esr * taken) + esr * brought)
            total.load_charge = total.load_charge + taken * span
            total.load_energy = total.load_energy + given
            total.esr_energy = total.esr_energy - esr * taken * (2 * brought - taken * span)
        time = state.time + span
        time = where(abs(time - event) < 1e-12 * end, event, time)
        age, slope = age + span, (flow - flow_m) * 2 / most(span, 1e-15)
        turned = where(on, False, goes)
        if ops.any(turned):
            age, slope = where(turned, walker.renewed, age), where(turned, 0.0, slope)
            negative = ops.sin(omega * time + angle + 1e-9) < 0
            side = where(turned, where(negative, -1.0, 1.0), side)
        on = goes
        taken = walker.load(time, volts + esr * flow)
        state = _State(time, flow, slope, volts, warmth, taken)
        nodes.append((time, side * flow, volts + esr * (flow - taken), warmth, squares))
    total.squares, total.thermistor_energy, total.source_energy = squares, heat, source
    total.voltage = state.volts
    total.esr_energy = total.esr_energy + esr * total.squares
    return total
