"""What heats a capacitor from within: ripple currents, their frequencies, and the rise they cause.

Currents: `rectifier_ripple_current`, `pulsed_ripple_current`, `frequency_multiplier`,
`equivalent_ripple_current`. Rise: `ripple_temperature_rise` from the rating,
`can_temperature_rise` from resistance and surface, with `can_surface`. Where a temperature was
taken: `surroundings_temperature`, `core_temperature`.
"""

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, finite, not_negative, one_of, plain, positive
from adapterlab.numerics.arguments import temperature as celsius
from adapterlab.published import rows

MULTIPLIER_TABLES = {row["name"]: row for row in rows("capacitor_life", "frequency_multipliers")}


def rectifier_ripple_current(
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    load_power: ArrayLike,
    bulk_capacitance: ArrayLike,
    conduction_time: ArrayLike,
) -> Numbers:
    r"""Ripple current of a bulk capacitor behind a bridge, for mains without impedance.

    Parameters
    ----------
    mains_voltage : float or array_like
        Rms voltage of the mains. [V]  Must be > 0.
    mains_frequency : float or array_like
        Frequency of the mains. [Hz]  Must be > 0.
    load_power : float or array_like
        Power drawn from the capacitor. [W]  Must be >= 0.
    bulk_capacitance : float or array_like
        Capacitance. [F]  Must be > 0.
    conduction_time : float or array_like
        How long the bridge conducts in each half period, up to the crest. [s]  Must be >= 0,
        at most a quarter period.

    Returns
    -------
    float or numpy.ndarray
        Rms current, at twice the frequency of the mains and its multiples. [A], broadcast shape

    Raises
    ------
    ValueError
        If an argument is out of range or the capacitor runs empty between two crests.

    Notes
    -----
    While the bridge conducts, the capacitor follows the sine; between times it feeds a load of
    constant power, so that the square of its voltage falls evenly:

    .. math::
        I^2 = 2f \left[\int_0^{t_c} (\omega C \hat V \sin\omega t)^2 dt
              + \frac{P C}{2} \ln\frac{\hat V^2}{\hat V^2 - 2P(T/2 - t_c)/C}\right]

    A bound from above: the resistance of mains, thermistor and capacitor spreads the charge
    over a longer time. In adapters the current is some 4 to 12 % less.

    References
    ----------
    Derived from the waveforms of Power Integrations, application note AN-17 (June 1996), p. 8;
    held against a time-domain model in the tests.

    Examples
    --------
    >>> rectifier_ripple_current(230, 50, 66, 107e-6, 1.05e-3)
    0.69
    """
    crest = np.sqrt(2) * positive("mains_voltage", mains_voltage)
    frequency = positive("mains_frequency", mains_frequency)
    power = not_negative("load_power", load_power)
    capacitance = positive("bulk_capacitance", bulk_capacitance)
    charging = not_negative("conduction_time", conduction_time)
    if np.any(charging > 0.25 / frequency):
        raise ValueError(
            f"conduction_time must be at most a quarter period of the mains, got "
            f"{conduction_time!r}"
        )
    fallen = crest**2 - 2 * power * (0.5 / frequency - charging) / capacitance
    if np.any(fallen <= 0):
        raise ValueError(
            f"bulk_capacitance must hold the load until the next crest: {bulk_capacitance!r} F "
            f"runs empty at {load_power!r} W"
        )
    omega = 2 * np.pi * frequency
    rising = charging / 2 - np.sin(2 * omega * charging) / (4 * omega)
    charged = (omega * capacitance * crest) ** 2 * rising
    given = power * capacitance / 2 * np.log(crest**2 / fallen)
    return plain(np.sqrt(2 * frequency * (charged + given)))


def pulsed_ripple_current(rms_current: ArrayLike, mean_current: ArrayLike) -> Numbers:
    r"""Ripple current of a capacitor that smooths a pulsed current into its mean.

    Parameters
    ----------
    rms_current : float or array_like
        Rms of the pulsed current. [A]  At least `mean_current`.
    mean_current : float or array_like
        Its mean, which flows on. [A]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Rms of what the capacitor takes. [A], broadcast shape

    Raises
    ------
    ValueError
        If the mean is negative or above the rms.

    Notes
    -----
    .. math:: I_C = \sqrt{I_\text{rms}^2 - I_\text{mean}^2}

    References
    ----------
    Definition of rms; Power Integrations, application note AN-17 (1996), output capacitor.

    Examples
    --------
    >>> pulsed_ripple_current(2.5, 2.0)
    1.5
    """
    pulsed, smooth = (
        not_negative("rms_current", rms_current),
        not_negative("mean_current", mean_current),
    )
    if np.any(smooth > pulsed * (1 + 1e-9)):
        raise ValueError(
            f"rms_current must be at least mean_current, got {rms_current!r} and {mean_current!r}"
        )
    return plain(np.sqrt(np.maximum(pulsed**2 - smooth**2, 0.0)))


