"""A dismantled transformer of a dossier as a stack of layers with places and sizes.

`build_of` lays the table of windings from the inside outwards: where each layer stands, how much
room it takes, what copper it holds. What the record does not say is taken from the published
tables and listed.
"""

import re
from dataclasses import dataclass

import numpy as np

from adapterlab.assess.model.inputs import Input, allowance, measured
from adapterlab.assess.model.specimen import Specimen
from adapterlab.dossier.schema import Converter, Transformer, Winding
from adapterlab.transformer import (
    Core,
    bundle_diameter,
    core_named,
    enamelled_diameter,
)

SECTION = "transformer"
# Up to so many strands lie side by side as separate wires; more are a twisted bundle.
_SIDE_BY_SIDE = 3
_COPPER = np.pi / 4


@dataclass(frozen=True)
class Layer:
    """One layer of a winding, or a screen.

    Attributes
    ----------
    winding : int
        Place of its winding in the record.
    name, role : str
        As in the record.
    turns : float
        Turns in this layer. [1]
    bottom, height : float
        Where it begins, from the inside of the window, and its height with insulation. [m]
    spread : float
        Half of what the height may differ by. [m]
    width : float
        Room it takes along the window. [m]
    copper_bottom, copper_height : float
        The same for the copper alone. [m]
    strand : float
        Diameter of one strand, or thickness of a foil. [m]
    strands : int
        Strands of one turn.
    sublayers : int
        Layers of strands in the layer: the root of their number in a twisted bundle.
    foil : bool
        Whether it is a foil.
    triple_insulated : bool
        Whether its wire bears three layers of insulation.
    tape_layers : int or None
        Tape that follows outside it; None if nobody counted it. [1]
    tape_thickness : float or None
        Of one layer of that, as measured. [m]
    """

    winding: int
    name: str
    role: str
    turns: float
    bottom: float
    height: float
    spread: float
    width: float
    copper_bottom: float
    copper_height: float
    strand: float
    strands: int
    sublayers: int
    foil: bool
    triple_insulated: bool
    tape_layers: int | None
    tape_thickness: float | None

    @property
    def tape_height(self) -> float:
        """Height of the tape outside it, of usual thickness where none was measured. [m]."""
        one = allowance("tape.thickness").middle if self.tape_thickness is None else None
        return (self.tape_layers or 0) * (one or self.tape_thickness or 0.0)

    @property
    def copper_area(self) -> float:
        """Copper of one turn. [m²]."""
        if self.foil:
            return self.strand * self.width
        return float(_COPPER * self.strand**2 * self.strands)


@dataclass(frozen=True)
class Build:
    """A transformer laid out.

    Attributes
    ----------
    converter : str
        Whose it is.
    core : str
        As written in the record.
    core_area, path_length : float or None
        Of the core. [m²], [m]
    window_width, window_height : float or None
        The bobbin's window along and across the layers. [m]
    mean_turn_length : float or None
        In the middle of the window. [m]
    gap : float or None
        As measured. [m]
    layers : tuple of Layer
        From the inside outwards; empty if they can't be laid out.
    trouble : str
        Why not; empty if they can.
    primary_turns, secondary_turns : float
        Turns in series; 0 if there is no such winding. [1]
    assumed : tuple of str
        What the record does not say.
    guessed, unfit : str
        What of its windings had to be guessed, and what of their turns does not fit together, as
        the end of a sentence; empty if nothing.
    """

    converter: str
    core: str
    core_area: float | None
    path_length: float | None
    window_width: float | None
    window_height: float | None
    mean_turn_length: float | None
    gap: float | None
    layers: tuple[Layer, ...]
    trouble: str
    primary_turns: float
    secondary_turns: float
    assumed: tuple[str, ...]
    guessed: str
    unfit: str

    @property
    def supposed(self) -> str:
        """Why no verdict may rest on the order of its layers; empty if one may."""
        return self.guessed or self.unfit

    @property
    def height(self) -> float:
        """Height of the stack with its last tape. [m]."""
        last = self.layers[-1]
        return last.bottom + last.height + last.tape_height

    @property
    def uncounted(self) -> tuple[str, ...]:
        """Windings with others outside them of whose tape nobody counted the layers."""
        return tuple(layer.name for layer in self.layers[:-1] if layer.tape_layers is None)

    @property
    def untaped(self) -> tuple[str, ...]:
        """The same with the outermost one."""
        return tuple(layer.name for layer in self.layers if layer.tape_layers is None)

    def turn_length(self, layer: Layer) -> float:
        """Length of a turn of one layer: longer the further out. [m]."""
        middle = (self.window_height or self.height) / 2
        here = layer.bottom + layer.height / 2
        return float((self.mean_turn_length or 0.0) + 2 * np.pi * (here - middle))


