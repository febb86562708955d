"""Oscilloscope records of the output: load step, change of ports, start and overload.

Every record has a source of noise of its own, so that adding one moves no other number.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from generator.captures import probe
from generator.session import Session
from generator.writing import write_capture

Floats = NDArray[np.float64]
CLOSE = {"method": "LSODA", "rtol": 1e-9, "atol": 1e-9}


def _write(
    session: Session, file: str, number: int, time: Floats, volts: Floats, amperes: Floats | None
) -> None:
    """Write output voltage and, if given, load current, 12 bits over 32 V and 8 A."""
    rng = np.random.default_rng([session.truth.seed, number])
    gain = session.bench.meters["capture voltage"].gain
    channels, spans = [volts * (1 + 0.2 * gain)], [64.0 if volts.max() > 15 else 32.0]
    if amperes is not None:
        channels.append(probe(session, "capture current", amperes, 1.0))
        spans.append(16.0 if amperes.max() > 3.5 else 8.0)
    interval = float(time[1] - time[0])
    write_capture(
        session.folder / "captures" / file, float(time[0]), interval, channels, spans, rng,
        bits=12, noise=1.0,
    )  # fmt: skip


def load_step(
    session: Session, port: str, volts: float, low: float, high: float,
    output_filter: tuple[float, float], file: str = "load_step.csv",
) -> None:  # fmt: skip
    """Load from `low` to `high` amperes and back, answered by a loop that crosses over at 2.4 kHz.

    States: capacitor voltage, the converter's current, and the controller's integral. The loop
    holds the voltage behind the output resistance.
    """
    capacitance, esr = output_filter
    resistance = session.truth.output_resistance[port]
    ideal = volts * (1 + session.truth.set_error[port])
    crossover = 2 * np.pi * 2400.0
    gain, lag = crossover * capacitance, 18e-6
    end = 5e-3

    def rate(load: float) -> Callable[[float, Floats], list[float]]:
        def slopes(_: float, state: Floats) -> list[float]:
            charge, current, total = state
            output = charge + esr * (current - load)
            error = ideal - resistance * load - output
            return [
                (current - load) / capacitance,
                (gain * error + total - current) / lag,
                0.22 * crossover * gain * error,
            ]

        return slopes

    interval = 2.5e-6
    time = interval * np.arange(-400, 4000)
    state = np.array([ideal - resistance * low, low, low])
    pieces = [(time[0], 0.0, low), (0.0, end, high), (end, time[-1] + interval, low)]
    values = np.empty_like(time)
    extremes = []
    for start, stop, load in pieces:
        inside = (time >= start - 1e-12) & (time < stop - 1e-12)
        run = solve_ivp(
            rate(load), (start, stop), state, t_eval=np.append(time[inside], stop), **CLOSE
        )
        shape = run.y[0] + esr * (run.y[1] - load)
        values[inside] = shape[:-1]
        state = run.y[:, -1]
        extremes.append(shape - (ideal - resistance * load))
    loaded = (time >= -1e-12) & (time < end - 1e-12)
    _write(session, file, 1, time, values, np.where(loaded, high, low))
    session.record["load_step"] = {
        "from_current": low,
        "to_current": high,
        "dip": float(extremes[1].min()),
        "overshoot": float(extremes[2].max()),
        "steady_before": ideal - resistance * low,
        "steady_during": ideal - resistance * high,
        "output_capacitance": capacitance,
        "series_resistance": esr,
    }


def port_change(session: Session, port: str, volts: float, ohms: float) -> None:
    """Another port is plugged at time 0: the loaded one goes off, comes back at 5 V, asks again.

    The port capacitor empties through the device and a bleeder; the converter charges it with at
    most 4 A towards a reference that climbs 25 V per 100 ms.
    """
    capacitance, bleeder, limit = 220e-6, 330.0, 4.0
    ideal = volts * (1 + session.truth.set_error[port])
    inner = session.truth.output_resistance[port]
    off, back, again = 6e-3, 0.438, 0.672
    first = 5.0 * (1 + session.truth.set_error[port])

    def reference(instant: float) -> float:
        if instant < off:
            return ideal
        if instant < back:
            return 0.0
        climbing = min(250.0 * (instant - back), first)
        return climbing if instant < again else min(first + 250.0 * (instant - again), ideal)

    def slopes(instant: float, state: Floats) -> list[float]:
        output = state[0]
        given = np.clip((reference(instant) - output) / inner, 0.0, limit)
        return [(given - output / ohms - output / bleeder) / capacitance]

    interval = 0.25e-3
    time = interval * np.arange(-800, 3600)
    start = [ideal / (1 + inner / ohms + inner / bleeder)]
    run = solve_ivp(slopes, (time[0], time[-1]), start, t_eval=time, max_step=2e-3, **CLOSE)
    values = run.y[0]
    below = np.flatnonzero(values < 0.95 * volts)
    _write(session, "port_change.csv", 2, time, values, None)
    session.record["port_change"] = {
        "load_resistance": ohms,
        "gap": float(time[below[-1] + 1] - time[below[0]]),
        "below_0.8_v": float(interval * (values < 0.8).sum()),
        "lowest_voltage": float(values.min()),
        "from_voltage": float(values[0]),
        "to_voltage": float(values[-1]),
    }


def begin(session: Session, port: str, volts: float, capacitance: float) -> None:
    """Plugged in at time 0: the controller's supply fills up, then a soft start into no load.

    The supply capacitor (10 uF) is filled with 0.35 mA to 18 V. The reference climbs in 14 ms; the
    loop, a little too lively, overshoots.
    """
    ideal = volts * (1 + session.truth.set_error[port])
    wait, climb = 10e-6 * 18.0 / 0.35e-3, 14e-3
    natural, damping = 2 * np.pi * 90.0, 0.62

    def slopes(instant: float, state: Floats) -> list[float]:
        target = ideal * np.clip((instant - wait) / climb, 0.0, 1.0)
        return [state[1], natural**2 * (target - state[0]) - 2 * damping * natural * state[1]]

    interval = 0.2e-3
    time = interval * np.arange(-250, 3250)
    run = solve_ivp(slopes, (time[0], time[-1]), [0.0, 0.0], t_eval=time, max_step=2e-3, **CLOSE)
    values = run.y[0]
    _write(session, "start_up.csv", 3, time, values, None)
    low, high = (float(np.interp(share * ideal, values[: values.argmax()],
                                 time[: values.argmax()])) for share in (0.1, 0.9))  # fmt: skip
    session.record["start_up"] = {
        "delay": low,
        "rise_time": high - low,
        "overshoot": float(values.max() - ideal),
        "final_voltage": ideal,
        "output_capacitance": capacitance,
    }


def overload(session: Session, port: str, volts: float, limit: float, capacitance: float) -> None:
    """An electronic load climbs until the converter lets go, and falls back after two seconds.

    Above its limit the converter gives `limit`, the capacitor empties into the load; below 85 %
    of its voltage the converter stops, and tries again for 25 ms every 0.4 s.
    """
    ideal = volts * (1 + session.truth.set_error[port])
    inner = session.truth.output_resistance[port]
    interval, fine = 1e-3, 10
    time = interval * np.arange(-300, 3000)
    demand = np.interp(time, [0.0, 0.9, 1.9, 1.95], [1.5, 3.3, 3.3, 1.0])
    steps = np.repeat(demand, fine)
    tick = interval / fine
    output, running, changed = ideal - inner * demand[0], True, -1.0
    values, amperes, trips, backs = [], [], [], []
    for number, wanted in enumerate(steps):
        instant = time[0] + number * tick
        load = min(wanted, output / 0.25)
        given = float(np.clip((ideal - output) / inner, 0.0, limit)) if running else 0.0
        # One implicit step: source and load both lean against the voltage.
        stiff = (1 / inner if running and given < limit else 0.0) + (
            4.0 if wanted > output / 0.25 else 0.0
        )
        step = tick / capacitance
        output = max(output + step * (given - load) / (1 + step * stiff), 0.0)
        if running and output < 0.85 * volts and instant - changed > 25e-3:
            running, changed = False, instant
            trips.append(instant)
        elif not running and instant - changed > 0.4:
            running, changed = True, instant
            backs.append(instant)
        if number % fine == 0:
            values.append(output)
            amperes.append(min(wanted, output / 0.25))
    _write(session, "overcurrent.csv", 4, time, np.array(values), np.array(amperes))
    session.record["overcurrent"] = {
        "limit_current": limit,
        "first_trip": trips[0],
        "tries": len(backs),
        "off_time": 0.4,
    }
