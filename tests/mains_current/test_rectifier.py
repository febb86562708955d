"""The rectifier, pencil laws, filter corners and harmonic limits against outside figures."""

import inspect

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from rectifier_ivp import settle
from simulator import simulate

from adapterlab import mains_current as section
from adapterlab.mains_current import (
    available_power,
    corner_attenuation,
    differential_inductance,
    distortion_factor,
    filter_corner,
    harmonic_limits,
    rc_corner,
    rectifier_steady_state,
    sinusoidal_power_factor,
    small_ripple_rectifier,
    total_harmonic_distortion,
    valley_voltage,
)

# Order: mains voltage and frequency, power, capacitance, source resistance and inductance, series
# resistance of the capacitor, drop and resistance of the diodes, load resistance; as the netlists.
NETLISTS = {
    "light": (230, 50, 1, 470e-6, 0.5, 10e-6, 0.1, 1.4, 0.05, None),
    "small": (264, 63, 1, 1e-6, 5, 0, 2, 1.2, 0.1, None),
    "heavy": (90, 47, 150, 470e-6, 0.3, 20e-6, 0.05, 1.6, 0.05, None),
    "adapter_230": (230, 50, 63, 107e-6, 1.35, 10e-6, 0.45, 1.5, 0.06, None),
    "adapter_115": (115, 60, 63, 107e-6, 1.35, 10e-6, 0.45, 1.5, 0.06, None),
    "valley": (230, 50, 30, 6.8e-6, 2, 0, 0.3, 1.0, 0.1, None),
    "inductive": (230, 50, 100, 100e-6, 1, 10e-3, 0.2, 1.5, 0.1, None),
    "ringing": (230, 50, 20, 10e-6, 0.3, 500e-6, 0.1, 1.0, 0.02, None),
    "resistive": (120, 60, 0, 100e-6, 0.2, 0, 0.1, 1.4, 0.05, 500),
    "resistance": (264, 50, 150, 220e-6, 8, 100e-6, 0.5, 1.4, 0.1, None),
}


def solved(case):
    *arguments, load_resistance = case
    return rectifier_steady_state(*arguments, load_resistance=load_resistance)


class TestAgainstTheSimulator:
    """ngspice: the same constant drop and resistance; its junctions are sharp (n = 0.01)."""

    @pytest.mark.parametrize("name", NETLISTS)
    def test_every_figure(self, name):
        printed, found = simulate(f"mains_current_{name}"), solved(NETLISTS[name])
        for figure in (
            "bulk_voltage_max",
            "bulk_voltage_min",
            "bulk_voltage_mean",
            "input_current_rms",
            "input_current_peak",
            "input_power",
            "capacitor_current_rms",
        ):
            assert_allclose(getattr(found, figure), printed[figure], rtol=3e-3, err_msg=figure)
        # The simulator counts the current as flowing above 0.2 mA only.
        assert_allclose(found.conduction_angle / 180, printed["conducting"], rtol=6e-3)
        lines = {
            order: np.sqrt(2) * np.hypot(printed[f"cosine_{order}"], printed[f"sine_{order}"])
            for order in (1, 3, 5, 11)
        }
        for order, value in lines.items():
            assert_allclose(
                found.harmonic_currents[order - 1], value, rtol=3e-3, atol=3e-4 * lines[1]
            )
        apparent = NETLISTS[name][0] * printed["input_current_rms"]
        assert_allclose(found.power_factor, printed["input_power"] / apparent, rtol=3e-3)
        displacement = printed["sine_1"] * np.sqrt(2) / lines[1]
        assert_allclose(found.displacement_factor, abs(displacement), rtol=3e-3)
        distortion = np.sqrt(printed["input_current_rms"] ** 2 - lines[1] ** 2) / lines[1]
        assert_allclose(found.total_harmonic_distortion, distortion, rtol=3e-3)

    @pytest.mark.parametrize("name", ["adapter_230", "heavy", "resistance"])
    def test_third_opinion(self, name):
        """scipy's general solver, with events, cycle after cycle."""
        volts, hertz, power, store, series, coil, esr, drop, diodes, _ = NETLISTS[name]
        found = solved(NETLISTS[name])
        time, current, bulk = settle(
            volts, hertz, power, store, series + diodes, coil, esr, drop, 5
        )  # fmt: skip
        source = np.sqrt(2) * volts * np.sin(2 * np.pi * hertz * time)
        mean = np.trapezoid(np.array([current**2, source * current, bulk]), time, axis=1) * hertz
        assert_allclose(found.input_current_rms, np.sqrt(mean[0]), rtol=1e-3)
        assert_allclose(found.input_power, mean[1], rtol=1e-3)
        assert_allclose(found.bulk_voltage_mean, mean[2], rtol=1e-3)
        assert_allclose(found.bulk_voltage_min, bulk.min(), rtol=1e-3)
        assert_allclose(found.input_current_peak, current.max(), rtol=1e-3)
        moved = np.interp(found.time, time - time[0], current)
        assert np.abs(found.input_current - moved).max() < 0.02 * current.max()


