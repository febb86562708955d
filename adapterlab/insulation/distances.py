"""Distances that keep the mains away from a hand.

Through air: `required_clearance`. Along a surface: `required_creepage`. At high frequency:
`high_frequency_distances`. Distances in metres.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.insulation.air import altitude_factor
from adapterlab.numerics.arguments import Floats, Numbers, not_negative, one_of, plain, positive
from adapterlab.published import Row, rows

INSULATIONS = ("functional", "basic", "supplementary", "reinforced")
RULES = ("iec-62368-1", "iec-60950-1")
MATERIAL_GROUPS = ("I", "II", "IIIa", "IIIb")
POLLUTION_DEGREES = (1, 2, 3)
_MILLIMETRE = 1e-3


def _column(table: list[Row], name: str) -> Floats:
    return np.array([row[name] for row in table], dtype=float)


def _within(name: str, value: Floats, highest: float, unit: str) -> None:
    if np.any(value > highest):
        raise ValueError(f"{name} must be at most {highest:g} {unit}, got {value.max():g}")


def _between_rows(value: Floats, steps: Floats, distances: Floats) -> Floats:
    """Distance at `value`, in millimetres: between two rows interpolated and rounded up.

    Rounded up to 0.1 mm, but never beyond the next row, which holds for this value too.
    """
    above = np.searchsorted(steps, value, side="left")
    interpolated = np.interp(value, steps, distances)
    rounded = np.ceil(interpolated * 10 - 1e-6) / 10
    exact = np.isin(value, steps) | (above == 0)
    return np.where(exact, interpolated, np.minimum(rounded, distances[above]))


def _clearance_62368(voltage: Floats, withstand: Floats, doubled: bool) -> Floats:
    table = rows("insulation", "clearances")
    impulse = _between_rows(
        withstand,
        _column(table, "withstand_voltage"),
        _column(table, "reinforced" if doubled else "basic"),
    )
    steady = rows("insulation", "peak_clearances")[0]
    steps = np.array(steady["peak_voltages"])
    _within("peak_voltage", voltage, steps[-1], "V")
    factor = steady["reinforced_factor"] if doubled else 1.0
    return np.maximum(
        impulse, factor * _between_rows(voltage, steps, np.array(steady["distances"]))
    )


def _clearance_60950(voltage: Floats, withstand: Floats, insulation: str) -> Floats:
    table = rows("insulation", "clearances_60950", insulation=insulation)
    transients = _column(table, "withstand_voltage")
    if not np.all(np.isin(withstand, transients)):
        names = " or ".join(f"{value:g} V" for value in transients)
        raise ValueError(
            f"withstand_voltage must be {names} for {insulation} insulation, "
            f"got {withstand.max():g}"
        )
    extra = rows("insulation", "additional_clearances")
    kind = "reinforced" if insulation == "reinforced" else "basic"
    result = np.zeros(voltage.shape)
    for row in table:
        grows = row is table[0] and insulation != "functional"
        steps = np.append(row["peak_voltage"], _column(extra, "peak_voltage") if grows else [])
        added = np.append(0.0, _column(extra, kind))
        alike = withstand == row["withstand_voltage"]
        _within("peak_voltage", voltage[alike], steps[-1], f"V for {insulation} insulation")
        place = np.minimum(np.searchsorted(steps, voltage), len(steps) - 1)
        result = np.where(alike, row["distance"] + added[place], result)
    return result


def required_clearance(
    peak_voltage: ArrayLike,
    insulation: str,
    *,
    withstand_voltage: ArrayLike = 2500.0,
    temporary_overvoltage: ArrayLike = 0.0,
    altitude: ArrayLike = 0.0,
    rule: str = "iec-62368-1",
) -> Numbers:
    """Shortest way through air that a published rule allows.

    Parameters
    ----------
    peak_voltage : float or array_like
        Peak of the working voltage. [V]  Must be > 0.
    insulation : str
        ``functional``, ``basic``, ``supplementary`` or ``reinforced``.
    withstand_voltage : float or array_like, optional
        Peak of the impulse to be withstood, as `mains_transient` gives it. [V]
    temporary_overvoltage : float or array_like, optional
        Peak of the overvoltage that the mains may carry for seconds, as
        `adapterlab.insulation.temporary_overvoltage` gives it; 0 for functional insulation,
        which it does not stress, and for IEC 60950-1, which has none. [V]
    altitude : float or array_like, optional
        Height above sea level at which it is used. [m]
    rule : str, optional
        ``iec-62368-1`` (the larger of what the impulse asks for and what the larger of peak
        working voltage and temporary overvoltage asks for) or ``iec-60950-1`` (one
        figure for the mains transient, and an addition where the peak working voltage exceeds the
        mains peak of 420 V).

    Returns
    -------
    float or numpy.ndarray
        Clearance. [m], broadcast shape

    Raises
    ------
    ValueError
        If a word is not known, a number out of range, or no figure is published for the case.

    Notes
    -----
    Pollution degree 2, uneven field. Between two rows of IEC 62368-1 the distance is
    interpolated and rounded up to 0.1 mm; in IEC 60950-1 the next higher row counts, as test
    laboratories apply it. Above 2000 m the distance is multiplied by `altitude_factor`. Functional
    insulation is taken like basic one. Frequencies up to 30 kHz; above that see
    `high_frequency_distances`.

    References
    ----------
    IEC 62368-1, tables 10 and 14; IEC 60664-1:2007, tables F.2 and F.7; IEC 60950-1:2005, tables
    2K and 2L (``published/insulation.toml``).

    Examples
    --------
    >>> required_clearance(420, "reinforced") * 1e3
    3.0

    On a mains of 120 V the impulse asks for 1.0 mm, and the temporary overvoltage for more:

    >>> required_clearance(
    ...     170, "reinforced", withstand_voltage=1500, temporary_overvoltage=2000) * 1e3
    2.54
    >>> required_clearance([420, 428, 530], "reinforced", rule="iec-60950-1") * 1e3
    array([4. , 4.2, 4.4])
    """
    one_of("insulation", insulation, INSULATIONS)
    one_of("rule", rule, RULES)
    voltage, withstand, swell, factor = np.broadcast_arrays(
        positive("peak_voltage", peak_voltage),
        positive("withstand_voltage", withstand_voltage),
        not_negative("temporary_overvoltage", temporary_overvoltage),
        altitude_factor(altitude),
    )
    if rule == "iec-60950-1":
        if np.any(swell > 0):
            raise ValueError(
                f"temporary_overvoltage must be 0 for {rule}, got {temporary_overvoltage!r}"
            )
        distance = _clearance_60950(voltage, withstand, insulation)
    else:
        highest = rows("insulation", "clearances")[-1]["withstand_voltage"]
        _within("withstand_voltage", withstand, highest, "V")
        distance = _clearance_62368(
            np.maximum(voltage, swell), withstand, insulation == "reinforced"
        )
    return plain(distance * factor * _MILLIMETRE)


def required_creepage(
    working_voltage: ArrayLike,
    insulation: str,
    pollution_degree: int = 2,
    material_group: str = "IIIa",
    *,
    clearance: ArrayLike = 0.0,
) -> Numbers:
    """Shortest way along a surface that the published table allows.

    Parameters
    ----------
    working_voltage : float or array_like
        Rms of the working voltage. [V]  Above 0, at most 1000.
    insulation : str
        ``functional``, ``basic``, ``supplementary`` or ``reinforced``.
    pollution_degree : int, optional
        1 (sealed), 2 (home and office) or 3 (conductive dust or dew). [1]
    material_group : str, optional
        How well the surface resists tracking: ``I``, ``II``, ``IIIa`` or ``IIIb``. A board of
        unknown make counts as ``IIIa``, ``IIIb`` has the same figures.
    clearance : float or array_like, optional
        Clearance required at the same place, below which no creepage may lie. [m]

    Returns
    -------
    float or numpy.ndarray
        Creepage distance. [m], broadcast shape

    Raises
    ------
    ValueError
        If a word is not known, or a number out of range.

    Notes
    -----
    Between two rows the basic distance is interpolated and rounded up to 0.1 mm (but not beyond
    the next row), and only then doubled for reinforced insulation: 2.5 mm at 250 V and 3.2 mm at
    320 V give 2.81, rounded up 2.9, doubled 5.8 mm at 281 V. Below the first row that row counts.
    Functional and supplementary insulation are taken like basic one.

    References
    ----------
    IEC 60664-1:2007, table F.4; IEC 60950-1:2005, table 2N and 2.10.4.3.

    Examples
    --------
    >>> required_creepage([250, 281], "reinforced") * 1e3
    array([5. , 5.8])
    """
    one_of("insulation", insulation, INSULATIONS)
    one_of("material_group", material_group, MATERIAL_GROUPS)
    voltage = positive("working_voltage", working_voltage)
    smallest = not_negative("clearance", clearance)
    row = creepage_row(pollution_degree, material_group)
    steps = np.array(row["working_voltages"])
    _within("working_voltage", voltage, steps[-1], "V")
    distance = _between_rows(voltage, steps, np.array(row["distances"]))
    doubled = 2 if insulation == "reinforced" else 1
    return plain(np.maximum(distance * doubled * _MILLIMETRE, smallest))


def creepage_row(pollution_degree: int, material_group: str) -> Row:
    """Published row of basic creepage distances for a surface and its surroundings.

    Parameters
    ----------
    pollution_degree : int
        As in `required_creepage`. [1]
    material_group : str
        As in `required_creepage`.

    Returns
    -------
    dict
        ``working_voltages`` [V], ``distances`` [mm], ``two`` and ``one`` (the voltages at which two
        reproductions, or one, agree) [V], ``source`` and ``known``.

    Raises
    ------
    ValueError
        If the degree or the group is not known.

    References
    ----------
    ``published/insulation.toml``, table ``creepages``.

    Examples
    --------
    >>> creepage_row(2, "IIIa")["two"]
    [250.0, 320.0]
    """
    one_of("material_group", material_group, MATERIAL_GROUPS)
    if isinstance(pollution_degree, bool) or pollution_degree not in POLLUTION_DEGREES:
        raise ValueError(f"pollution_degree must be one of 1, 2, 3, got {pollution_degree!r}")
    group = "any" if pollution_degree == 1 else material_group.rstrip("ab")
    found = rows("insulation", "creepages", pollution_degree=pollution_degree, material_group=group)
    return found[0]


@dataclass(frozen=True)
class HighFrequencyDistances:
    """What a voltage of tens of kilohertz asks for by itself.

    Attributes
    ----------
    clearance : float or numpy.ndarray
        Through air. [m], shape of the voltage
    creepage : float or numpy.ndarray
        Along a surface. [m], same shape
    """

    clearance: Numbers
    creepage: Numbers


def high_frequency_distances(
    peak_voltage: ArrayLike, insulation: str, frequency: float, pollution_degree: int = 2
) -> HighFrequencyDistances:
    """Distances for a working voltage above 30 kHz, such as a transformer's.

    Parameters
    ----------
    peak_voltage : float or array_like
        Peak of the working voltage. [V]  Above 0, at most 1000.
    insulation : str
        ``functional``, ``basic``, ``supplementary`` or ``reinforced``.
    frequency : float
        Its frequency. [Hz]  Above 30 kHz, at most 200 kHz.
    pollution_degree : int, optional
        As in `required_creepage`. [1]

    Returns
    -------
    HighFrequencyDistances
        Both distances. [m]

    Raises
    ------
    ValueError
        If a word is not known, or a number out of range.

    Notes
    -----
    They come beside what `required_clearance` and `required_creepage` ask for at mains
    frequency, and the largest counts. For the few hundred volts of an adapter they are the
    smaller ones by far.

    References
    ----------
    IEC 60664-4:2005, tables 1 and 2; IEC 62368-1, table 11 (``published/insulation.toml``).

    Examples
    --------
    >>> high_frequency_distances(500, "reinforced", 64e3).clearance * 1e3
    0.2
    """
    one_of("insulation", insulation, INSULATIONS)
    creepage_row(pollution_degree, "IIIa")
    voltage = positive("peak_voltage", peak_voltage)
    rate = float(positive("frequency", frequency))
    air = rows("insulation", "high_frequency_clearances")[0]
    surfaces = rows("insulation", "high_frequency_creepages")
    highest = surfaces[-1]["highest_frequency"]
    if not 30e3 < rate <= highest:
        raise ValueError(f"frequency must be above 30000 and at most {highest:g} Hz, got {rate!r}")
    surface = next(row for row in surfaces if rate <= row["highest_frequency"])
    steps = np.array(surface["peak_voltages"])
    _within("peak_voltage", voltage, steps[-1], "V")
    doubled = 2 if insulation == "reinforced" else 1
    through = _between_rows(
        voltage, np.array(air["peak_voltages"]), air["margin"] * np.array(air["distances"])
    )
    along = np.interp(voltage, steps, surface["distances"])
    along = along * surface["pollution_factors"][pollution_degree - 1]
    scale = doubled * _MILLIMETRE
    return HighFrequencyDistances(plain(through * scale), plain(np.maximum(along, through) * scale))
