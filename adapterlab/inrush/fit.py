"""Resistance, capacitance and phase that a plug-in capture implies: `fit_surge`."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from adapterlab.inrush.cut import Cut, cut_out
from adapterlab.inrush.surge import PlugInSurge, plug_in_surge
from adapterlab.inrush.thermistor import Thermistor
from adapterlab.numerics.arguments import Floats, finite, not_negative, positive
from adapterlab.numerics.mains import Mains
from adapterlab.uncertainty import Estimate, coverage_factor

# Angles from which the search sets out where the phase is not known. [degrees]
_STARTS = (30.0, 90.0, 150.0)
# Steps of the slopes: contact, ln R, ln C, phase in degrees, inductance; contact and inductance
# in their own deviations.
_STEPS = np.array([0.1, 1e-3, 1e-3, 0.05, 0.05])


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
class SurgePath:
    """What is known of the mains and of the path while a fit looks for the rest.

    Attributes
    ----------
    mains : Mains
        The mains, a single case.
    mains_voltage_uncertainty : float
        Standard uncertainty of its voltage. [V]
    phase : Estimate or None
        Angle of the mains at contact, from 0 to 360. [degrees]  None if the capture alone is to
        tell.
    thermistor : Thermistor or None
        The limiter that warms up within the surge: its resistance is what is looked for, its other
        fields are taken as they are. None for a constant resistance.
    thermistor_temperature : float
        Of the thermistor at contact. [°C]
    heat_capacity_uncertainty : float
        Relative standard uncertainty of its heat capacity. [1]
    other_resistance : Estimate
        Resistance in the path besides the thermistor; it only shares out the heat. [ohm]
        Must be > 0.
    source_inductance : Estimate
        Inductance in the path. [H]  Must be >= 0.
    bridge_drop : Estimate
        Constant drop of the two conducting diodes together. [V]  Must be >= 0.
    start_voltage : float
        Left on the bulk capacitor. [V]  Must be >= 0.
    """

    mains: Mains
    mains_voltage_uncertainty: float = 0.0
    phase: Estimate | None = None
    thermistor: Thermistor | None = None
    thermistor_temperature: float = 25.0
    heat_capacity_uncertainty: float = 0.0
    other_resistance: Estimate = Estimate(1.0)
    source_inductance: Estimate = Estimate(0.0)
    bridge_drop: Estimate = Estimate(0.0)
    start_voltage: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no path."""
        if self.phase is not None:
            if not 0 <= self.phase.value <= 360:
                raise ValueError(f"phase must lie from 0 to 360 degrees, got {self.phase.value!r}")
            positive("phase uncertainty", self.phase.standard_uncertainty)
        positive("other_resistance", self.other_resistance.value)
        not_negative("source_inductance", self.source_inductance.value)
        not_negative("bridge_drop", self.bridge_drop.value)
        not_negative("start_voltage", self.start_voltage)
        not_negative("mains_voltage_uncertainty", self.mains_voltage_uncertainty)
        not_negative("heat_capacity_uncertainty", self.heat_capacity_uncertainty)

    @property
    def doubts(self) -> dict[str, float]:
        """Standard uncertainty of everything that moves the fit, by name."""
        found = {
            "mains_voltage": self.mains_voltage_uncertainty,
            "bridge_drop": self.bridge_drop.standard_uncertainty,
        }
        if self.thermistor is not None:
            found["other_resistance"] = self.other_resistance.standard_uncertainty
            found["heat_capacity"] = self.heat_capacity_uncertainty
        return found


@dataclass(frozen=True)
class _Solved:
    """Best parameters and their slopes; misfit while the first surge flows, and noise. [A]."""

    found: Floats
    jacobian: Floats
    converged: bool
    rms: float
    noise: float


