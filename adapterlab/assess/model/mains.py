"""The mains an adapter is made for."""

from adapterlab.assess.model.specimen import Specimen
from adapterlab.published import rows


def highest_mains(specimen: Specimen) -> float:
    """Highest rated mains voltage; 240 V where the nameplate names none. [V]."""
    return specimen.adapter.nameplate.input_voltage_maximum or 240.0


def mains_tolerance() -> float:
    """Highest voltage of a mains over its rated one. [1]."""
    return float(rows("parts", "supplies")[0]["factor"])


def top_of_mains(specimen: Specimen) -> float:
    """Highest mains that a part has to bear: the highest rated one with its tolerance. [V].

    Ratings that name a mains, as those of fuses and safety capacitors do, are held against
    `highest_mains` instead: such a rating counts the tolerance of that mains in.
    """
    return highest_mains(specimen) * mains_tolerance()
