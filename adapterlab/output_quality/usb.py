"""What the published USB supply rules ask of an output: windows, voltages offered, cables."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Floats, Numbers, one_of, plain, positive
from adapterlab.published import rows

KINDS = ("fixed", "programmable")
# Step in which a device may ask an adjustable output for a voltage. [V]
VOLTAGE_STEP = float(rows("output_quality", "steps", quantity="voltage")[0]["step"])


@dataclass(frozen=True)
class VoltageWindow:
    """Where the voltage at the receptacle should stay.

    Attributes
    ----------
    static_minimum, static_maximum : float or numpy.ndarray
        For as long as one likes. [V], shape of `set_voltage`
    transient_minimum, transient_maximum : float or numpy.ndarray
        For the short time after a change. [V], shape of `set_voltage`
    """

    static_minimum: Numbers
    static_maximum: Numbers
    transient_minimum: Numbers
    transient_maximum: Numbers


def voltage_window(set_voltage: ArrayLike, kind: str = "fixed") -> VoltageWindow:
    r"""Tolerance band of a USB Power Delivery output at the supply's receptacle.

    Parameters
    ----------
    set_voltage : float or array_like
        Voltage the port was asked for. [V]  Must be > 0.
    kind : str, optional
        ``fixed`` or ``programmable``.

    Returns
    -------
    VoltageWindow
        The four ends.

    Raises
    ------
    ValueError
        If the voltage is not above zero or the kind is unknown.

    Notes
    -----
    .. math:: V (1 \mp f) \mp a

    with the fraction f and, for the transient window, the allowance a of the kind. The transient
    window of programmable outputs is known from memory only.

    References
    ----------
    USB Power Delivery R3.2 v1.2, Table 4.6; ``published/output_quality.toml``, windows.

    Examples
    --------
    >>> voltage_window(20.0).static_minimum
    19.0
    """
    volts = positive("set_voltage", set_voltage)
    ends = {}
    for row in rows("output_quality", "windows", kind=one_of("kind", kind, KINDS)):
        sign = 1 if row["side"] == "upper" else -1
        end = volts * (1 + sign * row["fraction"]) + sign * row["allowance"]
        ends[f"{row['band']}_{'maximum' if sign > 0 else 'minimum'}"] = plain(end)
    return VoltageWindow(**ends)


@dataclass(frozen=True)
class ExpectedModes:
    """Fixed voltages a supply of some power should offer.

    Attributes
    ----------
    voltage : numpy.ndarray
        Voltages. [V], shape (modes,)
    current : numpy.ndarray
        Least current of each. [A], shape (modes,)
    """

    voltage: Floats
    current: Floats


def expected_modes(power: float) -> ExpectedModes:
    r"""Fixed voltages and currents that the power rules expect of a USB-C port.

    Parameters
    ----------
    power : float
        Largest power of the port. [W]  Above 0, at most 100.

    Returns
    -------
    ExpectedModes
        Every voltage the rules ask for at this power, lowest first.

    Raises
    ------
    ValueError
        If the power is not above zero or the rules for fixed voltages up to 20 V do not reach it.

    Notes
    -----
    Each voltage below the highest one carries its full current (3 A), the highest

    .. math:: I = P / V

    References
    ----------
    IEC 62680-1-2, power rules; ``published/output_quality.toml``, power_rules.

    Examples
    --------
    A port of 45 W:

    >>> expected_modes(45.0).voltage
    array([ 5., 9., 15.])
    """
    watts = float(positive("power", power))
    table = rows("output_quality", "power_rules")
    most = table[-1]["voltage"] * table[-1]["current"]
    if watts > most:
        raise ValueError(
            f"power must be at most {most:g} W, the reach of the rules for fixed voltages up to "
            f"{table[-1]['voltage']:g} V, got {power!r}"
        )
    offered = [row for row in table if watts > row["above"]]
    voltage = np.array([row["voltage"] for row in offered])
    largest = np.array([row["current"] for row in offered])
    return ExpectedModes(voltage, np.minimum(largest, watts / voltage))


def programmable_steps(minimum_voltage: ArrayLike, maximum_voltage: ArrayLike) -> Numbers:
    """How many voltages a device can ask of an adjustable output.

    Parameters
    ----------
    minimum_voltage : float or array_like
        Lowest voltage of the range. [V]  Must be > 0.
    maximum_voltage : float or array_like
        Highest voltage of the range. [V]  Not below the lowest.

    Returns
    -------
    int or numpy.ndarray
        Number of settings, both ends included. [1], broadcast shape

    Raises
    ------
    ValueError
        If a voltage is not above zero or the range is the wrong way round.

    References
    ----------
    Linux kernel, include/linux/usb/pd.h (20 mV); ``published/output_quality.toml``, steps.

    Examples
    --------
    >>> programmable_steps(3.3, 11.0)
    386
    """
    low = positive("minimum_voltage", minimum_voltage)
    high = positive("maximum_voltage", maximum_voltage)
    if np.any(high < low):
        raise ValueError(
            f"maximum_voltage must not be below minimum_voltage, got {maximum_voltage!r} and "
            f"{minimum_voltage!r}"
        )
    return plain(np.floor((high - low) / VOLTAGE_STEP + 1e-9).astype(int) + 1)


def largest_cable_resistance(rated_current: ArrayLike) -> Numbers:
    r"""Resistance there and back that a USB-C cable may have at its rated current.

    Parameters
    ----------
    rated_current : float or array_like
        Current the cable is made for. [A]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Resistance, both contacts included. [ohm], shape of `rated_current`

    Raises
    ------
    ValueError
        If the current is not above zero.

    Notes
    -----
    .. math:: R = (\Delta V_\text{supply} + \Delta V_\text{return}) / I

    References
    ----------
    USB Type-C specification, 4.4.1; ``published/output_quality.toml``, cables.

    Examples
    --------
    >>> largest_cable_resistance(3.0)
    0.25
    """
    total = sum(row["drop"] for row in rows("output_quality", "cables"))
    return plain(total / positive("rated_current", rated_current))
