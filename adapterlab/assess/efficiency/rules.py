"""Which loadings each efficiency rule judges, and its findings."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from adapterlab.assess.efficiency.conditions import not_kept, unrecorded
from adapterlab.assess.model.judged import (
    Judged,
    cables_of,
    fixed_modes,
    judged_loadings,
    label_gap,
    rule_row,
    title,
)
from adapterlab.assess.model.loadings import TEN_PERCENT, active_points, average_of, nearest
from adapterlab.assess.model.meters import Measured
from adapterlab.assess.model.points import Point, loading_name
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    no_limit,
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
_AVERAGE = "efficiency.minimum_average_efficiency"
_TEN = "efficiency.minimum_ten_percent_efficiency"


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
    return Limit.published(row, value, unit, kind, title(rule))


def out_of_scope(rule: str, power: float) -> str:
    """Why a rule does not cover an adapter of that power, as a sentence; empty if it does."""
    most = rule_row(rule).get("largest_power", np.inf)
    if power <= most:
        return ""
    return f"{title(rule)} covers adapters of up to {most:g} W; this one is rated {power:g} W."


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


def _note(adapter: Adapter, item: Judged, cabled: bool) -> str:
    parts = []
    if item.rule == "eu-2019-1782" and item.role == "lowest voltage" and item.adaptive:
        parts.append("Of several voltages, the lowest one's average is the one to be published.")
    if item.currents != item.nameplate_currents:
        parts.append("At its lowest voltage a port able to give 3 A counts with 2 A.")
    if cabled:
        parts.append("This rule takes the loss of a cable to the load from the output power.")
    if unrecorded(adapter):
        parts.append(unrecorded(adapter))
    return " ".join(parts)


@dataclass(frozen=True)
class _Case:
    """A loading that a rule judges, with its points on the rule's mains."""

    adapter: Adapter
    item: Judged
    points: tuple[Point, ...]
    cables: dict[str, tuple[str, float]] | None
    gap: str

    @property
    def name(self) -> str:
        return loading_name(self.adapter, self.item.key)

    @property
    def where(self) -> str:
        behind = "; behind the rule's cable" if self.cables else ""
        return f"{self.name} (mains {_supply_name(self.item.rule)}{behind})"

    def judged(
        self, reading: Measured, limit: Limit, subject: str, origin: str, **rest: Any
    ) -> Finding:
        return against_limit(
            reading.shown("%"),
            limit,
            subject,
            section=SECTION,
            figure="efficiency_averages",
            origin=f"load_sweep.csv {origin}",
            not_judged=self.gap or not_kept(self.adapter),
            note=_note(self.adapter, self.item, self.cables is not None),
            **rest,
        )


def _average(case: _Case) -> Finding:
    item = case.item
    question = f"Does the average efficiency of {case.name} meet {title(item.rule)}?"
    chosen, missing = active_points(case.points, item.currents)
    if missing:
        needed = _needed(case.adapter, item, missing, item.currents)
        return not_measured(SECTION, question, needed, _AVERAGE)
    limit = minimum_average_efficiency(item.rule, item.power, item.category)
    return case.judged(
        average_of(chosen, item.currents, case.cables),
        published_limit("average", limit, item.rule, item.category, item.power),
        f"Average efficiency at {case.where}",
        "points " + ", ".join(point.name for point in chosen),
        question=question,
        function=_AVERAGE,
    )


def _ten_percent(case: _Case) -> Finding:
    item, power = case.item, case.item.nameplate_power
    question = f"Does the efficiency of {case.name} at 10 % load meet {title(item.rule)}?"
    published = rows("efficiency", "ten_percent", rule=item.rule, category=item.category)
    least = min(row["above"] for row in published)
    if power <= least:
        why = f"{title(item.rule)} asks for nothing at 10 % load of an output of up to {least:g} W."
        return no_limit(SECTION, question, why, _TEN)
    share, tolerance = TEN_PERCENT["fractions"][0], TEN_PERCENT["tolerance"]
    point = nearest(case.points, item.nameplate_currents, share, tolerance)
    if point is None:
        needed = _needed(case.adapter, item, [share], item.nameplate_currents)
        return not_measured(SECTION, question, needed, _TEN)
    limit = minimum_ten_percent_efficiency(item.rule, power, item.category, item.adaptive)
    return case.judged(
        point.efficiency(case.cables),
        published_limit(
            "ten_percent", limit, item.rule, item.category, power, adaptive=item.adaptive
        ),
        f"Efficiency at 10 % load, {case.where},",
        f"point {point.name}",
        question=question,
        function=_TEN,
    )


def _judge(adapter: Adapter, item: Judged, points: Sequence[Point], out: RuleFindings) -> None:
    """Average and 10 % point of one loading."""
    supply = rule_supply(item.rule)
    alike = tuple(
        point
        for point in points
        if point.key == item.key
        and point.on_supply(supply.voltage, supply.frequency, supply.tolerance)
    )
    gap = label_gap(adapter, item.rule, points)
    case = _Case(adapter, item, alike, cables_of(adapter, item.rule), gap)
    out.add(_average(case), item.rule, "average", case.name)
    if item.rule == "eu-2025-2052":
        out.add(_ten_percent(case), item.rule, "10 %", case.name)


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
        question = f"Does the average efficiency meet {title(rule)}?"
        reason = out_of_scope(rule, adapter.nameplate.rated_power) or beyond_cables(adapter, rule)
        if reason:
            out.findings.append(no_limit(SECTION, question, reason, _AVERAGE))
            continue
        supply = rule_supply(rule)
        measured = {
            point.key
            for point in points
            if point.on_supply(supply.voltage, supply.frequency, supply.tolerance)
        }
        judged = judged_loadings(adapter, rule, measured)
        if not judged:
            out.findings.append(not_measured(SECTION, question, _unlisted(adapter), _AVERAGE))
        for item in judged:
            _judge(adapter, item, points, out)
    return out


def beyond_cables(adapter: Adapter, rule: str) -> str:
    """Why a rule says nothing of a port's current, as a sentence; empty if it does."""
    published = rows("efficiency", "cables", rule=rule)
    if not published:
        return ""
    most = max(row["up_to"] for row in published)
    port, current = max(
        ((port.name, mode.current) for port in adapter.ports for mode in port.modes),
        key=lambda item: item[1],
        default=("", 0.0),
    )
    if current <= most:
        return ""
    return (
        f"{title(rule)} names the cable for ports of up to {most:g} A; {port} gives {current:g} A."
    )
