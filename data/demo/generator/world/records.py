"""Captures: the waveforms of the world seen through probes and oscilloscope."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from generator.world.adapter import Adapter
from generator.world.heat import inside
from generator.world.plan import Session
from generator.world.rail import Paths, touch_current
from generator.world.rectifier import SAMPLES, Case, Steady, steady_state
from generator.world.scope import digitised, smaller, span_for, write
from generator.world.surge import SAMPLE, surge

Floats = NDArray[np.float64]
CURRENT_SCALE = {"mains": 1.0, "plug-in": 10.0}
VOLTAGE_SCALE = 200.0
QUIET = 200  # samples before contact


def probe(session: Session, quantity: str, values: Floats, scale: float) -> Floats:
    """Volts at the oscilloscope for true values, with the probe's gain and shift."""
    meter = session.meters[quantity]
    return (values * (1 + meter.gain) + meter.shift) / scale


def _case(session: Session, supply: str, point: int) -> Case:
    """Column of the rectifier at one operating point, exactly at its load."""
    result = session.job.results[point]
    air = float(inside(session.adapter.body, np.array(result["loss"]), session.job.ambient))
    return session.adapter.front.case(
        mains=session.job.supplies[supply], power=result["bulk power"], air=air, bulk=air + 4
    )


def steady_waves(sessions: Sequence[Session]) -> None:
    """Mains captures and touch currents of all sessions, stepped together."""
    wanted = [
        ("230 V", "top"),
        ("115 V", "top"),
        ("230 V", "idle"),
        ("264 V", "idle"),
        ("115 V", "idle"),
    ]
    cases = [
        _case(session, supply, getattr(session, kind)[supply])
        for session in sessions
        for supply, kind in wanted
    ]
    steady = steady_state(cases)
    _touch(sessions, cases, steady, len(wanted))
    for number, session in enumerate(sessions):
        for place, (supply, kind) in enumerate(wanted):
            index = number * len(wanted) + place
            if kind == "top":
                _mains(session, supply, steady, cases, index)
            else:
                session.record.setdefault("idle", {})[supply] = {
                    name: float(steady.figures[name][index])
                    for name in ("input_rms", "input_peak", "plug_voltage", "power_factor")
                }


def _mains(session: Session, supply: str, steady: Steady, cases: list[Case], index: int) -> None:
    """60 ms of mains current and voltage at the plug, full load."""
    mains = cases[index].mains
    rng = session.rng(f"mains capture {supply}")
    interval = 20e-6
    time = np.arange(3000) * interval + float(rng.uniform(0, 0.02))
    here = (np.arange(SAMPLES) * 4 + 3.5) / (4 * SAMPLES)

    def wave(values: Floats, delay: float) -> Floats:
        turns = (time - delay) * mains.frequency % 1.0
        return np.interp(turns, here, values, period=1.0)

    current = wave(steady.supply_current[:, index], session.scope.delay)
    volts = wave(steady.plug_voltage[:, index], 0.0)
    name = f"mains_{supply.split()[0]}v.csv"
    _write(session, name, "mains", 0.0, interval, current, volts, rng)
    figures = {key: float(row[index]) for key, row in steady.figures.items()}
    spectrum = np.fft.rfft(steady.plug_voltage[:, index])[1:41] * np.sqrt(2) / SAMPLES
    figures["plug_harmonics"] = [float(abs(item)) for item in spectrum[:17]]
    figures["limiter_temperature"] = float(steady.limiter_temperature[index])
    figures["limiter_resistance"] = float(steady.limiter_resistance[index])
    figures["bulk_series_resistance"] = cases[index].bulk_resistance
    figures["air_inside"] = cases[index].air
    point = session.top[supply]
    figures["output_power"] = session.job.results[point]["output power"]
    session.record.setdefault("mains", {})[name] = figures