class _Search:
    """A surge cut from a capture, and the surges of the model beside it.

    The parameters are as `_STEPS` tells.
    """

    def __init__(self, path: SurgePath, cut: Cut) -> None:
        self.path, self.cut = path, cut
        self.span = float(cut.time[-1] - cut.last_quiet + cut.step)
        self.slack = cut.step / np.sqrt(12) if cut.sudden else 2e-4
        self.middle = cut.last_quiet + (cut.step / 2 if cut.sudden else 0.0)
        self.angle = path.phase.value % 180 if path.phase is not None else 90.0
        disc = path.thermistor
        self.warm = float(disc.resistance(path.thermistor_temperature)) if disc else 0.0

    def surge(self, parameters: Floats, moved: dict[str, float]) -> PlugInSurge:
        """The surge of the model, with some of what is known moved."""
        path, mains = self.path, self.path.mains
        ohms, bulk = np.exp(parameters[1:3])
        rest = path.other_resistance.value + moved.get("other_resistance", 0.0)
        coil = path.source_inductance
        disc = path.thermistor
        if disc is not None:
            share = max(ohms - rest, 1e-3 * ohms) / self.warm
            heat = 1 + moved.get("heat_capacity", 0.0)
            disc = replace(
                disc,
                resistance_25=float(np.asarray(disc.resistance_25)) * share,
                heat_capacity=float(np.asarray(disc.heat_capacity)) * heat,
            )
        return plug_in_surge(
            float(np.asarray(mains.voltage)) + moved.get("mains_voltage", 0.0),
            mains.frequency,
            float(np.mod(parameters[3], 360.0)),
            bulk,
            rest if disc is not None else ohms,
            max(coil.value + parameters[4] * coil.standard_uncertainty, 0.0),
            bridge_drop=max(path.bridge_drop.value + moved.get("bridge_drop", 0.0), 0.0),
            thermistor=disc,
            ambient=path.thermistor_temperature,
            duration=self.span,
            start_voltage=path.start_voltage,
            samples=801,
            harmonics=mains.shape,
        )

    def misfit(self, parameters: Floats, noise: float, **moved: float) -> Floats:
        """Misfit over noise, and what is known of contact, inductance and phase."""
        model = self.surge(parameters, moved)
        since = self.cut.time - self.middle - parameters[0] * self.slack
        flow = np.interp(since, model.time, model.current, left=0.0)
        wrong = (flow - (1 + moved.get("gain", 0.0)) * self.cut.current) / noise
        prior = [parameters[0], parameters[4]]
        if self.path.phase is not None:
            prior.append((parameters[3] - self.angle) / self.path.phase.standard_uncertainty)
        return np.append(wrong, prior)

    def slopes(self, parameters: Floats, noise: float) -> Floats:
        """Derivative of the misfit by the parameters."""
        here = self.misfit(parameters, noise)
        moved = [self.misfit(parameters + step, noise) - here for step in np.diag(_STEPS)]
        found: Floats = np.array(moved).T / _STEPS
        return found

    def solve(self, guess: float) -> _Solved:
        """The best surge about a guess of the phase."""
        path, cut = self.path, self.cut
        crest, other = np.sqrt(2) * float(np.asarray(path.mains.voltage)), path.other_resistance
        height = crest * max(np.sin(np.radians(guess)), 0.2)
        height -= path.bridge_drop.value + path.start_voltage
        ohms = max(max(height, 0.05 * crest) / cut.peak, 1.1 * other.value)
        charge = float(np.trapezoid(np.maximum(cut.current, 0), cut.time))
        held = path.start_voltage
        bulk = charge / (0.9 * crest - held if held < 0.8 * crest else crest)
        start = np.array([0.0, np.log(ohms), np.log(bulk), guess, 0.0])
        reach = np.array([4.0, 2.5, 2.5, 40.0, 6.0])
        floor, level = start - reach, cut.noise
        if path.thermistor is not None:
            floor[1] = max(floor[1], np.log(1.02 * other.value))
        # The second time with the misfit as noise, so that a circuit that fits badly does not
        # drag the instant of contact away.
        for _ in range(2):
            noise, inside = level, np.clip(start, floor + 1e-3, start + reach)
            fit = least_squares(
                self.misfit,
                inside,
                jac=self.slopes,
                bounds=(floor, inside + reach),
                x_scale=[1, 0.1, 0.1, 5.0, 1.0],
                xtol=1e-4,
                ftol=1e-4,
                args=(noise,),
                max_nfev=40,
            )
            wrong = noise * fit.fun[: len(cut.time)]
            rms = float(np.sqrt(np.mean(wrong[cut.current > 0.05 * cut.peak] ** 2)))
            start, level = fit.x, max(noise, float(np.sqrt(np.mean(wrong**2))))
            if level < 1.2 * noise:
                break
        return _Solved(fit.x, fit.jac, bool(fit.success), rms, noise)

    def covariance(self, solved: _Solved, gain_uncertainty: float) -> Floats:
        """Of the parameters: noise, gain, and everything that was held fixed."""
        found, jacobian, noise = solved.found, solved.jacobian, solved.noise
        spread: Floats = np.asarray(np.linalg.inv(jacobian.T @ jacobian), float)
        still, steer = self.misfit(found, noise), spread @ jacobian.T
        for name, size in ({"gain": gain_uncertainty} | self.path.doubts).items():
            if size > 0:
                shift = steer @ (self.misfit(found, noise, **{name: size}) - still)
                spread = spread + np.outer(shift, shift)
        return spread

    def result(self, solved: _Solved, spread: Floats, coverage: float) -> SurgeFit:
        """Estimates with uncertainties and intervals."""
        model, found = self.surge(solved.found, {}), solved.found
        deviation, factor = np.sqrt(np.diag(spread)), coverage_factor(coverage)
        ohms, bulk = np.exp(found[1:3])
        sizes = (ohms * deviation[1], bulk * deviation[2], deviation[3])
        ends = [
            (float(value - factor * size), float(value + factor * size))
            for value, size in zip((ohms, bulk, found[3]), sizes, strict=True)
        ]
        return SurgeFit(
            resistance=float(ohms),
            capacitance=float(bulk),
            phase=float(found[3]),
            resistance_uncertainty=float(sizes[0]),
            capacitance_uncertainty=float(sizes[1]),
            phase_uncertainty=float(sizes[2]),
            resistance_interval=ends[0],
            capacitance_interval=ends[1],
            phase_interval=ends[2],
            correlation=float(spread[1, 2] / (deviation[1] * deviation[2])),
            contact_time=float(self.middle + found[0] * self.slack),
            residual=solved.rms,
            relative_residual=float(solved.rms / model.peak_current),
            offset=self.cut.offset,
            polarity=self.cut.polarity,
            time=model.time,
            current=model.current,
        )


