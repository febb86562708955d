"""The typed-in tables of a dossier: which columns they have, and in which units."""

from collections.abc import Mapping
from dataclasses import dataclass

# Suffix of a column name -> factor to the SI unit.
SUFFIXES: dict[str, dict[str, float]] = {
    "V": {"_v": 1.0, "_mv": 1e-3, "_uv": 1e-6, "_kv": 1e3},
    "A": {"_a": 1.0, "_ma": 1e-3, "_ua": 1e-6},
    "W": {"_w": 1.0, "_mw": 1e-3, "_uw": 1e-6},
    "Hz": {"_hz": 1.0, "_khz": 1e3},
    "s": {"_s": 1.0, "_ms": 1e-3, "_min": 60.0, "_h": 3600.0},
    "C": {"_c": 1.0},
    "kg": {"_g": 1e-3, "_kg": 1.0},
    "1": {"": 1.0, "_percent": 1e-2},
}


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    unit : str
        SI unit (a key of `SUFFIXES`), or empty for text.
    required : bool
        Whether the table makes no sense without it.
    choices : tuple of str
        Texts allowed; empty for any.
    least, most : float
        Range allowed, in the SI unit.
    outcome : bool
        Whether it is read off a meter: a row without any outcome is planned, not yet measured.
    """

    unit: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    least: float = float("-inf")
    most: float = float("inf")
    outcome: bool = False

    @property
    def dtype(self) -> str:
        """Type of the column in a data frame."""
        return "float64" if self.unit else "str"


_MAINS = {
    "mains_voltage": Column("V", required=True, least=1.0, most=500.0),
    "mains_frequency": Column("Hz", required=True, least=10.0, most=1000.0),
}

TABLES: dict[str, dict[str, Column]] = {
    "load_sweep": {
        "point": Column(required=True),
        **_MAINS,
        "mains_current": Column("A", least=0.0, most=50.0, outcome=True),
        "input_power": Column("W", required=True, least=0.0, most=2000.0, outcome=True),
        "second_input_power": Column("W", least=0.0, most=2000.0, outcome=True),
        "port": Column(required=True),
        "mode": Column(required=True),
        "set_voltage": Column("V", least=0.0, most=60.0),
        "set_current": Column("A", least=0.0, most=50.0),
        "output_voltage": Column("V", required=True, least=0.0, most=100.0, outcome=True),
        "output_current": Column("A", required=True, least=0.0, most=50.0, outcome=True),
        "ripple_pp": Column("V", least=0.0, most=50.0, outcome=True),
        "case_temperature": Column("C", least=-40.0, most=200.0, outcome=True),
    },
    "no_load": {
        **_MAINS,
        "power": Column("W", required=True, least=0.0, most=100.0, outcome=True),
        "averaging_time": Column("s", least=0.0),
        "cable": Column(choices=("none", "plugged")),
        "crest_factor": Column("1", least=1.0, most=1000.0),
        "power_factor": Column("1", least=0.0, most=1.0),
    },
    "touch_current": {
        **_MAINS,
        "polarity": Column(choices=("a", "b")),
        "network": Column(choices=("weighted", "unweighted", "ammeter")),
        "touched_part": Column(),
        "quantity": Column(required=True, choices=("rms", "peak", "dc")),
        "touch_current": Column("A", required=True, least=0.0, most=1.0, outcome=True),
        "output_power": Column("W", least=0.0, most=1000.0),
    },
    "temperatures": {
        "place": Column(required=True),
        "temperature": Column("C", required=True, least=-40.0, most=300.0, outcome=True),
        "ambient": Column("C", least=-40.0, most=100.0),
        "case": Column(choices=("open", "closed")),
        "output_power": Column("W", least=0.0, most=1000.0),
        "time_at_load": Column("s", least=0.0),
        "mains_voltage": Column("V", least=1.0, most=500.0),
        "port": Column(),
        "mode": Column(),
    },
}


def headings(columns: Mapping[str, Column]) -> list[str]:
    """Column headings of a table in their first spelling: what is set, then what is read."""
    order = sorted(columns, key=lambda key: columns[key].outcome)
    return [
        key + (next(iter(SUFFIXES[columns[key].unit])) if columns[key].unit else "")
        for key in order
    ]
