"""Where each watt goes: the sum of the losses that the parts predict, with its items."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from adapterlab.assess.flyback.case import Case
from adapterlab.assess.flyback.items import (
    ITEMS,
    Converter,
    Drawn,
    Path,
    at_rated_power,
    converter_of,
    path_of,
)
from adapterlab.assess.model.inputs import allowance, predict
from adapterlab.assess.model.specimen import Specimen
from adapterlab.assess.model.stages import Stage
from adapterlab.assess.model.winding_points import losses_of
from adapterlab.assess.report.prediction import Prediction
from adapterlab.flyback import load_sharing

_DRAWS = 512


@dataclass(frozen=True)
class LossBudget:
    """Predicted losses of a loaded port.

    Attributes
    ----------
    case : Case
        What is loaded.
    items : dict of str to Prediction
        Items of `ITEMS` at the largest power, largest first. [W]
    curve : tuple of Prediction
        Their sum at the powers of `Case.curve`. [W]
    sums : tuple of Prediction
        Their sum at the loads of `Case.loads`. [W]
    steps : tuple of Prediction
        Rise of the sum from each of those loads to the next. [W]
    allowed : tuple of str
        Items taken from an allowance alone.
    unknown : tuple of str
        What the sum leaves out, as the end of a sentence; a sum that leaves something out
        is no more than a part of the loss.
    """

    case: Case
    items: dict[str, Prediction]
    curve: tuple[Prediction, ...]
    sums: tuple[Prediction, ...]
    steps: tuple[Prediction, ...]
    allowed: tuple[str, ...]
    unknown: tuple[str, ...]

    @property
    def total(self) -> Prediction:
        """Sum at the largest power. [W]."""
        return self.curve[-1]

    @property
    def lightest_power(self) -> float:
        """Power below which pulses may be left out, which the sum does not follow. [W]."""
        first = min(self.case.stages, key=lambda stage: stage.joins_above)
        return float(allowance("controller.smallest_peak").ends[1] ** 2 * first.rated_power)

    @property
    def joining(self) -> tuple[int, float] | None:
        """Place of the step over which another converter joins, and the power where it does. [W].

        None if no load lies on either side of such a power.
        """
        powers = [load.power for load in self.case.loads]
        for joins in sorted(stage.joins_above for stage in self.case.stages):
            above = int(np.searchsorted(powers, joins, side="right"))
            if joins > 0 and 0 < above < len(powers):
                return above - 1, joins
        return None


def losses_at(
    path: Path, converters: Sequence[Converter], voltage: float, powers: Any, drawn: Drawn
) -> dict[str, Any]:
    """Losses by item at several powers of one output.

    Parameters
    ----------
    path : Path
        What the converters share.
    converters : sequence of Converter
        Those that feed the output.
    voltage : float
        Of the output. [V]
    powers : numpy.ndarray
        Of the output. [W], shape (n,)
    drawn : mapping
        Draws of every input, shape (draws,).

    Returns
    -------
    dict of str to numpy.ndarray
        Items of `ITEMS`. [W], shape (n, draws)

    Raises
    ------
    ValueError
        If a converter cannot work at some of the powers.
    """
    power = np.asarray(powers, dtype=float)[:, None]
    rated = [converter.stage.rated_power for converter in converters]
    shares = load_sharing(powers, rated, [item.stage.joins_above for item in converters])
    source = path.source(drawn)
    found: dict[str, Any] = dict.fromkeys(ITEMS, 0.0 * power * source)
    alternating: Any = 0.0
    for converter, part in zip(converters, shares, strict=True):
        works = (part > 0)[:, None]
        carried = power * np.where(part > 0, part, 1.0)[:, None]
        items, ripple, square = converter.losses(drawn, carried, voltage, source)
        items["output side"] = path.ripple_loss(drawn, ripple)
        for item, loss in items.items():
            found[item] = found[item] + works * loss
        alternating = alternating + works * square
    behind = power + sum(found.values())
    for item, loss in path.losses(drawn, behind, alternating, power / voltage).items():
        found[item] = found[item] + loss
    return found


def _unknown(case: Case, converters: Sequence[Converter]) -> tuple[str, ...]:
    clamps = [item.stage.name for item in converters if not item.is_clamp_known]
    lacking = [
        f"the loss of the clamp in the {name} converter (leakage_inductance, and clamp_voltage or "
        "the clamp's resistor)"
        for name in clamps
    ]
    return (*(f"{item}, which feeds {case.port} too" for item in case.lacking), *lacking)


def budget_of(specimen: Specimen, case: Case) -> LossBudget:
    """Losses by item of the port that was loaded to the most power.

    Parameters
    ----------
    specimen : Specimen
        The adapter.
    case : Case
        As `adapterlab.assess.flyback.case.case_of` finds it.

    Returns
    -------
    LossBudget
        The sum and what it leaves out.

    Raises
    ------
    ValueError
        If a converter cannot work at some of the loads.
    """
    esr = case.stages[0].output_esr
    path = path_of(specimen, case.mains_voltage, esr)

    def wound(stage: Stage) -> Any:
        return losses_of(specimen, at_rated_power(stage, case.voltage), case.mains_read)

    converters = [converter_of(specimen, stage, wound(stage)) for stage in case.stages]
    inputs = dict(path.inputs)
    for converter in converters:
        inputs |= converter.inputs
    loads = [load.power for load in case.loads]
    powers = np.array([*case.curve, *loads])
    last = len(case.curve) - 1

    def at(**drawn: Any) -> list[Any]:
        found = losses_at(path, converters, case.voltage, powers, drawn)
        total = sum(found.values())
        rises = np.diff(total[last + 1 :], axis=0)
        return [*(found[item][last] for item in ITEMS), *total, *rises]

    outputs = predict(at, inputs, "W", _DRAWS)
    at_full = dict(zip(ITEMS, outputs, strict=False))
    rest = outputs[len(ITEMS) :]
    allowed = []
    if any(converter.windings is None for converter in converters):
        allowed = ["transformer copper", "transformer core"]
    return LossBudget(
        case,
        dict(sorted(at_full.items(), key=lambda entry: -entry[1].value.value)),
        tuple(rest[: last + 1]),
        tuple(rest[last + 1 : len(powers)]),
        tuple(rest[len(powers) :]),
        tuple(allowed),
        _unknown(case, converters),
    )
