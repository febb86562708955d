"""Records of one adapter: what is marked on its parts, and what is true of them."""

from dataclasses import dataclass, field

import numpy as np

from generator.world.coil import Coil
from generator.world.rectifier import Case


@dataclass(frozen=True)
class Mode:
    """Output mode of a port: `volts` [V] and `amperes` [A]; `span` of an adjustable one. [V]."""

    name: str
    volts: float
    amperes: float
    span: tuple[float, float] | None = None


@dataclass(frozen=True)
class Port:
    """Output port.

    Attributes
    ----------
    name, connector : str
        On the label.
    modes : tuple of Mode
        In the order of the label.
    resistance : float
        True, from the point that is regulated to the connector. [ohm]
    path : float
        True, from the output capacitor to the point that is regulated. [ohm]
    set_error : float
        True share by which the set voltage is missed.
    """

    name: str
    connector: str
    modes: tuple[Mode, ...]
    resistance: float
    path: float
    set_error: float


@dataclass(frozen=True)
class Marked:
    """A part with a marked value.

    Attributes
    ----------
    marked, true : float
        SI unit.
    tolerance : float
        Share.
    """

    marked: float
    true: float
    tolerance: float


@dataclass(frozen=True)
class Converter:
    """One converter; SI units; `Marked` where the dossier shows another value than the true one.

    Attributes
    ----------
    name, ports : str, tuple of str
        Its ports, the one that it serves first in front.
    rated_power, highest_voltage : float
        [W], [V]
    quasi_resonant, synchronous : bool
        Control and rectifier.
    core : str
        Size of the core.
    coil : Coil
        As wound.
    auxiliary_turns : int
    wire, strand, strands : float, float, int
        Primary wire; secondary strand and how many. [m], [m], [1]
    primary_layers : int
    interleaved : bool
    inductance, leakage, drain_capacitance, frequency, gap : Marked
        Read on the part, and true.
    interwinding : Marked
        Capacitance across the barrier. [F]
    switch, sense : Marked
        [ohm] at 25 degC
    switch_voltage : float
        Rating. [V]
    clamp_resistor, clamp_capacitor : Marked or None
        None where a zener clamps.
    clamp_level : float
        Of the zener, else 0. [V]
    rectifier : dict
        ``resistance`` (Marked), ``scale``, ``saturation``, ``voltage``, ``current``.
    capacitors : tuple of Marked
        Output capacitors. [F]
    capacitor_resistance : tuple of Marked
        [ohm] each
    capacitor_voltage, capacitor_inductance : float
        Rating [V], each one's own inductance. [H]
    extras : dict
        Figures that only the physics uses.
    """

    name: str
    ports: tuple[str, ...]
    rated_power: float
    highest_voltage: float
    quasi_resonant: bool
    synchronous: bool
    core: str
    coil: Coil
    auxiliary_turns: int
    wire: float
    strand: float
    strands: int
    primary_layers: int
    interleaved: bool
    inductance: Marked
    leakage: Marked
    drain_capacitance: Marked
    frequency: Marked
    gap: Marked
    interwinding: Marked
    switch: Marked
    sense: Marked
    switch_voltage: float
    clamp_resistor: Marked | None
    clamp_capacitor: Marked | None
    clamp_level: float
    rectifier: dict[str, Marked | float]
    capacitors: tuple[Marked, ...]
    capacitor_resistance: tuple[Marked, ...]
    capacitor_voltage: float
    capacitor_inductance: float
    extras: dict[str, float]

    @property
    def ratio(self) -> float:
        """Turns ratio."""
        return self.coil.turns / self.coil.secondary_turns


