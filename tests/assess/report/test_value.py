"""How numbers are written: a table made by hand, and properties over magnitude, unit and doubt.

Rounding: JCGM 100:2008, 7.2.6 (at most two digits of uncertainty, the value to the same place).
Prefixes and their exponents: the SI brochure, 9th edition, table 7. That nobody writes kiloseconds,
millifarads or prefixes before percent, degrees, years and kilograms is common practice.
"""

import math
import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from adapterlab.assess.report import Value, span

PREFIXES = {"a": -18, "f": -15, "p": -12, "n": -9, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6,
            "G": 9, "T": 12}  # fmt: skip
PREFIXED = ("V", "A", "W", "Ω", "Hz", "J", "F", "H", "s", "m", "T")
BARE = ("°C", "K", "kg", "years", "h", "g/W", "per W", "A²s", "J/K", "kWh", "")
NUMBER = r"-?\d+(?:\.\d+)?"


def read(text, unit):
    """Numbers of a text in `unit`, and the last decimal place shown, by this test's own reading."""
    numbers = [float(found) for found in re.findall(NUMBER, text)]
    decimals = {len(found.partition(".")[2]) for found in re.findall(NUMBER, text)}
    if unit in ("%", "°", *BARE):
        assert not unit or text.rstrip(")0123456789. to-").endswith(unit) or f" {unit} (" in text
        return [number * (0.01 if unit == "%" else 1) for number in numbers], 0, decimals
    prefix = re.search(rf"([afpnµmkMGT]?){re.escape(unit)}(?=$| \()", text)[1]
    return [number * 10.0 ** PREFIXES[prefix] for number in numbers], PREFIXES[prefix], decimals


TABLE = [
    (Value(87e-6, 0.55e-6, "A"), "(87.0 ± 1.1) µA"),
    (Value(1.75e-9, 0.037e-9, "F"), "(1.75 ± 0.07) nF"),
    (Value(0.8963, 0.0009, "%"), "(89.63 ± 0.18) %"),
    (Value(0.998, 0.02, "A"), "(1.00 ± 0.04) A"),
    (Value(12345.0, 700.0, "h"), "(12300 ± 1400) h"),
    (Value(-3.2e-3, 0.1e-3, "V"), "(-3.20 ± 0.20) mV"),
    # Nothing known of the doubt: four digits, no zeros behind.
    (Value(4700.0, 0.0, "ohm"), "4.7 kohm"),
    (Value(0.0, 0.0, "A"), "0 A"),
    (Value(250e-6, 0.0, "A"), "250 µA"),
    (Value(1 / 3, 0.0, "%"), "33.33 %"),
    # The prefix belongs to the rounded number.
    (Value(999.96, 0.0, "V"), "1 kV"),
    (Value(999.6, 1.2, "V"), "(1.000 ± 0.002) kV"),
    (Value(0.9999996, 0.0, "A"), "1 A"),
    # Units that take none, and those that take few.
    (Value(0.5, 0.01, "°"), "(0.500 ± 0.020)°"),
    (Value(90.0, 0.0, "°"), "90°"),
    (Value(2000.0, 0.0, "kg"), "2000 kg"),
    (Value(0.004, 0.0, "years"), "0.004 years"),
    (Value(-0.0004, 0.0, "°C"), "-0.0004 °C"),
    (Value(2200e-6, 0.0, "F"), "2200 µF"),
    (Value(7200.0, 0.0, "s"), "7200 s"),
    # No minus before a zero; the prefix of what is left to see.
    (Value(-0.003, 0.1, "W"), "(0 ± 200) mW"),
    (Value(-0.0, 0.0, "V"), "0 V"),
    # Intervals: one prefix, one place for all three.
    (Value(1.2e-10, 1e-11, "F", (1e-10, 1.5e-10)), "120 pF (100 to 150)"),
    (Value(120e-12, 1e-11, "F", (98e-12, 144e-12)), "(120 ± 20) pF"),
    (Value(0.93, 0.07, "", (0.785, 1.08)), "0.93 ± 0.15"),
    (Value(7.2, 9.0, "years", (3.1, 14.0)), "7 years (3 to 14)"),
    (Value(43e-6, 5e-5, "H", (2.4e-6, 190e-6)), "43 µH (2 to 190)"),
    (Value(0.25, 0.1, "%", (0.12, 0.51)), "25 % (12 to 51)"),
    # An interval without width: as if nothing were known.
    (Value(5.0, 0.0, "V", (5.0, 5.0)), "5 V"),
    # Far outside what plain digits can show.
    (Value(1.2e-5, 1e-6, "A²s"), "(1.20 ± 0.20) × 10⁻⁵ A²s"),
    (Value(3e9, 0.0, "h"), "3 × 10⁹ h"),
    (Value(3e6, 0.0, "h"), "3000000 h"),
    (Value(3e7, 0.0, "h"), "3 × 10⁷ h"),
    (Value(0.0003, 0.0, "h"), "0.0003 h"),
    (Value(0.00003, 0.0, "h"), "3 × 10⁻⁵ h"),
    (Value(3e20, 0.0, "Hz"), "3 × 10⁸ THz"),
    (Value(2e-24, 0.0, "A"), "2 × 10⁻⁶ aA"),
    (Value(2e-18, 0.0, "F"), "2 aF"),
    (Value(2e-15, 0.0, "F"), "2 fF"),
]  # fmt: skip


