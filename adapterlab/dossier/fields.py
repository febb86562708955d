"""Kinds of value in the tables of ``adapter.toml``: physical values, and words from a list."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from adapterlab.dossier.quantity import in_unit

Volt = Annotated[float, in_unit("V"), Field(gt=0)]
Ampere = Annotated[float, in_unit("A"), Field(gt=0)]
AmpereOrZero = Annotated[float, in_unit("A"), Field(ge=0)]
Watt = Annotated[float, in_unit("W"), Field(gt=0)]
Hertz = Annotated[float, in_unit("Hz"), Field(gt=0)]
Ohm = Annotated[float, in_unit("ohm"), Field(gt=0)]
Henry = Annotated[float, in_unit("H"), Field(gt=0)]
Farad = Annotated[float, in_unit("F"), Field(gt=0)]
Metre = Annotated[float, in_unit("m"), Field(gt=0)]
SquareMetre = Annotated[float, in_unit("m2"), Field(gt=0)]
Second = Annotated[float, in_unit("s"), Field(gt=0)]
Celsius = Annotated[float, in_unit("C"), Field(ge=-273.15)]
Kelvin = Annotated[float, in_unit("K"), Field(ge=0)]
Ratio = Annotated[float, in_unit("1"), Field(ge=0)]
Kilogram = Annotated[float, in_unit("kg"), Field(gt=0)]
JoulePerKelvin = Annotated[float, in_unit("J/K"), Field(gt=0)]
WattPerKelvin = Annotated[float, in_unit("W/K"), Field(gt=0)]
AmpereSquareSecond = Annotated[float, in_unit("A2s"), Field(gt=0)]
Joule = Annotated[float, in_unit("J"), Field(gt=0)]
Tesla = Annotated[float, in_unit("T"), Field(gt=0)]

# What each kind of part is marked with, and so the unit of its value.
PART_UNITS = {
    "capacitor": "F",
    "resistor": "ohm",
    "thermistor": "ohm",
    "inductor": "H",
    "fuse": "A",
    "varistor": "V",
    "diode": "V",
    "bridge": "V",
    "transistor": "V",
    "transformer": "H",
}

PartKind = Literal[
    "capacitor",
    "resistor",
    "thermistor",
    "inductor",
    "fuse",
    "varistor",
    "diode",
    "bridge",
    "transistor",
    "transformer",
    "integrated circuit",
    "optocoupler",
    "connector",
    "other",
]
PartRole = Literal[
    "fuse",
    "inrush limiter",
    "surge absorber",
    "line capacitor",
    "discharge resistor",
    "line choke",
    "rectifier bridge",
    "bulk capacitor",
    "barrier capacitor",
    "auxiliary capacitor",
    "output capacitor",
    "switch",
    "output rectifier",
    "snubber",
    "controller",
    "output controller",
    "feedback isolator",
    "clamp",
    "current sense",
    "transformer",
    "port switch",
    "mains connection",
    "heat spreader",
    "screen",
    "other",
]
Quantity = Literal[
    "mains voltage",
    "mains frequency",
    "mains current",
    "input power",
    "no-load power",
    "output voltage",
    "output current",
    "ripple",
    "touch current",
    "temperature",
    "capture current",
    "capture voltage",
    "distance",
    "inductance",
    "capacitance",
    "turns ratio",
]
Insulation = Literal["functional", "basic", "supplementary", "reinforced"]


class Table(BaseModel):
    """A TOML table: no unknown keys, no silent conversions."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
