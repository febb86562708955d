"""Pictures of the transformer: cross-section, gap, leakage, copper loss, flux."""

from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from adapterlab.assess.model.inputs import allowance
from adapterlab.assess.model.winding_losses import copper_of, sine_factor
from adapterlab.assess.report import judgement_of
from adapterlab.assess.transformer import TransformerAssessment
from adapterlab.assess.transformer.layers import (
    Arrangement,
    arrangement_of,
    is_interleaved,
    predicted_leakage,
)
from adapterlab.assess.transformer.wound import MATERIAL, Wound
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    band,
    new_figure,
    nothing_to_show,
)
from adapterlab.figures.transformer.section import draw_section, find
from adapterlab.flyback import operating_point
from adapterlab.judgement import EXPLAINED
from adapterlab.published import rows
from adapterlab.transformer import gapped_inductance, saturation_flux_density

MICRO, MILLI = 1e6, 1e3
_FEW = "[[transformers]] needs core, gap, winding_width and primary turns."
_LOOKS = {"primary": (SERIES[0], "-"), "secondary": (SERIES[1], "--")}


def draw_gap(result: TransformerAssessment, converter: str | None = None) -> Figure:
    """Inductance against the gap, with and without fringing, and the point measured."""
    wound = find(result, converter)
    if wound is None or wound.predicted is None or not wound.build.gap:
        return nothing_to_show("Inductance of the primary against the gap of the core", _FEW)
    build, predicted = wound.build, wound.predicted.value
    gap, turns, area = build.gap or 0.0, build.primary_turns, build.core_area or 0.0
    lengths = np.linspace(0.3 * gap, min(2.2 * gap, 0.95 * (build.window_width or 1)), 200)
    path, core = build.path_length or 0.0, allowance("core.permeability").middle
    bare = gapped_inductance(turns, lengths, area, None, path, core)
    title = f"A wider gap leaves less inductance: {turns:g} turns on {build.core.split(',')[0]}"
    if wound.measured is not None:
        judged = judgement_of(wound.measured, wound.predicted)
        verb = "explains" if judged.word == EXPLAINED else "does not explain"
        title = f"The gap {verb} the inductance of the {build.converter} transformer"
    figure, axes = new_figure(title)
    if build.window_width:
        full = gapped_inductance(turns, lengths, area, build.window_width, path, core)
        ends = wound.predicted.interval
        low, high = (full * end / predicted.value for end in ends)
        band(axes, lengths * MILLI, low * MICRO, high * MICRO, "95 % of the prediction")
        axes.plot(lengths * MILLI, full * MICRO, color=PREDICTED, label="with the flux beside it")
    axes.plot(
        lengths * MILLI, bare * MICRO, color=QUIET, linestyle=(0, (1, 1)),
        label="flux within the core's outline only",
    )  # fmt: skip
    if wound.measured is not None:
        axes.errorbar(
            gap * MILLI, wound.measured.value * MICRO,
            yerr=1.96 * wound.measured.standard_uncertainty * MICRO,
            fmt="o", color=MEASURED, capsize=4, markersize=10, label="measured (95 %)",
        )  # fmt: skip
    axes.set_xlabel("length of the gap (mm)")
    axes.set_ylabel("inductance of the primary (µH)")
    axes.set_ylim(0, None)
    axes.legend(loc="upper right")
    return figure


def _staircase(layers: Arrangement) -> tuple[Any, Any]:
    """Corners of the ampere-turns across a stack: position [m] and ampere-turns."""
    thick = layers.thickness
    starts = np.concatenate([[0.0], np.cumsum(thick[:-1] + layers.spacing)])
    places = np.column_stack([starts, starts + thick]).ravel()
    after = np.cumsum(layers.drive)
    levels = np.column_stack([np.concatenate([[0.0], after[:-1]]), after]).ravel()
    return places, levels


