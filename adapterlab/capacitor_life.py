"""How long aluminium capacitors last, from temperature and ripple current.

Laws: `electrolytic_life`, `polymer_life`. What goes into them: `equivalent_ripple_current`,
`ripple_temperature_rise`, `can_temperature_rise`, `surroundings_temperature`. Changing use:
`mission_profile_life`, `damage_share`, `equivalent_temperature`. Behind the laws:
`arrhenius_factor` (these four in `adapterlab.capacitor_life_profile`).
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from adapterlab._args import Floats, finite, not_negative, one_of, plain, positive
from adapterlab._args import temperature as celsius
from adapterlab.capacitor_life_profile import arrhenius_factor as arrhenius_factor
from adapterlab.capacitor_life_profile import damage_share as damage_share
from adapterlab.capacitor_life_profile import equivalent_temperature as equivalent_temperature
from adapterlab.capacitor_life_profile import mission_profile_life as mission_profile_life
from adapterlab.published import rows

LOWEST_TEMPERATURE: float = rows("capacitor_life", "laws", name="base life without ripple")[0][
    "lowest_temperature"
]
POLYMER_RULES = {
    row["name"]: (row["factor"], row["interval"])
    for row in rows("capacitor_life", "laws", type="polymer")
}
_LARGEST_RISE = 40.0


def _kelvin_below_rating(
    rated_temperature: ArrayLike, temperature: ArrayLike, lowest_temperature: ArrayLike
) -> Floats:
    """Distance to the rated temperature, if the temperature lies in the maker's range."""
    rated = celsius("rated_temperature", rated_temperature)
    warm = celsius("temperature", temperature)
    if np.any(warm > rated):
        raise ValueError(
            f"temperature must be at most rated_temperature ({rated_temperature!r} °C): above it "
            f"no maker states a life; got {temperature!r}"
        )
    if np.any(warm < celsius("lowest_temperature", lowest_temperature)):
        raise ValueError(
            f"temperature must be at least lowest_temperature ({lowest_temperature!r} °C), where "
            f"the law was stated; got {temperature!r}"
        )
    return np.asarray(rated - warm)


def _rise(name: str, value: ArrayLike) -> Floats:
    rise = not_negative(name, value)
    if np.any(rise >= _LARGEST_RISE):
        raise ValueError(f"{name} must be below {_LARGEST_RISE:g} K, got {value!r}")
    return rise


def _scaled(base_life: ArrayLike, logarithm: Any, base: float = 2.0) -> Any:
    """`base_life` times `base` to the power `logarithm`, if that is a number to be trusted."""
    with np.errstate(over="ignore", under="ignore"):
        life = positive("base_life", base_life) * base**logarithm
    if not np.all(np.isfinite(life) & (life > 0)):
        raise ValueError(
            "rated_temperature, temperature and the ripple rises lead to a life too long or too "
            "short for a number; check them"
        )
    return plain(life)


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
) -> Any:
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
    cooler = _kelvin_below_rating(rated_temperature, temperature, lowest_temperature)
    rise = _rise("ripple_rise", ripple_rise)
    rated_rise = _rise("rated_ripple_rise", rated_ripple_rise)
    with_ripple = rated_rise / (10 - 0.25 * rated_rise) - rise / (10 - 0.25 * rise)
    heating = np.where(np.asarray(base_life_includes_ripple, dtype=bool), with_ripple, -rise / 5)
    return _scaled(base_life, cooler / positive("halving_interval", halving_interval) + heating)


def polymer_life(
    base_life: ArrayLike,
    rated_temperature: ArrayLike,
    temperature: ArrayLike,
    *,
    rule: str = "ten-per-20-kelvin",
    ripple_rise: ArrayLike = 0,
    lowest_temperature: ArrayLike = LOWEST_TEMPERATURE,
) -> Any:
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
    cooler = _kelvin_below_rating(rated_temperature, temperature, lowest_temperature)
    return _scaled(base_life, (cooler - _rise("ripple_rise", ripple_rise)) / interval, factor)


def equivalent_ripple_current(currents: ArrayLike, multipliers: ArrayLike) -> Any:
    r"""Ripple current at the rated frequency that heats like several at others.

    Parameters
    ----------
    currents : array_like
        Rms current at each frequency. [A], shape (..., frequencies)  Must be >= 0.
    multipliers : array_like
        Frequency multiplier of each, as in the data sheet. [1], shape (..., frequencies)
        Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Equivalent rms current. [A], shape without the last axis

    Raises
    ------
    ValueError
        If a current is negative, a multiplier is not above zero, or there is no frequency axis.

    Notes
    -----
    .. math:: I = \sqrt{\sum_n (I_n / k_n)^2}

    Series resistance falls with frequency, so a data sheet allows more current there by the
    multiplier :math:`k_n`.

    References
    ----------
    'Life of Alum Caps' (a capacitor maker's technical note), chapter 4, equations 4.1 to 4.6.

    Examples
    --------
    0.4 A at 120 Hz and 0.9 A at 100 kHz:

    >>> equivalent_ripple_current([0.4, 0.9], [1.0, 1.5])
    0.7211
    """
    parts = not_negative("currents", currents) / positive("multipliers", multipliers)
    if parts.ndim == 0:
        raise ValueError(f"currents must be a list, one for each frequency, got {currents!r}")
    return plain(np.sqrt((parts**2).sum(axis=-1)))


