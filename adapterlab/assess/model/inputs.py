"""Named inputs of predictions: each once, with its distribution and where it is from.

`Input` is one of them; `drawn` draws it, the same wherever it is used; `predict` sends several
through a function and says what came out and which of them carries the doubt.
"""

import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache, partial
from itertools import product
from typing import Any

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray
from scipy import stats

from adapterlab.assess.report.prediction import ORIGINS, Prediction, Share
from adapterlab.assess.report.value import Value, span
from adapterlab.published import rows

Floats = NDArray[np.float64]
DRAWS = 2048
_CORNER_DRAWS = 512
# Degree of the curve that tells how much of a result goes with one input.
_DEGREE = 6
# Up to so many marked inputs every corner is tried; beyond, the corner that each one's effect
# alone points to.
_ALL_CORNERS = 3


@dataclass(frozen=True)
class Input:
    """Something that a prediction rests on.

    Attributes
    ----------
    name : str
        Such as ``CY1.value`` or ``bridge.drop``; alike in every section.
    distribution : float or scipy.stats distribution
        A number where it is taken as exact.
    unit : str
        As in `Value`.
    origin : str
        Key of `adapterlab.assess.report.prediction.ORIGINS`.
    said : str
        The input with its value, as said aloud after *with*: ``2.2 Ω assumed for wiring``.
    source : str
        Where in the dossier, or which row of the allowances.
    column : str
        Inputs with the same column share one draw, as parts of one reel do; the name if empty.
    bench : bool
        Whether it belongs to the bench, so that two adapters share it.
    """

    name: str
    distribution: Any
    unit: str
    origin: str
    said: str
    source: str = ""
    column: str = ""
    bench: bool = False

    def __post_init__(self) -> None:
        """Refuse an origin that is none."""
        if self.origin not in ORIGINS:
            raise ValueError(f"origin must be one of {', '.join(ORIGINS)}, got {self.origin!r}")

    @property
    def shared(self) -> str:
        """Name of the draw that it shares with others of its reel, or has alone."""
        return self.column or self.name

    @property
    def is_uncertain(self) -> bool:
        """Whether it has a spread."""
        return hasattr(self.distribution, "ppf")

    @property
    def middle(self) -> float:
        """Mean. [unit]."""
        return float(self.distribution.mean() if self.is_uncertain else self.distribution)

    @property
    def deviation(self) -> float:
        """Standard deviation; 0 where it is exact. [unit]."""
        return float(self.distribution.std()) if self.is_uncertain else 0.0

    @property
    def ends(self) -> tuple[float, float]:
        """Ends of its support; of the value itself where it is exact. [unit]."""
        if not self.is_uncertain:
            return (self.middle, self.middle)
        low, high = self.distribution.support()
        return float(low), float(high)

    def at(self, probability: Floats) -> Any:
        """Values at given probabilities; the number itself where it is exact. [unit]."""
        return self.distribution.ppf(probability) if self.is_uncertain else self.distribution

    def standard(self, value: Any) -> Any:
        """A value on a scale on which every input has the same reach. [1]."""
        if np.isfinite(self.ends).all():
            return 2 * self.distribution.cdf(value) - 1
        return (value - self.middle) / self.deviation


@cache
def between(low: float, high: float) -> Any:
    """Every value between two ends equally likely; the number itself where they are alike."""
    return stats.uniform(low, high - low) if high > low else float(low)


@cache
def allowance(name: str, called: str = "") -> Input:
    """An input that the dossier leaves open, from the table of allowances.

    Parameters
    ----------
    name : str
        Name of its row, such as ``bridge.drop``.
    called : str, optional
        Name of the input where it is not the same for the whole adapter, such as
        ``EC1.contact``; as the row if not given.

    Returns
    -------
    Input
        Assumed, between the row's ends: every value equally likely, or every order of magnitude
        where the row says ``spread = "orders of magnitude"``.

    Raises
    ------
    ValueError
        If the table has no such row.
    """
    found = rows("allowances", "allowances", name=name)
    if not found:
        raise ValueError(f"name must be a row of published/allowances.toml, got {name!r}")
    row = found[0]
    low, high = float(row["low"]), float(row["high"])
    wide = row.get("spread") == "orders of magnitude"
    distribution = stats.loguniform(low, high) if wide else between(low, high)
    ends = f"±{span(high, high, row['unit'])}" if low == -high < 0 else span(low, high, row["unit"])
    said = row.get("phrase") or f"{ends} assumed for {row['said']}"
    bench = bool(row.get("bench", False))
    return Input(
        called or name, distribution, row["unit"], "assumed", said, row["source"], bench=bench
    )


def marked(name: str, value: float, tolerance: float, unit: str, said: str, **rest: Any) -> Input:
    """An input marked on a part: every value within its tolerance equally likely."""
    ends = between(value * (1 - tolerance), value * (1 + tolerance))
    return Input(name, ends, unit, "marked", said, **rest)


