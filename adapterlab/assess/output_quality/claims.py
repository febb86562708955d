"""What the label claims: modes offered, input current, marks; how long the bulk capacitor holds."""

import re
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from adapterlab import judgement as rules
from adapterlab.assess.model.feeds import (
    BRIDGE_DROP,
    bridge_drop,
    bulk_capacitance,
    bulk_inputs,
    bulk_voltage,
)
from adapterlab.assess.model.inputs import between
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.output_quality.static import SECTION, mains_groups
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.judgement import required
from adapterlab.output_quality import expected_modes, hold_up_time
from adapterlab.published import rows
from adapterlab.uncertainty import propagate

MODE_COLUMNS = ("port", "voltage", "expected", "offered", "measured")
_ROUNDING = 0.99


def modes_of(specimen: Specimen, points: pd.DataFrame) -> pd.DataFrame:
    """Fixed voltages of each USB-C port: expected at its power, offered, and measured.

    Returns
    -------
    pandas.DataFrame
        ``port``, ``voltage`` [V], ``expected``, ``offered`` and ``measured`` current [A]; NaN
        where there is none.
    """
    result = []
    for port in specimen.adapter.ports:
        offered = {mode.voltage: mode.current for mode in port.modes if mode.voltage is not None}
        if port.connector != "USB-C" or not offered:
            continue
        power = max(voltage * current for voltage, current in offered.items())
        expected: dict[float, float] = {}
        try:
            rules = expected_modes(power)
            expected = dict(zip(rules.voltage.tolist(), rules.current.tolist(), strict=True))
        except ValueError:
            pass  # beyond the reach of the rules: nothing is expected, and the finding says so
        own = points[(points["port"] == port.name) & (points["kind"] == "fixed")]
        read = own.groupby("set_voltage")["output_current"].max()
        for voltage in sorted(set(offered) | set(expected)):
            row = (expected.get(voltage), offered.get(voltage), read.get(voltage))
            result.append((port.name, voltage, *row))
    return pd.DataFrame(result, columns=list(MODE_COLUMNS)).astype(
        dict.fromkeys(MODE_COLUMNS[1:], float)
    )


def mode_findings(table: pd.DataFrame) -> list[Finding]:
    """For each USB-C port, whether it offers what its power makes one expect."""
    rule = rows(SECTION, "power_rules")[0]
    found = []
    for port, group in table.groupby("port", sort=False):
        wanted = group[group["expected"].notna()]
        offered = group["offered"].fillna(0.0)
        missing = wanted[offered[wanted.index] < _ROUNDING * wanted["expected"]]
        power = (group["voltage"] * offered).max()
        listed = ", ".join(f"{v:g} V {a:g} A" for v, a in _pairs(group, "offered"))
        question = f"Does {port} offer the voltages its power makes one expect?"
        if wanted.empty:
            found.append(
                Finding(
                    section=SECTION,
                    question=question,
                    judgement=rules.result(),
                    sentence=f"{port} offers {listed}; the rules for fixed voltages up to 20 V do "
                    f"not reach {power:.3g} W.",
                    function="output_quality.expected_modes",
                    origin="adapter.toml",
                    figure="output_quality_modes",
                )
            )
            continue
        sentence = f"{port} offers {listed}; of a port with {power:.3g} W the power rules expect "
        sentence += ", ".join(f"{v:g} V {a:.3g} A" for v, a in _pairs(wanted, "expected"))
        if missing.empty:
            sentence += ": meets."
        else:
            names = ", ".join(
                f"{row.voltage:g} V {row.expected:.3g} A" for row in missing.itertuples()
            )
            sentence += f": falls short, {names} is not there."
        unread = group[group["offered"].notna() & group["measured"].isna()]
        note = ""
        if not unread.empty:
            names = ", ".join(f"{volts:g} V" for volts in unread["voltage"])
            note = f"As the label has it; not loaded on the bench: {names}."
        count = len(wanted) - len(missing)
        found.append(
            Finding(
                section=SECTION,
                question=question,
                judgement=required(missing.empty),
                sentence=sentence,
                function="output_quality.expected_modes",
                reading=Value(float(count), 0.0, ""),
                limit=Limit.published(
                    rule, float(len(wanted)), "", "lower", "IEC 62680-1-2 (modes offered)"
                ),
                origin="adapter.toml",
                figure="output_quality_modes",
                note=note,
            )
        )  # fmt: skip
    return found


def _pairs(group: pd.DataFrame, column: str) -> list[tuple[float, float]]:
    known = group[group[column].notna()]
    return list(zip(known["voltage"], known[column], strict=True))


