"""Whether the label bears the marks that its own claims call for."""

import re

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.outputs import SECTION
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import Value

_FUNCTION = "verdict.limit_word"
_LEVEL, _CLASS_TWO = (
    "the efficiency level in Roman numerals",
    "the double square of protection class II",
)


def mark_finding(specimen: Specimen) -> Finding:
    """Marks that the label's own claims call for."""
    plate = specimen.adapter.nameplate
    question = "Does the label bear the marks that its claims call for?"
    if not plate.marks:
        needed = "[nameplate] marks and protection_class, read from the label."
        return not_measured(SECTION, question, needed, _FUNCTION)
    marks = [mark.lower() for mark in plate.marks]
    wanted = {_LEVEL: any(re.search(r"level [ivx]+", mark) for mark in marks)}
    if plate.protection_class == "II":
        square = any("double square" in mark or "double insul" in mark for mark in marks)
        wanted = {_CLASS_TWO: square} | wanted
    there = [name for name, seen in wanted.items() if seen]
    lacking = [name for name, seen in wanted.items() if not seen]
    sentence = f"Of {len(wanted)} marks that one would look for the record notes {len(there)}"
    sentence += f": {' and '.join(there)}" if there else ""
    sentence += f"; it does not note {' or '.join(lacking)}." if lacking else "."
    return Finding(
        section=SECTION,
        question=question,
        judgement=rules.result(),
        sentence=sentence,
        function=_FUNCTION,
        reading=Value(float(len(there)), 0.0, ""),
        origin="adapter.toml",
        note="A mark is a claim of the maker; a mark that is missing is a gap of the label, not of "
        "the inside.",
    )
