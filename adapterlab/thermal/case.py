"""A sealed plastic case in still air: how warm it and the air in it become.

`box_heat_flow` is what leaves a case of given temperature, `case_temperatures` the case
temperature at which that equals the loss, `fit_transfer_factor` what a measured case temperature
says of the first. `wall_outer_temperature` is one wall alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import constants

from adapterlab.numerics.arguments import (
    Floats,
    Numbers,
    fraction,
    not_negative,
    one_of,
    plain,
    positive,
)
from adapterlab.numerics.arguments import temperature as celsius
from adapterlab.published import rows
from adapterlab.thermal.still_air import (
    air_properties,
    nusselt_horizontal_plate,
    nusselt_vertical_plate,
    radiation_heat_flow,
    rayleigh_number,
)

# What is usual of a case, by its name in the table of allowances.
USUAL: dict[str, float] = {
    row["name"].removeprefix("case."): row["usual"]
    for row in rows("allowances", "allowances")
    if row["name"].startswith("case.") and "usual" in row
}
COVERED = ("none", "back", "bottom")
HOTTEST_CASE = 150.0
_STOP = 200.0


@dataclass(frozen=True)
class HeatFlow:
    """What leaves a case by each way.

    Attributes
    ----------
    convection, radiation : float or numpy.ndarray
        Carried off by air, and radiated. [W]
    """

    convection: Numbers
    radiation: Numbers

    @property
    def total(self) -> Numbers:
        """Both together. [W]."""
        return self.convection + self.radiation


@dataclass(frozen=True)
class CaseTemperatures:
    """A sealed case in balance.

    Attributes
    ----------
    case : float or numpy.ndarray
        Outer surface, its mean. [°C]
    inner_air : float or numpy.ndarray
        Air inside, its mean. [°C]
    convection, radiation : float or numpy.ndarray
        What leaves by each way; together the loss. [W]
    """

    case: Numbers
    inner_air: Numbers
    convection: Numbers
    radiation: Numbers


@dataclass(frozen=True)
class _Faces:
    """Free areas of a box. [m²], and the lengths its correlations are for. [m]."""

    sides: Floats
    top: Floats
    bottom: Floats
    height: Floats
    flat_length: Floats

    @property
    def area(self) -> Floats:
        """All of them together. [m²]."""
        return self.sides + self.top + self.bottom


def _faces(height: ArrayLike, width: ArrayLike, depth: ArrayLike, covered: str) -> _Faces:
    high, wide, deep = (
        positive(name, value)
        for name, value in (("height", height), ("width", width), ("depth", depth))
    )
    one_of("covered", covered, COVERED)
    sides = 2 * high * (wide + deep) - (high * wide if covered == "back" else 0.0)
    flat = wide * deep
    return _Faces(
        np.asarray(sides),
        np.asarray(flat),
        np.zeros_like(flat) if covered == "bottom" else np.asarray(flat),
        high,
        np.asarray(flat / (2 * (wide + deep))),
    )


def free_area(
    height: ArrayLike, width: ArrayLike, depth: ArrayLike, *, covered: str = "none"
) -> Numbers:
    """Surface of a box that gives off heat.

    Parameters
    ----------
    height, width, depth : float or array_like
        Outer size as it stands. [m]  Must be > 0.
    covered : str, optional
        ``none``, ``back`` (one upright face, height by width, lies against a wall) or
        ``bottom`` (it stands on a table).

    Returns
    -------
    float or numpy.ndarray
        Area. [m²], broadcast shape

    Raises
    ------
    ValueError
        If a size is not above zero or the word is not known.

    References
    ----------
    Geometry.

    Examples
    --------
    >>> free_area(0.068, 0.062, 0.029) * 1e4
    159.7
    """
    return plain(_faces(height, width, depth, covered).area)


def _flow(faces: _Faces, warm: Floats, room: Floats, emissivity: Floats) -> HeatFlow:
    rise = warm - room
    air = air_properties((warm + room) / 2)
    tall = rayleigh_number(rise, faces.height, air)
    flat = rayleigh_number(rise, faces.flat_length, air)
    upright = nusselt_vertical_plate(tall, air.prandtl_number, laminar=bool(np.all(tall <= 1e9)))
    upright = upright * faces.sides / faces.height
    level = (
        nusselt_horizontal_plate(flat, "up", extended=True) * faces.top
        + nusselt_horizontal_plate(flat, "down", extended=True) * faces.bottom
    ) / faces.flat_length
    carried = (upright + level) * np.asarray(air.conductivity) * rise
    return HeatFlow(carried, radiation_heat_flow(faces.area, emissivity, warm, room))


def box_heat_flow(
    case_temperature: ArrayLike,
    ambient: ArrayLike,
    height: ArrayLike,
    width: ArrayLike,
    depth: ArrayLike,
    *,
    emissivity: ArrayLike = USUAL["emissivity"],
    covered: str = "none",
) -> HeatFlow:
    r"""Heat that leaves a box of even temperature into still air and a room.

    Parameters
    ----------
    case_temperature : float or array_like
        Of its surface. [°C]  At least `ambient`.
    ambient : float or array_like
        Air and walls of the room. [°C]
    height, width, depth : float or array_like
        Outer size as it stands. [m]  Must be > 0.
    emissivity : float or array_like, optional
        [1]  Above 0, at most 1.
    covered : str, optional
        As in `free_area`.

    Returns
    -------
    HeatFlow
        Convection and radiation. [W], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range or the box is cooler than the room.

    Notes
    -----
    Each face by its own correlation: upright ones as vertical plates, top and bottom as
    horizontal ones, stretched below their range where the box is small; all of them radiate to
    a room of one temperature. A free cube gives off about a quarter less to the air than its
    faces one by one, because the air that passes the sides comes warm from the bottom:
    ``transfer_factor`` of `case_temperatures` is there for that.

    References
    ----------
    Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, Example 9.3 (a duct, face by
    face) and Example 1.2 (radiation beside it).

    Examples
    --------
    >>> flow = box_heat_flow(57, 24, 0.068, 0.062, 0.029)
    >>> print(f"{flow.convection:.2f} W by air, {flow.radiation:.2f} W radiated")
    3.56 W by air, 3.33 W radiated
    """
    warm, room = celsius("case_temperature", case_temperature), celsius("ambient", ambient)
    if np.any(warm < room):
        raise ValueError(
            f"case_temperature must be at least ambient, {ambient!r} °C, got {case_temperature!r}"
        )
    faces = _faces(height, width, depth, covered)
    flow = _flow(faces, warm, room, fraction("emissivity", emissivity))
    return HeatFlow(plain(flow.convection), plain(flow.radiation))


def case_temperatures(
    loss_power: ArrayLike,
    ambient: ArrayLike,
    height: ArrayLike,
    width: ArrayLike,
    depth: ArrayLike,
    *,
    emissivity: ArrayLike = USUAL["emissivity"],
    covered: str = "none",
    transfer_factor: ArrayLike = USUAL["transfer_factor"],
    inner_transfer: ArrayLike = USUAL["inner_transfer"],
    wall_thickness: ArrayLike = USUAL["wall_thickness"],
    wall_conductivity: ArrayLike = USUAL["wall_conductivity"],
) -> CaseTemperatures:
    r"""Case and inner air of a sealed box that turns a power into heat.

    Parameters
    ----------
    loss_power : float or array_like
        Heat made inside. [W]  Must be >= 0.
    ambient : float or array_like
        Air and walls of the room. [°C]
    height, width, depth : float or array_like
        Outer size as it stands. [m]  Must be > 0.
    emissivity : float or array_like, optional
        [1]  Above 0, at most 1.
    covered : str, optional
        As in `free_area`.
    transfer_factor : float or array_like, optional
        Real over computed heat flow at the outside, as `transfer_factor` finds it. [1]
        Must be > 0.
    inner_transfer : float or array_like, optional
        Inner air to wall, radiation of the parts included. [W/(m²·K)]  Must be > 0.
    wall_thickness : float or array_like, optional
        [m]  Must be > 0.
    wall_conductivity : float or array_like, optional
        [W/(m·K)]  Must be > 0.

    Returns
    -------
    CaseTemperatures
        Temperatures [°C] and heat flows [W], broadcast shape.

    Raises
    ------
    ValueError
        If an argument is out of range, or the case would become hotter than 150 °C.

    Notes
    -----
    Three nodes: inner air, case, room. The case solves

    .. math:: P = f\,[Q_\text{conv}(T_c, T_a) + Q_\text{rad}(T_c, T_a)]

    and the air follows from

    .. math:: T_i = T_c + \frac{P}{A}\left(\frac{1}{h_i} + \frac{d}{k}\right)

    Solved by repeating :math:`\Delta T = P / U(\Delta T)`, which closes in by a factor of five
    each time, since U grows with about the fourth root. The whole surface counts as equally
    warm, so a hot spot over the transformer is warmer.

    References
    ----------
    Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, Examples 1.6 and 9.3.

    Examples
    --------
    >>> warm = case_temperatures(5.8, 24, 0.068, 0.062, 0.029)
    >>> print(f"case {warm.case:.1f} °C, inner air {warm.inner_air:.1f} °C")
    case 55.2 °C, inner air 83.0 °C
    """
    power, room, factor = np.broadcast_arrays(
        not_negative("loss_power", loss_power),
        celsius("ambient", ambient),
        positive("transfer_factor", transfer_factor),
    )
    faces, grey = _faces(height, width, depth, covered), fraction("emissivity", emissivity)
    # Half of what radiation alone would need is a fair start.
    slope = 4 * grey * constants.Stefan_Boltzmann * (room + constants.zero_Celsius) ** 3
    most = np.maximum(_STOP - room, 0.0)
    rise = np.minimum(power / (factor * slope * faces.area) / 2, most)
    for _ in range(24):
        rise = np.maximum(rise, 1e-6)
        leaving = _flow(faces, room + rise, room, grey)
        rise = np.minimum(power * rise / (factor * leaving.total), most)
    warm = np.asarray(room + rise)
    if np.any(warm > HOTTEST_CASE):
        raise ValueError(
            f"loss_power must leave the case at most {HOTTEST_CASE:g} °C hot, got {loss_power!r} W"
        )
    leaving = _flow(faces, warm, room, grey)
    film = 1 / positive("inner_transfer", inner_transfer)
    wall = positive("wall_thickness", wall_thickness) / positive(
        "wall_conductivity", wall_conductivity
    )
    return CaseTemperatures(
        plain(warm),
        plain(warm + power / faces.area * (film + wall)),
        plain(factor * leaving.convection),
        plain(factor * leaving.radiation),
    )


def fit_transfer_factor(
    loss_power: ArrayLike,
    case_temperature: ArrayLike,
    ambient: ArrayLike,
    height: ArrayLike,
    width: ArrayLike,
    depth: ArrayLike,
    *,
    emissivity: ArrayLike = USUAL["emissivity"],
    covered: str = "none",
) -> Numbers:
    r"""What a measured case temperature says of the computed heat flow.

    Parameters
    ----------
    loss_power : float or array_like
        Heat made inside. [W]  Must be > 0.
    case_temperature : float or array_like
        Measured on the case. [°C]  Above `ambient`.
    ambient : float or array_like
        Air and walls of the room. [°C]
    height, width, depth : float or array_like
        Outer size as it stands. [m]  Must be > 0.
    emissivity : float or array_like, optional
        [1]  Above 0, at most 1.
    covered : str, optional
        As in `free_area`.

    Returns
    -------
    float or numpy.ndarray
        Loss over computed heat flow: below 1 where the thermocouple sat on a hot spot or the case
        is hindered. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range or the case is not warmer than the room.

    Notes
    -----
    .. math:: f = P / Q(T_c, T_a)

    References
    ----------
    The balance of `case_temperatures`, solved for f.

    Examples
    --------
    >>> fit_transfer_factor(5.8, 57, 24, 0.068, 0.062, 0.029)
    0.84
    """
    if np.any(np.asarray(case_temperature, dtype=float) <= np.asarray(ambient, dtype=float)):
        raise ValueError(
            f"case_temperature must be above ambient, {ambient!r} °C, got {case_temperature!r}"
        )
    flow = box_heat_flow(
        case_temperature, ambient, height, width, depth, emissivity=emissivity, covered=covered
    )
    return plain(positive("loss_power", loss_power) / np.asarray(flow.total))


def wall_outer_temperature(
    inner_temperature: ArrayLike,
    ambient: ArrayLike,
    thickness: ArrayLike,
    conductivity: ArrayLike,
    heat_transfer: ArrayLike,
    *,
    emissivity: ArrayLike = USUAL["emissivity"],
) -> Numbers:
    r"""Outer temperature of a wall whose inner face is held warm.

    Parameters
    ----------
    inner_temperature : float or array_like
        Of the inner face. [°C]
    ambient : float or array_like
        Air and walls of the room. [°C]
    thickness : float or array_like
        [m]  Must be > 0.
    conductivity : float or array_like
        Of the wall. [W/(m·K)]  Must be > 0.
    heat_transfer : float or array_like
        Outside, by convection. [W/(m²·K)]  Must be >= 0.
    emissivity : float or array_like, optional
        [1]  Above 0, at most 1.

    Returns
    -------
    float or numpy.ndarray
        Temperature of the outer face. [°C], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    Conduction equals convection and radiation:

    .. math:: \frac{k}{d}(T_i - T_s) = h (T_s - T_a) + \varepsilon\sigma (T_s^4 - T_a^4)

    References
    ----------
    Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, Example 1.6.

    Examples
    --------
    >>> wall_outer_temperature(70, 25, 0.002, 0.2, 6)
    65.0
    """
    inside = celsius("inner_temperature", inner_temperature) + constants.zero_Celsius
    room = celsius("ambient", ambient) + constants.zero_Celsius
    along = positive("conductivity", conductivity) / positive("thickness", thickness)
    outside = not_negative("heat_transfer", heat_transfer)
    grey = fraction("emissivity", emissivity) * constants.Stefan_Boltzmann
    surface = np.asarray(inside + 0 * (room + along + outside + grey))
    # Newton from the warm side of a convex balance closes in without a step too far.
    surface = np.maximum(surface, room)
    for _ in range(30):
        balance = along * (surface - inside) + outside * (surface - room)
        balance = balance + grey * (surface**4 - room**4)
        surface = surface - balance / (along + outside + 4 * grey * surface**3)
    return plain(surface - constants.zero_Celsius)
