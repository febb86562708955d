"""Random dossiers: the same bytes each time, read without error, made without the library."""

import ast
import json
import subprocess
import sys

import numpy as np
import pytest
from places import DEMO

from adapterlab.dossier import read_dossier

GENERATE = DEMO / "generate.py"
BLOCK = (
    "import sys, runpy\n"
    "class Block:\n"
    "    def find_spec(self, name, path=None, target=None):\n"
    "        if name.split('.')[0] == 'adapterlab':\n"
    "            raise ImportError('the world must not know ' + name)\n"
    "sys.meta_path.insert(0, Block())\n"
    "sys.argv = sys.argv[1:]\n"
    "sys.path.insert(0, {folder!r})\n"
    "runpy.run_path(sys.argv[0], run_name='__main__')\n"
)


def generate(*arguments):
    """The command, in a process in which the library can't be imported."""
    code = BLOCK.format(folder=str(DEMO))
    command = [sys.executable, "-c", code, GENERATE, *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


@pytest.fixture(scope="module")
def world(tmp_path_factory):
    folder = tmp_path_factory.mktemp("world")
    generate("--random", 3, "--seed", 8, "--out", folder)
    return folder


def test_the_world_never_imports_the_library():
    for path in DEMO.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [item.name for item in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not any(name.split(".")[0] == "adapterlab" for name in names), path


def test_one_adapter_is_the_same_alone_and_among_others(world, tmp_path):
    """Each has streams of its own, and no column of the physics sees its neighbour."""
    (name,) = generate("--random", 1, "--seed", 8, "--first", 2, "--out", tmp_path)
    files = sorted(path for path in (tmp_path / name).rglob("*") if path.is_file())
    assert len(files) > 6
    for path in [*files, tmp_path / "truth" / f"{name}.json"]:
        assert path.read_bytes() == (world / path.relative_to(tmp_path)).read_bytes(), path


def test_dossiers_are_read_without_a_word(world):
    for path in sorted(world.glob("random-*")):
        dossier = read_dossier(path)
        assert not [item for item in dossier.problems if item.severity == "error"]
        assert dossier.adapter.captures


def test_readings_lie_near_the_truth(world):
    """Every reading within the meter's stated accuracy and one last digit of the recorded truth."""
    for path in sorted(world.glob("random-*")):
        truth = json.loads((world / "truth" / f"{path.name}.json").read_text("utf-8"))
        dossier = read_dossier(path)
        sweep = dossier.load_sweep
        meter = {item.measures: item for item in dossier.adapter.instruments}
        pairs = {"input_power": "input power", "mains_current": "mains current",
                 "mains_voltage": "mains voltage"}  # fmt: skip
        names = {"input_power": "input_power", "mains_current": "input_current",
                 "mains_voltage": "plug_voltage"}  # fmt: skip
        for row in sweep.itertuples():
            point = truth["points"][int(row.point) - 1]
            for column, quantity in pairs.items():
                stated, true = meter[quantity], point[names[column]]
                allowed = stated.fraction_of_reading * true
                allowed += stated.fraction_of_full_scale * stated.full_scale
                allowed += 2 * stated.resolution
                assert abs(getattr(row, column) - true) <= allowed


def test_planted_faults_show_in_the_files(tmp_path):
    for kind in ("exchanged", "clipped"):
        (name,) = generate("--random", 1, "--seed", 8, "--fault", kind, "--out", tmp_path / kind)
        dossier = read_dossier(tmp_path / kind / name)
        capture = next(item for item in dossier.adapter.captures if item.kind == "mains")
        order = [channel.quantity for channel in capture.channels]
        assert order == (["voltage", "current"] if kind == "exchanged" else ["current", "voltage"])
        rows = np.loadtxt(tmp_path / kind / name / capture.file, delimiter=",", skiprows=5)
        current = rows[:, 1]
        top = (current == current.max()).sum() + (current == current.min()).sum()
        assert (top > 20) == (kind == "clipped")
