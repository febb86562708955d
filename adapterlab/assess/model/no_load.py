"""Readings without load, with their uncertainty."""

import pandas as pd

from adapterlab.assess.model.instruments import reading_of
from adapterlab.assess.model.points import mains_name
from adapterlab.dossier import Dossier

COLUMNS = ["mains", "cable", "power", "standard_uncertainty"]


def no_load_readings(dossier: Dossier) -> pd.DataFrame:
    """Every reading with its uncertainty; the columns of `COLUMNS` and where it was taken."""
    found = []
    for row in dossier.no_load.itertuples():
        reading = reading_of(dossier, "no-load power", row.power, "W")
        if not dossier.adapter.instruments_for("no-load power"):
            reading = reading_of(dossier, "input power", row.power, "W")
        found.append(
            {
                "mains": mains_name(row.mains_voltage, row.mains_frequency),
                "cable": row.cable or "none",
                "power": row.power,
                "standard_uncertainty": reading.standard_uncertainty,
                "mains_voltage": row.mains_voltage,
                "mains_frequency": row.mains_frequency,
                "line": row.line,
            }
        )
    return pd.DataFrame(found, columns=[*COLUMNS, "mains_voltage", "mains_frequency", "line"])
