"""The plug-in circuit in time: one surge on Python floats, many on arrays, by the same formulas.

While the bridge conducts, the circuit is linear but for the warming thermistor and the load. Each
step solves it in closed form with both as they are in its middle; `walk` goes from event to event.
"""

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from scipy.constants import zero_Celsius

from adapterlab.numerics.surge_parts import Arrays, Circuit, Numbers, Track, falling_zero

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


class _State(NamedTuple):
    """Start of a step: time, current and its slope, capacitor, thermistor, load's current.

    And the waves of the mains, where they are known already.
    """

    time: Any
    flow: Any
    slope: Any
    volts: Any
    warmth: Any
    taken: Any
    waves: Any = None


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
    waves: Any = None


class _Walk:
    """The circuit with what stays the same from step to step."""

    def __init__(self, circuit: Circuit, single: bool) -> None:
        ops: Any = Numbers if single else Arrays
        self.ops, self.circuit = ops, circuit
        self.omega, self.drop = circuit.mains.omega, circuit.bridge.drop
        # Order, amplitude and lag of every harmonic that the mains holds.
        self.lines: list[tuple[int, Any, Any]] = []
        for order, part in enumerate(circuit.mains.amplitudes, start=1):
            if np.any(part != 0):
                size, lag = np.abs(part), np.angle(part)
                self.lines.append(
                    (order, size.item(), lag.item()) if single else (order, size, lag)
                )
        self.is_sine, self.crest = len(self.lines) == 1, self.lines[0][1]
        self.store = self.omega * circuit.bulk_capacitance
        self.fixed = circuit.series_resistance + circuit.bridge.resistance + circuit.bulk_esr
        self.heats = ops.any(circuit.resistance_25 > 0)
        self.loads = ops.any(circuit.load_power > 0)
        self.cooling = circuit.dissipation_factor / circuit.heat_capacity
        bulk, omega = circuit.bulk_capacitance, self.omega
        self.cold = self.fixed + self.limiter(circuit.start_temperature)
        # Without inductance, one so small that the current follows at once.
        tiny = 1e-8 * self.fixed**2 * bulk
        self.at_once = circuit.inductance <= tiny
        self.coil = coil = ops.most(circuit.inductance, tiny)
        self.reactances = [order * omega * coil - 1 / (order * omega * bulk)
                           for order, _, _ in self.lines]  # fmt: skip
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
        self.shortest, self.hair = 2e-7 * half_period, 1e-9 / omega
        self.nothing = 0.0 * circuit.bulk_capacitance

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

    def waves(self, time: Any) -> Any:
        """Sine and cosine of the fundamental at a time, and those of every further harmonic."""
        angle, sin, cos = self.omega * time + self.circuit.start_angle, self.ops.sin, self.ops.cos
        if self.is_sine:
            return sin(angle), cos(angle), ()
        turns = [order * angle + lag for order, _, lag in self.lines[1:]]
        return sin(angle), cos(angle), [(sin(turn), cos(turn)) for turn in turns]

    def mains(self, time: Any) -> Any:
        """Voltage of the mains. [V]."""
        angle, sin = self.omega * time + self.circuit.start_angle, self.ops.sin
        total = self.crest * sin(angle)
        for order, size, lag in () if self.is_sine else self.lines[1:]:
            total = total + size * sin(order * angle + lag)
        return total

    def missing(self, time: Any, volts: Any, taken: Any) -> Any:
        """What the mains lacks to make the bridge conduct. [V]."""
        return volts - self.circuit.bulk_esr * taken + self.drop - abs(self.mains(time))

    def gain(self, place: int, side: Any, ohms: Any) -> tuple[Any, Any, Any, Any]:
        """What sine and cosine of one harmonic drive alone.

        Current in step with the sine and less that with the cosine, and the same as voltage of the
        capacitor, in step with the cosine and with the sine.
        """
        order, size, _ = self.lines[place]
        reactance = self.reactances[place]
        scale = side * size / (ohms * ohms + reactance * reactance)
        lift = scale / (order * self.store)
        return scale * ohms, scale * reactance, lift * ohms, lift * reactance

    def linear(
        self, state: _State, here: Any, side: Any, ohms: Any, taken: Any
    ) -> Callable[..., Any]:
        """The linear circuit solved: current and voltage a time after the start of the step.

        `here` are the waves of the mains at the start; the function returned takes the time and
        the waves then.
        """
        ops, circuit, coil = self.ops, self.circuit, self.coil
        bulk = circuit.bulk_capacitance
        damping = ohms / (2 * coil)
        inside = damping * damping - self.stiffness
        gap = ops.most(ops.sqrt(abs(inside)), 1e-7 * damping)
        creeps = inside > 0
        only_creep, only_ring = ops.all(creeps), not ops.any(creeps)
        slowest = self.stiffness / (damping + gap)
        level = (circuit.bulk_esr - ohms) * taken - self.drop
        # What the steady state does not hold at the start dies away, creeping or ringing.
        along, across, rise, turn = self.gain(0, side, ohms)
        sine, cosine, more = here
        flow = state.flow - taken - along * sine + across * cosine
        volts = state.volts - level + rise * cosine + turn * sine
        others = [] if self.is_sine else [
            self.gain(place, side, ohms) for place in range(1, len(self.lines))
        ]  # fmt: skip
        for gain, (sine, cosine) in zip(others, more, strict=True) if others else ():
            flow = flow - gain[0] * sine + gain[1] * cosine
            volts = volts + gain[2] * cosine + gain[3] * sine
        flow_slope, volts_slope = -damping * flow - volts / coil, damping * volts + flow / bulk

        def after(time: Any, waves: Any) -> Any:
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
            sine, cosine, more = waves
            moved = taken + along * sine - across * cosine + even * flow + odd * flow_slope
            held = level - rise * cosine - turn * sine + even * volts + odd * volts_slope
            for gain, (sine, cosine) in zip(others, more, strict=True) if others else ():
                moved = moved + gain[0] * sine - gain[1] * cosine
                held = held - gain[2] * cosine - gain[3] * sine
            return moved, held

        return after

    def conduct(self, state: _State, side: Any, span: Any) -> tuple[_Step, Callable[[Any], Any]]:
        """Step of `span` with the bridge conducting, and its current as a function of time."""
        ops, circuit = self.ops, self.circuit
        fixed, ambient = self.fixed, circuit.ambient
        time = state.time
        here = state.waves or self.waves(time)
        middle, last = self.waves(time + span / 2), self.waves(time + span)
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
        after = self.linear(state, here, side, fixed + ohms_m, taken)
        flow_m, volts_m = after(span / 2, middle)
        raw, volts = after(span, last)
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
        source = self.crest * (state.flow * here[0] + 4 * flow_m * middle[0] + flow * last[0])
        for place, (_, size, _) in enumerate(self.lines[1:]):
            begin, half, end = (waves[2][place][0] for waves in (here, middle, last))
            source = source + size * (state.flow * begin + 4 * flow_m * half + flow * end)

        def current(later: Any) -> Any:
            return after(later, self.waves(time + later))[0]

        conducts = raw >= 0
        flow = ops.most(flow, 0.0)
        return (
            _Step(flow_m, volts_m, warmth_m, flow, volts, warmth, squares, heat,
                  sixth * side * source, taken, span, conducts, last),
            current,
        )  # fmt: skip

    def conduct_until(self, state: _State, side: Any, on: Any, span: Any) -> _Step:
        """The same, ended where the current ends."""
        step, current = self.conduct(state, side, span)
        if step.conducts is True:
            return step
        stops = self.ops.where(on, step.conducts, True) == False  # noqa: E712
        if not self.ops.any(stops):
            return step
        low = self.ops.where(step.flow_m > 0, span / 2, 0.0)
        end = falling_zero(self.ops, current, low, span)
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
            turn = falling_zero(ops, missing, soonest, span)
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
    ops, omega, angle = walker.ops, walker.omega, circuit.start_angle
    where, esr, bulk = ops.where, circuit.bulk_esr, circuit.bulk_capacitance
    zero = walker.nothing
    volts = zero + circuit.start_voltage
    start = -walker.missing(zero, volts, walker.load(zero, volts))
    # A hair later, so that contact at the zero crossing belongs to the half wave that begins.
    on, side = start > 0, where(walker.mains(zero + walker.hair) < 0, -1.0, 1.0)
    flow = where(on, where(walker.at_once, start / walker.cold, 0.0), 0.0)
    taken = walker.load(zero, volts + esr * flow)
    state = _State(zero, flow, zero, volts, zero + circuit.start_temperature, taken)
    end, age = zero + duration, zero
    # Idle steps end with each quarter of a half period, the crest among them; finer where the wave
    # may have more humps than one.
    quarter = math.pi / (4 if walker.is_sine else 24)
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
        waves = None
        if ops.any(on):
            span = where(on, least(walker.longest_step(state.time, age), left), 0.0)
            step = walker.conduct_until(state, side, on, span)
            waves = step.waves
        if not ops.all(on):
            place = (omega * state.time + angle) / quarter
            span = least((ops.floor(place + 1e-9) + 1 - place) * quarter / omega, left)
            idle = walker.idle_until(state, on, where(on, 0.0, span))
            both = [] if step is None else zip(step[:-1], idle[:-1], strict=True)
            step, waves = _Step(*(where(on, *pair) for pair in both)) if both else idle, None
        flow_m, volts_m, warmth_m, flow, volts, warmth = step[:6]
        squared, heated, pushed, taken, span, goes, _ = step[6:]
        if loads:
            # What an empty capacitor could not give was not taken.
            taken = taken + bulk * least(volts, 0.0) / most(span, 1e-15)
        volts = most(volts, 0.0)
        before = state.flow
        bulge = 5 * before * before + 8 * flow_m * flow_m - flow * flow
        half = squares + bulge * span / 24
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
            negative = walker.mains(time + walker.hair) < 0
            side = where(turned, where(negative, -1.0, 1.0), side)
        on = goes
        taken = walker.load(time, volts + esr * flow)
        state = _State(time, flow, slope, volts, warmth, taken, waves)
        nodes.append((time, side * flow, volts + esr * (flow - taken), warmth, squares))
    total.squares, total.thermistor_energy, total.source_energy = squares, heat, source
    total.voltage = state.volts
    total.esr_energy = total.esr_energy + esr * total.squares
    return total
