"""The inrush limiter: its parts as inputs, and how warm it is cold, at work and after a rest."""

from collections.abc import Mapping, Sequence
from typing import Any

from adapterlab.assess.model.inputs import Input, between
from adapterlab.assess.model.specimen import Specimen
from adapterlab.dossier.schema import Part
from adapterlab.inrush import Thermistor, thermistor_cooling, thermistor_working_temperature
from adapterlab.published import rows

# Key of a part, what is assumed where it is not listed, and how far a listed one may be off.
_THERMAL = (
    ("heat_capacity", "thermistor.heat_capacity", "thermistor.heat_capacity_factor"),
    ("dissipation_factor", "thermistor.dissipation_factor", "thermistor.dissipation_on_board"),
)
# Inputs that matter in one of the limiter's states only.
ONLY_AT_WORK = {"thermistor.warm_share", "inside.air"}
ONLY_AT_PLUG_IN = {name for _, *names in _THERMAL for name in names} | {
    "thermistor.beta", "room.temperature", "inside.air",
}  # fmt: skip


def limiter_inputs(specimen: Specimen, limiters: Sequence[Part]) -> list[Input]:
    """Inputs of the limiters, of the room, and of what thermistors are like.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    limiters : sequence of Part
        Its inrush limiters, each with a value.

    Returns
    -------
    list of Input
        ``<reference>.value``, ``room.temperature``, and where a thermistor is among them
        ``inside.air`` and what is open of a thermistor.
    """
    found = [specimen.part_value(part, "Ω", "limiter.tolerance") for part in limiters]
    found.append(room_of(specimen))
    discs = [part for part in limiters if part.kind == "thermistor"]
    if discs:
        open_ones = [
            key if None in [getattr(part, listed) for part in discs] else factor
            for listed, key, factor in _THERMAL
        ]
        found += [specimen.allowance(name) for name in (*open_ones, "thermistor.warm_share")]
        found += [_beta(specimen, discs), air_inside(specimen)]
    return found


def room_of(specimen: Specimen) -> Input:
    """Temperature of the room, as noted with the temperatures or assumed. [°C]."""
    noted, assumed = (
        specimen.temperatures["ambient"].dropna(),
        specimen.allowance("room.temperature"),
    )
    if noted.empty:
        return assumed
    low, high = specimen.allowance("room.deviation").ends
    mean = float(noted.mean())
    said = f"a room of {mean:.0f} °C as noted"
    ends = between(mean + low, mean + high)
    return Input(assumed.name, ends, "°C", "noted", said, "temperatures.csv, ambient_c", bench=True)


def air_inside(specimen: Specimen) -> Input:
    """Temperature of the air about the limiter at full load: room to hottest place noted. [°C]."""
    inside, assumed = (
        specimen.temperatures["temperature"].dropna(),
        specimen.allowance("inside.air"),
    )
    if inside.empty:
        return assumed
    low, high = sorted((room_of(specimen).middle, float(inside.max())))
    said = f"air of {low:.0f} °C to {high:.0f} °C about the limiter, as the temperatures noted"
    return Input(assumed.name, between(low, high), "°C", "measured", said, "temperatures.csv")


def _beta(specimen: Specimen, discs: Sequence[Part]) -> Input:
    listed, assumed = discs[0].beta, specimen.allowance("thermistor.beta")
    if listed is None:
        return assumed
    said = f"B of {listed:.0f} K noted for {discs[0].reference}"
    return Input(assumed.name, listed, "K", "noted", said, "adapter.toml, beta")


def disc_of(discs: Sequence[Part], values: Mapping[str, Any]) -> Thermistor | None:
    """The thermistors in series as one, from drawn inputs; None without any."""
    if not discs:
        return None
    heat, lost = (_summed(discs, names, values) for names in _THERMAL)
    cold = sum(values[f"{part.reference}.value"] for part in discs)
    return Thermistor(cold, values["thermistor.beta"], heat, lost)


def _summed(discs: Sequence[Part], names: tuple[str, str, str], values: Mapping[str, Any]) -> Any:
    """Heat capacity or dissipation of all discs together, as listed or as assumed."""
    listed, key, factor = names
    known = [getattr(part, listed) for part in discs]
    return len(discs) * values[key] if None in known else sum(known) * values[factor]


def rest_needed(discs: Sequence[Part]) -> float:
    """Time after which the limiter counts as cold and the bulk capacitor as empty. [s]."""
    by_parts, at_least = rows("inrush", "rest")
    times = [
        by_parts["time_constants"] * part.heat_capacity / part.dissipation_factor
        for part in discs
        if part.heat_capacity and part.dissipation_factor
    ]
    return float(max(times, default=at_least["time"]))


def temperature_after_rest(
    disc: Thermistor, values: Mapping[str, Any], current: float | None, rest: float
) -> Any:
    """Temperature of the limiter some time after it worked.

    Parameters
    ----------
    disc : Thermistor
        The limiter.
    values : mapping
        Drawn inputs.
    current : float or None
        Rms mains current at which it had settled. [A]  None if nobody knows.
    rest : float
        Time since then. [s]

    Returns
    -------
    float or numpy.ndarray
        Temperature. [°C]
    """
    if current is None:
        warm, air = values["thermistor.temperature_in_use"], values["room.temperature"]
    else:
        air = values["inside.air"]
        warm = thermistor_working_temperature(disc, current, air)
    return thermistor_cooling(disc, warm, rest, air)
