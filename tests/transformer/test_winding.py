"""Tests for windings: wire, window, leakage, layers of insulation. Each number says its source."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.constants import epsilon_0, mu_0

from adapterlab.published import rows
from adapterlab.transformer import (
    bundle_diameter,
    closed_turn_loss,
    copper_resistivity,
    enamelled_diameter,
    interleaved_leakage_inductance,
    interwinding_capacitance,
    leakage_inductance,
    window_fill,
    wire_named,
)


@pytest.mark.parametrize("row", rows("transformer", "enamelled"), ids=lambda row: row["name"])
def test_enamel_table(row):
    """IEC 60317-0-1, largest overall diameters, from memory: the table is given back."""
    size = row["diameter_mm"] * 1e-3
    assert_allclose(enamelled_diameter(size, 1) * 1e3, row["grade_1_mm"], rtol=1e-9)
    assert_allclose(enamelled_diameter(size) * 1e3, row["grade_2_mm"], rtol=1e-9)


@given(st.floats(0.05e-3, 1e-3))
def test_enamel_between_the_rows(size):
    """Thicker enamel is thicker, and neither exceeds the larger neighbour in the table."""
    one, two = enamelled_diameter(size, 1), enamelled_diameter(size, 2)
    assert size < one < two < 1.35 * size
    assert enamelled_diameter(size * 1.001 if size < 0.99e-3 else size) >= two


def test_wire_by_name():
    """0.25 mm: IEC 60317-0-1, from memory; AWG 30: Erickson, appendix B.6, 0.5067e-3 cm^2."""
    wire = wire_named("0.25 mm")
    assert_allclose(wire.copper_area, np.pi / 4 * 0.25e-3**2, rtol=1e-12)
    gauge = wire_named("awg30")
    assert_allclose(gauge.copper_area, 0.5067e-7, rtol=1e-9)
    assert gauge.grade_1 is None


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("AWG 31", "AWG 30"),
        ("0.26 mm", "0.250 mm"),
        ("0.3 mm", "0.315 mm, 0.250 mm"),
        ("x", "0.05"),
    ],
)
def test_an_unknown_wire_is_refused_with_near_names(name, near):
    with pytest.raises(ValueError, match=f"wire must be in the table.*{near}"):
        wire_named(name)


def test_bundles():
    """Common practice: 1.155 times root of the number; seven round strands touch in three."""
    assert bundle_diameter(0.2e-3, 1) == 0.2e-3
    assert_allclose(bundle_diameter(0.2e-3, 7) / 0.2e-3, 3.06, atol=0.005)
    # Never denser than hexagonal packing of many circles, 0.9069.
    many = np.arange(2, 200)
    assert np.all(many / (bundle_diameter(1.0, many)) ** 2 < 0.9069)


def test_window_fill_by_counting():
    """1 mm² of copper in 10 mm²: a tenth."""
    assert_allclose(window_fill([10, 5], [0.05e-6, 0.1e-6], 5e-3, 2e-3), 0.1, rtol=1e-12)


def field_energy(drive, thickness, spacing, turn, width, points=40_000):
    """Twice the energy of the field between the layers, by a numerical integral over the window."""
    faces = np.zeros(2 * len(drive))
    faces[0::2] = np.cumsum(np.concatenate([[0], thickness[:-1] + spacing]))
    faces[1::2] = faces[0::2] + thickness
    levels = np.repeat(np.concatenate([[0], np.cumsum(drive)]), 2)[1:-1]
    position = (np.arange(points) + 0.5) / points * faces[-1]
    field = np.interp(position, faces, levels) / width
    return mu_0 * (field**2).mean() * faces[-1] * turn * width


stacks = st.integers(2, 6).flatmap(
    lambda count: st.tuples(
        st.lists(st.integers(-40, 40), min_size=count, max_size=count),
        st.lists(st.floats(0.1e-3, 1e-3), min_size=count, max_size=count),
        st.lists(st.floats(0, 0.4e-3), min_size=count - 1, max_size=count - 1),
    )
)


@given(stacks)
def test_leakage_against_the_energy_of_the_field(stack):
    drive, thickness, spacing = (np.array(part, dtype=float) for part in stack)
    drive[-1] -= drive.sum()
    found = leakage_inductance(drive, thickness, spacing, 40e-3, 9e-3)
    expected = field_energy(drive, thickness, spacing, 40e-3, 9e-3)
    assert_allclose(found, expected, rtol=2e-3, atol=1e-13)


@given(st.floats(0.1e-3, 1e-3), st.floats(0.05e-3, 0.3e-3), st.floats(5, 100))
def test_interleaving_quarters_the_copper_part(height, apart, turns):
    """A secondary between two halves of the primary, from the layers and from the closed form."""
    plain_ = leakage_inductance([turns, -turns], [height, height], [apart], 40e-3, 9e-3)
    closed = interleaved_leakage_inductance(turns, 2 * height, apart, 40e-3, 9e-3)
    assert_allclose(plain_, closed, rtol=1e-9)
    split = leakage_inductance(
        [turns / 2, -turns, turns / 2],
        [height / 2, height, height / 2],
        [apart, apart],
        40e-3,
        9e-3,
    )
    closed = interleaved_leakage_inductance(turns, 2 * height, 2 * apart, 40e-3, 9e-3, 2)
    assert_allclose(split, closed, rtol=1e-9)
    assert split < plain_ / 2 + 1e-18


@given(stacks, st.floats(0.1, 10))
def test_leakage_goes_as_the_square_of_the_turns(stack, factor):
    drive, thickness, spacing = (np.array(part, dtype=float) for part in stack)
    drive[-1] -= drive.sum()
    once = leakage_inductance(drive, thickness, spacing, 40e-3, 9e-3)
    assert_allclose(
        leakage_inductance(factor * drive, thickness, spacing, 40e-3, 9e-3), factor**2 * once,
        rtol=1e-9, atol=1e-18,
    )  # fmt: skip


def test_a_screen_only_adds_distance():
    """A layer without ampere-turns counts as if its height were spacing."""
    with_screen = leakage_inductance(
        [36, 0, -36], [0.3e-3, 0.05e-3, 0.9e-3], [0.1e-3, 0.1e-3], 40e-3, 9e-3
    )
    without = leakage_inductance([36, -36], [0.3e-3, 0.9e-3], [0.25e-3], 40e-3, 9e-3)
    assert_allclose(with_screen, without, rtol=1e-12)


def test_capacitance_of_plates_and_a_closed_turn():
    """Closed forms: two plates; 2 V across 4 ohm is 1 W."""
    assert_allclose(interwinding_capacitance(0.04, 0.01, 0.1e-3, 3), 12 * epsilon_0, rtol=1e-12)
    assert closed_turn_loss(2.0, 4.0) == 1.0


def test_shapes_and_types():
    assert type(enamelled_diameter(0.25e-3)) is float
    assert type(leakage_inductance([1, -1], [1e-3, 1e-3], [0], 0.04, 0.01)) is float
    many = leakage_inductance(
        np.array([[36, -36], [18, -18]]), [1e-3, 1e-3], [0.1e-3], 0.04, [[0.01], [0.02], [0.03]]
    )
    assert many.shape == (3, 2)
    assert window_fill(np.ones((4, 2)), [1e-7, 1e-7], 0.01, 0.01).shape == (4,)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: enamelled_diameter(2e-3), "wire_diameter must lie between"),
        (lambda: enamelled_diameter(0.2e-3, 3), "grade must be 1 or 2"),
        (lambda: bundle_diameter(0.1e-3, 0.5), "strands must be at least 1"),
        (lambda: window_fill([125], [1e-6], 5e-3, 2e-3), "copper fills 12.5"),
        (lambda: window_fill([0], [1e-6], 5e-3, 2e-3), "turns must"),
        (lambda: leakage_inductance([1, 1], [1e-3, 1e-3], [0], 0.04, 0.01), "add up to zero"),
        (lambda: leakage_inductance([1, -1], [1e-3], [0], 0.04, 0.01), "one entry per layer"),
        (lambda: leakage_inductance(1, 1e-3, 0, 0.04, 0.01), "one entry per layer"),
        (lambda: interleaved_leakage_inductance(10, 1e-3, 0, 0.04, 0.01, 0), "interfaces must"),
        (lambda: interwinding_capacitance(0.04, 0.01, 0), "thickness must"),
        (lambda: closed_turn_loss(2, 0), "resistance must"),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()


@pytest.mark.parametrize("gauge", [20, 26, 30])
def test_gauges_are_round_wires(gauge):
    """ASTM B258 (from memory): 0.127 mm times 92 to the power (36 - n)/39."""
    wire = wire_named(f"AWG {gauge}")
    assert wire.diameter == pytest.approx(0.127e-3 * 92 ** ((36 - gauge) / 39), rel=5e-3)


def test_copper_at_its_default_is_that_of_the_standard():
    """IEC 60028 (from memory): 1/58 ohm mm² per metre at 20 °C."""
    assert copper_resistivity() == pytest.approx(1e-6 / 58, rel=1e-4)
