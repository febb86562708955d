"""How hot a case may be, by how long it is touched and against which ambient it is read."""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, one_of, plain, positive
from adapterlab.numerics.arguments import temperature as celsius
from adapterlab.published import rows

MATERIALS = ("metal", "glass", "plastic", "wood")


def touch_temperature_limit(
    contact_time: ArrayLike, material: str = "plastic", rule: str = "iec-62368-1"
) -> Numbers:
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
    IEC 62368-1, table 38 (table 37 in the fourth edition); IEC 60950-1:2005, table 4C
    (``published/insulation.toml``).

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
    table = rows("insulation", "touch_temperatures", material=material)
    steps = np.array([row["contact_time"] for row in table[:-1]])
    limits = np.array([row["temperature"] for row in table])
    return plain(limits[np.searchsorted(steps, time, side="left")])


def burn_threshold(contact_time: ArrayLike, material: str = "plastic") -> Numbers:
    """Surface temperature from which on skin is burnt.

    Parameters
    ----------
    contact_time : float or array_like
        How long it is touched. [s]  From 1 to 10 (touched by accident), or from 60 to 28 800
        (held on purpose).
    material : str, optional
        ``metal``, ``glass`` (ceramics and stone too), ``plastic`` or ``wood``.

    Returns
    -------
    float or numpy.ndarray
        Temperature. [°C], shape of `contact_time`

    Raises
    ------
    ValueError
        If a time lies outside both printed ranges or the material is not known.

    Notes
    -----
    Thresholds, from which committees set limits. Between the printed times it is interpolated
    over the logarithm of the time. Between 10 s and a minute nothing is printed.

    References
    ----------
    SanPiN 2.2.2.1327-03, appendix 1, tables 1 and 2; GB/T 18153-2000 (EN 563)
    (``published/insulation.toml``, table ``burns``).

    Examples
    --------
    >>> burn_threshold([1, 10, 60, 600], "metal")
    array([70., 59., 51., 48.])
    """
    one_of("material", material, MATERIALS)
    time = positive("contact_time", contact_time)
    found = np.full(time.shape, np.nan)
    for row in rows("insulation", "burns", material=material):
        steps = row["contact_times"]
        inside = (time >= steps[0]) & (time <= steps[-1])
        found[inside] = np.interp(np.log(time[inside]), np.log(steps), row["temperatures"])
    if np.any(np.isnan(found)):
        raise ValueError(f"contact_time must lie in [1, 10] or [60, 28800] s, got {contact_time!r}")
    return plain(found)


def temperature_at_ambient(
    temperature: ArrayLike, ambient: ArrayLike, reference_temperature: ArrayLike = 25.0
) -> Numbers:
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
