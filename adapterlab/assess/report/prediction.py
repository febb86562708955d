"""What the parts predict, and on which inputs that rests."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from adapterlab.assess.report.value import Value

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
    >>> naming([Share("w", "2.2 Ω assumed for the wiring", "assumed", 0.6)])
    ', with 2.2 Ω assumed for the wiring'
    """
    said = [item.said for item in rests_on if item.origin == "assumed" and item.share >= _TELLING]
    said = said[:_MOST]
    if not said:
        return ""
    *rest, last = said
    return f", with {', '.join(rest)}{' and ' if rest else ''}{last}"


@dataclass(frozen=True)
class Prediction:
    """A predicted figure with everything its judgement needs.

    Attributes
    ----------
    value : Value
        Mean, standard uncertainty and 95 % interval. [unit]
    interval : tuple of float
        95 % interval of the draws. [unit]
    reach : tuple of float
        Farthest ends with the marked tolerances at their ends and 95 % of the rest. [unit]
    rest_uncertainty : float
        Standard uncertainty of everything but the marked tolerances. [unit]
    rests_on : tuple of Share
        Uncertain inputs, the one of largest share first.
    remainder : float
        Share of the variance that no input carries alone. [1]
    samples : numpy.ndarray
        The draws. [unit], shape (draws,)
    """

    value: Value
    interval: tuple[float, float]
    reach: tuple[float, float]
    rest_uncertainty: float
    rests_on: tuple[Share, ...]
    remainder: float
    samples: NDArray[np.float64] = field(repr=False, compare=False)

    def __str__(self) -> str:
        """As its value."""
        return str(self.value)

    @property
    def assumed(self) -> tuple[Share, ...]:
        """The inputs that were assumed."""
        return tuple(share for share in self.rests_on if share.origin == "assumed")

    @property
    def assumed_share(self) -> float:
        """Part of the variance that assumed inputs carry. [1]."""
        return float(sum(share.share for share in self.assumed))
