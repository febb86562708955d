"""The surge at plug-in of a dossier: captures against the parts, the fuse, the discharge."""

from adapterlab.assess.inrush.assessment import (
    InrushAssessment,
    assess,
    readings,
)

__all__ = [
    "InrushAssessment",
    "assess",
    "readings",
]
