"""What parts there are to choose from. Invented parts of usual sizes; sources beside each table."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Core:
    """Ferrite core with its bobbin.

    Attributes
    ----------
    name : str
        Size.
    area, path : float
        Of the core. [m2], [m]
    width, height, turn : float
        Of the winding window, and mean turn. [m]
    power : float
        What it usually carries in an adapter. [W]
    """

    name: str
    area: float
    path: float
    width: float
    height: float
    turn: float
    power: float


# Areas and paths of the standardised sizes (IEC 62317 series, from memory, rounded); windows with
# bobbin and the power each carries at 65 to 130 kHz: common practice.
CORES = (
    Core("RM6 size, ferrite", 36e-6, 28.6e-3, 6.3e-3, 2.6e-3, 31e-3, 14.0),
    Core("EFD20 size, ferrite", 31e-6, 47e-3, 12.8e-3, 2.1e-3, 34e-3, 22.0),
    Core("RM8 size, ferrite", 64e-6, 38e-3, 8.6e-3, 3.4e-3, 42e-3, 34.0),
    Core("EFD25 size, ferrite", 58e-6, 57e-3, 15.8e-3, 2.6e-3, 47e-3, 45.0),
    Core("RM10 size, ferrite", 96e-6, 44e-3, 10.3e-3, 4.2e-3, 52e-3, 70.0),
    Core("PQ26/20 size, ferrite", 119e-6, 46e-3, 9.2e-3, 4.6e-3, 56e-3, 105.0),
    Core("PQ26/25 size, ferrite", 118e-6, 55e-3, 13.8e-3, 4.6e-3, 56e-3, 140.0),
    Core("PQ32/30 size, ferrite", 161e-6, 75e-3, 18.5e-3, 5.6e-3, 67e-3, 200.0),
)

# Loss of power ferrites at 100 kHz, 200 mT and 100 degC, and the exponents of frequency and flux:
# makers' tables for materials of this class print 300 to 450 kW/m3, and from 25 to 100 kHz and from
# 100 to 200 mT lines of those slopes. At 25 degC it is 1.5 to 1.9 times that.
FERRITE_LOSS = (290e3, 450e3)
FERRITE_FREQUENCY = (1.25, 1.45)
FERRITE_FLUX = (2.45, 2.75)
FERRITE_COLD = (0.5, 0.9)
FERRITE_PERMEABILITY = (1900.0, 2500.0)
FERRITE_SATURATION = (0.37, 0.42)  # at 100 degC, makers' tables

WIRES = (
    0.12e-3,
    0.15e-3,
    0.18e-3,
    0.20e-3,
    0.22e-3,
    0.25e-3,
    0.28e-3,
    0.30e-3,
    0.35e-3,
    0.40e-3,
    0.45e-3,
    0.50e-3,
)
STRANDS = (0.10e-3, 0.15e-3, 0.20e-3)


@dataclass(frozen=True)
class Disc:
    """Inrush thermistor.

    Attributes
    ----------
    diameter : float
        [mm]
    resistances : tuple of float
        At 25 degC. [ohm]
    current : float
        Most it may carry all the time. [A]
    dissipation, heat_capacity : float
        In free air; of the body. [W/K], [J/K]
    """

    diameter: float
    resistances: tuple[float, ...]
    current: float
    dissipation: float
    heat_capacity: float


# A maker's 9 mm series prints 9 mW/K, 540 mJ/K and 60 s (data sheet of May 2002); other makers'
# tables print 60 to 120 s. The steps by diameter are common practice.
DISCS = (
    Disc(5.0, (5.0, 8.0, 10.0, 16.0), 1.0, 7e-3, 0.18),
    Disc(7.0, (5.0, 8.0, 10.0, 16.0), 1.5, 8e-3, 0.30),
    Disc(9.0, (4.7, 5.0, 8.0, 10.0), 2.5, 10e-3, 0.54),
    Disc(11.0, (4.7, 5.0, 8.0, 10.0), 3.5, 13e-3, 0.85),
    Disc(13.0, (2.5, 4.7, 5.0, 8.0), 5.0, 15e-3, 1.30),
)
THERMISTOR_TOLERANCE = 0.20  # the usual marking, code M
BETA = (2650.0, 3100.0)  # makers' tables imply 2565 to 3060 K

# 400 V electrolytic capacitors, microfarads.
BULK_SIZES = (
    6.8,
    8.2,
    10.0,
    12.0,
    15.0,
    18.0,
    22.0,
    27.0,
    33.0,
    39.0,
    47.0,
    56.0,
    68.0,
    82.0,
    100.0,
)
BULK_TOLERANCE = 0.20
# Universal input takes 2 to 3 uF for each watt of output (common practice); cheap ones 1.5.
BULK_PER_WATT = (1.6e-6, 2.6e-6)
# Loss factor at 100 Hz and 20 degC: data sheets allow 0.15 to 0.24, new parts show a third to half
# of that (common practice). A part of it, 0.015 to 0.03, is the oxide's and does not fall with
# temperature; the electrolyte's halves every 30 K or so (common practice).
BULK_LOSS_FACTOR = (0.04, 0.09)
OXIDE_LOSS_FACTOR = (0.015, 0.03)
ELECTROLYTE_HALVES = 30.0

LINE_CAPACITORS = (0.1e-6, 0.15e-6, 0.22e-6, 0.33e-6, 0.47e-6)
CHOKES = (5e-3, 10e-3, 15e-3, 20e-3, 30e-3)
# Ring cores leave about 1 %, E cores with sections about 2 % (makers' data sheets).
CHOKE_LEAKAGE = (0.010, 0.020)
BARRIER_CAPACITORS = (0.47e-9, 0.68e-9, 1.0e-9, 1.5e-9, 2.2e-9)

SWITCHES = (0.15, 0.19, 0.28, 0.38, 0.60, 0.90, 1.2, 1.5, 2.0)  # ohm at 25 degC, most
SWITCH_RISE = (0.0055, 0.0085)  # per kelvin, 600 V transistors (makers' curves: 1.8 to 2.2 at 125)
CHANNELS = (4e-3, 6e-3, 9e-3, 12e-3, 15e-3, 20e-3)
OUTPUT_VOLTAGES = (6.3, 10.0, 16.0, 25.0)
RECTIFIER_VOLTAGES = (45.0, 60.0, 80.0, 100.0, 120.0, 150.0, 200.0)
