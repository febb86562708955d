"""The current an adapter draws from the mains.

The rectifier and its bulk capacitor: `rectifier_steady_state`. A capture: `power_quality` (in
`adapterlab.mains_current.quality`), and the parts behind it: `fit_rectifier` (in
`adapterlab.mains_current.fit`). Laws for a pencil, power factor and harmonic limits:
`adapterlab.mains_current.laws`. Filter corners: `adapterlab.mains_current.filter`.
"""

from adapterlab.mains_current.filter import (
    FilterCorner,
    corner_attenuation,
    differential_inductance,
    filter_corner,
    rc_corner,
)
from adapterlab.mains_current.fit import (
    RectifierFit,
    RectifierPath,
    fit_rectifier,
)
from adapterlab.mains_current.laws import (
    SmallRipple,
    available_power,
    distortion_factor,
    harmonic_limits,
    sinusoidal_power_factor,
    small_ripple_rectifier,
    total_harmonic_distortion,
    valley_voltage,
)
from adapterlab.mains_current.quality import (
    PowerQuality,
    power_quality,
)
from adapterlab.mains_current.rectifier import (
    RectifierSteadyState,
    rectifier_steady_state,
)
from adapterlab.mains_current.window import (
    WindowFigures,
    window_figures,
)

__all__ = [
    "FilterCorner",
    "PowerQuality",
    "RectifierFit",
    "RectifierPath",
    "RectifierSteadyState",
    "SmallRipple",
    "WindowFigures",
    "available_power",
    "corner_attenuation",
    "differential_inductance",
    "distortion_factor",
    "filter_corner",
    "fit_rectifier",
    "harmonic_limits",
    "power_quality",
    "rc_corner",
    "rectifier_steady_state",
    "sinusoidal_power_factor",
    "small_ripple_rectifier",
    "total_harmonic_distortion",
    "valley_voltage",
    "window_figures",
]
