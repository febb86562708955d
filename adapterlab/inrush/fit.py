"""Resistance, capacitance and phase that a plug-in capture implies: `fit_surge`."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from adapterlab.inrush.surge import plug_in_surge
from adapterlab.inrush.thermistor import Thermistor
from adapterlab.numerics.arguments import Floats, finite, not_negative, positive
from adapterlab.uncertainty import coverage_factor

# Angles from which the search sets out where the phase is not known. [degrees]
_STARTS = (30.0, 90.0, 150.0)
# Steps of the slopes: contact, ln R, ln C, phase in degrees, inductance; contact and inductance
# in their own deviations.
_STEPS = np.array([0.1, 1e-3, 1e-3, 0.05, 0.05])
_OF_THE_THERMISTOR = ("other_resistance", "heat_capacity")


@dataclass(frozen=True)
class SurgeFit:
    """Resistance, capacitance and phase that a captured surge implies.

    Attributes
    ----------
    resistance, capacitance, phase : float
        Best estimates: resistance of the whole path at contact [ohm], bulk capacitance [F], angle
        of the mains sine at contact, within half a turn [degrees]
    resistance_uncertainty, capacitance_uncertainty, phase_uncertainty : float
        Their standard uncertainties. [ohm], [F], [degrees]
    resistance_interval, capacitance_interval, phase_interval : tuple of float
        Ends of the coverage intervals. [ohm], [F], [degrees]
    correlation : float
        Correlation of resistance and capacitance. [1]
    contact_time : float
        Instant of contact on the time scale of the capture. [s]
    residual : float
        Rms difference of capture and fit while the first surge flows. [A]
    relative_residual : float
        The same over the peak of the fit. [1]
    offset : float
        Current that the capture shows before contact, taken off it. [A]
    polarity : int
        1 if the surge flowed in the positive sense of the capture, else -1.
    time, current : numpy.ndarray
        The fitted surge: time since contact [s] and current in the sense of the surge [A],
        shape (n,)
    """

    resistance: float
    capacitance: float
    phase: float
    resistance_uncertainty: float
    capacitance_uncertainty: float
    phase_uncertainty: float
    resistance_interval: tuple[float, float]
    capacitance_interval: tuple[float, float]
    phase_interval: tuple[float, float]
    correlation: float
    contact_time: float
    residual: float
    relative_residual: float
    offset: float
    polarity: int
    time: Floats
    current: Floats


@dataclass(frozen=True)
class _Cut:
    """The part of a capture that is fitted, in the sense of the surge."""

    time: Floats
    current: Floats
    last_quiet: float
    step: float
    sudden: bool
    peak: float
    noise: float
    offset: float
    polarity: int


def _cut(time: Floats, current: Floats, period: float) -> _Cut:
    """Find the surge in a capture; raises if there is none."""
    base = float(np.median(current[: max(len(current) // 100, 5)]))
    current = current - base
    top = int(np.argmax(np.abs(current)))
    before = np.flatnonzero(np.abs(current[:top]) < 0.05 * abs(current[top]))
    if len(before) < 2:
        raise ValueError("current holds no surge: it must begin before contact, without current")
    # The last sample without current, found again with the offset and noise of those before it.
    quiet = current[: max(before[-1] * 9 // 10, 2)]
    offset, noise = float(np.mean(quiet)), float(np.std(quiet)) if len(quiet) > 10 else 0.0
    polarity = 1 if current[top] > offset else -1
    flow = polarity * (current - offset)
    peak = float(flow[top])
    if peak <= 10 * noise:
        raise ValueError(f"current holds no surge: its peak of {peak:.3g} A is lost in noise")
    # A saturated channel shows no noise: its highest value stands still.
    level = int(np.argmax(flow[top:] < peak))
    if level > 4:
        raise ValueError(
            f"current must not be clipped: {level} samples in a row show its highest value, "
            f"{peak:.3g} A"
        )
    silent = np.flatnonzero(flow[:top] < max(5 * noise, 1e-3 * peak))
    last = int(silent[-1]) if len(silent) else int(before[-1])
    end = int(np.searchsorted(time, time[last] + period, side="right"))
    if time[-1] < time[last] + period / 2:
        raise ValueError(
            f"time must go on for half a period of the mains, {period / 2:.3g} s, after contact"
        )
    after = flow[top:end]
    if after.min() > peak / np.e or np.argmax(after < peak / np.e) < 4:
        raise ValueError(
            "current holds no surge: it must fall to 1/e of its peak within a period of the mains, "
            "over at least 4 samples"
        )
    sudden = bool(flow[last + 2] > 0.3 * peak)
    first = top if top <= last + 2 else last + 2
    return _Cut(
        time[first:end],
        flow[first:end],
        float(time[last]),
        float(time[last + 1] - time[last]),
        sudden,
        peak,
        max(noise, 1e-4 * peak),
        base + offset,
        polarity,
    )


def fit_surge(
    time: ArrayLike,
    current: ArrayLike,
    mains_voltage: float,
    mains_frequency: float,
    bridge_drop: float = 0.0,
    *,
    phase: float | None = None,
    phase_uncertainty: float = 2.0,
    thermistor: Thermistor | None = None,
    thermistor_temperature: float = 25.0,
    other_resistance: float = 1.0,
    source_inductance: float = 0.0,
    start_voltage: float = 0.0,
    gain_uncertainty: float = 0.0,
    mains_voltage_uncertainty: float = 0.0,
    bridge_drop_uncertainty: float = 0.0,
    source_inductance_uncertainty: float = 0.0,
    other_resistance_uncertainty: float = 0.0,
    heat_capacity_uncertainty: float = 0.0,
    coverage: float = 0.95,
) -> SurgeFit:
    r"""Resistance, capacitance and phase that a plug-in capture implies, by least squares.

    Parameters
    ----------
    time : array_like
        Time of each sample, rising, in steps that may vary. [s], shape (n,)
    current : array_like
        Captured current; it begins before contact. [A], shape (n,)
    mains_voltage, mains_frequency : float
        Rms voltage [V] and frequency [Hz] of the mains. Must be > 0.
    bridge_drop : float, optional
        Constant drop of the two conducting diodes together. [V]  Must be >= 0.
    phase : float, optional
        Angle of the mains sine at contact, as known, from 0 to 360. [degrees]  Without it the
        capture alone tells.
    phase_uncertainty : float, optional
        Standard uncertainty of that angle. [degrees]  Must be > 0.
    thermistor : Thermistor, optional
        The limiter that warms up within the surge; its resistance is what is looked for, its
        other fields are taken as they are. By default the resistance is constant.
    thermistor_temperature : float, optional
        Of the thermistor at contact. [°C]
    other_resistance : float, optional
        Resistance in the path besides the thermistor. [ohm]  Must be > 0; it only shares out the
        heat.
    source_inductance : float, optional
        Inductance in the path. [H]  Must be >= 0.
    start_voltage : float, optional
        Left on the bulk capacitor. [V]  Must be >= 0.
    gain_uncertainty : float, optional
        Relative standard uncertainty of the current probe's gain. [1]
    mains_voltage_uncertainty, bridge_drop_uncertainty : float, optional
        Standard uncertainties. [V]
    source_inductance_uncertainty, other_resistance_uncertainty : float, optional
        Standard uncertainties. [H], [ohm]
    heat_capacity_uncertainty : float, optional
        Relative standard uncertainty of the thermistor's heat capacity. [1]
    coverage : float, optional
        Probability that each interval holds its quantity. [1]

    Returns
    -------
    SurgeFit
        Estimates, uncertainties, intervals, residual and the fitted curve.

    Raises
    ------
    ValueError
        If the capture holds no surge, is clipped or too short, an argument is out of range, or
        nothing fits.

    Notes
    -----
    `plug_in_surge` without load is fitted to one period of the capture: from its peak on where
    the current sets in suddenly, so that contact lies between two samples, else from where it
    begins, and contact is looked for. The offset before contact is taken off and told. The
    noise is that before contact, or the misfit of a first fit if that is larger. Gain, mains
    voltage and the other given uncertainties add what each, moved by its standard uncertainty,
    shifts in the linearised fit.

    References
    ----------
    JCGM 102:2011, 6 (propagation with several outputs), from memory.

    Examples
    --------
    A surge sampled every 5 µs, contact at 0.1 ms and 60 degrees:

    >>> moments = np.arange(0, 15e-3, 5e-6)
    >>> true = plug_in_surge(230, 50, 60, 33e-6, 10, duration=0.0149)
    >>> flow = np.interp(moments - 0.102e-3, true.time, true.current, left=0)
    >>> found = fit_surge(moments, flow, 230, 50)
    >>> print(f"{found.resistance:.1f} ohm, {found.capacitance * 1e6:.0f} µF, "
    ...       f"{found.phase:.0f} degrees")
    10.0 ohm, 33 µF, 60 degrees
    """
    moments, values = finite("time", time), finite("current", current)
    if moments.ndim != 1 or moments.shape != values.shape or not (np.diff(moments) > 0).all():
        raise ValueError("time must rise and be as long as current, each of shape (n,)")
    crest = np.sqrt(2) * float(positive("mains_voltage", mains_voltage))
    fall = float(not_negative("bridge_drop", bridge_drop))
    known = phase is not None
    if phase is not None and not 0 <= float(finite("phase", phase)) <= 360:
        raise ValueError(f"phase must lie from 0 to 360 degrees, got {phase!r}")
    other = float(positive("other_resistance", other_resistance))
    period = 1 / float(positive("mains_frequency", mains_frequency))
    cut = _cut(moments, values, period)
    span = float(cut.time[-1] - cut.last_quiet + cut.step)
    slack = cut.step / np.sqrt(12) if cut.sudden else 2e-4
    middle = cut.last_quiet + (cut.step / 2 if cut.sudden else 0.0)
    coil = float(not_negative("source_inductance", source_inductance))
    coil_slack = float(not_negative("source_inductance_uncertainty", source_inductance_uncertainty))
    warm = float(thermistor.resistance(thermistor_temperature)) if thermistor else 0.0

    def surge(parameters: Floats, moved: dict[str, float]) -> Any:
        ohms, bulk = np.exp(parameters[1:3])
        rest = other + moved.get("other_resistance", 0.0)
        disc = None
        if thermistor is not None:
            share = max(ohms - rest, 1e-3 * ohms) / warm
            disc = replace(
                thermistor,
                resistance_25=float(thermistor.resistance_25) * share,  # type: ignore[arg-type]
                heat_capacity=float(thermistor.heat_capacity)  # type: ignore[arg-type]
                * (1 + moved.get("heat_capacity", 0.0)),
            )
        return plug_in_surge(
            mains_voltage + moved.get("mains_voltage", 0.0),
            mains_frequency,
            float(np.mod(parameters[3], 360.0)),
            bulk,
            rest if disc is not None else ohms,
            max(coil + parameters[4] * coil_slack, 0.0),
            bridge_drop=max(fall + moved.get("bridge_drop", 0.0), 0.0),
            thermistor=disc,
            ambient=thermistor_temperature,
            duration=span,
            start_voltage=start_voltage,
            samples=801,
        )

    def misfit(parameters: Floats, noise: float, **moved: float) -> Floats:
        """Misfit over noise; the parameters are as `_STEPS` tells."""
        model = surge(parameters, moved)
        since = cut.time - middle - parameters[0] * slack
        flow = np.interp(since, model.time, model.current, left=0.0)
        wrong = (flow - (1 + moved.get("gain", 0.0)) * cut.current) / noise
        prior = [parameters[0], parameters[4]]
        if known:
            prior.append((parameters[3] - angle) / phase_uncertainty)
        return np.append(wrong, prior)

    def slopes(parameters: Floats, noise: float) -> Floats:
        here = misfit(parameters, noise)
        moved = [misfit(parameters + step, noise) - here for step in np.diag(_STEPS)]
        return np.array(moved).T / _STEPS

    def solve(start: Floats) -> tuple[Any, float, float]:
        """Least squares, its rms misfit while the first surge flows, and the noise. [A]."""
        level = cut.noise
        reach = np.array([4.0, 2.5, 2.5, 40.0, 6.0])
        floor = start - reach
        if thermistor is not None:
            floor[1] = max(floor[1], np.log(1.02 * other))
        # The second time with the misfit as noise, so that a circuit that fits badly does not
        # drag the instant of contact away.
        for _ in range(2):
            noise, inside = level, np.clip(start, floor + 1e-3, start + reach)
            solved = least_squares(
                misfit,
                inside,
                jac=slopes,
                bounds=(floor, inside + reach),
                x_scale=[1, 0.1, 0.1, 5.0, 1.0],
                xtol=1e-4,
                ftol=1e-4,
                args=(noise,),
                max_nfev=40,
            )
            wrong = noise * solved.fun[: len(cut.time)]
            rms = float(np.sqrt(np.mean(wrong[cut.current > 0.05 * cut.peak] ** 2)))
            start, level = solved.x, max(noise, float(np.sqrt(np.mean(wrong**2))))
            if level < 1.2 * noise:
                break
        return solved, rms, noise

    positive("phase_uncertainty", phase_uncertainty)
    angle = float(phase) % 180 if phase is not None else 90.0
    charge = float(np.trapezoid(np.maximum(cut.current, 0), cut.time))
    best: Any = None
    for guess in (angle,) if known else _STARTS:
        height = crest * max(np.sin(np.radians(guess)), 0.2) - fall - start_voltage
        ohms = max(height, 0.05 * crest) / cut.peak
        bulk = charge / (0.9 * crest - start_voltage if start_voltage < 0.8 * crest else crest)
        found = solve(np.array([0.0, np.log(max(ohms, 1.1 * other)), np.log(bulk), guess, 0.0]))
        if best is None or found[1] < best[1]:
            best = found
    solved, rms, noise = best
    model = surge(solved.x, {})
    if rms > 0.2 * model.peak_current or not solved.success:
        raise ValueError(
            f"current fits no surge of one resistance and one capacitance: the best leaves "
            f"{rms:.3g} A of {model.peak_current:.3g} A"
        )
    jacobian = solved.jac
    spread = np.linalg.inv(jacobian.T @ jacobian)
    still, steer = misfit(solved.x, noise), spread @ jacobian.T
    for name, uncertainty in (
        ("gain", gain_uncertainty),
        ("mains_voltage", mains_voltage_uncertainty),
        ("bridge_drop", bridge_drop_uncertainty),
        ("other_resistance", other_resistance_uncertainty),
        ("heat_capacity", heat_capacity_uncertainty),
    ):
        size = float(not_negative(f"{name}_uncertainty", uncertainty))
        if size > 0 and (thermistor is not None or name not in _OF_THE_THERMISTOR):
            shift = steer @ (misfit(solved.x, noise, **{name: size}) - still)
            spread = spread + np.outer(shift, shift)
    deviation = np.sqrt(np.diag(spread))
    factor = coverage_factor(coverage)
    ohms, bulk = np.exp(solved.x[1:3])
    sizes = (ohms * deviation[1], bulk * deviation[2], deviation[3])
    ends = [
        (float(value - factor * size), float(value + factor * size))
        for value, size in zip((ohms, bulk, solved.x[3]), sizes, strict=True)
    ]
    return SurgeFit(
        resistance=float(ohms),
        capacitance=float(bulk),
        phase=float(solved.x[3]),
        resistance_uncertainty=float(sizes[0]),
        capacitance_uncertainty=float(sizes[1]),
        phase_uncertainty=float(sizes[2]),
        resistance_interval=ends[0],
        capacitance_interval=ends[1],
        phase_interval=ends[2],
        correlation=float(spread[1, 2] / (deviation[1] * deviation[2])),
        contact_time=float(middle + solved.x[0] * slack),
        residual=rms,
        relative_residual=float(rms / model.peak_current),
        offset=cut.offset,
        polarity=cut.polarity,
        time=model.time,
        current=model.current,
    )
