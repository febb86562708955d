"""Whether it grows with the mains as through a capacitor, and what it is at the highest mains."""

from collections.abc import Sequence
from typing import Any

from adapterlab import judgement as rules
from adapterlab.assess.model.inputs import Input, measured, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.report.finding import Finding, against_prediction
from adapterlab.assess.report.prediction import Prediction
from adapterlab.assess.touch_current.model import RailModel
from adapterlab.assess.touch_current.readings import (
    SECTION,
    TouchReading,
    beside_another,
    repeatability,
)
from adapterlab.assess.touch_current.switching import rounded
from adapterlab.touch_current import scale_touch_current

QUESTION = "Does it grow with mains voltage times frequency, as through a capacitor?"
HIGHEST = "What would it be at the highest mains?"
_TOP = (264.0, 60.0)
# What lies as near as this to the highest product of voltage and frequency was read at the top.
_NEAR = 0.97


def highest_mains_of(specimen: Specimen) -> tuple[float, float]:
    """Top of the mains range with 10 % on its voltage. [V], [Hz]."""
    plate = specimen.adapter.nameplate
    voltage = plate.input_voltage_maximum
    return (1.1 * voltage if voltage else _TOP[0], plate.input_frequency_maximum or _TOP[1])


def is_at_the_top(reading: TouchReading, top: tuple[float, float]) -> bool:
    """Whether a reading was taken at the highest mains, or so near that it makes no difference."""
    return reading.mains_voltage * reading.mains_frequency > _NEAR * top[0] * top[1]


def scaled(
    specimen: Specimen, reading: TouchReading, mains: tuple[float, float], model: RailModel,
    read: Input,
) -> Prediction:  # fmt: skip
    """A reading carried over to another mains. [A]."""
    factor = scale_touch_current(
        1.0,
        reading.mains_voltage,
        reading.mains_frequency,
        *mains,
        model.rail,
        reading.network or "weighted",
        reading.quantity if reading.quantity != "dc" else "rms",
    )

    def there(current: Any, slope: Any) -> Any:
        return current * factor * (1 + slope)

    inputs = {"current": read, "slope": specimen.allowance("mains.slope")}
    return predict(there, inputs, "A")[0]


def at_the_top(
    specimen: Specimen, reading: TouchReading, top: tuple[float, float], model: RailModel
) -> Prediction:
    """A reading carried over to the highest mains, with the whole uncertainty of its meter. [A]."""
    read = measured(
        f"touch current, line {reading.line}",
        reading.current,
        f"a reading of {reading.current}",
        source=reading.origin,
        column="meter of touch current",
    )
    return scaled(specimen, reading, top, model, read)


def two_mains(readings: Sequence[TouchReading]) -> tuple[TouchReading, TouchReading] | None:
    """The first two weighted rms readings without load: they differ in their mains."""
    quiet = [r for r in readings if r.kind == ("weighted", "rms") and r.output_power == 0]
    return (quiet[0], quiet[1]) if len(quiet) > 1 and quiet[0].current.value > 0 else None


def scaling_findings(
    specimen: Specimen, readings: Sequence[TouchReading], model: RailModel
) -> list[Finding]:
    """A reading at one mains carried over to another mains where it was read as well."""
    pair = two_mains(readings)
    if pair is None:
        return []
    here, there = pair
    step = repeatability(specimen)
    mains = (there.mains_voltage, there.mains_frequency)
    return [
        against_prediction(
            beside_another(there, step),
            scaled(specimen, here, mains, model, rounded(here, step)),
            f"Touch current at {there.condition}",
            f"scaling the reading at {here.condition}",
            section=SECTION,
            question=QUESTION,
            origin=there.origin,
            figure="touch_current_readings",
            function="touch_current.scale_touch_current",
            note="A path that is no capacitor, such as a leaking insulation, would not follow the "
            "frequency.",
        )
    ]


def highest_findings(
    specimen: Specimen, readings: Sequence[TouchReading], reading: TouchReading,
    top: tuple[float, float], model: RailModel,
) -> list[Finding]:  # fmt: skip
    """A reading carried over to the highest mains, unless one was taken there."""
    if any(is_at_the_top(other, top) for other in readings):
        return []
    found = at_the_top(specimen, reading, top, model)
    return [
        Finding(
            section=SECTION,
            question=HIGHEST,
            judgement=rules.result(),
            sentence=f"Scaled with voltage times frequency to {top[0]:.0f} V, {top[1]:.0f} Hz, the "
            f"top of its mains range with 10 % on it, the touch current would be {found}.",
            prediction=found.value,
            rests_on=found.rests_on,
            origin=reading.origin,
            function="touch_current.scale_touch_current",
            figure="touch_current_limits",
            note="A calculation, not a reading.",
        )
    ]
