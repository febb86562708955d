"""Where each watt goes: the losses that the parts predict beside those that were measured.

`budget_of` adds up the items against output power. Copper and core of the transformer come in as
values where something has worked them out; else as an allowance.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from adapterlab.assess.flyback.load import CEILING
from adapterlab.assess.model.feeds import BRIDGE_DROP
from adapterlab.assess.model.inputs import allowance, between
from adapterlab.assess.model.loadings import Loading, main_loading, sweep_of
from adapterlab.assess.model.no_load import no_load_readings
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT, Stage, parts_of
from adapterlab.assess.model.stresses import Clamp, clamp_of
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.flyback import (
    capacitive_loss,
    clamp_dissipation,
    conduction_loss,
    diode_loss,
    foldback_frequency,
    load_sharing,
    operating_point,
    secondary_pulse,
    synchronous_loss,
    turn_off_loss,
    valley_number,
    valley_switching,
)
from adapterlab.published import rows
from adapterlab.uncertainty import propagate

ITEMS = (
    "mains path",
    "bridge",
    "bulk capacitor",
    "switch conducting",
    "switch edges",
    "clamp",
    "transformer copper",
    "transformer core",
    "output rectifier",
    "output side",
    "control and bleed",
)
# Common practice, where the dossier is silent: lowest and highest.
_SPREADS: dict[str, tuple[float, float]] = {
    "power_factor": (0.4, 0.6),
    "hot_limiter": (0.05, 0.25),
    "wiring": (0.1, 0.4),
    "bulk_esr": (0.3, 1.2),
    "bulk_sag": (0.92, 1.0),
    "bridge_drop": allowance(BRIDGE_DROP).ends,
    "switch_warmth": (1.4, 2.2),
    "edge_time": (10e-9, 40e-9),
    "node_share": (0.3, 1.0),
    "copper": (0.004, 0.015),
    "core": (0.003, 0.010),
    "rectifier_warmth": (1.2, 1.6),
    "dead_time": (50e-9, 300e-9),
    "board": (10e-3, 40e-3),
    "awake": (0.05, 0.25),
    "foldback": (0.1, 0.5),
    "drain": (50e-12, 200e-12),
    "switch_resistance": (0.3, 3.0),
    "rectifier_resistance": (5e-3, 30e-3),
}
_RESISTANCES = {"switch": "switch_resistance", "output rectifier": "rectifier_resistance"}
# How far a stated drop may be from that at another current and temperature.
_STATED_DROP = 0.15
_LOWEST_FREQUENCY, _OUTPUT_ESR = 22e3, 15e-3
# Exponents of frequency and flux, mean of the published lines.
_STEINMETZ = tuple(
    float(np.mean([row[name] for row in rows("transformer", "core_loss")]))
    for name in ("frequency_exponent", "flux_exponent")
)
_DRAWS = 256
# Of the highest power; the third is a quarter.
_SHARES = np.arange(1, 13) / 12
QUARTER = 2


@dataclass(frozen=True)
class LossBudget:
    """Predicted losses by item against output power, and the measured curve.

    Attributes
    ----------
    loading, mains : str
        What is loaded and from which mains, as said aloud.
    output_power : numpy.ndarray
        [W], shape (n,)
    items : pandas.DataFrame
        One row for each item of `ITEMS` and power: ``item``, ``output_power``, ``loss``,
        ``standard_uncertainty`` [W].
    total, total_uncertainty : numpy.ndarray
        Sum of the items. [W], shape (n,)
    measured, measured_uncertainty : numpy.ndarray or None
        Fitted curve of the load sweep. [W], shape (n,)
    allowed : tuple of str
        Items taken from an allowance alone.
    """

    loading: str
    mains: str
    output_power: Any
    items: pd.DataFrame
    total: Any
    total_uncertainty: Any
    measured: Any
    measured_uncertainty: Any
    allowed: tuple[str, ...]

    def at_full_load(self) -> pd.DataFrame:
        """Items at the highest power, largest first."""
        last = self.items[self.items["output_power"] == self.output_power[-1]]
        return last.sort_values("loss", ascending=False, ignore_index=True)


@dataclass(frozen=True)
class Case:
    """What is loaded.

    Attributes
    ----------
    port, name : str
        Port, and what is loaded as said aloud.
    voltage : float
        Of the output. [V]
    powers : numpy.ndarray
        Of the output. [W], shape (n,)
    mains_voltage, mains_frequency : float
        [V], [Hz]
    mains : str
        The same as said aloud.
    loading : Loading or None
        The measured curve, if there is one.
    """

    port: str
    name: str
    voltage: float
    powers: Any
    mains_voltage: float
    mains_frequency: float
    mains: str
    loading: Loading | None


def case_of(specimen: Specimen, stages: Sequence[Stage]) -> Case:
    """The single port with the most powerful measured curve, else the first stage's full load."""
    loadings = [item for item in sweep_of(specimen).loadings if len(item.key) == 1]
    loadings = [item for item in loadings if _served(stages, item.key[0][0])]
    loading = main_loading(loadings)
    if loading is not None and loading.curve is not None:
        port, name, volts = loading.key[0]
        mode = specimen.adapter.mode(port, name)
        volts = volts or (mode.voltage if mode else None) or stages[0].output_voltage
        point = loading.points[0]
        powers = loading.curve.largest_power * _SHARES
        return Case(port, loading.name, volts, powers, point.mains_voltage,
                     point.mains_frequency, loading.mains, loading)  # fmt: skip
    stage = stages[0]
    full = stage.output_voltage * stage.output_current
    return Case(stage.ports[0], f"{stage.output_voltage:g} V", stage.output_voltage,
                 full * _SHARES, 230.0, 50.0, "230 V, 50 Hz", None)  # fmt: skip


