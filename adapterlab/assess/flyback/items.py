"""The losses of an adapter by item, from named inputs.

`Path` is everything that the converters share, `Converter` one of them: each knows its inputs and
gives its losses for draws of them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import stats

from adapterlab.assess.model.feeds import BRIDGE_DROP, bridge_drop
from adapterlab.assess.model.inputs import Input, allowance, measured, noted
from adapterlab.assess.model.no_load import largest, no_load_readings
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import ROOT, Stage, parts_of
from adapterlab.assess.model.stresses import Clamp, clamp_of
from adapterlab.assess.report.prediction import MOSTLY, Prediction
from adapterlab.flyback import (
    capacitive_loss,
    clamp_dissipation,
    conduction_loss,
    diode_loss,
    foldback_frequency,
    operating_point,
    secondary_pulse,
    synchronous_loss,
    turn_off_loss,
    valley_number,
    valley_switching,
)
from adapterlab.published import rows

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
# Exponents of frequency and flux, mean of the published lines.
_STEINMETZ = tuple(
    float(np.mean([row[name] for row in rows("transformer", "core_loss")]))
    for name in ("frequency_exponent", "flux_exponent")
)
Drawn = Mapping[str, Any]


def named(*items: Input) -> dict[str, Input]:
    """Inputs by their names."""
    return {item.name: item for item in items}


@dataclass(frozen=True)
class Path:
    """What all converters share: the way from the mains, the bulk capacitors, the port, control.

    Attributes
    ----------
    mains_voltage : float
        [V]
    inputs : dict of str to Input
        By name.
    fixed : float
        Resistances between plug and bridge that are noted and taken as exact. [ohm]
    limiters : tuple of str
        Names of the inrush limiters' inputs that are thermistors.
    resistors : tuple of str
        Names of further resistances in the way.
    bulk_esr : float or None
        As listed, of all bulk capacitors together. [ohm]
    output_esr : float or None
        As listed. [ohm]
    idle : str
        Name of the power that flows without load.
    """

    mains_voltage: float
    inputs: dict[str, Input]
    fixed: float
    limiters: tuple[str, ...]
    resistors: tuple[str, ...]
    bulk_esr: float | None
    output_esr: float | None
    idle: str

    def source(self, drawn: Drawn) -> Any:
        """Mean bulk voltage. [V]."""
        return ROOT * self.mains_voltage * drawn["bulk.mean_share"]

    def losses(self, drawn: Drawn, behind: Any, alternating: Any, output_current: Any) -> Any:
        """Losses by item.

        Parameters
        ----------
        drawn : mapping
            Draws of `inputs`.
        behind : numpy.ndarray
            Power of the port and of the converters' losses. [W]
        alternating : numpy.ndarray
            Square of the converters' input current above its mean. [A²]
        output_current : numpy.ndarray
            [A]

        Returns
        -------
        dict of str to numpy.ndarray
            [W]
        """
        rms = behind / (self.mains_voltage * drawn["rectifier.power_factor"])
        mean = behind / self.source(drawn)
        warm = drawn["thermistor.warm_share"] if self.limiters else 0.0
        path = self.fixed + sum(drawn[name] for name in self.resistors)
        path = path + warm * sum(drawn[name] for name in self.limiters)
        if self.bulk_esr is None:
            esr = drawn["bulk.series_resistance"]
        else:
            esr = self.bulk_esr * drawn["bulk.series_resistance_factor"]
        slow = np.maximum(rms**2 - mean**2, 0)
        return {
            "mains path": conduction_loss(rms, path),
            "bridge": diode_loss(mean, rms, drawn[BRIDGE_DROP], drawn["bridge.resistance"]),
            "bulk capacitor": (slow + alternating) * esr,
            "output side": conduction_loss(output_current, drawn["board.resistance"]),
            "control and bleed": drawn[self.idle] * drawn["no_load.share"] + 0 * behind,
        }

    def ripple_loss(self, drawn: Drawn, rms_current: Any) -> Any:
        """Loss of the ripple current in the output capacitor. [W]."""
        if self.output_esr is None:
            esr = drawn["output.series_resistance"]
        else:
            esr = self.output_esr * drawn["output.series_resistance_factor"]
        return conduction_loss(rms_current, esr)


def _looked_for(specimen: Specimen, role: str) -> bool:
    """Whether it is known that a block is not there."""
    return role in specimen.adapter.construction.absent


def _in_the_way(specimen: Specimen) -> tuple[list[Input], float, list[str], list[str]]:
    """Inputs between plug and bridge, resistance that is exact, thermistors, resistors."""
    adapter = specimen.adapter
    inputs, fixed = [allowance("wiring.resistance")], 0.0
    discs: list[str] = []
    others = ["wiring.resistance"]
    limiters = adapter.parts_with_role("inrush limiter")
    for part in limiters:
        if part.value is None:
            continue
        item = specimen.part_value(part, "Ω", "limiter.tolerance")
        inputs.append(item)
        (discs if part.kind == "thermistor" else others).append(item.name)
    unseen = not limiters and not _looked_for(specimen, "inrush limiter")
    if unseen or any(part.value is None for part in limiters):
        inputs.append(allowance("limiter.warm_resistance"))
        others.append("limiter.warm_resistance")
    if discs:
        inputs.append(allowance("thermistor.warm_share"))
    chokes = adapter.parts_with_role("line choke")
    fixed = sum(part.series_resistance or 0.0 for part in chokes)
    unseen = not chokes and not _looked_for(specimen, "line choke")
    if unseen or any(part.series_resistance is None for part in chokes):
        inputs.append(allowance("choke.resistance"))
        others.append("choke.resistance")
    return inputs, fixed, discs, others


def _idle(specimen: Specimen, mains_voltage: float) -> Input:
    """Power without load on the mains in question, as read, else as assumed. [W]."""
    near = (
        item
        for item in no_load_readings(specimen)
        if abs(item.mains_voltage / mains_voltage - 1) < 0.05
    )
    bare = largest(near)
    if bare is None:
        return allowance("no_load.power")
    return measured("no_load.power", bare.power, f"{bare.power.short} read without load")


def path_of(specimen: Specimen, mains_voltage: float, output_esr: float | None) -> Path:
    """Everything that the converters share on one mains."""
    way, fixed, discs, others = _in_the_way(specimen)
    bulk = specimen.adapter.parts_with_role("bulk capacitor")
    known = [part.series_resistance for part in bulk if part.series_resistance]
    listed = 1 / sum(1 / value for value in known) if known and len(known) == len(bulk) else None
    idle = _idle(specimen, mains_voltage)
    rest = [
        "rectifier.power_factor", "bulk.mean_share", "bridge.resistance", "board.resistance",
        "no_load.share",
        "bulk.series_resistance" if listed is None else "bulk.series_resistance_factor",
        "output.series_resistance" if output_esr is None else "output.series_resistance_factor",
    ]  # fmt: skip
    inputs = bridge_drop() | named(*way, idle, *(allowance(name) for name in rest))
    return Path(
        mains_voltage, inputs, fixed, tuple(discs), tuple(others), listed, output_esr, idle.name
    )


@dataclass(frozen=True)
class Converter:
    """One converter's losses.

    Attributes
    ----------
    stage : Stage
        Its power stage.
    clamp : Clamp
        What is known of its clamp.
    inputs : dict of str to Input
        By name.
    names : dict of str to str
        What an input is -> its name.
    windings : tuple of Prediction or None
        Copper and core loss at its rated power, where its windings are known. [W]
    """

    stage: Stage
    clamp: Clamp
    inputs: dict[str, Input]
    names: dict[str, str]
    windings: tuple[Prediction, Prediction] | None

    @property
    def is_clamp_known(self) -> bool:
        """Whether its clamp's loss can be worked out."""
        return self.clamp.leakage is not None and bool(self.clamp.inputs)

    def _take(self, drawn: Drawn) -> dict[str, Any]:
        return {what: drawn[name] for what, name in self.names.items()}

    def point(self, drawn: Drawn, power: Any, volts: Any, source: Any) -> Any:
        """Working point, slower at a light load and in a valley if it seeks them."""
        stage, take = self.stage, self._take(drawn)
        top = stage.switching_frequency or take["ceiling"]
        frequency = foldback_frequency(
            power, top, take["foldback"] * stage.rated_power, np.minimum(take["floor"], top)
        )
        numbers = stage.numbers(drawn) | {
            "output_voltage": volts,
            "output_current": power / volts,
            "diode_drop": take["drop"],
        }
        if stage.switching_frequency is None:
            ringing = {key: value for key, value in numbers.items() if key != "switching_frequency"}
            ringing["drain_capacitance"] = take["drain"]
            number = valley_number(source, highest_frequency=frequency, **ringing)
            frequency = valley_switching(source, valley=number, **ringing).switching_frequency
        return operating_point(source, **numbers | {"switching_frequency": frequency})

    def losses(
        self, drawn: Drawn, power: Any, volts: float, source: Any
    ) -> tuple[dict[str, Any], Any, Any]:
        """Losses by item [W], rms ripple current of the output [A], and the square of the primary
        current's rms above its mean [A²].
        """  # noqa: D205
        stage, take = self.stage, self._take(drawn)
        current = power / volts
        point = self.point(drawn, power, volts, source)
        pulse = secondary_pulse(point, current)
        plateau, rate = point.switch_voltage, point.switching_frequency
        valley = np.abs(source - point.reflected_voltage)
        closing = valley
        if stage.switching_frequency is not None:
            closing = valley + take["node"] * (plateau - valley) * (point.mode != "continuous")
        edges = turn_off_loss(plateau, point.primary_peak, take["edge"], rate, take["drain"])
        rms = np.sqrt(np.square(pulse.capacitor_rms) + current**2)
        if stage.rectifier == "synchronous":
            rectifier = synchronous_loss(
                rms, pulse.peak, take["rectifier"], rate, take["dead"],
                temperature_factor=drawn["rectifier.warm_factor"],
            )  # fmt: skip
        else:
            rectifier = diode_loss(current, rms, take["drop"])
        copper, core = self._transformer(drawn, power, volts, source, point)
        found = {
            "switch conducting": conduction_loss(
                point.primary_rms, take["switch"], drawn["switch.warm_factor"]
            ),
            "switch edges": edges + capacitive_loss(take["drain"], closing, rate),
            "transformer copper": copper,
            "transformer core": core,
            "output rectifier": rectifier,
            "control and bleed": drawn["controller.awake"] + 0 * power,
        }
        if self.is_clamp_known and self.clamp.leakage is not None:
            found["clamp"] = clamp_dissipation(
                drawn[self.clamp.leakage.name], point.primary_peak, rate,
                self.clamp.voltage(point, drawn), point.reflected_voltage,
                drawn[self.clamp.drop.name],
            )  # fmt: skip
        square = np.maximum(np.square(point.primary_rms) - (power / source) ** 2, 0)
        return found, pulse.capacitor_rms, square

    def _transformer(
        self, drawn: Drawn, power: Any, volts: float, source: Any, point: Any
    ) -> tuple[Any, Any]:
        """Copper with the square of the primary's current, core with its swing and frequency."""
        stage, take = self.stage, self._take(drawn)
        if self.windings is None:
            return take["copper"] * power**2 / stage.rated_power, take["core"] * power
        full = self.point(drawn, np.full((1, 1), stage.rated_power), volts, source)
        swing = (point.primary_peak - np.asarray(point.primary_valley)) / (
            full.primary_peak - np.asarray(full.primary_valley)
        )
        pace = point.switching_frequency / full.switching_frequency
        copper = take["copper"] * (point.primary_rms / full.primary_rms) ** 2
        return copper, take["core"] * swing ** _STEINMETZ[1] * pace ** _STEINMETZ[0]


