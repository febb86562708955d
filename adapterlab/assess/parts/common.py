"""What the findings of parts share: section, origin, and how parts are named."""

from collections.abc import Sequence
from typing import Any

from adapterlab.assess.report.value import Value
from adapterlab.published import Standing

SECTION = "parts"


def common(question: str, function: str, figure: str = "") -> dict[str, Any]:
    """Fields that every finding of this section has."""
    return {
        "section": SECTION,
        "question": question,
        "function": function,
        "figure": figure,
        "origin": "adapter.toml, parts",
    }


def count(number: int) -> Value:
    """A number of parts."""
    return Value(float(number), 0.0, "")


def listed(names: Sequence[str]) -> str:
    """Names as said aloud: ``C1, C2 and C3``."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def an(name: str) -> str:
    """A name with its indefinite article; what comes in pairs has none."""
    if name.startswith("mains pins"):
        return name
    return f"{'an' if name[0] in 'aeiouX' else 'a'} {name}"


def documented(name: str, standing: Standing | None) -> str:
    """A document with its standing where it is not in force."""
    if standing is None or standing.state == "in force":
        return name
    return f"{name}, {standing.said},"
