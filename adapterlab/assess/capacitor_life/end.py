"""What the capacitors of a dossier do to its circuit when they are worn out."""

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.capacitor_life.cases import SECTION
from adapterlab.assess.capacitor_life.currents import MAINS, bulk_mean
from adapterlab.assess.model.feeds import (
    BRIDGE_DROP,
    bridge_drop,
    bulk_capacitance,
    bulk_inputs,
    bulk_voltage,
    rated_share,
)
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage, stages_of
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.value import Value, span
from adapterlab.capacitor_life import hold_up_ratio, pulsed_output_ripple
from adapterlab.flyback import operating_point, secondary_pulse
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


def middle_of(specimen: Specimen) -> dict[str, Any]:
    """What feeds the converters, and the converters, every input at its middle."""
    inputs = bulk_inputs(specimen) | bridge_drop()
    for stage in stages_of(specimen):
        inputs |= stage.inputs
    return {name: item.middle for name, item in inputs.items()}


def full_power(specimen: Specimen) -> float:
    """Power that all converters draw at the rated load, in the middle. [W]."""
    stages, middle = stages_of(specimen), middle_of(specimen)
    return float(rated_share(specimen, stages) * sum(stage.power(middle) for stage in stages))


def output_ripple(
    specimen: Specimen, stage: Stage, capacitance_left: float, resistance_ratio: float
) -> float | None:
    """Ripple a converter makes on its output capacitors, new or aged. [V], None if not known."""
    if stage.output_capacitance is None or stage.output_esr is None:
        return None
    middle = middle_of(specimen)
    volts = bulk_mean(specimen, middle, full_power(specimen))
    pulse = secondary_pulse(operating_point(volts, **stage.numbers(middle)), stage.output_current)
    return float(
        pulsed_output_ripple(
            pulse.peak,
            pulse.valley,
            pulse.duty_cycle,
            pulse.switching_frequency,
            stage.output_capacitance * capacitance_left,
            stage.output_esr * resistance_ratio,
        )
    )


def _ripple(specimen: Specimen) -> list[tuple[Any, ...]]:
    kind = _kind(specimen, "output capacitor")
    found: list[tuple[Any, ...]] = []
    if kind is None:
        return found
    aged = ageing_of(kind)
    for stage in stages_of(specimen):
        new = output_ripple(specimen, stage, 1.0, 1.0)
        if new is None:
            continue
        little = output_ripple(specimen, stage, aged.capacitance_left[1], aged.resistance_ratio[0])
        much = output_ripple(specimen, stage, aged.capacitance_left[0], aged.resistance_ratio[1])
        found.append(("output ripple", f"{stage.name} converter", new, little, much, "V"))
    return found + _as_read(specimen, found)


def fullest_ripple(table: pd.DataFrame) -> Any:
    """Row of a load sweep with a ripple reading at the highest output power; None without one."""
    table = table[table["ripple_pp"].notna() & (table["output_current"] > 0)]
    if table.empty:
        return None
    most = (table["output_voltage"] * table["output_current"]).idxmax()
    return next(table.loc[[most]].itertuples())


