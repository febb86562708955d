"""The mains an adapter is made for."""

from adapterlab.dossier import Dossier


def highest_mains(dossier: Dossier) -> float:
    """Highest rated mains voltage; 240 V where the nameplate names none. [V]."""
    return dossier.adapter.nameplate.input_voltage_maximum or 240.0
