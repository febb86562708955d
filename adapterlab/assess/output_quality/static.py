"""Voltage of every output at every load: windows, resistance, set point."""

from typing import Any

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
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
from adapterlab.output_quality import (
    VOLTAGE_STEP,
    cable_drop,
    fit_output_resistance,
    fit_set_point,
    largest_cable_resistance,
    load_regulation,
    programmable_steps,
    static_error,
    voltage_window,
)
from adapterlab.published import rows
from adapterlab.uncertainty import reading_uncertainty

SECTION = "output_quality"
POINT_COLUMNS = (
    "port", "mode", "kind", "connector", "set_voltage", "output_current", "output_voltage",
    "standard_uncertainty", "error", "mains_voltage", "mains_frequency", "ripple", "power",
    "alone", "line",
)  # fmt: skip
RESISTANCE_COLUMNS = (
    "port", "mode", "resistance", "resistance_uncertainty", "open_voltage", "regulation",
    "largest_current",
)  # fmt: skip
_KIND = {"fixed": "fixed", "adjustable": "programmable"}
_MODES = {"fixed": "fixed modes", "programmable": "adjustable mode"}


def spread_of(specimen: Specimen, measures: str, values: Any) -> Any:
    """Standard uncertainties of many readings of one quantity; 0 if no instrument is listed."""
    meters = specimen.adapter.instruments_for(measures)
    if len(meters) == 1:
        meter = meters[0]
        return reading_uncertainty(
            values,
            meter.fraction_of_reading,
            meter.fraction_of_full_scale,
            meter.full_scale,
            meter.resolution,
        )
    return np.array(
        [specimen.reading(measures, value, "V").standard_uncertainty for value in values]
    )


def mains_groups(voltages: pd.Series) -> pd.Series:
    """Number of the mains each voltage belongs to; a gap of more than 4 % begins another one."""
    ordered = voltages.sort_values()
    number = (ordered.pct_change().fillna(0.0) > 0.04).cumsum()
    return number.reindex(voltages.index)


def resolution_of(specimen: Specimen, measures: str) -> float:
    """Coarsest step of the meters of a quantity; 0 if none is listed."""
    steps = [meter.resolution for meter in specimen.adapter.instruments_for(measures)]
    return max(steps, default=0.0)


def points_of(specimen: Specimen) -> pd.DataFrame:
    """Every loaded output of the sweep whose set voltage is known.

    Returns
    -------
    pandas.DataFrame
        Columns as in `POINT_COLUMNS`: ``kind`` ``fixed`` or ``programmable``, ``error`` [1],
        ``alone`` whether no other port was loaded, ``power`` of all ports of the point [W], the
        others in SI units.
    """
    table = specimen.load_sweep.copy()
    if table.empty:
        return pd.DataFrame(columns=list(POINT_COLUMNS))
    known = {
        (port.name, mode.name): (port.connector, _KIND[mode.kind], mode.voltage)
        for port in specimen.adapter.ports
        for mode in port.modes
    }
    keys = list(zip(table["port"], table["mode"], strict=True))
    nothing: tuple[str, str, float | None] = ("", "fixed", None)
    found = [known.get(key, nothing) for key in keys]
    table["connector"] = [entry[0] for entry in found]
    table["kind"] = [entry[1] for entry in found]
    nominal = pd.Series([entry[2] for entry in found], index=table.index, dtype=float)
    table["set_voltage"] = table["set_voltage"].fillna(nominal)
    table["ripple"] = table["ripple_pp"]
    output = table["output_voltage"] * table["output_current"]
    table["power"] = output.groupby(table["point"]).transform("sum")
    table["alone"] = output.groupby(table["point"]).transform("size") == 1
    table = table[table["set_voltage"] > 0].reset_index(drop=True)
    table["error"] = static_error(table["set_voltage"], table["output_voltage"])
    table["standard_uncertainty"] = spread_of(specimen, "output voltage", table["output_voltage"])
    return table[list(POINT_COLUMNS)]


