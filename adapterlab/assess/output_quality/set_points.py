"""How well an adjustable output hits the voltage asked for."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import SECTION, LoadedOutput, grouped, missing
from adapterlab.assess.output_quality.resistance import OutputResistance
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.value import Value
from adapterlab.output_quality import VOLTAGE_STEP, fit_set_point, programmable_steps


@dataclass(frozen=True)
class SetPoint:
    """One reading of an adjustable mode.

    Attributes
    ----------
    output : LoadedOutput
        As read.
    error : Value
        Voltage less the one asked for, the port's own drop added back. [V]
    """

    output: LoadedOutput
    error: Value


def set_points_of(
    outputs: Sequence[LoadedOutput], resistances: Sequence[OutputResistance]
) -> tuple[SetPoint, ...]:
    """Readings of adjustable modes with their set-point error."""
    found = []
    for item in outputs:
        if item.kind != "programmable":
            continue
        own = [known.resistance.value for known in resistances if known.port == item.port]
        drop = (median(own) if own else 0.0) * item.current
        error = item.voltage.value + drop - item.asked
        spread, assumed = item.voltage.standard_uncertainty, item.voltage.accuracy_assumed
        found.append(SetPoint(item, Value(error, spread, "V", accuracy_assumed=assumed)))
    return tuple(found)


def _settings(specimen: Specimen, output: LoadedOutput) -> str:
    """How many voltages the mode offers, as said aloud; empty if the label does not tell."""
    mode = specimen.adapter.mode(output.port, output.mode)
    if mode is None or not mode.minimum_voltage or not mode.maximum_voltage:
        return ""
    count = programmable_steps(mode.minimum_voltage, mode.maximum_voltage)
    return (
        f" of the {count} settings between {mode.minimum_voltage:g} and {mode.maximum_voltage:g} V"
    )


def _finding(specimen: Specimen, points: Sequence[SetPoint]) -> Finding:
    worst = max(points, key=lambda point: abs(point.error.value))
    output, error = worst.output, worst.error
    question = f"How well does {output.port} hit the voltage asked for ({output.mode})?"
    asked = [point.output.asked for point in points]
    if len(set(asked)) < 2:
        needed = "load_sweep.csv with that mode at two set voltages or more."
        return missing(question, needed, "fit_set_point")
    fit = fit_set_point(asked, [point.output.asked + point.error.value for point in points])
    value = Value(
        abs(fit.largest), error.standard_uncertainty, "V", accuracy_assumed=error.accuracy_assumed
    )
    offset = f" and {fit.offset * 1e3:+.0f} mV" if abs(fit.offset) >= 0.5e-3 else ""
    note = "The port's own drop is that of its fixed modes."
    if error.accuracy_assumed:
        note += " No meter for the output voltage is listed; the accuracy of a usual one is taken."
    return Finding(
        section=SECTION,
        question=question,
        judgement=rules.result(),
        sentence=(
            f"With its own drop added back, {output.port} misses the voltage asked for by at most "
            f"{value}, at {output.asked:g} V: {fit.steps:.1f} steps of {VOLTAGE_STEP * 1e3:g} mV"
            f"{_settings(specimen, output)}; {100 * fit.gain:+.2f} % of the voltage{offset} "
            f"{'fit' if offset else 'fits'} it best."
        ),
        reading=value,
        origin=f"load_sweep.csv line {output.line}",
        function="output_quality.fit_set_point",
        figure="output_quality_set_points",
        note=note,
    )


def set_point_findings(specimen: Specimen, points: Sequence[SetPoint]) -> list[Finding]:
    """Set-point error across the range of each adjustable mode."""
    by_output = {id(point.output): point for point in points}
    groups = grouped([point.output for point in points], "port", "mode")
    return [_finding(specimen, [by_output[id(item)] for item in group]) for group in groups]
