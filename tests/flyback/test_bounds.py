"""Guards of the converter's equations, as their docstrings state them."""

import numpy as np
import pytest
from bounds import hold

from adapterlab import flyback

BULK = {"mains_voltage": 100.0, "mains_frequency": 50.0, "bulk_capacitance": 100e-6}
# Power that empties the capacitor within a half period: C V² / (2 t) with V² = 2 * 100².
EMPTY = 100e-6 * 2e4 / 2 / 0.01
POINT = {
    "input_voltage": 300.0, "output_voltage": 20.0, "output_current": 2.0, "turns_ratio": 4.5,
    "magnetising_inductance": 300e-6,
}  # fmt: skip


@pytest.mark.parametrize(
    ("function", "rest", "name", "good", "bad"),
    [
        (
            flyback.bulk_valley_voltage, BULK | {"load_power": 1.0},
            "conduction_time", 0.00999, 0.01,
        ),
        (flyback.rating_turns_ratio, {"input_voltage": 340, "output_voltage": 20,
                                      "rated_voltage": 2000}, "margin", 0.8, 1.0),
        (flyback.rating_turns_ratio, {"input_voltage": 340, "output_voltage": 20},
         "rated_voltage", 340.5, 340.0),
        (flyback.duty_turns_ratio, {"input_voltage": 100, "output_voltage": 20},
         "duty_cycle", 0.999, 1.0),
        (flyback.interleaved_ripple_factor, {"converters": 2}, "duty_cycle", 0.999, 1.0),
        (flyback.interleaved_ripple_factor, {"duty_cycle": 0.3}, "converters", 1, 1.5),
        (flyback.interleaved_ripple_factor, {"duty_cycle": 0.3}, "converters", 1, 0),
        (flyback.valley_switching, POINT | {"drain_capacitance": 100e-12}, "valley", 1, 0),
        (flyback.valley_switching, POINT | {"drain_capacitance": 100e-12}, "valley", 2, 1.5),
        (flyback.diode_loss, {"mean_current": 2.0, "drop": 0.5}, "rms_current", 2.0, 1.999),
        (
            flyback.ripple_inductance,
            {"input_voltage": 100, "output_voltage": 20, "output_current": 2, "turns_ratio": 4.5,
             "switching_frequency": 85e3}, "current_ripple", 2.0, 2.001,
        ),
        (
            flyback.clamp_dissipation,
            {"leakage_inductance": 4e-6, "peak_current": 2.0, "switching_frequency": 85e3,
             "reflected_voltage": 90.0}, "clamp_voltage", 90.1, 90.0,
        ),
        (
            flyback.burst_operation,
            {"burst_current": 1.0, "output_capacitance": 1e-3, "ripple_voltage": 0.1},
            "output_current", 0.999, 1.0,
        ),
    ],
)  # fmt: skip
def test_bounds(function, rest, name, good, bad):
    hold(function, rest, name, good, bad)


@pytest.mark.parametrize("function", [flyback.bulk_valley_voltage, flyback.ideal_conduction_time])
def test_a_capacitor_that_just_runs_empty_is_refused(function):
    """From energy: C V²/2 at the crest against P over the half (or, at the least, quarter) period."""
    most = EMPTY * (1 if function is flyback.bulk_valley_voltage else 2)
    assert np.isfinite(function(**BULK, load_power=0.9999 * most))
    for power in (most, 1.00002 * most):
        for wrong in (power, [1.0, power], [power, 1.0]):
            with pytest.raises(ValueError, match="bulk_capacitance"):
                function(**BULK, load_power=wrong)


def test_one_point_beyond_numbers_is_refused_among_good_ones():
    """A peak current beyond the largest number, in a row with an ordinary one."""
    with pytest.raises(ValueError, match="too small or too large"):
        flyback.operating_point(**(POINT | {"output_current": [2.0, 1e308]}),
                                switching_frequency=1e-3)  # fmt: skip


def test_flat_pulses():
    """A current that does not fall: the charge rises straight, the resistance steps once.

    Ripple I R + (I - mean) D / (f C), by hand: 0.5 A for half the period, mean 0.25 A, 85 kHz.
    """
    pulse = flyback.SecondaryPulse(0.5, 0.5, 0.5, 85e3)
    found = flyback.output_ripple(pulse, 200e-6, 7e-3)
    assert found.capacitive == pytest.approx(0.25 * 0.5 / 85e3 / 200e-6)
    assert found.resistive == pytest.approx(0.5 * 7e-3)
    assert found.peak_to_peak == pytest.approx(0.25 * 0.5 / 85e3 / 200e-6 + 0.5 * 7e-3)
