"""Switching ripple that the parts of a dossier predict for a capture."""

from typing import Any

import numpy as np
from scipy import stats

from adapterlab.assess.finding import Value
from adapterlab.assess.flyback_stages import ROOT
from adapterlab.dossier import Dossier
from adapterlab.dossier.records import Record
from adapterlab.dossier.schema import Converter
from adapterlab.flyback import operating_point
from adapterlab.uncertainty import propagate

# Common practice where the parts do not say: tolerance of capacitance, of series resistance.
_CAPACITANCE, _RESISTANCE = 0.2, 0.4


def converters_on(dossier: Dossier, port: str) -> list[Converter]:
    """Converters that can feed a port, the one that is always there first."""
    listed = dossier.adapter.construction.converters
    found = [item for item in listed if not item.ports or port in item.ports]
    return sorted(found, key=lambda item: item.ports.index(port) if item.ports else 0)


def _pulse_ripple(point: Any, current: Any, capacitance: Any, resistance: Any) -> Any:
    """Swing that one converter's rectified pulses leave on the output capacitor. [V].

    The pulse falls straight from peak to valley, scaled so that its mean is the load's current.
    """
    peak = np.asarray(point.secondary_peak, dtype=float)[..., None]
    valley = peak * np.asarray(point.primary_valley / point.primary_peak)[..., None]
    duty = np.asarray(point.secondary_duty, dtype=float)[..., None]
    place = (np.arange(400) + 0.5) / 400
    wave = np.where(place < duty, peak + (valley - peak) * place / duty, 0.0)
    load = np.asarray(current, dtype=float)[..., None]
    excess = wave * load / wave.mean(axis=-1, keepdims=True) - load
    charge = np.cumsum(excess, axis=-1) / 400 / np.asarray(point.switching_frequency)[..., None]
    volts = np.asarray(resistance)[..., None] * excess
    volts = volts + charge / np.asarray(capacitance)[..., None]
    return np.ptp(volts, axis=-1)


def predicted_ripple(dossier: Dossier, record: Record) -> Value | None:
    """Switching ripple that the parts predict for a capture; None if they are not known.

    Above the first converter's rated power all converters of the port share the load in the ratio
    of their ratings; not synchronised, their swings add.
    """
    capture = record.capture
    mode = dossier.adapter.mode(capture.port, capture.mode)
    converters = converters_on(dossier, capture.port)
    if mode is None or mode.voltage is None or not capture.load_current or not converters:
        return None
    first, volts, load = converters[0], mode.voltage, capture.load_current
    mains = capture.mains_voltage or 230.0
    at_work = converters if volts * load > first.rated_power else converters[:1]
    at_work = [item for item in at_work if not item.joins_above or volts * load > item.joins_above]
    if first.output_capacitance is None or first.output_esr is None:
        return None
    if any(not item.turns_ratio or not item.magnetising_inductance for item in at_work):
        return None
    total = sum(item.rated_power for item in at_work)

    def swing(bulk: Any, capacitance: Any, resistance: Any) -> Any:
        result: Any = 0.0
        for item in at_work:
            share = load * item.rated_power / total
            point = operating_point(
                bulk, volts, share, item.turns_ratio or 1.0, item.magnetising_inductance or 1.0,
                item.switching_frequency, item.rectifier_drop or 0.0, item.efficiency or 1.0,
            )  # fmt: skip
            result = result + _pulse_ripple(point, share, capacitance, resistance)
        return result

    def about(value: float, share: float) -> Any:
        return stats.uniform(value * (1 - share), 2 * share * value)

    try:
        drawn = propagate(
            swing,
            {
                "bulk": stats.uniform(0.88 * ROOT * mains, 0.12 * ROOT * mains),
                "capacitance": about(first.output_capacitance, _CAPACITANCE),
                "resistance": about(first.output_esr, _RESISTANCE),
            },
            draws=512,
        )
    except ValueError:
        return None
    return Value(drawn.mean, drawn.standard_uncertainty, "V")
