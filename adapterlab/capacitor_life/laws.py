"""The two laws of life: wet and polymer capacitors against temperature and ripple current."""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.capacitor_life.rated_range import (
    LOWEST_TEMPERATURE,
    core_rise,
    kelvin_below_rating,
    scaled,
)
from adapterlab.numerics.arguments import Numbers, one_of, positive
from adapterlab.published import rows

POLYMER_RULES = {
    row["name"]: (row["factor"], row["interval"])
    for row in rows("capacitor_life", "laws", type="polymer")
}


def electrolytic_life(
    base_life: ArrayLike,
    rated_temperature: ArrayLike,
    temperature: ArrayLike,
    ripple_rise: ArrayLike = 0,
    rated_ripple_rise: ArrayLike = 0,
    base_life_includes_ripple: ArrayLike = False,
    *,
    lowest_temperature: ArrayLike = LOWEST_TEMPERATURE,
    halving_interval: ArrayLike = 10.0,
) -> Numbers:
    r"""Life of a wet aluminium electrolytic capacitor by the 10-kelvin rule.

    Parameters
    ----------
    base_life : float or array_like
        Life the maker states at the rated temperature. [any unit of time]  Must be > 0.
    rated_temperature : float or array_like
        Temperature at which the maker states it. [°C]
    temperature : float or array_like
        Temperature of the air around the capacitor, not of its case. [°C]  From
        `lowest_temperature` to `rated_temperature`. `surroundings_temperature` finds it from
        the temperature of the case.
    ripple_rise : float or array_like, optional
        Rise of the core over the surroundings from ripple current. [K]  From 0 to below 40.
    rated_ripple_rise : float or array_like, optional
        The same rise at rated ripple current. [K]  From 0 to below 40. Has no effect unless
        the base life includes ripple.
    base_life_includes_ripple : bool or array_like, optional
        Whether the base life was stated with rated ripple current flowing.
    lowest_temperature : float or array_like, optional
        Below it the law is not stated. [°C]
    halving_interval : float or array_like, optional
        Cooling that doubles the life. [K]  Must be > 0. Acts on the surroundings only.

    Returns
    -------
    float or numpy.ndarray
        Life in continuous operation. [unit of base_life], broadcast shape

    Raises
    ------
    ValueError
        If a temperature is outside the maker's range, a rise is negative or 40 K or more, the
        base life or the halving interval is not above zero.

    Notes
    -----
    With :math:`T_0` the rated temperature, :math:`T` the surroundings, :math:`r` the ripple
    rise and :math:`r_0` the rated one, a base life stated without ripple follows

    .. math:: L = L_0\, 2^{(T_0 - T)/10}\, 2^{-r/5}

    and one stated with rated ripple

    .. math::
        L = L_0\, 2^{(T_0 - T)/10}\, 2^{\,r_0/(10 - 0.25 r_0) - r/(10 - 0.25 r)}

    Take the form that fits the data sheet: they differ by the factor that rated ripple costs.
    The second has a pole at 40 K. The exponent knows heat only. Makers state no more than about
    15 years whatever it gives (``published/capacitor_life.toml``, table ``longest_lives``), and
    their own tables lie up to five times above it far below the rated temperature.

    References
    ----------
    DB Lectro CN1A100KC data sheet, p. 13 (first form, from about 35 °C to the rated
    temperature). Rubycon, letter 'Lifetime calculation formula of aluminum electrolytic
    capacitors', 1-3 (second form).

    Examples
    --------
    >>> electrolytic_life(1000, 105, [45, 55, 65])
    array([64000., 32000., 16000.])
    >>> electrolytic_life(5000, 105, 65, 1.25, 5, base_life_includes_ripple=True)
    108709.
    """
    cooler = kelvin_below_rating(rated_temperature, temperature, lowest_temperature)
    rise = core_rise("ripple_rise", ripple_rise)
    rated_rise = core_rise("rated_ripple_rise", rated_ripple_rise)
    with_ripple = rated_rise / (10 - 0.25 * rated_rise) - rise / (10 - 0.25 * rise)
    heating = np.where(np.asarray(base_life_includes_ripple, dtype=bool), with_ripple, -rise / 5)
    return scaled(base_life, cooler / positive("halving_interval", halving_interval) + heating)


def polymer_life(
    base_life: ArrayLike,
    rated_temperature: ArrayLike,
    temperature: ArrayLike,
    *,
    rule: str = "ten-per-20-kelvin",
    ripple_rise: ArrayLike = 0,
    lowest_temperature: ArrayLike = LOWEST_TEMPERATURE,
) -> Numbers:
    r"""Life of a conductive-polymer aluminium capacitor.

    Parameters
    ----------
    base_life : float or array_like
        Life the maker states at the rated temperature. [any unit of time]  Must be > 0.
    rated_temperature : float or array_like
        Temperature at which the maker states it. [°C]
    temperature : float or array_like
        Temperature of the air around the capacitor. [°C]  From `lowest_temperature` to
        `rated_temperature`.
    rule : str, optional
        ``ten-per-20-kelvin`` (most makers), or ``two-per-10-kelvin`` (more careful: the rule
        of wet capacitors).
    ripple_rise : float or array_like, optional
        Rise of the core over the surroundings from ripple current. [K]  From 0 to below 40.
    lowest_temperature : float or array_like, optional
        Below it no life is given. [°C]  The bound of the wet law, for want of one of its own.

    Returns
    -------
    float or numpy.ndarray
        Life in continuous operation. [unit of base_life], broadcast shape

    Raises
    ------
    ValueError
        If the rule is not known, a temperature is outside the range, the rise is negative or
        40 K or more, or the base life is not above zero.

    Notes
    -----
    With :math:`T` the surroundings and :math:`r` the ripple rise

    .. math:: L = L_0\, 10^{(T_0 - T - r)/20} \quad\text{or}\quad L_0\, 2^{(T_0 - T - r)/10}

    Over 40 K the two differ by a factor of 6. The ripple term is printed for the second rule
    only; the first takes it over by analogy, as heat is heat.

    References
    ----------
    Wuerth Elektronik in 'Behind the mystery of electromagnetic compatibility design' (2022),
    p. 18-19 (first rule). A Japanese maker's note on polymer capacitors (second rule).

    Examples
    --------
    >>> polymer_life(2000, 105, [85, 65])
    array([ 20000., 200000.])
    >>> polymer_life(2000, 105, 65, rule="two-per-10-kelvin")
    32000.0
    """
    factor, interval = POLYMER_RULES[one_of("rule", rule, POLYMER_RULES)]
    cooler = kelvin_below_rating(rated_temperature, temperature, lowest_temperature)
    return scaled(base_life, (cooler - core_rise("ripple_rise", ripple_rise)) / interval, factor)
