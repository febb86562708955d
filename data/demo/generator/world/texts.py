"""Texts of ``adapter.toml``: values with their unit, tables and lists."""

import math
from collections.abc import Mapping
from typing import Any

PREFIXES = {-12: "p", -9: "n", -6: "u", -3: "m", 0: "", 3: "k", 6: "M"}


def si(value: float, unit: str, digits: int = 3) -> str:
    """Value with a prefix, such as ``"4.7 nF"``."""
    if value == 0:
        return f"0 {unit}"
    exponent = 3 * math.floor(math.log10(abs(value) * (1 + 1e-9)) / 3)
    exponent = min(max(exponent, -12), 6)
    return f"{float(f'{value / 10**exponent:.{digits}g}'):g} {PREFIXES[exponent]}{unit}"


def percent(value: float) -> str:
    """Share in per cent."""
    return f"{float(f'{100 * value:.3g}'):g} %"


def entry(value: Any) -> str:
    """One value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(entry(item) for item in value) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {entry(item)}" for key, item in value.items()) + " }"
    return f"{float(f'{value:.6g}')!r}" if isinstance(value, float) else str(value)


def table(heading: str, values: Mapping[str, Any]) -> str:
    """A table; entries that are None or empty are left out."""
    lines = [heading]
    for key, value in values.items():
        if value is None or value == "":
            continue
        if isinstance(value, list) and value and isinstance(value[0], Mapping):
            lines += [f"{key} = [", *(f"    {entry(item)}," for item in value), "]"]
        else:
            lines.append(f"{key} = {entry(value)}")
    return "\n".join(lines) + "\n"
