"""Where a dossier's adapter stands among its peers of like power."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import spearmanr

from adapterlab import judgement as rules
from adapterlab.assess.model.loadings import Loading, sweep_of
from adapterlab.assess.model.meters import Apart, points_apart
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
from adapterlab.dossier import Dossier, DossierError, read_dossier
from adapterlab.dossier.peers import PEERS, find_peers, read_peers
from adapterlab.judgement import ENDS, Judgement
from adapterlab.standing import (
    percentile_interval,
    percentile_rank,
    rank_probability,
    robust_z_score,
)

Floats = NDArray[np.float64]
SECTION = "standing"
# Peers are adapters of three quarters to four thirds of the rated power.
LIKE_POWER = (0.75, 4 / 3)
FEWEST, SMALL = 5, 15
_FUNCTION = "standing.percentile_rank"


@dataclass(frozen=True)
class Place:
    """How one figure compares with those of the peers.

    Attributes
    ----------
    quantity : str
        Name of a `Quantity`.
    value, standard_uncertainty : float
        The adapter's own. [unit]
    unit : str
        As in `Value`.
    peers : int
        How many have that figure.
    better_than, low, high : float
        Share of the group that is worse; 95 % interval of the share of all such adapters. [1]
    first_place, last_place : int
        Best and worst place the measurement uncertainty leaves open (95 %).
    better_half : float
        Probability of standing in the better half of the group. [1]
    robust_z : float
        Distance from the median, positive where better; NaN without a robust spread. [1]
    """

    quantity: str
    value: float
    standard_uncertainty: float
    unit: str
    peers: int
    better_than: float
    low: float
    high: float
    first_place: int
    last_place: int
    better_half: float
    robust_z: float


@dataclass(frozen=True)
class Quantity:
    """One figure that adapters are compared by.

    Attributes
    ----------
    name : str
        Column of the table of peers, or the ratio of two.
    label : str
        As said aloud.
    unit : str
        As in `Value`.
    lower_is_better : bool
        Whether small is good.
    needed : str
        What has to be measured for it.
    """

    name: str
    label: str
    unit: str
    lower_is_better: bool
    needed: str


_SWEEP = "load_sweep.csv with 100, 75, 50 and 25 % load of the output of most power at 230 V"
QUANTITIES = (
    Quantity("average_efficiency", "average efficiency", "%", False, _SWEEP),
    Quantity("ten_percent_efficiency", "efficiency at 10 % load", "%", False,
             f"{_SWEEP}, and 10 %"),
    Quantity("efficiency_spread", "spread of efficiency from 25 to 100 % load", "%", True, _SWEEP),
    Quantity("no_load_power", "no-load power", "W", True, "no_load.csv at 230 V, nothing plugged"),
    Quantity("ripple_pp", "ripple at full load", "V", True, "ripple_pp_mv in load_sweep.csv"),
    Quantity("touch_current", "touch current", "A", True,
             "touch_current.csv at 230 V 50 Hz, weighted, rms, without load"),
    Quantity("price_per_watt", "price per watt", "per W", True, "price on the nameplate"),
    Quantity("mass_per_watt", "mass per watt", "g/W", True, "mass on the nameplate"),
)  # fmt: skip


@dataclass(frozen=True)
class StandingAssessment:
    """How one adapter compares.

    Attributes
    ----------
    findings : Ledger
        The judgements.
    places : tuple of Place
        Every quantity that could be compared.
    peers : pandas.DataFrame
        The peers of like power, with a column for each quantity.
    name : str
        The adapter.
    rated_power : float
        [W]
    """

    findings: Ledger
    places: tuple[Place, ...]
    peers: pd.DataFrame
    name: str
    rated_power: float

    @property
    def price_link(self) -> tuple[float, Judgement, int] | None:
        """Rank correlation of price per watt and average efficiency among the peers [1], whether
        it may be spoken of, and how many peers have both.
        """
        if not {"average_efficiency", "price_per_watt"} <= {p.quantity for p in self.places}:
            return None
        pairs = self.peers[["price_per_watt", "average_efficiency"]].dropna().to_numpy()
        if len(pairs) < FEWEST:
            return None
        link = spearmanr(pairs[:, 0], pairs[:, 1])
        return float(link.statistic), rules.step(1 - float(link.pvalue)), len(pairs)


def main_loading_at_home(specimen: Specimen) -> Loading | None:
    """The loading of most power at 230 V that has an average efficiency."""
    known = [
        loading
        for loading in sweep_of(specimen).loadings
        if loading.average is not None and loading.mains.startswith("230 V")
    ]
    return max(known, key=lambda loading: loading.points[0].output_power, default=None)


def spread_of_loads(loading: Loading) -> Apart | None:
    """Highest less lowest efficiency from 25 to 100 % load. [1]."""
    return loading.spread(0.25)


def _ripple(specimen: Specimen, loading: Loading) -> Value | None:
    rows = specimen.load_sweep[specimen.load_sweep["point"] == loading.points[0].name]
    highest = rows["ripple_pp"].max()
    return None if np.isnan(highest) else specimen.reading("ripple", highest, "V")


def _touch(specimen: Specimen) -> Value | None:
    table = specimen.touch_current
    rows = table[
        table["mains_voltage"].between(225, 235)
        & table["mains_frequency"].between(49, 51)
        & (table["network"] == "weighted")
        & (table["quantity"] == "rms")
        & ~(table["output_power"] > 0)
    ]
    if rows.empty:
        return None
    return specimen.reading("touch current", float(rows["touch_current"].max()), "A")


def _no_load(specimen: Specimen) -> Value | None:
    table = specimen.no_load
    rows = table[table["mains_voltage"].between(225, 235) & (table["cable"] != "plugged")]
    if rows.empty:
        return None
    measures = (
        "no-load power" if specimen.adapter.instruments_for("no-load power") else "input power"
    )
    return specimen.reading(measures, float(rows["power"].iloc[0]), "W")


def figures_of(dossier: Dossier | Specimen) -> dict[str, Value]:
    """The figures an adapter is compared by, as far as its dossier holds them.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.

    Returns
    -------
    dict of str to Value
        Name of the quantity -> reading with uncertainty.
    """
    specimen = specimen_of(dossier)
    plate = specimen.adapter.nameplate
    main = main_loading_at_home(specimen)
    found: dict[str, Value | None] = {
        "no_load_power": _no_load(specimen),
        "touch_current": _touch(specimen),
    }
    if main is not None and main.average is not None:
        found["average_efficiency"] = main.average.shown("%")
        found["ten_percent_efficiency"] = main.ten_percent.shown("%") if main.ten_percent else None
        apart = spread_of_loads(main)
        found["efficiency_spread"] = apart.shown("%") if apart else None
        found["ripple_pp"] = _ripple(specimen, main)
    if plate.price is not None:
        found["price_per_watt"] = Value(plate.price / plate.rated_power, 0.0, "per W")
    if plate.mass is not None:
        found["mass_per_watt"] = Value(1000 * plate.mass / plate.rated_power, 0.0, "g/W")
    return {name: value for name, value in found.items() if value is not None}


def _of_dossiers(folder: Path, own: Path) -> tuple[pd.DataFrame, list[str]]:
    """Peers from a folder of dossiers; those that can't be read are named."""
    rows, remarks = [], []
    for path in sorted(folder.iterdir()):
        if not (path / "adapter.toml").is_file() or path.resolve() == own.resolve():
            continue
        try:
            specimen = specimen_of(read_dossier(path))
        except DossierError as error:
            remarks.append(f"{path.name} is left out: {error.problems[0]}")
            continue
        plate = specimen.adapter.nameplate
        row: dict[str, object] = {"name": specimen.name, "rated_power": plate.rated_power}
        row |= {name: value.value for name, value in figures_of(specimen).items()}
        row |= {"price": plate.price, "mass": plate.mass}
        rows.append(row)
    frame = pd.DataFrame(rows, columns=list(PEERS))
    number = [name for name, column in PEERS.items() if column.unit]
    return frame.astype(dict.fromkeys(number, "float64")), remarks


