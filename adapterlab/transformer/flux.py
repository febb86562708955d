"""Is the transformer well made? Flux, gap, turns, copper, core loss, leakage and insulation.

Here: `peak_flux_density`, `minimum_turns`, `saturation_current`, `largest_power`. The other
modules with this stem hold the gap (``_gap``), the table of cores and their loss (``_core``),
the size a core needs (``_size``), wire (``_wire``), loss in copper (``_copper``), leakage, window
and insulation (``_winding``); all of it can be had from here too.
"""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, fraction, plain, positive


def peak_flux_density(
    magnetising_inductance: ArrayLike, peak_current: ArrayLike, turns: ArrayLike,
    core_area: ArrayLike,
) -> Numbers:  # fmt: skip
    r"""Flux density of the core at the peak of the current.

    Parameters
    ----------
    magnetising_inductance : float or array_like
        Seen from the winding that carries the current. [H]  Must be > 0.
    peak_current : float or array_like
        Peak of its current. [A]  Must be > 0.
    turns : float or array_like
        Turns of that winding. [1]  Must be > 0.
    core_area : float or array_like
        Cross-section of the core. [m²]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Flux density. [T], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: \hat B = \frac{L \hat I}{N A}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 11.4.

    Examples
    --------
    >>> peak_flux_density(302e-6, 1.8, 36, 64e-6)
    0.236
    """
    linkage = positive("magnetising_inductance", magnetising_inductance) * positive(
        "peak_current", peak_current
    )
    return plain(linkage / (positive("turns", turns) * positive("core_area", core_area)))


def minimum_turns(
    magnetising_inductance: ArrayLike, peak_current: ArrayLike, peak_flux_density: ArrayLike,
    core_area: ArrayLike,
) -> Numbers:  # fmt: skip
    r"""Fewest turns that keep the core at or below a flux density; not rounded.

    Parameters
    ----------
    magnetising_inductance : float or array_like
        Inductance. [H]  Must be > 0.
    peak_current : float or array_like
        Peak of the current. [A]  Must be > 0.
    peak_flux_density : float or array_like
        Flux density allowed at that current. [T]  Must be > 0.
    core_area : float or array_like
        Cross-section of the core. [m²]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Turns; a winding takes the next whole number up. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: N = \frac{L \hat I}{\hat B A}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., eq. 11.69-11.90,
    pp. 476-481.

    Examples
    --------
    >>> minimum_turns(1.0667e-3, 1.5, 0.25, 1.09e-4)
    58.7
    """
    linkage = positive("magnetising_inductance", magnetising_inductance) * positive(
        "peak_current", peak_current
    )
    density = positive("peak_flux_density", peak_flux_density)
    return plain(linkage / (density * positive("core_area", core_area)))


def saturation_current(
    magnetising_inductance: ArrayLike, turns: ArrayLike, core_area: ArrayLike,
    saturation_flux_density: ArrayLike,
) -> Numbers:  # fmt: skip
    r"""Current of a winding at which its core saturates.

    Parameters
    ----------
    magnetising_inductance : float or array_like
        Inductance seen from the winding. [H]  Must be > 0.
    turns : float or array_like
        Turns of the winding. [1]  Must be > 0.
    core_area : float or array_like
        Cross-section of the core. [m²]  Must be > 0.
    saturation_flux_density : float or array_like
        Flux density at which the material gives up, at its temperature. [T]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Current. [A], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: I_s = \frac{B_s N A}{L}

    References
    ----------
    Inverse of the flux relation in R. W. Erickson, D. Maksimovic, Fundamentals of Power
    Electronics, 3rd ed., sec. 11.4. Derived in ``notebooks/09_transformer.ipynb``.

    Examples
    --------
    >>> saturation_current(302e-6, 36, 64e-6, 0.35)
    2.67
    """
    linkage = positive("saturation_flux_density", saturation_flux_density) * positive(
        "turns", turns
    )
    inductance = positive("magnetising_inductance", magnetising_inductance)
    return plain(linkage * positive("core_area", core_area) / inductance)


def largest_power(
    magnetising_inductance: ArrayLike,
    peak_current: ArrayLike,
    input_voltage: ArrayLike,
    reflected_voltage: ArrayLike,
    switching_frequency: ArrayLike | None = None,
    efficiency: ArrayLike = 1,
) -> Numbers:
    r"""Power a flyback converter can pass on without exceeding a primary peak current.

    Parameters
    ----------
    magnetising_inductance : float or array_like
        Seen from the primary. [H]  Must be > 0.
    peak_current : float or array_like
        Highest primary current allowed. [A]  Must be > 0.
    input_voltage, reflected_voltage : float or array_like
        Voltage across the primary while it fills and while it empties. [V]  Must be > 0.
    switching_frequency : float, array_like or None, optional
        Periods per second. [Hz]  Must be > 0. None takes the frequency of the boundary.
    efficiency : float or array_like, optional
        Share of the power drawn that comes out. [1]  Above 0, at most 1.

    Returns
    -------
    float or numpy.ndarray
        Power at the output. [W], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed.

    Notes
    -----
    With :math:`D = V_R/(V_{in} + V_R)` and ripple :math:`r = V_{in} D/(L f)`: where the current
    never stops, :math:`r < \hat I`, the power is :math:`V_{in} D (\hat I - r/2)`; else each
    period passes on :math:`\tfrac12 L \hat I^2`. At the boundary both give
    :math:`\tfrac12 V_{in} D \hat I`.

    References
    ----------
    The relations of ``adapterlab.flyback.operating_point`` solved for the power; held against it
    in ``tests/test_transformer.py``.

    Examples
    --------
    >>> largest_power(302e-6, 2.67, 100, 90, 85e3, 0.94)
    77.8
    """
    inductance = positive("magnetising_inductance", magnetising_inductance)
    peak = positive("peak_current", peak_current)
    source = positive("input_voltage", input_voltage)
    reflected = positive("reflected_voltage", reflected_voltage)
    share = fraction("efficiency", efficiency)
    middle = source * reflected / (source + reflected)
    if switching_frequency is None:
        return plain(share * middle * peak / 2 + 0 * inductance)
    frequency = positive("switching_frequency", switching_frequency)
    ripple = middle / (inductance * frequency)
    continuous = middle * (peak - ripple / 2)
    stopping = inductance * peak**2 * frequency / 2
    return plain(share * np.where(ripple < peak, continuous, stopping))
