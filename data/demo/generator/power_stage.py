"""Losses of an adapter and the ripple that its converters leave on an output."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_POINTS = 2000


@dataclass(frozen=True)
class Loss:
    """Loss = fixed + proportional · power + quadratic · power².

    Attributes
    ----------
    fixed, proportional, quadratic : float
        Coefficients. [W], [1], [1/W]
    """

    fixed: float
    proportional: float
    quadratic: float

    def at(self, power: float) -> float:
        """Loss at an output power. [W]."""
        return self.fixed + self.proportional * power + self.quadratic * power**2

    def for_mains(self, mains_voltage: float) -> "Loss":
        """Same adapter on another mains: less switching loss, more conduction loss below 160 V."""
        if mains_voltage > 160:
            return self
        return Loss(0.82 * self.fixed, self.proportional + 0.001, 1.35 * self.quadratic)


@dataclass(frozen=True)
class Stage:
    """One flyback converter, as it truly is.

    Attributes
    ----------
    rated_power : float
        [W]
    turns_ratio : float
        Primary to secondary.
    magnetising_inductance : float
        [H]
    switching_frequency : float or None
        [Hz]; None for a converter that works at the boundary, at 130 kHz at most.
    rectifier_drop : float
        [V]
    efficiency : float
        Share of the transformer's power that arrives.
    """

    rated_power: float
    turns_ratio: float
    magnetising_inductance: float
    switching_frequency: float | None
    rectifier_drop: float
    efficiency: float

    def pulse(self, bulk_voltage: float, output_voltage: float, output_current: float) -> "Pulse":
        """Secondary current of one switching period.

        Parameters
        ----------
        bulk_voltage, output_voltage, output_current : float
            Operating point. [V], [V], [A]

        Returns
        -------
        Pulse
            Its frequency and shape.
        """
        power = (output_voltage + self.rectifier_drop) * output_current
        reflected = self.turns_ratio * (output_voltage + self.rectifier_drop)
        duty = reflected / (reflected + bulk_voltage)
        inductance = self.magnetising_inductance
        draw = power / self.efficiency
        if self.switching_frequency is None:
            peak = 2 * draw / (bulk_voltage * duty)
            frequency = bulk_voltage * duty / (inductance * peak)
            if frequency > 130e3:
                frequency = 130e3
                peak = np.sqrt(2 * draw / (inductance * frequency))
        else:
            frequency = self.switching_frequency * min(1, power / (0.16 * self.rated_power))
            frequency = max(frequency, 22e3)
            peak = np.sqrt(2 * draw / (inductance * frequency))
        on, off = inductance * peak / bulk_voltage, inductance * peak / reflected
        valley = 0.0
        if (on + off) * frequency > 1.000001:
            swing = bulk_voltage * duty / (inductance * frequency)
            middle = draw / (bulk_voltage * duty)
            peak, valley = middle + swing / 2, middle - swing / 2
            on, off = duty / frequency, (1 - duty) / frequency
        secondary = self.turns_ratio * peak
        # The charge delivered must equal the output current.
        scale = output_current / max((secondary + self.turns_ratio * valley) / 2 * off * frequency,
                                     1e-12)  # fmt: skip
        return Pulse(
            float(frequency), float(secondary * scale), float(self.turns_ratio * valley * scale),
            float(off * frequency), output_current,
        )  # fmt: skip


@dataclass(frozen=True)
class Pulse:
    """Secondary current: falls from `peak` to `valley` during `duty` of the period, else zero.

    Attributes
    ----------
    frequency : float
        [Hz]
    peak, valley : float
        [A]
    duty : float
        Share of the period.
    output_current : float
        Its mean. [A]
    """

    frequency: float
    peak: float
    valley: float
    duty: float
    output_current: float

    def ripple(self, capacitance: float, esr: float) -> Floats:
        """One period of the output voltage about its mean. [V], shape (2000,)."""
        place = (np.arange(_POINTS) + 0.5) / _POINTS
        falling = self.peak + (self.valley - self.peak) * place / self.duty
        excess = np.where(place < self.duty, falling, 0.0)
        excess = excess - excess.mean()
        charge = np.cumsum(excess) / _POINTS / self.frequency
        volts = esr * excess + charge / capacitance
        return volts - volts.mean()

    def rms_excess(self) -> float:
        """Ripple current of the output capacitor. [A]."""
        square = self.duty * (self.peak**2 + self.peak * self.valley + self.valley**2) / 3
        return float(np.sqrt(max(square - self.output_current**2, 0.0)))


def peak_to_peak(pulses: list[Pulse], capacitance: float, esr: float) -> float:
    """Largest swing of pulses that are not synchronised: their swings add. [V]."""
    return float(sum(np.ptp(pulse.ripple(capacitance, esr)) for pulse in pulses))


def trace(
    pulses: list[Pulse], capacitance: float, esr: float, time: Floats, offsets: list[float]
) -> Floats:
    """Output ripple against time, each converter starting at its own share of a period. [V]."""
    total = np.zeros_like(time)
    for pulse, offset in zip(pulses, offsets, strict=False):
        place = np.mod(time * pulse.frequency + offset, 1.0)
        wave = pulse.ripple(capacitance, esr)
        total += wave[np.minimum((place * _POINTS).astype(int), _POINTS - 1)]
    return total
