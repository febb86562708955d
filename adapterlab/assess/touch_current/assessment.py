"""Touch current of a dossier: readings against the barrier capacitor, each other and limits."""

from dataclasses import dataclass

import pandas as pd

from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.ledger import Ledger
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.assess.touch_current import capacitance, explained
from adapterlab.assess.touch_current.limits import (
    against_limits,
    allowed_capacitances,
    network_gap,
)
from adapterlab.assess.touch_current.model import (
    Barrier,
    RailModel,
    barrier_of,
    implied_capacitance,
    predicted_current,
    windings_of,
)
from adapterlab.assess.touch_current.polarity import polarity_finding, seat_of, split_of
from adapterlab.assess.touch_current.readings import (
    SECTION,
    PolarityPair,
    TouchReading,
    all_readings,
    largest_of_each,
    polarity_pairs,
    to_infer_from,
)
from adapterlab.assess.touch_current.scaling import (
    highest_findings,
    highest_mains_of,
    scaling_findings,
)
from adapterlab.assess.touch_current.switching import switching_finding
from adapterlab.dossier import Dossier
from adapterlab.touch_current import (
    InferredCapacitance,
    PolaritySplit,
    RailWaveform,
    UnexplainedCapacitance,
    rail_waveform,
)


@dataclass(frozen=True)
class TouchCurrentAssessment:
    """What the touch-current readings say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    readings : tuple of TouchReading
        The largest of each condition, network and quantity.
    predictions : dict of int to Prediction
        Line of a reading -> what the parts predict for it; empty without a barrier capacitor. [A]
    barrier : Barrier or None
        What bridges the barrier by the parts list; None if a value is missing.
    windings : Value or None
        Capacitance between the windings; None if not measured. [F]
    inferred : InferredCapacitance or None
        Capacitance that the chosen rms reading implies; None without one.
    rest : UnexplainedCapacitance or None
        What the parts leave over of it; None without reading or part.
    polarities : tuple of PolarityPair
        Readings with the plug both ways round.
    split : PolaritySplit or None
        Where the capacitance sits, from both polarities; None without them.
    rail : str
        Where the readings say that the capacitor sits, as in `adapterlab.touch_current.RAILS`.
    wave : RailWaveform
        Rail and current of the chosen reading, or of an example: 1 nF at 230 V, 50 Hz.
    wave_label : str
        What `wave` shows.
    allowed : pandas.DataFrame
        Largest capacitor under each limit and rail, at the top of the adapter's mains range.
    highest_mains : tuple of float
        That mains. [V], [Hz]
    references : dict of str to str
        References of the parts on the current's path, by role.
    """

    findings: Ledger
    readings: tuple[TouchReading, ...]
    predictions: dict[int, Prediction]
    barrier: Barrier | None
    windings: Value | None
    inferred: InferredCapacitance | None
    rest: UnexplainedCapacitance | None
    polarities: tuple[PolarityPair, ...]
    split: PolaritySplit | None
    rail: str
    wave: RailWaveform
    wave_label: str
    allowed: pd.DataFrame
    highest_mains: tuple[float, float]
    references: dict[str, str]

    def table(self) -> pd.DataFrame:
        """The readings as a table: condition, network, quantity, and microamperes with 95 %."""
        return pd.DataFrame(
            {
                "condition": reading.condition,
                "network": reading.network or "not noted",
                "quantity": reading.quantity,
                "reading (µA)": round(reading.current.value * 1e6, 1),
                "± 95 % (µA)": round(1.96e6 * reading.current.standard_uncertainty, 1),
            }
            for reading in self.readings
        )


