"""The circuit between plug and converter, with the values of the parts."""

import schemdraw
from matplotlib.figure import Figure
from matplotlib.patches import FancyBboxPatch
from schemdraw import elements

from adapterlab.assess.mains_current import MainsCurrentAssessment
from adapterlab.assess.report.value import (
    Value,
)
from adapterlab.figures.style import MEASURED, PREDICTED, new_figure


def draw_circuit(result: MainsCurrentAssessment) -> Figure:
    """Mains, series impedance, bridge, bulk capacitor and converter."""
    figure, axes = new_figure(
        "Between plug and converter: a bridge, and a capacitor topped up at the crests"
    )
    series, coil, bulk = "resistance", "inductance", "  bulk capacitor"
    if result.rectifier is not None:
        middle = result.rectifier.running({})
        series = f"resistance\n{Value(middle['source_resistance'], 0.0, 'Ω').short}"
        coil = f"inductance\n{Value(middle['source_inductance'], 0.0, 'H').short}"
        bulk = f"  bulk capacitor\n  {Value(middle['bulk_capacitance'], 0.0, 'F').short}"
    with schemdraw.Drawing(show=False) as drawing:
        drawing.config(fontsize=17, lw=2.2)
        drawing += elements.SourceSin().at((0, 0)).to((0, 4)).label("mains", loc="top")
        drawing += elements.Resistor().at((0, 4)).to((3.5, 4)).label(series, loc="top")
        drawing += elements.Inductor2().at((3.5, 4)).to((6.5, 4)).label(coil, loc="top")
        drawing += elements.Line().at((0, 0)).to((6.5, 0))
        drawing += elements.Line().at((6.5, 4)).to((6.5, 3.2))
        drawing += elements.Line().at((6.5, 0)).to((6.5, 0.8))
        # Inside the box a single diode stands for the four.
        drawing += elements.Diode().at((6.1, 2)).to((7.9, 2)).color(PREDICTED)
        drawing += elements.Line().at((7.5, 3.2)).to((7.5, 4))
        drawing += elements.Line().at((7.5, 0.8)).to((7.5, 0))
        drawing += elements.Line().at((7.5, 4)).to((14.2, 4))
        drawing += elements.Line().at((7.5, 0)).to((14.2, 0))
        drawing += (
            elements.Capacitor(polar=True)
            .at((10, 4))
            .to((10, 0))
            .label(bulk, loc="bottom")
            .color(MEASURED)
        )
        drawing += elements.Dot().at((10, 4))
        drawing += elements.Dot().at((10, 0))
        drawing += elements.RBox().at((14.2, 4)).to((14.2, 0)).label("converter", loc="bottom")
    drawing.draw(canvas=axes, show=False)
    box = FancyBboxPatch(
        (5.9, 0.8), 2.2, 2.4, boxstyle="round,pad=0.1", fill=False, edgecolor=PREDICTED, linewidth=2
    )
    axes.add_patch(box)
    axes.text(7.0, 1.2, "bridge", ha="center", va="center", color=PREDICTED, fontsize=15)
    axes.set_axis_off()
    axes.set_aspect("equal")
    axes.set_xlim(-2.0, 17.0)
    axes.set_ylim(-1.0, 6.2)
    return figure
