"""Parts that stand between the mains and the converter, and what they take.

Fuse: `pulse_fraction`, `fuse_pulses`, `fuse_melting_range`. Line capacitor: `discharge_time`,
`discharge_voltage`, `bleed_loss`. The varistor has a file of its own.
"""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, one_of, plain, positive
from adapterlab.published import rows


def _chart() -> tuple[list[float], list[float]]:
    """Numbers of pulses and the share of the melting I²t allowed for each."""
    table = rows("inrush", "fuse_pulses")
    return [row["pulses"] for row in table], [row["fraction"] for row in table]


def pulse_fraction(pulses: ArrayLike) -> Numbers:
    """Share of a fuse's melting I²t that it stands as often as told.

    Parameters
    ----------
    pulses : float or array_like
        How often, with time to cool in between. [1]  From 100 to 100 000.

    Returns
    -------
    float or numpy.ndarray
        Allowed pulse I²t over melting I²t. [1], shape of `pulses`

    Raises
    ------
    ValueError
        If `pulses` lies outside the published range.

    Notes
    -----
    Between the published points it is interpolated over the logarithm of the number. One
    maker's figures; makers differ.

    References
    ----------
    ``published/inrush.toml``, table ``fuse_pulses``.

    Examples
    --------
    >>> pulse_fraction(10_000)
    0.29
    """
    known, shares = _chart()
    number = positive("pulses", pulses)
    if np.any((number < known[0]) | (number > known[-1])):
        raise ValueError(f"pulses must lie from {known[0]} to {known[-1]}, got {pulses!r}")
    return plain(np.interp(np.log10(number), np.log10(known), shares))


def fuse_pulses(i_squared_t: ArrayLike, melting: ArrayLike) -> Numbers:
    """How many pulses of an I²t a fuse stands: `pulse_fraction` turned round.

    Parameters
    ----------
    i_squared_t : float or array_like
        I²t of each pulse. [A²s]  Must be > 0.
    melting : float or array_like
        I²t at which the fuse melts. [A²s]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Number of pulses, at most 100 000, where the published chart ends. [1]

    Raises
    ------
    ValueError
        If an argument is not above zero, or the pulse is larger than the chart covers.

    Notes
    -----
    As `pulse_fraction`.

    References
    ----------
    ``published/inrush.toml``, table ``fuse_pulses``.

    Examples
    --------
    A third of the melting figure, several thousand times:

    >>> fuse_pulses(1.0, 3.0)
    3300.0
    """
    known, shares = _chart()
    share = positive("i_squared_t", i_squared_t) / positive("melting", melting)
    if np.any(share > shares[0]):
        raise ValueError(
            f"i_squared_t must be at most {shares[0]:g} of the melting figure, where the chart "
            f"begins, got {i_squared_t!r} of {melting!r}"
        )
    return plain(10 ** np.interp(share, shares[::-1], np.log10(known[::-1])))


def fuse_melting_range(rated_current: ArrayLike, sheet: str = "3") -> tuple[Numbers, Numbers]:
    r"""Range in which the melting I²t of a time-lag fuse lies by its standard.

    Parameters
    ----------
    rated_current : float or array_like
        Rated current of the fuse. [A]  Must be > 0.
    sheet : str, optional
        Standard sheet of IEC 60127-2: ``3``, glass, or ``5``, ceramic up to 3.15 A.

    Returns
    -------
    tuple of float or numpy.ndarray
        Lowest and highest I²t. [A²s]

    Raises
    ------
    ValueError
        If the current is not above zero or the sheet is another one.

    Notes
    -----
    At ten times its rated current it must melt within a shortest and a longest time:
    :math:`(10 I_n)^2 t`. At so short times hardly any heat leaves the wire.

    References
    ----------
    ``published/inrush.toml``, table ``fuse_gates``.

    Examples
    --------
    >>> fuse_melting_range(2.0)
    (8.0, 120.0)
    """
    row = rows("inrush", "fuse_gates", sheet=one_of("sheet", sheet, ("3", "5")))[0]
    squared = (row["multiple"] * positive("rated_current", rated_current)) ** 2
    return plain(squared * row["shortest"]), plain(squared * row["longest"])


def fuse_breaking_capacity(rated_current: ArrayLike, letter: str = "L") -> Numbers:
    """Highest current that a miniature fuse must open at its rated voltage.

    Parameters
    ----------
    rated_current : float or array_like
        Rated current of the fuse. [A]  Must be > 0.
    letter : str, optional
        Letter of its breaking capacity: ``L``, low, or ``H``, high.

    Returns
    -------
    float or numpy.ndarray
        Current, rms. [A]

    Raises
    ------
    ValueError
        If the current is not above zero or the letter is another one.

    References
    ----------
    ``published/inrush.toml``, table ``breaking_capacity``.

    Examples
    --------
    >>> fuse_breaking_capacity([1.6, 6.3])
    array([35., 63.])
    """
    known = [row["letter"] for row in rows("inrush", "breaking_capacity")]
    row = rows("inrush", "breaking_capacity", letter=one_of("letter", letter, known))[0]
    rated = positive("rated_current", rated_current)
    return plain(np.maximum(row["least"], row["multiple"] * rated))


