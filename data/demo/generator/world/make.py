"""Random adapters as dossiers with their truth."""

import json
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

from generator.world.design import design
from generator.world.dossier import write_adapter
from generator.world.plan import Session, prepare
from generator.world.records import plug_ins, steady_waves
from generator.world.records_output import output_records
from generator.world.tables import write_tables
from generator.world.truth import tidy, truth
from generator.world.work import work

BATCH = 25


def generate(
    count: int, seed: int, folder: Path, kind: str = "", size: float | None = None, first: int = 0
) -> Iterator[str]:
    """Write adapters `first` to `first` + `count` of a seed; yields their names.

    Parameters
    ----------
    count, seed, first : int
        How many, of which seed, from which number on.
    folder : pathlib.Path
        Gets one folder for each dossier, and ``truth/`` beside them.
    kind : str
        Fault to plant in each, or none.
    size : float, optional
        Its size; drawn where not given.

    Yields
    ------
    str
        Name of a dossier that is written.
    """
    numbers = range(first, first + count)
    for start in range(0, count, BATCH):
        sessions = [
            prepare(seed, index, design(seed, index), kind, size)
            for index in numbers[start : start + BATCH]
        ]
        yield from _batch(sessions, folder)


def _batch(sessions: Sequence[Session], folder: Path) -> Iterator[str]:
    for session in sessions:
        target = folder / session.adapter.name
        if target.exists():
            shutil.rmtree(target)
        (target / "captures").mkdir(parents=True)
        rng = session.rng("operator")
        session.record |= {
            "folder": target,
            # What the reader of a noisy trace adds, twice the mains frequency that is left at full
            # load, pulses in a burst, and where the thermocouple sits (common practice).
            "ripple_floor": float(rng.uniform(1e-3, 4e-3)),
            "slow_ripple": float(rng.uniform(2e-3, 8e-3)),
            "burst": float(rng.integers(5, 16)),
            "hot_spot": float(rng.uniform(1.0, 1.12)),
        }
    work([session.job for session in sessions])
    steady_waves(sessions)
    plug_ins(sessions)
    (folder / "truth").mkdir(exist_ok=True)
    for session in sessions:
        write_tables(session)
        output_records(session)
        write_adapter(session)
        path = folder / "truth" / f"{session.adapter.name}.json"
        path.write_text(json.dumps(tidy(truth(session)), indent=1) + "\n", encoding="utf-8")
        yield session.adapter.name
