"""What the capacitors of a dossier do to its circuit when they are worn out."""

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import SECTION
from adapterlab.assess.capacitor_life.currents import secondary_pulse
from adapterlab.assess.model.feeds import (
    BRIDGE_DROP,
    bulk_capacitance,
    bulk_inputs,
    bulk_voltage,
    rated_share,
)
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage
from adapterlab.assess.report.finding import (
    Finding,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.capacitor_life import hold_up_ratio, pulsed_output_ripple
from adapterlab.published import rows

COLUMNS = ["effect", "where", "new", "least", "most", "unit"]


@dataclass(frozen=True)
class Ageing:
    """What is left of a worn-out capacitor, least and most aged. [1], each (low, high)."""

    capacitance_left: tuple[float, float]
    resistance_ratio: tuple[float, float]


def ageing_of(kind: str) -> Ageing:
    """Published range for a type of capacitor."""
    row = rows(SECTION, "ageing", type=kind)[0]
    return Ageing(
        (row["capacitance_left_low"], row["capacitance_left_high"]),
        (row["resistance_ratio_low"], row["resistance_ratio_high"]),
    )


def _kind(specimen: Specimen, role: str) -> str | None:
    """Type of the capacitors with a role, as listed for their life; None if none is."""
    parts = {part.reference for part in specimen.adapter.parts_with_role(role)}
    kinds = [entry.type for entry in specimen.adapter.capacitors if entry.part in parts]
    return kinds[0] if kinds and kinds[0] != "ceramic" else None


def output_ripple(
    specimen: Specimen, stage: Stage, capacitance_left: float, resistance_ratio: float
) -> float | None:
    """Ripple a converter makes on its output capacitors, new or aged. [V], None if not known."""
    converter = next(c for c in specimen.adapter.construction.converters if c.name == stage.name)
    if converter.output_capacitance is None or converter.output_esr is None:
        return None
    pulse = secondary_pulse(stage)
    return float(
        pulsed_output_ripple(
            pulse.peak,
            pulse.valley,
            pulse.duty,
            pulse.frequency,
            converter.output_capacitance * capacitance_left,
            converter.output_esr * resistance_ratio,
        )
    )


def _ripple(specimen: Specimen, stages: list[Stage]) -> list[tuple[Any, ...]]:
    kind = _kind(specimen, "output capacitor")
    found: list[tuple[Any, ...]] = []
    if kind is None:
        return found
    aged = ageing_of(kind)
    for stage in stages:
        new = output_ripple(specimen, stage, 1.0, 1.0)
        if new is None:
            continue
        little = output_ripple(specimen, stage, aged.capacitance_left[1], aged.resistance_ratio[0])
        much = output_ripple(specimen, stage, aged.capacitance_left[0], aged.resistance_ratio[1])
        found.append(("output ripple", f"{stage.name} converter", new, little, much, "V"))
    return found + _as_read(specimen, found)


def _as_read(specimen: Specimen, computed: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """The ripple reading at the highest power, grown as all computed ripples together grow."""
    table = specimen.load_sweep
    table = table[table["ripple_pp"].notna() & (table["output_current"] > 0)]
    if table.empty or not computed:
        return []
    row = table.loc[(table["output_voltage"] * table["output_current"]).idxmax()]
    new, least, most = (sum(item[place] for item in computed) for place in (2, 3, 4))
    read = float(row["ripple_pp"])
    where = f"{row['port']} {row['mode']}, {row['output_voltage'] * row['output_current']:.0f} W"
    return [("ripple as read", where, read, read * least / new, read * most / new, "V")]


def _bulk(specimen: Specimen, stages: list[Stage]) -> list[tuple[Any, ...]]:
    kind = _kind(specimen, "bulk capacitor")
    if kind is None or not bulk_inputs(specimen) or not stages:
        return []
    aged = ageing_of(kind)
    held = bulk_capacitance(specimen)
    plate, drop = specimen.adapter.nameplate, specimen.allowance(BRIDGE_DROP).middle
    power = rated_share(specimen, stages) * sum(stage.power() for stage in stages)
    lowest = plate.input_voltage_minimum or 100.0
    hertz = plate.input_frequency_minimum or 50.0

    def valley(mains: float, frequency: float, left: float) -> float:
        return float(bulk_voltage((mains, frequency), drop, power, held * left))

    shares = (1.0, aged.capacitance_left[1], aged.capacitance_left[0])
    works = valley(lowest, hertz, 1.0)
    sags = [works, 0.0, 0.0]
    for place in (1, 2):
        # Zero stands if it runs empty between two crests.
        with suppress(ValueError):
            sags[place] = valley(lowest, hertz, shares[place])
    start = valley(230.0, 50.0, 1.0)
    ratios = [
        float(hold_up_ratio(share, start, valley(230.0, 50.0, share), works)) for share in shares
    ]
    return [
        ("bulk valley", f"{lowest:g} V mains", *sags, "V"),
        ("hold-up time", "230 V mains", *ratios, "of new"),
    ]


def end_of(specimen: Specimen, stages: list[Stage]) -> pd.DataFrame:
    """Ripple, bulk valley, hold-up and start-up with new and with worn-out capacitors.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    stages : list of Stage
        Converters known well enough.

    Returns
    -------
    pandas.DataFrame
        ``effect``, ``where``, value when ``new``, ``least`` and ``most`` aged, and ``unit``.
    """
    found = _ripple(specimen, stages)
    # Marked values that cannot feed the load even when new: the converter section says so.
    with suppress(ValueError):
        found += _bulk(specimen, stages)
    kind = _kind(specimen, "auxiliary capacitor")
    if kind is not None:
        low, high = ageing_of(kind).capacitance_left
        found.append(("start-up reserve", "controller supply", 1.0, high, low, "of new"))
    return pd.DataFrame(found, columns=COLUMNS)


_WORDS = {
    "output ripple": "Worn-out output capacitors would let the ripple that the {where} makes grow "
    "from {new} to between {low} and {high} at full load.",
    "ripple as read": "The ripple of {new} read at {where} would become {low} to {high} with "
    "worn-out output capacitors.",
    "bulk valley": "On {where} the bulk voltage falls to {new} between crests at full load; with "
    "worn-out capacitors it would fall to between {low} and {high}, and the converter may pause "
    "in each valley.",
    "hold-up time": "Worn-out bulk capacitors would carry the load over a gap of the mains for "
    "{low} to {high} of the time they do when new (230 V, down to the valley that the lowest "
    "rated mains has).",
    "start-up reserve": "The capacitor of the controller would carry it at start-up for {low} to "
    "{high} of the time it does when new; once that is shorter than the auxiliary winding needs, "
    "the adapter only ticks.",
}
_FUNCTIONS = {
    "output ripple": "capacitor_life.pulsed_output_ripple",
    "ripple as read": "capacitor_life.pulsed_output_ripple",
    "bulk valley": "flyback.bulk_valley_voltage",
    "hold-up time": "capacitor_life.hold_up_ratio",
    "start-up reserve": "capacitor_life.supply_carry_time",
}


def end_findings(table: pd.DataFrame) -> list[Finding]:
    """The table in sentences."""
    found = []
    for row in table.itertuples():
        unit = "V" if row.unit == "V" else "%"
        low, high = sorted((float(row.least), float(row.most)))
        shown = {
            name: str(Value(float(f"{value:.2g}"), 0.0, unit))
            for name, value in (("new", row.new), ("low", low), ("high", high))
        }
        if row.effect == "bulk valley" and low == 0:
            shown["low"] = "nothing at all"
        half = (high - low) / 2
        found.append(
            Finding(
                section=SECTION,
                question=f"What does the {row.effect} look like at the end of life ({row.where})?",
                judgement=rules.result(),
                sentence=_WORDS[row.effect].format(where=row.where, **shown),
                function=_FUNCTIONS[row.effect],
                origin="adapter.toml, [[construction.converters]] and [[parts]]",
                prediction=Value(low + half, half / float(np.sqrt(3)), unit, (low, high)),
                figure="capacitor_life_end",
            )
        )
    return found
