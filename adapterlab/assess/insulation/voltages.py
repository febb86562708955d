"""What a transformer puts across the barrier, by the parts, and what was noted there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.insulation.places import SECTION, named_in
from adapterlab.assess.model.feeds import BRIDGE_DROP, bridge_drop, bulk_voltage
from adapterlab.assess.model.inputs import predict
from adapterlab.assess.model.mains import highest_mains
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage, stages_of
from adapterlab.assess.model.stresses import clamp_of
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.dossier.distance import Distance
from adapterlab.flyback import operating_point
from adapterlab.insulation import primary_working_voltage


@dataclass(frozen=True)
class WindingVoltage:
    """What the switching end of a transformer puts across the barrier, by the parts.

    Attributes
    ----------
    converter : str
        As in the dossier.
    references : tuple of str
        Transformers it stands for, as in ``[[parts]]``.
    rms, peak : Prediction
        Working voltage at the highest rated mains. [V]
    frequency : float
        Switching frequency. [Hz]
    mains_voltage, reflected_voltage, duty_cycle : float
        What it was worked out from. [V], [V], [1]
    spike : bool
        Whether the leakage spike is in the peak.
    """

    converter: str
    references: tuple[str, ...]
    rms: Prediction
    peak: Prediction
    frequency: float
    mains_voltage: float
    reflected_voltage: float
    duty_cycle: float
    spike: bool


def winding_voltages(specimen: Specimen) -> list[WindingVoltage]:
    """Working voltage of every transformer whose converter is known well enough."""
    names = [converter.name for converter in specimen.adapter.construction.converters]
    parts = [part.reference for part in specimen.adapter.parts_with_role("transformer")]
    found = []
    for stage in stages_of(specimen):
        place = names.index(stage.name)
        own = parts if len(names) == 1 else parts[place : place + 1]
        try:
            found.append(_winding(specimen, stage, tuple(own)))
        except ValueError:
            continue
    return found


def _winding(specimen: Specimen, stage: Stage, references: tuple[str, ...]) -> WindingVoltage:
    mains = highest_mains(specimen)
    current = stage.output_voltage * stage.output_current / stage.highest_voltage
    top = replace(stage, output_voltage=stage.highest_voltage, output_current=current)
    clamp = clamp_of(specimen, stage)

    def at(**drawn: Any) -> list[Any]:
        source = bulk_voltage((mains, 50.0), drawn[BRIDGE_DROP])
        point = operating_point(source, **top.numbers(drawn))
        winding = primary_working_voltage(mains, point.reflected_voltage, point.duty_cycle)
        spike = point.reflected_voltage
        if clamp.inputs:
            spike = np.maximum(spike, clamp.voltage(point, drawn) + drawn[clamp.drop.name])
        return [
            winding.rms,
            source + spike,
            point.reflected_voltage,
            point.duty_cycle,
            point.switching_frequency,
        ]

    units = ("V", "V", "V", "", "Hz")
    inputs = bridge_drop() | stage.inputs | clamp.inputs
    rms, peak, reflected, duty, frequency = predict(at, inputs, units)
    return WindingVoltage(
        stage.name,
        references,
        rms,
        peak,
        frequency.value.value,
        mains,
        reflected.value.value,
        duty.value.value,
        bool(clamp.inputs),
    )


def at_transformer(place: str, windings: Sequence[WindingVoltage]) -> WindingVoltage | None:
    """The transformer a place names, if any."""
    return next((w for w in windings if named_in(place, w.references)), None)


def winding_finding(winding: WindingVoltage) -> Finding:
    """What one transformer puts across the barrier."""
    spike = "leakage spike included" if winding.spike else "leakage spike not included"
    return Finding(
        section=SECTION,
        question=f"What does the {winding.converter} transformer put across the barrier?",
        judgement=rules.result(),
        sentence=(
            f"By the parts, the switching end of the {winding.converter} transformer stands "
            f"{winding.rms} rms and {winding.peak} peak ({spike}) above the output, "
            f"{winding.frequency / 1e3:.0f} thousand times a second, on a mains of "
            f"{winding.mains_voltage:g} V."
        ),
        function="insulation.primary_working_voltage",
        prediction=winding.rms.value,
        rests_on=winding.rms.rests_on,
        origin="adapter.toml, construction",
        figure="insulation_working_voltage",
        note="Rms decides the creepage distance, peak the clearance. Ringing of the winding and "
        "the spike's share of the rms are left out. The mains alone gives 0.93 of its rms voltage "
        "on a rail behind the bridge.",
    )


def noted_findings(
    distances: Sequence[Distance], windings: Sequence[WindingVoltage]
) -> list[Finding]:
    """What was noted as working voltage at a transformer beside what the parts predict."""
    found = []
    for winding in windings:
        noted = {
            distance.place: distance.working_voltage
            for distance in distances
            if distance.working_voltage is not None
            and distance.insulation != "functional"
            and named_in(distance.place, winding.references)
        }
        if noted:
            found.append(_noted(winding, noted))
    return found


def _noted(winding: WindingVoltage, noted: Mapping[str, float]) -> Finding:
    predicted = winding.rms.value.value
    listed = ", ".join(
        f"{volts:g} V at '{place}' ({abs(volts - predicted):.0f} V "
        f"{'more' if volts > predicted else 'less'})"
        for place, volts in noted.items()
    )
    reason = "how they were read is not stated"
    return Finding(
        section=SECTION,
        question=f"Are the working voltages noted at the {winding.converter} transformer as the "
        "parts make them?",
        judgement=rules.not_judged(reason),
        sentence=(
            f"The parts put {winding.rms} rms across the {winding.converter} transformer; the "
            f"dossier notes {listed}. At each place the larger counts; {reason}, so no verdict "
            "rests on the difference."
        ),
        function="insulation.primary_working_voltage",
        reading=Value(max(noted.values()), 0.0, "V"),
        prediction=winding.rms.value,
        rests_on=winding.rms.rests_on,
        origin="adapter.toml, distances",
        figure="insulation_working_voltage",
        note="Ringing of the winding, which the prediction leaves out, would raise it.",
    )
