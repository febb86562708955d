"""The demo adapters, read and assessed once for all tests of a process."""

import json
from functools import cache
from typing import Any

from places import DEMO

from adapterlab.assess import verdict
from adapterlab.dossier import Dossier, read_dossier

NAMES = ("alder-27", "birch-60", "cedar-65", "dogwood-18")


@cache
def dossier(name: str) -> Dossier:
    """The record of a demo adapter."""
    return read_dossier(DEMO / name)


@cache
def assessed(name: str) -> verdict.VerdictAssessment:
    """All its findings."""
    return verdict.assess(dossier(name))


def truth(name: str) -> dict[str, Any]:
    """What is true of it."""
    return json.loads((DEMO / "truth" / f"{name}.json").read_text(encoding="utf-8"))
