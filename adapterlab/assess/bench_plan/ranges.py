"""Whether the ranges of the listed meters hold what the plan leads to."""

from collections.abc import Sequence

from adapterlab import judgement as rules
from adapterlab.assess.bench_plan.points import PlannedPoint
from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.value import Value

SECTION = "bench_plan"
_EXPECTED = tuple(allowance(name) for name in ("mains.power_factor", "mains.crest_factor"))


def _rough(value: float, unit: str) -> Value:
    """A need to two digits."""
    return Value(float(f"{value:.2g}"), 0.0, unit)


def range_findings(specimen: Specimen, points: Sequence[PlannedPoint]) -> list[Finding]:
    """For each quantity whose meters all state a range, whether the largest is large enough."""
    most = max(points, key=lambda point: float(point.expected.power))
    current = max(points, key=lambda point: float(point.expected.current_rms))
    needs = {
        "input power": (float(most.expected.power), "W"),
        "mains current": (float(current.expected.current_rms), "A"),
        "output voltage": (max(max(p.voltages.values()) for p in points), "V"),
        "output current": (max(max(p.currents.values()) for p in points), "A"),
    }
    found = []
    for quantity, (value, unit) in needs.items():
        meters = specimen.adapter.instruments_for(quantity)
        scales = [meter.full_scale for meter in meters if meter.full_scale > 0]
        if not scales or len(scales) < len(meters):
            continue
        enough = max(scales) >= value
        verdict = "it holds that" if enough else "a larger range is needed"
        note = "Expected from the least efficiency a rule asks for."
        if quantity == "mains current":
            note += f" With {' and '.join(item.said for item in _EXPECTED)}."
            peak = float(current.expected.current_peak)
            if enough and peak > max(scales):
                verdict += f", if it takes peaks of {_rough(peak, 'A')}"
        found.append(
            Finding(
                SECTION,
                f"Does the range for {quantity} hold the plan?",
                rules.result(),
                f"The plan leads to {quantity} up to about {_rough(value, unit)}; the largest "
                f"range listed is {Value(max(scales), 0.0, unit)}: {verdict}.",
                "bench_plan.expected_input",
                _rough(value, unit),
                origin="adapter.toml, instruments",
                note=note,
            )
        )
    return found
