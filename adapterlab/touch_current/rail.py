"""The rail behind a rectifier bridge in the time domain, and the current it drives across.

`rail_waveform` solves mains, bridge, reservoir, barrier capacitance and body network to their
periodic state. `open_circuit_voltage` (in ``touch_current_meter``) shares the circuit.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Floats, Numbers, not_negative, one_of, plain, positive
from adapterlab.touch_current.closed import RAILS
from adapterlab.touch_current.network import NETWORKS, SampledNetwork

POLARITIES = ("a", "b")
ORDERS = np.arange(1, 41)
# Below this voltage of the reservoir the load draws a constant current instead of its power.
LOWEST_LOAD_VOLTAGE = 60.0
# The barrier's own charge is taken as small beside the reservoir's.
_LARGEST_SHARE = 1 / 500
_POINTS, _ROUNDS = 2048, 60


@dataclass(frozen=True)
class RailWaveform:
    """One mains period of the rail and of the current it drives into the network.

    Attributes
    ----------
    time : numpy.ndarray
        From a crest of the live pole on. [s], shape (..., points)
    mains_voltage : numpy.ndarray
        Live pole against earth. [V], same shape
    rail_voltage : numpy.ndarray
        The point the barrier capacitor sits on, against earth: behind a bridge its negative
        rail. [V], same shape
    bulk_voltage : numpy.ndarray
        Positive against negative rail. [V], same shape
    current : numpy.ndarray
        Current out of the touched part. [A], same shape
    indicated : numpy.ndarray
        What the network's voltmeter sees, over 500 ohm. [A], same shape
    rms, peak, crest_factor : float or numpy.ndarray
        Of the current. [A], [A], [1], shape (...)
    indicated_rms, indicated_peak : float or numpy.ndarray
        Reading of the meter. [A], shape (...)
    harmonic_currents : numpy.ndarray
        Rms of orders 1 to 40 of the current, index 0 the fundamental. [A], shape (..., 40)
    rail_rms : float or numpy.ndarray
        Alternating part of the rail voltage, rms. [V], shape (...)
    rail_mean : float or numpy.ndarray
        Direct part of the rail voltage. [V], shape (...)
    """

    time: Floats
    mains_voltage: Floats
    rail_voltage: Floats
    bulk_voltage: Floats
    current: Floats
    indicated: Floats
    rms: Numbers
    peak: Numbers
    crest_factor: Numbers
    indicated_rms: Numbers
    indicated_peak: Numbers
    harmonic_currents: Floats
    rail_rms: Numbers
    rail_mean: Numbers


def change(samples: Floats) -> Floats:
    """Step from each sample's forerunner to it, around the period."""
    return samples - np.roll(samples, 1, axis=-1)


@dataclass(frozen=True)
class Circuit:
    """Mains, bridge and the capacitances to the touched part, sampled over one period.

    The touched part sees `source` [V] behind `coupling` [F]: the capacitances together, and the
    voltages behind them in the proportion of the capacitances. Between its bounds `low` and
    `high` [V] the negative rail moves by `push` [V] plus `pull` [1] times the touched part's
    own step.
    """

    period: Floats
    live: Floats
    rail: str
    pins: tuple[Floats, Floats]
    bulk: Floats
    low: Floats
    high: Floats
    push: Floats
    pull: Floats
    from_rail: Floats
    coupling: Floats
    other_source: Floats

    def source(self, rail: Floats) -> Floats:
        """Voltage that the touched part would have with nothing joined to it. [V]."""
        return self.other_source + self.from_rail * rail

    def seat(self, rail: Floats) -> Floats:
        """Voltage of the point the barrier capacitor sits on. [V]."""
        if self.rail == "full-mains":
            return self.pins[0]
        return (self.pins[0] + self.pins[1]) / 2 if self.rail == "half-mains" else rail

    def held_rail(self, output: Floats) -> Floats:
        """Negative rail in its periodic state for a given voltage of the touched part. [V].

        Each step is ``clip(rail + shift, low, high)``; two such steps after each other are again
        one, so a scan in doubling strides joins all steps since the start of the period, and
        the fixed point of the whole period is read off.
        """
        shift = self.push + self.pull * change(output)
        low, high = np.minimum(self.low, self.high), self.high
        low, high, shift = (np.array(np.broadcast_to(part, self.live.shape)) for part in
                            (low, high, shift))  # fmt: skip
        stride = 1
        while stride < self.live.shape[-1]:
            floor, ceiling, moved = low[..., stride:], high[..., stride:], shift[..., stride:]
            below = np.minimum(np.maximum(low[..., :-stride] + moved, floor), ceiling)
            above = np.minimum(np.maximum(high[..., :-stride] + moved, floor), ceiling)
            total = shift[..., :-stride] + moved
            low[..., stride:], high[..., stride:], shift[..., stride:] = below, above, total
            stride *= 2
        start = (low[..., -1:] + high[..., -1:]) / 2
        return np.minimum(np.maximum(start + shift, low), high)


