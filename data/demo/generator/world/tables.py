"""The typed-in tables of a dossier, read off the meters of its bench."""

import numpy as np

from generator.world.heat import case_rise, inside
from generator.world.plan import Session
from generator.world.points import port_voltage
from generator.world.records_output import networks, swing


def write_tables(session: Session) -> None:
    """Load sweep, no load, touch current and temperatures."""
    rng = session.rng("tables")
    session.record["ambient"] = session.job.ambient
    _load_sweep(session, rng)
    _no_load(session)
    _touch(session, rng)
    _temperatures(session, rng)


def _rows(session: Session, name: str, columns: list[str], rows: list[list[str]]) -> None:
    text = "\n".join(",".join(row) for row in [columns, *rows]) + "\n"
    (session.record["folder"] / name).write_bytes(text.encode())


def _load_sweep(session: Session, rng: np.random.Generator) -> None:
    """Every reading of every point; the mains wanders between them.

    A bench source holds its voltage within 0.02 %; at a socket it moves by 0.3 % from reading to
    reading (common practice).
    """
    adapter, job, meters = session.adapter, session.job, session.meters
    network = networks(session)
    wander = 0.003 if session.at_socket else 2e-4
    rows, truth = [], []
    for number, reading in enumerate(session.readings, start=1):
        point, result = job.points[reading.point], job.results[reading.point]
        drawn = result["bulk power"]

        def figure(name: str, place: int = reading.point) -> float:
            return job.figure(name, place)

        mains = job.supplies[point.supply]
        volts = figure("plug_voltage") * (1 + wander * float(rng.standard_normal()))
        amperes = result["input power"] / (volts * figure("power_factor"))
        case = case_top(session, result["loss"])
        shown = [
            meters["mains voltage"].read(volts),
            meters["mains frequency"].read(mains.frequency),
            meters["mains current"].read(amperes),
            meters["input power"].read(result["input power"]),
        ]
        warm = meters["temperature"].read(case)
        for load in point.loads:
            ripple = (
                swing(session, reading.point, load.port, network[load.port])
                + session.record["ripple_floor"]
            )
            rows.append(
                [
                    str(number),
                    *shown,
                    load.port,
                    load.mode,
                    f"{load.volts:g}",
                    meters["output voltage"].read(port_voltage(adapter, load)),
                    meters["output current"].read(load.amperes),
                    meters["ripple"].read(ripple, 1e3),
                    warm if reading.warm else "",
                ]
            )
        truth.append(
            {
                "point": number,
                "supply": point.supply,
                "plug_voltage": volts,
                "input_current": amperes,
                "input_power": result["input power"],
                "output_power": result["output power"],
                "loss": result["loss"],
                "efficiency": result["output power"] / result["input power"],
                "bulk_power": drawn,
                "bulk_mean": figure("bulk_mean"),
                "bulk_minimum": figure("bulk_minimum"),
                "power_factor": figure("power_factor"),
                "case_top": case,
                "loads": [
                    {
                        "port": load.port,
                        "mode": load.mode,
                        "set_voltage": load.volts,
                        "output_voltage": port_voltage(adapter, load),
                        "output_current": load.amperes,
                        "ripple": swing(session, reading.point, load.port, network[load.port]),
                    }
                    for load in point.loads
                ],
            }
        )
    columns = [
        "point",
        "mains_voltage_v",
        "mains_frequency_hz",
        "mains_current_a",
        "input_power_w",
        "port",
        "mode",
        "set_voltage_v",
        "output_voltage_v",
        "output_current_a",
        "ripple_pp_mv",
        "case_temperature_c",
    ]
    _rows(session, "load_sweep.csv", columns, rows)
    session.record["points"] = truth


def case_top(session: Session, loss: float) -> float:
    """Temperature where the thermocouple sits on the case, warmer than its mean. [C]."""
    rise = float(case_rise(session.adapter.body, np.array(loss), session.job.ambient))
    return session.job.ambient + rise * session.record["hot_spot"]


