"""The mains as a periodic voltage: rms value, frequency, and the shape of its wave."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from adapterlab.numerics.arguments import Floats, Numbers, Places, plain, positive

Complexes = NDArray[np.complex128]
_GRID = np.linspace(0, np.pi, 721)


def _sine() -> Complexes:
    return np.ones(1, dtype=complex)


@dataclass(frozen=True)
class Mains:
    r"""A periodic voltage whose angle counts from the rising zero of its fundamental.

    Attributes
    ----------
    voltage : float or array_like
        Rms value, harmonics included. [V], shape (...)  Must be > 0.
    frequency : float or array_like
        Of the fundamental. [Hz], shape (...)  Must be > 0.
    shape : array_like
        Complex amplitudes of orders 1, 2, 3 ... over that of the fundamental, which is 1 itself.
        [1], shape (orders,) or (orders, ...)  By default a sine, which has one.

    Notes
    -----
    With the angle :math:`\theta` and the amplitudes :math:`a_n`,
    :math:`v(\theta) = \mathrm{Im} \sum a_n e^{jn\theta}`.

    Examples
    --------
    A third harmonic of 3 % in phase makes the crest flat:

    >>> print(f"{Mains(230, 50).crest:.1f} V, {Mains(230, 50, [1, 0, 0.03]).crest:.1f} V")
    325.3 V, 315.4 V
    """

    voltage: ArrayLike
    frequency: ArrayLike
    shape: ArrayLike = field(default_factory=_sine)

    def __post_init__(self) -> None:
        """Refuse what is no mains."""
        positive("mains_voltage", self.voltage)
        positive("mains_frequency", self.frequency)
        shape = np.asarray(self.shape, dtype=complex)
        if shape.ndim < 1 or not len(shape) or not np.isfinite(shape).all():
            raise ValueError(
                f"shape must hold finite amplitudes from order 1 on, got {self.shape!r}"
            )
        if np.any(shape[0] != 1):
            raise ValueError(f"shape must begin with 1, the fundamental, got {shape[0]!r}")
        object.__setattr__(self, "shape", shape)

    def take(self, places: Places) -> "Mains":
        """The cases at some places, where voltage and frequency are arrays."""
        shape, inside = np.asarray(self.shape), places if isinstance(places, tuple) else (places,)
        taken = object.__new__(Mains)
        # Checked already.
        vars(taken).update(
            voltage=np.asarray(self.voltage)[places],
            frequency=np.asarray(self.frequency)[places],
            shape=shape if shape.ndim == 1 else shape[(slice(None), *inside)],
        )
        return taken

    @cached_property
    def omega(self) -> Numbers:
        """Angular frequency of the fundamental. [rad/s], shape (...)."""
        return plain(2 * np.pi * np.asarray(self.frequency, dtype=float))

    @cached_property
    def amplitudes(self) -> Complexes:
        """Complex amplitudes, peak values. [V], shape (orders, ...)."""
        shape = np.asarray(self.shape)
        volts = np.asarray(self.voltage, dtype=float)
        shape = shape.reshape(shape.shape + (1,) * (volts.ndim + 1 - shape.ndim))
        scale = np.sqrt(2 / (np.abs(shape) ** 2).sum(axis=0))
        found: Complexes = shape * scale * volts
        return found

    @cached_property
    def is_sine(self) -> bool:
        """Whether there is nothing but the fundamental."""
        return bool(np.all(self.amplitudes[1:] == 0))

    @cached_property
    def distortion(self) -> Numbers:
        """Rms of the harmonics over the fundamental. [1], shape (...)."""
        size = np.abs(self.amplitudes)
        return plain(np.sqrt((size[1:] ** 2).sum(axis=0)) / size[0])

    @cached_property
    def crest(self) -> Numbers:
        """Highest value of the wave. [V], shape (...)."""
        if self.is_sine:
            return plain(self.amplitudes[0].real)
        return plain(self._half_wave.max(axis=-1))

    @cached_property
    def crest_angle(self) -> Numbers:
        """Angle at which it is highest. [rad], shape (...)."""
        if self.is_sine:
            return plain(np.full(self.amplitudes.shape[1:], np.pi / 2))
        return plain(_GRID[self._half_wave.argmax(axis=-1)])

    @cached_property
    def _half_wave(self) -> Floats:
        shape = (1,) * (self.amplitudes.ndim - 1) + _GRID.shape
        return np.asarray(self.waveform(_GRID.reshape(shape)))

    def waveform(self, phase: ArrayLike) -> Numbers:
        """Voltage at angles from the fundamental's rising zero on.

        Parameters
        ----------
        phase : float or array_like
            Angles. [rad], shape (...) or (..., samples)

        Returns
        -------
        float or numpy.ndarray
            Voltage. [V]
        """
        return self._sum(phase, slope=False)

    def slope(self, phase: ArrayLike) -> Numbers:
        """Derivative of the voltage by its angle, as `waveform`. [V]."""
        return self._sum(phase, slope=True)

    def _sum(self, phase: ArrayLike, slope: bool) -> Numbers:
        angle = np.asarray(phase, dtype=float)
        if self.is_sine:
            first = self._fundamental
            if angle.ndim > first.ndim > 0:
                first = first.reshape(first.shape + (1,) * (angle.ndim - first.ndim))
            return plain(first * (np.cos(angle) if slope else np.sin(angle)))
        parts = self.amplitudes
        parts = parts.reshape(parts.shape + (1,) * (angle.ndim + 1 - parts.ndim))
        if slope:
            orders = np.arange(1, len(parts) + 1).reshape((-1,) + (1,) * (parts.ndim - 1))
            parts = 1j * orders * parts
        turn = np.exp(1j * angle)
        total = parts[-1] * turn
        for part in parts[-2::-1]:
            total = (total + part) * turn
        return plain(total.imag)

    @cached_property
    def _fundamental(self) -> Floats:
        return np.asarray(self.amplitudes[0].real)
