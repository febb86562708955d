"""The gap of a transformer's core: its length, the flux beside it, the inductance it leaves.

`gap_length` from the energy it must hold; `fringing_factor`; `gapped_inductance` of a winding
on a core with a gap, and its inverse `gap_for_inductance`.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy.constants import mu_0

from adapterlab.numerics.arguments import Floats, Numbers, not_negative, plain, positive

_NEWTON_STEPS = 60


def gap_length(
    magnetising_inductance: ArrayLike, peak_current: ArrayLike, peak_flux_density: ArrayLike,
    core_area: ArrayLike,
) -> Numbers:  # fmt: skip
    r"""Gap that holds the energy of the current at a flux density, without fringing.

    Parameters
    ----------
    magnetising_inductance : float or array_like
        Inductance. [H]  Must be > 0.
    peak_current : float or array_like
        Peak of the current. [A]  Must be > 0.
    peak_flux_density : float or array_like
        Flux density at that current. [T]  Must be > 0.
    core_area : float or array_like
        Cross-section of the core. [m²]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Length of the gap. [m], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    All the energy stands in the gap: :math:`\tfrac12 L \hat I^2 = \hat B^2 l A / (2\mu_0)`,

    .. math:: l = \frac{\mu_0 L \hat I^2}{\hat B^2 A}

    The reluctance of the core and the flux beside the gap are left out; `gap_for_inductance`
    counts both.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., eq. 11.69-11.90,
    pp. 476-481. Derived in ``notebooks/09_transformer.ipynb``.

    Examples
    --------
    >>> gap_length(1.07e-3, 1.5, 0.25, 1.09e-4) * 1e3
    0.44
    """
    energy = (
        positive("magnetising_inductance", magnetising_inductance)
        * positive("peak_current", peak_current) ** 2
    )
    density = positive("peak_flux_density", peak_flux_density)
    return plain(mu_0 * energy / (density**2 * positive("core_area", core_area)))


def _inside(gap: Floats, winding_width: Floats) -> None:
    if np.any(gap >= winding_width):
        raise ValueError(
            f"gap must be shorter than the winding_width, got {plain(gap)!r} and "
            f"{plain(winding_width)!r}"
        )


def fringing_factor(gap: ArrayLike, core_area: ArrayLike, winding_width: ArrayLike) -> Numbers:
    r"""How much more flux crosses a gap than the area of the core alone would let through.

    Parameters
    ----------
    gap : float or array_like
        Length of the gap. [m]  Above 0, below `winding_width`.
    core_area : float or array_like
        Cross-section of the core at the gap. [m²]  Must be > 0.
    winding_width : float or array_like
        Width of the window along the core leg that holds the gap. [m]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Factor, at least 1. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero, or the gap is as long as the window or longer.

    Notes
    -----
    .. math:: F = 1 + \frac{l}{\sqrt{A}} \ln\frac{2G}{l}

    An empirical form for one gap with a winding about it. Rules in use spread by some 40 % of
    what exceeds 1.

    References
    ----------
    C. W. T. McLyman, Transformer and Inductor Design Handbook (the form as two later texts
    repeat it).

    Examples
    --------
    >>> fringing_factor(0.4154e-3, 0.2744e-4, 37.6e-3)
    1.41
    """
    length = positive("gap", gap)
    area, width = positive("core_area", core_area), positive("winding_width", winding_width)
    _inside(length, width)
    return plain(1 + length / np.sqrt(area) * np.log(2 * width / length))


def gapped_inductance(
    turns: ArrayLike,
    gap: ArrayLike,
    core_area: ArrayLike,
    winding_width: ArrayLike | None = None,
    path_length: ArrayLike = 0,
    permeability: ArrayLike = 2200,
) -> Numbers:
    r"""Inductance of a winding on a core with one gap.

    Parameters
    ----------
    turns : float or array_like
        Turns. [1]  Must be > 0.
    gap : float or array_like
        Length of the gap, or the sum of several. [m]  Must be > 0.
    core_area : float or array_like
        Cross-section of the core. [m²]  Must be > 0.
    winding_width : float, array_like or None, optional
        Width of the window along the gapped leg. [m]  None leaves fringing out.
    path_length : float or array_like, optional
        Length of the flux path in the core. [m]  0 leaves the core's reluctance out.
    permeability : float or array_like, optional
        Relative permeability of the core. [1]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Inductance. [H], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed, or the gap is as long as the window.

    Notes
    -----
    .. math:: L = \frac{\mu_0 N^2 A}{l/F + l_e/\mu_r}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 10.1.2
    (magnetic circuit with an air gap; section from memory), F as in `fringing_factor`.

    Examples
    --------
    >>> gapped_inductance(36, 0.35e-3, 64e-6) * 1e6
    297.8
    >>> gapped_inductance(36, 0.35e-3, 64e-6, 8.6e-3, 38e-3) * 1e6
    329.5
    """
    length, area = positive("gap", gap), positive("core_area", core_area)
    factor = np.ones(()) if winding_width is None else fringing_factor(length, area, winding_width)
    core = not_negative("path_length", path_length) / positive("permeability", permeability)
    return plain(mu_0 * positive("turns", turns) ** 2 * area / (length / factor + core))


def gap_for_inductance(
    turns: ArrayLike,
    magnetising_inductance: ArrayLike,
    core_area: ArrayLike,
    winding_width: ArrayLike | None = None,
    path_length: ArrayLike = 0,
    permeability: ArrayLike = 2200,
) -> Numbers:
    r"""Gap that gives a winding its inductance: the inverse of `gapped_inductance`.

    Parameters
    ----------
    turns : float or array_like
        Turns. [1]  Must be > 0.
    magnetising_inductance : float or array_like
        Inductance wanted. [H]  Must be > 0.
    core_area : float or array_like
        Cross-section of the core. [m²]  Must be > 0.
    winding_width, path_length, permeability : float or array_like, optional
        As in `gapped_inductance`.

    Returns
    -------
    float or numpy.ndarray
        Length of the gap. [m], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed, the core without a gap has less inductance
        than wanted, or the gap would have to be longer than the window is wide.

    Notes
    -----
    Newton's method on :math:`F/l = 1/t`, :math:`t = \mu_0 N^2 A/L - l_e/\mu_r`, whose left side
    is convex and falls: from l = t it climbs to the root without overshoot.

    References
    ----------
    As `gapped_inductance`.

    Examples
    --------
    >>> gap_for_inductance(36, 302e-6, 64e-6, 8.6e-3, 38e-3) * 1e3
    0.39
    """
    area = positive("core_area", core_area)
    inductance = positive("magnetising_inductance", magnetising_inductance)
    core = not_negative("path_length", path_length) / positive("permeability", permeability)
    plain_gap = mu_0 * positive("turns", turns) ** 2 * area / inductance - core
    if np.any(plain_gap <= 0):
        raise ValueError(
            "magnetising_inductance must be below that of the core without a gap, got "
            f"{magnetising_inductance!r}"
        )
    if winding_width is None:
        return plain(plain_gap)
    width = positive("winding_width", winding_width)
    # At the full width F = 1 + (width / root of area) ln 2: a shorter gap must do.
    longest = width / (1 + width / np.sqrt(area) * np.log(2))
    if np.any(plain_gap >= longest):
        raise ValueError(
            "magnetising_inductance needs a gap longer than the winding_width, got "
            f"{magnetising_inductance!r} and {winding_width!r}"
        )
    gap, width, root = np.broadcast_arrays(plain_gap, width, np.sqrt(area))
    target = 1 / gap
    for _ in range(_NEWTON_STEPS):
        excess = 1 / gap + np.log(2 * width / gap) / root - target
        step = excess / (1 / gap**2 + 1 / (gap * root))
        gap = gap + step
        if np.all(np.abs(step) <= 1e-14 * gap):
            break
    return plain(gap)
