r"""The surge in closed form, and its I²t from a capture.

Resistance, empty capacitor, constant source: `rc_inrush_current`, `rc_surge`. The same on the
sinusoidal mains, contact at its crest: `crest_surge_current`, `crest_surge`. From a capture:
`i_squared_t`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import trapezoid

from adapterlab.inrush.crest import crest_circuit, falling_root
from adapterlab.numerics.arguments import Numbers, finite, not_negative, plain, positive

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)
_NODES, _WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2


def rc_inrush_current(
    time: ArrayLike, voltage: ArrayLike, resistance: ArrayLike, capacitance: ArrayLike
) -> Numbers:
    r"""Current into an empty capacitor through a resistance from a constant voltage.

    Parameters
    ----------
    time : float or array_like
        Time since contact. [s]  Must be >= 0.
    voltage : float or array_like
        Voltage of the source: of the mains, its value at contact. [V]  Must be > 0.
    resistance, capacitance : float or array_like
        All resistance in the path [ohm] and bulk capacitance [F]. Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Current. [A], broadcast shape

    Raises
    ------
    ValueError
        If a time is negative or another argument is not above zero.

    Notes
    -----
    .. math:: i(t) = \frac{V}{R}\,e^{-t/RC}

    The mains is not constant; `crest_surge_current` tells how much that matters.

    References
    ----------
    Derived in ``notebooks/05_inrush.ipynb``.

    Examples
    --------
    10 ohm and 33 µF at the crest of 230 V, at contact and one time constant later:

    >>> print(rc_inrush_current([0, 330e-6], 325.3, 10, 33e-6).round(2))
    [32.53 11.97]
    """
    series = positive("resistance", resistance)
    constant = series * positive("capacitance", capacitance)
    start = positive("voltage", voltage) / series
    return plain(start * np.exp(-not_negative("time", time) / constant))


@dataclass(frozen=True)
class RcSurge:
    """The surge of an empty capacitor, a resistance and a constant voltage in figures.

    Attributes
    ----------
    peak_current : float or numpy.ndarray
        Current at contact. [A], broadcast shape of the arguments, as all fields
    time_constant : float or numpy.ndarray
        Time to fall to 1/e. [s]
    i_squared_t : float or numpy.ndarray
        Integral of the squared current. [A²s]
    resistor_energy, capacitor_energy : float or numpy.ndarray
        Energy turned into heat, and stored in the end: always the same. [J]
    """

    peak_current: Numbers
    time_constant: Numbers
    i_squared_t: Numbers
    resistor_energy: Numbers
    capacitor_energy: Numbers


def rc_surge(voltage: ArrayLike, resistance: ArrayLike, capacitance: ArrayLike) -> RcSurge:
    r"""Peak, time constant, I²t and energies of `rc_inrush_current`.

    Parameters
    ----------
    voltage, resistance, capacitance : float or array_like
        As in `rc_inrush_current`. [V], [ohm], [F]

    Returns
    -------
    RcSurge
        The figures.

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: \hat I = V/R, \quad \tau = RC, \quad \int i^2 dt = \frac{V^2 C}{2R},
              \quad E_R = E_C = \tfrac12 C V^2

    References
    ----------
    Derived in ``notebooks/05_inrush.ipynb``; the I²t of an exponential, half of peak squared
    times time constant, also in the fuse guide of a maker (Littelfuse, p. 12).

    Examples
    --------
    >>> surge = rc_surge(325.3, 10, 33e-6)
    >>> print(f"{surge.i_squared_t:.3f} A²s, {surge.resistor_energy:.2f} J lost")
    0.175 A²s, 1.75 J lost
    """
    source, series, bulk = np.broadcast_arrays(
        positive("voltage", voltage),
        positive("resistance", resistance),
        positive("capacitance", capacitance),
    )
    stored = plain(bulk * source**2 / 2)
    return RcSurge(
        plain(source / series), plain(series * bulk), plain(stored / series), stored, stored
    )


def i_squared_t(time: ArrayLike, current: ArrayLike) -> Numbers:
    """Integral of the squared current of a capture, by the trapezoidal rule.

    Parameters
    ----------
    time : array_like
        Time of each sample, rising. [s], shape (n,) with n >= 2
    current : array_like
        Current. [A], shape (..., n)

    Returns
    -------
    float or numpy.ndarray
        I²t. [A²s], shape (...)

    Raises
    ------
    ValueError
        If there are fewer than two samples, the lengths differ, time does not rise, or a value
        is not finite.

    References
    ----------
    What a fuse feels before heat can leave it; common practice.

    Examples
    --------
    A rectangle of 10 A for 1 ms:

    >>> i_squared_t([0, 1e-3], [10, 10])
    0.1
    """
    moments, values = finite("time", time), finite("current", current)
    if moments.ndim != 1 or len(moments) < 2 or values.shape[-1:] != moments.shape:
        raise ValueError(
            "time must hold at least two samples and current as many along its last axis, got "
            f"shapes {moments.shape} and {values.shape}"
        )
    if not (np.diff(moments) > 0).all():
        raise ValueError("time must rise from sample to sample")
    return plain(trapezoid(values**2, moments, axis=-1))


def crest_surge_current(
    time: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    resistance: ArrayLike,
    capacitance: ArrayLike,
    bridge_drop: ArrayLike = 0,
) -> Numbers:
    r"""Current into an empty bulk capacitor, contact at the crest of the sinusoidal mains.

    Parameters
    ----------
    time : float or array_like
        Time since contact. [s]  From 0 until the next half wave exceeds the capacitor's voltage.
    mains_voltage, mains_frequency : float or array_like
        Rms voltage [V] and frequency [Hz] of the mains. Must be > 0.
    resistance, capacitance : float or array_like
        All resistance in the path [ohm] and bulk capacitance [F]. Must be > 0.
    bridge_drop : float or array_like, optional
        Constant drop of the two conducting diodes together. [V]  From 0 to the crest.

    Returns
    -------
    float or numpy.ndarray
        Current. [A], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range, or a time lies in the next half wave's recharging.

    Notes
    -----
    From :math:`R\,di/dt + i/C = d(\hat V\cos\omega t)/dt` and
    :math:`i(0) = (\hat V - V_d)/R`, with :math:`\tan\varphi = \omega RC`:

    .. math:: i = \left(\tfrac{\hat V - V_d}{R} - \tfrac{\hat V}{R}\sin^2\varphi\right)
              e^{-t/RC} - \tfrac{\hat V}{R}\sin\varphi\,\sin(\omega t - \varphi)

    Where that reaches zero the bridge blocks and the current stays zero. No inductance, constant
    resistance; the converter has not started.

    References
    ----------
    Derived in ``notebooks/05_inrush.ipynb``; held against scipy's solver and a circuit simulator
    in ``tests/test_inrush.py``.

    Examples
    --------
    The falling mains ends the surge early; compare `rc_inrush_current`:

    >>> print(crest_surge_current([0, 330e-6, 1e-3], 230, 50, 10, 33e-6).round(2))
    [32.53 11.84  0.85]
    """
    solved = crest_circuit(mains_voltage, mains_frequency, resistance, capacitance, bridge_drop)
    omega = 2 * np.pi * finite("mains_frequency", mains_frequency)
    angle = omega * not_negative("time", time)
    if np.any(angle > np.pi - solved.stop):
        latest = float(np.min((np.pi - solved.stop) / omega))
        raise ValueError(
            f"time must end before the next half wave recharges the capacitor, here at "
            f"{latest:.3g} s, got {float(np.max(finite('time', time)))!r}"
        )
    return plain(np.where(angle < solved.stop, np.maximum(solved.current(angle), 0.0), 0.0))


@dataclass(frozen=True)
class CrestSurge:
    """The surge from the crest of the mains in figures.

    Attributes
    ----------
    peak_current : float or numpy.ndarray
        Current at contact. [A], broadcast shape of the arguments, as all fields
    time_constant : float or numpy.ndarray
        Time to fall to 1/e of the peak. [s]
    i_squared_t : float or numpy.ndarray
        Integral of the squared current until the bridge blocks. [A²s]
    stop_time : float or numpy.ndarray
        When the bridge blocks. [s]
    final_voltage : float or numpy.ndarray
        Left on the capacitor then. [V]
    resistor_energy, capacitor_energy : float or numpy.ndarray
        Energy turned into heat in the resistance, and stored in the capacitor. [J]
    """

    peak_current: Numbers
    time_constant: Numbers
    i_squared_t: Numbers
    stop_time: Numbers
    final_voltage: Numbers
    resistor_energy: Numbers
    capacitor_energy: Numbers


def crest_surge(
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    resistance: ArrayLike,
    capacitance: ArrayLike,
    bridge_drop: ArrayLike = 0,
) -> CrestSurge:
    r"""Peak, time constant, I²t, end and energies of `crest_surge_current`.

    Parameters
    ----------
    mains_voltage, mains_frequency, resistance, capacitance, bridge_drop : float or array_like
        As in `crest_surge_current`. [V], [Hz], [ohm], [F], [V]

    Returns
    -------
    CrestSurge
        The figures.

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    When the bridge blocks no voltage is left across the resistance, so the capacitor holds
    :math:`\hat V\cos\omega t_0 - V_d`. I²t is integrated by Gauss's rule.

    References
    ----------
    As `crest_surge_current`.

    Examples
    --------
    >>> surge = crest_surge(230, 50, 10, 33e-6)
    >>> print(f"{surge.i_squared_t:.3f} A²s, blocks after {surge.stop_time * 1e3:.2f} ms")
    0.172 A²s, blocks after 1.18 ms
    """
    solved = crest_circuit(mains_voltage, mains_frequency, resistance, capacitance, bridge_drop)
    omega = 2 * np.pi * finite("mains_frequency", mains_frequency)
    series = finite("resistance", resistance)
    peak = solved.current(np.zeros_like(solved.stop))
    fallen = falling_root(lambda angle: solved.current(angle) - peak / np.e, solved.stop)
    squares = sum(
        weight * solved.current(node * solved.stop) ** 2
        for node, weight in zip(_NODES, _WEIGHTS, strict=True)
    )
    heat = squares * solved.stop / omega
    crest = np.sqrt(2) * finite("mains_voltage", mains_voltage)
    voltage = crest * np.cos(solved.stop) - finite("bridge_drop", bridge_drop)
    return CrestSurge(
        plain(peak),
        plain(fallen / omega),
        plain(heat),
        plain(solved.stop / omega),
        plain(voltage),
        plain(series * heat),
        plain(finite("capacitance", capacitance) * voltage**2 / 2),
    )
