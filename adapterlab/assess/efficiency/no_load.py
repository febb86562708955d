"""Power without load of a dossier against the rules, and the meter against its own rule."""

from typing import Any

from adapterlab.assess.efficiency.conditions import not_kept, unrecorded
from adapterlab.assess.efficiency.rules import (
    SECTION,
    RuleFindings,
    out_of_scope,
    published_limit,
)
from adapterlab.assess.model.judged import (
    is_adaptive,
    is_multiple_voltage,
    judged_loadings,
    label_gap,
    title,
)
from adapterlab.assess.model.loadings import sweep_of
from adapterlab.assess.model.no_load import NoLoad, largest, no_load_readings
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    no_limit,
    not_measured,
)
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Adapter
from adapterlab.efficiency import (
    RULES,
    maximum_no_load_power,
    permitted_power_uncertainty,
    rule_supply,
)
from adapterlab.published import rows
from adapterlab.uncertainty import coverage_factor

_NO_CABLE_NOTED = "whether a cable was plugged in is not noted"


def no_load_limit(adapter: Adapter, rule: str) -> tuple[Limit, str]:
    """Largest power without load that a rule allows an adapter.

    Parameters
    ----------
    adapter : Adapter
        The nameplate.
    rule : str
        A name from `adapterlab.efficiency.RULES`.

    Returns
    -------
    tuple of Limit and str
        The limit and what it was worked out for.

    Raises
    ------
    ValueError
        If the rule sets none for this adapter.
    """
    judged = judged_loadings(adapter, rule, set())
    multiple = is_multiple_voltage(adapter)
    ends = rule != "eu-2019-1782" and bool(judged) and judged[0].adaptive
    power = judged[0].power if ends else adapter.nameplate.rated_power
    category = "multiple-voltage" if multiple else judged[0].category if judged else "basic"
    adaptive = [port for port in adapter.ports if is_adaptive(port)]
    others = {
        mode.voltage for port in adapter.ports if not is_adaptive(port) for mode in port.modes
    }
    outputs = len(adaptive) + len(others) if adaptive else 0
    value = maximum_no_load_power(rule, power, category, outputs)
    match = bool(outputs) and bool(
        rows("efficiency", "no_load", rule=rule, category=category, adaptive=True)
    )
    limit = published_limit("no_load", value, rule, category, power, adaptive=match)
    basis = "an adapter without load gives its lowest voltage, " if ends else ""
    return limit, f"Limit for {basis}{power:.3g} W, category {category}."


def on_supply(readings: tuple[NoLoad, ...], rule: str) -> list[NoLoad]:
    """Readings on a rule's mains."""
    supply = rule_supply(rule)
    return [
        item
        for item in readings
        if abs(item.mains_voltage / supply.voltage - 1) <= supply.tolerance
        and abs(item.mains_frequency / supply.frequency - 1) <= supply.tolerance
    ]


def against_no_load(specimen: Specimen, out: RuleFindings) -> None:
    """The largest bare no-load reading on each rule's mains against its limit."""
    adapter = specimen.adapter
    for rule in RULES:
        question = f"Does the power without load meet {title(rule)}?"
        common: dict[str, Any] = {
            "section": SECTION,
            "question": question,
            "function": "efficiency.maximum_no_load_power",
        }
        supply = rule_supply(rule)
        mains = f"{supply.voltage:g} V, {supply.frequency:g} Hz"
        reading = largest(on_supply(no_load_readings(specimen), rule))
        why = out_of_scope(rule, adapter.nameplate.rated_power)
        if why:
            out.findings.append(no_limit(why=why, **common))
            continue
        if reading is None:
            needed = f"no_load.csv with a reading at {mains}, nothing plugged in."
            out.findings.append(not_measured(needed=needed, **common))
            continue
        limit, note = no_load_limit(adapter, rule)
        # With a cable plugged in an adapter draws more: what meets the limit then does so without.
        above = reading.power.value > limit.value
        gap = label_gap(adapter, rule, sweep_of(specimen).points)
        if above and reading.cable == "":
            gap = _NO_CABLE_NOTED
        finding = against_limit(
            reading.power,
            limit,
            f"Power without load at {mains}",
            not_judged=gap or not_kept(adapter),
            note=f"{note} {unrecorded(adapter)}".strip(),
            origin=f"no_load.csv line {reading.line}",
            figure="efficiency_no_load",
            **common,
        )
        out.add(finding, rule, "no load", mains)


def meter_finding(specimen: Specimen) -> list[Finding]:
    """Whether the meter is good enough for the power without load."""
    readings = [item for item in no_load_readings(specimen) if item.power.value > 0]
    if not readings:
        return []
    question = "Is the meter good enough for the power without load?"
    function = "efficiency.permitted_power_uncertainty"
    if any(item.power.accuracy_assumed for item in readings):
        needed = "[[instruments]] for no-load power, with the accuracy its manual states."
        return [not_measured(SECTION, question, needed, function)]
    known = [
        (coverage_factor() * item.power.standard_uncertainty,
         float(permitted_power_uncertainty(item.power.value)), item)
        for item in readings
        if item.power.standard_uncertainty > 0
    ]  # fmt: skip
    if not known:
        return []
    half_width, allowed, worst = max(known, key=lambda item: item[0] / item[1])
    edition = rows("efficiency", "meters", edition=1)[0]
    return [
        against_limit(
            Value(float(f"{half_width:.2g}"), 0.0, "W"),
            Limit.published(edition, allowed, "W", "upper", "IEC 62301"),
            f"Uncertainty (95 %) of the power without load on {worst.mains}",
            exact=True,
            section=SECTION,
            question=question,
            function=function,
            origin=f"no_load.csv line {worst.line}",
        )
    ]
