"""The findings of one transformer: inductance, turns, window, flux, losses, likely power."""

from dataclasses import replace
from typing import Any

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.windings import SECTION, Build
from adapterlab.assess.report.finding import (
    Finding,
    Limit,
    against_limit,
    against_prediction,
    not_measured,
)
from adapterlab.assess.report.prediction import Prediction, naming
from adapterlab.assess.report.value import Value
from adapterlab.assess.transformer.wound import (
    MATERIAL,
    Wound,
    core_trouble,
    layer_width,
    stack_height,
)
from adapterlab.dossier.schema import Converter, Transformer
from adapterlab.published import rows
from adapterlab.transformer import largest_power, saturation_current, window_fill


def inductance_finding(build: Build, wound: Wound) -> Finding:
    """Measured inductance against core, gap and turns."""
    question = (
        f"Do core, gap and turns explain the inductance of the {build.converter} transformer?"
    )
    if wound.predicted is None or wound.measured is None:
        needed = "core_area, path_length, gap, winding_width and primary turns of [[transformers]]."
        if wound.predicted is not None:
            needed = (
                "magnetising_inductance of [[construction.converters]]; core, gap and turns "
                f"predict {wound.predicted}."
            )
        return not_measured(SECTION, question, needed, "transformer.gapped_inductance")
    notes = []
    if build.assumed:
        notes.append(f"Taken from the table: {', '.join(build.assumed)}.")
    if build.core and core_trouble(build.core):
        notes.append(core_trouble(build.core))
    return against_prediction(
        wound.measured,
        wound.predicted,
        f"The inductance of the {build.converter} transformer",
        f"its gap of {Value(build.gap or 0.0, 0.0, 'm')} under {build.primary_turns:g} turns",
        not_judged=build.unfit,
        section=SECTION,
        question=question,
        origin="adapter.toml, construction.converters",
        function="transformer.gapped_inductance",
        figure="transformer_gap",
        note=" ".join(notes),
    )


def ratio_findings(specimen: Specimen, build: Build, converter: Converter | None) -> list[Finding]:
    """Turns ratio as measured against the turns counted."""
    if build.primary_turns <= 0 or build.secondary_turns <= 0:
        return []
    question = f"Do the turns of the {build.converter} transformer give the ratio measured?"
    counted = build.primary_turns / build.secondary_turns
    if converter is None or not converter.turns_ratio:
        needed = (
            f"turns_ratio of [[construction.converters]]; the turns counted give {counted:.3g}."
        )
        return [not_measured(SECTION, question, needed, "verdict.against_prediction")]
    reading = specimen.reading("turns ratio", converter.turns_ratio, "")
    return [
        against_prediction(
            reading,
            Value(counted, 0.0, ""),
            f"The turns ratio of the {build.converter} transformer",
            f"counting {build.primary_turns:g} and {build.secondary_turns:g} turns",
            section=SECTION,
            question=question,
            origin="adapter.toml, construction.converters",
            function="verdict.against_prediction",
            figure="transformer_section",
            note="The first thing to look for is a winding that is not listed.",
        )
    ]


def _room(metres: float, name: str) -> Limit:
    return Limit(
        metres, "m", "upper", name, "adapter.toml, transformers", known="noted", verb="leaves"
    )


def _beside(specimen: Specimen, found: Prediction, size: float, room: float) -> tuple[Value, Value]:
    """A size, and how much it is over its room, both with the doubt of the room's reading. [m]."""
    read = specimen.reading("distance", room, "m")
    spread = float(np.hypot(found.value.standard_uncertainty, read.standard_uncertainty))
    known = read.accuracy_assumed
    return (
        Value(size, spread, "m", accuracy_assumed=known),
        Value(size - room, spread, "m", accuracy_assumed=known),
    )