def limits_of(row: Any) -> list[Limit]:
    """Published bounds of one point's voltage, lower first; none for an unknown connector."""
    if row.connector == "USB-C":
        window = voltage_window(row.set_voltage, row.kind)
        found = []
        for side, end in (("lower", window.static_minimum), ("upper", window.static_maximum)):
            known = rows(SECTION, "windows", kind=row.kind, side=side, band="static")[0]
            name = f"the {row.kind} window of USB Power Delivery"
            found.append(Limit.published(known, end, "V", side, name))
        return found
    if row.connector:
        known = rows(SECTION, "minimum_voltage", connector="other")[0]
        end = row.set_voltage * known["fraction"]
        return [Limit.published(known, end, "V", "lower", known["standard"])]
    return []


def _margin(row: Any, limit: Limit) -> float:
    """Distance from a limit as a fraction of the set voltage, negative beyond it."""
    sign = 1 if limit.kind == "lower" else -1
    return float(sign * (row.output_voltage - limit.value) / row.set_voltage)


def _errors(group: pd.DataFrame) -> str:
    """Range of the static error of each set voltage, in words."""
    ranges = group.groupby("set_voltage")["error"].agg(["min", "max"])
    said = [
        f"{volts:g} V: {row['min']:+.1%} to {row['max']:+.1%}" for volts, row in ranges.iterrows()
    ]
    return f"Error over all loads at {'; '.join(said)}."


def window_findings(points: pd.DataFrame) -> list[Finding]:
    """For each port and kind of mode, the point nearest to an end of its window."""
    found = []
    for (port, kind), group in points.groupby(["port", "kind"], sort=False):
        ends = group.groupby("set_voltage")["output_voltage"].agg(["idxmin", "idxmax"])
        judged = [
            (_margin(row, limit), row, limit)
            for row in group.loc[np.unique(ends.to_numpy())].itertuples()
            for limit in limits_of(row)
        ]
        if not judged:
            continue
        _, row, limit = min(judged, key=lambda entry: entry[0])
        note = _errors(group)
        note += " Taken as measured at the port itself; after a cable its drop counts too."
        if row.connector == "USB-C":
            note += " From 14 Dec 2028 Regulation (EU) 2025/2052 asks for 95 % at least as well."
        else:
            note += " That regulation applies from 14 Dec 2028."
        found.append(
            against_limit(
                Value(row.output_voltage, row.standard_uncertainty, "V"),
                limit,
                f"The voltage of {port} nearest to an end of its window ({len(group)} points; set "
                f"to {row.set_voltage:g} V, at {row.output_current:.2f} A)",
                section=SECTION,
                question=f"Does {port} keep its voltage ({_MODES[str(kind)]})?",
                origin=f"load_sweep.csv line {row.line}",
                function="output_quality.voltage_window",
                figure="output_quality_voltages",
                note=note,
            )
        )
    return found


def resistances_of(specimen: Specimen, points: pd.DataFrame) -> pd.DataFrame:
    """Output resistance and regulation of each mode with at least three loads.

    Returns
    -------
    pandas.DataFrame
        Columns as in `RESISTANCE_COLUMNS`, SI units.
    """
    step = resolution_of(specimen, "output voltage")
    result = []
    fixed = points[(points["kind"] == "fixed") & (points["output_voltage"] > 0)]
    for (port, mode), group in fixed.groupby(["port", "mode"], sort=False):
        current, volts = group["output_current"].to_numpy(), group["output_voltage"].to_numpy()
        if len(np.unique(current)) < 3:
            continue
        line = fit_output_resistance(current, volts, resolution=step)
        result.append(
            (
                port,
                mode,
                line.resistance,
                line.resistance_uncertainty,
                line.open_voltage,
                load_regulation(current, volts),
                float(current.max()),
            )
        )
    return pd.DataFrame(result, columns=list(RESISTANCE_COLUMNS))


