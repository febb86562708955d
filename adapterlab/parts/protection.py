"""Markings of the parts that protect: fuses, varistors, thermistors, safety capacitors."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, one_of, plain, positive
from adapterlab.published import Row, rows

_SPEEDS = {"FF": "very quick acting", "F": "quick acting", "M": "medium time-lag",
           "T": "time-lag", "TT": "long time-lag"}  # fmt: skip
_BREAKING = {"L": "low breaking capacity", "H": "high breaking capacity",
             "E": "enhanced breaking capacity", "": ""}  # fmt: skip


def _text(code: object) -> str:
    if not isinstance(code, str) or not code.strip():
        raise ValueError(f"code must be a text, got {code!r}")
    if any(character.isdigit() and not character.isascii() for character in code):
        raise ValueError(f"code must be written in plain figures, got {code!r}")
    return code.strip()


@dataclass(frozen=True)
class FuseMarking:
    """What is printed on a fuse.

    Attributes
    ----------
    rated_current : float
        Current it carries without end. [A]
    speed : str
        In words; empty if not marked.
    breaking_capacity : str
        In words; empty if not marked.
    rated_voltage : float or None
        Highest voltage it may interrupt. [V]
    sheet : str
        Sheet of IEC 60127-2 that describes it; empty if it does not follow from the letters.
    """

    rated_current: float
    speed: str
    breaking_capacity: str
    rated_voltage: float | None
    sheet: str


def fuse_from_code(code: str) -> FuseMarking:
    """Rated current, speed and breaking capacity from a fuse's marking.

    Parameters
    ----------
    code : str
        Such as ``T2AL 250V``, ``F3.15A``, ``T 500 mA H 250 V``.

    Returns
    -------
    FuseMarking
        What it says.

    Raises
    ------
    ValueError
        If no rated current can be read.

    References
    ----------
    IEC 60127-1, clause on marking, and IEC 60127-2, sheets 3 (time-lag, low breaking capacity)
    and 5 (time-lag, high), letters from memory.

    Examples
    --------
    >>> fuse = fuse_from_code("T2AL 250V")
    >>> fuse.rated_current, fuse.speed, fuse.breaking_capacity, fuse.sheet
    (2.0, 'time-lag', 'low breaking capacity', '3')
    """
    text = re.sub(r"\s+", "", _text(code)).replace(",", ".")
    pattern = r"(FF|TT|[FMT])?(\d+(?:\.\d+)?)(m?)A([LHE])?(?:(\d+)V(?:AC|~)?)?"
    match = re.fullmatch(pattern, text)
    if match is None or float(match[2]) == 0:
        raise ValueError(f"code must hold a rated current, such as 'T2AL 250V', got {code!r}")
    current = float(match[2]) * (1e-3 if match[3] else 1.0)
    speed, breaking = match[1] or "", match[4] or ""
    sheet = {"FH": "1", "FL": "2", "TL": "3", "TH": "5", "TE": "6"}.get(speed + breaking, "")
    return FuseMarking(
        current,
        _SPEEDS.get(speed, ""),
        _BREAKING[breaking],
        float(match[5]) if match[5] else None,
        sheet,
    )


@dataclass(frozen=True)
class FuseGate:
    """Times between which a fuse must open at a multiple of its rated current.

    Attributes
    ----------
    shortest, longest : float or None
        Times. [s]  None where the standard sets no such end.
    """

    shortest: float | None
    longest: float | None


def fuse_gate(multiple: float, sheet: str, rated_current: float = 1.0) -> FuseGate:
    """When a fuse opens, by its standard sheet.

    Parameters
    ----------
    multiple : float
        Current over rated current: 1.5, 2.1, 2.75, 4 or 10. [1]
    sheet : str
        Sheet of IEC 60127-2: ``3`` (time-lag, glass) or ``5`` (time-lag, ceramic).
    rated_current : float, optional
        Rated current. [A]  Sheet 5 sets other times from 4 A on.

    Returns
    -------
    FuseGate
        Shortest and longest time. [s]

    Raises
    ------
    ValueError
        If the sheet or the multiple is not one of those printed, or no time is known for it.

    References
    ----------
    IEC 60127-2, sheets 3 and 5, as printed in makers' data sheets (table ``fuse_gates``).

    Examples
    --------
    >>> fuse_gate(2.75, "3")
    FuseGate(shortest=0.6, longest=10.0)
    """
    one_of("sheet", sheet, ("3", "5"))
    current = float(positive("rated_current", rated_current))
    times = float(positive("multiple", multiple))
    table = [
        row
        for row in rows("parts", "fuse_gates", sheet=sheet)
        if row["lowest_current"] <= current <= row["highest_current"]
    ]
    found = [row for row in table if row["multiple"] == times]
    if not found:
        names = ", ".join(f"{row['multiple']:g}" for row in table) or "none"
        raise ValueError(
            f"multiple must be one of {names} (sheet {sheet}, {current:g} A), got {multiple!r}"
        )
    return FuseGate(found[0].get("shortest"), found[0].get("longest"))


def fuse_breaking_capacity(sheet: str, rated_current: ArrayLike) -> Numbers:
    r"""Largest current that a fuse is made to interrupt, by its standard sheet.

    Parameters
    ----------
    sheet : str
        Sheet of IEC 60127-2: ``3`` (low breaking capacity) or ``5`` (high).
    rated_current : float or array_like
        Rated current. [A]  Above 0, at most 10.

    Returns
    -------
    float or numpy.ndarray
        Prospective current at 250 V. [A], shape of `rated_current`

    Raises
    ------
    ValueError
        If the sheet is not one of those printed, or the current lies outside its range.

    Notes
    -----
    .. math:: I = \max(I_0, m I_N)

    with 35 A and ten times the rated current for low breaking capacity. Above it the arc may go
    on inside the fuse until the glass bursts or another fuse opens.

    References
    ----------
    IEC 60127-2, sheets 3 and 5, as printed in makers' data sheets (table ``fuse_breaking``).

    Examples
    --------
    >>> fuse_breaking_capacity("3", [1, 4, 5, 6.3])
    array([35., 40., 50., 63.])
    """
    one_of("sheet", sheet, [row["sheet"] for row in rows("parts", "fuse_breaking")])
    row = rows("parts", "fuse_breaking", sheet=sheet)[0]
    current = positive("rated_current", rated_current)
    if np.any(current > row["highest_current"]):
        raise ValueError(
            f"rated_current must be at most {row['highest_current']:g} A, got {rated_current!r}"
        )
    return plain(np.maximum(row["least"], row["multiple"] * current))


@dataclass(frozen=True)
class DiscMarking:
    """What is printed on a varistor or an inrush thermistor.

    Attributes
    ----------
    value : float
        Varistor voltage at 1 mA [V], or resistance at 25 °C [ohm].
    tolerance : float or None
        As a fraction. [1]
    diameter : float
        Of the disc. [m]
    """

    value: float
    tolerance: float | None
    diameter: float


def discs_from_code(code: str) -> DiscMarking:
    """Value and size from the code on a varistor or an inrush thermistor.

    Parameters
    ----------
    code : str
        Varistor: diameter in millimetres, ``D``, figures and power of ten in volts, tolerance
        letter (``10D431K``). Thermistor: ohms at 25 °C, ``D``, diameter (``8D-9``).

    Returns
    -------
    DiscMarking
        Value, tolerance and diameter.

    Raises
    ------
    ValueError
        If the code has neither form.

    References
    ----------
    Thermistors: a maker's table of types with their resistances. Varistors: common practice.

    Examples
    --------
    >>> discs_from_code("10D431K").value, discs_from_code("8D-9").value
    (430.0, 8.0)
    """
    text = re.sub(r"[\s]+", "", _text(code))
    if match := re.fullmatch(r"(\d{1,2})D([1-9]\d)(\d)([KLJ])?", text):
        tolerance = {"J": 0.05, "K": 0.1, "L": 0.15}.get(match[4] or "")
        return DiscMarking(float(match[2]) * 10.0 ** int(match[3]), tolerance, int(match[1]) * 1e-3)
    if (match := re.fullmatch(r"(?:NTC)?(\d+(?:\.\d+)?)D-?(\d{1,2})", text)) and float(match[1]):
        return DiscMarking(float(match[1]), None, int(match[2]) * 1e-3)
    raise ValueError(f"code must be such as '10D431K' or '8D-9', got {code!r}")


def safety_class_row(safety_class: str) -> Row:
    """What a safety capacitor's class stands for.

    Parameters
    ----------
    safety_class : str
        ``X1``, ``X2``, ``X3``, ``Y1``, ``Y2``, ``Y3`` or ``Y4``.

    Returns
    -------
    dict
        ``place``, ``bridges``, impulse and proof voltages where set [V], ``source``, ``known``.

    Raises
    ------
    ValueError
        If the class is not one of these.

    References
    ----------
    IEC 60384-14 (``published/parts.toml``, table ``safety_classes``).

    Examples
    --------
    >>> safety_class_row("Y1")["bridges"]
    'double or reinforced insulation'
    """
    table = rows("parts", "safety_classes")
    one_of("safety_class", safety_class, [row["safety_class"] for row in table])
    return rows("parts", "safety_classes", safety_class=safety_class)[0]


def impulse_test_voltage(safety_class: str, capacitance: ArrayLike) -> Numbers:
    r"""Peak of the impulses with which a safety capacitor is tested.

    Parameters
    ----------
    safety_class : str
        ``X1``, ``X2``, ``Y1``, ``Y2`` or ``Y4``.
    capacitance : float or array_like
        Capacitance. [F]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Peak voltage. [V], shape of `capacitance`

    Raises
    ------
    ValueError
        If the class is not known or has no such test, or the capacitance is not above zero.

    Notes
    -----
    .. math:: \hat V = V_0 \min(1, \sqrt{1\,\text{µF} / C})

    for class X, so that the energy stays the same; class Y has one voltage.

    References
    ----------
    IEC 60384-14, as printed in capacitor makers' guides (table ``safety_classes``).

    Examples
    --------
    >>> impulse_test_voltage("X2", [0.22e-6, 4e-6])
    array([2500., 1250.])
    """
    row = safety_class_row(safety_class)
    value = positive("capacitance", capacitance)
    if "test_impulse" not in row:
        raise ValueError(
            f"safety_class must have an impulse test (X1, X2, Y1, Y2 or Y4), got {safety_class!r}"
        )
    shrink = np.minimum(1.0, np.sqrt(1e-6 / value)) if safety_class[0] == "X" else 1.0 + 0 * value
    return plain(row["test_impulse"] * shrink)
