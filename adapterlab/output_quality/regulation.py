"""How steady the output is: regulation, resistance, set point, ripple, transients, hold-up.

Here: `static_error`, `load_regulation`, `fit_output_resistance`, `fit_set_point`, `cable_drop`. In
modules with the same stem, and to be had from here too: what capacitors hold (`hold_up_time`,
`output_droop`, `reaction_time`), the published USB limits (`voltage_window`, `expected_modes`),
the step in the ripple (`find_ripple_step`), the ripple of a capture (`measure_ripple`,
`ripple_spectrum`, `sine_amplitude`, `limit_bandwidth`) and what happens in time
(`load_transients`, `excursion`, `start_up`, `overcurrent`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Floats, Numbers, finite, not_negative, plain, positive
from adapterlab.output_quality.usb import (
    VOLTAGE_STEP,
)


def static_error(set_voltage: ArrayLike, output_voltage: ArrayLike) -> Numbers:
    r"""Deviation of an output voltage from the one asked for.

    Parameters
    ----------
    set_voltage : float or array_like
        Voltage the port was asked for. [V]  Must be > 0.
    output_voltage : float or array_like
        Voltage measured. [V]

    Returns
    -------
    float or numpy.ndarray
        Error. [1], broadcast shape

    Raises
    ------
    ValueError
        If the set voltage is not above zero or a value is not finite.

    Notes
    -----
    .. math:: e = V / V_\text{set} - 1

    References
    ----------
    Definition.

    Examples
    --------
    >>> static_error(20.0, 20.2)
    0.01
    """
    return plain(
        finite("output_voltage", output_voltage) / positive("set_voltage", set_voltage) - 1
    )


def _two_columns(
    first: str, first_values: ArrayLike, second: str, second_values: ArrayLike, least: int
) -> tuple[Floats, Floats]:
    """Two rows of numbers of one length, with at least `least` different first values."""
    abscissa, ordinate = finite(first, first_values), finite(second, second_values)
    if abscissa.ndim != 1 or abscissa.shape != ordinate.shape:
        raise ValueError(
            f"{first} and {second} must be rows of one length, got shapes {abscissa.shape} and "
            f"{ordinate.shape}"
        )
    if len(np.unique(abscissa)) < least:
        raise ValueError(
            f"{first} must hold at least {least} different values, got {first_values!r}"
        )
    return abscissa, ordinate


def load_regulation(output_current: ArrayLike, output_voltage: ArrayLike) -> float:
    r"""Fall of the output voltage from the lightest to the heaviest load, over its mean.

    Parameters
    ----------
    output_current : array_like
        Loads. [A], shape (n,), at least two different ones
    output_voltage : array_like
        Voltage at each. [V], shape (n,)

    Returns
    -------
    float
        Regulation, positive if the voltage falls. [1]

    Raises
    ------
    ValueError
        If the rows differ in length, a value is not finite, or all loads are equal.

    Notes
    -----
    .. math:: r = (V_\text{light} - V_\text{heavy}) / \bar V

    Readings at equal loads are averaged.

    References
    ----------
    Definition (common practice).

    Examples
    --------
    >>> load_regulation([0.3, 3.0], [5.05, 4.95])
    0.02
    """
    amperes, volts = _two_columns(
        "output_current", output_current, "output_voltage", output_voltage, 2
    )
    light = volts[amperes == amperes.min()].mean()
    heavy = volts[amperes == amperes.max()].mean()
    return float((light - heavy) / positive("output_voltage", volts).mean())


@dataclass(frozen=True)
class OutputResistance:
    """A source with a resistance, as fitted to voltage against current.

    Attributes
    ----------
    resistance, resistance_uncertainty : float
        Slope, positive if the voltage falls, and its standard uncertainty. [ohm]
    open_voltage, open_voltage_uncertainty : float
        Voltage without load, and its standard uncertainty. [V]
    residual : float
        Largest distance of a reading from the line. [V]
    """

    resistance: float
    resistance_uncertainty: float
    open_voltage: float
    open_voltage_uncertainty: float
    residual: float


def fit_output_resistance(
    output_current: ArrayLike, output_voltage: ArrayLike, *, resolution: float = 0.0
) -> OutputResistance:
    r"""Output resistance as the slope of voltage against current.

    Parameters
    ----------
    output_current : array_like
        Loads. [A], shape (n,), at least three different ones
    output_voltage : array_like
        Voltage at each. [V], shape (n,)
    resolution : float, optional
        Least step of the voltmeter. [V]  The scatter of the readings is taken as no smaller than
        its rounding.

    Returns
    -------
    OutputResistance
        Slope and intercept with uncertainties.

    Raises
    ------
    ValueError
        If the rows differ in length, a value is not finite or the resolution negative, or there
        are fewer than three different loads.

    Notes
    -----
    Least squares, :math:`V = V_0 - R I`. The uncertainties hold for scatter that is independent
    from point to point; a gain error of the meters moves R by that share of itself.

    References
    ----------
    JCGM 100:2008, H.3 (line fitted by least squares).

    Examples
    --------
    >>> fit_output_resistance([1.0, 2.0, 3.0], [4.98, 4.96, 4.94]).resistance
    0.02
    """
    amperes, volts = _two_columns(
        "output_current", output_current, "output_voltage", output_voltage, 3
    )
    rounding = float(not_negative("resolution", resolution)) / np.sqrt(12)
    centre = amperes.mean()
    apart = amperes - centre
    square = float(apart @ apart)
    slope = float(apart @ (volts - volts.mean())) / square
    left = volts - volts.mean() - slope * apart
    scatter = max(float(np.sqrt(left @ left / (len(volts) - 2))), rounding)
    return OutputResistance(
        -slope,
        scatter / square**0.5,
        float(volts.mean() - slope * centre),
        scatter * float(np.sqrt(1 / len(volts) + centre**2 / square)),
        float(np.abs(left).max()),
    )


@dataclass(frozen=True)
class SetPoint:
    """Errors of an adjustable output across its range.

    Attributes
    ----------
    error : numpy.ndarray
        Voltage delivered less voltage asked for. [V], shape (n,)
    gain, offset : float
        Line through the errors: relative error of the scale, and shift. [1], [V]
    largest : float
        Error of largest size, with its sign. [V]
    steps : float
        Largest error in steps that a device can ask for. [1]
    """

    error: Floats
    gain: float
    offset: float
    largest: float
    steps: float


def fit_set_point(
    set_voltage: ArrayLike,
    output_voltage: ArrayLike,
    output_current: ArrayLike = 0.0,
    resistance: float = 0.0,
) -> SetPoint:
    r"""Set-point error of an adjustable output, the fall under load taken out.

    Parameters
    ----------
    set_voltage : array_like
        Voltages asked for. [V], shape (n,), at least two different ones
    output_voltage : array_like
        Voltages measured. [V], shape (n,)
    output_current : float or array_like, optional
        Current at each. [A], shape () or (n,)
    resistance : float, optional
        Output resistance of the port, whose drop is added back. [ohm]

    Returns
    -------
    SetPoint
        Errors, and the line through them.

    Raises
    ------
    ValueError
        If the rows differ in length, a value is not finite, or all set voltages are equal.

    Notes
    -----
    .. math:: e = V + R I - V_\text{set} = g V_\text{set} + o

    A gain comes from the reference or the divider, an offset from a sense point or an amplifier.

    References
    ----------
    Definition; JCGM 100:2008, H.3 (line fitted by least squares).

    Examples
    --------
    >>> fit_set_point([5.0, 10.0, 20.0], [5.05, 10.1, 20.2]).gain
    0.01
    """
    asked, volts = _two_columns("set_voltage", set_voltage, "output_voltage", output_voltage, 2)
    drop = finite("resistance", resistance) * finite("output_current", output_current)
    error = volts + np.broadcast_to(drop, asked.shape) - positive("set_voltage", asked)
    gain, offset = np.polyfit(asked, error, 1)
    largest = float(error[np.abs(error).argmax()])
    return SetPoint(error, float(gain), float(offset), largest, abs(largest) / VOLTAGE_STEP)


def cable_drop(output_current: ArrayLike, resistance: ArrayLike) -> Numbers:
    r"""Voltage that a cable loses on the way to the device and back.

    Parameters
    ----------
    output_current : float or array_like
        Current. [A]  Must be >= 0.
    resistance : float or array_like
        Resistance there and back, contacts included. [ohm]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Drop. [V], broadcast shape

    Raises
    ------
    ValueError
        If an argument is negative or not finite.

    Notes
    -----
    .. math:: \Delta V = R I

    References
    ----------
    Ohm's law; Regulation (EU) 2025/2052, Annex II, IV.3(a) for cables to assume.

    Examples
    --------
    >>> cable_drop(3.0, 0.130)
    0.39
    """
    current = not_negative("output_current", output_current)
    return plain(current * not_negative("resistance", resistance))
