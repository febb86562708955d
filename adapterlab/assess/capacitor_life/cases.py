"""The capacitors of an adapter whose life can be worked out: what is known of each, as inputs."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import constants

from adapterlab.assess.capacitor_life.currents import Ripple, ripple_of
from adapterlab.assess.model.heat import (
    FACTOR,
    HeatModel,
    Loaded,
    loaded_for,
    loaded_of,
    typical_place,
)
from adapterlab.assess.model.inputs import Input, allowance, between, measured
from adapterlab.assess.model.limiter import room_of
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, not_measured
from adapterlab.assess.report.value import Value
from adapterlab.capacitor_life import (
    LOWEST_TEMPERATURE,
    can_surface,
    can_temperature_rise,
    ripple_temperature_rise,
)
from adapterlab.dossier.schema import RatedCapacitor
from adapterlab.published import rows

SECTION = "capacitor_life"
FUNCTIONS = {
    "wet electrolytic": "capacitor_life.electrolytic_life",
    "polymer": "capacitor_life.polymer_life",
}
# The laws hold below a rise of 40 K.
LARGEST_RISE = 40.0
_RATIOS = rows(SECTION, "core_to_case")

Values = Mapping[str, Any]


@dataclass(frozen=True)
class Warmth:
    """How warm the case of a capacitor was read, and under what.

    Attributes
    ----------
    reading : Value
        With the uncertainty of its meter, or as noted. [°C]
    origin : str
        Where it stands.
    ambient : float or None
        Room. [°C]
    loaded : Loaded or None
        Load, mains and mode.
    """

    reading: Value
    origin: str
    ambient: float | None
    loaded: Loaded | None


@dataclass(frozen=True)
class Case:
    """One capacitor whose life can be worked out.

    Attributes
    ----------
    capacitor : RatedCapacitor
        Its entry.
    warmth : Warmth or None
        As read on its case; None where the balance of heat must do.
    heat : HeatModel or None
        The balance; there is one where nothing was read.
    loaded : Loaded
        Load at that temperature.
    room : Input
        Room at that temperature. [°C]
    own : dict of str to Input
        What belongs to it alone, by the part of its name after the reference.
    rated_temperature : float
        [°C]
    ripple : Ripple
        What is known of its ripple current.
    by_resistance : float or None
        Rise of the core per square ampere from series resistance and surface of the can, with a
        core as warm as the can; None if they are not noted. [K/A²]
    """

    capacitor: RatedCapacitor
    warmth: Warmth | None
    heat: HeatModel | None
    loaded: Loaded | None
    room: Input
    own: dict[str, Input]
    rated_temperature: float
    ripple: Ripple
    by_resistance: float | None

    @property
    def label(self) -> str:
        """Reference and place, as said aloud."""
        return label_of(self.capacitor)

    @property
    def estimated(self) -> bool:
        """Whether the temperature comes from the balance of heat instead of a thermocouple."""
        return self.warmth is None

    @property
    def inputs(self) -> dict[str, Input]:
        """Everything that its temperature, its heating and its rating rest on, by name."""
        found = {item.name: item for item in (*self.own.values(), self.room)} | self.ripple.inputs
        if self.warmth is None and self.heat is not None:
            found[FACTOR] = self.heat.factor
        return found

    def of(self, values: Values, what: str) -> Any:
        """A drawn input that belongs to it alone."""
        return values[self.own[what].name]

    def middle(self) -> dict[str, float]:
        """Every input at its middle, by name."""
        return {name: item.middle for name, item in self.inputs.items()}

    def warm(self, values: Values) -> Any:
        """Temperature of its case, of draws. [°C]."""
        if self.warmth is not None or self.heat is None:
            contact = self.of(values, "contact") if "contact" in self.own else 0.0
            return self.of(values, "temperature") + contact
        loss, room = self.of(values, "loss"), values[self.room.name]
        return room + self.heat.rise(loss, room, values[FACTOR]) + self.of(values, "above") * loss

    def above_shell(self, values: Values, heat: HeatModel) -> Any:
        """How far it sits above the adapter's case, of draws. [K/W]."""
        if "above" in self.own:
            return self.of(values, "above")
        if "loss" not in self.own:
            raise ValueError(f"the load sweep does not tell what is lost as {self.label} was read")
        loss, room = self.of(values, "loss"), values[self.room.name]
        return (self.warm(values) - room - heat.rise(loss, room, values[FACTOR])) / loss

    def rise(self, values: Values) -> Any:
        """Rise of the core by ripple current, of draws. [K]."""
        current, rated = self.ripple.current(values), self.capacitor.rated_ripple_current
        whole = self.of(values, "rated_rise")
        if current is not None and rated is not None:
            found = ripple_temperature_rise(np.maximum(current, 0.0), rated, whole)
        elif current is not None and self.by_resistance is not None:
            found = self.by_resistance * np.asarray(current) ** 2 * self.of(values, "core_ratio")
        else:
            found = whole * self.of(values, "unknown_ripple")
        return np.minimum(found, LARGEST_RISE - 0.1)

    @property
    def ripple_rise(self) -> float | None:
        """Rise of the core in the middle; None where the ripple current is not known. [K]."""
        return None if "unknown_ripple" in self.own else float(self.rise(self.middle()))

    @property
    def rated_ripple_rise(self) -> float:
        """Rise at rated ripple current, in the middle. [K]."""
        return self.own["rated_rise"].middle

    @property
    def resistance_rise(self) -> float | None:
        """Rise of the core by resistance and surface, in the middle. [K]."""
        current = self.ripple.best
        if self.by_resistance is None or current is None:
            return None
        return self.by_resistance * current.value**2 * self.own["core_ratio"].middle

    @property
    def temperature(self) -> float:
        """Of its case, in the middle. [°C]."""
        return float(self.warm(self.middle()))

    def check(self) -> None:
        """Raise if no maker states a life here.

        Raises
        ------
        ValueError
            With the reason, as the middle of a sentence.
        """
        most = self.rated_ripple_rise if self.ripple_rise is None else self.ripple_rise
        lowest = LOWEST_TEMPERATURE + most
        if lowest >= self.rated_temperature or most >= LARGEST_RISE - 0.1:
            raise ValueError(
                f"its ripple current would heat it by {most:.3g} K, where the laws hold below "
                f"{LARGEST_RISE:g} K"
            )
        if not lowest <= self.temperature <= self.rated_temperature:
            raise ValueError(
                f"its case at {self.temperature:.3g} °C lies outside {lowest:.3g} to "
                f"{self.rated_temperature:g} °C"
            )
        share = self.capacitor.base_life_tolerance
        if share >= 1:
            raise ValueError(f"its base_life_tolerance must be below 100 %, got {share:.0%}")


