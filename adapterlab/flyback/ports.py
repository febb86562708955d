"""Which converter feeds which port: `port_allocation`."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import linprog

from adapterlab.numerics.arguments import Bools, Floats, positive


@dataclass(frozen=True)
class PortAllocation:
    """How a set of loaded ports can be served.

    Attributes
    ----------
    possible : bool
        Whether every port gets what it asks for.
    power : numpy.ndarray
        Power from each converter into each port. [W], shape (converters, ports)
    short : numpy.ndarray
        What each port lacks. [W], shape (ports,)
    """

    possible: bool
    power: Floats
    short: Floats


def _best(ratings: Floats, demand: Floats, allowed: Bools, total: float) -> Floats:
    """Powers that serve most, for one choice of who may feed whom. shape (converters, ports)."""
    converters, ports = allowed.shape
    rows = np.kron(np.eye(converters), np.ones(ports))
    columns = np.kron(np.ones(converters), np.eye(ports))
    found = linprog(
        -np.ones(converters * ports),
        A_ub=np.vstack([rows, columns, np.ones(converters * ports)]),
        b_ub=np.concatenate([ratings, demand, [total]]),
        bounds=[(0, None if cell else 0) for cell in allowed.ravel()],
        method="highs",
    )
    return np.asarray(found.x).reshape(converters, ports)


def port_allocation(
    rated_power: ArrayLike,
    port_voltage: ArrayLike,
    port_current: ArrayLike,
    feeds: Sequence[Sequence[bool]],
    total_power: float | None = None,
    tolerance: float = 0.01,
) -> PortAllocation:
    """Powers with which converters serve loaded ports, as far as their ratings go.

    Parameters
    ----------
    rated_power : array_like
        Of each converter. [W], shape (converters,)  Must be > 0.
    port_voltage, port_current : array_like
        What each loaded port is asked for. [V], [A], shape (ports,)  Must be > 0.
    feeds : sequence of sequence of bool
        Whether a converter can be switched onto a port. shape (converters, ports)
    total_power : float or None, optional
        Most that all converters together may give, as the stages in front of them allow. [W]
    tolerance : float, optional
        Share of a port's power that rounding on the label may cost. [1]

    Returns
    -------
    PortAllocation
        The best there is; where not everything can be served, what is short.

    Raises
    ------
    ValueError
        If an input lies outside what is allowed or the shapes do not fit.

    Notes
    -----
    A converter makes one voltage at a time: it feeds only ports of the same voltage. Every
    choice of voltages is tried, and for each the largest power is found by linear programming.

    References
    ----------
    Power balance; one output voltage for each converter: common practice where a port has no
    converter of its own.

    Examples
    --------
    Converters of 40 W and 20 W; the second can help the first port or feed the second:

    >>> found = port_allocation([40, 20], [20, 9], [2.0, 2.22], [[True, False], [True, True]])
    >>> print(found.possible, found.power.round(1).tolist())
    True [[40.0, 0.0], [0.0, 20.0]]
    >>> port_allocation([40, 20], [20, 9], [3.0, 2.22], [[True, False], [True, True]]).possible
    False
    """
    ratings = np.atleast_1d(positive("rated_power", rated_power))
    volts = np.atleast_1d(positive("port_voltage", port_voltage))
    demand = volts * np.atleast_1d(positive("port_current", port_current))
    can = np.asarray(feeds, dtype=bool)
    if can.shape != (len(ratings), len(demand)):
        raise ValueError(
            f"feeds must hold a row for each of {len(ratings)} converters and a column for each "
            f"of {len(demand)} ports, got shape {can.shape}"
        )
    if not 0 <= tolerance < 1:
        raise ValueError(f"tolerance must be at least 0 and below 1, got {tolerance!r}")
    cap = ratings.sum() if total_power is None else float(positive("total_power", total_power))
    choices = [sorted(set(volts[row])) or [0.0] for row in can]
    best = np.zeros(can.shape)
    for chosen in product(*choices):
        power = _best(
            ratings, demand, can & (volts == np.array(chosen)[:, None]), cap * (1 + tolerance)
        )
        if power.sum() > best.sum() + 1e-9:
            best = power
    short = np.maximum(demand - best.sum(axis=0), 0)
    possible = bool(np.all(short <= tolerance * demand + 1e-9))
    return PortAllocation(possible, best, short)