@pytest.mark.parametrize(("value", "text"), TABLE)
def test_numbers_as_an_engineer_writes_them(value, text):
    assert str(value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Value(87.04e-6, 0.55e-6, "A"), "87.0 µA"),
        (Value(4747.0, 0.0, "Ω"), "4.75 kΩ"),
        (Value(-0.003, 0.1, "W"), "0 mW"),
        (Value(7.2, 9.0, "years", (3.1, 14.0)), "7 years"),
    ],
)
def test_short_numbers(value, text):
    assert value.short == text


@pytest.mark.parametrize(
    ("low", "high", "unit", "text"),
    [
        (1.2, 2.0, "V", "1.2 to 2 V"),
        (2e-6, 2e-4, "H", "2 to 200 µH"),
        (1e-9, 1e-3, "F", "1 nF to 1000 µF"),
        (0.2, 0.2, "%", "20 %"),
        (-5.0, 5.0, "°", "-5 to 5°"),
        (0.0, 0.2, "Ω", "0 to 200 mΩ"),
        (100.0, 1000.0, "V", "0.1 to 1 kV"),
        (99.0, 1000.0, "V", "99 V to 1 kV"),
        (-99.0, 1000.0, "V", "-99 V to 1 kV"),
        (0.0003, 0.02, "", "0.0003 to 0.02"),
    ],
)
def test_spans(low, high, unit, text):
    assert span(low, high, unit) == text


# Sizes that turn up in an adapter, unit by unit.
SIZES = {"F": (-13, -2), "s": (-11, 4), "m": (-8, 4), "H": (-11, 2), "T": (-8, 2)}
sized = st.sampled_from(PREFIXED).flatmap(
    lambda unit: st.tuples(
        st.just(unit), st.floats(*SIZES.get(unit, (-14, 11))).map(lambda power: 10.0**power)
    )
)
signs = st.sampled_from([-1.0, 1.0])


