"""The power stages of a dossier and their working points at full load.

`stage_of` reads one converter, `missing` says what it lacks, `parts_of` finds its parts, `bulk_of`
joins the bulk capacitors, and `points_of` works out every point the findings and pictures need.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from adapterlab.assess.model.specimen import Specimen
from adapterlab.dossier.schema import Converter, Mode, Part
from adapterlab.flyback import bulk_valley_voltage, ideal_conduction_time, operating_point
from adapterlab.uncertainty import propagate

ROOT = float(np.sqrt(2))
# Common practice, where the dossier is silent: (lowest, highest).
_EFFICIENCY = (0.85, 0.95)
_RECTIFIER_DROP = {"diode": (0.3, 0.7), "synchronous": (0.02, 0.1), "unknown": (0.02, 0.7)}
_BULK_TOLERANCE = 0.2
BRIDGE_DROP = (1.0, 2.0)
# A quasi-resonant controller waits for a later valley rather than go above this. [Hz]
CEILING = 130e3
_COLUMNS = (
    "input_voltage",
    "duty_cycle",
    "primary_peak",
    "primary_rms",
    "secondary_peak",
    "secondary_rms",
    "switching_frequency",
)


@dataclass(frozen=True)
class Stage:
    """One converter's power stage at the full load of its nameplate mode.

    Attributes
    ----------
    name : str
        As in the dossier.
    output_voltage, output_current : float
        Full load. [V], [A]
    highest_voltage : float
        Highest output voltage that any of its modes can have. [V]
    turns_ratio : float
        Primary to secondary. [1]
    magnetising_inductance, inductance_tolerance : float
        Seen from the primary, and its relative tolerance. [H], [1]
    switching_frequency : float or None
        None for a converter that works at the boundary. [Hz]
    diode_drop, efficiency : tuple of float
        Lowest and highest; alike where the dossier states them. [V], [1]
    assumed : tuple of str
        What the dossier does not say and was taken from common practice.
    lowest_voltage, largest_current : float
        Lowest output voltage and largest current that any of its modes can have. [V], [A]
    rated_power, joins_above : float
        Rating, and the output power above which it helps an output it shares. [W]
    ports : tuple of str
        Ports it feeds.
    rectifier : str
        ``diode``, ``synchronous`` or ``unknown``.
    leakage_inductance, drain_capacitance, clamp_voltage : float or None
        None where the dossier is silent. [H], [F], [V]
    output_capacitance, output_esr, output_esl : float or None
        Output capacitor; None where the dossier is silent. [F], [ohm], [H]
    """

    name: str
    output_voltage: float
    output_current: float
    highest_voltage: float
    turns_ratio: float
    magnetising_inductance: float
    inductance_tolerance: float
    switching_frequency: float | None
    diode_drop: tuple[float, float]
    efficiency: tuple[float, float]
    assumed: tuple[str, ...]
    lowest_voltage: float
    largest_current: float
    rated_power: float
    joins_above: float
    ports: tuple[str, ...]
    rectifier: str
    leakage_inductance: float | None
    drain_capacitance: float | None
    clamp_voltage: float | None
    output_capacitance: float | None
    output_esr: float | None
    output_esl: float | None

    @property
    def input_power(self) -> float:
        """Power drawn from the bulk capacitor at full load. [W]."""
        drop, efficiency = np.mean(self.diode_drop), np.mean(self.efficiency)
        return float((self.output_voltage + drop) * self.output_current / efficiency)

    def numbers(self) -> dict[str, Any]:
        """Middle values as `adapterlab.flyback.operating_point` takes them by name."""
        return {
            "output_voltage": self.output_voltage,
            "output_current": self.output_current,
            "turns_ratio": self.turns_ratio,
            "magnetising_inductance": self.magnetising_inductance,
            "switching_frequency": self.switching_frequency,
            "diode_drop": float(np.mean(self.diode_drop)),
            "efficiency": float(np.mean(self.efficiency)),
        }


def spread_of(low: float, high: float) -> Any:
    """A number if the ends are alike, else a rectangular distribution between them."""
    return stats.uniform(low, high - low) if high > low else low


def modes_of(specimen: Specimen, converter: Converter) -> list[Mode]:
    """Modes of the ports a converter feeds; of all ports if it names none."""
    ports = specimen.adapter.ports
    return [m for p in ports if not converter.ports or p.name in converter.ports for m in p.modes]


def missing(specimen: Specimen, converter: Converter) -> list[str]:
    """What the dossier lacks to work out a converter; empty if nothing."""
    needed = [
        key
        for key in ("turns_ratio", "magnetising_inductance")
        if getattr(converter, key) is None or getattr(converter, key) == 0
    ]
    if not any(mode.kind == "fixed" for mode in modes_of(specimen, converter)):
        needed.append("a fixed mode of one of its ports")
    return needed


def stage_of(specimen: Specimen, converter: Converter) -> Stage:
    """Power stage of a converter that lacks nothing, at its mode of highest power."""
    modes = modes_of(specimen, converter)
    fixed = [(mode.voltage * mode.current, mode.voltage, mode.current)
             for mode in modes if mode.voltage is not None]  # fmt: skip
    _, voltage, current = max(fixed)
    construction, assumed = specimen.adapter.construction, []
    drop, efficiency = _RECTIFIER_DROP[construction.rectifier], _EFFICIENCY
    if converter.rectifier_drop is not None:
        drop = (converter.rectifier_drop, converter.rectifier_drop)
    else:
        assumed.append(f"rectifier drop {drop[0]:g} to {drop[1]:g} V")
    if converter.efficiency is not None:
        efficiency = (converter.efficiency, converter.efficiency)
    else:
        assumed.append(f"efficiency {efficiency[0]:.0%} to {efficiency[1]:.0%}")
    if converter.switching_frequency is None:
        assumed.append("a frequency that keeps the current at the boundary")
    if construction.topology == "unknown":
        assumed.append("a flyback converter")
    return Stage(
        converter.name,
        voltage,
        min(current, converter.rated_power / voltage),
        max(mode.maximum_voltage or mode.voltage or 0.0 for mode in modes),
        converter.turns_ratio or 0.0,
        converter.magnetising_inductance or 0.0,
        converter.magnetising_inductance_tolerance,
        converter.switching_frequency,
        drop,
        efficiency,
        tuple(assumed),
        min(mode.minimum_voltage or mode.voltage or np.inf for mode in modes),
        max(mode.current for mode in modes),
        converter.rated_power,
        converter.joins_above or 0.0,
        tuple(converter.ports or [port.name for port in specimen.adapter.ports]),
        construction.rectifier,
        converter.leakage_inductance or _measured_leakage(specimen, converter),
        converter.drain_capacitance,
        converter.clamp_voltage,
        converter.output_capacitance,
        converter.output_esr,
        converter.output_esl,
    )


def _measured_leakage(specimen: Specimen, converter: Converter) -> float | None:
    """Leakage inductance as read on the transformer of a converter."""
    alone = len(specimen.adapter.construction.converters) == 1
    for transformer in specimen.adapter.transformers:
        if transformer.converter == converter.name or (alone and not transformer.converter):
            return transformer.leakage_inductance
    return None


def parts_of(specimen: Specimen, role: str, stage: Stage, kind: str = "") -> list[Part]:
    """Parts of a role that belong to a converter; those that name none belong to all."""
    return [
        part
        for part in specimen.adapter.parts_with_role(role)
        if part.converter in ("", stage.name) and kind in ("", part.kind)
    ]


def bulk_of(specimen: Specimen) -> Any:
    """Capacitance of all bulk capacitors together as a distribution; None if not known."""
    parts = specimen.adapter.parts_with_role("bulk capacitor")
    if not parts or any(part.value is None for part in parts):
        return None
    total = 0.0
    for part in parts:
        chain = [
            p.value or 0.0
            for p in parts
            if p is part or p.in_series_with == part.reference or p.reference == part.in_series_with
        ]
        total += 1 / sum(1 / value for value in chain) / len(chain)
    known = [_BULK_TOLERANCE if part.tolerance is None else part.tolerance for part in parts]
    return spread_of(total * (1 - max(known)), total * (1 + max(known)))


def mains_of(specimen: Specimen) -> list[tuple[float, float]]:
    """230 V and the lowest rated mains; 115 V 60 Hz too where it was measured."""
    plate, table = specimen.adapter.nameplate, specimen.load_sweep
    frequency = plate.input_frequency_minimum or 50.0
    chosen = [(230.0, 50.0), (plate.input_voltage_minimum or 100.0, frequency)]
    near = (table["mains_voltage"] / 115 - 1).abs() < 0.015
    if (near & ((table["mains_frequency"] / 60 - 1).abs() < 0.015)).any():
        chosen.append((115.0, 60.0))
    return list(dict.fromkeys(chosen))


def _point(
    stage: Stage, mains: tuple[float, float], instant: str, bulk: Any, others: float
) -> dict[str, Any]:
    """One row of the table of points: means and standard uncertainties of the draws."""

    def at(
        magnetising_inductance: Any,
        bridge_drop: Any,
        diode_drop: Any,
        efficiency: Any,
        bulk_capacitance: Any = None,
    ) -> list[Any]:
        voltage = mains[0] - bridge_drop / ROOT
        source = ROOT * voltage
        if instant == "valley":
            drawn = (stage.output_voltage + diode_drop) * stage.output_current / efficiency
            line = (voltage, mains[1], drawn + others, bulk_capacitance)
            source = bulk_valley_voltage(*line, ideal_conduction_time(*line))
        point = operating_point(
            source,
            stage.output_voltage,
            stage.output_current,
            stage.turns_ratio,
            magnetising_inductance,
            stage.switching_frequency,
            diode_drop,
            efficiency,
        )
        values = [source] + [getattr(point, name) for name in _COLUMNS[1:]]
        return [*values, *(np.equal(point.mode, name) * 1.0 for name in ("boundary", "continuous"))]

    tolerance = stage.inductance_tolerance
    inputs = {
        "magnetising_inductance": spread_of(
            stage.magnetising_inductance * (1 - tolerance),
            stage.magnetising_inductance * (1 + tolerance),
        ),
        "bridge_drop": spread_of(*BRIDGE_DROP),
        "diode_drop": spread_of(*stage.diode_drop),
        "efficiency": spread_of(*stage.efficiency),
    }
    if instant == "valley":
        inputs["bulk_capacitance"] = bulk
    drawn = propagate(at, inputs, draws=2048)
    boundary, continuous = (round(float(share), 6) for share in drawn.mean[-2:])
    shares = {
        "discontinuous": 1 - boundary - continuous,
        "boundary": boundary,
        "continuous": continuous,
    }
    mode = max(shares, key=lambda name: shares[name])
    row: dict[str, Any] = {
        "converter": stage.name,
        "mains_voltage": mains[0],
        "mains_frequency": mains[1],
        "instant": instant,
        "mode": mode,
        "probability": shares[mode],
    }
    for place, name in enumerate(_COLUMNS):
        row[name] = float(drawn.mean[place])
        row[f"{name}_uncertainty"] = float(drawn.standard_uncertainty[place])
    return row


def points_of(
    specimen: Specimen, stages: list[Stage], bulk: Any
) -> tuple[pd.DataFrame, dict[str, list[str]]]:
    """Table of points, and what could not be computed by converter."""
    rows: list[dict[str, Any]] = []
    troubles: dict[str, list[str]] = {}
    outputs = sum(stage.output_voltage * stage.output_current for stage in stages)
    share = min(1.0, specimen.adapter.nameplate.rated_power / outputs) if outputs else 1.0
    for stage in stages:
        others = share * sum(other.input_power for other in stages if other is not stage)
        for mains in mains_of(specimen):
            for instant in ("valley", "crest") if bulk is not None else ("crest",):
                try:
                    rows.append(_point(stage, mains, instant, bulk, others))
                except ValueError as error:
                    # The rule that was broken, without the thousands of draws that broke it.
                    rule = str(error).split(":")[0].split(", got")[0].replace("_", " ")
                    text = f"at {mains[0]:g} V, {mains[1]:g} Hz, {instant} of the bulk voltage"
                    troubles.setdefault(stage.name, []).append(f"{text}: {rule}")
    names = ["converter", "mains_voltage", "mains_frequency", "instant", "mode", "probability"]
    names += [column for name in _COLUMNS for column in (name, f"{name}_uncertainty")]
    return pd.DataFrame(rows, columns=names), troubles
