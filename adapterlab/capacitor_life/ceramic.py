"""What is left of a ceramic capacitor's capacitance: code, voltage, age.

`dielectric_class` reads a class-2 code, `ceramic_capacitance_under_bias` and
`aged_ceramic_capacitance` give what voltage and time leave. Nothing in such a part dries out.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, finite, not_negative, plain, positive
from adapterlab.published import rows


@dataclass(frozen=True)
class DielectricClass:
    """What a class-2 code promises.

    Attributes
    ----------
    lowest_temperature, highest_temperature : float
        Range. [°C]
    least_change, largest_change : float
        Change of capacitance within it, from that at 25 °C and without voltage. [1]
    """

    lowest_temperature: float
    highest_temperature: float
    least_change: float
    largest_change: float


def dielectric_class(code: str) -> DielectricClass:
    """Meaning of a class-2 or class-3 ceramic code such as X7R.

    Parameters
    ----------
    code : str
        Letter, digit, letter.

    Returns
    -------
    DielectricClass
        Range of temperature and change of capacitance.

    Raises
    ------
    ValueError
        If the code is not one; class-1 codes such as C0G are another system.

    Notes
    -----
    The code says nothing about voltage: a part within 15 % over temperature may lose most of its
    capacitance at its rated voltage.

    References
    ----------
    TI SLAA701B, table 1-16; Holy Stone general introduction to multilayer ceramic capacitors,
    p. 53 (EIA-198 designations).

    Examples
    --------
    >>> dielectric_class("X7R")  # doctest: +NORMALIZE_WHITESPACE
    DielectricClass(lowest_temperature=-55.0, highest_temperature=125.0,
                    least_change=-0.15, largest_change=0.15)
    """
    low, high, change = (
        rows("capacitor_life", f"dielectric_{name}")[0] for name in ("lowest", "highest", "change")
    )
    text = code.strip().upper() if isinstance(code, str) else ""
    if len(text) != 3 or any(
        letter not in row["code"] for letter, row in zip(text, (low, high, change), strict=True)
    ):
        raise ValueError(
            f"code must be a class-2 code: one of {', '.join(low['code'])}, then "
            f"{', '.join(high['code'])}, then {', '.join(change['code'])}; got {code!r}"
        )
    first, second, third = (
        row["code"].index(letter) for letter, row in zip(text, (low, high, change), strict=True)
    )
    return DielectricClass(
        float(low["temperature"][first]),
        float(high["temperature"][second]),
        change["least"][third],
        change["largest"][third],
    )


def ceramic_capacitance_under_bias(
    capacitance: ArrayLike, voltage: ArrayLike, half_voltage: ArrayLike
) -> Numbers:
    r"""Capacitance of a class-2 ceramic capacitor with a steady voltage across it.

    Parameters
    ----------
    capacitance : float or array_like
        Without voltage. [F]  Must be > 0.
    voltage : float or array_like
        Steady voltage, of either sign. [V]
    half_voltage : float or array_like
        Voltage at which half is left, from the maker's curve. [V]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Capacitance for small signals. [F], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    A field lines up the dipoles of the ceramic, and what is lined up cannot follow a small signal:

    .. math:: C = C_0 \left[1 + 7 (V/V_{1/2})^2\right]^{-1/3}

    One parameter for a curve that makers print; it fits to a tenth or so, and runs on beyond the
    printed voltages no better than any curve.

    References
    ----------
    K. M. Johnson, J. Appl. Phys. 33 (1962), 2826 (from memory), written with the voltage of one
    half.

    Examples
    --------
    >>> ceramic_capacitance_under_bias(10e-6, [0, 12, 24], 12) * 1e6
    array([10.  ,  5.  ,  3.26])
    """
    ratio = finite("voltage", voltage) / positive("half_voltage", half_voltage)
    return plain(positive("capacitance", capacitance) * (1 + 7 * ratio**2) ** (-1 / 3))


def aged_ceramic_capacitance(
    capacitance: ArrayLike,
    ageing_rate: ArrayLike,
    time: ArrayLike,
    reference_time: ArrayLike = 1.0,
) -> Numbers:
    r"""Capacitance of a class-2 ceramic capacitor some time after it was last hot.

    Parameters
    ----------
    capacitance : float or array_like
        At the reference time. [F]  Must be > 0.
    ageing_rate : float or array_like
        Share lost for each tenfold of time. [1]  Must be >= 0.
    time : float or array_like
        Since it was last heated above its Curie point, about 125 °C. [h]  At least
        `reference_time`.
    reference_time : float or array_like, optional
        When the capacitance was measured. [h]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Capacitance. [F], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range or nothing would be left.

    Notes
    -----
    .. math:: C = C_1\,[1 - a \log_{10}(t/t_1)]

    As much is lost from the first hour to the tenth as from the first year to the tenth. Soldering
    sets the clock back.

    References
    ----------
    Johanson Dielectrics, 'Ceramic capacitor aging made simple'; rates in
    ``published/capacitor_life.toml``, table ``ceramic_ageing``.

    Examples
    --------
    >>> aged_ceramic_capacitance(10e-6, 0.025, [10, 1000, 87600]) * 1e6
    array([9.75 , 9.25 , 8.764])
    """
    start = positive("reference_time", reference_time)
    now = positive("time", time)
    if np.any(now < start):
        raise ValueError(
            f"time must be at least reference_time, {reference_time!r} h, got {time!r}"
        )
    left = 1 - not_negative("ageing_rate", ageing_rate) * np.log10(now / start)
    if np.any(left <= 0):
        raise ValueError(
            f"ageing_rate must leave something of the capacitance, got {ageing_rate!r}"
        )
    return plain(positive("capacitance", capacitance) * left)
