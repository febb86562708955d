"""Power without load of a dossier against the rules, and the meter against its own rule."""

from typing import Any

import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.efficiency.rules import (
    SECTION,
    RuleFindings,
    published_limit,
)
from adapterlab.assess.model.judged import (
    is_adaptive,
    is_multiple_voltage,
    judged_loadings,
    title,
)
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Adapter
from adapterlab.efficiency import (
    RULES,
    maximum_no_load_power,
    permitted_power_uncertainty,
    rule_supply,
)
from adapterlab.published import rows
from adapterlab.uncertainty import coverage_factor


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


def against_no_load(specimen: Specimen, readings: pd.DataFrame, out: RuleFindings) -> None:
    """The largest bare no-load reading on each rule's mains against its limit."""
    bare = readings[readings["cable"] == "none"]
    for rule in RULES:
        question = f"Does the power without load meet {title(rule)}?"
        function = "efficiency.maximum_no_load_power"
        supply = rule_supply(rule)
        off_voltage = (bare["mains_voltage"] / supply.voltage - 1).abs()
        off_frequency = (bare["mains_frequency"] / supply.frequency - 1).abs()
        alike = bare[(off_voltage <= supply.tolerance) & (off_frequency <= supply.tolerance)]
        mains = f"{supply.voltage:g} V, {supply.frequency:g} Hz"
        if alike.empty:
            needed = f"no_load.csv with a reading at {mains}, nothing plugged in."
            out.findings.append(not_measured(SECTION, question, needed, function))
            continue
        row = alike.loc[alike["power"].idxmax()]
        reading = Value(row["power"], row["standard_uncertainty"], "W")
        common: dict[str, Any] = {"section": SECTION, "question": question, "function": function}
        try:
            limit, note = no_load_limit(specimen.adapter, rule)
        except ValueError as error:
            sentence = f"{title(rule)} does not judge the power without load: {error}."
            out.findings.append(Finding(judgement=rules.result(), sentence=sentence, **common))
            continue
        if row["standard_uncertainty"] == 0:
            note += " No meter is listed, so the verdict leaves out its error."
        finding = against_limit(
            reading,
            limit,
            f"Power without load at {mains}",
            note=note,
            origin=f"no_load.csv line {row['line']}",
            figure="efficiency_no_load",
            **common,
        )
        out.add(finding, rule, "no load", mains)


def meter_finding(readings: pd.DataFrame) -> list[Finding]:
    """Whether the meter is good enough for the power without load."""
    known = readings[(readings["power"] > 0) & (readings["standard_uncertainty"] > 0)]
    if known.empty:
        return []
    edition = rows("efficiency", "meters", edition=1)[0]
    allowed = known["power"].map(permitted_power_uncertainty)
    half_width = coverage_factor() * known["standard_uncertainty"]
    worst = (half_width / allowed).idxmax()
    return [
        against_limit(
            Value(float(f"{half_width[worst]:.2g}"), 0.0, "W"),
            Limit(
                float(allowed[worst]),
                "W",
                "upper",
                "IEC 62301:2005",
                edition["source"],
                edition["known"],
            ),
            f"Uncertainty (95 %) of the power without load on {known['mains'][worst]}",
            exact=True,
            section=SECTION,
            question="Is the meter good enough for the power without load?",
            function="efficiency.permitted_power_uncertainty",
            origin=f"no_load.csv line {known['line'][worst]}",
        )
    ]