def fit_surge(
    time: ArrayLike,
    current: ArrayLike,
    path: SurgePath,
    *,
    gain_uncertainty: float = 0.0,
    coverage: float = 0.95,
) -> SurgeFit:
    r"""Resistance, capacitance and phase that a plug-in capture implies, by least squares.

    Parameters
    ----------
    time : array_like
        Time of each sample, rising, in steps that may vary. [s], shape (n,)
    current : array_like
        Captured current; it begins before contact. [A], shape (n,)
    path : SurgePath
        The mains and what is known of the path, held fixed.
    gain_uncertainty : float, optional
        Relative standard uncertainty of the current probe's gain. [1]
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
    noise is that before contact, or the misfit of a first fit if that is larger. Gain and what is
    known of the path add what each, moved by its standard uncertainty, shifts in the linearised
    fit.

    References
    ----------
    JCGM 102:2011, 6 (propagation with several outputs), from memory.

    Examples
    --------
    A surge sampled every 5 µs, contact at 0.1 ms and 60 degrees:

    >>> moments = np.arange(0, 15e-3, 5e-6)
    >>> true = plug_in_surge(230, 50, 60, 33e-6, 10, duration=0.0149)
    >>> flow = np.interp(moments - 0.102e-3, true.time, true.current, left=0)
    >>> found = fit_surge(moments, flow, SurgePath(Mains(230, 50)))
    >>> print(f"{found.resistance:.1f} ohm, {found.capacitance * 1e6:.0f} µF, "
    ...       f"{found.phase:.0f} degrees")
    10.0 ohm, 33 µF, 60 degrees
    """
    moments, values = finite("time", time), finite("current", current)
    if moments.ndim != 1 or moments.shape != values.shape or not (np.diff(moments) > 0).all():
        raise ValueError("time must rise and be as long as current, each of shape (n,)")
    gain = float(not_negative("gain_uncertainty", gain_uncertainty))
    cut = cut_out(moments, values, 1 / float(np.asarray(path.mains.frequency)))
    search = _Search(path, cut)
    guesses = _STARTS if path.phase is None else (search.angle,)
    best = min((search.solve(guess) for guess in guesses), key=lambda solved: solved.rms)
    peak = float(search.surge(best.found, {}).peak_current)
    if best.rms > 0.2 * peak or not best.converged:
        raise ValueError(
            f"current fits no surge of one resistance and one capacitance: the best leaves "
            f"{best.rms:.3g} A of {peak:.3g} A"
        )
    return search.result(best, search.covariance(best, gain), coverage)
