"""The tables of published figures: every row has a source and says how it is known."""

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
            if "memory" in row["source"]:
                assert row["known"] in ("memory", "corroborated"), row


def test_clear_errors(tmp_path, monkeypatch):
    with pytest.raises(ValueError, match="subject must be one of .*touch_current"):
        published.load("tea")
    with pytest.raises(ValueError, match="table must be one of"):
        published.rows("touch_current", "tea")
    published.load.cache_clear()
    monkeypatch.setattr(published.resources, "files", lambda _: tmp_path)
    bad = {
        "a": ("x = [", "not well-formed"),
        "b": ("x = 1", "must be an array of tables"),
        "c": ('[[x]]\nknown = "seen"', "x row 1: source is missing"),
        "d": ('[[x]]\nsource = "y"\nknown = "rumour"', "known must be one of"),
    }
    for name, (text, message) in bad.items():
        (tmp_path / f"{name}.toml").write_text(text)
        with pytest.raises(ValueError, match=message):
            published.load(name)
    published.load.cache_clear()


def test_memory_is_no_ground_for_a_verdict():
    assert not published.judges({"known": "memory"})
    assert all(published.judges({"known": known}) for known in published.KNOWN if known != "memory")
