"""One name, one meaning: the table in DEVELOPERS.md covers every public parameter."""

import inspect
import re
from importlib import import_module

import pytest
from places import ROOT

from adapterlab.assess import SECTIONS

MODULES = sorted(
    {section.stem for section in SECTIONS} - {"verdict"} | {"judgement", "thermal", "uncertainty"}
)
ROW = re.compile(r"^\| `(\w+)` \| ([^|]*) \| ([^|]+) \| ([^|]+) \|$", re.MULTILINE)


def table():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return ROW.findall(text.split("## Nomenclature", 1)[1])


def _public_functions():
    for stem in MODULES:
        module = import_module(f"adapterlab.{stem}")
        for name, member in vars(module).items():
            if name.startswith("_") or not inspect.isfunction(member):
                continue
            if member.__module__.startswith(f"adapterlab.{stem}"):
                yield pytest.param(member, id=f"{stem}.{name}")


FUNCTIONS = list(_public_functions())


def test_the_table_is_sorted_and_has_no_doubles():
    names = [row[0] for row in table()]
    assert names == sorted(set(names))
    assert all(unit.strip() for _, _, unit, _ in table())


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_parameter_is_in_the_table(function):
    known = {row[0] for row in table()}
    for name in inspect.signature(function).parameters:
        assert name in known, f"add {name} to the nomenclature in DEVELOPERS.md"


def test_nothing_in_the_table_is_unused():
    used = {
        name for function in FUNCTIONS for name in inspect.signature(function.values[0]).parameters
    }
    assert {row[0] for row in table()} <= used


@pytest.mark.parametrize("function", FUNCTIONS)
def test_docstrings_are_whole(function):
    """Every parameter has a unit or says its type; the usual sections are there."""
    text = inspect.getdoc(function) or ""
    parameters = inspect.signature(function).parameters
    headings = ["Parameters"] if parameters else []
    for heading in (*headings, "Returns", "Raises", "References", "Examples"):
        assert f"{heading}\n---" in text, f"{heading} is missing"
    for name in parameters:
        assert re.search(rf"^(.*, )?\*?{name}(, .*)? : ", text, re.MULTILINE), name


@pytest.mark.parametrize("function", FUNCTIONS)
def test_names_are_words(function):
    assert all(len(name) > 1 for name in inspect.signature(function).parameters)
