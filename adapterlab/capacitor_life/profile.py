"""Wear that changes with use, and the law of reaction rates behind it.

`year_shares`, `mission_profile_life`, `damage_share`, `equivalent_temperature`,
`arrhenius_factor`. The functions can be had from `adapterlab.capacitor_life.laws` as well.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy import constants

from adapterlab.numerics.arguments import Floats, Numbers, not_negative, plain, positive
from adapterlab.numerics.arguments import temperature as celsius

_BOLTZMANN_EV = constants.k / constants.e
_SHORTEST_YEAR, _LONGEST_YEAR = 8760, 8784


def _shares(share: ArrayLike) -> Floats:
    parts = not_negative("share", share)
    if parts.ndim == 0:
        raise ValueError(f"share must be a list, one for each condition, got {share!r}")
    if not np.allclose(parts.sum(axis=-1), 1, rtol=0, atol=1e-6):
        raise ValueError(f"share must add up to 1, got {share!r} (sum {parts.sum(axis=-1)!r})")
    return parts


def year_shares(hours: ArrayLike) -> Floats:
    """Shares of a year from hours in each condition.

    Parameters
    ----------
    hours : array_like
        Hours of a year in each condition. [h], shape (..., conditions)  Must be >= 0, and add up
        to a year: from 8760 to 8784.

    Returns
    -------
    numpy.ndarray
        Shares that add up to 1. [1], same shape

    Raises
    ------
    ValueError
        If hours are negative or do not add up to a year.

    References
    ----------
    A year has 365 or 366 days of 24 hours.

    Examples
    --------
    >>> year_shares([1095, 7665])
    array([0.125, 0.875])
    """
    spent = not_negative("hours", hours)
    if spent.ndim == 0:
        raise ValueError(f"hours must be a list, one for each condition, got {hours!r}")
    whole = spent.sum(axis=-1, keepdims=True)
    if np.any((whole < _SHORTEST_YEAR - 0.5) | (whole > _LONGEST_YEAR + 0.5)):
        total = f"{whole.item():g}" if whole.size == 1 else repr(whole[..., 0])
        raise ValueError(
            f"hours must add up to a year, {_SHORTEST_YEAR} to {_LONGEST_YEAR}; the sum is {total}"
        )
    return np.asarray(spent / whole)


def mission_profile_life(life: ArrayLike, share: ArrayLike) -> Numbers:
    r"""Life of a part that spends shares of its time in different conditions.

    Parameters
    ----------
    life : array_like
        Life in each condition alone. [any unit of time], shape (..., conditions)  Must be > 0.
    share : array_like
        Share of the time spent in each. [1], shape (..., conditions)  Must be >= 0, and add
        up to 1.

    Returns
    -------
    float or numpy.ndarray
        Life. [unit of life], shape without the last axis

    Raises
    ------
    ValueError
        If a life is not above zero, or shares are negative or do not add up to 1.

    Notes
    -----
    Every hour uses up a part 1/L of the whole, and hours add up whatever their order
    (Palmgren-Miner):

    .. math:: L = \frac{1}{\sum_i s_i / L_i}

    References
    ----------
    COSEL technical Q&A, 'Electrolytic capacitor lifetime at varying ambient temperatures',
    formula 1.

    Examples
    --------
    >>> mission_profile_life([64000, 32000, 16000], [1/3, 1/3, 1/3])
    27429.
    """
    return plain(1 / (_shares(share) / positive("life", life)).sum(axis=-1))


def damage_share(life: ArrayLike, share: ArrayLike) -> Floats:
    r"""Part of the wear that each condition of a mission profile causes.

    Parameters
    ----------
    life, share : array_like
        As in `mission_profile_life`. shape (..., conditions)

    Returns
    -------
    numpy.ndarray
        Part of the whole wear. [1], broadcast shape; adds up to 1 along the last axis

    Raises
    ------
    ValueError
        As `mission_profile_life`.

    Notes
    -----
    .. math:: d_i = \frac{s_i/L_i}{\sum_j s_j/L_j}

    References
    ----------
    Palmgren-Miner rule, as worked through in the documentation of the Python package
    reliability 0.9 after Modarres et al. (2017), p. 33-37.

    Examples
    --------
    >>> damage_share([64000, 32000, 16000], [1/3, 1/3, 1/3])
    array([0.143, 0.286, 0.571])
    """
    wear = _shares(share) / positive("life", life)
    return np.asarray(wear / wear.sum(axis=-1, keepdims=True))


def equivalent_temperature(
    temperature: ArrayLike, share: ArrayLike, *, halving_interval: ArrayLike = 10.0
) -> Numbers:
    r"""Constant temperature that wears a part out as fast as a mission profile.

    Parameters
    ----------
    temperature : array_like
        Temperature in each condition. [°C], shape (..., conditions)
    share : array_like
        Share of the time spent in each. [1], shape (..., conditions)  Must be >= 0, and add
        up to 1.
    halving_interval : float, optional
        Cooling that doubles the life. [K]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Equivalent temperature, never below the mean. [°C], shape without the last axis

    Raises
    ------
    ValueError
        If a temperature is below absolute zero, or shares are negative or do not add up to 1.

    Notes
    -----
    .. math:: T = h \log_2 \sum_i s_i\, 2^{T_i/h}

    with h the halving interval; base life and rated temperature drop out.

    References
    ----------
    COSEL technical Q&A, 'Electrolytic capacitor lifetime at varying ambient temperatures',
    example.

    Examples
    --------
    >>> equivalent_temperature([45, 55, 65], [1/3, 1/3, 1/3])
    57.2
    """
    interval = positive("halving_interval", halving_interval)
    warm, part = np.broadcast_arrays(celsius("temperature", temperature), _shares(share))
    # Counted from the warmest, so that no power overflows.
    top = warm.max(axis=-1)
    wear = (part * 2 ** ((warm - top[..., np.newaxis]) / interval[..., np.newaxis])).sum(axis=-1)
    return plain(top + interval * np.log2(wear))


def arrhenius_factor(
    activation_energy: ArrayLike, temperature: ArrayLike, reference_temperature: ArrayLike
) -> Numbers:
    r"""How many times faster a process runs at one temperature than at another.

    Parameters
    ----------
    activation_energy : float or array_like
        Activation energy. [eV]  Must be >= 0.
    temperature : float or array_like
        Temperature at which it runs. [°C]
    reference_temperature : float or array_like
        Temperature it is compared with. [°C]

    Returns
    -------
    float or numpy.ndarray
        Rate at `temperature` over rate at `reference_temperature`: above 1 where the former is
        the hotter. [1], broadcast shape. A life is divided by it.

    Raises
    ------
    ValueError
        If the energy is negative, a temperature is below absolute zero, or the factor is too
        large or too small for a number.

    Notes
    -----
    .. math:: A = \exp\left[\frac{E_a}{k}
        \left(\frac{1}{T_\text{ref}} - \frac{1}{T}\right)\right]

    with temperatures in kelvin (°C + 273.15). One process with one energy, which real wear
    seldom is.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.5.1; CODATA value of k as in
    ``scipy.constants``.

    Examples
    --------
    >>> arrhenius_factor(1.2, 100, 60)
    88.2957
    """
    warm = constants.convert_temperature(celsius("temperature", temperature), "C", "K")
    reference = constants.convert_temperature(
        celsius("reference_temperature", reference_temperature), "C", "K"
    )
    energy = not_negative("activation_energy", activation_energy)
    with np.errstate(over="ignore", under="ignore"):
        factor = np.exp(energy / _BOLTZMANN_EV * (1 / reference - 1 / warm))
    if not np.all(np.isfinite(factor) & (factor > 0)):
        raise ValueError(
            f"activation_energy must lead to a factor that fits a number, got {activation_energy!r}"
        )
    return plain(factor)
