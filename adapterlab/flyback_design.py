"""Inverse questions of the flyback converter: what a wish asks of the transformer."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from adapterlab._args import plain, positive
from adapterlab.flyback_point import operating_point


def boundary_inductance(
    input_voltage: ArrayLike,
    output_voltage: ArrayLike,
    output_current: ArrayLike,
    turns_ratio: ArrayLike,
    switching_frequency: ArrayLike,
    diode_drop: ArrayLike = 0,
    efficiency: ArrayLike = 1,
) -> Any:
    r"""Largest magnetising inductance whose current still reaches zero in each period.

    Parameters
    ----------
    input_voltage, output_voltage, output_current, turns_ratio : float or array_like
        As in `operating_point`.
    diode_drop, efficiency : float or array_like, optional
        As in `operating_point`.
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Inductance seen from the primary. [H], broadcast shape

    Raises
    ------
    ValueError
        If an input lies outside what is allowed.

    Notes
    -----
    .. math:: L = \frac{(V_{in} D_c)^2}{2 P f}, \qquad D_c = \frac{V_R}{V_{in} + V_R}

    It grows with the input voltage: what is discontinuous at the valley of the lowest mains
    is so everywhere at that load.

    References
    ----------
    A. I. Pressman, K. Billings, T. Morey, Switching Power Supply Design, 3rd ed., sec. 4.8.4.

    Examples
    --------
    >>> boundary_inductance(300, 20, 2, 4.5, 85e3) * 1e6
    704.9
    """
    frequency = positive("switching_frequency", switching_frequency)
    point = operating_point(
        input_voltage,
        output_voltage,
        output_current,
        turns_ratio,
        1.0,
        diode_drop=diode_drop,
        efficiency=efficiency,
    )
    return plain(np.asarray(point.switching_frequency) / frequency)
