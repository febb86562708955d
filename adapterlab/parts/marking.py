"""A whole marking as it is printed on a part, read word by word."""

import re
from dataclasses import dataclass, replace

from adapterlab.parts.codes import (
    capacitance_from_code,
    resistance_from_code,
    voltage_from_code,
)
from adapterlab.parts.protection import (
    discs_from_code,
    fuse_from_code,
)

KINDS = ("capacitor", "resistor", "fuse", "varistor", "thermistor", "diode", "bridge", "transistor")


@dataclass(frozen=True)
class Marking:
    """What a marking says.

    Attributes
    ----------
    value : float or None
        In the unit of the part's kind: F, ohm, A (fuse), V (varistor, semiconductors).
    tolerance : float or None
        As a fraction. [1]
    rated_voltage, rated_current : float or None
        [V], [A]
    rated_temperature : float or None
        [°C]
    safety_class : str
        Such as ``Y1``; empty if none is printed.
    words : tuple of str
        The same in words.
    unread : tuple of str
        Pieces that could not be read.
    second_value : float or None
        Another value printed beside the first, which contradicts it. [as `value`]
    """

    value: float | None = None
    tolerance: float | None = None
    rated_voltage: float | None = None
    rated_current: float | None = None
    rated_temperature: float | None = None
    safety_class: str = ""
    words: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    second_value: float | None = None


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _common(token: str, found: Marking) -> Marking | None:
    """Volts, amperes, degrees and safety classes, which stand on many kinds of part."""
    if match := re.fullmatch(r"(?a)(\d+(?:[.,]\d+)?)(k?)V(?:AC|DC|~)?", token):
        return replace(found, rated_voltage=_number(match[1]) * (1e3 if match[2] else 1.0))
    if match := re.fullmatch(r"(?a)(\d+(?:[.,]\d+)?)A", token):
        return replace(found, rated_current=_number(match[1]))
    if match := re.fullmatch(r"(?a)(\d{2,3})°?C", token):
        return replace(found, rated_temperature=float(match[1]))
    if re.fullmatch(r"(?a)X[123]|Y[1234]", token):
        return replace(found, safety_class=token)
    return None


def _capacitor(token: str, found: Marking) -> Marking | None:
    if match := re.fullmatch(r"(?a)(\d[A-Z])(\d{3}[A-Z]?)", token):
        code = capacitance_from_code(match[2])
        return replace(
            found,
            value=code.capacitance,
            tolerance=code.tolerance,
            rated_voltage=voltage_from_code(match[1]),
        )
    if found.value is not None:
        return None
    try:
        code = capacitance_from_code(token)
    except ValueError:
        return None
    return replace(found, value=code.capacitance, tolerance=code.tolerance)


def _resistor(token: str, found: Marking) -> Marking | None:
    if found.value is not None:
        return None
    try:
        code = resistance_from_code(token)
    except ValueError:
        return None
    return replace(found, value=code.resistance, tolerance=code.tolerance)


def _disc(token: str, found: Marking) -> Marking | None:
    try:
        code = discs_from_code(token)
    except ValueError:
        return None
    said = f"disc of {code.diameter * 1e3:.0f} mm"
    return replace(found, value=code.value, tolerance=code.tolerance, words=(*found.words, said))


def _semiconductor(token: str, found: Marking) -> Marking | None:
    if match := re.fullmatch(r"(?a)(\d*[.,]?\d+)(R|m)|R(\d+)", token):
        ohms = float(f"0.{match[3]}") if match[3] else _number(match[1])
        ohms *= 1e-3 if match[2] == "m" else 1.0
        return replace(found, words=(*found.words, f"{ohms * 1e3:.3g} mΩ when closed"))
    return None


_READERS = {
    "capacitor": _capacitor,
    "resistor": _resistor,
    "varistor": _disc,
    "thermistor": _disc,
    "diode": _semiconductor,
    "bridge": _semiconductor,
    "transistor": _semiconductor,
}


def _left_over(token: str, kind: str, found: Marking) -> Marking:
    """What nothing else could read: a second value, or a piece without a meaning."""
    again = _READERS[kind](token, Marking()) if kind in ("capacitor", "resistor") else None
    if again is not None and again.value not in (None, found.value):
        return replace(found, second_value=again.value)
    return replace(found, unread=(*found.unread, token))


def _fuse(marked: str) -> Marking:
    fuse = fuse_from_code(marked)
    words = tuple(word for word in (fuse.speed, fuse.breaking_capacity) if word)
    return Marking(
        value=fuse.rated_current,
        rated_voltage=fuse.rated_voltage,
        rated_current=fuse.rated_current,
        words=words,
    )


def read_marking(marked: str, kind: str) -> Marking:
    """Numbers and words of what is printed on a part.

    Parameters
    ----------
    marked : str
        As printed, such as ``102M Y1``, ``56uF 400V 105C``, ``T2AL 250V``, ``330 25``.
    kind : str
        Kind of part: one of `KINDS`.

    Returns
    -------
    Marking
        What could be read; the rest stands in ``unread``.

    Raises
    ------
    ValueError
        If the kind is not marked with codes, or nothing could be read.

    Notes
    -----
    Two plain numbers on a capacitor, such as ``330 25``, are microfarads and volts, as on
    polymer and small electrolytic capacitors (common practice). One number alone is a code in
    picofarads.

    References
    ----------
    IEC 60062 for codes and letters, IEC 60384-14 for classes, IEC 60127 for fuses.

    Examples
    --------
    >>> read = read_marking("102M Y1", "capacitor")
    >>> read.value, read.tolerance, read.safety_class
    (1e-09, 0.2, 'Y1')
    """
    if kind not in KINDS:
        raise ValueError(f"kind must be one of {', '.join(KINDS)}, got {kind!r}")
    if not isinstance(marked, str) or not marked.strip():
        raise ValueError(f"marked must be a text, got {marked!r}")
    if kind == "fuse":
        return _fuse(marked)
    found = Marking()
    # A value with its unit first: beside it "105C" is a temperature, alone it is a code.
    tokens = sorted(marked.replace(";", " ").split(), key=lambda token: not token.endswith("F"))
    two_numbers = re.fullmatch(r"(?a)(\d+)\s+(\d+(?:[.,]\d+)?)", marked.strip())
    if kind == "capacitor" and two_numbers:
        microfarads, volts = float(two_numbers[1]), _number(two_numbers[2])
        return replace(found, value=microfarads * 1e-6, rated_voltage=volts)
    for token in tokens:
        step = _READERS[kind](token, found) or _common(token, found)
        found = step or _left_over(token, kind, found)
    if kind in ("diode", "bridge", "transistor"):
        found = replace(found, value=found.rated_voltage)
    if len(found.unread) == len(tokens):
        raise ValueError(f"marked can't be read as a code of a {kind}, got {marked!r}")
    return found
