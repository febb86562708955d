"""The flyback converter: how it works, what its parts must bear, what ripple it leaves.

Working point: `operating_point`, `waveforms`; current shapes: `trapezoid_rms`. What it works
from: `bulk_valley_voltage`, `ideal_conduction_time`. Inverse questions: `boundary_inductance`.
Ripple of one converter: `secondary_pulse`, `output_ripple`, `output_waveform`,
`filter_attenuation`. Several converters: `interleaved_ripple_factor`,
`paralleled_capacitor_current`, `combined_ripple`; sharing a load: `load_sharing`,
`ripple_against_load`, `ripple_step`.
"""

from adapterlab.flyback_bulk import bulk_valley_voltage, ideal_conduction_time
from adapterlab.flyback_design import boundary_inductance
from adapterlab.flyback_paralleled import (
    CombinedRipple,
    combined_ripple,
    interleaved_ripple_factor,
    paralleled_capacitor_current,
)
from adapterlab.flyback_point import (
    MODES,
    OperatingPoint,
    Waveforms,
    operating_point,
    trapezoid_rms,
    waveforms,
)
from adapterlab.flyback_ripple import (
    OutputRipple,
    OutputWaveform,
    SecondaryPulse,
    filter_attenuation,
    output_ripple,
    output_waveform,
    secondary_pulse,
)
from adapterlab.flyback_sharing import (
    ParalleledStage,
    RippleAgainstLoad,
    RippleStep,
    load_sharing,
    ripple_against_load,
    ripple_step,
)

__all__ = [
    "MODES",
    "CombinedRipple",
    "OperatingPoint",
    "OutputRipple",
    "OutputWaveform",
    "ParalleledStage",
    "RippleAgainstLoad",
    "RippleStep",
    "SecondaryPulse",
    "Waveforms",
    "boundary_inductance",
    "bulk_valley_voltage",
    "combined_ripple",
    "filter_attenuation",
    "ideal_conduction_time",
    "interleaved_ripple_factor",
    "load_sharing",
    "operating_point",
    "output_ripple",
    "output_waveform",
    "paralleled_capacitor_current",
    "ripple_against_load",
    "ripple_step",
    "secondary_pulse",
    "trapezoid_rms",
    "waveforms",
]
