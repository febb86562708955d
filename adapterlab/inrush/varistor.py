"""The varistor across the mains: its curve, and what it does with a surge.

`varistor_voltage` and `varistor_exponent` (the power law), `varistor_surge` (the load line).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln

from adapterlab.numerics.arguments import Numbers, finite, plain, positive
from adapterlab.published import rows


def varistor_voltage(
    current: ArrayLike, marked_voltage: ArrayLike, exponent: ArrayLike = 0.04
) -> Numbers:
    r"""Voltage of a varistor at a surge current.

    Parameters
    ----------
    current : float or array_like
        Current. [A]  Must be > 0.
    marked_voltage : float or array_like
        Voltage at 1 mA, as marked. [V]  Must be > 0.
    exponent : float or array_like, optional
        How steep the curve is. [1]  Above 0, below 1.

    Returns
    -------
    float or numpy.ndarray
        Voltage. [V], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: v = V_{1\,\mathrm{mA}} \left(\frac{i}{1\,\mathrm{mA}}\right)^\beta

    A power law holds over some decades; at hundreds of amperes the resistance of the grains adds
    to it. One further point of the data sheet sets the exponent: see `varistor_exponent`.

    References
    ----------
    Form of the law in makers' data books (SIOV data book, p. 37 on); the exponent 0.04 is a
    declared example, no part's figure.

    Examples
    --------
    >>> varistor_voltage(100, 430)
    681.5
    """
    steep = positive("exponent", exponent)
    if np.any(steep >= 1):
        raise ValueError(f"exponent must be below 1, got {exponent!r}")
    marked = positive("marked_voltage", marked_voltage)
    return plain(marked * (positive("current", current) / 1e-3) ** steep)


def varistor_exponent(
    clamping_voltage: ArrayLike, clamping_current: ArrayLike, marked_voltage: ArrayLike
) -> Numbers:
    r"""Exponent of `varistor_voltage` from the clamping point of a data sheet.

    Parameters
    ----------
    clamping_voltage, clamping_current : float or array_like
        Highest voltage [V] at a surge current [A], above the marked voltage and 1 mA.
    marked_voltage : float or array_like
        Voltage at 1 mA, as marked. [V]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Exponent. [1], broadcast shape

    Raises
    ------
    ValueError
        If the clamping point does not lie above the marked one.

    Notes
    -----
    .. math:: \beta = \ln(V_c/V_{1\,\mathrm{mA}}) / \ln(I_c/1\,\mathrm{mA})

    References
    ----------
    The power law through two points.

    Examples
    --------
    >>> varistor_exponent(710, 50, 430)
    0.0463
    """
    ratio = positive("clamping_voltage", clamping_voltage) / positive(
        "marked_voltage", marked_voltage
    )
    decades = positive("clamping_current", clamping_current) / 1e-3
    if np.any(ratio <= 1) or np.any(decades <= 1):
        raise ValueError(
            "clamping_voltage and clamping_current must lie above marked_voltage and 1 mA, got "
            f"{clamping_voltage!r} and {clamping_current!r}"
        )
    return plain(np.log(ratio) / np.log(decades))


@dataclass(frozen=True)
class VaristorSurge:
    """What a varistor does with one surge of a combination-wave generator.

    Attributes
    ----------
    current, voltage : float or numpy.ndarray
        At the top of the surge, where the load line meets its curve. [A], [V]
    energy : float or numpy.ndarray
        Turned into heat in it. [J]
    """

    current: Numbers
    voltage: Numbers
    energy: Numbers


def varistor_surge(
    open_voltage: ArrayLike,
    marked_voltage: ArrayLike,
    exponent: ArrayLike = 0.04,
    *,
    source_resistance: ArrayLike = 2.0,
) -> VaristorSurge:
    r"""Current, clamping voltage and energy of a varistor in a combination-wave surge.

    Parameters
    ----------
    open_voltage : float or array_like
        Peak voltage of the generator without load. [V]  Must be > 0.
    marked_voltage, exponent : float or array_like
        As in `varistor_voltage`. [V], [1]
    source_resistance : float or array_like, optional
        Open voltage over short-circuit current of the generator. [ohm]  Must be > 0.

    Returns
    -------
    VaristorSurge
        The figures.

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    Load line: :math:`V_o = v(i) + R i`, one root, by Newton's method. The current of a wave
    8/20 is scaled to that peak, and the energy is that of the law along it:

    .. math:: i \propto t^3 e^{-t/\tau}, \quad W = \int v\,i\,dt
              = \hat v\,\hat i\,\tau\,\frac{e^{3p}\,\Gamma(3p+1)}{3^{3p}\,p^{3p+1}},
              \quad p = 1 + \beta

    The mains under the surge is left out. For the highest voltage take the marked value at its
    upper tolerance, for the largest current at its lower.

    References
    ----------
    Load line: SIOV data book of a maker (Siemens Matsushita), p. 43. Wave: IEC 61000-4-5, 1.2/50
    and 8/20 µs, 2 ohm; its form and time constant in ``published/inrush.toml``.

    Examples
    --------
    >>> surge = varistor_surge(2000, 430)
    >>> print(f"{surge.current:.0f} A, {surge.voltage:.0f} V, {surge.energy:.1f} J")
    633 A, 734 V, 7.9 J
    """
    source = positive("open_voltage", open_voltage)
    series = positive("source_resistance", source_resistance)
    marked, steep = positive("marked_voltage", marked_voltage), finite("exponent", exponent)
    # Newton from the right on a rising, hollow curve over the logarithm of the current.
    logarithm = np.log(source / series) + 0.0 * varistor_voltage(1.0, marked, steep)
    for _ in range(100):
        amperes = np.exp(logarithm)
        volts = varistor_voltage(amperes, marked, steep)
        above = volts + series * amperes - source
        logarithm = logarithm - above / (steep * volts + series * amperes)
    peak = np.exp(logarithm)
    clamped = varistor_voltage(peak, marked, steep)
    power = 1 + steep
    length = np.exp(3 * power + gammaln(3 * power + 1))
    length = length / 3 ** (3 * power) / power ** (3 * power + 1)
    wave = rows("inrush", "combination_wave")[0]
    return VaristorSurge(
        plain(peak), plain(clamped), plain(clamped * peak * length * wave["time_constant"])
    )