def _group(specimen: Specimen, place: Path | None) -> tuple[pd.DataFrame, list[str]]:
    """Peers of like power with every quantity as a column, and remarks."""
    if place is None:
        return pd.DataFrame(columns=list(PEERS)), []
    if place.is_dir():
        frame, remarks = _of_dossiers(place, specimen.folder)
    else:
        frame, problems = read_peers(place)
        remarks = [str(problem) for problem in problems if problem.severity == "warning"]
    power = specimen.adapter.nameplate.rated_power
    like = frame["rated_power"].between(LIKE_POWER[0] * power, LIKE_POWER[1] * power)
    frame = frame[like & (frame["name"] != specimen.name)].reset_index(drop=True)
    frame["price_per_watt"] = frame["price"] / frame["rated_power"]
    frame["mass_per_watt"] = 1000 * frame["mass"] / frame["rated_power"]
    return frame, remarks


def _place(quantity: Quantity, value: Value, peers: Floats) -> Place:
    """Compare one figure with those of the peers."""
    sign = -1.0 if quantity.lower_is_better else 1.0
    own, group = sign * value.value, sign * peers
    interval = percentile_interval(own, value.standard_uncertainty, group)
    # Entry k of the law: k peers are worse, so the place is n + 1 - k.
    law = rank_probability(own, value.standard_uncertainty, group)
    reached = np.cumsum(law[::-1])
    first, last = np.searchsorted(reached, ENDS) + 1
    try:
        distance = float(robust_z_score(own, group))
    except ValueError:
        distance = np.nan
    return Place(
        quantity.name,
        value.value,
        value.standard_uncertainty,
        value.unit,
        group.size,
        float(percentile_rank(own, group)),
        interval.low,
        interval.high,
        int(first),
        min(int(last), group.size + 1),
        float(law[np.arange(group.size + 1) > group.size / 2].sum()),
        distance,
    )


