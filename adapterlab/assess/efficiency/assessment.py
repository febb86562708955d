"""Efficiency of a dossier: averages, losses and no-load power against published rules."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.efficiency.no_load import (
    against_no_load,
    meter_finding,
)
from adapterlab.assess.efficiency.rules import (
    SECTION,
    against_rules,
)
from adapterlab.assess.efficiency.use import second_meter_findings, use_findings
from adapterlab.assess.model.meters import Measured
from adapterlab.assess.model.no_load import (
    COLUMNS as NO_LOAD_COLUMNS,
)
from adapterlab.assess.model.no_load import (
    no_load_readings,
)
from adapterlab.assess.model.points import (
    Loading,
    main_loading,
    nearest,
    possible_loadings,
)
from adapterlab.assess.model.specimen import Specimen, specimen_of
from adapterlab.assess.report.finding import (
    Finding,
    not_measured,
)
from adapterlab.assess.report.ledger import (
    Ledger,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier import Dossier
from adapterlab.efficiency import (
    efficiency_spread,
)

_QUESTION = "How much of the mains power reaches the device?"
_POINT_COLUMNS = [
    "mains",
    "loading",
    "point",
    "load_fraction",
    "output_power",
    "input_power",
    "efficiency",
    "standard_uncertainty",
    "loss",
    "loss_uncertainty",
]
_JUDGED_COLUMNS = [
    "rule",
    "quantity",
    "loading",
    "value",
    "standard_uncertainty",
    "limit",
    "word",
]


@dataclass(frozen=True)
class EfficiencyAssessment:
    """What the load sweep and the no-load readings say.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    loadings : tuple of Loading
        Points by mains and by what was loaded, with averages and loss curves.
    points : pandas.DataFrame
        One row for each point: ``mains``, ``loading``, ``point``, ``load_fraction`` [1],
        ``output_power`` and ``input_power`` [W], ``efficiency`` and its ``standard_uncertainty``
        [1], ``loss`` and ``loss_uncertainty`` [W].
    no_load : pandas.DataFrame
        One row for each reading: ``mains``, ``cable``, ``power`` and ``standard_uncertainty`` [W].
    judged : pandas.DataFrame
        One row for each verdict: ``rule``, ``quantity`` (``average``, ``10 %``, ``no load``),
        ``loading``, ``value``, ``standard_uncertainty`` and ``limit`` [1 or W], ``word``.
    name : str
        The adapter.
    """

    findings: Ledger
    loadings: tuple[Loading, ...]
    points: pd.DataFrame
    no_load: pd.DataFrame
    judged: pd.DataFrame
    name: str

    @property
    def averages(self) -> pd.DataFrame:
        """Loadings with an average: ``mains``, ``loading``, ``average``, ``average_uncertainty``,
        ``ten_percent``, ``ten_percent_uncertainty``, ``spread`` across their loads [1].
        """
        found = []
        for loading in self.loadings:
            if loading.average is None:
                continue
            low = loading.ten_percent
            spread = efficiency_spread([point.efficiency().value for point in loading.points])
            found.append(
                {
                    "mains": loading.mains,
                    "loading": loading.name,
                    "average": loading.average.value,
                    "average_uncertainty": loading.average.standard_uncertainty,
                    "ten_percent": low.value if low else np.nan,
                    "ten_percent_uncertainty": low.standard_uncertainty if low else np.nan,
                    "spread": spread.range,
                }
            )
        columns = ["mains", "loading", "average", "average_uncertainty", "ten_percent"]
        return pd.DataFrame(found, columns=[*columns, "ten_percent_uncertainty", "spread"])


def _points(values: Measured) -> str:
    """A difference of efficiencies, as said aloud."""
    return str(values.shown("%")).replace("%", "percentage points")


def _info(question: str, sentence: str, function: str, reading: Value, **rest: Any) -> Finding:
    return Finding(SECTION, question, rules.result(), sentence, function, reading, **rest)


def _extremes(loadings: Sequence[Loading]) -> list[Finding]:
    """The worst and the best point, and the mode that changes most with load."""
    every = [(loading, point) for loading in loadings for point in loading.points]
    every.sort(key=lambda item: item[1].efficiency().value)
    texts = []
    for loading, point in (every[0], every[-1]):
        value = point.efficiency().shown("%")
        watts = f"{point.output_power:.3g} W"
        texts.append(f"{value} at {watts} from {loading.name} on {loading.mains}")
    found = [
        _info(
            "Where is the efficiency lowest and highest?",
            f"Efficiency is lowest, {texts[0]}, and highest, {texts[1]}.",
            "efficiency.efficiency",
            every[0][1].efficiency().shown("%"),
            origin=f"load_sweep.csv points {every[0][1].name} and {every[-1][1].name}",
            figure="efficiency_load",
        )
    ]
    spreads = []
    for loading in loadings:
        ordered = sorted(loading.points, key=lambda point: point.efficiency().value)
        if len(ordered) > 1 and loading.average is not None:
            spreads.append((ordered[-1].efficiency() - ordered[0].efficiency(), loading, ordered))
    if spreads:
        most, loading, ordered = max(spreads, key=lambda item: item[0].value)
        found.append(
            _info(
                "How much does efficiency change with load?",
                f"Efficiency changes most with load for {loading.name} on {loading.mains}: by "
                f"{_points(most)}, from {ordered[0].output_power:.3g} W to "
                f"{ordered[-1].output_power:.3g} W.",
                "efficiency.efficiency_spread",
                most.shown("%"),
                origin=f"load_sweep.csv points {ordered[0].name} and {ordered[-1].name}",
                figure="efficiency_load",
            )
        )
    return found


def _modes(loadings: Sequence[Loading], several_ports: bool) -> list[Finding]:
    """Spread of the averages across modes with one port loaded, one finding for each mains."""
    found = []
    for mains in dict.fromkeys(loading.mains for loading in loadings):
        alike = [
            (loading.average, loading.name)
            for loading in loadings
            if loading.mains == mains and len(loading.key) == 1 and loading.average is not None
        ]
        if len(alike) < 2:
            continue
        alike.sort(key=lambda item: item[0].value)
        apart = alike[-1][0] - alike[0][0]
        listed = ", ".join(f"{name} {average.shown('%')}" for average, name in alike)
        sentence = f"On {mains} the average efficiencies are {listed}: {_points(apart)} apart."
        if several_ports:
            sentence += (
                " No limit applies to them, because the rules load all ports of an adapter "
                "that gives several voltages at once."
            )
        found.append(
            _info(
                f"How much do the modes differ on {mains}?",
                sentence,
                "efficiency.efficiency_spread",
                apart.shown("%"),
                origin="load_sweep.csv",
                figure="efficiency_averages",
            )
        )
    return found


def _losses(loadings: Sequence[Loading]) -> list[Finding]:
    """The three terms of the loss curve that reaches the most power."""
    loading = main_loading(loadings)
    if loading is None or loading.curve is None:
        return [
            not_measured(
                SECTION,
                "Where do the watts go as the load grows?",
                "at least four load points of one mode on one mains.",
                "efficiency.fit_loss_curve",
            )
        ]
    curve, spread = loading.curve, np.sqrt(np.diag(loading.curve.covariance))
    fixed = Value(curve.fixed, float(spread[0]), "W")
    share = Value(curve.proportional, float(spread[1]), "%")
    top = curve.largest_power
    square = Value(curve.quadratic * top**2, float(spread[2]) * top**2, "W")
    return [
        _info(
            "Where do the watts go as the load grows?",
            f"With {loading.name} on {loading.mains} the adapter turns {fixed} into heat at any "
            f"load, {share} of what it delivers, and a part that grows with the square and "
            f"reaches {square} at {top:.3g} W.",
            "efficiency.fit_loss_curve",
            fixed,
            origin="load_sweep.csv",
            figure="efficiency_losses",
            note="The three terms are correlated: their sum is known better than each of them.",
        )
    ]


def _two_mains(loadings: Sequence[Loading]) -> list[Finding]:
    """Full-load efficiency of the most powerful loading on its highest and lowest mains."""
    pairs = []
    for loading in loadings:
        top = nearest(loading.points, loading.reference, 1.0, 0.02)
        if top is not None:
            pairs.append((loading, top))
    best = None
    for high, first in pairs:
        for low, second in pairs:
            lower = second.mains_voltage < 0.9 * first.mains_voltage
            if high.key == low.key and lower:
                power = min(first.output_power, second.output_power)
                if best is None or power > best[0]:
                    best = (power, high, low, first, second)
    if best is None:
        return []
    _, high, low, first, second = best
    apart = second.efficiency() - first.efficiency()
    direction = "lower" if apart.value < 0 else "higher"
    size = Measured(abs(apart.value), apart.shared, apart.independent)
    reason = " The same power at a lower voltage takes more current, through the same parts."
    return [
        _info(
            "Does the mains voltage matter?",
            f"At full load of {high.name} efficiency is {direction} by {_points(size)} on "
            f"{low.mains} than on {high.mains}.{reason if apart.value < 0 else ''}",
            "efficiency.efficiency",
            apart.shown("%"),
            origin=f"load_sweep.csv points {first.name} and {second.name}",
            figure="efficiency_averages",
        )
    ]


def _fixed_and_no_load(loadings: Sequence[Loading], readings: pd.DataFrame) -> list[Finding]:
    """The fixed loss under load beside the power without load: skipping of cycles."""
    loading = main_loading(loadings)
    if loading is None or loading.curve is None:
        return []
    alike = readings[(readings["mains"] == loading.mains) & (readings["cable"] == "none")]
    if alike.empty:
        return []
    row = alike.iloc[0]
    fixed = Value(loading.curve.fixed, float(np.sqrt(loading.curve.covariance[0, 0])), "W")
    idle = Value(row["power"], row["standard_uncertainty"], "W")
    spread = float(np.hypot(fixed.standard_uncertainty, idle.standard_uncertainty))
    sentence = (
        f"Under load the fixed part of the loss is {fixed} ({loading.name} on {loading.mains}); "
        f"with nothing plugged in the adapter draws {idle}"
    )
    if fixed.value - idle.value > 2 * spread:
        sentence += ", as a converter does that skips most of its switching cycles while idle."
    elif idle.value - fixed.value > 2 * spread:
        sentence += ": something draws power that the loss under load does not show."
    else:
        sentence += ": the same, as of a converter that never rests."
    return [
        _info(
            "Does the adapter rest when nothing is plugged in?",
            sentence,
            "efficiency.fit_loss_curve",
            idle,
            origin=f"no_load.csv line {row['line']}",
            figure="efficiency_no_load",
        )
    ]


def _table(loadings: Sequence[Loading]) -> pd.DataFrame:
    found = []
    for loading in loadings:
        for point in loading.points:
            share, loss = point.efficiency(), point.loss()
            found.append(
                (
                    loading.mains,
                    loading.name,
                    point.name,
                    loading.fraction(point),
                    point.output_power,
                    point.power.value,
                    share.value,
                    share.standard_uncertainty,
                    loss.value,
                    loss.standard_uncertainty,
                )
            )
    return pd.DataFrame(found, columns=_POINT_COLUMNS)


def _left_out(names: Sequence[str]) -> list[Finding]:
    """What to say of points at which more comes out than goes in."""
    if not names:
        return []
    needed = (
        f"points {', '.join(names)} give more than they take; they are left out. Check the meters."
    )
    return [not_measured(SECTION, _QUESTION, needed, "efficiency.efficiency")]


def assess(dossier: Dossier | Specimen) -> EfficiencyAssessment:
    """Efficiency of one adapter, judged.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    EfficiencyAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    loadings, points, left_out = possible_loadings(specimen)
    findings = _left_out(left_out)
    judged = against_rules(specimen.adapter, points)
    no_load = no_load_readings(specimen)
    against_no_load(specimen, no_load, judged)
    if not loadings:
        needed = (
            "load_sweep.csv with mains voltage and frequency, input power, and voltage and current "
            "of each loaded port, at 100, 75, 50, 25 and 10 % of the nameplate's current."
        )
        findings.append(not_measured(SECTION, _QUESTION, needed, "efficiency.efficiency"))
    else:
        findings += _extremes(loadings)
        findings += _modes(loadings, len(specimen.adapter.ports) > 1)
        findings += _losses(loadings) + _two_mains(loadings)
        findings += _fixed_and_no_load(loadings, no_load)
        findings += use_findings(specimen, main_loading(loadings), no_load)
        findings += second_meter_findings(specimen)
    return EfficiencyAssessment(
        Ledger.of(judged.findings + meter_finding(no_load) + findings),
        tuple(loadings),
        _table(loadings),
        no_load[NO_LOAD_COLUMNS],
        pd.DataFrame(judged.rows, columns=_JUDGED_COLUMNS),
        specimen.name,
    )
