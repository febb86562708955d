"""The mains an adapter is made for."""

from adapterlab.assess.model.specimen import Specimen
from adapterlab.published import rows


def highest_mains(specimen: Specimen) -> float:
    """Highest rated mains voltage; 240 V where the nameplate names none. [V]."""
    return specimen.adapter.nameplate.input_voltage_maximum or 240.0


def mains_tolerance() -> float:
    """Highest voltage of a mains over its rated one. [1]."""
    return float(rows("parts", "supplies")[0]["factor"])