def _wave(
    reading: TouchReading | None, model: RailModel, barrier: Barrier | None,
    inferred: InferredCapacitance | None,
) -> tuple[RailWaveform, str]:  # fmt: skip
    """Waveform for the picture: the inferred capacitance, else the marked one, else 1 nF."""
    shown = barrier.marked if barrier is not None else 1e-9
    whose = "marked" if barrier is not None else "as an example"
    if inferred is not None:
        shown, whose = inferred.capacitance, "as inferred"
    voltage, frequency, condition, load = 230.0, 50.0, "230 V, 50 Hz", 0.0
    if reading is not None:
        voltage, frequency = reading.mains_voltage, reading.mains_frequency
        condition, load = reading.condition, reading.output_power
    reservoir = float(model.reservoir()) if model.bulk else 0.0
    loaded = load > 0 and reservoir >= 500 * shown
    wave = rail_waveform(
        shown,
        voltage,
        frequency,
        model.rail,
        "unweighted",
        bulk_capacitance=reservoir if loaded else None,
        load_power=load / allowance("converter.efficiency").middle if loaded else 0.0,
        bridge_drop=allowance("bridge.drop_at_microamperes").middle,
        diode_capacitance=allowance("bridge.junction_capacitance").middle,
        points=1024,
    )
    return wave, f"{Value(shown, 0.0, 'F').short} {whose}, {condition}"


def _references(specimen: Specimen) -> dict[str, str]:
    roles = ("fuse", "rectifier bridge", "bulk capacitor", "barrier capacitor", "transformer")
    return {
        role: " + ".join(part.reference for part in specimen.adapter.parts_with_role(role))
        for role in roles
    }


def assess(dossier: Dossier | Specimen) -> TouchCurrentAssessment:
    """Touch current of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    TouchCurrentAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    barrier, windings = barrier_of(specimen), windings_of(specimen)
    every = all_readings(specimen)
    readings, pairs = largest_of_each(every), polarity_pairs(every)
    split, model = split_of(specimen, pairs), RailModel(specimen, seat_of(pairs))
    top = highest_mains_of(specimen)
    chosen = to_infer_from(readings)
    predictions = {
        reading.line: predicted_current(model, reading, barrier)
        for reading in readings
        if barrier is not None and reading.quantity != "dc"
    }
    inferred = rest = None
    findings: list[Finding] = []
    if not readings:
        needed = (
            "touch_current.csv with at least mains voltage, frequency, network, quantity and "
            "value, taken with both plug polarities."
        )
        function = "touch_current.rail_waveform"
        findings = [not_measured(SECTION, explained.QUESTION, needed, function)]
    else:
        findings = [polarity_finding(specimen, pairs, split), *network_gap(specimen)]
        findings += against_limits(specimen, every, bool(pairs), top, model)
        findings.append(switching_finding(specimen, readings, model))
        findings += scaling_findings(specimen, readings, model)
        if chosen is not None:
            findings += highest_findings(specimen, readings, chosen, top, model)
            try:
                implied = implied_capacitance(model, chosen, barrier)
                inferred = capacitance.inferred_capacitance(specimen, chosen, model, implied)
            except ValueError:
                findings.append(capacitance.too_large(chosen))
            else:
                rest = None if barrier is None else capacitance.rest_of(inferred, barrier)
                findings.append(
                    capacitance.capacitance_finding(inferred, implied, chosen, barrier, rest)
                )
        if barrier is not None:
            findings += explained.against_parts(readings, predictions, barrier)
        else:
            needed = "[[parts]] with the role 'barrier capacitor' and its value."
            function = "touch_current.rail_waveform"
            findings.append(not_measured(SECTION, explained.QUESTION, needed, function))
    wave, label = _wave(chosen, model, barrier, inferred)
    return TouchCurrentAssessment(
        findings=Ledger.of(findings),
        readings=tuple(readings),
        predictions=predictions,
        barrier=barrier,
        windings=None
        if windings is None
        else Value(windings.middle, float(windings.distribution.std()), "F"),
        inferred=inferred,
        rest=rest,
        polarities=tuple(pairs),
        split=split,
        rail=model.rail,
        wave=wave,
        wave_label=label,
        allowed=allowed_capacitances(*top),
        highest_mains=top,
        references=_references(specimen),
    )