def _as_read(specimen: Specimen, computed: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """The ripple reading at the highest power, grown as all computed ripples together grow."""
    row = fullest_ripple(specimen.load_sweep)
    if row is None or not computed:
        return []
    new, least, most = (sum(item[place] for item in computed) for place in (2, 3, 4))
    read = float(row.ripple_pp)
    where = f"{row.port} {row.mode}, {row.output_voltage * row.output_current:.0f} W"
    return [("ripple as read", where, read, read * least / new, read * most / new, "V")]


def _bulk(specimen: Specimen) -> list[tuple[Any, ...]]:
    kind, plate = _kind(specimen, "bulk capacitor"), specimen.adapter.nameplate
    lowest = plate.input_voltage_minimum
    if kind is None or lowest is None or not bulk_inputs(specimen) or not stages_of(specimen):
        return []
    aged, middle = ageing_of(kind), middle_of(specimen)
    held, drop = float(bulk_capacitance(specimen, middle)), middle[BRIDGE_DROP]
    power, low_mains = full_power(specimen), (lowest, plate.input_frequency_minimum or 50.0)

    def valley(mains: tuple[float, float], left: float) -> float:
        return float(bulk_voltage(mains, drop, power, held * left))

    shares = (1.0, aged.capacitance_left[1], aged.capacitance_left[0])
    works = valley(low_mains, 1.0)
    sags = [works, 0.0, 0.0]
    for place in (1, 2):
        # Zero stands if it runs empty between two crests.
        with suppress(ValueError):
            sags[place] = valley(low_mains, shares[place])
    start = valley(MAINS, 1.0)
    ratios = [float(hold_up_ratio(share, start, valley(MAINS, share), works)) for share in shares]
    return [
        ("bulk valley", f"{lowest:g} V mains", *sags, "V"),
        ("hold-up time", "230 V mains", *ratios, "of new"),
    ]


def end_of(specimen: Specimen) -> pd.DataFrame:
    """Ripple, bulk valley, hold-up and start-up with new and with worn-out capacitors.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    pandas.DataFrame
        ``effect``, ``where``, value when ``new``, ``least`` and ``most`` aged, and ``unit``.
    """
    found = _ripple(specimen)
    # Marked values that cannot feed the load even when new: the converter section says so.
    with suppress(ValueError):
        found += _bulk(specimen)
    kind = _kind(specimen, "auxiliary capacitor")
    if kind is not None:
        low, high = ageing_of(kind).capacitance_left
        found.append(("start-up reserve", "controller supply", 1.0, high, low, "of new"))
    return pd.DataFrame(found, columns=COLUMNS)


_WORDS = {
    "output ripple": "Worn-out output capacitors would let the ripple that the {where} makes grow "
    "from {new} to anything from {span} at full load.",
    "ripple as read": "The ripple of {new} read at {where} would become anything from {span} with "
    "worn-out output capacitors.",
    "bulk valley": "On {where} the bulk voltage falls to {new} between crests at full load; with "
    "worn-out capacitors it would fall to anything from {span}, and the "
    "converter may pause in each valley.",
    "hold-up time": "Worn-out bulk capacitors would carry the load over a gap of the mains for "
    "{span} of the time they do when new (230 V, down to the valley that the lowest rated mains "
    "has).",
    "start-up reserve": "The capacitor of the controller would carry it at start-up for {span} of "
    "the time it does when new; once that is shorter than the auxiliary winding needs, the adapter "
    "only ticks.",
}
_FUNCTIONS = {
    "output ripple": "capacitor_life.pulsed_output_ripple",
    "ripple as read": "capacitor_life.pulsed_output_ripple",
    "bulk valley": "flyback.bulk_valley_voltage",
    "hold-up time": "capacitor_life.hold_up_ratio",
    "start-up reserve": "capacitor_life.supply_carry_time",
}


def worn_out(kind: str) -> str:
    """What *worn out* stands for, as said aloud."""
    aged = ageing_of(kind)
    lost = [1 - left for left in aged.capacitance_left[::-1]]
    return (
        f"Worn out stands for {span(round(lost[0], 2), round(lost[1], 2), '%')} of the capacitance "
        f"lost and {aged.resistance_ratio[0]:g} to {aged.resistance_ratio[1]:g} times the "
        "resistance, the ends that makers set; everything else counts as in the middle of its "
        "tolerance."
    )


def end_findings(table: pd.DataFrame, kinds: dict[str, str]) -> list[Finding]:
    """The table in sentences; `kinds` is the type of capacitor behind each effect."""
    found = []
    for row in table.itertuples():
        unit = "V" if row.unit == "V" else "%"
        low, high = sorted((float(row.least), float(row.most)))
        new, least, most = (float(f"{value:.2g}") for value in (row.new, low, high))
        shown = {"new": str(Value(new, 0.0, unit)), "span": span(least, most, unit)}
        if row.effect == "bulk valley" and low == 0:
            shown["span"] = f"nothing at all to {Value(most, 0.0, unit)}"
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
                note=worn_out(kinds[row.effect]),
            )
        )
    return found


_ROLES = {
    "output ripple": "output capacitor",
    "ripple as read": "output capacitor",
    "bulk valley": "bulk capacitor",
    "hold-up time": "bulk capacitor",
    "start-up reserve": "auxiliary capacitor",
}


def kinds_of(specimen: Specimen) -> dict[str, str]:
    """Type of capacitor behind each effect."""
    found = {effect: _kind(specimen, role) for effect, role in _ROLES.items()}
    return {effect: kind for effect, kind in found.items() if kind is not None}
