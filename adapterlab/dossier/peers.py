"""The group of adapters to compare with: one row each in ``peers.csv``."""

from pathlib import Path

import pandas as pd

from adapterlab.dossier.problems import DossierError, Problem
from adapterlab.dossier.table_reading import read_table
from adapterlab.dossier.tables import Column

PEERS: dict[str, Column] = {
    "name": Column(required=True),
    "rated_power": Column("W", required=True, least=0.1, most=1000.0),
    "average_efficiency": Column("1", least=0.0, most=1.0),
    "ten_percent_efficiency": Column("1", least=0.0, most=1.0),
    "efficiency_spread": Column("1", least=0.0, most=1.0),
    "no_load_power": Column("W", least=0.0, most=100.0),
    "ripple_pp": Column("V", least=0.0, most=50.0),
    "touch_current": Column("A", least=0.0, most=1.0),
    "price": Column("1", least=0.0, most=1e6),
    "mass": Column("kg", least=1e-3, most=100.0),
}
FILE = "peers.csv"


def find_peers(folder: Path) -> Path | None:
    """Where the peers of a dossier are listed.

    Parameters
    ----------
    folder : pathlib.Path
        The dossier's folder.

    Returns
    -------
    pathlib.Path or None
        ``peers.csv`` or a folder ``peers`` of other dossiers, in the dossier or beside it; None
        if there is neither.
    """
    for place in (folder, folder.resolve().parent):
        if (place / FILE).is_file():
            return place / FILE
        if (place / "peers").is_dir():
            return place / "peers"
    return None


def read_peers(path: Path) -> tuple[pd.DataFrame, list[Problem]]:
    """Read a table of peers.

    Parameters
    ----------
    path : pathlib.Path
        The file. Units are told by the heading's suffix, as in every table: ``ripple_pp_mv``,
        ``average_efficiency_percent``, ``mass_g``.

    Returns
    -------
    pandas.DataFrame
        One row for each adapter, columns as `PEERS`, in SI units; an adapter listed twice
        counts once.
    list of Problem
        Warnings and notes, duplicates among them.

    Raises
    ------
    DossierError
        If anything can't be read; it lists every error with its place.
    """
    frame, problems = read_table(path, PEERS)
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors:
        raise DossierError(str(path), errors)
    again = frame.duplicated(subset=list(PEERS))
    for _, row in frame[again].iterrows():
        problems.append(
            Problem("warning", path.name, "is listed twice; counted once", row["line"], "name",
                    row["name"])
        )  # fmt: skip
    frame = frame[~again]
    alike = frame["name"].duplicated(keep=False) & (frame["name"] != "")
    for name, rows in frame[alike].groupby("name"):
        lines = " and ".join(str(line) for line in rows["line"])
        problems.append(
            Problem("warning", path.name, f"stands on lines {lines} with different figures; "
                    "counted as different adapters", None, "name", str(name))
        )  # fmt: skip
    return frame.reset_index(drop=True), problems
