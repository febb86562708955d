"""What each part has to stand, beside what it is rated for."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from adapterlab.assess.model import stresses
from adapterlab.assess.model.inputs import predict
from adapterlab.assess.model.mains import highest_mains, top_of_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT, stages_of
from adapterlab.assess.model.stresses import why_not_rated
from adapterlab.assess.parts.common import common, listed
from adapterlab.assess.parts.markings import read_parts
from adapterlab.assess.report.finding import Finding, Limit, against_limit
from adapterlab.assess.report.prediction import Prediction, Share
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Part

_NAMES_A_MAINS = (
    "such a rating names a mains, and is usually taken to count its tolerance in (common practice)"
)
_NO_CLASS = "the rating of a capacitor without a safety class is no promise for a mains across it"
_MEAN = "such a rating counts the mean of the current, which is smaller than its rms"


@dataclass(frozen=True)
class Stress:
    """One load on one part.

    Attributes
    ----------
    reference, role : str
        The part, and what it is there for.
    what : str
        What it must stand, such as ``voltage of the bulk``.
    stress : Value
        How much, with its uncertainty where it has one. [V] or [A]
    rating : float
        What it is rated for. [V] or [A]
    reason : str
        Where the stress comes from.
    unread : str
        Why no verdict may rest on the rating; empty if one may.
    above : str
        Why no verdict may rest on a stress above the rating; empty if one may.
    exact : bool
        Whether the stress follows from the nameplate, without a reading.
    rests_on : tuple of Share
        Inputs of the stress.
    elsewhere : str
        Section that judges it; empty if this one does.
    """

    reference: str
    role: str
    what: str
    stress: Value
    rating: float
    reason: str
    unread: str
    above: str = ""
    exact: bool = True
    rests_on: tuple[Share, ...] = field(default=(), compare=False)
    elsewhere: str = ""

    @property
    def ratio(self) -> float:
        """Stress over rating. [1]."""
        return self.stress.value / self.rating


@dataclass(frozen=True)
class Current:
    """Rms current from the lowest rated mains.

    Attributes
    ----------
    value : Value
        [A]
    reason : str
        Where it comes from.
    exact : bool
        Whether it is a claim of the nameplate.
    prediction : Prediction or None
        Where a reading was moved to another mains.
    """

    value: Value
    reason: str
    exact: bool
    prediction: Prediction | None = None

    @property
    def rests_on(self) -> tuple[Share, ...]:
        """Inputs of the current."""
        return self.prediction.rests_on if self.prediction else ()


def input_current(specimen: Specimen) -> Current | None:
    """Rms current at the lowest rated mains: from readings, else from the nameplate; or None."""
    plate = specimen.adapter.nameplate
    table = specimen.load_sweep.dropna(subset=["mains_current"])
    if table.empty:
        if plate.input_current is None:
            return None
        said = "the input current that the nameplate claims"
        return Current(Value(plate.input_current, 0.0, "A"), said, True)
    row = table.loc[table["mains_current"].idxmax()]
    volts = float(row["mains_voltage"])
    read = specimen.reading("mains current", float(row["mains_current"]), "A")
    said = f"the highest mains current read, {read.short} at {volts:.0f} V"
    lowest = plate.input_voltage_minimum or volts
    if lowest >= volts:
        return Current(read, said, False)
    inputs = {
        "reading": specimen.as_read(
            "mains.highest_current", "mains current", read.value, "A", "highest mains current"
        ),
        "rise": specimen.allowance("mains.current_rise"),
    }

    def at(reading: Any, rise: Any) -> Any:
        return reading * rise * volts / lowest

    found = predict(at, inputs, "A")[0]
    value = replace(found.value, accuracy_assumed=read.accuracy_assumed)
    return Current(value, f"{said}, moved to {lowest:g} V", False, found)


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
    names = listed([port.name for port in chosen])
    return max(volts), f"the highest voltage of {'port' if len(chosen) == 1 else 'ports'} {names}"


def _named_mains(part: Part, specimen: Specimen) -> str:
    """Why a fuse or safety capacitor below the top of the mains is not judged; empty if it is."""
    return _NAMES_A_MAINS if (part.rated_voltage or 0.0) >= highest_mains(specimen) else ""


def _of_the_mains(specimen: Specimen) -> Iterator[Stress]:
    """Voltages that the mains puts across parts."""
    top = top_of_mains(specimen)
    at_top = f"{top:.0f} V, the highest rated mains and a tenth"
    for read in read_parts(specimen):
        part = read.part
        if not part.rated_voltage:
            continue
        found = (part.rated_voltage, why_not_rated(part))
        across = part.role in ("line capacitor", "barrier capacitor")
        if across or part.role == part.kind == "fuse":
            unread = _NO_CLASS if across and not read.safety_class else found[1]
            yield Stress(
                part.reference, part.role, "voltage of the mains", Value(top, 0.0, "V"), found[0],
                at_top, unread, _named_mains(part, specimen),
            )  # fmt: skip
        crest = Value(ROOT * top, 0.0, "V")
        if part.role == "rectifier bridge":
            yield Stress(part.reference, part.role, "reverse voltage", crest, found[0],
                         f"the crest of {at_top}", found[1])  # fmt: skip
        if part.role == "bulk capacitor" and not part.in_series_with:
            yield Stress(part.reference, part.role, "voltage of the bulk", crest, found[0],
                         f"the crest of {at_top}", found[1])  # fmt: skip


def _from_the_mains(specimen: Specimen) -> Iterator[Stress]:
    """Current that flows through parts from the mains."""
    flow = input_current(specimen)
    if flow is None:
        return
    for part in specimen.adapter.parts:
        rated, above = part.rated_current, ""
        if part.role == part.kind == "fuse":
            rated = part.rated_current or part.value
        elif part.role == "rectifier bridge":
            above = _MEAN
        elif part.role != "inrush limiter":
            continue
        if rated:
            yield Stress(
                part.reference, part.role, "current from the mains", flow.value, rated,
                flow.reason, why_not_rated(part), above, flow.exact, flow.rests_on,
            )  # fmt: skip


def _in_the_converter(specimen: Specimen) -> Iterator[Stress]:
    """Switch and rectifier, as the flyback section has them: the hardest converter counts."""
    known = {stage.name: stresses.stresses_of(specimen, stage) for stage in stages_of(specimen)}
    for part in specimen.adapter.parts:
        own = [part.converter] if part.converter in known else list(known)
        borne = [stress for name in own for stress in known[name] if stress.part == part.role]
        if not part.rated_voltage or not borne:
            continue
        hardest = max(borne, key=lambda stress: stress.highest.value.value)
        more = "leakage spike" if part.role == "switch" else "ringing"
        yield Stress(
            part.reference,
            part.role,
            "voltage when it blocks",
            hardest.highest.value,
            part.rated_voltage,
            f"the converter at {top_of_mains(specimen):.0f} V, {more} "
            f"{'included' if hardest.top else 'not included'}",
            why_not_rated(part),
            exact=False,
            rests_on=hardest.highest.rests_on,
            elsewhere="flyback",
        )


def _at_the_output(specimen: Specimen) -> Iterator[Stress]:
    for part in specimen.adapter.parts:
        if part.role not in ("output capacitor", "port switch") or not part.rated_voltage:
            continue
        output = highest_output(specimen, part)
        if output is not None:
            yield Stress(
                part.reference, part.role, "voltage of the output", Value(output[0], 0.0, "V"),
                part.rated_voltage, f"{output[1]}, by the nameplate", why_not_rated(part),
            )  # fmt: skip


def stresses_of(specimen: Specimen) -> list[Stress]:
    """Every stress that can be set beside a rating, along the path of the energy."""
    return [
        *_of_the_mains(specimen),
        *_from_the_mains(specimen),
        *_in_the_converter(specimen),
        *_at_the_output(specimen),
    ]


def stress_findings(found: list[Stress]) -> list[Finding]:
    """One finding for each load; parts of one kind under the same load share theirs."""
    alike: dict[Any, list[Stress]] = {}
    for stress in found:
        if not stress.elsewhere:
            alike.setdefault(replace(stress, reference="", rests_on=()), []).append(stress)
    return [
        _stress_finding(group[0], listed([stress.reference for stress in group]))
        for group in alike.values()
    ]


def _stress_finding(stress: Stress, names: str) -> Finding:
    """A stress against a rating; what only bounds the stress or the rating judges one way."""
    fields = common(
        f"{'Do' if ' and ' in names else 'Does'} {names} stand the {stress.what}?",
        "uncertainty.conformity_probability",
        "parts_stress",
    ) | {"note": f"Stress: {stress.reason}.", "rests_on": stress.rests_on}
    unit = stress.stress.unit
    limit = Limit(stress.rating, unit, "upper", f"the rating of {names}",
                  f"rating of {names}, as listed in the dossier", verb="allows")  # fmt: skip
    reason = stress.unread
    if not reason and stress.stress.value > stress.rating:
        reason = stress.above
    subject = f"The {stress.what} that {names} must stand"
    finding = against_limit(
        stress.stress, limit, subject, not_judged=reason, exact=stress.exact, **fields
    )
    return replace(finding, reading=None, prediction=stress.stress)