def label_of(capacitor: RatedCapacitor) -> str:
    """Reference and place of a capacitor, as said aloud."""
    return f"{capacitor.part} ({capacitor.place})" if capacitor.place else capacitor.part


def rounded(values: Any) -> Any:
    """Two significant digits."""
    array = np.asarray(values, dtype=float)
    digits = 1 - np.floor(np.log10(np.where(array > 0, array, 1.0))).astype(int)
    return np.array([round(value, place) for value, place in zip(array, digits, strict=True)])


def said(value: float) -> str:
    """Two significant digits, with commas between thousands."""
    shown = float(rounded([value])[0])
    return f"{shown:,.0f}" if shown >= 10 else f"{shown:g}"


def warmth_of(specimen: Specimen, capacitor: RatedCapacitor) -> Warmth | None:
    """How warm the case of a capacitor was read: its own entry, else the hottest of its place.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    capacitor : RatedCapacitor
        The capacitor; where its output power is noted, only readings at that count.

    Returns
    -------
    Warmth or None
        None if nothing was read.
    """
    if capacitor.temperature is not None:
        origin = f"adapter.toml, [[capacitors]] {capacitor.part}"
        loaded = None if capacitor.output_power is None else loaded_for(capacitor)
        reading = _read(specimen, capacitor, capacitor.temperature)
        return Warmth(reading, origin, capacitor.ambient, loaded)
    table = specimen.temperatures
    table = table[(table["place"] == capacitor.place) & (capacitor.place != "")]
    if capacitor.output_power is not None:
        table = table[np.isclose(table["output_power"], capacitor.output_power)]
    if table.empty:
        return None
    row = next(table.loc[[table["temperature"].idxmax()]].itertuples())
    room = float(row.ambient) if np.isfinite(row.ambient) else None
    reading = _read(specimen, capacitor, float(row.temperature))
    return Warmth(reading, f"temperatures.csv line {row.line}", room, loaded_of(row))


def _read(specimen: Specimen, capacitor: RatedCapacitor, celsius: float) -> Value:
    """A temperature with the uncertainty noted for it, else with that of its meter."""
    noted = capacitor.temperature_uncertainty
    if noted is not None:
        return Value(celsius, noted, "°C")
    return specimen.reading("temperature", celsius, "°C")


def rated_temperature(specimen: Specimen, capacitor: RatedCapacitor) -> float | None:
    """Temperature marked on a capacitor, None if it is not noted. [°C]."""
    part = specimen.adapter.part(capacitor.part)
    return capacitor.rated_temperature or (part.rated_temperature if part else None)


def core_to_case(capacitor: RatedCapacitor) -> Input:
    """Rise of the core over rise of the can: of its diameter if noted, else of any. [1]."""
    name = f"{capacitor.part}.core_ratio"
    if capacitor.diameter is not None:
        for row in _RATIOS:
            if capacitor.diameter <= row["diameter_up_to"] + 1e-9:
                told = f"a core {row['ratio']:g} times as warm as a can of {capacitor.part}'s size"
                return Input(name, row["ratio"], "", "noted", told, row["source"])
    return allowance("capacitor.core_ratio", name)


