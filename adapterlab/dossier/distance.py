"""One insulation distance, as written in ``adapter.toml``."""

from typing import Literal

from pydantic import Field, model_validator

from adapterlab.dossier.fields import Hertz, Insulation, Metre, Table, Volt


class Distance(Table):
    """One insulation distance as measured on the board."""

    place: str
    kind: Literal["clearance", "creepage", "thickness"]
    insulation: Insulation
    distance: Metre
    uncertainty: Metre | None = None
    working_voltage: Volt | None = None
    peak_voltage: Volt | None = None
    frequency: Hertz | None = None
    material_group: Literal["I", "II", "IIIa", "IIIb"] | None = None
    pollution_degree: Literal[1, 2, 3] | None = None
    layers: int | None = Field(default=None, ge=1)
    slot_width: Metre | None = None
    joint: Literal["open", "cemented"] | None = None
    note: str = ""

    @model_validator(mode="after")
    def _agrees_with_itself(self) -> "Distance":
        rms, peak = self.working_voltage, self.peak_voltage
        if rms is not None and peak is not None and peak < rms:
            raise ValueError(
                f"peak_voltage must be at least working_voltage, {rms:g} V, got {peak:g}"
            )
        for name, kind in (
            ("layers", "thickness"),
            ("joint", "thickness"),
            ("slot_width", "creepage"),
        ):
            if getattr(self, name) is not None and self.kind != kind:
                raise ValueError(f"{name} belongs to a {kind}, got it for a {self.kind}")
        return self
