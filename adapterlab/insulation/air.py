"""What the air between two conductors meets: impulses from the mains, and altitude."""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Floats, Numbers, finite, one_of, plain, positive
from adapterlab.published import Row, rows

_ALTITUDES = rows("insulation", "altitudes")


def _column(table: list[Row], name: str) -> Floats:
    return np.array([row[name] for row in table], dtype=float)


def mains_transient(mains_voltage: ArrayLike, overvoltage_category: str = "II") -> Numbers:
    """Impulse that insulation on the mains must be expected to meet.

    Parameters
    ----------
    mains_voltage : float or array_like
        Rms voltage of the mains from line to neutral. [V]  Above 0, at most 300.
    overvoltage_category : str, optional
        ``I`` to ``IV``: how near to the supply. Pluggable equipment belongs to ``II``.

    Returns
    -------
    float or numpy.ndarray
        Peak of the impulse. [V], shape of `mains_voltage`

    Raises
    ------
    ValueError
        If the voltage is out of range or the category is not one of the four.

    References
    ----------
    IEC 62368-1, table 12; IEC 60664-1:2007, table F.1 (``published/insulation.toml``, table
    ``mains_transients``).

    Examples
    --------
    >>> mains_transient(230)
    2500.0
    """
    one_of("overvoltage_category", overvoltage_category, ("I", "II", "III", "IV"))
    table = rows("insulation", "mains_transients")
    voltage = positive("mains_voltage", mains_voltage)
    limits = _column(table, "mains_voltage")
    if np.any(voltage > limits[-1]):
        raise ValueError(f"mains_voltage must be at most {limits[-1]:g} V, got {mains_voltage!r}")
    return plain(_column(table, overvoltage_category)[np.searchsorted(limits, voltage)])


def temporary_overvoltage(mains_voltage: ArrayLike) -> Numbers:
    """Overvoltage of some seconds that insulation on the mains must be expected to meet.

    Parameters
    ----------
    mains_voltage : float or array_like
        Rms voltage of the mains from line to neutral. [V]  Above 0, at most 600.

    Returns
    -------
    float or numpy.ndarray
        Its peak. [V], shape of `mains_voltage`

    Raises
    ------
    ValueError
        If the voltage is out of range.

    Notes
    -----
    On a mains of 240 V the impulse asks for more air than this does; on one of 120 V, whose
    impulse is smaller, this asks for more.

    References
    ----------
    IEC 62368-1, 5.4.2.2 (``published/insulation.toml``, table ``temporary_overvoltages``).

    Examples
    --------
    >>> temporary_overvoltage([120, 277])
    array([2000., 2500.])
    """
    table = rows("insulation", "temporary_overvoltages")
    voltage = positive("mains_voltage", mains_voltage)
    limits = _column(table, "mains_voltage")
    if np.any(voltage > limits[-1]):
        raise ValueError(f"mains_voltage must be at most {limits[-1]:g} V, got {mains_voltage!r}")
    return plain(_column(table, "peak_voltage")[np.searchsorted(limits, voltage)])


def altitude_factor(altitude: ArrayLike) -> Numbers:
    """Factor by which a clearance must grow in thin air.

    Parameters
    ----------
    altitude : float or array_like
        Height above sea level. [m]  From -500 to 20 000.

    Returns
    -------
    float or numpy.ndarray
        Factor, 1 up to 2000 m. [1], shape of `altitude`

    Raises
    ------
    ValueError
        If the altitude lies outside the published table.

    Notes
    -----
    Between the rows it is interpolated. By Paschen's law the breakdown voltage of an even gap
    depends on pressure times distance, so the factor is close to 80 kPa over the pressure.
    Creepage distances do not grow with altitude, except that they never lie below the clearance.

    References
    ----------
    IEC 62368-1, table 16; IEC 60664-1:2007, table A.2; derived in
    ``notebooks/10_insulation.ipynb``.

    Examples
    --------
    >>> altitude_factor([0, 2000, 5000])
    array([1.  , 1.  , 1.48])
    """
    height = finite("altitude", altitude)
    steps = _column(_ALTITUDES, "altitude")
    if np.any((height < -500) | (height > steps[-1])):
        raise ValueError(f"altitude must lie in [-500, {steps[-1]:g}] m, got {altitude!r}")
    return plain(np.interp(height, steps, _column(_ALTITUDES, "factor")))


def air_pressure(altitude: ArrayLike) -> Numbers:
    r"""Pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : float or array_like
        Height above sea level. [m]  From -500 to 11 000.

    Returns
    -------
    float or numpy.ndarray
        Pressure. [Pa], shape of `altitude`

    Raises
    ------
    ValueError
        If the altitude lies outside the troposphere.

    Notes
    -----
    .. math:: p = p_0 (1 - L h / T_0)^{g M / (R L)}

    with 101 325 Pa and 288.15 K at sea level, falling by 6.5 K for every kilometre.

    References
    ----------
    ISO 2533:1975 (standard atmosphere); derived in ``notebooks/10_insulation.ipynb``.

    Examples
    --------
    >>> air_pressure(5000) / 1e3
    54.02
    """
    height = finite("altitude", altitude)
    if np.any((height < -500) | (height > 11000)):
        raise ValueError(f"altitude must lie in [-500, 11000] m, got {altitude!r}")
    exponent = 9.80665 * 0.0289644 / (8.31432 * 0.0065)
    return plain(101325.0 * (1 - 0.0065 * height / 288.15) ** exponent)