def _resistance_factor(specimen: Specimen, capacitor: RatedCapacitor) -> float | None:
    """Rise of the can for one ampere by marked resistance and surface. [K/A²]."""
    part = specimen.adapter.part(capacitor.part)
    resistance = None if part is None else part.series_resistance
    wide, high = capacitor.diameter, capacitor.height
    if resistance is None or wide is None or high is None:
        return None
    return float(can_temperature_rise(1.0, resistance, can_surface(wide, high)))


def _needed(specimen: Specimen, capacitor: RatedCapacitor, heat: HeatModel | None) -> list[str]:
    needed = []
    if warmth_of(specimen, capacitor) is None and heat is None:
        needed.append(
            "the temperature of its case at full load, or that of its place in temperatures.csv "
            "(or the size of the case and a load sweep, from which it can be estimated)"
        )
    if rated_temperature(specimen, capacitor) is None:
        needed.append("its rated_temperature")
    if capacitor.base_life is None:
        needed.append("its base_life from the maker's data sheet")
    return needed


def _room(specimen: Specimen, capacitor: RatedCapacitor, ambient: float | None) -> Input:
    """Room at the temperature of a capacitor, as noted with it or assumed. [°C]."""
    noted = capacitor.ambient if ambient is None else ambient
    if noted is None:
        return room_of(specimen)
    where = f"adapter.toml, [[capacitors]] {capacitor.part}, or temperatures.csv"
    return Input(f"{capacitor.part}.room", noted, "°C", "noted", f"a room at {noted:g} °C", where)


def _own(
    capacitor: RatedCapacitor, warmth: Warmth | None, heat: HeatModel | None, loaded: Loaded | None
) -> dict[str, Input]:
    """Inputs that belong to one capacitor: rating, temperature, loss at that, core over can."""
    name, kind = capacitor.part, capacitor.type
    where = f"adapter.toml, [[capacitors]] {name}"
    hours, tolerance = (capacitor.base_life or 0.0) / constants.hour, capacitor.base_life_tolerance
    life = f"a base life of {hours:,.0f} h of {name}" + (
        f" (±{tolerance:.0%})" if tolerance else ""
    )
    ends = between(hours * (1 - tolerance), hours * (1 + tolerance))
    found = {
        "base_life": Input(f"{name}.base_life", ends, "h", "marked", life, where),
        "core_ratio": core_to_case(capacitor),
    }
    rise = capacitor.rated_ripple_rise
    if rise is None:
        found["rated_rise"] = allowance(f"capacitor.rated_rise.{kind}", f"{name}.rated_rise")
    else:
        told = f"{rise:g} K noted for {name} at its rated ripple current"
        found["rated_rise"] = Input(f"{name}.rated_rise", rise, "K", "noted", told, where)
    if warmth is not None:
        told = f"{warmth.reading} read on the case of {name}"
        found["temperature"] = measured(
            f"{name}.temperature", warmth.reading, told, source=warmth.origin
        )
        if capacitor.temperature_uncertainty is None:
            found["contact"] = allowance("thermometer.contact", f"{name}.contact")
    if heat is not None:
        under = loaded or heat.usual
        if heat.middle_loss(under) is not None:
            found["loss"] = heat.loss_input(under, f"{name}.loss")
        if warmth is None:
            found["above"] = typical_place(heat, name)
    return found


def case_of(
    specimen: Specimen, capacitor: RatedCapacitor, heat: HeatModel | None
) -> Case | Finding:
    """What the life is worked out from, or a finding that says what is missing."""
    needed = _needed(specimen, capacitor, heat)
    rated = rated_temperature(specimen, capacitor)
    if needed or rated is None:
        return not_measured(
            SECTION,
            f"How long does {label_of(capacitor)} last?",
            "; ".join(needed) + ".",
            FUNCTIONS[capacitor.type],
        )
    warmth = warmth_of(specimen, capacitor)
    loaded = None if warmth is None else warmth.loaded
    if warmth is None and heat is not None and capacitor.output_power is not None:
        listed = loaded_for(capacitor)
        loaded = listed if heat.middle_loss(listed) is not None else heat.usual
    own = _own(capacitor, warmth, heat, loaded)
    ripple, factor = ripple_of(specimen, capacitor), _resistance_factor(specimen, capacitor)
    rated_current = capacitor.rated_ripple_current
    if ripple.best is None or (rated_current is None and factor is None):
        own["unknown_ripple"] = allowance("ripple.unknown_share", f"{capacitor.part}.ripple_share")
    room = _room(specimen, capacitor, None if warmth is None else warmth.ambient)
    return Case(capacitor, warmth, heat, loaded, room, own, rated, ripple, factor)
