r"""Several converters on one output.

Ratios for equal converters: `interleaved_ripple_factor` (continuous triangles, for contrast) and
`paralleled_capacitor_current` (pulses). Pulses as they are: `combined_ripple`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.flyback.ripple import SecondaryPulse, output_ripple
from adapterlab.numerics.arguments import (
    Floats,
    Numbers,
    finite,
    not_negative,
    one_of,
    plain,
    positive,
)


@dataclass(frozen=True)
class CombinedRipple:
    """Ripple of several converters on one output capacitor.

    Attributes
    ----------
    peak_to_peak : float or numpy.ndarray
        With fixed phases the true swing; unsynchronised, the largest that ever comes, which an
        instrument that holds peaks shows. [V], broadcast shape
    capacitor_rms : float or numpy.ndarray
        Rms current of the output capacitor. [A], broadcast shape
    each : numpy.ndarray
        Peak to peak of each converter alone. [V], shape (converters, ...)
    """

    peak_to_peak: Numbers
    capacitor_rms: Numbers
    each: Floats


def _open_share(duty_cycle: ArrayLike) -> Floats:
    duty = positive("duty_cycle", duty_cycle)
    if np.any(duty >= 1):
        raise ValueError(f"duty_cycle must be above 0 and below 1, got {duty_cycle!r}")
    return duty


def _count(converters: ArrayLike) -> Floats:
    number = finite("converters", converters)
    if np.any((number < 1) | (number != np.round(number))):
        raise ValueError(f"converters must be whole and at least 1, got {converters!r}")
    return number


def interleaved_ripple_factor(duty_cycle: ArrayLike, converters: ArrayLike) -> Numbers:
    r"""Swing of N shifted triangular currents together over that of one.

    Parameters
    ----------
    duty_cycle : float or array_like
        Share of the period in which each current rises. [1]  Above 0, below 1.
    converters : int or array_like
        How many, shifted evenly over the period. [1]  At least 1.

    Returns
    -------
    float or numpy.ndarray
        Total peak to peak over one converter's. [1], broadcast shape

    Raises
    ------
    ValueError
        If the duty cycle does not lie between 0 and 1 or the number is not whole.

    Notes
    -----
    .. math:: K = \frac{N\,(D - m/N)\,((m+1)/N - D)}{D\,(1 - D)}, \qquad m = \lfloor N D \rfloor

    For currents that never stop, as in the chokes of paralleled buck converters. The output
    pulses of flybacks are not such: see `paralleled_capacitor_current`.

    References
    ----------
    The product is the square of the shape in Linear Technology, LTC3861 data sheet, p. 24.
    Derived in ``notebooks/08_flyback.ipynb``.

    Examples
    --------
    >>> interleaved_ripple_factor([0.25, 0.4, 0.5], 2)
    array([0.667, 0.333, 0.   ])
    """
    duty, number = _open_share(duty_cycle), _count(converters)
    whole = np.floor(number * duty)
    product = (duty - whole / number) * ((whole + 1) / number - duty)
    return plain(number * np.maximum(product, 0) / (duty * (1 - duty)))


def paralleled_capacitor_current(
    duty_cycle: ArrayLike, converters: ArrayLike, shape: str, *, synchronised: bool = True
) -> Numbers:
    r"""Rms current of the output capacitor of N equal converters over their output current.

    Parameters
    ----------
    duty_cycle : float or array_like
        Share of the period in which each output rectifier conducts. [1]  Above 0, below 1.
    converters : int or array_like
        How many. [1]  At least 1.
    shape : str
        ``flat`` for pulses with a level top, ``ramp`` for pulses that fall to zero as they end,
        as in discontinuous conduction and at the boundary.
    synchronised : bool, optional
        Whether their periods are alike and shifted evenly; separate controllers run
        unsynchronised.

    Returns
    -------
    float or numpy.ndarray
        Capacitor rms over total output current. [1], broadcast shape

    Raises
    ------
    ValueError
        If the duty cycle does not lie between 0 and 1, the number is not whole or the shape is
        not known.

    Notes
    -----
    Flat, with :math:`m = \lfloor N D \rfloor`:

    .. math:: \frac{1}{D}\sqrt{(D - m/N)\,((m+1)/N - D)}

    Ramps are summed piece by piece over 1/N of a period. Unsynchronised currents add in
    squares, so N of them leave :math:`1/\sqrt N` of what one converter with the whole load
    would.

    References
    ----------
    Linear Technology, LTC3861 data sheet, p. 24 and LTC3731 data sheet, pp. 25-26 (flat,
    there over the pulsed current's own mean times D).

    Examples
    --------
    >>> paralleled_capacitor_current(0.4, [1, 2, 3], "ramp")
    array([1.528, 0.816, 0.446])
    """
    duty, number = _open_share(duty_cycle), _count(converters)
    one_of("shape", shape, ("flat", "ramp"))
    if not synchronised:
        alone = paralleled_capacitor_current(duty, 1, shape)
        return plain(alone / np.sqrt(number))
    whole = np.floor(number * duty)
    early = np.maximum(duty - whole / number, 0)
    if shape == "flat":
        return plain(np.sqrt(early * np.maximum((whole + 1) / number - duty, 0)) / duty)

    def level(pulses: Floats, place: Floats) -> Floats:
        """Sum of the last `pulses` ramps at a place in the N-th part of the period."""
        behind = pulses * place + pulses * (pulses - 1) / (2 * number)
        return 2 / (number * duty) * (pulses - behind / duty)

    square = 0.0
    for pulses, start, end in ((whole + 1, 0 * early, early), (whole, early, 1 / number)):
        first, last = level(pulses, start), level(pulses, end)
        square = square + number * (end - start) * (first**2 + first * last + last**2) / 3
    return plain(np.sqrt(np.maximum(square - 1, 0)))


def _stacked(pulses: Sequence[SecondaryPulse]) -> tuple[Floats, Floats, Floats, Floats]:
    """Peak, valley, duty and frequency, each of shape (..., converters)."""
    if not pulses:
        raise ValueError("pulses must hold at least one converter, got none")
    names = ("peak", "valley", "duty_cycle", "switching_frequency")
    values = [[np.asarray(getattr(p, name), dtype=float) for p in pulses] for name in names]
    shape = np.broadcast_shapes(*(value.shape for row in values for value in row))
    stacked = [np.stack([np.broadcast_to(v, shape) for v in row], axis=-1) for row in values]
    return stacked[0], stacked[1], stacked[2], stacked[3]


def _phased(
    stacked: tuple[Floats, Floats, Floats, Floats],
    pulse_phase: Floats,
    capacitance: Floats,
    esr: Floats,
) -> tuple[Floats, Floats]:
    """Swing and capacitor rms of pulses of one frequency at fixed phases, exactly."""
    peak, valley, duty, frequency = stacked
    start = np.broadcast_to(np.mod(pulse_phase / 360, 1.0), peak.shape)
    edges = np.sort(np.concatenate([start, np.mod(start + duty, 1.0)], axis=-1), axis=-1)
    length = np.diff(edges, axis=-1, append=edges[..., :1] + 1)
    middle = edges + length / 2
    local = np.mod(middle[..., None] - start[..., None, :], 1.0)
    on = local < duty[..., None, :]
    fall = (peak - valley) / duty
    current = np.sum(np.where(on, peak[..., None, :] - fall[..., None, :] * local, 0), axis=-1)
    slope = -np.sum(np.where(on, fall[..., None, :], 0), axis=-1)
    excess = current - np.sum((peak + valley) / 2 * duty, axis=-1)[..., None]
    first, last = excess - slope * length / 2, excess + slope * length / 2
    charge = np.cumsum(excess * length, axis=-1) - excess * length
    lag = (esr * capacitance * frequency[..., 0])[..., None]
    steep = np.where(slope < 0, slope, -1.0)
    turn = np.where(slope < 0, np.clip(-(first / steep + lag), 0, length), 0)

    def height(place: Floats) -> Floats:
        return lag * (first + slope * place) + charge + first * place + slope * place**2 / 2

    heights = np.stack([height(np.zeros_like(length)), height(turn), height(length)])
    swing = heights.max(axis=(0, -1)) - heights.min(axis=(0, -1))
    square = np.sum(length * (first**2 + first * last + last**2) / 3, axis=-1)
    return swing / (capacitance * frequency[..., 0]), np.sqrt(np.maximum(square, 0))


def combined_ripple(
    pulses: Sequence[SecondaryPulse],
    output_capacitance: ArrayLike,
    output_esr: ArrayLike = 0,
    pulse_phase: ArrayLike | None = None,
) -> CombinedRipple:
    r"""Ripple of several converters on one output, with fixed phases or unsynchronised.

    Parameters
    ----------
    pulses : sequence of SecondaryPulse
        One for each converter; they need not be alike.
    output_capacitance : float or array_like
        Capacitance of the output. [F]  Must be > 0.
    output_esr : float or array_like, optional
        Its series resistance. [ohm]  Must be >= 0.
    pulse_phase : array_like or None, optional
        When each converter's pulse begins. [°], shape (converters,). None for converters that
        are not synchronised.

    Returns
    -------
    CombinedRipple
        In the broadcast shape of the pulses.

    Raises
    ------
    ValueError
        If there is no pulse, an input lies outside what is allowed, or fixed phases are asked
        for at different frequencies.

    Notes
    -----
    With fixed phases the sum is straight between the edges of all pulses, and the voltage a
    parabola there; edges and vertices hold its extremes. Unsynchronised pulses meet in every
    alignment sooner or later: the largest swing is the sum of the swings, and the capacitor
    currents add in squares.

    References
    ----------
    Charge balance: R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed.,
    section 2.2. Compared in the tests with a circuit simulator.

    Examples
    --------
    Two like pulses of half the load, together, opposite, and unsynchronised:

    >>> pair = [SecondaryPulse(4.0, 0.0, 0.5, 85e3)] * 2
    >>> for pulse_phase in ([0, 0], [0, 180], None):
    ...     ripple = combined_ripple(pair, 660e-6, 7e-3, pulse_phase)
    ...     print(f"{ripple.peak_to_peak * 1e3:.1f} mV, {ripple.capacitor_rms:.2f} A")
    56.0 mV, 2.58 A
    28.0 mV, 1.15 A
    56.0 mV, 1.83 A
    """
    capacitance = positive("output_capacitance", output_capacitance)
    esr = not_negative("output_esr", output_esr)
    stacked = _stacked(pulses)
    each = np.stack(
        np.broadcast_arrays(*(output_ripple(p, capacitance, esr).peak_to_peak for p in pulses))
    )
    if pulse_phase is None:
        squares = sum(np.square(pulse.capacitor_rms) for pulse in pulses)
        return CombinedRipple(plain(each.sum(axis=0)), plain(np.sqrt(squares)), each)
    angle = finite("pulse_phase", pulse_phase)
    if angle.shape != (len(pulses),):
        raise ValueError(f"pulse_phase must hold one angle for each converter, got {pulse_phase!r}")
    if np.any(np.ptp(stacked[3], axis=-1) > 1e-9 * stacked[3][..., 0]):
        raise ValueError(
            f"pulse_phase must be None for converters of different frequencies, got {pulse_phase!r}"
        )
    swing, rms = _phased(stacked, angle, capacitance, esr)
    return CombinedRipple(plain(swing), plain(rms), each)
