"""Mains side and barrier of a random adapter."""

import numpy as np

from generator.world import catalogue as shelf
from generator.world.adapter import Barrier, Front, Marked
from generator.world.draw import E6, Parts, at_least, nearest, preferred


def marked(parts: Parts, name: str, value: float, tolerance: float) -> Marked:
    """Part with a marked value and a true one inside its tolerance."""
    return Marked(value, parts.true(name, value, tolerance), tolerance)


def read(parts: Parts, name: str, true: float, accuracy: float, digits: int = 3) -> Marked:
    """Quantity read on the part with a meter: the dossier shows the reading."""
    shown = true / (1 + accuracy * parts.place(name))
    return Marked(float(f"{shown:.{digits}g}"), true, accuracy)


def bulk(rng: np.random.Generator, parts: Parts, power: float) -> tuple[Marked, ...]:
    """Bulk capacitors in parallel: one to three equal ones, of one batch."""
    wanted = power * rng.uniform(*shelf.BULK_PER_WATT)
    most = 47e-6 if power < 30 else 100e-6
    count = max(1, int(np.ceil(wanted / most)), int(rng.integers(1, 3)) if power > 24 else 1)
    size = nearest(wanted / count * 1e6, shelf.BULK_SIZES) * 1e-6
    shared = parts.place("bulk capacitors")
    return tuple(
        Marked(
            size,
            size
            * (
                1
                + shelf.BULK_TOLERANCE
                * float(np.clip(shared + 0.03 * rng.standard_normal(), -1, 1))
            ),
            shelf.BULK_TOLERANCE,
        )
        for _ in range(count)
    )


def front(rng: np.random.Generator, parts: Parts, power: float) -> Front:
    """Mains side of an adapter of a rated output power. [W].

    Order of the parts, with or without line capacitor, choke and thermistor: common practice by
    power. Diode: 0.85 to 1.0 V at rated current and 45 to 50 mV for each factor e, as
    makers' curves of 1 A to 4 A bridges show.
    """
    capacitors = bulk(rng, parts, power)
    total = sum(part.true for part in capacitors)
    factor = rng.uniform(*shelf.BULK_LOSS_FACTOR)
    oxide = rng.uniform(*shelf.OXIDE_LOSS_FACTOR)
    electrolyte = (factor - oxide) / (2 * np.pi * 100.0 * total)
    each = len(capacitors) * (electrolyte + oxide / (2 * np.pi * 100.0 * total))
    highest = power / 0.86 / (100.0 * 0.55)
    thermistor = bool(power > 24 or rng.random() < 0.6)
    if thermistor:
        disc = next((item for item in shelf.DISCS if item.current >= highest), shelf.DISCS[-1])
        limiter = marked(parts, "limiter", float(rng.choice(disc.resistances)), 0.20)
        rating, dissipation, heat = disc.current, disc.dissipation, disc.heat_capacity
        # B stands in data sheets with 3 to 5 %; heat data are typical values, met within 15 % in
        # free air; a disc on its board loses 0.9 to 1.3 of that (common practice).
        beta = marked(parts, "beta", float(rng.integers(27, 32) * 100), 0.04)
        losing = Marked(dissipation, dissipation * rng.uniform(0.9, 1.3), 0.3)
        stored = marked(parts, "heat capacity", heat, 0.15)
    else:
        limiter = marked(parts, "limiter", preferred(rng.uniform(4, 11), E6), 0.05)
        rating, beta = 0.0, Marked(0.0, 0.0, 0.0)
        losing, stored = Marked(0.0, 30e-3, 0.0), Marked(0.0, 0.8, 0.0)
    with_line = power > 24 or rng.random() < 0.65
    line = None
    if with_line:
        suited = tuple(size for size in shelf.LINE_CAPACITORS if size <= max(power, 20) * 11e-9)
        value = float(rng.choice(suited or shelf.LINE_CAPACITORS[:1]))
        line = marked(parts, "line capacitor", value, float(rng.choice([0.1, 0.1, 0.2])))
    discharge = None
    if line is not None:
        # Two in series across the capacitor, time constant below 1 s: IEC 60950-1, 2.1.1.7.
        suited = [ohms for ohms in (2.0e6, 1.5e6, 1.0e6, 680e3) if 2.4 * ohms * line.marked < 1.0]
        discharge = marked(parts, "discharge resistor", float(rng.choice(suited[:2])), 0.05)
    with_choke = with_line and (power > 24 or rng.random() < 0.7)
    choke = leakage = choke_resistance = None
    if with_choke:
        choke = marked(parts, "choke", float(rng.choice(shelf.CHOKES)), 0.30)
        leakage = read(parts, "choke leakage", choke.true * rng.uniform(*shelf.CHOKE_LEAKAGE), 0.05)
        wound = (
            rng.uniform(0.15, 0.35) * np.sqrt(choke.marked / 10e-3) * (30 / max(power, 15)) ** 0.5
        )
        choke_resistance = read(parts, "choke resistance", float(wound), 0.05)
    rated = at_least(1.6 * highest, (1.0, 2.0, 4.0))
    scale = float(rng.uniform(0.045, 0.050))
    resistance = float(rng.uniform(0.03, 0.06) / rated)
    drop = rng.uniform(0.85, 1.0)
    saturation = float(rated * np.exp(-(drop - resistance * rated) / scale))
    fuse = at_least(1.4 * highest, (1.0, 1.6, 2.0, 2.5, 3.15, 4.0))
    # Melting I2t of time-lag fuses, some 3 to 5 times the square of the rating: makers' tables.
    melting = float(f"{rng.uniform(3, 5) * fuse**2 * 1.0:.2g}")
    return Front(
        fuse=fuse,
        melting=melting,
        limiter=limiter,
        thermistor=thermistor,
        limiter_first=bool(rng.random() < 0.5),
        beta=beta,
        dissipation=losing,
        heat_capacity=stored,
        limiter_current=rating,
        line_capacitor=line,
        discharge=discharge,
        choke=choke,
        choke_leakage=leakage,
        choke_resistance=choke_resistance,
        varistor=bool(power > 24 or rng.random() < 0.5),
        saturation=saturation,
        scale=scale,
        diode_resistance=resistance,
        junction=float(rng.uniform(8e-12, 20e-12) * rated**0.5),
        bridge_current=rated,
        bulk=capacitors,
        bulk_noted_resistance=(
            float(f"{each * (1 + 0.02 * rng.uniform(-1, 1)):.2g}") if rng.random() < 0.7 else None
        ),
        electrolyte=float(electrolyte),
        oxide=float(oxide),
        wiring=float(rng.uniform(0.03, 0.15)),
    )


def barrier(rng: np.random.Generator, parts: Parts) -> Barrier:
    """One capacitor of class Y1, or two in series; stray from the live pin: common practice."""
    count = 2 if rng.random() < 0.2 else 1
    value = float(rng.choice(shelf.BARRIER_CAPACITORS if count == 1 else (1.0e-9, 1.5e-9, 2.2e-9)))
    return Barrier(
        tuple(marked(parts, f"barrier capacitor {part + 1}", value, 0.20) for part in range(count)),
        0.0,
        float(rng.uniform(5e-12, 20e-12)),
    )
