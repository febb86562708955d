"""The flyback converter: how it works, what its parts must bear, what ripple it leaves.

What it works from: `bulk_valley_voltage`, `ideal_conduction_time`. Working point:
`operating_point`, `waveforms`, `trapezoid_rms`. Inverse questions: `boundary_inductance`,
`ripple_inductance`, `duty_turns_ratio`, `rating_turns_ratio`, `boundary_current`, `mode_map`.

Control: `valley_switching`, `valley_number`, `foldback_frequency`, `burst_current`,
`burst_operation`, `burst_loss`. Stresses: `leakage_spike`, `clamp_dissipation`,
`clamp_resistance`, `resistor_clamp_voltage`. Losses: `conduction_loss`, `diode_loss`,
`synchronous_loss`, `switching_loss`, `turn_off_loss`, `capacitive_loss`.

Ripple of one converter: `secondary_pulse`, `output_ripple`, `output_waveform`,
`filter_attenuation`, `filter_damping`. Several converters: `interleaved_ripple_factor`,
`paralleled_capacitor_current`, `combined_ripple`; sharing a load: `load_sharing`,
`ripple_against_load`, `ripple_step`, `port_allocation`.
"""

from adapterlab.flyback.bulk import (
    bulk_valley_voltage,
    ideal_conduction_time,
)
from adapterlab.flyback.clamp import (
    clamp_dissipation,
    clamp_resistance,
    leakage_spike,
    resistor_clamp_voltage,
)
from adapterlab.flyback.control import (
    BurstOperation,
    ValleyPoint,
    burst_current,
    burst_loss,
    burst_operation,
    foldback_frequency,
    valley_number,
    valley_switching,
)
from adapterlab.flyback.design import (
    ModeMap,
    boundary_current,
    boundary_inductance,
    duty_turns_ratio,
    mode_map,
    rating_turns_ratio,
    ripple_inductance,
)
from adapterlab.flyback.filter import (
    FilterDamping,
    filter_attenuation,
    filter_damping,
)
from adapterlab.flyback.losses import (
    capacitive_loss,
    conduction_loss,
    diode_loss,
    switching_loss,
    synchronous_loss,
    turn_off_loss,
)
from adapterlab.flyback.paralleled import (
    CombinedRipple,
    combined_ripple,
    interleaved_ripple_factor,
    paralleled_capacitor_current,
)
from adapterlab.flyback.point import (
    MODES,
    OperatingPoint,
    Waveforms,
    operating_point,
    trapezoid_rms,
    waveforms,
)
from adapterlab.flyback.ports import (
    PortAllocation,
    port_allocation,
)
from adapterlab.flyback.ripple import (
    OutputRipple,
    OutputWaveform,
    SecondaryPulse,
    output_ripple,
    output_waveform,
    secondary_pulse,
)
from adapterlab.flyback.sharing import (
    ParalleledStage,
    RippleAgainstLoad,
    RippleStep,
    load_sharing,
    ripple_against_load,
    ripple_step,
)

__all__ = [
    "MODES",
    "BurstOperation",
    "CombinedRipple",
    "FilterDamping",
    "ModeMap",
    "OperatingPoint",
    "OutputRipple",
    "OutputWaveform",
    "ParalleledStage",
    "PortAllocation",
    "RippleAgainstLoad",
    "RippleStep",
    "SecondaryPulse",
    "ValleyPoint",
    "Waveforms",
    "boundary_current",
    "boundary_inductance",
    "bulk_valley_voltage",
    "burst_current",
    "burst_loss",
    "burst_operation",
    "capacitive_loss",
    "clamp_dissipation",
    "clamp_resistance",
    "combined_ripple",
    "conduction_loss",
    "diode_loss",
    "duty_turns_ratio",
    "filter_attenuation",
    "filter_damping",
    "foldback_frequency",
    "ideal_conduction_time",
    "interleaved_ripple_factor",
    "leakage_spike",
    "load_sharing",
    "mode_map",
    "operating_point",
    "output_ripple",
    "output_waveform",
    "paralleled_capacitor_current",
    "port_allocation",
    "rating_turns_ratio",
    "resistor_clamp_voltage",
    "ripple_against_load",
    "ripple_inductance",
    "ripple_step",
    "secondary_pulse",
    "switching_loss",
    "synchronous_loss",
    "trapezoid_rms",
    "turn_off_loss",
    "valley_number",
    "valley_switching",
    "waveforms",
]
