"""What the listed parts say of the mains current: the rectifier's parts and what they predict."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Part
from adapterlab.judgement import ENDS
from adapterlab.mains_current import RectifierSteadyState, rectifier_steady_state
from adapterlab.published import rows

SECTION = "mains_current"
Floats = NDArray[np.float64]
_DRAWS, _CURVE_DRAWS, _SEED = 256, 64, 20210304
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


def allowance(name: str) -> Any:
    """Distribution of what the parts list leaves open, from the published table."""
    row = rows(SECTION, "allowances", name=name)[0]
    if "every order of magnitude" in row["source"]:
        return stats.loguniform(row["low"], row["high"])
    return stats.uniform(row["low"], row["high"] - row["low"])


def _around(value: float, tolerance: float) -> Any:
    """Every value within the tolerance equally likely."""
    half = value * min(tolerance, 0.99)
    return stats.uniform(value - half, 2 * half) if half > 0 else stats.norm(value, 1e-9 * value)


@dataclass(frozen=True)
class Rectifier:
    """The parts between plug and converter, as distributions.

    Attributes
    ----------
    capacitors, limiters, chokes : tuple of Part
        Bulk capacitors, inrush limiters and line chokes.
    inputs : dict of str to scipy.stats distribution
        Everything uncertain, by the reference of its part or by what it is.
    label : str
        References and values of the bulk capacitors, as said aloud.
    assumed : tuple of str
        What the parts list leaves open and had to be assumed.
    """

    capacitors: tuple[Part, ...]
    limiters: tuple[Part, ...]
    chokes: tuple[Part, ...]
    inputs: dict[str, Any]
    label: str
    assumed: tuple[str, ...]

    def parts(self, drawn: Mapping[str, Any]) -> dict[str, Any]:
        """Arguments of `rectifier_steady_state` from drawn inputs, but for mains and load."""
        susceptance: Any = 0.0
        admittance: Any = 0.0
        for chain in chains(self.capacitors):
            susceptance = susceptance + 1 / sum(1 / drawn[part.reference] for part in chain)
            admittance = admittance + 1 / sum(
                part.series_resistance * drawn["capacitor resistance factor"]
                if part.series_resistance
                else drawn["capacitor resistance"]
                for part in chain
            )
        resistance = drawn["supply resistance"] + drawn["wiring resistance"]
        inductance = drawn["supply inductance"]
        for part in self.limiters:
            warm = drawn["warm limiter share"] if part.kind == "thermistor" else 1.0
            resistance = resistance + drawn[part.reference] * warm
        for part in self.chokes:
            resistance = resistance + (part.series_resistance or 0.0)
            inductance = inductance + drawn.get(f"{part.reference} leakage", 0.0)
        return {
            "bulk_capacitance": susceptance,
            "source_resistance": resistance,
            "source_inductance": inductance,
            "bulk_esr": 1 / admittance,
            "bridge_drop": drawn["bridge drop"],
            "bridge_resistance": drawn["bridge resistance"],
        }

    def middle(self) -> dict[str, float]:
        """The same from the mean of every input."""
        drawn = {name: float(entry.mean()) for name, entry in self.inputs.items()}
        return {name: float(value) for name, value in self.parts(drawn).items()}

    def draws(self, count: int) -> dict[str, Any]:
        """The same from evenly spread draws of every input, with deviates for mains and power."""
        names = list(self.inputs)
        sampler = stats.qmc.Sobol(len(names) + 2, scramble=True, rng=_SEED)
        points = np.clip(sampler.random(count).T, 1e-9, 1 - 1e-9)
        drawn = {name: self.inputs[name].ppf(points[row]) for row, name in enumerate(names)}
        normal = stats.norm.ppf(points[-2:])
        return self.parts(drawn) | {"mains": normal[0], "power": normal[1]}


def chains(parts: tuple[Part, ...]) -> list[list[Part]]:
    """Capacitors that stand in series, together; those in parallel apart."""
    found: list[list[Part]] = []
    for part in parts:
        tied = [
            chain
            for chain in found
            if any(
                part.in_series_with == other.reference or other.in_series_with == part.reference
                for other in chain
            )
        ]
        found = [chain for chain in found if chain not in tied]
        found.append([other for chain in tied for other in chain] + [part])
    return found


def rectifier_of(specimen: Specimen) -> Rectifier | None:
    """The rectifier from the parts list.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    Rectifier or None
        None unless every bulk capacitor has a value and a tolerance, and so has every inrush
        limiter that is listed.
    """
    adapter = specimen.adapter
    capacitors = tuple(adapter.parts_with_role("bulk capacitor"))
    limiters = tuple(adapter.parts_with_role("inrush limiter"))
    chokes = tuple(adapter.parts_with_role("line choke"))
    valued = (*capacitors, *limiters)
    if not capacitors or any(part.value is None or part.tolerance is None for part in valued):
        return None
    inputs = {part.reference: _around(part.value or 0.0, part.tolerance or 0.0) for part in valued}
    assumed = ["bridge drop", "bridge resistance", "wiring resistance"]
    supply = adapter.supply
    for name, value, spread in (
        ("supply resistance", supply.resistance, supply.resistance_uncertainty),
        ("supply inductance", supply.inductance, supply.inductance_uncertainty),
    ):
        if value is None:
            inputs[name] = allowance(name)
            assumed.append(name)
        else:
            inputs[name] = _around(value, (spread or 0.1 * value) / value)
    for part in chokes:
        leakage = f"{part.reference} leakage"
        if part.leakage_inductance:
            inputs[leakage] = _around(part.leakage_inductance, 0.2)
        elif part.value:
            row = rows(SECTION, "allowances", name="choke leakage share")[0]
            inputs[leakage] = stats.loguniform(row["low"] * part.value, row["high"] * part.value)
            assumed.append("choke leakage share")
    listed = all(part.series_resistance for part in capacitors)
    capacitor = "capacitor resistance factor" if listed else "capacitor resistance"
    assumed.append(capacitor)
    inputs |= {"capacitor resistance factor": allowance("capacitor resistance factor"),
               "capacitor resistance": allowance("capacitor resistance")}  # fmt: skip
    if any(part.kind == "thermistor" for part in limiters):
        assumed.append("warm limiter share")
    inputs["warm limiter share"] = allowance("warm limiter share")
    for name in assumed[:3]:
        inputs[name] = allowance(name)
    names = " and ".join(part.reference for part in capacitors)
    nominal = sum(1 / sum(1 / (p.value or 1.0) for p in chain) for chain in chains(capacitors))
    label = f"{names} ({Value(nominal, 0.0, 'F')})"
    return Rectifier(capacitors, limiters, chokes, inputs, label, tuple(assumed))


@dataclass(frozen=True)
class Prediction:
    """The mains current that the parts predict at one operating point.

    Attributes
    ----------
    values : dict of str to Value
        Keys of `UNITS`.
    intervals : dict of str to tuple of float
        95 % intervals of the same.
    phase : numpy.ndarray
        Angle of the mains from its rising zero. [degrees], shape (n,)
    low, middle, high : numpy.ndarray
        Mains current: ends of the 95 % band, and of the parts at their middle. [A], shape (n,)
    harmonics, harmonics_low, harmonics_high : numpy.ndarray
        Harmonic currents, orders 1 to 40: of the middle, and ends of the 95 % interval. [A]
    steady : RectifierSteadyState
        The parts at their middle, a single case.
    """

    values: dict[str, Value]
    intervals: dict[str, tuple[float, float]]
    phase: Floats
    low: Floats
    middle: Floats
    high: Floats
    harmonics: Floats
    harmonics_low: Floats
    harmonics_high: Floats
    steady: RectifierSteadyState


def at_input_power(
    parts: Mapping[str, Any],
    mains_voltage: Any,
    mains_frequency: Any,
    input_power: Any,
    share: float = 0.97,
    corrections: int = 2,
) -> RectifierSteadyState:
    """The rectifier whose load makes it draw an input power from the mains.

    Parameters
    ----------
    parts : mapping
        Arguments of `rectifier_steady_state`, but for mains and load.
    mains_voltage, mains_frequency, input_power : float or numpy.ndarray
        [V], [Hz], [W]
    share : float, optional
        Share of the input power that is thought to reach the capacitor. [1]
    corrections : int, optional
        How often the load is corrected; each brings the input power closer.

    Returns
    -------
    RectifierSteadyState
        With the input power met to about 1 part in 10 000.

    Raises
    ------
    ValueError
        If there is no steady state.
    """
    load: Any = np.asarray(input_power) * share
    found = rectifier_steady_state(mains_voltage, mains_frequency, load, **parts)
    for _ in range(corrections):
        load = load + input_power - found.input_power
        found = rectifier_steady_state(mains_voltage, mains_frequency, load, **parts)
    return found


def predict(
    rectifier: Rectifier, mains_voltage: Value, mains_frequency: float, input_power: Value
) -> Prediction:
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
    Prediction
        Figures, harmonics and the band of the waveform.

    Raises
    ------
    ValueError
        If some of the parts drawn have no steady state at this load.
    """
    steady = at_input_power(
        rectifier.middle(), mains_voltage.value, mains_frequency, input_power.value
    )
    share = _share(rectifier.middle(), steady)
    drawn = rectifier.draws(_DRAWS)
    volts = mains_voltage.value + mains_voltage.standard_uncertainty * drawn.pop("mains")
    watts = input_power.value + input_power.standard_uncertainty * drawn.pop("power")
    many = at_input_power(drawn, volts, mains_frequency, watts, share, corrections=1)
    samples = {name: drawn[name] if name in drawn else getattr(many, name) for name in UNITS}
    low, high = np.quantile(many.input_current, ENDS, axis=0)
    lines = np.quantile(many.harmonic_currents, ENDS, axis=0)
    return Prediction(
        {
            name: Value(float(values.mean()), float(values.std(ddof=1)), UNITS[name])
            for name, values in samples.items()
        },
        {
            name: (float(ends[0]), float(ends[1]))
            for name, ends in (
                (name, np.quantile(values, ENDS)) for name, values in samples.items()
            )
        },
        360.0 * np.arange(low.size) / low.size,
        low,
        steady.input_current,
        high,
        steady.harmonic_currents,
        lines[0],
        lines[1],
        steady,
    )  # fmt: skip


def _share(parts: Mapping[str, float], steady: RectifierSteadyState) -> float:
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
    drawn = rectifier.draws(_CURVE_DRAWS)
    drawn.pop("mains"), drawn.pop("power")
    many = at_input_power(drawn, mains_voltage, mains_frequency, power[:, None], corrections=1)
    low, high = np.quantile(many.power_factor, ENDS, axis=1)
    middle: Floats = many.power_factor.mean(axis=1)
    return PowerFactorCurve(mains_voltage, mains_frequency, power, low, middle, high)
