"""One converter of a random adapter, sized the way a designer sizes it, then built.

The sizing (duty at the lowest mains, peak current, turns for a flux) is closed forms; the physics
of `stage` then finds out what such a converter really does.
"""

import numpy as np

from generator.world import catalogue as shelf
from generator.world.adapter import Converter, Marked
from generator.world.coil import Coil, Layer
from generator.world.design_front import marked, read
from generator.world.draw import E12, Parts, at_least, nearest, preferred

LOWEST_BULK = 90.0
HIGHEST_BULK = 373.0


def converter(
    rng: np.random.Generator,
    parts: Parts,
    name: str,
    ports: tuple[str, ...],
    power: float,
    volts: float,
    amperes: float,
    quasi: bool,
    synchronous: bool,
) -> Converter:
    """Converter for `power` [W] at its highest output `volts` [V], and `amperes` [A] at most."""
    # Reflected voltage 65 to 100 V, ripple current 0.7 to 1 of the peak, 65 to 130 kHz; a
    # valley-switching one slows down to 45 to 65 kHz at the lowest mains: common practice.
    reflected = rng.uniform(65.0, 100.0)
    duty = reflected / (reflected + LOWEST_BULK)
    drawn = power / 0.88
    ripple = 1.0 if quasi else rng.uniform(0.7, 1.0)
    frequency = rng.uniform(45e3, 65e3) if quasi else float(rng.choice([65e3, 85e3, 100e3, 130e3]))
    peak = 2 * drawn / (LOWEST_BULK * duty * (2 - ripple))
    inductance = LOWEST_BULK * duty / (frequency * ripple * peak)
    margin = rng.uniform(1.0, 1.3)
    index = next(i for i, core in enumerate(shelf.CORES) if core.power >= power * margin)
    while True:
        core = shelf.CORES[index]
        flux = rng.uniform(0.20, 0.27)
        turns = inductance * peak / (flux * core.area)
        secondary_turns = max(3, round(turns * (volts + 0.3) / reflected))
        # The nearest whole number of turns that keeps the flux down.
        turns = max(round(secondary_turns * reflected / (volts + 0.3)), int(np.ceil(turns)))
        winding = _wind(rng, core, turns, secondary_turns, power, volts, amperes, peak, duty)
        if winding is not None or index == len(shelf.CORES) - 1:
            break
        index += 1
    if winding is None:
        raise RuntimeError(f"{name}: no core takes {power} W")
    coil = winding["coil"]
    ratio = turns / secondary_turns
    # Inductance within 7 % of the design; read with an LCR meter at low level, good to 5 %.
    true_inductance = float(inductance * (1 + 0.07 * parts.place(f"{name} gap")))
    shown = read(parts, f"{name} inductance", true_inductance, 0.05)
    gap = coil.gap(true_inductance)
    leakage = coil.leakage() * float(rng.uniform(1.0, 1.25))
    # Plates as wide as the secondary lies, enamel, tape and triple insulation between (3.0).
    area = coil.turn * winding["covered"] * winding["facing"]
    interwinding = 8.85e-12 * 3.0 * area / winding["apart"] * float(rng.uniform(0.8, 1.2))
    # A switch takes 0.5 % to 1.2 % of the power at 90 V; spike of 1.7 to 2.2 reflected voltages.
    switch = nearest(rng.uniform(0.7, 1.4) * 11.0 / power, shelf.SWITCHES)
    spike = rng.uniform(1.7, 2.2) * reflected
    busy = leakage * peak**2 * frequency / 2 * spike / (spike - reflected)
    zener = rng.random() < 0.25
    resistor = (
        None
        if zener
        else marked(parts, f"{name} clamp resistor", preferred(spike**2 / busy, E12), 0.05)
    )
    level = float(nearest(spike, (120.0, 150.0, 180.0, 200.0)))
    fitting = 0.72 / (peak * 1.15)
    drain = float(rng.uniform(60e-12, 90e-12) + 12e-12 / switch)
    rectifier_voltage = at_least(
        1.15 * (volts * 1.05 + HIGHEST_BULK / ratio), shelf.RECTIFIER_VOLTAGES
    )
    channel = nearest(rng.uniform(0.7, 1.4) * 0.030 / amperes, shelf.CHANNELS)
    # Schottky: 0.42 to 0.55 V at 1 A, falling 35 to 40 mV for each factor e (makers' curves).
    scale = float(rng.uniform(0.030, 0.038))
    forward, ohms = rng.uniform(0.42, 0.52), rng.uniform(0.010, 0.022) * 3 / amperes
    rectifier: dict[str, Marked | float] = {
        # Marked resistances are the most; parts come out at 75 to 100 % of it (common practice).
        "resistance": Marked(channel, channel * float(rng.uniform(0.75, 1.0)), 0.25)
        if synchronous
        else Marked(float(ohms), float(ohms), 0.3),
        "scale": scale,
        "saturation": float(np.exp(-forward / scale)),
        "voltage": rectifier_voltage,
        "current": 10.0 * at_least(amperes, (2.0, 3.0, 5.0))
        if synchronous
        else at_least(3 * amperes, (5.0, 10.0, 20.0)),
    }
    outputs, resistances, rated = _outputs(rng, parts, name, volts, amperes)
    limits = 0.96 * 0.72 / fitting
    return Converter(
        name=name,
        ports=ports,
        rated_power=power,
        highest_voltage=volts,
        quasi_resonant=quasi,
        synchronous=synchronous,
        core=core.name,
        coil=coil,
        # In the 5 V mode the winding still gives the controller 10.5 to 12 V.
        auxiliary_turns=int(np.ceil(rng.uniform(10.5, 12.0) / (5.0 + 0.4) * secondary_turns)),
        wire=winding["wire"],
        strand=winding["strand"],
        strands=winding["strands"],
        primary_layers=winding["primary layers"],
        interleaved=winding["interleaved"],
        inductance=Marked(shown.marked, true_inductance, 0.05),
        leakage=read(parts, f"{name} leakage", leakage, 0.04),
        drain_capacitance=read(parts, f"{name} drain capacitance", drain, 0.08, 2),
        frequency=read(
            parts, f"{name} frequency", frequency * float(rng.uniform(0.95, 1.05)), 0.01
        ),
        gap=read(parts, f"{name} gap read", gap, 0.03, 2),
        interwinding=read(parts, f"{name} interwinding", interwinding, 0.04, 2),
        switch=Marked(switch, switch * float(rng.uniform(0.75, 1.0)), 0.25),
        sense=marked(parts, f"{name} sense", preferred(fitting, E12), 0.01),
        switch_voltage=float(
            at_least(1.12 * (HIGHEST_BULK + max(spike, level)), (600, 650, 700, 800))
        ),
        clamp_resistor=resistor,
        clamp_capacitor=None
        if zener
        else marked(
            parts, f"{name} clamp capacitor", float(rng.choice([1e-9, 2.2e-9, 4.7e-9])), 0.10
        ),
        clamp_level=level * float(rng.uniform(0.96, 1.06)) if zener else 0.0,
        rectifier=rectifier,
        capacitors=outputs,
        capacitor_resistance=resistances,
        capacitor_voltage=rated,
        capacitor_inductance=float(rng.uniform(2.5e-9, 5e-9)),
        extras={
            "clamp marked level": level,
            "design peak": float(peak),
            "limit peak": float(limits),
            # Below 30 to 50 % of the power the frequency falls, to 22 to 28 kHz: common practice.
            "fold share": float(rng.uniform(0.3, 0.5)),
            "floor frequency": float(rng.uniform(22e3, 28e3)),
            "highest frequency": float(rng.uniform(110e3, 150e3)),
            # Pulses are left out below 20 to 30 % of the largest peak: common practice.
            "burst peak": float(rng.uniform(0.20, 0.30) * peak),
            "fall time": float(rng.uniform(15e-9, 40e-9)),
            "ring quality": float(rng.uniform(6.0, 15.0)),
            "dead time": float(rng.uniform(60e-9, 150e-9)),
            "rectifier capacitance": float(rng.uniform(150e-12, 300e-12) * amperes),
            "gate charge": float(rng.uniform(7e-9, 14e-9) * 0.6 / switch**0.7 + 4e-9),
            # Controllers take 0.3 to 0.9 mA under load, a tenth of it between bursts.
            "controller current": float(rng.uniform(0.4e-3, 0.9e-3)),
            "idle current": float(rng.uniform(0.05e-3, 0.15e-3)),
            "switch rise": float(rng.uniform(*shelf.SWITCH_RISE)),
            "ferrite loss": float(rng.uniform(*shelf.FERRITE_LOSS)),
            "ferrite frequency": float(rng.uniform(*shelf.FERRITE_FREQUENCY)),
            "ferrite flux": float(rng.uniform(*shelf.FERRITE_FLUX)),
            "ferrite cold": float(rng.uniform(*shelf.FERRITE_COLD)),
            "reflected": float(ratio * (volts + 0.3)),
            "facing": float(winding["facing"]),
        },
    )


