"""How far the voltage of each output falls under load."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import SECTION, LoadedOutput, grouped, missing
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.value import Value
from adapterlab.output_quality import (
    cable_drop,
    fit_output_resistance,
    largest_cable_resistance,
    load_regulation,
)

_LEAST_LOADS = 3
_METERS = ("output voltage", "output current")
# A cable for more than 3 A is another kind; a reading a little above 3 A still belongs to it.
_SMALL_CABLE = 3.05


@dataclass(frozen=True)
class OutputResistance:
    """Output resistance and regulation of one mode.

    Attributes
    ----------
    port, mode : str
        As on the nameplate.
    resistance : Value
        [Ω]
    open_voltage : float
        Voltage without load that the line leads to. [V]
    regulation : float
        Fall from the least to the largest load over the voltage at the least. [1]
    largest_current : float
        [A]
    """

    port: str
    mode: str
    resistance: Value
    open_voltage: float
    regulation: float
    largest_current: float


def resolution_of(specimen: Specimen, measures: str) -> float:
    """Coarsest step of the meters of a quantity; 0 if none is listed."""
    steps = [meter.resolution for meter in specimen.adapter.instruments_for(measures)]
    return max(steps, default=0.0)


def _gain(specimen: Specimen) -> float:
    """Relative standard uncertainty of a slope from the gains of both meters."""
    gains = [
        max(meter.fraction_of_reading for meter in specimen.meters(measures))
        for measures in _METERS
    ]
    return float(np.linalg.norm(gains) / np.sqrt(3))


def resistances_of(
    specimen: Specimen, outputs: Sequence[LoadedOutput]
) -> tuple[OutputResistance, ...]:
    """Output resistance of each fixed mode with at least three different loads."""
    step = resolution_of(specimen, "output voltage")
    assumed = not specimen.is_metered(*_METERS)
    fixed = [item for item in outputs if item.kind == "fixed" and item.voltage.value > 0]
    found = []
    for group in grouped(fixed, "port", "mode"):
        current = [item.current for item in group]
        volts = [item.voltage.value for item in group]
        if len(set(current)) < _LEAST_LOADS:
            continue
        line = fit_output_resistance(current, volts, resolution=step)
        spread = np.hypot(line.resistance_uncertainty, _gain(specimen) * line.resistance)
        found.append(
            OutputResistance(
                group[0].port,
                group[0].mode,
                Value(line.resistance, float(spread), "Ω", accuracy_assumed=assumed),
                line.open_voltage,
                load_regulation(current, volts),
                max(current),
            )
        )
    return tuple(found)


def resistance_findings(resistances: Sequence[OutputResistance]) -> list[Finding]:
    """One finding for each port: the mode of most current, beside what a cable may add."""
    if not resistances:
        needed = "load_sweep.csv with at least three different loads of one mode."
        question = "How far does the voltage fall under load?"
        return [missing(question, needed, "fit_output_resistance")]
    found = []
    for port in dict.fromkeys(item.port for item in resistances):
        own = [item for item in resistances if item.port == port]
        most = max(own, key=lambda item: item.largest_current)
        current, ohms = most.largest_current, max(most.resistance.value, 0.0)
        cable = largest_cable_resistance(3.0 if current <= _SMALL_CABLE else 5.0)
        lost = Value(cable_drop(current, ohms), 0.0, "V").short
        further = Value(cable_drop(current, cable), 0.0, "V").short
        note = f"Load regulation {100 * most.regulation:.1f} % at {most.mode}."
        if len(own) > 1:
            values = [item.resistance.value for item in own]
            note += f" Its modes differ by {Value(max(values) - min(values), 0.0, 'Ω').short}."
        found.append(
            Finding(
                section=SECTION,
                question=f"How far does the voltage of {port} fall under load?",
                judgement=rules.result(),
                sentence=(
                    f"{port} behaves like a source with {most.resistance} in series: at "
                    f"{current:.2f} A it loses {lost} itself, and a cable as poor as the USB-C "
                    f"rules permit loses {further} more, {100 * cable / (cable + ohms):.0f} % of "
                    "both."
                ),
                reading=most.resistance,
                origin="load_sweep.csv",
                function="output_quality.fit_output_resistance",
                figure="output_quality_voltages",
                note=note,
            )
        )
    return found
