"""What a dossier says about the barrier, and what the rail model makes of it for each reading."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Part
from adapterlab.published import rows
from adapterlab.touch_current import (
    indicated_current,
    rail_waveform,
    series_capacitance,
)

SECTION = "touch_current"
BRIDGE, PIN = "bridge-with-reservoir", "full-mains"
# Networks a reading may have been taken with where the dossier does not say.
_UNKNOWN = ("weighted", "unweighted")
_MAINS = (100, 110, 115, 120, 127, 220, 230, 240, 264)
# Output over input of the converter, near enough for the reservoir's ripple.
_EFFICIENCY = 0.9
# A reservoir of fewer times the barrier's capacitance is left out of the rail model.
_LEAST_RESERVOIR = 500


def usual(name: str) -> float:
    """A usual value of the table ``parts``, by its name."""
    return float(rows(SECTION, "parts", name=name)[0]["value"])


@dataclass(frozen=True)
class Barrier:
    """The capacitors across the barrier as one.

    Attributes
    ----------
    capacitance : float
        Marked value of all of them together. [F]
    standard_uncertainty : float
        From their tolerances, taken as rectangular. [F]
    low, high : float
        Ends of the tolerance. [F]
    label : str
        References and value, as said aloud.
    """

    capacitance: float
    standard_uncertainty: float
    low: float
    high: float
    label: str

    @property
    def several(self) -> bool:
        """Whether it is more than one part."""
        return " and " in self.label


def _chains(parts: list[Part]) -> Iterable[list[Part]]:
    """Barrier capacitors, those in series with each other together."""
    done: set[str] = set()
    for part in parts:
        if part.reference in done:
            continue
        chain = [
            p
            for p in parts
            if p is part or p.in_series_with == part.reference or p.reference == part.in_series_with
        ]
        done |= {member.reference for member in chain}
        yield chain


def barrier_of(specimen: Specimen) -> Barrier | None:
    """The barrier capacitors of a dossier as one: those in series joined, the others added.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    Barrier or None
        None unless every barrier capacitor has a value and a tolerance.
    """
    parts = specimen.adapter.parts_with_role("barrier capacitor")
    if not parts or any(part.value is None or part.tolerance is None for part in parts):
        return None
    total = variance = low = high = 0.0
    for chain in _chains(parts):
        values = np.array([member.value for member in chain], dtype=float)
        shares = np.array([member.tolerance for member in chain], dtype=float)
        joined = series_capacitance(values)
        total += joined
        variance += float((((joined / values) ** 2 * values * shares) ** 2).sum() / 3)
        low += series_capacitance(values * (1 - shares))
        high += series_capacitance(values * (1 + shares))
    names = " and ".join(part.reference for part in parts)
    label = f"{names} ({Value(total, 0.0, 'F')} {'together' if len(parts) > 1 else 'marked'})"
    return Barrier(total, variance**0.5, low, high, label)


def windings_of(specimen: Specimen) -> Value | None:
    """Capacitance between the windings of all transformers; None if none was measured."""
    found = [t.interwinding_capacitance for t in specimen.adapter.transformers]
    known = [item for item in found if item is not None]
    if not known:
        return None
    share = usual("relative uncertainty of a winding capacitance")
    return Value(sum(known), share * float(np.hypot.reduce(known)), "F")


@dataclass(frozen=True)
class RailModel:
    """The rail of one adapter, as far as its dossier tells.

    Attributes
    ----------
    rail : str
        Where the barrier capacitance sits, as in `adapterlab.touch_current.RAILS`.
    winding_share : float
        Part of the capacitance that lies between the windings. [1]
    bulk_capacitance : float or None
        Behind the bridge; None if not listed, and then no ripple is reckoned with. [F]
    """

    rail: str
    winding_share: float
    bulk_capacitance: float | None

    def circuit(self, capacitance: float, output_power: float) -> dict[str, Any]:
        """Arguments of `rail_waveform` beside capacitance, mains, rail and network."""
        bulk = self.bulk_capacitance
        if bulk is not None and bulk < _LEAST_RESERVOIR * capacitance:
            bulk = None
        return {
            "bulk_capacitance": bulk,
            "load_power": output_power / _EFFICIENCY if bulk else 0.0,
            "drop": usual("forward drop of a bridge diode at microamperes"),
            "points": 1024,
        }

    def per_farad(self, row: pd.Series, capacitance: float) -> tuple[float, float]:
        """Reading of a condition for each farad across the barrier, and its uncertainty. [A/F].

        Evaluated at a capacitance near the true one, for the least and the largest usual
        junction capacitance of the bridge, and for both networks where the dossier names none.
        """
        junction = [
            usual(f"{end} junction capacitance of a bridge diode") for end in ("least", "largest")
        ]
        values = []
        for network in [row["network"]] if row["network"] else _UNKNOWN:
            wave = rail_waveform(
                capacitance * (1 - self.winding_share),
                row["mains_voltage"],
                row["mains_frequency"],
                self.rail,
                network,
                diode_capacitance=junction,
                interwinding_capacitance=capacitance * self.winding_share,
                **self.circuit(capacitance, row["output_power"]),
            )
            shown = wave.indicated_rms if row["quantity"] == "rms" else wave.indicated_peak
            values.extend(shown / capacitance)
        middle = (min(values) + max(values)) / 2
        spread = (max(values) - min(values)) / 2 / np.sqrt(3) / middle
        residual = rows(SECTION, "models", rail=BRIDGE)[0]["relative_uncertainty"]
        mains = usual("relative effect of the mains waveform")
        return middle, middle * float(np.sqrt(spread**2 + residual**2 + mains**2))

    def ideal(self, row: pd.Series) -> float:
        """Reading for each farad with the ideal rail. [A/F]."""
        return float(
            indicated_current(
                1.0,
                row["mains_voltage"],
                row["mains_frequency"],
                self.rail,
                row["network"] or "weighted",
                row["quantity"],
            )
        )


def rail_model(
    specimen: Specimen, rail: str, barrier: Barrier | None, windings: Value | None
) -> RailModel:
    """The rail of a dossier; windings count only beside a marked capacitor behind the bridge."""
    bulk = [part.value for part in specimen.adapter.parts_with_role("bulk capacitor") if part.value]
    share = 0.0
    if barrier is not None and windings is not None and rail == BRIDGE:
        share = windings.value / (windings.value + barrier.capacitance)
    return RailModel(rail, share, sum(bulk) or None)


def nominal(voltage: float) -> int:
    """Usual name of a mains voltage; whole volts where it has none."""
    near = [name for name in _MAINS if abs(voltage / name - 1) < 0.015]
    return near[0] if near else round(voltage)


def with_conditions(specimen: Specimen) -> pd.DataFrame:
    """The table of readings with the name of each row's condition: mains and load."""
    table = specimen.touch_current
    mains = table["mains_voltage"].map(nominal).astype(str)
    frequency = table["mains_frequency"].round().astype(int).astype(str)
    load = np.where(table["output_power"].fillna(0) > 0, "loaded", "no load")
    return table.assign(
        condition=mains + " V, " + frequency + " Hz, " + load,
        output_power=table["output_power"].fillna(0.0),
    )