def _served(stages: Sequence[Stage], port: str) -> list[Stage]:
    return [stage for stage in stages if port in stage.ports]


def _resistance(specimen: Specimen, role: str, stage: Stage) -> float | None:
    known = [part.series_resistance for part in parts_of(specimen, role, stage)]
    return next((value for value in known if value), None)


class _Inputs:
    """Distributions by name; a name asked for twice is the same input."""

    def __init__(self) -> None:
        self.all: dict[str, Any] = {}
        self.allowed: set[str] = set()

    def common(self, name: str, spread: str = "") -> str:
        """An input from common practice."""
        self.all.setdefault(name, between(*_SPREADS[spread or name]))
        return name

    def known(self, name: str, low: float, high: float) -> str:
        """An input that the dossier knows."""
        self.all.setdefault(name, between(low, high))
        return name


def _mains_path(specimen: Specimen, inputs: _Inputs) -> Any:
    """Function of the draws that gives the series resistance of everything before the bridge."""
    limiters = specimen.adapter.parts_with_role("inrush limiter")
    warm = sum(part.value or 0.0 for part in limiters if part.kind == "thermistor")
    fixed = sum(part.value or 0.0 for part in limiters if part.kind != "thermistor")
    fixed += sum(p.series_resistance or 0.0 for p in specimen.adapter.parts_with_role("line choke"))
    inputs.common("wiring")
    if warm:
        inputs.common("hot_limiter")
    return lambda drawn: fixed + drawn["wiring"] + warm * drawn.get("hot_limiter", 0.0)


def _bulk_esr(specimen: Specimen, inputs: _Inputs) -> None:
    parts = specimen.adapter.parts_with_role("bulk capacitor")
    known = [part.series_resistance for part in parts if part.series_resistance]
    if known and len(known) == len(parts):
        together = 1 / sum(1 / value for value in known)
        inputs.known("bulk_esr", 0.3 * together, together)
    else:
        inputs.common("bulk_esr")


def _control(specimen: Specimen, case: Case, inputs: _Inputs) -> None:
    readings = no_load_readings(specimen)
    near = [item for item in readings if abs(item.mains_voltage / case.mains_voltage - 1) < 0.05]
    idle = min((item.power.value for item in near if item.may_be_bare), default=0.05)
    inputs.known("idle", 0.5 * idle, idle)
    inputs.common("awake")


def _stage_inputs(specimen: Specimen, stage: Stage, inputs: _Inputs) -> dict[str, Any]:
    """Names of the inputs that are this stage's own, by what they are."""
    tag = stage.name
    own: dict[str, Any] = {}
    for what in ("edge_time", "node_share", "copper", "core", "dead_time", "foldback"):
        own[what] = inputs.common(f"{tag} {what}", what)
    if stage.drain_capacitance is not None:
        value = stage.drain_capacitance
        own["drain"] = inputs.known(f"{tag} drain", 0.8 * value, 1.2 * value)
    else:
        own["drain"] = inputs.common(f"{tag} drain", "drain")
    for role, what in (
        ("switch", "switch_resistance"),
        ("output rectifier", "rectifier_resistance"),
    ):
        marked = _resistance(specimen, role, stage)
        name = f"{tag} {what}"
        own[what] = (
            inputs.known(name, 0.9 * marked, 1.1 * marked) if marked else inputs.common(name, what)
        )
    low, high = stage.rectifier_drop.ends
    loose = _STATED_DROP if low == high else 0.0
    own["drop"] = inputs.known(f"{tag} drop", low * (1 - loose), high * (1 + loose))
    own["efficiency"] = inputs.known(f"{tag} efficiency", *stage.efficiency.ends)
    return own


