"""Ripple currents in words: what is noted against what the circuit sends, and against ratings."""

from adapterlab.assess.capacitor_life.cases import SECTION, Case
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    against_prediction,
)
from adapterlab.assess.report.value import Value

_UNKNOWN = "how the noted current was found is not stated"


def ripple_findings(case: Case) -> list[Finding]:
    """Stated against computed ripple current, and the better known of them against the rating."""
    ripple, part = case.ripple, case.capacitor.part
    found = []
    origin = f"adapter.toml, [[capacitors]] {part}"
    rated_at = Value(ripple.rated_frequency, 0.0, "Hz")
    doubtful = _UNKNOWN if case.capacitor.ripple_current_uncertainty is None else ""
    if ripple.stated is not None and ripple.computed is not None and ripple.circuit is not None:
        sources = ", ".join(source.name for source in ripple.circuit.middle())
        found.append(
            against_prediction(
                ripple.stated,
                ripple.computed,
                f"The ripple current noted for {case.label}",
                f"the circuit ({sources})",
                not_judged=doubtful,
                section=SECTION,
                question=f"What heats {case.label} from within?",
                function="capacitor_life.equivalent_ripple_current",
                origin=origin,
                note=f"As equivalent at {rated_at}, at full load on 230 V.",
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
            verb="allows",
        )
        noted = ripple.stated is not None
        found.append(
            against_limit(
                current,
                limit,
                f"{'Noted' if noted else 'Computed'} ripple current of {case.label}",
                not_judged=doubtful if noted else "",
                section=SECTION,
                question="Is every capacitor within its rated ripple current?",
                function="uncertainty.conformity_probability",
                origin=origin if noted else "the converters and the mains",
                rests_on=() if noted or ripple.computed is None else ripple.computed.rests_on,
            )
        )
    return found
