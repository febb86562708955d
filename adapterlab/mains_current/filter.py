"""Corners of the mains filter, from its parts."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, plain, positive


@dataclass(frozen=True)
class FilterCorner:
    """Where a section of inductance and capacitance begins to filter.

    Attributes
    ----------
    frequency : float or numpy.ndarray
        Corner; the section attenuates by 40 dB per decade above it. [Hz], broadcast shape
    characteristic_impedance : float or numpy.ndarray
        Impedance of either part there. [ohm]
    """

    frequency: Numbers
    characteristic_impedance: Numbers


def filter_corner(inductance: ArrayLike, capacitance: ArrayLike) -> FilterCorner:
    r"""Corner of a section with one inductance and one capacitance.

    Parameters
    ----------
    inductance, capacitance : float or array_like
        The two parts. [H], [F]  Must be > 0.

    Returns
    -------
    FilterCorner
        Frequency and impedance.

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: f_0 = \frac{1}{2\pi\sqrt{LC}}, \qquad Z_0 = \sqrt{L/C}

    Common mode: the choke with the capacitance to the other side. Differential mode: twice
    `differential_inductance` per winding, or the choke's leakage as measured, with the line
    capacitor. No losses, no self-resonance, no source or load.

    References
    ----------
    Paul, Scully and Steffka, Introduction to Electromagnetic Compatibility, 3rd ed., section 6.2.

    Examples
    --------
    A choke of 18 mH with 1 nF across the barrier:

    >>> print(f"{filter_corner(18e-3, 1e-9).frequency / 1e3:.1f} kHz")
    37.5 kHz
    """
    coil, store = positive("inductance", inductance), positive("capacitance", capacitance)
    return FilterCorner(
        plain(1 / (2 * np.pi * np.sqrt(coil * store))), plain(np.sqrt(coil / store))
    )


def rc_corner(resistance: ArrayLike, capacitance: ArrayLike) -> Numbers:
    r"""Corner of a resistance and a capacitance.

    Parameters
    ----------
    resistance, capacitance : float or array_like
        The two parts. [ohm], [F]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Frequency above which the section attenuates by 20 dB per decade. [Hz]

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: f_0 = \frac{1}{2\pi R C}

    References
    ----------
    Paul, Scully and Steffka, Introduction to Electromagnetic Compatibility, 3rd ed., section 6.2:
    the 50 ohm of a line network with the filter's capacitor.

    Examples
    --------
    >>> print(f"{rc_corner(50, 0.22e-6) / 1e3:.1f} kHz")
    14.5 kHz
    """
    series, store = positive("resistance", resistance), positive("capacitance", capacitance)
    return plain(1 / (2 * np.pi * series * store))


def corner_attenuation(frequency: ArrayLike, corner: ArrayLike, slope: ArrayLike = 40) -> Numbers:
    r"""Attenuation of a section well above its corner.

    Parameters
    ----------
    frequency, corner : float or array_like
        Where, and the section's corner. [Hz]  Must be > 0.
    slope : float or array_like, optional
        Fall per decade: 40 dB for inductance with capacitance, 20 dB for one of them. [dB]

    Returns
    -------
    float or numpy.ndarray
        Attenuation; 0 below the corner. [dB], broadcast shape

    Raises
    ------
    ValueError
        If a frequency is not above zero or the slope is negative.

    Notes
    -----
    .. math:: A = s \lg(f/f_0)

    The straight line of the textbooks: near the corner a section without loss even amplifies,
    and far above it the coil's own capacitance ends the fall.

    References
    ----------
    Article of a maker of chokes (Würth Elektronik, 2022, pp. 11-12): 40 dB puts the corner at one
    tenth of the frequency.

    Examples
    --------
    >>> corner_attenuation(150e3, 15e3)
    40.0
    """
    ratio = positive("frequency", frequency) / positive("corner", corner)
    return plain(not_negative("slope", slope) * np.maximum(np.log10(ratio), 0.0))


def differential_inductance(inductance: ArrayLike, coupling: ArrayLike) -> Numbers:
    r"""What a common-mode choke leaves in each lead for currents that go and return.

    Parameters
    ----------
    inductance : float or array_like
        Inductance of one winding. [H]  Must be > 0.
    coupling : float or array_like
        Coupling of the two windings. [1]  From 0 to below 1.

    Returns
    -------
    float or numpy.ndarray
        Leakage inductance per winding. [H], broadcast shape

    Raises
    ------
    ValueError
        If the inductance is not above zero or the coupling is not from 0 to below 1.

    Notes
    -----
    .. math:: L_d = L\,(1 - k)

    References
    ----------
    Paul, Scully and Steffka, Introduction to Electromagnetic Compatibility, 3rd ed., section 6.2
    and problem 6.2.6 (28 mH with k = 0.98: 560 µH).

    Examples
    --------
    >>> print(f"{differential_inductance(18e-3, 0.98) * 1e6:.0f} µH")
    360 µH
    """
    tie = not_negative("coupling", coupling)
    if np.any(tie >= 1):
        raise ValueError(f"coupling must be below 1, got {coupling!r}")
    return plain(positive("inductance", inductance) * (1 - tie))
