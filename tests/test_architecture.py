"""The shape of the house: who may import whom, whether a section has its rooms, what importing costs."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest
from places import PACKAGE, ROOT, TESTS

from adapterlab.assess import SECTIONS

FILES = sorted(PACKAGE.rglob("*.py"))


def test_arrows_point_one_way():
    """The contracts of pyproject.toml, held by import-linter."""
    checked = subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert checked.returncode == 0, checked.stdout + checked.stderr


def _room(folder: Path, stem: str) -> bool:
    return (folder / f"{stem}.py").is_file() or (folder / stem / "__init__.py").is_file()


@pytest.mark.parametrize("section", SECTIONS, ids=lambda s: s.stem)
def test_section_is_complete(section):
    """One section has one room on each floor, under the same stem."""
    stem = section.stem
    assert (PACKAGE / stem / "__init__.py").is_file()
    assert (PACKAGE / "assess" / stem / "__init__.py").is_file()
    assert _room(PACKAGE / "figures", stem)
    assert (ROOT / "notebooks" / section.notebook).is_file()
    assert (TESTS / stem).is_dir() or _room(TESTS / "assess", f"test_{stem}")


def _lines_outside_docstrings(path: Path) -> int:
    text = path.read_text(encoding="utf-8")
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef)
    inside = sum(
        node.body[0].end_lineno - node.body[0].lineno + 1
        for node in ast.walk(ast.parse(text))
        if isinstance(node, documented) and ast.get_docstring(node) is not None
    )
    return len(text.splitlines()) - inside


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_files_stay_readable(path):
    assert _lines_outside_docstrings(path) <= 400


def _imported_after(statement: str) -> set[str]:
    code = f"import sys; {statement}; print(*{{name.split('.')[0] for name in sys.modules}})"
    result = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    return set(result.stdout.split())


def test_importing_the_package_is_cheap():
    loaded = _imported_after("import adapterlab")
    assert not loaded & {"numpy", "scipy", "matplotlib", "sympy", "pandas", "pydantic"}


def test_equations_load_no_pictures_or_tables():
    loaded = _imported_after("import adapterlab; adapterlab.touch_current")
    assert not loaded & {"matplotlib", "sympy", "pandas", "pydantic"}


def test_the_generator_does_not_use_the_library():
    for path in (ROOT / "data" / "demo").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not any(name.split(".")[0] == "adapterlab" for name in names), path