def ripple_temperature_rise(
    ripple_current: ArrayLike, rated_ripple_current: ArrayLike, rated_ripple_rise: ArrayLike
) -> Any:
    r"""Rise of a capacitor's core over its surroundings, from its ripple rating.

    Parameters
    ----------
    ripple_current : float or array_like
        Rms ripple current, as equivalent at the rated frequency. [A]  Must be >= 0.
    rated_ripple_current : float or array_like
        Rated ripple current. [A]  Must be > 0.
    rated_ripple_rise : float or array_like
        Rise at rated ripple current. [K]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Rise. [K], broadcast shape

    Raises
    ------
    ValueError
        If a current or the rated rise is out of range.

    Notes
    -----
    Losses go with the square of the current: :math:`r = r_0 (I/I_0)^2`.

    References
    ----------
    Rubycon, letter 'Lifetime calculation formula of aluminum electrolytic capacitors', 1-3.

    Examples
    --------
    >>> ripple_temperature_rise(0.37, 0.62, 5)
    1.781
    """
    share = not_negative("ripple_current", ripple_current) / positive(
        "rated_ripple_current", rated_ripple_current
    )
    return plain(not_negative("rated_ripple_rise", rated_ripple_rise) * share**2)


def can_temperature_rise(
    ripple_current: ArrayLike,
    series_resistance: ArrayLike,
    surface_area: ArrayLike,
    *,
    heat_transfer: ArrayLike | None = None,
) -> Any:
    r"""Rise of a capacitor's case over its surroundings, from its losses and surface.

    Parameters
    ----------
    ripple_current : float or array_like
        Rms ripple current. [A]  Must be >= 0.
    series_resistance : float or array_like
        Equivalent series resistance at the frequency and temperature in use. [ohm]  Must be
        >= 0.
    surface_area : float or array_like
        Surface of the can, without the sealed end. [m²]  Must be > 0.
    heat_transfer : float or array_like, optional
        Heat-transfer coefficient. [W/(m²·K)]  Must be > 0. From the surface if not given.

    Returns
    -------
    float or numpy.ndarray
        Rise of the case. [K], broadcast shape. The core rises by more, see
        `surroundings_temperature`.

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: \Delta T = \frac{I^2 R}{\beta S}

    In still air with nothing hot nearby the maker gives
    :math:`\beta = 2.3\cdot10^{-3}\, S^{-0.2}` in W/(K·cm²) with S in cm².

    References
    ----------
    DB Lectro CN1A100KC data sheet, p. 13. 'Life of Alum Caps' (a capacitor maker's technical
    note), chapter 4, equations 4.1 to 4.6 and table 4-2.

    Examples
    --------
    >>> can_temperature_rise(0.5, 0.2, 10e-4)
    3.445
    """
    surface = positive("surface_area", surface_area)
    if heat_transfer is None:
        # In the maker's unit, W/(K·cm²) and cm², and from there to W/(K·m²).
        heat_transfer = 2.3e-3 * (surface * 1e4) ** -0.2 * 1e4
    loss = not_negative("ripple_current", ripple_current) ** 2 * not_negative(
        "series_resistance", series_resistance
    )
    return plain(loss / (positive("heat_transfer", heat_transfer) * surface))


def surroundings_temperature(
    case_temperature: ArrayLike, ripple_rise: ArrayLike, core_to_case_ratio: ArrayLike = 1.0
) -> Any:
    r"""Temperature around a capacitor from that of its case.

    Parameters
    ----------
    case_temperature : float or array_like
        Temperature of the case, as a thermocouple on it reads. [°C]
    ripple_rise : float or array_like
        Rise of the core over the surroundings from ripple current. [K]  Must be >= 0.
    core_to_case_ratio : float or array_like, optional
        Rise of the core over rise of the case. [1]  Must be >= 1; 1.0 up to 8 mm of diameter,
        1.6 at 35 mm (``published/capacitor_life.toml``, table ``core_to_case``).

    Returns
    -------
    float or numpy.ndarray
        Temperature of the surroundings. [°C], broadcast shape

    Raises
    ------
    ValueError
        If the rise is negative or the ratio is below 1.

    Notes
    -----
    .. math:: T = T_\text{case} - r/\alpha

    References
    ----------
    Rubycon, letter 'Lifetime calculation formula of aluminum electrolytic capacitors'.

    Examples
    --------
    >>> surroundings_temperature(66, 1.8, 1.2)
    64.5
    """
    ratio = finite("core_to_case_ratio", core_to_case_ratio)
    if np.any(ratio < 1):
        raise ValueError(f"core_to_case_ratio must be at least 1, got {core_to_case_ratio!r}")
    case = celsius("case_temperature", case_temperature)
    return plain(case - not_negative("ripple_rise", ripple_rise) / ratio)
