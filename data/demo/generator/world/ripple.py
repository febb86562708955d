"""Ripple of an output: current pulses through a network of impedances, harmonic by harmonic."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
HARMONICS, SAMPLES = 400, 2048
# What sits at the connector while ripple is read: 0.1 uF ceramic and 47 uF electrolytic, as makers
# of supplies ask for; resistances and inductances common practice.
FIXTURE = ((0.1e-6, 0.02, 1.5e-9), (47e-6, 0.35, 6e-9))
BANDWIDTH = 20e6


@dataclass(frozen=True)
class Network:
    """Output capacitors of one converter and the way to a connector.

    Attributes
    ----------
    branches : tuple
        Capacitance, series resistance and inductance of each capacitor. [F], [ohm], [H]
    connector : tuple
        The same for the ceramic capacitor at the connector.
    path_resistance, path_inductance : float
        To the connector. [ohm], [H]
    """

    branches: tuple[tuple[float, float, float], ...]
    connector: tuple[float, float, float]
    path_resistance: float
    path_inductance: float

    def transfer(self, frequency: Floats) -> NDArray[np.complex128]:
        """Volts read at the connector for each ampere of pulse current. [ohm]."""
        omega = 2j * np.pi * frequency
        bank = _parallel(self.branches, omega)
        fixture = _parallel((*FIXTURE, self.connector), omega)
        path = self.path_resistance + omega * self.path_inductance
        whole = 1 / (1 / bank + 1 / (path + fixture))
        limit = 1 / (1 + 1j * frequency / BANDWIDTH)
        return whole * fixture / (path + fixture) * limit


def _parallel(
    branches: tuple[tuple[float, float, float], ...], omega: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    return 1 / sum(
        1 / (ohms + omega * henry + 1 / (omega * farad)) for farad, ohms, henry in branches
    )


@dataclass(frozen=True)
class Pulse:
    """Secondary current of one converter.

    Attributes
    ----------
    frequency : float
        [Hz]
    peak, end : float
        [A]
    rise, fall : float
        Commutation, and time from peak to end. [s]
    """

    frequency: float
    peak: float
    end: float
    rise: float
    fall: float

    def wave(self) -> Floats:
        """One period of the current. [A], shape (2048,)."""
        place = (np.arange(SAMPLES) + 0.5) / SAMPLES / self.frequency
        up = self.peak * place / max(self.rise, 1e-12)
        down = self.peak + (self.end - self.peak) * (place - self.rise) / max(self.fall, 1e-12)
        wave = np.where(place < self.rise, up, down)
        return np.where(place < self.rise + self.fall, wave, 0.0)

    def ripple(self, network: Network) -> Floats:
        """One period of the voltage read at the connector. [V], shape (2048,)."""
        spectrum = np.fft.rfft(self.wave())
        order = np.arange(1, HARMONICS + 1)
        volts = np.zeros(SAMPLES // 2 + 1, dtype=complex)
        volts[1 : HARMONICS + 1] = spectrum[1 : HARMONICS + 1] * network.transfer(
            order * self.frequency
        )
        return np.fft.irfft(volts, SAMPLES)


def trace(pulses: list[Pulse], network: Network, time: Floats, starts: list[float]) -> Floats:
    """Ripple against time, each converter starting at its own share of a period. [V]."""
    total = np.zeros_like(time)
    for pulse, start in zip(pulses, starts, strict=True):
        place = np.mod(time * pulse.frequency + start, 1.0)
        wave = pulse.ripple(network)
        total += wave[np.minimum((place * SAMPLES).astype(int), SAMPLES - 1)]
    return total
