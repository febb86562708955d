"""What an adapter takes in a year: energy, and what it costs by figures the user states."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import not_negative

YEAR = 365 * 24 * 3600.0


@dataclass(frozen=True)
class YearlyUse:
    """Energy of a year of use, and what follows from stated figures.

    Attributes
    ----------
    input_energy, output_energy, lost_energy : float
        Drawn from the mains, delivered, and turned into heat. [J]
    cost : float
        Input energy times its price. [currency of the price]
    carbon : float
        Input energy times its carbon intensity. [kg]
    """

    input_energy: float
    output_energy: float
    lost_energy: float
    cost: float
    carbon: float


def yearly_use(
    duration: ArrayLike,
    input_power: ArrayLike,
    output_power: ArrayLike,
    energy_price: float = 0.0,
    carbon_intensity: float = 0.0,
) -> YearlyUse:
    r"""Energy an adapter takes in a year of use at several loads.

    Parameters
    ----------
    duration : array_like
        Time of the year spent at each load. [s], shape (n,)  Must be >= 0, together at most a
        year of 366 days.
    input_power, output_power : array_like
        Power drawn and delivered at each of them. [W], shape (n,)  Must be >= 0.
    energy_price : float, optional
        Price of energy. [currency/J]  Must be >= 0; a price per kilowatt-hour over 3.6e6.
    carbon_intensity : float, optional
        Carbon dioxide set free for energy. [kg/J]  Must be >= 0.

    Returns
    -------
    YearlyUse
        Energies [J], cost and carbon [kg].

    Raises
    ------
    ValueError
        If shapes differ, a value is negative, more comes out than goes in, or the year is
        overfull.

    Notes
    -----
    .. math:: E = \sum_i t_i P_i

    No price and no intensity is built in: both differ from place to place and year to year.

    References
    ----------
    1 kWh = 3.6 MJ: the SI Brochure (9th edition, 2019), table 8 (1 h = 3600 s).

    Examples
    --------
    >>> use = yearly_use([8760 * 3600], [0.075], [0], energy_price=0.30 / 3.6e6)
    >>> print(f"{use.input_energy / 3.6e6:.3f} kWh, {use.cost:.2f}")
    0.657 kWh, 0.20
    """
    times, drawn, given = (
        np.atleast_1d(not_negative(name, value))
        for name, value in (
            ("duration", duration),
            ("input_power", input_power),
            ("output_power", output_power),
        )
    )
    if not times.shape == drawn.shape == given.shape or times.ndim != 1:
        raise ValueError(
            "duration, input_power and output_power must be rows of one length, got shapes "
            f"{times.shape}, {drawn.shape} and {given.shape}"
        )
    if np.any(given > drawn):
        raise ValueError("output_power must not be above input_power")
    if times.sum() > 366 * 24 * 3600.0 * (1 + 1e-9):
        raise ValueError(f"duration must sum to a year at most, got {times.sum() / YEAR:.3g} years")
    price = float(not_negative("energy_price", energy_price))
    intensity = float(not_negative("carbon_intensity", carbon_intensity))
    energy, useful = float(times @ drawn), float(times @ given)
    return YearlyUse(energy, useful, energy - useful, energy * price, energy * intensity)
