r"""How a flyback's controller follows the load: frequency, valleys, bursts.

Quasi-resonant: `valley_switching`, `valley_number`. Light load: `foldback_frequency`,
`burst_current`, `burst_operation`, `burst_loss`.
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


@dataclass(frozen=True)
class ValleyPoint:
    """Working point of a converter that closes its switch in a valley of the ringing.

    Attributes
    ----------
    switching_frequency : float or numpy.ndarray
        [Hz], broadcast shape
    duty_cycle, secondary_duty : float or numpy.ndarray
        Shares of the period in which switch and rectifier conduct. [1], broadcast shape
    primary_peak, primary_rms : float or numpy.ndarray
        [A], broadcast shape
    ring_period : float or numpy.ndarray
        Period of the ringing between inductance and drain capacitance. [s], broadcast shape
    valley_voltage : float or numpy.ndarray
        Voltage across the switch as it closes, without damping. [V], broadcast shape
    turn_on_loss : float or numpy.ndarray
        What the drain capacitance then still holds, burnt in the switch. [W], broadcast shape
    """

    switching_frequency: Numbers
    duty_cycle: Numbers
    secondary_duty: Numbers
    primary_peak: Numbers
    primary_rms: Numbers
    ring_period: Numbers
    valley_voltage: Numbers
    turn_on_loss: Numbers


@dataclass(frozen=True)
class BurstOperation:
    """How a converter that works in bursts serves a light load.

    Attributes
    ----------
    duty_cycle : float or numpy.ndarray
        Share of the time in which it works. [1], broadcast shape
    burst_frequency : float or numpy.ndarray
        Bursts per second: the frequency of the slow ripple. [Hz], broadcast shape
    on_time, off_time : float or numpy.ndarray
        Length of a burst and of the pause. [s], broadcast shape
    """

    duty_cycle: Numbers
    burst_frequency: Numbers
    on_time: Numbers
    off_time: Numbers


def _loop(
    input_voltage: ArrayLike, output_voltage: ArrayLike, output_current: ArrayLike,
    turns_ratio: ArrayLike, magnetising_inductance: ArrayLike, diode_drop: ArrayLike,
    efficiency: ArrayLike,
) -> tuple[Floats, Floats, Floats, Floats, Floats]:  # fmt: skip
    """Input voltage, reflected voltage, power, inductance, and time per ampere of peak."""
    source = positive("input_voltage", input_voltage)
    output = positive("output_voltage", output_voltage) + not_negative("diode_drop", diode_drop)
    power = output * positive("output_current", output_current) / fraction("efficiency", efficiency)
    reflected = positive("turns_ratio", turns_ratio) * output
    inductance = positive("magnetising_inductance", magnetising_inductance)
    return source, reflected, power, inductance, inductance * (1 / source + 1 / reflected)


def _valley(valley: ArrayLike) -> Floats:
    number = finite("valley", valley)
    if np.any((number < 1) | (number != np.round(number))):
        raise ValueError(f"valley must be whole and at least 1, got {valley!r}")
    return number


def valley_switching(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    output_current: ArrayLike,
    turns_ratio: ArrayLike,
    magnetising_inductance: ArrayLike,
    drain_capacitance: ArrayLike,
    valley: ArrayLike = 1,
    diode_drop: ArrayLike = 0,
    efficiency: ArrayLike = 1,
) -> ValleyPoint:
    r"""Frequency and peak current of a quasi-resonant converter.

    Parameters
    ----------
    input_voltage, output_voltage, output_current, turns_ratio : float or array_like
        As in `operating_point`.
    magnetising_inductance : float or array_like
        Seen from the primary. [H]  Must be > 0.
    drain_capacitance : float or array_like
        Capacitance of the switch node: switch, windings, snubber. [F]  Must be > 0.
    valley : int or array_like, optional
        Which minimum of the ringing the controller waits for. [1]  At least 1.
    diode_drop, efficiency : float or array_like, optional
        As in `operating_point`.

    Returns
    -------
    ValleyPoint
        Every field in the broadcast shape.

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    The core empties, the switch node rings with :math:`2\pi\sqrt{LC}` from
    :math:`V_{in} + V_R` about :math:`V_{in}`, and valley :math:`k` comes
    :math:`t_v = (2k - 1)\pi\sqrt{LC}` later. With :math:`g = L (1/V_{in} + 1/V_R)`:

    .. math:: \tfrac12 L \hat I^2 = P\,(g \hat I + t_v) \quad\Rightarrow\quad
              \hat I = \frac{P g + \sqrt{P^2 g^2 + 2 L P t_v}}{L}

    The valley lies at :math:`V_{in} - V_R`, or at zero where the switch's own diode holds it.
    Later valleys are shallower in reality: the ringing dies out. The charge that the drain
    capacitance takes as the switch opens is left out; it is small while
    :math:`C (V_{in}+V_R)^2 \ll L \hat I^2`.

    References
    ----------
    Resonance and energy balance; switching in the valley: common practice. Derived in
    ``notebooks/08_flyback.ipynb`` and compared in the tests with a circuit simulator.

    Examples
    --------
    >>> for valley in (1, 2, 3):
    ...     point = valley_switching(310, 20, 1, 5, 300e-6, 150e-12, valley)
    ...     print(f"{point.switching_frequency / 1e3:.0f} kHz, {point.primary_peak:.2f} A")
    303 kHz, 0.66 A
    187 kHz, 0.84 A
    138 kHz, 0.98 A
    """
    source, reflected, power, inductance, slowness = _loop(
        input_voltage, output_voltage, output_current, turns_ratio, magnetising_inductance,
        diode_drop, efficiency,
    )  # fmt: skip
    capacitance = positive("drain_capacitance", drain_capacitance)
    ring = 2 * np.pi * np.sqrt(inductance * capacitance)
    wait = (_valley(valley) - 0.5) * ring
    pull = power * slowness
    peak = (pull + np.sqrt(pull**2 + 2 * inductance * power * wait)) / inductance
    frequency = 1 / (slowness * peak + wait)
    duty = inductance * peak / source * frequency
    floor = np.maximum(source - reflected, 0)
    names = (
        frequency, duty, inductance * peak / reflected * frequency, peak,
        peak * np.sqrt(duty / 3), ring, floor, capacitance * floor**2 / 2 * frequency,
    )  # fmt: skip
    return ValleyPoint(*(plain(np.array(value)) for value in np.broadcast_arrays(*names)))


def valley_number(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    output_current: ArrayLike,
    turns_ratio: ArrayLike,
    magnetising_inductance: ArrayLike,
    drain_capacitance: ArrayLike,
    highest_frequency: ArrayLike,
    diode_drop: ArrayLike = 0,
    efficiency: ArrayLike = 1,
) -> Numbers:
    r"""First valley that keeps a quasi-resonant converter below its highest frequency.

    Parameters
    ----------
    input_voltage, output_voltage, output_current, turns_ratio : float or array_like
        As in `operating_point`.
    magnetising_inductance, drain_capacitance : float or array_like
        As in `valley_switching`.
    highest_frequency : float or array_like
        Frequency the controller does not exceed. [Hz]  Must be > 0.
    diode_drop, efficiency : float or array_like, optional
        As in `operating_point`.

    Returns
    -------
    float or numpy.ndarray
        Number of the valley, whole. [1], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    At the highest frequency the peak is :math:`\sqrt{2P/(Lf)}`; what charge and release leave
    of the period must be filled by ringing, and the next whole valley is taken.

    References
    ----------
    `valley_switching`; a ceiling of the frequency: common practice.

    Examples
    --------
    >>> valley_number(310, 20, [3, 1, 0.3], 5, 300e-6, 150e-12, 200e3)
    array([1., 2., 3.])
    """
    _, _, power, inductance, slowness = _loop(
        input_voltage, output_voltage, output_current, turns_ratio, magnetising_inductance,
        diode_drop, efficiency,
    )  # fmt: skip
    period = 1 / positive("highest_frequency", highest_frequency)
    ring = 2 * np.pi * np.sqrt(inductance * positive("drain_capacitance", drain_capacitance))
    wait = period - slowness * np.sqrt(2 * power * period / inductance)
    return plain(np.maximum(np.ceil(wait / ring + 0.5 - 1e-9), 1))


def foldback_frequency(
    output_power: ArrayLike,
    switching_frequency: ArrayLike,
    foldback_power: ArrayLike,
    lowest_frequency: ArrayLike = 22e3,
) -> Numbers:
    """Frequency of a controller that slows down in proportion to a light load.

    Parameters
    ----------
    output_power : float or array_like
        Power of the output. [W]  Must be >= 0.
    switching_frequency : float or array_like
        Frequency at full load. [Hz]  Must be > 0.
    foldback_power : float or array_like
        Output power below which it slows down. [W]  Must be > 0.
    lowest_frequency : float or array_like, optional
        It goes no lower, so as not to be heard. [Hz]  Above 0, at most `switching_frequency`.

    Returns
    -------
    float or numpy.ndarray
        Frequency. [Hz], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    References
    ----------
    Common practice: the peak current stays and the frequency falls, above hearing.

    Examples
    --------
    >>> foldback_frequency([40, 4, 1], 85e3, 8) / 1e3
    array([85. , 42.5, 22. ])
    """
    full = positive("switching_frequency", switching_frequency)
    least = positive("lowest_frequency", lowest_frequency)
    if np.any(least > full):
        raise ValueError(
            f"lowest_frequency must not lie above switching_frequency, got {lowest_frequency!r}"
        )
    share = not_negative("output_power", output_power) / positive("foldback_power", foldback_power)
    return plain(np.maximum(full * np.minimum(share, 1), least))


def burst_current(
    smallest_peak: ArrayLike,
    magnetising_inductance: ArrayLike,
    switching_frequency: ArrayLike,
    output_voltage: ArrayLike,
    diode_drop: ArrayLike = 0,
    efficiency: ArrayLike = 1,
) -> Numbers:
    r"""Output current during a burst, and so the load below which bursts begin.

    Parameters
    ----------
    smallest_peak : float or array_like
        Primary peak that the controller does not go below. [A]  Must be > 0.
    magnetising_inductance, switching_frequency : float or array_like
        As in `operating_point`. [H], [Hz]
    output_voltage : float or array_like
        As in `operating_point`. [V]
    diode_drop, efficiency : float or array_like, optional
        As in `operating_point`.

    Returns
    -------
    float or numpy.ndarray
        Current. [A], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: I = \frac{\eta L \hat I^2 f}{2 (V_o + V_d)}

    References
    ----------
    Energy balance of discontinuous conduction, A. I. Pressman, K. Billings, T. Morey, Switching
    Power Supply Design, 3rd ed., sec. 4.6.

    Examples
    --------
    >>> burst_current(0.4, 300e-6, 85e3, 20)
    0.102
    """
    packet = (
        positive("magnetising_inductance", magnetising_inductance)
        * positive("smallest_peak", smallest_peak) ** 2
        / 2
    )
    output = positive("output_voltage", output_voltage) + not_negative("diode_drop", diode_drop)
    power = packet * positive("switching_frequency", switching_frequency)
    return plain(power * fraction("efficiency", efficiency) / output)


def burst_operation(
    output_current: ArrayLike,
    burst_current: ArrayLike,
    output_capacitance: ArrayLike,
    ripple_voltage: ArrayLike,
) -> BurstOperation:
    r"""Bursts that hold an output between two thresholds.

    Parameters
    ----------
    output_current : float or array_like
        Load. [A]  Above 0, below `burst_current`.
    burst_current : float or array_like
        Mean current into the output during a burst. [A]  Must be > 0.
    output_capacitance : float or array_like
        Capacitance of the output. [F]  Must be > 0.
    ripple_voltage : float or array_like
        Distance of the thresholds: the slow ripple, peak to peak. [V]  Must be > 0.

    Returns
    -------
    BurstOperation
        Every field in the broadcast shape.

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    The output rises with :math:`(I_b - I)/C` and falls with :math:`I/C`:

    .. math:: D = \frac{I}{I_b}, \qquad f = \frac{I (1 - D)}{C\,\Delta V}

    The frequency is highest at half of the burst current and falls to nothing with the load,
    through the range of hearing. A burst holds many switching periods, else the ripple is that
    of single pulses.

    References
    ----------
    Charge balance; holding an output between two thresholds: common practice.

    Examples
    --------
    >>> burst = burst_operation(0.02, 0.1, 660e-6, 40e-3)
    >>> print(f"{burst.burst_frequency:.0f} Hz, at work {burst.duty_cycle:.0%} of the time")
    606 Hz, at work 20% of the time
    """
    load = positive("output_current", output_current)
    working = positive("burst_current", burst_current)
    if np.any(load >= working):
        raise ValueError(
            f"output_current must be below burst_current, else there are no pauses, "
            f"got {output_current!r}"
        )
    charge = positive("output_capacitance", output_capacitance) * positive(
        "ripple_voltage", ripple_voltage
    )
    on, off = charge / (working - load), charge / load
    names = (load / working, 1 / (on + off), on, off)
    return BurstOperation(*(plain(np.array(value)) for value in np.broadcast_arrays(*names)))


def burst_loss(
    duty_cycle: ArrayLike,
    switching_frequency: ArrayLike,
    pulse_energy: ArrayLike,
    awake_power: ArrayLike,
    asleep_power: ArrayLike,
) -> Numbers:
    r"""Mean loss of a converter that works in bursts.

    Parameters
    ----------
    duty_cycle : float or array_like
        Share of the time in which it works. [1]  Above 0, at most 1.
    switching_frequency : float or array_like
        Pulses per second during a burst. [Hz]  Must be > 0.
    pulse_energy : float or array_like
        Energy lost with each pulse. [J]  Must be >= 0.
    awake_power, asleep_power : float or array_like
        What the controllers take during a burst and in the pause. [W]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Loss. [W], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: P = D\,(P_{awake} + f E) + (1 - D)\,P_{asleep}

    References
    ----------
    Mean over a burst and its pause; the two states of the controller: common practice.

    Examples
    --------
    >>> burst_loss(0.2, 85e3, 1e-6, 0.05, 0.02)
    0.043
    """
    share = fraction("duty_cycle", duty_cycle)
    work = positive("switching_frequency", switching_frequency) * not_negative(
        "pulse_energy", pulse_energy
    )
    awake = not_negative("awake_power", awake_power) + work
    return plain(share * awake + (1 - share) * not_negative("asleep_power", asleep_power))
