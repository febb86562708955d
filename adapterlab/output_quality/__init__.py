"""How steady the output is: regulation, resistance, set point, ripple, transients, hold-up.

Here: `static_error`, `load_regulation`, `fit_output_resistance`, `fit_set_point`, `cable_drop`. In
modules with the same stem, and to be had from here too: what capacitors hold (`hold_up_time`,
`output_droop`, `reaction_time`), the published USB limits (`voltage_window`, `expected_modes`),
the step in the ripple (`find_ripple_step`), the ripple of a capture (`measure_ripple`,
`ripple_spectrum`, `sine_amplitude`, `limit_bandwidth`) and what happens in time
(`load_transients`, `excursion`, `start_up`, `overcurrent`).
"""

from adapterlab.output_quality.capture import (
    RippleReading,
    RippleSpectrum,
    SineAmplitude,
    equivalent_noise_bandwidth,
    limit_bandwidth,
    measure_ripple,
    ripple_spectrum,
    sine_amplitude,
)
from adapterlab.output_quality.energy import (
    hold_up_time,
    output_droop,
    reaction_time,
)
from adapterlab.output_quality.events import (
    Excursion,
    LoadTransients,
    Overcurrent,
    StartUp,
    excursion,
    load_transients,
    overcurrent,
    start_up,
)
from adapterlab.output_quality.regulation import (
    OutputResistance,
    SetPoint,
    cable_drop,
    fit_output_resistance,
    fit_set_point,
    load_regulation,
    static_error,
)
from adapterlab.output_quality.step import (
    RippleStep,
    find_ripple_step,
)
from adapterlab.output_quality.usb import (
    KINDS,
    VOLTAGE_STEP,
    ExpectedModes,
    VoltageWindow,
    expected_modes,
    largest_cable_resistance,
    programmable_steps,
    voltage_window,
)

__all__ = [
    "KINDS",
    "VOLTAGE_STEP",
    "Excursion",
    "ExpectedModes",
    "LoadTransients",
    "OutputResistance",
    "Overcurrent",
    "RippleReading",
    "RippleSpectrum",
    "RippleStep",
    "SetPoint",
    "SineAmplitude",
    "StartUp",
    "VoltageWindow",
    "cable_drop",
    "equivalent_noise_bandwidth",
    "excursion",
    "expected_modes",
    "find_ripple_step",
    "fit_output_resistance",
    "fit_set_point",
    "hold_up_time",
    "largest_cable_resistance",
    "limit_bandwidth",
    "load_regulation",
    "load_transients",
    "measure_ripple",
    "output_droop",
    "overcurrent",
    "programmable_steps",
    "reaction_time",
    "ripple_spectrum",
    "sine_amplitude",
    "start_up",
    "static_error",
    "voltage_window",
]