def draw_leakage(result: TransformerAssessment, converter: str | None = None) -> Figure:
    """Ampere-turns across the window as built, beside another order of the same copper."""
    wound = find(result, converter)
    layers = arrangement_of(wound.build) if wound is not None else None
    if wound is None or layers is None or wound.predicted_leakage is None:
        reason = (
            "[[transformers]] needs its windings with their tape, winding_width and "
            "mean_turn_length."
        )
        return nothing_to_show("The field between the windings, which is the leakage", reason)
    build, mixed = wound.build, is_interleaved(wound.build)
    other = "plain" if mixed else "split"
    rival = arrangement_of(build, other)
    here, there = predicted_leakage(build), predicted_leakage(build, other)
    assert rival is not None
    assert here is not None
    assert there is not None
    share = here.value.value / there.value.value
    title = (
        f"Interleaved, the {build.converter} transformer leaks {share:.0%} as much as wound plainly"
        if mixed
        else f"Interleaved, the {build.converter} transformer would leak {1 / share:.0%} of what "
        "it does"
    )
    figure, axes = new_figure(title)
    place, level = _staircase(layers)
    axes.fill_between(place * MILLI, level, color=MEASURED, alpha=0.18, linewidth=0)
    axes.plot(place * MILLI, level, color=MEASURED, linewidth=3,
              label=f"as built: predicted {here}")  # fmt: skip
    place, level = _staircase(rival)
    name = "primary all inside" if mixed else "primary split in halves"
    axes.plot(place * MILLI, level, color=PREDICTED, linestyle=(0, (5, 2)),
              label=f"{name}: {there}")  # fmt: skip
    low, high = axes.get_ylim()
    axes.set_ylim(low - 0.12 * (high - low), high + 0.4 * (high - low))
    start = build.layers[0].copper_bottom
    for role, hatch in (("primary", "///"), ("secondary", "...")):
        look: Any = {"facecolor": "white", "edgecolor": QUIET, "hatch": hatch}
        for number, layer in enumerate(item for item in build.layers if item.role == role):
            inner = (layer.copper_bottom - start) * MILLI
            outer = inner + layer.copper_height * MILLI
            label = None if number else f"{role} copper, as built"
            axes.axvspan(inner, outer, 0, 0.05, label=label, **look)
    axes.set_xlabel("distance from the innermost copper (mm)")
    axes.set_ylabel("ampere-turns for 1 A in the primary")
    axes.legend(loc="upper right", ncols=2)
    return figure


def draw_copper(result: TransformerAssessment, converter: str | None = None) -> Figure:
    """Loss of each layer at full load, and how resistance grows with frequency."""
    wound = find(result, converter)
    if (
        wound is None or not wound.points or wound.stage is None or not wound.build.layers
        or wound.build.mean_turn_length is None
    ):  # fmt: skip
        reason = "It needs the winding table, the mean turn and the converter's operating point."
        return nothing_to_show("Loss in the copper, layer by layer", reason)
    build, shown = wound.build, wound.points[0]
    warm = wound.temperature.middle
    point = operating_point(shown.source.value.value, **wound.stage.numbers())
    copper = copper_of(build, point, warm, wound.stage.output_current)
    grows = copper.total.sum() / copper.direct.sum()
    title = (
        f"Eddy currents make the copper of the {build.converter} transformer lose {grows:.1f} "
        f"times as much ({shown.mains_voltage:g}\u00a0V mains, full load)"
    )
    figure, (left, right) = new_figure(title, 1, 2, width_ratios=(1.15, 1))
    names = [_short(layer.name, layer.role) for layer in build.layers]
    place = np.arange(len(names))
    left.barh(place + 0.2, copper.direct * MILLI, 0.38, color=QUIET,
              label="resistance alone")  # fmt: skip
    left.barh(place - 0.2, copper.total * MILLI, 0.38, facecolor="white", edgecolor=PREDICTED,
              hatch="///", linewidth=1.5, label="with eddy currents")  # fmt: skip
    left.set_yticks(place, names)
    left.set_xlabel("loss (mW)")
    left.set_ylabel("layer, from the inside up")
    figure.legend(loc="outside lower left", ncols=2)
    frequency = np.geomspace(1e3, 1e7, 160)
    for role, (colour, line) in _LOOKS.items():
        factor = sine_factor(build, role, frequency, warm)
        right.plot(frequency / 1e3, factor, color=colour, linestyle=line, label=role)
    rate = float(np.asarray(point.switching_frequency)) / 1e3
    for order, style in ((1, (0, (6, 3))), (10, (0, (1, 2)))):
        right.axvline(order * rate, color=LIMIT if order == 1 else QUIET, linestyle=style)
    right.annotate(
        "switching\nfrequency", (rate, 0.97), xycoords=("data", "axes fraction"), xytext=(-5, 0),
        textcoords="offset points", ha="right", va="top", color=LIMIT, fontsize=11,
    )  # fmt: skip
    right.annotate(
        "its 10th\nharmonic", (10 * rate, 0.12), xycoords=("data", "axes fraction"), xytext=(5, 0),
        textcoords="offset points", ha="left", va="bottom", color=QUIET, fontsize=11,
    )  # fmt: skip
    right.set_xscale("log")
    right.xaxis.set_major_formatter("{x:g}")
    right.xaxis.set_minor_formatter("")
    right.set_xlim(1, 5e4)
    right.set_yscale("log")
    right.set_yticks([1, 2, 3, 5, 10, 20, 50])
    right.yaxis.set_major_formatter("{x:g}")
    right.yaxis.set_minor_formatter("")
    right.set_ylim(0.8, None)
    right.set_xlabel("frequency (kHz)")
    right.set_ylabel("resistance over that for\ndirect current")
    right.legend(loc="upper left", bbox_to_anchor=(0, 0.82), fontsize=11, handlelength=1.5)
    return figure


