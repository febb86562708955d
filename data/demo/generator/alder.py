"""alder-27: one port, and a small hot electrolytic capacitor; the rest is as its parts predict."""

import numpy as np

from generator import single
from generator.barrier import Barrier
from generator.captures import mains, plug_in, probe
from generator.magnetics import Coil, read_coils
from generator.mains_side import Front, Limiter
from generator.output_side import overload
from generator.power_stage import Loss, Stage
from generator.session import Output, Session, Truth, amperes
from generator.writing import write_capture, write_truth

MARKED_PART, INTER_WINDING = 0.93e-9, 0.06e-9
STAGE = Stage(27.0, 6.0, 528e-6, 65.4e3, 0.45, 0.95)
FILTER = (765e-6, 6.2e-3)
# Load step: depth [V], decay time [s], and period of the ringing [s].
STEP = (0.18, 220e-6, 700e-6)
# As wound, with air where the wires do not lie flat.
COILS = {
    "main": Coil(78, 31e-6, 47e-3, 2300, 12.8e-3, 34e-3,
                 ((39, 0.25e-3, 0.20e-3), (-78, 0.60e-3, 0.46e-3), (39, 0.25e-3, 0)), 12e-9, 6),
}  # fmt: skip

TRUTH = Truth(
    name="alder-27",
    seed=27,
    rated_power=27.0,
    front=Front(44.5e-6, 0.9, 2.3, 1.0, 10e-6, 1.5, 0.08),
    limiter=Limiter(9.6, 2800.0, 0.33, 9e-3),
    barrier=Barrier(MARKED_PART + INTER_WINDING),
    stages={"main": STAGE},
    losses={
        "5 V": Loss(0.55, 0.100, 0.0035),
        "9 V": Loss(0.70, 0.062, 0.0011),
        "12 V": Loss(0.75, 0.060, 0.0008),
        "adjustable": Loss(0.66, 0.075, 0.0014),
    },
    no_load={(230.0, "none"): 0.046, (115.0, "none"): 0.038, (230.0, "plugged"): 0.063},
    set_error={"C": 0.006},
    output_resistance={"C": 0.028},
    ripple=single.ripple_of(STAGE, FILTER, 27.0),
    rises={
        "bulk capacitor": 13.0,
        "auxiliary capacitor": 22.0,
        "output capacitor": 15.8,
        "transformer": 20.4,
        "output rectifier": 22.9,
        "case top": 10.6,
    },
)


def _load_step(session: Session) -> None:
    depth, decay, period = STEP
    interval = 2e-6
    time = -1e-3 + interval * np.arange(4000)
    low, high, end = 0.225, 2.25, 4e-3
    on = (time >= 0) & (time < end)
    current = np.where(on, high, low)
    resistance = TRUTH.output_resistance["C"]
    volts = 12.0 * (1 + TRUTH.set_error["C"]) - resistance * current
    for start, sign in ((0.0, -1.0), (end, 1.0)):
        after = np.maximum(time - start, 0.0)
        ringing = np.sin(2 * np.pi * after / period)
        volts += np.where(time >= start, sign * depth * np.exp(-after / decay) * ringing, 0.0)
    deepest = float(volts[on].min())
    gain = session.bench.meters["capture voltage"].gain
    write_capture(
        session.folder / "captures" / "load_step.csv", -1e-3, interval,
        [volts * (1 + 0.2 * gain), probe(session, "capture current", current, 1.0)],
        (32.0, 8.0), session.rng, bits=12, noise=1.0,
    )  # fmt: skip
    session.record["load_step"] = {
        "from_current": low,
        "to_current": high,
        "lowest_voltage": deepest,
        "steady_before": 12.0 * (1 + TRUTH.set_error["C"]) - resistance * low,
        "steady_during": 12.0 * (1 + TRUTH.set_error["C"]) - resistance * high,
    }


def generate() -> Session:
    """Write the dossier and the truth of alder-27."""
    session = Session(TRUTH)
    milli = {"ripple_pp": 1e3}
    modes = {"5 V": 3.0, "9 V": 3.0, "12 V": 2.25}
    single.sweep_modes(session, modes, single.MAINS, reference=True, columns=milli)
    for volts in (3.3, 5.5, 11.0):
        session.measure("adjustable", [Output("C", "adjustable", volts, 2.4)], 230.0, 50.0, milli)
    session.write_sweep(single.headings(), ";", "typed in from the bench sheet")
    single.table(session, "no_load", single.NO_LOAD, session.read_no_load(1e3), ";",
                 power_w="power_mw")  # fmt: skip
    loss = session.loss("12 V", 27.0, 230.0)
    weighted = [(230.0, 50.0, side, "weighted", item, 0.0, 0.05) for side in "ab"
                for item in ("rms", "peak")]  # fmt: skip
    cases = [
        *weighted,
        (230.0, 50.0, "a", "unweighted", "rms", 0.0, 0.05),
        (230.0, 50.0, "a", "weighted", "rms", 27.0, loss),
        (264.0, 60.0, "a", "weighted", "rms", 0.0, 0.05),
        (264.0, 60.0, "a", "weighted", "peak", 0.0, 0.05),
    ]
    single.table(session, "touch_current", single.TOUCH, session.read_touch(cases), ";")
    warm = session.read_temperatures("12 V", [(27.0, 60), (13.5, 60)])
    single.table(session, "temperatures", single.TEMPERATURES, warm, ";")
    plug_in(session, "plug_in.csv", separator=";", line_end="\r\n")
    mains(session, "mains_230v.csv", 230.0, 50.0, "12 V", 27.0)
    mains(session, "mains_115v.csv", 115.0, 60.0, "12 V", 27.0)
    _load_step(session)
    overload(session, "C", 12.0, 2.87, FILTER[0])
    bulk = session.bulk_ripple("12 V", 27.0, ("main",), 12.0, (1.0,))
    output = STAGE.pulse(310.0, 12.0, 2.25).rms_excess() / 2
    texts, coils = read_coils(TRUTH.seed, COILS, {"main": STAGE.magnetising_inductance})
    ripples = {"bulk ripple": amperes(bulk), "output ripple": amperes(output)}
    session.write_adapter(ripples | texts)
    write_truth(
        TRUTH.name,
        session.true_values()
        | {
            "barrier_parts": {
                "marked capacitor CY1": MARKED_PART,
                "between the windings": INTER_WINDING,
            },
            "output_filter": {"C": FILTER},
            "ripple_current": {"bulk": bulk, "output": output},
            "transformers": coils,
        },
    )
    return session