# Ideal source and diodes, computed by an independent exact solver, no printed answer: mains, Hz,
# load, capacitance; valley [V], conduction [degrees], peak, rms and capacitor current [A], power
# factor, distortion and harmonics 3, 5, 7, 9 [%].
IDEAL = [
    (85, 60, 18.75, 33e-6, 86.35, 50.1, 1.257, 0.3910, 0.3470, 0.5642, 121.7, (84.1, 58.5, 33.9, 22.3)),
    (115, 60, 25, 47e-6, 138.61, 34.6, 1.688, 0.4337, 0.4009, 0.5012, 158.7, (92.1, 77.9, 60.0, 42.2)),
    (230, 50, 25, 22e-6, 293.94, 27.3, 1.048, 0.2382, 0.2242, 0.4563, 185.2, (95.0, 85.7, 73.1, 58.8)),
    (230, 50, 50, 33e-6, 283.96, 31.8, 1.821, 0.4479, 0.4169, 0.4853, 167.8, (93.3, 81.0, 65.1, 48.3)),
    (100, 50, 38, 82e-6, 112.90, 41.3, 2.530, 0.7126, 0.6477, 0.5332, 140.4, (88.9, 69.8, 47.9, 30.0)),
    (120, 60, 500.0, 100e-6, 147.83, 32.5, 3.438, 0.8615, 0.8003, 0.4914, 165.1, (93.0, 80.2, 63.8, 46.6)),
]  # fmt: skip


@pytest.mark.parametrize("row", IDEAL, ids=lambda row: f"{row[0]} V {row[3] * 1e6:.0f} uF")
def test_ideal_source(row):
    volts, hertz, load, store, valley, angle, peak, rms, ripple, factor, thd, lines = row
    resistive = load == 500
    found = rectifier_steady_state(
        volts, hertz, 0 if resistive else load, store, 1e-5, load_resistance=500 if resistive else None
    )  # fmt: skip
    assert_allclose(found.bulk_voltage_min, valley, atol=0.006)
    assert_allclose(found.conduction_angle, angle, atol=0.06)
    # Peaks are printed to 1 mA; 10 microohm take a little off the kink.
    assert_allclose(found.input_current_peak, peak, rtol=6e-4)
    assert_allclose(found.input_current_rms, rms, rtol=2e-4)
    assert_allclose(found.capacitor_current_rms, ripple, rtol=2e-4)
    assert_allclose(found.power_factor, factor, atol=1e-4)
    assert_allclose(found.total_harmonic_distortion * 100, thd, atol=0.06)
    shares = found.harmonic_currents[2:9:2] / found.harmonic_currents[0] * 100
    assert_allclose(shares, lines, atol=0.06)


