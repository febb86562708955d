"""The capacitors of a dossier whose life can be worked out: what is known of each."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import constants

from adapterlab.assess.capacitor_life.currents import Ripple, ripple_of
from adapterlab.assess.model.heat import HeatModel, typical_place
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage
from adapterlab.assess.report.finding import (
    Finding,
    not_measured,
)
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
HALVING = rows(SECTION, "halving_intervals")[0]
_RATIOS = rows(SECTION, "core_to_case")


@dataclass(frozen=True)
class Case:
    """One capacitor whose life can be worked out.

    Attributes
    ----------
    capacitor : RatedCapacitor
        Its entry.
    temperature, temperature_uncertainty : float
        Of its case. [°C], [K]
    estimated : bool
        Whether the temperature comes from the balance of heat instead of a thermocouple.
    ambient : float or None
        Room at that temperature. [°C]
    output_power : float or None
        Load at that temperature. [W]
    origin : str
        Where the temperature stands.
    rated_temperature : float
        [°C]
    base_life : float
        [h]
    ripple : Ripple
        What is known of its ripple current.
    ripple_rise : float or None
        Rise of the core from it; None if unknown. [K]
    rated_ripple_rise : float
        Rise at rated ripple current. [K]
    ratio : tuple of float
        Rise of the core over rise of the can, least and most. [1]
    resistance_rise : float or None
        Rise of the core from series resistance and surface of the can, beside the one from the
        rating; None if they are not noted. [K]
    """

    capacitor: RatedCapacitor
    temperature: float
    temperature_uncertainty: float
    estimated: bool
    ambient: float | None
    output_power: float | None
    origin: str
    rated_temperature: float
    base_life: float
    ripple: Ripple
    ripple_rise: float | None
    rated_ripple_rise: float
    ratio: tuple[float, float]
    resistance_rise: float | None = None

    @property
    def label(self) -> str:
        """Reference and place, as said aloud."""
        return label_of(self.capacitor)

    @property
    def widest_rise(self) -> float:
        """Largest rise allowed for. [K]."""
        return self.rated_ripple_rise if self.ripple_rise is None else self.ripple_rise

    def check(self) -> None:
        """Raise if no maker states a life here.

        Raises
        ------
        ValueError
            With the reason, as the middle of a sentence.
        """
        lowest = LOWEST_TEMPERATURE + self.widest_rise
        if lowest >= self.rated_temperature or self.widest_rise >= 40:
            raise ValueError(
                f"its ripple current would heat it by {self.widest_rise:.3g} K, where the laws "
                f"hold below 40 K"
            )
        if not lowest <= self.temperature <= self.rated_temperature:
            raise ValueError(
                f"its case at {self.temperature:g} °C lies outside {lowest:.3g} to "
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


def case_temperature(specimen: Specimen, capacitor: RatedCapacitor) -> tuple[float, str] | None:
    """Case temperature and where it stands: the capacitor's own entry, else its place's hottest."""
    found = _measured(specimen, capacitor)
    return None if found is None else (found[0], found[1])


def _measured(
    specimen: Specimen, capacitor: RatedCapacitor
) -> tuple[float, str, float | None, float | None] | None:
    """Temperature, origin, ambient and output power of a measurement on the case."""
    if capacitor.temperature is not None:
        origin = f"adapter.toml, [[capacitors]] {capacitor.part}"
        return capacitor.temperature, origin, capacitor.ambient, capacitor.output_power
    table = specimen.temperatures
    table = table[(table["place"] == capacitor.place) & (capacitor.place != "")]
    if capacitor.output_power is not None:
        table = table[np.isclose(table["output_power"], capacitor.output_power)]
    if table.empty:
        return None
    row = table.loc[table["temperature"].idxmax()]
    room, power = (
        float(row[name]) if np.isfinite(row[name]) else None for name in ("ambient", "output_power")
    )
    return float(row["temperature"]), f"temperatures.csv line {row['line']}", room, power


def rated_temperature(specimen: Specimen, capacitor: RatedCapacitor) -> float | None:
    """Temperature marked on a capacitor, None if it is not noted. [°C]."""
    part = specimen.adapter.part(capacitor.part)
    return capacitor.rated_temperature or (part.rated_temperature if part else None)


def core_to_case(capacitor: RatedCapacitor) -> tuple[float, float]:
    """Rise of the core over rise of the can: of its diameter if noted, else of any."""
    if capacitor.diameter is not None:
        for row in _RATIOS:
            if capacitor.diameter <= row["diameter_up_to"] + 1e-9:
                return row["ratio"], row["ratio"]
    return _RATIOS[0]["ratio"], _RATIOS[-1]["ratio"]


def resistance_rise(
    specimen: Specimen, capacitor: RatedCapacitor, current: float | None
) -> float | None:
    """Rise of the core from current, marked resistance and surface; None if one is not known."""
    part = specimen.adapter.part(capacitor.part)
    resistance = None if part is None else part.series_resistance
    sizes = (capacitor.diameter, capacitor.height)
    if current is None or resistance is None or sizes[0] is None or sizes[1] is None:
        return None
    can = can_temperature_rise(current, resistance, can_surface(sizes[0], sizes[1]))
    return float(can * core_to_case(capacitor)[0])


def _needed(specimen: Specimen, capacitor: RatedCapacitor, heat: HeatModel | None) -> list[str]:
    needed = []
    if case_temperature(specimen, capacitor) is None and heat is None:
        needed.append(
            "the temperature of its case at full load, or that of its place in temperatures.csv "
            "(or the size of the case and a load sweep, from which it can be estimated)"
        )
    if rated_temperature(specimen, capacitor) is None:
        needed.append("its rated_temperature")
    if capacitor.base_life is None:
        needed.append("its base_life from the maker's data sheet")
    return needed


def case_of(
    specimen: Specimen, capacitor: RatedCapacitor, stages: list[Stage], heat: HeatModel | None
) -> Case | Finding:
    """What the life is worked out from, or a finding that says what is missing."""
    needed = _needed(specimen, capacitor, heat)
    rated = rated_temperature(specimen, capacitor)
    if needed or rated is None or capacitor.base_life is None:
        return not_measured(
            SECTION,
            f"How long does {label_of(capacitor)} last?",
            "; ".join(needed) + ".",
            FUNCTIONS[capacitor.type],
        )
    found = _measured(specimen, capacitor)
    spread, estimated = capacitor.temperature_uncertainty, found is None
    if found is None and heat is not None:
        power = min(capacitor.output_power or heat.largest_power, heat.largest_power)
        room = capacitor.ambient if capacitor.ambient is not None else 25.0
        shell, loss = heat.case_value(power, room), heat.main_loss(power)
        low, high = typical_place(heat)
        spread = float(np.hypot(shell.standard_uncertainty, (high - low) * loss / np.sqrt(12)))
        origin = "the balance of heat, for nothing was measured on it"
        found = (shell.value + loss * (low + high) / 2, origin, room, power)
    if found is None:
        raise AssertionError("a temperature was promised")
    rise = capacitor.rated_ripple_rise
    if rise is None:
        rise = rows(SECTION, "rated_ripple_rises", type=capacitor.type)[0]["rise"]
    ripple = ripple_of(specimen, capacitor, stages)
    current, heating = ripple.best, None
    by_resistance = resistance_rise(specimen, capacitor, current.value if current else None)
    if current is not None and capacitor.rated_ripple_current is not None:
        heating = ripple_temperature_rise(current.value, capacitor.rated_ripple_current, rise)
    elif by_resistance is not None:
        heating = by_resistance
    return Case(
        capacitor,
        found[0],
        spread,
        estimated,
        found[2],
        found[3],
        found[1],
        rated,
        capacitor.base_life / constants.hour,
        ripple,
        heating,
        rise,
        core_to_case(capacitor),
        by_resistance,
    )
