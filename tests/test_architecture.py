"""The shape of the house: which module may import which, and what importing costs."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from adapterlab.assess import SECTIONS

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "adapterlab"
# Every layer may import itself and the ones listed.
ALLOWED = {
    "_args": set(),
    "published": set(),
    "uncertainty": {"_args"},
    "thermal": {"_args", "published", "uncertainty"},
    "equations": {"_args", "published", "uncertainty", "thermal"},
    "dossier": set(),
    "assess": {"equations", "dossier", "published", "uncertainty", "thermal"},
    "figures": {"assess", "equations", "published", "uncertainty", "thermal"},
    "kit": {"assess", "figures", "dossier", "equations"},
}
OUTSIDE = {
    "_args": {"numpy"},
    "published": set(),
    "uncertainty": {"numpy", "scipy"},
    "thermal": {"numpy", "scipy"},
    "equations": {"numpy", "scipy"},
    "dossier": {"numpy", "pandas", "pydantic", "pydantic_core"},
    "assess": {"numpy", "pandas", "scipy"},
    "figures": {"numpy", "pandas", "matplotlib", "schemdraw"},
    "kit": {
        "IPython",
        "matplotlib",
        "nbformat",
        "nbclient",
        "nbconvert",
        "latex2mathml",
        "pygments",
        "tqdm",
    },
}
FILES = sorted(PACKAGE.rglob("*.py"))


def layer(module: str) -> str:
    """Layer of a module named by its path below the package."""
    top = module.split(".", 1)[0]
    stem = top.split("_", 1)[0]
    return top if top in ALLOWED else stem if stem == "thermal" else "equations"


def imports(path: Path) -> set[str]:
    """Full names of the modules a file imports anywhere in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_arrows_point_one_way(path):
    module = path.relative_to(PACKAGE).with_suffix("").as_posix().replace("/", ".")
    here = layer(module)
    if module == "__init__":
        assert imports(path) <= {"importlib", "types"}
        return
    for name in imports(path):
        top, _, rest = name.partition(".")
        if top == "adapterlab":
            if rest:
                assert layer(rest) in ALLOWED[here] | {here}, f"{here} must not import {name}"
        elif top not in sys.stdlib_module_names:
            assert top in OUTSIDE[here], f"{here} must not import {name}"


@pytest.mark.parametrize("section", SECTIONS, ids=lambda s: s.stem)
def test_section_is_complete(section):
    """One section = one module = one notebook = one figure module = one test module."""
    stem = section.stem
    for path in (
        PACKAGE / f"{stem}.py",
        PACKAGE / "assess" / f"{stem}.py",
        PACKAGE / "figures" / f"{stem}.py",
        ROOT / "notebooks" / section.notebook,
        ROOT / "tests" / f"test_{stem}.py",
    ):
        assert path.is_file(), path


def test_equations_do_not_import_each_other():
    stems = {section.stem for section in SECTIONS}
    for stem in stems - {"verdict"}:
        for name in imports(PACKAGE / f"{stem}.py"):
            assert name.removeprefix("adapterlab.") not in stems - {stem}


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
        assert not any(name.split(".")[0] == "adapterlab" for name in imports(path)), path
