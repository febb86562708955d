"""birch-60: three ports, two unequal converters, and a barrier that carries too much current."""

from collections.abc import Sequence

import numpy as np

from generator.barrier import Barrier
from generator.captures import mains, plug_in
from generator.magnetics import Coil, read_coils
from generator.mains_side import Front, Limiter
from generator.output_side import load_step, port_change
from generator.picture import write_picture
from generator.power_stage import Loss, Pulse, Stage, peak_to_peak, trace
from generator.session import Output, Session, Truth, amperes
from generator.single import TEMPERATURES
from generator.writing import write_capture, write_table, write_truth

MAINS = ((230.0, 50.0), (115.0, 60.0))
JOIN_POWER, MAIN_SHARE = 38.0, 2 / 3
MARKED_PART, INTER_WINDING, UNLISTED_PART = 1.03e-9, 0.085e-9, 0.615e-9
MAIN = Stage(40.0, 4.5, 303e-6, 84.6e3, 0.05, 0.94)
SECOND = Stage(20.0, 4.5, 246e-6, 111.3e3, 0.05, 0.93)
# Capacitance [F] and series resistance [ohm] at C1, and at C2 with A.
C1_FILTER, C2_FILTER = (640e-6, 7.2e-3), (262e-6, 15.5e-3)
FLOOR = 3e-3
# Copper heights and distances as wound, with air where the wires do not lie flat.
COILS = {
    "main": Coil(36, 64e-6, 38e-3, 2100, 8.6e-3, 42e-3,
                 ((18, 0.35e-3, 0.34e-3), (-36, 0.72e-3, 0.50e-3), (18, 0.35e-3, 0)), 17e-9, 4.5),
    "second": Coil(45, 31e-6, 47e-3, 2100, 12.8e-3, 34e-3,
                   ((45, 0.22e-3, 0.48e-3), (-45, 0.60e-3, 0)), 14e-9, 4.5),
}  # fmt: skip


def pulses(volts: float, current: float, bulk: float) -> list[Pulse]:
    """Secondary pulses into C1's capacitors when only C1 is loaded."""
    if volts * current <= JOIN_POWER:
        return [MAIN.pulse(bulk, volts, current)]
    return [
        MAIN.pulse(bulk, volts, current * MAIN_SHARE),
        SECOND.pulse(bulk, volts, current * (1 - MAIN_SHARE)),
    ]


def ripple(output: Output, outputs: Sequence[Output], bulk: float) -> float:
    """Peak-to-peak ripple at a port. [V]."""
    slow = 4e-3 * sum(item.set_voltage * item.current for item in outputs) / 60
    if output.port == "C1":
        found = pulses(output.set_voltage, output.current, bulk)
        if len(outputs) > 1:
            found = [MAIN.pulse(bulk, output.set_voltage, output.current)]
        return FLOOR + slow + peak_to_peak(found, *C1_FILTER)
    shared = sum(item.current for item in outputs if item.port != "C1")
    return FLOOR + slow + peak_to_peak(
        [SECOND.pulse(bulk, output.set_voltage, shared)], *C2_FILTER
    )  # fmt: skip


TRUTH = Truth(
    name="birch-60",
    seed=60,
    rated_power=60.0,
    front=Front(107e-6, 0.45, 1.35, 0.80, 10e-6, 1.5, 0.06),
    limiter=Limiter(8.4, 2900.0, 0.75, 14e-3),
    barrier=Barrier(MARKED_PART + INTER_WINDING + UNLISTED_PART),
    stages={"main": MAIN, "second": SECOND},
    losses={
        "C1 5 V": Loss(0.52, 0.085, 0.0028),
        "C1 9 V": Loss(0.53, 0.068, 0.0011),
        "C1 15 V": Loss(0.54, 0.062, 0.00062),
        "C1 20 V": Loss(0.55, 0.060, 0.00045),
        "C1 adjustable": Loss(0.53, 0.075, 0.0009),
        "high": Loss(0.80, 0.066, 0.00052),
        "low": Loss(0.78, 0.088, 0.00125),
    },
    no_load={
        (230.0, "none"): 0.086,
        (115.0, "none"): 0.071,
        (230.0, "plugged"): 0.118,
    },
    set_error={"C1": 0.004, "C2": 0.006, "A": 0.009},
    output_resistance={"C1": 0.022, "C2": 0.031, "A": 0.045},
    ripple=ripple,
    rises={
        "bulk capacitor": 7.6,
        "second bulk capacitor": 7.1,
        "auxiliary capacitor": 7.9,
        "output capacitor": 7.2,
        "transformer": 10.6,
        "case top": 5.7,
    },
)


def _out(port: str, mode: str, current: float, volts: float | None = None) -> Output:
    return Output(port, mode, volts or float(mode.split()[0]), current)


HIGH = (_out("C1", "20 V", 2.0), _out("C2", "9 V", 2.22))
LOW = (_out("C1", "5 V", 3.0), _out("C2", "5 V", 1.6), _out("A", "5 V", 2.4))
_MILLI = {"ripple_pp": 1e3}


