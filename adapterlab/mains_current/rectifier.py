r"""The current an adapter draws from the mains.

The rectifier and its bulk capacitor: `rectifier_steady_state`. A capture: `power_quality` (in
`adapterlab.mains_current.quality`), and the parts behind it: `fit_rectifier` (in
`adapterlab.mains_current.fit`). Laws for a pencil, power factor and harmonic limits:
`adapterlab.mains_current.laws`. Filter corners: `adapterlab.mains_current.filter`.
"""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Floats, Numbers, not_negative, plain, positive
from adapterlab.numerics.bridge import Circuit
from adapterlab.numerics.bridge_figures import SAMPLES, Figures, Solution, figures, solve, waveforms
from adapterlab.numerics.diodes import Bridge
from adapterlab.numerics.mains import Mains


@dataclass(frozen=True)
class RectifierSteadyState:
    """A capacitor-input rectifier whose half periods repeat.

    Every field and waveform has the broadcast shape of the arguments, written (...); harmonics
    and waveforms add a last axis. Waveforms are worked out when they are first asked for.

    Attributes
    ----------
    bulk_voltage_max, bulk_voltage_min, bulk_voltage_mean : float or numpy.ndarray
        Voltage at the terminals of the bulk capacitor, its series resistance included. [V], (...)
    input_current_rms, input_current_peak : float or numpy.ndarray
        Current drawn from the mains. [A], (...)
    input_power : float or numpy.ndarray
        Power given by the ideal source, losses in its own resistance included. [W], (...)
    power_factor : float or numpy.ndarray
        Input power over volts times amperes at the ideal source. [1], (...)
    displacement_factor : float or numpy.ndarray
        Cosine of the angle between source and fundamental current. [1], (...)
    total_harmonic_distortion : float or numpy.ndarray
        Rms of all that is not fundamental over the fundamental. [1], (...)
    harmonic_currents : numpy.ndarray
        Rms of orders 1 to 40; index 0 is the fundamental. [A], (..., 40)
    capacitor_current_rms : float or numpy.ndarray
        Current through the bulk capacitor, from mains and constant load. [A], (...)
    conduction_angle : float or numpy.ndarray
        For how much of each half period the bridge conducts. [degrees of the period], (...)
    """

    bulk_voltage_max: Numbers
    bulk_voltage_min: Numbers
    bulk_voltage_mean: Numbers
    input_current_rms: Numbers
    input_current_peak: Numbers
    input_power: Numbers
    power_factor: Numbers
    displacement_factor: Numbers
    total_harmonic_distortion: Numbers
    harmonic_currents: Floats
    capacitor_current_rms: Numbers
    conduction_angle: Numbers
    _solution: Solution = field(repr=False, compare=False)
    _shape: tuple[int, ...] = field(repr=False, compare=False)

    @property
    def distortion_factor(self) -> Numbers:
        """Fundamental over rms current. [1], (...)."""
        return plain(self.harmonic_currents[..., 0] / self.input_current_rms)

    def _period(self, values: Floats) -> Floats:
        return values.reshape(*self._shape, SAMPLES)

    @cached_property
    def _waves(self) -> tuple[Floats, Floats]:
        current, voltage = waveforms(self._solution)
        highest = np.ravel(self.input_current_peak)[:, None]
        return self._period(np.clip(current, -highest, highest)), self._period(voltage)

    @property
    def time(self) -> Floats:
        """Time from the rising zero of the source on, over one period. [s], (..., 1000)."""
        period = 1 / np.asarray(self._solution.circuit.mains.frequency)
        return self._period(period[:, None] * np.arange(SAMPLES) / SAMPLES)

    @property
    def source_voltage(self) -> Floats:
        """Voltage of the ideal source over one period. [V], (..., 1000)."""
        angle = 2 * np.pi * np.arange(SAMPLES)[None, :] / SAMPLES
        return self._period(np.asarray(self._solution.circuit.mains.waveform(angle)))

    @property
    def input_current(self) -> Floats:
        """Current drawn from the mains over one period. [A], (..., 1000)."""
        return self._waves[0]

    @property
    def bulk_voltage(self) -> Floats:
        """Voltage at the terminals of the bulk capacitor over one period. [V], (..., 1000)."""
        return self._waves[1]


