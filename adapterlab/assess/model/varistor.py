"""The varistor across the mains: what it is rated for, and where it sits against the limiter."""

from dataclasses import dataclass

from adapterlab.assess.model.mains import top_of_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.dossier.schema import Part


@dataclass(frozen=True)
class ContinuousVoltage:
    """What a varistor has to bear all the time.

    Attributes
    ----------
    part : Part
        The varistor.
    stress : float
        Highest rms voltage of the mains with its tolerance. [V]
    rating : float or None
        Highest continuous a.c. voltage by its data sheet, the part's ``rated_voltage``. [V]
        None if it is not noted: the voltage at 1 mA that is printed on it is no rating.
    """

    part: Part
    stress: float
    rating: float | None


def continuous_voltages(specimen: Specimen) -> list[ContinuousVoltage]:
    """What every varistor across the mains has to bear all the time, beside its rating."""
    top = top_of_mains(specimen)
    return [
        ContinuousVoltage(part, top, part.rated_voltage)
        for part in specimen.adapter.parts_with_role("surge absorber")
        if part.kind == "varistor"
    ]


def limiters_before(specimen: Specimen, varistor: Part) -> list[Part]:
    """Inrush limiters that the list of parts has before a varistor: they stand in front of it."""
    parts = specimen.adapter.parts
    place = next(i for i, part in enumerate(parts) if part.reference == varistor.reference)
    return [part for part in parts[:place] if part.role == "inrush limiter"]
