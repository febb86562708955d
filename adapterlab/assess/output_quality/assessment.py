"""Steadiness of the output of a dossier: voltage, ripple, transients, claims of the label."""

from dataclasses import dataclass

import pandas as pd

from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.output_quality.capture import Event
from adapterlab.assess.output_quality.events import events_of
from adapterlab.assess.output_quality.hold_up import hold_up_findings
from adapterlab.assess.output_quality.input_current import input_current_finding
from adapterlab.assess.output_quality.marks import mark_finding
from adapterlab.assess.output_quality.modes import PortModes, mode_findings, modes_of
from adapterlab.assess.output_quality.outputs import LoadedOutput, missing, outputs_of
from adapterlab.assess.output_quality.resistance import (
    OutputResistance,
    resistance_findings,
    resistances_of,
)
from adapterlab.assess.output_quality.ripple_capture import (
    RippleCapture,
    capture_findings,
    captures_of,
)
from adapterlab.assess.output_quality.ripple_step import RippleSweep, step_findings, sweeps_of
from adapterlab.assess.output_quality.set_points import (
    SetPoint,
    set_point_findings,
    set_points_of,
)
from adapterlab.assess.output_quality.window import window_findings
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.ledger import Ledger
from adapterlab.dossier import Dossier


@dataclass(frozen=True)
class OutputQualityAssessment:
    """What the readings say of the output.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    outputs : tuple of LoadedOutput
        Every loaded output of the sweep.
    resistances : tuple of OutputResistance
        Output resistance by port and mode.
    set_points : tuple of SetPoint
        Readings of adjustable modes with their set-point error.
    sweeps : tuple of RippleSweep
        Ripple against load where it was read at enough loads.
    captures : tuple of RippleCapture
        Captures of the ripple.
    events : tuple of Event
        Captures of load steps, port changes, starts and overloads.
    ports : tuple of PortModes
        Modes expected and offered of each USB-C port.
    """

    findings: Ledger
    outputs: tuple[LoadedOutput, ...]
    resistances: tuple[OutputResistance, ...]
    set_points: tuple[SetPoint, ...]
    sweeps: tuple[RippleSweep, ...]
    captures: tuple[RippleCapture, ...]
    events: tuple[Event, ...]
    ports: tuple[PortModes, ...]

    @property
    def resistance_table(self) -> pd.DataFrame:
        """The output resistances for reading: ``port``, ``mode``, ``resistance`` and its
        ``uncertainty`` [Ω], ``open_voltage`` [V], ``regulation`` [1].
        """
        columns = ["port", "mode", "resistance", "uncertainty", "open_voltage", "regulation"]
        found = [
            (item.port, item.mode, item.resistance.value, item.resistance.standard_uncertainty,
             item.open_voltage, item.regulation)
            for item in self.resistances
        ]  # fmt: skip
        return pd.DataFrame(found, columns=columns)


def _static(specimen: Specimen, outputs: tuple[LoadedOutput, ...]) -> list[Finding]:
    if not outputs:
        needed = (
            "load_sweep.csv with port, mode, output voltage and current at several loads, and the "
            "set voltage or the mode's voltage in [[ports]]."
        )
        return [missing("Does the output keep its voltage?", needed, "voltage_window")]
    resistances = resistances_of(specimen, outputs)
    set_points = set_points_of(outputs, resistances)
    found = window_findings(outputs) + resistance_findings(resistances)
    return found + set_point_findings(specimen, set_points)


def assess(dossier: Dossier | Specimen) -> OutputQualityAssessment:
    """Output of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    OutputQualityAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    outputs = outputs_of(specimen)
    resistances = resistances_of(specimen, outputs)
    sweeps, findings = sweeps_of(specimen, outputs)
    captures, troubles = captures_of(specimen)
    events, happened = events_of(specimen)
    ports = modes_of(specimen, outputs)
    findings = _static(specimen, outputs) + findings + troubles
    findings += step_findings(sweeps, captures) + capture_findings(captures) + happened
    findings += mode_findings(ports)
    findings += [input_current_finding(specimen), mark_finding(specimen)]
    findings += hold_up_findings(specimen)
    return OutputQualityAssessment(
        Ledger.of(findings),
        outputs,
        resistances,
        set_points_of(outputs, resistances),
        sweeps,
        captures,
        events,
        ports,
    )
