"""Which loadings each efficiency rule judges, and its findings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.judged import (
    Judged,
    cables_of,
    fixed_modes,
    judged_loadings,
    rule_row,
    title,
)
from adapterlab.assess.model.points import (
    TEN_PERCENT,
    Point,
    active_points,
    average_of,
    loading_name,
    nearest,
)
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    not_measured,
)
from adapterlab.dossier.schema import Adapter
from adapterlab.efficiency import (
    RULES,
    derating_factor,
    minimum_average_efficiency,
    minimum_ten_percent_efficiency,
    rule_supply,
)
from adapterlab.published import rows

SECTION = "efficiency"
_NO_METERS = "No meter for input power is listed, so the verdict leaves out its error."


@dataclass
class RuleFindings:
    """Findings of the rules, and a row for the pictures of each that was judged."""

    findings: list[Finding] = field(default_factory=list)
    rows: list[dict[str, Any]] = field(default_factory=list)

    def add(self, finding: Finding, rule: str, quantity: str, name: str) -> None:
        """Keep a finding, and what a picture needs if it has a reading and a limit."""
        self.findings.append(finding)
        if finding.reading is not None and finding.limit is not None:
            self.rows.append(
                {
                    "rule": title(rule),
                    "quantity": quantity,
                    "loading": name,
                    "value": finding.reading.value,
                    "standard_uncertainty": finding.reading.standard_uncertainty,
                    "limit": finding.limit.value,
                    "word": finding.word,
                }
            )


def published_limit(
    table: str,
    value: float,
    rule: str,
    category: str,
    power: float,
    *,
    adaptive: bool | None = None,
) -> Limit:
    """A limit already worked out, with the source of the row it comes from."""
    match = {} if adaptive is None else {"adaptive": adaptive}
    found = rows("efficiency", table, rule=rule, category=category, **match)
    row = next(r for r in found if r["above"] < power <= r.get("up_to", np.inf))
    kind, unit = ("upper", "W") if table == "no_load" else ("lower", "%")
    return Limit(value, unit, kind, title(rule), row["source"], row["known"])


def _supply_name(rule: str) -> str:
    supply = rule_supply(rule)
    return f"{supply.voltage:g} V, {supply.frequency:g} Hz"


def _needed(
    adapter: Adapter, item: Judged, fractions: Sequence[float], full: Mapping[str, float]
) -> str:
    """Load points that are missing, in amperes."""
    if len(item.key) == 1:
        current = full[item.key[0][0]]
        amperes = ", ".join(f"{share * current:.4g} A" for share in sorted(fractions)[::-1])
        what = f"{loading_name(adapter, item.key)} at {amperes}"
    else:
        shares = ", ".join(f"{share * 100:g} %" for share in sorted(fractions)[::-1])
        ports = " + ".join(f"{port} {mode} {full[port]:.3g} A" for port, mode, _ in item.key)
        what = f"{shares} of {ports}"
    return f"load points at {_supply_name(item.rule)}: {what}."


def _note(item: Judged, cabled: bool, metered: bool) -> str:
    parts = []
    if item.rule == "eu-2019-1782" and item.role == "lowest voltage" and item.adaptive:
        parts.append("Of several voltages, the lowest one's average is the one to be published.")
    if item.currents != item.nameplate_currents:
        parts.append("At its lowest voltage a port able to give 3 A counts with 2 A.")
    if cabled:
        parts.append("This rule takes the loss of a cable to the load from the output power.")
    if "note" in rule_row(item.rule):
        parts.append(f"{title(item.rule)} {rule_row(item.rule)['note']}.")
    return " ".join(parts if metered else [*parts, _NO_METERS])


def _judge(adapter: Adapter, item: Judged, points: Sequence[Point], out: RuleFindings) -> None:
    """Average and 10 % point of one loading."""
    supply = rule_supply(item.rule)
    alike = [
        point
        for point in points
        if point.key == item.key
        and point.on_supply(supply.voltage, supply.frequency, supply.tolerance)
    ]
    cables = cables_of(adapter, item.rule)
    name = loading_name(adapter, item.key)
    behind = "; behind the rule's cable" if cables else ""
    where = f"{name} (mains {_supply_name(item.rule)}{behind})"
    metered = all(
        adapter.instruments_for(quantity)
        for quantity in ("input power", "output voltage", "output current")
    )
    common: dict[str, Any] = {"section": SECTION, "figure": "efficiency_averages"}
    common["note"] = _note(item, cables is not None, metered)
    unknown = "" if metered else "the accuracy of its meters is not listed"
    question = f"Does the average efficiency of {name} meet {title(item.rule)}?"
    function = "efficiency.minimum_average_efficiency"
    chosen, missing = active_points(alike, item.currents)
    if missing:
        needed = _needed(adapter, item, missing, item.currents)
        finding = not_measured(SECTION, question, needed, function)
    else:
        limit = minimum_average_efficiency(item.rule, item.power, item.category)
        finding = against_limit(
            average_of(chosen, item.currents, cables).shown("%"),
            published_limit("average", limit, item.rule, item.category, item.power),
            f"Average efficiency at {where}",
            question=question,
            function=function,
            origin="load_sweep.csv points " + ", ".join(point.name for point in chosen),
            not_judged=unknown,
            **common,
        )
    out.add(finding, item.rule, "average", name)
    if item.rule != "eu-2025-2052":
        return
    question = f"Does the efficiency of {name} at 10 % load meet {title(item.rule)}?"
    function = "efficiency.minimum_ten_percent_efficiency"
    share, tolerance = TEN_PERCENT["fractions"][0], TEN_PERCENT["tolerance"]
    point = nearest(alike, item.nameplate_currents, share, tolerance)
    power = item.nameplate_power
    limit = minimum_ten_percent_efficiency(item.rule, power, item.category, item.adaptive)
    if point is None:
        needed = _needed(adapter, item, [share], item.nameplate_currents)
        finding = not_measured(SECTION, question, needed, function)
    else:
        finding = against_limit(
            point.efficiency(cables).shown("%"),
            published_limit(
                "ten_percent", limit, item.rule, item.category, power, adaptive=item.adaptive
            ),
            f"Efficiency at 10 % load, {where},",
            question=question,
            function=function,
            origin=f"load_sweep.csv point {point.name}",
            not_judged=unknown,
            **common,
        )
    out.add(finding, item.rule, "10 %", name)


def _unlisted(adapter: Adapter) -> str:
    """What the nameplate must tell before a rule can be applied."""
    if len(adapter.ports) < 2:
        return "[[ports]] with at least one fixed mode, its voltage and current."
    most = [
        max(fixed_modes(port), key=lambda mode: (mode.voltage or 0) * mode.current, default=None)
        for port in adapter.ports
    ]
    best = [(port, mode) for port, mode in zip(adapter.ports, most, strict=True) if mode]
    text = "[[combinations]] with the currents of all ports loaded together"
    if best:
        total = adapter.nameplate.rated_power
        share = derating_factor(total, [(mode.voltage or 0) * mode.current for _, mode in best])
        loads = " + ".join(
            f"{port.name} {mode.name} {share * mode.current:.3g} A" for port, mode in best
        )
        text += f" (if the label is silent, in proportion: {loads})"
    return text + "."


def against_rules(adapter: Adapter, points: Sequence[Point]) -> RuleFindings:
    """Average active efficiency and 10 % point against every rule.

    Parameters
    ----------
    adapter : Adapter
        The nameplate.
    points : sequence of Point
        The load sweep.

    Returns
    -------
    RuleFindings
        One finding for each rule, quantity and loading judged.
    """
    out = RuleFindings()
    for rule in RULES:
        supply = rule_supply(rule)
        measured = {
            point.key
            for point in points
            if point.on_supply(supply.voltage, supply.frequency, supply.tolerance)
        }
        judged = judged_loadings(adapter, rule, measured)
        question = f"Does the average efficiency meet {title(rule)}?"
        function = "efficiency.minimum_average_efficiency"
        if not judged:
            out.findings.append(not_measured(SECTION, question, _unlisted(adapter), function))
        for item in judged:
            try:
                _judge(adapter, item, points, out)
            except ValueError as error:
                out.findings.append(
                    Finding(
                        SECTION,
                        question,
                        rules.result(),
                        f"{title(rule)} does not judge {loading_name(adapter, item.key)}: {error}.",
                        function,
                    )
                )
    return out