@given(sized, signs, st.floats(1e-5, 10))
def test_a_reading_can_be_read_back(what, sign, doubt):
    """What the text says is the number within half of its last digit, and no finer than its doubt."""
    unit, size = what
    value, half = sign * size, 1.96 * doubt * size
    text = str(Value(value, doubt * size, unit))
    (number, spread), prefix, decimals = read(text.replace("± ", ""), unit)
    assert "e" not in text.replace("±", "")
    assert not re.search(r"-0(?:\.0+)?(?!\.?\d)", text)
    step = 10.0 ** (prefix - max(decimals))
    justified = 10.0 ** math.floor(math.log10(half * 1.0001))
    assert len(decimals) == 1
    assert abs(number - value) <= 0.5 * max(step, justified) * 1.001
    assert abs(spread - half) <= 0.5 * max(step, justified) * 1.001
    assert max(decimals) == 0 or step >= 0.0999 * justified
    assert "× 10" not in text
    # Between one and a thousand of the unit shown, as far as prefixes go.
    largest = max(abs(number), spread) / 10.0**prefix
    top = 1e6 if unit == "F" and prefix == -6 else 1e6 if prefix == 0 and unit in SIZES else 1000
    assert 0.9999 <= largest < 1.0001 * top


@given(sized, signs)
def test_four_digits_where_no_doubt_is_known(what, sign):
    unit, size = what
    text = str(Value(sign * size, 0.0, unit))
    (number,), _, _ = read(text, unit)
    assert number == pytest.approx(sign * size, rel=5.1e-4)
    assert len(re.sub(r"\D", "", text).strip("0")) <= 4
    assert not re.search(r"\.\d*0\b", text)


@given(st.floats(1e-3, 1e5), signs, st.sampled_from(BARE + ("%", "°")), st.floats(1e-3, 3))
def test_units_without_prefixes(size, sign, unit, doubt):
    scale = 0.01 if unit == "%" else 1.0
    text = str(Value(sign * size * scale, doubt * size * scale, unit))
    assert re.fullmatch(rf"\(?{NUMBER} ± {NUMBER}\)?( ?{re.escape(unit)})?", text)
    (number, spread), _, _ = read(text.replace("± ", ""), unit)
    half = 1.96 * doubt * size * scale
    assert number == pytest.approx(sign * size * scale, abs=0.51 * half)
    assert spread == pytest.approx(half, rel=0.34)


@given(sized, st.floats(0.01, 0.95), st.floats(0.01, 50))
def test_intervals_share_place_and_prefix(what, below, above):
    unit, size = what
    low, high = size * (1 - below), size * (1 + above)
    text = str(Value(size, 0.1 * size, unit, (low, high)))
    if "±" in text:
        (number, spread), prefix, decimals = read(text.replace("± ", ""), unit)
        ends = [number - spread, number + spread]
    else:
        assert re.fullmatch(rf"{NUMBER} \S+ \({NUMBER} to {NUMBER}\)", text)
        (number, *ends), prefix, decimals = read(text, unit)
    half = (high - low) / 2
    justified = 10.0 ** math.floor(math.log10(half * 1.0001))
    assert len(decimals) == 1
    for shown, true in zip([number, *ends], [size, low, high], strict=True):
        assert abs(shown - true) <= 0.51 * justified * 2
    assert max(decimals) == 0 or 10.0 ** (prefix - max(decimals)) >= 0.00999 * justified
    assert not re.search(r"-0(?!\.?\d)", text)


@given(st.floats(allow_nan=True, allow_infinity=True), st.floats(allow_nan=True))
def test_anything_finite_can_be_written(value, doubt):
    good = math.isfinite(value) and math.isfinite(doubt) and doubt >= 0
    assume(not good or (abs(value) < 1e100 and doubt < 1e100))
    if good:
        for unit in ("W", "%", "years"):
            assert re.search(r"\d", str(Value(value, doubt, unit)))
            assert "e+" not in str(Value(value, doubt, unit))
    else:
        with pytest.raises(ValueError, match="must be finite"):
            Value(value, doubt, "W")


@pytest.mark.parametrize("interval", [(2.0, 1.0), (float("nan"), 1.0), (0.0, float("inf"))])
def test_an_interval_has_two_ends_in_order(interval):
    with pytest.raises(ValueError, match="interval must be finite"):
        Value(1.0, 0.1, "W", interval)