def resistance_findings(table: pd.DataFrame) -> list[Finding]:
    """One finding for each port: its resistance, beside what a cable may add."""
    found = []
    for port, group in table.groupby("port", sort=False):
        row = group.loc[group["largest_current"].idxmax()]
        value = Value(row["resistance"], row["resistance_uncertainty"], "Ω")
        current = float(row["largest_current"])
        cable = largest_cable_resistance(3.0 if current <= 3.05 else 5.0)
        own = Value(cable_drop(current, max(value.value, 0.0)), 0.0, "V")
        share = cable / (cable + max(value.value, 0.0))
        sentence = (
            f"{port} behaves like a source with {value} in series: at {current:.2f} A it loses "
            f"{own.short} itself, and a cable as poor as the USB-C rules permit "
            f"loses {Value(cable_drop(current, cable), 0.0, 'V').short} more, "
            f"{100 * share:.0f} % of both."
        )
        spread = group["resistance"].max() - group["resistance"].min()
        note = f"Load regulation {row['regulation']:.1%} at {row['mode']}."
        if len(group) > 1:
            note += f" Its modes differ by {Value(spread, 0.0, 'Ω').short}."
        found.append(
            Finding(
                section=SECTION,
                question=f"How far does the voltage of {port} fall under load?",
                judgement=rules.result(),
                sentence=sentence,
                reading=value,
                origin="load_sweep.csv",
                function="output_quality.fit_output_resistance",
                figure="output_quality_voltages",
                note=note,
            )
        )
    return found


def set_points_of(points: pd.DataFrame, resistances: pd.DataFrame) -> pd.DataFrame:
    """Readings of adjustable modes with their set-point error, the port's own drop added back."""
    table = points[points["kind"] == "programmable"].copy()
    if table.empty:
        return table.assign(set_point_error=[])
    own = resistances.groupby("port")["resistance"].median() if len(resistances) else pd.Series()
    drop = table["port"].map(own).fillna(0.0).astype(float) * table["output_current"]
    table["set_point_error"] = table["output_voltage"] + drop - table["set_voltage"]
    return table.reset_index(drop=True)


def set_point_findings(specimen: Specimen, table: pd.DataFrame) -> list[Finding]:
    """Set-point error across the range of each adjustable mode."""
    found = []
    for (port, mode), group in table.groupby(["port", "mode"], sort=False):
        question = f"How well does {port} hit the voltage asked for ({mode})?"
        if group["set_voltage"].nunique() < 2:
            needed = "load_sweep.csv with that mode at two set voltages or more."
            found.append(not_measured(SECTION, question, needed, "output_quality.fit_set_point"))
            continue
        corrected = group["set_voltage"] + group["set_point_error"]
        fit = fit_set_point(group["set_voltage"], corrected)
        worst = group.loc[group["set_point_error"].abs().idxmax()]
        value = Value(fit.largest, float(worst["standard_uncertainty"]), "V")
        plate = specimen.adapter.mode(str(port), str(mode))
        choice = ""
        if plate is not None and plate.minimum_voltage and plate.maximum_voltage:
            count = programmable_steps(plate.minimum_voltage, plate.maximum_voltage)
            choice = f" of the {count} settings between {plate.minimum_voltage:g} and "
            choice += f"{plate.maximum_voltage:g} V"
        offset = f" and {fit.offset * 1e3:+.0f} mV" if abs(fit.offset) >= 0.5e-3 else ""
        verb = "fit" if offset else "fits"
        found.append(
            Finding(
                section=SECTION,
                question=question,
                judgement=rules.result(),
                sentence=(
                    f"With its own drop added back, {port} misses the voltage asked for by at most "
                    f"{value}, at {worst['set_voltage']:g} V: {fit.steps:.1f} steps of "
                    f"{VOLTAGE_STEP * 1e3:g} mV{choice}; {100 * fit.gain:+.2f} % of the voltage"
                    f"{offset} {verb} it best."
                ),
                reading=value,
                origin=f"load_sweep.csv line {worst['line']}",
                function="output_quality.fit_set_point",
                figure="output_quality_set_points",
            )
        )
    return found