def noted(name: str, value: float, unit: str, accuracy: str, said: str, **rest: Any) -> Input:
    """A value noted in the dossier, within the relative limits that an allowance gives it.

    `accuracy` names the row of the allowances, `said` what the value is. Its spread is assumed,
    so the input counts as assumed.
    """
    row = allowance(accuracy)
    half = row.ends[1]
    shown = f"±{Value(half, 0.0, '%')} assumed for the {said} ({Value(value, 0.0, unit)})"
    ends = between(value * (1 - half), value * (1 + half))
    return Input(name, ends, unit, "assumed", shown, row.source, **rest)


def measured(name: str, reading: Value, said: str, **rest: Any) -> Input:
    """An input that this dossier holds a reading of."""
    spread = reading.standard_uncertainty
    distribution = stats.norm(reading.value, spread) if spread > 0 else reading.value
    return Input(name, distribution, reading.unit, "measured", said, **rest)


@lru_cache(maxsize=2048)
def _column(name: str, draws: int) -> Floats:
    """Probabilities that belong to a name: evenly spread, and so are the first `_first` of them."""
    generator = np.random.default_rng(zlib.crc32(name.encode("utf-8")))
    size = _first(draws)
    slices = draws // size
    # Each slice visits every one of `size` strata; in each stratum the slices share its parts.
    stratum = generator.permuted(np.tile(np.arange(size), (slices, 1)), axis=1)
    part = generator.permuted(np.tile(np.arange(slices), (size, 1)), axis=1)
    place = stratum * slices + part[stratum, np.arange(slices)[:, None]]
    found: Floats = (place.ravel() + generator.random(draws)) / draws
    found.setflags(write=False)
    return found


def _first(draws: int) -> int:
    """How many of the draws are used at the corners of the tolerances."""
    return _CORNER_DRAWS if draws % _CORNER_DRAWS == 0 else draws


def drawn(inputs: Mapping[str, Input], draws: int = DRAWS) -> dict[str, Any]:
    """Draws of inputs, each the same wherever it is used.

    Parameters
    ----------
    inputs : mapping of str to Input
        Parameter -> input.
    draws : int, optional
        How many.

    Returns
    -------
    dict of str to numpy.ndarray or float
        Parameter -> its draws, shape (draws,); a number for what is exact.

    Notes
    -----
    Each input is a column of a Latin hypercube, seeded by the name of its column. So the value
    of a capacitor in draw 17 is the same in every section, and sums and differences of their
    results hold together. Each 512 draws of more are a Latin hypercube of their own.

    References
    ----------
    McKay, Beckman, Conover: A comparison of three methods for selecting values of input
    variables, Technometrics 21 (1979), 239-245. Qian: Sliced Latin hypercube designs, Journal of
    the American Statistical Association 107 (2012), 393-399.
    """
    return {key: item.at(_column(item.shared, draws)) for key, item in inputs.items()}


def _rows(result: Any, draws: int) -> Floats:
    parts = list(result.values()) if isinstance(result, Mapping) else result
    parts = list(parts) if isinstance(parts, tuple | list) else [parts]
    found = np.array([np.broadcast_to(np.asarray(part, dtype=float), (draws,)) for part in parts])
    if not np.isfinite(found).all():
        raise ValueError("the prediction is not finite for some of the parts drawn")
    return found


