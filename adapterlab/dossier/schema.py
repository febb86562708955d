"""The record of one adapter as written in ``adapter.toml``.

`Adapter` is the whole file; every other class is one of its tables. Physical values are texts
with their unit (``"2.2 nF"``) and arrive here in SI units, temperatures in degrees Celsius,
tolerances as fractions. Everything but the nameplate may be missing.
"""

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, model_validator

from adapterlab.dossier.capture_kinds import known_kind
from adapterlab.dossier.distance import Distance
from adapterlab.dossier.fields import (
    PART_UNITS,
    Ampere,
    AmpereOrZero,
    AmpereSquareSecond,
    Celsius,
    Farad,
    Henry,
    Hertz,
    Joule,
    JoulePerKelvin,
    Kelvin,
    Kilogram,
    Metre,
    Ohm,
    PartKind,
    PartRole,
    Quantity,
    Ratio,
    Second,
    SquareMetre,
    Table,
    Tesla,
    Volt,
    Watt,
    WattPerKelvin,
)
from adapterlab.dossier.quantity import in_unit, parse_quantity


class Mode(Table):
    """One output mode of a port: a fixed voltage, or an adjustable range."""

    name: str
    kind: Literal["fixed", "adjustable"] = "fixed"
    voltage: Volt | None = None
    minimum_voltage: Volt | None = None
    maximum_voltage: Volt | None = None
    current: Ampere

    @model_validator(mode="after")
    def _complete(self) -> "Mode":
        if self.kind == "fixed" and self.voltage is None:
            raise ValueError("a fixed mode needs voltage")
        if self.kind == "adjustable":
            if self.minimum_voltage is None or self.maximum_voltage is None:
                raise ValueError("an adjustable mode needs minimum_voltage and maximum_voltage")
            if self.minimum_voltage >= self.maximum_voltage:
                raise ValueError("minimum_voltage must be below maximum_voltage")
        return self


class Port(Table):
    """One output connector and the modes it offers."""

    name: str
    connector: str = ""
    modes: list[Mode] = Field(min_length=1)


class CombinedOutput(Table):
    """One port's share when several ports are loaded together."""

    port: str
    mode: str
    current: Ampere


class Combination(Table):
    """Outputs the nameplate allows at the same time."""

    outputs: list[CombinedOutput] = Field(min_length=2)
    total_power: Watt


class Nameplate(Table):
    """What the adapter's label claims."""

    name: str = Field(min_length=1)
    rated_power: Watt
    input_voltage_minimum: Volt | None = None
    input_voltage_maximum: Volt | None = None
    input_frequency_minimum: Hertz | None = None
    input_frequency_maximum: Hertz | None = None
    input_current: Ampere | None = None
    protection_class: Literal["I", "II"] | None = None
    marks: list[str] = []
    price: float | None = Field(default=None, ge=0)
    currency: str = ""
    mass: Kilogram | None = None
    size: list[Metre] = Field(default=[], max_length=3)
    year: int | None = None
    maximum_altitude: Metre | None = None
    maximum_ambient: Celsius | None = None


class Supply(Table):
    """The mains as the bench has it, behind the adapter's plug."""

    resistance: Ohm | None = None
    resistance_uncertainty: Ohm | None = None
    inductance: Henry | None = None
    inductance_uncertainty: Henry | None = None
    distortion: Ratio | None = None
    note: str = ""


class Sweep(Table):
    """How the load sweep was run."""

    warm_up: Second | None = None
    ambient: Celsius | None = None
    note: str = ""


class Instrument(Table):
    """Accuracy of a meter for one quantity, in that quantity's SI unit.

    Either share may be ``0 %``, but a blank is no zero; see `has_accuracy`.
    """

    name: str
    measures: Quantity
    fraction_of_reading: Ratio = 0.0
    fraction_of_full_scale: Ratio = 0.0
    full_scale: float = Field(default=0.0, ge=0)
    resolution: float = Field(default=0.0, ge=0)
    transfer_of_reading: Ratio | None = None
    transfer_of_full_scale: Ratio | None = None
    note: str = ""

    @property
    def has_accuracy(self) -> bool:
        """Whether the share of the reading is stated and, with a range, that of the range too."""
        stated = self.model_fields_set
        whole = self.full_scale == 0 or "fraction_of_full_scale" in stated
        some = self.fraction_of_reading > 0 or self.fraction_of_full_scale > 0
        return whole and some and "fraction_of_reading" in stated

    @property
    def has_transfer(self) -> bool:
        """Whether a transfer (24-hour) accuracy is stated."""
        return self.transfer_of_reading is not None or self.transfer_of_full_scale is not None

    @model_validator(mode="after")
    def _full_scale(self) -> "Instrument":
        for name in ("fraction_of_full_scale", "transfer_of_full_scale"):
            if (getattr(self, name) or 0) > 0 and self.full_scale == 0:
                raise ValueError(f"{name} needs full_scale")
        for whole, part in (
            ("fraction_of_reading", "transfer_of_reading"),
            ("fraction_of_full_scale", "transfer_of_full_scale"),
        ):
            if (getattr(self, part) or 0) > getattr(self, whole):
                raise ValueError(f"{part} must not be above {whole}, of which it is a part")
        return self


