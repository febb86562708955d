r"""Output ripple of pulsed secondary currents into the output capacitor.

`SecondaryPulse` is what one converter delivers, `secondary_pulse` takes it from an operating
point; `output_ripple` gives the parts of the ripple, `output_waveform` its shape in the steady
state.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.flyback.point import OperatingPoint
from adapterlab.numerics.arguments import (
    Complexes,
    Floats,
    Numbers,
    fraction,
    not_negative,
    plain,
    positive,
)

_HARMONICS = 60
_SAMPLES = 512


@dataclass(frozen=True)
class SecondaryPulse:
    """Secondary current: falls straight from peak to valley for a share of the period, else zero.

    Attributes
    ----------
    peak, valley : float or numpy.ndarray
        Current when the rectifier begins to conduct and when it stops. [A]
    duty_cycle : float or numpy.ndarray
        Share of the period in which it conducts. [1]
    switching_frequency : float or numpy.ndarray
        Pulses per second. [Hz]
    """

    peak: Numbers
    valley: Numbers
    duty_cycle: Numbers
    switching_frequency: Numbers

    def __post_init__(self) -> None:
        """Refuse what is no pulse."""
        peak = positive("peak", self.peak)
        if np.any(not_negative("valley", self.valley) > peak * (1 + 1e-12)):
            raise ValueError(f"valley must not lie above peak, got {self.valley!r}, {self.peak!r}")
        fraction("duty_cycle", self.duty_cycle)
        positive("switching_frequency", self.switching_frequency)

    @property
    def mean(self) -> Numbers:
        """Mean current, which the load takes. [A], broadcast shape."""
        return plain((np.asarray(self.peak) + self.valley) / 2 * self.duty_cycle)

    @property
    def capacitor_rms(self) -> Numbers:
        """Rms current of the output capacitor when this pulse alone feeds it. [A]."""
        peak, valley = np.asarray(self.peak), np.asarray(self.valley)
        square = self.duty_cycle * (peak**2 + peak * valley + valley**2) / 3
        return plain(np.sqrt(np.maximum(square - np.square(self.mean), 0)))


@dataclass(frozen=True)
class OutputRipple:
    """Ripple of one converter, by its causes.

    Attributes
    ----------
    peak_to_peak : float or numpy.ndarray
        Capacitive and resistive part together, as a probe of limited bandwidth sees it. The two
        peak at different instants, so it is at most their sum. [V], broadcast shape
    capacitive, resistive : float or numpy.ndarray
        What each would do alone. [V], broadcast shape
    droop : float or numpy.ndarray
        Fall of the capacitor's own voltage while the rectifier blocks. [V], broadcast shape
    spike : float or numpy.ndarray
        Needle that the series inductance adds as the current jumps up. [V], broadcast shape
    capacitor_rms : float or numpy.ndarray
        Rms current of the output capacitor. [A], broadcast shape
    filtered : float or numpy.ndarray
        Peak to peak behind the second stage of filter; without one, as in front of it.
        [V], broadcast shape
    """

    peak_to_peak: Numbers
    capacitive: Numbers
    resistive: Numbers
    droop: Numbers
    spike: Numbers
    capacitor_rms: Numbers
    filtered: Numbers


@dataclass(frozen=True)
class OutputWaveform:
    """One period of the output in the steady state.

    Attributes
    ----------
    time : numpy.ndarray
        [s], shape (n,)
    secondary_current : numpy.ndarray
        Current of all rectifiers together. [A], shape (n,)
    ripple : numpy.ndarray
        Voltage at the output capacitor about its mean. [V], shape (n,)
    filtered : numpy.ndarray
        Voltage behind the second stage about its mean; without one, as `ripple`. [V], shape (n,)
    """

    time: Floats
    secondary_current: Floats
    ripple: Floats
    filtered: Floats


def secondary_pulse(
    point: OperatingPoint, output_current: ArrayLike | None = None
) -> SecondaryPulse:
    """Pulse that an operating point sends through the output rectifier.

    Parameters
    ----------
    point : OperatingPoint
        From `adapterlab.flyback.operating_point`.
    output_current : float, array_like or None, optional
        Current that the load really takes. [A]  Must be > 0. The pulse is scaled so that its
        mean is this current; None leaves it as the operating point has it, which counts all
        losses as taken behind the transformer.

    Returns
    -------
    SecondaryPulse
        Its fields in the shape of the operating point.

    Raises
    ------
    ValueError
        If `output_current` is not above zero.

    References
    ----------
    The corner points of `operating_point`; a capacitor passes no mean current (charge balance),
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., section 2.2.

    Examples
    --------
    >>> from adapterlab.flyback import operating_point
    >>> pulse = secondary_pulse(operating_point(300, 20, 2, 4.5, 300e-6, 85e3), 2)
    >>> print(f"{pulse.peak:.2f} A, {pulse.mean:.1f} A")
    7.97 A, 2.0 A
    """
    peak = np.asarray(point.secondary_peak)
    valley = peak * np.asarray(point.primary_valley) / np.asarray(point.primary_peak)
    pulse = SecondaryPulse(peak, valley, point.secondary_duty, point.switching_frequency)
    scale = np.asarray(1.0)
    if output_current is not None:
        scale = positive("output_current", output_current) / pulse.mean
    return SecondaryPulse(
        plain(peak * scale), plain(valley * scale), pulse.duty_cycle, pulse.switching_frequency
    )


def _coefficients(pulse: SecondaryPulse, order: Floats) -> Complexes:
    """Complex Fourier coefficients of a pulse that begins at time zero. [A], shape (..., n)."""
    peak, valley, duty = (np.asarray(x, dtype=float)[..., None]
                          for x in (pulse.peak, pulse.valley, pulse.duty_cycle))  # fmt: skip
    turn = 2j * np.pi * order
    last = np.exp(-turn * duty)
    ramp = (1 - last * (1 + turn * duty)) / turn**2
    return np.asarray(peak * (1 - last) / turn - (peak - valley) / duty * ramp)


def output_ripple(
    pulse: SecondaryPulse,
    output_capacitance: ArrayLike,
    output_esr: ArrayLike = 0,
    output_esl: ArrayLike = 0,
    rise_time: ArrayLike = 50e-9,
    *,
    filter_inductance: ArrayLike | None = None,
    filter_capacitance: ArrayLike | None = None,
    filter_esr: ArrayLike = 0,
) -> OutputRipple:
    r"""Ripple that the pulses of one converter leave on its output.

    Parameters
    ----------
    pulse : SecondaryPulse
        Current of the rectifier; the load takes its mean, steadily.
    output_capacitance : float or array_like
        Capacitance at the rectifier. [F]  Must be > 0.
    output_esr : float or array_like, optional
        Its series resistance. [ohm]  Must be >= 0.
    output_esl : float or array_like, optional
        Its series inductance. [H]  Must be >= 0.
    rise_time : float or array_like, optional
        Time in which the secondary current jumps to its peak; it is set by the leakage
        inductance. [s]  Must be > 0.
    filter_inductance, filter_capacitance : float, array_like or None, optional
        Second stage: inductance in series, then capacitance across the load. [H], [F]
        Must be > 0; both or none.
    filter_esr : float or array_like, optional
        Series resistance of the second capacitor. [ohm]  Must be >= 0.

    Returns
    -------
    OutputRipple
        Every field in the broadcast shape.

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or one half of a filter is missing.

    Notes
    -----
    The current falls from :math:`a` to :math:`b` while the rectifier conducts, for
    :math:`D/f`; the load takes the mean :math:`I`. With :math:`x` from 0 to 1 along the pulse,

    .. math::
        v(x) = r\,[a - (a-b)x] + \frac{D}{fC}\left[(a-I)x - \frac{(a-b)x^2}{2}\right]

    above the lowest voltage, which stands just before the pulse; the largest :math:`v` is the
    peak to peak. The needle is the series inductance times the slope :math:`a/t_r`. Behind the
    filter the first 60 harmonics are summed. Holds for ripple far below the output voltage, so
    that the currents are straight.

    References
    ----------
    Droop and resistive step: A. I. Pressman, K. Billings, T. Morey, Switching Power Supply
    Design, 3rd ed., sec. 4.6. The sum: derived in ``notebooks/08_flyback.ipynb``.

    Examples
    --------
    >>> pulse = SecondaryPulse(8.0, 0.0, 0.5, 85e3)
    >>> ripple = output_ripple(pulse, 200e-6, 7e-3)
    >>> parts = (ripple.peak_to_peak, ripple.capacitive, ripple.resistive)
    >>> print(" ".join(f"{part * 1e3:.1f}" for part in parts))
    86.8 66.2 56.0
    """
    capacitance = positive("output_capacitance", output_capacitance)
    esr, esl = not_negative("output_esr", output_esr), not_negative("output_esl", output_esl)
    rise = positive("rise_time", rise_time)
    peak, valley, duty, frequency = (
        np.asarray(x, dtype=float)
        for x in (pulse.peak, pulse.valley, pulse.duty_cycle, pulse.switching_frequency)
    )
    mean = np.asarray(pulse.mean)
    step = duty / (frequency * capacitance)

    def highest(resistance: Floats) -> Floats:
        drop = np.where(peak > valley, peak - valley, 1.0)
        place = np.where(peak > valley, (peak - mean) / drop - resistance / step, 1.0)
        place = np.clip(place, 0.0, 1.0)
        charge = (peak - mean) * place - (peak - valley) * place**2 / 2
        return np.asarray(resistance * (peak - (peak - valley) * place) + step * charge)

    total = highest(esr)
    behind = total
    if (filter_inductance is None) != (filter_capacitance is None):
        raise ValueError("filter_inductance and filter_capacitance belong together: give both")
    if filter_inductance is not None and filter_capacitance is not None:
        gain = _transfer(
            frequency, capacitance, esr, positive("filter_inductance", filter_inductance),
            positive("filter_capacitance", filter_capacitance),
            not_negative("filter_esr", filter_esr),
        )  # fmt: skip
        behind = np.ptp(_summed(gain * _coefficients(pulse, _orders())), axis=-1)
    shape = np.broadcast_shapes(total.shape, esl.shape, rise.shape, np.shape(behind))

    def shaped(value: ArrayLike) -> Numbers:
        return plain(np.array(np.broadcast_to(value, shape)))

    return OutputRipple(
        shaped(total),
        shaped(highest(np.asarray(0.0))),
        shaped(esr * peak),
        shaped(mean * (1 - duty) / (frequency * capacitance)),
        shaped(esl * peak / rise),
        shaped(pulse.capacitor_rms),
        shaped(behind),
    )


def _orders() -> Floats:
    return np.arange(1.0, _HARMONICS + 1)


def _summed(coefficients: Complexes, samples: int = _SAMPLES) -> Floats:
    """Sum of harmonics over one period, without the mean. shape (..., samples)."""
    place = np.arange(samples) / samples
    waves = np.exp(2j * np.pi * np.multiply.outer(_orders(), place))
    return np.asarray(2 * np.real(coefficients @ waves))


def _transfer(
    frequency: Floats, capacitance: Floats, esr: Floats, choke: Floats, second: Floats,
    second_esr: Floats,
) -> Complexes:  # fmt: skip
    """Voltage behind the second stage over current into the first capacitor. [ohm]."""
    omega = 2 * np.pi * frequency[..., None] * _orders()
    first = esr[..., None] + 1 / (1j * omega * capacitance[..., None])
    behind = second_esr[..., None] + 1 / (1j * omega * second[..., None])
    branch = 1j * omega * choke[..., None] + behind
    return np.asarray(first * branch / (first + branch) * behind / branch)


def output_waveform(
    pulse: SecondaryPulse,
    output_capacitance: float,
    output_esr: float = 0,
    *,
    filter_inductance: float | None = None,
    filter_capacitance: float | None = None,
    filter_esr: float = 0,
) -> OutputWaveform:
    r"""One period of the output voltage in the steady state, solved directly.

    Parameters
    ----------
    pulse : SecondaryPulse
        A single pulse, from scalars; it begins at time zero.
    output_capacitance, output_esr : float
        As in `output_ripple`.
    filter_inductance, filter_capacitance : float or None, optional
        As in `output_ripple`.
    filter_esr : float, optional
        As in `output_ripple`.

    Returns
    -------
    OutputWaveform
        [s], [A], [V]

    Raises
    ------
    ValueError
        If the pulse holds arrays, or an input lies outside what is allowed.

    Notes
    -----
    No settling is simulated: the charge of the capacitor is the integral of the current less
    its mean, and the mean of the voltage is set to zero, which the steady state asks for.

    References
    ----------
    Charge balance: R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed.,
    section 2.2.

    Examples
    --------
    >>> wave = output_waveform(SecondaryPulse(8.0, 0.0, 0.5, 85e3), 660e-6, 7e-3)
    >>> float(np.ptp(wave.ripple)) * 1e3
    56.0
    """
    if np.ndim(pulse.mean) != 0:
        raise ValueError(f"pulse must be a single pulse, got {pulse!r}")
    parts = output_ripple(
        pulse, output_capacitance, output_esr, filter_inductance=filter_inductance,
        filter_capacitance=filter_capacitance, filter_esr=filter_esr,
    )  # fmt: skip
    del parts  # only its checks are wanted
    duty, period = pulse.duty_cycle, 1 / pulse.switching_frequency
    on = np.linspace(0, duty, _SAMPLES)
    place = np.concatenate([on, np.linspace(duty, 1, 64)])
    current = np.zeros_like(place)
    current[:_SAMPLES] = pulse.peak - (pulse.peak - pulse.valley) * on / duty
    excess = current - pulse.mean
    charge = np.concatenate([[0.0], np.cumsum(np.diff(place) * (excess[1:] + excess[:-1]) / 2)])
    ripple = output_esr * excess + charge * period / output_capacitance
    ripple -= np.sum(np.diff(place) * (ripple[1:] + ripple[:-1]) / 2)
    filtered = ripple
    if filter_inductance is not None and filter_capacitance is not None:
        gain = _transfer(
            *(np.asarray(float(x)) for x in (pulse.switching_frequency, output_capacitance,
              output_esr, filter_inductance, filter_capacitance, filter_esr))
        )  # fmt: skip
        regular = _summed(gain * _coefficients(pulse, _orders()))
        filtered = np.interp(place, np.arange(_SAMPLES) / _SAMPLES, regular, period=1.0)
    return OutputWaveform(place * period, current, ripple, filtered)
