"""From a dossier to findings: one module for each section.

Each has ``assess(dossier)``, which returns a frozen dataclass with a ``findings`` `Ledger` and
whatever the section's figures draw. `SECTIONS` lists them in reading order; `specimen_of` turns a
dossier into the adapter that all of them see.
"""

from dataclasses import dataclass

from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)

__all__ = ["SECTIONS", "Finding", "Ledger", "Limit", "Section", "Specimen", "Value", "specimen_of"]


@dataclass(frozen=True)
class Section:
    """One section of a review.

    Attributes
    ----------
    number : int
        Place in the reading order, as in the notebook's file name.
    stem : str
        Name shared by module, notebook, figures and tests.
    question : str
        The viewer's question.
    """

    number: int
    stem: str
    question: str

    @property
    def notebook(self) -> str:
        """File name of the notebook."""
        return f"{self.number:02d}_{self.stem}.ipynb"


SECTIONS = (
    Section(1, "bench_plan", "What will be measured, with what, and how safely?"),
    Section(2, "efficiency", "How much of the mains power reaches the device?"),
    Section(3, "output_quality", "How steady is the output?"),
    Section(4, "mains_current", "What current does it draw from the mains?"),
    Section(5, "inrush", "What happens in the first hundredth of a second after contact?"),
    Section(6, "touch_current", "Why can it be felt, and what explains the value?"),
    Section(7, "parts", "What is inside, and what is each part for?"),
    Section(8, "flyback", "How does the converter work?"),
    Section(9, "transformer", "Is the transformer well made?"),
    Section(10, "insulation", "What stands between the mains and the hand?"),
    Section(11, "capacitor_life", "What wears out first?"),
    Section(12, "standing", "How does it compare?"),
    Section(13, "verdict", "What can be said, and how surely?"),
)
