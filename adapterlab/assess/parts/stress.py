"""What each part has to stand, beside what it is rated for."""

from dataclasses import dataclass

import numpy as np

from adapterlab.assess.model import stresses
from adapterlab.assess.model.mains import (
    highest_mains,
)
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT, stages_of
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Part
from adapterlab.insulation import strength_test_voltage
from adapterlab.published import rows

_KNOWN = {"read": "noted", "inferred": "noted", "unknown": "memory"}


@dataclass(frozen=True)
class Stress:
    """One load on one part.

    Attributes
    ----------
    reference, role : str
        The part, and what it is there for.
    what : str
        What it must stand, such as ``voltage at the crest of the mains``.
    stress : Value
        How much, with its uncertainty. [V] or [A]
    rating : Value
        What it is rated for; with an uncertainty where the rating is itself a toleranced value.
    known : str
        How the rating is known.
    reason : str
        Where the stress comes from.
    elsewhere : str
        Section that judges it; empty if this one does.
    """

    reference: str
    role: str
    what: str
    stress: Value
    rating: Value
    known: str
    reason: str
    elsewhere: str = ""

    @property
    def ratio(self) -> float:
        """Stress over rating. [1]."""
        return self.stress.value / self.rating.value


def input_current(specimen: Specimen) -> tuple[Value, str] | None:
    """Rms current at the lowest rated mains: from readings, else from the nameplate; or None."""
    plate = specimen.adapter.nameplate
    table = specimen.load_sweep.dropna(subset=["mains_current"])
    if not table.empty:
        row = table.loc[table["mains_current"].idxmax()]
        read = specimen.reading("mains current", row["mains_current"], "A")
        mains = float(row["mains_voltage"])
        reason = f"the highest mains current measured, {read.short} at {mains:.0f} V"
        lowest = plate.input_voltage_minimum or mains
        if lowest >= mains:
            return read, reason
        scale = mains / lowest
        spread = read.standard_uncertainty * scale
        moved = Value(read.value * scale, spread, "A", accuracy_assumed=read.accuracy_assumed)
        return moved, f"{reason}, moved to {lowest:g} V at the same power"
    if plate.input_current is not None:
        return Value(plate.input_current, 0.0, "A"), "the input current on the nameplate"
    return None


def highest_output(specimen: Specimen, part: Part) -> tuple[float, str] | None:
    """Highest voltage of the ports a part serves; of all ports if it names none."""
    ports = specimen.adapter.ports
    own = [port for port in ports if port.name in part.ports]
    if not own and part.converter:
        fed = [
            c.ports for c in specimen.adapter.construction.converters if c.name == part.converter
        ]
        own = [port for port in ports if fed and port.name in fed[0]]
    chosen = own or ports
    volts = [mode.maximum_voltage or mode.voltage or 0.0 for port in chosen for mode in port.modes]
    if not volts:
        return None
    names = ", ".join(port.name for port in chosen)
    return max(volts), f"the highest voltage of {'port' if len(chosen) == 1 else 'ports'} {names}"