def _short(name: str, role: str) -> str:
    words = name.replace(" of the ", " of ").split()
    if len(name) <= 14:
        return name
    return "\n".join([" ".join(words[: len(words) // 2]), " ".join(words[len(words) // 2 :])])


def draw_flux(result: TransformerAssessment, converter: str | None = None) -> Figure:
    """Peak flux density at full load against what the material bears, over its temperature."""
    shown = [
        wound for wound in result.transformers
        if wound.worst is not None and wound.saturation is not None
        and converter in (None, wound.build.converter)
    ]  # fmt: skip
    if not shown:
        reason = "It needs core area, turns, and the converter's turns ratio and inductance."
        return nothing_to_show("Flux in the core against its saturation", reason)
    figure, axes = new_figure(_flux_title(shown))
    table = sorted(
        (row["temperature_c"], row["flux_density_t"])
        for row in rows("transformer", "saturation", material=MATERIAL)
    )
    celsius = np.linspace(table[0][0], table[-1][0], 100)
    limit = saturation_flux_density(MATERIAL, celsius)
    axes.plot(celsius, limit * MILLI, color=LIMIT, linestyle=(0, (6, 3)),
              label=f"{MATERIAL} begins to saturate (lower end of makers' tables)")  # fmt: skip
    design = rows("transformer", "design_flux")[0]["flux_density_t"]
    axes.axhline(design * MILLI, color=LIMIT, label="a design without data of its core plans with")
    for number, wound in enumerate(shown):
        for point in wound.points:
            first, flux = point is wound.worst, point.flux
            spread = [[flux.value.value - flux.interval[0]], [flux.interval[1] - flux.value.value]]
            axes.errorbar(
                wound.temperature.middle + 1.2 * number, flux.value.value * MILLI,
                yerr=np.array(spread) * MILLI if first else None,
                fmt="Ds^"[number % 3], color=SERIES[(number + 1) % len(SERIES)],
                mfc="white" if first else "none", mew=2 if first else 1,
                markersize=9 if first else 5, capsize=6,
                label=f"{wound.build.converter} transformer at full load, predicted (95 %)"
                if first
                else None,
            )  # fmt: skip
    axes.set_ylim(0, 620)
    axes.set_xlabel("temperature of the core (°C)")
    axes.set_ylabel("peak flux density (mT)")
    axes.legend(loc="upper right", fontsize=11)
    return figure


def _flux_title(shown: list[Wound]) -> str:
    margins = [
        (1 - wound.worst.flux.value.value / wound.saturation.value, wound.build.converter)
        for wound in shown
        if wound.saturation is not None and wound.worst is not None
    ]
    margin, name = min(margins)
    at_worst = f"At its worst the core of the {name} transformer"
    if margin > 0.02:
        return f"{at_worst} stays {margin:.0%} below where ferrite usually saturates"
    if margin > -0.02:
        return f"{at_worst} just reaches the flux at which ferrite usually saturates"
    return f"{at_worst} goes {-margin:.0%} beyond where ferrite usually saturates"


FIGURES: dict[str, Callable[[TransformerAssessment], Figure]] = {
    "transformer_section": draw_section,
    "transformer_gap": draw_gap,
    "transformer_flux": draw_flux,
    "transformer_leakage": draw_leakage,
    "transformer_copper": draw_copper,
}
