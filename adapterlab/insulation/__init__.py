"""Distances that keep the mains away from a hand.

Through air: `required_clearance`. Along a surface: `required_creepage`. At high frequency:
`high_frequency_distances`. What the mains may send: `mains_transient`, `temporary_overvoltage`.
Thin air: `altitude_factor`, `air_pressure`. Solids and tape: `required_thickness`,
`required_layers`, `strength_test_voltage`. What the barrier carries in use:
`primary_working_voltage`. Warmth: `touch_temperature_limit`, `burn_threshold`. Distances in metres.
"""

from adapterlab.insulation.air import (
    air_pressure,
    altitude_factor,
    mains_transient,
    temporary_overvoltage,
)
from adapterlab.insulation.distances import (
    INSULATIONS,
    MATERIAL_GROUPS,
    POLLUTION_DEGREES,
    RULES,
    HighFrequencyDistances,
    creepage_row,
    high_frequency_distances,
    required_clearance,
    required_creepage,
)
from adapterlab.insulation.solid import (
    WorkingVoltage,
    primary_working_voltage,
    required_layers,
    required_thickness,
    strength_test_voltage,
)
from adapterlab.insulation.touch import (
    burn_threshold,
    temperature_at_ambient,
    touch_temperature_limit,
)

__all__ = [
    "INSULATIONS",
    "MATERIAL_GROUPS",
    "POLLUTION_DEGREES",
    "RULES",
    "HighFrequencyDistances",
    "WorkingVoltage",
    "air_pressure",
    "altitude_factor",
    "burn_threshold",
    "creepage_row",
    "high_frequency_distances",
    "mains_transient",
    "primary_working_voltage",
    "required_clearance",
    "required_creepage",
    "required_layers",
    "required_thickness",
    "strength_test_voltage",
    "temperature_at_ambient",
    "temporary_overvoltage",
    "touch_temperature_limit",
]
