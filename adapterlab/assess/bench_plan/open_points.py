"""Which load points of the plan are still to be taken."""

from collections.abc import Sequence

from adapterlab import judgement as rules
from adapterlab.assess.bench_plan.points import PlannedPoint
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import Value

SECTION = "bench_plan"
_FUNCTION = "assess.bench_plan.points.plan_of"


def set_currents(point: PlannedPoint) -> str:
    """Currents of a point, as typed at the load."""
    several = len(point.currents) > 1
    return ", ".join(
        (f"{port} " if several else "") + f"{current:.3f} A"
        for port, current in point.currents.items()
    )


def open_finding(points: Sequence[PlannedPoint]) -> Finding:
    """How many of the points each rule asks for are in the load sweep."""
    question = "Which load points are still to be taken?"
    open_points = [point for point in points if not point.measured]
    if not open_points:
        return Finding(
            SECTION,
            question,
            rules.result(),
            f"All {len(points)} load points of the plan are in the load sweep.",
            _FUNCTION,
            Value(float(len(points)), 0.0, ""),
            origin="load_sweep.csv",
            figure="bench_plan_points",
        )
    counts = []
    for name in dict.fromkeys(name for point in points for name in point.purposes):
        asked = [point for point in points if name in point.purposes]
        missing = sum(not point.measured for point in asked)
        if missing:
            counts.append(f"{missing} of {len(asked)} for {name}")
    first = open_points[0]
    verb = "is" if len(open_points) == 1 else "are"
    where = f"{first.loading} on {first.mains_voltage:g} V at {set_currents(first)}"
    which = f"it is {where}" if len(open_points) == 1 else f"the first is {where}"
    needed = (
        f"{len(open_points)} of {len(points)} load points of the plan {verb} open ("
        f"{', '.join(counts)}); {which}."
    )
    return not_measured(SECTION, question, needed, _FUNCTION)
