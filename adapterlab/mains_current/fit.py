"""The parts behind a captured mains current: bulk capacitance and series resistance."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from adapterlab.numerics.arguments import Floats, finite, not_negative, positive
from adapterlab.numerics.bridge import Circuit, solve_pulses
from adapterlab.numerics.bridge_figures import current_at, drawn_power
from adapterlab.numerics.diodes import Bridge
from adapterlab.numerics.mains import Mains
from adapterlab.uncertainty import Estimate, coverage_factor

# Steps of the slopes: logarithm of the capacitance, of the resistance, delay of the current [s].
_STEPS = np.array([1e-4, 1e-4, 1e-7])


@dataclass(frozen=True)
class RectifierFit:
    """Bulk capacitance and series resistance that a captured current implies.

    Attributes
    ----------
    bulk_capacitance : float
        Best estimate. [F]
    bulk_capacitance_uncertainty : float
        Standard uncertainty. [F]
    source_resistance : float
        Everything in series before the bridge. [ohm]
    source_resistance_uncertainty : float
        Standard uncertainty. [ohm]
    correlation : float
        Correlation of the two. [1]
    delay : float
        By how much the current lags behind the model's. [s]
    load_power : float
        Power drawn from the bulk capacitor. [W]
    residual_rms : float
        Rms of captured less fitted current. [A]
    """

    bulk_capacitance: float
    bulk_capacitance_uncertainty: float
    source_resistance: float
    source_resistance_uncertainty: float
    correlation: float
    delay: float
    load_power: float
    residual_rms: float

    def interval(self, coverage: float = 0.95) -> dict[str, tuple[float, float]]:
        """Ends of the coverage interval of ``bulk_capacitance`` and ``source_resistance``.

        Parameters
        ----------
        coverage : float, optional
            Probability that the interval holds the value. [1]

        Returns
        -------
        dict of str to tuple of float
            Lower and upper end. [F], [ohm]
        """
        factor, ends = coverage_factor(coverage), {}
        for name in ("bulk_capacitance", "source_resistance"):
            value, spread = getattr(self, name), getattr(self, f"{name}_uncertainty")
            ends[name] = (value - factor * spread, value + factor * spread)
        return ends


@dataclass(frozen=True)
class RectifierPath:
    """What is known of the mains and of the path while a fit looks for the rest.

    Attributes
    ----------
    mains : Mains
        The mains, a single case.
    input_power : Estimate
        Power drawn from it. [W]  Must be > 0.
    mains_voltage_uncertainty : float
        Standard uncertainty of the mains voltage; the shape of its wave stays. [V]
    source_inductance : Estimate
        Inductance before the bridge. [H]  Must be >= 0.
    bulk_esr : Estimate
        Series resistance of the bulk capacitor. [ohm]  Must be >= 0.
    bridge_drop, bridge_resistance : Estimate
        Of the two conducting diodes together. [V], [ohm]  Must be >= 0.
    """

    mains: Mains
    input_power: Estimate
    mains_voltage_uncertainty: float = 0.0
    source_inductance: Estimate = Estimate(0.0)
    bulk_esr: Estimate = Estimate(0.0)
    bridge_drop: Estimate = Estimate(0.0)
    bridge_resistance: Estimate = Estimate(0.0)

    def __post_init__(self) -> None:
        """Refuse what is no path."""
        positive("input_power", self.input_power.value)
        for name in ("source_inductance", "bulk_esr", "bridge_drop", "bridge_resistance"):
            not_negative(name, getattr(self, name).value)

    @property
    def estimates(self) -> dict[str, Estimate]:
        """Everything that may be off, by name."""
        volts = Estimate(float(np.asarray(self.mains.voltage)), self.mains_voltage_uncertainty)
        names = ("input_power", "source_inductance", "bulk_esr", "bridge_drop", "bridge_resistance")
        return {"mains_voltage": volts} | {name: getattr(self, name) for name in names}


class _Capture:
    """A captured current, and the model's currents at its instants."""

    def __init__(self, path: RectifierPath, angle: Floats, flow: Floats) -> None:
        self.path, self.angle, self.flow = path, angle, flow
        self.omega = float(path.mains.omega)
        self.values = {name: known.value for name, known in path.estimates.items()}
        self.scale = float(np.sqrt(np.mean(flow**2)))

    def models(
        self, parts: Floats, moved: dict[str, Floats] | None = None
    ) -> tuple[Floats, Floats]:
        """Modelled currents, shape (cases, samples), and power from the capacitor.

        `parts` are as `_STEPS` tells. A current is zero where the parts have no steady state of
        one pulse.
        """
        every = {name: np.full(len(parts), value) for name, value in self.values.items()}
        every |= moved or {}
        mains = Mains(
            every["mains_voltage"],
            np.full(len(parts), float(np.asarray(self.path.mains.frequency))),
            self.path.mains.shape,
        )
        bridge = Bridge(every["bridge_drop"], every["bridge_resistance"])
        capacitance, resistance = np.exp(parts[:, 0]), np.exp(parts[:, 1])
        power, load = every["input_power"], 0.97 * every["input_power"]
        with np.errstate(all="ignore"):
            for _ in range(3):
                circuit = Circuit(
                    mains, resistance, every["source_inductance"], capacitance,
                    every["bulk_esr"], bridge, load, np.zeros_like(load),
                )  # fmt: skip
                pulse = solve_pulses(circuit)
                load = load + power - drawn_power(circuit, pulse)
                load = np.where(load > 0, load, 0.9 * power)
            found = current_at(circuit, pulse, self.angle - self.omega * parts[:, 2:])
        return np.where(pulse.good[:, None], found, 0.0), circuit.power

    def residual(self, parts: Floats) -> Floats:
        """Modelled less captured current, over the rms of the captured."""
        found: Floats = (self.models(parts[None, :])[0][0] - self.flow) / self.scale
        return found

    def slopes(self, parts: Floats) -> Floats:
        """Derivative of the residual by the parts."""
        model, _ = self.models(np.vstack([parts + np.diag(_STEPS), parts - np.diag(_STEPS)]))
        found: Floats = (model[:3] - model[3:]).T / (2 * _STEPS) / self.scale
        return found

    def start(self) -> Floats:
        """The best of some first guesses."""
        volts = self.values["mains_voltage"]
        energy = self.values["input_power"] * np.pi / self.omega / volts**2
        starts = np.array(
            [
                [np.log(energy / share), np.log(ohms), 0.0]
                for share in (0.05, 0.1, 0.2, 0.35, 0.5)
                for ohms in (0.5, 2.0, 6.0)
            ]
        )
        tried = ((self.models(starts)[0] - self.flow) ** 2).mean(axis=1)
        best: Floats = starts[int(np.argmin(tried))]
        return best

    def covariance(
        self, best: Floats, residuals: Floats, jacobian: Floats, gain_uncertainty: float
    ) -> Floats:
        """Of the parts: scatter of the residuals, gain, and everything that was held fixed."""
        inverse = np.linalg.pinv(jacobian)
        variance = float(np.mean(residuals**2)) * _correlated_samples(residuals)
        total: Floats = inverse @ inverse.T * variance
        shifts = [inverse @ (self.flow / self.scale) * gain_uncertainty]
        for name, known in self.path.estimates.items():
            spread = known.standard_uncertainty
            if spread > 0:
                ends = np.array(
                    [known.value + spread, max(known.value - spread, 0.3 * known.value)]
                )
                model, _ = self.models(np.vstack([best, best]), {name: ends})
                effect = (model[0] - model[1]) / (ends[0] - ends[1]) * spread / self.scale
                shifts.append(inverse @ effect)
        return total + sum(np.outer(shift, shift) for shift in shifts)


