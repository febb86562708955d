"""Loss in the copper of a transformer: skin depth, Dowell's factor, each layer by itself.

`copper_resistivity`, `skin_depth`, `thickness_ratio`; `dowell_resistance_factor` for a whole
winding, `layer_losses` for every layer of a stack with currents of any shape, whose harmonics
`pulse_harmonics` gives; `winding_resistance` for direct current.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import mu_0

from adapterlab.numerics.arguments import (
    Floats,
    Numbers,
    finite,
    fraction,
    not_negative,
    plain,
    positive,
    temperature,
)

_RESISTIVITY_20, _PER_KELVIN = 1.7241e-8, 0.00393
# Below this ratio the closed forms lose digits and their series has all of them.
_THIN = 1e-2
# Above it hyperbolic functions of the ratio are exponentials to the last digit.
_THICK = 40.0


def copper_resistivity(temperature: ArrayLike = 20) -> Numbers:
    r"""Resistivity of annealed copper.

    Parameters
    ----------
    temperature : float or array_like, optional
        Of the copper. [°C]  From -50 to 200.

    Returns
    -------
    float or numpy.ndarray
        Resistivity. [ohm·m], broadcast shape

    Raises
    ------
    ValueError
        If the temperature lies outside -50 to 200 °C.

    Notes
    -----
    .. math:: \rho = 1.7241\times10^{-8}\,[1 + 0.00393\,(T - 20)]

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., p. 472
    (1.724e-6 ohm·cm at 20 °C, 2.3e-6 ohm·cm at 100 °C); the coefficient is that of the
    international annealed copper standard, IEC 60028 (from memory).

    Examples
    --------
    >>> copper_resistivity(100) * 1e8
    2.266
    """
    celsius = _celsius(temperature)
    return plain(_RESISTIVITY_20 * (1 + _PER_KELVIN * (celsius - 20)))


def _celsius(value: ArrayLike) -> Floats:
    celsius = temperature("temperature", value)
    if np.any((celsius < -50) | (celsius > 200)):
        raise ValueError(f"temperature must lie between -50 and 200 °C for copper, got {value!r}")
    return celsius


def skin_depth(frequency: ArrayLike, temperature: ArrayLike = 20) -> Numbers:
    r"""Depth in copper at which a field has fallen to 1/e.

    Parameters
    ----------
    frequency : float or array_like
        Frequency. [Hz]  Must be > 0.
    temperature : float or array_like, optional
        Of the copper. [°C]  From -50 to 200.

    Returns
    -------
    float or numpy.ndarray
        Skin depth. [m], broadcast shape

    Raises
    ------
    ValueError
        If the frequency is not above zero or the temperature lies outside -50 to 200 °C.

    Notes
    -----
    .. math:: \delta = \sqrt{\frac{\rho}{\pi \mu_0 f}}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., eq. 10.61-10.62.
    Derived in ``notebooks/09_transformer.ipynb``.

    Examples
    --------
    >>> skin_depth(100e3, 100) * 1e3
    0.240
    """
    cycles = positive("frequency", frequency)
    return plain(np.sqrt(copper_resistivity(temperature) / (np.pi * mu_0 * cycles)))


def thickness_ratio(
    wire_diameter: ArrayLike,
    frequency: ArrayLike,
    porosity: ArrayLike = 1,
    temperature: ArrayLike = 20,
) -> Numbers:
    r"""Thickness of the foil that stands for a layer of round wire, over the skin depth.

    Parameters
    ----------
    wire_diameter : float or array_like
        Diameter of the copper of one strand. [m]  Must be > 0.
    frequency : float or array_like
        Frequency. [Hz]  Must be > 0.
    porosity : float or array_like, optional
        Share of the window's width that the square wires of the layer fill. [1]  Above 0, at
        most 1.
    temperature : float or array_like, optional
        Of the copper. [°C]

    Returns
    -------
    float or numpy.ndarray
        Ratio. [1], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed.

    Notes
    -----
    A round wire counts as a square one of the same area, side :math:`h = \sqrt{\pi/4}\,d`; the
    gaps between the wires of a layer lower its conductivity by the porosity :math:`\eta`:

    .. math:: \varphi = \sqrt{\eta}\,\frac{h}{\delta}

    References
    ----------
    P. L. Dowell, Effects of eddy currents in transformer windings, Proc. IEE 113 (1966),
    p. 1387 (from memory); R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics,
    3rd ed., sec. 10.4.

    Examples
    --------
    >>> thickness_ratio(0.3e-3, 85e3, 0.8, 100)
    0.915
    """
    side = np.sqrt(np.pi) / 2 * positive("wire_diameter", wire_diameter)
    depth = skin_depth(frequency, temperature)
    return plain(np.sqrt(fraction("porosity", porosity)) * side / depth)


def _shapes(ratio: Floats) -> tuple[Floats, Floats]:
    """G1 and G1 - 2 G2 of a foil; the difference in a form that keeps its digits."""
    bounded = np.minimum(ratio, _THICK)
    sine, cosine, sinh = np.sin(bounded), np.cos(bounded), np.sinh(bounded)
    cosh = np.sqrt(1 + sinh**2)
    first = (sinh * cosh + sine * cosine) / (sinh**2 + sine**2)
    rest = (sinh - sine) / (cosh + cosine)
    return first, rest


def dowell_resistance_factor(thickness_ratio: ArrayLike, layers: ArrayLike) -> Numbers:
    r"""Resistance of a winding at one frequency over its resistance for direct current.

    Parameters
    ----------
    thickness_ratio : float or array_like
        Thickness of a layer, as a foil, over the skin depth. [1]  Must be > 0.
    layers : float or array_like
        Layers from where the field is zero to where it is largest; half a layer where it is
        zero in the middle of one. [1]  At least 0.5.

    Returns
    -------
    float or numpy.ndarray
        Factor, at least 1. [1], broadcast shape

    Raises
    ------
    ValueError
        If the ratio is not above zero or there is less than half a layer.

    Notes
    -----
    .. math::
        F = \varphi\left[G_1 + \tfrac23 (M^2 - 1)(G_1 - 2G_2)\right], \qquad
        G_1 = \frac{\sinh 2\varphi + \sin 2\varphi}{\cosh 2\varphi - \cos 2\varphi}, \qquad
        G_1 - 2G_2 = \frac{\sinh\varphi - \sin\varphi}{\cosh\varphi + \cos\varphi}

    For thin layers :math:`F = 1 + \tfrac{5M^2-1}{45}\varphi^4`, for thick ones
    :math:`F = \tfrac{2M^2+1}{3}\varphi`. Field in one direction only, parallel to the layers.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., eq. 10.87;
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed., sec. 7.5,
    fig. 7.9-7.11. Low-frequency limit derived in ``notebooks/09_transformer.ipynb``.

    Examples
    --------
    >>> dowell_resistance_factor(4, [0.5, 1, 2]).round(2)
    array([ 1.9 ,  4.  , 12.42])
    """
    ratio = positive("thickness_ratio", thickness_ratio)
    count = positive("layers", layers)
    if np.any(count < 0.5):
        raise ValueError(f"layers must be at least 0.5, got {layers!r}")
    ratio, count = np.broadcast_arrays(ratio, count)
    first, rest = _shapes(np.maximum(ratio, _THIN))
    closed = ratio * (first + 2 / 3 * (count**2 - 1) * rest)
    thin = ratio < _THIN
    if np.any(thin):
        closed = np.where(thin, 1 + (5 * count**2 - 1) / 45 * ratio**4, closed)
    return plain(closed)


def pulse_harmonics(
    start_current: ArrayLike,
    end_current: ArrayLike,
    start: ArrayLike,
    duty_cycle: ArrayLike,
    orders: ArrayLike,
) -> Numbers:
    r"""Harmonics of a current that runs straight for a share of the period and is zero else.

    Parameters
    ----------
    start_current, end_current : float or array_like
        Current at the beginning and at the end of that share. [A]
    start : float or array_like
        When the share begins, as a part of the period. [1]
    duty_cycle : float or array_like
        The share. [1]  Above 0, at most 1.
    orders : array_like
        Orders, 1 for the fundamental. [1]  Must be > 0. shape (n,)

    Returns
    -------
    complex or numpy.ndarray
        Rms phasor of each order: absolute value and phase. [A], shape (..., n)

    Raises
    ------
    ValueError
        If a current is not finite, or the share or an order lies outside what is allowed.

    Notes
    -----
    With :math:`\omega = 2\pi k`, share D from t on, currents a and b:

    .. math::
        \underline I_k = \sqrt2\, e^{-j\omega t}\left[\frac{a - b e^{-j\omega D}}{j\omega}
        + \frac{(b - a)(e^{-j\omega D} - 1)}{D\,\omega^2}\right]

    References
    ----------
    Fourier integral of a straight line; held against a numerical transform in
    ``tests/test_transformer_copper.py``.

    Examples
    --------
    The fundamental of a square wave of 1 A, half the period long:

    >>> abs(pulse_harmonics(1.0, 1.0, 0.0, 0.5, [1]))
    array([0.450])
    """
    first = finite("start_current", start_current)[..., None]
    last = finite("end_current", end_current)[..., None]
    begin, share = finite("start", start)[..., None], fraction("duty_cycle", duty_cycle)[..., None]
    angular = 2 * np.pi * positive("orders", orders)
    turn = np.exp(-1j * angular * share)
    straight = (first - last * turn) / (1j * angular)
    slope = (last - first) * (turn - 1) / (share * angular**2)
    return plain(np.sqrt(2) * np.exp(-1j * angular * begin) * (straight + slope))


def layer_losses(
    direct_current: ArrayLike,
    harmonic_current: NDArray[np.complex128] | ArrayLike,
    turns: ArrayLike,
    thickness_ratio: ArrayLike,
    resistance: ArrayLike,
    inner_share: float = 1.0,
) -> Numbers:
    r"""Copper loss of every layer of a stack, listed from the inside outwards.

    Parameters
    ----------
    direct_current : array_like
        Mean current of each layer's wire. [A], shape (..., layers)
    harmonic_current : array_like
        Rms phasor of each layer's current; 0 for screens and idle windings.
        [A], shape (..., layers, harmonics)
    turns : array_like
        Turns of each layer. [1]  Must be > 0. shape (..., layers)
    thickness_ratio : array_like
        Thickness of each layer over the skin depth at the fundamental. [1]  Must be > 0.
        shape (..., layers)
    resistance : array_like
        Resistance of each layer for direct current. [ohm]  Must be > 0. shape (..., layers)
    inner_share : float, optional
        Share of the ampere-turns that magnetise which the gap in the centre leg takes: 1 for a
        gap there only, 0.5 for a spacer under all legs. [1]  From 0 to 1.

    Returns
    -------
    numpy.ndarray
        Loss of each layer, direct current and harmonics together. [W], shape (..., layers)

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed.

    Notes
    -----
    The ampere-turns :math:`\mathcal F` outside each face of a layer set the field there; with
    their rms phasors at both faces

    .. math::
        P = \frac{R}{N^2}\,\varphi\left[(|\mathcal F_1|^2 + |\mathcal F_0|^2)\,G_1
        - 4 G_2\,\mathrm{Re}(\mathcal F_1 \mathcal F_0^*)\right]

    summed over the harmonics, :math:`\varphi` growing with the root of the order. In a flyback
    the windings do not conduct together: their phasors differ and the field need not be zero
    next to the gap. The outer leg is taken to have no gap unless `inner_share` says otherwise.
    Field in one direction only; the field of the gap itself, which heats the nearest turns, and
    the unequal sharing of parallel strands are left out.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., eq. 10.65-10.69,
    p. 430, and sec. 10.4.2.

    Examples
    --------
    Two layers of ten turns, 1 A each way at the fundamental:

    >>> layer_losses([0, 0], [[1], [-1]], [10, 10], [1.0, 1.0], [0.1, 0.1])
    array([0.1086, 0.1086])
    """
    steady, count = finite("direct_current", direct_current), positive("turns", turns)
    ratio = positive("thickness_ratio", thickness_ratio)
    ohms = positive("resistance", resistance)
    inner = not_negative("inner_share", inner_share)
    if np.any(inner > 1):
        raise ValueError(f"inner_share must lie between 0 and 1, got {inner_share!r}")
    phasor = np.asarray(harmonic_current, dtype=complex)
    if not np.all(np.isfinite(phasor)):
        raise ValueError("harmonic_current must be finite")
    drive = phasor * count[..., None]
    total = drive.sum(axis=-2, keepdims=True)
    outside = inner * total - np.cumsum(drive, axis=-2)
    inside = outside + drive
    orders = np.arange(1, phasor.shape[-1] + 1)
    ratios = ratio[..., None] * np.sqrt(orders)
    first, rest = _shapes(np.maximum(ratios, _THIN))
    # G1 (|a|^2 + |b|^2) - 4 G2 Re(a b*) = G1 |a - b|^2 + 2 (G1 - 2 G2) Re(a b*)
    net = np.abs(drive) ** 2
    across = np.real(inside * np.conj(outside))
    factor = np.where(ratios < _THIN, 1.0, ratios * first)
    rms = (factor * net + 2 * ratios * rest * across).sum(axis=-1)
    return ohms * (steady**2 + rms / count**2)


def winding_resistance(
    turns: ArrayLike, mean_turn_length: ArrayLike, copper_area: ArrayLike,
    temperature: ArrayLike = 20,
) -> Numbers:  # fmt: skip
    r"""Resistance of a winding for direct current.

    Parameters
    ----------
    turns : float or array_like
        Turns. [1]  Must be > 0.
    mean_turn_length : float or array_like
        Length of one turn. [m]  Must be > 0.
    copper_area : float or array_like
        Cross-section of the copper, all strands together. [m²]  Must be > 0.
    temperature : float or array_like, optional
        Of the copper. [°C]  From -50 to 200.

    Returns
    -------
    float or numpy.ndarray
        Resistance. [ohm], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed.

    Notes
    -----
    .. math:: R = \rho(T)\,\frac{N\,l}{A}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., appendix B.6.

    Examples
    --------
    36 turns of 42 mm, wire of 0.30 mm at 100 °C:

    >>> winding_resistance(36, 42e-3, 3.1416 / 4 * 0.3e-3**2, 100)
    0.485
    """
    length = positive("turns", turns) * positive("mean_turn_length", mean_turn_length)
    return plain(copper_resistivity(temperature) * length / positive("copper_area", copper_area))
