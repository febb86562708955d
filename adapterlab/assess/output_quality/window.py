"""Whether every output keeps its voltage within its window at every load."""

from collections.abc import Sequence

from adapterlab.assess.output_quality.outputs import SECTION, LoadedOutput, grouped, missing
from adapterlab.assess.report.finding import Finding, Limit, against_limit
from adapterlab.output_quality import voltage_window
from adapterlab.published import rows

_MODES = {"fixed": "fixed modes", "programmable": "adjustable mode"}


def limits_of(output: LoadedOutput) -> list[Limit]:
    """Published bounds of one output's voltage, lower first; none for an unknown connector."""
    if output.connector == "USB-C":
        window = voltage_window(output.asked, output.kind)
        found = []
        for side, end in (("lower", window.static_minimum), ("upper", window.static_maximum)):
            known = rows(SECTION, "windows", kind=output.kind, side=side, band="static")[0]
            name = f"the {output.kind} window of USB Power Delivery"
            found.append(Limit.published(known, end, "V", side, name))
        return found
    if output.connector:
        known = rows(SECTION, "minimum_voltage", connector="other")[0]
        end = output.asked * known["fraction"]
        return [Limit.published(known, end, "V", "lower", known["standard"])]
    return []


def margin(output: LoadedOutput, limit: Limit) -> float:
    """Distance from a limit as a fraction of the voltage asked for, negative beyond it."""
    sign = 1 if limit.kind == "lower" else -1
    return sign * (output.voltage.value - limit.value) / output.asked


def nearest_to_an_end(outputs: Sequence[LoadedOutput]) -> tuple[LoadedOutput, Limit] | None:
    """The output nearest to an end of its window, or furthest beyond it, and that end."""
    judged = [(output, limit) for output in outputs for limit in limits_of(output)]
    return min(judged, key=lambda entry: margin(*entry), default=None)


def _errors(outputs: Sequence[LoadedOutput]) -> str:
    """Range of the static error of each voltage asked for, in words."""
    said = []
    for group in sorted(grouped(outputs, "asked"), key=lambda group: group[0].asked):
        errors = [output.error for output in group]
        low, high = (f"{round(100 * error, 1) + 0.0:+.1f}" for error in (min(errors), max(errors)))
        span = f"{low} %" if low == high else f"{low} to {high} %"
        said.append(f"{group[0].asked:g} V: {span}".replace("-", "−"))
    return f"Error over all loads at {'; '.join(said)}."


def window_findings(outputs: Sequence[LoadedOutput]) -> list[Finding]:
    """For each port and kind of mode, the point nearest to an end of its window."""
    found = []
    for group in grouped(outputs, "port", "kind"):
        nearest = nearest_to_an_end(group)
        if nearest is None:
            continue
        output, limit = nearest
        note = _errors(group)
        note += " Taken as measured at the port itself; after a cable its drop counts too."
        if output.connector == "USB-C" and output.kind == "fixed":
            note += " From 14 December 2028 Regulation (EU) 2025/2052 asks for 95 % as well."
        count = f"{len(group)} points" if len(group) > 1 else "one point"
        found.append(
            against_limit(
                output.voltage,
                limit,
                f"The voltage of {output.port} nearest to an end of its window ({count}; set to "
                f"{output.asked:g} V, at {output.current:.2f} A)",
                section=SECTION,
                question=f"Does {output.port} keep its voltage ({_MODES[output.kind]})?",
                origin=f"load_sweep.csv line {output.line}",
                function="output_quality.voltage_window",
                figure="output_quality_voltages",
                note=note,
            )
        )
    if not found:
        needed = "[[ports]] with the connector of each port, which decides the window."
        found.append(missing("Does the output keep its voltage?", needed, "voltage_window"))
    return found