def window_findings(specimen: Specimen, build: Build) -> list[Finding]:
    """Whether gap, every layer and the whole stack find room in the window."""
    found = []
    about = f"of the {build.converter} transformer"
    question = f"Does the winding table {about} fit its window?"
    common: dict[str, Any] = {"section": SECTION, "function": "transformer.window_fill",
                              "figure": "transformer_section"}  # fmt: skip
    if build.gap and build.window_width and build.gap >= build.window_width:
        found.append(
            against_limit(
                Value(build.gap, 0.0, "m"), _room(build.window_width, "the window"),
                f"The gap {about}", exact=True, section=SECTION,
                question=f"Is the gap {about} possible?",
                function="transformer.gapped_inductance", figure="transformer_gap",
                note="A gap larger than the window can't be: look at the unit.",
            )
        )  # fmt: skip
    if build.trouble:
        return [*found, not_measured(SECTION, question, f"{build.trouble}.", common["function"])]
    width = build.window_width or 0.0
    for layer in build.layers:
        if layer.width > width * (1 + 1e-9):
            room = layer_width(build, layer)
            wide, over = _beside(specimen, room, layer.width, width)
            finding = against_limit(
                wide, _room(width, "the window"),
                f"The width of the layer '{layer.name}' {about}", question=question,
                rests_on=room.rests_on, not_judged=build.supposed,
                note=f"It is {over} too wide: a count or a wire misread?", **common,
            )  # fmt: skip
            found.append(replace(finding, reading=None, prediction=wide))
    needed = ""
    if build.window_height is None:
        stack = f"{build.height * 1e3:.2f} mm high"
        needed = f"winding_height of [[transformers]]; the stack is {stack}."
    if build.untaped:
        names = " and ".join(f"'{name}'" for name in build.untaped)
        needed = f"tape_layers_outside of {names}, 0 where there is none."
    if needed or build.window_height is None:
        return [*found, not_measured(SECTION, question, needed, common["function"])]
    return [*found, _height_finding(specimen, build, build.window_height, question, common)]


def _height_finding(
    specimen: Specimen, build: Build, room: float, question: str, common: dict[str, Any]
) -> Finding:
    stack = stack_height(build)
    height, over = _beside(specimen, stack, build.height, room)
    note = f"It is {over} too high." if over.value > 0 else ""
    try:
        fill = window_fill(
            [layer.turns for layer in build.layers],
            [layer.copper_area for layer in build.layers],
            build.window_width or 0.0,
            room,
        )
        note = f"{note} Copper fills {fill:.0%} of the window.".strip()
    except ValueError:
        note = f"{note} The copper alone is larger than the window.".strip()
    finding = against_limit(
        height,
        _room(room, "its window"),
        f"The height of all layers of the {build.converter} transformer",
        question=question,
        not_judged=build.supposed,
        rests_on=stack.rests_on,
        note=note,
        **common,
    )
    return replace(finding, reading=None, prediction=height)


def _flux_limit(wound: Wound, transformer: Transformer) -> Limit:
    """The core's own saturation where it is listed, else what a maker designs for without it."""
    if transformer.saturation_flux_density is not None:
        return Limit(
            transformer.saturation_flux_density, "T", "upper", "the core", "adapter.toml, "
            "transformers", verb="is listed as bearing",
        )  # fmt: skip
    row = rows(SECTION, "design_flux")[0]
    name = "a maker's design note, for cores without data,"
    return Limit.published(row, row["flux_density_t"], "T", "upper", name)


def flux_findings(wound: Wound, transformer: Transformer) -> list[Finding]:
    """Peak flux density at the worst working point against what the core bears."""
    build, worst = wound.build, wound.worst
    question = f"Does the core of the {build.converter} transformer stay clear of saturation?"
    if worst is None:
        needed = "core_area, turns, and the converter's turns_ratio and magnetising_inductance."
        return [not_measured(SECTION, question, needed, "transformer.peak_flux_density")]
    finding = against_limit(
        worst.flux.value,
        _flux_limit(wound, transformer),
        f"The peak flux density predicted in the {build.converter} transformer {worst.said},",
        not_judged=build.unfit,
        section=SECTION,
        question=question,
        rests_on=worst.flux.rests_on,
        function="transformer.peak_flux_density",
        figure="transformer_flux",
    )
    notes = []
    if transformer.saturation_flux_density is None and wound.saturation is not None:
        notes.append(
            f"By makers' tables {transformer.material or MATERIAL} begins to saturate at "
            f"{wound.saturation} where it is {wound.temperature.middle:.0f} °C warm (common "
            "practice)."
        )
    saturation = wound.saturation
    if saturation is not None and worst.flux.interval[1] >= saturation.value:
        notes.append(
            "Beyond saturation the inductance collapses and the switch current runs away; the "
            "controller's current limit may step in before, and the full load is then not reached."
        )
    return [replace(finding, reading=None, prediction=worst.flux.value, note=" ".join(notes))]