def frequency_multiplier(frequency: ArrayLike, table: str) -> Numbers:
    """How much more ripple current a data sheet allows at a frequency.

    Parameters
    ----------
    frequency : float or array_like
        [Hz]  From 50; above the last column of the table its value holds on.
    table : str
        Name of a series in ``published/capacitor_life.toml``, table ``frequency_multipliers``.

    Returns
    -------
    float or numpy.ndarray
        Multiplier. [1], shape of `frequency`

    Raises
    ------
    ValueError
        If the table is not known or a frequency is below 50 Hz.

    Notes
    -----
    Between the columns the multiplier is drawn straight over the logarithm of the frequency.
    What is left of the resistance at some kilohertz hardly falls any more, hence the flat end.

    References
    ----------
    Vishay 048 RML, EYN and EYC data sheets (ripple current against frequency).

    Examples
    --------
    >>> frequency_multiplier([100, 85e3], "snap-in, long life")
    array([0.99, 1.18])
    """
    row = MULTIPLIER_TABLES[one_of("table", table, MULTIPLIER_TABLES)]
    hertz = positive("frequency", frequency)
    if np.any(hertz < row["frequency"][0]):
        raise ValueError(
            f"frequency must be at least {row['frequency'][0]:g} Hz, where the table begins, got "
            f"{frequency!r}"
        )
    return plain(np.interp(np.log(hertz), np.log(row["frequency"]), row["multiplier"]))


def can_surface(diameter: ArrayLike, height: ArrayLike) -> Numbers:
    r"""Surface of a can that gives off heat: its side and its top.

    Parameters
    ----------
    diameter : float or array_like
        [m]  Must be > 0.
    height : float or array_like
        [m]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Surface without the sealed end. [m²], broadcast shape

    Raises
    ------
    ValueError
        If a size is not above zero.

    References
    ----------
    Geometry: :math:`S = \pi d h + \pi d^2/4`.

    Examples
    --------
    >>> can_surface(0.0125, 0.025) * 1e4
    11.0
    """
    across = positive("diameter", diameter)
    return plain(np.pi * across * (positive("height", height) + across / 4))


def core_temperature(
    case_temperature: ArrayLike, ripple_rise: ArrayLike, core_to_case_ratio: ArrayLike = 1.0
) -> Numbers:
    r"""Temperature in the middle of a capacitor from that of its case.

    Parameters
    ----------
    case_temperature : float or array_like
        Temperature of the case. [°C]
    ripple_rise : float or array_like
        Rise of the core over the surroundings from ripple current. [K]  Must be >= 0.
    core_to_case_ratio : float or array_like, optional
        Rise of the core over rise of the case. [1]  Must be >= 1.

    Returns
    -------
    float or numpy.ndarray
        Temperature of the core. [°C], broadcast shape

    Raises
    ------
    ValueError
        If the rise is negative or the ratio is below 1.

    Notes
    -----
    .. math:: T_\text{core} = T_\text{case} + r\,(1 - 1/\alpha)

    References
    ----------
    Rubycon, letter 'Lifetime calculation formula of aluminum electrolytic capacitors'.

    Examples
    --------
    >>> core_temperature(66, 6, 1.2)
    67.0
    """
    around = surroundings_temperature(case_temperature, ripple_rise, core_to_case_ratio)
    return plain(around + np.asarray(ripple_rise, dtype=float))


def equivalent_ripple_current(currents: ArrayLike, multipliers: ArrayLike) -> Numbers:
    r"""Ripple current at the rated frequency that heats like several at others.

    Parameters
    ----------
    currents : array_like
        Rms current at each frequency. [A], shape (..., frequencies)  Must be >= 0.
    multipliers : array_like
        Frequency multiplier of each, as in the data sheet. [1], shape (..., frequencies)
        Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Equivalent rms current. [A], shape without the last axis

    Raises
    ------
    ValueError
        If a current is negative, a multiplier is not above zero, or there is no frequency axis.

    Notes
    -----
    .. math:: I = \sqrt{\sum_n (I_n / k_n)^2}

    Series resistance falls with frequency, so a data sheet allows more current there by the
    multiplier :math:`k_n`.

    References
    ----------
    'Life of Alum Caps' (a capacitor maker's technical note), chapter 4, equations 4.1 to 4.6.

    Examples
    --------
    0.4 A at 120 Hz and 0.9 A at 100 kHz:

    >>> equivalent_ripple_current([0.4, 0.9], [1.0, 1.5])
    0.7211
    """
    parts = not_negative("currents", currents) / positive("multipliers", multipliers)
    if parts.ndim == 0:
        raise ValueError(f"currents must be a list, one for each frequency, got {currents!r}")
    return plain(np.sqrt((parts**2).sum(axis=-1)))