def _first_order(row: Floats, places: Floats) -> float:
    """Share of a row's variance that a smooth curve over one input carries, without its bias."""
    total, degree = row.var(), min(_DEGREE, row.size // 8)
    if total == 0 or degree < 1:
        return 0.0
    curve = legendre.legvander(2 * places - 1, degree)
    left = row - curve @ np.linalg.lstsq(curve, row, rcond=None)[0]
    free = (row.size - 1) / (row.size - 1 - degree)
    return float(np.clip(1 - free * left.var() / total, 0.0, 1.0))


def _patterns(
    function: Callable[..., Any], inputs: Mapping[str, Input], columns: Sequence[str], outputs: int
) -> list[tuple[bool, ...]]:
    """Which corners of the marked tolerances to try: False is the lower end of a column."""
    if len(columns) <= _ALL_CORNERS:
        return list(product((False, True), repeat=len(columns)))
    size = 2 * len(columns)
    middle = {key: np.full(size, float(item.at(np.array(0.5)))) for key, item in inputs.items()}
    for place, column in enumerate(columns):
        for key, item in inputs.items():
            if _is_marked(item) and item.shared == column:
                middle[key][2 * place : 2 * place + 2] = item.ends
    moved = _rows(function(**middle), size)
    found: list[tuple[bool, ...]] = []
    for row in moved[:outputs]:
        rises = tuple(bool(row[2 * k + 1] >= row[2 * k]) for k in range(len(columns)))
        found += [tuple(not up for up in rises), rises]
    return list(dict.fromkeys(found))


def _is_marked(item: Input) -> bool:
    return item.origin == "marked" and item.is_uncertain


def _surface(
    inputs: Mapping[str, Input], values: Mapping[str, Any], sample: Floats
) -> Callable[..., Any]:
    """A surface of third order through the draws, with the marked inputs bending all others."""
    first = {item.shared: key for key, item in inputs.items() if item.is_uncertain}
    marked = [place for place, key in enumerate(first.values()) if _is_marked(inputs[key])]

    def terms(given: Mapping[str, Any]) -> Floats:
        size = np.broadcast_shapes(*(np.shape(given[key]) for key in first.values()))
        found = np.array(
            [np.broadcast_to(inputs[key].standard(given[key]), size) for key in first.values()]
        )
        pairs = [
            found[one] * found[other]
            for one in marked
            for other in range(len(found))
            if other not in marked or other > one
        ]
        return np.array([np.ones(size), *found, *found**2, *found**3, *pairs]).T

    weights = np.linalg.lstsq(terms(values), sample.T, rcond=None)[0]
    return lambda **given: list((terms(given) @ weights).T)


def _corners(function: Callable[..., Any], inputs: Mapping[str, Input], sample: Floats) -> Floats:
    """Draws of each output with the marked tolerances at their ends: (outputs, corners, draws)."""
    columns = list(dict.fromkeys(item.shared for item in inputs.values() if _is_marked(item)))
    if not columns:
        return sample[:, None, :]
    draws = sample.shape[1]
    size = _first(draws)
    patterns = np.array(_patterns(function, inputs, columns, len(sample)))
    rest = drawn(inputs, draws)
    given: dict[str, Any] = {}
    for key, item in inputs.items():
        if _is_marked(item):
            upper = patterns[:, columns.index(item.shared)]
            given[key] = np.repeat(np.where(upper, item.ends[1], item.ends[0]), size)
        elif item.is_uncertain:
            given[key] = np.tile(rest[key][:size], len(patterns))
        else:
            given[key] = rest[key]
    found = _rows(function(**given), size * len(patterns))
    return found.reshape(len(sample), len(patterns), size)


def predict(
    function: Callable[..., Any],
    inputs: Mapping[str, Input],
    units: str | Sequence[str],
    draws: int = DRAWS,
    smooth: bool = False,
) -> list[Prediction]:
    """What a function of named inputs predicts.

    Parameters
    ----------
    function : callable
        Takes the inputs by keyword, each as an array of shape (draws,) or a number, and returns
        one array, or several as tuple, list or mapping.
    inputs : mapping of str to Input
        Parameter -> input.
    units : str or sequence of str
        Unit of each result, as in `Value`.
    draws : int, optional
        How many.
    smooth : bool, optional
        Whether the ends of the marked tolerances are tried on a smooth surface through the draws
        instead: for a function that is slow and bends gently.

    Returns
    -------
    list of Prediction
        One for each result.

    Raises
    ------
    ValueError
        If a result is not finite for some of the parts drawn, the units are not as many as the
        results, there are fewer than two draws, or the function raises.

    Notes
    -----
    Shares are first-order effects from the draws themselves, the variance of a polynomial over
    one input; what no input carries alone is the remainder.

    References
    ----------
    JCGM 101:2008 (propagation by draws). Sudret: Global sensitivity analysis using polynomial
    chaos expansions, Reliability Engineering and System Safety 93 (2008), 964-979.
    """
    if draws < 2:
        raise ValueError(f"draws must be at least 2, got {draws!r}")
    values = drawn(inputs, draws)
    sample = _rows(function(**values), draws)
    names = [units] * len(sample) if isinstance(units, str) else list(units)
    if len(names) != len(sample):
        raise ValueError(f"units must name {len(sample)} results, got {units!r}")

    @cache
    def corners() -> Floats:
        tried = _surface(inputs, values, sample) if smooth else function
        return _corners(tried, inputs, sample)

    def again(adapter: str) -> list[Prediction]:
        own = {
            key: item if item.bench else replace(item, column=f"{adapter}: {item.shared}")
            for key, item in inputs.items()
        }
        return predict(function, own, units, draws, smooth)

    return [
        Prediction.of(
            row,
            unit,
            partial(lambda at: corners()[at], place),
            partial(shares_of, row, inputs),
            partial(lambda at, adapter: again(adapter)[at], place),
        )
        for place, (row, unit) in enumerate(zip(sample, names, strict=True))
    ]


def shares_of(row: Floats, inputs: Mapping[str, Input]) -> tuple[Share, ...]:
    """Every uncertain input with what it carries of a result's draws; one reel carries as one.

    Parameters
    ----------
    row : numpy.ndarray
        Draws of the result, as `drawn` drew its inputs. [any unit], shape (draws,)
    inputs : mapping of str to Input
        Parameter -> input.

    Returns
    -------
    tuple of Share
        The one of largest share first.
    """
    found: dict[str, Share] = {}
    for item in inputs.values():
        if not item.is_uncertain or item.shared in found:
            continue
        share = _first_order(row, _column(item.shared, row.size))
        found[item.shared] = Share(item.name, item.said, item.origin, share)
    return tuple(sorted(found.values(), key=lambda item: -item.share))