def _point(stage: Stage, take: Mapping[str, Any], power: Any, volts: Any, source: Any) -> Any:
    """Working point of one stage, slower at a light load and in a valley if it seeks them."""
    current, full_rate = power / volts, stage.switching_frequency or CEILING
    frequency = foldback_frequency(
        power, full_rate, take["foldback"] * stage.rated_power, min(_LOWEST_FREQUENCY, full_rate)
    )
    rest = (take["drop"], take["efficiency"])
    if stage.switching_frequency is None:
        ringing = (source, volts, current, stage.turns_ratio, stage.magnetising_inductance.middle,
                   take["drain"])  # fmt: skip
        number = valley_number(*ringing, frequency, *rest)
        frequency = valley_switching(*ringing, number, *rest).switching_frequency
    return operating_point(
        source,
        volts,
        current,
        stage.turns_ratio,
        stage.magnetising_inductance.middle,
        frequency,
        *rest,
    )


def _stage_losses(
    stage: Stage, own: Mapping[str, str], drawn: Mapping[str, Any], power: Any, volts: Any,
    source: Any, given: tuple[Value, Value] | None, clamp: Clamp,
) -> tuple[dict[str, Any], Any]:  # fmt: skip
    """Losses of one stage by item, and the rms of its primary current above the mean."""
    take = {what: drawn[name] for what, name in own.items()}
    current = power / volts
    point = _point(stage, take, power, volts, source)
    pulse = secondary_pulse(point, current)
    plateau, rate = point.switch_voltage, point.switching_frequency
    valley = np.abs(source - point.reflected_voltage)
    at_closing = valley
    if stage.switching_frequency is not None:
        at_closing = valley + take["node_share"] * (plateau - valley) * (point.mode != "continuous")
    edges = turn_off_loss(plateau, point.primary_peak, take["edge_time"], rate, take["drain"])
    edges = edges + capacitive_loss(take["drain"], at_closing, rate)
    secondary_rms = np.sqrt(np.square(pulse.capacitor_rms) + current**2)
    if stage.rectifier == "synchronous":
        rectifier = synchronous_loss(
            secondary_rms, pulse.peak, take["rectifier_resistance"], rate, take["dead_time"],
            temperature_factor=drawn["rectifier_warmth"],
        )  # fmt: skip
    else:
        rectifier = diode_loss(current, secondary_rms, take["drop"])
    if given is None:
        full = stage.rated_power
        copper, core = take["copper"] * power**2 / full, take["core"] * power
    else:
        full = _point(stage, take, np.full((1, 1), stage.rated_power), volts, source)
        swing = (point.primary_peak - np.asarray(point.primary_valley)) / (
            full.primary_peak - np.asarray(full.primary_valley)
        )
        copper = drawn[f"{stage.name} copper loss"] * (point.primary_rms / full.primary_rms) ** 2
        pace = rate / full.switching_frequency
        core = drawn[f"{stage.name} core loss"] * swing ** _STEINMETZ[1] * pace ** _STEINMETZ[0]
    losses = {
        "switch conducting": conduction_loss(
            point.primary_rms, take["switch_resistance"], drawn["switch_warmth"]
        ),
        "switch edges": edges,
        "transformer copper": copper,
        "transformer core": core,
        "output rectifier": rectifier,
        "output side": conduction_loss(pulse.capacitor_rms, drawn["output_esr"]),
    }
    if clamp.inputs and clamp.leakage is not None:
        losses["clamp"] = clamp_dissipation(
            drawn[clamp.leakage.name], point.primary_peak, rate, clamp.voltage(point, drawn),
            point.reflected_voltage, drawn[clamp.drop.name],
        )  # fmt: skip
    mean = power / source
    return losses, np.maximum(np.square(point.primary_rms) - mean**2, 0)


