"""Parts that stand between the mains and the converter, and what they take.

Fuse: `pulse_fraction`, `fuse_pulses`. Line capacitor: `discharge_time`, `discharge_voltage`,
`bleed_loss`. Varistor: `varistor_voltage`, `varistor_surge`.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln

from adapterlab._args import finite, not_negative, plain, positive
from adapterlab.published import rows


def _chart() -> tuple[list[float], list[float]]:
    """Numbers of pulses and the share of the melting I²t allowed for each."""
    table = rows("inrush", "fuse_pulses")
    return [row["pulses"] for row in table], [row["fraction"] for row in table]


def pulse_fraction(pulses: ArrayLike) -> Any:
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


def fuse_pulses(i_squared_t: ArrayLike, melting: ArrayLike) -> Any:
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


def discharge_time(
    capacitance: ArrayLike,
    resistance: ArrayLike,
    start_voltage: ArrayLike,
    end_voltage: ArrayLike,
) -> Any:
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
) -> Any:
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


def bleed_loss(mains_voltage: ArrayLike, resistance: ArrayLike) -> Any:
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


def varistor_voltage(
    current: ArrayLike, marked_voltage: ArrayLike, exponent: ArrayLike = 0.04
) -> Any:
    r"""Voltage of a varistor at a surge current.

    Parameters
    ----------
    current : float or array_like
        Current. [A]  Must be > 0.
    marked_voltage : float or array_like
        Voltage at 1 mA, as marked. [V]  Must be > 0.
    exponent : float or array_like, optional
        How steep the curve is. [1]  Above 0, below 1.

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
    .. math:: v = V_{1\,\mathrm{mA}} \left(\frac{i}{1\,\mathrm{mA}}\right)^\beta

    A power law holds over some decades; at hundreds of amperes the resistance of the grains adds
    to it. One further point of the data sheet sets the exponent: see `varistor_exponent`.

    References
    ----------
    Form of the law in makers' data books (SIOV data book, p. 37 on); the exponent 0.04 is a
    declared example, no part's figure.

    Examples
    --------
    >>> varistor_voltage(100, 430)
    681.5
    """
    steep = positive("exponent", exponent)
    if np.any(steep >= 1):
        raise ValueError(f"exponent must be below 1, got {exponent!r}")
    marked = positive("marked_voltage", marked_voltage)
    return plain(marked * (positive("current", current) / 1e-3) ** steep)


def varistor_exponent(
    clamping_voltage: ArrayLike, clamping_current: ArrayLike, marked_voltage: ArrayLike
) -> Any:
    r"""Exponent of `varistor_voltage` from the clamping point of a data sheet.

    Parameters
    ----------
    clamping_voltage, clamping_current : float or array_like
        Highest voltage [V] at a surge current [A], above the marked voltage and 1 mA.
    marked_voltage : float or array_like
        Voltage at 1 mA, as marked. [V]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Exponent. [1], broadcast shape

    Raises
    ------
    ValueError
        If the clamping point does not lie above the marked one.

    Notes
    -----
    .. math:: \beta = \ln(V_c/V_{1\,\mathrm{mA}}) / \ln(I_c/1\,\mathrm{mA})

    References
    ----------
    The power law through two points.

    Examples
    --------
    >>> varistor_exponent(710, 50, 430)
    0.0463
    """
    ratio = positive("clamping_voltage", clamping_voltage) / positive(
        "marked_voltage", marked_voltage
    )
    decades = positive("clamping_current", clamping_current) / 1e-3
    if np.any(ratio <= 1) or np.any(decades <= 1):
        raise ValueError(
            "clamping_voltage and clamping_current must lie above marked_voltage and 1 mA, got "
            f"{clamping_voltage!r} and {clamping_current!r}"
        )
    return plain(np.log(ratio) / np.log(decades))


@dataclass(frozen=True)
class VaristorSurge:
    """What a varistor does with one surge of a combination-wave generator.

    Attributes
    ----------
    current, voltage : float or numpy.ndarray
        At the top of the surge, where the load line meets its curve. [A], [V]
    energy : float or numpy.ndarray
        Turned into heat in it. [J]
    """

    current: Any
    voltage: Any
    energy: Any


def varistor_surge(
    open_voltage: ArrayLike,
    marked_voltage: ArrayLike,
    exponent: ArrayLike = 0.04,
    *,
    source_resistance: ArrayLike = 2.0,
) -> VaristorSurge:
    r"""Current, clamping voltage and energy of a varistor in a combination-wave surge.

    Parameters
    ----------
    open_voltage : float or array_like
        Peak voltage of the generator without load. [V]  Must be > 0.
    marked_voltage, exponent : float or array_like
        As in `varistor_voltage`. [V], [1]
    source_resistance : float or array_like, optional
        Open voltage over short-circuit current of the generator. [ohm]  Must be > 0.

    Returns
    -------
    VaristorSurge
        The figures.

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    Load line: :math:`V_o = v(i) + R i`, one root, by Newton's method. The current of a wave
    8/20 is scaled to that peak, and the energy is that of the law along it:

    .. math:: i \propto t^3 e^{-t/\tau}, \quad W = \int v\,i\,dt
              = \hat v\,\hat i\,\tau\,\frac{e^{3p}\,\Gamma(3p+1)}{3^{3p}\,p^{3p+1}},
              \quad p = 1 + \beta

    The mains under the surge is left out. For the highest voltage take the marked value at its
    upper tolerance, for the largest current at its lower.

    References
    ----------
    Load line: SIOV data book of a maker (Siemens Matsushita), p. 43. Wave: IEC 61000-4-5, 1.2/50
    and 8/20 µs, 2 ohm; its form and time constant in ``published/inrush.toml``.

    Examples
    --------
    >>> surge = varistor_surge(2000, 430)
    >>> print(f"{surge.current:.0f} A, {surge.voltage:.0f} V, {surge.energy:.1f} J")
    633 A, 734 V, 7.9 J
    """
    source = positive("open_voltage", open_voltage)
    series = positive("source_resistance", source_resistance)
    marked, steep = positive("marked_voltage", marked_voltage), finite("exponent", exponent)
    # Newton from the right on a rising, hollow curve over the logarithm of the current.
    logarithm = np.log(source / series) + 0.0 * varistor_voltage(1.0, marked, steep)
    for _ in range(100):
        amperes = np.exp(logarithm)
        volts = varistor_voltage(amperes, marked, steep)
        above = volts + series * amperes - source
        logarithm = logarithm - above / (steep * volts + series * amperes)
    peak = np.exp(logarithm)
    clamped = varistor_voltage(peak, marked, steep)
    power = 1 + steep
    length = np.exp(3 * power + gammaln(3 * power + 1))
    length = length / 3 ** (3 * power) / power ** (3 * power + 1)
    wave = rows("inrush", "combination_wave")[0]
    return VaristorSurge(
        plain(peak), plain(clamped), plain(clamped * peak * length * wave["time_constant"])
    )
