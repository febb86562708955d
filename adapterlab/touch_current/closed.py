"""Closed forms of the barrier current: ideal rails, and what a touch-current meter makes of them.

Short circuit: `barrier_current`. Its spectrum: `rail_harmonics`. Through a body network:
`indicated_current`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from adapterlab.numerics.arguments import Floats, Numbers, one_of, plain, positive
from adapterlab.touch_current.network import BODY, NETWORKS, network_response

RAILS = ("bridge-with-reservoir", "full-mains", "half-mains", "bridge-without-reservoir")
_RMS_SHARE = {
    "bridge-with-reservoir": np.sqrt(0.5),
    "full-mains": 1.0,
    "half-mains": 0.5,
    "bridge-without-reservoir": np.sqrt(0.5),
}
_PEAK_SHARE = {rail: 0.5 if rail == "half-mains" else 1.0 for rail in RAILS}
_ORDERS, _SAMPLES = np.arange(1, 400), 2048
# For more frequencies than this the factor of the network, which is smooth, is interpolated.
_NODES = 33


@dataclass(frozen=True)
class BarrierCurrent:
    """Current through the barrier capacitor into a short circuit to earth.

    Attributes
    ----------
    rms : float or numpy.ndarray
        Root mean square. [A], broadcast shape
    peak : float or numpy.ndarray
        Largest magnitude. [A], broadcast shape
    """

    rms: Numbers
    peak: Numbers


def barrier_current(
    capacitance: ArrayLike, mains_voltage: ArrayLike, mains_frequency: ArrayLike, rail: str
) -> BarrierCurrent:
    r"""Current through a capacitor from a primary rail to an earthed output.

    Parameters
    ----------
    capacitance : float or array_like
        Capacitance across the barrier. [F]  Must be > 0.
    mains_voltage : float or array_like
        Rms voltage of the mains, one pole earthed. [V]  Must be > 0.
    mains_frequency : float or array_like
        Frequency of the mains. [Hz]  Must be > 0.
    rail : str
        Where the capacitor sits: ``bridge-with-reservoir`` (a rail of a rectifier bridge with
        its reservoir capacitor), ``bridge-without-reservoir`` (the same without one),
        ``full-mains`` (the live pole), ``half-mains`` (the middle of two equal capacitors
        across the mains).

    Returns
    -------
    BarrierCurrent
        Rms and peak. [A]

    Raises
    ------
    ValueError
        If a number is not above zero or `rail` is not one of the four.

    Notes
    -----
    For a pole at :math:`v_L` the ideal bridge holds its negative rail between
    :math:`\max(v_L, 0) - \hat V` and :math:`\min(v_L, 0)`. Between those bounds no diode
    conducts and the rail stands still, so in each period it moves during two quarters only;
    without a reservoir it is :math:`\min(v_L, 0)` and moves during one half:

    .. math:: I_\text{rms} = k\,\omega C V, \qquad \hat I = k' \omega C \sqrt 2\, V

    with (k, k') = (1/√2, 1) for both bridges, (1, 1) for the full and (1/2, 1/2) for half the
    mains. Diode capacitance, reservoir ripple and the body's 2 kΩ are left out; `rail_waveform`
    has them.

    References
    ----------
    Derived in ``notebooks/06_touch_current.ipynb``. The product ωCV as tabulated for 4.7 nF at
    four mains by the IEEE product safety list, 2002-06-26.

    Examples
    --------
    >>> barrier_current(4.7e-9, 264, 50, "full-mains").rms * 1e3
    0.390
    """
    one_of("rail", rail, RAILS)
    product = (
        2
        * np.pi
        * positive("mains_frequency", mains_frequency)
        * positive("capacitance", capacitance)
        * positive("mains_voltage", mains_voltage)
    )
    return BarrierCurrent(
        plain(_RMS_SHARE[rail] * product), plain(_PEAK_SHARE[rail] * np.sqrt(2) * product)
    )


def rail_harmonics(rail: str, order: ArrayLike) -> NDArray[np.complex128]:
    r"""Harmonics of the barrier current, relative to its peak into a full-mains rail.

    Parameters
    ----------
    rail : str
        As in `barrier_current`.
    order : int or array_like
        Order of the harmonic, 1 for the fundamental. [1]  Must be >= 1.

    Returns
    -------
    numpy.ndarray
        Complex amplitude over :math:`\omega C \hat V`, so that the current is the real part of
        the sum of amplitude times :math:`e^{jn\omega t}`, with the mains at its crest at
        t = 0. [1], shape of `order`

    Raises
    ------
    ValueError
        If `rail` is not known or an order is below 1.

    Notes
    -----
    Behind a bridge the current is :math:`-\sin\theta` in the second and fourth quarter of the
    period and zero in the others. Its integral gives :math:`(1/\pi) + j/2` for n = 1 and
    :math:`2(1 - jn(-j)^n)/(\pi(1 - n^2))` for other odd n. Without a reservoir it is
    :math:`-\sin\theta` in the second and third quarter: :math:`j/2` for n = 1 and
    :math:`2jn(-1)^{n/2}/(\pi(n^2 - 1))` for even n.

    References
    ----------
    Derived in ``notebooks/06_touch_current.ipynb``.

    Examples
    --------
    >>> print(abs(rail_harmonics("bridge-with-reservoir", [1, 2, 3])).round(3))
    [0.593 0.    0.318]
    """
    one_of("rail", rail, RAILS)
    number = np.asarray(order, dtype=int)
    if np.any(number < 1):
        raise ValueError(f"order must be >= 1, got {order!r}")
    if rail in ("full-mains", "half-mains"):
        return np.where(number == 1, 1j * _PEAK_SHARE[rail], 0)
    other = np.where(number == 1, 3, number)
    square = other.astype(float) ** 2
    if rail == "bridge-without-reservoir":
        even = 2j * other * (-1.0) ** (other // 2) / (np.pi * (square - 1))
        return np.where(number == 1, 0.5j, np.where(number % 2 == 0, even, 0))
    odd = 2 * (1 - 1j * other * (-1j) ** (other % 4)) / (np.pi * (1 - square))
    return np.where(number == 1, 1 / np.pi + 0.5j, np.where(number % 2 == 1, odd, 0))


def _factor_at(rail: str, quantity: str, frequency: Floats) -> Floats:
    """Weighted indication over ωC times the peak mains voltage, at each frequency."""
    harmonics = rail_harmonics(rail, _ORDERS)
    _, _, weighted = network_response(frequency[..., None] * _ORDERS)
    seen = harmonics * weighted / BODY
    if quantity == "rms":
        return np.sqrt((np.abs(seen) ** 2).sum(axis=-1) / 2)
    lines = np.concatenate([np.zeros_like(seen[..., :1]), seen], axis=-1)
    return np.abs(np.fft.irfft(lines, _SAMPLES)).max(axis=-1) * _SAMPLES / 2


def _network_factor(rail: str, network: str, quantity: str, frequency: Floats) -> Floats:
    """Indicated current over ωC times the peak mains voltage."""
    if network != "weighted":
        return np.asarray(_RMS_SHARE[rail] / np.sqrt(2) if quantity == "rms" else _PEAK_SHARE[rail])
    low, high = frequency.min(), frequency.max()
    if low == high:
        return np.broadcast_to(_factor_at(rail, quantity, np.asarray(low)), frequency.shape)
    nodes = np.geomspace(low, high, _NODES + int(64 * np.log(high / low)))
    if frequency.size <= nodes.size:
        return _factor_at(rail, quantity, frequency)
    return CubicSpline(nodes, _factor_at(rail, quantity, nodes))(frequency)


def indicated_current(
    capacitance: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    rail: str,
    network: str = "weighted",
    quantity: str = "rms",
) -> Numbers:
    """Touch current that a meter with a body network shows for a barrier capacitor.

    Parameters
    ----------
    capacitance : float or array_like
        Capacitance across the barrier. [F]  Must be > 0.
    mains_voltage : float or array_like
        Rms voltage of the mains. [V]  Must be > 0.
    mains_frequency : float or array_like
        Frequency of the mains. [Hz]  Must be > 0.
    rail : str
        As in `barrier_current`.
    network : str, optional
        ``weighted`` (IEC 60990 figure 4, U2/500 ohm), ``unweighted`` (figure 3, U1/500 ohm) or
        ``ammeter`` (no network).
    quantity : str, optional
        ``rms`` or ``peak``.

    Returns
    -------
    float or numpy.ndarray
        Indicated current. [A], broadcast shape

    Raises
    ------
    ValueError
        If a number is not above zero or a word is not one of those listed.

    Notes
    -----
    Each harmonic of the ideal rail's current is weighted by the network at its frequency. The
    network's own 2 kohm is left out of the current: it counts 0.04 % for each nanofarad behind
    a bridge, and less elsewhere. `rail_waveform` has what is left out here.

    References
    ----------
    IEC 60990:2016, figures 3 and 4.

    Examples
    --------
    >>> indicated_current(1.5e-9, 230, 50, "full-mains") * 1e6
    108.1
    """
    one_of("rail", rail, RAILS)
    one_of("network", network, NETWORKS)
    one_of("quantity", quantity, ("rms", "peak"))
    frequency = positive("mains_frequency", mains_frequency)
    peak = (
        2
        * np.pi
        * frequency
        * positive("capacitance", capacitance)
        * np.sqrt(2)
        * positive("mains_voltage", mains_voltage)
    )
    return plain(peak * _network_factor(rail, network, quantity, frequency))
