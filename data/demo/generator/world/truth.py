"""The record of what is true of a random adapter and its bench, SI units."""

from typing import Any

from generator.world.adapter import Adapter, Marked
from generator.world.coil import Coil
from generator.world.faults import KINDS
from generator.world.plan import SUPPLIES, Session
from generator.world.tables import bulk_switching


def noted(part: Marked | None) -> dict[str, float] | None:
    """Marked and true value of a part, for the record."""
    return (
        None
        if part is None
        else {"marked": part.marked, "true": part.true, "tolerance": part.tolerance}
    )


def adapter_truth(adapter: Adapter) -> dict[str, Any]:
    """Parts as they truly are."""
    front = adapter.front
    return {
        "bulk_capacitance": front.bulk_capacitance,
        "bulk_capacitance_marked": sum(part.marked for part in front.bulk),
        "bulk_resistance_100_hz_23_c": front.bulk_resistance(23.0, 100.0),
        "limiter": noted(front.limiter),
        "thermistor": front.thermistor,
        "beta": noted(front.beta),
        "dissipation_factor": noted(front.dissipation),
        "heat_capacity": noted(front.heat_capacity),
        "limiter_before_line_capacitor": front.limiter_first,
        "line_capacitor": noted(front.line_capacitor),
        "choke": noted(front.choke),
        "choke_leakage": noted(front.choke_leakage),
        "discharge_resistor": noted(front.discharge),
        "bridge": {
            "saturation": front.saturation,
            "scale": front.scale,
            "resistance": front.diode_resistance,
            "junction": front.junction,
        },
        "wiring_resistance": front.wiring,
        "barrier": {
            "listed": adapter.barrier.listed,
            "hidden": adapter.barrier.hidden,
            "windings": sum(item.interwinding.true for item in adapter.converters),
            "stray_from_live": adapter.barrier.stray,
            "total": adapter.barrier.listed
            + adapter.barrier.hidden
            + sum(item.interwinding.true for item in adapter.converters),
        },
        "joins_above": adapter.joins_above,
        "main_share": adapter.main_share,
        "ports": {
            port.name: {
                "output_resistance": port.resistance,
                "path_resistance": port.path,
                "set_error": port.set_error,
            }
            for port in adapter.ports
        },
        "converters": {
            item.name: {
                "turns": item.coil.turns,
                "secondary_turns": item.coil.secondary_turns,
                "auxiliary_turns": item.auxiliary_turns,
                "inductance": noted(item.inductance),
                "leakage": noted(item.leakage),
                "gap": noted(item.gap),
                "drain_capacitance": noted(item.drain_capacitance),
                "interwinding": noted(item.interwinding),
                "frequency": item.frequency.true,
                "switch": noted(item.switch),
                "sense": noted(item.sense),
                "clamp_resistor": noted(item.clamp_resistor),
                "clamp_level": item.clamp_level,
                "output_capacitance": sum(part.true for part in item.capacitors),
                "output_resistance": 1 / sum(1 / part.true for part in item.capacitor_resistance),
                "primary_resistance_20_c": item.coil.direct_resistance("primary"),
                "secondary_resistance_20_c": item.coil.direct_resistance("secondary"),
                "extras": item.extras,
            }
            for item in adapter.converters
        },
    }


def truth(session: Session) -> dict[str, Any]:
    """Everything that is true of an adapter and its bench, SI units."""
    record = {
        key: value
        for key, value in session.record.items()
        if key not in ("folder", "files", "shown_temperatures", "shown_ambient")
    }
    front = session.adapter.front
    valley = session.job.figure("bulk_minimum", session.top["100 V"])
    stages, hold = {}, {}
    for supply in SUPPLIES:
        point = session.top[supply]
        result = session.job.results[point]
        stages[supply] = {
            **{key: value for key, value in result.items() if key != "stages"},
            "stages": result["stages"],
            "bulk_ripple_current": {
                "mains": session.job.figure("bulk_capacitor_rms", point),
                "switching": bulk_switching(session, point)[0],
                "capacitors": len(front.bulk),
            },
            "bulk": {
                name: session.job.figure(name, point)
                for name in ("bulk_minimum", "bulk_mean", "bulk_maximum")
            },
        }
        begin = session.job.figure("bulk_minimum", point)
        energy = front.bulk_capacitance * (begin**2 - valley**2) / 2
        hold[supply] = max(energy, 0.0) / result["bulk power"]
    return {
        "name": session.adapter.name,
        "seed": session.seed,
        "index": session.index,
        "rated_power": session.adapter.rated_power,
        "fault": {
            "kind": session.fault.kind,
            "size": session.fault.size,
            "sign": session.fault.sign,
            "what": KINDS[session.fault.kind][0] if session.fault.kind else "",
        },
        "at_socket": session.at_socket,
        "supplies": {
            name: {
                "voltage": mains.voltage,
                "frequency": mains.frequency,
                "distortion": mains.distortion,
                "crest": mains.crest,
                "resistance": mains.resistance,
                "inductance": mains.inductance,
                "harmonics": {
                    str(order): list(value) for order, value in sorted(mains.harmonics.items())
                },
            }
            for name, mains in session.job.supplies.items()
        },
        "meters": {
            name: {"gain": meter.gain, "bend": meter.bend, "shift": meter.shift}
            for name, meter in session.meters.items()
        },
        "scope": {
            "bits": session.scope.bits,
            "noise": session.scope.noise,
            "delay": session.scope.delay,
            "bandwidth": session.scope.bandwidth,
        },
        "adapter": adapter_truth(session.adapter),
        "full_load": stages,
        "hold_up_to_valley_of_lowest_mains": hold,
        "valley_at_lowest_mains": valley,
        "places_in_tolerance": session.adapter.places,
        **record,
    }


def tidy(value: Any) -> Any:
    """Floats to seven figures, so that the record can be read and compared."""
    if isinstance(value, dict):
        return {key: tidy(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [tidy(item) for item in value]
    if isinstance(value, Coil):
        return None
    if isinstance(value, float) or hasattr(value, "dtype"):
        number = float(value)
        return (
            int(number)
            if hasattr(value, "dtype") and value.dtype.kind in "iu"
            else float(f"{number:.7g}")
        )
    return value
