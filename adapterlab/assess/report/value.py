"""How a number with its uncertainty is written."""

import math
from dataclasses import dataclass

from adapterlab.uncertainty import coverage_factor

_PREFIXES = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M"}
_UNPREFIXED = {"%", "°C", "K", "h", "years", "A²s", "g/W", "per W", "kWh", ""}


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
        Ends of the 95 % interval where it is not symmetric. [unit]
    """

    value: float
    standard_uncertainty: float
    unit: str
    interval: tuple[float, float] | None = None

    def __str__(self) -> str:
        """Value ± 95 % half-width, rounded to what the uncertainty justifies."""
        factor, unit = _scale(self.value, self.unit, self._half_width)
        shown = self.value * factor
        if self.interval is not None:
            low, high = (f"{end * factor:.2g}" for end in self.interval)
            return f"{shown:.2g} {unit} ({low} to {high})"
        half_width = self._half_width * factor
        if half_width <= 0:
            return f"{shown:.4g} {unit}".strip()
        decimals = _decimals(half_width)
        number = f"{round(shown, decimals):.{max(decimals, 0)}f}"
        spread = f"{round(half_width, decimals):.{max(decimals, 0)}f}"
        joined = f"{number} ± {spread}"
        gap = "" if unit == "°" else " "
        return f"({joined}){gap}{unit}" if unit else joined

    @property
    def _half_width(self) -> float:
        return coverage_factor() * self.standard_uncertainty

    @property
    def short(self) -> str:
        """Value alone, rounded to what the uncertainty justifies."""
        factor, unit = _scale(self.value, self.unit, self._half_width)
        half_width = self._half_width * factor
        if half_width <= 0:
            return f"{self.value * factor:.3g} {unit}".strip()
        decimals = _decimals(half_width)
        return f"{round(self.value * factor, decimals):.{max(decimals, 0)}f} {unit}".strip()


def _decimals(half_width: float) -> int:
    """Decimals that leave two digits of the half-width when it starts with 1, else one."""
    exponent = math.floor(math.log10(half_width))
    lead = half_width / 10**exponent
    return -exponent + (1 if lead < 2 else 0)


def _scale(value: float, unit: str, half_width: float = 0.0) -> tuple[float, str]:
    """Factor and prefixed unit that suit the value as it will be rounded."""
    if unit == "%":
        return 100.0, "%"
    if unit in _UNPREFIXED or value == 0:
        return 1.0, unit
    rounded = round(value, _decimals(half_width)) if half_width > 0 else value
    exponent = 3 * math.floor(math.log10(abs(rounded or value)) / 3)
    exponent = min(max(exponent, -12), 6)
    return 10.0**-exponent, _PREFIXES[exponent] + unit
