"""Heat from a warm surface to still air: convection, radiation, resistances.

Air: `air_properties`. Convection: `rayleigh_number` and from it `nusselt_vertical_plate`,
`nusselt_horizontal_plate`, `nusselt_horizontal_cylinder`; by hand `simplified_heat_transfer`.
Radiation: `radiation_heat_flow`. `thermal_resistance` is what two thermometers and a wattmeter
tell. A whole sealed case is in `adapterlab.thermal.case`.
"""

from adapterlab.thermal.case import (
    COVERED,
    HOTTEST_CASE,
    USUAL,
    CaseTemperatures,
    HeatFlow,
    box_heat_flow,
    case_temperatures,
    fit_transfer_factor,
    free_area,
    wall_outer_temperature,
)
from adapterlab.thermal.still_air import (
    Air,
    air_properties,
    nusselt_horizontal_cylinder,
    nusselt_horizontal_plate,
    nusselt_vertical_plate,
    radiation_heat_flow,
    rayleigh_number,
    simplified_heat_transfer,
    thermal_resistance,
)

__all__ = [
    "COVERED",
    "HOTTEST_CASE",
    "USUAL",
    "Air",
    "CaseTemperatures",
    "HeatFlow",
    "air_properties",
    "box_heat_flow",
    "case_temperatures",
    "fit_transfer_factor",
    "free_area",
    "nusselt_horizontal_cylinder",
    "nusselt_horizontal_plate",
    "nusselt_vertical_plate",
    "radiation_heat_flow",
    "rayleigh_number",
    "simplified_heat_transfer",
    "thermal_resistance",
    "wall_outer_temperature",
]
