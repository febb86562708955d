"""The parts behind a captured mains current: bulk capacitance and series resistance."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from adapterlab.numerics.arguments import Floats, finite, not_negative, positive
from adapterlab.numerics.bridge import Circuit, solve_pulses
from adapterlab.numerics.bridge_figures import current_at, drawn_power
from adapterlab.uncertainty import coverage_factor

_PARTS = ("bulk_capacitance", "source_resistance", "delay")


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
        for name in _PARTS[:2]:
            value, spread = getattr(self, name), getattr(self, f"{name}_uncertainty")
            ends[name] = (value - factor * spread, value + factor * spread)
        return ends


@dataclass(frozen=True)
class _Known:
    """What is held fixed, each with its standard uncertainty, as (value, uncertainty)."""

    mains_voltage: tuple[float, float]
    input_power: tuple[float, float]
    source_inductance: tuple[float, float]
    bulk_esr: tuple[float, float]
    bridge_drop: tuple[float, float]
    bridge_resistance: tuple[float, float]


def _currents(
    known: dict[str, Floats], parts: Floats, angle: Floats, omega: float
) -> tuple[Floats, Floats]:
    """Modelled current at the angles, shape (cases, samples), and power from the capacitor.

    The current is zero where the parts have no steady state of one pulse.
    """
    capacitance, resistance = np.exp(parts[:, 0]), np.exp(parts[:, 1])
    load = 0.97 * known["input_power"]
    with np.errstate(all="ignore"):
        for _ in range(3):
            circuit = Circuit(
                np.sqrt(2) * known["mains_voltage"],
                np.full_like(load, omega),
                resistance + known["bridge_resistance"],
                known["source_inductance"],
                capacitance,
                known["bulk_esr"],
                known["bridge_drop"],
                load,
                np.zeros_like(load),
            )
            pulse = solve_pulses(circuit)
            load = load + known["input_power"] - drawn_power(circuit, pulse)
            load = np.where(load > 0, load, 0.9 * known["input_power"])
        found = current_at(circuit, pulse, angle - omega * parts[:, 2:])
    return np.where(pulse.good[:, None], found, 0.0), circuit.power


def fit_rectifier(
    time: ArrayLike,
    current: ArrayLike,
    mains_voltage: float,
    mains_frequency: float,
    input_power: float,
    rising_zero: float = 0.0,
    source_inductance: float = 0.0,
    bulk_esr: float = 0.0,
    bridge_drop: float = 0.0,
    bridge_resistance: float = 0.0,
    *,
    gain_uncertainty: float = 0.0,
    mains_voltage_uncertainty: float = 0.0,
    input_power_uncertainty: float = 0.0,
    source_inductance_uncertainty: float = 0.0,
    bulk_esr_uncertainty: float = 0.0,
    drop_uncertainty: float = 0.0,
    bridge_resistance_uncertainty: float = 0.0,
) -> RectifierFit:
    r"""Bulk capacitance and series resistance behind a captured mains current.

    Parameters
    ----------
    time, current : array_like
        Capture of at least one period. [s], [A], shape (n,)
    mains_voltage, mains_frequency : float
        Rms voltage [V] and frequency [Hz] of a sinusoidal mains. Must be > 0.
    input_power : float
        Power drawn from the mains. [W]  Must be > 0.
    rising_zero : float, optional
        A time at which the mains voltage rises through zero. [s]
    source_inductance : float, optional
        Inductance before the bridge, held fixed. [H]
    bulk_esr : float, optional
        Series resistance of the bulk capacitor, held fixed. [ohm]
    bridge_drop, bridge_resistance : float, optional
        Of the two conducting diodes, held fixed. [V], [ohm]
    gain_uncertainty : float, optional
        Relative standard uncertainty of the current probe's gain. [1]
    mains_voltage_uncertainty : float, optional
        Standard uncertainty of the mains voltage. [V]
    input_power_uncertainty : float, optional
        Standard uncertainty of the input power. [W]
    source_inductance_uncertainty : float, optional
        Standard uncertainty of the inductance. [H]
    bulk_esr_uncertainty : float, optional
        Standard uncertainty of the capacitor's series resistance. [ohm]
    drop_uncertainty : float, optional
        Standard uncertainty of the diodes' drop. [V]
    bridge_resistance_uncertainty : float, optional
        Standard uncertainty of the diodes' resistance. [ohm]

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
    `input_power`. To the scatter of the residuals, whose neighbours are taken as one where they
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
    >>> found = fit_rectifier(true.time, true.input_current, 230, 50, true.input_power,
    ...                       bridge_drop=1.5)
    >>> print(f"{found.bulk_capacitance * 1e6:.1f} µF, {found.source_resistance:.2f} ohm")
    100.0 µF, 2.00 ohm
    """
    moments, flow = finite("time", time), finite("current", current)
    omega = 2 * np.pi * float(positive("mains_frequency", mains_frequency))
    if moments.ndim != 1 or moments.shape != flow.shape or len(moments) < 50:
        raise ValueError(
            f"time and current must hold at least 50 samples each, got shapes {moments.shape} "
            f"and {flow.shape}"
        )
    if np.ptp(moments) * len(moments) / (len(moments) - 1) < 2 * np.pi / omega * (1 - 1e-4):
        raise ValueError(f"time must span at least one period, got {np.ptp(moments):.4g} s")
    known = _Known(
        (float(positive("mains_voltage", mains_voltage)), mains_voltage_uncertainty),
        (float(positive("input_power", input_power)), input_power_uncertainty),
        (float(not_negative("source_inductance", source_inductance)),
         source_inductance_uncertainty),
        (float(not_negative("bulk_esr", bulk_esr)), bulk_esr_uncertainty),
        (float(not_negative("bridge_drop", bridge_drop)), drop_uncertainty),
        (float(not_negative("bridge_resistance", bridge_resistance)),
         bridge_resistance_uncertainty),
    )  # fmt: skip
    values = {name: pair[0] for name, pair in vars(known).items()}
    angle = omega * (moments - float(finite("rising_zero", rising_zero)))
    scale = float(np.sqrt(np.mean(flow**2)))
    if scale == 0 or float(np.mean(flow * np.sin(angle))) <= 0:
        raise ValueError(
            "current must flow in phase with the mains that rises through zero at rising_zero, "
            f"got {float(np.mean(flow * np.sin(angle))):.3g} A in phase"
        )

    def several(cases: Floats, changed: dict[str, Floats] | None = None) -> tuple[Any, Any]:
        table = {name: np.full(len(cases), value) for name, value in values.items()}
        return _currents(table | (changed or {}), cases, angle, omega)

    steps = np.array([1e-4, 1e-4, 1e-7])

    def residual(parts: Floats) -> Floats:
        found: Floats = (several(parts[None, :])[0][0] - flow) / scale
        return found

    def slopes(parts: Floats) -> Floats:
        model, _ = several(np.vstack([parts + np.diag(steps), parts - np.diag(steps)]))
        found: Floats = (model[:3] - model[3:]).T / (2 * steps) / scale
        return found

    energy = values["input_power"] * np.pi / omega / values["mains_voltage"] ** 2
    starts = np.array(
        [
            [np.log(energy / share), np.log(ohms), 0.0]
            for share in (0.05, 0.1, 0.2, 0.35, 0.5)
            for ohms in (0.5, 2.0, 6.0)
        ]
    )
    tried = ((several(starts)[0] - flow) ** 2).mean(axis=1)
    best = starts[int(np.argmin(tried))]
    fit = least_squares(
        residual, best, slopes, method="lm", x_scale=[0.3, 0.3, 1e-5], ftol=1e-8, xtol=1e-6
    )
    left = fit.fun
    if float(np.sqrt(np.mean(left**2))) > 0.3:
        raise ValueError(
            "current does not have the shape of a capacitor-input rectifier's: the best fit "
            f"leaves {float(np.sqrt(np.mean(left**2))):.0%} of its rms"
        )
    inverse = np.linalg.pinv(fit.jac)
    together = _correlated_samples(left)
    covariance = inverse @ inverse.T * float(np.mean(left**2)) * together
    moved = [inverse @ (flow / scale) * float(not_negative("gain_uncertainty", gain_uncertainty))]
    for name, (value, spread) in vars(known).items():
        if float(not_negative(f"{name} uncertainty", spread)) > 0:
            ends = np.array([value + spread, max(value - spread, 0.3 * value)])
            model, _ = several(np.vstack([fit.x, fit.x]), {name: ends})
            effect = (model[0] - model[1]) / (ends[0] - ends[1]) * spread / scale
            moved.append(inverse @ effect)
    covariance = covariance + sum(np.outer(shift, shift) for shift in moved)
    spread = np.sqrt(np.diag(covariance))
    capacitance, resistance = (float(value) for value in np.exp(fit.x[:2]))
    return RectifierFit(
        capacitance,
        float(capacitance * spread[0]),
        resistance,
        float(resistance * spread[1]),
        float(covariance[0, 1] / (spread[0] * spread[1])) if spread[:2].all() else 0.0,
        float(fit.x[2]),
        float(several(fit.x[None, :])[1][0]),
        float(np.sqrt(np.mean(left**2))) * scale,
    )


def _correlated_samples(left: Floats) -> float:
    """How many neighbouring residuals count as one, from their correlation."""
    centred = left - left.mean()
    power = np.abs(np.fft.rfft(centred, 2 * len(centred))) ** 2
    correlation = np.fft.irfft(power)[: len(centred) // 4]
    correlation = correlation / correlation[0] if correlation[0] > 0 else correlation
    positive_part = correlation[: int(np.argmax(correlation < 0)) or len(correlation)]
    return float(1 + 2 * positive_part[1:].sum())
