"""Guards of the laws of heat, as their docstrings state them."""

import pytest
from bounds import hold

from adapterlab import thermal

BOX = {"height": 0.068, "width": 0.062, "depth": 0.029}


@pytest.mark.parametrize(
    ("function", "rest", "name", "good", "bad"),
    [
        (thermal.air_properties, {}, "temperature", 250, 250.001),
        (thermal.air_properties, {}, "temperature", -50, -50.001),
        (thermal.nusselt_vertical_plate, {"prandtl_number": 0.7}, "rayleigh_number", 1e13, 1.001e13),
        (
            thermal.nusselt_vertical_plate, {"prandtl_number": 0.7, "laminar": True},
            "rayleigh_number", 1e9, 1.001e9,
        ),
        (thermal.nusselt_horizontal_plate, {"facing": "up"}, "rayleigh_number", 1e4, 0.999e4),
        (thermal.nusselt_horizontal_plate, {"facing": "up"}, "rayleigh_number", 1e11, 1.001e11),
        (thermal.nusselt_horizontal_plate, {"facing": "down"}, "rayleigh_number", 1e5, 0.999e5),
        (
            thermal.nusselt_horizontal_plate, {"facing": "up", "extended": True},
            "rayleigh_number", 0.0, -1e-9,
        ),
        (
            thermal.nusselt_horizontal_cylinder, {"prandtl_number": 0.7},
            "rayleigh_number", 1e12, 1.001e12,
        ),
        (thermal.box_heat_flow, BOX | {"ambient": 25.0}, "case_temperature", 25.0, 24.99),
        (thermal.box_heat_flow, BOX | {"ambient": 25.0, "case_temperature": 50.0}, "emissivity", 1.0, 1.001),
    ],
)  # fmt: skip
def test_bounds(function, rest, name, good, bad):
    hold(function, rest, name, good, bad)
