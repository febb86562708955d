"""One capacitor under every maker's law: how far they lie apart."""

from collections.abc import Callable
from typing import Any

from adapterlab.assess.capacitor_life.cases import Case
from adapterlab.capacitor_life import (
    activation_energy_life,
    case_temperature_life,
    electrolytic_life,
    implied_activation_energy,
    ripple_factor,
    surroundings_temperature,
    voltage_factor,
)

# Where Arrhenius' law is made to touch the rule. [°C]
TOUCHES = 85.0


def laws_of(case: Case) -> dict[str, Any]:
    """Life of a wet capacitor by each law.

    Parameters
    ----------
    case : Case
        The capacitor.

    Returns
    -------
    dict
        ``part``, and ``hours``: law -> life in continuous use, None outside the law's range. [h]
    """
    entry, rise = case.capacitor, case.widest_rise
    ratio = sum(case.ratio) / 2
    around = surroundings_temperature(case.temperature, rise, ratio)
    rating = (case.base_life, case.rated_temperature)
    share = (rise / case.rated_ripple_rise) ** 0.5 if case.rated_ripple_rise else 0.0
    energy = implied_activation_energy(TOUCHES)
    found: dict[str, Callable[[], Any]] = {
        "10-kelvin rule": lambda: electrolytic_life(*rating, around),
        "DB Lectro": lambda: electrolytic_life(*rating, around, rise),
        "Rubycon": lambda: electrolytic_life(*rating, around, rise, case.rated_ripple_rise, True),
        "Jianghai": lambda: (
            electrolytic_life(*rating, around)
            * ripple_factor(share, case.rated_ripple_rise, case.rated_temperature)
        ),
        "TDK": lambda: case_temperature_life(*rating, case.temperature),
        "Kendeil": lambda: case_temperature_life(*rating, case.temperature, 10.0),
        "Arrhenius": lambda: activation_energy_life(*rating, around, energy),
    }
    hours: dict[str, float | None] = {}
    for law, life in found.items():
        try:
            hours[law] = float(life())
        except ValueError:
            hours[law] = None
    return {"part": entry.part, "hours": hours}


def voltage_note(case: Case, rated_voltage: float | None) -> str:
    """What one maker would grant for the working voltage; empty if it is not known."""
    working = case.capacitor.working_voltage
    if working is None or rated_voltage is None or case.capacitor.type == "polymer":
        return ""
    share = working / rated_voltage
    if share > 1:
        return f"Its {working:g} V are above the {rated_voltage:g} V it is rated for."
    factor = voltage_factor(share)
    return (
        f"One maker would grant a factor of {factor:.1f} for running at {share:.0%} of the rated "
        f"voltage; most grant nothing, and it is not counted."
    )
