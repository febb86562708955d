"""Rectifier in steady state: many adapters and loads stepped together, thermistors in balance."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.world.circuit import Circuit
from generator.world.mains import Mains

Floats = NDArray[np.float64]
# Steps of each period: coarse ones until loads and limiters have settled, then fine ones.
# After those in JUMPS the reservoir goes where the last two periods are heading.
SCHEDULE = (2000,) * 9 + (8000,) * 3
JUMPS = (2, 5, 8, 10)
SAMPLES = 2000
ZERO_CELSIUS = 273.15


@dataclass(frozen=True)
class Case:
    """One column: an adapter's mains side at one load on one mains.

    Attributes
    ----------
    mains : Mains
        Source.
    cold_resistance, beta, dissipation : float
        Limiter at 25 degC, its constant (0 for a plain resistor), heat per kelvin above the air
        inside. [ohm], [K], [W/K]
    limiter_first : bool
        Whether the limiter sits before the line capacitor.
    air : float
        Air around the limiter. [C]
    wiring, choke_resistance, leakage : float
        Fuse and tracks; choke, both wires; its differential leakage. [ohm], [ohm], [H]
    line_capacitance : float
        [F]
    saturation, scale, diode_resistance : float
        Of one diode. [A], [V], [ohm]
    bulk_capacitance, bulk_resistance : float
        [F], [ohm]
    power : float
        Taken from the reservoir. [W]
    """

    mains: Mains
    cold_resistance: float
    beta: float
    dissipation: float
    limiter_first: bool
    air: float
    wiring: float
    choke_resistance: float
    leakage: float
    line_capacitance: float
    saturation: float
    scale: float
    diode_resistance: float
    bulk_capacitance: float
    bulk_resistance: float
    power: float

    def limiter_at(self, celsius: float) -> float:
        """Limiter's resistance. [ohm]."""
        kelvin = celsius + ZERO_CELSIUS
        return float(self.cold_resistance * np.exp(self.beta * (1 / kelvin - 1 / 298.15)))


def column(cases: list[Case], name: str) -> Floats:
    """One attribute of all cases."""
    return np.array([getattr(case, name) for case in cases], dtype=float)


def limiter(cases: list[Case], celsius: Floats) -> Floats:
    """Resistance of all limiters at their temperatures. [ohm]."""
    cold, beta = column(cases, "cold_resistance"), column(cases, "beta")
    return cold * np.exp(beta * (1 / (celsius + ZERO_CELSIUS) - 1 / 298.15))


def balance(cases: list[Case], square: Floats) -> Floats:
    """Temperature at which each limiter loses the heat that a mean square current brings. [C]."""
    air, dissipation = column(cases, "air"), column(cases, "dissipation")
    low, high = air.copy(), air + 400.0
    for _ in range(50):
        middle = (low + high) / 2
        warm = limiter(cases, middle) * square > dissipation * (middle - air)
        low, high = np.where(warm, middle, low), np.where(warm, high, middle)
    return (low + high) / 2


def circuit_of(cases: list[Case], celsius: Floats) -> Circuit:
    """Circuit of all cases, limiters at the temperatures given."""
    hot = limiter(cases, celsius)
    first = column(cases, "limiter_first")
    supply = np.array([case.mains.resistance for case in cases])
    return Circuit(
        supply + column(cases, "wiring") + first * hot,
        np.array([case.mains.inductance for case in cases]),
        column(cases, "line_capacitance"),
        column(cases, "choke_resistance")
        + 2 * column(cases, "diode_resistance")
        + (1 - first) * hot,
        column(cases, "leakage"),
        column(cases, "saturation"),
        column(cases, "scale"),
        column(cases, "bulk_capacitance"),
        column(cases, "bulk_resistance"),
    )


@dataclass(frozen=True)
class Steady:
    """One period of every column in steady state, and what follows from it.

    Attributes
    ----------
    supply_current, plug_voltage, bridge_current, bridge_voltage, bulk_voltage : numpy.ndarray
        Waveforms from the fundamental's rising zero at the source. [A], [V], shape (samples, n)
    limiter_temperature, limiter_resistance : numpy.ndarray
        In balance. [C], [ohm]
    figures : dict
        Numbers by name, each shape (n,), SI units.
    """

    supply_current: Floats
    plug_voltage: Floats
    bridge_current: Floats
    bridge_voltage: Floats
    bulk_voltage: Floats
    limiter_temperature: Floats
    limiter_resistance: Floats
    figures: dict[str, Floats]