def _from_windings(stage: Stage, what: str, found: Prediction) -> Input:
    """Copper or core loss at the rated power as the windings give it."""
    value = found.value
    spread = max(value.standard_uncertainty, 1e-9)
    said = f"{value} from the windings for the {what} of the {stage.name} converter"
    origin, assumed = "noted", [item for item in found.rests_on if item.origin == "assumed"]
    if sum(item.share for item in assumed) > MOSTLY:
        origin, said = "assumed", assumed[0].said
    return Input(f"{stage.name}.{what}_loss", stats.norm(value.value, spread), "W", origin, said)


def _resistance(specimen: Specimen, role: str, stage: Stage, row: str) -> Input:
    """Resistance of a transistor as listed, else as assumed. [ohm]."""
    for part in parts_of(specimen, role, stage):
        if part.series_resistance:
            name, said = f"{part.reference}.series_resistance", f"resistance of {part.reference}"
            return noted(name, part.series_resistance, "Ω", "transistor.accuracy", said)
    return allowance(row, f"{stage.name}.{row}")


def converter_of(
    specimen: Specimen, stage: Stage, windings: tuple[Prediction, Prediction] | None
) -> Converter:
    """One converter with everything that its losses rest on.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    stage : Stage
        The converter.
    windings : tuple of Prediction or None
        Copper and core loss at its rated power and the output voltage of the case. [W]  None
        takes an allowance.

    Returns
    -------
    Converter
        With its inputs.
    """
    tag, clamp = stage.name, clamp_of(specimen, stage)

    def own(row: str) -> Input:
        return allowance(row, f"{tag}.{row}")

    drop = stage.rectifier_drop
    if drop.origin == "noted":
        said = f"rectifier drop of {tag}"
        drop = noted(f"{tag}.rectifier_drop_in_use", drop.middle, "V", "rectifier.accuracy", said)
    drain = own("drain.capacitance")
    if stage.drain_capacitance is not None:
        said = f"drain capacitance of {tag}"
        drain = noted(drain.name, stage.drain_capacitance, "F", "drain.accuracy", said)
    if windings is None:
        copper, core = own("copper.loss_share"), own("core.loss_share")
    else:
        copper, core = (
            _from_windings(stage, what, found)
            for what, found in zip(("copper", "core"), windings, strict=True)
        )
    ways = {
        "drop": drop,
        "drain": drain,
        "copper": copper,
        "core": core,
        "switch": _resistance(specimen, "switch", stage, "switch.resistance"),
        "rectifier": _resistance(specimen, "output rectifier", stage, "rectifier.resistance"),
        "edge": own("switch.edge_time"),
        "node": own("switch.node_share"),
        "dead": own("rectifier.dead_time"),
        "foldback": own("controller.foldback"),
        "ceiling": allowance("controller.highest_frequency"),
        "floor": allowance("controller.lowest_frequency"),
    }
    inputs = stage.inputs | clamp.inputs | named(*ways.values())
    if clamp.leakage is not None:
        inputs |= named(clamp.leakage)
    inputs |= named(
        allowance("switch.warm_factor"),
        allowance("rectifier.warm_factor"),
        allowance("controller.awake"),
    )
    return Converter(stage, clamp, inputs, {key: item.name for key, item in ways.items()}, windings)


def at_rated_power(stage: Stage, volts: float) -> Stage:
    """The stage at its rated power and an output voltage."""
    return replace(stage, output_voltage=volts, output_current=stage.rated_power / volts)