def budget_of(
    specimen: Specimen,
    stages: Sequence[Stage],
    transformer: Mapping[str, tuple[Value, Value]] | None = None,
    case: Case | None = None,
) -> LossBudget | None:
    """Losses by item of the port that was measured to the most power.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    stages : sequence of Stage
        Converters known well enough.
    transformer : mapping of str to tuple of Value, optional
        Copper and core loss of each converter's transformer at its rated power and the output
        voltage of the case, each with its uncertainty. [W]  Copper goes with the square of the
        primary's rms current, core with its swing to the power of Steinmetz and the frequency.
        Converters not in it get an allowance.
    case : Case, optional
        As `case_of` finds it.

    Returns
    -------
    LossBudget or None
        None without any stage.
    """
    if not stages:
        return None
    case = case or case_of(specimen, stages)
    serving = _served(stages, case.port)
    inputs = _Inputs()
    path = _mains_path(specimen, inputs)
    _bulk_esr(specimen, inputs)
    _control(specimen, case, inputs)
    for name in ("power_factor", "bulk_sag", "bridge_drop", "switch_warmth", "rectifier_warmth",
                 "board"):  # fmt: skip
        inputs.common(name)
    esr = serving[0].output_esr or _OUTPUT_ESR
    inputs.known("output_esr", 0.7 * esr, 1.3 * esr)
    own = {stage.name: _stage_inputs(specimen, stage, inputs) for stage in serving}
    clamps = {stage.name: clamp_of(specimen, stage) for stage in serving}
    for clamp in clamps.values():
        for item in [*clamp.inputs.values(), *filter(None, [clamp.leakage])]:
            inputs.all[item.name] = item.distribution
    given = transformer or {}
    for name, pair in given.items():
        for what, value in zip(("copper", "core"), pair, strict=True):
            inputs.all[f"{name} {what} loss"] = stats.norm(
                value.value, max(value.standard_uncertainty, 1e-9)
            )
    power = np.asarray(case.powers)[:, None]
    share = load_sharing(
        case.powers, [s.rated_power for s in serving], [s.joins_above for s in serving]
    )

    def losses(**drawn: Any) -> Any:
        found = dict.fromkeys(ITEMS, power * 0.0)
        source = ROOT * case.mains_voltage * drawn["bulk_sag"]
        alternating: Any = 0.0
        for stage, part in zip(serving, share, strict=True):
            works = (part > 0)[:, None]
            carried = power * np.where(part > 0, part, 1.0)[:, None]
            items, square = _stage_losses(
                stage, own[stage.name], drawn, carried, case.voltage, source,
                given.get(stage.name), clamps[stage.name],
            )  # fmt: skip
            for item, loss in items.items():
                found[item] = found[item] + works * loss
            alternating = alternating + works * square
            found["control and bleed"] = found["control and bleed"] + works * drawn["awake"]
        behind = power + sum(found.values())
        rms = behind / (case.mains_voltage * drawn["power_factor"])
        mean = behind / source
        found["mains path"] = conduction_loss(rms, path(drawn))
        found["bridge"] = diode_loss(mean, rms, drawn["bridge_drop"])
        slow = np.maximum(rms**2 - mean**2, 0)
        found["bulk capacitor"] = (slow + alternating) * drawn["bulk_esr"]
        found["output side"] = found["output side"] + (power / case.voltage) ** 2 * drawn["board"]
        found["control and bleed"] = found["control and bleed"] + drawn["idle"]
        every = np.stack(np.broadcast_arrays(*(found[item] for item in ITEMS), behind))[:-1]
        return np.concatenate([*every, every.sum(axis=0)])

    drawn = propagate(losses, inputs.all, _DRAWS)
    return _collected(case, serving, drawn, given)


def _collected(case: Case, serving: Sequence[Stage], drawn: Any, given: Any) -> LossBudget:
    count = len(case.powers)
    means = np.asarray(drawn.mean).reshape(-1, count)
    spreads = np.asarray(drawn.standard_uncertainty).reshape(-1, count)
    items = pd.DataFrame(
        {
            "item": np.repeat(ITEMS, count),
            "output_power": np.tile(case.powers, len(ITEMS)),
            "loss": means[:-1].ravel(),
            "standard_uncertainty": spreads[:-1].ravel(),
        }
    )
    curve = case.loading.curve if case.loading is not None else None
    allowed = []
    if any(stage.name not in given for stage in serving):
        allowed += ["transformer copper", "transformer core"]
    if any(stage.leakage_inductance is None for stage in serving):
        allowed.append("clamp")
    return LossBudget(
        case.name, case.mains, np.asarray(case.powers), items, means[-1], spreads[-1],
        curve.loss(case.powers) if curve else None,
        curve.loss_uncertainty(case.powers) if curve else None,
        tuple(allowed),
    )  # fmt: skip
