"""Tests for loss in the copper of a transformer. Every expected number says where it is from."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.constants import mu_0
from scipy.linalg import solve_banded
from scipy.optimize import minimize_scalar

from adapterlab.flyback import trapezoid_rms
from adapterlab.published import rows
from adapterlab.transformer import (
    copper_resistivity,
    dowell_resistance_factor,
    layer_losses,
    pulse_harmonics,
    skin_depth,
    thickness_ratio,
    winding_resistance,
    wire_named,
)


def test_skin_depth_printed():
    """Paul, Scully, Steffka, Introduction to EMC, 3rd ed., table 5.4, p. 226, 5.8e7 S/m."""
    mil = 25.4e-6
    for frequency, depth, tolerance in (
        (60, 8.5e-3, 0.05e-3), (1e3, 2.09e-3, 0.005e-3), (10e3, 0.66e-3, 0.005e-3),
        (100e3, 0.21e-3, 0.005e-3), (1e6, 2.6 * mil, 0.05 * mil), (10e6, 0.82 * mil, 0.005 * mil),
    ):  # fmt: skip
        assert_allclose(skin_depth(frequency), depth, atol=tolerance)


def test_skin_depth_hot_printed():
    """Erickson & Maksimovic, 3rd ed., fig. 10.23, p. 427: 0.024 cm at 100 kHz and 100 °C.

    Its resistivity there, 2.3e-6 ohm cm (p. 472), has two digits.
    """
    assert_allclose(skin_depth(100e3, 100), 0.24e-3, atol=5e-6)
    assert_allclose(copper_resistivity(100), 2.3e-8, atol=0.05e-8)
    assert_allclose(copper_resistivity(20), 1.724e-8, atol=5e-12)


@pytest.mark.parametrize("row", rows("transformer", "gauges"), ids=lambda row: row["name"])
def test_gauges_printed(row):
    """Erickson & Maksimovic, appendix B.6, pp. 1049-1050: area and resistance of each gauge.

    The law of ASTM B258 (from memory) gives the areas to 1 %; the table's resistances, which its
    areas do not quite give back, hold within 3 %.
    """
    wire = wire_named(row["name"])
    gauge = int(row["name"].split()[1])
    law = np.pi / 4 * (0.127e-3 * 92 ** ((36 - gauge) / 39)) ** 2
    assert_allclose(wire.copper_area, law, rtol=0.032)
    ohms = winding_resistance(1, 0.01, wire.copper_area)
    assert_allclose(ohms, row["resistance_ohm_per_cm"], rtol=0.032)


@pytest.mark.parametrize(
    ("layers", "printed", "tolerance"), [(2, 13, 0.64), (1, 4, 0.5), (0.5, 2, 0.5)]
)
def test_dowell_printed(layers, printed, tolerance):
    """Pressman, Billings, Morey, 3rd ed., fig. 7.9-7.11, pp. 333-336, read from the graph at 4.

    13 is read where the equation gives 12.42.
    """
    assert_allclose(dowell_resistance_factor(4, layers), printed, atol=tolerance)


def test_losses_of_thick_layers_printed():
    """Erickson & Maksimovic, eq. 10.65-10.69, p. 430: layers lose 1, 5, 13; M(2M^2+1)/3 = 19.

    The sum over the layers and the closed form for the winding are two ways to the same figure.
    """
    ratio = 20.0
    current = np.array([[1.0], [1.0], [1.0], [-3.0]])
    loss = layer_losses(np.zeros(4), current, np.ones(4), np.full(4, ratio), np.ones(4))
    assert_allclose(loss[:3] / loss[0], [1, 5, 13], atol=0.05)
    assert_allclose(loss[:3].sum() / loss[0], 19, atol=0.05)
    assert_allclose(loss[:3].mean(), dowell_resistance_factor(ratio, 3), rtol=1e-9)


def test_best_thickness_of_one_layer_printed():
    """Erickson & Maksimovic, p. 438: one layer loses least at a thickness of pi/2 skin depths.

    For a given frequency and width the loss goes as the factor over the thickness.
    """
    least = minimize_scalar(
        lambda ratio: dowell_resistance_factor(ratio, 1) / ratio,
        bounds=(1, 2.5),
        method="bounded",
        options={"xatol": 1e-9},
    )
    assert_allclose(least.x, np.pi / 2, atol=5e-4)


def test_layer_numbers_of_an_interleaved_winding_printed():
    """Erickson & Maksimovic, fig. 10.37, pp. 439-440: m = 1, 2 and 1.5, 0.5 of F(h)/(F(h)-F(0)).

    A layer that runs from (m-1) to m alone loses what `layer_losses` finds in the stack, for
    whole and half m: secondary of two layers, then a primary of three split in the middle.
    """
    ratio = 2.0
    stack = np.array([1.0, 1.0, -2.0, -2.0, 2.0])[:, None]
    after = np.cumsum(stack)
    number = after / stack[:, 0]
    assert_allclose(number[:2], [1, 2])
    loss = layer_losses(np.zeros(5), stack, np.ones(5), np.full(5, ratio), np.ones(5), 0.0)
    for place, level in ((0, 1.0), (1, 2.0)):
        below = dowell_resistance_factor(ratio, level) * level
        before = dowell_resistance_factor(ratio, level - 1) * (level - 1) if level > 1 else 0.0
        assert_allclose(loss[place], below - before, rtol=1e-9)


def foils_by_diffusion(boundary, thickness, frequency, resistivity, nodes=4001):
    """Loss per square metre of one foil, fields given at both faces, by finite differences.

    d²H/dx² = j omega mu sigma H inside; the current density is dH/dx; rms fields in A/m.
    """
    position = np.linspace(0, thickness, nodes)
    step = position[1] - position[0]
    factor = 2j * np.pi * frequency * mu_0 / resistivity * step**2
    bands = np.zeros((3, nodes), dtype=complex)
    bands[0, 2:], bands[2, :-2] = 1, 1
    bands[1, 1:-1] = -2 - factor
    bands[1, [0, -1]] = 1
    right = np.zeros(nodes, dtype=complex)
    right[[0, -1]] = boundary
    field = solve_banded((1, 1), bands, right)
    density = np.diff(field) / step
    return resistivity * (np.abs(density) ** 2).sum() * step


@pytest.mark.parametrize("frequency", [20e3, 200e3, 2e6])
def test_layers_against_the_diffusion_equation(frequency):
    """Independent: six foils, currents with phases of their own, and a screen that carries none.

    The field outside the stack is the ampere-turns over the width, for a gap in the centre leg.
    """
    thickness, width, turn, hot = 0.25e-3, 10e-3, 40e-3, 100
    resistivity = copper_resistivity(hot)
    current = np.array([1.0, 1.0, 0.0, -0.9 * np.exp(0.4j), -1.0j, 0.3])
    turns = np.array([10, 10, 1, 5, 8, 12.0])
    ohms = winding_resistance(turns, turn, width * thickness / turns, hot)
    ratio = np.full(6, thickness / skin_depth(frequency, hot))
    found = layer_losses(np.zeros(6), current[:, None], turns, ratio, ohms)
    drive = current * turns / width
    outside = np.append(drive.sum(), drive.sum() - np.cumsum(drive))
    for layer in range(6):
        expected = foils_by_diffusion(outside[layer : layer + 2], thickness, frequency, resistivity)
        # The current density in a square metre of foil face, over turn length and width.
        assert_allclose(found[layer], expected * turn * width, rtol=2e-4)


@pytest.mark.parametrize("layers", [1, 2, 3])
@pytest.mark.parametrize("frequency", [5e3, 100e3, 1e6])
def test_dowell_against_the_diffusion_equation(layers, frequency):
    thickness = 0.3e-3
    resistivity = copper_resistivity(20)
    loss = sum(
        foils_by_diffusion((level, level + 1), thickness, frequency, resistivity)
        for level in range(layers)
    )
    direct = layers * resistivity / thickness
    found = dowell_resistance_factor(thickness / skin_depth(frequency), layers)
    assert_allclose(found, loss / direct, rtol=1e-4)


@given(st.floats(1e-4, 0.02), st.floats(0.5, 20))
def test_dowell_of_thin_layers(ratio, layers):
    """Limit of low frequency, 1 + (5 M^2 - 1)/45 phi^4, derived in the notebook."""
    excess = dowell_resistance_factor(ratio, layers) - 1
    assert_allclose(excess, (5 * layers**2 - 1) / 45 * ratio**4, rtol=1e-3, atol=3e-12)


@given(st.floats(6, 1e6), st.floats(0.5, 20))
def test_dowell_of_thick_layers(ratio, layers):
    found = dowell_resistance_factor(ratio, layers)
    assert_allclose(found, (2 * layers**2 + 1) / 3 * ratio, rtol=0.02)


@given(st.floats(0.5, 10))
def test_dowell_rises_with_frequency(layers):
    ratio = np.geomspace(1e-3, 3, 300)
    factor = dowell_resistance_factor(ratio, layers)
    assert np.all(factor >= 1)
    assert np.all(np.diff(factor) >= 0)
    # No step where series and closed form meet.
    near = dowell_resistance_factor([0.00999999, 0.01000001], layers)
    assert abs(near[1] - near[0]) < 1e-9


trapezoids = st.tuples(st.floats(-3, 3), st.floats(-3, 3), st.floats(0, 0.5), st.floats(0.05, 0.5))


@given(trapezoids)
def test_harmonics_against_a_numerical_transform(numbers):
    """numpy.fft of 4096 mean values over the period, aliasing aside."""
    first, last, start, share = numbers
    count = 8192
    edges = np.arange(count + 1) / count

    def charge(instant):
        inside = np.clip(instant - start, 0, share)
        return first * inside + (last - first) * inside**2 / (2 * share)

    means = np.diff(charge(edges)) * count
    orders = np.arange(1, 9)
    found = pulse_harmonics(first, last, start, share, orders)
    expected = np.fft.fft(means)[orders] / count * np.sqrt(2)
    # Each mean stands at the middle of its slice, which turns the phase.
    expected *= np.exp(-1j * np.pi * orders / count)
    assert_allclose(found, expected, atol=2e-4)


@given(trapezoids)
def test_harmonics_carry_the_whole_rms(numbers):
    """Parseval: mean and all harmonics together are the rms."""
    first, last, start, share = numbers
    phasors = pulse_harmonics(first, last, start, share, np.arange(1, 6001))
    mean = (first + last) / 2 * share
    total = mean**2 + (np.abs(phasors) ** 2).sum()
    assert_allclose(total, trapezoid_rms(first, last, share) ** 2, rtol=0.01, atol=1e-3)


def test_direct_current_and_slow_harmonics_lose_as_resistance_says():
    """Far below the skin depth, each layer's loss is its resistance times the square of the rms."""
    orders = np.arange(1, 2001)
    current = np.array(
        [pulse_harmonics(0, 2, 0, 0.4, orders), pulse_harmonics(6, 0, 0.4, 0.5, orders)]
    )
    mean = np.array([2 * 0.4 / 2, 6 * 0.5 / 2])
    ohms = np.array([0.3, 0.02])
    loss = layer_losses(mean, current, [30, 10], np.full(2, 1e-3), ohms)
    rms = np.array([trapezoid_rms(0, 2, 0.4), trapezoid_rms(6, 0, 0.5)])
    assert_allclose(loss, ohms * rms**2, rtol=2e-3)