class TestRectifier:
    volts = st.floats(90, 264)
    hertz = st.floats(47, 63)
    load = st.floats(1, 150)
    store = st.floats(1e-6, 470e-6)
    series = st.floats(0.2, 8)
    coil = st.floats(0, 300e-6)

    @settings(max_examples=60)
    @given(volts, hertz, load, store, series, coil)
    def test_balance_and_identities(self, volts, hertz, load, store, series, coil):
        """Power in = load + what the resistances take; Parseval; the product of two factors."""
        assume(load / (2 * np.pi * hertz * store * volts**2) < 0.3)
        try:
            found = rectifier_steady_state(volts, hertz, load, store, series, coil, 0.0, 1.4, 0.1)
        except ValueError:
            # Only a source too weak for its load, or a small capacitor, may be refused.
            assert series * load > 0.02 * volts**2 or store < 20e-6
            return
        lost = (series + 0.1) * found.input_current_rms**2
        mean = np.abs(found.input_current).mean()
        assert_allclose(found.input_power, load + lost + 1.4 * mean, rtol=3e-3)
        assert_allclose(
            found.power_factor,
            sinusoidal_power_factor(
                found.displacement_factor, found.total_harmonic_distortion
            ),
            rtol=1e-9,
        )  # fmt: skip
        assert (found.harmonic_currents**2).sum() <= found.input_current_rms**2 * (1 + 1e-4)
        assert found.bulk_voltage_min < found.bulk_voltage_mean < found.bulk_voltage_max

    def test_waveforms_hold_the_figures(self):
        found = rectifier_steady_state([115, 230], 50, 60, 100e-6, 1.5, 20e-6, 0.4, 1.5, 0.05)
        assert found.input_current.shape == found.bulk_voltage.shape == (2, 1000)
        assert_allclose(np.sqrt((found.input_current**2).mean(axis=1)), found.input_current_rms, rtol=2e-3)  # fmt: skip
        assert_allclose(found.bulk_voltage.mean(axis=1), found.bulk_voltage_mean, rtol=1e-4)
        power = (found.source_voltage * found.input_current).mean(axis=1)
        assert_allclose(power, found.input_power, rtol=2e-3)
        lines = np.abs(np.fft.rfft(found.input_current)[:, 1:41]) * np.sqrt(2) / 1000
        assert_allclose(lines, found.harmonic_currents, atol=2e-4)

    def test_shapes(self):
        alone = rectifier_steady_state(230, 50, 25, 22e-6, 1.0)
        assert type(alone.power_factor) is float
        assert alone.harmonic_currents.shape == (40,)
        assert alone.time.shape == (1000,)
        table = rectifier_steady_state(
            np.array([115.0, 230.0])[:, None], 50, 25, np.array([47e-6, 68e-6, 100e-6]), 1.0
        )
        assert table.power_factor.shape == (2, 3)
        assert table.harmonic_currents.shape == (2, 3, 40)
        single = rectifier_steady_state(230, 50, 25, 68e-6, 1.0)
        assert_allclose(table.input_current_rms[1, 1], single.input_current_rms, rtol=1e-7)

    def test_wider_pulses_draw_lower_peaks(self):
        by_series = rectifier_steady_state(230, 50, 60, 100e-6, [0.5, 1, 2, 4, 8])
        assert (np.diff(by_series.input_current_peak) < 0).all()
        assert (np.diff(by_series.power_factor) > 0).all()
        by_store = rectifier_steady_state(230, 50, 60, np.array([33, 68, 150, 330]) * 1e-6, 1.0)
        assert (np.diff(by_store.power_factor) < 0).all()
        assert (np.diff(by_store.bulk_voltage_min) > 0).all()

    def test_small_ripple_limit(self):
        """A huge capacitor: the pencil formula for the ripple, less the pulse's own share."""
        found = rectifier_steady_state(230, 50, 10, 470e-6, 1e-3)
        ripple = found.bulk_voltage_max - found.bulk_voltage_min
        pencil = small_ripple_rectifier(np.sqrt(2) * 230, 50, 10 / found.bulk_voltage_mean, 470e-6)
        share = 1 - found.conduction_angle / 180
        assert_allclose(ripple, pencil.ripple_voltage * share, rtol=0.05)
        assert_allclose(found.conduction_angle, pencil.conduction_angle, rtol=0.08)

    @pytest.mark.parametrize(
        ("change", "message"),
        [
            ({"load_power": 0}, "load_power must be finite and > 0"),
            ({"load_power": -5}, "load_power"),
            ({"bulk_capacitance": 0}, "bulk_capacitance must be finite and > 0"),
            ({"source_resistance": -1}, "source_resistance must be finite and >= 0"),
            ({"source_inductance": -1e-6}, "source_inductance"),
            ({"mains_voltage": float("nan")}, "mains_voltage"),
            ({"mains_frequency": 0}, "mains_frequency"),
            ({"bridge_drop": 400}, "bridge_drop must be below the crest"),
            ({"load_resistance": 0}, "load_resistance"),
            ({"bulk_capacitance": 2e-6}, "no steady state.*runs empty.*too small"),
            ({"bulk_capacitance": [100e-6, 2e-6]}, "no steady state.*bulk_capacitance 2e-06 F"),
            ({"source_resistance": 600}, "no steady state.*source is too weak"),
            ({"source_inductance": 3.0, "load_power": 20}, "keeps the current flowing"),
        ],
    )  # fmt: skip
    def test_refusals(self, change, message):
        usual = {
            "mains_voltage": 230,
            "mains_frequency": 50,
            "load_power": 60,
            "bulk_capacitance": 100e-6,
            "source_resistance": 1.0,
        }
        with pytest.raises(ValueError, match=message):
            rectifier_steady_state(**(usual | change))


