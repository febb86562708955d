"""Ripple currents that mains and converters send through each capacitor of a dossier.

`mains_ripple` is the one place that says what the rectifier sends; `ripple_of` joins it with the
pulses of the converters, weighed by frequency.
"""

from dataclasses import dataclass

import numpy as np

from adapterlab.assess.model.feeds import (
    BRIDGE_DROP,
    bulk_capacitance,
    bulk_inputs,
    rated_share,
)
from adapterlab.assess.model.rectifier import rectifier_of
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT, Stage
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.capacitor_life import (
    equivalent_ripple_current,
    frequency_multiplier,
    pulsed_ripple_current,
    rectifier_ripple_current,
)
from adapterlab.dossier.schema import Part, RatedCapacitor
from adapterlab.flyback import (
    bulk_valley_voltage,
    ideal_conduction_time,
    operating_point,
)
from adapterlab.mains_current import rectifier_steady_state
from adapterlab.published import rows

MAINS = (230.0, 50.0)
_DRAWS = 64
_SHARE = rows("capacitor_life", "rectifier_shares")[0]
# Common practice: what the pulses, the inductances and the voltages leave open.
_PULSE_UNCERTAINTY = 0.08
# A current noted without how it was found.
_STATED_UNCERTAINTY = 0.1
_TABLES = {"bulk capacitor": "Vishay EYC", "other": "Vishay EYN"}


@dataclass(frozen=True)
class Ripple:
    """Ripple current of one capacitor at full load.

    Attributes
    ----------
    stated : Value or None
        As the dossier notes it, at the rated frequency. [A]
    parts : tuple of tuple
        What the circuit sends: (source, frequency [Hz], rms [A]).
    computed : Value or None
        Those together, as equivalent at the rated frequency. [A]
    rated_frequency : float
        [Hz]
    lacking : str
        What it would take to compute it; empty if it was.
    """

    stated: Value | None
    parts: tuple[tuple[str, float, float], ...]
    computed: Value | None
    rated_frequency: float
    lacking: str

    @property
    def best(self) -> Value | None:
        """The stated current, else the computed one. [A]."""
        return self.stated or self.computed


def mains_ripple(
    specimen: Specimen, power: float, capacitance: float, share: float
) -> tuple[float, float]:
    """What the rectifier sends through one of the bulk capacitors, and its uncertainty.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    power : float
        Drawn from all bulk capacitors together. [W]
    capacitance : float
        Of all of them together. [F]
    share : float
        Of this one in that. [1]

    Returns
    -------
    tuple of float
        Rms current on mains of 230 V, 50 Hz and its standard uncertainty. [A]

    Raises
    ------
    ValueError
        If the capacitor runs empty between two crests.

    Notes
    -----
    The rectifier in its steady state, its parts drawn within their tolerances. Where parts are
    not known, the closed form for mains without impedance, less what real paths take off.
    """
    rectifier = rectifier_of(specimen)
    if rectifier is not None:
        drawn = rectifier.draws(_DRAWS)
        parts = {name: value for name, value in drawn.items() if name not in ("mains", "power")}
        current = rectifier_steady_state(*MAINS, power, **parts).capacitor_current_rms
        return float(share * current.mean()), float(share * current.std(ddof=1))
    line = (MAINS[0] - specimen.allowance(BRIDGE_DROP).middle / ROOT, MAINS[1], power, capacitance)
    ideal = rectifier_ripple_current(*line, ideal_conduction_time(*line))
    middle, half = (_SHARE["high"] + _SHARE["low"]) / 2, (_SHARE["high"] - _SHARE["low"]) / 2
    # The capacitance is known to a fifth or so; the current hardly feels it.
    return float(share * ideal * middle), float(share * ideal * half / np.sqrt(3))


@dataclass(frozen=True)
class Pulse:
    """Secondary current of a converter at full load, scaled so that the load gets its current.

    Attributes
    ----------
    peak, valley, rms : float
        [A]
    duty : float
        Share of the period. [1]
    frequency : float
        [Hz]
    """

    peak: float
    valley: float
    rms: float
    duty: float
    frequency: float


def secondary_pulse(stage: Stage, source: float = ROOT * MAINS[0] - 15.0) -> Pulse:
    """Pulse of a converter on a bulk voltage; losses before the secondary are taken off it."""
    point = operating_point(source, **stage.numbers())
    valley = point.primary_valley * stage.turns_ratio
    scale = 2 * stage.output_current / (point.secondary_duty * (point.secondary_peak + valley))
    return Pulse(
        float(scale * point.secondary_peak),
        float(scale * valley),
        float(scale * point.secondary_rms),
        min(float(point.secondary_duty), 1.0),
        float(point.switching_frequency),
    )


