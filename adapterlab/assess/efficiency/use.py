"""Energy and cost of a year, and whether two meters at the mains agree."""

import numpy as np
import pandas as pd

from adapterlab import judgement as rules
from adapterlab.assess.model.instruments import reading_with
from adapterlab.assess.model.points import Loading
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Profile
from adapterlab.efficiency import LossCurve, yearly_use

SECTION = "efficiency"
_KWH = 3.6e6
_QUESTION = "What does a year of use take?"
_FUNCTION = "efficiency.yearly_use"


def _input_power(power: float, curve: LossCurve, idle: float | None) -> float | None:
    """Power drawn at an output power, from the loss curve or the no-load reading."""
    if power == 0:
        return idle
    if power > curve.largest_power * 1.05:
        return None
    return power + float(curve.loss(power))


def _profile(specimen: Specimen, profile: Profile, loading: Loading, idle: float | None) -> Finding:
    curve = loading.curve
    assert curve is not None
    question = f"What does a year of {profile.name} take?"
    drawn = [_input_power(use.output_power, curve, idle) for use in profile.uses]
    if any(power is None for power in drawn):
        needed = (
            f"the loads of the profile {profile.name!r} within the load sweep (up to "
            f"{curve.largest_power:.3g} W), and no_load.csv for hours without load."
        )
        return not_measured(SECTION, question, needed, _FUNCTION)
    energy = specimen.adapter.energy
    try:
        year = yearly_use(
            [3600 * use.hours for use in profile.uses],
            [power for power in drawn if power is not None],
            [use.output_power for use in profile.uses],
            (energy.price_per_kwh or 0.0) / _KWH,
            (energy.carbon_per_kwh or 0.0) / _KWH,
        )
    except ValueError as error:
        return not_measured(SECTION, question, f"a profile that makes sense: {error}.", _FUNCTION)
    sentence = (
        f"A year of {profile.name} draws {year.input_energy / _KWH:.3g} kWh, of which "
        f"{year.lost_energy / _KWH:.2g} kWh become heat in the adapter"
    )
    stated = []
    if energy.price_per_kwh:
        stated.append(f"{year.cost:.2f} {energy.currency or 'of the stated currency'}")
    if energy.carbon_per_kwh:
        stated.append(f"{year.carbon:.2g} kg of carbon dioxide")
    if stated:
        sentence += f"; with the figures stated in the dossier that is {' and '.join(stated)}"
    return Finding(
        SECTION,
        question,
        rules.result(),
        sentence + ".",
        _FUNCTION,
        Value(year.input_energy / _KWH, 0.0, "kWh"),
        origin="adapter.toml, profiles; load_sweep.csv; no_load.csv",
        figure="efficiency_losses",
        note=f"Price and carbon: {energy.source or 'as stated in the dossier'}." if stated else "",
    )


def use_findings(
    specimen: Specimen, loading: Loading | None, no_load: pd.DataFrame
) -> list[Finding]:
    """Energy of a year for each of the user's profiles.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    loading : Loading or None
        The loading whose loss curve is taken.
    no_load : pandas.DataFrame
        Readings without load.

    Returns
    -------
    list of Finding
        One for each profile; one that says what is needed if there is none.
    """
    profiles = specimen.adapter.profiles
    if not profiles or loading is None or loading.curve is None:
        needed = (
            "[[profiles]] with the hours of a year at each load, and a load sweep with at least "
            "four points; [energy] with your own price and carbon for cost and carbon."
        )
        return [not_measured(SECTION, _QUESTION, needed, _FUNCTION)]
    alike = no_load[(no_load["mains"] == loading.mains) & (no_load["cable"] == "none")]
    idle = float(alike["power"].iloc[0]) if not alike.empty else None
    return [_profile(specimen, profile, loading, idle) for profile in profiles]


def second_meter_findings(specimen: Specimen) -> list[Finding]:
    """Whether a second meter for the input power agrees with the first.

    Parameters
    ----------
    dossier : Dossier
        The record; the second meter is the second listed for ``input power``, and its readings
        stand in ``second_input_power``.

    Returns
    -------
    list of Finding
        One, about the point where the two lie furthest apart; none without a second reading.
    """
    sweep = specimen.load_sweep.drop_duplicates("point")
    rows = sweep[sweep["second_input_power"].notna() & (sweep["input_power"] > 0)]
    if rows.empty:
        return []
    question = "Do two meters at the mains agree?"
    function = "verdict.disagreement"
    meters = specimen.adapter.instruments_for("input power")
    if len(meters) < 2:
        needed = "the accuracy of both meters, as two [[instruments]] that measure input power."
        return [not_measured(SECTION, question, needed, function)]
    pairs = [
        (
            reading_with(meters[0], row.input_power, "W"),
            reading_with(meters[1], row.second_input_power, "W"),
            row,
        )
        for row in rows.itertuples()
    ]
    worst = int(np.argmax([_apart(first, second) for first, second, _ in pairs]))
    first, second, row = pairs[worst]
    return [
        against_prediction(
            second,
            first,
            f"Input power at point {row.point} on {meters[1].name}",
            meters[0].name,
            section=SECTION,
            question=question,
            function=function,
            origin=f"{row.file} point {row.point}",
            note=f"The worst of {len(pairs)} points with two readings.",
        )
    ]


def _apart(first: Value, second: Value) -> float:
    spread = np.hypot(first.standard_uncertainty, second.standard_uncertainty)
    return float(abs(first.value - second.value) / spread) if spread else 0.0