def _outputs(
    rng: np.random.Generator, parts: Parts, name: str, volts: float, amperes: float
) -> tuple[tuple[Marked, ...], tuple[Marked, ...], float]:
    """Polymer capacitors: one for each 1.5 to 2 A, 8 to 15 mohm at 100 kHz (makers' lists)."""
    count = max(1, round(amperes / rng.uniform(1.5, 2.0)))
    rated = at_least(1.15 * volts, shelf.OUTPUT_VOLTAGES)
    sizes = (220e-6, 270e-6, 330e-6, 470e-6) if rated >= 25 else (330e-6, 470e-6, 680e-6)
    size = float(rng.choice(sizes))
    shared = parts.place(f"{name} output capacitors")
    listed = float(rng.uniform(8e-3, 15e-3))
    outputs, resistances = [], []
    for _ in range(count):
        place = float(np.clip(shared + 0.03 * rng.standard_normal(), -1, 1))
        outputs.append(Marked(size, size * (1 + 0.20 * place), 0.20))
        true = listed * float(rng.uniform(0.97, 1.03))
        resistances.append(Marked(float(f"{listed:.2g}"), true, 0.06))
    return tuple(outputs), tuple(resistances), rated


def _wind(
    rng: np.random.Generator,
    core: shelf.Core,
    turns: int,
    secondary_turns: int,
    power: float,
    volts: float,
    amperes: float,
    peak: float,
    duty: float,
) -> dict | None:
    """Layers from the inside out, or None where they do not fit the window."""
    density = rng.uniform(5.5, 8.0) * 1e6  # A/m2, adapters run their copper hard: common practice
    primary_rms = peak * np.sqrt(duty / 3)
    wire = nearest(float(np.sqrt(4 * primary_rms / density / np.pi)), shelf.WIRES)
    secondary_rms = amperes * np.sqrt(4 / 3 / (1 - duty)) if volts < 15 else amperes * 1.6
    strand = float(rng.choice(shelf.STRANDS))
    strands = max(1, round(secondary_rms / density / (np.pi * strand**2 / 4)))
    # Enamel adds a tenth; triple insulation 0.1 mm all round a bundle filled to 0.75.
    bundle = strand * 1.12 * np.sqrt(strands / 0.75) + 0.2e-3
    width = core.width
    interleaved = bool(rng.random() < 0.6)
    per_layer = int(width / (wire * 1.12))
    primary_layers = int(np.ceil(turns / per_layer))
    if interleaved and primary_layers % 2:
        primary_layers += 1
    secondary_layers = int(np.ceil(secondary_turns * bundle / width))
    tape = 0.055e-3
    height = primary_layers * wire * 1.12 + secondary_layers * bundle + 0.2e-3 + 7 * tape
    if height > 0.92 * core.height:
        return None
    # Rows of strands inside the bundle, as the field sees them.
    rows = max(1, round(np.sqrt(strands)))
    air = float(rng.uniform(0.02e-3, 0.08e-3))
    near = 0.06 * wire + tape + 0.1e-3 + air
    plain = [Layer("primary", turns / primary_layers, 1, wire, 0.12 * wire)] * primary_layers
    secondary = [
        Layer(
            "secondary", secondary_turns / secondary_layers, strands / rows, strand, 0.12 * strand
        )
    ] * (rows * secondary_layers)
    half = primary_layers // 2 if interleaved else primary_layers

    def end(layers: list[Layer], beyond: float) -> list[Layer]:
        last = layers[-1]
        return [*layers[:-1], Layer(last.winding, last.turns, last.strands, last.diameter, beyond)]

    stack = end(plain[:half], near)
    # The auxiliary winding lies between secondary and outer half: about 0.25 mm with its tape.
    stack += end(secondary, near + 0.25e-3) if interleaved else secondary
    stack += plain[half:]
    coil = Coil(
        turns,
        secondary_turns,
        core.area,
        core.path,
        float(rng.uniform(*shelf.FERRITE_PERMEABILITY)),
        width,
        core.turn,
        tuple(stack),
        float(rng.uniform(8e-9, 20e-9)),
    )
    return {
        "coil": coil,
        "wire": wire,
        "strand": strand,
        "strands": strands,
        "primary layers": primary_layers,
        "interleaved": interleaved,
        "facing": 2.0 if interleaved else 1.0,
        "covered": min(width, secondary_turns * bundle / secondary_layers),
        "apart": 0.06 * wire + tape + 0.12e-3,
    }
