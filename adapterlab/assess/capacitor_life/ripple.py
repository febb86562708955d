"""Ripple currents in words: what is noted against what the circuit sends, and against ratings."""

from adapterlab.assess.capacitor_life.cases import SECTION, Case
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    against_prediction,
)
from adapterlab.assess.report.value import (
    Value,
)


def ripple_findings(case: Case) -> list[Finding]:
    """Stated against computed ripple current, and the better known of them against the rating."""
    ripple, part = case.ripple, case.capacitor.part
    found = []
    origin = f"adapter.toml, [[capacitors]] {part}"
    sources = ", ".join(name for name, _, _ in ripple.parts)
    rated_at = Value(ripple.rated_frequency, 0.0, "Hz")
    if ripple.stated is not None and ripple.computed is not None:
        found.append(
            against_prediction(
                ripple.stated,
                ripple.computed,
                f"The ripple current noted for {case.label}",
                f"the circuit ({sources})",
                section=SECTION,
                question=f"What heats {case.label} from within?",
                function="capacitor_life.equivalent_ripple_current",
                origin=origin,
                note=f"As equivalent at {rated_at}, at full load on 230 V; a "
                f"noted current counts as known to 10 %.",
            )
        )
    current, rated = ripple.best, case.capacitor.rated_ripple_current
    if current is not None and rated is not None:
        limit = Limit(
            rated,
            "A",
            "upper",
            f"the ripple rating of {part}",
            "the maker's data sheet, as noted in adapter.toml",
            "noted",
        )
        noted = ripple.stated is not None
        found.append(
            against_limit(
                current,
                limit,
                f"{'Noted' if noted else 'Computed'} ripple current of {case.label}",
                section=SECTION,
                question="Is every capacitor within its rated ripple current?",
                function="uncertainty.conformity_probability",
                origin=origin if noted else "the converters and the mains",
            )
        )
    return found
