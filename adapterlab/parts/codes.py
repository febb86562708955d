"""What is printed on a capacitor or resistor, and the values that parts are made in.

Codes: `capacitance_from_code`, `resistance_from_code`, `voltage_from_code`, with
`tolerance_from_letter`. Preferred values: `preferred_values`, `nearest_preferred`,
`preferred_series`.
"""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from adapterlab.numerics.arguments import Numbers, not_negative, one_of, plain, positive
from adapterlab.published import rows

SERIES = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")
_PICO = 1e-12
_PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3}
_OHMS = {"R": 1.0, "K": 1e3, "k": 1e3, "M": 1e6, "G": 1e9}
# Third figure of a three-digit capacitor code: 8 and 9 stand for negative powers.
_POWERS = {"8": -2, "9": -1} | {str(power): power for power in range(8)}
# The lower-case m and n of this scheme are left out: there they are prefixes of IEC 60062.
_EIA_VALUES = dict(
    zip(
        "ABCDEFGHJKLMNPQRSTUVWXYZabdefty",
        (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1,
         5.6, 6.2, 6.8, 7.5, 8.2, 9.1, 2.5, 3.5, 4.0, 4.5, 5.0, 8.0, 9.0),
        strict=True,
    )
)  # fmt: skip
_EIA96_POWERS = {"Z": -3, "Y": -2, "X": -1, "S": -1, "A": 0, "B": 1, "H": 1, "C": 2,
                 "D": 3, "E": 4, "F": 5}  # fmt: skip
_VOLTS = {"A": 1.0, "B": 1.25, "C": 1.6, "D": 2.0, "E": 2.5, "F": 3.15, "G": 4.0, "V": 3.5,
          "H": 5.0, "J": 6.3, "W": 4.5, "K": 8.0}  # fmt: skip


def _text(name: str, code: object) -> str:
    if not isinstance(code, str) or not code.strip():
        raise ValueError(f"{name} must be a text such as '222K', got {code!r}")
    if any(character.isdigit() and not character.isascii() for character in code):
        raise ValueError(f"{name} must be written in plain figures, got {code!r}")
    return code.strip()


@dataclass(frozen=True)
class MarkedCapacitance:
    """Capacitance as a code gives it.

    Attributes
    ----------
    capacitance : float
        Nominal value. [F]
    tolerance : float or None
        Larger of the two sides, as a fraction. [1]  None if no letter stands behind the figures.
    lowest, highest : float or None
        Ends of the tolerance. [F]
    """

    capacitance: float
    tolerance: float | None
    lowest: float | None = None
    highest: float | None = None


def tolerance_from_letter(letter: str, capacitance: float = 1.0) -> tuple[float, float]:
    """Tolerance that a letter stands for.

    Parameters
    ----------
    letter : str
        Capital letter, as in ``222K``.
    capacitance : float, optional
        Capacitance it stands behind. [F]  Below 10 pF some letters mean picofarads.

    Returns
    -------
    tuple of float
        Deviation downwards and upwards, as fractions, such as (-0.2, 0.8). [1]

    Raises
    ------
    ValueError
        If the letter has no such meaning.

    References
    ----------
    IEC 60062, tolerance letters (``published/parts.toml``, table ``tolerance_letters``).

    Examples
    --------
    >>> tolerance_from_letter("K"), tolerance_from_letter("C", 5e-12)
    ((-0.1, 0.1), (-0.05, 0.05))
    """
    value = float(positive("capacitance", capacitance))
    table = rows("parts", "tolerance_letters")
    one_of("letter", letter, [row["letter"] for row in table])
    row = rows("parts", "tolerance_letters", letter=letter)[0]
    if value < 10 * _PICO and "picofarad" in row:
        share = row["picofarad"] * _PICO / value
        return -share, share
    return float(row["down"]), float(row["up"])


def _capacitance_of(text: str) -> tuple[float, str] | None:
    """Capacitance [F] and tolerance letter of a code; None if it has no known form."""
    if match := re.fullmatch(r"([1-9]\d)(\d)([A-Z])?", text):
        return float(match[1]) * 10.0 ** _POWERS[match[2]] * _PICO, match[3] or ""
    if match := re.fullmatch(r"([1-9]\d?)([A-Z])?", text):
        return float(match[1]) * _PICO, match[2] or ""
    if match := re.fullmatch(r"(\d*)R(\d+)([A-Z])?", text):
        return float(f"{match[1] or 0}.{match[2]}") * _PICO, match[3] or ""
    if match := re.fullmatch(r"(\d*)([pnuµμm])(\d*)F?([A-Z])?", text):
        number = float(f"{match[1] or 0}.{match[3] or 0}")
        return number * _PREFIX[match[2]], match[4] or ""
    if match := re.fullmatch(r"(\d+[.,]\d+)([pnuµμm])F?([A-Z])?", text):
        return float(match[1].replace(",", ".")) * _PREFIX[match[2]], match[3] or ""
    if re.fullmatch(r"X[123]|Y[1234]", text):
        return None  # a safety class
    if (match := re.fullmatch(r"([A-Za-z])(\d)", text)) and match[1] in _EIA_VALUES:
        return _EIA_VALUES[match[1]] * 10.0 ** _POWERS[match[2]] * _PICO, ""
    return None


