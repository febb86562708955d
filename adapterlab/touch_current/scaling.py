"""From one mains to another, and from a limit to the largest part.

A reading at another mains: `scale_touch_current`. From a limit: `largest_barrier_capacitance`.
"""

from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, plain, positive
from adapterlab.touch_current.closed import indicated_current


def scale_touch_current(
    touch_current: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    other_mains_voltage: ArrayLike,
    other_mains_frequency: ArrayLike,
    rail: str = "bridge-with-reservoir",
    network: str = "weighted",
    quantity: str = "rms",
) -> Numbers:
    r"""Touch current at another mains than the one it was read at.

    Parameters
    ----------
    touch_current : float or array_like
        Reading. [A]  Must be >= 0.
    mains_voltage, mains_frequency : float or array_like
        Rms voltage [V] and frequency [Hz] it was read at. Must be > 0.
    other_mains_voltage, other_mains_frequency : float or array_like
        Rms voltage [V] and frequency [Hz] asked for. Must be > 0.
    rail, network, quantity : str, optional
        As in `indicated_current`.

    Returns
    -------
    float or numpy.ndarray
        Touch current. [A], broadcast shape

    Raises
    ------
    ValueError
        If a number is out of range or a word is not known.

    Notes
    -----
    .. math:: I_2 = I_1 \frac{f_2 V_2}{f_1 V_1}

    times the ratio of the network's factors, which differ by some 0.5 % between 50 and 60 Hz.
    Holds for capacitances only.

    References
    ----------
    A maker's leakage at three mains, 0.14, 0.20 and 0.34 mA at 100 V 50 Hz, 120 V 60 Hz and
    230 V 50 Hz, follows the product of frequency and voltage within 6 %.

    Examples
    --------
    >>> print(f"{scale_touch_current(87e-6, 230, 50, 264, 60) * 1e6:.0f} µA")
    119 µA
    """
    there = indicated_current(
        1.0, other_mains_voltage, other_mains_frequency, rail, network, quantity
    )
    here = indicated_current(1.0, mains_voltage, mains_frequency, rail, network, quantity)
    return plain(not_negative("touch_current", touch_current) * there / here)


def largest_barrier_capacitance(
    limit: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    rail: str,
    network: str = "ammeter",
    quantity: str = "rms",
) -> Numbers:
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