def _sweeps(session: Session) -> None:
    for volts in ("5", "9", "15"):
        session.sweep(f"C1 {volts} V", [_out("C1", f"{volts} V", 3.0)], MAINS, columns=_MILLI)
    fine = tuple(step / 20 for step in range(20, 0, -1))
    full = [_out("C1", "20 V", 3.0)]
    session.sweep("C1 20 V", full, MAINS[:1], fine, _MILLI)
    session.sweep("C1 20 V", full, MAINS[1:], columns=_MILLI)
    # The lowest voltage again at shares of 2 A; 10 % of the 3 A on the label stands above.
    reference = [_out("C1", "5 V", 2.0)]
    session.sweep("C1 5 V", reference, MAINS, (1, 0.5, 0.25), _MILLI)
    session.sweep("high", HIGH, MAINS, columns=_MILLI)
    session.sweep("low", LOW, MAINS, columns=_MILLI)
    for volts in (3.3, 11.0, 21.0):
        current = min(3.0, 60.0 / volts)
        loaded = [_out("C1", "adjustable", round(current, 2), volts)]
        session.measure("C1 adjustable", loaded, *MAINS[0], columns=_MILLI)
    session.write_sweep(
        {
            "point": "point",
            "mains_voltage": "mains_voltage_v",
            "mains_frequency": "mains_frequency_hz",
            "mains_current": "mains_current_a",
            "input_power": "input_power_w",
            "port": "port",
            "mode": "mode",
            "set_voltage": "set_voltage_v",
            "output_voltage": "output_voltage_v",
            "output_current": "output_current_a",
            "ripple_pp": "ripple_pp_mv",
            "case_temperature": "case_temperature_c",
        }
    )


def _tables(session: Session) -> None:
    write_table(
        session.folder / "no_load.csv",
        ["mains_voltage_v", "mains_frequency_hz", "power_w", "averaging_time_s", "cable",
         "crest_factor", "power_factor"],
        session.read_no_load(),
    )  # fmt: skip
    loss = session.loss("C1 20 V", 60.0, 230.0)
    cases = [
        (230.0, 50.0, polarity, network, quantity, 0.0, 0.1)
        for polarity in "ab"
        for network, quantity in (
            ("weighted", "rms"), ("weighted", "peak"), ("unweighted", "rms"),
        )
    ]  # fmt: skip
    cases += [(230.0, 50.0, side, "weighted", "rms", 60.0, loss) for side in "ab"]
    cases += [
        (264.0, 60.0, polarity, "weighted", quantity, 0.0, 0.1)
        for polarity in "ab"
        for quantity in ("rms", "peak")
    ]
    write_table(
        session.folder / "touch_current.csv",
        ["mains_voltage_v", "mains_frequency_hz", "polarity", "network", "touched_part",
         "quantity", "touch_current_ua", "output_power_w"],
        session.read_touch(cases),
    )  # fmt: skip
    write_table(
        session.folder / "temperatures.csv",
        list(TEMPERATURES),
        session.read_temperatures("C1 20 V", [(60.0, 90), (30.0, 90)]),
    )


def _ripple_captures(session: Session) -> None:
    bulk = session.at_input("mean", 230.0, 50.0, 60.0)
    meter = session.bench.meters["ripple"]
    session.record["ripple_captures"] = {}
    for file, current, interval, count in (
        ("ripple_30w.csv", 1.5, 0.1e-6, 5000),
        ("ripple_60w.csv", 3.0, 0.1e-6, 5000),
        ("ripple_60w_slow.csv", 3.0, 2.3e-6, 8700),
    ):
        time = np.arange(count) * interval
        found = pulses(20.0, current, bulk)
        wave = trace(found, *C1_FILTER, time, [0.13, 0.71])
        wave += 2e-3 * current / 3 * np.sin(2 * np.pi * 100.0 * time + 0.6)
        session.record["ripple_captures"][file] = {
            "load_current": current,
            "frequencies": [pulse.frequency for pulse in found],
            "peak_to_peak_each": [float(np.ptp(item.ripple(*C1_FILTER))) for item in found],
        }
        write_capture(
            session.folder / "captures" / file, 0.0, interval, [wave * (1 + meter.gain)], [0.16],
            session.rng, bits=8, noise=0.5,
        )  # fmt: skip


def generate() -> Session:
    """Write the dossier and the truth of birch-60."""
    session = Session(TRUTH)
    _sweeps(session)
    _tables(session)
    plug_in(session, "plug_in_crest.csv")
    plug_in(session, "plug_in_early.csv", phase=30.0)
    plug_in(session, "plug_in_hot.csv", limiter_temperature=112.0, spans=(40.0, 4.0))
    mains(session, "mains_230v.csv", 230.0, 50.0, "C1 20 V", 60.0)
    mains(session, "mains_115v.csv", 115.0, 60.0, "C1 20 V", 60.0)
    _ripple_captures(session)
    load_step(session, "C1", 20.0, 0.3, 3.0, C1_FILTER)
    port_change(session, "C1", 20.0, 12.0)
    bulk = session.bulk_ripple(
        "C1 20 V", 60.0, ("main", "second"), 20.0, (MAIN_SHARE, 1 - MAIN_SHARE), count=2
    )
    both = pulses(20.0, 3.0, 300.0)
    output = float(np.hypot(*(pulse.rms_excess() for pulse in both))) / 2
    write_picture(session.folder / "photos" / "board.png")
    inductances = {name: stage.magnetising_inductance for name, stage in TRUTH.stages.items()}
    texts, coils = read_coils(TRUTH.seed, COILS, inductances)
    ripples = {"bulk ripple": amperes(bulk), "output ripple": amperes(output)}
    session.write_adapter(ripples | texts)
    write_truth(
        TRUTH.name,
        session.true_values()
        | {
            "barrier_parts": {
                "marked capacitor CY1": MARKED_PART,
                "between the windings": INTER_WINDING,
                "second capacitor, not on the parts list": UNLISTED_PART,
            },
            "ripple_step": {"load_power": JOIN_POWER, "main_share_after": MAIN_SHARE,
                            "load_current_at_20_v": JOIN_POWER / 20},
            "output_filter": {"C1": C1_FILTER, "C2 and A": C2_FILTER},
            "ripple_current": {"bulk": bulk, "output": output},
            "transformers": coils,
        },
    )  # fmt: skip
    return session
