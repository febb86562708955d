"""Heat in a dossier's closed case: how warm case and parts become at any load and in any room.

`heat_model` balances the losses of the load sweep against what the case gives off, calibrated on
the case temperatures of the dossier; `touch_temperature` is what other sections need of it.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from adapterlab.assess.model.loadings import Loading, main_loading, sweep_of
from adapterlab.assess.model.no_load import no_load_readings
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.published import rows
from adapterlab.thermal.case import (
    USUAL,
    CaseTemperatures,
    case_temperatures,
    fit_transfer_factor,
    free_area,
)

Floats = NDArray[np.float64]
_ROOM = 25.0
_SENSOR = 1.0
# A full load a little above the largest one measured still counts as measured.
_REACH = 1.02


@dataclass(frozen=True)
class HeatModel:
    """What a case gives off, and what is made in it.

    Attributes
    ----------
    size : tuple of float
        Height, width and depth as it stands. [m]
    loadings : tuple of Loading
        Load curves on one mains, the one that reaches the most power first.
    idle_loss : float
        Loss with nothing plugged in. [W]
    factor, factor_uncertainty : float
        Real over computed heat flow, and its standard uncertainty. [1]
    readings : pandas.DataFrame
        Case temperatures it was calibrated on: ``output_power`` [W], ``ambient`` and
        ``temperature`` [°C], ``loss`` [W], ``line``; empty if there are none.
    slope : float
        Power of the factor that the rise of the case goes with. [1]
    inner_resistance : float or None
        Between inner air and case, from the coolest part measured: none stays cooler than the air
        around it. None if no part was measured. [K/W]
    """

    size: tuple[float, float, float]
    loadings: tuple[Loading, ...]
    idle_loss: float
    factor: float
    factor_uncertainty: float
    readings: pd.DataFrame
    slope: float
    inner_resistance: float | None = None

    @property
    def calibrated(self) -> bool:
        """Whether case temperatures were measured."""
        return not self.readings.empty

    @property
    def area(self) -> float:
        """Surface of the case. [m²]."""
        return float(free_area(*self.size))

    @property
    def largest_power(self) -> float:
        """Output power up to which losses were measured. [W]."""
        curve = self.loadings[0].curve
        return curve.largest_power if curve is not None else 0.0

    def losses(self, output_power: float) -> tuple[float, float]:
        """Least and largest loss of the modes that reach a power. [W].

        Raises
        ------
        ValueError
            If no mode was measured up to it.
        """
        if output_power == 0:
            return self.idle_loss, self.idle_loss
        curves = [item.curve for item in self.loadings if item.curve is not None]
        found = [
            float(curve.loss(min(output_power, curve.largest_power)))
            for curve in curves
            if output_power <= curve.largest_power * _REACH
        ]
        if not found:
            raise ValueError(
                f"output_power must be at most {self.largest_power:.3g} W, the largest of the load "
                f"sweep, got {output_power:.3g}"
            )
        return min(found), max(found)

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
        return case_temperatures(loss_power, ambient, *self.size, transfer_factor=self.factor)

    def inner_air(self, loss_power: float, ambient: float) -> float:
        """Air in the case, from measured parts or else from usual resistances. [°C]."""
        found = self.balance(loss_power, ambient)
        if self.inner_resistance is None:
            return float(found.inner_air)
        return float(found.case + self.inner_resistance * loss_power)

    def rise(self, loss_power: float, ambient: float, factor: Any = None) -> Any:
        """Rise of the case for one or many values of the factor. [K]."""
        best = self.balance(loss_power, ambient).case - ambient
        return best if factor is None else best * (np.asarray(factor) / self.factor) ** -self.slope

    def case_value(self, output_power: float, ambient: float) -> Value:
        """Case temperature at a load, with its uncertainty. [°C]."""
        loss = self.main_loss(output_power)
        rise = self.rise(loss, ambient)
        return Value(
            float(ambient + rise),
            float(self.slope * rise * self.factor_uncertainty / self.factor),
            "°C",
        )


def _curves(specimen: Specimen) -> tuple[Loading, ...]:
    """Loadings with a curve on the mains of the one that reaches the most power."""
    loadings = sweep_of(specimen).loadings
    best = main_loading(loadings)
    if best is None:
        return ()
    alike = [x for x in loadings if x.mains == best.mains and x.curve is not None and x is not best]
    return (best, *alike)


def _case_rows(specimen: Specimen) -> pd.DataFrame:
    table = specimen.temperatures
    found = table["place"].str.contains("case", case=False) & (table["case"] != "open")
    whole = table["ambient"].notna() & table["output_power"].notna()
    return table[found & whole & (table["temperature"] > table["ambient"])]


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
    usual = USUAL["transfer factor"]
    spread = (usual["high"] - usual["low"]) / np.sqrt(12)
    reach = float(curve.loss(curve.largest_power))
    low, top = (
        case_temperatures(reach, _ROOM, high, wide, deep, transfer_factor=f).case - _ROOM
        for f in (1.0, 1.1)
    )
    slope = float(-np.log(top / low) / np.log(1.1))
    model = HeatModel(
        (high, wide, deep), loadings, idle, usual["value"], spread, pd.DataFrame(), slope
    )
    table = _case_rows(specimen)
    table = table[table["output_power"] <= curve.largest_power * _REACH]
    if not table.empty:
        model = _calibrated(specimen, model, table)
    return replace(model, inner_resistance=_inner_resistance(specimen, model))


def _inner_resistance(specimen: Specimen, model: HeatModel) -> float | None:
    """From the coolest part at the largest load of each record. [K/W]."""
    table = specimen.temperatures
    parts = table[~table["place"].str.contains("case", case=False) & (table["case"] != "open")]
    found = list(zip(parts["temperature"], parts["ambient"], parts["output_power"], strict=True))
    found += [(c.temperature, c.ambient, c.output_power) for c in specimen.adapter.capacitors]
    above = []
    for warm, room, power in found:
        known = [value is not None and np.isfinite(value) for value in (warm, room, power)]
        if all(known) and 0 < power <= model.largest_power * _REACH:
            loss = model.main_loss(power)
            above.append((power, (warm - room - model.rise(loss, room)) / loss))
    if not above:
        return None
    most = max(power for power, _ in above)
    return max(0.0, min(float(value) for power, value in above if power > 0.9 * most))


def _calibrated(specimen: Specimen, model: HeatModel, table: pd.DataFrame) -> HeatModel:
    """The same model with the factor that its case temperatures ask for."""
    loss = np.array([model.main_loss(power) for power in table["output_power"]])
    used = table[["output_power", "ambient", "temperature", "line"]].assign(loss=loss)
    used = used[used["loss"] > 0]
    factor = np.atleast_1d(
        fit_transfer_factor(
            used["loss"].to_numpy(),
            used["temperature"].to_numpy(),
            used["ambient"].to_numpy(),
            *model.size,
        )
    )
    rise = (used["temperature"] - used["ambient"]).to_numpy()
    # The larger the rise, the more an error of the thermometer matters less.
    weight = rise**2 / (rise**2).sum()
    best = float((weight * factor).sum())
    meter = specimen.reading("temperature", float(used["temperature"].max()), "°C")
    sensor = np.hypot(meter.standard_uncertainty, _SENSOR)
    scatter = float((weight * (factor - best) ** 2).sum()) / max(len(used) - 1, 1) * len(used)
    own = best * float(np.sqrt((weight**2 * (sensor / rise) ** 2).sum())) / model.slope
    return replace(
        model,
        factor=best,
        factor_uncertainty=float(np.sqrt(scatter / len(used) + own**2)),
        readings=used.reset_index(drop=True),
    )


def touch_temperature(specimen: Specimen, ambient: float = _ROOM) -> Value | None:
    """Temperature of the case at the largest load, as a hand would meet it.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    ambient : float, optional
        Room. [°C]

    Returns
    -------
    Value or None
        With its uncertainty; where case temperatures were measured the balance is calibrated on
        them, which makes it the hottest measured spot rather than a mean. [°C]
    """
    model = heat_model(specimen)
    return None if model is None else model.case_value(model.largest_power, ambient)


def typical_place(model: HeatModel) -> tuple[float, float]:
    """How far parts usually sit above the case, least and most. [K/W]."""
    row = rows("thermal", "places")[0]
    return row["low"] / model.area, row["high"] / model.area