def core_of(transformer: Transformer) -> Core | None:
    """The core of the table whose name the record begins with, or None."""
    name = re.split(r"\bsize\b|,|;|\(", transformer.core)[0].strip()
    try:
        return core_named(name) if name else None
    except ValueError:
        return None


@dataclass(frozen=True)
class _Wire:
    """A winding with its strands and layers: as listed, else one strand in as few as fit."""

    winding: Winding
    strands: int
    layers: int

    @property
    def bundled(self) -> bool:
        """Whether its strands are twisted into one."""
        return self.strands > _SIDE_BY_SIDE


def _diameters(winding: Winding, strands: int) -> tuple[float, float]:
    """Smallest and largest diameter over the insulation of what is laid as one."""
    if winding.outer_diameter is not None:
        return winding.outer_diameter, winding.outer_diameter
    wire = winding.wire_diameter or 0.0
    bundled = strands > _SIDE_BY_SIDE
    if winding.insulation == "triple insulated":
        least, most = allowance("wire.triple_insulation").ends
        core = wire
        if bundled:
            core = float(bundle_diameter(enamelled_diameter(wire, 1), strands))
        return core + least, core + most
    thin, thick = (float(enamelled_diameter(wire, grade)) for grade in (1, 2))
    if bundled:
        thin, thick = (float(bundle_diameter(size, strands)) for size in (thin, thick))
    return thin, thick


def _wire_of(winding: Winding, window_width: float) -> _Wire:
    strands, layers = winding.strands or 1, winding.layers
    if layers is None and winding.insulation == "foil":
        layers = max(1, round(winding.turns))
    elif layers is None:
        over = sum(_diameters(winding, strands)) / 2
        abreast = 1 if strands > _SIDE_BY_SIDE else strands
        layers = max(1, int(np.ceil(winding.turns * abreast * over / window_width - 1e-9)))
    return _Wire(winding, strands, layers)


def _sizes(wire: _Wire, window_width: float) -> dict[str, float]:
    """Height, its spread, width of a layer, and height of its copper."""
    winding, copper = wire.winding, wire.winding.wire_diameter or 0.0
    if winding.insulation == "foil":
        width = winding.foil_width or window_width
        return {"height": copper, "spread": 0.0, "width": width, "copper_height": copper}
    thin, thick = _diameters(winding, wire.strands)
    over = (thin + thick) / 2
    abreast = wire.strands
    if wire.bundled:
        copper = float(bundle_diameter(copper, wire.strands))
        abreast = 1
    return {
        "height": over,
        "spread": (thick - thin) / 2,
        "width": winding.turns / wire.layers * abreast * over,
        "copper_height": min(copper, over),
    }


def _layers(transformer: Transformer, window_width: float) -> tuple[Layer, ...]:
    found: list[Layer] = []
    bottom = 0.0
    for place, winding in enumerate(transformer.windings):
        if winding.wire_diameter is None:
            kind = "foil thickness" if winding.insulation == "foil" else "copper diameter"
            raise ValueError(f"the wire_diameter ({kind}) of the {winding.name} is not listed")
        wire = _wire_of(winding, window_width)
        sizes = _sizes(wire, window_width)
        for number in range(wire.layers):
            outside = winding.tape_layers_outside if number == wire.layers - 1 else 0
            found.append(
                layer := Layer(
                    winding=place,
                    name=winding.name,
                    role=winding.role,
                    turns=winding.turns / wire.layers,
                    bottom=bottom,
                    copper_bottom=bottom + (sizes["height"] - sizes["copper_height"]) / 2,
                    strand=winding.wire_diameter,
                    strands=wire.strands,
                    sublayers=round(np.sqrt(wire.strands)) if wire.bundled else 1,
                    foil=winding.insulation == "foil",
                    triple_insulated=winding.insulation == "triple insulated",
                    tape_layers=outside,
                    tape_thickness=winding.tape_thickness,
                    **sizes,
                )
            )
            bottom += layer.height + layer.tape_height
    return tuple(found)


# Turns counted may differ by so much from the ratio read before a winding must be missing.
_RATIO = 0.1


def _guessed(windings: list[Winding]) -> str:
    """Which number of strands or layers or which wire is a guess, as the end of a sentence."""
    for winding in windings:
        if winding.insulation == "unknown" and winding.outer_diameter is None:
            return f"the insulation of '{winding.name}' is not known"
    for key in ("strands", "layers"):
        for winding in windings:
            if winding.insulation != "foil" and getattr(winding, key) is None:
                return f"the {key} of '{winding.name}' are not listed"
    return ""


