"""How hot a case may be, by how long it is touched and against which ambient it is read."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import one_of, plain, positive
from adapterlab.numerics.arguments import temperature as celsius
from adapterlab.published import rows

MATERIALS = ("metal", "glass", "plastic", "wood")


def touch_temperature_limit(
    contact_time: ArrayLike, material: str = "plastic", rule: str = "iec-62368-1"
) -> Any:
    """Highest temperature of a part that may be touched.

    Parameters
    ----------
    contact_time : float or array_like
        How long it is touched. [s]  Must be > 0.
    material : str, optional
        ``metal``, ``glass``, ``plastic`` or ``wood`` (no figure for wood in IEC 60950-1).
    rule : str, optional
        ``iec-62368-1`` (class TS1, for anybody; steps with the contact time, an ambient of
        25 °C) or ``iec-60950-1`` (one figure for a surface that may be touched).

    Returns
    -------
    float or numpy.ndarray
        Temperature. [°C], shape of `contact_time`

    Raises
    ------
    ValueError
        If a word is not known, the rule has no such material, or a time is not above zero.

    References
    ----------
    IEC 62368-1, table 38; IEC 60950-1:2005, table 4C (``published/insulation.toml``).

    Examples
    --------
    >>> touch_temperature_limit([0.5, 5, 3600])
    array([94., 77., 48.])
    """
    one_of("rule", rule, ("iec-62368-1", "iec-60950-1"))
    time = positive("contact_time", contact_time)
    if rule == "iec-60950-1":
        one_of("material", material, MATERIALS[:3])
        row = rows("insulation", "touch_rises", material=material)[0]
        return plain(np.full(time.shape, row["temperature"]))
    one_of("material", material, MATERIALS)
    table = rows("insulation", "touch_temperatures")
    steps = np.array([row["contact_time"] for row in table[:-1]])
    limits = np.array([row[material] for row in table])
    return plain(limits[np.searchsorted(steps, time, side="left")])


def burn_threshold(contact_time: ArrayLike, material: str = "plastic") -> Any:
    """Surface temperature from which on skin is burnt.

    Parameters
    ----------
    contact_time : float or array_like
        How long it is touched. [s]  From 1 to 300.
    material : str, optional
        ``metal``, ``glass`` or ``plastic``.

    Returns
    -------
    float or numpy.ndarray
        Temperature. [°C], shape of `contact_time`

    Raises
    ------
    ValueError
        If a time lies outside the published range or the material is not known.

    Notes
    -----
    Between the printed times it is interpolated over the logarithm of the time. For parts that
    are held, the same text allows 20 K less.

    References
    ----------
    ``published/insulation.toml``, table ``burns``.

    Examples
    --------
    >>> burn_threshold([1, 10, 300], "metal")
    array([68., 57., 49.])
    """
    one_of("material", material, MATERIALS[:3])
    table = rows("insulation", "burns")
    steps = np.array([row["contact_time"] for row in table])
    time = positive("contact_time", contact_time)
    if np.any((time < steps[0]) | (time > steps[-1])):
        raise ValueError(
            f"contact_time must lie in [{steps[0]:g}, {steps[-1]:g}] s, got {contact_time!r}"
        )
    return plain(np.interp(np.log(time), np.log(steps), [row[material] for row in table]))


def temperature_at_ambient(
    temperature: ArrayLike, ambient: ArrayLike, reference_temperature: ArrayLike = 25.0
) -> Any:
    """Temperature a case would have in another ambient.

    Parameters
    ----------
    temperature : float or array_like
        Temperature as read. [°C]
    ambient : float or array_like
        Temperature of the air when it was read. [°C]
    reference_temperature : float or array_like, optional
        Temperature of the air to which it is moved. [°C]

    Returns
    -------
    float or numpy.ndarray
        Temperature. [°C], broadcast shape

    Raises
    ------
    ValueError
        If a temperature lies below absolute zero.

    Notes
    -----
    The rise over the ambient is taken as the same; in truth it shrinks by a few per cent for
    each 10 K of warmer air, so the result errs on the warm side. IEC 62368-1 compares at 25 °C,
    whatever the maximum ambient; IEC 60950-1 compares at the maximum ambient.

    References
    ----------
    IEC 60950-1:2005, 1.4.12 (definitions); that the rise counts is common practice.

    Examples
    --------
    >>> temperature_at_ambient(57.0, 24.0)
    58.0
    """
    moved = celsius("temperature", temperature) - celsius("ambient", ambient)
    return plain(moved + celsius("reference_temperature", reference_temperature))
