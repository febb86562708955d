"""Readings without load, with their uncertainty."""

import pandas as pd

from adapterlab.assess.model.points import mains_name
from adapterlab.assess.model.specimen import Specimen

COLUMNS = ["mains", "cable", "power", "standard_uncertainty"]


def no_load_readings(specimen: Specimen) -> pd.DataFrame:
    """Every reading with its uncertainty; the columns of `COLUMNS` and where it was taken."""
    found = []
    for row in specimen.no_load.itertuples():
        reading = specimen.reading("no-load power", row.power, "W")
        if not specimen.adapter.instruments_for("no-load power"):
            reading = specimen.reading("input power", row.power, "W")
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
