"""The README's promises: two commands, links that lead somewhere, words that are not used."""

import re
import subprocess
import tomllib

import pytest
from places import ROOT

import adapterlab
from adapterlab.assess import SECTIONS
from adapterlab.judgement import WORDS

README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"^python3 -m venv .*$", README, re.MULTILINE)


def test_two_lines_do_all_the_set_up():
    assert len(COMMANDS) == 2
    assert COMMANDS[0].endswith("adapterlab review data/demo/birch-60 --out review")
    assert COMMANDS[1].count("pytest") == 2
    for line in COMMANDS:
        check = subprocess.run(["bash", "-n", "-c", line], check=False)
        assert check.returncode == 0


def test_continuous_integration_runs_the_same_line():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in script
    assert "ngspice" in script


def test_gates_run_before_the_tests_and_are_pinned_at_both_ends():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pins = " ".join(project["optional-dependencies"]["test"])
    for command, package in (
        ("ruff check", "ruff"),
        ("ruff format --check", "ruff"),
        ("mypy", "mypy"),
        ("lint-imports", "import-linter"),
    ):
        assert f'"{command}' in script
        assert script.index(f'"{command}') < script.rindex('eval "$line"')
        assert re.search(rf"\b{package}>=[\d.]+,<[\d.]+", pins), package


def test_every_notebook_is_listed():
    for section in SECTIONS:
        assert f"`{section.notebook.removesuffix('.ipynb')}` | {section.question}" in README


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "data/demo/README.md"])
def test_paths_in_the_texts_exist(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    for path in re.findall(r"`((?:adapterlab|data|tests|notebooks)/[\w./-]+)`", text):
        assert (ROOT / path).exists(), path


def test_every_dependency_is_imported_where_it_is_declared():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = {re.split(r"[<>=]", entry)[0] for entry in project["dependencies"]}
    source = "\n".join(
        path.read_text(encoding="utf-8") for path in (ROOT / "adapterlab").rglob("*.py")
    )
    source += "\n".join(
        path.read_text(encoding="utf-8") for path in (ROOT / "notebooks").glob("*.ipynb")
    )
    # ipykernel is the kernel that nbclient starts.
    for name in names - {"ipykernel"}:
        name = {"ipython": "IPython"}.get(name, name)
        assert re.search(rf"\b(import|from) {name}\b|\"{name}\"", source), name


CHANGELOG = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")


def test_the_changelog_begins_with_the_present_version_and_keeps_its_headings():
    versions = re.findall(
        r"^## (\S+?),? ?(?:not yet released|\d{4}-\d\d-\d\d)?$", CHANGELOG, re.MULTILINE
    )
    assert versions[0] == adapterlab.__version__
    assert versions[-1] == "0.1.0"
    headings = re.findall(r"^### (.*)$", CHANGELOG.split("\n## ")[1], re.MULTILINE)
    allowed = ["Numbers", "Words", "Names", "Added", "Removed", "Mended"]
    assert headings == [name for name in allowed if name in headings]


def test_the_version_stands_in_one_place():
    for path in (ROOT / "pyproject.toml", ROOT / "CITATION.cff", ROOT / "README.md"):
        assert adapterlab.__version__ not in path.read_text(encoding="utf-8"), path


def test_the_citation_has_what_a_reader_of_the_format_needs():
    """Keys that the Citation File Format 1.2.0 requires, and the licence of the project."""
    lines = (ROOT / "CITATION.cff").read_text(encoding="utf-8").splitlines()
    keys = dict(line.split(": ", 1) for line in lines if re.match(r"[a-z-]+: ", line))
    assert keys["cff-version"] == "1.2.0"
    assert {"message", "title", "type"} <= set(keys)
    assert "authors:" in lines
    assert keys["license"] == "MIT"


def test_every_word_is_explained():
    listed = re.findall(r"^\|[^|]*\| \*([a-z ]+)\* \|", README, re.MULTILINE)
    assert sorted(listed) == sorted(WORDS)
