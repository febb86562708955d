"""Backwards: from a touch-current reading to what bridges the barrier.

One reading: `infer_barrier_capacitance`. What the parts leave over: `unexplained_capacitance`.
Two plug polarities: `split_by_polarity`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, finite, not_negative, one_of, plain, positive
from adapterlab.published import rows
from adapterlab.touch_current.closed import indicated_current, rail_harmonics
from adapterlab.touch_current.network import BODY, NETWORKS, network_response
from adapterlab.uncertainty import conformity_probability, coverage_factor

_LARGEST = rows("allowances", "allowances", name="barrier.largest_capacitance")[0]["high"]
_ORDERS = np.arange(1, 400)


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

    capacitance: Numbers
    standard_uncertainty: Numbers
    interval: tuple[Numbers, Numbers]
    tolerance_probability: Numbers | None


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
    model_factor: ArrayLike = 1.0,
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
    model_factor : float or array_like, optional
        Reading of the true rail over that of the ideal one, as `rail_waveform` gives it. [1]
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
        If a number is out of range, a word is not known, only one of `marked_capacitance` and
        `tolerance` is given, or the reading is larger than any barrier part could carry.

    Notes
    -----
    The reading is a product of powers of the inputs, so relative uncertainties add in
    quadrature:

    .. math:: (u_C/C)^2 = (u_I/I)^2 + (u_V/V)^2 + (u_f/f)^2 + u_\text{model}^2

    The weighting's own slope with frequency (0.5 % per 10 Hz at 50 Hz) is left out. The largest
    capacitance accepted is 0.1 µF, the most that the rule for protective impedances lets across
    a barrier; more current than that comes through something that is no barrier capacitor.

    References
    ----------
    JCGM 100:2008, 5.1.6 (products of powers). IEC 60335-1, 8.1.4 (0.1 µF).

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
    estimate = reading / (per_farad * positive("model_factor", model_factor))
    if np.any(estimate > _LARGEST * (1 + 1e-9)):
        raise ValueError(
            f"touch_current must be at most what {_LARGEST * 1e6:g} µF carries, the largest "
            f"capacitance any rule lets across a barrier, got {touch_current!r}: look for a wrong "
            f"unit or range, a conducting path, or a touched part joined to the mains"
        )
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


@dataclass(frozen=True)
class UnexplainedCapacitance:
    """What the known parts leave over of an inferred capacitance.

    Attributes
    ----------
    capacitance : float or numpy.ndarray
        Inferred less known; negative where the parts promise more than is there. [F]
    standard_uncertainty : float or numpy.ndarray
        Its standard uncertainty. [F]
    interval : tuple of float or numpy.ndarray
        Ends of the coverage interval. [F]
    probability : float or numpy.ndarray
        Probability that something is left over, that is, that it lies above zero. [1]
    """

    capacitance: Numbers
    standard_uncertainty: Numbers
    interval: tuple[Numbers, Numbers]
    probability: Numbers


def unexplained_capacitance(
    capacitance: ArrayLike,
    standard_uncertainty: ArrayLike,
    marked_capacitance: ArrayLike,
    tolerance: ArrayLike,
    interwinding_capacitance: ArrayLike = 0.0,
    interwinding_uncertainty: ArrayLike = 0.0,
    *,
    coverage: float = 0.95,
) -> UnexplainedCapacitance:
    r"""Capacitance across the barrier that no known part accounts for.

    Parameters
    ----------
    capacitance : float or array_like
        Inferred from a reading. [F]  Must be > 0.
    standard_uncertainty : float or array_like
        Its standard uncertainty. [F]
    marked_capacitance : float or array_like
        Value marked on the barrier capacitor. [F]  Must be >= 0.
    tolerance : float or array_like
        Its tolerance, taken as rectangular. [1]
    interwinding_capacitance, interwinding_uncertainty : float or array_like, optional
        Measured between the windings, and its standard uncertainty. [F]
    coverage : float, optional
        Probability that the interval holds the rest. [1]

    Returns
    -------
    UnexplainedCapacitance
        The rest, its uncertainty, interval, and the probability that there is one.

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    .. math:: C_x = C - C_m - C_w, \quad u^2 = u_C^2 + (t\,C_m)^2/3 + u_w^2

    References
    ----------
    JCGM 100:2008, 5.1.2 (sums) and 4.3.7 (rectangular limits).

    Examples
    --------
    >>> rest = unexplained_capacitance(1.75e-9, 35e-12, 1e-9, 0.2, 244e-12)
    >>> print(f"{rest.capacitance * 1e12:.0f} pF, probability {rest.probability:.4f}")
    506 pF, probability 1.0000
    """
    marked = not_negative("marked_capacitance", marked_capacitance)
    windings = not_negative("interwinding_capacitance", interwinding_capacitance)
    rest = positive("capacitance", capacitance) - marked - windings
    spread = np.sqrt(
        not_negative("standard_uncertainty", standard_uncertainty) ** 2
        + (marked * not_negative("tolerance", tolerance)) ** 2 / 3
        + not_negative("interwinding_uncertainty", interwinding_uncertainty) ** 2
    )
    half_width = coverage_factor(coverage) * spread
    return UnexplainedCapacitance(
        plain(rest),
        plain(spread),
        (plain(rest - half_width), plain(rest + half_width)),
        conformity_probability(rest, spread, lower=0.0),
    )


@dataclass(frozen=True)
class PolaritySplit:
    """Capacitance behind the bridge, and on one mains pin, from both plug polarities.

    Attributes
    ----------
    rail_capacitance : float or numpy.ndarray
        From a rail behind the bridge to the touched part. [F]
    rail_uncertainty : float or numpy.ndarray
        Its standard uncertainty. [F]
    terminal_capacitance : float or numpy.ndarray
        From the pin that was live at the larger reading. [F]
    terminal_uncertainty : float or numpy.ndarray
        Its standard uncertainty. [F]
    """

    rail_capacitance: Numbers
    rail_uncertainty: Numbers
    terminal_capacitance: Numbers
    terminal_uncertainty: Numbers


def split_by_polarity(
    touch_current: ArrayLike,
    reversed_touch_current: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    network: str = "weighted",
    *,
    touch_current_uncertainty: ArrayLike = 0.0,
) -> PolaritySplit:
    r"""Where the capacitance sits, from rms readings with the plug both ways round.

    Parameters
    ----------
    touch_current, reversed_touch_current : float or array_like
        Rms readings with the plug one way and the other; the larger must be > 0. [A]
    mains_voltage, mains_frequency : float or array_like
        Rms voltage [V] and frequency [Hz] of the mains. Must be > 0.
    network : str, optional
        As in `indicated_current`.
    touch_current_uncertainty : float or array_like, optional
        Standard uncertainty of each reading that the other does not share. [A]

    Returns
    -------
    PolaritySplit
        Both capacitances with their uncertainties.

    Raises
    ------
    ValueError
        If a reading is negative, both are zero, or another number is out of range.

    Notes
    -----
    A rail behind a bridge gives the same current both ways round; a capacitance on one pin
    gives its whole current while that pin is live and nothing while it is earthed. So the
    smaller reading belongs to the rail alone, and the larger to both, which overlap during the
    half of the time in which the rail moves:

    .. math:: I_< = k\,\omega V C_n, \qquad
              I_>^2 = (\omega V)^2 (k^2 C_n^2 + w^2 C_n C_L + w^2 C_L^2)

    with k = 1/√2 and w = 1 without a weighting filter.

    References
    ----------
    Derived in ``notebooks/06_touch_current.ipynb``.

    Examples
    --------
    >>> split = split_by_polarity(90e-6, 75e-6, 230, 50, "ammeter")
    >>> print(f"{split.rail_capacitance * 1e9:.2f} nF on the rail, "
    ...       f"{split.terminal_capacitance * 1e12:.0f} pF on a pin")
    1.47 nF on the rail, 272 pF on a pin
    """
    one_of("network", network, NETWORKS)
    one, other = np.broadcast_arrays(
        not_negative("touch_current", touch_current),
        not_negative("reversed_touch_current", reversed_touch_current),
    )
    larger = positive("touch_current and reversed_touch_current", np.maximum(one, other))
    smaller = np.minimum(one, other)
    frequency = positive("mains_frequency", mains_frequency)
    full = 2 * np.pi * frequency * positive("mains_voltage", mains_voltage)
    spread = not_negative("touch_current_uncertainty", touch_current_uncertainty)
    square, pin = np.asarray(0.5), np.asarray(1.0)
    if network == "weighted":
        harmonics = rail_harmonics("bridge-with-reservoir", _ORDERS)
        seen = np.abs(network_response(frequency[..., None] * _ORDERS)[2] / BODY) ** 2
        square, pin = (np.abs(harmonics) ** 2 * seen).sum(axis=-1), seen[..., 0]
    on_rail = smaller / (full * np.sqrt(square))
    excess = (larger**2 - smaller**2) / full**2 / pin
    on_pin = (np.sqrt(on_rail**2 + 4 * excess) - on_rail) / 2
    rail_spread = spread / (full * np.sqrt(square)) + 0 * on_rail
    slope = pin * (on_rail + 2 * on_pin)
    pin_spread = np.hypot(
        2 * larger / full**2 * spread / slope,
        (2 * square * on_rail + pin * on_pin) * rail_spread / slope,
    )
    return PolaritySplit(plain(on_rail), plain(rail_spread), plain(on_pin), plain(pin_spread))
