r"""Inverse questions of the flyback converter: what a wish asks of the transformer.

Inductance: `boundary_inductance`, `ripple_inductance`. Turns: `duty_turns_ratio`,
`rating_turns_ratio`. Load at which the mode changes: `boundary_current`, and as a map
`mode_map`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from adapterlab.flyback.point import operating_point
from adapterlab.numerics.arguments import Floats, Numbers, not_negative, plain, positive


@dataclass(frozen=True)
class ModeMap:
    """Conduction mode over input voltage and load.

    Attributes
    ----------
    input_voltage : numpy.ndarray
        Columns of the map. [V], shape (m,)
    output_current : numpy.ndarray
        Rows of the map. [A], shape (n,)
    mode : numpy.ndarray of int
        Place in `names`. [1], shape (n, m)
    boundary_current : numpy.ndarray
        Load at which conduction becomes continuous. [A], shape (m,)
    names : tuple of str
        ``burst``, ``discontinuous``, ``continuous``.
    """

    input_voltage: Floats
    output_current: Floats
    mode: NDArray[np.int8]
    boundary_current: Floats
    names: tuple[str, ...] = ("burst", "discontinuous", "continuous")


def boundary_inductance(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    output_current: ArrayLike,
    turns_ratio: ArrayLike,
    switching_frequency: ArrayLike,
    diode_drop: ArrayLike = 0,
    efficiency: ArrayLike = 1,
) -> Numbers:
    r"""Largest magnetising inductance whose current still reaches zero in each period.

    Parameters
    ----------
    input_voltage, output_voltage, output_current, turns_ratio : float or array_like
        As in `operating_point`.
    diode_drop, efficiency : float or array_like, optional
        As in `operating_point`.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Inductance seen from the primary. [H], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: L = \frac{(V_{in} D_c)^2}{2 P f}, \qquad D_c = \frac{V_R}{V_{in} + V_R}

    It grows with the input voltage: what is discontinuous at the valley of the lowest mains
    is so everywhere at that load.

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed., sec. 4.8.4.

    Examples
    --------
    >>> boundary_inductance(300, 20, 2, 4.5, 85e3) * 1e6
    704.9
    """
    frequency = positive("switching_frequency", switching_frequency)
    point = operating_point(
        input_voltage,
        output_voltage,
        output_current,
        turns_ratio,
        1.0,
        diode_drop=diode_drop,
        efficiency=efficiency,
    )
    return plain(np.asarray(point.switching_frequency) / frequency)


def boundary_current(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    turns_ratio: ArrayLike,
    magnetising_inductance: ArrayLike,
    switching_frequency: ArrayLike,
    diode_drop: ArrayLike = 0,
    efficiency: ArrayLike = 1,
) -> Numbers:
    r"""Load above which the current no longer reaches zero.

    Parameters
    ----------
    input_voltage, output_voltage, turns_ratio, magnetising_inductance : float or array_like
        As in `operating_point`.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.
    diode_drop, efficiency : float or array_like, optional
        As in `operating_point`.

    Returns
    -------
    float or numpy.ndarray
        Output current. [A], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: I = \frac{\eta\,(V_{in} D_c)^2}{2 L f (V_o + V_d)},
              \qquad D_c = \frac{V_R}{V_{in} + V_R}

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed., sec. 4.8.4.

    Examples
    --------
    >>> boundary_current(300, 20, 4.5, 300e-6, 85e3)
    4.70
    """
    wanted = np.asarray(
        boundary_inductance(
            input_voltage, output_voltage, 1.0, turns_ratio, switching_frequency, diode_drop,
            efficiency,
        )
    )  # fmt: skip
    return plain(wanted / positive("magnetising_inductance", magnetising_inductance))


def ripple_inductance(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    output_current: ArrayLike,
    turns_ratio: ArrayLike,
    switching_frequency: ArrayLike,
    current_ripple: ArrayLike,
    diode_drop: ArrayLike = 0,
    efficiency: ArrayLike = 1,
) -> Numbers:
    r"""Magnetising inductance for a wanted ripple of the current in continuous conduction.

    Parameters
    ----------
    input_voltage, output_voltage, output_current, turns_ratio : float or array_like
        As in `operating_point`.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.
    current_ripple : float or array_like
        Peak to peak over the middle of the ramp. [1]  Above 0, at most 2, which is the boundary.
    diode_drop, efficiency : float or array_like, optional
        As in `operating_point`.

    Returns
    -------
    float or numpy.ndarray
        Inductance seen from the primary. [H], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: L = \frac{(V_{in} D)^2}{k P f}

    with the ripple :math:`k`; twice the boundary's value for a ripple of 1.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 11.4.2,
    which counts the ripple as peak: half of this.

    Examples
    --------
    >>> ripple_inductance(200, 20, 5, 1 / 0.15, 150e3, 0.4) * 1e3
    1.07
    """
    ripple = positive("current_ripple", current_ripple)
    if np.any(ripple > 2):
        raise ValueError(
            f"current_ripple must be at most 2, above which the current stops, "
            f"got {current_ripple!r}"
        )
    edge = boundary_inductance(
        input_voltage, output_voltage, output_current, turns_ratio, switching_frequency,
        diode_drop, efficiency,
    )  # fmt: skip
    return plain(2 * np.asarray(edge) / ripple)


def duty_turns_ratio(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    duty_cycle: ArrayLike,
    diode_drop: ArrayLike = 0,
) -> Numbers:
    r"""Turns ratio that gives a wanted duty cycle at the boundary and in continuous conduction.

    Parameters
    ----------
    input_voltage, output_voltage : float or array_like
        As in `operating_point`.
    duty_cycle : float or array_like
        Share of the period in which the switch is to conduct. [1]  Above 0, below 1.
    diode_drop : float or array_like, optional
        As in `operating_point`.

    Returns
    -------
    float or numpy.ndarray
        Turns of the primary over turns of the secondary. [1], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: n = \frac{D}{1 - D}\,\frac{V_{in}}{V_o + V_d}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 6.3.4 and
    11.4.2.

    Examples
    --------
    >>> 1 / duty_turns_ratio(200, 20, 0.4)
    0.15
    """
    duty = positive("duty_cycle", duty_cycle)
    if np.any(duty >= 1):
        raise ValueError(f"duty_cycle must be above 0 and below 1, got {duty_cycle!r}")
    output = positive("output_voltage", output_voltage) + not_negative("diode_drop", diode_drop)
    return plain(positive("input_voltage", input_voltage) * duty / ((1 - duty) * output))


def rating_turns_ratio(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    rated_voltage: ArrayLike,
    margin: ArrayLike = 0,
    spike: ArrayLike = 0,
    diode_drop: ArrayLike = 0,
) -> Numbers:
    r"""Largest turns ratio that a switch of a given rating bears.

    Parameters
    ----------
    input_voltage : float or array_like
        Highest voltage of the bulk capacitor. [V]  Must be > 0.
    output_voltage : float or array_like
        Highest output voltage. [V]  Must be > 0.
    rated_voltage : float or array_like
        Rating of the switch. [V]  Must be > 0.
    margin : float or array_like, optional
        Share of the rating to keep free. [1]  At least 0, below 1.
    spike : float or array_like, optional
        Leakage spike on top of the plateau. [V]  Must be >= 0.
    diode_drop : float or array_like, optional
        As in `operating_point`.

    Returns
    -------
    float or numpy.ndarray
        Turns of the primary over turns of the secondary. [1], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or the rating leaves nothing for the output.

    Notes
    -----
    .. math:: n = \frac{(1 - m) V_{rated} - V_{spike} - V_{in}}{V_o + V_d}

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed., sec. 4.6
    (stress of the switch).

    Examples
    --------
    >>> rating_turns_ratio(340, 20, 650, margin=0.1, spike=80)
    8.25
    """
    free = not_negative("margin", margin)
    if np.any(free >= 1):
        raise ValueError(f"margin must be at least 0 and below 1, got {margin!r}")
    left = (
        (1 - free) * positive("rated_voltage", rated_voltage)
        - not_negative("spike", spike)
        - positive("input_voltage", input_voltage)
    )
    if np.any(left <= 0):
        raise ValueError(
            f"rated_voltage must exceed input voltage, spike and margin together, "
            f"got {rated_voltage!r}"
        )
    output = positive("output_voltage", output_voltage) + not_negative("diode_drop", diode_drop)
    return plain(left / output)


def mode_map(
    input_voltage: ArrayLike,
    output_current: ArrayLike,
    output_voltage: float,
    turns_ratio: float,
    magnetising_inductance: float,
    switching_frequency: float,
    diode_drop: float = 0,
    efficiency: float = 1,
    *,
    smallest_peak: float = 0,
) -> ModeMap:
    """Conduction mode at every pair of input voltage and load, with its boundary.

    Parameters
    ----------
    input_voltage, output_current : array_like
        Columns and rows of the map. [V], shape (m,); [A], shape (n,)
    output_voltage, turns_ratio, magnetising_inductance, switching_frequency : float
        As in `operating_point`; at the boundary frequency itself there is no map to draw.
    diode_drop, efficiency : float, optional
        As in `operating_point`.
    smallest_peak : float, optional
        Primary peak below which the controller leaves out pulses instead. [A]  0 for never.

    Returns
    -------
    ModeMap
        The modes and the line between them.

    Raises
    ------
    ValueError
        If an input lies outside what is allowed or an axis is not one-dimensional.

    References
    ----------
    `boundary_current`; leaving out pulses at light load: common practice.

    Examples
    --------
    >>> found = mode_map([100, 300], [0.02, 1, 3], 20, 4.5, 300e-6, 85e3, smallest_peak=0.3)
    >>> print(found.mode.tolist(), found.boundary_current.round(1).tolist())
    [[0, 0], [1, 1], [2, 1]] [2.2, 4.7]
    """
    volts = np.atleast_1d(positive("input_voltage", input_voltage))
    loads = np.atleast_1d(positive("output_current", output_current))
    if volts.ndim != 1 or loads.ndim != 1:
        raise ValueError(
            f"input_voltage and output_current must be one-dimensional, got shapes "
            f"{volts.shape} and {loads.shape}"
        )
    edge = np.atleast_1d(
        boundary_current(
            volts, output_voltage, turns_ratio, magnetising_inductance, switching_frequency,
            diode_drop, efficiency,
        )
    )  # fmt: skip
    packet = magnetising_inductance * not_negative("smallest_peak", smallest_peak) ** 2 / 2
    least = packet * switching_frequency * efficiency / (output_voltage + diode_drop)
    mode = 1 + (loads[:, None] > edge) - (loads[:, None] < np.minimum(least, edge))
    return ModeMap(volts, loads, mode.astype(np.int8), edge)
