"""Every letter and figure of the printed codes, one by one."""

import pytest

from adapterlab.parts import (
    capacitance_from_code,
    discs_from_code,
    fuse_gate,
    preferred_values,
    read_marking,
    resistance_from_code,
    voltage_from_code,
)

# IEC 60063, E24, and the lower-case letters of EIA-198 (from memory).
E24 = [1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1,
       5.6, 6.2, 6.8, 7.5, 8.2, 9.1]  # fmt: skip
CAPITALS = dict(zip("ABCDEFGHJKLMNPQRSTUVWXYZ", E24, strict=True))
SMALL = {"a": 2.5, "b": 3.5, "d": 4.0, "e": 4.5, "f": 5.0, "t": 8.0, "y": 9.0}


def test_the_series_of_twenty_four():
    assert preferred_values("E24").tolist() == E24


# R5 is the letter as a point, by IEC 60062, and wins.
@pytest.mark.parametrize(
    ("letter", "figure"),
    [item for item in (CAPITALS | SMALL).items() if item[0] != "R"],
)
def test_letter_and_power_of_small_capacitors(letter, figure):
    """EIA-198 (from memory): a letter for the figures, a figure for the power, in picofarads."""
    assert capacitance_from_code(f"{letter}5").capacitance == pytest.approx(figure * 1e-7)


@pytest.mark.parametrize(
    ("letter", "power"),
    [("Z", -3), ("Y", -2), ("X", -1), ("S", -1), ("A", 0), ("B", 1), ("H", 1), ("C", 2),
     ("D", 3), ("E", 4), ("F", 5)],
)  # fmt: skip
def test_letters_of_resistors_of_one_per_cent(letter, power):
    """EIA-96 (from memory): 01 stands for 100, 68 for 499, the letter for the power of ten."""
    assert resistance_from_code(f"01{letter}").resistance == pytest.approx(100 * 10.0**power)
    assert resistance_from_code(f"68{letter}").resistance == pytest.approx(499 * 10.0**power)
    assert resistance_from_code(f"01{letter}").tolerance == 0.01


@pytest.mark.parametrize(
    ("letter", "figure"),
    [("A", 1.0), ("B", 1.25), ("C", 1.6), ("D", 2.0), ("E", 2.5), ("F", 3.15), ("G", 4.0),
     ("V", 3.5), ("H", 5.0), ("J", 6.3), ("W", 4.5), ("K", 8.0)],
)  # fmt: skip
@pytest.mark.parametrize("power", [0, 1, 2, 3])
def test_letters_of_rated_voltages(letter, figure, power):
    """EIA and JIS (from memory): preferred numbers of the R10 series, ISO 3, times a power of ten."""
    assert voltage_from_code(f"{power}{letter}") == pytest.approx(figure * 10**power)


@pytest.mark.parametrize(
    ("code", "ohms", "share"),
    # IEC 60062: the letter behind the figures is the tolerance, J 5 %, F 1 %.
    [("4.7KJ", 4700, 0.05), ("4,7K", 4700, None), ("1M0F", 1e6, 0.01), ("472J", 4700, 0.05),
     ("4R7", 4.7, None)],
)  # fmt: skip
def test_resistors_with_and_without_tolerance(code, ohms, share):
    found = resistance_from_code(code)
    assert found.resistance == pytest.approx(ohms)
    assert found.tolerance == share


@pytest.mark.parametrize(
    ("code", "volts", "millimetres", "share"),
    # Makers' scheme (common practice): diameter, two figures and a power of ten; K 10, L 15, J 5 %.
    [("10D431K", 430, 10, 0.1), ("14D102L", 1000, 14, 0.15), ("7D101J", 100, 7, 0.05),
     ("5D220", 22, 5, None)],
)  # fmt: skip
def test_discs(code, volts, millimetres, share):
    found = discs_from_code(code)
    assert found.value == pytest.approx(volts)
    assert found.diameter == pytest.approx(millimetres * 1e-3)
    assert found.tolerance == share


@pytest.mark.parametrize(
    ("token", "said"),
    [("0.12R", "120 mΩ"), ("2R", "2e+03 mΩ"), ("85m", "85 mΩ"), ("R045", "45 mΩ")],
)
def test_resistance_of_a_closed_switch(token, said):
    """A point or an R for ohms, an m for milliohms (common practice)."""
    assert f"{said} when closed" in read_marking(f"650V {token}", "transistor").words


@pytest.mark.parametrize(("sheet", "lowest", "highest"), [("3", 0.032, 10.0), ("5", 1.0, 3.15)])
def test_gates_hold_at_both_ends_of_their_sheet(sheet, lowest, highest):
    """IEC 60127-2, sheets 3 and 5, rated currents as printed in makers' data sheets."""
    for current in (lowest, highest):
        assert fuse_gate(2.1, sheet, current).longest > 0
    for current in (0.99 * lowest, 1.01 * highest):
        with pytest.raises(ValueError, match="multiple must be one of"):
            fuse_gate(2.1, sheet, current)
