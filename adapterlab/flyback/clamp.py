"""The leakage spike of a flyback's switch and the clamp that cuts it off.

`leakage_spike`, `clamp_dissipation`, `clamp_resistance`, `resistor_clamp_voltage`.
"""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, plain, positive


def _rate(
    leakage_inductance: ArrayLike, peak_current: ArrayLike, switching_frequency: ArrayLike
) -> Numbers:
    """Energy of the leakage inductance per second. [W]."""
    return (
        positive("leakage_inductance", leakage_inductance)
        * positive("peak_current", peak_current) ** 2
        * positive("switching_frequency", switching_frequency)
        / 2
    )


def clamp_dissipation(
    leakage_inductance: ArrayLike,
    peak_current: ArrayLike,
    switching_frequency: ArrayLike,
    clamp_voltage: ArrayLike,
    reflected_voltage: ArrayLike,
    clamp_drop: ArrayLike = 0,
) -> Numbers:
    r"""Power that a clamp takes from the leakage inductance, its diode included.

    Parameters
    ----------
    leakage_inductance : float or array_like
        Seen from the primary. [H]  Must be > 0.
    peak_current : float or array_like
        Primary current as the switch opens. [A]  Must be > 0.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.
    clamp_voltage : float or array_like
        Voltage of the clamp without its diode, above the bulk voltage. [V]
    reflected_voltage : float or array_like
        Secondary voltage as the primary sees it. [V]  Must be >= 0.
    clamp_drop : float or array_like, optional
        Drop of the clamp's diode. [V]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or the clamp lies at or below the reflected
        voltage, so that it would take the load's energy too.

    Notes
    -----
    The leakage inductance sees the clamp less the reflected voltage and takes
    :math:`L_l \hat I/(V_c + V_D - V_R)` to empty; all that while its current flows into the
    clamp:

    .. math:: P = \tfrac12 L_l \hat I^2 f\,\frac{V_c + V_D}{V_c + V_D - V_R}

    More than the leakage energy itself: the rest comes from the source and the core. What the
    drain capacitance takes is left out, so the result errs on the large side.

    References
    ----------
    From memory; derived in ``notebooks/08_flyback.ipynb`` and compared in the tests with a
    circuit simulator.

    Examples
    --------
    >>> clamp_dissipation(5.2e-6, 1.77, 85e3, 160, 90)
    1.58
    """
    top = positive("clamp_voltage", clamp_voltage) + not_negative("clamp_drop", clamp_drop)
    above = top - not_negative("reflected_voltage", reflected_voltage)
    if np.any(above <= 0):
        raise ValueError(
            f"clamp_voltage must lie above reflected_voltage, got {clamp_voltage!r} and "
            f"{reflected_voltage!r}"
        )
    energy = _rate(leakage_inductance, peak_current, switching_frequency)
    return plain(energy * top / above)


def clamp_resistance(clamp_voltage: ArrayLike, clamp_power: ArrayLike) -> Numbers:
    r"""Resistor that holds a clamp capacitor at a voltage.

    Parameters
    ----------
    clamp_voltage : float or array_like
        Mean voltage of the clamp capacitor. [V]  Must be > 0.
    clamp_power : float or array_like
        Power into the capacitor: `clamp_dissipation` less the share of the diode. [W]
        Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Resistance. [ohm], broadcast shape

    Raises
    ------
    ValueError
        If an input is not above zero.

    Notes
    -----
    .. math:: R = V_c^2 / P

    References
    ----------
    Power balance of the clamp capacitor; from memory.

    Examples
    --------
    >>> clamp_resistance(160, 1.6) / 1e3
    16.0
    """
    return plain(
        positive("clamp_voltage", clamp_voltage) ** 2 / positive("clamp_power", clamp_power)
    )


def resistor_clamp_voltage(
    leakage_inductance: ArrayLike,
    peak_current: ArrayLike,
    switching_frequency: ArrayLike,
    clamp_resistance: ArrayLike,
    reflected_voltage: ArrayLike,
    clamp_drop: ArrayLike = 0,
) -> Numbers:
    r"""Voltage at which the capacitor of a clamp settles with its resistor.

    Parameters
    ----------
    leakage_inductance, peak_current, switching_frequency : float or array_like
        As in `clamp_dissipation`.
    clamp_resistance : float or array_like
        Resistor across the clamp capacitor. [ohm]  Must be > 0.
    reflected_voltage : float or array_like
        As in `clamp_dissipation`.
    clamp_drop : float or array_like, optional
        As in `clamp_dissipation`.

    Returns
    -------
    float or numpy.ndarray
        Mean voltage of the capacitor. [V], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    What flows in is what the resistor burns:

    .. math:: V_c\,(V_c + V_D - V_R) = R\,\tfrac12 L_l \hat I^2 f

    Holds for a capacitor large enough that its voltage hardly moves, and for a resistor small
    enough that the clamp lies above the reflected voltage, which it then does by itself.

    References
    ----------
    `clamp_dissipation` and `clamp_resistance`, solved together.

    Examples
    --------
    >>> resistor_clamp_voltage(5.2e-6, 1.77, 85e3, 16e3, 90)
    159.5
    """
    energy = _rate(leakage_inductance, peak_current, switching_frequency)
    half = (
        not_negative("reflected_voltage", reflected_voltage)
        - not_negative("clamp_drop", clamp_drop)
    ) / 2
    burnt = positive("clamp_resistance", clamp_resistance) * energy
    return plain(half + np.sqrt(half**2 + burnt))


def leakage_spike(
    peak_current: ArrayLike, leakage_inductance: ArrayLike, drain_capacitance: ArrayLike
) -> Numbers:
    r"""Height of the leakage spike above the plateau of the switch, without any clamp.

    Parameters
    ----------
    peak_current : float or array_like
        Primary current as the switch opens. [A]  Must be >= 0.
    leakage_inductance : float or array_like
        Seen from the primary. [H]  Must be > 0.
    drain_capacitance : float or array_like
        Capacitance of the switch node. [F]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Voltage. [V], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: V = \hat I \sqrt{L_l / C}

    Undamped; the current when the plateau is reached counts as the peak.

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed.,
    sec. 11.2-11.7, pp. 547-557.

    Examples
    --------
    >>> leakage_spike(1.725, 15e-6, 1.4e-9)
    178.6
    """
    ratio = positive("leakage_inductance", leakage_inductance) / positive(
        "drain_capacitance", drain_capacitance
    )
    return plain(not_negative("peak_current", peak_current) * np.sqrt(ratio))
