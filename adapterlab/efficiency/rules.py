"""What published efficiency rules ask of a power supply, and how they measure.

Limits: `minimum_average_efficiency`, `minimum_ten_percent_efficiency`, `maximum_no_load_power`.
Method: `rule_supply`, `nameplate_category`, `cable_loss`, `derating_factor`,
`permitted_power_uncertainty`. Figures: ``published/efficiency.toml``. The functions can be had
from `adapterlab.efficiency.ratio` as well.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, finite, not_negative, one_of, plain, positive
from adapterlab.published import Row, rows

RULES = ("eu-2019-1782", "eu-2025-2052", "us-vi")
CATEGORIES = ("basic", "low-voltage", "multiple-voltage")


def _published(table: str, what: str, rule: str, category: str, **match: object) -> list[Row]:
    """Rows of a limit, or an error that says that the rule has none."""
    one_of("rule", rule, RULES)
    one_of("category", category, CATEGORIES)
    found = rows("efficiency", table, rule=rule, category=category, **match)
    if not found:
        have = [name for name in RULES if rows("efficiency", table, rule=name)]
        raise ValueError(f"rule {rule!r} sets no {what}; of these rules only {', '.join(have)} do")
    return found


def _by_power(found: list[Row], rule: str, what: str, rated_power: ArrayLike) -> Numbers:
    """Limit of whichever row holds each rated power."""
    power = positive("rated_power", rated_power)
    limit = np.full(power.shape, np.nan)
    for row in found:
        inside = (power > row["above"]) & (power <= row.get("up_to", np.inf))
        value = (
            row.get("logarithmic", 0.0) * np.log(power)
            + row.get("proportional", 0.0) * power
            + row["constant"]
        )
        limit = np.where(inside, value, limit)
    if np.any(np.isnan(limit)):
        least, most = found[0]["above"], found[-1].get("up_to", np.inf)
        reach = f"above {least:g} W" + (f" and at most {most:g} W" if np.isfinite(most) else "")
        raise ValueError(
            f"rated_power must be {reach}, where {rule!r} sets a {what}, got {rated_power!r}"
        )
    return plain(limit)


def minimum_average_efficiency(rule: str, rated_power: ArrayLike, category: str) -> Numbers:
    r"""Least average active efficiency that a rule asks for.

    Parameters
    ----------
    rule : str
        ``eu-2019-1782``, ``eu-2025-2052`` or ``us-vi``.
    rated_power : float or array_like
        Output power on the nameplate, in the mode judged. [W]  Must be > 0.
    category : str
        ``basic``, ``low-voltage`` or ``multiple-voltage``.

    Returns
    -------
    float or numpy.ndarray
        Limit, not rounded. [1], shape of `rated_power`

    Raises
    ------
    ValueError
        If a word is not known or the rated power lies outside the rule's scope.

    Notes
    -----
    .. math:: \eta_\text{min} = a \ln(P/\text{W}) + b P + c

    with a row of a, b, c up to and including 1 W, one up to and including 49 W, one above. The
    rules say nothing about rounding the limit.

    References
    ----------
    Regulation (EU) 2019/1782, Annex II, 1(b); Regulation (EU) 2025/2052, Annex II, Table 4;
    10 CFR 430.32(w)(1)(ii). Rows and how each is known: ``published/efficiency.toml``.

    Examples
    --------
    >>> minimum_average_efficiency("eu-2019-1782", 27, "basic")
    0.8662
    """
    what = "least average efficiency"
    found = _published("average", what, rule, category)
    return _by_power(found, rule, what, rated_power)


def minimum_ten_percent_efficiency(
    rule: str, rated_power: ArrayLike, category: str, adaptive: bool = False
) -> Numbers:
    """Least efficiency at 10 % load that a rule asks for.

    Parameters
    ----------
    rule, rated_power, category : str, float or array_like, str
        As in `minimum_average_efficiency`. Only ``eu-2025-2052`` sets such a limit, above 10 W.
    adaptive : bool, optional
        Whether the output voltage follows the device's request.

    Returns
    -------
    float or numpy.ndarray
        Limit, not rounded. [1], shape of `rated_power`

    Raises
    ------
    ValueError
        If a word is not known, the rule sets no such limit, or it sets none at this power.

    References
    ----------
    Regulation (EU) 2025/2052, Annex II, Tables 2 and 3. Regulation (EU) 2019/1782, Annex II, 2(b)
    asks for this efficiency as information only.

    Examples
    --------
    >>> minimum_ten_percent_efficiency("eu-2025-2052", 65, "basic", adaptive=True)
    0.79
    """
    what = "least efficiency at 10 % load"
    found = _published("ten_percent", what, rule, category, adaptive=bool(adaptive))
    return _by_power(found, rule, what, rated_power)


def maximum_no_load_power(
    rule: str, rated_power: ArrayLike, category: str, adaptive_outputs: int = 0
) -> Numbers:
    """Largest power without load that a rule allows.

    Parameters
    ----------
    rule, rated_power, category : str, float or array_like, str
        As in `minimum_average_efficiency`.
    adaptive_outputs : int, optional
        Ports whose voltage follows the device, plus different fixed voltages on the others.
        [1]  Must be >= 0. Counts for ``multiple-voltage`` under ``eu-2025-2052`` only.

    Returns
    -------
    float or numpy.ndarray
        Limit. [W], shape of `rated_power`

    Raises
    ------
    ValueError
        If a word is not known, a number is out of range, or the rated power lies outside the
        rule's scope.

    References
    ----------
    Regulation (EU) 2019/1782, Annex II, 1(a); Regulation (EU) 2025/2052, Annex II, Table 1 with
    note 1; 10 CFR 430.32(w)(1)(ii).

    Examples
    --------
    >>> maximum_no_load_power("eu-2025-2052", 60, "multiple-voltage", adaptive_outputs=3)
    0.2
    """
    if adaptive_outputs != int(adaptive_outputs) or adaptive_outputs < 0:
        raise ValueError(f"adaptive_outputs must be a whole number >= 0, got {adaptive_outputs!r}")
    what = "largest power without load"
    found = _published("no_load", what, rule, category, adaptive=False)
    if adaptive_outputs:
        found = rows("efficiency", "no_load", rule=rule, category=category, adaptive=True) or found
    limit = np.asarray(_by_power(found, rule, what, rated_power))
    extra = found[0].get("each_further", 0.0) * max(int(adaptive_outputs) - 1, 0)
    return plain(np.minimum(limit + extra, found[0].get("ceiling", np.inf)))


@dataclass(frozen=True)
class Supply:
    """Mains on which a rule has its points taken.

    Attributes
    ----------
    voltage : float
        Nominal rms voltage. [V]
    frequency : float
        Nominal frequency. [Hz]
    tolerance : float
        How far either may be off, as a fraction of it. [1]
    """

    voltage: float
    frequency: float
    tolerance: float


def rule_supply(rule: str) -> Supply:
    """Mains on which a rule has its points taken.

    Parameters
    ----------
    rule : str
        As in `minimum_average_efficiency`.

    Returns
    -------
    Supply
        Voltage [V], frequency [Hz] and tolerance [1].

    Raises
    ------
    ValueError
        If the rule is not known.

    References
    ----------
    10 CFR 430 subpart B, appendix Z, 4(c); Regulation (EU) 2019/1782, Art. 2.

    Examples
    --------
    >>> rule_supply("us-vi").voltage
    115.0
    """
    row = rows("efficiency", "rules", rule=one_of("rule", rule, RULES))[0]
    return Supply(row["supply_voltage"], row["supply_frequency"], row["supply_tolerance"])


def nameplate_category(output_voltage: ArrayLike, output_current: ArrayLike) -> Numbers:
    """Category of an output with one voltage at a time.

    Parameters
    ----------
    output_voltage : float or array_like
        On the nameplate. [V]  Must be > 0.
    output_current : float or array_like
        On the nameplate. [A]  Must be > 0.

    Returns
    -------
    str or numpy.ndarray
        ``low-voltage`` or ``basic``, broadcast shape

    Raises
    ------
    ValueError
        If a number is not above zero.

    Notes
    -----
    A port that switches its voltage still has one at a time. An adapter that gives several
    voltages at the same time is ``multiple-voltage``, which no single output can tell.

    References
    ----------
    Regulation (EU) 2019/1782, Art. 2(2) and 2(3).

    Examples
    --------
    >>> nameplate_category(5, 3)
    'low-voltage'
    """
    row = rows("efficiency", "categories")[0]
    low = (positive("output_voltage", output_voltage) < row["below_voltage"]) & (
        positive("output_current", output_current) >= row["from_current"]
    )
    return plain(np.where(low, row["category"], "basic"))


def cable_loss(output_current: ArrayLike, rated_current: ArrayLike, connector: str) -> Numbers:
    """Power that EU 2025/2052 takes from the output for the cable to the load.

    Parameters
    ----------
    output_current : float or array_like
        Current drawn. [A]  Must be >= 0.
    rated_current : float or array_like
        Largest current of the port. [A]  Above 0, at most 5.
    connector : str
        ``USB-C``, measured at the receptacle, or ``other``, a lead of 1 m.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If a number is out of range or the connector is not known.

    Notes
    -----
    Current squared times resistance there and back: 0.130 ohm up to 3 A and 0.100 ohm above for
    USB-C; copper at 20 °C of 0.519 or 0.653 mm² for others.

    References
    ----------
    Regulation (EU) 2025/2052, Annex IV, 3(a) with Table 8, and 3(b).

    Examples
    --------
    >>> cable_loss(3, 3, "USB-C")
    1.17
    """
    one_of("connector", connector, ("USB-C", "other"))
    current, rated = np.broadcast_arrays(
        not_negative("output_current", output_current), positive("rated_current", rated_current)
    )
    resistance = np.full(rated.shape, np.nan)
    for row in rows("efficiency", "cables", connector=connector):
        ohms = row.get("resistance")
        if ohms is None:
            copper = rows("efficiency", "conductors")[0]["conductivity"]
            ohms = 2 * row["length"] / (copper * row["section"])
        resistance = np.where((rated > row["above"]) & (rated <= row["up_to"]), ohms, resistance)
    if np.any(np.isnan(resistance)):
        raise ValueError(f"rated_current must be at most 5 A, got {rated_current!r}")
    return plain(current**2 * resistance)


def derating_factor(total_power: float, port_power: ArrayLike) -> float:
    """Share of its nameplate current at which each port is loaded when all are loaded.

    Parameters
    ----------
    total_power : float
        Largest power of all ports together. [W]  Must be > 0.
    port_power : array_like
        Nameplate voltage times current of each port. [W], shape (n,)  Must be > 0.

    Returns
    -------
    float
        Factor, at most 1. [1]

    Raises
    ------
    ValueError
        If a power is not above zero.

    References
    ----------
    10 CFR 430 subpart B, appendix Z, 5(a)(1)(iv); Regulation (EU) 2025/2052, Annex IV, 3(c).

    Examples
    --------
    >>> derating_factor(65, [20 * 3.25, 5 * 2.4])
    0.844
    """
    total = positive("total_power", total_power)
    return min(1.0, float(total / positive("port_power", port_power).sum()))


def permitted_power_uncertainty(
    power: ArrayLike, current_ratio: ArrayLike | None = None, *, edition: int = 1
) -> Numbers:
    """Largest uncertainty (95 %) that the standby method allows a power reading.

    Parameters
    ----------
    power : float or array_like
        Reading. [W]  Must be > 0.
    current_ratio : float or array_like, optional
        Crest factor of the current over power factor. [1]  Must be >= 1. Edition 2 only.
    edition : int, optional
        1 (2005) or 2 (2011).

    Returns
    -------
    float or numpy.ndarray
        Half-width of the 95 % interval. [W], broadcast shape

    Raises
    ------
    ValueError
        If a number is out of range, or `current_ratio` is missing for edition 2.

    Notes
    -----
    Edition 1: 2 % from 0.5 W on, 0.01 W below. Edition 2, from memory: 2 % from 1 W on, 0.02 W
    below; above a ratio of 10 the 2 % grow by 0.16 points for each unit of the ratio, and below
    1 W the larger of the two counts.

    References
    ----------
    IEC 62301:2005; IEC 62301:2011, 4.4.1 (from memory but for the ratio and its threshold).

    Examples
    --------
    >>> permitted_power_uncertainty(0.075)
    0.01
    """
    reading = positive("power", power)
    found = rows("efficiency", "meters", edition=edition)
    if not found:
        raise ValueError(f"edition must be 1 or 2, got {edition!r}")
    row = found[0]
    relative = np.asarray(row["relative"])
    if "widening" not in row:
        return plain(np.where(reading >= row["from_power"], relative * reading, row["absolute"]))
    if current_ratio is None:
        raise ValueError("current_ratio is missing: edition 2 needs crest factor over power factor")
    beyond = np.maximum(finite("current_ratio", current_ratio) - row["from_current_ratio"], 0)
    relative = relative * (1 + row["widening"] * beyond)
    floor = np.where(beyond > 0, np.maximum(row["absolute"], relative * reading), row["absolute"])
    return plain(np.where(reading >= row["from_power"], relative * reading, floor))