def _checked(time: ArrayLike, current: ArrayLike, omega: float) -> tuple[Floats, Floats]:
    moments, flow = finite("time", time), finite("current", current)
    if moments.ndim != 1 or moments.shape != flow.shape or len(moments) < 50:
        raise ValueError(
            f"time and current must hold at least 50 samples each, got shapes {moments.shape} "
            f"and {flow.shape}"
        )
    if np.ptp(moments) * len(moments) / (len(moments) - 1) < 2 * np.pi / omega * (1 - 1e-4):
        raise ValueError(f"time must span at least one period, got {np.ptp(moments):.4g} s")
    return moments, flow


def fit_rectifier(
    time: ArrayLike,
    current: ArrayLike,
    path: RectifierPath,
    *,
    rising_zero: float = 0.0,
    gain_uncertainty: float = 0.0,
) -> RectifierFit:
    r"""Bulk capacitance and series resistance behind a captured mains current.

    Parameters
    ----------
    time, current : array_like
        Capture of at least one period. [s], [A], shape (n,)
    path : RectifierPath
        The mains and what is known of the path, held fixed.
    rising_zero : float, optional
        A time at which the fundamental of the mains voltage rises through zero. [s]
    gain_uncertainty : float, optional
        Relative standard uncertainty of the current probe's gain. [1]

    Returns
    -------
    RectifierFit
        Estimates with their uncertainty.

    Raises
    ------
    ValueError
        If an argument is out of range, the capture holds less than a period, its shape is not
        that of a capacitor-input rectifier, or no capacitance explains it.

    Notes
    -----
    Least squares over capacitance, resistance and a small delay, with the model of
    `rectifier_steady_state`. The power drawn from the capacitor is what makes the model draw
    the input power. To the scatter of the residuals, whose neighbours are taken as one where they
    hang together, come the uncertainties of what is held fixed, each through its effect on the
    curve. The two estimates lean on each other: a pulse is wide because of a small capacitor or
    a large resistance.

    References
    ----------
    JCGM 100:2008, 5.1.2, for the propagation; least squares as in ``scipy.optimize``.

    Examples
    --------
    >>> from adapterlab.mains_current.rectifier import rectifier_steady_state
    >>> true = rectifier_steady_state(230, 50, 60, 100e-6, 2.0, bridge_drop=1.5)
    >>> path = RectifierPath(
    ...     Mains(230, 50), Estimate(true.input_power), bridge_drop=Estimate(1.5))
    >>> found = fit_rectifier(true.time, true.input_current, path)
    >>> print(f"{found.bulk_capacitance * 1e6:.1f} µF, {found.source_resistance:.2f} ohm")
    100.0 µF, 2.00 ohm
    """
    moments, flow = _checked(time, current, float(path.mains.omega))
    gain = float(not_negative("gain_uncertainty", gain_uncertainty))
    angle = float(path.mains.omega) * (moments - float(finite("rising_zero", rising_zero)))
    in_phase = float(np.mean(flow * np.sin(angle)))
    if not flow.any() or in_phase <= 0:
        raise ValueError(
            "current must flow in phase with the mains that rises through zero at rising_zero, "
            f"got {in_phase:.3g} A in phase"
        )
    capture = _Capture(path, angle, flow)
    fit = least_squares(
        capture.residual, capture.start(), capture.slopes,
        method="lm", x_scale=[0.3, 0.3, 1e-5], ftol=1e-8, xtol=1e-6,
    )  # fmt: skip
    left = float(np.sqrt(np.mean(fit.fun**2)))
    if left > 0.3:
        raise ValueError(
            "current does not have the shape of a capacitor-input rectifier's: the best fit "
            f"leaves {left:.0%} of its rms"
        )
    covariance = capture.covariance(fit.x, fit.fun, fit.jac, gain)
    spread = np.sqrt(np.diag(covariance))
    capacitance, resistance = (float(value) for value in np.exp(fit.x[:2]))
    return RectifierFit(
        capacitance,
        float(capacitance * spread[0]),
        resistance,
        float(resistance * spread[1]),
        float(covariance[0, 1] / (spread[0] * spread[1])) if spread[:2].all() else 0.0,
        float(fit.x[2]),
        float(capture.models(fit.x[None, :])[1][0]),
        left * capture.scale,
    )


def _correlated_samples(left: Floats) -> float:
    """How many neighbouring residuals count as one, from their correlation."""
    centred = left - left.mean()
    power = np.abs(np.fft.rfft(centred, 2 * len(centred))) ** 2
    correlation = np.fft.irfft(power)[: len(centred) // 4]
    correlation = correlation / correlation[0] if correlation[0] > 0 else correlation
    positive_part = correlation[: int(np.argmax(correlation < 0)) or len(correlation)]
    return float(1 + 2 * positive_part[1:].sum())
