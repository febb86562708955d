"""Take away every entry of the four demo dossiers and list what is then said against the adapter.

    python tests/metamorphic/run.py [--sample N] [--seed S] [DEMO ...]

A blank never accuses: without an entry nothing may fall short or be unexplained that was not so
before. Exit code 1 where something is.
"""

import argparse
import random
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from demo import NAMES
from metamorphic.entries import Entry, accusations, entries_of, has_twin, without
from places import DEMO


@cache
def _before(name: str):
    return accusations(DEMO / name)


def added(name: str, entry: Entry) -> list[str]:
    """What is said against a demo adapter only without one of its entries."""
    before = _before(name)
    with tempfile.TemporaryDirectory() as folder:
        after = accusations(without(DEMO / name, entry, Path(folder) / name))
    if after is None:
        return []
    return [f"{section}: {question} {word}" for section, question, word in after - before]


def _one(job: tuple[str, Entry]) -> tuple[str, Entry, list[str]]:
    return (*job, added(*job))


def main() -> int:
    """Run as a command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("demos", nargs="*", metavar="DEMO", default=NAMES)
    parser.add_argument("--sample", type=int, help="so many entries, drawn at random")
    parser.add_argument("--seed", type=int, default=20260504)
    parser.add_argument("--workers", type=int, default=2)
    arguments = parser.parse_args()
    jobs = [(name, entry) for name in arguments.demos for entry in entries_of(DEMO / name)]
    if arguments.sample:
        jobs = random.Random(arguments.seed).sample(jobs, min(arguments.sample, len(jobs)))
    bad = spared = 0
    with ProcessPoolExecutor(arguments.workers) as pool:
        for name, entry, said in pool.map(_one, jobs, chunksize=4):
            if not said:
                continue
            if has_twin(DEMO / name, entry):
                spared += 1
                continue
            bad += 1
            print(f"{name}, without {entry}:", *said, sep="\n    ", flush=True)
    print(f"{len(jobs)} entries taken away; {bad} make an accusation, {spared} are parallel parts")
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
