"""Ranges that makers state for their life laws; shared by the laws and their variants."""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Floats, Numbers, not_negative, plain, positive
from adapterlab.numerics.arguments import temperature as celsius
from adapterlab.published import rows

LOWEST_TEMPERATURE: float = rows("capacitor_life", "laws", name="base life without ripple")[0][
    "lowest_temperature"
]
_LARGEST_RISE = 40.0


def kelvin_below_rating(
    rated_temperature: ArrayLike, temperature: ArrayLike, lowest_temperature: ArrayLike
) -> Floats:
    """Distance to the rated temperature, if the temperature lies in the maker's range."""
    rated = celsius("rated_temperature", rated_temperature)
    warm = celsius("temperature", temperature)
    if np.any(warm > rated):
        raise ValueError(
            f"temperature must be at most rated_temperature ({rated_temperature!r} °C): above it "
            f"no maker states a life; got {temperature!r}"
        )
    if np.any(warm < celsius("lowest_temperature", lowest_temperature)):
        raise ValueError(
            f"temperature must be at least lowest_temperature ({lowest_temperature!r} °C), where "
            f"the law was stated; got {temperature!r}"
        )
    return np.asarray(rated - warm)


def core_rise(name: str, value: ArrayLike) -> Floats:
    """A rise by ripple current, if it is one the laws were stated for. [K]."""
    rise = not_negative(name, value)
    if np.any(rise >= _LARGEST_RISE):
        raise ValueError(f"{name} must be below {_LARGEST_RISE:g} K, got {value!r}")
    return rise


def scaled(base_life: ArrayLike, logarithm: Floats, base: float = 2.0) -> Numbers:
    """`base_life` times `base` to the power `logarithm`, if that is a number to be trusted."""
    with np.errstate(over="ignore", under="ignore"):
        life = positive("base_life", base_life) * base**logarithm
    if not np.all(np.isfinite(life) & (life > 0)):
        raise ValueError(
            "rated_temperature, temperature and the ripple rises lead to a life too long or too "
            "short for a number; check them"
        )
    return plain(life)
