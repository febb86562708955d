"""Does any test notice when one thing in the code is changed?

    .venv/bin/python -m pip install -e ".[test,mutation]"
    .venv/bin/python tests/mutation/run.py

draws 400 changes to equations, `judgement`, `assess/report` and `assess/model`, runs the doctests
of the changed module and the tests of its room against each, and fails where fewer than 85 % are
noticed. Changes listed in `equivalent.toml` count on neither side.

A change lives in memory only: each runs in a fork of this process, which has loaded everything
but the package, and the module is loaded with the changed text.
"""

import argparse
import os
import sys
import tempfile
import time

for _library in ("OPENBLAS", "OMP", "MKL"):
    os.environ[f"{_library}_NUM_THREADS"] = "1"

import importlib.util
import json
import signal
import traceback
from collections import Counter
from dataclasses import dataclass
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path

# What the tests import beside the package, loaded once before the first fork.
import hypothesis
import numpy.testing  # noqa: F401
import pandas as pd  # noqa: F401
import pydantic  # noqa: F401
import pytest
import scipy.integrate
import scipy.optimize
import scipy.signal
import scipy.stats  # noqa: F401
from changes import PACKAGE, ROOT, Change, draw, equivalent

FLOOR = 0.85
TESTS = ROOT / "tests"
SECTIONS = (
    *("bench_plan", "efficiency", "output_quality", "mains_current", "inrush", "touch_current"),
    *("parts", "flyback", "transformer", "insulation", "capacitor_life", "standing"),
)
ROOMS = (*SECTIONS, "thermal", "numerics", "uncertainty", "judgement", "assess/report",
         "assess/model")  # fmt: skip
# Cores whose public names other rooms offer: those hold most of their tests.
BORROWED = {
    "numerics/bridge": ["mains_current"],
    "numerics/capture": ["mains_current"],
    "numerics/diodes": ["inrush", "mains_current"],
    "numerics/mains": ["inrush", "mains_current"],
    "numerics/surge": ["inrush"],
    "uncertainty": ["test_statistics.py"],
}
FLAGS = [
    *("-x", "-q", "--no-header", "--tb=line", "--color=no", "--hypothesis-profile=mutation"),
    *("-p", "no:nbval", "-p", "no:xdist", "-p", "no:cacheprovider"),
    *("-W", "ignore::pytest.PytestAssertRewriteWarning"),
]
_NO_TESTS = pytest.ExitCode.NO_TESTS_COLLECTED


def modules_of(room: str) -> list[Path]:
    """The files of a room."""
    folder = PACKAGE / room
    return sorted(folder.rglob("*.py")) if folder.is_dir() else [folder.with_suffix(".py")]


def room_of(path: Path) -> str:
    """The room a file stands in."""
    module = path.relative_to(PACKAGE).with_suffix("").as_posix()
    return next(room for room in ROOMS if module == room or module.startswith(f"{room}/"))


def suite_of(room: str, path: Path | None) -> list[str]:
    """Files and folders with the tests of a room, or of one file of it."""
    folder = TESTS / room
    own = [folder, folder.with_name(f"test_{folder.name}.py")]
    lent = {
        name: TESTS / name
        for start, names in BORROWED.items()
        for name in names
        if (path.relative_to(PACKAGE).as_posix() if path else start).startswith(start)
        and start.startswith(room)
    }
    found = [place for place in own if place.exists()] + list(lent.values())
    if not found:
        raise SystemExit(f"{room} has no tests: {own[0]} or {own[1]} must exist")
    return [str(place) for place in found]


class _Changed(SourceFileLoader):
    """Loads a module from a text instead of its file; never from a compiled file."""

    def __init__(self, name: str, path: str, text: str) -> None:
        super().__init__(name, path)
        self.text = text

    def get_data(self, path: str) -> bytes:
        return self.text.encode() if path == self.path else super().get_data(path)

    def path_stats(self, path: str) -> dict[str, float]:
        raise OSError


class _Finder:
    """Hands over the changed module, and nothing else; as a plugin it stays before pytest's own."""

    def __init__(self, change: Change) -> None:
        parts = change.path.relative_to(ROOT).with_suffix("").parts
        self.name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        self.change, self.asked = change, False

    @pytest.hookimpl(tryfirst=True)
    def pytest_sessionstart(self) -> None:
        sys.meta_path.insert(0, self)

    def find_spec(self, name: str, path: object = None, target: object = None) -> ModuleSpec | None:
        if name != self.name:
            return None
        self.asked = True
        place = str(self.change.path)
        loader = _Changed(name, place, self.change.text)
        return importlib.util.spec_from_file_location(name, place, loader=loader)


@dataclass
class Job:
    """A fork that runs the tests of one room, with a change or without."""

    room: str
    change: Change | None
    pid: int
    started: float
    patience: float
    said: Path


