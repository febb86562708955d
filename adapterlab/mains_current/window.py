"""Windows for spectra: what they cost, in the figures of the handbooks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import finite


@dataclass(frozen=True)
class WindowFigures:
    """What a window does to a spectrum.

    Attributes
    ----------
    coherent_gain : float
        Mean of the window: what a line's amplitude is multiplied by. [1]
    noise_bandwidth : float
        Equivalent noise bandwidth. [bins]
    scallop_loss : float
        Loss of a line halfway between two bins. [dB]
    """

    coherent_gain: float
    noise_bandwidth: float
    scallop_loss: float


def window_figures(window: ArrayLike) -> WindowFigures:
    r"""Coherent gain, noise bandwidth and scallop loss of a window.

    Parameters
    ----------
    window : array_like
        Samples of the window. [1], shape (n,) with n >= 2 and a sum above zero

    Returns
    -------
    WindowFigures
        The three figures.

    Raises
    ------
    ValueError
        If there are fewer than two samples, one is not finite, or their sum is not above zero.

    Notes
    -----
    .. math:: G = \bar w, \quad B = n\,\frac{\sum w^2}{(\sum w)^2}, \quad
              S = -20\lg\frac{|\sum w_k e^{-j\pi k/n}|}{\sum w_k}

    `power_quality` takes the Hann window over a whole number of periods: each harmonic then sits
    on a bin, where it has neither scallop loss nor leakage from its neighbours.

    References
    ----------
    F. J. Harris, Proceedings of the IEEE 66 (1978), 51-83, table I (from memory).

    Examples
    --------
    >>> hann = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(256) / 256)
    >>> figures = window_figures(hann)
    >>> print(f"{figures.coherent_gain:.2f}, {figures.noise_bandwidth:.2f} bins, "
    ...       f"{figures.scallop_loss:.2f} dB")
    0.50, 1.50 bins, 1.42 dB
    """
    samples = finite("window", window)
    if samples.ndim != 1 or len(samples) < 2 or samples.sum() <= 0:
        raise ValueError(
            f"window must hold at least two samples with a sum > 0, got shape {samples.shape}"
        )
    count, total = len(samples), float(samples.sum())
    between = np.abs((samples * np.exp(-1j * np.pi * np.arange(count) / count)).sum())
    return WindowFigures(
        total / count,
        float(count * (samples**2).sum() / total**2),
        float(-20 * np.log10(between / total)),
    )
