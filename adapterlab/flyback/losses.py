"""Losses of a flyback's parts.

Resistances and diodes: `conduction_loss`, `diode_loss`, `synchronous_loss`. Edges:
`switching_loss`, `turn_off_loss`, `capacitive_loss`.
"""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, one_of, plain, positive

_OVERLAP = {"successive": 1 / 2, "simultaneous": 1 / 6}


def conduction_loss(
    rms_current: ArrayLike, resistance: ArrayLike, temperature_factor: ArrayLike = 1
) -> Numbers:
    r"""Loss of a current in a resistance.

    Parameters
    ----------
    rms_current : float or array_like
        Root mean square. [A]  Must be >= 0.
    resistance : float or array_like
        At the temperature of the data sheet. [ohm]  Must be >= 0.
    temperature_factor : float or array_like, optional
        Resistance when warm over that. [1]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: P = k R I^2

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed., sec. 9.2.9,
    pp. 479-480: 1.6 from 25 to 100 °C for a switch of the 400 V class.

    Examples
    --------
    >>> conduction_loss(0.4, 0.15, 1.6)
    0.0384
    """
    warm = not_negative("resistance", resistance) * positive(
        "temperature_factor", temperature_factor
    )
    return plain(not_negative("rms_current", rms_current) ** 2 * warm)


def diode_loss(
    mean_current: ArrayLike,
    rms_current: ArrayLike,
    drop: ArrayLike,
    resistance: ArrayLike = 0,
) -> Numbers:
    r"""Loss of a diode: constant drop and resistance.

    Parameters
    ----------
    mean_current, rms_current : float or array_like
        Current of the diode. [A]  Must be >= 0; the mean not above the rms.
    drop : float or array_like
        Constant part of its voltage. [V]  Must be >= 0.
    resistance : float or array_like, optional
        Slope of its voltage. [ohm]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: P = V_D \bar I + R I^2

    A bridge has two in the path at any time: twice this, with the current of the mains.

    References
    ----------
    From memory.

    Examples
    --------
    >>> diode_loss(2.0, 3.2, 0.45, 0.01)
    1.00
    """
    mean, rms = not_negative("mean_current", mean_current), not_negative("rms_current", rms_current)
    if np.any(mean > rms * (1 + 1e-9)):
        raise ValueError(f"mean_current must not exceed rms_current, got {mean_current!r}")
    return plain(
        mean * not_negative("drop", drop) + rms**2 * not_negative("resistance", resistance)
    )


def synchronous_loss(
    rms_current: ArrayLike,
    peak_current: ArrayLike,
    resistance: ArrayLike,
    switching_frequency: ArrayLike,
    dead_time: ArrayLike,
    body_drop: ArrayLike = 0.8,
    temperature_factor: ArrayLike = 1,
) -> Numbers:
    r"""Loss of a transistor that stands in for the output diode.

    Parameters
    ----------
    rms_current, peak_current : float or array_like
        Secondary current. [A]  Must be >= 0.
    resistance : float or array_like
        On-resistance at the temperature of the data sheet. [ohm]  Must be >= 0.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.
    dead_time : float or array_like
        Time until the transistor takes over from its own diode. [s]  Must be >= 0.
    body_drop : float or array_like, optional
        Drop of that diode. [V]  Must be >= 0.
    temperature_factor : float or array_like, optional
        Resistance when warm over that of the data sheet. [1]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Power, without that of the gate. [W], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: P = k R I^2 + V_B \hat I\, t_d f

    The diode conducts while the current is still near its peak; the end of the pulse, where it
    conducts once more at little current, is left out.

    References
    ----------
    Common practice.

    Examples
    --------
    >>> synchronous_loss(3.2, 8, 9e-3, 85e3, 100e-9, temperature_factor=1.4)
    0.183
    """
    edge = (
        not_negative("body_drop", body_drop)
        * not_negative("peak_current", peak_current)
        * not_negative("dead_time", dead_time)
        * positive("switching_frequency", switching_frequency)
    )
    return plain(np.asarray(conduction_loss(rms_current, resistance, temperature_factor)) + edge)