def _unfit(windings: list[Winding], converter: Converter | None) -> str:
    """What of the turns does not fit together, as the end of a sentence."""
    primary, secondary = (series_turns(windings, role) for role in ("primary", "secondary"))
    if not primary or not secondary:
        return f"no {'secondary' if primary else 'primary'} winding is listed"
    read = None if converter is None else converter.turns_ratio
    if read and abs(primary / secondary / read - 1) > _RATIO:
        return "the turns listed do not give the turns ratio noted"
    return ""


def series_turns(windings: list[Winding], role: str) -> float:
    """Turns of all windings of one role: in series, but secondaries of equal turns in parallel."""
    counts = [winding.turns for winding in windings if winding.role == role]
    if role == "secondary" and len(set(counts)) == 1:
        return counts[0]
    return sum(counts)


def build_of(specimen: Specimen, transformer: Transformer) -> Build:
    """Lay out a transformer of the record.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    transformer : Transformer
        One ``[[transformers]]`` of it.

    Returns
    -------
    Build
        With what is missing taken from the table of cores, and said so.
    """
    core, assumed = core_of(transformer), []
    width, height = transformer.winding_width, transformer.winding_height
    area, path = transformer.core_area, transformer.path_length
    turn = transformer.mean_turn_length
    if core is not None:
        if area is None:
            area = core.core_area
            assumed.append(f"core area {area * 1e6:.3g} mm² ({core.name})")
        if path is None:
            path = core.path_length
            assumed.append(f"path {path * 1e3:.3g} mm ({core.name})")
        twin = _with_window(core)
        if turn is None and twin is not None and twin.mean_turn_length is not None:
            turn = twin.mean_turn_length
            assumed.append(f"mean turn {turn * 1e3:.3g} mm ({twin.name})")
        if height is None and width and twin is not None and twin.window_area is not None:
            height = round(twin.window_area / width, 4)
            assumed.append(f"window {height * 1e3:.2g} mm high ({twin.name})")
    layers: tuple[Layer, ...] = ()
    trouble = ""
    if not transformer.windings:
        trouble = "no winding is listed"
    elif width is None:
        trouble = "the winding_width is not listed"
    else:
        try:
            layers = _layers(transformer, width)
        except ValueError as error:
            trouble = str(error)
    if any(winding.insulation == "unknown" for winding in transformer.windings):
        assumed.append("ordinary enamel where the insulation of a wire is unknown")
    converter = converter_of(specimen, transformer)
    return Build(
        converter.name if converter is not None else transformer.converter,
        transformer.core,
        area,
        path,
        width,
        height,
        turn,
        transformer.gap,
        layers,
        trouble,
        series_turns(transformer.windings, "primary"),
        series_turns(transformer.windings, "secondary"),
        tuple(assumed),
        _guessed(transformer.windings),
        _unfit(transformer.windings, converter),
    )


def _with_window(core: Core) -> Core | None:
    """The core itself, or its twin in the other table, where the window is known."""
    if core.window_area is not None:
        return core
    short = core.name.split("/")[0]
    try:
        twin = core_named(short.replace("E", "EE", 1)) if re.match(r"E\d", short) else None
    except ValueError:
        return None
    return twin if twin is not None and twin.window_area is not None else None


def converter_of(specimen: Specimen, transformer: Transformer) -> Converter | None:
    """Whose transformer it is; one that names nobody belongs to an only converter."""
    converters = specimen.adapter.construction.converters
    converter = next((item for item in converters if item.name == transformer.converter), None)
    if converter is None and len(converters) == 1 and not transformer.converter:
        return converters[0]
    return converter


def temperature_of(specimen: Specimen, transformer: Transformer) -> Input:
    """Temperature of core and copper in use: as noted, else as measured, else assumed. [°C].

    Of several readings the one at the highest load counts, and of those the warmest.
    """
    name = f"{transformer.converter or 'transformer'}.temperature"
    if transformer.temperature is not None:
        noted = transformer.temperature
        said = f"{noted:g} °C noted for the transformer"
        return Input(name, noted, "°C", "noted", said, "adapter.toml, transformers")
    table = specimen.temperatures
    own = table[table["place"].str.contains("transformer", case=False, na=False)]
    if own.empty:
        return allowance("copper.temperature", name)
    row = (
        own.assign(load=own["output_power"].fillna(0)).sort_values(["load", "temperature"]).iloc[-1]
    )
    reading = specimen.reading("temperature", float(row["temperature"]), "°C")
    said = f"{reading} measured on the {row['place']}"
    return measured(name, reading, said, source=f"temperatures.csv line {row['line']}")
