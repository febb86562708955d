r"""A second stage of filter behind the output capacitor: `filter_attenuation`, `filter_damping`."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, plain, positive


@dataclass(frozen=True)
class FilterDamping:
    """What calms the resonance of a filter.

    Attributes
    ----------
    characteristic_impedance : float or numpy.ndarray
        Of inductance and capacitance. [ohm], broadcast shape
    capacitance_ratio : float or numpy.ndarray
        Damping capacitance over that of the filter. [1], broadcast shape
    damping_capacitance, damping_resistance : float or numpy.ndarray
        In series with each other, across the filter's capacitor. [F], [ohm], broadcast shape
    """

    characteristic_impedance: Numbers
    capacitance_ratio: Numbers
    damping_capacitance: Numbers
    damping_resistance: Numbers


def filter_attenuation(
    frequency: ArrayLike,
    filter_inductance: ArrayLike,
    filter_capacitance: ArrayLike,
    filter_esr: ArrayLike = 0,
) -> Numbers:
    r"""What a second stage of filter leaves of a ripple: voltage behind it over in front.

    Parameters
    ----------
    frequency : float or array_like
        Frequency of the ripple. [Hz]  Must be > 0.
    filter_inductance, filter_capacitance : float or array_like
        Inductance in series and capacitance across the load. [H], [F]  Must be > 0.
    filter_esr : float or array_like, optional
        Series resistance of that capacitor. [ohm]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Ratio of amplitudes; above 1 near the resonance. [1], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or the frequency is that of the resonance of a
        filter without resistance.

    Notes
    -----
    .. math:: \left|\frac{R + 1/(j\omega C)}{R + 1/(j\omega C) + j\omega L}\right|

    The load counts as a steady current. Far above the resonance it falls as one over the
    square of the frequency until the series resistance rules.

    References
    ----------
    Voltage divider; Wuerth Elektronik, Behind the Mystery of Electromagnetic Compatibility
    Design (2022), pp. 11-12: 40 dB a decade above the corner.

    Examples
    --------
    >>> filter_attenuation(100e3, 1e-6, 100e-6)
    0.0260
    """
    omega = 2 * np.pi * positive("frequency", frequency)
    behind = not_negative("filter_esr", filter_esr) + 1 / (
        1j * omega * positive("filter_capacitance", filter_capacitance)
    )
    whole = behind + 1j * omega * positive("filter_inductance", filter_inductance)
    if np.any(np.abs(whole) < 1e-12 * np.abs(behind)):
        raise ValueError(f"frequency must not be that of the undamped resonance, got {frequency!r}")
    return plain(np.abs(behind / whole))


def filter_damping(
    filter_inductance: ArrayLike, filter_capacitance: ArrayLike, peak_impedance: ArrayLike
) -> FilterDamping:
    r"""Capacitor and resistor that keep a filter's output impedance below a value.

    Parameters
    ----------
    filter_inductance, filter_capacitance : float or array_like
        As in `filter_attenuation`.
    peak_impedance : float or array_like
        Largest output impedance that is wanted. [ohm]  Must be > 0.

    Returns
    -------
    FilterDamping
        Every field in the broadcast shape.

    Raises
    ------
    ValueError
        If an input is not above zero.

    Notes
    -----
    With :math:`R_0 = \sqrt{L/C}` and the wanted :math:`Z`, the best damping needs

    .. math::
        n = \frac{R_0^2}{Z^2}\left(1 + \sqrt{1 + 4 Z^2/R_0^2}\right), \qquad
        R = R_0 \sqrt{\frac{(2+n)(4+3n)}{2 n^2 (4+n)}}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 17.4.1,
    Eq. 17.33-17.38.

    Examples
    --------
    >>> found = filter_damping(330e-6, 470e-6, 1.0)
    >>> print(f"{found.damping_capacitance * 1e6:.0f} µF, {found.damping_resistance:.2f} ohm")
    1184 µF, 0.67 ohm
    """
    inductance = positive("filter_inductance", filter_inductance)
    capacitance = positive("filter_capacitance", filter_capacitance)
    own = np.sqrt(inductance / capacitance)
    wanted = positive("peak_impedance", peak_impedance)
    ratio = (own / wanted) ** 2 * (1 + np.sqrt(1 + 4 * (wanted / own) ** 2))
    ease = own * np.sqrt((2 + ratio) * (4 + 3 * ratio) / (2 * ratio**2 * (4 + ratio)))
    names = np.broadcast_arrays(own, ratio, ratio * capacitance, ease)
    return FilterDamping(*(plain(np.array(value)) for value in names))