def capacitance_from_code(code: str) -> MarkedCapacitance:
    """Capacitance from the code printed on a capacitor.

    Parameters
    ----------
    code : str
        Two figures and a power of ten in picofarads (``222K``; a last figure of 8 or 9 divides
        by 100 or 10), one or two plain figures in picofarads (``47J``), a letter in the place
        of the point (``4R7`` in picofarads, ``4n7``, ``n47``, ``0.1uF``), or the letter and
        figure of very small parts (``A3``). A capital letter behind it is the tolerance.

    Returns
    -------
    MarkedCapacitance
        Value and tolerance.

    Raises
    ------
    ValueError
        If the code has none of these forms, its letter is not known, or it says zero.

    References
    ----------
    IEC 60062 (codes for resistors and capacitors); 105K = 1 µF and 222K = 2.2 nF ± 10 % as
    printed in two tables for hobbyists; EIA-198 letters and negative powers from memory.

    Examples
    --------
    >>> capacitance_from_code("222K")
    MarkedCapacitance(capacitance=2.2e-09, tolerance=0.1, lowest=1.98e-09, highest=2.42e-09)
    >>> capacitance_from_code("4n7").capacitance
    4.7e-09
    """
    text = _text("code", code)
    found = _capacitance_of(text)
    if found is None or found[0] <= 0:
        raise ValueError(
            f"code must be three figures with a letter or none, such as '222K', or a form such as "
            f"'4n7' or '4R7', got {code!r}"
        )
    value, letter = float(f"{found[0]:.6g}"), found[1]
    if not letter:
        return MarkedCapacitance(value, None)
    down, up = tolerance_from_letter(letter, value)
    return MarkedCapacitance(value, max(-down, up), value * (1 + down), value * (1 + up))


@dataclass(frozen=True)
class MarkedResistance:
    """Resistance as a code gives it.

    Attributes
    ----------
    resistance : float
        Nominal value; 0 for a bridge marked as such. [ohm]
    tolerance : float or None
        As a fraction. [1]  None if the code doesn't tell.
    """

    resistance: float
    tolerance: float | None


def resistance_from_code(code: str) -> MarkedResistance:
    """Resistance from the code printed on a resistor.

    Parameters
    ----------
    code : str
        Two or three figures and a power of ten in ohms (``105``, ``1003``), a letter in the place
        of the point (``R22``, ``4R7``, ``4k7``), or two figures and a letter (``01C``, from the
        E96 series, 1 %). A capital letter behind it is the tolerance. Colour rings are not read.

    Returns
    -------
    MarkedResistance
        Value and tolerance.

    Raises
    ------
    ValueError
        If the code has none of these forms, or its letter is not known.

    References
    ----------
    IEC 60062; the form ``01C`` from memory.

    Examples
    --------
    >>> resistance_from_code("105").resistance, resistance_from_code("R22").resistance
    (1000000.0, 0.22)
    """
    text = _text("code", code)
    number, letter, share = None, "", None
    if re.fullmatch(r"0+", text):
        return MarkedResistance(0.0, None)
    if match := re.fullmatch(r"([1-9]\d{1,2})(\d)([A-Z])?", text):
        number, letter = float(match[1]) * 10.0 ** int(match[2]), match[3] or ""
    elif match := re.fullmatch(r"(\d*)([RKkMG])(\d*)([A-Z])?", text):
        if match[1] or match[3]:
            number = float(f"{match[1] or 0}.{match[3] or 0}") * _OHMS[match[2]]
            letter = match[4] or ""
    elif match := re.fullmatch(r"(\d+[.,]\d+)([RKkMG])([A-Z])?", text):
        number, letter = float(match[1].replace(",", ".")) * _OHMS[match[2]], match[3] or ""
    elif (match := re.fullmatch(r"(\d\d)([A-Z])", text)) and match[2] in _EIA96_POWERS:
        place = int(match[1])
        if 1 <= place <= 96:
            figures = round(float(preferred_values("E96")[place - 1]) * 100)
            number, share = figures * 10.0 ** _EIA96_POWERS[match[2]], 0.01
    if number is None or number <= 0:
        raise ValueError(
            f"code must be three or four figures, or a form such as '4R7' or '4k7', got {code!r}"
        )
    if letter:
        share = tolerance_from_letter(letter)[1]
    return MarkedResistance(float(f"{number:.6g}"), share)


