"""Tests for the parts section's equations. Every expected value states where it comes from."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from adapterlab.parts import (
    KINDS,
    SERIES,
    capacitance_from_code,
    discs_from_code,
    fuse_breaking_capacity,
    fuse_from_code,
    fuse_gate,
    impulse_test_voltage,
    nearest_preferred,
    preferred_series,
    preferred_values,
    read_marking,
    resistance_from_code,
    safety_class_row,
    tolerance_from_letter,
    voltage_from_code,
)
from adapterlab.published import rows

LETTERS = [row["letter"] for row in rows("parts", "tolerance_letters")]


@pytest.mark.parametrize(
    ("code", "farad", "tolerance"),
    [
        pytest.param("222K", 2.2e-9, 0.1, id="222K, table for hobbyists: 2.2 nF, 10 %"),
        pytest.param("105K", 1e-6, 0.1, id="105K, rated-capacitance page: 1 uF"),
        pytest.param("105", 1e-6, None, id="105, tables.md S2 of IEC 60062 codes: 1 uF"),
        pytest.param("474", 470e-9, None, id="474, the same: 470 nF"),
        pytest.param("102M", 1e-9, 0.2, id="102M: two figures and a power of ten in pF"),
        pytest.param("224J", 0.22e-6, 0.05, id="224J, the same rule"),
        pytest.param("100", 10e-12, None, id="100 is 10 pF, not 100"),
        pytest.param("227", 220e-6, None, id="227, tantalum (common practice)"),
        pytest.param("229", 2.2e-12, None, id="last figure 9 divides by ten (EIA, from memory)"),
        pytest.param("228", 0.22e-12, None, id="last figure 8 divides by 100 (EIA, from memory)"),
        pytest.param("47J", 47e-12, 0.05, id="two plain figures are pF (common practice)"),
        pytest.param("4R7", 4.7e-12, None, id="R in the place of the point, pF"),
        pytest.param("R50", 0.5e-12, None, id="R first"),
        pytest.param("4n7", 4.7e-9, None, id="IEC 60062 letter code (from memory)"),
        pytest.param("n47K", 0.47e-9, 0.1, id="letter first, with tolerance"),
        pytest.param("1µ0", 1e-6, None, id="micro sign"),
        pytest.param("56uF", 56e-6, None, id="written out"),
        pytest.param("0.1uF", 0.1e-6, None, id="written out with a point"),
        pytest.param("A3", 1e-9, None, id="EIA-198: A is 1.0, times 1000 pF (from memory)"),
        pytest.param("S2", 470e-12, None, id="EIA-198: S is 4.7, times 100 pF (from memory)"),
    ],
)  # fmt: skip
def test_capacitor_codes(code, farad, tolerance):
    found = capacitance_from_code(code)
    assert_allclose(found.capacitance, farad, rtol=1e-9)
    assert found.tolerance == tolerance


@pytest.mark.parametrize(
    ("letter", "down", "up"),
    [("F", -1, 1), ("G", -2, 2), ("H", -3, 3), ("J", -5, 5), ("K", -10, 10), ("M", -20, 20),
     ("N", -30, 30), ("T", -10, 50), ("P", 0, 100), ("Z", -20, 80)],
)  # fmt: skip
def test_tolerance_letters_printed(letter, down, up):
    """Table of tolerance letters for hobbyists, in per cent (IEC 60062)."""
    assert_allclose(tolerance_from_letter(letter), (down / 100, up / 100), rtol=1e-12)


@pytest.mark.parametrize(("letter", "picofarad"), [("B", 0.1), ("C", 0.25), ("D", 0.5)])
def test_small_capacitors_have_tolerances_in_picofarads(letter, picofarad):
    """The same table: B 0.1, C 0.25, D 0.5 pF; here on 5 pF."""
    found = capacitance_from_code(f"5R0{letter}")
    assert_allclose(found.highest - found.capacitance, picofarad * 1e-12, rtol=1e-9)
    assert_allclose(found.capacitance - found.lowest, picofarad * 1e-12, rtol=1e-9)


def test_lopsided_tolerances_keep_their_sides():
    found = capacitance_from_code("103Z")
    assert_allclose([found.lowest, found.highest], [8e-9, 18e-9], rtol=1e-12)
    assert found.tolerance == 0.8


@pytest.mark.parametrize(
    ("code", "ohm", "tolerance"),
    [
        ("105", 1e6, None), ("154", 150e3, None), ("1003", 100e3, None), ("4992F", 49.9e3, 0.01),
        ("R22", 0.22, None), ("4R7", 4.7, None), ("4k7", 4.7e3, None), ("4K7J", 4.7e3, 0.05),
        ("1M0", 1e6, None), ("0.22R", 0.22, None), ("000", 0.0, None), ("01C", 10e3, 0.01),
        ("68X", 49.9, 0.01),
    ],
)  # fmt: skip
def test_resistor_codes(code, ohm, tolerance):
    """IEC 60062 forms, worked by hand; 01C and 68X (100 and 499 of E96) from memory."""
    found = resistance_from_code(code)
    assert_allclose(found.resistance, ohm, rtol=1e-9)
    assert found.tolerance == tolerance


@pytest.mark.parametrize(
    ("code", "volt"),
    [("1H", 50), ("2A", 100), ("2G", 400), ("2J", 630), ("3A", 1000), ("3D", 2000)],
)
def test_voltage_codes(code, volt):
    """EIA and JIS code, from memory."""
    assert voltage_from_code(code) == volt


def test_preferred_values_of_the_coarse_series():
    """E6 as printed in many places; what E12 adds from memory (IEC 60063)."""
    assert preferred_values("E6").tolist() == [1.0, 1.5, 2.2, 3.3, 4.7, 6.8]
    assert set(preferred_values("E12")) - set(preferred_values("E6")) == {
        1.2, 1.8, 2.7, 3.9, 5.6, 8.2,
    }  # fmt: skip


@pytest.mark.parametrize("series", SERIES)
def test_preferred_values_are_a_geometric_progression(series):
    """Independent: 10^(k/N), within the rounding and, up to E24, the steps set by the standard."""
    count = int(series[1:])
    values = preferred_values(series)
    exact = 10 ** (np.arange(count) / count)
    assert len(values) == count
    assert (np.diff(values) > 0).all()
    assert_allclose(values, exact, rtol=0.06 if count <= 24 else 0.005)
    digits = 1 if count <= 24 else 2
    assert_allclose(values, np.round(values, digits), rtol=1e-12)


def test_the_exception_of_the_finest_series():
    """IEC 60063: 9.20 in E192, where the formula gives 9.19 (from memory)."""
    assert 9.20 in preferred_values("E192")
    assert round(10 ** (185 / 192), 2) == 9.19


def test_coarse_series_lie_in_finer_ones():
    for coarse, fine in (("E3", "E6"), ("E6", "E12"), ("E12", "E24"), ("E48", "E96")):
        assert set(preferred_values(coarse)) <= set(preferred_values(fine))


@given(st.sampled_from(SERIES), st.integers(0, 191), st.integers(-12, 6))
def test_a_preferred_value_is_its_own_nearest(series, place, exponent):
    values = preferred_values(series)
    value = values[place % len(values)] * 10.0**exponent
    found = nearest_preferred(value, series)
    assert_allclose(found.value, value, rtol=1e-9)
    assert abs(found.deviation) < 1e-9


@given(st.floats(1e-12, 1e9))
def test_nearest_value_is_within_half_a_step(value):
    """A step of E24 is at most 1.5/1.3 (the standard's own); half of it by ratio is 7.5 %."""
    found = nearest_preferred(value, "E24")
    assert abs(np.log(value / found.value)) <= np.log(1.5 / 1.3) / 2 + 1e-9


@given(st.integers(10, 99), st.integers(0, 6), st.sampled_from(["", *LETTERS]))
def test_three_figures_say_what_they_say(figures, power, letter):
    found = capacitance_from_code(f"{figures}{power}{letter}")
    assert_allclose(found.capacitance, figures * 10.0**power * 1e-12, rtol=1e-5)
    assert (found.tolerance is None) == (letter == "")


@given(st.text(max_size=8))
def test_any_text_is_read_or_refused(text):
    """Nothing but ValueError, and nothing but a positive number."""
    try:
        found = capacitance_from_code(text)
    except ValueError:
        return
    assert found.capacitance > 0


@given(st.text(max_size=24), st.sampled_from(KINDS))
def test_any_marking_is_read_or_refused(text, kind):
    try:
        found = read_marking(text, kind)
    except ValueError:
        return
    assert found.value is None or found.value >= 0
    assert len(found.unread) <= len(text.split())


@pytest.mark.parametrize(
    ("marked", "kind", "expected"),
    [
        ("102M Y1", "capacitor", (1e-9, 0.2, None, "Y1")),
        ("Y1 102M", "capacitor", (1e-9, 0.2, None, "Y1")),
        ("224K X2 275VAC", "capacitor", (0.22e-6, 0.1, 275.0, "X2")),
        ("56uF 400V 105C", "capacitor", (56e-6, None, 400.0, "")),
        ("105C 56uF 400V", "capacitor", (56e-6, None, 400.0, "")),
        ("330 25", "capacitor", (330e-6, None, 25.0, "")),
        ("2A104K", "capacitor", (0.1e-6, 0.1, 100.0, "")),
        ("222M 2kV", "capacitor", (2.2e-9, 0.2, 2000.0, "")),
        ("R22", "resistor", (0.22, None, None, "")),
        ("10D431K", "varistor", (430.0, 0.1, None, "")),
        ("8D-9", "thermistor", (8.0, None, None, "")),
        ("650V 0.15R", "transistor", (650.0, None, 650.0, "")),
        ("MB 1000V 1A", "bridge", (1000.0, None, 1000.0, "")),
        ("T2AL 250V", "fuse", (2.0, None, 250.0, "")),
    ],
)
def test_whole_markings(marked, kind, expected):
    """Pieces worked out by hand after the rules above (common practice of the trade)."""
    found = read_marking(marked, kind)
    value, tolerance, volts, safety_class = expected
    assert_allclose(found.value, value, rtol=1e-9)
    assert (found.tolerance, found.rated_voltage, found.safety_class) == (
        tolerance, volts, safety_class,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("code", "ohm", "millimetre"),
    [("5D-5", 5, 5), ("10D-5", 10, 5), ("3D-9", 3, 9), ("5D-9", 5, 9), ("8D-9", 8, 9),
     ("10D-9", 10, 9), ("22D-9", 22, 9), ("5D-11", 5, 11), ("10D-11", 10, 11)],
)  # fmt: skip
def test_thermistor_types_printed(code, ohm, millimetre):
    """A maker's table of inrush thermistors (MF72): type and resistance at 25 °C."""
    found = discs_from_code(code)
    assert found.value == ohm
    assert_allclose(found.diameter, millimetre * 1e-3)


@pytest.mark.parametrize(
    ("sheet", "current", "multiple", "shortest", "longest"),
    [
        ("3", 2.0, 1.5, 3600, None), ("3", 2.0, 2.1, None, 120), ("3", 2.0, 2.75, 0.6, 10),
        ("3", 2.0, 4, 0.15, 3), ("3", 2.0, 10, 0.02, 0.3),
        ("5", 3.15, 1.5, 3600, None), ("5", 3.15, 2.1, None, 1800), ("5", 3.15, 2.75, 0.75, 80),
        ("5", 3.15, 4, 0.095, 5), ("5", 3.15, 10, 0.01, 0.1),
        ("5", 5.0, 4, 0.15, 5), ("5", 5.0, 10, 0.02, 0.1),
    ],
)  # fmt: skip
def test_fuse_gates_printed(sheet, current, multiple, shortest, longest):
    """IEC 60127-2 sheets 3 and 5, as printed in makers' data sheets (213; 215 and 5HT)."""
    gate = fuse_gate(multiple, sheet, current)
    assert (gate.shortest, gate.longest) == (shortest, longest)


@pytest.mark.parametrize(
    ("code", "ampere", "speed", "volt", "sheet"),
    [("T2AL 250V", 2, "time-lag", 250, "3"), ("T3.15AH250V", 3.15, "time-lag", 250, "5"),
     ("F 500 mA L 250 V", 0.5, "quick acting", 250, "2"), ("1.6A", 1.6, "", None, "")],
)  # fmt: skip
def test_fuse_markings(code, ampere, speed, volt, sheet):
    """IEC 60127 letters, from memory."""
    fuse = fuse_from_code(code)
    assert_allclose(fuse.rated_current, ampere)
    assert (fuse.speed, fuse.rated_voltage, fuse.sheet) == (speed, volt, sheet)


@pytest.mark.parametrize(
    ("name", "farad", "volt"),
    [("X1", 1e-6, 4000), ("X1", 4e-6, 2000), ("X2", 0.22e-6, 2500), ("X2", 2.25e-6, 2500 / 1.5),
     ("Y1", 4.7e-9, 8000), ("Y2", 4.7e-9, 5000), ("Y4", 1e-9, 2500)],
)  # fmt: skip
def test_impulses_of_safety_capacitors_printed(name, farad, volt):
    """IEC 60384-14 in capacitor makers' guides: 4 kV and 2.5 kV over the root of µF; 8, 5, 2.5 kV."""
    assert_allclose(impulse_test_voltage(name, farad), volt, rtol=1e-12)


def test_safety_classes_printed():
    """The same guides: Y1 bridges reinforced insulation, alone; of Y2 it takes two."""
    assert safety_class_row("Y1")["needed_in_series"] == 1
    assert safety_class_row("Y2")["needed_in_series"] == 2
    assert safety_class_row("Y1")["proof_voltage"] == 4000
    assert "needed_in_series" not in safety_class_row("X2")


@pytest.mark.parametrize(
    ("value", "series"),
    [(2.2e-9, "E3"), (1.5e-9, "E6"), (56e-6, "E12"), (150e3, "E6"), (1e6, "E3"), (4.99e3, "E96"),
     (5e-9, ""), (3e-6, "E24")],
)  # fmt: skip
def test_coarsest_series(value, series):
    """By the lists above; 10^(67/96) is 4.99, and E48 has 4.87 and 5.11 on either side of it."""
    assert preferred_series(value) == series


def test_shapes_and_types():
    assert type(nearest_preferred(5e-9).value) is float
    assert nearest_preferred(np.full((2, 3), 5e-9)).deviation.shape == (2, 3)
    assert type(impulse_test_voltage("X2", 1e-6)) is float
    assert impulse_test_voltage("Y1", [[1e-9], [2e-9]]).shape == (2, 1)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: capacitance_from_code("22"[:0]), "code must be a text"),
        (lambda: capacitance_from_code(222), "code must be a text"),
        (lambda: capacitance_from_code("22K2"), "code must be three figures"),
        (lambda: capacitance_from_code("000"), "code must be three figures"),
        (lambda: capacitance_from_code("012"), "code must be three figures"),
        (lambda: capacitance_from_code("Y1"), "code must be three figures"),
        (lambda: capacitance_from_code("222Q"), "letter must be one of B, C, D"),
        (lambda: capacitance_from_code("<b>222</b>"), "code must be three figures"),
        (lambda: capacitance_from_code("22\u0662"), "plain figures"),
        (lambda: fuse_from_code("T\u0662A"), "plain figures"),
        (lambda: resistance_from_code("97C"), "code must be three or four figures"),
        (lambda: resistance_from_code("yellow violet gold"), "code must be three or four"),
        (lambda: voltage_from_code("9A"), "code must be a figure from 0 to 4"),
        (lambda: voltage_from_code("2Q"), "one of the letters"),
        (lambda: tolerance_from_letter("k"), "letter must be one of"),
        (lambda: preferred_values("E5"), "series must be one of E3, E6"),
        (lambda: nearest_preferred(0), "value must be finite and > 0"),
        (lambda: preferred_series(1e-9, -1), "tolerance must be finite"),
        (lambda: fuse_from_code("slow"), "code must hold a rated current"),
        (lambda: fuse_from_code("T0A"), "code must hold a rated current"),
        (lambda: fuse_gate(3, "3"), "multiple must be one of 1.5, 2.1, 2.75, 4, 10"),
        (lambda: fuse_gate(2.1, "5", 5), "multiple must be one of 4, 10"),
        (lambda: fuse_gate(4, "1"), "sheet must be one of 3, 5"),
        (lambda: discs_from_code("D431"), "code must be such as '10D431K'"),
        (lambda: safety_class_row("Z1"), "safety_class must be one of X1, X2, X3, Y1"),
        (lambda: impulse_test_voltage("Y3", 1e-9), "must have an impulse test"),
        (lambda: impulse_test_voltage("X2", -1), "capacitance must be finite and > 0"),
        (lambda: read_marking("102", "inductor"), "kind must be one of capacitor"),
        (lambda: read_marking("", "capacitor"), "marked must be a text"),
        (lambda: read_marking("green", "resistor"), "marked can't be read as a code of a resistor"),
    ],
)
def test_rejections(call, match):
    with pytest.raises(ValueError, match=match):
        call()