def input_current_finding(specimen: Specimen) -> Finding:
    """Input current at the lowest mains voltage on the label against the label's figure."""
    question = "Is the input current on the label enough at the lowest mains voltage?"
    plate = specimen.adapter.nameplate
    table = specimen.load_sweep
    table = table[table["mains_current"].notna()]
    lowest = plate.input_voltage_minimum
    function = "uncertainty.conformity_probability"
    if plate.input_current is None or lowest is None or table.empty:
        needed = (
            "[nameplate] input_current and input_voltage_minimum, and load_sweep.csv with "
            "mains_current at a mains voltage near the lowest."
        )
        return not_measured(SECTION, question, needed, function)
    near = table[table["mains_voltage"] <= 1.03 * table["mains_voltage"].min()]
    row = near.loc[near["mains_current"].idxmax()]
    ratio = max(float(row["mains_voltage"]) / lowest, 1.0)
    if ratio > 1.3:
        needed = (
            f"load_sweep.csv with mains_current at {lowest:g} V or a little above; the lowest so "
            f"far is {row['mains_voltage']:.0f} V."
        )
        return not_measured(SECTION, question, needed, function)
    read = specimen.reading("mains current", float(row["mains_current"]), "A")
    drift = rows(SECTION, "practice", name="spread of power factor")[0]["value"]
    share = drift / np.sqrt(3) * min(1.0, (ratio - 1) / 0.15)
    value = read.value * ratio
    spread = float(np.hypot(ratio * read.standard_uncertainty, share * value))
    limit = Limit(
        plate.input_current, "A", "upper", "the label", "input current on the nameplate", "noted"
    )
    power = float(row["input_power"])
    subject = f"The input current at {lowest:g} V and {power:.1f} W"
    if ratio > 1.005:
        subject += f", reckoned from {read} at {row['mains_voltage']:.0f} V,"
    return against_limit(
        Value(value, spread if read.standard_uncertainty else 0.0, "A"),
        limit,
        subject,
        section=SECTION,
        question=question,
        origin=f"load_sweep.csv line {row['line']}",
        function=function,
        note="Standards usually allow a tenth more than the label (from memory); the heaviest load "
        "measured counts here.",
    )


def mark_finding(specimen: Specimen) -> Finding:
    """Marks that the label's own claims call for."""
    plate = specimen.adapter.nameplate
    question = "Does the label bear the marks that its claims call for?"
    if not plate.marks and plate.protection_class is None:
        needed = "[nameplate] marks and protection_class, read from the label."
        return not_measured(SECTION, question, needed, "verdict.limit_word")
    marks = [mark.lower() for mark in plate.marks]
    wanted = {
        "the efficiency level in Roman numerals": any(
            re.search(r"level [ivx]+", mark) for mark in marks
        )
    }
    if plate.protection_class == "II":
        square = any("double square" in mark or "double insul" in mark for mark in marks)
        wanted = {"the double square of protection class II": square} | wanted
    there = [name for name, seen in wanted.items() if seen]
    lacking = [name for name, seen in wanted.items() if not seen]
    sentence = f"The label bears {len(there)} of {len(wanted)} marks that one would look for"
    sentence += f": {' and '.join(there)}" if there else ""
    sentence += f"; it lacks {' and '.join(lacking)}." if lacking else "."
    return Finding(
        section=SECTION,
        question=question,
        judgement=rules.result(),
        sentence=sentence,
        function="verdict.limit_word",
        reading=Value(float(len(there)), 0.0, ""),
        origin="adapter.toml",
        note="A mark is a claim of the maker; a mark that is missing is a gap of the label, not of "
        "the inside.",
    )


def hold_up_findings(specimen: Specimen) -> list[Finding]:
    """How long the bulk capacitor carries the heaviest load measured when the mains goes."""
    question = "How long does the output outlast the mains?"
    function = "output_quality.hold_up_time"
    table, bulk = specimen.load_sweep, bulk_inputs(specimen)
    if not bulk or table.empty:
        needed = (
            "[[parts]] with the role 'bulk capacitor' and its value, and load_sweep.csv with input "
            "power."
        )
        return [not_measured(SECTION, question, needed, function)]
    ends = [rows(SECTION, "practice", name=f"lowest bulk voltage, {word}")[0]["value"]
            for word in ("from", "to")]  # fmt: skip
    found = []
    for _, group in table.groupby(mains_groups(table["mains_voltage"]), sort=False):
        row = group.loc[group["input_power"].idxmax()]
        volts, hertz = float(row["mains_voltage"]), float(row["mains_frequency"])
        power = float(row["input_power"])

        def held(
            end_voltage: Any, share: Any, volts: float = volts, hertz: float = hertz,
            power: float = power, **drawn: Any,
        ) -> Any:  # fmt: skip
            capacitance, taken = bulk_capacitance(specimen, drawn), share * power
            valley = bulk_voltage((volts, hertz), drawn[BRIDGE_DROP], taken, capacitance)
            return hold_up_time(capacitance, valley, end_voltage, taken)

        inputs = {name: item.distribution for name, item in (bulk | bridge_drop()).items()} | {
            "end_voltage": between(*ends),
            # Bridge, choke and limiter take some of the input power before the capacitor.
            "share": stats.uniform(0.95, 0.04),
        }
        where = f"at {volts:.0f} V, {hertz:.0f} Hz and {power:.1f} W input"
        try:
            result = propagate(held, inputs, draws=1024)
        except ValueError as error:
            reason = str(error).split(":")[0].split(", got")[0].replace("_", " ")
            found.append(not_measured(SECTION, question, f"{where}: {reason}.", function))
            continue
        low, high = result.interval()
        value = Value(result.mean, result.standard_uncertainty, "s", (low, high))
        half = 0.5 / hertz
        found.append(
            Finding(
                section=SECTION,
                question=f"How long does the output outlast the mains {where}?",
                judgement=rules.result(),
                sentence=(
                    f"If the mains goes in the valley of the bulk voltage {where}, the parts "
                    f"predict that the output lasts another {value}; half a period of the mains is "
                    f"{half * 1e3:.1f} ms."
                ),
                prediction=value,
                function=function,
                note=f"The converter is taken to let go between {ends[0]:g} and {ends[1]:g} V "
                "(common practice).",
            )
        )
    return found
