"""Published limits of touch current: looking them up, and the probability of keeping them."""

from dataclasses import dataclass

from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, not_negative, one_of
from adapterlab.published import Row, Standing, rows, standing_of, why_not
from adapterlab.touch_current.network import NETWORKS
from adapterlab.uncertainty import conformity_probability


@dataclass(frozen=True)
class TouchCurrentLimit:
    """One row of the table of limits.

    Attributes
    ----------
    standard, condition, short : str
        Whose limit it is and when it holds; `short` as said aloud.
    quantity : str
        ``rms``, ``peak`` or ``dc``.
    network : str
        Network it is read with.
    limit : float
        The figure. [A]
    guards : str
        What it guards against.
    source, known : str
        Document, and how the figure is known: a key of `adapterlab.published.KNOWN`.
    standing : Standing
        Whether the document is in force, and what it is written for.
    sine_only : bool
        Whether the figure holds for a sinusoidal current only.
    not_covered : str
        What the row is written for, where that is no such adapter; empty where it covers one.
    """

    standard: str
    condition: str
    short: str
    quantity: str
    network: str
    limit: float
    guards: str
    source: str
    known: str
    standing: Standing
    sine_only: bool = False
    not_covered: str = ""

    @property
    def name(self) -> str:
        """Standard and condition, as said aloud."""
        return f"{self.standard} ({self.short})"

    @property
    def judges(self) -> bool:
        """Whether a verdict may rest on it."""
        return not (why_not({"known": self.known}) or self.not_covered)


def touch_current_limits(standard: str | None = None) -> list[TouchCurrentLimit]:
    """Published limits of touch current.

    Parameters
    ----------
    standard : str, optional
        Only those of this standard, such as ``IEC 60950-1``; all if not given.

    Returns
    -------
    list of TouchCurrentLimit
        In the order of the table.

    Raises
    ------
    ValueError
        If the standard is not in the table.

    References
    ----------
    ``published/touch_current.toml``, each row with its document.

    Examples
    --------
    >>> for row in touch_current_limits("IEC 60065"):
    ...     print(f"{row.limit * 1e3:g} mA {row.quantity}, {row.network}")
    0.7 mA peak, weighted
    70 mA peak, unweighted
    2 mA dc, weighted
    """
    table = rows("touch_current", "limits")
    if standard is not None:
        one_of("standard", standard, dict.fromkeys(row["standard"] for row in table))
    return [_limit(row) for row in table if standard in (None, row["standard"])]


def _limit(row: Row) -> TouchCurrentLimit:
    standing = standing_of(row)
    if standing is None:
        raise ValueError(f"status must name a document, got none for {row['standard']}")
    fields = {key: value for key, value in row.items() if key != "status"}
    return TouchCurrentLimit(**({"not_covered": standing.products} | fields), standing=standing)


def limit_conformity(
    touch_current: ArrayLike,
    standard_uncertainty: ArrayLike,
    standard: str,
    quantity: str = "rms",
    network: str = "weighted",
) -> dict[str, Numbers]:
    """Probability that a touch current keeps each limit of a standard.

    Parameters
    ----------
    touch_current : float or array_like
        Reading. [A]  Must be >= 0.
    standard_uncertainty : float or array_like
        Its standard uncertainty. [A]  Must be >= 0.
    standard : str
        As in `touch_current_limits`.
    quantity : str, optional
        ``rms``, ``peak`` or ``dc``: what was read.
    network : str, optional
        Network it was read with.

    Returns
    -------
    dict of str to float or numpy.ndarray
        Short name of the condition -> probability. [1]

    Raises
    ------
    ValueError
        If the reading is negative, a word is not known, or the standard has no limit for such
        a reading.

    References
    ----------
    JCGM 106:2012, 7.2 to 7.4.

    Examples
    --------
    >>> limit_conformity(240e-6, 5e-6, "IEC 60950-1")["Class II not earthed"]
    0.977
    """
    reading = not_negative("touch_current", touch_current)
    one_of("quantity", quantity, ("rms", "peak", "dc"))
    one_of("network", network, NETWORKS)
    alike = [
        row
        for row in touch_current_limits(standard)
        if row.quantity == quantity and row.network == network
    ]
    if not alike:
        raise ValueError(f"{standard} holds no limit for a {network} {quantity} reading")
    return {
        row.short: conformity_probability(reading, standard_uncertainty, upper=row.limit)
        for row in alike
    }
