"""The findings of one transformer: inductance, turns, window, flux, losses, likely power."""

from dataclasses import replace

import numpy as np

from adapterlab import judgement as rules
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.winding_losses import losses_in
from adapterlab.assess.model.windings import SECTION, Build
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
from adapterlab.assess.transformer.wound import MATERIAL, Wound, core_trouble
from adapterlab.dossier.schema import Converter, Transformer
from adapterlab.judgement import FALLS_SHORT, TOO_CLOSE
from adapterlab.published import rows
from adapterlab.transformer import largest_power, saturation_current, window_fill

# Common practice, where the dossier is silent.
_FREQUENCY = 65e3
_RATIO_SPREAD = 0.02


def inductance_finding(build: Build, wound: Wound) -> Finding:
    """Measured inductance against core, gap and turns."""
    question = (
        f"Do core, gap and turns explain the inductance of the {build.converter} transformer?"
    )
    if wound.predicted is None or wound.measured is None:
        needed = "core_area, gap, winding_width and primary turns of [[transformers]]."
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
        section=SECTION,
        question=question,
        origin="adapter.toml, construction.converters",
        function="transformer.gapped_inductance",
        figure="transformer_gap",
        note=" ".join(notes),
    )


def ratio_findings(build: Build, converter: Converter | None) -> list[Finding]:
    """Turns ratio as measured against the turns counted."""
    if build.primary_turns <= 0 or build.secondary_turns <= 0:
        return []
    question = f"Do the turns of the {build.converter} transformer give the ratio measured?"
    counted = build.primary_turns / build.secondary_turns
    if converter is None or not converter.turns_ratio:
        needed = (
            f"turns_ratio of [[construction.converters]]; the turns counted give {counted:.3g}."
        )
        return [not_measured(SECTION, question, needed, "verdict.prediction_word")]
    reading = converter.turns_ratio
    return [
        against_prediction(
            Value(reading, _RATIO_SPREAD * reading / np.sqrt(3), ""),
            Value(counted, 0.0, ""),
            f"The turns ratio of the {build.converter} transformer",
            f"counting {build.primary_turns:g} and {build.secondary_turns:g} turns",
            section=SECTION,
            question=question,
            origin="adapter.toml, construction.converters",
            function="verdict.prediction_word",
            figure="transformer_section",
        )
    ]


def window_findings(build: Build) -> list[Finding]:
    """Whether gap, every layer and the whole stack find room in the window."""
    found = []
    about = f"of the {build.converter} transformer"
    if build.gap and build.window_width and build.gap >= build.window_width:
        limit = Limit(build.window_width, "m", "upper", "the window", "adapter.toml", "seen")
        found.append(
            against_limit(
                Value(build.gap, 0.0, "m"), limit, f"The gap {about}", exact=True,
                section=SECTION, question=f"Is the gap {about} possible?",
                function="transformer.gapped_inductance", figure="transformer_gap",
                note="A gap larger than the window can't be: look at the unit.",
            )
        )  # fmt: skip
    question = f"Does the winding table {about} fit its window?"
    if build.trouble:
        needed = f"{build.trouble}."
        return [*found, not_measured(SECTION, question, needed, "transformer.window_fill")]
    width = build.window_width or 0.0
    for layer in build.layers:
        spread = layer.spread / layer.height if layer.height else 0.0
        if layer.width > width * (1 + 1e-9):
            excess = Value(layer.width - width, layer.width * spread / 3**0.5, "m")
            limit = Limit(width, "m", "upper", "the window's width", "adapter.toml", "seen")
            finding = against_limit(
                Value(layer.width, layer.width * spread / 3**0.5, "m"), limit,
                f"The width of the layer '{layer.name}' {about}",
                section=SECTION, question=question,
                function="transformer.window_fill", figure="transformer_section",
                exact=spread == 0, note=f"It is {excess} too wide: a count or a wire misread?",
            )  # fmt: skip
            found.append(finding)
    if build.window_height is None:
        needed = (
            f"winding_height of [[transformers]]; the stack is {build.height * 1e3:.2f} mm high."
        )
        return [*found, not_measured(SECTION, question, needed, "transformer.window_fill")]
    height = Value(build.height, build.height_spread / np.sqrt(3), "m")
    limit = Limit(
        build.window_height, "m", "upper", "its window", "adapter.toml, transformers", "seen"
    )
    over = build.height - build.window_height
    note = f"It is {Value(over, height.standard_uncertainty, 'm')} too high." if over > 0 else ""
    finding = against_limit(
        height, limit, f"The height of all layers {about}", section=SECTION, question=question,
        function="transformer.window_fill", figure="transformer_section", note=note,
    )  # fmt: skip
    try:
        fill = window_fill(
            [layer.turns for layer in build.layers],
            [layer.copper_area for layer in build.layers],
            width,
            build.window_height,
        )
        note = f"{note} Copper fills {fill:.0%} of the window.".strip()
    except ValueError:
        note = f"{note} The copper alone is larger than the window.".strip()
    return [*found, replace(finding, note=note)]


