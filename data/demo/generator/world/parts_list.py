"""The parts list of a random adapter, in the order the current meets them."""

from typing import Any

from generator.world.adapter import Converter, Marked
from generator.world.plan import Session
from generator.world.texts import percent, si


def _code(value: float, unit: float, letter: str) -> str:
    """Marking of three digits and a letter of tolerance, in picofarads or ohms."""
    units = value / unit
    power = 0
    while units >= 99.5:
        units, power = units / 10, power + 1
    if units < 9.95:
        return f"{units:.1f}".replace(".", "R") + letter
    return f"{units:.0f}{power}{letter}"


LETTERS = {0.05: "J", 0.1: "K", 0.2: "M"}


def parts_of(session: Session) -> list[dict[str, Any]]:
    """Entries for ``[[parts]]``."""
    adapter, front = session.adapter, session.adapter.front
    parts: list[dict[str, Any]] = [
        {
            "reference": "J1",
            "kind": "connector",
            "role": "mains connection",
            "identified_by": "read",
        },
        {
            "reference": "F1",
            "kind": "fuse",
            "role": "fuse",
            "marked": f"T{front.fuse:g}AL 250V",
            "value": si(front.fuse, "A"),
            "rated_voltage": "250 V",
            "melting_i_squared_t": f"{front.melting:g} A2s",
            "identified_by": "read",
        },
    ]
    limiter = _limiter(session)
    if front.limiter_first:
        parts.append(limiter)
    if front.varistor:
        parts.append(
            {
                "reference": "RV1",
                "kind": "varistor",
                "role": "surge absorber",
                "marked": "10D471K",
                "value": "470 V",
                "tolerance": "10 %",
                "identified_by": "read",
            }
        )
    if front.line_capacitor is not None:
        part = front.line_capacitor
        parts.append(
            {
                "reference": "CX1",
                "kind": "capacitor",
                "role": "line capacitor",
                "marked": f"{_code(part.marked, 1e-12, LETTERS[part.tolerance])} X2",
                "value": si(part.marked, "F"),
                "tolerance": percent(part.tolerance),
                "rated_voltage": "275 V",
                "safety_class": "X2",
                "identified_by": "read",
            }
        )
    if front.discharge is not None:
        parts += [
            {
                "reference": name,
                "kind": "resistor",
                "role": "discharge resistor",
                "marked": _code(front.discharge.marked, 1.0, ""),
                "value": si(front.discharge.marked, "ohm"),
                "tolerance": "5 %",
                "identified_by": "read",
                "note": f"in series with {other} across CX1",
            }
            for name, other in (("R1", "R2"), ("R2", "R1"))
        ]
    if front.choke is not None:
        reads = session.rng("choke noted").random() < 0.6
        parts.append(
            {
                "reference": "LF1",
                "kind": "inductor",
                "role": "line choke",
                "value": si(front.choke.marked, "H"),
                "tolerance": "30 %",
                "series_resistance": si(front.choke_resistance.marked, "ohm"),
                "leakage_inductance": si(front.choke_leakage.marked, "H") if reads else None,
                "identified_by": "inferred",
            }
        )
    if not front.limiter_first:
        parts.append(limiter)
    parts.append(
        {
            "reference": "BD1",
            "kind": "bridge",
            "role": "rectifier bridge",
            "marked": f"800V {front.bridge_current:g}A",
            "value": "800 V",
            "rated_voltage": "800 V",
            "rated_current": si(front.bridge_current, "A"),
            "identified_by": "read",
        }
    )
    for number, part in enumerate(front.bulk, start=1):
        ohms = front.bulk_noted_resistance
        parts.append(
            {
                "reference": f"C{number}",
                "kind": "capacitor",
                "role": "bulk capacitor",
                "marked": f"{part.marked * 1e6:g}uF 400V 105C",
                "value": si(part.marked, "F"),
                "tolerance": "20 %",
                "rated_voltage": "400 V",
                "rated_temperature": "105 C",
                "series_resistance": si(ohms, "ohm") if ohms else None,
                "identified_by": "read",
                "note": "series resistance read with an LCR meter, 100 Hz, 23 C" if ohms else "",
            }
        )
    parts += _barrier(session)
    for converter in adapter.converters:
        parts += _stage(session, converter)
    parts.append(
        {
            "reference": "U9",
            "kind": "integrated circuit",
            "role": "output controller",
            "identified_by": "inferred",
        }
    )
    return parts


def _limiter(session: Session) -> dict[str, Any]:
    front = session.adapter.front
    part = front.limiter
    common = {
        "reference": "RT1" if front.thermistor else "R9",
        "role": "inrush limiter",
        "value": si(part.marked, "ohm"),
        "identified_by": "read",
    }
    if not front.thermistor:
        return common | {
            "kind": "resistor",
            "tolerance": percent(part.tolerance),
            "note": "fusible resistor by its looks",
        }
    known = session.rng("limiter noted").random() < 0.7
    diameter = {0.18: 5, 0.30: 7, 0.54: 9, 0.85: 11, 1.30: 13}[front.heat_capacity.marked]
    return common | {
        "kind": "thermistor",
        "marked": f"{part.marked:g}D-{diameter}",
        "tolerance": percent(part.tolerance),
        "rated_current": si(front.limiter_current, "A"),
        "beta": f"{front.beta.marked:g} K" if known else None,
        "heat_capacity": f"{front.heat_capacity.marked:g} J/K" if known else None,
        "dissipation_factor": f"{front.dissipation.marked * 1e3:g} mW/K" if known else None,
    }


