"""What the parts predict, and on which inputs that rests."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.report.value import Value
from adapterlab.judgement import ENDS

Floats = NDArray[np.float64]

ORIGINS = {
    "noted": "written in the dossier",
    "marked": "marked on a part, with its tolerance",
    "measured": "from a reading of this dossier",
    "assumed": "from the table of allowances",
}


@dataclass(frozen=True)
class Share:
    """One input that a prediction rests on.

    Attributes
    ----------
    name : str
        Name of the input, such as ``CY1.value`` or ``bridge.drop``.
    said : str
        The input with its value, as said aloud.
    origin : str
        Key of `ORIGINS`.
    share : float
        First-order share of the prediction's variance. [1]
    """

    name: str
    said: str
    origin: str
    share: float

    def __post_init__(self) -> None:
        """Refuse an origin that is none."""
        if self.origin not in ORIGINS:
            raise ValueError(f"origin must be one of {', '.join(ORIGINS)}, got {self.origin!r}")


# An assumed input is named from this share of the variance on, and no more than so many are.
_TELLING, _MOST = 0.05, 3
# A relative spread that is none: what rounding leaves of a figure that no uncertain input moves.
_DUST = 1e-12
# From this share on a prediction rests on what was assumed more than on the adapter.
MOSTLY = 0.5


def naming(rests_on: Iterable[Share]) -> str:
    """What a sentence says of the assumed inputs that a figure rests on.

    Parameters
    ----------
    rests_on : iterable of Share
        The inputs, the one of largest share first.

    Returns
    -------
    str
        Such as ``, with 2.2 Ω assumed for the wiring``, to follow the figure: every assumed input
        that carries 5 % of the variance, at most three; empty if there is none.

    Examples
    --------
    >>> naming([Share("w", "2.2 Ω assumed for the wiring", "assumed", 0.6),
    ...         Share("d", "1.2 to 2 V assumed for the bridge", "assumed", 0.3)])
    ', with 2.2 Ω assumed for the wiring and 1.2 to 2 V for the bridge'
    """
    telling = (item for item in rests_on if item.origin == "assumed" and item.share >= _TELLING)
    said = list(dict.fromkeys(item.said for item in telling))
    if not said:
        return ""
    first, *more = said[:_MOST]
    more = [text.replace(" assumed", "", 1) for text in more]
    return ", with " + " and ".join([", ".join([first, *more[:-1]]), *more[-1:]])


@dataclass(frozen=True)
class Prediction:
    """A predicted figure with everything its judgement needs.

    What only a judgement needs is worked out when it is asked for.

    Attributes
    ----------
    value : Value
        Mean, standard uncertainty and 95 % interval. [unit]
    samples : numpy.ndarray
        The draws. [unit], shape (draws,)
    corners : callable
        Gives the first of the draws with the marked tolerances at their ends, one row for each
        corner. [unit], shape (corners, some of the draws)
    shares : callable
        Gives the uncertain inputs, the one of largest share first.
    again : callable or None
        Gives the prediction with draws of its own for all but the bench, under a name.
    """

    value: Value
    samples: Floats = field(repr=False, compare=False)
    corners: Callable[[], Floats] = field(repr=False, compare=False)
    shares: Callable[[], tuple[Share, ...]] = field(repr=False, compare=False)
    again: Callable[[str], "Prediction"] | None = field(default=None, repr=False, compare=False)

    @classmethod
    def of(
        cls,
        samples: Floats,
        unit: str,
        corners: Callable[[], Floats] | None = None,
        shares: Callable[[], tuple[Share, ...]] = tuple,
        again: Callable[[str], "Prediction"] | None = None,
    ) -> "Prediction":
        """Prediction from its draws, shape (draws,); without `corners` nothing is marked."""
        low, high = (float(end) for end in np.quantile(samples, ENDS))
        middle, spread = float(samples.mean()), float(samples.std(ddof=1))
        if spread <= _DUST * abs(middle):
            middle, spread, low, high = (float(samples[0]), 0.0, *[float(samples[0])] * 2)
        value = Value(middle, spread, unit, (low, high))
        return cls(value, samples, corners or (lambda: samples[None, :]), shares, again)

    def __str__(self) -> str:
        """As its value."""
        return str(self.value)

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the draws. [unit]."""
        assert self.value.interval is not None
        return self.value.interval

    @cached_property
    def _at_the_ends(self) -> Floats:
        return self.corners()

    @cached_property
    def reach(self) -> tuple[float, float]:
        """Farthest ends with the marked tolerances at their ends and 95 % of the rest. [unit]."""
        lows, highs = np.quantile(self._at_the_ends, ENDS, axis=1)
        low, high = self.interval
        return min(low, float(lows.min())), max(high, float(highs.max()))

    @cached_property
    def rest_uncertainty(self) -> float:
        """Standard uncertainty of everything but the marked tolerances. [unit]."""
        return float(self._at_the_ends.std(axis=1, ddof=1).max())

    @cached_property
    def rests_on(self) -> tuple[Share, ...]:
        """Uncertain inputs, the one of largest share first."""
        return self.shares()

    @property
    def remainder(self) -> float:
        """Share of the variance that no input carries alone. [1]."""
        if self.value.standard_uncertainty == 0:
            return 0.0
        return max(0.0, 1 - sum(share.share for share in self.rests_on))

    def of_another(self, adapter: str) -> "Prediction":
        """The same for an adapter of that name: its parts are others, the bench is the same."""
        return self if self.again is None else self.again(adapter)

    def over(self, other: "Prediction") -> "Prediction":
        """Ratio to another prediction, draw by draw, so that what both rest on cancels.

        Parameters
        ----------
        other : Prediction
            From as many draws, none of them zero.

        Returns
        -------
        Prediction
            The ratio. [1]

        Raises
        ------
        ValueError
            If the other has another number of draws, or one of zero.
        """
        if self.samples.shape != other.samples.shape:
            raise ValueError(f"other must have {self.samples.size} draws, got {other.samples.size}")
        if np.any(other.samples == 0):
            raise ValueError("other must not have a draw of zero, got one")

        def corners() -> Floats:
            first = min(self._at_the_ends.shape[1], other._at_the_ends.shape[1])
            ratios: Floats = (
                self._at_the_ends[:, None, :first] / other._at_the_ends[None, :, :first]
            )
            return ratios.reshape(-1, first)

        return Prediction.of(self.samples / other.samples, "", corners)
