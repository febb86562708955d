"""The thermistor (NTC) that limits the surge: resistance, heat, and how it cools.

`Thermistor`, `thermistor_resistance`, `thermistor_temperature` and `thermistor_beta` (the B law),
`thermistor_working_temperature` (in use), `thermistor_cooling` (after the plug is pulled).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.constants import zero_Celsius

from adapterlab.numerics.arguments import Numbers, finite, not_negative, plain, positive
from adapterlab.numerics.arguments import temperature as above_absolute_zero

_WARM = 1 / (25 + zero_Celsius)


def thermistor_resistance(
    temperature: ArrayLike, resistance_25: ArrayLike, beta: ArrayLike
) -> Numbers:
    r"""Resistance of a thermistor (NTC) at a temperature.

    Parameters
    ----------
    temperature : float or array_like
        Temperature of the thermistor. [°C]  Above absolute zero.
    resistance_25, beta : float or array_like
        Resistance at 25 °C, as marked [ohm], above zero; constant B [K], 0 for a plain resistor.

    Returns
    -------
    float or numpy.ndarray
        Resistance. [ohm], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: R = R_{25}\,e^{B\,(1/T - 1/T_{25})}, \quad T \text{ in kelvin}

    A constant B is a fit between two temperatures: against a maker's table from 25 to 125 °C it is
    off by some 2 to 3 %.

    References
    ----------
    IEC 60539-1 (definition of B, reference temperature 25 °C), from memory; makers' tables in
    ``tests/test_inrush_parts.py``.

    Examples
    --------
    Cold, and after a minute at full current:

    >>> thermistor_resistance([25, 120], 8, 2900)
    array([8.  , 0.76])
    """
    kelvin = above_absolute_zero("temperature", temperature) + zero_Celsius
    exponent = not_negative("beta", beta) * (1 / kelvin - _WARM)
    if np.any(exponent > 50):
        raise ValueError(f"temperature is too low for this beta, got {temperature!r} and {beta!r}")
    return plain(positive("resistance_25", resistance_25) * np.exp(exponent))


def thermistor_temperature(
    resistance: ArrayLike, resistance_25: ArrayLike, beta: ArrayLike
) -> Numbers:
    r"""Temperature at which a thermistor has a resistance: `thermistor_resistance` turned round.

    Parameters
    ----------
    resistance : float or array_like
        Its resistance. [ohm]  Must be > 0.
    resistance_25, beta : float or array_like
        Resistance at 25 °C [ohm] and constant B [K]. Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Temperature. [°C], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero, or no temperature gives so large a resistance.

    Notes
    -----
    .. math:: 1/T = 1/T_{25} + \ln(R/R_{25})/B

    References
    ----------
    As `thermistor_resistance`.

    Examples
    --------
    How hot is a 10 ohm disc that measures 1 ohm?

    >>> thermistor_temperature(1, 10, 2900)
    117.5
    """
    ratio = positive("resistance", resistance) / positive("resistance_25", resistance_25)
    inverse = _WARM + np.log(ratio) / positive("beta", beta)
    if np.any(inverse <= 0):
        raise ValueError(
            f"resistance must be above what this beta gives at any heat, got {resistance!r}"
        )
    return plain(1 / inverse - zero_Celsius)


def thermistor_beta(
    resistance: ArrayLike, temperature: ArrayLike, other: ArrayLike, other_temperature: ArrayLike
) -> Numbers:
    r"""Constant B from the resistance at two temperatures.

    Parameters
    ----------
    resistance, other : float or array_like
        Resistance at the one and at the other temperature. [ohm]  Must be > 0.
    temperature, other_temperature : float or array_like
        The temperatures. [°C]  Must differ.

    Returns
    -------
    float or numpy.ndarray
        B. [K], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range or the temperatures are the same.

    Notes
    -----
    .. math:: B = \ln(R_1/R_2) / (1/T_1 - 1/T_2)

    References
    ----------
    IEC 60539-1, from memory; the same in makers' data sheets.

    Examples
    --------
    A maker's 47 kohm sensor, 16 433 ohm at 50 °C:

    >>> thermistor_beta(47000, 25, 16433, 50)
    4049.9
    """
    first = above_absolute_zero("temperature", temperature) + zero_Celsius
    second = above_absolute_zero("other_temperature", other_temperature) + zero_Celsius
    if np.any(first == second):
        raise ValueError(f"other_temperature must differ from temperature, got {temperature!r}")
    ratio = positive("resistance", resistance) / positive("other", other)
    return plain(np.log(ratio) / (1 / first - 1 / second))


@dataclass(frozen=True)
class Thermistor:
    """A thermistor that warms itself.

    Attributes
    ----------
    resistance_25 : float or array_like
        Resistance at 25 °C. [ohm]  Must be > 0.
    beta : float or array_like
        Constant B. [K]  Must be >= 0.
    heat_capacity : float or array_like
        Heat that warms it by one kelvin. [J/K]  Must be > 0.
    dissipation_factor : float or array_like
        Power it gives off for each kelvin above ambient. [W/K]  Must be >= 0.

    Examples
    --------
    A disc of 9 mm, marked 10 ohm:

    >>> disc = Thermistor(10, 2900, 0.5, 0.011)
    >>> print(f"{disc.resistance(100):.2f} ohm at 100 °C; cools with {disc.time_constant:.0f} s")
    1.42 ohm at 100 °C; cools with 45 s
    """

    resistance_25: ArrayLike
    beta: ArrayLike
    heat_capacity: ArrayLike
    dissipation_factor: ArrayLike

    def __post_init__(self) -> None:
        """Refuse parts that can't be."""
        positive("resistance_25", self.resistance_25)
        not_negative("beta", self.beta)
        positive("heat_capacity", self.heat_capacity)
        not_negative("dissipation_factor", self.dissipation_factor)

    def resistance(self, temperature: ArrayLike) -> Numbers:
        """Resistance at a temperature in °C. [ohm]."""
        return thermistor_resistance(temperature, self.resistance_25, self.beta)

    @property
    def time_constant(self) -> Numbers:
        """Time in which it cools to 1/e of its excess: heat capacity over dissipation. [s]."""
        lost = positive("dissipation_factor", self.dissipation_factor)
        return plain(positive("heat_capacity", self.heat_capacity) / lost)