def _barrier(session: Session) -> list[dict[str, Any]]:
    items = session.adapter.barrier.capacitors
    return [
        {
            "reference": f"CY{number}",
            "kind": "capacitor",
            "role": "barrier capacitor",
            "marked": f"{_code(part.marked, 1e-12, 'M')} Y1",
            "value": si(part.marked, "F"),
            "tolerance": "20 %",
            "rated_voltage": "400 V",
            "safety_class": "Y1",
            "in_series_with": f"CY{3 - number}" if len(items) > 1 else "",
            "identified_by": "read",
            "note": "from the negative side of the bulk capacitor to the output",
        }
        for number, part in enumerate(items, start=1)
    ]


def _stage(session: Session, item: Converter) -> list[dict[str, Any]]:
    base = 20 if item.name == "main" else 30
    own = {"converter": item.name}
    many = len(session.adapter.converters) > 1
    drop = item.rectifier
    rectifier = drop["resistance"]
    assert isinstance(rectifier, Marked)
    rated, current = float(drop["voltage"]), float(drop["current"])
    ports = {"ports": [name for name in item.ports if item.name == "main" or name != "C1"]}
    parts: list[dict[str, Any]] = [
        {
            "reference": f"U{base}",
            "kind": "integrated circuit",
            "role": "controller",
            "identified_by": "inferred",
            "note": "works from 7 V to 60 V, by its type",
        }
        | own,
        {
            "reference": f"Q{base}",
            "kind": "transistor",
            "role": "switch",
            "marked": f"{item.switch_voltage:g}V {_ohms(item.switch.marked)}",
            "value": f"{item.switch_voltage:g} V",
            "rated_voltage": f"{item.switch_voltage:g} V",
            "rated_current": si(max(2.0, round(2.0 / item.switch.marked)), "A"),
            "series_resistance": si(item.switch.marked, "ohm"),
            "identified_by": "read",
        }
        | own,
    ]
    if item.clamp_resistor is not None:
        parts += [
            {
                "reference": f"CC{base}",
                "kind": "capacitor",
                "role": "clamp",
                "marked": _code(item.clamp_capacitor.marked, 1e-12, "K"),
                "value": si(item.clamp_capacitor.marked, "F"),
                "tolerance": "10 %",
                "rated_voltage": "1 kV",
                "identified_by": "inferred",
            }
            | own,
            {
                "reference": f"RC{base}",
                "kind": "resistor",
                "role": "clamp",
                "marked": _code(item.clamp_resistor.marked, 1.0, ""),
                "value": si(item.clamp_resistor.marked, "ohm"),
                "tolerance": "5 %",
                "identified_by": "read",
            }
            | own,
        ]
    else:
        level = item.extras["clamp marked level"]
        parts.append(
            {
                "reference": f"DZ{base}",
                "kind": "diode",
                "role": "clamp",
                "marked": f"{level:g}V",
                "value": f"{level:g} V",
                "identified_by": "read",
                "note": "zener diode for surges, clamps the drain",
            }
            | own
        )
    parts += [
        {
            "reference": f"RS{base}",
            "kind": "resistor",
            "role": "current sense",
            "marked": _ohms(item.sense.marked),
            "value": si(item.sense.marked, "ohm"),
            "tolerance": "1 %",
            "identified_by": "read",
        }
        | own,
        {
            "reference": f"CA{base}",
            "kind": "capacitor",
            "role": "auxiliary capacitor",
            "value": "10 uF",
            "tolerance": "10 %",
            "rated_voltage": "100 V",
            "identified_by": "inferred",
            "note": "ceramic",
        }
        | own,
        {
            "reference": f"T{base}",
            "kind": "transformer",
            "role": "transformer",
            "value": si(item.inductance.marked, "H"),
            "tolerance": percent(item.inductance.tolerance),
            "identified_by": "inferred",
        }
        | own,
        {
            "reference": f"OC{base}",
            "kind": "optocoupler",
            "role": "feedback isolator",
            "marked": "1018 C",
            "rated_voltage": "5 kV",
            "identified_by": "read",
        }
        | own,
    ]
    if item.synchronous:
        parts.append(
            {
                "reference": f"Q{base + 1}",
                "kind": "transistor",
                "role": "output rectifier",
                "marked": f"{rated:g}V {rectifier.marked * 1e3:g}m",
                "value": f"{rated:g} V",
                "rated_voltage": f"{rated:g} V",
                "rated_current": si(current, "A"),
                "series_resistance": si(rectifier.marked, "ohm"),
                "identified_by": "read",
            }
            | own
        )
    else:
        parts.append(
            {
                "reference": f"D{base + 1}",
                "kind": "diode",
                "role": "output rectifier",
                "marked": f"{rated:g}V {current:g}A",
                "value": f"{rated:g} V",
                "rated_voltage": f"{rated:g} V",
                "rated_current": si(current, "A"),
                "identified_by": "read",
            }
            | own
        )
    for number, (part, ohms) in enumerate(
        zip(item.capacitors, item.capacitor_resistance, strict=True)
    ):
        parts.append(
            {
                "reference": f"C{base + number}",
                "kind": "capacitor",
                "role": "output capacitor",
                "marked": f"{part.marked * 1e6:g} {item.capacitor_voltage:g}",
                "value": si(part.marked, "F"),
                "tolerance": "20 %",
                "rated_voltage": si(item.capacitor_voltage, "V"),
                "rated_temperature": "105 C",
                "series_resistance": si(ohms.marked, "ohm"),
                "identified_by": "read",
                "note": "polymer; series resistance read with an LCR meter, 100 kHz",
            }
            | own
            | (ports if many else {})
        )
    return parts


def _ohms(value: float) -> str:
    """Marking of a small resistance, R for the point."""
    return (
        f"{value:g}".replace("0.", "R")
        if value < 1
        else f"{value:g}".replace(".", "R") + ("" if "." in f"{value:g}" else "R")
    )
