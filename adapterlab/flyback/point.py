"""Conduction mode, currents and voltages of one flyback converter.

`operating_point` and its `waveforms`; `trapezoid_rms` for one piece of current.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import (
    Floats,
    Numbers,
    finite,
    fraction,
    not_negative,
    plain,
    positive,
)

MODES = ("discontinuous", "boundary", "continuous")
# A frequency this close to the boundary, relatively, counts as the boundary itself.
_BOUNDARY_WIDTH = 1e-9


@dataclass(frozen=True)
class OperatingPoint:
    """One working point of a flyback converter, without leakage spike or ringing.

    Attributes
    ----------
    mode : str or numpy.ndarray of str
        ``discontinuous``, ``boundary`` or ``continuous``. broadcast shape
    switching_frequency : float or numpy.ndarray
        As given, or at the boundary. [Hz], broadcast shape
    duty_cycle : float or numpy.ndarray
        Share of the period in which the switch conducts. [1], broadcast shape
    secondary_duty : float or numpy.ndarray
        Share of the period in which the output rectifier conducts. [1], broadcast shape
    primary_peak, primary_valley : float or numpy.ndarray
        Primary current when the switch opens and when it closes. [A], broadcast shape
    primary_rms : float or numpy.ndarray
        Root mean square of the primary current. [A], broadcast shape
    secondary_peak, secondary_rms : float or numpy.ndarray
        Secondary current: largest and root mean square. [A], broadcast shape
    reflected_voltage : float or numpy.ndarray
        Secondary voltage as the primary sees it, rectifier drop included. [V], broadcast shape
    switch_voltage : float or numpy.ndarray
        Across the open switch while the rectifier conducts. [V], broadcast shape
    diode_voltage : float or numpy.ndarray
        Reverse voltage of the output rectifier. [V], broadcast shape
    """

    mode: Numbers
    switching_frequency: Numbers
    duty_cycle: Numbers
    secondary_duty: Numbers
    primary_peak: Numbers
    primary_valley: Numbers
    primary_rms: Numbers
    secondary_peak: Numbers
    secondary_rms: Numbers
    reflected_voltage: Numbers
    switch_voltage: Numbers
    diode_voltage: Numbers


@dataclass(frozen=True)
class Waveforms:
    """Ideal waveforms as straight lines between corners.

    Attributes
    ----------
    time : numpy.ndarray
        Time of each corner, not falling; a jump has two corners at one time. [s], shape (n,)
    primary_current, secondary_current : numpy.ndarray
        Winding currents. [A], shape (n,)
    switch_voltage : numpy.ndarray
        Voltage across the switch. [V], shape (n,)
    """

    time: Floats
    primary_current: Floats
    secondary_current: Floats
    switch_voltage: Floats


def _within_numbers(**results: Floats) -> None:
    for name, value in results.items():
        if not np.all(np.isfinite(value) & (value > 0)):
            raise ValueError(
                f"the inputs lead to a {name} too small or too large for a number; check them"
            )


def trapezoid_rms(
    start_current: ArrayLike, end_current: ArrayLike, duty_cycle: ArrayLike
) -> Numbers:
    r"""Root mean square of a current that runs straight for a share of the period, else zero.

    Parameters
    ----------
    start_current, end_current : float or array_like
        Current at the beginning and at the end of that share. [A]
    duty_cycle : float or array_like
        The share. [1]  Above 0, at most 1.

    Returns
    -------
    float or numpy.ndarray
        Root mean square over the whole period. [A], broadcast shape

    Raises
    ------
    ValueError
        If a current is not finite or the share does not lie above 0 and at most at 1.

    Notes
    -----
    .. math:: I = \sqrt{\tfrac{D}{3}\,(a^2 + ab + b^2)}

    Pieces that follow each other add in squares.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., appendix A.

    Examples
    --------
    >>> trapezoid_rms(1.0, 1.5, 0.4)
    0.796
    """
    first, last = finite("start_current", start_current), finite("end_current", end_current)
    share = fraction("duty_cycle", duty_cycle)
    return plain(np.sqrt(share * (first**2 + first * last + last**2) / 3))


def operating_point(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    output_current: ArrayLike,
    turns_ratio: ArrayLike,
    magnetising_inductance: ArrayLike,
    switching_frequency: ArrayLike | None = None,
    diode_drop: ArrayLike = 0,
    efficiency: ArrayLike = 1,
) -> OperatingPoint:
    r"""Conduction mode, currents and voltages of a flyback converter.

    Parameters
    ----------
    input_voltage : float or array_like
        Voltage of the bulk capacitor. [V]  Must be > 0.
    output_voltage : float or array_like
        Output voltage. [V]  Must be > 0.
    output_current : float or array_like
        Output current. [A]  Must be > 0.
    turns_ratio : float or array_like
        Turns of the primary over turns of the secondary. [1]  Must be > 0.
    magnetising_inductance : float or array_like
        Seen from the primary. [H]  Must be > 0.
    switching_frequency : float, array_like or None, optional
        Periods per second. [Hz]  Must be > 0. None finds the frequency at which the current
        just reaches zero as the next period begins.
    diode_drop : float or array_like, optional
        Constant drop of the output rectifier. [V]  Must be >= 0.
    efficiency : float or array_like, optional
        ``(output_voltage + diode_drop) * output_current`` over the power drawn from the input.
        [1]  Above 0, at most 1.

    Returns
    -------
    OperatingPoint
        Every field in the broadcast shape of the inputs.

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    With :math:`V_R = n(V_o + V_d)`, :math:`P = (V_o + V_d) I_o/\eta` and the boundary
    :math:`f_b = (V_{in} D_c)^2 / (2 P L)`, :math:`D_c = V_R/(V_{in} + V_R)`:

    .. math::
        f \ge f_b &: \quad D = D_c, \quad
        \hat I, \check I = \frac{P}{V_{in} D} \pm \frac{V_{in} D}{2 L f} \\
        f < f_b &: \quad \hat I = \sqrt{2P/(L f)}, \quad \check I = 0, \quad
        D = L f \hat I / V_{in}, \quad D_2 = L f \hat I / V_R

    Ideal switch, constant drop, no leakage inductance, no idle ringing, output voltage
    constant over a period. Ampere-turns hold when the switch opens, so the secondary peak is
    n times the primary peak. The losses of `efficiency` are therefore thought of as taken at
    the output: the mean secondary current is ``output_current / efficiency``, and both
    secondary currents err on the large side. A frequency within one part in 10\ :sup:`9` of
    the boundary is called the boundary.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 11.4.2;
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed., sec. 4.6 and
    4.8.4. Derived in ``notebooks/08_flyback.ipynb``.

    Examples
    --------
    >>> point = operating_point(200, 20, 5, 1 / 0.15, 1.0667e-3, 150e3)
    >>> print(f"{point.mode}, {point.primary_peak:.2f} A, {point.switch_voltage:.1f} V")
    continuous, 1.50 A, 333.3 V
    """
    source = positive("input_voltage", input_voltage)
    output = positive("output_voltage", output_voltage)
    drop = not_negative("diode_drop", diode_drop)
    ratio = positive("turns_ratio", turns_ratio)
    inductance = positive("magnetising_inductance", magnetising_inductance)
    current = positive("output_current", output_current)
    with np.errstate(all="ignore"):
        power = (output + drop) * current / fraction("efficiency", efficiency)
        reflected = ratio * (output + drop)
        full_duty = reflected / (source + reflected)
        boundary = (source * full_duty) ** 2 / (2 * power * inductance)
        frequency = (
            boundary
            if switching_frequency is None
            else positive("switching_frequency", switching_frequency)
        )
        excess = frequency / boundary - 1
        place = np.ones(excess.shape, np.int8) + (excess > _BOUNDARY_WIDTH)
        place = place - (excess < -_BOUNDARY_WIDTH)
        mode = np.array(MODES)[place]
        stops, goes_on = place == 0, place == 2
        middle = power / (source * full_duty)
        half_ripple = source * full_duty / (2 * inductance * frequency)
        peak = np.where(stops, np.sqrt(2 * power / (inductance * frequency)), middle + half_ripple)
        valley = np.where(goes_on, middle - half_ripple, 0.0)
        rise = inductance * frequency * peak
        duty = np.where(stops, rise / source, full_duty)
        secondary_duty = np.where(stops, rise / reflected, 1 - full_duty)
    _within_numbers(
        boundary_frequency=boundary,
        primary_peak=peak,
        secondary_peak=ratio * peak,
        duty_cycle=duty,
        secondary_duty=secondary_duty,
    )

    def shaped(value: ArrayLike) -> Numbers:
        return plain(np.array(np.broadcast_to(value, mode.shape)))

    primary_rms = trapezoid_rms(valley, peak, duty)
    secondary_rms = trapezoid_rms(ratio * peak, ratio * valley, secondary_duty)
    return OperatingPoint(
        mode=shaped(mode),
        switching_frequency=shaped(frequency),
        duty_cycle=shaped(duty),
        secondary_duty=shaped(secondary_duty),
        primary_peak=shaped(peak),
        primary_valley=shaped(valley),
        primary_rms=shaped(primary_rms),
        secondary_peak=shaped(ratio * peak),
        secondary_rms=shaped(secondary_rms),
        reflected_voltage=shaped(reflected),
        switch_voltage=shaped(source + reflected),
        diode_voltage=shaped(output + source / ratio),
    )


def waveforms(point: OperatingPoint, periods: int = 2) -> Waveforms:
    """Corners of the ideal waveforms of one operating point.

    Parameters
    ----------
    point : OperatingPoint
        A single point, from scalars.
    periods : int, optional
        How many switching periods. Must be at least 1.

    Returns
    -------
    Waveforms
        From one closing of the switch on. [s], [A], [V]

    Raises
    ------
    ValueError
        If `point` holds arrays or `periods` is below 1.

    Notes
    -----
    In discontinuous conduction the idle switch stands at the input voltage here. In reality it
    rings about it: the magnetising inductance swings with the capacitance of the switch node.
    The leakage spike at the opening of the switch is not drawn either.

    References
    ----------
    The corner points of `operating_point`; shapes as in Erickson & Maksimovic, *Fundamentals of
    Power Electronics*, 3rd ed., section 6.3.4 (from memory).

    Examples
    --------
    >>> shape = waveforms(operating_point(300, 20, 2, 4.5, 300e-6, 85e3), periods=1)
    >>> print(len(shape.time), shape.switch_voltage.round().tolist())
    6 [0.0, 0.0, 390.0, 390.0, 300.0, 300.0]
    """
    if not isinstance(point.mode, str):
        raise ValueError(f"point must be a single operating point, got {point.mode!r}")
    if periods < 1:
        raise ValueError(f"periods must be at least 1, got {periods!r}")
    source = point.switch_voltage - point.reflected_voltage
    ratio = point.secondary_peak / point.primary_peak
    opens, ends = point.duty_cycle, point.duty_cycle + point.secondary_duty
    # share of the period, primary current, secondary current, switch voltage
    corners = [
        (0.0, point.primary_valley, 0.0, 0.0),
        (opens, point.primary_peak, 0.0, 0.0),
        (opens, 0.0, point.secondary_peak, point.switch_voltage),
        (ends, 0.0, ratio * point.primary_valley, point.switch_voltage),
    ]
    if point.mode == "discontinuous":
        corners += [(ends, 0.0, 0.0, source), (1.0, 0.0, 0.0, source)]
    once = np.array(corners)
    table = np.vstack([once + [[number, 0, 0, 0]] for number in range(periods)])
    return Waveforms(table[:, 0] / point.switching_frequency, table[:, 1], table[:, 2], table[:, 3])
