"""A random adapter: rating, ports, converters, parts and what is true of them."""

import numpy as np

from generator.world.adapter import Adapter, Body, Converter, Mode, Port
from generator.world.design_front import barrier, front
from generator.world.design_stage import converter
from generator.world.draw import Parts, stream

RATINGS = (10, 12, 15, 18, 20, 25, 27, 30, 33, 40, 45, 60, 65, 100)


def _modes(power: float, adjustable: bool) -> tuple[Mode, ...]:
    """Fixed voltages that the USB power rules ask of a port, and an adjustable range.

    USB Power Delivery, power rules: 5 V to 15 W, 9 V to 27 W, 15 V to 45 W, 20 V above; 3 A, or
    5 A at 20 V above 60 W.
    """
    levels = [5.0] + [
        volts for volts, least in ((9.0, 15), (15.0, 27), (20.0, 45)) if power > least
    ]
    modes = []
    for volts in levels:
        most = 5.0 if volts == 20 and power > 60 else 3.0
        modes.append(Mode(f"{volts:g} V", volts, float(f"{min(most, power / volts):.3g}")))
    if adjustable and len(levels) > 1:
        top = {2: 11.0, 3: 16.0, 4: 21.0}[len(levels)]
        amperes = min(3.0, float(f"{power / levels[-1]:.3g}"))
        modes.append(Mode("adjustable", top, amperes, (3.3, top)))
    return tuple(modes)


def _port(
    rng: np.random.Generator,
    name: str,
    kind: str,
    modes: tuple[Mode, ...],
    beside: Port | None = None,
) -> Port:
    """Connector, port switch and tracks: 15 to 40 mohm; set points within 1 % (common practice).

    A port `beside` another on the same converter has the same regulator.
    """
    total, sensed = float(rng.uniform(0.015, 0.040)), float(rng.uniform(0.3, 0.8))
    error = float(np.clip(0.004 * rng.standard_normal(), -0.01, 0.01))
    error = beside.set_error if beside else error
    return Port(name, kind, modes, total * sensed, total * (1 - sensed), error)