def _pulses(stage: Stage, source: float, side: str) -> tuple[float, float]:
    """Frequency and rms of a converter's pulses without their mean. [Hz], [A]."""
    if side == "secondary":
        pulse, mean = secondary_pulse(stage, source), stage.output_current
        return pulse.frequency, float(pulsed_ripple_current(max(pulse.rms, mean), mean))
    point, mean = operating_point(source, **stage.numbers()), stage.power() / source
    rms = max(point.primary_rms, mean)
    return float(point.switching_frequency), float(pulsed_ripple_current(rms, mean))


def feeding(specimen: Specimen, part: Part, stages: list[Stage]) -> list[Stage]:
    """Converters whose pulses an output capacitor takes: its own, and any that joins it."""
    if part.converter:
        named = {c.name: c for c in specimen.adapter.construction.converters}
        own = named.get(part.converter)
        joins = [
            name
            for name, other in named.items()
            if own is not None and own.ports and set(own.ports) <= set(other.ports)
        ]
        return [stage for stage in stages if stage.name in {part.converter, *joins}]
    return stages if len(stages) == 1 else []


def _parallel_share(specimen: Specimen, part: Part) -> float:
    """A capacitor's part of those side by side with it, by capacitance. [1]."""
    others = [
        other
        for other in specimen.adapter.parts_with_role(part.role)
        if other.converter == part.converter
    ]
    if part.value is None or any(other.value is None for other in others):
        return 1.0 / len(others)
    return part.value / sum(other.value or 0.0 for other in others)


def _sources(
    specimen: Specimen, part: Part, stages: list[Stage]
) -> tuple[list[tuple[str, float, float, float]], str]:
    """(source, frequency, rms, standard uncertainty) of what a capacitor takes, and what lacks."""
    share = _parallel_share(specimen, part)
    if part.role == "bulk capacitor":
        if not bulk_inputs(specimen) or not stages:
            return (
                [],
                "the value of every bulk capacitor and the turns and inductance of a converter",
            )
        held = bulk_capacitance(specimen)
        power = rated_share(specimen, stages) * sum(stage.power() for stage in stages)
        current, spread = mains_ripple(specimen, power, held, share)
        found = [("mains", 2 * MAINS[1], current, spread)]
        line = (MAINS[0], MAINS[1], power, held)
        source = (ROOT * MAINS[0] + bulk_valley_voltage(*line, ideal_conduction_time(*line))) / 2
        side, joined = "primary", stages
    elif part.role == "output capacitor":
        joined = feeding(specimen, part, stages)
        if not joined:
            return [], "the converter that feeds it, with its turns and inductance"
        found, source, side = [], ROOT * MAINS[0] - 15.0, "secondary"
    else:
        return [], "a clamp-on reading, for no equation of the kit covers its place"
    for stage in joined:
        hertz, rms = _pulses(stage, source, side)
        found.append(
            (f"{stage.name} converter", hertz, share * rms, share * rms * _PULSE_UNCERTAINTY)
        )
    return found, ""


def ripple_of(specimen: Specimen, capacitor: RatedCapacitor, stages: list[Stage]) -> Ripple:
    """Ripple current of a capacitor: as stated, and as the circuit predicts it."""
    part = specimen.adapter.part(capacitor.part)
    bulk = part is not None and part.role == "bulk capacitor"
    rated = capacitor.rated_ripple_frequency or (120.0 if bulk else 100e3)
    stated = None
    if capacitor.ripple_current is not None:
        stated = Value(
            capacitor.ripple_current, capacitor.ripple_current * _STATED_UNCERTAINTY, "A"
        )
    if part is None:
        return Ripple(stated, (), None, rated, "its entry in [[parts]]")
    try:
        found, lacking = _sources(specimen, part, stages)
    except ValueError as error:
        found, lacking = [], f"values that fit together ({str(error).split(':')[0]})"
    if not found:
        return Ripple(stated, (), None, rated, lacking)
    table = _TABLES["bulk capacitor" if bulk else "other"]
    allowed = np.array([frequency_multiplier(hertz, table) for _, hertz, _, _ in found])
    allowed = allowed / frequency_multiplier(rated, table)
    currents = np.array([rms for _, _, rms, _ in found])
    spreads = np.array([spread for _, _, _, spread in found])
    whole = equivalent_ripple_current(currents, allowed)
    spread = float(np.sqrt(((currents * spreads / allowed**2) ** 2).sum()) / whole)
    parts = tuple((name, hertz, rms) for name, hertz, rms, _ in found)
    return Ripple(stated, parts, Value(whole, spread, "A"), rated, "")
