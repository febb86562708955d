"""What is printed on the parts of an adapter, and what they are made to stand.

`read_marking` reads a whole marking, word by word. Offered here too: codes and preferred values,
fuses, discs and safety capacitors.
"""

from adapterlab.parts.codes import (
    SERIES,
    MarkedCapacitance,
    MarkedResistance,
    Preferred,
    capacitance_from_code,
    nearest_preferred,
    preferred_series,
    preferred_values,
    resistance_from_code,
    tolerance_from_letter,
    voltage_from_code,
)
from adapterlab.parts.marking import (
    KINDS,
    Marking,
    read_marking,
)
from adapterlab.parts.protection import (
    DiscMarking,
    FuseGate,
    FuseMarking,
    discs_from_code,
    fuse_breaking_capacity,
    fuse_from_code,
    fuse_gate,
    impulse_test_voltage,
    safety_class_row,
)

__all__ = [
    "KINDS",
    "SERIES",
    "DiscMarking",
    "FuseGate",
    "FuseMarking",
    "MarkedCapacitance",
    "MarkedResistance",
    "Marking",
    "Preferred",
    "capacitance_from_code",
    "discs_from_code",
    "fuse_breaking_capacity",
    "fuse_from_code",
    "fuse_gate",
    "impulse_test_voltage",
    "nearest_preferred",
    "preferred_series",
    "preferred_values",
    "read_marking",
    "resistance_from_code",
    "safety_class_row",
    "tolerance_from_letter",
    "voltage_from_code",
]