def rectifier_steady_state(
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    load_power: ArrayLike,
    bulk_capacitance: ArrayLike,
    source_resistance: ArrayLike,
    source_inductance: ArrayLike = 0,
    bulk_esr: ArrayLike = 0,
    bridge_drop: ArrayLike = 0,
    bridge_resistance: ArrayLike = 0,
    *,
    load_resistance: ArrayLike | None = None,
    harmonics: ArrayLike | None = None,
) -> RectifierSteadyState:
    r"""A bridge rectifier with bulk capacitor, once every half period is like the last.

    Parameters
    ----------
    mains_voltage, mains_frequency : float or array_like
        Rms voltage [V] and frequency [Hz] of the source. Must be > 0.
    load_power : float or array_like
        Constant power drawn at the terminals of the bulk capacitor, as a converter does. [W]
        Must be > 0, or >= 0 with `load_resistance`.
    bulk_capacitance : float or array_like
        Bulk capacitance. [F]  Must be > 0.
    source_resistance, source_inductance : float or array_like
        Everything in series before the bridge: supply, choke, warm limiter. [ohm], [H]
        Must be >= 0.
    bulk_esr : float or array_like, optional
        Series resistance of the bulk capacitor. [ohm]  Must be >= 0.
    bridge_drop, bridge_resistance : float or array_like, optional
        Constant drop [V] and resistance [ohm] of the two conducting diodes together.
        Must be >= 0, the drop below the crest of the mains.
    load_resistance : float or array_like, optional
        A resistance across the bulk capacitor beside the constant power. [ohm]  Must be > 0.
    harmonics : array_like, optional
        Complex amplitudes of orders 1, 2, 3 ... of the source over its fundamental, as
        `adapterlab.numerics.mains.Mains` has them; those of even order must be 0. [1],
        shape (orders,) or (orders, ...)  By default a sine.

    Returns
    -------
    RectifierSteadyState
        All figures and one period of waveforms.

    Raises
    ------
    ValueError
        If an argument is out of range, or there is no steady state: the capacitor runs empty
        before the next half wave, the source is too weak, or the inductance is so large that the
        current never rests.

    Notes
    -----
    While the bridge conducts, with :math:`R` of source and diodes and :math:`v` at the capacitor's
    terminals,

    .. math:: L\frac{di}{dt} = |v_s| - V_D - R\,i - v, \qquad
              v = v_C + R_C\,(i - P/v), \qquad C\frac{dv_C}{dt} = i - \frac{P}{v}

    and while it does not, the load alone discharges the capacitor. The pulse is solved by
    collocation, its start and length by Newton's method; a current that rings and stops within
    the half period is followed step by step. Diodes have no capacitance and recover at once.
    Held against a circuit simulator with the same diode law to 0.3 %, from 1 W to 150 W, 90 V to
    264 V, 1 µF to 470 µF; an exponential diode moves peak and rms by 1 to 2 %.

    References
    ----------
    The circuit is that of Erickson and Maksimovic, Fundamentals of Power Electronics, 3rd ed.,
    section 20.3; conduction angle and power factor are derived in
    ``notebooks/04_mains_current.ipynb``.

    Examples
    --------
    A 25 W load on 22 µF at 230 V: short pulses, a power factor below one half.

    >>> found = rectifier_steady_state(230, 50, 25, 22e-6, 1.0)
    >>> print(f"{found.conduction_angle:.0f}°, {found.input_current_peak:.2f} A peak, "
    ...       f"power factor {found.power_factor:.2f}")
    28°, 0.99 A peak, power factor 0.46
    >>> rectifier_steady_state(230, 50, 25, [22e-6, 47e-6], 1.0).bulk_voltage_min
    array([293.9, 310.2])
    """
    checked = [
        positive("mains_voltage", mains_voltage),
        positive("mains_frequency", mains_frequency),
        not_negative("source_resistance", source_resistance),
        not_negative("source_inductance", source_inductance),
        positive("bulk_capacitance", bulk_capacitance),
        not_negative("bulk_esr", bulk_esr),
        not_negative("bridge_drop", bridge_drop),
        not_negative("bridge_resistance", bridge_resistance),
    ]
    if load_resistance is None:
        checked += [positive("load_power", load_power), np.zeros(())]
    else:
        checked += [not_negative("load_power", load_power)]
        checked += [1 / positive("load_resistance", load_resistance)]
    wave = np.asarray([1.0] if harmonics is None else harmonics, dtype=complex)
    if np.any(wave[1::2] != 0):
        raise ValueError(f"harmonics must be 0 at even orders, got {harmonics!r}")
    shape = np.broadcast_shapes(*(entry.shape for entry in checked), wave.shape[1:])
    flat = [np.broadcast_to(entry, shape).ravel() for entry in checked]
    volts, hertz, series, coil, store, esr, drop, diodes, power, slope = flat
    if wave.ndim > 1:
        wave = np.broadcast_to(wave, (len(wave), *shape)).reshape(len(wave), -1)
    mains = Mains(volts, hertz, wave)
    if np.any(drop >= mains.crest):
        raise ValueError(
            f"bridge_drop must be below the crest of mains_voltage, got {bridge_drop!r} with "
            f"{mains_voltage!r}"
        )
    circuit = Circuit(mains, series, coil, store, esr, Bridge(drop, diodes), power, slope)
    solution = solve(circuit)
    return _result(solution, figures(solution), shape)


def _result(solution: Solution, found: Figures, shape: tuple[int, ...]) -> RectifierSteadyState:
    lines = np.abs(found.harmonics)
    fundamental, volts = lines[:, 0], np.asarray(solution.circuit.mains.voltage)
    rest = np.maximum(found.current_rms**2 - fundamental**2, 0.0)

    def shaped(values: Floats) -> Numbers:
        return plain(values.reshape(shape))

    return RectifierSteadyState(
        bulk_voltage_max=shaped(found.highest),
        bulk_voltage_min=shaped(found.lowest),
        bulk_voltage_mean=shaped(found.mean),
        input_current_rms=shaped(found.current_rms),
        input_current_peak=shaped(found.current_peak),
        input_power=shaped(found.power),
        power_factor=shaped(found.power / (volts * found.current_rms)),
        displacement_factor=shaped(np.minimum(found.harmonics[:, 0].real / fundamental, 1.0)),
        total_harmonic_distortion=shaped(np.sqrt(rest) / fundamental),
        harmonic_currents=lines.reshape(*shape, -1),
        capacitor_current_rms=shaped(found.capacitor_rms),
        conduction_angle=shaped(found.conduction),
        _solution=solution,
        _shape=shape,
    )
