"""Pictures of the insulation: the barrier, distances, working voltage, altitude, temperature."""

from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from adapterlab.assess.insulation import InsulationAssessment
from adapterlab.assess.insulation.gaps import Gap
from adapterlab.assess.insulation.requirements import RULES
from adapterlab.figures.style import (
    LIMIT,
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    measured,
    new_figure,
    nothing_to_show,
)
from adapterlab.insulation import (
    air_pressure,
    altitude_factor,
    required_clearance,
    required_creepage,
)
from adapterlab.judgement import FALLS_SHORT, MEETS, NOT_JUDGED, TOO_CLOSE
from adapterlab.published import judges, rows

_MOST = 9
_PLURAL = {
    FALLS_SHORT: ("falls short", "fall short"),
    TOO_CLOSE: ("is too close to call", "are too close to call"),
    MEETS: ("meets", "meet"),
    NOT_JUDGED: ("is not judged", "are not judged"),
}
_LEGEND = {
    "IEC 62368-1": "asked for: IEC 62368-1",
    "IEC 60950-1": "IEC 60950-1 (superseded)",
}
_MARKS = {"IEC 62368-1": ("|", "-"), "IEC 60950-1": ("|", (0, (2, 1)))}


def _narrowest(gaps: tuple[Gap, ...], kind: str) -> Gap | None:
    """The distance of a kind with the least to spare; those of reinforced insulation first."""
    alike = [gap for gap in gaps if gap.distance.kind == kind and gap.requirements]
    chosen = [gap for gap in alike if gap.distance.insulation == "reinforced"] or alike
    return min(chosen, key=_spare) if chosen else None


def _spare(gap: Gap) -> float:
    """Distance beyond what the rule in force asks for."""
    return gap.reading.value - gap.requirements[0].distance


def _caption(gap: Gap | None, name: str) -> str:
    if gap is None:
        return f"{name}\nnot measured"
    asked = gap.requirements[0].distance
    return f"{name} {gap.reading.value * 1e3:.2f} mm\n(at least {asked * 1e3:.3g} mm asked for)"


