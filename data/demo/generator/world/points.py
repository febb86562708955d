"""Operating points: which ports are loaded, and what that asks of each converter."""

from dataclasses import dataclass

from generator.world.adapter import Adapter


@dataclass(frozen=True)
class Load:
    """One loaded port: its mode, the voltage asked for [V], and the current [A]."""

    port: str
    mode: str
    volts: float
    amperes: float


@dataclass(frozen=True)
class Point:
    """One operating point of one adapter.

    Attributes
    ----------
    supply : str
        Name of the mains.
    loads : tuple of Load
        Empty without load.
    """

    supply: str
    loads: tuple[Load, ...]


@dataclass(frozen=True)
class Share:
    """What a point asks of one converter: voltage and current at its output capacitor. [V], [A]."""

    converter: str
    volts: float
    amperes: float


def capacitor_voltage(adapter: Adapter, load: Load) -> float:
    """Voltage behind the rectifier. [V]."""
    port = adapter.port(load.port)
    return load.volts * (1 + port.set_error) + port.path * load.amperes


def port_voltage(adapter: Adapter, load: Load) -> float:
    """Voltage at the connector. [V]."""
    port = adapter.port(load.port)
    return load.volts * (1 + port.set_error) - port.resistance * load.amperes


def both_work(adapter: Adapter, loads: tuple[Load, ...]) -> bool:
    """Whether the second converter has joined the first."""
    return bool(
        adapter.joins_above is not None
        and len(loads) == 1
        and loads[0].port == adapter.ports[0].name
        and loads[0].volts * loads[0].amperes > adapter.joins_above
    )


def shares(adapter: Adapter, point: Point) -> list[Share]:
    """Work of every converter at a point; an idle one only feeds its controller."""
    idle = adapter.standby["output current"] / len(adapter.converters)
    if both_work(adapter, point.loads):
        load = point.loads[0]
        volts = capacitor_voltage(adapter, load)
        return [
            Share("main", volts, load.amperes * adapter.main_share + idle),
            Share("second", volts, load.amperes * (1 - adapter.main_share) + idle),
        ]
    result = []
    for number, converter in enumerate(adapter.converters):
        first = adapter.ports[0].name
        mine = [
            load
            for load in point.loads
            if len(adapter.converters) == 1 or (load.port == first) == (number == 0)
        ]
        if not mine:
            result.append(Share(converter.name, 5.0, idle))
            continue
        amperes = sum(load.amperes for load in mine)
        volts = max(capacitor_voltage(adapter, load) for load in mine)
        result.append(Share(converter.name, volts, amperes + idle))
    return result