def flux_findings(wound: Wound, transformer: Transformer) -> list[Finding]:
    """Peak flux density at the worst working point against saturation."""
    build, points = wound.build, wound.points
    question = f"Does the core of the {build.converter} transformer stay clear of saturation?"
    if points.empty or wound.saturation is None:
        needed = "core_area, turns, and the converter's turns_ratio and magnetising_inductance."
        return [not_measured(SECTION, question, needed, "transformer.peak_flux_density")]
    # Where the current stops in each period the flux is alike everywhere: name the lowest mains.
    near = points[points["flux"] >= 0.99 * points["flux"].max()]
    row = near.loc[near["input_voltage"].idxmin()]
    flux = Value(row["flux"], row["flux_uncertainty"], "T")
    if transformer.saturation_flux_density is not None:
        limit = Limit(wound.saturation.value, "T", "upper", "the core's saturation as listed",
                      "adapter.toml, transformers", "seen")  # fmt: skip
    else:
        kind = transformer.material or MATERIAL
        limit = Limit(
            wound.saturation.value, "T", "upper",
            f"the lower end of makers' tables for {kind} at {wound.temperature:.0f} °C",
            rows(SECTION, "saturation")[1]["source"], rows(SECTION, "saturation")[1]["known"],
        )  # fmt: skip
    finding = against_limit(
        flux,
        limit,
        f"The peak flux density predicted in the {build.converter} transformer at "
        f"{row['mains_voltage']:g} V and full load, {_at(row['instant'])} of the bulk voltage,",
        section=SECTION,
        question=question,
        function="transformer.peak_flux_density",
        figure="transformer_flux",
    )
    note = ""
    if finding.word in (FALLS_SHORT, TOO_CLOSE):
        note = (
            "Beyond saturation the inductance collapses and the switch current runs away; the "
            "controller's current limit may step in before, and the full load is then not reached."
        )
    return [replace(finding, reading=None, prediction=flux, note=note)]


def _at(instant: str) -> str:
    return "in the valley" if instant == "valley" else "at the crest"


def loss_findings(wound: Wound) -> list[Finding]:
    """Copper and core loss at each mains."""
    build, points = wound.build, wound.points
    found = []
    question = f"How much is lost in copper and core of the {build.converter} transformer?"
    if points.empty or build.mean_turn_length is None or not build.layers:
        needed = "winding table, mean_turn_length and path_length of [[transformers]]."
        return [not_measured(SECTION, question, needed, "transformer.layer_losses")]
    for _, row in points[points["instant"] == points["instant"].iloc[0]].iterrows():
        copper, core = losses_in(row)
        factor = row["copper"] / row["copper_direct"]
        where = f"at {row['mains_voltage']:g} V and full load, {_at(row['instant'])} of the bulk"
        text = (
            f"In the {build.converter} transformer {where} voltage, copper loses {copper}, "
            f"{factor:.1f} times what direct-current resistance alone would; the core, after two "
            f"published lines for {MATERIAL}, loses {core}."
        )
        found.append(
            Finding(
                SECTION, question, rules.result(), text, "transformer.layer_losses",
                prediction=copper, figure="transformer_copper",
                note="Copper hot, 40 harmonics, round wire as foils; a constant flux under the "
                "swing is not in the core's figure, and one of its lines is from memory.",
            )
        )  # fmt: skip
    return found


def power_findings(specimen: Specimen, wound: Wound) -> list[Finding]:
    """What core, gap and turns alone say: saturation current and likely power."""
    build = wound.build
    question = f"What power could the {build.converter} transformer carry, from its parts alone?"
    if wound.predicted is None or wound.saturation is None or build.core_area is None:
        needed = "core, gap, winding_width and primary turns of [[transformers]]."
        return [not_measured(SECTION, question, needed, "transformer.saturation_current")]
    inductance = wound.predicted
    current = saturation_current(
        inductance.value, build.primary_turns, build.core_area, wound.saturation.value
    )
    share = inductance.standard_uncertainty / inductance.value
    amps = Value(current, current * share, "A")
    lowest = specimen.adapter.nameplate.input_voltage_minimum or 100.0
    stage, points = wound.stage, wound.points
    text = f"From core, gap and turns alone, the {build.converter} transformer saturates at {amps}"
    if stage is not None and not points.empty:
        source = points["input_voltage"].min()
        reflected = stage.turns_ratio * (stage.output_voltage + float(np.mean(stage.diode_drop)))
        power = largest_power(
            inductance.value, current, source, reflected, stage.switching_frequency,
            float(np.mean(stage.efficiency)),
        )  # fmt: skip
        watts = Value(power, power * share, "W")
        rated = stage.output_voltage * stage.output_current
        text += f"; at {lowest:g} V that would give {watts}, where {rated:.3g} W are asked of it."
        prediction = watts
    else:
        power = inductance.value * current**2 / 2 * _FREQUENCY
        prediction = Value(power, power * share, "W")
        text += f"; at 65 kHz (common practice) its packets of energy carry at most {prediction}."
    return [
        Finding(
            SECTION, question, rules.result(), text, "transformer.largest_power",
            prediction=prediction, figure="transformer_flux",
        )
    ]  # fmt: skip
