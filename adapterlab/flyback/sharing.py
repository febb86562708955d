"""Converters that share a load, and such as join only above one.

`load_sharing`, `ripple_against_load`, `ripple_step`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.flyback.paralleled import combined_ripple
from adapterlab.flyback.point import operating_point
from adapterlab.flyback.ripple import SecondaryPulse, secondary_pulse
from adapterlab.numerics.arguments import Bools, Floats, Numbers, not_negative, plain, positive

# What a converter at rest counts for beside one at work.
_REST = 1e-12


@dataclass(frozen=True)
class ParalleledStage:
    """Power stage of one of several converters that share an output.

    Attributes
    ----------
    rated_power : float
        Decides its share of the load. [W]
    turns_ratio : float
        Primary to secondary. [1]
    magnetising_inductance : float
        Seen from the primary. [H]
    switching_frequency : float, numpy.ndarray or None
        [Hz], in the shape of the load; None for a converter that works at the boundary.
    diode_drop, efficiency : float
        As in `adapterlab.flyback.operating_point`. [V], [1]
    joins_above : float
        Output power above which it works; 0 for always. [W]
    output_capacitance, output_esr : float
        Capacitor that comes onto the output together with it; 0 F for none. [F], [ohm]
    """

    rated_power: float
    turns_ratio: float
    magnetising_inductance: float
    switching_frequency: float | Floats | None = None
    diode_drop: float = 0.0
    efficiency: float = 1.0
    joins_above: float = 0.0
    output_capacitance: float = 0.0
    output_esr: float = 0.0


@dataclass(frozen=True)
class RippleAgainstLoad:
    """Predicted ripple of an output that several converters share.

    Attributes
    ----------
    output_current : float or numpy.ndarray
        [A], shape (...)
    peak_to_peak : float or numpy.ndarray
        As in `CombinedRipple`. [V], shape (...)
    capacitor_rms : float or numpy.ndarray
        [A], shape (...)
    working : int or numpy.ndarray
        Converters at work. [1], shape (...)
    share : numpy.ndarray
        Share of the output current of each converter. [1], shape (converters, ...)
    """

    output_current: Numbers
    peak_to_peak: Numbers
    capacitor_rms: Numbers
    working: Numbers
    share: Floats


@dataclass(frozen=True)
class RippleStep:
    """What a joining converter does to the ripple, by cause.

    Attributes
    ----------
    load_power : float
        Output power at which it joins. [W]
    before, after : float or numpy.ndarray
        Ripple just below and just above. [V]
    ratio : float or numpy.ndarray
        After over before: the product of the three that follow. [1]
    from_current : float or numpy.ndarray
        Because the first converter carries less: its own ripple, after over before. [1]
    from_phase : float or numpy.ndarray
        Because the others' pulses come on top or in between. [1]
    from_capacitors : float or numpy.ndarray
        Because more capacitors hang on the output. [1]
    """

    load_power: float
    before: Numbers
    after: Numbers
    ratio: Numbers
    from_current: Numbers
    from_phase: Numbers
    from_capacitors: Numbers


def load_sharing(
    output_power: ArrayLike, rated_power: ArrayLike, joins_above: ArrayLike = 0
) -> Floats:
    """Share of the output that each of several converters carries.

    Parameters
    ----------
    output_power : float or array_like
        Power of the output. [W]  Must be > 0.
    rated_power : array_like
        Of each converter; those at work share in proportion. [W], shape (converters,)
    joins_above : float or array_like, optional
        Output power above which each works. [W], shape (converters,) or ()  Must be >= 0.

    Returns
    -------
    numpy.ndarray
        Shares, which sum to one; 0 for a converter at rest. [1], shape (converters, ...)

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or no converter works at some load.

    References
    ----------
    Sharing in proportion to rating: common practice.

    Examples
    --------
    >>> load_sharing([30, 60], [40, 20], [0, 38])
    array([[1.   , 0.667],
           [0.   , 0.333]])
    """
    power = positive("output_power", output_power)
    rated = np.atleast_1d(positive("rated_power", rated_power))
    above = np.broadcast_to(not_negative("joins_above", joins_above), rated.shape)
    tall = rated.shape + (1,) * power.ndim
    weight = np.where(power > above.reshape(tall), rated.reshape(tall), 0.0)
    total = weight.sum(axis=0)
    if np.any(total == 0):
        raise ValueError(
            f"joins_above must leave a converter at work at every load, got {joins_above!r}"
        )
    return np.asarray(weight / total)


def _pulse(
    stage: ParalleledStage,
    current: ArrayLike,
    share: ArrayLike,
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
) -> SecondaryPulse:
    """Pulse of a stage with its share of a current; next to nothing where it rests."""
    whole, part = np.asarray(current, dtype=float), np.asarray(share, dtype=float)
    carried = whole * np.where(part > 0, part, 1.0)
    point = operating_point(
        input_voltage,
        output_voltage,
        carried,
        stage.turns_ratio,
        stage.magnetising_inductance,
        stage.switching_frequency,
        stage.diode_drop,
        stage.efficiency,
    )
    return secondary_pulse(point, np.where(part > 0, carried, _REST * whole))


def _together(
    stages: Sequence[ParalleledStage], working: Bools, capacitance: Floats, esr: Floats
) -> tuple[Floats, Floats]:
    """Capacitance and series resistance with the capacitors that come with the stages."""
    own = [stage for stage in stages if stage.output_capacitance > 0]
    ideal = bool(np.any(esr == 0)) or any(stage.output_esr == 0 for stage in own)
    total, conductance = capacitance, 0 * esr if ideal else 1 / esr
    for stage, works in zip(stages, working, strict=True):
        if stage.output_capacitance > 0:
            total = total + works * stage.output_capacitance
            conductance = conductance + (0.0 if ideal else works / stage.output_esr)
    return total, (esr * 0 if ideal else 1 / conductance)


def ripple_against_load(
    output_current: ArrayLike,
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    stages: Sequence[ParalleledStage],
    output_capacitance: ArrayLike,
    output_esr: ArrayLike = 0,
    pulse_phase: ArrayLike | None = None,
) -> RippleAgainstLoad:
    """Ripple of an output that several converters share, some of them only above a load.

    Parameters
    ----------
    output_current : float or array_like
        Load. [A]  Must be > 0.
    input_voltage, output_voltage : float or array_like
        As in `adapterlab.flyback.operating_point`.
    stages : sequence of ParalleledStage
        The converters; those at work share in proportion to their rating.
    output_capacitance, output_esr : float or array_like
        Capacitor that always hangs on the output. [F], [ohm]
    pulse_phase : array_like or None, optional
        As in `combined_ripple`. [°], shape (converters,)

    Returns
    -------
    RippleAgainstLoad
        In the broadcast shape of loads and voltages.

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or no converter works at some load.

    Notes
    -----
    Paralleled capacitors count as one of their total capacitance with their resistances in
    parallel, which holds where each has about the same product of the two.

    References
    ----------
    `operating_point`, `combined_ripple`; sharing by rating: common practice.

    Examples
    --------
    >>> pair = [ParalleledStage(40, 4.5, 302e-6, 85e3),
    ...         ParalleledStage(20, 4.5, 247e-6, 110e3, joins_above=38)]
    >>> ripple = ripple_against_load([1.8, 2.0], 300, 20, pair, 660e-6, 7e-3)
    >>> print((ripple.peak_to_peak * 1e3).round().tolist(), ripple.working.tolist())
    [53.0, 77.0] [1, 2]
    """
    current = positive("output_current", output_current)
    output = positive("output_voltage", output_voltage)
    source = positive("input_voltage", input_voltage)
    if not stages:
        raise ValueError("stages must hold at least one converter, got none")
    current, source, output = np.broadcast_arrays(current, source, output)
    share = load_sharing(
        current * output,
        [stage.rated_power for stage in stages],
        [stage.joins_above for stage in stages],
    )
    working = share > 0
    capacitance, esr = _together(
        stages, working, positive("output_capacitance", output_capacitance),
        not_negative("output_esr", output_esr),
    )  # fmt: skip
    pulses = [
        _pulse(stage, current, part, source, output)
        for stage, part in zip(stages, share, strict=True)
    ]
    ripple = combined_ripple(pulses, capacitance, esr, pulse_phase)
    return RippleAgainstLoad(
        plain(np.array(current)),
        ripple.peak_to_peak,
        ripple.capacitor_rms,
        plain(working.sum(axis=0)),
        share,
    )


def ripple_step(
    input_voltage: float,
    output_voltage: float,
    stages: Sequence[ParalleledStage],
    output_capacitance: float,
    output_esr: float = 0,
    pulse_phase: ArrayLike | None = None,
) -> RippleStep:
    """Step of the ripple where the last converter joins, and its three causes apart.

    Parameters
    ----------
    input_voltage, output_voltage : float
        As in `adapterlab.flyback.operating_point`. [V]
    stages : sequence of ParalleledStage
        The converters, those that always work first.
    output_capacitance, output_esr : float
        Capacitor that always hangs on the output. [F], [ohm]
    pulse_phase : array_like or None, optional
        As in `combined_ripple`. [°], shape (converters,)

    Returns
    -------
    RippleStep
        Ripple before and after, and the three factors that make their ratio.

    Raises
    ------
    ValueError
        If an input lies outside what is allowed, or no converter joins above a load.

    Notes
    -----
    The factors follow one upon the other: first the first converter alone with its lesser
    share, then all converters on the same capacitor, then all capacitors. In discontinuous
    conduction the first goes as the square root of the share while the resistance rules.

    References
    ----------
    `ripple_against_load`.

    Examples
    --------
    >>> pair = [ParalleledStage(20, 4.5, 300e-6, 85e3),
    ...         ParalleledStage(20, 4.5, 300e-6, 85e3, joins_above=20)]
    >>> step = ripple_step(300, 20, pair, 660e-6, 7e-3, pulse_phase=[0, 180])
    >>> print(f"{step.ratio:.2f} = {step.from_current:.2f} x {step.from_phase:.2f}")
    0.71 = 0.71 x 1.00
    """
    joining = max((stage.joins_above for stage in stages), default=0.0)
    if joining <= 0:
        raise ValueError("stages must hold one whose joins_above is above 0 W")
    current = joining / positive("output_voltage", output_voltage)
    above = current * (1 + 1e-9)
    rest = (input_voltage, output_voltage)
    bare = [replace(stage, output_capacitance=0.0) for stage in stages]
    before = ripple_against_load(
        current, *rest, stages, output_capacitance, output_esr, pulse_phase
    )
    after = ripple_against_load(above, *rest, stages, output_capacitance, output_esr, pulse_phase)
    same = ripple_against_load(above, *rest, bare, output_capacitance, output_esr, pulse_phase)
    first = _pulse(stages[0], above, after.share[0], *rest)
    alone = combined_ripple([first], output_capacitance, output_esr).peak_to_peak
    return RippleStep(
        joining,
        before.peak_to_peak,
        after.peak_to_peak,
        after.peak_to_peak / before.peak_to_peak,
        alone / before.peak_to_peak,
        same.peak_to_peak / alone,
        after.peak_to_peak / same.peak_to_peak,
    )
