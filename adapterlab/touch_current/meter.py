"""What other meters see across the barrier: a plain voltmeter, and switching-frequency currents.

`open_circuit_voltage`: the volts a meter shows on metal that nothing earths.
`switching_current`: the common-mode current of the converter, before and behind the network.
`series_capacitance`: two or more capacitors in a row.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import (
    Complexes,
    Floats,
    Numbers,
    finite,
    fraction,
    not_negative,
    plain,
    positive,
)
from adapterlab.touch_current.network import BODY, network_response
from adapterlab.touch_current.rail import Circuit, change, circuit

_POINTS, _PASSES = 1440, 40
# Beyond this resistance the board's own leakage decides, and the periodic state takes hours. [ohm]
_HIGHEST_RESISTANCE = 1e11
# The network and its voltmeter are specified up to here. [Hz]
_HIGHEST_FREQUENCY = 1e6


def series_capacitance(capacitances: ArrayLike) -> Numbers:
    r"""Capacitance of several capacitors in series.

    Parameters
    ----------
    capacitances : array_like
        Their capacitances. [F], shape (..., parts)  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Capacitance. [F], shape (...)

    Raises
    ------
    ValueError
        If a capacitance is not above zero or there is none.

    Notes
    -----
    .. math:: 1/C = \sum_i 1/C_i

    Each carries the same charge, so the smaller one carries the larger voltage. If one of two
    equal ones fails as a short circuit, the current doubles; with one alone, the barrier is gone.

    References
    ----------
    Horowitz and Hill, The Art of Electronics, 1.4.1 (from memory).

    Examples
    --------
    >>> series_capacitance([1.5e-9, 1.5e-9]) * 1e9
    0.75
    """
    parts = np.atleast_1d(positive("capacitances", capacitances))
    if parts.shape[-1] == 0:
        raise ValueError(f"capacitances must hold at least one value, got {capacitances!r}")
    return plain(1 / (1 / parts).sum(axis=-1))


def _one_period(
    solved: Circuit, rail: Floats, output: Floats, keep: Floats, gain: Floats
) -> tuple[Floats, Floats, Floats]:
    """Implicit steps through one period: rail and output at its end, and the output all along.

    With the touched part's charge balance ``output' = keep output + gain (source' - source)``
    and the floating rail's ``rail' = rail + push + pull (output' - output)``.
    """
    moved = np.moveaxis(change(solved.other_source), -1, 0)
    push = np.moveaxis(np.broadcast_to(solved.push, solved.live.shape), -1, 0)
    low = np.moveaxis(np.minimum(solved.low, solved.high), -1, 0)
    high = np.moveaxis(solved.high, -1, 0)
    pull, share = solved.pull[..., 0], solved.from_rail[..., 0]
    stiffness = 1 / (1 - pull * gain * share)
    trace = np.empty((len(push), *output.shape))
    for index in range(len(push)):
        rest = gain * moved[index] + keep * output
        free = rail + (pull * (rest - output) + push[index]) * stiffness
        after = np.minimum(np.maximum(free, low[index]), high[index])
        output = rest + gain * share * (after - rail)
        rail = after
        trace[index] = output
    return rail, output, trace


def open_circuit_voltage(
    capacitance: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    rail: str = "bridge-with-reservoir",
    *,
    meter_resistance: ArrayLike = 10e6,
    meter_capacitance: ArrayLike = 0.0,
    polarity: str = "a",
    bulk_capacitance: ArrayLike | None = None,
    load_power: ArrayLike = 0.0,
    bridge_drop: ArrayLike = 0.0,
    diode_capacitance: ArrayLike = 0.0,
    interwinding_capacitance: ArrayLike = 0.0,
    stray_capacitance: ArrayLike = 0.0,
) -> Numbers:
    r"""Rms voltage that a voltmeter shows between the touched part and earth.

    Parameters
    ----------
    capacitance, mains_voltage, mains_frequency, rail : float or array_like, str
        As in `rail_waveform`. [F], [V], [Hz]
    meter_resistance : float or array_like, optional
        Input resistance of the meter. [ohm]  Must be > 0.
    meter_capacitance : float or array_like, optional
        Its input capacitance, leads included. [F]
    polarity, bulk_capacitance, load_power, bridge_drop : optional
        As in `rail_waveform`. [F], [W], [V]
    diode_capacitance, interwinding_capacitance, stray_capacitance : optional
        As in `rail_waveform`. [F]

    Returns
    -------
    float or numpy.ndarray
        True rms of the voltage at the meter. [V], broadcast shape

    Raises
    ------
    ValueError
        As in `rail_waveform`, or if the meter's resistance is not above zero or above
        100 gigohm.

    Notes
    -----
    A capacitor of a nanofarad is 2 to 3 megohm at mains frequency, so the meter loads what it
    measures, and the charge it draws decides when the floating rail meets its diodes. Stepped
    implicitly through one period, which a secant search repeats until end and start agree; good
    to 0.3 %. The volts say little about the current a body would draw: touch current is that.

    References
    ----------
    Held against a circuit simulator in ``tests/test_touch_current_rail.py``.

    Examples
    --------
    >>> print(f"{open_circuit_voltage(1.5e-9, 230, 50):.0f} V")
    95 V
    """
    solved = circuit(
        capacitance, mains_voltage, mains_frequency, rail, _POINTS,
        polarity=polarity, bulk_capacitance=bulk_capacitance, load_power=load_power,
        bridge_drop=bridge_drop, diode_capacitance=diode_capacitance,
        interwinding_capacitance=interwinding_capacitance,
        stray_capacitance=stray_capacitance,
    )  # fmt: skip
    coupling = solved.coupling[..., 0]
    inside = coupling + not_negative("meter_capacitance", meter_capacitance)
    resistance = positive("meter_resistance", meter_resistance)
    if np.any(resistance > _HIGHEST_RESISTANCE):
        raise ValueError(f"meter_resistance must be at most 100 gigohm, got {meter_resistance!r}")
    leaking = solved.period / _POINTS / resistance
    total = inside + leaking
    shape = np.broadcast_shapes(solved.live.shape[:-1], total.shape)
    keep, gain = np.broadcast_to(inside / total, shape), np.broadcast_to(coupling / total, shape)
    negative = np.broadcast_to(solved.held_rail(np.zeros_like(solved.live))[..., -1], shape)
    output = np.zeros(shape)
    crest = np.abs(solved.live).max()
    # What a period leaves to go is as small a share of the whole way as it leaks of the charge.
    small = crest * np.clip(1e-6 * _POINTS * leaking / inside, 1e-11, 1e-6)
    before = error_before = None
    for _ in range(_PASSES):
        negative, end, trace = _one_period(solved, negative, output, keep, gain)
        error = end - output
        if np.all(np.abs(error) < small):
            break
        following = end
        if before is not None and error_before is not None:
            slope = error - error_before
            usable = np.abs(slope) > 1e-14 * crest
            secant = output - error * (output - before) / np.where(usable, slope, 1.0)
            following = np.where(usable, secant, end)
        before, error_before, output = output, error, following
    return plain(trace.std(axis=0))


@dataclass(frozen=True)
class SwitchingCurrent:
    """Switching-frequency current through the body network.

    Attributes
    ----------
    rms : float or numpy.ndarray
        True current. [A], broadcast shape
    unweighted : float or numpy.ndarray
        Rms that the unweighted network (U1 over 500 ohm) shows. [A], same shape
    weighted : float or numpy.ndarray
        Rms that the weighted network (U2 over 500 ohm) shows. [A], same shape
    """

    rms: Numbers
    unweighted: Numbers
    weighted: Numbers


def switching_current(
    interwinding_capacitance: ArrayLike,
    barrier_capacitance: ArrayLike,
    switching_voltage: ArrayLike,
    switching_frequency: ArrayLike,
    duty_cycle: ArrayLike = 0.5,
) -> SwitchingCurrent:
    r"""Current that the switching converter drives through its windings into a body.

    Parameters
    ----------
    interwinding_capacitance : float or array_like
        Capacitance between the windings that is not screened or balanced out. [F]  Must be > 0.
    barrier_capacitance : float or array_like
        Capacitance across the barrier that leads the current back. [F]  Must be >= 0.
    switching_voltage : float or array_like
        Peak-to-peak voltage across that capacitance: the switch's swing, averaged along the
        winding (half of it for one even layer). [V]  Must be > 0.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0, at most 1 MHz.
    duty_cycle : float or array_like, optional
        Share of the period at the upper level. [1]  Above 0, below 1.

    Returns
    -------
    SwitchingCurrent
        True, unweighted and weighted rms. [A]

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    The windings' capacitance :math:`C_w` injects a rectangular voltage V; the barrier capacitor
    C leads most of the current back to the primary, the rest flows through the body network Z:

    .. math:: I_n = \frac{\omega_n C_w V_n}{|1 + j\omega_n (C + C_w) Z_n|}, \quad
              V_n = \frac{\sqrt 2\, V}{n\pi} |\sin(n\pi D)|

    over all harmonics up to 1 MHz, where the network's specification ends. The primary counts
    as earthed at these frequencies, and rising edges as sudden, so this is an upper bound. Not
    a measure of emission, which is read at the mains with a network of its own.

    References
    ----------
    Network: IEC 60990:2016, figure 4. Spectrum of a rectangular wave: its Fourier series.

    Examples
    --------
    A few picofarads that nothing balances show up unweighted only:

    >>> noise = switching_current(5e-12, 1e-9, 150, 85e3)
    >>> print(f"{noise.unweighted * 1e6:.0f} µA unweighted, {noise.weighted * 1e6:.1f} weighted")
    268 µA unweighted, 1.5 weighted
    """
    frequency = positive("switching_frequency", switching_frequency)
    if np.any(frequency > _HIGHEST_FREQUENCY):
        raise ValueError(f"switching_frequency must be at most 1 MHz, got {switching_frequency!r}")
    duty = fraction("duty_cycle", duty_cycle)
    if np.any(duty == 1):
        raise ValueError(f"duty_cycle must be below 1, got {duty_cycle!r}")
    windings = positive("interwinding_capacitance", interwinding_capacitance)[..., None]
    barrier = not_negative("barrier_capacitance", barrier_capacitance)[..., None]
    swing = positive("switching_voltage", switching_voltage)[..., None]
    order = np.arange(1, int(_HIGHEST_FREQUENCY / frequency.min()) + 1)
    at = finite("switching_frequency", frequency)[..., None] * order
    level = np.sqrt(2) * swing / (order * np.pi) * np.abs(np.sin(order * np.pi * duty[..., None]))
    impedance, unweighted, weighted = network_response(at)
    omega = 2 * np.pi * at
    flow = omega * windings * level / np.abs(1 + 1j * omega * (barrier + windings) * impedance)
    flow = np.where(at <= _HIGHEST_FREQUENCY, flow, 0.0)

    def total(factor: float | Complexes) -> Numbers:
        return plain(np.sqrt(((flow * np.abs(factor)) ** 2).sum(axis=-1)))

    return SwitchingCurrent(total(1.0), total(unweighted / BODY), total(weighted / BODY))