def switching_loss(
    voltage: ArrayLike,
    current: ArrayLike,
    transition_time: ArrayLike,
    switching_frequency: ArrayLike,
    overlap: str = "successive",
) -> Numbers:
    r"""Loss while voltage and current of a switch overlap at one edge.

    Parameters
    ----------
    voltage, current : float or array_like
        Before and after the edge. [V], [A]  Must be >= 0.
    transition_time : float or array_like
        Length of the edge. [s]  Must be >= 0.
    switching_frequency : float or array_like
        Such edges per second. [Hz]  Must be > 0.
    overlap : str, optional
        ``successive`` if first one and then the other changes, as with an inductive load;
        ``simultaneous`` for both at once.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: P = k V I t f, \qquad k = \tfrac12 \text{ or } \tfrac16

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed., sec. 1.3,
    pp. 16-20.

    Examples
    --------
    >>> switching_loss(368, 3.45, 0.3e-6, 100e3)
    19.0
    """
    factor = _OVERLAP[one_of("overlap", overlap, _OVERLAP)]
    energy = (
        not_negative("voltage", voltage)
        * not_negative("current", current)
        * not_negative("transition_time", transition_time)
    )
    return plain(factor * energy * positive("switching_frequency", switching_frequency))


def turn_off_loss(
    voltage: ArrayLike,
    current: ArrayLike,
    transition_time: ArrayLike,
    switching_frequency: ArrayLike,
    drain_capacitance: ArrayLike = 0,
) -> Numbers:
    r"""Loss as a switch opens on an inductive load, eased by the capacitance of its node.

    Parameters
    ----------
    voltage : float or array_like
        Plateau after the edge. [V]  Must be > 0.
    current : float or array_like
        Current before the edge. [A]  Must be > 0.
    transition_time : float or array_like
        Time in which the current of the switch falls to zero. [s]  Must be > 0.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.
    drain_capacitance : float or array_like, optional
        Capacitance of the switch node. [F]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    The current falls straight; what the switch no longer carries charges the capacitance until
    the plateau is reached, at :math:`t_1 = \min(t, \sqrt{2 C t V/I})`:

    .. math:: E = \frac{I^2}{2Ct}\left(\frac{t_1^3}{3} - \frac{t_1^4}{4t}\right)
                 + \frac{V I (t - t_1)^2}{2t}

    Without capacitance :math:`\tfrac12 V I t`; with one that just reaches the plateau in
    :math:`t` a sixth of that.

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed.,
    sec. 11.2-11.7, pp. 547-557.

    Examples
    --------
    >>> turn_off_loss(368, 3.45, 0.3e-6, 100e3, [0, 1.4e-9]).round(2)
    array([19.04,  3.19])
    """
    plateau, before = positive("voltage", voltage), positive("current", current)
    fall = positive("transition_time", transition_time)
    held = not_negative("drain_capacitance", drain_capacitance)
    early = np.minimum(fall, np.sqrt(2 * held * fall * plateau / before))
    eased = np.where(held > 0, before**2 / (2 * np.where(held > 0, held, 1.0) * fall), 0.0)
    energy = eased * (early**3 / 3 - early**4 / (4 * fall))
    energy = energy + plateau * before * (fall - early) ** 2 / (2 * fall)
    return plain(energy * positive("switching_frequency", switching_frequency))


def capacitive_loss(
    drain_capacitance: ArrayLike, voltage: ArrayLike, switching_frequency: ArrayLike
) -> Numbers:
    r"""Loss of a capacitance that the switch discharges in every period.

    Parameters
    ----------
    drain_capacitance : float or array_like
        Capacitance. [F]  Must be >= 0.
    voltage : float or array_like
        Voltage across it as the switch closes. [V]  Must be >= 0.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: P = \tfrac12 C V^2 f

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed.,
    sec. 11.2-11.7, pp. 547-557.

    Examples
    --------
    >>> capacitive_loss(1.4e-9, 368, 100e3)
    9.48
    """
    energy = (
        not_negative("drain_capacitance", drain_capacitance)
        * not_negative("voltage", voltage) ** 2
        / 2
    )
    return plain(energy * positive("switching_frequency", switching_frequency))