def voltage_from_code(code: str) -> float:
    """Rated voltage from the figure and letter in front of a capacitor's code.

    Parameters
    ----------
    code : str
        Figure and capital letter, such as ``2A``: power of ten and a preferred number.

    Returns
    -------
    float
        Rated direct voltage. [V]

    Raises
    ------
    ValueError
        If the code has another form or an unknown letter.

    References
    ----------
    EIA-198 and JIS C 5101, from memory: 1H = 50 V, 2A = 100 V, 2J = 630 V, 3A = 1 kV.

    Examples
    --------
    >>> voltage_from_code("2G")
    400.0
    """
    text = _text("code", code)
    match = re.fullmatch(r"([0-4])([A-Z])", text)
    if match is None or match[2] not in _VOLTS:
        letters = "".join(_VOLTS)
        raise ValueError(
            f"code must be a figure from 0 to 4 and one of the letters {letters}, got {code!r}"
        )
    return float(f"{_VOLTS[match[2]] * 10.0 ** int(match[1]):.6g}")


def preferred_values(series: str) -> NDArray[np.float64]:
    r"""Preferred values of one decade.

    Parameters
    ----------
    series : str
        ``E3``, ``E6``, ``E12``, ``E24``, ``E48``, ``E96`` or ``E192``.

    Returns
    -------
    numpy.ndarray
        Values from 1 up to, not including, 10. [1], as many as the name says

    Raises
    ------
    ValueError
        If the series is not one of these.

    Notes
    -----
    .. math:: v_k = 10^{k/N}

    rounded to two figures up to E24 and to three above. Eight values of E24 and one of E192 are
    set otherwise by the standard: 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 8.2 and 9.20.

    References
    ----------
    IEC 60063:2015 (from memory; E6 is printed in many places). Derived in
    ``notebooks/07_parts.ipynb``.

    Examples
    --------
    >>> print(preferred_values("E6"))
    [1.  1.5 2.2 3.3 4.7 6.8]
    """
    one_of("series", series, SERIES)
    count = int(series[1:])
    if count <= 24:
        table = rows("parts", "preferred_values", series="E24")[0]
        return np.array(table["values"], dtype=float)[:: 24 // count]
    values = np.round(10 ** (np.arange(count) / count), 2)
    if count == 192:
        values[185] = 9.20
    return np.asarray(values, dtype=float)


@dataclass(frozen=True)
class Preferred:
    """The preferred value next to a given one.

    Attributes
    ----------
    value : float or numpy.ndarray
        Preferred value, in the unit given. shape of the input
    deviation : float or numpy.ndarray
        Given over preferred value, less one. [1], same shape
    """

    value: Numbers
    deviation: Numbers


def nearest_preferred(value: ArrayLike, series: str = "E24") -> Preferred:
    """Preferred value nearest to a given one, by ratio.

    Parameters
    ----------
    value : float or array_like
        Value of a part, in any unit. Must be > 0.
    series : str, optional
        As in `preferred_values`.

    Returns
    -------
    Preferred
        Nearest value and deviation from it.

    Raises
    ------
    ValueError
        If a value is not above zero or the series is not known.

    References
    ----------
    IEC 60063:2015.

    Examples
    --------
    >>> nearest_preferred(5e-9, "E6").value
    4.7e-09
    """
    given = positive("value", value)
    steps = preferred_values(series)
    steps = np.concatenate([steps, [10.0]])
    exponent = np.floor(np.log10(given))
    mantissa = given / 10**exponent
    distance = np.abs(np.log(mantissa[..., None] / steps))
    near = steps[distance.argmin(axis=-1)] * 10.0**exponent
    return Preferred(plain(near), plain(given / near - 1))


def preferred_series(value: float, tolerance: float = 0.002) -> str:
    """Coarsest series of preferred values that holds a value.

    Parameters
    ----------
    value : float
        Value of a part, in any unit. Must be > 0.
    tolerance : float, optional
        How far it may lie off, as a fraction, for rounding on the label. [1]  Must be >= 0.

    Returns
    -------
    str
        ``E3`` to ``E192``, or an empty text if none holds it.

    Raises
    ------
    ValueError
        If the value is not above zero or the tolerance is negative.

    References
    ----------
    IEC 60063:2015.

    Examples
    --------
    >>> preferred_series(2.2e-9), preferred_series(56e-6), preferred_series(5e-9)
    ('E3', 'E12', '')
    """
    allowed = float(not_negative("tolerance", tolerance))
    for series in SERIES:
        if abs(float(nearest_preferred(value, series).deviation)) <= allowed:
            return series
    return ""
