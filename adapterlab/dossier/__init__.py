"""The record of one adapter: schema, reading, and what is wrong with it."""

from adapterlab.dossier.problems import DossierError, Problem
from adapterlab.dossier.reading import Dossier, inspect_dossier, read_dossier
from adapterlab.dossier.records import Record

__all__ = ["Dossier", "DossierError", "Problem", "Record", "inspect_dossier", "read_dossier"]
