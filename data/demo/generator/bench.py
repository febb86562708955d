"""Instruments of the invented bench: errors drawn once, noise and rounding at every reading."""

import re
from dataclasses import dataclass
from typing import Any

import numpy as np


def number(text: Any) -> float:
    """Number from a TOML value such as ``"0.1 %"``, ``0.01`` or ``"0.15 mm"``."""
    if not isinstance(text, str):
        return float(text)
    match = re.match(r"[-+0-9.eE]+", text)
    if match is None:
        raise ValueError(f"no number in {text!r}")
    return float(match[0]) / (100 if text.endswith("%") else 1)


@dataclass
class Meter:
    """One instrument with its hidden errors.

    Attributes
    ----------
    gain, offset : float
        True relative error and true shift, constant through the dossier. [1], SI unit
    resolution, noise : float
        Last digit shown, and standard deviation of one reading. SI unit
    rng : numpy.random.Generator
        Source of the noise.
    """

    gain: float
    offset: float
    resolution: float
    noise: float
    rng: np.random.Generator

    def read(self, truth: float, factor: float = 1.0) -> str:
        """Reading of a true value as it is written down.

        Parameters
        ----------
        truth : float
            SI unit.
        factor : float
            SI unit over the unit written, such as 1000 for milliwatts.

        Returns
        -------
        str
            Rounded to the resolution.
        """
        value = truth * (1 + self.gain) + self.offset + self.noise * self.rng.standard_normal()
        return rounded(value, self.resolution, factor)


def rounded(value: float, resolution: float, factor: float = 1.0) -> str:
    """Text of `value` in steps of `resolution`, both multiplied by `factor`."""
    step = resolution * factor
    decimals = max(0, -int(np.floor(np.log10(step) + 1e-9)))
    steps = round(value * factor / step)
    text = f"{steps * step:.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


# Read at the pins of a transformer, with draws of their own: `generator.magnetics.read_coils`.
_AT_THE_PINS = ("inductance", "capacitance", "turns ratio")


class Bench:
    """All instruments of one dossier, drawn from the accuracies its file states."""

    def __init__(self, instruments: list[dict[str, Any]], rng: np.random.Generator) -> None:
        self.rng = rng
        self.meters: dict[str, Meter] = {}
        # Wider ranges of a meter that has several: full scale of the one below, and the meter.
        self.wider: dict[str, tuple[float, Meter]] = {}
        scales: dict[str, float] = {}
        for entry in instruments:
            quantity = entry["measures"]
            if quantity in _AT_THE_PINS:
                continue
            if quantity in self.meters:
                # A narrower range, such as the oscilloscope's own input, draws nothing.
                if number(entry["full_scale"]) > scales[quantity]:
                    self.wider[quantity] = (scales[quantity], self._wider(entry))
                continue
            scales[quantity] = number(entry.get("full_scale", 0))
            resolution = number(entry.get("resolution", 0))
            span = number(entry.get("fraction_of_full_scale", 0)) * number(
                entry.get("full_scale", 0)
            )
            fraction = number(entry.get("fraction_of_reading", 0))
            if entry["measures"].startswith("capture"):
                span *= 0.05  # the operator zeroes the probe before each capture
            self.meters[entry["measures"]] = Meter(
                gain=float(rng.uniform(-fraction, fraction)),
                offset=float(rng.uniform(-span, span)),
                resolution=resolution,
                noise=0.4 * resolution,
                rng=rng,
            )

    def _wider(self, entry: dict[str, Any]) -> Meter:
        """The same meter on a wider range: its gain, another offset."""
        first = self.meters[entry["measures"]]
        span = number(entry["fraction_of_full_scale"]) * number(entry["full_scale"])
        resolution = number(entry["resolution"])
        offset = float(np.random.default_rng(int(1e6 * abs(first.gain))).uniform(-span, span))
        return Meter(first.gain, offset, resolution, 0.4 * resolution, self.rng)

    def read(self, quantity: str, truth: float, factor: float = 1.0) -> str:
        """Reading of `quantity` on the range that holds it; see `Meter.read`."""
        end, wider = self.wider.get(quantity, (0.0, None))
        meter = wider if wider is not None and abs(truth) > end else self.meters[quantity]
        return meter.read(truth, factor)

    def truth(self) -> dict[str, dict[str, float]]:
        """Errors drawn, for the record."""
        return {
            name: {"gain_error": float(f"{meter.gain:.6g}"), "offset": float(f"{meter.offset:.6g}")}
            for name, meter in self.meters.items()
        }