def _sentence(quantity: Quantity, value: Value, place: Place, power: float) -> str:
    rank = f"place {place.first_place}"
    if place.last_place > place.first_place:
        rank += f" to {place.last_place}"
    small = "; the group is small" if place.peers < SMALL else ""
    shown = points_apart(value) if quantity.name == "efficiency_spread" else str(value)
    return (
        f"{quantity.label[0].upper()}{quantity.label[1:]} is {shown}: better than "
        f"{100 * place.better_than:.0f} % of these {place.peers} peers of {_range(power)} "
        f"({rank} of {place.peers + 1}); if they were a fair sample, better than "
        f"{100 * place.low:.0f} to {100 * place.high:.0f} % of all such adapters{small}."
    )


def _range(power: float) -> str:
    return f"{LIKE_POWER[0] * power:.0f} to {LIKE_POWER[1] * power:.0f} W"


def assess(dossier: Dossier | Specimen, peers: Path | None = None) -> StandingAssessment:
    """Standing of one adapter among its peers.

    Parameters
    ----------
    dossier : Dossier or Specimen
        The record.
    peers : pathlib.Path, optional
        A table of peers, or a folder of dossiers; looked for in the dossier and beside it if
        left out.

    Returns
    -------
    StandingAssessment
        Findings and what the figures draw.
    """
    specimen = specimen_of(dossier)
    power = specimen.adapter.nameplate.rated_power
    source = peers if peers is not None else find_peers(specimen.folder)
    try:
        group, remarks = _group(specimen, source)
    except DossierError as error:
        needed = f"a table of peers that can be read. {error}"
        finding = not_measured(SECTION, "How does it compare?", needed, _FUNCTION)
        return StandingAssessment(Ledger.of([finding]), (), pd.DataFrame(), specimen.name, power)
    own = figures_of(specimen)
    places, findings = [], []
    for quantity in QUANTITIES:
        asked = f"How does its {quantity.label} compare?"
        known = group[quantity.name].dropna().to_numpy() if quantity.name in group else np.empty(0)
        if quantity.name not in own:
            findings.append(not_measured(SECTION, asked, f"{quantity.needed}.", _FUNCTION))
        elif known.size < FEWEST:
            needed = _too_few(known.size, source, power)
            findings.append(not_measured(SECTION, asked, needed, _FUNCTION))
        else:
            value = own[quantity.name]
            places.append(_place(quantity, value, known))
            findings.append(
                Finding(
                    SECTION,
                    asked,
                    rules.result(),
                    _sentence(quantity, value, places[-1], power),
                    _FUNCTION,
                    value,
                    origin=_origin(quantity),
                    figure="standing_places",
                    note=" ".join(["The peers' own figures are taken as exact.", *remarks]),
                )
            )
    return StandingAssessment(Ledger.of(findings), tuple(places), group, specimen.name, power)


def _origin(quantity: Quantity) -> str:
    if quantity.name in ("price_per_watt", "mass_per_watt"):
        return "adapter.toml, nameplate"
    tables = {"no_load_power": "no_load.csv", "touch_current": "touch_current.csv"}
    return tables.get(quantity.name, "load_sweep.csv")


def _too_few(count: int, place: Path | None, power: float) -> str:
    if place is None:
        return (
            "a table peers.csv, or a folder peers of other dossiers, in the dossier's folder or "
            "beside it."
        )
    number = f"only {count} of the" if count else "none of the"
    return (
        f"at least {FEWEST} peers of {_range(power)} with that figure; {number} "
        f"adapters in {place.name} {'are' if count != 1 else 'is'} of that kind."
    )
