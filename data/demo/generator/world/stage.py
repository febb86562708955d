"""One switching period of a flyback converter, stepped through its current, loss by loss.

Every array holds one entry for each converter and operating point. The current is cut into slices;
each slice takes the time that its voltages give it, so energy is conserved to the last digit: what
the source gives is what the output gets and the parts keep. Losses that happen around the switching
edges (overlap, core, controller) are taken from the energy stored at turn-off.
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SLICES = 16
BODY_DROP = 0.75
REGULATED_DROP = 0.035


@dataclass(frozen=True)
class Parts:
    """Converters with their parts at the temperatures of the moment.

    Attributes
    ----------
    inductance, leakage, drain_capacitance : numpy.ndarray
        Magnetising, leakage as seen from the primary, at the drain. [H], [H], [F]
    turns_ratio : numpy.ndarray
        Primary to secondary.
    switch, sense, primary, secondary : numpy.ndarray
        Resistances: switch, current sense, windings with their share of alternating current. [ohm]
    clamp_resistance, clamp_level : numpy.ndarray
        Resistor of a clamp with capacitor, else zero; level of a clamp with zener, else zero.
        [ohm], [V]
    fall_time, ring_quality : numpy.ndarray
        Of the switch's current at turn-off; of the idle ringing. [s], [1]
    synchronous : numpy.ndarray
        1 with a transistor as rectifier, 0 with a diode.
    rectifier_resistance, rectifier_scale, rectifier_saturation : numpy.ndarray
        Channel or bulk resistance; of the diode. [ohm], [V], [A]
    dead_time, rectifier_charge : numpy.ndarray
        Body diode conducts before the channel; capacitance of the rectifier. [s], [F]
    core_factor, core_frequency, core_flux, core_scale : numpy.ndarray
        Core loss of a period is ``factor`` times volume, slopes and swing by their exponents;
        inductance over turns and area turns amperes into tesla.
    core_volume : numpy.ndarray
        [m3]
    overhead : numpy.ndarray
        Controller and its supply winding, drawn through the transformer. [W]
    gate_energy : numpy.ndarray
        Of all gates in one period. [J]
    """

    inductance: Floats
    leakage: Floats
    drain_capacitance: Floats
    turns_ratio: Floats
    switch: Floats
    sense: Floats
    primary: Floats
    secondary: Floats
    clamp_resistance: Floats
    clamp_level: Floats
    fall_time: Floats
    ring_quality: Floats
    synchronous: Floats
    rectifier_resistance: Floats
    rectifier_scale: Floats
    rectifier_saturation: Floats
    dead_time: Floats
    rectifier_charge: Floats
    core_factor: Floats
    core_frequency: Floats
    core_flux: Floats
    core_scale: Floats
    core_volume: Floats
    overhead: Floats
    gate_energy: Floats

    def pick(self, which: NDArray[np.intp]) -> "Parts":
        """Entries chosen by index."""
        return Parts(**{item.name: getattr(self, item.name)[which] for item in fields(self)})


@dataclass(frozen=True)
class Cycle:
    """One period, energies in joules.

    Attributes
    ----------
    active : numpy.ndarray
        Time from turn-on to the end of the secondary current. [s]
    charge, output_energy, source_energy : numpy.ndarray
        Delivered to the output capacitor, and drawn from the bulk. [C], [J], [J]
    losses : dict
        Energy by part. [J]
    on_time, off_time, commutation : numpy.ndarray
        [s]
    secondary_peak, secondary_end, secondary_square, primary_square : numpy.ndarray
        Secondary current at both ends, and time integrals of the squares. [A], [A], [A2s], [A2s]
    clamp, turn_on_voltage, start : numpy.ndarray
        Clamp above the bulk; drain when the switch closes; current at turn-on. [V], [V], [A]
    """

    active: Floats
    charge: Floats
    output_energy: Floats
    source_energy: Floats
    losses: dict[str, Floats]
    on_time: Floats
    off_time: Floats
    commutation: Floats
    secondary_peak: Floats
    secondary_end: Floats
    secondary_square: Floats
    primary_square: Floats
    clamp: Floats
    turn_on_voltage: Floats
    start: Floats


def drop(parts: Parts, current: Floats) -> Floats:
    """Voltage across the rectifier while it conducts. [V]."""
    ohmic = current * parts.rectifier_resistance
    diode = parts.rectifier_scale * np.log1p(current / parts.rectifier_saturation) + ohmic
    channel = np.sqrt(ohmic**2 + REGULATED_DROP**2)
    return np.where(parts.synchronous > 0, channel, diode)


def cycle(
    parts: Parts,
    bulk: Floats,
    output: Floats,
    peak: Floats,
    valley: Floats,
    period: Floats,
    pulse_period: Floats,
    turn_on: Floats,
    turn_on_square: Floats,
    start: Floats,
) -> Cycle:
    """Step through one period.

    Parameters
    ----------
    parts : Parts
        Converters.
    bulk, output : numpy.ndarray
        Voltages, output at the capacitor behind the rectifier. [V]
    peak, valley : numpy.ndarray
        Primary current at turn-off, magnetising current at the end of the secondary's. [A]
    period, pulse_period : numpy.ndarray
        Mean time between turn-ons, and the time between those of one burst. [s]
    turn_on, turn_on_square : numpy.ndarray
        Mean and mean square of the drain voltage when the switch closes. [V], [V2]
    start : numpy.ndarray
        Current when the switch closes. [A]

    Returns
    -------
    Cycle
        Energies that add up.
    """
    middle = ((np.arange(SLICES) + 0.5) / SLICES)[:, None]
    store = parts.inductance + parts.leakage
    # Switch closed: from the start current to the peak.
    series = parts.switch + parts.sense + parts.primary
    rise = start + (peak - start) * middle
    drive = np.maximum(bulk - series * rise, 1.0)
    slice_on = store * (peak - start) / SLICES / drive
    on_time = slice_on.sum(axis=0)
    square = (rise**2 * slice_on).sum(axis=0)
    drawn = bulk * (rise * slice_on).sum(axis=0)
    drawn = drawn + 0.5 * parts.leakage * np.minimum(start, 0.0) ** 2
    # Turn-off: drain charged by the inductor, edges, core and controller paid from the store.
    reflected = parts.turns_ratio * (output + drop(parts, parts.turns_ratio * peak))
    capacitance = parts.drain_capacitance
    soft = peak**2 * parts.fall_time**2 / (24 * capacitance)
    hard = 0.5 * peak * (bulk + reflected) * parts.fall_time
    overlap = np.minimum(soft, hard)
    swing = parts.core_scale * (peak - valley)
    # Loss density by slopes: factor (swing)^(flux - frequency) mean |dB/dt|^frequency.
    slope_on = swing / np.maximum(on_time, 1e-9)
    fall = np.maximum(peak - valley, 1e-6) * parts.inductance / reflected
    slope_off = swing / fall
    core = (
        parts.core_factor
        * parts.core_volume
        * np.maximum(swing, 1e-6) ** (parts.core_flux - parts.core_frequency)
        * (on_time * slope_on**parts.core_frequency + fall * slope_off**parts.core_frequency)
    )
    overhead = parts.overhead * period + parts.gate_energy
    charging = 0.5 * capacitance * (bulk**2 - reflected**2)
    rectifier = 0.5 * parts.rectifier_charge * (output + bulk / parts.turns_ratio) ** 2
    closing = 0.5 * np.maximum(start, 0.0) * turn_on * parts.fall_time
    paid = overlap + closing + core + overhead + rectifier
    left = peak**2 + 2 / parts.inductance * (charging - paid)
    turned = np.sqrt(np.maximum(left, valley**2))
    # Commutation: the leakage empties into the clamp while the secondary takes over.
    resistor = parts.clamp_resistance
    balance = (
        reflected + np.sqrt(reflected**2 + 2 * resistor * parts.leakage * peak**2 / pulse_period)
    ) / 2
    clamp = np.maximum(np.where(resistor > 0, balance, parts.clamp_level), 1.02 * reflected)
    commutation = parts.leakage * peak / (clamp - reflected)
    into_clamp = clamp * peak * commutation / 2
    after = np.maximum(turned - reflected * commutation / parts.inductance, valley)
    ratio = parts.turns_ratio
    early = ratio * ((turned + after) / 2 - peak / 2)
    early = np.maximum(early, 0.0)
    moved = 0.5 * parts.inductance * (turned**2 - after**2)
    by_leakage = into_clamp - 0.5 * parts.leakage * peak**2
    passed = np.maximum(moved - by_leakage, 0.0)
    level = output + drop(parts, early) + early * parts.secondary
    early_charge = passed / level
    early_drop = drop(parts, early) * early_charge
    early_copper = early * parts.secondary * early_charge
    # Secondary conducts from its peak to the valley.
    falling = ratio * (after + (valley - after) * middle)
    voltage = output + drop(parts, falling) + falling * parts.secondary
    slice_off = parts.inductance / ratio**2 * ratio * (after - valley) / SLICES / voltage
    off_time = slice_off.sum(axis=0)
    charge = (falling * slice_off).sum(axis=0) + early_charge
    rectified = (falling * drop(parts, falling) * slice_off).sum(axis=0) + early_drop
    # The body diode conducts until the channel opens: the difference is paid by the output.
    secondary_square = (falling**2 * slice_off).sum(axis=0) + early**2 * commutation
    copper = (falling**2 * slice_off).sum(axis=0) * parts.secondary + early_copper
    body = parts.synchronous * ratio * after * parts.dead_time * BODY_DROP
    # Idle ringing and turn-on.
    edge = 0.5 * capacitance * turn_on_square
    rebuilt = 0.5 * parts.leakage * np.maximum(start, 0.0) ** 2
    source = drawn + bulk * capacitance * turn_on + rebuilt
    ringing = (
        bulk * capacitance * turn_on
        + 0.5 * capacitance * (reflected**2 - bulk**2)
        - edge
        + 0.5 * parts.inductance * (valley**2 - start**2)
    )
    losses = {
        "switch": parts.switch * square,
        "current sense": parts.sense * square,
        "transformer copper": parts.primary * square + copper,
        "switch edges": overlap + closing + edge + ringing,
        "transformer core": core,
        "clamp": into_clamp,
        "output rectifier": rectified + body + rectifier,
        "controller": overhead,
    }
    delivered = charge - body / output
    return Cycle(
        on_time + commutation + off_time,
        delivered,
        output * delivered,
        source,
        losses,
        on_time,
        off_time,
        commutation,
        ratio * after,
        ratio * valley,
        secondary_square,
        square,
        clamp,
        turn_on,
        start,
    )
