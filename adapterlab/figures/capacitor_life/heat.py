"""Pictures of heat in a closed case: where the watts go, and how warm they make it."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import FancyArrow, FancyBboxPatch

from adapterlab.assess.capacitor_life import CapacitorLifeAssessment
from adapterlab.figures.style import (
    MEASURED,
    PREDICTED,
    QUIET,
    SERIES,
    measured,
    new_figure,
    nothing_to_show,
    predicted,
)

_NEEDED = "The size of the case or a load sweep with four points of one mode is missing."
_ROOM = 25.0
_ROOMS = (15.0, 25.0, 35.0)


def _box(axes: Axes, x: float, text: str, temperature: float, colour: str) -> None:
    axes.add_patch(
        FancyBboxPatch(
            (x - 0.095, 0.32), 0.19, 0.36, boxstyle="round,pad=0.01", fill=False, lw=2.5, ec=colour
        )
    )
    axes.text(x, 0.57, text, ha="center", va="center", fontsize=14)
    axes.text(x, 0.42, f"{temperature:.0f} °C", ha="center", va="center", fontsize=20, color=colour)


def _arrow(axes: Axes, start: float, height: float, length: float, share: float) -> None:
    width = 0.02 + 0.10 * share
    axes.add_patch(
        FancyArrow(
            start, height, length, 0, width=width, length_includes_head=True,
            head_width=1.6 * width, head_length=0.03, fc="none", ec=PREDICTED, hatch="///", lw=1.5,
        )
    )  # fmt: skip


def draw_heat(result: CapacitorLifeAssessment) -> Figure:
    """Where the watts go: parts, inner air, case, room; arrows as wide as the flow."""
    model = result.heat
    title = "Where the heat of the adapter goes"
    if model is None:
        return nothing_to_show(title, _NEEDED)
    power = model.largest_power
    loss = model.main_loss(power)
    warm = model.balance(loss, _ROOM)
    share = warm.radiation / loss
    figure, axes = new_figure(
        f"At {power:.0f} W the adapter sheds {loss:.1f} W of heat; {share:.0%} of that it radiates"
    )
    axes.set_axis_off()
    axes.set(xlim=(0, 1), ylim=(0, 1))
    _box(axes, 0.12, "inner air", model.inner_air(loss, _ROOM), SERIES[1])
    _box(axes, 0.44, "case", warm.case, SERIES[0])
    _box(axes, 0.86, "room", _ROOM, QUIET)
    _arrow(axes, 0.235, 0.5, 0.09, 1.0)
    for height, flow, name in ((0.61, warm.convection, "air"), (0.39, warm.radiation, "radiation")):
        _arrow(axes, 0.555, height, 0.19, flow / loss)
        above = height > 0.5
        axes.text(
            0.65, height + (0.12 if above else -0.12), f"by {name}\n{flow:.1f} W", ha="center",
            va="bottom" if above else "top", fontsize=14, color=PREDICTED,
        )  # fmt: skip
    axes.text(0.28, 0.62, f"{loss:.1f} W", ha="center", va="bottom", fontsize=14, color=PREDICTED)
    parts = sorted(
        ((case.temperature, case.capacitor.part, case.estimated) for case in result.cases),
        reverse=True,
    )
    listed = [
        f"{part} {temperature:.0f} °C{' (estimated)' if guess else ''}"
        for temperature, part, guess in parts[:4]
    ]
    foot = "capacitors at the load they were measured at: " + ", ".join(listed) if listed else ""
    case = "the dossier's case temperatures" if model.calibrated else "its size alone"
    air = "usual resistances" if model.inner_resistance is None else "the coolest part measured"
    known = f"case from losses and {case}; inner air from {air}"
    axes.text(0.02, 0.12, foot, fontsize=13, color=MEASURED)
    axes.text(0.02, 0.03, known, fontsize=13, color=QUIET)
    return figure


def draw_case(result: CapacitorLifeAssessment) -> Figure:
    """Temperature of the case against load, in three rooms, with the readings."""
    model = result.heat
    title = "Temperature of the case against load"
    if model is None:
        return nothing_to_show(title, _NEEDED)
    power = np.linspace(0.03, 1, 60) * model.largest_power
    loss = np.array([model.main_loss(float(value)) for value in power])
    top = model.case_at(model.largest_power, _ROOM).value
    figure, axes = new_figure(
        f"In a room at {_ROOM:g} °C the case reaches {top.value:.0f} °C at full load; "
        f"ten kelvin more in the room are nearly ten more on the case"
    )
    for place, room in enumerate(_ROOMS):
        warm = model.balance(loss, room).case
        axes.plot(
            power, warm, color=PREDICTED, linestyle=("--", "-", ":")[place],
            label=f"predicted, room at {room:g} °C",
        )  # fmt: skip
    predicted(
        axes, [model.largest_power], [top.value], [top.standard_uncertainty],
        f"full load, room at {_ROOM:g} °C, 95 %",
    )  # fmt: skip
    if model.calibrated:
        read = model.readings
        rooms = ", ".join(dict.fromkeys(f"{item.ambient:.0f} °C" for item in read))
        measured(
            axes, [item.loaded.output_power for item in read],
            [item.reading.value for item in read],
            [item.reading.standard_uncertainty for item in read], f"measured (room {rooms})",
        )  # fmt: skip
    axes.set_xlabel("output power (W)")
    axes.set_ylabel("temperature of the case (°C)")
    axes.plot(
        0, model.balance(model.idle_loss, _ROOM).case, "D", color=PREDICTED, mfc="white", mew=2,
        label=f"nothing plugged in, room at {_ROOM:g} °C",
    )  # fmt: skip
    axes.legend(loc="upper left")
    axes.set_ylim(top=float(model.balance(loss, _ROOMS[-1]).case.max()) + 16)
    return figure
