"""One place knows what a capture can be of, and tells the truth about who reads it."""

from dataclasses import replace
from importlib import import_module

import pytest
from demo import NAMES, dossier

from adapterlab.assess import SECTIONS, Specimen
from adapterlab.dossier import DossierError, inspect_dossier, read_dossier
from adapterlab.dossier.capture_kinds import KINDS, lacking, unhelped
from adapterlab.kit.cli import main

PLATE = '[nameplate]\nname = "thing"\nrated_power = "18 W"\n'
CAPTURE = '[[captures]]\nkind = "{kind}"\nfile = "a.csv"\nchannels = [{{ column = 2, quantity = "{quantity}" }}]\n'


def folder_with(tmp_path, kind, quantity="voltage", more=""):
    (tmp_path / "adapter.toml").write_text(
        PLATE + CAPTURE.format(kind=kind, quantity=quantity) + more, encoding="utf-8"
    )
    (tmp_path / "a.csv").write_text("0,0\n1,1\n2,0\n", encoding="utf-8")
    return tmp_path


def test_sections_ask_for_the_kinds_that_are_said_to_be_theirs(monkeypatch):
    """Each section runs on a specimen that remembers what it was asked for."""
    asked = set()

    def remember(self, kind):
        asked.add(kind)
        return [record for record in dossier("birch-60").records if record.capture.kind == kind]

    monkeypatch.setattr(Specimen, "records_of", remember)
    for section in SECTIONS[:-1]:
        asked.clear()
        import_module(f"adapterlab.assess.{section.stem}").assess(Specimen(dossier("birch-60")))
        told = {kind.name for kind in KINDS.values() if section.stem in kind.sections}
        assert asked == told, section.stem


def without(capture, what):
    """The capture without one entry or without its channels of one quantity."""
    if what in ("voltage", "current"):
        left = [channel for channel in capture.channels if channel.quantity != what]
        return capture.model_copy(update={"channels": left})
    return capture.model_copy(
        update={what: "" if isinstance(getattr(capture, what), str) else None}
    )


NEEDS = [
    pytest.param(kind.name, what, id=f"{kind.name} without {what}")
    for kind in KINDS.values()
    for what in (*kind.channels, *kind.needs)
]


@pytest.mark.parametrize(("kind", "what"), NEEDS)
def test_a_capture_that_lacks_what_it_needs_is_set_aside_with_the_reason(kind, what):
    """What the registry calls needed, the section can't do without; whole, it is read."""
    name = next(name for name in NAMES if dossier(name).records_of(kind))
    record = dossier(name).records_of(kind)[0]
    assert lacking(record.capture) == ""
    poor = replace(
        record,
        capture=without(record.capture, what),
        channels=tuple(
            values
            for entry, values in zip(record.capture.channels, record.channels, strict=True)
            if entry.quantity != what
        ),
    )
    file = record.capture.file
    (stem,) = KINDS[kind].sections
    section = import_module(f"adapterlab.assess.{stem}")

    def set_aside(one):
        findings = section.assess(replace(dossier(name), records=(one,))).findings
        return [f for f in findings if f.word == "not measured" and file in f.sentence]

    assert set_aside(record) == []
    (finding,) = set_aside(poor)
    word = f"a {what} channel" if what in ("voltage", "current") else what
    assert f"it needs {word}" in finding.sentence


def test_lacking_and_unhelped_name_everything_at_once():
    """By hand, from the registry's own rows."""
    capture = dossier("birch-60").records_of("plug-in")[0].capture
    bare = without(without(without(capture, "current"), "mains_voltage"), "mains_frequency")
    assert lacking(bare) == "a current channel and mains_voltage and mains_frequency"
    assert unhelped(capture) == ""
    assert unhelped(without(capture, "rest_time")) == "rest_time"


def test_a_kind_that_no_section_reads_is_a_gap_that_check_says(tmp_path, capsys):
    folder = folder_with(tmp_path, "other")
    assert main(["check", str(folder)]) == 0
    said = capsys.readouterr().out
    assert (
        "gap: adapter.toml, line 6, captures.file: 'a.csv': is kept, but no section reads a "
        "capture of the kind 'other'" in said
    )


@pytest.mark.parametrize(
    ("kind", "quantity", "severity", "message"),
    [
        ("plug-in", "voltage", "gap",
         "for inrush to read this plug-in capture, add a current channel and mains_voltage and "
         "mains_frequency"),
        ("load step", "voltage", "gap", "add a current channel"),
        ("port change", "voltage", "gap", "for output_quality to read this port change capture, add port"),
        ("ripple", "voltage", "note",
         "with port, mode, load_current, mains_frequency, bandwidth noted, output_quality could"),
    ],
)  # fmt: skip
def test_check_says_what_a_capture_leaves_out(tmp_path, kind, quantity, severity, message):
    _, problems = inspect_dossier(folder_with(tmp_path, kind, quantity))
    (said,) = [problem for problem in problems if problem.column == "captures.file"]
    assert (said.severity, said.line) == (severity, 6)
    assert message in said.message


def test_an_unknown_kind_is_refused_with_those_there_are(tmp_path):
    with pytest.raises(
        DossierError, match="'plugin': allowed: 'plug-in', 'mains', 'ripple'"
    ) as error:
        read_dossier(folder_with(tmp_path, "plugin"))
    assert error.value.problems[0].line == 5
