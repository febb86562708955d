"""Energy and cost of a year."""

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.loadings import Loading
from adapterlab.assess.model.no_load import at_rest
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Profile
from adapterlab.efficiency import LossCurve, yearly_use

SECTION = "efficiency"
_KWH = 3.6e6
_HOUR = 3600.0
_QUESTION = "What does a year of use take?"
_FUNCTION = "efficiency.yearly_use"


def lost_energy_uncertainty(
    hours: list[float], powers: list[float], curve: LossCurve, idle: Value | None
) -> float:
    """Standard uncertainty of the energy lost in a year: one curve, so its errors add. [J]."""
    weights = np.zeros(3)
    rest = 0.0
    for time, power in zip(hours, powers, strict=True):
        if power > 0:
            weights += _HOUR * time * np.array([1.0, power, power**2])
        elif idle is not None:
            rest += _HOUR * time * idle.standard_uncertainty
    return float(np.sqrt(weights @ curve.covariance @ weights + rest**2))


def _input_power(power: float, curve: LossCurve, idle: Value | None) -> float | None:
    """Power drawn at an output power, from the loss curve or the no-load reading. [W]."""
    if power == 0:
        return None if idle is None else idle.value
    if power > curve.largest_power * (1 + 1e-9):
        return None
    return power + float(curve.loss(power))


def _profile(specimen: Specimen, profile: Profile, loading: Loading, curve: LossCurve) -> Finding:
    question = f"What does a year of {profile.name} take?"
    reading = at_rest(specimen, loading.mains)
    idle = None if reading is None else reading.power
    powers = [use.output_power for use in profile.uses]
    drawn = [_input_power(power, curve, idle) for power in powers]
    known = [power for power in drawn if power is not None]
    if len(known) < len(drawn):
        needed = (
            f"the loads of the profile {profile.name!r} within the load sweep (up to "
            f"{curve.largest_power:.3g} W), and no_load.csv for hours without load."
        )
        return not_measured(SECTION, question, needed, _FUNCTION)
    energy, hours = specimen.adapter.energy, [use.hours for use in profile.uses]
    try:
        year = yearly_use(
            [_HOUR * time for time in hours],
            known,
            powers,
            (energy.price_per_kwh or 0.0) / _KWH,
            (energy.carbon_per_kwh or 0.0) / _KWH,
        )
    except ValueError as error:
        return not_measured(SECTION, question, f"a profile that makes sense: {error}.", _FUNCTION)
    spread = lost_energy_uncertainty(hours, powers, curve, idle) / _KWH
    drawn_energy = Value(year.input_energy / _KWH, spread, "kWh")
    lost = Value(year.lost_energy / _KWH, spread, "kWh")
    relative = spread * _KWH / year.input_energy if year.input_energy else 0.0
    stated = []
    if energy.price_per_kwh:
        currency = energy.currency or "of the stated currency"
        stated.append(str(Value(year.cost, relative * year.cost, currency)))
    if energy.carbon_per_kwh:
        carbon = Value(year.carbon, relative * year.carbon, "kg")
        stated.append(f"{carbon} of carbon dioxide")
    sentence = (
        f"A year of {profile.name} draws {drawn_energy}, of which {lost} become heat in the "
        f"adapter, if every load is taken from {loading.name} on {loading.mains}"
    )
    if loading.assumed:
        sentence += f", with {loading.assumed}"
    if stated:
        sentence += f"; with the figures stated in the dossier that is {' and '.join(stated)}"
    note = "The hours and loads of the profile and the figures stated count as exact."
    if stated:
        note += f" Price and carbon: {energy.source or 'as stated in the dossier'}."
    return Finding(
        SECTION,
        question,
        rules.result(),
        sentence + ".",
        _FUNCTION,
        drawn_energy,
        origin="adapter.toml, profiles; load_sweep.csv; no_load.csv",
        figure="efficiency_losses",
        note=note,
    )


def year_findings(specimen: Specimen, loading: Loading | None) -> list[Finding]:
    """Energy of a year for each of the user's profiles.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    loading : Loading or None
        The loading whose loss curve is taken.

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
    return [_profile(specimen, profile, loading, loading.curve) for profile in profiles]
