"""The table of assumed values: whole, used, and the only place that holds such values."""

import ast
import re
from typing import get_args

import pytest
from places import ROOT

from adapterlab.dossier.fields import Quantity
from adapterlab.published import KNOWN, rows

ROWS = rows("allowances", "allowances")
PACKAGE = ROOT / "adapterlab"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_rows_are_whole(row):
    assert re.fullmatch(r"[a-z_]+(\.[a-z_ -]+)+", row["name"])
    assert row["low"] <= row["high"]
    assert row["known"] in KNOWN
    assert row["said"]
    assert row["source"]
    if row.get("spread"):
        assert row["spread"] == "orders of magnitude"
        assert row["low"] > 0
    assert set(row) <= {
        "name", "low", "high", "unit", "said", "phrase", "spread", "source", "known", "bench", "usual",
    }  # fmt: skip


def test_each_value_stands_there_once():
    names = [row["name"] for row in ROWS]
    assert sorted(set(names)) == sorted(names)


def _strings():
    """Every text of the package, and a pattern for each that is put together from a dotted stem."""
    found, patterns = set(), set()
    for file in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                found.add(node.value)
            if isinstance(node, ast.JoinedStr):
                parts = [getattr(part, "value", None) for part in node.values]
                if isinstance(parts[0], str) and re.fullmatch(r"[a-z_]+\.[a-z_.]*", parts[0]):
                    patterns.add(
                        "".join(re.escape(p) if isinstance(p, str) else "[^.]+" for p in parts)
                    )
    return found, patterns


def test_each_value_is_used():
    """By its whole name, or by one put together from its stem and a quantity or a kind."""
    texts, patterns = _strings()
    meters = {f"meter.{quantity}" for quantity in get_args(Quantity)}
    assert {row["name"] for row in ROWS if row["name"].startswith("meter.")} == meters
    unused = []
    for name in (row["name"] for row in ROWS):
        stem, _, last = name.rpartition(".")
        put_together = any(re.fullmatch(pattern, name) for pattern in patterns)
        if not (name in texts or put_together or {f"{stem}.", last} <= texts):
            unused.append(name)
    assert unused == []


# Physical bounds of some of them, so that a slip of the pen is seen. Diodes: 0.55 V to 1.1 V each
# (makers' curves of 1 A to 4 A silicon bridges, from microamperes to rated current). Tolerance:
# IEC 60062:2016, code M. Thermocouple: IEC 60584-1:2013, class 2 (from memory).
BOUNDS = {
    "bridge.drop": (1.1, 2.2),
    "bulk.tolerance": (0.2, 0.2),
    "room.temperature": (10.0, 35.0),
    "thermistor.warm_share": (0.01, 0.3),
    "thermistor.beta": (2000.0, 4000.0),
    "supply.resistance": (0.05, 1.5),
    "meter.temperature": (-2.5, 2.5),
    "meter.input power": (-0.03, 0.03),
}


@pytest.mark.parametrize("name", BOUNDS)
def test_values_are_possible(name):
    (row,) = rows("allowances", "allowances", name=name)
    low, high = BOUNDS[name]
    assert low <= row["low"] <= row["high"] <= high


# Numbers that assess and figures may hold, by what they are. Whatever is assumed of an adapter or of
# a bench belongs into the table of allowances.
PERMITTED = {
    "conventions and definitions": """
        SECTIONS _EVERY MAINS _MAINS _TOP _HOME _NOMINAL ROOM _ROOM _ROOMS ROOT _COPPER HARMONICS _ORDERS
        _KWH _HOUR MILLI MICRO NANO _MILLI MARKS YEARS LIKE_POWER FEWEST SMALL SHARES _FULL
        _HIGH_FREQUENCY _LEVELS _TABLES TOUCHES LARGEST_RISE _CAREFUL _LONG _RINGING _ON_TOP _RATED
        _SMALL_CABLE ACTIVE TEN_PERCENT RECOVERY_BAND _LESS _POOR_EFFICIENCY LEAST_SHARE _LOADS _DEGREE
        """,
    "how many draws, corners, points": """
        DRAWS _DRAWS _CAPTURE_DRAWS CURVE_DRAWS SWEEP_DRAWS _CORNER_DRAWS _ALL_CORNERS _POINTS
        _GRID _LEAST_LOADS _MOST_POINTS
        """,
    "which readings count as alike, as enough, as a step": """
        _NEAR _SAME _SAME_MAINS _SAME_LOAD _MAINS_GAP _ALIKE _REACH _FURTHEST _LOWER _ALMOST_NOTHING
        _LEAST_SPAN _LEAST_RESERVOIR _JOINS_FROM _JOINS_TO _RANGE_REACH _LINE_WIDTH _SETBACK _ROUNDING
        _WHOLE_DRIFT _EDGE _SIDE_BY_SIDE _SLACK _RATIO OVERLOAD _HOLDS _OPENS
        """,
    "how sentences and numbers are written": """
        _TELLING _MOST MOSTLY _DUST _PREFIXES _TO_UNITY _EXPONENTS _EXACT_DIGITS _SHORT_DIGITS _LEAST_IN_SPAN _LOPSIDED
        _READABLE _CONTEXT _NAMED
        """,
    "how pictures are laid out": """
        SIZE SCREEN_DPI EXPORT_DPI _LOOK _LOOKS _TEXT _LIMB _LINE _DASHES _MARKS _SHOWN _ROWS _LIMITS
        _MOST_EVENTS _BOTTOM _LOW _RESERVOIR _PRIMARY _BARRIER _SECONDARY _OUTPUT _BODY _PATH _ARROWS
        """,
}


def _numbers(node):
    return [
        part.value
        for part in ast.walk(node)
        if isinstance(part, ast.Constant)
        and isinstance(part.value, int | float)
        and not isinstance(part.value, bool)
    ]


def _constants(tree):
    for node in tree.body:
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            if _numbers(node.value):
                for target in targets:
                    yield from (part.id for part in ast.walk(target) if isinstance(part, ast.Name))


FILES = sorted((*(PACKAGE / "assess").rglob("*.py"), *(PACKAGE / "figures").rglob("*.py")))


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_nothing_is_assumed_elsewhere(file):
    """No constant of its own that is not of a permitted kind, and no spread typed into a call."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    permitted = {name for names in PERMITTED.values() for name in names.split()}
    assert [name for name in _constants(tree) if name not in permitted] == []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func)
        if re.fullmatch(r"(stats\.)?(uniform|norm|loguniform|triang|lognorm)|between", name):
            typed = [number for argument in node.args for number in _numbers(argument)]
            assert [number for number in typed if number not in (0, 1, 2)] == [], ast.unparse(node)


def test_what_is_permitted_is_there():
    """The list above names nothing that has gone."""
    names = {
        name for file in FILES for name in _constants(ast.parse(file.read_text(encoding="utf-8")))
    }
    for kind, listed in PERMITTED.items():
        assert set(listed.split()) - names == set(), kind
