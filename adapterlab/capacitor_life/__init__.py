"""How long capacitors last, from temperature, ripple current and use.

Laws: `electrolytic_life`, `polymer_life`; other forms of them in `adapterlab.capacitor_life.forms`.
What goes into them: `adapterlab.capacitor_life.ripple`. Changing use:
`adapterlab.capacitor_life.profile`. From one capacitor to many, and to all capacitors of an
adapter: `adapterlab.capacitor_life.population`. Ceramic ones: `adapterlab.capacitor_life.ceramic`.
What an aged one does to its circuit: `adapterlab.capacitor_life.end`. All their functions can be
had from here.
"""

from adapterlab.capacitor_life.ceramic import (
    DielectricClass,
    aged_ceramic_capacitance,
    ceramic_capacitance_under_bias,
    dielectric_class,
)
from adapterlab.capacitor_life.end import (
    hold_up_ratio,
    pulsed_output_ripple,
    supply_carry_time,
)
from adapterlab.capacitor_life.forms import (
    activation_energy_life,
    case_temperature_life,
    implied_activation_energy,
    implied_halving_interval,
    ripple_factor,
    voltage_factor,
)
from adapterlab.capacitor_life.laws import (
    POLYMER_RULES,
    electrolytic_life,
    polymer_life,
)
from adapterlab.capacitor_life.population import (
    characteristic_life,
    failures_in_time,
    first_failure_probability,
    mean_life_bounds,
    parallel_reliability,
    series_reliability,
    weibull_failing_share,
    weibull_time,
)
from adapterlab.capacitor_life.profile import (
    arrhenius_factor,
    damage_share,
    equivalent_temperature,
    mission_profile_life,
    year_shares,
)
from adapterlab.capacitor_life.rated_range import (
    LOWEST_TEMPERATURE,
)
from adapterlab.capacitor_life.ripple import (
    can_surface,
    can_temperature_rise,
    core_temperature,
    equivalent_ripple_current,
    frequency_multiplier,
    pulsed_ripple_current,
    rectifier_ripple_current,
    ripple_temperature_rise,
    surroundings_temperature,
)

__all__ = [
    "LOWEST_TEMPERATURE",
    "POLYMER_RULES",
    "DielectricClass",
    "activation_energy_life",
    "aged_ceramic_capacitance",
    "arrhenius_factor",
    "can_surface",
    "can_temperature_rise",
    "case_temperature_life",
    "ceramic_capacitance_under_bias",
    "characteristic_life",
    "core_temperature",
    "damage_share",
    "dielectric_class",
    "electrolytic_life",
    "equivalent_ripple_current",
    "equivalent_temperature",
    "failures_in_time",
    "first_failure_probability",
    "frequency_multiplier",
    "hold_up_ratio",
    "implied_activation_energy",
    "implied_halving_interval",
    "mean_life_bounds",
    "mission_profile_life",
    "parallel_reliability",
    "polymer_life",
    "pulsed_output_ripple",
    "pulsed_ripple_current",
    "rectifier_ripple_current",
    "ripple_factor",
    "ripple_temperature_rise",
    "series_reliability",
    "supply_carry_time",
    "surroundings_temperature",
    "voltage_factor",
    "weibull_failing_share",
    "weibull_time",
    "year_shares",
]