class TestPencil:
    def test_single_diode(self):
        """Sedra and Smith, Microelectronic Circuits, example 3.9, p. 181."""
        found = small_ripple_rectifier(100, 60, 100 / 10e3, 83.3e-6, pulses_per_period=1)
        assert_allclose(found.ripple_voltage, 2.0, atol=0.005)
        assert_allclose(np.radians(found.conduction_angle), 0.2, atol=0.05)
        assert_allclose(found.conducting_current, 0.324, atol=0.0005)
        assert_allclose(found.peak_current, 0.638, atol=0.0005)

    def test_bridge(self):
        """Neamen, Electronic Circuit Analysis and Design, example 2.2, p. 59."""
        assert_allclose(small_ripple_rectifier(10, 60, 1e-3, 41.67e-6).ripple_voltage, 0.2, atol=5e-5)  # fmt: skip

    def test_supply(self):
        """Jacob, Power Electronics, example 9.1, p. 457: 28 V, 4700 uF, 16 ohm, drop 2 V."""
        peak = np.sqrt(2) * 28 - 2
        found = small_ripple_rectifier(37.6, 60, 35.7 / 16, 4700e-6)
        assert_allclose(peak, 37.6, atol=0.05)
        assert_allclose(found.ripple_voltage, 3.96, atol=0.005)
        assert_allclose(found.mean_voltage, 35.62, atol=0.005)

    def test_light_load(self):
        """Boylestad and Nashelsky, Electronic Devices and Circuit Theory, examples 15.3 to 15.5."""
        found = small_ripple_rectifier(30, 60, 50e-3, 100e-6)
        assert_allclose(found.ripple_voltage_rms, 1.2, atol=0.05)
        assert_allclose(found.mean_voltage, 27.9, atol=0.05)
        assert_allclose(100 * found.ripple_voltage_rms / found.mean_voltage, 4.3, atol=0.05)

    def test_ripple_factor(self):
        """Floyd, Electronic Devices, chapter 2: 115 V 10:1, 50 uF, 2.2 kohm, drop 1.4 V."""
        peak = np.sqrt(2) * 11.5 - 1.4
        found = small_ripple_rectifier(peak, 60, peak / 2.2e3, 50e-6)
        assert_allclose(found.ripple_voltage / found.mean_voltage, 0.079, atol=5e-4)

    def test_valley(self):
        """Power Integrations AN-17 rev. C (1996), p. 8: 85 V, 15 W at 80 %, 33 uF, tc 3.2 ms."""
        assert_allclose(valley_voltage(85, 60, 15 / 0.8, 33e-6, 3.2e-3), 93, atol=0.5)
        assert_allclose(np.sqrt(2) * 265, 375, atol=0.5)

    def test_valley_with_the_true_time(self):
        """With the conduction time that the rectifier finds, both say about the same."""
        found = rectifier_steady_state(85, 60, 18.75, 33e-6, 1e-5)
        time = found.conduction_angle / 360 / 60
        # The pencil takes the discharge from the crest; it starts a little later and lower.
        assert_allclose(valley_voltage(85, 60, 18.75, 33e-6, time), found.bulk_voltage_min, rtol=0.02)  # fmt: skip

    @pytest.mark.parametrize(
        ("call", "message"),
        [
            (lambda: small_ripple_rectifier(10, 60, 1, 1e-6), "ripple below a quarter"),
            (lambda: small_ripple_rectifier(10, 60, 1e-3, 1e-3, 3), "pulses_per_period must be 1 or 2"),
            (lambda: valley_voltage(85, 60, 100, 10e-6, 1e-3), "too small to hold"),
            (lambda: valley_voltage(85, 60, 10, 100e-6, 9e-3), "below half a period"),
        ],
    )  # fmt: skip
    def test_ends_of_validity(self, call, message):
        with pytest.raises(ValueError, match=message):
            call()


