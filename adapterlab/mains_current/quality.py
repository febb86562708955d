"""Power, power factor and harmonics of a captured mains voltage and current."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Complexes, Floats, Numbers, not_negative
from adapterlab.numerics.capture import Whole, clipping, even, frequency_of, whole_periods

ORDERS = 40
# Share of the peak above which the current counts as flowing.
_FLOWING = 0.05
_STATED = 2e-3


@dataclass(frozen=True)
class PowerQuality:
    """What a capture of mains voltage and current amounts to, over whole periods.

    Attributes
    ----------
    mains_voltage : float
        Rms voltage. [V]
    mains_frequency : float
        Frequency, from the voltage. [Hz]
    rising_zero : float
        First time at which the fundamental of the voltage rises through zero. [s]
    periods : int
        Whole periods used. [1]
    input_current_rms, input_current_peak : float
        Rms current, and mean of the peaks of all half periods. [A]
    input_power, apparent_power : float
        Real power, and rms volts times rms amperes. [W], [VA]
    power_factor : float
        Real over apparent power. [1]
    displacement_factor : float
        Cosine of the angle between the fundamentals of voltage and current. [1]
    displacement_angle : float
        That angle; positive if the current lags. [degrees]
    distortion_factor : float
        Fundamental over rms current. [1]
    total_harmonic_distortion : float
        Rms of all that is not fundamental over the fundamental, of the current. [1]
    voltage_distortion : float
        The same of the voltage, orders 2 to 40. [1]
    product_gap : float
        Power factor less displacement times distortion factor; 0 on a sinusoidal voltage. [1]
    current_crest_factor, voltage_crest_factor : float
        Peak over rms. [1]
    conduction_angle : float
        For how much of each half period the current exceeds 5 % of its peak. [degrees]
    harmonic_currents, harmonic_voltages : numpy.ndarray
        Rms of orders 1 to 40; index 0 is the fundamental. [A], [V], shape (40,)
    voltage_offset, current_offset : float
        Means that were taken off. [V], [A]
    standard_uncertainty : dict of str to float
        Of ``mains_voltage``, ``input_current_rms``, ``input_current_peak``, ``input_power``,
        ``power_factor`` and ``total_harmonic_distortion``: instruments as told, and scatter from
        period to period where there are at least two. [unit of the quantity]
    corrections : tuple of str
        What was done to the capture before it was used, in words; empty if nothing.
    """

    mains_voltage: float
    mains_frequency: float
    rising_zero: float
    periods: int
    input_current_rms: float
    input_current_peak: float
    input_power: float
    apparent_power: float
    power_factor: float
    displacement_factor: float
    displacement_angle: float
    distortion_factor: float
    total_harmonic_distortion: float
    voltage_distortion: float
    product_gap: float
    current_crest_factor: float
    voltage_crest_factor: float
    conduction_angle: float
    harmonic_currents: Floats
    harmonic_voltages: Floats
    voltage_offset: float
    current_offset: float
    standard_uncertainty: dict[str, float]
    corrections: tuple[str, ...]


def _spectrum(whole: Whole, values: Floats) -> Complexes:
    """Complex rms of orders 1 to 40."""
    turn = np.exp(-1j * whole.angle)
    wave = values * whole.window
    found = np.empty(ORDERS, dtype=complex)
    for order in range(ORDERS):
        wave = wave * turn
        found[order] = np.sqrt(2) * wave.sum()
    return found


def _refuse_swapped(volts: Complexes, amperes: Complexes, voltage_rms: float, rms: float) -> None:
    """Raise where the channels look exchanged: a sine as current, pulses as voltage."""
    harmonics = [
        float(np.sqrt((np.abs(lines[1:]) ** 2).sum()) / np.abs(lines[0]))
        for lines in (volts, amperes)
    ]
    by_shape = harmonics[0] > 0.3 and harmonics[1] < 0.5 * harmonics[0]
    by_size = voltage_rms < 30 and rms > 60
    if by_shape or by_size:
        raise ValueError(
            f"voltage and current look swapped: the voltage has {voltage_rms:.3g} V rms and "
            f"{harmonics[0]:.0%} harmonics, the current {rms:.3g} A rms and {harmonics[1]:.0%}"
        )


def _peaks(whole: Whole, values: Floats) -> float:
    """Mean of the highest magnitudes of all half periods."""
    half = np.minimum((whole.angle / np.pi).astype(int), 2 * whole.periods - 1)
    highest = np.zeros(2 * whole.periods)
    np.maximum.at(highest, half, np.abs(values))
    return float(highest.mean())


def power_quality(
    time: ArrayLike,
    voltage: ArrayLike,
    current: ArrayLike,
    *,
    voltage_gain_uncertainty: float = 0.0,
    current_gain_uncertainty: float = 0.0,
    delay_uncertainty: float = 0.0,
    flatness_uncertainty: float = 0.0,
) -> PowerQuality:
    r"""Power, power factor and harmonics of a capture.

    Parameters
    ----------
    time : array_like
        Time of each sample, rising. [s], shape (n,), at least 90 samples in each period
    voltage, current : array_like
        Mains voltage and current. [V], [A], shape (n,), at least one period
    voltage_gain_uncertainty, current_gain_uncertainty : float, optional
        Relative standard uncertainty of each channel's gain. [1]
    delay_uncertainty : float, optional
        Standard uncertainty of the delay of one channel against the other. [s]
    flatness_uncertainty : float, optional
        Relative standard uncertainty of the current channel's gain at the harmonics against that
        at the fundamental. [1]

    Returns
    -------
    PowerQuality
        All figures, their uncertainty, and what was corrected.

    Raises
    ------
    ValueError
        If the capture is shorter than one period, sampled too slowly for order 40, clipped, has a
        gap, holds no alternating voltage or no current, or has its channels swapped.

    Notes
    -----
    The frequency comes from a fit of fundamental and harmonics to the voltage; all integrals run
    over the largest whole number of periods, harmonics through a Hann window of that length, so
    that a capture of a broken number of periods smears nothing. Corrected and stated: a mean of
    either channel is taken off, uneven time steps are evened out, a current that flows backwards
    is turned round.

    .. math:: P = \overline{v\,i}, \quad \mathrm{PF} = \frac{P}{V I}, \quad
              \mathrm{THD} = \frac{\sqrt{I^2 - I_1^2}}{I_1}

    Errors of gain cancel in the power factor and in the distortion, but for what differs between
    the fundamental and the harmonics; a delay :math:`\delta` moves the power by
    :math:`\omega\delta\tan\varphi_1` of itself.

    References
    ----------
    IEEE 1459 for the terms (from memory); Batarseh and Harb, Power Electronics, equations 3.57 to
    3.59; IEC 61000-4-7 for synchronised windows (from memory).

    Examples
    --------
    A current of two harmonics, 2.3 periods long:

    >>> time = np.arange(920) * 50e-6
    >>> angle = 2 * np.pi * 50 * time
    >>> current = np.sin(angle) + 0.5 * np.sin(3 * angle)
    >>> found = power_quality(time, 325.3 * np.sin(angle), current)
    >>> print(f"{found.power_factor:.4f}, {found.harmonic_currents[2] * 2**0.5:.4f} A")
    0.8944, 0.5000 A
    """
    moments, volts, flow, notes = even(time, voltage, current)
    frequency = frequency_of(moments, volts)
    for name, values in (("voltage", volts), ("current", flow)):
        if clipping(values):
            raise ValueError(
                f"{name} looks clipped: its extreme value repeats far too often; take a larger "
                "range and capture again"
            )
    whole = whole_periods(moments, frequency)
    volts, flow = volts[: whole.count], flow[: whole.count]
    offsets = []
    for name, values, unit in (("voltage", volts, "V"), ("current", flow, "A")):
        offset = float((values * whole.weights).sum())
        rest = float(np.sqrt(((values - offset) ** 2 * whole.weights).sum()))
        if rest <= 1e-9 * max(abs(offset), 1e-300):
            raise ValueError(f"{name} does not alternate, got {offset!r} throughout")
        if abs(offset) > _STATED * rest:
            shown = f"{offset:.3g} {unit}" if abs(offset) >= 1 else f"{offset * 1e3:.3g} m{unit}"
            notes.append(f"a mean of {shown} was taken off the {name}")
        offsets.append(offset)
    volts, flow = volts - offsets[0], flow - offsets[1]
    power = float((volts * flow * whole.weights).sum())
    if power < 0:
        notes.append("the current flowed backwards; it was turned round")
        flow, power = -flow, -power
    lines = [_spectrum(whole, values) for values in (volts, flow)]
    rms_volts, rms = (float(np.sqrt((values**2 * whole.weights).sum())) for values in (volts, flow))
    _refuse_swapped(lines[0], lines[1], rms_volts, rms)
    harmonic_volts, harmonics = np.abs(lines[0]), np.abs(lines[1])
    fundamental = min(float(harmonics[0]), rms)
    angle = float(np.angle(lines[0][0] * np.conj(lines[1][0]), deg=True))
    peaks = [_peaks(whole, values) for values in (volts, flow)]
    factor = power / (rms_volts * rms)
    share = fundamental / rms
    shift = float(np.cos(np.radians(angle)))
    return PowerQuality(
        mains_voltage=rms_volts,
        mains_frequency=frequency,
        rising_zero=float(moments[0])
        + float(-np.pi / 2 - np.angle(lines[0][0])) % (2 * np.pi) / (2 * np.pi * frequency),
        periods=whole.periods,
        input_current_rms=rms,
        input_current_peak=peaks[1],
        input_power=power,
        apparent_power=rms_volts * rms,
        power_factor=factor,
        displacement_factor=shift,
        displacement_angle=angle,
        distortion_factor=share,
        total_harmonic_distortion=float(np.sqrt(rms**2 - fundamental**2)) / fundamental,
        voltage_distortion=float(np.sqrt((harmonic_volts[1:] ** 2).sum()) / harmonic_volts[0]),
        product_gap=factor - shift * share,
        current_crest_factor=peaks[1] / rms,
        voltage_crest_factor=peaks[0] / rms_volts,
        conduction_angle=180.0 * float(whole.weights[np.abs(flow) > _FLOWING * peaks[1]].sum()),
        harmonic_currents=harmonics,
        harmonic_voltages=harmonic_volts,
        voltage_offset=offsets[0],
        current_offset=offsets[1],
        standard_uncertainty=_uncertainty(
            whole,
            volts,
            flow,
            (voltage_gain_uncertainty, current_gain_uncertainty),
            2 * np.pi * frequency * float(not_negative("delay_uncertainty", delay_uncertainty))
            * abs(np.tan(np.radians(angle))),
            float(not_negative("flatness_uncertainty", flatness_uncertainty)),
        ),
        corrections=tuple(notes),
    )  # fmt: skip


def _uncertainty(
    whole: Whole,
    volts: Floats,
    flow: Floats,
    gains: tuple[float, float],
    delay: float,
    flatness: float,
) -> dict[str, float]:
    """Standard uncertainties: gains, delay, flatness, and the scatter from period to period."""
    by_volts = float(not_negative("voltage_gain_uncertainty", gains[0]))
    by_current = float(not_negative("current_gain_uncertainty", gains[1]))
    turns = np.minimum((whole.angle / (2 * np.pi)).astype(int), whole.periods - 1)

    def each(values: Floats) -> Numbers:
        sums = np.bincount(turns, values * whole.weights, whole.periods)
        return sums / np.bincount(turns, whole.weights, whole.periods)

    rms_volts, rms, power = np.sqrt(each(volts**2)), np.sqrt(each(flow**2)), each(volts * flow)
    peak = np.zeros(whole.periods)
    np.maximum.at(peak, turns, np.abs(flow))
    first = np.exp(-1j * whole.angle)
    fundamental = np.sqrt(2) * np.hypot(each(flow * first.real), each(flow * first.imag))
    thd = np.sqrt(np.maximum(rms**2 - fundamental**2, 0.0)) / fundamental
    table = {
        "mains_voltage": (rms_volts, by_volts),
        "input_current_rms": (rms, by_current),
        "input_current_peak": (peak, by_current),
        "input_power": (power, float(np.sqrt(by_volts**2 + by_current**2 + delay**2))),
        "power_factor": (power / (rms_volts * rms), delay),
        "total_harmonic_distortion": (thd, flatness),
    }
    found = {}
    for name, (values, relative) in table.items():
        scatter = float(values.std(ddof=1)) / np.sqrt(len(values)) if len(values) > 1 else 0.0
        found[name] = float(np.hypot(scatter, relative * float(values.mean())))
    return found
