"""Heat from a warm surface to still air: convection, radiation, resistances.

Air: `air_properties`. Convection: `rayleigh_number` and from it `nusselt_vertical_plate`,
`nusselt_horizontal_plate`, `nusselt_horizontal_cylinder`; by hand `simplified_heat_transfer`.
Radiation: `radiation_heat_flow`. `thermal_resistance` is what two thermometers and a wattmeter
tell. A whole sealed case is in `adapterlab.thermal.case`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import constants

from adapterlab.numerics.arguments import (
    Floats,
    Numbers,
    finite,
    fraction,
    not_negative,
    one_of,
    plain,
    positive,
)
from adapterlab.numerics.arguments import temperature as celsius
from adapterlab.published import rows

_ZERO = constants.zero_Celsius
_SIMPLIFIED = {row["shape"]: row["factor"] for row in rows("thermal", "simplified_air")}


def _kelvin(name: str, value: ArrayLike) -> Floats:
    return np.asarray(celsius(name, value) + _ZERO)


@dataclass(frozen=True)
class Air:
    """What air does with heat and motion.

    Attributes
    ----------
    conductivity : float or numpy.ndarray
        Thermal conductivity. [W/(m·K)]
    kinematic_viscosity : float or numpy.ndarray
        [m²/s]
    thermal_diffusivity : float or numpy.ndarray
        [m²/s], same shape
    expansion : float or numpy.ndarray
        Volumetric expansion coefficient, 1/T for a gas. [1/K], same shape
    """

    conductivity: Numbers
    kinematic_viscosity: Numbers
    thermal_diffusivity: Numbers
    expansion: Numbers

    @property
    def prandtl_number(self) -> Numbers:
        """Viscosity over diffusivity. [1]."""
        return self.kinematic_viscosity / self.thermal_diffusivity


def air_properties(temperature: ArrayLike) -> Air:
    r"""Dry air at sea level.

    Parameters
    ----------
    temperature : float or array_like
        Film temperature: the mean of surface and air. [°C]  From -50 to 250.

    Returns
    -------
    Air
        Conductivity, viscosity, diffusivity and expansion, each of the shape of `temperature`.

    Raises
    ------
    ValueError
        If the temperature is outside the range.

    Notes
    -----
    With T in kelvin, density from the gas law at 101 325 Pa, heat capacity 1007 J/(kg·K):

    .. math:: \mu = \frac{1.458\cdot10^{-6}\, T^{3/2}}{T + 110.4}, \qquad
              k = \frac{2.6502\cdot10^{-3}\, T^{3/2}}{T + 245.4\cdot 10^{-12/T}}

    Within 3 % of the tables of the usual textbooks, which differ among themselves by as much.

    References
    ----------
    US Standard Atmosphere 1976, equations 51 and 53 (from memory; held against six textbook
    values in the tests).

    Examples
    --------
    >>> air = air_properties(30)
    >>> print(f"{air.conductivity:.4f} W/(m K), Pr {air.prandtl_number:.2f}")
    0.0264 W/(m K), Pr 0.71
    """
    warm = _kelvin("temperature", temperature)
    if np.any((warm < _ZERO - 50) | (warm > _ZERO + 250)):
        raise ValueError(f"temperature must be from -50 to 250 °C for air, got {temperature!r}")
    density = constants.atm / (287.05 * warm)
    viscosity = 1.458e-6 * warm**1.5 / (warm + 110.4)
    conductivity = 2.6502e-3 * warm**1.5 / (warm + 245.4 * 10 ** (-12 / warm))
    return Air(
        plain(conductivity),
        plain(viscosity / density),
        plain(conductivity / (density * 1007.0)),
        plain(1 / warm),
    )


def rayleigh_number(
    temperature_difference: ArrayLike,
    length: ArrayLike,
    air: Air,
    *,
    gravity: ArrayLike = constants.g,
) -> Numbers:
    r"""How strongly warmth drives the air, against what holds it back.

    Parameters
    ----------
    temperature_difference : float or array_like
        Surface less air. [K]  Must be >= 0.
    length : float or array_like
        Height of a vertical plate, diameter of a cylinder, area over perimeter of a horizontal
        plate. [m]  Must be > 0.
    air : Air
        At the film temperature.
    gravity : float or array_like, optional
        [m/s²]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Rayleigh number. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: Ra = \frac{g \beta\, \Delta T\, L^3}{\nu \alpha}

    References
    ----------
    Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, Example 9.2.

    Examples
    --------
    >>> rayleigh_number(30, 0.062, air_properties(40)) / 1e5
    5.50
    """
    buoyancy = positive("gravity", gravity) * np.asarray(air.expansion)
    driven = buoyancy * not_negative("temperature_difference", temperature_difference)
    held = np.asarray(air.kinematic_viscosity) * np.asarray(air.thermal_diffusivity)
    return plain(driven * positive("length", length) ** 3 / held)


def _prandtl_term(prandtl_number: ArrayLike, constant: float) -> Floats:
    return np.asarray(1 + (constant / positive("prandtl_number", prandtl_number)) ** (9 / 16))


def nusselt_vertical_plate(
    rayleigh_number: ArrayLike, prandtl_number: ArrayLike, *, laminar: bool = False
) -> Numbers:
    r"""Heat transfer of a vertical plate, in units of conduction through its height.

    Parameters
    ----------
    rayleigh_number : float or array_like
        On the height. [1]  From 0 to 1e13, laminar to 1e9.
    prandtl_number : float or array_like
        [1]  Must be > 0.
    laminar : bool, optional
        Take the form for laminar flow only, a little closer there.

    Returns
    -------
    float or numpy.ndarray
        Nusselt number; times conductivity over height it is the transfer in W/(m²·K). [1],
        broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: Nu = \left[0.825 + \frac{0.387 Ra^{1/6}}{[1+(0.492/Pr)^{9/16}]^{8/27}}\right]^2,
        \qquad Nu_\text{lam} = 0.68 + \frac{0.670 Ra^{1/4}}{[1+(0.492/Pr)^{9/16}]^{4/9}}

    References
    ----------
    Churchill and Chu, in Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, Examples
    9.2 (all Ra) and 9.3 (laminar).

    Examples
    --------
    >>> nusselt_vertical_plate(0.69 * 2.63e9, 0.69)
    147.16
    """
    number = not_negative("rayleigh_number", rayleigh_number)
    most = 1e9 if laminar else 1e13
    if np.any(number > most):
        raise ValueError(f"rayleigh_number must be at most {most:g} here, got {rayleigh_number!r}")
    term = _prandtl_term(prandtl_number, 0.492)
    if laminar:
        return plain(0.68 + 0.670 * number**0.25 / term ** (4 / 9))
    return plain((0.825 + 0.387 * number ** (1 / 6) / term ** (8 / 27)) ** 2)


def nusselt_horizontal_plate(
    rayleigh_number: ArrayLike, facing: str, *, extended: bool = False
) -> Numbers:
    r"""Heat transfer of a horizontal plate warmer than the air, one side of it.

    Parameters
    ----------
    rayleigh_number : float or array_like
        On area over perimeter. [1]  Facing up from 1e4 to 1e11, down from 1e5 to 1e11.
    facing : str
        ``up`` or ``down``.
    extended : bool, optional
        Let the lowest law run on down to 0, for plates smaller than those of the laboratory: a
        stretch of the law that is some 20 % uncertain.

    Returns
    -------
    float or numpy.ndarray
        Nusselt number. [1], shape of `rayleigh_number`

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: Nu = 0.54 Ra^{1/4} \text{ or } 0.15 Ra^{1/3}\text{ from } 10^7 \text{ (up)},
              \qquad Nu = 0.27 Ra^{1/4} \text{ (down)}

    References
    ----------
    Incropera & DeWitt, Example 9.3; Cengel, Heat and Mass Transfer, 3rd ed., Example 9-2
    (``published/thermal.toml``, table ``horizontal_plates``).

    Examples
    --------
    >>> nusselt_horizontal_plate(1e8, "up")
    69.62
    """
    laws = rows("thermal", "horizontal_plates", facing=one_of("facing", facing, ("up", "down")))
    number = not_negative("rayleigh_number", rayleigh_number)
    least = 0.0 if extended else laws[0]["lowest"]
    if np.any((number < least) | (number > laws[-1]["highest"])):
        raise ValueError(
            f"rayleigh_number must be from {least:g} to {laws[-1]['highest']:g} facing {facing}, "
            f"got {rayleigh_number!r}"
        )
    result = laws[0]["factor"] * number ** laws[0]["exponent"]
    for law in laws[1:]:
        result = np.where(number > law["lowest"], law["factor"] * number ** law["exponent"], result)
    return plain(result)


def nusselt_horizontal_cylinder(rayleigh_number: ArrayLike, prandtl_number: ArrayLike) -> Numbers:
    r"""Heat transfer of a cylinder that lies, such as a capacitor bent down to the board.

    Parameters
    ----------
    rayleigh_number : float or array_like
        On the diameter. [1]  From 0 to 1e12.
    prandtl_number : float or array_like
        [1]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Nusselt number on the diameter. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: Nu = \left[0.60 + \frac{0.387 Ra^{1/6}}{[1+(0.559/Pr)^{9/16}]^{8/27}}\right]^2

    References
    ----------
    Churchill and Chu, in Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, Example 9.4.

    Examples
    --------
    >>> nusselt_horizontal_cylinder(1.869e6, 0.7241)
    17.40
    """
    number = not_negative("rayleigh_number", rayleigh_number)
    if np.any(number > 1e12):
        raise ValueError(f"rayleigh_number must be at most 1e12, got {rayleigh_number!r}")
    term = _prandtl_term(prandtl_number, 0.559)
    return plain((0.60 + 0.387 * number ** (1 / 6) / term ** (8 / 27)) ** 2)


def simplified_heat_transfer(
    temperature_difference: ArrayLike, length: ArrayLike, shape: str
) -> Numbers:
    r"""Natural convection in air by hand: two numbers and a fourth root.

    Parameters
    ----------
    temperature_difference : float or array_like
        Surface less air. [K]  Must be >= 0.
    length : float or array_like
        Diameter of a horizontal cylinder, height of a vertical plate. [m]  Must be > 0.
    shape : str
        ``horizontal cylinder`` or ``vertical plate``.

    Returns
    -------
    float or numpy.ndarray
        Heat-transfer coefficient. [W/(m²·K)], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: h = a\, (\Delta T / L)^{1/4}

    Laminar flow, air near room temperature and sea level. Poor on things smaller than some
    centimetres, where it comes out too small.

    References
    ----------
    Holman, Heat Transfer (SI), 9th ed. (2002), Example 7-7 (``published/thermal.toml``, table
    ``simplified_air``).

    Examples
    --------
    >>> simplified_heat_transfer(30, 0.06, "vertical plate")
    6.7
    """
    factor = _SIMPLIFIED[one_of("shape", shape, _SIMPLIFIED)]
    steep = not_negative("temperature_difference", temperature_difference) / positive(
        "length", length
    )
    return plain(factor * steep**0.25)


def radiation_heat_flow(
    surface_area: ArrayLike,
    emissivity: ArrayLike,
    temperature: ArrayLike,
    ambient: ArrayLike,
) -> Numbers:
    r"""Heat a surface radiates to large surroundings, less what it gets back.

    Parameters
    ----------
    surface_area : float or array_like
        [m²]  Must be > 0.
    emissivity : float or array_like
        [1]  Above 0, at most 1.
    temperature : float or array_like
        Of the surface. [°C]
    ambient : float or array_like
        Temperature of the walls of the room. [°C]

    Returns
    -------
    float or numpy.ndarray
        Net heat flow, negative if the surroundings are the warmer. [W], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: Q = \varepsilon \sigma A (T_s^4 - T_r^4)

    References
    ----------
    Incropera & DeWitt, Example 1.2; Cengel, 3rd ed., Example 1-9; sigma from
    ``scipy.constants``.

    Examples
    --------
    >>> radiation_heat_flow(1.4, 0.95, 30, 10)
    152.2
    """
    fourth = _kelvin("temperature", temperature) ** 4 - _kelvin("ambient", ambient) ** 4
    grey = fraction("emissivity", emissivity) * constants.Stefan_Boltzmann
    return plain(positive("surface_area", surface_area) * grey * fourth)


def thermal_resistance(
    temperature: ArrayLike, reference_temperature: ArrayLike, power: ArrayLike
) -> Numbers:
    r"""Kelvin for each watt between two places.

    Parameters
    ----------
    temperature : float or array_like
        Of the warmer place. [°C]
    reference_temperature : float or array_like
        Of the place it is compared with. [°C]
    power : float or array_like
        Heat that flows. [W]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Thermal resistance, negative if the first place is the cooler. [K/W], broadcast shape

    Raises
    ------
    ValueError
        If the power is not above zero or a temperature is below absolute zero.

    References
    ----------
    Cengel, Heat and Mass Transfer, 3rd ed. (2006), Example 3-10.

    Examples
    --------
    >>> thermal_resistance(85, 25, 3)
    20.0
    """
    rise = finite("temperature", celsius("temperature", temperature)) - celsius(
        "reference_temperature", reference_temperature
    )
    return plain(rise / positive("power", power))