def thermistor_working_temperature(
    thermistor: Thermistor, current: ArrayLike, ambient: ArrayLike = 25.0
) -> Numbers:
    r"""Temperature at which a thermistor settles that carries a steady current.

    Parameters
    ----------
    thermistor : Thermistor
        The part, with a dissipation factor above zero.
    current : float or array_like
        Rms current. [A]  Must be >= 0.
    ambient : float or array_like, optional
        Temperature of the air around it: in an adapter, of the inside. [°C]

    Returns
    -------
    float or numpy.ndarray
        Temperature. [°C], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range, or a balance would lie above 1000 K over ambient.

    Notes
    -----
    The root of :math:`I^2 R(T) = \delta\,(T - T_a)`, by bisection: the left side falls with
    temperature and the right side rises, so that there is only one.

    References
    ----------
    Balance of heat; a maker's row of resistance at rated current in
    ``tests/test_inrush_parts.py``.

    Examples
    --------
    >>> thermistor_working_temperature(Thermistor(8, 2900, 0.75, 0.014), 0.65, 50)
    91.2
    """
    air = above_absolute_zero("ambient", ambient)
    lost = positive("dissipation_factor", thermistor.dissipation_factor)
    squared = not_negative("current", current) ** 2
    low = air + np.zeros(np.broadcast_shapes(air.shape, lost.shape, squared.shape))
    low = low + 0.0 * np.asarray(thermistor.resistance(25.0))
    high = low + 1000.0
    if np.any(squared * thermistor.resistance(high) > lost * 1000.0):
        raise ValueError(f"current must not heat it by more than 1000 K, got {current!r}")
    for _ in range(60):
        middle = (low + high) / 2
        warms = squared * thermistor.resistance(middle) > lost * (middle - air)
        low, high = np.where(warms, middle, low), np.where(warms, high, middle)
    return plain((low + high) / 2)


def thermistor_cooling(
    thermistor: Thermistor, temperature: ArrayLike, time: ArrayLike, ambient: ArrayLike = 25.0
) -> Numbers:
    r"""Temperature of a thermistor some time after its current has stopped.

    Parameters
    ----------
    thermistor : Thermistor
        The part, with a dissipation factor above zero.
    temperature : float or array_like
        Its temperature when the current stopped. [°C]
    time : float or array_like
        Time since then. [s]  Must be >= 0.
    ambient : float or array_like, optional
        Temperature of the air around it. [°C]

    Returns
    -------
    float or numpy.ndarray
        Temperature. [°C], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: T = T_a + (T_0 - T_a)\,e^{-t\,\delta/C}

    References
    ----------
    Newton's law of cooling; makers state the time constant :math:`C/\delta`.

    Examples
    --------
    Six seconds are not enough:

    >>> thermistor_cooling(Thermistor(8, 2900, 0.75, 0.014), 100, 6)
    92.1
    """
    excess = above_absolute_zero("temperature", temperature) - above_absolute_zero(
        "ambient", ambient
    )
    share = np.exp(-not_negative("time", time) / finite("time_constant", thermistor.time_constant))
    return plain(finite("ambient", ambient) + excess * share)
