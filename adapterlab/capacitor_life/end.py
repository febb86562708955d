"""What an aged capacitor does to the circuit around it.

It holds less and resists more: `pulsed_output_ripple` grows, `hold_up_ratio` and
`supply_carry_time` shrink.
"""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Floats, Numbers, fraction, not_negative, plain, positive


def pulsed_output_ripple(
    secondary_peak: ArrayLike,
    secondary_valley: ArrayLike,
    secondary_duty: ArrayLike,
    switching_frequency: ArrayLike,
    capacitance: ArrayLike,
    series_resistance: ArrayLike,
) -> Numbers:
    r"""Ripple of an output capacitor that a converter feeds with falling pulses of current.

    Parameters
    ----------
    secondary_peak : float or array_like
        Current at the start of each pulse. [A]  Must be > 0.
    secondary_valley : float or array_like
        Current at its end. [A]  From 0 to the peak.
    secondary_duty : float or array_like
        Share of the period that a pulse takes. [1]  Above 0, at most 1.
    switching_frequency : float or array_like
        Pulses each second. [Hz]  Must be > 0.
    capacitance : float or array_like
        [F]  Must be > 0.
    series_resistance : float or array_like
        [ohm]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Peak-to-peak ripple. [V], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    The capacitor takes each pulse and gives its mean to the load. Its voltage is the charge over
    the capacitance plus the current through the resistance,

    .. math:: v = \frac1C \int (i - \bar\imath)\, dt + R\,(i - \bar\imath)

    which is extreme at the ends of the pulse, or within it where the fall of the second term
    overtakes the rise of the first. Series inductance is left out.

    References
    ----------
    Derived from the waveforms of a flyback secondary; held against waveforms summed in the time
    domain in the tests.

    Examples
    --------
    >>> pulsed_output_ripple(8.0, 0.0, 0.5, 85e3, 660e-6, 7e-3) * 1e3
    56.0
    """
    peak = positive("secondary_peak", secondary_peak)
    valley = not_negative("secondary_valley", secondary_valley)
    if np.any(valley > peak):
        raise ValueError(f"secondary_valley must be at most secondary_peak, got {valley!r}")
    duty = fraction("secondary_duty", secondary_duty)
    length = duty / positive("switching_frequency", switching_frequency)
    holds = positive("capacitance", capacitance)
    resists = not_negative("series_resistance", series_resistance)
    mean = duty * (peak + valley) / 2
    slope = (peak - valley) / length
    # Where the derivative within the pulse is zero, if it is within.
    steep = np.where(slope > 0, slope, 1.0)
    turning = np.clip(np.where(slope > 0, (peak - mean) / steep - resists * holds, 0), 0, length)

    def within(time: Floats) -> Floats:
        charge = (peak - mean) * time - slope * time**2 / 2
        return charge / holds + resists * (peak - mean - slope * time)

    # Before the pulse; after it the voltage is higher by what the pulse has brought.
    corners = np.stack(
        np.broadcast_arrays(-resists * mean, within(0 * length), within(turning), within(length))
    )
    return plain(corners.max(axis=0) - corners.min(axis=0))


def hold_up_ratio(
    capacitance_left: ArrayLike,
    start_voltage: ArrayLike,
    aged_start_voltage: ArrayLike,
    end_voltage: ArrayLike,
) -> Numbers:
    r"""Hold-up time of an aged bulk capacitor over that of a new one.

    Parameters
    ----------
    capacitance_left : float or array_like
        Aged over new capacitance. [1]  Above 0, at most 1.
    start_voltage : float or array_like
        Voltage of the new capacitor when the mains fails, at worst its valley. [V]  Above
        `end_voltage`.
    aged_start_voltage : float or array_like
        The same of the aged one, which sags deeper. [V]  At most `start_voltage`.
    end_voltage : float or array_like
        Voltage below which the converter gives up. [V]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Ratio; 0 if the aged valley already lies below the end. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: \frac{t'}{t} = c\, \frac{V_0'^2 - V_1^2}{V_0^2 - V_1^2}

    The load drops out.

    References
    ----------
    Energy of a capacitor, before and after.

    Examples
    --------
    >>> hold_up_ratio(0.7, 300, 290, 120)
    0.645
    """
    left, full = (
        fraction("capacitance_left", capacitance_left),
        positive("start_voltage", start_voltage),
    )
    sags, end = (
        positive("aged_start_voltage", aged_start_voltage),
        positive("end_voltage", end_voltage),
    )
    if np.any(full <= end) or np.any(sags > full):
        raise ValueError(
            f"start_voltage must be above end_voltage and not below aged_start_voltage, got "
            f"{start_voltage!r}, {end_voltage!r} and {aged_start_voltage!r}"
        )
    return plain(left * np.maximum(sags**2 - end**2, 0) / (full**2 - end**2))


def supply_carry_time(
    capacitance: ArrayLike,
    current: ArrayLike,
    start_voltage: ArrayLike,
    end_voltage: ArrayLike,
    *,
    series_resistance: ArrayLike = 0.0,
) -> Numbers:
    r"""Time that the small supply capacitor carries the controller at start-up.

    Parameters
    ----------
    capacitance : float or array_like
        [F]  Must be > 0.
    current : float or array_like
        Drawn by the controller and by driving the switch. [A]  Must be > 0.
    start_voltage : float or array_like
        Voltage at which the controller wakes up. [V]  Above `end_voltage`.
    end_voltage : float or array_like
        Voltage at which it gives up. [V]  Must be > 0.
    series_resistance : float or array_like, optional
        Of the capacitor. [ohm]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Time; 0 if the resistance alone takes the voltage below the end. [s], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: t = C\, (V_0 - V_1 - I R) / I

    Before it is over, the auxiliary winding must have taken over. If not, the controller starts
    again and again, and the adapter is as good as dead, though only its smallest capacitor is.

    References
    ----------
    Charge of a capacitor; the sequence of events is common practice.

    Examples
    --------
    >>> supply_carry_time(10e-6, 5e-3, 16, 9) * 1e3
    14.0
    """
    drawn = positive("current", current)
    high, low = positive("start_voltage", start_voltage), positive("end_voltage", end_voltage)
    if np.any(high <= low):
        raise ValueError(
            f"start_voltage must be above end_voltage, {end_voltage!r} V, got {start_voltage!r}"
        )
    swing = high - low - drawn * not_negative("series_resistance", series_resistance)
    return plain(positive("capacitance", capacitance) * np.maximum(swing, 0) / drawn)