def test_a_gap_in_every_leg_spares_the_inner_layers():
    """Half the field that magnetises stands outside: the largest field in the window is halved."""
    current = np.full((4, 1), 1.0)
    one, every = (
        layer_losses(np.zeros(4), current, np.full(4, 10), np.full(4, 2.0), np.ones(4), share)
        for share in (1.0, 0.5)
    )
    assert every.sum() < one.sum()
    assert_allclose(every, every[::-1], rtol=1e-12)


def test_thickness_ratio_of_round_wire():
    """Square of equal area: 0.5 mm of wire counts 0.443 mm; skin depth 0.2090 mm at 100 kHz."""
    expected = np.sqrt(np.pi / 4) * 0.5e-3 / np.sqrt(1.7241e-8 / (np.pi * mu_0 * 1e5))
    assert_allclose(thickness_ratio(0.5e-3, 1e5), expected, rtol=1e-12)
    assert_allclose(thickness_ratio(0.5e-3, 1e5, 0.49), 0.7 * expected, rtol=1e-12)


def test_shapes_and_types():
    assert type(dowell_resistance_factor(1.0, 2)) is float
    assert type(skin_depth(1e5)) is float
    assert dowell_resistance_factor(np.ones((3, 1)), [1, 2]).shape == (3, 2)
    assert pulse_harmonics([0, 1], 2, 0, 0.5, [1, 2, 3]).shape == (2, 3)
    loss = layer_losses(
        np.zeros((5, 2)), np.ones((5, 2, 3)), np.ones(2), np.ones((5, 2)), np.ones(2)
    )
    assert loss.shape == (5, 2)
    assert_allclose(loss[0], layer_losses([0, 0], np.ones((2, 3)), [1, 1], [1, 1], [1, 1]))


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: skin_depth(0), "frequency must"),
        (lambda: skin_depth(1e5, 300), "between -50 and 200"),
        (lambda: dowell_resistance_factor(-1, 1), "thickness_ratio must"),
        (lambda: dowell_resistance_factor(1, 0.2), "layers must be at least 0.5"),
        (lambda: thickness_ratio(0, 1e5), "wire_diameter must"),
        (lambda: thickness_ratio(1e-3, 1e5, 1.2), "porosity must"),
        (lambda: winding_resistance(0, 0.04, 1e-7), "turns must"),
        (lambda: winding_resistance(10, 0.04, 0), "copper_area must"),
        (lambda: pulse_harmonics(0, 1, 0, 1.2, [1]), "duty_cycle must"),
        (lambda: pulse_harmonics(0, float("inf"), 0, 0.2, [1]), "end_current must"),
        (lambda: pulse_harmonics(0, 1, 0, 0.2, [0]), "orders must"),
        (lambda: layer_losses([0], [[1]], [0], [1], [1]), "turns must"),
        (lambda: layer_losses([0], [[np.nan]], [1], [1], [1]), "harmonic_current must"),
        (lambda: layer_losses([0], [[1]], [1], [1], [1], 1.5), "inner_share must"),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()
