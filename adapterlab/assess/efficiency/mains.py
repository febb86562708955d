"""Whether the mains voltage matters for the efficiency."""

from collections.abc import Sequence
from dataclasses import dataclass

from adapterlab.assess.model.loadings import Loading, nearest
from adapterlab.assess.model.meters import points_apart, spread
from adapterlab.assess.model.points import Point
from adapterlab.assess.report.finding import Finding
from adapterlab.assess.report.value import Value

SECTION = "efficiency"
# A mains counts as lower where its voltage is below this share of the other one's.
_LOWER = 0.9
_FULL = 0.02


@dataclass(frozen=True)
class Pair:
    """The same loading at full load on two mains."""

    high: Loading
    low: Loading
    high_point: Point
    low_point: Point

    @property
    def power(self) -> float:
        """Output power that both reach. [W]."""
        return min(self.high_point.output_power, self.low_point.output_power)

    @property
    def ratio(self) -> float:
        """Higher over lower mains voltage. [1]."""
        return self.high_point.mains_voltage / self.low_point.mains_voltage


def pair_of(loadings: Sequence[Loading]) -> Pair | None:
    """The loading of most power that was read at full load on two mains, the two furthest apart."""
    full = [
        (loading, top)
        for loading in loadings
        if (top := nearest(loading.points, loading.reference, 1.0, _FULL)) is not None
    ]
    pairs = [
        Pair(high, low, first, second)
        for high, first in full
        for low, second in full
        if high.key == low.key and second.mains_voltage < _LOWER * first.mains_voltage
    ]
    if not pairs:
        return None
    key = max(pairs, key=lambda pair: pair.power).high.key
    alike = [pair for pair in pairs if pair.high.key == key]
    return max(alike, key=lambda pair: pair.ratio)


def mains_findings(loadings: Sequence[Loading]) -> list[Finding]:
    """Full-load efficiency of the most powerful loading on its lower against its higher mains."""
    pair = pair_of(loadings)
    if pair is None:
        return []
    apart = pair.low_point.efficiency() - pair.high_point.efficiency()
    way = "lower" if apart.value < 0 else "higher"
    where = f"on {pair.low.mains} than on {pair.high.mains}"
    gap = Value(abs(apart.value), apart.standard_uncertainty, "%")
    if apart.judgement.called:
        sentence = f"At full load of {pair.high.name} efficiency is {way} by {points_apart(gap)} "
        sentence += f"{where}."
        if apart.value < 0:
            sentence += " The same power at a lower voltage takes more current through the mains "
            sentence += "side."
    else:
        sentence = (
            f"At full load of {pair.high.name} efficiency reads "
            f"{points_apart(f'{100 * gap.value:.2g} %')} {way} {where}; these meters can't be sure "
            "of less than "
            f"{spread(apart.standard_uncertainty, '%')}."
        )
    return [
        Finding(
            SECTION,
            "Does the mains voltage matter?",
            apart.judgement,
            sentence,
            "efficiency.efficiency",
            apart.shown("%"),
            origin=f"load_sweep.csv points {pair.high_point.name} and {pair.low_point.name}",
            figure="efficiency_averages",
            note=apart.doubt("%"),
        )
    ]
