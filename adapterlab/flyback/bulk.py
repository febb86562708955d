"""What a flyback converter works from: the bulk capacitor between two crests of the mains."""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, plain, positive


def bulk_valley_voltage(
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    load_power: ArrayLike,
    bulk_capacitance: ArrayLike,
    conduction_time: ArrayLike = 0,
) -> Numbers:
    r"""Lowest voltage of the bulk capacitor between two crests of the mains.

    Parameters
    ----------
    mains_voltage : float or array_like
        Rms voltage of the mains. [V]  Must be > 0.
    mains_frequency : float or array_like
        Frequency of the mains. [Hz]  Must be > 0.
    load_power : float or array_like
        Power drawn from the capacitor. [W]  Must be >= 0.
    bulk_capacitance : float or array_like
        Capacitance. [F]  Must be > 0.
    conduction_time : float or array_like, optional
        How long the bridge conducts in each half period. [s]  At least 0, below half a period.

    Returns
    -------
    float or numpy.ndarray
        Valley voltage. [V], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or the capacitor runs empty before the next
        crest.

    Notes
    -----
    The capacitor is charged to the crest and feeds a load of constant power until the bridge
    conducts again:

    .. math:: V = \sqrt{2 V_m^2 - \frac{2P}{C}\left(\frac{1}{2f} - t_c\right)}

    Drops of bridge and mains are left out. With a conduction time of zero the result is a
    bound from below; `ideal_conduction_time` finds the time that fits.

    References
    ----------
    Power Integrations, application note AN-17 (June 1996), p. 8.

    Examples
    --------
    >>> bulk_valley_voltage(85, 60, 15 / 0.8, 33e-6, 3.2e-3)
    92.8
    """
    crest_squared = 2 * positive("mains_voltage", mains_voltage) ** 2
    half_period = 0.5 / positive("mains_frequency", mains_frequency)
    charging = not_negative("conduction_time", conduction_time)
    if np.any(charging >= half_period):
        raise ValueError(
            f"conduction_time must be below half a period of the mains, got {conduction_time!r}"
        )
    drawn = 2 * not_negative("load_power", load_power) * (half_period - charging)
    squared = crest_squared - drawn / positive("bulk_capacitance", bulk_capacitance)
    if np.any(squared <= 0):
        raise ValueError(
            f"bulk_capacitance must hold the load until the next crest: {bulk_capacitance!r} F "
            f"runs empty at {load_power!r} W"
        )
    return plain(np.sqrt(squared))


def ideal_conduction_time(
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    load_power: ArrayLike,
    bulk_capacitance: ArrayLike,
) -> Numbers:
    r"""Time from the bridge's first conduction to the crest, for mains without impedance.

    Parameters
    ----------
    mains_voltage, mains_frequency, load_power, bulk_capacitance : float or array_like
        As in `bulk_valley_voltage`.

    Returns
    -------
    float or numpy.ndarray
        Conduction time in each half period. [s], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or the capacitor runs empty before the mains
        comes to its help.

    Notes
    -----
    The bridge conducts again where the rising sine meets the falling capacitor voltage:

    .. math:: \sqrt 2\, V_m \cos(2\pi f t_c) = V(t_c)

    with the valley :math:`V(t_c)` of `bulk_valley_voltage`. The short conduction after the
    crest is left out.

    References
    ----------
    Derived from Power Integrations, application note AN-17 (June 1996), p. 8.

    Examples
    --------
    >>> ideal_conduction_time(85, 60, 15 / 0.8, 33e-6) * 1e3
    2.06
    """
    frequency = positive("mains_frequency", mains_frequency)
    crest_squared = 2 * positive("mains_voltage", mains_voltage) ** 2
    drawn = 2 * not_negative("load_power", load_power)
    drawn = drawn / positive("bulk_capacitance", bulk_capacitance)
    if np.any(crest_squared <= drawn / (4 * frequency)):
        raise ValueError(
            f"bulk_capacitance must hold the load until the mains rises again: "
            f"{bulk_capacitance!r} F runs empty at {load_power!r} W"
        )
    shape = np.broadcast_shapes(frequency.shape, crest_squared.shape, drawn.shape)
    low, high = np.zeros(shape), np.broadcast_to(0.25 / frequency, shape)
    for _ in range(60):
        middle = (low + high) / 2
        late = crest_squared * np.sin(2 * np.pi * frequency * middle) ** 2 > drawn * (
            0.5 / frequency - middle
        )
        low, high = np.where(late, low, middle), np.where(late, middle, high)
    return plain((low + high) / 2)
