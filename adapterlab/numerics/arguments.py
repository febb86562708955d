"""Checks of arguments and shapes, shared by every public function."""

from collections.abc import Callable, Iterable
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]
Integers = NDArray[np.intp]
# What cases can be taken from an array by.
Places: TypeAlias = (
    "int | slice[int | None, int | None, None] | Integers | Bools"
    " | tuple[slice[None, None, None] | None, ...]"
)
# What a function that broadcasts hands back: a float where all its arguments were scalars, else an
# array.
Numbers: TypeAlias = Any  # type: ignore[explicit-any]


def _checked(name: str, value: ArrayLike, good: Callable[[Floats], Bools], rule: str) -> Floats:
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise ValueError(f"{name} must be a number {rule}, got {value!r}") from None
    if not np.all(np.isfinite(array) & good(array)):
        raise ValueError(f"{name} must be finite and {rule}, got {value!r}")
    return array


def finite(name: str, value: ArrayLike) -> Floats:
    """`value` as a float array; raises unless every element is finite."""
    return _checked(name, value, lambda array: array == array, "not NaN")


def positive(name: str, value: ArrayLike) -> Floats:
    """`value` as a float array; raises unless every element is finite and above zero."""
    return _checked(name, value, lambda array: array > 0, "> 0")


def not_negative(name: str, value: ArrayLike) -> Floats:
    """`value` as a float array; raises unless every element is finite and at least zero."""
    return _checked(name, value, lambda array: array >= 0, ">= 0")


def fraction(name: str, value: ArrayLike) -> Floats:
    """`value` as a float array; raises unless every element lies above 0 and at most at 1."""
    return _checked(name, value, lambda array: (array > 0) & (array <= 1), "above 0 and at most 1")


def temperature(name: str, value: ArrayLike) -> Floats:
    """`value` in degrees Celsius as a float array; raises below absolute zero."""
    return _checked(name, value, lambda array: array > -273.15, "above -273.15 °C")


def one_of(name: str, value: object, allowed: Iterable[str]) -> str:
    """`value` as it is; raises unless it is one of the words allowed."""
    words = list(allowed)
    if not isinstance(value, str) or value not in words:
        raise ValueError(f"{name} must be one of {', '.join(words)}, got {value!r}")
    return value


def plain(result: ArrayLike) -> Numbers:
    """A Python scalar for a result without dimensions, the array unchanged otherwise."""
    array: Floats = np.asarray(result)
    return array.item() if array.ndim == 0 else array