def design(seed: int, index: int) -> Adapter:
    """Adapter number `index` of a seed."""
    rng = stream(seed, index, "design")
    parts = Parts(stream(seed, index, "parts"))
    power = float(rng.choice(RATINGS))
    adjustable = bool(rng.random() < 0.4 and power > 18)
    quasi, synchronous = bool(rng.random() < 0.35), bool(power >= 18 and rng.random() < 0.6)
    layout = rng.random()
    joins, share, combinations = None, 1.0, []
    if power < 30 or layout < 0.45:
        kind = "USB-C" if power > 12 or rng.random() < 0.5 else "USB-A"
        ports = [_port(rng, "C" if kind == "USB-C" else "A", kind, _modes(power, adjustable))]
        second = power >= 12 and power < 100 and rng.random() < 0.3
        if second and kind == "USB-C":
            amperes = 2.4
            ports.append(_port(rng, "A", "USB-A", (Mode("5 V", 5.0, amperes),), ports[0]))
            first = min(ports[0].modes[0].amperes, round(power / 5 - amperes, 2))
            if first >= 0.5:
                combinations.append((("C", "5 V", first), ("A", "5 V", amperes)))
            else:
                ports.pop()
        top = ports[0].modes[-1] if not adjustable else ports[0].modes[-2]
        most = max(max(mode.amperes for port in ports for mode in port.modes), power / top.volts)
        if len(ports) > 1:
            most = max(most, sum(item[2] for item in combinations[0]))
        names = tuple(port.name for port in ports)
        highest = max(mode.volts for mode in ports[0].modes)
        converters = [
            converter(rng, parts, "main", names, power, highest, most, quasi, synchronous)
        ]
    else:
        joined = bool(layout > 0.70)
        share = float(rng.uniform(0.6, 0.7))
        main = float(round(share * power))
        rest = power - main
        first = _modes(power if joined else main, adjustable)
        other = _modes(rest, False)
        ports = [_port(rng, "C1", "USB-C", first), _port(rng, "C2", "USB-C", other)]
        if rng.random() < 0.5:
            lone = (Mode("5 V", 5.0, min(2.4, round(rest / 5, 2))),)
            ports.append(_port(rng, "A", "USB-A", lone, ports[1]))
        fixed = [mode for mode in first if mode.span is None]
        within = [mode for mode in fixed if mode.volts * min(mode.amperes, main / mode.volts) > 0]
        top = within[-1]
        combinations.append(
            (
                ("C1", top.name, float(f"{min(top.amperes, main / top.volts):.3g}")),
                ("C2", other[-1].name, other[-1].amperes),
            )
        )
        if len(ports) > 2:
            half = float(f"{min(2.4, rest / 10):.3g}")
            combinations.append(
                (
                    ("C1", "5 V", 3.0 if main >= 15 else round(main / 5, 2)),
                    ("C2", "5 V", half),
                    ("A", "5 V", half),
                )
            )
        highest = max(mode.volts for mode in first)
        low = max(mode.volts for mode in (first if joined else other))
        names = tuple(port.name for port in ports[1:])
        amperes = max(3.0, main / top.volts)
        converters = [
            converter(rng, parts, "main", ("C1",), main, highest, amperes, quasi, synchronous),
            converter(
                rng,
                parts,
                "second",
                (*names, "C1") if joined else names,
                rest,
                low,
                max(3.0 if rest >= 15 else rest / 5, rest / low),
                quasi,
                synchronous,
            ),
        ]
        if joined:
            # The first converter alone, up to 85 to 98 % of its rating.
            joins = float(round(rng.uniform(0.85, 0.98) * main))
        share = main / power
    return Adapter(
        name=f"random-{seed}-{index:04d}",
        rated_power=power,
        ports=tuple(ports),
        combinations=tuple(combinations),
        converters=tuple(converters),
        joins_above=joins,
        main_share=share,
        front=front(rng, parts, power),
        barrier=barrier(rng, parts),
        body=_body(rng, power, converters),
        standby={
            # Output controllers and feedback: 1 to 3 mA at 5 V each (common practice).
            "output current": float(rng.uniform(0.8e-3, 2.0e-3)) * len(ports),
            "start-up": float(rng.uniform(3e-3, 10e-3)),
        },
        places=dict(parts.drawn),
    )


def _body(rng: np.random.Generator, power: float, converters: list[Converter]) -> Body:
    """Case of 0.35 to 0.9 W for each cubic centimetre (labels of such adapters), matt plastic.

    Air inside above the case: 0.3 to 0.7 of what the case is above the room (common practice).
    Parts above that air: by their size, chosen so that none passes its rating at full load.
    """
    volume = power / rng.uniform(0.35, 0.9) * 1e-6 + 14e-6
    thick = rng.uniform(0.40, 0.52) * volume ** (1 / 3) * 1.7
    long = rng.uniform(1.05, 1.5) * np.sqrt(volume / thick)
    size = tuple(float(round(item, 3)) for item in (long, volume / thick / long, thick))
    surface = 2 * (size[0] * size[1] + size[0] * size[2] + size[1] * size[2])
    scale = (30.0 / power) ** 0.4
    spread = {
        name: float(rng.uniform(0.8, 1.25))
        for name in (
            "bulk capacitor",
            "auxiliary capacitor",
            "output capacitor",
            "transformer",
            "switch",
            "output rectifier",
            "bridge",
        )
    }
    return Body(
        size=size,
        emissivity=float(rng.uniform(0.90, 0.96)),
        inner=float(rng.uniform(0.3, 0.7) / (10.0 * surface)),
        parts={
            "bulk capacitor": 16.0 * scale * spread["bulk capacitor"],
            "output capacitor": 30.0 * scale * spread["output capacitor"],
            "transformer": 11.0 * scale * spread["transformer"],
            "switch": 16.0 * scale * spread["switch"],
            "output rectifier": 14.0 * scale * spread["output rectifier"],
            "bridge": 22.0 * scale * spread["bridge"],
            # Warmed by its neighbours: kelvin for each watt of the whole loss.
            "auxiliary capacitor": 1.0 * scale * spread["auxiliary capacitor"],
        },
    )
