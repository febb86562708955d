"""Bench readings of small mains-to-USB adapters, held against what their parts predict.

Equations are pure functions on numbers and arrays, one module for each review section, such as
`efficiency` or `touch_current`; `uncertainty` and `thermal` serve them all. `dossier` reads the
record of one adapter, `assess` turns it into findings, `figures` draws them, `kit` runs the
notebooks. SI units in and out; temperatures in degrees Celsius. Sections load on first use, so
importing the package costs next to nothing.
"""

from importlib import import_module
from types import ModuleType

__version__ = "0.2.0.dev0"

_SUBMODULES = (
    "assess",
    "bench_plan",
    "capacitor_life",
    "dossier",
    "efficiency",
    "figures",
    "flyback",
    "inrush",
    "insulation",
    "kit",
    "mains_current",
    "output_quality",
    "parts",
    "published",
    "standing",
    "thermal",
    "touch_current",
    "transformer",
    "uncertainty",
    "verdict",
)


def __getattr__(name: str) -> ModuleType:
    """Load a section on first use."""
    if name in _SUBMODULES:
        return import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    """Names offered by the package, sections included."""
    return sorted([*globals(), *_SUBMODULES])
