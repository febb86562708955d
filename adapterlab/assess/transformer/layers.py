"""What the order of a transformer's layers means: barrier, screens, leakage, capacitance."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.inputs import allowance, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.windings import SECTION, Build, Layer
from adapterlab.assess.report.finding import (
    Finding,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.report.value import Value
from adapterlab.dossier.schema import Transformer
from adapterlab.transformer import interwinding_capacitance, leakage_inductance


@dataclass(frozen=True)
class Interface:
    """A place where a winding on the mains side lies next to one on the output side.

    Attributes
    ----------
    inner, outer : str
        The two windings.
    bottom, height : float
        Where the insulation between their copper lies. [m]
    tape_layers : int or None
        Layers of tape between them; None if nobody counted them.
    triple_insulated : bool
        Whether either wire is triple insulated.
    """

    inner: str
    outer: str
    bottom: float
    height: float
    tape_layers: int | None
    triple_insulated: bool

    @property
    def keeps_apart(self) -> str:
        """What lies between the two, as said aloud."""
        if self.triple_insulated:
            return "wire with three layers of insulation of its own"
        if self.tape_layers is None:
            return "tape that nobody counted"
        return f"{self.tape_layers} layer{'s' if self.tape_layers != 1 else ''} of tape"


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


def barrier_findings(build: Build) -> list[Finding]:
    """What lies between mains side and output side; the insulation section judges it."""
    question = f"What separates the sides of the {build.converter} transformer?"
    function = "transformer.interwinding_capacitance"
    places = interfaces_of(build)
    if not places:
        needed = "[[transformers.windings]] with primary, secondary and the tape between them."
        return [not_measured(SECTION, question, needed, function)]
    thin = [place for place in places if not place.triple_insulated]
    unknown = [place for place in thin if place.tape_layers is None]
    if unknown:
        needed = f"tape_layers_outside of '{unknown[0].inner}', 0 where there is none."
        return [not_measured(SECTION, question, needed, function)]
    sentence = (
        f"Wherever mains side and output side meet in the {build.converter} transformer, one of "
        "the wires looks as if it bore three layers of insulation of its own."
    )
    reading = None
    if thin:
        weakest = min(thin, key=lambda place: place.tape_layers or 0)
        sentence = (
            f"Where mains side and output side of the {build.converter} transformer come closest, "
            f"{weakest.inner} and {weakest.outer} are kept apart by {weakest.keeps_apart}."
        )
        reading = Value(float(weakest.tape_layers or 0), 0.0, "")
    return [
        Finding(
            SECTION, question, rules.result(), sentence, function,
            reading=reading, origin="adapter.toml, transformers.windings",
            figure="transformer_section",
            note="Enamel does not count as insulation here. What this may count for is told by the "
            "section on insulation, as are the margins at the ends of the winding.",
        )
    ]  # fmt: skip


def screen_findings(
    transformer: Transformer, build: Build, inductance: Value | None
) -> list[Finding]:
    """Whether any screen closes on itself: it would be a short circuit and take all the flux."""
    screens = [winding for winding in transformer.windings if winding.role == "screen"]
    about = f"of the {build.converter} transformer"
    question = f"Do the screens {about} end before they close?"
    if not screens:
        return []
    if all(winding.closed is None for winding in screens):
        needed = (
            "closed = false in [[transformers.windings]] of each screen whose ends do not touch."
        )
        return [not_measured(SECTION, question, needed, "transformer.closed_turn_loss")]
    closed = [f"'{winding.name}'" for winding in screens if winding.closed]
    ended = sum(winding.closed is False for winding in screens)
    judged = rules.result()
    if not closed:
        every = "Every screen" if ended == len(screens) else f"Of {len(screens)} screens {ended}"
        sentence = f"{every} {about} is noted as ending before it closes on itself, as it must."
    elif inductance is None:
        sentence = f"{' and '.join(closed)} {about} is noted as a screen that closes on itself."
    else:
        judged = rules.agrees(matches=False)
        sentence = (
            f"{' and '.join(closed)} {about} is noted as a screen that closes on itself, which "
            f"would leave hardly any inductance, yet {inductance} is noted, too: {judged.word}."
        )
    return [
        Finding(
            SECTION,
            question,
            judged,
            sentence,
            "transformer.closed_turn_loss",
            reading=Value(float(len(closed)), 0.0, ""),
            origin="adapter.toml, transformers.windings",
            figure="transformer_section",
            note="A screen is one turn: closed, it is a short circuit.",
        )
    ]


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


def predicted_leakage(build: Build, order: str = "as built") -> Prediction | None:
    """Leakage inductance from the layers, as built or in another order.

    Parameters
    ----------
    build : Build
        A transformer laid out.
    order : str, optional
        As in `arrangement_of`.

    Returns
    -------
    Prediction or None
        In henries; None if too little is known, such as the tape between two layers.
    """
    layers = arrangement_of(build, order)
    if layers is None or build.mean_turn_length is None or build.uncounted:
        return None
    field = leakage_inductance(
        layers.drive,
        layers.thickness,
        layers.spacing,
        build.mean_turn_length,
        build.window_width or 1.0,
    )
    ratio = build.primary_turns / build.secondary_turns

    def at(model: Any, leads: Any) -> Any:
        return field * model + leads * ratio**2

    inputs = {"model": allowance("leakage.model_factor"), "leads": allowance("leakage.leads")}
    return predict(at, inputs, "H")[0]


def leakage_findings(specimen: Specimen, transformer: Transformer, build: Build) -> list[Finding]:
    """Measured leakage inductance against what the layers predict."""
    question = f"Do the layers explain the leakage of the {build.converter} transformer?"
    prediction, reading = predicted_leakage(build), leakage_read(specimen, transformer)
    if prediction is None or reading is None:
        needed = (
            "winding table with its tape, mean_turn_length and leakage_inductance of "
            "[[transformers]]."
        )
        if prediction is not None:
            needed = f"leakage_inductance of [[transformers]]; the layers predict {prediction}."
        return [not_measured(SECTION, question, needed, "transformer.leakage_inductance")]
    finding = against_prediction(
        reading,
        prediction,
        f"The leakage inductance of the {build.converter} transformer",
        "the field in its window",
        not_judged=build.supposed,
        section=SECTION,
        question=question,
        origin="adapter.toml, transformers",
        function="transformer.leakage_inductance",
        figure="transformer_leakage",
        note="Measured with the secondary shorted; the short itself adds some nanohenries, seen "
        "through the square of the turns ratio.",
    )
    return [finding]


def leakage_read(specimen: Specimen, transformer: Transformer) -> Value | None:
    """Leakage inductance as measured. [H]."""
    value = transformer.leakage_inductance
    return None if value is None else specimen.reading("inductance", value, "H")


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


def capacitance_findings(
    specimen: Specimen, transformer: Transformer, build: Build
) -> list[Finding]:
    """Measured capacitance between the windings against plates in place of the facing layers."""
    if transformer.interwinding_capacitance is None:
        return []
    question = f"Do the layers explain the capacitance across the {build.converter} transformer?"
    turn = build.mean_turn_length
    if not interfaces_of(build) or turn is None or build.uncounted:
        needed = "winding table with its tape, and mean_turn_length of [[transformers]]."
        return [not_measured(SECTION, question, needed, "transformer.interwinding_capacitance")]
    plates = facing_widths(build)

    def at(permittivity: Any) -> Any:
        return sum(
            np.asarray(interwinding_capacitance(turn, width, apart, permittivity))
            for width, apart in plates
        )

    prediction = predict(at, {"permittivity": allowance("winding.permittivity")}, "F")[0]
    reading = specimen.reading("capacitance", transformer.interwinding_capacitance, "F")
    finding = against_prediction(
        reading,
        prediction,
        f"The capacitance across the {build.converter} transformer",
        "a pair of plates in place of the layers that face each other",
        not_judged=build.supposed,
        section=SECTION,
        question=question,
        origin="adapter.toml, transformers",
        function="transformer.interwinding_capacitance",
        figure="transformer_section",
        note="It carries touch current beside the barrier capacitor.",
    )
    return [finding]
