"""Rectifier and power factor by pencil, and the published limits of harmonic currents."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import (
    Numbers,
    finite,
    fraction,
    not_negative,
    one_of,
    plain,
    positive,
)
from adapterlab.published import rows


@dataclass(frozen=True)
class SmallRipple:
    """A rectifier whose ripple is small, in the usual approximations.

    Attributes
    ----------
    ripple_voltage : float or numpy.ndarray
        Peak to peak. [V], broadcast shape of the arguments, as all fields
    ripple_voltage_rms : float or numpy.ndarray
        Of a triangle with that peak-to-peak value. [V]
    mean_voltage : float or numpy.ndarray
        Half a ripple below the crest. [V]
    conduction_angle : float or numpy.ndarray
        Of each pulse. [degrees of the mains period]
    conducting_current : float or numpy.ndarray
        Mean of the diode current while it flows. [A]
    peak_current : float or numpy.ndarray
        Its peak, at the start of the pulse. [A]
    """

    ripple_voltage: Numbers
    ripple_voltage_rms: Numbers
    mean_voltage: Numbers
    conduction_angle: Numbers
    conducting_current: Numbers
    peak_current: Numbers


def small_ripple_rectifier(
    peak_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    load_current: ArrayLike,
    bulk_capacitance: ArrayLike,
    pulses_per_period: ArrayLike = 2,
) -> SmallRipple:
    r"""Rectifier with capacitor by the small-ripple formulas of the textbooks.

    Parameters
    ----------
    peak_voltage : float or array_like
        Crest of the rectified voltage, diode drops taken off. [V]  Must be > 0.
    mains_frequency : float or array_like
        Frequency of the mains. [Hz]  Must be > 0.
    load_current : float or array_like
        Constant current of the load. [A]  Must be > 0.
    bulk_capacitance : float or array_like
        Capacitance. [F]  Must be > 0.
    pulses_per_period : float or array_like, optional
        1 for a single diode, 2 for a bridge. [1]

    Returns
    -------
    SmallRipple
        Ripple, mean and diode current.

    Raises
    ------
    ValueError
        If an argument is not above zero, `pulses_per_period` is neither 1 nor 2, or the ripple
        exceeds a quarter of the crest, where these formulas end.

    Notes
    -----
    With :math:`n` pulses per period and an ideal source,

    .. math:: V_r = \frac{I}{n f C}, \quad \theta = \sqrt{2V_r/\hat V}, \quad
              \bar i_D = I\,\Bigl(1 + \frac{2\pi}{n\,\theta}\Bigr), \quad
              \hat i_D = I\,\Bigl(1 + \frac{4\pi}{n\,\theta}\Bigr)

    The discharge is taken to last the whole time between two pulses, so the ripple comes out too
    large; with a resistance in the source the peak is far lower. `rectifier_steady_state` has
    neither limit.

    References
    ----------
    Sedra and Smith, Microelectronic Circuits, example 3.9; Boylestad and Nashelsky, Electronic
    Devices and Circuit Theory, examples 15.3 to 15.5. Conduction angle derived in
    ``notebooks/04_mains_current.ipynb``.

    Examples
    --------
    A single diode at 100 V crest, 60 Hz, 10 mA, with 83.3 µF:

    >>> found = small_ripple_rectifier(100, 60, 10e-3, 83.3e-6, pulses_per_period=1)
    >>> print(f"{found.ripple_voltage:.1f} V ripple, {found.peak_current:.2f} A peak")
    2.0 V ripple, 0.64 A peak
    """
    crest, current = positive("peak_voltage", peak_voltage), positive("load_current", load_current)
    pulses = positive("pulses_per_period", pulses_per_period)
    if np.any((pulses != 1) & (pulses != 2)):
        raise ValueError(f"pulses_per_period must be 1 or 2, got {pulses_per_period!r}")
    store = positive("bulk_capacitance", bulk_capacitance)
    ripple = current / (pulses * positive("mains_frequency", mains_frequency) * store)
    if np.any(ripple > crest / 4):
        raise ValueError(
            f"load_current must leave a ripple below a quarter of peak_voltage, got "
            f"{load_current!r} with {bulk_capacitance!r} F: use rectifier_steady_state"
        )
    angle = np.sqrt(2 * ripple / crest)
    spread = 2 * np.pi / (pulses * angle)
    return SmallRipple(
        plain(ripple),
        plain(ripple / (2 * np.sqrt(3))),
        plain(crest - ripple / 2),
        plain(np.degrees(angle)),
        plain(current * (1 + spread)),
        plain(current * (1 + 2 * spread)),
    )


def valley_voltage(
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    load_power: ArrayLike,
    bulk_capacitance: ArrayLike,
    conduction_time: ArrayLike,
) -> Numbers:
    r"""Lowest voltage of the bulk capacitor, if one knows how long the bridge conducts.

    Parameters
    ----------
    mains_voltage, mains_frequency : float or array_like
        Rms voltage [V] and frequency [Hz]. Must be > 0.
    load_power : float or array_like
        Constant power drawn from the capacitor. [W]  Must be > 0.
    bulk_capacitance : float or array_like
        Bulk capacitance. [F]  Must be > 0.
    conduction_time : float or array_like
        How long the bridge conducts in each half period. [s]  Below half a period.

    Returns
    -------
    float or numpy.ndarray
        Valley voltage. [V], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range, or the capacitor cannot hold the load that long.

    Notes
    -----
    .. math:: V_\text{min} = \sqrt{\hat V^2 - \frac{2P}{C}\Bigl(\frac{1}{2f} - t_c\Bigr)}

    The energy balance between the crest and the next pulse. What a designer does not know is
    :math:`t_c`; 3 ms is the habit, and `rectifier_steady_state` tells.

    References
    ----------
    Application note of a maker of converter circuits (Power Integrations AN-17, 1996, p. 8).

    Examples
    --------
    >>> print(f"{valley_voltage(85, 60, 15 / 0.8, 33e-6, 3.2e-3):.1f} V")
    92.8 V
    """
    crest = np.sqrt(2) * positive("mains_voltage", mains_voltage)
    rest = 1 / (2 * positive("mains_frequency", mains_frequency))
    rest = rest - not_negative("conduction_time", conduction_time)
    if np.any(rest <= 0):
        raise ValueError(
            f"conduction_time must be below half a period, got {conduction_time!r} at "
            f"{mains_frequency!r} Hz"
        )
    taken = 2 * positive("load_power", load_power) * rest
    square = crest**2 - taken / positive("bulk_capacitance", bulk_capacitance)
    if np.any(square <= 0):
        raise ValueError(
            f"bulk_capacitance is too small to hold load_power {load_power!r} W between two "
            f"pulses, got {bulk_capacitance!r}"
        )
    return plain(np.sqrt(square))


def total_harmonic_distortion(harmonic_currents: ArrayLike) -> Numbers:
    r"""Rms of the harmonics over the fundamental.

    Parameters
    ----------
    harmonic_currents : array_like
        Rms, or peak, of the fundamental and then of each harmonic, in any unit. shape (..., n)

    Returns
    -------
    float or numpy.ndarray
        Distortion. [1], shape (...)

    Raises
    ------
    ValueError
        If a value is negative or the fundamental is zero.

    Notes
    -----
    .. math:: \mathrm{THD} = \sqrt{\textstyle\sum_{n>1} I_n^2}\,/\,I_1

    To the fundamental, not to the whole rms; a rectifier's exceeds 1.

    References
    ----------
    Erickson and Maksimovic, Fundamentals of Power Electronics, 3rd ed., section 20.3.2.

    Examples
    --------
    >>> total_harmonic_distortion([1.0, 0.8, 0.55, 0.3])
    1.016
    """
    currents = not_negative("harmonic_currents", harmonic_currents)
    if currents.ndim < 1 or np.any(currents[..., 0] <= 0):
        raise ValueError(
            f"harmonic_currents must start with a fundamental > 0, got {harmonic_currents!r}"
        )
    return plain(np.sqrt((currents[..., 1:] ** 2).sum(axis=-1)) / currents[..., 0])


def distortion_factor(total_harmonic_distortion: ArrayLike) -> Numbers:
    r"""Share of the rms current that is fundamental.

    Parameters
    ----------
    total_harmonic_distortion : float or array_like
        Rms of the harmonics over the fundamental. [1]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Distortion factor. [1]

    Raises
    ------
    ValueError
        If the distortion is negative.

    Notes
    -----
    .. math:: I_1/I = 1/\sqrt{1 + \mathrm{THD}^2}

    References
    ----------
    Erickson and Maksimovic, Fundamentals of Power Electronics, 3rd ed., section 20.3.2.

    Examples
    --------
    >>> distortion_factor(1.36)
    0.592
    """
    harmonics = not_negative("total_harmonic_distortion", total_harmonic_distortion)
    return plain(1 / np.sqrt(1 + harmonics**2))


def sinusoidal_power_factor(
    displacement_factor: ArrayLike, total_harmonic_distortion: ArrayLike
) -> Numbers:
    r"""Power factor of a distorted current on a sinusoidal voltage.

    Parameters
    ----------
    displacement_factor : float or array_like
        Cosine of the angle between voltage and fundamental current. [1]  Above 0, at most 1.
    total_harmonic_distortion : float or array_like
        Rms of the harmonics over the fundamental. [1]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Power factor. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: \mathrm{PF} = \frac{\cos\varphi_1}{\sqrt{1 + \mathrm{THD}^2}}

    Holds for a sinusoidal voltage only: harmonics in the voltage make power with the same
    harmonics in the current, and rms voltage of their own. `power_quality` shows the gap.

    References
    ----------
    Batarseh and Harb, Power Electronics, equations 3.57 to 3.59; derived in
    ``notebooks/04_mains_current.ipynb``. The terms are those of IEEE 1459, from memory.

    Examples
    --------
    >>> sinusoidal_power_factor(0.98, 1.2)
    0.627
    """
    shift = fraction("displacement_factor", displacement_factor)
    return plain(shift * distortion_factor(total_harmonic_distortion))


def available_power(
    mains_voltage: ArrayLike, current: ArrayLike, power_factor: ArrayLike, efficiency: ArrayLike = 1
) -> Numbers:
    r"""Power that loads may take from a circuit whose current is limited.

    Parameters
    ----------
    mains_voltage, current : float or array_like
        Rms voltage [V] and the rms current that the circuit allows [A]. Must be > 0.
    power_factor, efficiency : float or array_like
        Of the loads. [1]  Above 0, at most 1.

    Returns
    -------
    float or numpy.ndarray
        Power behind the loads' converters. [W], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: P = V\,I\,\mathrm{PF}\,\eta

    References
    ----------
    Erickson and Maksimovic, Fundamentals of Power Electronics, 3rd ed., equations 20.27, 20.28.

    Examples
    --------
    >>> print(f"{available_power(120, 0.8 * 15, 0.55, 0.98):.0f} W")
    776 W
    """
    apparent = positive("mains_voltage", mains_voltage) * positive("current", current)
    factor = fraction("power_factor", power_factor) * fraction("efficiency", efficiency)
    return plain(apparent * factor)


def harmonic_limits(
    equipment_class: str, input_power: ArrayLike, *, threshold: float | None = None
) -> Numbers:
    """Published limits of the harmonic currents of orders 2 to 40.

    Parameters
    ----------
    equipment_class : str
        ``A``: absolute limits, for most equipment. ``D``: limits per watt, for computers,
        monitors and television sets.
    input_power : float or array_like
        Power drawn from the mains. [W]  Must be > 0.
    threshold : float, optional
        Power up to which no limit applies. [W]  By default the published one; 0 shows what
        would be asked of a larger appliance.

    Returns
    -------
    numpy.ma.MaskedArray
        Rms limits; masked where there is none, all of them up to the threshold.
        [A], shape (..., 39), index 0 for order 2

    Raises
    ------
    ValueError
        If the class is neither ``A`` nor ``D``, the power is not above zero, or the threshold is
        negative.

    Notes
    -----
    A limit per watt is never above the absolute one of the same order. The standard is written
    for public supplies of 220 V and more; whether an adapter of its own or the product it feeds
    is what counts, and then in which class, is for a test laboratory to say.

    References
    ----------
    IEC 61000-3-2 as reproduced in a test report: ``published/mains_current.toml``.

    Examples
    --------
    >>> print(f"{harmonic_limits('D', 90)[1]:.3f} A")
    0.306 A
    >>> print(harmonic_limits("A", 60).count())
    0
    """
    one_of("equipment_class", equipment_class, ("A", "D"))
    power = positive("input_power", input_power)
    if threshold is None:
        threshold = rows("mains_current", "threshold")[0]["power"]
    floor = float(finite("threshold", not_negative("threshold", threshold)))
    limits = np.full((*power.shape, 39), np.inf)
    for row in rows("mains_current", "harmonic_limits", equipment_class="A"):
        for order in range(row["first"], row["last"] + 1, 2):
            limits[..., order - 2] = row["limit"] if "limit" in row else row["over_order"] / order
    if equipment_class == "D":
        per_watt = np.full(39, np.inf)
        for row in rows("mains_current", "harmonic_limits", equipment_class="D"):
            for order in range(row["first"], row["last"] + 1, 2):
                share = row["per_watt"] if "per_watt" in row else row["per_watt_over_order"] / order
                per_watt[order - 2] = share
        relative = power[..., None] * per_watt
        limits = np.where(np.isfinite(relative), np.minimum(relative, limits), np.inf)
    none = np.isinf(limits) | (power <= floor)[..., None]
    return np.ma.array(np.where(none, 0.0, limits), mask=none)