def steady_state(cases: list[Case]) -> Steady:
    """Step all cases until they repeat; limiters find their balance from period to period.

    Parameters
    ----------
    cases : list of Case
        Any mains; each column has a time step of its own, a share of its period.

    Returns
    -------
    Steady
        Last period. Each column does not depend on its neighbours.
    """
    power = column(cases, "power")
    first = column(cases, "limiter_first") > 0
    sources = list({id(case.mains): case.mains for case in cases}.values())
    keys = [id(source) for source in sources]
    places = np.array([keys.index(id(case.mains)) for case in cases])
    supply = np.array([case.mains.resistance for case in cases])
    celsius = column(cases, "air") + 30.0
    circuit = circuit_of(cases, celsius)
    names = (
        "supply_current",
        "plug_voltage",
        "bridge_current",
        "bridge_voltage",
        "bulk_voltage",
        "load",
    )
    kept = {name: np.empty((SAMPLES, len(cases))) for name in names}
    load, moved = np.zeros_like(power), np.zeros_like(power)
    for count, steps in enumerate(SCHEDULE):
        turns = np.arange(steps + 1) / steps
        table = np.array([source.at(turns / source.frequency) for source in sources]).T
        step = (1 / steps / np.array([source.frequency for source in sources]))[places]
        if count == 0:
            start = table.max(axis=0)[places] - 3.0
            circuit.rest(start)
            load = power / start
        begun = circuit.store.copy()
        square, every = np.zeros_like(power), steps // SAMPLES
        source = table[0][places]
        for index in range(steps):
            before, earlier, source = circuit.supply_current, source, table[index + 1][places]
            circuit.advance(step, earlier, source, load)
            load = circuit.constant_power(power)
            square += np.where(first, circuit.supply_current, circuit.current) ** 2
            if count == len(SCHEDULE) - 1 and index % every == every - 1:
                row = index // every
                mean = (circuit.supply_current + before) / 2
                slope = (circuit.supply_current - before) / step
                kept["supply_current"][row] = mean
                kept["plug_voltage"][row] = (
                    (earlier + source) / 2 - supply * mean - circuit.inductance * slope
                )
                kept["bridge_current"][row] = circuit.current
                kept["bridge_voltage"][row] = circuit.bridge_voltage
                kept["bulk_voltage"][row] = circuit.terminal()
                kept["load"][row] = circuit.load
        square /= steps
        last_move, moved = moved, circuit.store - begun
        if count in JUMPS:
            # With a light load it creeps towards its balance in a geometric series: go to its sum.
            ratio = np.clip(moved / np.where(np.abs(last_move) > 1e-9, last_move, np.inf), 0, 0.97)
            light = power * step * steps / (circuit.bulk_capacitance * start) < 0.5
            circuit.store = circuit.store + light * moved * ratio / (1 - ratio)
        if count < len(SCHEDULE) - 1:
            celsius = balance(cases, square)
            renewed = circuit_of(cases, celsius)
            circuit.resistance = renewed.resistance
            circuit.inner_resistance = renewed.inner_resistance
    hot = limiter(cases, celsius)
    figures = _figures(cases, kept, hot, square)
    del kept["load"]
    return Steady(**kept, limiter_temperature=celsius, limiter_resistance=hot, figures=figures)


def _figures(
    cases: list[Case], waves: dict[str, Floats], hot: Floats, square: Floats
) -> dict[str, Floats]:
    """Numbers that follow from one period; `square` is the limiter's mean square current."""
    current, volts, bulk = (
        waves["supply_current"],
        waves["plug_voltage"],
        waves["bulk_voltage"],
    )
    bridge, count = waves["bridge_current"], current.shape[0]
    into = np.abs(bridge) - waves["load"]
    spectrum = np.fft.rfft(current, axis=0)[:41] * np.sqrt(2) / count
    voltage = np.fft.rfft(volts, axis=0)[:41] * np.sqrt(2) / count
    amperes = np.abs(spectrum)
    power = (volts * current).mean(axis=0)
    rms = np.sqrt((current**2).mean(axis=0))
    plug = np.sqrt((volts**2).mean(axis=0))
    shift = np.angle(spectrum[1] / voltage[1])
    found = {
        "input_power": power,
        "input_rms": rms,
        "input_peak": np.abs(current).max(axis=0),
        "plug_voltage": plug,
        "plug_crest": np.abs(volts).max(axis=0),
        "power_factor": power / (plug * rms),
        "displacement_factor": np.cos(shift),
        "distortion": np.sqrt((amperes[2:] ** 2).sum(axis=0)) / amperes[1],
        "voltage_distortion": np.sqrt((np.abs(voltage[2:]) ** 2).sum(axis=0)) / np.abs(voltage[1]),
        "bulk_maximum": bulk.max(axis=0),
        "bulk_minimum": bulk.min(axis=0),
        "bulk_mean": bulk.mean(axis=0),
        "bulk_capacitor_rms": np.sqrt((into**2).mean(axis=0)),
        "conduction_share": (np.abs(bridge) > 0.01 * np.abs(bridge).max(axis=0)).mean(axis=0),
        "limiter_loss": hot * square,
        "bridge_loss": (waves["bridge_voltage"] * bridge - bulk * np.abs(bridge)).mean(axis=0)
        + 2 * column(cases, "diode_resistance") * (bridge**2).mean(axis=0),
        "choke_loss": column(cases, "choke_resistance") * (bridge**2).mean(axis=0),
        "wiring_loss": column(cases, "wiring") * rms**2,
        "bulk_resistance_loss": column(cases, "bulk_resistance") * (into**2).mean(axis=0),
        "load_power": (bulk * waves["load"]).mean(axis=0),
    }
    # What the mains gives is what load and parts take. The mean of the products, which misses the
    # charge that the reservoir still gains or loses, is kept beside it.
    parts = ("limiter", "bridge", "choke", "wiring", "bulk_resistance")
    taken = found["load_power"] + sum(found[f"{name}_loss"] for name in parts)
    found["residual"] = found["input_power"] / taken - 1
    found["input_power"] = taken
    found["power_factor"] = taken / (plug * rms)
    for order in range(1, 41):
        found[f"harmonic_{order}"] = amperes[order]
    return found
