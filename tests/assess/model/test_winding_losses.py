"""Loss of a transformer laid out by hand: where closed forms hold, they are the measure."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from adapterlab.assess.model.winding_losses import (
    copper_of,
    core_loss_of,
    parallel_secondaries,
    sine_factor,
)
from adapterlab.assess.model.windings import Build, Layer
from adapterlab.flyback import operating_point
from adapterlab.published import rows

TURN, WINDOW = 42e-3, 9e-3


def layer(name, role, turns, place=0, strand=0.3e-3, bottom=0.0, **rest):
    given = {
        "winding": place, "name": name, "role": role, "turns": turns, "bottom": bottom,
        "height": strand, "spread": 0.0, "width": turns * strand, "copper_bottom": bottom,
        "copper_height": strand, "strand": strand, "strands": 1, "sublayers": 1, "foil": False,
        "triple_insulated": False, "tape_layers": 0, "tape_thickness": 60e-6,
    }  # fmt: skip
    return Layer(**(given | rest))


def build(*layers, primary=36.0, secondary=8.0):
    return Build(
        "main",
        "EE22",
        41e-6,
        39.6e-3,
        WINDOW,
        4e-3,
        TURN,
        None,
        layers,
        "",
        primary,
        secondary,
        (),
        "",
        "",
    )


def slow(**rest):
    """A working point so slow that skin and proximity have no say: 50 Hz, half an henry."""
    given = {
        "input_voltage": 300.0, "output_voltage": 20.0, "output_current": 2.0, "turns_ratio": 4.5,
        "magnetising_inductance": 0.51, "switching_frequency": 50.0,
    }  # fmt: skip
    return operating_point(**(given | rest))


def resistance(turns, area, where, celsius=20.0):
    """IEC 60028: 17.241 nohm·m at 20 °C, 0.393 % for each kelvin (from memory)."""
    length = TURN + 2 * np.pi * (where - 2e-3)
    return 17.241e-9 * (1 + 0.00393 * (celsius - 20)) * turns * length / area


WIRE = np.pi / 4 * (0.3e-3) ** 2


@pytest.mark.parametrize("celsius", [20.0, 100.0])
def test_slow_currents_lose_what_resistance_alone_would(celsius):
    """R I²: both windings, each turn as long as its place in the window makes it."""
    made = build(
        layer("p", "primary", 36.0), layer("s", "secondary", 8.0, 1, bottom=1e-3),
        layer("x", "screen", 1.0, 2, bottom=2e-3),
    )  # fmt: skip
    point = slow()
    found = copper_of(made, point, celsius)
    first = resistance(36, WIRE, 0.15e-3, celsius) * point.primary_rms**2
    second = resistance(8, WIRE, 1.15e-3, celsius) * point.secondary_rms**2
    assert found.direct == pytest.approx([first, second, 0.0], rel=1e-4, abs=1e-12)
    # Forty harmonics hold all but 3 % of the square of a pulse with an upright edge.
    assert found.total[:2] == pytest.approx(found.direct[:2], rel=0.03)


def test_the_secondary_carries_what_the_load_takes():
    """Pulses scaled so that their mean is the load: twice the current, four times the loss."""
    made = build(layer("p", "primary", 36.0), layer("s", "secondary", 8.0, 1))
    point = slow()
    plain, doubled = copper_of(made, point, 20.0, 2.0), copper_of(made, point, 20.0, 4.0)
    assert plain.direct[1] == pytest.approx(copper_of(made, point, 20.0).direct[1], rel=1e-6)
    assert doubled.direct[1] == pytest.approx(4 * plain.direct[1])
    assert doubled.direct[0] == pytest.approx(plain.direct[0])


def test_secondaries_of_equal_turns_share_their_current():
    """Half the current in each of two, a quarter of the loss."""
    primary = layer("p", "primary", 36.0)
    one = copper_of(build(primary, layer("s", "secondary", 8.0, 1)), slow(), 20.0)
    two = copper_of(
        build(primary, layer("s", "secondary", 8.0, 1), layer("t", "secondary", 8.0, 2)),
        slow(),
        20.0,
    )
    assert two.direct[1:] == pytest.approx([one.direct[1] / 4] * 2)
    assert two.total[1:] == pytest.approx([one.total[1] / 4] * 2, rel=2e-3)


@pytest.mark.parametrize(
    ("turns", "shared"),
    [
        ([(1, 8.0)], 1),
        ([(1, 4.0), (1, 4.0)], 1),  # two layers of one winding
        ([(1, 8.0), (2, 8.0)], 2),
        ([(1, 4.0), (1, 4.0), (2, 8.0)], 2),
        ([(1, 5.0), (2, 3.0)], 1),  # in series
        ([], 1),
    ],
)
def test_which_secondaries_are_in_parallel(turns, shared):
    layers = [layer("s", "secondary", count, place) for place, count in turns]
    assert parallel_secondaries(build(layer("p", "primary", 36.0), *layers)) == shared


def test_a_bundle_has_the_copper_of_its_strands():
    """Nine strands of 0.1 mm carry as one wire of 0.3 mm, in three layers of strands."""
    bundle = layer("p", "primary", 36.0, strand=0.1e-3, strands=9, sublayers=3, height=0.3e-3)
    secondary = layer("s", "secondary", 8.0, 1)
    found = copper_of(build(bundle, secondary), slow(), 20.0)
    plain = copper_of(build(layer("p", "primary", 36.0), secondary), slow(), 20.0)
    assert found.direct[0] == pytest.approx(plain.direct[0])
    assert found.direct.shape == (2,)


def test_a_foil_has_the_copper_of_its_width():
    foil = layer("p", "primary", 36.0, strand=0.05e-3, foil=True, width=8e-3, height=0.05e-3)
    point = slow()
    found = copper_of(build(foil, layer("s", "secondary", 8.0, 1)), point, 20.0)
    expected = resistance(36, 0.05e-3 * 8e-3, 0.025e-3) * point.primary_rms**2
    assert found.direct[0] == pytest.approx(expected, rel=1e-6)


def test_points_in_a_row_keep_their_shape():
    made = build(layer("p", "primary", 36.0), layer("s", "secondary", 8.0, 1))
    point = slow(input_voltage=np.array([200.0, 300.0, 370.0]))
    found = copper_of(made, point, 20.0)
    assert found.total.shape == found.direct.shape == (3, 2)
    assert found.direct[1] == pytest.approx(copper_of(made, slow(), 20.0).direct)


def test_quick_currents_lose_more():
    made = build(layer("p", "primary", 36.0), layer("s", "secondary", 8.0, 1))
    quick = slow(switching_frequency=85e3, magnetising_inductance=300e-6)
    found = copper_of(made, quick, 20.0)
    assert (found.total > found.direct).all()
    assert found.total[0] > 2 * found.direct[0]


def dowell(ratio):
    """One layer: P. L. Dowell, Proc. IEE 113 (1966) 1387, as Erickson, eq. 10.72."""
    return (
        ratio * (np.sinh(2 * ratio) + np.sin(2 * ratio)) / (np.cosh(2 * ratio) - np.cos(2 * ratio))
    )


@pytest.mark.parametrize("role", ["primary", "secondary"])
def test_sines_in_single_layers_follow_dowell(role):
    """Foils as wide as the window: porosity 1, the thickness over the skin depth is all."""
    foil = {"foil": True, "width": WINDOW}
    made = build(
        layer("p", "primary", 36.0, strand=0.2e-3, **foil),
        layer("s", "secondary", 8.0, 1, strand=0.4e-3, bottom=1e-3, **foil),
    )
    cycles = np.array([10.0, 50e3, 200e3])
    depth = np.sqrt(17.241e-9 / (np.pi * cycles * 4e-7 * np.pi))
    thickness = {"primary": 0.2e-3, "secondary": 0.4e-3}[role]
    assert sine_factor(made, role, cycles, 20.0) == pytest.approx(
        dowell(thickness / depth), rel=2e-3
    )


def test_sines_in_round_wire_count_as_a_square_that_fills_part_of_the_window():
    """Side root(pi)/2 of the diameter; 20 turns of 0.3 mm fill 20 sides of 9 mm."""
    layers = layer("p", "primary", 20.0), layer("s", "secondary", 8.0, 1, bottom=1e-3)
    made = build(*layers, primary=20.0)
    side = np.sqrt(np.pi) / 2 * 0.3e-3
    ratio = side * np.sqrt(20 * side / WINDOW) / np.sqrt(17.241e-9 / (np.pi * 100e3 * 4e-7 * np.pi))
    assert sine_factor(made, "primary", [100e3], 20.0) == pytest.approx([dowell(ratio)], rel=2e-3)


def steinmetz(row, flux_swing, frequency, share):
    """Improved generalised Steinmetz equation for a triangle that rises for a share of the period.

    J. Venkatachalam et al., 2002 (from memory), with the integral done numerically.
    """
    alpha, beta = row["frequency_exponent"], row["flux_exponent"]
    per_cubic_metre = row["loss_kw_per_m3"] * 1e3
    k = per_cubic_metre / (row["frequency_khz"] * 1e3) ** alpha / row["peak_flux_density_t"] ** beta
    angle, _ = quad(lambda t: abs(np.cos(t)) ** alpha, 0, 2 * np.pi, limit=200)
    scale = k / ((2 * np.pi) ** (alpha - 1) * angle * 2 ** (beta - alpha))
    period = 1 / frequency
    parts = [
        (flux_swing / (part * period)) ** alpha * flux_swing ** (beta - alpha) * part
        for part in (share, 1 - share)
    ]
    return scale * sum(parts)


def test_core_loss_of_a_triangle():
    """Continuous current: the flux rises for the duty, falls for the rest."""
    made = build(layer("p", "primary", 36.0))
    point = operating_point(300.0, 20.0, 5.0, 4.5, 800e-6, 85e3)
    assert point.primary_valley > 0
    found = core_loss_of(made, point, 800e-6, 41e-6)
    swing = 800e-6 * (point.primary_peak - point.primary_valley) / (36 * 41e-6)
    lines = rows("transformer", "core_loss")
    assert len(found) == len(lines) == 2
    for value, row in zip(found, lines, strict=True):
        volume = 41e-6 * 39.6e-3
        assert value == pytest.approx(
            steinmetz(row, swing, 85e3, point.duty_cycle) * volume, rel=1e-6
        )


def test_core_loss_counts_no_time_at_rest():
    """Discontinuous: a longer pause between the same pulses, less loss in proportion."""
    made = build(layer("p", "primary", 36.0))
    quick = operating_point(300.0, 20.0, 1.0, 4.5, 300e-6, 60e3)
    rare = operating_point(300.0, 20.0, 0.5, 4.5, 300e-6, 30e3)
    assert rare.primary_peak == pytest.approx(quick.primary_peak)
    for one, half in zip(
        core_loss_of(made, quick, 300e-6, 41e-6),
        core_loss_of(made, rare, 300e-6, 41e-6),
        strict=True,
    ):
        assert half == pytest.approx(one / 2)


def test_without_a_path_there_is_no_volume():
    made = replace(build(layer("p", "primary", 36.0)), path_length=None)
    assert [float(value) for value in core_loss_of(made, slow(), 0.51, 41e-6)] == [0.0, 0.0]
