"""Current through the capacitor that bridges the isolation barrier, and what a hand or meter sees.

Closed forms for ideal rails: `barrier_current`, `rail_harmonics`, `indicated_current`. The rail
in the time domain, with load, diodes, windings and body network: `rail_waveform`. Other meters:
`open_circuit_voltage`, `switching_current`. The body: `body_network`. Backwards, from a reading
to what bridges the barrier: `infer_barrier_capacitance`, `unexplained_capacitance`,
`split_by_polarity`, `scale_touch_current`; from a limit to the capacitor:
`largest_barrier_capacitance`. Published limits: `touch_current_limits`, `limit_conformity`.
"""

from adapterlab.touch_current.closed import (
    RAILS,
    BarrierCurrent,
    barrier_current,
    indicated_current,
    rail_harmonics,
)
from adapterlab.touch_current.inference import (
    InferredCapacitance,
    PolaritySplit,
    UnexplainedCapacitance,
    infer_barrier_capacitance,
    split_by_polarity,
    unexplained_capacitance,
)
from adapterlab.touch_current.limits import (
    TouchCurrentLimit,
    limit_conformity,
    touch_current_limits,
)
from adapterlab.touch_current.meter import (
    SwitchingCurrent,
    open_circuit_voltage,
    series_capacitance,
    switching_current,
)
from adapterlab.touch_current.network import (
    NETWORKS,
    BodyNetwork,
    body_network,
)
from adapterlab.touch_current.rail import (
    POLARITIES,
    RailWaveform,
    rail_waveform,
)
from adapterlab.touch_current.scaling import (
    largest_barrier_capacitance,
    scale_touch_current,
)

__all__ = [
    "NETWORKS",
    "POLARITIES",
    "RAILS",
    "BarrierCurrent",
    "BodyNetwork",
    "InferredCapacitance",
    "PolaritySplit",
    "RailWaveform",
    "SwitchingCurrent",
    "TouchCurrentLimit",
    "UnexplainedCapacitance",
    "barrier_current",
    "body_network",
    "indicated_current",
    "infer_barrier_capacitance",
    "largest_barrier_capacitance",
    "limit_conformity",
    "open_circuit_voltage",
    "rail_harmonics",
    "rail_waveform",
    "scale_touch_current",
    "series_capacitance",
    "split_by_polarity",
    "switching_current",
    "touch_current_limits",
    "unexplained_capacitance",
]
