"""Instruments of a random bench: hidden errors inside their stated accuracy, noise and rounding."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Stated:
    """Accuracy as the manual states it, in the SI unit of the quantity.

    Attributes
    ----------
    name, measures : str
        Instrument and quantity.
    reading, scale, full_scale, resolution : float
        Fraction of reading, fraction of full scale, full scale, last digit.
    note : str
    """

    name: str
    measures: str
    reading: float
    scale: float = 0.0
    full_scale: float = 0.0
    resolution: float = 0.0
    note: str = ""

    @property
    def offset(self) -> float:
        """Largest shift that the part of full scale allows."""
        return self.scale * self.full_scale


@dataclass
class Meter:
    """One instrument with its hidden errors.

    The error of reading parts into a gain and a bend (linearity); both together, and the shift,
    stay within what is stated, every value equally likely (JCGM 100:2008, 4.3.7).

    Attributes
    ----------
    stated : Stated
        What the dossier says.
    gain, bend, phase, shift : float
        Gain error, size of the bend and where it lies, shift. [1], [1], [radians], SI unit
    rng : numpy.random.Generator
        Source of the noise, 0.3 of the last digit (common practice).
    """

    stated: Stated
    gain: float
    bend: float
    phase: float
    shift: float
    rng: np.random.Generator

    def shown(self, true: float) -> float:
        """What the meter shows of a true value, before noise and rounding."""
        span = self.stated.full_scale or 1.0
        share = self.gain + self.bend * np.sin(2.2 * np.pi * abs(true) / span + self.phase)
        return float(true * (1 + share) + self.shift)

    def read(self, true: float, factor: float = 1.0, quiet: bool = False) -> str:
        """Reading as it is written down; `factor` is the SI unit over the unit written."""
        step = self.stated.resolution
        noise = 0.0 if quiet else 0.3 * step * float(self.rng.standard_normal())
        return rounded(self.shown(true) + noise, step or abs(true) * 1e-4 or 1e-9, factor)


def rounded(value: float, step: float, factor: float = 1.0) -> str:
    """Text of `value` in steps of `step`, both multiplied by `factor`."""
    step *= factor
    decimals = max(0, -int(np.floor(np.log10(step) + 1e-9)))
    text = f"{round(value * factor / step) * step:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


def draw_meter(stated: Stated, rng: np.random.Generator, noise: np.random.Generator) -> Meter:
    """Instrument with errors drawn once."""
    total, split = rng.uniform(-stated.reading, stated.reading), rng.uniform(0.0, 0.3)
    zeroed = 0.1 if stated.measures == "capture current" else 1.0
    return Meter(
        stated,
        gain=float(total * (1 - split)),
        bend=float(abs(total) * split),
        phase=float(rng.uniform(0, 2 * np.pi)),
        shift=float(rng.uniform(-stated.offset, stated.offset) * zeroed),
        rng=noise,
    )


# Classes of bench, by what their manuals state (common practice; a bench analyser's manual prints
# 0.1 % of reading and 0.05 % to 0.1 % of range, a plug-in one 0.5 to 1 %).
CLASSES = {
    "fine": {"power": (0.001, 0.0005), "current": (0.002, 0.001), "voltage": (0.001, 0.0005)},
    "good": {"power": (0.001, 0.001), "current": (0.002, 0.002), "voltage": (0.001, 0.001)},
    "plain": {"power": (0.003, 0.001), "current": (0.003, 0.002), "voltage": (0.002, 0.001)},
}


def bench(rng: np.random.Generator, power: float, current: float) -> dict[str, Stated]:
    """Instruments of a bench for an adapter of a rated `power` [W] that draws `current` [A]."""
    kind = CLASSES[str(rng.choice(list(CLASSES), p=[0.4, 0.35, 0.25]))]
    ranges = (15.0, 30.0, 75.0, 150.0)
    wide = next(item for item in ranges if item > 1.25 * power)
    amperes = next(item for item in (0.5, 1.0, 2.0, 5.0) if item > 1.2 * current)
    thermometer = float(rng.choice([0.005, 0.0075]))
    clamp, probe = float(rng.choice([0.01, 0.02, 0.03])), float(rng.choice([0.01, 0.02]))
    touch = float(rng.choice([0.01, 0.02]))
    bits = int(rng.choice([8, 8, 8, 10, 12]))
    fixture = "20 MHz limit, ground spring, 0.1 uF + 47 uF at the connector"
    listed = [
        Stated(
            f"power analyser, {wide:g} W range",
            "input power",
            *kind["power"],
            wide,
            0.01 if wide > 30 else 0.001,
        ),
        Stated(
            "power analyser, 1 W range",
            "no-load power",
            2 * kind["power"][0],
            2 * kind["power"][1],
            1.0,
            0.001,
        ),
        Stated("power analyser", "mains voltage", *kind["voltage"], 300.0, 0.1),
        Stated("power analyser", "mains frequency", 2e-4, 0.0, 0.0, 0.01),
        Stated("power analyser", "mains current", *kind["current"], amperes, 0.001),
        Stated(
            "bench multimeter",
            "output voltage",
            float(rng.choice([5e-4, 2.5e-4])),
            1e-4,
            20.0,
            0.001,
        ),
        Stated(
            "electronic load, built-in meter",
            "output current",
            float(rng.choice([1e-3, 5e-4])),
            2e-4,
            5.0,
            0.001,
        ),
        Stated(f"oscilloscope, {fixture}", "ripple", 0.03, 0.01, 0.1, 0.001),
        Stated("touch-current meter", "touch current", touch, 0.0, 0.0, 1e-6),
        Stated("thermocouple thermometer", "temperature", 0.0, thermometer, 200.0, 0.1),
        Stated(
            "clamp-on current probe",
            "capture current",
            clamp,
            0.001,
            150.0,
            0.0,
            f"zeroed before each capture; oscilloscope of {bits} bits",
        ),
        Stated("differential probe, 1:200", "capture voltage", probe, 0.005, 400.0),
        Stated("calliper and feeler pins", "distance", 0.0, 0.0002, 0.15, 5e-5),
    ]
    return {item.measures: item for item in listed}


def bits_of(bench_list: dict[str, Stated]) -> int:
    """Bits of the oscilloscope on this bench."""
    note = bench_list["capture current"].note
    return int(note.split("oscilloscope of ")[1].split()[0])