COLUMNS = [
    "condition", "mains_voltage", "mains_frequency", "network", "quantity", "output_power",
    "polarity", "line", "current", "standard_uncertainty", "predicted", "predicted_uncertainty",
]  # fmt: skip


def readings_of(
    specimen: Specimen, model: RailModel, barrier: Barrier | None, windings: Value | None
) -> pd.DataFrame:
    """Largest reading of each condition, network and quantity, with its prediction."""
    keyed = with_conditions(specimen)
    order = keyed.groupby(["condition", "network", "quantity"], sort=False)["touch_current"]
    found = []
    added = windings or Value(0.0, 0.0, "F")
    for _, row in keyed.loc[order.idxmax()].iterrows():
        reading = specimen.reading("touch current", row["touch_current"], "A")
        entry = {name: row[name] for name in COLUMNS if name in row.index}
        entry |= {"current": reading.value, "standard_uncertainty": reading.standard_uncertainty}
        if barrier is not None and row["quantity"] != "dc":
            total = barrier.capacitance + added.value
            each, spread = model.per_farad(row, total)
            parts = float(np.hypot(barrier.standard_uncertainty, added.standard_uncertainty))
            entry["predicted"] = each * total
            entry["predicted_uncertainty"] = float(np.hypot(each * parts, spread * total))
        found.append(entry)
    return pd.DataFrame(found, columns=COLUMNS)