def _on_the_mains(specimen: Specimen) -> list[Stress]:
    adapter, mains = specimen.adapter, highest_mains(specimen)
    top = mains * rows("parts", "supplies")[0]["factor"]
    crest = Value(ROOT * top, 0.0, "V")
    at_top = f"{top:.0f} V, the top of the mains tolerance"
    flow = input_current(specimen)
    found = []

    def add(part: Part, what: str, stress: Value, rating: float | None, reason: str) -> None:
        if rating:
            unit = stress.unit
            found.append(
                Stress(part.reference, part.role, what, stress, Value(rating, 0.0, unit),
                       _KNOWN[part.identified_by], reason)
            )  # fmt: skip

    for part in adapter.parts:
        if part.role == "fuse" and part.kind == "fuse":
            rated = part.rated_current or part.value
            add(part, "voltage of the mains", Value(mains, 0.0, "V"), part.rated_voltage,
                "the highest rated mains")  # fmt: skip
            if flow is not None:
                add(part, "current from the mains", flow[0], rated, flow[1])
        if part.role == "inrush limiter" and flow is not None:
            add(part, "current from the mains", flow[0], part.rated_current, flow[1])
        if part.role == "rectifier bridge":
            add(part, "reverse voltage", crest, part.rated_voltage, f"the crest of {at_top}")
            if flow is not None:
                add(part, "current from the mains", flow[0], part.rated_current,
                    f"{flow[1]} (rms; its mean is smaller)")  # fmt: skip
        if part.role == "bulk capacitor" and not part.in_series_with:
            add(part, "voltage of the bulk", crest, part.rated_voltage, f"the crest of {at_top}")
        if part.role == "line capacitor":
            add(part, "voltage of the mains", Value(top, 0.0, "V"), part.rated_voltage, at_top)
        if part.role == "barrier capacitor":
            add(part, "voltage of the mains", Value(mains, 0.0, "V"), part.rated_voltage,
                "the highest rated mains")  # fmt: skip
        if part.role == "surge absorber" and part.value:
            spread = part.value * (part.tolerance or 0.0) / np.sqrt(3)
            rating = Value(part.value, float(spread), "V")
            reason = f"the crest of {at_top}, below which it must not conduct"
            found.append(Stress(part.reference, part.role, "voltage of the mains", crest, rating,
                                _KNOWN[part.identified_by], reason))  # fmt: skip
    return found


def _in_the_converter(specimen: Specimen) -> list[Stress]:
    """Switch and rectifier, as the flyback section has them: the hardest converter counts."""
    stages = stages_of(specimen)
    known = {stage.name: stresses.stresses_of(specimen, stage) for stage in stages}
    found = []
    for part in specimen.adapter.parts:
        own = [stage.name for stage in stages if stage.name == part.converter] or list(known)
        borne = [stress for name in own for stress in known[name] if stress.part == part.role]
        if not part.rated_voltage or not borne:
            continue
        hardest = max(borne, key=lambda stress: stress.highest.value.value)
        spike = "with its leakage spike" if hardest.top else "leakage spike left out"
        found.append(
            Stress(
                part.reference,
                part.role,
                "voltage when it blocks",
                hardest.highest.value,
                Value(part.rated_voltage, 0.0, "V"),
                _KNOWN[part.identified_by],
                f"the converter at {highest_mains(specimen):g} V mains, {spike}",
                "flyback",
            )
        )
    return found


def _at_the_output(specimen: Specimen) -> list[Stress]:
    found = []
    for part in specimen.adapter.parts:
        if part.role not in ("output capacitor", "port switch") or not part.rated_voltage:
            continue
        output = highest_output(specimen, part)
        if output is not None:
            found.append(
                Stress(
                    part.reference,
                    part.role,
                    "voltage of the output",
                    Value(output[0], 0.0, "V"),
                    Value(part.rated_voltage, 0.0, "V"),
                    _KNOWN[part.identified_by],
                    output[1],
                )
            )
    return found


def _across_the_barrier(specimen: Specimen) -> list[Stress]:
    couplers = specimen.adapter.parts_with_role("feedback isolator")
    try:
        tested = strength_test_voltage("reinforced", ROOT * highest_mains(specimen), "iec-60950-1")
    except ValueError:
        return []
    return [
        Stress(
            part.reference,
            part.role,
            "test voltage of the barrier",
            Value(tested, 0.0, "V"),
            Value(part.rated_voltage, 0.0, "V"),
            _KNOWN[part.identified_by],
            "the electric-strength test of IEC 60950-1 for reinforced insulation, rms",
        )
        for part in couplers
        if part.rated_voltage
    ]


def stresses_of(specimen: Specimen) -> list[Stress]:
    """Every stress that can be set beside a rating, along the path of the energy."""
    return [
        *_on_the_mains(specimen),
        *_across_the_barrier(specimen),
        *_in_the_converter(specimen),
        *_at_the_output(specimen),
    ]