class Converter(Table):
    """One isolated converter and what is known of its power stage.

    `efficiency` is that behind the bulk capacitor: output voltage and `rectifier_drop` together,
    times the output current, over the power drawn from the bulk capacitor. Fuse, limiter, bridge
    and the rectifier itself are not in it. `rectifier_ringing` is the overshoot of the output
    rectifier's reverse voltage over its step, as a probe shows it: 100 % without any damping.
    """

    name: str
    rated_power: Watt
    ports: list[str] = []
    switching_frequency: Hertz | None = None
    turns_ratio: Ratio | None = None
    magnetising_inductance: Henry | None = None
    magnetising_inductance_tolerance: Ratio | None = None
    output_capacitance: Farad | None = None
    output_esr: Ohm | None = None
    output_esl: Henry | None = None
    filter_inductance: Henry | None = None
    filter_capacitance: Farad | None = None
    leakage_inductance: Henry | None = None
    drain_capacitance: Farad | None = None
    clamp_voltage: Volt | None = None
    joins_above: Watt | None = None
    rectifier_drop: Volt | None = None
    rectifier_ringing: Ratio | None = None
    efficiency: Ratio | None = Field(default=None, gt=0, le=1)


class Construction(Table):
    """How the adapter is built."""

    topology: Literal["flyback", "quasi-resonant flyback", "other", "unknown"] = "unknown"
    rectifier: Literal["diode", "synchronous", "unknown"] = "unknown"
    synchronised: bool | None = None
    converters: list[Converter] = []
    absent: list[PartRole] = []


class Part(Table):
    """One part on the board."""

    reference: str
    kind: PartKind
    role: PartRole = "other"
    marked: str = ""
    value: float | None = None
    tolerance: Ratio | None = None
    rated_voltage: Volt | None = None
    rated_current: Ampere | None = None
    rated_temperature: Celsius | None = None
    safety_class: Literal["X1", "X2", "X3", "Y1", "Y2", "Y3", "Y4"] | None = None
    series_resistance: Ohm | None = None
    beta: Kelvin | None = None
    heat_capacity: JoulePerKelvin | None = None
    dissipation_factor: WattPerKelvin | None = None
    melting_i_squared_t: AmpereSquareSecond | None = None
    leakage_inductance: Henry | None = None
    clamping_voltage: Volt | None = None
    clamping_current: Ampere | None = None
    rated_energy: Joule | None = None
    converter: str = ""
    ports: list[str] = []
    in_series_with: str = ""
    reel: str = ""
    identified_by: Literal["read", "inferred", "unknown"] = "unknown"
    photograph: str = ""
    note: str = ""

    @model_validator(mode="before")
    @classmethod
    def _value_in_its_unit(cls, data: Any) -> Any:
        if isinstance(data, dict) and data.get("value") is not None:
            unit = PART_UNITS.get(str(data.get("kind")))
            if unit is None:
                raise ValueError(f"value: a part of kind {data.get('kind')!r} has none")
            try:
                return data | {"value": parse_quantity(data["value"], unit)}
            except ValueError as error:
                raise ValueError(f"value {data['value']!r} {error}") from None
        return data


class Winding(Table):
    """One winding, screen or tape section, listed from the inside outwards."""

    name: str
    role: Literal["primary", "auxiliary", "secondary", "screen"]
    turns: float = Field(gt=0)
    layers: int | None = Field(default=None, ge=1)
    wire_diameter: Metre | None = None
    strands: int | None = Field(default=None, ge=1)
    outer_diameter: Metre | None = None
    foil_width: Metre | None = None
    insulation: Literal["enamelled", "triple insulated", "foil", "unknown"] = "unknown"
    closed: bool | None = None
    tape_layers_outside: int | None = Field(default=None, ge=0)
    tape_thickness: Metre | None = None
    note: str = ""


class Transformer(Table):
    """A dismantled transformer."""

    converter: str = ""
    core: str = ""
    core_area: SquareMetre | None = None
    path_length: Metre | None = None
    winding_width: Metre | None = None
    winding_height: Metre | None = None
    mean_turn_length: Metre | None = None
    gap: Metre | None = None
    leakage_inductance: Henry | None = None
    interwinding_capacitance: Farad | None = None
    material: str = ""
    saturation_flux_density: Tesla | None = None
    temperature: Celsius | None = None
    windings: list[Winding] = []
    note: str = ""


