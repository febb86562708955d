"""The file ``adapter.toml`` of a dossier."""

from typing import Any

import numpy as np

from generator.world.adapter import Converter
from generator.world.catalogue import CORES
from generator.world.parts_list import parts_of
from generator.world.plan import Session
from generator.world.texts import percent, si, table


def write_adapter(session: Session) -> None:
    """The file ``adapter.toml``."""
    adapter = session.adapter
    pieces = [
        f"# {adapter.name}: a random adapter of a simulated world; nothing in it is real.\n",
        table("", {"notes": _notes(session)}),
        _nameplate(session),
        _supply(session),
    ]
    pieces += [
        table(
            "[[ports]]",
            {
                "name": port.name,
                "connector": port.connector,
                "modes": [
                    {
                        "name": mode.name,
                        "voltage": si(mode.volts, "V"),
                        "current": si(mode.amperes, "A"),
                    }
                    if mode.span is None
                    else {
                        "name": mode.name,
                        "kind": "adjustable",
                        "minimum_voltage": si(mode.span[0], "V"),
                        "maximum_voltage": si(mode.span[1], "V"),
                        "current": si(mode.amperes, "A"),
                    }
                    for mode in port.modes
                ],
            },
        )
        for port in adapter.ports
    ]
    for items in adapter.combinations:
        total = sum(float(mode.split()[0]) * amperes for _, mode, amperes in items)
        pieces.append(
            table(
                "[[combinations]]",
                {
                    "total_power": si(total, "W"),
                    "outputs": [
                        {"port": port, "mode": mode, "current": si(amperes, "A")}
                        for port, mode, amperes in items
                    ],
                },
            )
        )
    for meter in session.meters.values():
        item = meter.stated
        pieces.append(
            table(
                "[[instruments]]",
                {
                    "name": item.name,
                    "measures": item.measures,
                    "fraction_of_reading": percent(item.reading) if item.reading else None,
                    "fraction_of_full_scale": percent(item.scale) if item.scale else None,
                    "full_scale": float(item.full_scale) if item.full_scale else None,
                    "resolution": float(item.resolution) if item.resolution else None,
                    "note": item.note,
                },
            )
        )
    pieces.append(
        table(
            "[construction]",
            {
                "topology": "quasi-resonant flyback"
                if adapter.converters[0].quasi_resonant
                else "flyback",
                "rectifier": "synchronous" if adapter.converters[0].synchronous else "diode",
                "synchronised": False if len(adapter.converters) > 1 else None,
            },
        )
    )
    pieces += [_converter(session, item) for item in adapter.converters]
    pieces += [table("[[parts]]", part) for part in parts_of(session)]
    pieces += [piece for item in adapter.converters for piece in _transformer(session, item)]
    pieces += _distances(session)
    pieces += _capacitors(session)
    pieces += _captures(session)
    text = "\n".join(pieces).lstrip("\n")
    (session.record["folder"] / "adapter.toml").write_bytes(text.encode())


def _notes(session: Session) -> str:
    where = "At wall sockets." if session.at_socket else "Bench source set to a sine."
    return (
        f"{where} Voltage probe, power analyser and clamp at the adapter's plug, behind the switch."
    )


def _nameplate(session: Session) -> str:
    adapter, rng = session.adapter, session.rng("label")
    highest = adapter.rated_power / 0.85 / 100.0 / 0.5
    return table(
        "[nameplate]",
        {
            "name": adapter.name,
            "rated_power": si(adapter.rated_power, "W"),
            "input_voltage_minimum": "100 V",
            "input_voltage_maximum": "240 V",
            "input_frequency_minimum": "50 Hz",
            "input_frequency_maximum": "60 Hz",
            "input_current": si(float(np.ceil(10 * highest * rng.uniform(1.0, 1.3)) / 10), "A"),
            "protection_class": "II",
            "marks": ["double square", "efficiency level VI"],
            "size": [si(side, "m") for side in adapter.body.size],
            "mass": f"{2.6 * adapter.rated_power**0.95 * rng.uniform(0.85, 1.2):.0f} g",
            "year": int(rng.integers(2020, 2026)),
            "maximum_altitude": "2000 m",
            "maximum_ambient": "40 C",
        },
    )


def _supply(session: Session) -> str:
    """Bench sources are known; of sockets half the benches know the resistance."""
    mains, rng = session.job.supplies["230 V"], session.rng("supply noted")
    if session.at_socket and rng.random() < 0.5:
        return ""
    room = 0.10 if session.at_socket else 0.05
    ohms = max(mains.resistance + rng.uniform(-room, room), 0.02)
    values = {"resistance": si(float(ohms), "ohm", 2), "resistance_uncertainty": si(room, "ohm", 2)}
    if not session.at_socket:
        henry = max(mains.inductance + rng.uniform(-2e-6, 2e-6), 1e-6)
        values |= {"inductance": si(float(henry), "H", 2), "inductance_uncertainty": "3 uH"}
    return table("[supply]", values)


