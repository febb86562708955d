"""The shape of the house: who may import whom, whether a section has its rooms, what importing costs."""

import ast
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from places import PACKAGE, ROOT, TESTS

from adapterlab.assess import SECTIONS

FILES = sorted(PACKAGE.rglob("*.py"))


def _contracts(folder: Path) -> subprocess.CompletedProcess[str]:
    """import-linter on the package in `folder`, by the contracts beside it."""
    return subprocess.run(
        [Path(sys.executable).parent / "lint-imports", "--no-cache"],
        cwd=folder, env=os.environ | {"PYTHONPATH": str(folder)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_arrows_point_one_way():
    """The contracts of pyproject.toml, held by import-linter."""
    checked = _contracts(ROOT)
    assert checked.returncode == 0, checked.stdout + checked.stderr


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    folder = tmp_path_factory.mktemp("copy")
    shutil.copytree(PACKAGE, folder / PACKAGE.name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder


@pytest.mark.parametrize(
    ("room", "statement"),
    [
        pytest.param("inrush", "from adapterlab import figures, kit", id="equations reach up"),
        pytest.param("flyback", "from adapterlab.efficiency import efficiency", id="equations"),
        pytest.param("flyback", "from adapterlab import thermal, efficiency", id="by the package"),
        pytest.param("flyback", "import adapterlab", id="lazy names"),
        pytest.param("flyback", "import pandas", id="equations with tables"),
        pytest.param("thermal", "from adapterlab.inrush import surge", id="shared on a section"),
        pytest.param("numerics", "from adapterlab import uncertainty", id="numerics reach up"),
        pytest.param("dossier", "from adapterlab import assess", id="dossier reaches up"),
        pytest.param("dossier", "import matplotlib", id="dossier draws"),
        pytest.param("judgement", "from adapterlab import flyback", id="rules know a section"),
        pytest.param("flyback", "from adapterlab import judgement", id="equations choose words"),
        pytest.param(
            "assess.inrush", "from adapterlab.assess.touch_current import assess", id="assess"
        ),
        pytest.param(
            "assess.inrush", "from adapterlab.assess import touch_current", id="assess by package"
        ),
        pytest.param("assess.model", "from adapterlab.assess import inrush", id="model"),
        pytest.param("assess.report", "from adapterlab.assess import model", id="report"),
        pytest.param("figures.inrush", "from adapterlab.figures import flyback", id="figures"),
    ],
)
def test_an_arrow_that_runs_back_is_refused(copy, room, statement):
    """Planted in a copy of the package, inside a function too: none may pass unseen."""
    place = copy / "adapterlab" / room.replace(".", "/")
    path = place / "__init__.py" if place.is_dir() else place.with_suffix(".py")
    path = next((p for p in sorted(place.glob("*.py")) if p.name != "__init__.py"), path)
    before = path.read_text(encoding="utf-8")
    try:
        path.write_text(f"{before}\n\ndef planted():\n    {statement}\n", encoding="utf-8")
        checked = _contracts(copy)
    finally:
        path.write_text(before, encoding="utf-8")
    assert checked.returncode == 1, checked.stdout + checked.stderr
    assert "1 broken" in checked.stdout
    assert ".".join(path.relative_to(copy).with_suffix("").parts) in checked.stdout


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
    assert stem == "verdict" or any((TESTS / stem).glob("test_*.py"))
    assert any((TESTS / "assess").rglob(f"{stem}/test_*.py")) or _room(
        TESTS / "assess", f"test_{stem}"
    )


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


def test_tests_of_equations_know_no_dossier():
    """A test lies in the room of what it tests."""
    for section in SECTIONS:
        for path in (TESTS / section.stem).glob("*.py"):
            text = path.read_text(encoding="utf-8")
            assert not re.search(r"adapterlab(\.| import )(assess|dossier|figures|kit)\b", text), (
                path
            )
