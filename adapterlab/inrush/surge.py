"""The surge at any phase of the mains, with everything in its path: `plug_in_surge`."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.inrush.thermistor import Thermistor
from adapterlab.numerics.arguments import Floats, Numbers, finite, not_negative, plain, positive
from adapterlab.numerics.arguments import temperature as above_absolute_zero
from adapterlab.numerics.diodes import Bridge
from adapterlab.numerics.mains import Mains
from adapterlab.numerics.surge import RINGING, walk
from adapterlab.numerics.surge_parts import Circuit, Track

# So many surges at a time, and steps of all of them together. [1]
_CHUNK, _STEPS = 2048, 2_000_000


@dataclass(frozen=True)
class SurgeEnergy:
    """Where the energy of a surge went, each a float or array of the surge's shape.

    Attributes
    ----------
    series_resistance, thermistor, bridge, bulk_esr : float or numpy.ndarray
        Turned into heat in these parts. [J]
    bulk_capacitor : float or numpy.ndarray
        Gained by the bulk capacitor. [J]
    load : float or numpy.ndarray
        Taken by the load. [J]
    mains : float or numpy.ndarray
        Drawn from the mains: the sum of all, but for what an inductance still holds. [J]
    """

    series_resistance: Numbers
    thermistor: Numbers
    bridge: Numbers
    bulk_esr: Numbers
    bulk_capacitor: Numbers
    load: Numbers
    mains: Numbers


@dataclass(frozen=True)
class PlugInSurge:
    """A plug-in surge: curves on a common scale of time, and figures from the solver's own steps.

    ``...`` is the broadcast shape of the arguments; for scalars the figures are floats.

    Attributes
    ----------
    time : numpy.ndarray
        Time since contact, closest at its start. [s], shape (samples,)
    current : numpy.ndarray
        Mains current, negative in negative half waves. [A], shape (..., samples)
    bulk_voltage : numpy.ndarray
        At the terminals of the bulk capacitor. [V], shape (..., samples)
    thermistor_temperature : numpy.ndarray
        Of the thermistor; ambient throughout without one. [°C], shape (..., samples)
    running_i_squared_t : numpy.ndarray
        I²t from contact on. [A²s], shape (..., samples)
    peak_current : float or numpy.ndarray
        Largest size of the current. [A], shape (...)
    peak_time : float or numpy.ndarray
        When. [s], shape (...)
    i_squared_t : float or numpy.ndarray
        I²t of the whole duration. [A²s], shape (...)
    half_cycle_time, half_cycle_voltage : numpy.ndarray
        End of each whole half period since contact [s] and voltage of the bulk capacitor then
        [V], shape (..., half periods)
    energy : SurgeEnergy
        Where the energy went.
    """

    time: Floats
    current: Floats
    bulk_voltage: Floats
    thermistor_temperature: Floats
    running_i_squared_t: Floats
    peak_current: Numbers
    peak_time: Numbers
    i_squared_t: Numbers
    half_cycle_time: Floats
    half_cycle_voltage: Floats
    energy: SurgeEnergy

    def i_squared_t_between(self, start: float, end: float) -> Numbers:
        """I²t from one time to a later one, both within the surge. [A²s], shape (...)."""
        if not 0 <= start <= end <= self.time[-1]:
            raise ValueError(
                f"start and end must rise from 0 to {self.time[-1]:g} s, got {start!r} and {end!r}"
            )
        rows = self.running_i_squared_t.reshape(-1, len(self.time))
        found = [np.diff(np.interp([start, end], self.time, row))[0] for row in rows]
        return plain(np.array(found).reshape(self.running_i_squared_t.shape[:-1]))


def _peak(time: Floats, size: Floats) -> tuple[Floats, Floats]:
    """Highest value and its time from samples, shape (steps, n), by a curve through five."""
    lanes, top = np.arange(size.shape[1]), np.argmax(size, axis=0)
    value, when = size[top, lanes], time[top, lanes]
    if len(time) < 5:
        return value, when
    first = np.clip(top - 2, 0, len(time) - 5)
    window = first + np.arange(5)[:, None]
    near, sizes = time[window, lanes], size[window, lanes]
    inner = (top > 0) & (top < len(time) - 1) & (np.diff(near, axis=0) > 0).all(axis=0)
    inner &= (sizes[1:] > 0).all(axis=0)
    if not inner.any():
        return value, when
    low, high = time[np.maximum(top - 1, 0), lanes], time[np.minimum(top + 1, len(time) - 1), lanes]
    trial = low + (high - low) * np.linspace(0, 1, 101)[:, None]
    # Newton's divided differences, then Horner's rule.
    factors = sizes.copy()
    for order in range(1, 5):
        apart = np.where(inner, near[order:] - near[:-order], 1.0)
        factors[order:] = np.diff(factors[order - 1 :], axis=0) / apart
    curve = factors[4]
    for order in (3, 2, 1, 0):
        curve = curve * (trial - near[order]) + factors[order]
    best = np.argmax(curve, axis=0)
    better = inner & (curve[best, lanes] < 1.02 * value) & (curve[best, lanes] > value)
    return np.where(better, curve[best, lanes], value), np.where(better, trial[best, lanes], when)


def _sampled(track: Track, time: Floats, borders: Floats) -> list[Floats]:
    """Curves at `time`, peaks and voltages at `borders`, one lane after the other."""
    nodes = np.array(track.nodes)
    nodes = nodes.reshape(len(nodes), 5, -1)
    lanes = nodes.shape[2]
    peak, when = _peak(nodes[::2, 0], np.abs(nodes[::2, 1]))
    nodes = np.ascontiguousarray(nodes.transpose(2, 1, 0))
    curves = np.empty((4, lanes, len(time)))
    ends = np.empty((lanes, borders.shape[1]))
    for lane in range(lanes):
        rows = nodes[lane]
        found = _within(rows[0], rows[1:], np.concatenate([time, borders[lane]]))
        curves[:, lane], ends[lane] = found[:, : len(time)], found[1, len(time) :]
    np.maximum(curves[1], 0.0, out=curves[1])
    return [*curves, peak, when, ends]


def _within(moments: Floats, values: Floats, time: Floats) -> Floats:
    """Values at `time` by a parabola through start, middle and end of the step around it."""
    last = len(moments) // 2 - 1
    step = 2 * np.minimum(np.searchsorted(moments[2::2], time), last)
    start, end = moments[step], moments[step + 2]
    share = (time - start) / np.where(end > start, end - start, 1.0)
    weights = (2 * share - 1) * (share - 1), 4 * share * (1 - share), share * (2 * share - 1)
    near = values[:, step + np.arange(3)[:, None]]
    return np.einsum("rkt,kt->rt", near, np.array(weights))


def plug_in_surge(
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    phase: ArrayLike,
    bulk_capacitance: ArrayLike,
    series_resistance: ArrayLike,
    source_inductance: ArrayLike = 0.0,
    bulk_esr: ArrayLike = 0.0,
    bridge_drop: ArrayLike = 0.0,
    bridge_resistance: ArrayLike = 0.0,
    thermistor: Thermistor | None = None,
    ambient: ArrayLike = 25.0,
    load_power: ArrayLike = 0.0,
    load_start: ArrayLike | None = None,
    duration: float = 0.1,
    *,
    start_voltage: ArrayLike = 0.0,
    thermistor_temperature: ArrayLike | None = None,
    samples: int | None = None,
    harmonics: ArrayLike | None = None,
) -> PlugInSurge:
    r"""Current and voltages from the moment an adapter is plugged in, at any phase of the mains.

    Parameters
    ----------
    mains_voltage, mains_frequency : float or array_like
        Rms voltage [V] and frequency [Hz] of the mains. Must be > 0.
    phase : float or array_like
        Angle of the mains at contact, from the rising zero of its fundamental on. [degrees]  From
        0 to 360.
    bulk_capacitance : float or array_like
        Capacitance behind the bridge. [F]  Must be > 0.
    series_resistance : float or array_like
        Of supply, leads and chokes, and of a limiter that is no thermistor. [ohm]  Must be > 0.
    source_inductance : float or array_like, optional
        Of supply, leads and chokes. [H]  Must be >= 0.
    bulk_esr : float or array_like, optional
        Series resistance of the bulk capacitor. [ohm]  Must be >= 0.
    bridge_drop, bridge_resistance : float or array_like, optional
        Constant drop [V] and resistance [ohm] of the two conducting diodes together.
        Must be >= 0.
    thermistor : Thermistor, optional
        In series with the rest; its fields broadcast too.
    ambient : float or array_like, optional
        Temperature of the air around the thermistor. [°C]
    load_power : float or array_like, optional
        Power that the load draws. [W]  Must be >= 0.
    load_start : float or array_like, optional
        When the load begins to draw. [s]  By default not within `duration`.
    duration : float, optional
        How long to follow the surge. [s]  Must be > 0.
    start_voltage : float or array_like, optional
        Left on the bulk capacitor. [V]  Must be >= 0.
    thermistor_temperature : float or array_like, optional
        Of the thermistor at contact. [°C]  By default that of the air.
    samples : int, optional
        Number of samples of the curves. [1]  At least 2; by default 1001, or 201 where more than
        100 surges are asked for at once.
    harmonics : array_like, optional
        Complex amplitudes of orders 1, 2, 3 ... of the mains over its fundamental, as
        `adapterlab.numerics.mains.Mains` has them. [1], shape (orders,)  By default a sine.

    Returns
    -------
    PlugInSurge
        Curves and figures.

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    While the bridge conducts, with the mains :math:`e`, one way round or the other,

    .. math:: L\frac{di}{dt} = \pm e - V_d - (R + R_d + R_T(T))\,i - u, \quad
              C\frac{dv}{dt} = i - i_l, \quad u = v + R_C\,(i - i_l)

    .. math:: C_T \frac{dT}{dt} = R_T\,i^2 - \delta\,(T - T_a), \quad
              i_l = \frac{P}{\max(u, 60\,\mathrm{V})}

    and while it blocks, :math:`i = 0`. Below 5 V the load takes less, in proportion. Each step is
    solved in closed form with thermistor and load as they are in its middle; the figures are
    within 0.1 % of much finer steps. The bridge is a constant drop and a resistance; real diodes
    differ in peak current by 1 to 2 %. A choke with a core saturates, which is not modelled.

    References
    ----------
    Circuit laws; held against a circuit simulator and scipy's solver in
    ``tests/test_inrush_surge.py``.

    Examples
    --------
    At the crest and at the zero crossing of 230 V, with a disc of 8 ohm:

    >>> disc = Thermistor(8, 2900, 0.75, 0.014)
    >>> surge = plug_in_surge(230, 50, [90, 0], 100e-6, 1.5, thermistor=disc, duration=0.01)
    >>> print(surge.peak_current.round(1), surge.i_squared_t.round(2))
    [34.2  8.2] [0.57 0.2 ]
    """
    given = {
        "voltage": positive("mains_voltage", mains_voltage),
        "frequency": positive("mains_frequency", mains_frequency),
        "start_angle": np.radians(finite("phase", phase)),
        "bulk_capacitance": positive("bulk_capacitance", bulk_capacitance),
        "inductance": not_negative("source_inductance", source_inductance),
        "bulk_esr": not_negative("bulk_esr", bulk_esr),
        "drop": not_negative("bridge_drop", bridge_drop),
        "resistance": not_negative("bridge_resistance", bridge_resistance),
        "load_power": not_negative("load_power", load_power),
        "start_voltage": not_negative("start_voltage", start_voltage),
        "ambient": above_absolute_zero("ambient", ambient),
    }
    if np.any((given["start_angle"] < 0) | (given["start_angle"] > 2 * np.pi)):
        raise ValueError(f"phase must lie from 0 to 360 degrees, got {phase!r}")
    given["series_resistance"] = series = positive("series_resistance", series_resistance)
    length = float(positive("duration", duration))
    given["load_start"] = (
        np.asarray(np.inf) if load_start is None else not_negative("load_start", load_start)
    )
    marked = thermistor or Thermistor(1.0, 0.0, 1.0, 0.0)
    for field in fields(marked):
        given[field.name] = np.asarray(getattr(marked, field.name), dtype=float)
    if thermistor is None:
        given["resistance_25"] = np.asarray(0.0)
    given["start_temperature"] = (
        given["ambient"]
        if thermistor_temperature is None
        else above_absolute_zero("thermistor_temperature", thermistor_temperature)
    )
    shape = np.broadcast_shapes(*(value.shape for value in given.values()))
    single = shape == ()
    count = samples if samples is not None else 201 if np.prod(shape) > 100 else 1001
    if count < 2 or int(count) != count:
        raise ValueError(f"samples must be a whole number of at least 2, got {samples!r}")
    flat = {
        name: value.reshape(1) if single else np.broadcast_to(value, shape).ravel()
        for name, value in given.items()
    }
    # Closest at contact, where the surge is quick, and finer than 1/500 of the duration at its end.
    time = length * np.linspace(0, 1, int(count)) ** 2
    halves = 1 + np.arange(int(2 * length * given["frequency"].min() + 1e-9))
    borders = halves / (2 * flat["frequency"][:, None])
    parts: list[list[Floats]] = []
    sums: list[Floats] = []
    # A circuit that rings needs many steps: fewer of them at a time, to spare memory.
    ringing = np.sqrt(flat["bulk_capacitance"] * np.maximum(flat["inductance"], 1e-6))
    chunk = int(np.clip(_STEPS * ringing.min() * RINGING / length, 64, _CHUNK))
    wave = [1.0] if harmonics is None else harmonics
    for start in range(0, max(len(flat["voltage"]), 1), chunk):
        slab = slice(start, start + chunk)
        lanes = {name: value[slab] for name, value in flat.items()}
        numbers: dict[str, Numbers] = {
            name: value.item() if single else value for name, value in lanes.items()
        }
        mains = Mains(numbers.pop("voltage"), numbers.pop("frequency"), wave)
        bridge = Bridge(numbers.pop("drop"), numbers.pop("resistance"))
        track = walk(Circuit(mains, bridge, **numbers), length, single)
        parts.append(_sampled(track, time, borders[slab]))
        sums.append(np.array([np.ravel(getattr(track, name)) for name in _SUMS]))
    current, volts, warmth, running, peak, when, ends = (
        np.concatenate(column).reshape(shape + column[0].shape[1:])
        for column in zip(*parts, strict=True)
    )
    squares, passed, heat, lost, taken, drawn, held = (
        row.reshape(shape) for row in np.concatenate(sums, axis=1)
    )
    charge = passed + given["bulk_capacitance"] * (held - given["start_voltage"])
    stored = given["bulk_capacitance"] * (held**2 - given["start_voltage"] ** 2) / 2
    energy = SurgeEnergy(
        series_resistance=plain(series * squares),
        thermistor=plain(heat),
        bridge=plain(given["drop"] * charge + given["resistance"] * squares),
        bulk_esr=plain(lost),
        bulk_capacitor=plain(stored),
        load=plain(taken),
        mains=plain(drawn),
    )
    return PlugInSurge(
        time, current, volts, warmth, running, plain(peak), plain(when), plain(squares),
        np.broadcast_to(borders.reshape((*shape, -1)), ends.shape), ends, energy,
    )  # fmt: skip


_SUMS = (
    "squares",
    "load_charge",
    "thermistor_energy",
    "esr_energy",
    "load_energy",
    "source_energy",
    "voltage",
)