def _bulk_voltage(
    rectified: Floats, step: Floats, bulk_capacitance: Floats | None, load_power: Floats
) -> Floats:
    """Reservoir voltage from the rectified mains: charged without delay, drained by its load.

    The clock `charge` falls at load power over capacitance whatever the voltage, so the voltage
    is the largest of all that the mains has offered, each aged since.
    """
    if bulk_capacitance is None:
        return np.broadcast_to(rectified.max(axis=-1, keepdims=True), rectified.shape)
    knee = LOWEST_LOAD_VOLTAGE
    charge = np.where(rectified > knee, rectified**2 / 2, knee * (rectified - knee / 2))
    aged = load_power / bulk_capacitance * step * np.arange(2 * rectified.shape[-1])
    held = np.maximum.accumulate(np.concatenate([charge, charge], axis=-1) + aged, axis=-1) - aged
    left = held[..., rectified.shape[-1] :]
    squared = np.maximum(2 * left, knee**2)
    return np.where(left > knee**2 / 2, np.sqrt(squared), left / knee + knee / 2)


def circuit(
    capacitance: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    rail: str,
    points: int,
    *,
    polarity: str,
    bulk_capacitance: ArrayLike | None,
    load_power: ArrayLike,
    bridge_drop: ArrayLike,
    diode_capacitance: ArrayLike,
    interwinding_capacitance: ArrayLike,
    stray_capacitance: ArrayLike,
) -> Circuit:
    """The circuit of `rail_waveform` with its arguments checked."""
    one_of("rail", rail, RAILS)
    one_of("polarity", polarity, POLARITIES)
    barrier, voltage, frequency, load, fall, diode, winding, stray = (
        part[..., None]
        for part in np.broadcast_arrays(
            positive("capacitance", capacitance),
            positive("mains_voltage", mains_voltage),
            positive("mains_frequency", mains_frequency),
            not_negative("load_power", load_power),
            not_negative("bridge_drop", bridge_drop) / 2,
            not_negative("diode_capacitance", diode_capacitance),
            not_negative("interwinding_capacitance", interwinding_capacitance),
            not_negative("stray_capacitance", stray_capacitance),
        )
    )
    if bulk_capacitance is None and np.any(load > 0) and rail != "bridge-without-reservoir":
        raise ValueError("bulk_capacitance must be given with load_power, got None")
    crest = np.sqrt(2) * voltage
    if np.any(2 * fall >= crest):
        raise ValueError(f"bridge_drop must be below the crest of the mains, got {bridge_drop!r}")
    live = crest * np.cos(2 * np.pi * np.arange(points) / points)
    rectified = np.maximum(np.abs(live) - 2 * fall, 0.0)
    reservoir = None
    if bulk_capacitance is not None:
        reservoir = positive("bulk_capacitance", bulk_capacitance)[..., None]
        if np.any(barrier + winding > _LARGEST_SHARE * reservoir):
            raise ValueError(
                f"bulk_capacitance must be at least {1 / _LARGEST_SHARE:g} times what bridges the "
                f"barrier, got {bulk_capacitance!r} with {capacitance!r}"
            )
    if rail == "bridge-without-reservoir":
        bulk = rectified
    else:
        bulk = _bulk_voltage(rectified, 1 / frequency / points, reservoir, load)
    live = np.broadcast_to(live, np.broadcast_shapes(live.shape, bulk.shape))
    earthed = np.zeros_like(live)
    pins = (live, earthed) if polarity == "a" else (earthed, live)
    on_rail = barrier if rail.startswith("bridge") else np.zeros_like(barrier)
    on_pins = {"full-mains": (1.0, 0.0), "half-mains": (0.5, 0.5)}.get(rail, (0.0, 0.0))
    coupling = barrier + winding + stray
    rail_coupling = on_rail + winding
    total = rail_coupling + 4 * diode
    total = np.where(total > 0, total, 1.0)
    return Circuit(
        period=1 / frequency[..., 0],
        live=live,
        rail=rail,
        pins=pins,
        bulk=bulk,
        low=np.maximum(live, 0.0) - bulk - fall,
        high=np.minimum(live, 0.0) + fall,
        push=(2 * diode * change(live) - (winding + 2 * diode) * change(bulk)) / total,
        pull=rail_coupling / total,
        from_rail=rail_coupling / coupling,
        coupling=coupling,
        other_source=(
            winding * bulk
            + (stray + on_pins[0] * barrier) * pins[0]
            + on_pins[1] * barrier * pins[1]
        )
        / coupling,
    )