@dataclass(frozen=True)
class Front:
    """Parts between the plug and the converters, SI units.

    Attributes
    ----------
    fuse : float
        Rating. [A]
    melting : float
        Melting I2t. [A2s]
    limiter : Marked
        At 25 degC. [ohm]
    thermistor : bool
        Else a fusible resistor.
    limiter_first : bool
        Whether it sits before the line capacitor.
    beta, dissipation, heat_capacity : Marked
        Of the limiter. [K], [W/K], [J/K]
    limiter_current : float
        Rating. [A]
    line_capacitor, discharge : Marked or None
        [F], and one of two equal resistors. [ohm]
    choke, choke_leakage, choke_resistance : Marked or None
        [H], [H], [ohm]
    varistor : bool
    saturation, scale, diode_resistance, junction, bridge_current : float
        Of one diode of the bridge, and its rating. [A], [V], [ohm], [F], [A]
    bulk : tuple of Marked
        Bulk capacitors in parallel. [F]
    bulk_noted_resistance : float or None
        Of one, as read at 100 Hz and room temperature. [ohm]
    electrolyte, oxide : float
        Resistance of all in parallel at 23 degC, and loss factor of the oxide. [ohm], [1]
    wiring : float
        Fuse and tracks. [ohm]
    """

    fuse: float
    melting: float
    limiter: Marked
    thermistor: bool
    limiter_first: bool
    beta: Marked
    dissipation: Marked
    heat_capacity: Marked
    limiter_current: float
    line_capacitor: Marked | None
    discharge: Marked | None
    choke: Marked | None
    choke_leakage: Marked | None
    choke_resistance: Marked | None
    varistor: bool
    saturation: float
    scale: float
    diode_resistance: float
    junction: float
    bridge_current: float
    bulk: tuple[Marked, ...]
    bulk_noted_resistance: float | None
    electrolyte: float
    oxide: float
    wiring: float

    @property
    def bulk_capacitance(self) -> float:
        """True capacitance of all in parallel. [F]."""
        return sum(part.true for part in self.bulk)

    def bulk_resistance(self, celsius: float, frequency: float) -> float:
        """True series resistance of all in parallel. [ohm]."""
        warm = 0.5 ** ((celsius - 23.0) / 30.0)
        return self.electrolyte * warm + self.oxide / (
            2 * np.pi * frequency * self.bulk_capacitance
        )

    def case(self, **conditions: float) -> Case:
        """Column for the rectifier: `mains`, `power`, `air` of the limiter, `bulk` of the bulk."""
        bulk_celsius = conditions.pop("bulk")
        return Case(
            cold_resistance=self.limiter.true,
            beta=self.beta.true if self.thermistor else 0.0,
            dissipation=self.dissipation.true,
            limiter_first=self.limiter_first,
            wiring=self.wiring,
            choke_resistance=self.choke_resistance.true if self.choke_resistance else 0.0,
            leakage=self.choke_leakage.true if self.choke_leakage else 1e-6,
            line_capacitance=self.line_capacitor.true if self.line_capacitor else 0.0,
            saturation=self.saturation,
            scale=self.scale,
            diode_resistance=self.diode_resistance,
            bulk_capacitance=self.bulk_capacitance,
            bulk_resistance=self.bulk_resistance(bulk_celsius, 400.0),
            **conditions,
        )


@dataclass(frozen=True)
class Barrier:
    """What bridges the barrier. [F].

    Attributes
    ----------
    capacitors : tuple of Marked
        One, or two in series.
    hidden : float
        Of a capacitor that is on no list.
    stray : float
        From the pin of the fuse to the output.
    """

    capacitors: tuple[Marked, ...]
    hidden: float
    stray: float

    @property
    def listed(self) -> float:
        """True capacitance of the listed parts. [F]."""
        return 1 / sum(1 / part.true for part in self.capacitors)


@dataclass(frozen=True)
class Body:
    """Case and heat.

    Attributes
    ----------
    size : tuple of float
        [m]
    emissivity : float
    inner : float
        Air inside above the case for each watt of loss. [K/W]
    parts : dict
        Each part above the air inside for each watt of its own. [K/W]
    """

    size: tuple[float, float, float]
    emissivity: float
    inner: float
    parts: dict[str, float]


@dataclass(frozen=True)
class Adapter:
    """One adapter, as marked and as it truly is."""

    name: str
    rated_power: float
    ports: tuple[Port, ...]
    combinations: tuple[tuple[tuple[str, str, float], ...], ...]
    converters: tuple[Converter, ...]
    joins_above: float | None
    main_share: float
    front: Front
    barrier: Barrier
    body: Body
    standby: dict[str, float]
    places: dict[str, float]
    notes: list[str] = field(default_factory=list)

    def port(self, name: str) -> Port:
        """Port by name."""
        return next(port for port in self.ports if port.name == name)

    def converter(self, name: str) -> Converter:
        """Converter by name."""
        return next(item for item in self.converters if item.name == name)
