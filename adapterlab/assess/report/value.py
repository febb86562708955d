"""How a number with its uncertainty is written."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal

from adapterlab.uncertainty import coverage_factor

_PREFIXES = {-18: "a", -15: "f", -12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G",
             12: "T"}  # fmt: skip
# Units that take prefixes, with the exponents of ten that the trade uses: nobody writes ks or mF.
_TO_UNITY = tuple(exponent for exponent in _PREFIXES if exponent <= 0)
_EXPONENTS: dict[str, tuple[int, ...]] = {
    unit: tuple(_PREFIXES) for unit in ("V", "A", "W", "Ω", "ohm", "Hz", "J", "VA", "var", "S", "C")
} | {"s": _TO_UNITY, "m": _TO_UNITY, "H": _TO_UNITY, "T": _TO_UNITY, "V·s": _TO_UNITY,
     "F": tuple(exponent for exponent in _TO_UNITY if exponent != -3)}  # fmt: skip
_NO_GAP = {"°"}
_EXACT_DIGITS, _SHORT_DIGITS = 4, 3
_LEAST_IN_SPAN = 0.1
# Sides that differ by less than this share of the half-width are written as one.
_LOPSIDED = 0.2
# Powers of ten of the first digit outside which plain digits are no longer read at a glance.
_READABLE = range(-4, 7)
_CONTEXT = Context(prec=700)
_SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


@dataclass(frozen=True)
class Value:
    """A number with its uncertainty.

    Attributes
    ----------
    value : float
        Best estimate. [unit]
    standard_uncertainty : float
        Standard uncertainty; 0 if none is known. [unit]
    unit : str
        SI unit as shown, or ``%`` for a fraction (0.89 shows as 89 %), ``°C``, ``h``, ``years``.
    interval : tuple of float or None
        Ends of the 95 % interval where more is known than the standard uncertainty. [unit]
    accuracy_assumed : bool
        Whether the uncertainty is that of a usual instrument, since none is listed; no verdict
        may rest on such a reading.

    Raises
    ------
    ValueError
        If a number is not finite, the uncertainty is negative, or the ends are in the wrong order.
    """

    value: float
    standard_uncertainty: float
    unit: str
    interval: tuple[float, float] | None = None
    accuracy_assumed: bool = False

    def __post_init__(self) -> None:
        """Refuse what can't be written down as a number."""
        if not math.isfinite(self.value):
            raise ValueError(f"value must be finite, got {self.value!r}")
        if not (math.isfinite(self.standard_uncertainty) and self.standard_uncertainty >= 0):
            raise ValueError(
                f"standard_uncertainty must be finite and >= 0, got {self.standard_uncertainty!r}"
            )
        if self.interval is not None:
            low, high = self.interval
            if not (math.isfinite(low) and math.isfinite(high) and low <= high):
                raise ValueError(f"interval must be finite (low, high), got {self.interval!r}")

    def __str__(self) -> str:
        """Value with its 95 % interval, rounded to what the uncertainty justifies."""
        place = self._place
        if place is None:
            return _joined(
                *_written([_significant(self.value, self.unit, _EXACT_DIGITS)], self.unit)
            )
        value = _rounded(self.value, self.unit, place)
        if not self._is_lopsided:
            spread = _rounded(self._half_width, self.unit, place)
            texts, unit = _written([value, spread], self.unit)
            inside = " ± ".join(texts)
            return _joined([f"({inside})" if unit else inside], unit)
        assert self.interval is not None
        ends = [_rounded(end, self.unit, place) for end in self.interval]
        (number, *texts), unit = _written([value, *ends], self.unit)
        return f"{_joined([number], unit)} ({' to '.join(texts)})"

    @property
    def short(self) -> str:
        """Value alone, rounded to what the uncertainty justifies."""
        place = self._place
        if place is None:
            shown = [_significant(self.value, self.unit, _SHORT_DIGITS)]
        else:
            ends = self.interval or (self._half_width,)
            shown = [_rounded(number, self.unit, place) for number in (self.value, *ends)]
        texts, unit = _written(shown, self.unit)
        return _joined(texts[:1], unit)

    @property
    def _half_width(self) -> float:
        if self.interval is None:
            return coverage_factor() * self.standard_uncertainty
        low, high = self.interval
        return (high - low) / 2

    @property
    def _is_lopsided(self) -> bool:
        """Whether one side of the interval is clearly longer than the other."""
        if self.interval is None:
            return False
        apart = abs(sum(self.interval) - 2 * self.value)
        return apart > _LOPSIDED * self._half_width

    @property
    def _place(self) -> int | None:
        """Power of ten of the last digit written; none where nothing is known of the doubt."""
        place = _last_place(_decimal(self._half_width, self.unit))
        if place is None or self.interval is None or not self._is_lopsided:
            return place
        # The smaller end keeps its first digit, as far as one more digit does that.
        ends = [_decimal(end, self.unit) for end in self.interval]
        first = min((end.adjusted() for end in ends if end), default=place)
        return max(place - 1, min(place, first))


def span(low: float, high: float, unit: str) -> str:
    """Two ends as said aloud, such as ``0.2 to 0.8 Ω``.

    Parameters
    ----------
    low, high : float
        The ends. [unit]
    unit : str
        As in `Value`.

    Returns
    -------
    str
        With one prefix for both, unless the lower end would become less than a tenth of it; one
        number where they are alike.
    """
    if low == high:
        return str(Value(low, 0.0, unit))
    ends, shown = _written([_significant(end, unit, _EXACT_DIGITS) for end in (low, high)], unit)
    if low and abs(float(ends[0])) < _LEAST_IN_SPAN:
        return f"{Value(low, 0.0, unit)} to {Value(high, 0.0, unit)}"
    return _joined([" to ".join(ends)], shown)


def _decimal(number: float, unit: str) -> Decimal:
    """The number as its unit shows it, without the dust of binary fractions."""
    return Decimal(repr(float(number))).scaleb(2 if unit == "%" else 0)


def _rounded(number: float, unit: str, place: int) -> Decimal:
    return _decimal(number, unit).quantize(Decimal((0, (1,), place)), context=_CONTEXT)


def _significant(number: float, unit: str, digits: int) -> Decimal:
    exact = _decimal(number, unit)
    if not exact:
        return Decimal(0)
    return _rounded(number, unit, exact.adjusted() - digits + 1).normalize(_CONTEXT)


def _last_place(half_width: Decimal) -> int | None:
    """Place that leaves two digits of the half-width where it starts with 1, else one."""
    if half_width <= 0:
        return None
    return half_width.adjusted() - (half_width.as_tuple().digits[0] == 1)


def _written(numbers: Sequence[Decimal], unit: str) -> tuple[list[str], str]:
    """Rounded numbers as plain digits behind the one prefix that suits the largest of them."""
    first = max((number.adjusted() for number in numbers if number), default=0)
    exponents = _EXPONENTS.get(unit, (0,))
    exponent = max((known for known in exponents if known <= first), default=exponents[0])
    shown = _PREFIXES[exponent] + unit
    if first - exponent not in _READABLE:
        power, exponent = first - exponent, first
        shown = f"× 10{str(power).translate(_SUPERSCRIPT)} {shown}".strip()
    scaled = [number.scaleb(-exponent, _CONTEXT) for number in numbers]
    return [f"{number if number else abs(number):f}" for number in scaled], shown


def _joined(texts: Sequence[str], unit: str) -> str:
    (text,) = texts
    return f"{text}{'' if unit in _NO_GAP else ' '}{unit}".strip()