def _loaded(solved: Circuit, network: str) -> tuple[Floats, Floats, Floats]:
    """Rail, current and indicated current in the periodic state with the network in place."""
    points = solved.live.shape[-1]
    if network == "ammeter":
        rail = solved.held_rail(np.zeros_like(solved.live))
        flow = solved.coupling * change(solved.source(rail)) * points / solved.period[..., None]
        return rail, flow, flow
    shape = solved.live.shape[:-1]
    coupling = np.broadcast_to(solved.coupling[..., 0], shape)
    body = SampledNetwork(coupling, np.broadcast_to(solved.period, shape), points, network)
    output = np.zeros_like(solved.live)
    for _ in range(_ROUNDS):
        rail = solved.held_rail(output)
        source = solved.source(rail)
        before, output = output, body.output_voltage(source)
        if np.abs(output - before).max() <= 1e-4 * np.abs(output).max():
            break
    return rail, body.current(source), body.indicated(source)


def _rms(samples: Floats) -> Floats:
    return np.sqrt((samples**2).mean(axis=-1))


def rail_waveform(
    capacitance: ArrayLike,
    mains_voltage: ArrayLike,
    mains_frequency: ArrayLike,
    rail: str = "bridge-with-reservoir",
    network: str = "weighted",
    *,
    polarity: str = "a",
    bulk_capacitance: ArrayLike | None = None,
    load_power: ArrayLike = 0.0,
    bridge_drop: ArrayLike = 0.0,
    diode_capacitance: ArrayLike = 0.0,
    interwinding_capacitance: ArrayLike = 0.0,
    stray_capacitance: ArrayLike = 0.0,
    points: int = _POINTS,
) -> RailWaveform:
    r"""Rail voltage and touch current over one mains period, in the periodic state.

    Parameters
    ----------
    capacitance : float or array_like
        Capacitance across the barrier; see `series_capacitance` for two in series. [F]
        Must be > 0.
    mains_voltage : float or array_like
        Rms voltage of the mains, one pole earthed. [V]  Must be > 0.
    mains_frequency : float or array_like
        Frequency of the mains. [Hz]  Must be > 0.
    rail : str, optional
        As in `barrier_current`; ``full-mains`` is the pin that is live in polarity ``a``.
    network : str, optional
        As in `indicated_current`; ``ammeter`` earths the touched part.
    polarity : str, optional
        ``a`` or ``b``: which way round the plug is.
    bulk_capacitance : float or array_like, optional
        Capacitance behind the bridge. [F]  Needed with `load_power`.
    load_power : float or array_like, optional
        Power drawn from the bulk capacitance, below 60 V a constant current. [W]
    bridge_drop : float or array_like, optional
        Forward drop of the two conducting diodes together. [V]
    diode_capacitance : float or array_like, optional
        Junction capacitance of each of the four diodes. [F]
    interwinding_capacitance : float or array_like, optional
        From the primary winding, which at mains frequency moves with the positive rail, to the
        touched part. [F]
    stray_capacitance : float or array_like, optional
        From the pin that is live in polarity ``a`` to the touched part. [F]
    points : int, optional
        Samples of a period, a multiple of 4 from 64 on. [1]

    Returns
    -------
    RailWaveform
        Waveforms, their rms, peak, crest factor and spectrum, and the meter's reading.

    Raises
    ------
    ValueError
        If a number is out of range, a word is not known, a load has no reservoir, or the
        reservoir is less than 500 times what bridges the barrier.

    Notes
    -----
    Charge balance of both rails while no diode conducts, with :math:`v_n` the negative rail,
    :math:`v_B` the reservoir, :math:`v_o` the touched part and C, :math:`C_w`, :math:`C_d`
    barrier, windings and diode:

    .. math:: (C + C_w + 4C_d)\,\dot v_n =
              (C + C_w)\,\dot v_o - (C_w + 2C_d)\,\dot v_B + 2C_d\,\dot v_L

    and :math:`\max(v_L, 0) - v_B - V_D \le v_n \le \min(v_L, 0) + V_D` always. Exact at every
    sample. The network, an exact linear circuit with its loading, is joined by repeating: its
    voltage is a thousandth of the mains', so a few rounds settle it. Left out: the supply's
    impedance (3 ohm change the rms by 0.1 % at 25 W), leakage, the current that the barrier
    takes from the reservoir, and switching-frequency currents (`switching_current`).

    References
    ----------
    Derived in ``notebooks/06_touch_current.ipynb``; held against a circuit simulator in
    ``tests/test_touch_current_rail.py``.

    Examples
    --------
    >>> wave = rail_waveform(1.5e-9, 230, 50, network="ammeter")
    >>> print(f"{wave.rms * 1e6:.2f} µA, crest factor {wave.crest_factor:.2f}")
    76.64 µA, crest factor 2.00
    >>> print(f"{wave.rail_rms:.1f} V about {wave.rail_mean:.0f} V")
    138.6 V about -163 V
    """
    one_of("network", network, NETWORKS)
    if points % 4 or points < 64:
        raise ValueError(f"points must be a multiple of 4 and at least 64, got {points!r}")
    solved = circuit(
        capacitance, mains_voltage, mains_frequency, rail, points,
        polarity=polarity, bulk_capacitance=bulk_capacitance, load_power=load_power,
        bridge_drop=bridge_drop, diode_capacitance=diode_capacitance,
        interwinding_capacitance=interwinding_capacitance,
        stray_capacitance=stray_capacitance,
    )  # fmt: skip
    negative, current, indicated = _loaded(solved, network)
    seat = np.broadcast_to(solved.seat(negative), solved.live.shape)
    mean = seat.mean(axis=-1)
    rms, peak = _rms(current), np.abs(current).max(axis=-1)
    lines = np.abs(np.fft.rfft(current)[..., ORDERS]) * np.sqrt(2) / points
    if network == "ammeter":  # these samples are means over a step
        lines = lines / np.sinc(ORDERS / points)
    flowing = np.where(rms > 0, rms, 1.0)
    return RailWaveform(
        time=solved.period[..., None] * np.arange(points) / points,
        mains_voltage=solved.live,
        rail_voltage=seat,
        bulk_voltage=np.broadcast_to(solved.bulk, solved.live.shape),
        current=current,
        indicated=indicated,
        rms=plain(rms),
        peak=plain(peak),
        crest_factor=plain(np.where(rms > 0, peak / flowing, 1.0)),
        indicated_rms=plain(_rms(indicated)),
        indicated_peak=plain(np.abs(indicated).max(axis=-1)),
        harmonic_currents=lines,
        rail_rms=plain(_rms(seat - mean[..., None])),
        rail_mean=plain(mean),
    )