def _arrow(axes: Axes, start: tuple[float, float], end: tuple[float, float], color: str) -> None:
    style = {"arrowstyle": "<->", "color": color, "lw": 2.5, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", end, start, arrowprops=style)


def draw_barrier(result: InsulationAssessment) -> Figure:
    """Cross-section of the barrier, not to scale, with the tightest distance of each kind."""
    title = "Three ways from the mains to the hand, with the tightest distance of each"
    figure, axes = new_figure(title)
    axes.set_axis_off()
    axes.set_xlim(0, 12)
    axes.set_ylim(0, 7.4)
    axes.add_patch(Rectangle((0.6, 3.2), 10.8, 0.45, facecolor="#dfe6dc", edgecolor=QUIET))
    for left, color, name in ((0.6, LIMIT, "mains side"), (8.4, MEASURED, "output side")):
        axes.add_patch(Rectangle((left, 3.65), 3.0, 0.16, facecolor=color))
        axes.text(left + 1.3, 4.0, name, ha="center", va="bottom", color=color, fontsize=13)
    for place in (3.4, 8.6):
        axes.plot([place, place], [3.65, 6.0], color=QUIET, linewidth=4, solid_capstyle="butt")
    axes.add_patch(Ellipse((6.0, 6.1), 6.0, 1.1, facecolor="#cfe0ec", edgecolor=MEASURED))
    axes.text(6.0, 6.1, "barrier capacitor", ha="center", va="center", fontsize=13)
    _arrow(axes, (3.45, 4.35), (8.55, 4.35), PREDICTED)
    air = _narrowest(result.gaps, "clearance")
    axes.text(6.0, 4.48, _caption(air, "through air:"), ha="center", va="bottom", fontsize=12)
    axes.plot([3.6, 8.4], [3.72, 3.72], color=PREDICTED, linewidth=3, linestyle=(0, (2, 1)))
    surface = _narrowest(result.gaps, "creepage")
    axes.annotate(
        _caption(surface, "along the surface:"),
        (6.0, 3.7),
        xytext=(6.0, 2.95),
        ha="center",
        va="top",
        fontsize=12,
    )
    axes.add_patch(
        Rectangle((0.2, 0.95), 11.6, 0.55, facecolor="#e6e3dc", edgecolor=QUIET, hatch="//")
    )
    axes.text(0.4, 1.62, "case wall", ha="left", va="bottom", fontsize=13, color=QUIET)
    _arrow(axes, (9.9, 0.95), (9.9, 1.5), PREDICTED)
    wall = _narrowest(result.gaps, "thickness")
    axes.text(9.9, 1.6, _caption(wall, "through the wall:"), ha="center", va="bottom", fontsize=12)
    axes.text(6.0, 0.35, "the hand", ha="center", va="center", fontsize=14, style="italic")
    return figure


def draw_distances(result: InsulationAssessment) -> Figure:
    """Every distance as measured, with what two standards ask for at that place."""
    title = "Distances as measured, and the least that two standards ask for"
    gaps = [gap for gap in result.gaps if gap.requirements]
    if not gaps:
        return nothing_to_show(title, "No insulation distance has been measured.")
    more = len(gaps) - _MOST
    title = _counted(result) + (f" ({more} more not drawn)" if more > 0 else "")
    figure, axes = new_figure(title)
    gaps = gaps[:_MOST][::-1]
    for place, gap in enumerate(gaps):
        axes.barh(place, gap.reading.value * 1e3, height=0.5, color="#c3d5e2")
        axes.errorbar(
            gap.reading.value * 1e3,
            place,
            xerr=1.96e3 * gap.reading.standard_uncertainty,
            fmt="o",
            color=MEASURED,
            capsize=5,
        )
        for need in gap.requirements:
            axes.plot(
                [need.distance * 1e3] * 2,
                [place - 0.38, place + 0.38],
                color=LIMIT,
                linewidth=3,
                linestyle=_MARKS[need.name][1],
            )
    names = [_wrapped(f"{gap.distance.kind}: {gap.distance.place}") for gap in gaps]
    axes.set_yticks(range(len(gaps)), names, fontsize=11)
    axes.set_ylim(-0.7, len(gaps) - 0.3)
    axes.set_xlim(left=0)
    axes.set_xlabel("distance (mm)")
    axes.grid(visible=False, axis="y")
    axes.plot([], [], "o", color=MEASURED, label="measured (95 %)")
    for rule, (_, style) in _MARKS.items():
        axes.plot([], [], color=LIMIT, linewidth=3, linestyle=style, label=_LEGEND[rule])
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def _counted(result: InsulationAssessment) -> str:
    """How many comparisons of distances got which word, most telling first."""
    words = [f.word for f in result.findings if f.figure == "insulation_distances" and f.limit]
    said = ", ".join(
        f"{words.count(word)} {_PLURAL[word][words.count(word) > 1]}"
        for word in dict.fromkeys(words)
    )
    return f"Distances against published figures: {said}"


def _wrapped(text: str, width: int = 26) -> str:
    lines = [""]
    for word in text.split():
        if len(lines[-1]) + len(word) > width and lines[-1]:
            lines.append("")
        lines[-1] += f" {word}" if lines[-1] else word
    return "\n".join(lines[:3])


def draw_required(result: InsulationAssessment) -> Figure:
    """Required distances of reinforced insulation against the working voltage."""
    figure, axes = new_figure("Creepage grows with the voltage; through air the impulse decides")
    volts = np.linspace(50, 500, 901)
    for group, style in (("IIIa", "-"), ("I", ":")):
        distance = required_creepage(volts, "reinforced", 2, group) * 1e3
        label = f"creepage, group {group}" + ("" if group == "IIIa" else " (weaker source)")
        axes.plot(volts, distance, color=LIMIT, linestyle=style, label=label)
    for (rule, name), color in zip(RULES.items(), (SERIES[2], SERIES[3]), strict=True):
        air = required_clearance(np.sqrt(2) * volts, "reinforced", rule=rule) * 1e3
        axes.plot(
            volts,
            air,
            color=color,
            linestyle="-.",
            label=f"clearance, {name}{'' if rule == 'iec-62368-1' else ' (superseded)'}",
        )
    for kind, shape in (("creepage", "o"), ("clearance", "s")):
        alike = [
            gap
            for gap in result.gaps
            if gap.distance.kind == kind and gap.distance.insulation == "reinforced"
        ]
        scale = {"creepage": 1.0, "clearance": 1 / np.sqrt(2)}[kind]
        own = [gap.working_voltage if kind == "creepage" else gap.peak_voltage for gap in alike]
        if alike:
            measured(
                axes,
                np.array(own) * scale,
                [gap.reading.value * 1e3 for gap in alike],
                [gap.reading.standard_uncertainty * 1e3 for gap in alike],
                f"{kind} as measured",
                fmt=shape,
                color=MEASURED,
            )
    axes.set_ylim(0, 12.5)
    axes.set_xlabel("working voltage (V rms; for clearance, peak over √2)")
    axes.set_ylabel("distance, reinforced (mm)")
    figure.legend(loc="outside lower center", ncols=3)
    return figure


def draw_working_voltage(result: InsulationAssessment) -> Figure:
    """Rail and switching end against the output over one period of the mains."""
    winding = max(result.windings, key=lambda w: w.rms.value.value) if result.windings else None
    mains = winding.mains_voltage if winding else 240.0
    title = "A rail behind the bridge swings by the whole mains peak"
    if winding is not None:
        title = (
            f"The {winding.converter} transformer's winding reaches "
            f"{winding.peak.value.value:.0f} V peak, {winding.rms.value.value:.0f} V rms above "
            "the output"
        )
    figure, axes = new_figure(title)
    crest = np.sqrt(2) * mains
    angle = np.linspace(0, 1, 1441)
    live = crest * np.cos(2 * np.pi * angle)
    quarter = (np.floor(4 * angle) % 4).astype(int)
    rail = np.select([quarter == 0, quarter == 1, quarter == 2], [0, live, -crest], live - crest)
    axes.plot(angle, live, color=QUIET, linestyle="--", label="live pole")
    axes.plot(angle, rail, color=MEASURED, label="negative rail")
    if winding is not None:
        top = rail + crest + winding.reflected_voltage
        axes.fill_between(
            angle,
            rail,
            top,
            facecolor="none",
            edgecolor=PREDICTED,
            hatch="||",
            linewidth=1.0,
            label="switching end swings through here,\nleakage spike not drawn",
        )
    axes.set_ylim(-1.25 * crest, 2.35 * crest)
    axes.set_xlabel("time in periods of the mains (20 ms at 50 Hz)")
    axes.set_ylabel("voltage against the output (V)")
    axes.legend(loc="upper center", ncols=2)
    return figure


def draw_altitude(_: InsulationAssessment | None = None) -> Figure:
    """Altitude factor of the table beside the pressure of the standard atmosphere."""
    figure, axes = new_figure("Thin air breaks down sooner, so a clearance is multiplied")
    height = np.linspace(0, 10000, 401)
    axes.plot(height, altitude_factor(height), color=LIMIT, label="factor, interpolated")
    table = [row for row in rows("insulation", "altitudes") if row["altitude"] <= 10000]
    firm = [judges(row) for row in table]
    for known, fill, label in ((True, LIMIT, "a row that a document confirms"),
                               (False, "white", "a row from memory")):  # fmt: skip
        chosen = [row for row, sure in zip(table, firm, strict=True) if sure is known]
        axes.plot(
            [row["altitude"] for row in chosen],
            [row["factor"] for row in chosen],
            "s",
            color=LIMIT,
            mfc=fill,
            label=label,
        )
    above = height[height >= 2000]
    axes.plot(
        above,
        80e3 / air_pressure(above),
        color=PREDICTED,
        linestyle=":",
        linewidth=3,
        label="80 kPa over the pressure of the air",
    )
    axes.set_xlabel("altitude (m)")
    axes.set_ylabel("factor")
    axes.set_ylim(0, 3.4)
    axes.legend(loc="upper left")
    return figure


def draw_temperature(result: InsulationAssessment) -> Figure:
    """Limits of touch temperature against contact time, with the readings."""
    title = "The longer a part is touched, the cooler it must be"
    if result.touched:
        hot = max(result.touched, key=lambda touched: touched.at_25.value)
        title = f"The {hot.place} reaches {hot.at_25.value:.0f} °C in a room of 25 °C"
    figure, axes = new_figure(title)
    end = 10**3.3
    for material, colour in (("metal", QUIET), ("plastic", LIMIT)):
        start = 10**-0.5
        for step in rows("insulation", "touch_temperatures", material=material):
            until = min(step["contact_time"], end)
            line = "-" if judges(step) else (0, (1, 1))
            axes.hlines(step["temperature"], start, until, colour, linestyle=line, linewidth=3.5)
            start = until
        label = f"IEC 62368-1, {material} (dotted: not judged)"
        axes.plot([], [], color=colour, linewidth=3.5, label=label)
    for row in rows("insulation", "burns", material="plastic"):
        accidental = row["contact"] == "accidental"
        axes.plot(
            row["contact_times"],
            row["temperatures"],
            color=PREDICTED,
            linestyle="--",
            marker=".",
            label="skin burns on plastic, threshold" if accidental else "",
        )
    for place, touched in enumerate(result.touched):
        colour = SERIES[place % len(SERIES)] if place else MEASURED
        level, spread = touched.at_25.value, 1.96 * touched.at_25.standard_uncertainty
        axes.axhspan(level - spread, level + spread, color=colour, alpha=0.25)
        axes.axhline(level, color=colour, linewidth=3)
        axes.annotate(
            f"{touched.place}, {level:.0f} °C",
            (end, level + spread),
            xytext=(-4, 3),
            textcoords="offset points",
            ha="right",
            va="bottom",
            color=colour,
            fontsize=12,
        )
    _contact_axis(axes)
    axes.set_ylabel("temperature at 25 °C ambient (°C)")
    axes.legend(loc="upper right")
    return figure


def _contact_axis(axes: Axes) -> None:
    axes.set_xscale("log")
    ticks = {1: "1 s", 10: "10 s", 60: "1 min", 300: "5 min", 1800: "30 min"}
    axes.set_xticks(list(ticks), list(ticks.values()))
    axes.set_xticks([], minor=True)
    axes.set_xlim(10**-0.5, 10**3.3)
    axes.set_ylim(30, 115)
    axes.set_xlabel("how long it is touched")


FIGURES: dict[str, Callable[[InsulationAssessment], Figure]] = {
    "insulation_barrier": draw_barrier,
    "insulation_distances": draw_distances,
    "insulation_required": draw_required,
    "insulation_working_voltage": draw_working_voltage,
    "insulation_altitude": draw_altitude,
    "insulation_temperature": draw_temperature,
}
