"""Energy and charge in capacitors: hold-up after the mains goes, droop when a load comes."""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, plain, positive


def hold_up_time(
    bulk_capacitance: ArrayLike,
    start_voltage: ArrayLike,
    end_voltage: ArrayLike,
    power: ArrayLike,
) -> Numbers:
    r"""How long the bulk capacitor feeds the converter when the mains is gone.

    Parameters
    ----------
    bulk_capacitance : float or array_like
        Capacitance behind the rectifier bridge. [F]  Must be > 0.
    start_voltage : float or array_like
        Its voltage when the mains goes; in the worst case the valley of its ripple. [V]
        Must be > 0.
    end_voltage : float or array_like
        Voltage at which the converter lets go. [V]  Must be >= 0 and not above the start.
    power : float or array_like
        Power drawn from the capacitor. [W]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Time. [s], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed.

    Notes
    -----
    The energy between the two voltages, at constant power:

    .. math:: t = \frac{C (V_0^2 - V_1^2)}{2 P}

    References
    ----------
    Energy of a capacitor. Read backwards it is the valley formula of Power Integrations,
    application note AN-17 (June 1996), p. 8.

    Examples
    --------
    >>> hold_up_time(100e-6, 300.0, 80.0, 66.0) * 1e3
    63.3
    """
    start = positive("start_voltage", start_voltage)
    end = not_negative("end_voltage", end_voltage)
    if np.any(end > start):
        raise ValueError(
            f"end_voltage must not be above start_voltage, got {end_voltage!r} and "
            f"{start_voltage!r}"
        )
    energy = positive("bulk_capacitance", bulk_capacitance) * (start**2 - end**2) / 2
    return plain(energy / positive("power", power))


def output_droop(
    current_step: ArrayLike,
    capacitance: ArrayLike,
    series_resistance: ArrayLike,
    delay: ArrayLike,
) -> Numbers:
    r"""Fall of the output before the converter answers to a sudden load.

    Parameters
    ----------
    current_step : float or array_like
        Rise of the load current. [A]  Must be >= 0.
    capacitance : float or array_like
        Output capacitance. [F]  Must be > 0.
    series_resistance : float or array_like
        Its equivalent series resistance. [ohm]  Must be >= 0.
    delay : float or array_like
        Time until the converter carries the new load. [s]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Droop. [V], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed.

    Notes
    -----
    Until the converter answers, the capacitor alone carries the step:

    .. math:: \Delta V = \Delta I \left(R_s + \frac{t_d}{C}\right)

    Holds while the droop is small beside the output voltage and the load's current does not
    depend on it.

    References
    ----------
    Charge of a capacitor (common practice).

    Examples
    --------
    >>> output_droop(2.0, 780e-6, 6e-3, 50e-6)
    0.140
    """
    step = not_negative("current_step", current_step)
    series = not_negative("series_resistance", series_resistance)
    late = not_negative("delay", delay)
    return plain(step * (series + late / positive("capacitance", capacitance)))


def reaction_time(
    droop: ArrayLike, current_step: ArrayLike, capacitance: ArrayLike, series_resistance: ArrayLike
) -> Numbers:
    r"""Delay of the converter that a droop implies; `output_droop` turned round.

    Parameters
    ----------
    droop : float or array_like
        Fall below the voltage that follows. [V]  Must be > 0.
    current_step : float or array_like
        Rise of the load current. [A]  Must be > 0.
    capacitance : float or array_like
        Output capacitance. [F]  Must be > 0.
    series_resistance : float or array_like
        Its equivalent series resistance. [ohm]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Delay. [s], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed, or the series resistance alone explains more
        than the droop.

    Notes
    -----
    .. math:: t_d = C \left(\frac{\Delta V}{\Delta I} - R_s\right)

    References
    ----------
    Charge of a capacitor (common practice).

    Examples
    --------
    >>> reaction_time(0.140, 2.0, 780e-6, 6e-3) * 1e6
    49.9
    """
    impedance = positive("droop", droop) / positive("current_step", current_step)
    left = impedance - not_negative("series_resistance", series_resistance)
    if np.any(left < 0):
        raise ValueError(
            f"droop must be at least current_step times series_resistance, got {droop!r} V for "
            f"{current_step!r} A and {series_resistance!r} ohm"
        )
    return plain(left * positive("capacitance", capacitance))