def ripple_temperature_rise(
    ripple_current: ArrayLike, rated_ripple_current: ArrayLike, rated_ripple_rise: ArrayLike
) -> Numbers:
    r"""Rise of a capacitor's core over its surroundings, from its ripple rating.

    Parameters
    ----------
    ripple_current : float or array_like
        Rms ripple current, as equivalent at the rated frequency. [A]  Must be >= 0.
    rated_ripple_current : float or array_like
        Rated ripple current. [A]  Must be > 0.
    rated_ripple_rise : float or array_like
        Rise at rated ripple current. [K]  Must be >= 0.

    Returns
    -------
    float or numpy.ndarray
        Rise. [K], broadcast shape

    Raises
    ------
    ValueError
        If a current or the rated rise is out of range.

    Notes
    -----
    Losses go with the square of the current: :math:`r = r_0 (I/I_0)^2`.

    References
    ----------
    Rubycon, letter 'Lifetime calculation formula of aluminum electrolytic capacitors', 1-3.

    Examples
    --------
    >>> ripple_temperature_rise(0.37, 0.62, 5)
    1.781
    """
    share = not_negative("ripple_current", ripple_current) / positive(
        "rated_ripple_current", rated_ripple_current
    )
    return plain(not_negative("rated_ripple_rise", rated_ripple_rise) * share**2)


def can_temperature_rise(
    ripple_current: ArrayLike,
    series_resistance: ArrayLike,
    surface_area: ArrayLike,
    *,
    heat_transfer: ArrayLike | None = None,
) -> Numbers:
    r"""Rise of a capacitor's case over its surroundings, from its losses and surface.

    Parameters
    ----------
    ripple_current : float or array_like
        Rms ripple current. [A]  Must be >= 0.
    series_resistance : float or array_like
        Equivalent series resistance at the frequency and temperature in use. [ohm]  Must be
        >= 0.
    surface_area : float or array_like
        Surface of the can, without the sealed end. [m²]  Must be > 0.
    heat_transfer : float or array_like, optional
        Heat-transfer coefficient. [W/(m²·K)]  Must be > 0. From the surface if not given.

    Returns
    -------
    float or numpy.ndarray
        Rise of the case. [K], broadcast shape. The core rises by more, see
        `surroundings_temperature`.

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    .. math:: \Delta T = \frac{I^2 R}{\beta S}

    In still air with nothing hot nearby the maker gives
    :math:`\beta = 2.3\cdot10^{-3}\, S^{-0.2}` in W/(K·cm²) with S in cm².

    References
    ----------
    DB Lectro CN1A100KC data sheet, p. 13. 'Life of Alum Caps' (a capacitor maker's technical
    note), chapter 4, equations 4.1 to 4.6 and table 4-2.

    Examples
    --------
    >>> can_temperature_rise(0.5, 0.2, 10e-4)
    3.445
    """
    surface = positive("surface_area", surface_area)
    if heat_transfer is None:
        # In the maker's unit, W/(K·cm²) and cm², and from there to W/(K·m²).
        heat_transfer = 2.3e-3 * (surface * 1e4) ** -0.2 * 1e4
    loss = not_negative("ripple_current", ripple_current) ** 2 * not_negative(
        "series_resistance", series_resistance
    )
    return plain(loss / (positive("heat_transfer", heat_transfer) * surface))


def surroundings_temperature(
    case_temperature: ArrayLike, ripple_rise: ArrayLike, core_to_case_ratio: ArrayLike = 1.0
) -> Numbers:
    r"""Temperature around a capacitor from that of its case.

    Parameters
    ----------
    case_temperature : float or array_like
        Temperature of the case, as a thermocouple on it reads. [°C]
    ripple_rise : float or array_like
        Rise of the core over the surroundings from ripple current. [K]  Must be >= 0.
    core_to_case_ratio : float or array_like, optional
        Rise of the core over rise of the case. [1]  Must be >= 1; 1.0 up to 8 mm of diameter,
        1.6 at 35 mm (``published/capacitor_life.toml``, table ``core_to_case``).

    Returns
    -------
    float or numpy.ndarray
        Temperature of the surroundings. [°C], broadcast shape

    Raises
    ------
    ValueError
        If the rise is negative or the ratio is below 1.

    Notes
    -----
    .. math:: T = T_\text{case} - r/\alpha

    References
    ----------
    Rubycon, letter 'Lifetime calculation formula of aluminum electrolytic capacitors'.

    Examples
    --------
    >>> surroundings_temperature(66, 1.8, 1.2)
    64.5
    """
    ratio = finite("core_to_case_ratio", core_to_case_ratio)
    if np.any(ratio < 1):
        raise ValueError(f"core_to_case_ratio must be at least 1, got {core_to_case_ratio!r}")
    case = celsius("case_temperature", case_temperature)
    return plain(case - not_negative("ripple_rise", ripple_rise) / ratio)
