"""The tables of published figures: every row has a source and says how it is known."""

import re
from pathlib import Path

import pytest

from adapterlab import published

SUBJECTS = sorted(path.stem for path in Path(published.__file__).parent.glob("*.toml"))


def test_every_section_with_limits_has_a_table():
    assert {"touch_current", "efficiency"} <= set(SUBJECTS)


@pytest.mark.parametrize("subject", SUBJECTS)
def test_rows_are_complete(subject):
    for name, table in published.load(subject).items():
        assert table, f"{subject}.{name} is empty"
        for row in table:
            assert len(row["source"]) > 10
            assert row["known"] in published.KNOWN
            if published.judges(row) and "memory" in row["source"]:
                # What of it was printed must be told apart.
                assert row.get("printed") or row.get("two") or row.get("one"), row


def test_clear_errors(tmp_path, monkeypatch):
    with pytest.raises(ValueError, match="subject must be one of .*touch_current"):
        published.load("tea")
    with pytest.raises(ValueError, match="table must be one of"):
        published.rows("touch_current", "tea")
    published.load.cache_clear()
    published._standings.cache_clear()
    monkeypatch.setattr(published.resources, "files", lambda _: tmp_path)
    (tmp_path / "standards.toml").write_text(
        '[[standards]]\nkey = "iec-2"\nname = "n"\nstate = "in force"\nsaid = "in force"\n'
        'source = "y"\nknown = "own"\n'
    )
    bad = {
        "a": ("x = [", "not well-formed"),
        "b": ("x = 1", "must be an array of tables"),
        "c": ('[[x]]\nknown = "own"', "x row 1: source is missing"),
        "d": ('[[x]]\nsource = "y"\nknown = "rumour"', "known must be one of"),
        "e": (
            '[[x]]\nsource = "y"\nknown = "own"\nstatus = "iec-1"',
            "status must be one of iec-2",
        ),
        "f": ('[[x]]\nsource = "y"\nknown = "own"\nstate = "dead"', "state must be one of"),
    }
    for name, (text, message) in bad.items():
        (tmp_path / f"{name}.toml").write_text(text)
        with pytest.raises(ValueError, match=message):
            published.load(name)
    published.load.cache_clear()
    published._standings.cache_clear()


@pytest.mark.parametrize(
    ("known", "witness", "may"),
    [
        ("own", "", True),
        ("cited", "", True),
        ("two", "", True),
        ("noted", "", True),
        ("second-hand", "", False),
        ("second-hand", "another document", True),
        ("one", "", False),
        ("one", "another document", False),
        ("computed", "", False),
        ("common practice", "", False),
        ("memory", "", False),
        ("memory", "another document", False),
        ("not found", "", False),
    ],
)
def test_which_figures_may_judge(known, witness, may):
    """The document's own text, a citation or two copies may; nothing weaker does by itself."""
    row = {"known": known, "witness": witness}
    assert published.judges(row) is may
    assert (published.why_not(row) == "") is may


def test_every_class_is_in_the_table_above():
    (mark,) = test_which_figures_may_judge.pytestmark
    assert {case[0] for case in mark.args[1]} == set(published.KNOWN)


# Tables whose rows set limits.
LIMITS = {
    "touch_current": ("limits",),
    "insulation": ("mains_transients", "temporary_overvoltages", "clearances", "peak_clearances",
                   "high_frequency_clearances", "high_frequency_creepages", "clearances_60950",
                   "additional_clearances", "creepages", "altitudes", "thicknesses", "sheets",
                   "winding_wires", "strength_tests", "touch_temperatures", "touch_rises", "burns", "slots"),
    "efficiency": ("average", "ten_percent", "no_load", "meters"),
    "output_quality": ("windows", "minimum_voltage", "power_rules", "port_states", "cables"),
    "mains_current": ("threshold", "harmonic_limits"),
    "inrush": ("discharge",),
    "parts": ("fuse_gates", "safety_classes"),
}  # fmt: skip


@pytest.mark.parametrize(("subject", "tables"), LIMITS.items())
def test_every_limit_says_whether_it_is_in_force(subject, tables):
    for table in tables:
        for row in published.rows(subject, table):
            standing = published.standing_of(row)
            assert standing is not None, (table, row)
            assert standing.state in published.STATES
            # What follows the name in a sentence must not hide that it is superseded.
            if standing.state in ("superseded", "withdrawn"):
                assert re.search("superseded|withdrawn|replaces", standing.said)
            if standing.state == "in force":
                assert standing.said.startswith("in force")


def test_standards_of_two_generations():
    """20 December 2020: test-house notices on EN 60950-1 and EN 60065; IEC 60335-1:2020 cancels
    the fifth edition (its title page); Regulation (EU) 2025/2052 applies from 14 December 2028.
    """  # noqa: D209
    states = {row["key"]: row["state"] for row in published.rows("standards", "standards")}
    assert states["iec-62368-1"] == "in force"
    assert states["iec-60950-1"] == states["iec-60065"] == "superseded"
    assert states["iec-60335-1-older"] == "superseded"
    assert states["eu-2025-2052"] == "to come"
    said = published.standing_of({"status": "eu-2025-2052"}).said
    assert "14 December 2028" in said
    assert published.standing_of({"source": "no limit"}) is None