class RatedCapacitor(Table):
    """A capacitor whose life is asked for: where it sits and how its life was rated."""

    part: str
    type: Literal["wet electrolytic", "polymer", "ceramic"]
    place: str = ""
    temperature: Celsius | None = None
    temperature_uncertainty: Kelvin | None = None
    ambient: Celsius | None = None
    output_power: Watt | None = None
    mains_voltage: Volt | None = None
    port: str = ""
    mode: str = ""
    base_life: Second | None = None
    base_life_tolerance: Ratio = 0.0
    rated_temperature: Celsius | None = None
    base_life_includes_ripple: bool = False
    rated_ripple_current: Ampere | None = None
    rated_ripple_frequency: Hertz | None = None
    rated_ripple_rise: Kelvin | None = None
    ripple_current: Ampere | None = None
    ripple_current_uncertainty: Ampere | None = None
    working_voltage: Volt | None = None
    diameter: Metre | None = None
    height: Metre | None = None
    dielectric: str = ""
    note: str = ""


class Use(Table):
    """Hours of a year spent at one load and ambient."""

    hours: float = Field(gt=0, le=8784)
    output_power: Annotated[float, in_unit("W"), Field(ge=0)]
    ambient: Celsius


class Profile(Table):
    """How an adapter is used over a year."""

    name: str = Field(min_length=1)
    uses: list[Use] = Field(min_length=1)


class Energy(Table):
    """What a kilowatt-hour costs and sets free where the adapter is used."""

    price_per_kwh: float | None = Field(default=None, ge=0)
    currency: str = ""
    carbon_per_kwh: Kilogram | None = None
    source: str = ""


class Channel(Table):
    """One column of a capture: what it holds and how its numbers become volts or amperes."""

    column: int = Field(ge=1, description="position in the file, counted from 1")
    quantity: Literal["voltage", "current"]
    name: str = ""
    scale: float = 1.0
    offset: float = 0.0


class Capture(Table):
    """One oscilloscope record."""

    kind: Annotated[str, AfterValidator(known_kind)]
    file: str
    channels: list[Channel] = Field(min_length=1)
    time: Literal["column", "interval"] = "column"
    time_scale: float = Field(default=1.0, gt=0)
    sample_interval: Second | None = None
    start_time: Annotated[float, in_unit("s")] | None = None
    port: str = ""
    mode: str = ""
    load_current: AmpereOrZero | None = None
    load_current_after: AmpereOrZero | None = None
    other_port: str = ""
    mains_voltage: Volt | None = None
    mains_frequency: Hertz | None = None
    bandwidth: Hertz | None = None
    phase: float | None = Field(default=None, ge=0, lt=360)
    phase_uncertainty: float | None = Field(default=None, gt=0)
    rest_time: Second | None = None
    note: str = ""

    @model_validator(mode="after")
    def _time_before_channels(self) -> "Capture":
        if self.time == "column" and any(channel.column == 1 for channel in self.channels):
            raise ValueError(
                'channels: column 1 holds the time; a file without one needs time = "interval"'
            )
        return self


class Photograph(Table):
    """A picture and what it shows."""

    file: str
    caption: str = ""
    part: str = ""


class Adapter(Table):
    """The whole of ``adapter.toml``."""

    nameplate: Nameplate
    ports: list[Port] = []
    combinations: list[Combination] = []
    supply: Supply = Supply()
    sweep: Sweep = Sweep()
    instruments: list[Instrument] = []
    construction: Construction = Construction()
    parts: list[Part] = []
    transformers: list[Transformer] = []
    distances: list[Distance] = []
    capacitors: list[RatedCapacitor] = []
    profiles: list[Profile] = []
    energy: Energy = Energy()
    captures: list[Capture] = []
    photographs: list[Photograph] = []
    notes: str = ""

    def parts_with_role(self, role: str) -> list[Part]:
        """Parts that serve `role`, in the order of the file."""
        return [part for part in self.parts if part.role == role]

    def part(self, reference: str) -> Part | None:
        """The part called `reference`, or None."""
        return next((part for part in self.parts if part.reference == reference), None)

    def mode(self, port: str, mode: str) -> Mode | None:
        """The mode of a port, or None where the nameplate does not list it."""
        for candidate in self.ports:
            if candidate.name == port:
                return next((item for item in candidate.modes if item.name == mode), None)
        return None

    def instruments_for(self, measures: str) -> list[Instrument]:
        """Meters that read a quantity, in the order of the file."""
        return [meter for meter in self.instruments if meter.measures == measures]
