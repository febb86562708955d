"""Other forms of the life laws, factor by factor, and what one says in the terms of another.

`case_temperature_life`, `activation_energy_life`; factors `ripple_factor`, `voltage_factor`;
comparisons `implied_activation_energy`, `implied_halving_interval`.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy import constants

from adapterlab.capacitor_life.profile import arrhenius_factor
from adapterlab.capacitor_life.rated_range import (
    LOWEST_TEMPERATURE,
    core_rise,
    kelvin_below_rating,
    scaled,
)
from adapterlab.numerics.arguments import Numbers, fraction, not_negative, one_of, plain, positive
from adapterlab.numerics.arguments import temperature as celsius
from adapterlab.published import rows

VOLTAGE_RULES = {row["name"]: row for row in rows("capacitor_life", "voltage_factors")}


def case_temperature_life(
    base_life: ArrayLike,
    rated_temperature: ArrayLike,
    case_temperature: ArrayLike,
    rated_ripple_rise: ArrayLike = 0,
    *,
    lowest_temperature: ArrayLike = LOWEST_TEMPERATURE,
) -> Numbers:
    r"""Life by the laws that count from the temperature of the capacitor itself.

    Parameters
    ----------
    base_life : float or array_like
        Life the maker states at the rated temperature. [any unit of time]  Must be > 0.
    rated_temperature : float or array_like
        Temperature of the surroundings at which the maker states it. [°C]
    case_temperature : float or array_like
        Of the capacitor in use, its heating by ripple included. [°C]  From
        `lowest_temperature` to the rated temperature and the rated rise.
    rated_ripple_rise : float or array_like, optional
        Rise at rated ripple current, if the base life was stated with it. [K]  From 0 to below
        40.
    lowest_temperature : float or array_like, optional
        Below it the law is not stated. [°C]

    Returns
    -------
    float or numpy.ndarray
        Life in continuous operation. [unit of base_life], broadcast shape

    Raises
    ------
    ValueError
        If a temperature is outside the range, the rise is out of range or the base life is not
        above zero.

    Notes
    -----
    .. math:: L = L_0\, 2^{(T_0 + r_0 - T_c)/10}

    One maker takes the rated rise as 10 K, another as none.

    References
    ----------
    Kendeil, 'Useful life' page (rise 10 K); TDK product FAQ (no rise).

    Examples
    --------
    >>> case_temperature_life(10000, 85, 75, 10)
    40000.0
    """
    hottest = celsius("rated_temperature", rated_temperature) + core_rise(
        "rated_ripple_rise", rated_ripple_rise
    )
    cooler = kelvin_below_rating(hottest, case_temperature, lowest_temperature)
    return scaled(base_life, cooler / 10)


def activation_energy_life(
    base_life: ArrayLike,
    rated_temperature: ArrayLike,
    temperature: ArrayLike,
    activation_energy: ArrayLike,
    *,
    lowest_temperature: ArrayLike = LOWEST_TEMPERATURE,
) -> Numbers:
    r"""Life by Arrhenius' law with one activation energy.

    Parameters
    ----------
    base_life : float or array_like
        Life the maker states at the rated temperature. [any unit of time]  Must be > 0.
    rated_temperature : float or array_like
        Temperature at which the maker states it. [°C]
    temperature : float or array_like
        Temperature in use. [°C]  From `lowest_temperature` to `rated_temperature`.
    activation_energy : float or array_like
        [eV]  Must be >= 0.
    lowest_temperature : float or array_like, optional
        Below it the law is not stated. [°C]

    Returns
    -------
    float or numpy.ndarray
        Life in continuous operation. [unit of base_life], broadcast shape

    Raises
    ------
    ValueError
        If a temperature is outside the range, the energy is negative or the base life is not
        above zero.

    Notes
    -----
    .. math:: L = L_0 \exp\left[\frac{E_a}{k}\left(\frac1T - \frac1{T_0}\right)\right]

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.5.1.

    Examples
    --------
    >>> activation_energy_life(2000, 105, 65, 0.85)
    43759.
    """
    kelvin_below_rating(rated_temperature, temperature, lowest_temperature)
    slower = arrhenius_factor(activation_energy, rated_temperature, temperature)
    return plain(positive("base_life", base_life) * np.asarray(slower))


def ripple_factor(
    ripple_ratio: ArrayLike, rated_ripple_rise: ArrayLike, rated_temperature: ArrayLike
) -> Numbers:
    r"""Factor for ripple current of a law that was stated with rated ripple.

    Parameters
    ----------
    ripple_ratio : float or array_like
        Ripple current over rated ripple current. [1]  Must be >= 0.
    rated_ripple_rise : float or array_like
        Rise at rated ripple current. [K]  From 0 to below 40; the maker gives 3.5 to 5 for
        105 °C types.
    rated_temperature : float or array_like
        [°C]

    Returns
    -------
    float or numpy.ndarray
        Factor of the life. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: K_R = K_i^{[1 - (I/I_0)^2]\, r_0/10}

    with :math:`K_i = 2`, but 4 for 105 °C types above their rated ripple current.

    References
    ----------
    Jianghai Europe, A. Albertsen, electrolytic capacitor lifetime estimation (2010, rev. 2018),
    as quoted by a public repository.

    Examples
    --------
    >>> ripple_factor([0.5, 1.0, 1.2], 5, 105)
    array([1.297, 1.   , 0.737])
    """
    ratio = not_negative("ripple_ratio", ripple_ratio)
    hot = celsius("rated_temperature", rated_temperature) >= 105
    base = np.where(hot & (ratio > 1), 4.0, 2.0)
    return plain(base ** ((1 - ratio**2) * core_rise("rated_ripple_rise", rated_ripple_rise) / 10))


def voltage_factor(voltage_ratio: ArrayLike, rule: str = "power") -> Numbers:
    r"""Factor that some makers grant for a voltage below the rated one.

    Parameters
    ----------
    voltage_ratio : float or array_like
        Working voltage over rated voltage. [1]  Above 0, at most 1.
    rule : str, optional
        ``power`` (the published one) or ``linear`` (from memory).

    Returns
    -------
    float or numpy.ndarray
        Factor of the life. [1], shape of `voltage_ratio`

    Raises
    ------
    ValueError
        If the rule is not known or a ratio is out of range.

    Notes
    -----
    .. math:: K_V = \max(u, 0.6)^{-2.5} \quad\text{or}\quad M_V = 4.3 - 3.3\,u

    with u the ratio, the second down to 0.5 only. Makers of small cans mostly grant nothing; the
    kit shows the factor and does not count it.

    References
    ----------
    Jianghai Europe, A. Albertsen, electrolytic capacitor lifetime estimation (2010, rev. 2018),
    as quoted by a public repository. Cornell Dubilier, Aluminum Electrolytic Capacitor
    Application Guide (from memory).

    Examples
    --------
    >>> voltage_factor([0.5, 0.6, 1.0])
    array([3.59, 3.59, 1.  ])
    """
    row = VOLTAGE_RULES[one_of("rule", rule, VOLTAGE_RULES)]
    ratio = np.maximum(fraction("voltage_ratio", voltage_ratio), row["lowest_ratio"])
    if rule == "power":
        return plain(ratio ** -row["exponent"])
    return plain(row["intercept"] - row["slope"] * ratio)


def implied_activation_energy(
    temperature: ArrayLike, halving_interval: ArrayLike = 10.0
) -> Numbers:
    r"""Activation energy that halves the life over an interval, from one temperature upwards.

    Parameters
    ----------
    temperature : float or array_like
        Lower end of the interval. [°C]
    halving_interval : float or array_like, optional
        [K]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Energy. [eV], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: E_a = k \ln 2\; \frac{T\,(T + h)}{h}

    with T in kelvin. It grows with temperature, so the 10-kelvin rule is Arrhenius' law at one
    temperature only.

    References
    ----------
    Arrhenius' law as in NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.5.1, solved for the
    energy.

    Examples
    --------
    >>> implied_activation_energy([45, 95])
    array([0.623, 0.832])
    """
    warm = celsius("temperature", temperature) + constants.zero_Celsius
    step = positive("halving_interval", halving_interval)
    return plain(constants.k / constants.e * np.log(2) * warm * (warm + step) / step)


def implied_halving_interval(life_ratio: ArrayLike, temperature_difference: ArrayLike) -> Numbers:
    r"""Cooling that would double the life, from two entries of a maker's table.

    Parameters
    ----------
    life_ratio : float or array_like
        Longer over shorter life. [1]  Must be above 1.
    temperature_difference : float or array_like
        Between the two. [K]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Interval. [K], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: h = \Delta T / \log_2 (L_2/L_1)

    References
    ----------
    The 10-kelvin rule, solved for the interval.

    Examples
    --------
    >>> implied_halving_interval(470, 65)
    7.32
    """
    ratio = positive("life_ratio", life_ratio)
    if np.any(ratio <= 1):
        raise ValueError(f"life_ratio must be above 1, got {life_ratio!r}")
    apart = positive("temperature_difference", temperature_difference)
    return plain(apart / np.log2(ratio))
