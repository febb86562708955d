"""What the order of a transformer's layers means: insulation, screens, leakage, capacitance."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.windings import SECTION, Build, Layer
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.dossier.schema import Transformer
from adapterlab.published import rows
from adapterlab.transformer import (
    interwinding_capacitance,
    layered_insulation,
    leakage_inductance,
)

_STANDARD = "IEC 60950-1"
# Common practice: what an LCR meter is worth on a few microhenries.
_LCR_SPREAD = 0.05


@dataclass(frozen=True)
class Interface:
    """A place where a winding on the mains side lies next to one on the output side.

    Attributes
    ----------
    inner, outer : str
        The two windings.
    bottom, height : float
        Where the insulation between their copper lies. [m]
    tape_layers : int
        Layers of tape between them.
    triple_insulated : bool
        Whether either wire is triple insulated.
    """

    inner: str
    outer: str
    bottom: float
    height: float
    tape_layers: int
    triple_insulated: bool

    @property
    def insulation(self) -> str:
        """What these layers can make."""
        return layered_insulation(self.tape_layers, self.triple_insulated, _STANDARD)


def _output_side(layer: Layer) -> bool:
    return layer.role == "secondary"


def interfaces_of(build: Build) -> list[Interface]:
    """Every place where the mains side meets the output side, from the inside outwards."""
    found = []
    for inner, outer in zip(build.layers, build.layers[1:], strict=False):
        if _output_side(inner) != _output_side(outer):
            top = inner.copper_bottom + inner.copper_height
            found.append(
                Interface(
                    inner.name,
                    outer.name,
                    top,
                    outer.copper_bottom - top,
                    inner.tape_layers,
                    inner.triple_insulated or outer.triple_insulated,
                )
            )
    return found


def insulation_findings(build: Build) -> list[Finding]:
    """What lies between mains side and output side; the insulation section judges it."""
    question = f"What separates the sides of the {build.converter} transformer?"
    places = interfaces_of(build)
    if not places:
        needed = "[[transformers.windings]] with primary, secondary and the tape between them."
        return [not_measured(SECTION, question, needed, "transformer.layered_insulation")]
    row = rows(SECTION, "layers", standard=_STANDARD, insulation="reinforced")[0]
    thin = [place for place in places if not place.triple_insulated]
    sentence = (
        f"Wherever mains side and output side meet in the {build.converter} transformer, the wire "
        "bears three layers of insulation of its own: reinforced by itself, if it is what it looks "
        f"like ({_STANDARD}, annex U)."
    )
    note = "Tape beside it counts as a bonus. Creepage round the ends is another matter."
    reading = None
    if thin:
        weakest = min(thin, key=lambda place: place.tape_layers)
        count = weakest.tape_layers
        sentence = (
            f"Where mains side and output side of the {build.converter} transformer come closest, "
            f"{weakest.inner} and {weakest.outer} are kept apart by {count} "
            f"layer{'s' if count != 1 else ''} of tape, which make at most {weakest.insulation} "
            f"insulation ({_STANDARD})."
        )
        note = (
            f"{row['condition']}. Enamel does not count. The section on insulation holds the count "
            "against the rules; margins at the ends of the winding are judged by creepage."
        )
        reading = Value(float(count), 0.0, "")
    return [
        Finding(
            SECTION, question, rules.result(), sentence, "transformer.layered_insulation",
            reading=reading, origin="adapter.toml, transformers.windings",
            figure="transformer_section", note=note,
        )
    ]  # fmt: skip


def screen_findings(transformer: Transformer, build: Build) -> list[Finding]:
    """Whether any screen closes on itself."""
    screens = [winding for winding in transformer.windings if winding.role == "screen"]
    question = f"Do the screens of the {build.converter} transformer end before they close?"
    if not screens:
        return []
    if all(winding.closed is None for winding in screens):
        needed = (
            "closed = false in [[transformers.windings]] of each screen whose ends do not touch."
        )
        return [not_measured(SECTION, question, needed, "transformer.closed_turn_loss")]
    closed = [winding for winding in screens if winding.closed]
    limit = Limit(
        0.0, "", "upper", "the trade", "A screen is one turn: closed, it is a short circuit",
        "common practice",
    )  # fmt: skip
    finding = against_limit(
        Value(float(len(closed)), 0.0, ""),
        limit,
        f"The number of closed screens in the {build.converter} transformer",
        exact=True,
        section=SECTION,
        question=question,
        function="transformer.closed_turn_loss",
        figure="transformer_section",
        note="A closed screen would take all the flux: hardly any inductance could be measured.",
    )
    return [replace(finding, origin="adapter.toml, transformers.windings")]


def ampere_turns(build: Build) -> list[float]:
    """Ampere-turns of each layer for 1 A in the primary and a secondary that cancels it."""
    secondary = sum(layer.turns for layer in build.layers if layer.role == "secondary")
    return [
        layer.turns
        if layer.role == "primary"
        else -build.primary_turns * layer.turns / secondary
        if layer.role == "secondary"
        else 0.0
        for layer in build.layers
    ]


@dataclass(frozen=True)
class Arrangement:
    """An order of layers as the field sees it.

    Attributes
    ----------
    drive : numpy.ndarray
        Ampere-turns of each layer for 1 A in the primary. [A], shape (layers,)
    thickness : numpy.ndarray
        Of its copper. [m], shape (layers,)
    spacing : numpy.ndarray
        Between the copper of neighbours. [m], shape (layers - 1,)
    """

    drive: Any
    thickness: Any
    spacing: Any


def is_interleaved(build: Build) -> bool:
    """Whether some primary lies inside and some outside of a secondary."""
    roles = [layer.role for layer in build.layers if layer.role in ("primary", "secondary")]
    turns = sum(first != second for first, second in zip(roles, roles[1:], strict=False))
    return turns > 1


def arrangement_of(build: Build, order: str = "as built") -> Arrangement | None:
    """The layers as they are, or the same copper in another order.

    Parameters
    ----------
    build : Build
        A transformer laid out.
    order : str, optional
        ``as built``; ``plain``: all of the primary inside, no screen; ``split``: half of the
        primary inside the secondary and half outside.

    Returns
    -------
    Arrangement or None
        None without primary and secondary.
    """
    if not {"primary", "secondary"} <= {layer.role for layer in build.layers}:
        return None
    drive = np.array(ampere_turns(build))
    height = np.array([layer.copper_height for layer in build.layers])
    bottom = np.array([layer.copper_bottom for layer in build.layers])
    if order == "as built":
        apart = np.maximum(bottom[1:] - (bottom + height)[:-1], 0.0)
        return Arrangement(drive, height, apart)
    between = min(place.height for place in interfaces_of(build))
    primary, secondary = (
        np.array([layer.role == role for layer in build.layers])
        for role in ("primary", "secondary")
    )
    inside = (drive[primary], height[primary])
    outside = (drive[secondary], height[secondary])
    half = (inside[0] / 2, inside[1] / 2)
    groups = [half, outside, half] if order == "split" else [inside, outside]
    apart = np.zeros(sum(len(group[0]) for group in groups) - 1)
    ends = np.cumsum([len(group[0]) for group in groups])[:-1]
    apart[ends - 1] = between
    return Arrangement(
        np.concatenate([group[0] for group in groups]),
        np.concatenate([group[1] for group in groups]),
        apart,
    )


def predicted_leakage(build: Build, order: str = "as built") -> Value | None:
    """Leakage inductance from the layers, as built or in another order.

    Parameters
    ----------
    build : Build
        A transformer laid out.
    order : str, optional
        As in `arrangement_of`.

    Returns
    -------
    Value or None
        In henries with the uncertainty of the model and the leads; None if too little is known.
    """
    layers = arrangement_of(build, order)
    if layers is None or build.mean_turn_length is None:
        return None
    field = leakage_inductance(
        layers.drive,
        layers.thickness,
        layers.spacing,
        build.mean_turn_length,
        build.window_width or 1.0,
    )
    ratio = build.primary_turns / build.secondary_turns
    leads = rows(SECTION, "models", name="leads")[0]
    added, spread = leads["inductance_nh"] * 1e-9, leads["spread_nh"] * 1e-9 / np.sqrt(3)
    model = rows(SECTION, "models", name="leakage")[0]["relative_uncertainty"]
    return Value(field + added * ratio**2, float(np.hypot(model * field, spread * ratio**2)), "H")


def leakage_reading(transformer: Transformer) -> Value | None:
    """Leakage inductance as measured. [H]."""
    reading = transformer.leakage_inductance
    return None if reading is None else Value(reading, _LCR_SPREAD * reading / np.sqrt(3), "H")


def leakage_findings(transformer: Transformer, build: Build) -> list[Finding]:
    """Measured leakage inductance against what the layers predict."""
    question = f"Do the layers explain the leakage of the {build.converter} transformer?"
    prediction = predicted_leakage(build)
    reading = leakage_reading(transformer)
    if prediction is None or reading is None:
        needed = "winding table, mean_turn_length and leakage_inductance of [[transformers]]."
        if prediction is not None:
            needed = f"leakage_inductance of [[transformers]]; the layers predict {prediction}."
        return [not_measured(SECTION, question, needed, "transformer.leakage_inductance")]
    finding = against_prediction(
        reading,
        prediction,
        f"The leakage inductance of the {build.converter} transformer",
        "the field in its window",
        section=SECTION,
        question=question,
        origin="adapter.toml, transformers",
        function="transformer.leakage_inductance",
        figure="transformer_leakage",
        note="Measured with the secondary shorted; the short itself adds some nanohenries, seen "
        "through the square of the turns ratio.",
    )
    return [finding]


def facing_widths(build: Build) -> list[tuple[float, float]]:
    """Widths of mains side and output side that face each other, and the distance of their copper.

    A narrow layer such as an auxiliary winding lets the next one behind it be seen.
    """
    found = []
    for place, layer in enumerate(build.layers):
        if not _output_side(layer):
            continue
        for others in (build.layers[place + 1 :], build.layers[:place][::-1]):
            left = layer.width
            for other in others:
                if _output_side(other) or left <= 0:
                    break
                first, second = sorted((layer, other), key=lambda item: item.copper_bottom)
                apart = second.copper_bottom - first.copper_bottom - first.copper_height
                found.append((min(left, other.width), apart))
                left -= other.width
    return found


def capacitance_findings(transformer: Transformer, build: Build) -> list[Finding]:
    """Measured capacitance between the windings against plates in place of the facing layers."""
    if transformer.interwinding_capacitance is None:
        return []
    question = f"Do the layers explain the capacitance across the {build.converter} transformer?"
    places = interfaces_of(build)
    if not places or build.mean_turn_length is None:
        needed = "winding table and mean_turn_length of [[transformers]]."
        return [not_measured(SECTION, question, needed, "transformer.interwinding_capacitance")]
    # Permittivity 2 to 4: polyester and enamel with more or less air.
    low, total, high = (
        sum(
            interwinding_capacitance(build.mean_turn_length, width, apart, permittivity)
            for width, apart in facing_widths(build)
        )
        for permittivity in (2.0, 3.0, 4.0)
    )
    reading = transformer.interwinding_capacitance
    finding = against_prediction(
        Value(reading, _LCR_SPREAD * reading / np.sqrt(3), "F"),
        Value(total, (high - low) / np.sqrt(12), "F"),
        f"The capacitance across the {build.converter} transformer",
        "a pair of plates in place of the layers that face each other",
        section=SECTION,
        question=question,
        origin="adapter.toml, transformers",
        function="transformer.interwinding_capacitance",
        figure="transformer_section",
        note="It carries touch current beside the barrier capacitor.",
    )
    return [finding]
