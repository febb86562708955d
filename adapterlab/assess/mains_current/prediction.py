"""The mains current that the listed parts predict, at an operating point and over load."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.model.inputs import drawn, measured, predict
from adapterlab.assess.model.rectifier import Rectifier, at_input_power
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.judgement import ENDS
from adapterlab.mains_current import RectifierSteadyState

Floats = NDArray[np.float64]
DRAWS, CURVE_DRAWS = 256, 64
# What is predicted, and its unit.
UNITS = {
    "input_current_rms": "A",
    "input_current_peak": "A",
    "power_factor": "",
    "displacement_factor": "",
    "total_harmonic_distortion": "%",
    "bulk_voltage_min": "V",
    "capacitor_current_rms": "A",
    "bulk_capacitance": "F",
    "source_resistance": "Ω",
}


@dataclass(frozen=True)
class MainsPrediction:
    """The mains current that the parts predict at one operating point.

    Attributes
    ----------
    figures : dict of str to Prediction
        Keys of `UNITS`.
    phase : numpy.ndarray
        Angle of the mains from its rising zero. [degrees], shape (n,)
    low, middle, high : numpy.ndarray
        Mains current: ends of the 95 % band, and of the parts at their middle. [A], shape (n,)
    harmonics, harmonics_low, harmonics_high : numpy.ndarray
        Harmonic currents, orders 1 to 40: of the middle, and ends of the 95 % interval. [A]
    steady : RectifierSteadyState
        The parts at their middle, a single case.
    """

    figures: dict[str, Prediction]
    phase: Floats
    low: Floats
    middle: Floats
    high: Floats
    harmonics: Floats
    harmonics_low: Floats
    harmonics_high: Floats
    steady: RectifierSteadyState


def mains_prediction(
    rectifier: Rectifier, mains_voltage: Value, mains_frequency: float, input_power: Value
) -> MainsPrediction:
    """The mains current that the parts predict, with its uncertainty.

    Parameters
    ----------
    rectifier : Rectifier
        The parts.
    mains_voltage : Value
        Rms voltage of the mains. [V]
    mains_frequency : float
        Its frequency. [Hz]
    input_power : Value
        Power drawn. [W]

    Returns
    -------
    MainsPrediction
        Figures, harmonics and the band of the waveform.

    Raises
    ------
    ValueError
        If some of the parts drawn have no steady state at this load.
    """
    middle = rectifier.running(rectifier.middle())
    steady = at_input_power(middle, mains_voltage.value, mains_frequency, input_power.value)
    share = _share(middle, steady)
    inputs = rectifier.at_work | {
        "mains.voltage": measured("mains.voltage", mains_voltage, f"{mains_voltage} of mains"),
        "mains.power": measured("mains.power", input_power, f"{input_power} drawn"),
    }
    runs: list[RectifierSteadyState] = []

    def figures(**values: Any) -> list[Any]:
        parts = rectifier.running(values)
        volts, watts = values["mains.voltage"], values["mains.power"]
        found = at_input_power(parts, volts, mains_frequency, watts, share, corrections=1)
        runs.append(found)
        return [parts[name] if name in parts else getattr(found, name) for name in UNITS]

    predicted = predict(figures, inputs, list(UNITS.values()), DRAWS, smooth=True)
    current = np.atleast_2d(runs[0].input_current)
    low, high = np.quantile(current, ENDS, axis=0)
    lines = np.quantile(np.atleast_2d(runs[0].harmonic_currents), ENDS, axis=0)
    return MainsPrediction(
        dict(zip(UNITS, predicted, strict=True)),
        360.0 * np.arange(low.size) / low.size,
        low,
        steady.input_current,
        high,
        steady.harmonic_currents,
        lines[0],
        lines[1],
        steady,
    )


def _share(parts: dict[str, Any], steady: RectifierSteadyState) -> float:
    """Share of the input power that reaches the capacitor's terminals."""
    rectified = float(np.abs(steady.input_current).mean())
    series = parts["source_resistance"] + parts["bridge_resistance"]
    lost = series * steady.input_current_rms**2 + parts["bridge_drop"] * rectified
    lost += parts["bulk_esr"] * steady.capacitor_current_rms**2
    return 1 - float(lost) / float(steady.input_power)


@dataclass(frozen=True)
class PowerFactorCurve:
    """Power factor over input power, as the parts predict it.

    Attributes
    ----------
    mains_voltage, mains_frequency : float
        [V], [Hz]
    power, low, middle, high : numpy.ndarray
        Input power [W], and the ends and mean of the 95 % band of the power factor [1], shape (n,)
    """

    mains_voltage: float
    mains_frequency: float
    power: Floats
    low: Floats
    middle: Floats
    high: Floats


def power_factor_curve(
    rectifier: Rectifier, mains_voltage: float, mains_frequency: float, highest: float
) -> PowerFactorCurve:
    """Power factor from a twentieth of the highest input power up to it.

    Raises
    ------
    ValueError
        If some of the parts drawn have no steady state there.
    """
    power = np.geomspace(highest / 20, highest, 10)
    parts = rectifier.running(drawn(rectifier.at_work, CURVE_DRAWS))
    many = at_input_power(parts, mains_voltage, mains_frequency, power[:, None], corrections=1)
    low, high = np.quantile(many.power_factor, ENDS, axis=1)
    middle: Floats = many.power_factor.mean(axis=1)
    return PowerFactorCurve(mains_voltage, mains_frequency, power, low, middle, high)
