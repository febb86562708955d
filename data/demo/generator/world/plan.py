"""What is measured on an adapter: supplies, operating points, readings, records."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from generator.world.adapter import Adapter, Port
from generator.world.draw import stream
from generator.world.faults import Fault, draw_fault, in_adapter, on_bench
from generator.world.mains import Mains, bench_source, socket
from generator.world.meters import Meter, bench, bits_of, draw_meter
from generator.world.points import Load, Point
from generator.world.scope import Scope, draw_scope
from generator.world.work import Job

SHARES = (1.0, 0.75, 0.5, 0.25, 0.1)
SUPPLIES = {"230 V": (230.0, 50.0), "115 V": (115.0, 60.0)}


@dataclass(frozen=True)
class Reading:
    """One row of the load sweep: which point, and whether the case was read."""

    point: int
    warm: bool


@dataclass
class Session:
    """One adapter, its bench, and what is to be read.

    Attributes
    ----------
    seed, index : int
    adapter, fault : Adapter, Fault
    at_socket : bool
    meters, scope : dict, Scope
    job : Job
        With all operating points.
    readings : list of Reading
    top : dict
        Point of full load in the highest mode, by supply.
    idle : dict
        Point without load, by supply.
    record : dict
        Truth gathered on the way.
    """

    seed: int
    index: int
    adapter: Adapter
    fault: Fault
    at_socket: bool
    meters: dict[str, Meter]
    scope: Scope
    job: Job
    readings: list[Reading]
    top: dict[str, int]
    idle: dict[str, int]
    record: dict[str, Any] = field(default_factory=dict)

    def rng(self, purpose: str) -> np.random.Generator:
        """Stream of this adapter for one purpose."""
        return stream(self.seed, self.index, purpose)

    @property
    def captures(self) -> Path:
        """Folder of its captures."""
        return self.record["folder"] / "captures"

    def top_load(self) -> Load:
        """Full load in the highest mode of the first port."""
        return self.job.points[self.top["230 V"]].loads[0]


def prepare(
    seed: int, index: int, adapter: Adapter, kind: str = "", size: float | None = None
) -> Session:
    """Bench and plan of one adapter; every second one stands at a socket."""
    fault = draw_fault(kind, size, stream(seed, index, "fault"))
    adapter = in_adapter(adapter, fault)
    at_socket = index % 2 == 1
    supplies = _supplies(stream(seed, index, "mains"), at_socket)
    rng, noise = stream(seed, index, "bench"), stream(seed, index, "readings")
    stated = bench(rng, adapter.rated_power / 0.85, adapter.rated_power / 0.85 / 115.0 / 0.5)
    meters = {name: draw_meter(item, rng, noise) for name, item in stated.items()}
    on_bench(meters, fault)
    scope = draw_scope(rng, bits_of(stated))
    ambient = float(rng.uniform(21.0, 26.0))
    job = Job(adapter, supplies, ambient, [])
    session = Session(seed, index, adapter, fault, at_socket, meters, scope, job, [], {}, {})
    _points(session, stream(seed, index, "loads"))
    return session


def _supplies(rng: np.random.Generator, at_socket: bool) -> dict[str, Mains]:
    """The bench source set to both voltages; or sockets of two countries, alike in impedance.

    Two supplies more are used once each: 264 V 60 Hz for the touch current, and 100 V 50 Hz, the
    lowest on the label, which is never measured but decides how long the reserve lasts.
    """
    draw = socket if at_socket else bench_source
    found = {name: draw(rng, *values) for name, values in SUPPLIES.items()}
    same = found["230 V"]
    found["115 V"] = replace(found["115 V"], resistance=same.resistance, inductance=same.inductance)
    sine = bench_source(rng, 264.0, 60.0)
    found["264 V"] = replace(sine, resistance=same.resistance, inductance=same.inductance)
    found["100 V"] = replace(found["264 V"], voltage=100.0, frequency=50.0)
    return found


def _points(session: Session, rng: np.random.Generator) -> None:
    """Operating points in the order they are read."""
    adapter, points = session.adapter, session.job.points

    def load(port: str, mode: str, volts: float, amperes: float) -> Load:
        # The load's own setting misses by some 0.04 %; three decimals can be set.
        set_to = round(amperes, 3) * (1 + 4e-4 * float(rng.standard_normal()))
        return Load(port, mode, volts, float(set_to))

    def add(supply: str, loads: tuple[Load, ...], warm: bool = False) -> int:
        points.append(Point(supply, loads))
        session.readings.append(Reading(len(points) - 1, warm))
        return len(points) - 1

    first = adapter.ports[0]
    fixed = [mode for mode in first.modes if mode.span is None]
    fine = adapter.joins_above is not None or rng.random() < 0.4
    for mode in fixed:
        for supply in SUPPLIES:
            whole = mode is fixed[-1] and supply == "230 V" and fine
            for share in tuple(n / 20 for n in range(20, 0, -1)) if whole else SHARES:
                at = add(
                    supply,
                    (load(first.name, mode.name, mode.volts, mode.amperes * share),),
                    share == 1.0,
                )
                if mode is fixed[-1] and share == 1.0:
                    session.top[supply] = at
    if fixed[0].amperes >= 3.0:
        # At its lowest voltage a port able to give 3 A counts with 2 A.
        for supply in SUPPLIES:
            for share in (1.0, 0.5, 0.25):
                add(supply, (load(first.name, fixed[0].name, fixed[0].volts, 2.0 * share),))
    for port in adapter.ports[1:]:
        _other_port(add, load, port)
    for combination in adapter.combinations:
        for supply in SUPPLIES:
            for share in SHARES:
                add(
                    supply,
                    tuple(
                        load(port, mode, float(mode.split()[0]), amperes * share)
                        for port, mode, amperes in combination
                    ),
                    share == 1.0,
                )
    for mode in first.modes:
        if mode.span is not None:
            low, high = mode.span
            for volts in (low, round((low + high) / 2, 1), high):
                add("230 V", (load(first.name, mode.name, volts, mode.amperes),))
    # Points that stand in no load sweep.
    for supply in ("230 V", "115 V", "264 V"):
        points.append(Point(supply, ()))
        session.idle[supply] = len(points) - 1
    points.append(Point("100 V", points[session.top["230 V"]].loads))
    session.top["100 V"] = len(points) - 1


def _other_port(
    add: Callable[[str, tuple[Load, ...]], int], load: Callable[..., Load], port: Port
) -> None:
    for mode in port.modes:
        for share in (1.0, 0.5, 0.1):
            add("230 V", (load(port.name, mode.name, mode.volts, mode.amperes * share),))
