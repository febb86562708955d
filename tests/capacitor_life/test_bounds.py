"""Guards of the equations of life, as their docstrings state them."""

import numpy as np
import pytest
from bounds import hold

from adapterlab import capacitor_life as life

PULSE = {
    "secondary_peak": 8.0, "secondary_duty": 0.5, "switching_frequency": 85e3,
    "capacitance": 660e-6, "series_resistance": 7e-3,
}  # fmt: skip
BULK = {"mains_voltage": 230.0, "mains_frequency": 50.0, "bulk_capacitance": 100e-6}
TEN_KELVIN = {"base_life": 5000.0, "rated_temperature": 105.0}


@pytest.mark.parametrize(
    ("function", "rest", "name", "good", "bad"),
    [
        (life.pulsed_output_ripple, PULSE, "secondary_valley", 8.0, 8.001),
        (life.rectifier_ripple_current, BULK | {"load_power": 10.0}, "conduction_time", 5e-3, 5.01e-3),
        (life.pulsed_ripple_current, {"mean_current": 2.0}, "rms_current", 2.0, 1.999),
        (
            life.surroundings_temperature, {"case_temperature": 66.0, "ripple_rise": 1.8},
            "core_to_case_ratio", 1.0, 0.999,
        ),
        (
            life.aged_ceramic_capacitance, {"capacitance": 1e-6, "ageing_rate": 0.02}, "time", 1.0,
            0.999,
        ),
        (
            life.aged_ceramic_capacitance, {"capacitance": 1e-6, "time": 10.0}, "ageing_rate", 0.999,
            1.0,
        ),
        (
            life.hold_up_ratio,
            {"capacitance_left": 0.7, "aged_start_voltage": 100.0, "end_voltage": 99.0},
            "start_voltage", 100.0, 99.9,
        ),
        (
            life.hold_up_ratio,
            {"capacitance_left": 0.7, "aged_start_voltage": 90.0, "start_voltage": 100.0},
            "end_voltage", 99.9, 100.0,
        ),
        (
            life.supply_carry_time,
            {"capacitance": 1e-5, "current": 5e-3, "end_voltage": 9.0}, "start_voltage", 9.01, 9.0,
        ),
        (life.implied_halving_interval, {"temperature_difference": 10.0}, "life_ratio", 1.01, 1.0),
        (life.weibull_time, {"characteristic_life": 1.0, "shape_parameter": 4.0},
         "failing_share", 0.999, 1.0),
        (life.electrolytic_life, TEN_KELVIN, "temperature", 105.0, 105.001),
        (life.electrolytic_life, TEN_KELVIN | {"lowest_temperature": 40.0}, "temperature", 40.0, 39.9),
        (
            life.arrhenius_factor, {"temperature": 100.0, "reference_temperature": 60.0},
            "activation_energy", 1.2, 1e6,
        ),
        (
            life.arrhenius_factor, {"temperature": 60.0, "reference_temperature": 100.0},
            "activation_energy", 1.2, 1e6,
        ),
    ],
)  # fmt: skip
def test_bounds(function, rest, name, good, bad):
    hold(function, rest, name, good, bad)


@pytest.mark.parametrize("whole", [8760.0, 8784.0])
def test_a_year_may_be_half_an_hour_off(whole):
    """365 or 366 days of 24 hours."""
    away = 0.5 if whole > 8770 else -0.5
    assert life.year_shares([100.0, whole - 100.0 + 0.9 * away]).sum() == pytest.approx(1)
    for rows in ([100.0, whole - 100.0 + 1.1 * away], [[100.0, whole - 100.0], [0, 10.0]]):
        with pytest.raises(ValueError, match="hours must add up to a year"):
            life.year_shares(rows)


def test_a_bulk_capacitor_that_runs_empty_has_no_ripple_current():
    """C V²/2 at the crest of 230 V against the power over half a period."""
    empty = 100e-6 * 2 * 230**2 / 2 / 0.01
    assert np.isfinite(
        life.rectifier_ripple_current(**BULK, load_power=0.999 * empty, conduction_time=0)
    )
    for power in (1.000005 * empty, [10.0, 1.01 * empty]):
        with pytest.raises(ValueError, match="runs empty"):
            life.rectifier_ripple_current(**BULK, load_power=power, conduction_time=0)
