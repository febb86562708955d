"""cedar-65: quasi-resonant, two barrier capacitors in series; the best of the group."""

from generator import single
from generator.barrier import Barrier
from generator.captures import plug_in
from generator.magnetics import Coil, read_coils
from generator.mains_side import Front, Limiter
from generator.output_side import begin
from generator.power_stage import Loss, Stage
from generator.session import Session, Truth, amperes
from generator.writing import write_truth

FIRST_PART, SECOND_PART, INTER_WINDING = 1.293e-9, 1.60e-9, 0.065e-9
STAGE = Stage(65.0, 5.0, 296e-6, None, 0.05, 0.95)
FILTER = (1085e-6, 5.1e-3)
# As wound, with air where the wires do not lie flat.
COILS = {
    "main": Coil(35, 83e-6, 40e-3, 2200, 9.4e-3, 50e-3,
                 ((18, 0.40e-3, 0.38e-3), (-35, 0.90e-3, 0.75e-3), (17, 0.40e-3, 0)), 15e-9, 5),
}  # fmt: skip

TRUTH = Truth(
    name="cedar-65",
    seed=65,
    rated_power=65.0,
    front=Front(114e-6, 0.4, 1.25, 0.75, 10e-6, 1.5, 0.04),
    limiter=Limiter(10.7, 3000.0, 1.1, 17e-3),
    barrier=Barrier(FIRST_PART * SECOND_PART / (FIRST_PART + SECOND_PART) + INTER_WINDING),
    stages={"main": STAGE},
    losses={
        "5 V": Loss(0.455, 0.080, 0.0018),
        "9 V": Loss(0.44, 0.062, 0.0009),
        "15 V": Loss(0.43, 0.052, 0.00045),
        "20 V": Loss(0.42, 0.048, 0.00028),
    },
    no_load={(230.0, "none"): 0.038, (115.0, "none"): 0.031, (230.0, "plugged"): 0.052},
    set_error={"C": 0.003},
    output_resistance={"C": 0.018},
    ripple=single.ripple_of(STAGE, FILTER, 65.0),
    rises={
        "bulk capacitor": 7.5,
        "auxiliary capacitor": 7.1,
        "output capacitor": 7.3,
        "transformer": 11.1,
        "case top": 6.0,
    },
)


def generate() -> Session:
    """Write the dossier and the truth of cedar-65."""
    session = Session(TRUTH)
    milli = {"ripple_pp": 1e3, "mains_current": 1e3}
    modes = {"5 V": 3.0, "9 V": 3.0, "15 V": 3.0, "20 V": 3.25}
    single.sweep_modes(session, modes, single.MAINS, reference=True, columns=milli)
    session.write_sweep(single.headings(mains_current="mains_current_ma"))
    single.table(session, "no_load", single.NO_LOAD, session.read_no_load(1e3),
                 power_w="power_mw")  # fmt: skip
    loss = session.loss("20 V", 65.0, 230.0)
    cases = [
        *((230.0, 50.0, side, "weighted", item, 0.0, 0.05)
          for side in "ab" for item in ("rms", "peak")),
        (230.0, 50.0, "a", "unweighted", "rms", 0.0, 0.05),
        (230.0, 50.0, "a", "weighted", "rms", 65.0, loss),
    ]  # fmt: skip
    single.table(session, "touch_current", single.TOUCH, session.read_touch(cases))
    warm = session.read_temperatures("20 V", [(65.0, 90)])
    single.table(session, "temperatures", single.TEMPERATURES, warm)
    plug_in(session, "plug_in.csv")
    begin(session, "C", 5.0, FILTER[0])
    bulk = session.bulk_ripple("20 V", 65.0, ("main",), 20.0, (1.0,))
    output = STAGE.pulse(310.0, 20.0, 3.25).rms_excess() / 2
    texts, coils = read_coils(TRUTH.seed, COILS, {"main": STAGE.magnetising_inductance})
    ripples = {"bulk ripple": amperes(bulk), "output ripple": amperes(output)}
    session.write_adapter(ripples | texts)
    write_truth(
        TRUTH.name,
        session.true_values()
        | {
            "barrier_parts": {
                "marked capacitor CY1": FIRST_PART,
                "marked capacitor CY2, in series": SECOND_PART,
                "between the windings": INTER_WINDING,
            },
            "output_filter": {"C": FILTER},
            "ripple_current": {"bulk": bulk, "output": output},
            "transformers": coils,
        },
    )
    return session
