"""Captures of the output: ripple, load step, change of ports, start and overload."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.world.events import draw_loop, load_step, overload, port_change, start_up
from generator.world.plan import Session
from generator.world.points import both_work
from generator.world.records import probe
from generator.world.ripple import Network, Pulse, trace
from generator.world.scope import digitised, span_for, write

Floats = NDArray[np.float64]


def networks(session: Session) -> dict[str, Network]:
    """Output network of every port."""
    rng = session.rng("network")
    found = {}
    for converter in session.adapter.converters:
        banks = tuple(
            (part.true, ohms.true, converter.capacitor_inductance)
            for part, ohms in zip(converter.capacitors, converter.capacitor_resistance, strict=True)
        )
        for name in converter.ports:
            port = session.adapter.port(name)
            if name not in found:
                # Ceramics beside the connector: 2 to 10 uF under bias (common practice).
                ceramic = (float(rng.uniform(2e-6, 10e-6)), 4e-3, 1.0e-9)
                found[name] = Network(
                    banks, ceramic, port.path + port.resistance, float(rng.uniform(8e-9, 25e-9))
                )
    return found


def pulses(session: Session, point: int, port: str) -> list[Pulse]:
    """Current pulses into the capacitors of a port at an operating point."""
    loads = session.job.points[point].loads
    stages = session.job.results[point]["stages"]
    if both_work(session.adapter, loads) or len(stages) == 1:
        names = list(stages)
    else:
        names = ["main" if port == session.adapter.ports[0].name else "second"]
    return [
        Pulse(
            stages[name]["frequency"],
            stages[name]["secondary peak"],
            stages[name]["secondary end"],
            stages[name]["commutation"],
            stages[name]["off time"],
        )
        for name in names
    ]


def swing(session: Session, point: int, port: str, network: Network) -> float:
    """Peak-to-peak ripple as an ideal oscilloscope shows it. [V].

    Pulses that are not in step add their swings. Below the point where periods are left out, a
    burst lifts the output by its own charge; 5 to 15 pulses make a burst (common practice).
    """
    stages = session.job.results[point]["stages"]
    total = sum(float(np.ptp(pulse.ripple(network))) for pulse in pulses(session, point, port))
    for stage in stages.values():
        if stage["mode"] == 3 and len(session.job.points[point].loads) > 0:
            charge = stage["amperes"] / stage["mean frequency"] * session.record["burst"]
            idle = 1 - stage["mean frequency"] / stage["frequency"]
            capacitance = sum(branch[0] for branch in network.branches) + 47e-6
            total += charge * max(idle, 0.0) / capacitance if stage["amperes"] > 0.01 else 0.0
    power = session.job.results[point]["output power"] / session.adapter.rated_power
    return total + session.record["slow_ripple"] * power


def output_records(session: Session) -> None:
    """Ripple, load step, change of ports, start and overload."""
    rng = session.rng("output records")
    network, first = networks(session)[session.adapter.ports[0].name], session.adapter.ports[0]
    load = session.top_load()
    converter = session.adapter.converters[0]
    count = [item for item in session.adapter.converters if first.name in item.ports]
    if session.adapter.joins_above is None:
        count = count[:1]
    capacitance = sum(part.true for part in converter.capacitors)
    esr = 1 / sum(1 / part.true for part in converter.capacitor_resistance)
    loop = draw_loop(rng, capacitance, esr, first.resistance)
    volts = load.volts * (1 + first.set_error)
    if rng.random() < 0.7:
        _ripple(session, network, rng)
    if rng.random() < 0.7:
        low = round(0.1 * load.amperes, 2)
        interval, high = 2.5e-6, round(load.amperes, 3)
        trace_ = load_step(loop, volts, low, high, interval, 400, 2000, 2000)
        current = np.concatenate([np.full(400, low), np.full(2000, high), np.full(2000, low)])
        _output(
            session,
            "load_step.csv",
            "load step",
            -400 * interval,
            interval,
            trace_,
            current,
            rng,
            {
                "low": low,
                "high": high,
                "dip": float((volts - loop.droop * high) - trace_[400:2400].min()),
                "overshoot": float(trace_[2400:].max() - (volts - loop.droop * low)),
                "before": volts - loop.droop * low,
                "during": volts - loop.droop * high,
                "crossover": loop.crossover,
                "capacitance": capacitance,
                "esr": esr,
            },
        )
    if len(session.adapter.ports) > 1 and rng.random() < 0.6:
        ohms = round(volts / (0.5 * load.amperes), 1)
        back = float(rng.uniform(0.25, 0.6))
        again = back + float(rng.uniform(0.15, 0.3))
        interval, samples = 0.25e-3, 4400
        off = float(rng.uniform(2e-3, 10e-3))
        values = port_change(loop, volts, ohms, off, back, again, 4.0, interval, samples, -0.2)
        low_voltage = values < 0.95 * load.volts
        edges = np.flatnonzero(low_voltage)
        _output(
            session,
            "port_change.csv",
            "port change",
            -0.2,
            interval,
            values,
            None,
            rng,
            {
                "ohms": ohms,
                "gap": float(interval * (edges[-1] - edges[0] + 1)),
                "below_0.8_v": float(interval * (values < 0.8).sum()),
                "amperes": volts / ohms,
            },
        )
    if rng.random() < 0.25:
        wait, climb = float(rng.uniform(0.15, 0.9)), float(rng.uniform(5e-3, 20e-3))
        five = 5.0 * (1 + first.set_error)
        values = start_up(
            five,
            wait,
            climb,
            float(rng.uniform(60, 150)),
            float(rng.uniform(0.55, 0.9)),
            0.2e-3,
            7000,
            -0.05,
        )
        before = values[: values.argmax()]
        times = -0.05 + 0.2e-3 * np.arange(before.size)
        low, high = (float(np.interp(part * five, before, times)) for part in (0.1, 0.9))
        _output(
            session,
            "start_up.csv",
            "start-up",
            -0.05,
            0.2e-3,
            values,
            None,
            rng,
            {"delay": low, "rise_time": high - low, "overshoot": float(values.max() - five)},
        )
    if rng.random() < 0.25:
        limit = float(rng.uniform(1.15, 1.5) * load.amperes)
        times = 1e-3 * np.arange(-300, 3000)
        demand = np.interp(
            times,
            [0.0, 0.9, 1.9, 1.95],
            [0.7 * load.amperes, 1.2 * limit, 1.2 * limit, 0.5 * load.amperes],
        )
        pause = float(rng.uniform(0.2, 0.8))
        values, amperes, stops = overload(loop, volts, limit, 1e-3, 3300, -0.3, demand, pause)
        _output(
            session,
            "overcurrent.csv",
            "overcurrent",
            -0.3,
            1e-3,
            values,
            amperes,
            rng,
            {"limit": limit, "stops": stops, "pause": pause},
        )


def _ripple(session: Session, network: Network, rng: np.random.Generator) -> None:
    """Half a millisecond at full load, and 20 ms that show twice the mains frequency."""
    point, port = session.top["230 V"], session.adapter.ports[0].name
    found = pulses(session, point, port)
    starts = [float(rng.random()) for _ in found]
    for name, interval, samples in (
        ("ripple.csv", 0.1e-6, 5000),
        ("ripple_slow.csv", 2.3e-6, 8700),
    ):
        time = np.arange(samples) * interval
        wave = trace(found, network, time, starts)
        twice = 2 * session.job.supplies["230 V"].frequency
        slow = session.record["slow_ripple"]
        wave = wave + slow / 2 * np.sin(2 * np.pi * twice * time + float(rng.uniform(0, 6.28)))
        seen = wave * (1 + session.meters["ripple"].gain)
        span = span_for(float(np.abs(seen).max()))
        write(
            session.captures / name,
            0.0,
            interval,
            [digitised(seen, span, session.scope, rng)],
            session.scope.bits,
        )
        session.record.setdefault("files", {})[name] = {"kind": "ripple"}
        session.record.setdefault("ripple", {})[name] = {
            "peak_to_peak": float(sum(np.ptp(pulse.ripple(network)) for pulse in found)),
            "slow": slow,
            "frequencies": [pulse.frequency for pulse in found],
        }


def _output(
    session: Session,
    name: str,
    kind: str,
    start: float,
    interval: float,
    volts: Floats,
    amperes: Floats | None,
    rng: np.random.Generator,
    truth: dict[str, Any],
) -> None:
    """Output voltage and load current, the oscilloscope in its high-resolution mode."""
    gain = session.meters["capture voltage"].gain
    fine = type(session.scope)(12, 0.05, 0.0, session.scope.bandwidth)
    seen = volts * (1 + 0.2 * gain)
    channels = [digitised(seen, span_for(float(np.abs(seen).max())), fine, rng)]
    if amperes is not None:
        current = probe(session, "capture current", amperes, 1.0)
        channels.append(digitised(current, span_for(float(np.abs(current).max())), fine, rng))
    write(session.captures / name, start, interval, channels, 12)
    session.record.setdefault("files", {})[name] = {"kind": kind}
    session.record[kind.replace(" ", "_")] = truth
