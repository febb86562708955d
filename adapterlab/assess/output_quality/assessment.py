"""Steadiness of the output of a dossier: voltage, ripple, transients, claims of the label."""

from dataclasses import dataclass

import pandas as pd

from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.output_quality.claims import (
    hold_up_findings,
    input_current_finding,
    mark_finding,
    mode_findings,
    modes_of,
)
from adapterlab.assess.output_quality.events import Event, events_of
from adapterlab.assess.output_quality.ripple import (
    RippleCapture,
    RippleSweep,
    capture_findings,
    capture_of,
    missing,
    step_findings,
    sweeps_of,
)
from adapterlab.assess.output_quality.static import (
    points_of,
    resistance_findings,
    resistances_of,
    set_point_findings,
    set_points_of,
    window_findings,
)
from adapterlab.assess.report.finding import (
    Finding,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.dossier import Dossier


@dataclass(frozen=True)
class OutputQualityAssessment:
    """What the readings say of the output.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    points : pandas.DataFrame
        Every loaded output of the sweep, as `output_quality_static.points_of` describes.
    resistances : pandas.DataFrame
        Output resistance by port and mode, as `output_quality_static.resistances_of` describes.
    set_points : pandas.DataFrame
        Points of adjustable modes, with ``set_point_error`` [V] besides.
    sweeps : tuple of RippleSweep
        Ripple against load where it was read at enough loads.
    captures : tuple of RippleCapture
        Captures of the ripple.
    events : tuple of Event
        Captures of load steps, port changes, starts and overloads.
    modes : pandas.DataFrame
        Modes expected and offered, as `output_quality_claims.modes_of` describes.
    """

    findings: Ledger
    points: pd.DataFrame
    resistances: pd.DataFrame
    set_points: pd.DataFrame
    sweeps: tuple[RippleSweep, ...]
    captures: tuple[RippleCapture, ...]
    events: tuple[Event, ...]
    modes: pd.DataFrame


def _static(
    specimen: Specimen, points: pd.DataFrame, resistances: pd.DataFrame, set_points: pd.DataFrame
) -> list[Finding]:
    if points.empty:
        needed = (
            "load_sweep.csv with port, mode, output voltage and current at several loads, and the "
            "set voltage or the mode's voltage in [[ports]]."
        )
        return [missing("Does the output keep its voltage?", needed, "voltage_window")]
    found = window_findings(points)
    if not found:
        needed = "[[ports]] with the connector of each port, which decides the window."
        found.append(missing("Does the output keep its voltage?", needed, "voltage_window"))
    if resistances.empty:
        needed = "load_sweep.csv with at least three different loads of one mode."
        question = "How far does the voltage fall under load?"
        found.append(missing(question, needed, "fit_output_resistance"))
    found += resistance_findings(resistances)
    return found + set_point_findings(specimen, set_points)


def _ripple(
    specimen: Specimen, points: pd.DataFrame
) -> tuple[list[RippleSweep], list[RippleCapture], list[Finding]]:
    sweeps, found = sweeps_of(specimen, points)
    if not sweeps and not found:
        needed = "load_sweep.csv with ripple at 8 or more loads of one mode, one port loaded."
        found.append(missing("Does the ripple jump with the load?", needed, "find_ripple_step"))
    captures = []
    for record in specimen.records_of("ripple"):
        capture = capture_of(specimen, record)
        if isinstance(capture, str):
            needed = f"{record.capture.file}: {capture}."
            found.append(missing("How large is the ripple?", needed, "measure_ripple"))
        else:
            captures.append(capture)
    if not specimen.records_of("ripple"):
        needed = "[[captures]] of the kind 'ripple', with the bandwidth of the oscilloscope."
        found.append(missing("How large is the ripple?", needed, "measure_ripple"))
    found += step_findings(sweeps, captures) + capture_findings(captures)
    return sweeps, captures, found


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
    points = points_of(specimen)
    resistances = resistances_of(specimen, points)
    set_points = set_points_of(points, resistances)
    modes = modes_of(specimen, points)
    sweeps, captures, ripple = _ripple(specimen, points)
    events, happened = events_of(specimen)
    findings = _static(specimen, points, resistances, set_points) + ripple + happened
    findings += mode_findings(modes)
    if modes.empty:
        needed = "[[ports]] with the connector and the modes of each port."
        question = "Does the port offer the voltages its power makes one expect?"
        findings.append(missing(question, needed, "expected_modes"))
    findings += [input_current_finding(specimen), mark_finding(specimen)]
    findings += hold_up_findings(specimen)
    return OutputQualityAssessment(
        Ledger.of(findings),
        points,
        resistances,
        set_points,
        tuple(sweeps),
        tuple(captures),
        tuple(events),
        modes,
    )