def _no_load(session: Session) -> None:
    rows, truth = [], {}
    meters = session.meters
    for supply in ("230 V", "115 V"):
        result = session.job.results[session.idle[supply]]
        mains, idle = session.job.supplies[supply], session.record["idle"][supply]
        factor = result["input power"] / (idle["plug_voltage"] * idle["input_rms"])
        crest = idle["input_peak"] / idle["input_rms"]
        rows.append(
            [
                meters["mains voltage"].read(mains.voltage),
                meters["mains frequency"].read(mains.frequency),
                meters["no-load power"].read(result["input power"]),
                "300",
                "none",
                f"{max(crest, 1.0):.1f}",
                f"{min(factor, 1.0):.2f}",
            ]
        )
        truth[supply] = {
            "power": result["input power"],
            "crest_factor": crest,
            "power_factor": factor,
        }
    columns = [
        "mains_voltage_v",
        "mains_frequency_hz",
        "power_w",
        "averaging_time_s",
        "cable",
        "crest_factor",
        "power_factor",
    ]
    _rows(session, "no_load.csv", columns, rows)
    session.record["no_load"] = truth


def _touch(session: Session, rng: np.random.Generator) -> None:
    found, rows = session.record["touch_current"], []
    wanted = [
        ("230 V", side, *what)
        for side in "ab"
        for what in (("weighted", "rms"), ("weighted", "peak"), ("unweighted", "rms"))
    ]
    wanted.append(("230 V loaded", "a", "weighted", "rms"))
    if not session.at_socket:
        wanted += [("264 V", "a", "weighted", "rms"), ("264 V", "a", "weighted", "peak")]
    for key, side, network, quantity in wanted:
        mains = session.job.supplies[key.split(" loaded")[0]]
        power = session.top_load() if "loaded" in key else None
        watts = session.job.results[session.top["230 V"]]["output power"] if power else 0.0
        rows.append(
            [
                session.meters["mains voltage"].read(mains.voltage),
                session.meters["mains frequency"].read(mains.frequency),
                side,
                network,
                "output connector shell",
                quantity,
                session.meters["touch current"].read(
                    found[f"{key} {side}"][f"{network}_{quantity}"], 1e6
                ),
                f"{watts:.0f}",
            ]
        )
    columns = [
        "mains_voltage_v",
        "mains_frequency_hz",
        "polarity",
        "network",
        "touched_part",
        "quantity",
        "touch_current_ua",
        "output_power_w",
    ]
    _rows(session, "touch_current.csv", columns, rows)


def temperatures(session: Session, point: int) -> dict[str, float]:
    """Temperatures of the places at one operating point, as they truly are. [C]."""
    result, body = session.job.results[point], session.adapter.body
    air = float(inside(body, np.array(result["loss"]), session.job.ambient))
    # The place read belongs to the converter that works hardest.
    stage = max(result["stages"].values(), key=lambda item: item["input power"])
    name = next(key for key, item in result["stages"].items() if item is stage)
    converter = session.adapter.converter(name)
    count = len(converter.capacitors)
    each = stage["capacitor rms"] / count
    bulk = result["front losses"]["bulk_resistance"] + bulk_switching(session, point)[1]
    warmth = 0.25 * (stage["transformer celsius"] - air)
    return {
        "bulk capacitor": air + body.parts["bulk capacitor"] * bulk + 0.04 * warmth,
        "auxiliary capacitor": air + body.parts["auxiliary capacitor"] * result["loss"],
        "output capacitor": air
        + body.parts["output capacitor"] * each**2 * converter.capacitor_resistance[0].true
        + warmth,
        "transformer": stage["transformer celsius"],
        "output rectifier": stage["rectifier celsius"],
        "case top": case_top(session, result["loss"]),
    }


def bulk_switching(session: Session, point: int) -> tuple[float, float]:
    """Switching part of the bulk's ripple current, all capacitors, and its loss. [A], [W]."""
    square = 0.0
    for stage in session.job.results[point]["stages"].values():
        mean = stage["input power"] / session.job.figure("bulk_mean", point)
        square += max(stage["primary rms"] ** 2 - mean**2, 0.0)
    resistance = session.adapter.front.bulk_resistance(60.0, 60e3)
    return float(np.sqrt(square)), square * resistance


def _temperatures(session: Session, rng: np.random.Generator) -> None:
    rows, truth = [], {}
    point = session.top["230 V"]
    watts = session.job.results[point]["output power"]
    for place, true in temperatures(session, point).items():
        drift = 0.3 * float(rng.standard_normal())
        ambient = session.meters["temperature"].read(session.job.ambient + drift)
        shown = session.meters["temperature"].read(true + drift)
        session.record.setdefault("shown_temperatures", {})[place] = shown
        session.record["shown_ambient"] = ambient
        rows.append([place, shown, ambient, "closed", f"{watts:.1f}", "90"])
        truth[place] = true
    columns = ["place", "temperature_c", "ambient_c", "case", "output_power_w", "time_at_load_min"]
    _rows(session, "temperatures.csv", columns, rows)
    session.record["temperatures"] = truth
