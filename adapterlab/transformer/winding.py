"""Windings of a transformer: window, leakage, capacitance, screens.

Window: `window_fill`. Leakage: `leakage_inductance` of any order of layers,
`interleaved_leakage_inductance` as the closed form for two windings. Between the windings:
`interwinding_capacitance`, `closed_turn_loss` of a screen that closes on itself.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy.constants import epsilon_0, mu_0

from adapterlab.numerics.arguments import Numbers, finite, not_negative, plain, positive


def window_fill(
    turns: ArrayLike, copper_area: ArrayLike, winding_width: ArrayLike, winding_height: ArrayLike
) -> Numbers:
    r"""Share of the bobbin's window that is copper.

    Parameters
    ----------
    turns : array_like
        Turns of each winding. [1]  Must be > 0. shape (..., windings)
    copper_area : array_like
        Cross-section of one turn's copper, all strands together. [m²]  Must be > 0.
        shape (..., windings)
    winding_width, winding_height : float or array_like
        The window along the layers and across them. [m]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Share. [1], shape (...)

    Raises
    ------
    ValueError
        If an argument is not above zero, or the copper alone is larger than the window.

    Notes
    -----
    .. math:: K_u = \frac{\sum N_i A_i}{w h}

    Small safety transformers reach 0.15 to 0.3, for tape and insulated wire take the rest (common
    practice).

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 11.1.

    Examples
    --------
    >>> window_fill([36, 8], [0.0707e-6, 0.377e-6], 8.6e-3, 3.4e-3)
    0.19
    """
    copper = (positive("turns", turns) * positive("copper_area", copper_area)).sum(axis=-1)
    width = positive("winding_width", winding_width)
    share = copper / (width * positive("winding_height", winding_height))
    if np.any(share > 1):
        raise ValueError(
            f"turns and copper_area must leave room in the window: copper fills {plain(share)!r} "
            "of it"
        )
    return plain(share)


def leakage_inductance(
    ampere_turns: ArrayLike,
    thickness: ArrayLike,
    spacing: ArrayLike,
    mean_turn_length: ArrayLike,
    winding_width: ArrayLike,
) -> Numbers:
    r"""Leakage inductance of any order of layers, from the field in the window.

    Parameters
    ----------
    ampere_turns : array_like
        Ampere-turns of each layer from the inside outwards for 1 A in the winding from which the
        inductance is seen; those of the other side count against it, and the sum is zero.
        [A], shape (..., layers)
    thickness : array_like
        Of each layer's copper. [m]  Must be > 0. shape (..., layers)
    spacing : array_like
        Between each layer's copper and the next one's. [m]  Must be >= 0. shape (..., layers - 1)
    mean_turn_length : float or array_like
        Length of one turn. [m]  Must be > 0.
    winding_width : float or array_like
        Width of the window. [m]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Inductance. [H], shape (...)

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed, the shapes do not fit, or the ampere-turns do
        not cancel.

    Notes
    -----
    The field is what the ampere-turns :math:`\mathcal F` inside leave, over the width; its energy
    for 1 A is half the inductance. Within a layer :math:`\mathcal F` runs straight from a to b:

    .. math::
        L = \frac{\mu_0 l}{w}\left[\sum_i \frac{h_i}{3}(a_i^2 + a_i b_i + b_i^2)
        + \sum_i d_i b_i^2\right]

    Field in one direction only, even current in the copper (low frequency); leads and connections
    outside the window come on top.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 10.4.2 (the
    diagram of ampere-turns); energy form from memory.

    Examples
    --------
    >>> leakage_inductance([36, -36], [0.5e-3, 0.5e-3], [0.1e-3], 42e-3, 8.6e-3) * 1e6
    3.45
    """
    drive = finite("ampere_turns", ampere_turns)
    height, apart = positive("thickness", thickness), not_negative("spacing", spacing)
    if drive.ndim == 0 or height.shape[-1:] != drive.shape[-1:] or (
        apart.shape[-1:] != (drive.shape[-1] - 1,)
    ):  # fmt: skip
        raise ValueError(
            "ampere_turns, thickness and spacing must have one entry per layer, spacing one less, "
            f"got {drive.shape}, {height.shape} and {apart.shape}"
        )
    after = np.cumsum(drive, axis=-1)
    if np.any(np.abs(after[..., -1]) > 1e-6 * np.abs(drive).sum(axis=-1)):
        raise ValueError(f"ampere_turns must add up to zero, got {ampere_turns!r}")
    before = after - drive
    energy = (height * (before**2 + before * after + after**2)).sum(axis=-1) / 3
    energy = energy + (apart * after[..., :-1] ** 2).sum(axis=-1)
    scale = mu_0 * positive("mean_turn_length", mean_turn_length)
    return plain(scale / positive("winding_width", winding_width) * energy)


def interleaved_leakage_inductance(
    turns: ArrayLike,
    copper_height: ArrayLike,
    insulation_height: ArrayLike,
    mean_turn_length: ArrayLike,
    winding_width: ArrayLike,
    interfaces: ArrayLike = 1,
) -> Numbers:
    r"""Leakage inductance of two windings wound over each other or split between each other.

    Parameters
    ----------
    turns : float or array_like
        Turns of the winding from which it is seen. [1]  Must be > 0.
    copper_height : float or array_like
        Height of all copper, both windings. [m]  Must be > 0.
    insulation_height : float or array_like
        Height of all insulation between primary and secondary, every place of it. [m]
        Must be >= 0.
    mean_turn_length, winding_width : float or array_like
        Length of a turn; width of the window. [m]  Must be > 0.
    interfaces : float or array_like, optional
        How many times primary and secondary meet: 1 for plain, 2 for a secondary between two
        halves of the primary. [1]  At least 1.

    Returns
    -------
    float or numpy.ndarray
        Inductance. [H], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed.

    Notes
    -----
    .. math:: L = \frac{\mu_0 N^2 l}{w s^2}\left(\frac{\sum h}{3} + \sum d\right)

    with s interfaces: doubling them quarters the inductance.

    References
    ----------
    From memory; held against `leakage_inductance` and a numerical integral of the field in
    ``tests/test_transformer.py``.

    Examples
    --------
    >>> interleaved_leakage_inductance(36, 1e-3, 0.1e-3, 42e-3, 8.6e-3) * 1e6
    3.45
    """
    count = positive("interfaces", interfaces)
    if np.any(count < 1):
        raise ValueError(f"interfaces must be at least 1, got {interfaces!r}")
    height = positive("copper_height", copper_height) / 3 + not_negative(
        "insulation_height", insulation_height
    )
    scale = mu_0 * positive("turns", turns) ** 2 * positive("mean_turn_length", mean_turn_length)
    return plain(scale * height / (positive("winding_width", winding_width) * count**2))


def interwinding_capacitance(
    mean_turn_length: ArrayLike,
    winding_width: ArrayLike,
    thickness: ArrayLike,
    relative_permittivity: ArrayLike = 3.0,
) -> Numbers:
    r"""Capacitance between two windings that face each other, as of two plates.

    Parameters
    ----------
    mean_turn_length, winding_width : float or array_like
        Length of a turn; width of the facing layers. [m]  Must be > 0.
    thickness : float or array_like
        Of the insulation between the copper of both. [m]  Must be > 0.
    relative_permittivity : float or array_like, optional
        Of that insulation; about 3 for polyester and enamel with a little air. [1]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Capacitance. [F], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: C = \varepsilon_0 \varepsilon_r \frac{l\,w}{d}

    Round wires leave more insulation between them, so the plates overstate it by some tens of
    per cent. What drives current through it is the difference of both windings' voltages along the
    layer, which is why screens help although this capacitance remains.

    References
    ----------
    Parallel plates; the permittivity is common practice.

    Examples
    --------
    >>> interwinding_capacitance(42e-3, 8.6e-3, 0.2e-3) * 1e12
    48.0
    """
    area = positive("mean_turn_length", mean_turn_length) * positive("winding_width", winding_width)
    permittivity = epsilon_0 * positive("relative_permittivity", relative_permittivity)
    return plain(permittivity * area / positive("thickness", thickness))


def closed_turn_loss(volts_per_turn: ArrayLike, resistance: ArrayLike) -> Numbers:
    r"""Heat in a screen whose ends touch: a winding of one turn, short-circuited.

    Parameters
    ----------
    volts_per_turn : float or array_like
        Rms voltage of one turn about the core. [V]  Must be > 0.
    resistance : float or array_like
        Of the closed turn. [ohm]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Power. [W], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: P = \frac{V^2}{R}

    as long as the source holds the voltage. It will not for long: that is why a screen overlaps
    with insulation between its ends and never closes.

    References
    ----------
    Joule's law; that a screen must not close is common practice.

    Examples
    --------
    2 V per turn into 2.4 mohm:

    >>> closed_turn_loss(2.0, 2.4e-3)
    1666.7
    """
    return plain(
        positive("volts_per_turn", volts_per_turn) ** 2 / positive("resistance", resistance)
    )
