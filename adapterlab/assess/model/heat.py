"""Heat in an adapter's closed case: how warm case and parts become at any load and in any room.

`heat_model` balances the losses of the load sweep against what the case gives off, calibrated on
the case temperatures of the dossier; `touch_temperature` is what other sections need of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from adapterlab.assess.model.inputs import Input, allowance, between, predict
from adapterlab.assess.model.loadings import Loading, main_loading, sweep_of
from adapterlab.assess.model.no_load import no_load_readings
from adapterlab.assess.model.specimen import Specimen, once
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.thermal.case import (
    CaseTemperatures,
    case_temperatures,
    fit_transfer_factor,
    free_area,
)

Floats = NDArray[np.float64]
# Room in which temperatures are told.
ROOM = 25.0
FACTOR = "case.transfer_factor"
# A full load a little above the largest one measured still counts as measured.
_REACH = 1.02
# Mains whose voltages lie so close together are one.
_ALIKE = 0.03


@dataclass(frozen=True)
class Loaded:
    """Under what a temperature was read.

    Attributes
    ----------
    output_power : float
        [W]
    mains_voltage : float or None
        None where it was not noted. [V]
    port, mode : str
        What was loaded; empty where it was not noted.
    """

    output_power: float
    mains_voltage: float | None = None
    port: str = ""
    mode: str = ""

    def fits(self, loading: Loading) -> bool:
        """Whether a loading of the load sweep may be what was loaded."""
        volts = loading.points[0].mains_voltage
        if self.mains_voltage is not None and abs(volts / self.mains_voltage - 1) > _ALIKE:
            return False
        if not self.port and not self.mode:
            return True
        port, mode, _ = loading.key[0]
        alone = len(loading.key) == 1
        return alone and self.port in ("", port) and self.mode in ("", mode)

    @property
    def said(self) -> str:
        """As said aloud, such as ``at 27 W in mode C 12 V on 230 V``."""
        text = f"at {self.output_power:.3g} W"
        named = " ".join(name for name in (self.port, self.mode) if name)
        if named:
            text += f" in mode {named}"
        if self.mains_voltage is not None:
            text += f" on {self.mains_voltage:.3g} V"
        return text


@dataclass(frozen=True)
class CaseReading:
    """A case temperature with what was lost in the case.

    Attributes
    ----------
    reading : Value
        The temperature. [°C]
    ambient : float
        Room. [°C]
    loaded : Loaded
        Load, mains and mode.
    loss : float
        In the middle of what the record leaves open. [W]
    loss_uncertainty : float
        Standard uncertainty from what it leaves open. [W]
    line : int
        In temperatures.csv.
    """

    reading: Value
    ambient: float
    loaded: Loaded
    loss: float
    loss_uncertainty: float
    line: int


@dataclass(frozen=True)
class HeatModel:
    """What a case gives off, and what is made in it.

    Attributes
    ----------
    size : tuple of float
        Height, width and depth as it stands. [m]
    loadings : tuple of Loading
        With a loss curve, the one that reaches the most power first.
    idle_loss : float
        Loss with nothing plugged in. [W]
    factor : Input
        Real over computed heat flow: measured where case temperatures were, else assumed. [1]
    readings : tuple of CaseReading
        Case temperatures it was calibrated on.
    slope : float
        Power of the factor that the rise of the case goes with. [1]
    inner_resistance : float or None
        Between inner air and case, from the coolest part measured: none stays cooler than the air
        around it. None if no part was measured. [K/W]
    """

    size: tuple[float, float, float]
    loadings: tuple[Loading, ...]
    idle_loss: float
    factor: Input
    readings: tuple[CaseReading, ...]
    slope: float
    inner_resistance: float | None = None

    @property
    def calibrated(self) -> bool:
        """Whether case temperatures were measured."""
        return bool(self.readings)

    @property
    def fullest(self) -> CaseReading:
        """The reading at the highest load, the warmest of several."""
        return max(self.readings, key=lambda item: (item.loaded.output_power, item.reading.value))

    @property
    def area(self) -> float:
        """Surface of the case. [m²]."""
        return float(free_area(*self.size))

    @property
    def largest_power(self) -> float:
        """Output power up to which losses were measured. [W]."""
        curve = self.loadings[0].curve
        return curve.largest_power if curve is not None else 0.0

    @property
    def usual(self) -> Loaded:
        """Full load on the mains of the loading that reaches the most power."""
        return Loaded(self.largest_power, self.loadings[0].points[0].mains_voltage)

    @property
    def fully_loaded(self) -> str:
        """The largest load that was measured, as said aloud."""
        main = self.loadings[0]
        return f"at {self.largest_power:.3g} W with {main.name} from {main.mains}"

    def losses(self, loaded: Loaded) -> tuple[float, float]:
        """Least and largest loss of whatever may have been loaded. [W].

        Raises
        ------
        ValueError
            If no mode was measured up to that power.
        """
        power = loaded.output_power
        if power == 0:
            return self.idle_loss, self.idle_loss
        fitting = [item.curve for item in self.loadings if item.curve and loaded.fits(item)]
        found = [
            float(curve.loss(min(power, curve.largest_power)))
            for curve in fitting
            if power <= curve.largest_power * _REACH
        ]
        if not found:
            most = max((curve.largest_power for curve in fitting), default=self.largest_power)
            raise ValueError(
                f"output_power must be at most {most:.3g} W, the largest of the load sweep, got "
                f"{power:.3g}"
            )
        return min(found), max(found)

    def middle_loss(self, loaded: Loaded | None) -> tuple[float, float] | None:
        """Loss halfway between least and largest, and its standard uncertainty; None if unknown."""
        if loaded is None or loaded.output_power <= 0:
            return None
        try:
            low, high = self.losses(loaded)
        except ValueError:
            return None
        return (low + high) / 2, (high - low) / 12**0.5

    def loss_input(self, loaded: Loaded, name: str) -> Input:
        """Loss in the case under a load: measured, or spread over what the record leaves open.

        Raises
        ------
        ValueError
            As `losses`.
        """
        low, high = self.losses(loaded)
        shown = f"{(low + high) / 2:.2g} W lost {loaded.said}"
        if high - low < 0.01 * high:
            return Input(name, (low + high) / 2, "W", "measured", shown, "load_sweep.csv")
        shown = f"{low:.2g} to {high:.2g} W assumed as loss, for mode or mains was not noted"
        return Input(name, between(low, high), "W", "assumed", shown, "load_sweep.csv")

    def main_loss(self, output_power: float) -> float:
        """Loss of the mode that reaches the most power. [W]."""
        curve = self.loadings[0].curve
        if output_power == 0 or curve is None:
            return self.idle_loss
        if output_power > curve.largest_power * _REACH:
            raise ValueError(
                f"output_power must be at most {curve.largest_power:.3g} W, the largest of the "
                f"load sweep, got {output_power:.3g}"
            )
        return float(curve.loss(min(output_power, curve.largest_power)))

    def balance(self, loss_power: ArrayLike, ambient: ArrayLike) -> CaseTemperatures:
        """Case and inner air at a loss and an ambient, with the best factor."""
        factor = self.factor.middle
        return case_temperatures(loss_power, ambient, *self.size, transfer_factor=factor)

    def inner_air(self, loss_power: float, ambient: float) -> float:
        """Air in the case, from measured parts or else from usual resistances. [°C]."""
        found = self.balance(loss_power, ambient)
        if self.inner_resistance is None:
            return float(found.inner_air)
        return float(found.case + self.inner_resistance * loss_power)

    def rise(self, loss_power: ArrayLike, ambient: float, factor: Any = None) -> Any:
        """Rise of the case for one or many values of loss and factor. [K]."""
        best = self.balance(loss_power, ambient).case - ambient
        if factor is None:
            return best
        return best * (np.asarray(factor) / self.factor.middle) ** -self.slope

    def case_at(self, output_power: float, ambient: float) -> Prediction:
        """Case temperature at a load of the mode that reaches the most power. [°C]."""
        loss = self.main_loss(output_power)

        def at(factor: Any) -> Any:
            return ambient + self.rise(loss, ambient, factor)

        return predict(at, {"factor": self.factor}, "°C")[0]


def _curves(specimen: Specimen) -> tuple[Loading, ...]:
    """Loadings with a curve, the one that reaches the most power first."""
    loadings = sweep_of(specimen).loadings
    best = main_loading(loadings)
    if best is None:
        return ()
    return (best, *(x for x in loadings if x.curve is not None and x is not best))


def loaded_of(row: Any) -> Loaded | None:
    """Under what a row of the table of temperatures was read; None without its output power."""
    if not np.isfinite(row.output_power):
        return None
    volts = float(row.mains_voltage) if np.isfinite(row.mains_voltage) else None
    return Loaded(float(row.output_power), volts, row.port, row.mode)


def readings_of_case(table: pd.DataFrame) -> pd.DataFrame:
    """Rows of a table of temperatures that tell what the closed case gives off.

    Parameters
    ----------
    table : pandas.DataFrame
        As in the dossier.

    Returns
    -------
    pandas.DataFrame
        Those of the case, not of an open one, with room and load, and warmer than the room.
    """
    found = table["place"].str.contains("case", case=False) & (table["case"] != "open")
    whole = table["ambient"].notna() & table["output_power"].notna()
    return table[found & whole & (table["temperature"] > table["ambient"])]


@once
def heat_model(specimen: Specimen) -> HeatModel | None:
    """Balance of heat of one adapter's case.

    Parameters
    ----------
    specimen : Specimen
        The adapter.

    Returns
    -------
    HeatModel or None
        None without the size of the case or without a loss curve.
    """
    size = specimen.adapter.nameplate.size
    loadings = _curves(specimen) if len(size) == 3 else ()
    if not loadings or loadings[0].curve is None:
        return None
    curve = loadings[0].curve
    alike = [item for item in no_load_readings(specimen) if item.mains == loadings[0].mains]
    idle = alike[0].power.value if alike else max(float(curve.fixed), 0.0)
    high, wide, deep = (float(length) for length in size)
    reach = float(curve.loss(curve.largest_power))
    low, top = (
        case_temperatures(reach, ROOM, high, wide, deep, transfer_factor=f).case - ROOM
        for f in (1.0, 1.1)
    )
    slope = float(-np.log(top / low) / np.log(1.1))
    model = HeatModel((high, wide, deep), loadings, idle, allowance(FACTOR), (), slope)
    model = _calibrated(specimen, model)
    return replace(model, inner_resistance=_inner_resistance(specimen, model))


def _inner_resistance(specimen: Specimen, model: HeatModel) -> float | None:
    """From the coolest part at the largest load of each record. [K/W]."""
    table = specimen.temperatures
    parts = table[~table["place"].str.contains("case", case=False) & (table["case"] != "open")]
    found = [(row.temperature, row.ambient, loaded_of(row)) for row in parts.itertuples()]
    found += [
        (c.temperature, c.ambient, None if c.output_power is None else loaded_for(c))
        for c in specimen.adapter.capacitors
    ]
    return coolest_resistance(model, found)


def loaded_for(capacitor: Any) -> Loaded:
    """Under what the temperature of a listed capacitor was read."""
    return Loaded(capacitor.output_power, capacitor.mains_voltage, capacitor.port, capacitor.mode)


def coolest_resistance(
    model: HeatModel, found: Sequence[tuple[float | None, float | None, Loaded | None]]
) -> float | None:
    """Between inner air and case: of the parts at or near the largest load the coolest tells.

    Parameters
    ----------
    model : HeatModel
        Balance of heat.
    found : sequence of tuple
        Temperature of a part, of the room, and under what it was read. [°C]

    Returns
    -------
    float or None
        Resistance, at least 0; None if no part was read with room and load. [K/W]
    """
    above = []
    for warm, room, loaded in found:
        lost = model.middle_loss(loaded)
        if warm is None or room is None or loaded is None or lost is None:
            continue
        if np.isfinite([warm, room]).all():
            loss, _ = lost
            above.append((loaded.output_power, (warm - room - model.rise(loss, room)) / loss))
    if not above:
        return None
    most = max(power for power, _ in above)
    return max(0.0, min(float(value) for power, value in above if power > 0.9 * most))


def _calibrated(specimen: Specimen, model: HeatModel) -> HeatModel:
    """The same model with the factor that its case temperatures ask for."""
    used = []
    for row in readings_of_case(specimen.temperatures).itertuples():
        loaded = loaded_of(row)
        lost = model.middle_loss(loaded)
        if loaded is None or lost is None:
            continue
        read = specimen.reading("temperature", float(row.temperature), "°C")
        used.append(CaseReading(read, float(row.ambient), loaded, *lost, int(row.line)))
    if not used:
        return model
    warm = np.array([item.reading.value for item in used])
    room, loss, left_open = (
        np.array([getattr(item, name) for item in used])
        for name in ("ambient", "loss", "loss_uncertainty")
    )
    factor = np.atleast_1d(fit_transfer_factor(loss, warm, room, *model.size))
    rise = warm - room
    # The larger the rise, the more an error of the thermometer matters less.
    weight = rise**2 / (rise**2).sum()
    best = float((weight * factor).sum())
    meter = max(item.reading.standard_uncertainty for item in used)
    contact = float(allowance("thermometer.contact").distribution.std())
    sensor = np.hypot(meter, contact)
    scatter = float((weight * (factor - best) ** 2).sum()) / max(len(used) - 1, 1)
    own = best * float(np.sqrt((weight**2 * (sensor / rise) ** 2).sum())) / model.slope
    # What was loaded, if nobody noted it, is not known any better from several readings.
    unknown = best * float((weight * left_open / loss).sum())
    spread = float(np.sqrt(scatter + own**2 + unknown**2))
    count = f"{len(used)} reading{'s' if len(used) > 1 else ''} of the case"
    return replace(
        model,
        factor=Input(
            FACTOR,
            stats.truncnorm(-0.9 * best / spread, np.inf, loc=best, scale=spread),
            "",
            "measured",
            f"the balance of heat calibrated on {count}",
            "temperatures.csv",
        ),
        readings=tuple(used),
    )


def touch_temperature(specimen: Specimen, ambient: float = ROOM) -> Prediction | None:
    """Temperature of the case at the largest load, as a hand would meet it.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    ambient : float, optional
        Room. [°C]

    Returns
    -------
    Prediction or None
        Where case temperatures were measured the balance is calibrated on them, which makes it
        the hottest measured spot rather than a mean. [°C]
    """
    model = heat_model(specimen)
    return None if model is None else model.case_at(model.largest_power, ambient)


def typical_place(model: HeatModel, part: str) -> Input:
    """How far a part usually sits above the case. [K/W]."""
    usual = allowance("part.above_case")
    low, high = (end / model.area for end in usual.ends)
    shown = f"{low:.2g} to {high:.2g} K for each watt assumed between {part} and the case"
    return Input(f"{part}.above_case", between(low, high), "K/W", "assumed", shown, usual.source)
