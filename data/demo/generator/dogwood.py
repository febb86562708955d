"""dogwood-18: a bargain with several shortcomings, and a thin dossier."""

from generator import single
from generator.barrier import Barrier
from generator.captures import plug_in
from generator.magnetics import Coil, read_coils
from generator.mains_side import Front, Limiter
from generator.power_stage import Loss, Stage
from generator.session import AMBIENT, Session, Truth, amperes
from generator.writing import write_truth

MARKED_PART, INTER_WINDING = 2.045e-9, 0.055e-9
MARKED_BULK, TRUE_BULK = 22e-6, 14e-6
STAGE = Stage(18.0, 7.0, 805e-6, 61.2e3, 0.5, 0.90)
FILTER = (640e-6, 24e-3)
# As wound, with air where the wires do not lie flat.
COILS = {
    "main": Coil(105, 20e-6, 37.6e-3, 2000, 9.0e-3, 34e-3,
                 ((35, 0.18e-3, 0.03e-3), (35, 0.18e-3, 0.03e-3), (35, 0.18e-3, 0.18e-3),
                  (-105, 0.50e-3, 0)), 16e-9, 7),
}  # fmt: skip

TRUTH = Truth(
    name="dogwood-18",
    seed=18,
    rated_power=18.0,
    front=Front(TRUE_BULK, 1.25, 5.35, 0.60, 6e-6, 1.6, 0.1),
    limiter=Limiter(4.75, heat_capacity=0.6),
    barrier=Barrier(MARKED_PART + INTER_WINDING),
    stages={"main": STAGE},
    losses={
        "5 V": Loss(0.60, 0.170, 0.0060),
        "9 V": Loss(0.60, 0.130, 0.0035),
        "12 V": Loss(0.43, 0.104, 0.0020),
    },
    no_load={(230.0, "none"): 0.19},
    set_error={"C": 0.021},
    output_resistance={"C": 0.065},
    ripple=single.ripple_of(STAGE, FILTER, 18.0),
    rises={"bulk capacitor": 14.5, "auxiliary capacitor": 22.4, "case top": 11.9},
)


def generate() -> Session:
    """Write the dossier and the truth of dogwood-18: one mains, no table of temperatures."""
    session = Session(TRUTH)
    modes = {"5 V": 3.0, "9 V": 2.0, "12 V": 1.5}
    milli = {"ripple_pp": 1e3}
    single.sweep_modes(session, modes, single.MAINS[:1], reference=True, columns=milli)
    headings = single.headings()
    for missing in ("mains_current", "case_temperature"):
        del headings[missing]
    session.write_sweep(headings)
    no_load = [row[:5] for row in session.read_no_load()]
    single.table(session, "no_load", single.NO_LOAD[:5], no_load)
    cases = [(230.0, 50.0, side, "weighted", "rms", 0.0, 0.2) for side in "ab"]
    single.table(session, "touch_current", single.TOUCH, session.read_touch(cases))
    plug_in(session, "plug_in.csv", spans=(16.0, 4.0))
    loss = session.loss("12 V", 18.0, 230.0)
    for place, rise in TRUTH.rises.items():
        true = AMBIENT + rise * loss
        session.temperatures[place] = session.bench.read("temperature", true)
        session.record.setdefault("temperatures", {})[f"{place}, 18 W"] = true
    bulk = session.bulk_ripple("12 V", 18.0, ("main",), 12.0, (1.0,))
    texts, coils = read_coils(TRUTH.seed, COILS, {"main": STAGE.magnetising_inductance})
    ripples = {"bulk ripple": amperes(bulk)}
    session.write_adapter(ripples | texts)
    write_truth(
        TRUTH.name,
        session.true_values()
        | {
            "barrier_parts": {
                "marked capacitor CY1": MARKED_PART,
                "between the windings": INTER_WINDING,
            },
            "marked_bulk_capacitance": MARKED_BULK,
            "output_filter": {"C": FILTER},
            "ripple_current": {"bulk": bulk},
            "transformers": coils,
        },
    )
    return session
