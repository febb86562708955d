"""Current through the capacitor that bridges the isolation barrier, and what a hand or meter sees.

The capacitor and its rail: `barrier_current`, `rail_harmonics`. The body: `body_network`. What a
touch-current meter shows: `indicated_current`. Backwards, from a reading to the capacitor:
`infer_barrier_capacitance`; from a limit to the capacitor: `largest_barrier_capacitance`.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from adapterlab._args import Floats, finite, not_negative, one_of, plain, positive
from adapterlab.published import rows
from adapterlab.uncertainty import conformity_probability, coverage_factor

RAILS = ("bridge-with-reservoir", "full-mains", "half-mains")
NETWORKS = ("weighted", "unweighted", "ammeter")
_RMS_SHARE = {"bridge-with-reservoir": np.sqrt(0.5), "full-mains": 1.0, "half-mains": 0.5}
_PEAK_SHARE = {"bridge-with-reservoir": 1.0, "full-mains": 1.0, "half-mains": 0.5}
_ORDERS = np.arange(1, 400)
_NETWORK = rows("touch_current", "networks", name="weighted")[0]


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

    rms: Any
    peak: Any


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
        its reservoir capacitor), ``full-mains`` (the live pole), ``half-mains`` (the middle of
        two equal capacitors across the mains).

    Returns
    -------
    BarrierCurrent
        Rms and peak. [A]

    Raises
    ------
    ValueError
        If a number is not above zero or `rail` is not one of the three.

    Notes
    -----
    For a pole at :math:`v_L` the ideal bridge holds its negative rail between
    :math:`\max(v_L, 0) - \hat V` and :math:`\min(v_L, 0)`. Between those bounds no diode
    conducts and the rail stands still, so in each period it moves during two quarters only:

    .. math:: I_\text{rms} = k\,\omega C V, \qquad \hat I = k' \omega C \sqrt 2\, V

    with (k, k') = (1/√2, 1), (1, 1) and (1/2, 1/2) for the three rails. Diode capacitance,
    reservoir ripple and the body's 2 kΩ are left out; together they move the result of the
    first rail by -4 % to +1 % (``published/touch_current.toml``, table ``models``).

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
    :math:`2(1 - jn(-j)^n)/(\pi(1 - n^2))` for other odd n.

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
    if rail != "bridge-with-reservoir":
        return np.where(number == 1, 1j * _PEAK_SHARE[rail], 0)
    other = np.where(number == 1, 3, number)
    amplitude = (
        2 * (1 - 1j * other * (-1j) ** (other % 4)) / (np.pi * (1 - other.astype(float) ** 2))
    )
    return np.where(number == 1, 1 / np.pi + 0.5j, np.where(number % 2 == 1, amplitude, 0))


@dataclass(frozen=True)
class BodyNetwork:
    r"""Response of the measuring network of IEC 60990, figure 4.

    Attributes
    ----------
    impedance : float or numpy.ndarray
        Magnitude of the input impedance. [ohm], shape of the frequency
    unweighted : float or numpy.ndarray
        \|U1\| / (500 ohm · \|I\|), U1 across the body resistance. [1], same shape
    weighting : float or numpy.ndarray
        \|U2\| / (500 ohm · \|I\|), U2 behind the filter. [1], same shape
    """

    impedance: Any
    unweighted: Any
    weighting: Any


def _network_response(frequency: Floats) -> tuple[Any, Any, Any]:
    """Complex input impedance, U1/I and U2/I of the weighted network."""
    laplace = 2j * np.pi * frequency
    skin = _NETWORK["skin_resistance"]
    skin_impedance = skin / (1 + laplace * skin * _NETWORK["skin_capacitance"])
    body, delay = (
        _NETWORK["body_resistance"],
        laplace * _NETWORK["filter_resistance"] * _NETWORK["filter_capacitance"],
    )
    loaded = body * (1 + delay) / (1 + delay + laplace * body * _NETWORK["filter_capacitance"])
    return skin_impedance + loaded, loaded, loaded / (1 + delay)


def body_network(frequency: ArrayLike) -> BodyNetwork:
    r"""Response of the body network for perception and reaction.

    Parameters
    ----------
    frequency : float or array_like
        Frequency, 0 for direct current. [Hz]  Must be >= 0.

    Returns
    -------
    BodyNetwork
        Input impedance [ohm] and the two relative outputs [1].

    Raises
    ------
    ValueError
        If a frequency is negative or not finite.

    Notes
    -----
    Skin (1500 ohm beside 0.22 µF) in series with the body (500 ohm), across which a filter of
    10 kohm and 22 nF is read. The filter loads the body; the meter behind it is left out. Exact:

    .. math:: Z_b = R_B \parallel (R_1 + 1/sC_1), \quad U_2/I = Z_b/(1 + sR_1C_1)

    References
    ----------
    IEC 60990:2016, figure 4; values in ``published/touch_current.toml``.

    Examples
    --------
    >>> network = body_network(1000)
    >>> print(f"{network.impedance:.2f} ohm, weighting {network.weighting:.4f}")
    972.53 ohm, weighting 0.5674
    """
    impedance, unweighted, weighted = _network_response(not_negative("frequency", frequency))
    body = _NETWORK["body_resistance"]
    return BodyNetwork(
        plain(abs(impedance)), plain(abs(unweighted) / body), plain(abs(weighted) / body)
    )


def _network_factor(rail: str, network: str, quantity: str, frequency: Floats) -> Floats:
    """Indicated current over ωC times the peak mains voltage."""
    if network != "weighted":
        return np.asarray(_RMS_SHARE[rail] / np.sqrt(2) if quantity == "rms" else _PEAK_SHARE[rail])
    harmonics = rail_harmonics(rail, _ORDERS)
    _, _, weighted = _network_response(frequency[..., None] * _ORDERS)
    seen = harmonics * weighted / _NETWORK["body_resistance"]
    if quantity == "rms":
        return np.sqrt((np.abs(seen) ** 2).sum(axis=-1) / 2)
    angles = np.linspace(0, 2 * np.pi, 1440, endpoint=False)
    return np.abs((seen @ np.exp(1j * np.outer(_ORDERS, angles))).real).max(axis=-1)


def indicated_current(
    capacitance: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    rail: str,
    network: str = "weighted",
    quantity: str = "rms",
) -> Any:
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
    Each harmonic of the rail's current is weighted by the network at its frequency. The
    network's own 2 kohm is left out of the current: beside the megohm of a barrier capacitor
    it counts 0.01 %.

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


@dataclass(frozen=True)
class InferredCapacitance:
    """Barrier capacitance that a touch-current reading implies.

    Attributes
    ----------
    capacitance : float or numpy.ndarray
        Best estimate. [F], broadcast shape
    standard_uncertainty : float or numpy.ndarray
        Its standard uncertainty. [F], same shape
    interval : tuple of float or numpy.ndarray
        Ends of the coverage interval. [F], same shape each
    tolerance_probability : float or numpy.ndarray or None
        Probability that it lies within the tolerance of the marked value. [1]; None if no
        marked value was given.
    """

    capacitance: Any
    standard_uncertainty: Any
    interval: tuple[Any, Any]
    tolerance_probability: Any


def infer_barrier_capacitance(
    touch_current: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    rail: str = "bridge-with-reservoir",
    network: str = "weighted",
    quantity: str = "rms",
    *,
    touch_current_uncertainty: ArrayLike = 0.0,
    mains_voltage_uncertainty: ArrayLike = 0.0,
    mains_frequency_uncertainty: ArrayLike = 0.0,
    model_uncertainty: ArrayLike = 0.0,
    marked_capacitance: ArrayLike | None = None,
    tolerance: ArrayLike | None = None,
    coverage: float = 0.95,
) -> InferredCapacitance:
    r"""Capacitance across the barrier from a touch-current reading.

    Parameters
    ----------
    touch_current : float or array_like
        Reading. [A]  Must be > 0.
    mains_voltage, mains_frequency : float or array_like
        Rms voltage [V] and frequency [Hz] of the mains. Must be > 0.
    rail, network, quantity : str, optional
        As in `indicated_current`.
    touch_current_uncertainty : float or array_like, optional
        Standard uncertainty of the reading. [A]
    mains_voltage_uncertainty, mains_frequency_uncertainty : float or array_like, optional
        Standard uncertainties of the mains. [V], [Hz]
    model_uncertainty : float or array_like, optional
        Relative standard uncertainty of the rail model. [1]
    marked_capacitance : float or array_like, optional
        Value marked on the part. [F]
    tolerance : float or array_like, optional
        Its tolerance. [1]  Needed with `marked_capacitance`.
    coverage : float, optional
        Probability that the interval holds the capacitance. [1]

    Returns
    -------
    InferredCapacitance
        Estimate, uncertainty, interval, and the probability of lying within the tolerance.

    Raises
    ------
    ValueError
        If a number is out of range, a word is not known, or only one of `marked_capacitance`
        and `tolerance` is given.

    Notes
    -----
    The reading is a product of powers of the inputs, so relative uncertainties add in
    quadrature:

    .. math:: (u_C/C)^2 = (u_I/I)^2 + (u_V/V)^2 + (u_f/f)^2 + u_\text{model}^2

    The weighting's own slope with frequency (0.5 % per 10 Hz at 50 Hz) is left out.

    References
    ----------
    JCGM 100:2008, 5.1.6 (products of powers).

    Examples
    --------
    >>> found = infer_barrier_capacitance(
    ...     74.7e-6, 230, 50, touch_current_uncertainty=1e-6,
    ...     marked_capacitance=1.5e-9, tolerance=0.2)
    >>> print(f"{found.capacitance * 1e9:.2f} nF, {found.tolerance_probability:.2f}")
    1.50 nF, 1.00
    """
    reading = positive("touch_current", touch_current)
    per_farad = indicated_current(1.0, mains_voltage, mains_frequency, rail, network, quantity)
    estimate = reading / per_farad
    relative = np.sqrt(
        sum(
            (not_negative(f"{name}_uncertainty", spread) / finite(name, value)) ** 2
            for name, value, spread in (
                ("touch_current", touch_current, touch_current_uncertainty),
                ("mains_voltage", mains_voltage, mains_voltage_uncertainty),
                ("mains_frequency", mains_frequency, mains_frequency_uncertainty),
                ("model", 1.0, model_uncertainty),
            )
        )
    )
    spread = estimate * relative
    half_width = coverage_factor(coverage) * spread
    if (marked_capacitance is None) != (tolerance is None):
        raise ValueError("marked_capacitance and tolerance must be given together")
    probability = None
    if marked_capacitance is not None and tolerance is not None:
        marked = positive("marked_capacitance", marked_capacitance)
        share = not_negative("tolerance", tolerance)
        probability = conformity_probability(
            estimate, spread, lower=marked * (1 - share), upper=marked * (1 + share)
        )
    return InferredCapacitance(
        plain(estimate),
        plain(spread),
        (plain(estimate - half_width), plain(estimate + half_width)),
        probability,
    )


def largest_barrier_capacitance(
    limit: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    rail: str,
    network: str = "ammeter",
    quantity: str = "rms",
) -> Any:
    """Largest barrier capacitor that keeps the touch current at a limit.

    Parameters
    ----------
    limit : float or array_like
        Limit of the touch current. [A]  Must be > 0.
    mains_voltage, mains_frequency : float or array_like
        Highest rms voltage [V] and frequency [Hz] of the mains. Must be > 0.
    rail, network, quantity : str, optional
        As in `indicated_current`.

    Returns
    -------
    float or numpy.ndarray
        Capacitance. [F], broadcast shape

    Raises
    ------
    ValueError
        If a number is not above zero or a word is not known.

    References
    ----------
    Inverse of `indicated_current`. That touch current is measured at the top of the mains
    tolerance band is common practice (264 V, 60 Hz for a 100-240 V adapter).

    Examples
    --------
    >>> largest_barrier_capacitance(0.25e-3, 264, 60, "full-mains") * 1e9
    2.512
    """
    per_farad = indicated_current(1.0, mains_voltage, mains_frequency, rail, network, quantity)
    return plain(positive("limit", limit) / per_farad)
