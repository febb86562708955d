"""The transformers of a dossier: what is wound against what is measured and what it must bear."""

from adapterlab.assess.transformer.assessment import (
    TransformerAssessment,
    assess,
)

__all__ = [
    "TransformerAssessment",
    "assess",
]
