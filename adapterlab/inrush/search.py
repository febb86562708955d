"""Many surges at once: the worst phase, chance and tolerances, and the return after a pause.

`worst_phase`, `surge_distribution`, `bulk_voltage_after`, `restart_surge`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from adapterlab.inrush.surge import PlugInSurge, plug_in_surge
from adapterlab.inrush.thermistor import Thermistor, thermistor_cooling
from adapterlab.numerics.arguments import Numbers, not_negative, one_of, plain, positive
from adapterlab.uncertainty import Propagated, propagate

FIGURES = ("peak_current", "i_squared_t", "thermistor_energy")


def _figure(surge: PlugInSurge, name: str) -> Numbers:
    return surge.energy.thermistor if name == "thermistor_energy" else getattr(surge, name)


@dataclass(frozen=True)
class WorstPhase:
    """The angle of contact at which a figure of the surge is largest.

    Attributes
    ----------
    phase : float or numpy.ndarray
        The angle, within half a turn: the other half wave is the same. [degrees]
    value : float or numpy.ndarray
        The figure there. [A], [A²s] or [J], shape of the circuit's arguments
    """

    phase: Numbers
    value: Numbers


def worst_phase(quantity: str = "peak_current", **circuit: Any) -> WorstPhase:
    """Search for the phase with the largest peak, I²t or heat in the thermistor.

    Parameters
    ----------
    quantity : str, optional
        ``peak_current``, ``i_squared_t`` or ``thermistor_energy``.
    circuit : keyword arguments
        Those of `plug_in_surge` but the phase; the duration is half a period unless given.

    Returns
    -------
    WorstPhase
        Angle, to a tenth of a degree, and value.

    Raises
    ------
    ValueError
        If the quantity is unknown or an argument of the circuit is out of range.

    Notes
    -----
    Every 5 degrees, then every degree about the best, then every tenth. With constant resistance
    and no inductance the peak is highest at the crest; inductance moves it before the crest.
    The I²t is largest a little before the crest, where the mains does not fall yet while the
    capacitor fills.

    References
    ----------
    Search over `plug_in_surge`.

    Examples
    --------
    >>> found = worst_phase(mains_voltage=230, mains_frequency=50, bulk_capacitance=47e-6,
    ...                     series_resistance=10)
    >>> print(f"{found.value:.1f} A at {found.phase:.0f} degrees")
    32.5 A at 90 degrees
    """
    one_of("quantity", quantity, FIGURES)
    if "phase" in circuit:
        raise ValueError("phase is what is searched for: leave it out")
    frequency = np.asarray(circuit.get("mains_frequency", 50.0), dtype=float)
    settings = {"duration": 0.5 / float(frequency.min()), "samples": 2} | circuit
    disc = circuit.get("thermistor")
    parts = [value for name, value in circuit.items() if name != "thermistor" and value is not None]
    parts += [getattr(disc, field.name) for field in fields(Thermistor)] if disc else []
    best: Any = np.full(np.broadcast_shapes(*(np.shape(part) for part in parts)), 90.0)
    for reach, step in ((90.0, 5.0), (5.0, 1.0), (1.0, 0.1)):
        offsets = np.arange(-reach, reach + step / 2, step).reshape(-1, *(1,) * best.ndim)
        phases = np.mod(best + offsets, 180.0)
        values = np.asarray(_figure(plug_in_surge(phase=phases, **settings), quantity))
        top = np.expand_dims(np.argmax(values, axis=0), 0)
        best = np.take_along_axis(phases, top, 0)[0]
        value = np.take_along_axis(values, top, 0)[0]
    return WorstPhase(plain(best), plain(value))


def surge_distribution(
    inputs: Mapping[str, Any], *, draws: int = 4096, seed: int = 20190117, **circuit: Any
) -> Propagated:
    """Peak, I²t and heat in the thermistor over chance and tolerances.

    Parameters
    ----------
    inputs : mapping of str to scipy.stats distribution
        Arguments of `plug_in_surge`, or fields of its thermistor, that are not known exactly.
    draws : int, optional
        Number of draws, a power of two. [1]
    seed : int, optional
        Start of the scrambling. [1]
    circuit : keyword arguments
        The other arguments of `plug_in_surge`. The phase is any from 0 to 180 degrees unless it
        is among them or the inputs; the duration is half a period unless given.

    Returns
    -------
    Propagated
        Outputs in this order: peak current [A], I²t [A²s], energy in the thermistor [J].

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    The draws fill the space of the inputs evenly (`adapterlab.uncertainty.propagate`).

    References
    ----------
    JCGM 101:2008 (propagation of distributions), from memory.

    Examples
    --------
    Half of all plug-ins stay below:

    >>> from scipy import stats
    >>> found = surge_distribution({"bulk_capacitance": stats.uniform(80e-6, 40e-6)}, draws=512,
    ...     mains_voltage=230, mains_frequency=50, series_resistance=10, samples=2)
    >>> print(f"{np.median(found.samples[0]):.0f} A")
    23 A
    """
    known: dict[str, Any] = {"samples": 2} | circuit
    spread = dict(inputs)
    if "phase" not in spread and "phase" not in known:
        spread["phase"] = stats.uniform(0, 180)
    frequency = known.get("mains_frequency", 50.0)
    known.setdefault("duration", 0.5 / float(np.min(frequency)))
    disc: Thermistor | None = known.pop("thermistor", None)
    names = {field.name for field in fields(Thermistor)}

    def figures(**drawn: Any) -> list[Any]:
        parts = {name: drawn.pop(name) for name in names & set(drawn)}
        part = replace(disc, **parts) if disc is not None else None
        surge = plug_in_surge(**known, **drawn, thermistor=part)
        return [_figure(surge, name) for name in FIGURES]

    if disc is None and names & set(spread):
        raise ValueError("inputs name fields of a thermistor, but no thermistor is given")
    return propagate(figures, spread, draws=draws, seed=seed)


def bulk_voltage_after(
    start_voltage: ArrayLike,
    bulk_capacitance: ArrayLike,
    load_power: ArrayLike,
    time: ArrayLike,
    end_voltage: ArrayLike = 0.0,
) -> Numbers:
    r"""Voltage of the bulk capacitor some time after the mains has gone.

    Parameters
    ----------
    start_voltage : float or array_like
        When the mains went. [V]  Must be > 0.
    bulk_capacitance : float or array_like
        Capacitance behind the bridge. [F]  Must be > 0.
    load_power : float or array_like
        Power that the converter draws. [W]  Must be >= 0.
    time : float or array_like
        Time since then. [s]  Must be >= 0.
    end_voltage : float or array_like, optional
        Voltage at which the converter stops. [V]  From 0 to the start voltage.

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
    .. math:: v = \sqrt{V_0^2 - 2Pt/C}, \quad \text{at least } V_1

    Leakage and what still draws after the converter has stopped are left out: with them the
    capacitor is emptier, and the next surge larger.

    References
    ----------
    The energy :math:`C(V_0^2 - v^2)/2 = Pt`; the same as hold-up time, common practice.

    Examples
    --------
    100 µF that feeds 60 W for half a mains period:

    >>> bulk_voltage_after(310, 100e-6, 60, 0.01)
    290.0
    """
    start = positive("start_voltage", start_voltage)
    stop = not_negative("end_voltage", end_voltage)
    if np.any(stop > start):
        raise ValueError(
            f"end_voltage must be at most start_voltage, got {end_voltage!r} and {start_voltage!r}"
        )
    used = 2 * not_negative("load_power", load_power) * not_negative("time", time)
    left = start**2 - used / positive("bulk_capacitance", bulk_capacitance)
    return plain(np.sqrt(np.maximum(left, stop**2)))


def restart_surge(
    off_time: ArrayLike,
    working_temperature: ArrayLike,
    start_voltage: ArrayLike,
    end_voltage: ArrayLike = 0.0,
    *,
    drawn_power: ArrayLike = 0.0,
    **circuit: Any,
) -> PlugInSurge:
    """Surge when the mains comes back: after a dip, or a plug pulled and pushed in again.

    Parameters
    ----------
    off_time : float or array_like
        How long the mains was away. [s]  Must be >= 0.
    working_temperature : float or array_like
        Of the thermistor when the mains went. [°C]
    start_voltage : float or array_like
        Of the bulk capacitor when the mains went. [V]  Must be > 0.
    end_voltage : float or array_like, optional
        Voltage of the bulk capacitor at which the converter stops. [V]
    drawn_power : float or array_like, optional
        Power that the converter draws until then. [W]  Must be >= 0.
    circuit : keyword arguments
        Those of `plug_in_surge`, with a thermistor; its load is the one after the return.

    Returns
    -------
    PlugInSurge
        The surge at the return.

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    `thermistor_cooling` and `bulk_voltage_after` say what is left at the return. A short dip
    finds a hot thermistor but a capacitor still full; a long pause a cold one and an empty
    capacitor. The largest surge lies between: the converter has emptied the capacitor within
    a second, and the thermistor needs a minute to cool.

    References
    ----------
    As `thermistor_cooling` and `bulk_voltage_after`.

    Examples
    --------
    The same adapter after 20 ms, after 2 s, and after 5 minutes:

    >>> disc = Thermistor(8, 2900, 0.75, 0.014)
    >>> surge = restart_surge([0.02, 2, 300], 90, 310, drawn_power=30, mains_voltage=230,
    ...     mains_frequency=50, phase=90, bulk_capacitance=100e-6, series_resistance=1.5,
    ...     thermistor=disc, duration=0.01)
    >>> print(surge.peak_current.round(0))
    [ 12. 109.  34.]
    """
    disc = circuit.get("thermistor")
    if disc is None:
        raise ValueError("thermistor must be given: without one the limiter does not warm up")
    air = circuit.get("ambient", 25.0)
    return plug_in_surge(
        **circuit,
        thermistor_temperature=thermistor_cooling(disc, working_temperature, off_time, air),
        start_voltage=bulk_voltage_after(
            start_voltage, circuit["bulk_capacitance"], drawn_power, off_time, end_voltage
        ),
    )