class TestPowerFactor:
    def test_peak_rectifier_spectrum(self):
        """Erickson and Maksimovic, Fundamentals of Power Electronics, 3rd ed., fig. 20.7."""
        lines = [100, 91, 73, 52, 32, 19, 15, 15, 13, 9]
        thd = total_harmonic_distortion(lines)
        assert_allclose(100 * thd, 136, atol=0.5)
        assert_allclose(100 * distortion_factor(thd), 59, atol=0.5)

    @pytest.mark.parametrize(
        ("third", "factor", "within"), [(10, 99.5, 0.05), (20, 98, 0.5), (33, 95, 0.5)]
    )
    def test_third_harmonic(self, third, factor, within):
        """The same book, section 20.3.2, p. 856."""
        assert_allclose(100 * distortion_factor(third / 100), factor, atol=within)

    def test_outlet(self):
        """The same book, equations 20.27 and 20.28, p. 857; it truncates 1325.8."""
        assert_allclose(available_power(120, 0.8 * 15, 0.55, 0.98), 776, atol=0.5)
        assert_allclose(available_power(120, 0.8 * 15, 0.99, 0.93), 1325, atol=0.89)

    def test_product(self):
        """Batarseh and Harb, Power Electronics, equations 3.57 to 3.59, p. 129."""
        assert_allclose(sinusoidal_power_factor(0.98, 1.2), 0.627381, atol=1e-6)
        thd = total_harmonic_distortion([1.0, 0.8, 0.55, 0.3])
        assert_allclose([thd, sinusoidal_power_factor(0.95, thd)], [1.01612, 0.666359], atol=1e-5)

    def test_refusals(self):
        with pytest.raises(ValueError, match="must start with a fundamental > 0"):
            total_harmonic_distortion([0, 1])
        with pytest.raises(ValueError, match="displacement_factor"):
            sinusoidal_power_factor(1.2, 1)


class TestLimits:
    @pytest.mark.parametrize(
        ("kind", "power", "order", "limit"),
        [
            # IEC 61000-3-2 tables as printed in a test report.
            ("D", 90, 3, 0.306),
            ("D", 90, 5, 0.171),
            ("D", 90, 9, 0.045),
            ("D", 90, 11, 0.0315),
            ("A", 90, 10, 0.184),
            ("A", 90, 3, 2.30),
            ("A", 90, 13, 0.21),
            ("A", 90, 39, 0.15 * 15 / 39),
            ("D", 90, 39, 3.85e-3 / 39 * 90),
            # Worked example in a public mailing list of the trade (emc-pstc, message 11114).
            ("D", 500, 3, 1.7),
            ("D", 1000, 3, 2.3),
        ],
    )
    def test_printed(self, kind, power, order, limit):
        assert_allclose(harmonic_limits(kind, power)[order - 2], limit, rtol=1e-12)

    def test_masks(self):
        assert harmonic_limits("A", 75).mask.all()
        assert harmonic_limits("A", 75.1).count() == 39
        per_watt = harmonic_limits("D", [60, 90])
        assert per_watt.shape == (2, 39)
        assert per_watt[0].count() == 0
        assert per_watt[1].count() == 19
        assert harmonic_limits("D", 60, threshold=0)[1] == pytest.approx(3.4e-3 * 60)

    def test_refusals(self):
        with pytest.raises(ValueError, match="equipment_class must be one of A, D"):
            harmonic_limits("C", 90)
        with pytest.raises(ValueError, match="input_power"):
            harmonic_limits("A", 0)


class TestFilter:
    def test_paul(self):
        """Paul, Scully and Steffka, Introduction to EMC, 3rd ed., section 6.2 and its problems."""
        assert_allclose(filter_corner(2 * 1e-3, 3300e-12).frequency, 62e3, atol=0.5e3)
        assert_allclose(rc_corner(50, 3300e-12), 965e3, atol=0.5e3)
        assert_allclose(rc_corner(50, 2200e-12), 1.45e6, atol=0.005e6)
        assert_allclose(rc_corner(50, 0.203e-6), 15.7e3, atol=0.05e3)
        assert_allclose(differential_inductance(28e-3, [0.98, 0.95]), [560e-6, 1.4e-3], rtol=1e-3)
        assert_allclose(filter_corner(1e-3, 10e-12).frequency, 1.6e6, atol=0.05e6)

    def test_characteristic_impedance(self):
        """Erickson and Maksimovic, 3rd ed., section 17.4.1: 330 uH and 470 uF."""
        assert_allclose(filter_corner(330e-6, 470e-6).characteristic_impedance, 0.84, atol=0.005)

    def test_corner_for_forty_decibels(self):
        """Wuerth Elektronik article (2022), pp. 11-12: corner at one tenth of the frequency."""
        assert_allclose(corner_attenuation(150e3, 15e3), 40, rtol=1e-12)
        # Computed, not printed there: 39 mH with 4.4 nF at 150 kHz, 43.7 dB.
        corner = filter_corner(39e-3, 4.4e-9).frequency
        assert_allclose(corner_attenuation(150e3, corner), 43.7, atol=0.05)
        assert corner_attenuation(1e3, 15e3) == 0

    def test_refusals(self):
        with pytest.raises(ValueError, match="coupling must be below 1"):
            differential_inductance(1e-3, 1.0)
        with pytest.raises(ValueError, match="capacitance"):
            filter_corner(1e-3, 0)