def charged_capacitor_limit(capacitance: ArrayLike, level: str = "ES1") -> Numbers:
    """Peak voltage that a capacitor may hold within a class of energy source.

    Parameters
    ----------
    capacitance : float or array_like
        Capacitance, its tolerance added. [F]  Must be > 0.
    level : str, optional
        ``ES1``, for anyone to touch, or ``ES2``.

    Returns
    -------
    float or numpy.ndarray
        Peak voltage. [V]

    Raises
    ------
    ValueError
        If the capacitance is not above zero or the class is another one.

    Notes
    -----
    Between the published points it is interpolated over the capacitance, as the table asks.

    References
    ----------
    IEC 62368-1, table 5, as reproduced: ``published/inrush.toml``, table ``charged_capacitor``.

    Examples
    --------
    >>> charged_capacitor_limit([100e-9, 330e-9])
    array([97.15, 60.  ])
    """
    column = one_of("level", level, ("ES1", "ES2"))
    table = rows("inrush", "charged_capacitor")[::-1]
    points, volts = [row["capacitance"] for row in table], [row[column] for row in table]
    return plain(np.interp(positive("capacitance", capacitance), points, volts))


def discharge_time(
    capacitance: ArrayLike,
    resistance: ArrayLike,
    start_voltage: ArrayLike,
    end_voltage: ArrayLike,
) -> Numbers:
    r"""Time a capacitor takes to run down through a resistor.

    Parameters
    ----------
    capacitance, resistance : float or array_like
        Capacitance [F] and the resistance across it [ohm]. Must be > 0.
    start_voltage, end_voltage : float or array_like
        Voltage at the start and at the end. [V]  Above 0, the end at most the start.

    Returns
    -------
    float or numpy.ndarray
        Time. [s], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero or the end voltage exceeds the start voltage.

    Notes
    -----
    .. math:: t = RC \ln(V_1/V_2)

    Nothing else may be connected: a meter's own resistance shortens the time.

    References
    ----------
    The inverse of :math:`e^{-t/RC}`; IEC 60950-1, 2.1.1.7 asks for 37 % after 1 s.

    Examples
    --------
    A line capacitor of 0.33 µF with 1.5 Mohm, from the crest of 264 V to 60 V:

    >>> discharge_time(0.33e-6, 1.5e6, 373, 60)
    0.905
    """
    constant = positive("resistance", resistance) * positive("capacitance", capacitance)
    start, end = positive("start_voltage", start_voltage), positive("end_voltage", end_voltage)
    if np.any(end > start):
        raise ValueError(
            f"end_voltage must be at most start_voltage, got {end_voltage!r} and {start_voltage!r}"
        )
    return plain(constant * np.log(start / end))


def discharge_voltage(
    time: ArrayLike,
    capacitance: ArrayLike,
    resistance: ArrayLike,
    start_voltage: ArrayLike,
    *,
    probe_resistance: ArrayLike | None = None,
) -> Numbers:
    r"""Voltage of a line capacitor some time after the plug was pulled.

    Parameters
    ----------
    time : float or array_like
        Time since then. [s]  Must be >= 0.
    capacitance, resistance : float or array_like
        Capacitance [F] and the resistance across it [ohm]. Must be > 0.
    start_voltage : float or array_like
        Voltage when the plug was pulled, at worst the crest of the mains. [V]  Must be > 0.
    probe_resistance : float or array_like, optional
        Resistance of the probe that looks, in parallel. [ohm]  Must be > 0; none by default.

    Returns
    -------
    float or numpy.ndarray
        Voltage. [V], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: v = V_0\,e^{-t/RC}, \quad 1/R = 1/R_b + 1/R_p

    References
    ----------
    IEC 60950-1, 2.1.1.7 asks for an instrument of 100 Mohm.

    Examples
    --------
    0.1 µF without a resistor seems to run down, but through the probe of 10 Mohm:

    >>> discharge_voltage([1, 2], 0.1e-6, 1e9, 325, probe_resistance=10e6)
    array([118.4, 43.1])
    """
    conductance = 1 / positive("resistance", resistance)
    if probe_resistance is not None:
        conductance = conductance + 1 / positive("probe_resistance", probe_resistance)
    constant = positive("capacitance", capacitance) / conductance
    start = positive("start_voltage", start_voltage)
    return plain(start * np.exp(-not_negative("time", time) / constant))


def bleed_loss(mains_voltage: ArrayLike, resistance: ArrayLike) -> Numbers:
    r"""Power that a discharge resistor burns all the time the adapter is plugged in.

    Parameters
    ----------
    mains_voltage : float or array_like
        Rms voltage of the mains. [V]  Must be > 0.
    resistance : float or array_like
        The resistor, or several in series. [ohm]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: P = V^2/R

    References
    ----------
    Ohm's law; a maker's table of power saved in ``tests/test_inrush_parts.py``.

    Examples
    --------
    >>> bleed_loss(230, 1e6) * 1e3
    52.9
    """
    return plain(positive("mains_voltage", mains_voltage) ** 2 / positive("resistance", resistance))