def start(room: str, change: Change | None, patience: float, folder: Path) -> Job:
    """Begin the tests in a fork."""
    number, name = tempfile.mkstemp(dir=folder)
    pid = os.fork()
    if pid:
        os.close(number)
        return Job(room, change, pid, time.monotonic(), patience, Path(name))
    code = int(pytest.ExitCode.INTERNAL_ERROR)
    try:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        os.setsid()
        os.dup2(number, 1)
        os.dup2(number, 2)
        finders = [_Finder(change)] if change else []
        files = [str(change.path)] if change else [str(path) for path in modules_of(room)]
        tests = suite_of(room, change.path if change else None)
        code = int(pytest.main([*FLAGS, *files, *tests], plugins=finders))
        if not all(finder.asked for finder in finders):
            code = int(pytest.ExitCode.INTERNAL_ERROR)
        sys.stdout.flush()
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(code)


def ended(job: Job) -> int | None:
    """Exit code of its pytest, -1 where patience ran out, None while it runs."""
    pid, status = os.waitpid(job.pid, os.WNOHANG)
    if pid:
        return os.waitstatus_to_exitcode(status)
    if time.monotonic() - job.started < job.patience:
        return None
    os.killpg(job.pid, signal.SIGKILL)
    os.waitpid(job.pid, 0)
    return -1


def run_all(todo: list[tuple[str, Change | None, float]], workers: int, folder: Path):
    """Run each; yields job, exit code and seconds as they end."""
    waiting, running = list(reversed(todo)), []
    try:
        while waiting or running:
            while waiting and len(running) < workers:
                running.append(start(*waiting.pop(), folder))
            time.sleep(0.02)
            for job in list(running):
                code = ended(job)
                if code is not None:
                    running.remove(job)
                    yield job, code, time.monotonic() - job.started
    finally:
        for job in running:
            os.killpg(job.pid, signal.SIGKILL)


def patience_of(rooms: list[str], workers: int, folder: Path) -> dict[str, float]:
    """How long the tests of each room may take; they must pass as the code stands."""
    patience = {}
    for job, code, seconds in run_all([(room, None, 600.0) for room in rooms], workers, folder):
        if code != 0:
            raise SystemExit(f"{job.room} fails as it stands:\n{job.said.read_text()}")
        patience[job.room] = 30 + 5 * seconds
        print(f"{job.room}: {seconds:.1f} s", flush=True)
    return patience


def main() -> int:
    """Draw, run, count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sample", type=int, default=400, help="how many changes (400)")
    parser.add_argument("--seed", type=int, default=1, help="which ones (1)")
    parser.add_argument("--workers", type=int, default=2, help="at a time (2)")
    parser.add_argument("--room", action="append", choices=ROOMS, help="only these; repeatable")
    parser.add_argument("--again", type=Path, help="only those that survived, by an earlier --out")
    parser.add_argument("--out", type=Path, help="file to write every outcome into, as JSON")
    wanted = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    hypothesis.settings.register_profile("mutation", database=None, derandomize=True, deadline=None)
    began = time.monotonic()
    rooms = wanted.room or list(ROOMS)
    sample = draw([path for room in rooms for path in modules_of(room)], wanted.sample, wanted.seed)
    if wanted.again:
        rows = json.loads(wanted.again.read_text(encoding="utf-8"))
        left = {
            (row["module"], row["before"], row["after"]) for row in rows if row["word"] != "killed"
        }
        sample = [change for change in sample if change.key in left]
    alike, outcomes = equivalent(), []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        used = [room for room in rooms if any(room_of(c.path) == room for c in sample)]
        patience = patience_of(used, wanted.workers, folder)
        todo = [(room, c, patience[room]) for c in sample for room in (room_of(c.path),)]
        for job, code, seconds in run_all(todo, wanted.workers, folder):
            if code in (_NO_TESTS, pytest.ExitCode.INTERNAL_ERROR, pytest.ExitCode.USAGE_ERROR):
                raise SystemExit(f"{job.change}\n{job.said.read_text()}")
            reason = alike.get(job.change.key, "")
            word = "killed" if code else "equivalent" if reason else "survived"
            outcomes.append((job, word, seconds))
            print(f"{len(outcomes)}/{len(sample)} {word} {seconds:.1f} s {job.change}", flush=True)
    table = Counter((job.room, word) for job, word, _ in outcomes)
    words = ("killed", "survived", "equivalent")
    print(f"\n{'room':16}" + "".join(f"{word:>12}" for word in words))
    for room in used:
        print(f"{room:16}" + "".join(f"{table[room, word]:12}" for word in words))
    count = {word: sum(table[room, word] for room in used) for word in words}
    share = count["killed"] / max(count["killed"] + count["survived"], 1)
    print(f"{'all':16}" + "".join(f"{count[word]:12}" for word in words))
    for job, word, _ in outcomes:
        if word == "survived":
            print(f"\nsurvived: {job.change}")
    if wanted.out:
        rows = [
            {"module": job.change.module, "line": job.change.line, "before": job.change.before,
             "after": job.change.after, "word": word, "seconds": round(seconds, 1)}
            for job, word, seconds in outcomes
        ]  # fmt: skip
        wanted.out.write_text(json.dumps(rows, indent=1, ensure_ascii=False) + "\n")
    minutes = (time.monotonic() - began) / 60
    print(f"\n{share:.1%} killed of those that matter, the floor is {FLOOR:.0%}; {minutes:.1f} min")
    return 0 if share >= FLOOR else 1


if __name__ == "__main__":
    sys.exit(main())