def _touch(sessions: Sequence[Session], cases: list[Case], steady: Steady, each: int) -> None:
    """Touch currents: without load and loaded at 230 V, without load at 264 V, both polarities."""
    columns = [0, 2, 3]
    picks = [number * each + place for number in range(len(sessions)) for place in columns]
    many = [pick for pick in picks for _ in range(2)]
    turned = np.array([bool(side) for _ in picks for side in range(2)])
    adapters = [sessions[pick // each].adapter for pick in many]
    here = (np.arange(SAMPLES) * 4 + 3.5) / (4 * SAMPLES)
    source = np.array([cases[i].mains.at(here / cases[i].mains.frequency) for i in many]).T

    def share(index: int) -> float:
        case = cases[index]
        plain = (case.mains.resistance + case.choke_resistance) / 2
        return plain / (
            case.mains.resistance
            + case.wiring
            + case.choke_resistance
            + float(steady.limiter_resistance[index])
        )

    paths = Paths(
        np.array([barrier_total(item) for item in adapters]),
        np.array([item.barrier.stray for item in adapters]),
        np.array([item.front.junction for item in adapters]),
        np.array([item.front.saturation for item in adapters]),
        np.array([item.front.scale for item in adapters]),
    )
    found = touch_current(
        paths,
        np.array([cases[i].mains.frequency for i in many]),
        source,
        steady.bridge_voltage[:, many],
        steady.bulk_voltage[:, many],
        np.array([share(i) for i in many]),
        turned,
    )
    names = {0: "230 V loaded", 2: "230 V", 3: "264 V"}
    for row, pick in enumerate(many):
        session = sessions[pick // each]
        key = f"{names[pick % each]} {'b' if turned[row] else 'a'}"
        session.record.setdefault("touch_current", {})[key] = {
            name: float(values[row]) for name, values in found.items()
        }


def barrier_total(adapter: Adapter) -> float:
    """All capacitance from the mains side to the output. [F]."""
    windings = sum(item.interwinding.true for item in adapter.converters)
    return adapter.barrier.listed + adapter.barrier.hidden + windings


def plug_ins(sessions: Sequence[Session]) -> None:
    """Plug-in captures of all sessions, stepped together.

    Cold at the crest, one in two also early in the half wave, two in five also after a short rest.
    One bench in four has no switch with a known angle: contact comes when it comes.
    """
    entries: list[tuple[Session, str, dict[str, Any]]] = []
    for session in sessions:
        rng = session.rng("plug-in")
        by_chance = bool(rng.random() < 0.25)
        wanted = [("plug_in.csv", 90.0, None)]
        if rng.random() < 0.5:
            wanted.append(("plug_in_early.csv", 30.0, None))
        if session.adapter.front.thermistor and rng.random() < 0.4:
            wanted.append(("plug_in_hot.csv", 90.0, float(rng.integers(5, 16))))
        for name, angle, rest in wanted:
            true = rng.uniform(0, 360) if by_chance else angle + rng.uniform(-2, 2)
            entries.append(
                (
                    session,
                    name,
                    {"angle": float(true), "rest": rest, "noted": None if by_chance else angle},
                )
            )
    cases, celsius = [], []
    for session, name, entry in entries:
        mains = session.record["mains"]["mains_230v.csv"]
        warm = entry["rest"] is not None
        air = mains["air_inside"] if warm else session.job.ambient
        start = session.job.ambient + float(session.rng(name).uniform(-1.0, 1.0))
        if warm:
            part = session.adapter.front
            decay = np.exp(-entry["rest"] * part.dissipation.true / part.heat_capacity.true)
            start = air + (mains["limiter_temperature"] - air) * decay
        entry["celsius"] = float(start)
        celsius.append(start)
        cases.append(
            session.adapter.front.case(
                mains=session.job.supplies["230 V"], power=0.0, air=air, bulk=air
            )
        )
    result = surge(
        cases,
        np.array([entry["angle"] for _, _, entry in entries]),
        np.array(celsius),
        np.array([session.adapter.front.heat_capacity.true for session, _, _ in entries]),
        np.array([session.scope.bandwidth for session, _, _ in entries]),
    )
    for index, (session, name, entry) in enumerate(entries):
        _plug_in(session, name, entry, cases[index], result, index)


def _plug_in(
    session: Session, name: str, entry: dict[str, Any], case: Case, result: Any, index: int
) -> None:
    rng = session.rng(f"record {name}")
    delay = session.scope.delay
    seen = np.interp(result.time - delay, result.time, result.probed[:, index], left=0.0)
    quiet = np.zeros(QUIET)
    _write(
        session,
        name,
        "plug-in",
        -QUIET * SAMPLE,
        SAMPLE,
        np.concatenate([quiet, seen]),
        np.concatenate([quiet, result.plug_voltage[:, index]]),
        rng,
    )
    current, bridge = result.current[:, index], np.abs(result.bulk_current[:, index])
    session.record.setdefault("plug_in", {})[name] = {
        **entry,
        "limiter_resistance": case.limiter_at(entry["celsius"]),
        "peak_current": float(np.abs(current).max()),
        "bulk_peak_current": float(bridge.max()),
        "bulk_peak_time": float(result.time[bridge.argmax()]),
        "i_squared_t": float((current**2).sum() * SAMPLE),
        "charge": float(bridge.sum() * SAMPLE),
        "limiter_energy": float(result.limiter_energy[index]),
        "limiter_temperature_after": float(result.limiter_temperature[index]),
        "bulk_voltage_after": float(result.bulk_voltage[-1, index]),
    }


def _write(
    session: Session,
    name: str,
    kind: str,
    start: float,
    interval: float,
    current: Floats,
    volts: Floats,
    rng: np.random.Generator,
) -> None:
    """Two channels: current, voltage; the ranges hold the traces, unless they are to be clipped."""
    scale = CURRENT_SCALE[kind]
    first = probe(session, "capture current", current, scale)
    second = probe(session, "capture voltage", volts, VOLTAGE_SCALE)
    peak = float(np.abs(first).max())
    span = span_for(peak)
    if session.fault.kind == "clipped":
        span = smaller(span, peak)
    channels = [
        digitised(first, span, session.scope, rng),
        digitised(second, span_for(float(np.abs(second).max())), session.scope, rng),
    ]
    session.record.setdefault("files", {})[name] = {"kind": kind, "current_span": span * scale}
    write(session.captures / name, start, interval, channels, session.scope.bits)
