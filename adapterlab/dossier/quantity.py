"""Physical values written with their unit, as in ``"2.2 nF"`` or ``"20 %"``.

`parse_quantity` turns such a text into a number in SI units; `in_unit` does so
for a pydantic field.
"""

import re

from pydantic import BeforeValidator

_PREFIX = {
    "p": 1e-12,
    "n": 1e-9,
    "u": 1e-6,
    "µ": 1e-6,
    "μ": 1e-6,
    "m": 1e-3,
    "": 1.0,
    "k": 1e3,
    "M": 1e6,
    "G": 1e9,
}
_SPELLINGS = {
    "V": ("V",),
    "A": ("A",),
    "W": ("W",),
    "F": ("F",),
    "H": ("H",),
    "Hz": ("Hz",),
    "ohm": ("ohm", "Ω", "Ω", "R"),
    "s": ("s",),
    "m": ("m",),
    "m2": ("m2", "m²"),
    "J/K": ("J/K",),
    "W/K": ("W/K",),
    "A2s": ("A2s", "A²s"),
    "J": ("J",),
    "K": ("K",),
    "kg": ("kg",),
    "T": ("T",),
    "C": ("°C", "degC", "C"),
}
_WHOLE = {
    ("s", "h"): 3600.0,
    ("s", "min"): 60.0,
    ("kg", "g"): 1e-3,
    ("m2", "mm2"): 1e-6,
    ("m2", "mm²"): 1e-6,
    ("m2", "cm2"): 1e-4,
    ("m2", "cm²"): 1e-4,
    ("m", "cm"): 1e-2,
}
_NO_PREFIX = {"C", "K", "A2s", "m2"}
_TEXT = re.compile(r"([+-]?\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*(\S.*)?")


def parse_quantity(text: object, unit: str) -> float:
    """Number in SI units from a text with its unit.

    Parameters
    ----------
    text : str
        Number, then unit, with or without a space and with an SI prefix: ``"4.7 nF"``.
    unit : str
        Unit expected: one of V, A, W, F, H, Hz, ohm, s, m, m2, J/K, W/K, A2s, J, K, kg, T,
        C (degrees Celsius), or ``1`` for a ratio, written as ``"20 %"`` or ``"0.2"``.

    Returns
    -------
    float
        The value in `unit`.

    Raises
    ------
    ValueError
        If there is no number, or the unit is missing or another one.

    Examples
    --------
    >>> parse_quantity("2.2 nF", "F")
    2.2e-09
    >>> parse_quantity("20 %", "1")
    0.2
    """
    match = _TEXT.fullmatch(str(text).strip()) if isinstance(text, str) else None
    if match is None:
        raise ValueError(f"must be a number with its unit in quotes, such as {_example(unit)}")
    number = float(match[1].replace(",", "."))
    written = (match[2] or "").strip()
    if unit == "1":
        if written not in {"", "%"}:
            raise ValueError(f"must be a ratio such as {_example(unit)}, not in {written!r}")
        return number / 100 if written == "%" else number
    if (unit, written) in _WHOLE:
        return number * _WHOLE[unit, written]
    for spelling in _SPELLINGS[unit]:
        prefix = written.removesuffix(spelling)
        if prefix == written:
            continue
        if prefix == "" or (prefix in _PREFIX and unit not in _NO_PREFIX):
            return number * _PREFIX[prefix]
    if not written:
        raise ValueError(f"has no unit; write for example {_example(unit)}")
    raise ValueError(f"has the unit {written!r} where {unit} is expected, as in {_example(unit)}")


def _example(unit: str) -> str:
    examples = {
        "F": "2.2 nF",
        "1": "20 %",
        "C": "68 C",
        "m": "6.4 mm",
        "s": "2000 h",
        "H": "650 uH",
        "ohm": "4.7 ohm",
        "m2": "32 mm2",
        "kg": "95 g",
    }
    return f'"{examples.get(unit, f"5 {unit}")}"'


def in_unit(unit: str) -> BeforeValidator:
    """Pydantic step that reads a text with `unit` into a number in SI units."""

    def read(value: object) -> float:
        return parse_quantity(value, unit)

    return BeforeValidator(read)