def test_signature_is_the_agreed_one():
    names = list(inspect.signature(section.rectifier_steady_state).parameters)
    assert names[:9] == [
        "mains_voltage",
        "mains_frequency",
        "load_power",
        "bulk_capacitance",
        "source_resistance",
        "source_inductance",
        "bulk_esr",
        "bridge_drop",
        "bridge_resistance",
    ]


# A flat top as sockets have it, two humps, and the limits of EN 50160 with angles at random.
WAVES = (
    ((5, 0.02, np.pi),),
    ((3, 0.02, 0.0), (5, 0.02, np.pi), (7, 0.01, 0.0)),
    ((3, 0.04, 0.3), (5, 0.05, 2.5), (7, 0.03, -1.0), (11, 0.02, 1.0)),
)


class TestDistortedMains:
    @pytest.mark.parametrize("wave", WAVES)
    @pytest.mark.parametrize(
        "case",
        [
            (230, 50, 63, 107e-6, 1.35, 10e-6, 0.45, 1.5, 0.06),
            (115, 60, 63, 107e-6, 1.35, 10e-6, 0.45, 1.5, 0.06),
            (230, 50, 5, 47e-6, 3.0, 200e-6, 0.9, 1.5, 0.06),
        ],
    )
    def test_against_the_general_solver(self, case, wave):
        """Another algorithm: scipy's solver with events, period after period until it settles."""
        volts, hertz, power, store, ohms, coil, esr, drop, diodes = case
        time, current, held = settle(
            volts, hertz, power, store, ohms + diodes, coil, esr, drop, 25, harmonics=wave
        )
        found = rectifier_steady_state(*case, harmonics=shape_of(wave))
        rms = np.sqrt(np.mean(current[:-1] ** 2))
        assert_allclose(found.input_current_rms, rms, rtol=2e-4)
        assert_allclose(found.input_current_peak, current.max(), rtol=1e-3)
        assert_allclose(found.bulk_voltage_min, held.min(), rtol=2e-4)
        angle = 2 * np.pi * hertz * time[:-1]
        first = np.mean(current[:-1] * np.exp(-1j * angle))
        assert_allclose(found.harmonic_currents[0], np.sqrt(2) * abs(first), rtol=5e-4)
        shift = np.cos(np.angle(1j * first))
        assert_allclose(found.displacement_factor, shift, rtol=5e-4)

    def test_a_sine_in_many_orders_is_a_sine(self):
        plain = rectifier_steady_state(230, 50, 25, 22e-6, 1.0)
        same = rectifier_steady_state(230, 50, 25, 22e-6, 1.0, harmonics=[1, 0, 0, 0, 0])
        assert same.input_current_rms == plain.input_current_rms

    def test_a_flat_top_makes_a_wide_pulse(self):
        flat = rectifier_steady_state(230, 50, 25, 47e-6, 1.0, harmonics=[1, 0, 0.03])
        sine = rectifier_steady_state(230, 50, 25, 47e-6, 1.0)
        assert flat.input_current_peak < 0.95 * sine.input_current_peak
        assert flat.conduction_angle > sine.conduction_angle

    def test_even_orders_are_refused(self):
        with pytest.raises(ValueError, match="harmonics must be 0 at even orders"):
            rectifier_steady_state(230, 50, 25, 22e-6, 1.0, harmonics=[1, 0.01])


def shape_of(wave):
    found = np.zeros(max(order for order, _, _ in wave), dtype=complex)
    found[0] = 1.0
    for order, share, lag in wave:
        found[order - 1] = share * np.exp(1j * lag)
    return found
