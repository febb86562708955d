"""One capacitor under every form of the law: how far they lie apart."""

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
    """Life of a wet capacitor by each form of the law, every input at its middle.

    Parameters
    ----------
    case : Case
        The capacitor.

    Returns
    -------
    dict
        ``part``, and ``hours``: law -> life in continuous use, None outside the law's range. [h]
    """
    middle, rated_rise = case.middle(), case.rated_ripple_rise
    rise, warm = float(case.rise(middle)), case.temperature
    around = surroundings_temperature(warm, rise, case.own["core_ratio"].middle)
    rating = (case.own["base_life"].middle, case.rated_temperature)
    share = (rise / rated_rise) ** 0.5 if rated_rise else 0.0
    energy = implied_activation_energy(TOUCHES)
    found: dict[str, Callable[[], Any]] = {
        "ten kelvin alone": lambda: electrolytic_life(*rating, around),
        "base life without ripple": lambda: electrolytic_life(*rating, around, rise),
        "base life with ripple": lambda: electrolytic_life(*rating, around, rise, rated_rise, True),
        "factor for ripple": lambda: (
            electrolytic_life(*rating, around)
            * ripple_factor(share, rated_rise, case.rated_temperature)
        ),
        "from the can": lambda: case_temperature_life(*rating, warm),
        "from the can, 10 K more": lambda: case_temperature_life(*rating, warm, 10.0),
        "Arrhenius": lambda: activation_energy_life(*rating, around, energy),
    }
    hours: dict[str, float | None] = {}
    for law, life in found.items():
        try:
            hours[law] = float(life())
        except ValueError:
            hours[law] = None
    return {"part": case.capacitor.part, "hours": hours}


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
