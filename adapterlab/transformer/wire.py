"""Winding wire: what the tables hold, what its insulation adds, how strands bundle.

`wire_named`, `enamelled_diameter`, `bundle_diameter`.
"""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, plain, positive
from adapterlab.published import rows
from adapterlab.transformer.core import near_names

SECTION = "transformer"


@dataclass(frozen=True)
class Wire:
    """One winding wire of the tables.

    Attributes
    ----------
    name : str
        As in the table.
    diameter : float
        Of the copper. [m]
    copper_area : float
        Cross-section of the copper. [m²]
    grade_1, grade_2 : float or None
        Largest diameter over the enamel of either grade; None for a gauge of the American table,
        which lists bare wire. [m]
    source, known : str
        Where the figures come from and how they are known.
    """

    name: str
    diameter: float
    copper_area: float
    grade_1: float | None
    grade_2: float | None
    source: str
    known: str


def wire_named(name: str) -> Wire:
    """A winding wire of the tables by its name.

    Parameters
    ----------
    name : str
        Copper diameter in millimetres such as ``0.25 mm``, or a gauge such as ``AWG 30``.

    Returns
    -------
    Wire
        Its dimensions in SI units.

    Raises
    ------
    ValueError
        If neither table holds that wire; the message lists near ones.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., appendix B.6,
    pp. 1049-1050 (gauges); IEC 60317-0-1 (enamelled wire, from memory).

    Examples
    --------
    >>> wire_named("0.25 mm").grade_2 * 1e3
    0.297
    """
    gauges = {row["name"]: row for row in rows(SECTION, "gauges")}
    metric = {row["name"]: row for row in rows(SECTION, "enamelled")}
    text = str(name).strip()
    number = re.fullmatch(r"(\d+(?:\.\d+)?)\s*mm", text)
    key = f"{float(number[1]):.3f} mm" if number else re.sub(r"^AWG\s*", "AWG ", text.upper())
    if key in gauges:
        row = gauges[key]
        area = row["area_cm2"] * 1e-4
        diameter = float(np.sqrt(4 * area / np.pi))
        return Wire(key, diameter, area, None, None, row["source"], row["known"])
    if key in metric:
        row = metric[key]
        diameter = row["diameter_mm"] * 1e-3
        return Wire(
            key,
            diameter,
            float(np.pi / 4 * diameter**2),
            row["grade_1_mm"] * 1e-3,
            row["grade_2_mm"] * 1e-3,
            row["source"],
            row["known"],
        )
    if number:
        near = sorted(metric, key=lambda size: abs(float(size.split()[0]) - float(number[1])))
        listed = ", ".join(near[:4])
        raise ValueError(
            f"wire must be in the table of published figures, got {name!r}; near names are {listed}"
        )
    raise ValueError(near_names("wire", key, [*metric, *gauges]))


def enamelled_diameter(wire_diameter: ArrayLike, grade: int = 2) -> Numbers:
    """Largest diameter of an enamelled wire over its enamel.

    Parameters
    ----------
    wire_diameter : float or array_like
        Of the copper. [m]  From 0.05 to 1 mm, the range of the table.
    grade : int, optional
        Thickness of the enamel: 1 or 2.

    Returns
    -------
    float or numpy.ndarray
        Diameter over the enamel, straight between the rows of the table. [m], broadcast shape

    Raises
    ------
    ValueError
        If the diameter lies outside the table or the grade is neither 1 nor 2.

    References
    ----------
    IEC 60317-0-1, maximum overall diameters (from memory).

    Examples
    --------
    >>> enamelled_diameter(0.25e-3, grade=1) * 1e3
    0.281
    """
    if grade not in (1, 2):
        raise ValueError(f"grade must be 1 or 2, got {grade!r}")
    bare = positive("wire_diameter", wire_diameter)
    table = rows(SECTION, "enamelled")
    sizes = np.array([row["diameter_mm"] for row in table]) * 1e-3
    over = np.array([row[f"grade_{grade}_mm"] for row in table]) * 1e-3
    if np.any((bare < sizes[0] * (1 - 1e-9)) | (bare > sizes[-1] * (1 + 1e-9))):
        raise ValueError(
            f"wire_diameter must lie between {sizes[0]:g} and {sizes[-1]:g} m, the range of the "
            f"table, got {wire_diameter!r}"
        )
    return plain(bare + np.interp(bare, sizes, over - sizes))


def bundle_diameter(strand_diameter: ArrayLike, strands: ArrayLike) -> Numbers:
    r"""Diameter of a twisted bundle of equal strands.

    Parameters
    ----------
    strand_diameter : float or array_like
        Of one strand, its enamel included. [m]  Must be > 0.
    strands : float or array_like
        How many. [1]  Must be at least 1.

    Returns
    -------
    float or numpy.ndarray
        Diameter. [m], broadcast shape

    Raises
    ------
    ValueError
        If the diameter is not above zero or there is no strand.

    Notes
    -----
    .. math:: D = 1.155\,\sqrt{n}\,d

    for several strands, d for one: round wires fill about three quarters of their bundle.

    References
    ----------
    Common practice.

    Examples
    --------
    >>> bundle_diameter(0.226e-3, 12) * 1e3
    0.904
    """
    count, single = positive("strands", strands), positive("strand_diameter", strand_diameter)
    if np.any(count < 1):
        raise ValueError(f"strands must be at least 1, got {strands!r}")
    factor = rows(SECTION, "builds", name="litz bundle")[0]["factor"]
    return plain(single * np.where(count > 1, factor * np.sqrt(count), 1.0))