def loss_findings(wound: Wound) -> list[Finding]:
    """Copper and core loss at each mains."""
    build, points = wound.build, wound.points
    question = f"How much is lost in copper and core of the {build.converter} transformer?"
    if not points or build.mean_turn_length is None or not build.layers:
        needed = "winding table, mean_turn_length and path_length of [[transformers]]."
        return [not_measured(SECTION, question, needed, "transformer.layer_losses")]
    found = []
    for point in points:
        if point.instant != points[0].instant:
            continue
        copper, core = point.copper.value, point.core.value
        factor = copper.value / point.copper_direct.value.value
        text = (
            f"In the {build.converter} transformer {point.said}, copper loses {copper}"
            f"{naming(point.copper.rests_on)}, {factor:.1f} times what direct-current resistance "
            f"alone would; the core loses {core}{naming(point.core.rests_on)}."
        )
        found.append(
            Finding(
                SECTION,
                question,
                rules.result(),
                text,
                "transformer.layer_losses",
                prediction=copper,
                rests_on=point.copper.rests_on,
                figure="transformer_copper",
                note="40 harmonics, round wire as foils. A constant flux under the swing is not in "
                "the core's figure, and one of its two lines is from memory.",
            )
        )
    return found


def power_findings(wound: Wound, transformer: Transformer) -> list[Finding]:
    """What core, gap and turns alone say: saturation current and likely power."""
    build, predicted = wound.build, wound.predicted
    question = f"What power could the {build.converter} transformer carry, from its parts alone?"
    if predicted is None or wound.saturation is None or build.core_area is None:
        needed = "core, gap, winding_width and primary turns of [[transformers]]."
        return [not_measured(SECTION, question, needed, "transformer.saturation_current")]
    inductance = predicted.value
    current = saturation_current(
        inductance.value, build.primary_turns, build.core_area, wound.saturation.value
    )
    share = inductance.standard_uncertainty / inductance.value
    amps = Value(current, current * share, "A")
    listed = transformer.saturation_flux_density is not None
    usual = (
        "as listed" if listed else f"as {transformer.material or MATERIAL} does by common practice"
    )
    text = (
        f"From core, gap and turns alone, the {build.converter} transformer saturates at {amps}, "
        f"if its core does at {wound.saturation}, {usual}"
    )
    stage = wound.stage
    if stage is not None and wound.points:
        lowest = min(wound.points, key=lambda point: point.source.value.value)
        reflected = stage.turns_ratio * (stage.output_voltage + stage.rectifier_drop.middle)
        power = largest_power(
            inductance.value, current, lowest.source.value.value, reflected,
            stage.switching_frequency, stage.efficiency.middle,
        )  # fmt: skip
        watts = Value(power, power * share, "W")
        rated = stage.output_voltage * stage.output_current
        text += (
            f"; at {lowest.mains_voltage:g} V that would give {watts}, where {rated:.3g} W are "
            f"asked of it"
        )
    else:
        rate = allowance("transformer.frequency")
        power = inductance.value * current**2 / 2 * rate.middle
        watts = Value(power, power * share, "W")
        text += f"; with {rate.said} its packets of energy carry at most {watts}"
    return [
        Finding(
            SECTION,
            question,
            rules.result(),
            f"{text}{naming(predicted.rests_on)}.",
            "transformer.largest_power",
            prediction=watts,
            rests_on=predicted.rests_on,
            figure="transformer_flux",
        )
    ]