def _converter(session: Session, item: Converter) -> str:
    esr = 1 / sum(1 / part.marked for part in item.capacitor_resistance)
    many = len(session.adapter.converters) > 1
    rng = session.rng(f"notes {item.name}")
    drop = item.rectifier
    level = session.job.results[session.top["230 V"]]["stages"][item.name]["clamp voltage"]
    listens = session.adapter.joins_above if item.name == "second" else None
    return table(
        "[[construction.converters]]",
        {
            "name": item.name,
            "rated_power": si(item.rated_power, "W"),
            "ports": list(item.ports),
            "switching_frequency": None if item.quasi_resonant else si(item.frequency.marked, "Hz"),
            "turns_ratio": f"{item.ratio:.5g}",
            "magnetising_inductance": si(item.inductance.marked, "H"),
            "magnetising_inductance_tolerance": percent(item.inductance.tolerance),
            "output_capacitance": si(sum(part.marked for part in item.capacitors), "F", 4),
            "output_esr": si(esr, "ohm"),
            "output_esl": si(item.capacitor_inductance / len(item.capacitors), "H", 2),
            "leakage_inductance": si(item.leakage.marked, "H"),
            "drain_capacitance": si(item.drain_capacitance.marked, "F"),
            # Read with a differential probe at full load, good to 2 %.
            "clamp_voltage": si(level * (1 + 0.02 * rng.uniform(-1, 1)), "V")
            if rng.random() < 0.6
            else None,
            "joins_above": si(listens, "W") if listens and many else None,
            "rectifier_drop": None
            if item.synchronous or rng.random() < 0.5
            else si(-drop["scale"] * np.log(drop["saturation"]) + 0.03, "V", 2),
        },
    )


def _transformer(session: Session, item: Converter) -> list[str]:
    coil, rng = item.coil, session.rng(f"transformer {item.name}")
    bundle = item.strand * 1.12 * np.sqrt(item.strands / 0.75) + 0.2e-3
    half = item.primary_layers // 2 if item.interleaved else item.primary_layers
    turns = coil.turns
    inner = turns // 2 if item.interleaved else turns

    def primary(name: str, count: float, layers: int, tape: int) -> str:
        return table(
            "[[transformers.windings]]",
            {
                "name": name,
                "role": "primary",
                "turns": int(count),
                "layers": layers,
                "wire_diameter": si(item.wire, "m"),
                "insulation": "enamelled",
                "tape_layers_outside": tape,
            },
        )

    pieces = [
        table(
            "[[transformers]]",
            {
                "converter": item.name,
                "core": item.core,
                "core_area": f"{coil.area * 1e6:.3g} mm2",
                "path_length": si(coil.path, "m"),
                "winding_width": si(coil.width, "m"),
                "winding_height": si(_window(item), "m"),
                "mean_turn_length": si(coil.turn, "m"),
                "gap": si(item.gap.marked, "m", 2),
                "leakage_inductance": si(item.leakage.marked, "H"),
                # One bench in eight has not read it.
                "interwinding_capacitance": si(item.interwinding.marked, "F")
                if rng.random() < 0.875
                else None,
            },
        )
    ]
    pieces.append(
        primary("first half of the primary" if item.interleaved else "primary", inner, half, 1)
    )
    pieces.append(
        table(
            "[[transformers.windings]]",
            {
                "name": "secondary",
                "role": "secondary",
                "turns": int(coil.secondary_turns),
                "wire_diameter": si(item.strand, "m"),
                "strands": item.strands,
                "outer_diameter": si(float(bundle), "m", 2),
                "insulation": "triple insulated",
                "tape_layers_outside": 1 if item.interleaved else 2,
            },
        )
    )
    pieces.append(
        table(
            "[[transformers.windings]]",
            {
                "name": "auxiliary",
                "role": "auxiliary",
                "turns": item.auxiliary_turns,
                "wire_diameter": "0.12 mm",
                "insulation": "enamelled",
                "tape_layers_outside": 1,
            },
        )
    )
    if item.interleaved:
        pieces.append(primary("second half of the primary", turns - inner, half, 2))
    return pieces


def _window(item: Converter) -> float:
    return next(core.height for core in CORES if core.name == item.core)


def _distances(session: Session) -> list[str]:
    """Creepage and clearance of a usual board: the standard's 5 to 6.4 mm and a little more."""
    rng, pieces = session.rng("distances"), []
    session.record["distances"] = {}
    for place, kind, low, high, extra in (
        ("board, under the transformer", "creepage", 6.4e-3, 8.0e-3, {"working_voltage": "250 V"}),
        (
            "between the legs of CY1",
            "clearance",
            5.5e-3,
            8.0e-3,
            {"working_voltage": "250 V", "peak_voltage": "420 V"},
        ),
        ("case wall at the seam", "thickness", 1.6e-3, 2.6e-3, {}),
    ):
        true = float(rng.uniform(low, high))
        shown = session.meters["distance"].read(true, 1e3)
        session.record["distances"][place] = true
        pieces.append(
            table(
                "[[distances]]",
                {
                    "place": place,
                    "kind": kind,
                    "insulation": "reinforced",
                    "distance": f"{shown} mm",
                    "uncertainty": "0.10 mm",
                }
                | extra,
            )
        )
    return pieces


