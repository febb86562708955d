"""The surge of current when an adapter is plugged in.

Resistance, empty capacitor, constant source: `rc_inrush_current`, `rc_surge`. The same on the
sinusoidal mains, contact at its crest: `crest_surge_current`, `crest_surge`. From a capture:
`i_squared_t`. Kept in files of their own and found here as well:

- ``surge``: `plug_in_surge`, any phase and everything in the path;
- ``search``: `worst_phase`, `surge_distribution`, `bulk_voltage_after`, `restart_surge`;
- ``thermistor``: `Thermistor`, its B law, its heat;
- ``protection``, ``varistor``: fuse, line capacitor and its discharge, varistor;
- ``fit``: `fit_surge`, the parts that a capture implies.
"""

from adapterlab.inrush.closed import (
    CrestSurge,
    RcSurge,
    crest_surge,
    crest_surge_current,
    i_squared_t,
    rc_inrush_current,
    rc_surge,
)
from adapterlab.inrush.fit import (
    SurgeFit,
    SurgePath,
    fit_surge,
)
from adapterlab.inrush.protection import (
    bleed_loss,
    charged_capacitor_limit,
    discharge_time,
    discharge_voltage,
    fuse_breaking_capacity,
    fuse_melting_range,
    fuse_pulses,
    pulse_fraction,
)
from adapterlab.inrush.search import (
    WorstPhase,
    bulk_voltage_after,
    restart_surge,
    surge_distribution,
    worst_phase,
)
from adapterlab.inrush.surge import (
    PlugInSurge,
    SurgeEnergy,
    plug_in_surge,
)
from adapterlab.inrush.thermistor import (
    Thermistor,
    thermistor_beta,
    thermistor_cooling,
    thermistor_resistance,
    thermistor_temperature,
    thermistor_working_temperature,
)
from adapterlab.inrush.varistor import (
    VaristorSurge,
    varistor_exponent,
    varistor_surge,
    varistor_voltage,
)

__all__ = [
    "CrestSurge",
    "PlugInSurge",
    "RcSurge",
    "SurgeEnergy",
    "SurgeFit",
    "SurgePath",
    "Thermistor",
    "VaristorSurge",
    "WorstPhase",
    "bleed_loss",
    "bulk_voltage_after",
    "charged_capacitor_limit",
    "crest_surge",
    "crest_surge_current",
    "discharge_time",
    "discharge_voltage",
    "fit_surge",
    "fuse_breaking_capacity",
    "fuse_melting_range",
    "fuse_pulses",
    "i_squared_t",
    "plug_in_surge",
    "pulse_fraction",
    "rc_inrush_current",
    "rc_surge",
    "restart_surge",
    "surge_distribution",
    "thermistor_beta",
    "thermistor_cooling",
    "thermistor_resistance",
    "thermistor_temperature",
    "thermistor_working_temperature",
    "varistor_exponent",
    "varistor_surge",
    "varistor_voltage",
    "worst_phase",
]
