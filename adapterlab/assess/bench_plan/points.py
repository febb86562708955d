"""The load points worth taking of an adapter, from its nameplate and the published rules."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from adapterlab.assess.model.judged import Judged, judged_loadings, title
from adapterlab.assess.model.loadings import ACTIVE, TEN_PERCENT, nearest
from adapterlab.assess.model.meters import Reader
from adapterlab.assess.model.points import Key, Output, Point, loading_name
from adapterlab.bench_plan import ExpectedInput, expected_input
from adapterlab.dossier.schema import Adapter, Combination, CombinedOutput, Mode, Port
from adapterlab.efficiency import (
    RULES,
    derating_factor,
    minimum_average_efficiency,
    nameplate_category,
    rule_supply,
)

# What is taken of modes that no rule asks for: shares of the nameplate's current.
_EVERY = (1.0, 0.75, 0.5, 0.25, 0.1)
SPREAD, SETTING = "spread across modes", "set point"
# A point measured counts for one planned if every port's load is as near as this.
_NEAR = 0.02


@dataclass(frozen=True)
class PlannedPoint:
    """One load point to take.

    Attributes
    ----------
    number : int
        Place in the order.
    mains_voltage, mains_frequency : float
        [V], [Hz]
    purposes : tuple of str
        Rules that ask for it, and what else it serves.
    loading : str
        Ports and modes, as said aloud.
    key : tuple
        The same for the machine.
    load_fraction : float
        Share of the current that counts as full. [1]
    currents, voltages : dict of str to float
        Current to set and voltage to expect at each port. [A], [V]
    efficiency : float
        Least average efficiency a rule asks for at full load: what is expected here. [1]
    measured : bool
        Whether the load sweep already holds it.
    """

    number: int
    mains_voltage: float
    mains_frequency: float
    purposes: tuple[str, ...]
    loading: str
    key: Key
    load_fraction: float
    currents: dict[str, float]
    voltages: dict[str, float]
    efficiency: float
    measured: bool

    @property
    def output_power(self) -> float:
        """All ports together. [W]."""
        return sum(self.voltages[port] * current for port, current in self.currents.items())

    @property
    def expected(self) -> ExpectedInput:
        """Input power and current to expect."""
        return expected_input(self.output_power, self.efficiency, self.mains_voltage)

    def as_point(self, read: Reader) -> Point:
        """The point as the listed meters would read it."""
        outputs = tuple(
            Output(
                port,
                mode,
                asked,
                read("output voltage", self.voltages[port]),
                read("output current", self.currents[port]),
            )
            for port, mode, asked in self.key
        )
        power = read("input power", self.expected.power)
        return Point("", 0, self.mains_voltage, self.mains_frequency, power, outputs)


def _highest(port: Port) -> Mode | None:
    fixed = [mode for mode in port.modes if mode.voltage is not None]
    return max(fixed, key=lambda mode: (mode.voltage or 0) * mode.current, default=None)


def _lowest(port: Port) -> Mode | None:
    fixed = [mode for mode in port.modes if mode.voltage is not None]
    return min(fixed, key=lambda mode: mode.voltage or 0, default=None)


def with_combinations(adapter: Adapter) -> Adapter:
    """An adapter whose label is silent on its ports together, completed in proportion.

    Parameters
    ----------
    adapter : Adapter
        The nameplate.

    Returns
    -------
    Adapter
        The same if it has one port or lists combinations; else with all ports at their highest
        and all at their lowest voltage, the currents reduced to the rated power.
    """
    if len(adapter.ports) < 2 or adapter.combinations:
        return adapter
    rated = adapter.nameplate.rated_power
    found = []
    for choose in (_highest, _lowest):
        modes = [(port, mode) for port in adapter.ports if (mode := choose(port)) is not None]
        if len(modes) < 2:
            return adapter
        share = derating_factor(rated, [(mode.voltage or 0) * mode.current for _, mode in modes])
        outputs = [
            CombinedOutput.model_validate(
                {"port": port.name, "mode": mode.name, "current": f"{share * mode.current:.3f} A"}
            )
            for port, mode in modes
        ]
        total = sum(
            (mode.voltage or 0) * out.current for out, (_, mode) in zip(outputs, modes, strict=True)
        )
        found.append(
            Combination.model_validate({"outputs": outputs, "total_power": f"{total:.6g} W"})
        )
    return adapter.model_copy(update={"combinations": found[:1] if found[0] == found[1] else found})


def _voltages(adapter: Adapter, key: Key) -> dict[str, float]:
    found = {}
    for port, name, asked in key:
        mode = adapter.mode(port, name)
        found[port] = asked or (mode.voltage if mode and mode.voltage else 0.0)
    return found


def _all_keys(adapter: Adapter) -> set[Key]:
    keys: set[Key] = {
        ((port.name, mode.name, 0.0),)
        for port in adapter.ports
        for mode in port.modes
        if mode.voltage is not None
    }
    order = [port.name for port in adapter.ports]
    for combination in adapter.combinations:
        if any(adapter.mode(out.port, out.mode) is None for out in combination.outputs):
            continue
        outputs = sorted(combination.outputs, key=lambda out: order.index(out.port))
        keys.add(tuple((out.port, out.mode, 0.0) for out in outputs))
    return keys


@dataclass
class _Wish:
    """A load point somebody asks for."""

    supply: tuple[float, float]
    key: Key
    fraction: float
    currents: dict[str, float]
    purpose: str
    efficiency: float


def _of_rule(item: Judged, supply: tuple[float, float]) -> list[_Wish]:
    least = float(minimum_average_efficiency(item.rule, item.power, item.category))
    name = title(item.rule)
    wishes = [
        _Wish(
            supply,
            item.key,
            share,
            {port: share * current for port, current in item.currents.items()},
            name,
            least,
        )
        for share in ACTIVE["fractions"]
    ]
    if item.rule != "us-vi":
        share = TEN_PERCENT["fractions"][0]
        currents = {port: share * current for port, current in item.nameplate_currents.items()}
        wishes.append(_Wish(supply, item.key, share, currents, name, least))
    return wishes


def _of_modes(adapter: Adapter, supply: tuple[float, float]) -> list[_Wish]:
    """Every mode of every port alone, and the ends and the middle of adjustable ranges."""
    wishes = []
    for port in adapter.ports:
        for mode in port.modes:
            settings, shares, purpose = [0.0], list(_EVERY), SPREAD
            if mode.voltage is None:
                low, high = mode.minimum_voltage or 0.0, mode.maximum_voltage or 0.0
                settings, shares, purpose = [low, (low + high) / 2, high], [1.0], SETTING
            for asked in settings:
                volts = asked or mode.voltage or 0.0
                current = min(mode.current, adapter.nameplate.rated_power / volts)
                category = nameplate_category(volts, mode.current)
                power = min(volts * current, 249.0)
                least = float(minimum_average_efficiency("eu-2019-1782", power, category))
                wishes += [
                    _Wish(
                        supply,
                        ((port.name, mode.name, round(asked, 2)),),
                        share,
                        {port.name: share * current},
                        purpose,
                        least,
                    )
                    for share in shares
                ]
    return wishes


def _wishes(adapter: Adapter) -> list[_Wish]:
    plate = adapter.nameplate
    low, high = plate.input_voltage_minimum or 0.0, plate.input_voltage_maximum or 1e3
    wishes = []
    for rule in RULES:
        supply = rule_supply(rule)
        if low <= supply.voltage <= high:
            mains = supply.voltage, supply.frequency
            for item in judged_loadings(adapter, rule, _all_keys(adapter)):
                wishes += _of_rule(item, mains)
    home = (230.0, 50.0) if high >= 230 else (115.0, 60.0)
    return wishes + _of_modes(adapter, home)


def _alike(wish: _Wish, other: _Wish) -> bool:
    return (
        wish.supply == other.supply
        and wish.key == other.key
        and all(
            abs(current - other.currents[port]) <= 0.005 * current
            for port, current in wish.currents.items()
        )
    )


def plan_of(adapter: Adapter, taken: Iterable[Point] = ()) -> list[PlannedPoint]:
    """Every load point worth taking, in the order to take them.

    Parameters
    ----------
    adapter : Adapter
        The nameplate.
    taken : iterable of Point, optional
        Points the load sweep already holds.

    Returns
    -------
    list of PlannedPoint
        For each mains the loading of most power first, each from full load downwards; a point
        that several rules ask for stands once. Empty if the nameplate lists no ports.
    """
    adapter = with_combinations(adapter)
    merged: list[tuple[_Wish, list[str]]] = []
    for wish in _wishes(adapter):
        for first, purposes in merged:
            if _alike(wish, first):
                if wish.purpose not in purposes:
                    purposes.append(wish.purpose)
                break
        else:
            merged.append((wish, [wish.purpose]))

    def power(wish: _Wish) -> float:
        volts = _voltages(adapter, wish.key)
        return sum(volts[port] * current for port, current in wish.currents.items())

    most: dict[tuple[tuple[float, float], Key], float] = {}
    for wish, _ in merged:
        place = wish.supply, wish.key
        most[place] = max(most.get(place, 0.0), power(wish))
    merged.sort(
        key=lambda item: (
            -item[0].supply[0],
            -most[item[0].supply, item[0].key],
            str(item[0].key),
            -power(item[0]),
        )
    )
    known = list(taken)
    return [
        PlannedPoint(
            number,
            *wish.supply,
            tuple(purposes),
            loading_name(adapter, wish.key),
            wish.key,
            wish.fraction,
            wish.currents,
            _voltages(adapter, wish.key),
            wish.efficiency,
            _is_taken(known, wish.supply, wish.key, wish.currents),
        )
        for number, (wish, purposes) in enumerate(merged, start=1)
    ]


def _is_taken(
    points: Iterable[Point],
    supply: tuple[float, float],
    key: Key,
    currents: Mapping[str, float],
) -> bool:
    alike = [point for point in points if point.key == key and point.on_supply(*supply, 0.01)]
    return nearest(alike, currents, 1.0, _NEAR * 2) is not None