def _capacitors(session: Session) -> list[str]:
    """Capacitors that age. Ratings as makers list them for such sizes (common practice)."""
    adapter, shown = session.adapter, session.record["shown_temperatures"]
    watts = session.job.results[session.top["230 V"]]["output power"]
    bulk, rng = adapter.front.bulk[0], session.rng("ratings")
    common = {"ambient": f"{session.record['shown_ambient']} C", "output_power": f"{watts:.0f} W"}
    stage = adapter.converters[0]
    rated = 0.075 * np.sqrt(bulk.marked * 1e6)
    return [
        table(
            "[[capacitors]]",
            {
                "part": "C1",
                "type": "wet electrolytic",
                "place": "bulk capacitor",
                "temperature": f"{shown['bulk capacitor']} C",
            }
            | common
            | {
                "base_life": f"{rng.choice([2000, 5000, 8000])} h",
                "rated_temperature": "105 C",
                "base_life_includes_ripple": True,
                "rated_ripple_current": si(float(rated), "A", 2),
                "rated_ripple_rise": "5 K",
                "rated_ripple_frequency": "120 Hz",
                "working_voltage": "325 V",
            },
        ),
        table(
            "[[capacitors]]",
            {
                "part": f"C{20 if stage.name == 'main' else 30}",
                "type": "polymer",
                "place": "output capacitor",
                "temperature": f"{shown['output capacitor']} C",
            }
            | common
            | {
                "base_life": "2000 h",
                "rated_temperature": "105 C",
                "rated_ripple_current": "4.2 A",
                "rated_ripple_rise": "20 K",
                "rated_ripple_frequency": "100 kHz",
                "working_voltage": si(stage.highest_voltage, "V"),
            },
        ),
    ]


def _captures(session: Session) -> list[str]:
    load, pieces = session.top_load(), []
    port, mode = load.port, load.mode
    swapped = session.fault.kind == "exchanged"
    for name, item in session.record["files"].items():
        kind = item["kind"]
        scale = {"mains": 1.0, "plug-in": 10.0}.get(kind, 1.0)
        values: dict[str, Any] = {"kind": kind, "file": f"captures/{name}"}
        if kind in ("mains", "plug-in"):
            current = {
                "column": 3 if swapped else 2,
                "quantity": "current",
                "name": "mains current",
                "scale": scale,
            }
            voltage = {
                "column": 2 if swapped else 3,
                "quantity": "voltage",
                "name": "mains voltage",
                "scale": 200.0,
            }
            values["channels"] = sorted([current, voltage], key=lambda entry: entry["column"])
            low = "115" in name
            values |= {
                "mains_voltage": "115 V" if low else "230 V",
                "mains_frequency": "60 Hz" if low else "50 Hz",
            }
            if kind == "mains":
                values |= {
                    "port": port,
                    "mode": mode,
                    "load_current": si(round(load.amperes, 3), "A"),
                }
            else:
                entry = session.record["plug_in"][name]
                if entry["noted"] is not None:
                    values |= {"phase": entry["noted"], "phase_uncertainty": 2.0}
                rest = entry["rest"]
                values["rest_time"] = f"{rest:g} s" if rest else "30 min"
                values["note"] = (
                    "unplugged at full load, run down, plugged in again" if rest else "adapter cold"
                )
        else:
            truth = (
                session.record[kind.replace(" ", "_").replace("-", "_")]
                if kind not in ("ripple", "start-up")
                else {}
            )
            channels = [{"column": 2, "quantity": "voltage", "name": port}]
            if kind in ("load step", "overcurrent"):
                channels.append({"column": 3, "quantity": "current", "name": "load current"})
            values |= {
                "channels": channels,
                "port": port,
                "mode": "5 V" if kind == "start-up" else mode,
                "mains_voltage": "230 V",
                "mains_frequency": "50 Hz",
            }
            if kind == "ripple":
                values |= {"load_current": si(round(load.amperes, 3), "A"), "bandwidth": "20 MHz"}
            elif kind == "load step":
                values |= {
                    "load_current": si(truth["low"], "A"),
                    "bandwidth": "20 MHz",
                    "load_current_after": si(truth["high"], "A"),
                }
            elif kind == "port change":
                values |= {
                    "other_port": session.adapter.ports[1].name,
                    "load_current": si(truth["amperes"], "A"),
                }
        pieces.append(table("[[captures]]", values))
    return pieces
