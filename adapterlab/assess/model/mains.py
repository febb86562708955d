"""The mains an adapter is made for."""

from adapterlab.assess.model.specimen import Specimen


def highest_mains(specimen: Specimen) -> float:
    """Highest rated mains voltage; 240 V where the nameplate names none. [V]."""
    return specimen.adapter.nameplate.input_voltage_maximum or 240.0
