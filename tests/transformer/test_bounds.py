"""Guards of the transformer's equations, as their docstrings state them."""

import pytest
from bounds import hold

from adapterlab import transformer as trafo

FOIL = {"turns": 36, "mean_turn_length": 42e-3, "winding_width": 8.6e-3}


@pytest.mark.parametrize(
    ("function", "rest", "name", "good", "bad"),
    [
        (trafo.copper_resistivity, {}, "temperature", 200, 200.001),
        (trafo.copper_resistivity, {}, "temperature", -50, -50.001),
        (trafo.dowell_resistance_factor, {"thickness_ratio": 1.0}, "layers", 0.5, 0.499),
        (trafo.saturation_flux_density, {}, "temperature", 120, 120.1),
        (trafo.saturation_flux_density, {}, "temperature", 25, 24.9),
        (
            trafo.interleaved_leakage_inductance,
            FOIL | {"copper_height": 1e-3, "insulation_height": 1e-4},
            "interfaces", 1, 0.999,
        ),
        (trafo.bundle_diameter, {"strand_diameter": 1e-4}, "strands", 1, 0.999),
        (trafo.enamelled_diameter, {}, "wire_diameter", 0.05e-3, 0.0499e-3),
        (trafo.enamelled_diameter, {}, "wire_diameter", 1e-3, 1.001e-3),
    ],
)  # fmt: skip
def test_bounds(function, rest, name, good, bad):
    hold(function, rest, name, good, bad)


def test_the_range_of_wires_is_told():
    with pytest.raises(ValueError, match="between 5e-05 and 0.001 m"):
        trafo.enamelled_diameter(2e-3)
