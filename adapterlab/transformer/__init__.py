"""Is the transformer well made? Flux, gap, turns, copper, core loss, leakage and insulation.

Here: `peak_flux_density`, `minimum_turns`, `saturation_current`, `largest_power`. The other
modules with this stem hold the gap (``_gap``), the table of cores and their loss (``_core``),
the size a core needs (``_size``), wire (``_wire``), loss in copper (``_copper``), leakage, window
and insulation (``_winding``); all of it can be had from here too.
"""

from adapterlab.transformer.copper import (
    copper_resistivity,
    dowell_resistance_factor,
    layer_losses,
    pulse_harmonics,
    skin_depth,
    thickness_ratio,
    winding_resistance,
)
from adapterlab.transformer.core import (
    Core,
    core_named,
    saturation_flux_density,
    steinmetz_loss_density,
    waveform_loss_density,
)
from adapterlab.transformer.flux import (
    largest_power,
    minimum_turns,
    peak_flux_density,
    saturation_current,
)
from adapterlab.transformer.gap import (
    fringing_factor,
    gap_for_inductance,
    gap_length,
    gapped_inductance,
)
from adapterlab.transformer.size import (
    core_geometry_constant,
    optimum_flux_density,
    required_core_geometry_constant,
)
from adapterlab.transformer.winding import (
    closed_turn_loss,
    interleaved_leakage_inductance,
    interwinding_capacitance,
    leakage_inductance,
    window_fill,
)
from adapterlab.transformer.wire import (
    Wire,
    bundle_diameter,
    enamelled_diameter,
    wire_named,
)

__all__ = [
    "Core",
    "Wire",
    "bundle_diameter",
    "closed_turn_loss",
    "copper_resistivity",
    "core_geometry_constant",
    "core_named",
    "dowell_resistance_factor",
    "enamelled_diameter",
    "fringing_factor",
    "gap_for_inductance",
    "gap_length",
    "gapped_inductance",
    "interleaved_leakage_inductance",
    "interwinding_capacitance",
    "largest_power",
    "layer_losses",
    "leakage_inductance",
    "minimum_turns",
    "optimum_flux_density",
    "peak_flux_density",
    "pulse_harmonics",
    "required_core_geometry_constant",
    "saturation_current",
    "saturation_flux_density",
    "skin_depth",
    "steinmetz_loss_density",
    "thickness_ratio",
    "waveform_loss_density",
    "winding_resistance",
    "window_fill",
    "wire_named",
]