@pytest.mark.parametrize(("rated", "most"), [(1, 35), (3.15, 35), (4, 40), (5, 50), (6.3, 63)])
def test_breaking_capacity_of_glass_fuses(rated, most):
    """A maker's sheet of fuses after IEC 60127-2 sheet 3, row by row (revision of 2014)."""
    assert fuse_breaking_capacity("3", rated) == most


def test_breaking_capacity_of_ceramic_fuses():
    """Another maker's sheet, IEC 60127-2 sheet 5: 1500 A at 250 V."""
    assert fuse_breaking_capacity("5", [1, 10]).tolist() == [1500, 1500]


@pytest.mark.parametrize(
    ("sheet", "rated", "match"), [("1", 1, "sheet"), ("3", 0, "rated_current"), ("3", 11, "at most 10 A")]
)  # fmt: skip
def test_breaking_capacity_outside_its_rows_is_refused(sheet, rated, match):
    with pytest.raises(ValueError, match=match):
        fuse_breaking_capacity(sheet, rated)


@pytest.mark.parametrize(
    ("marked", "kind", "second"),
    [
        ("102M 222M", "capacitor", 2.2e-9),
        ("56uF 400V 47uF", "capacitor", 47e-6),
        ("102M 102K", "capacitor", None),
        ("56uF 400V 105C", "capacitor", None),
        ("4k7 10k", "resistor", 10e3),
        ("102M Y1", "capacitor", None),
    ],
)
def test_a_second_value_contradicts_the_first(marked, kind, second):
    """IEC 60062 codes; a temperature or a class beside a value is no second one."""
    found = read_marking(marked, kind).second_value
    assert found == (None if second is None else pytest.approx(second))
