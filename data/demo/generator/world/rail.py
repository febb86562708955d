"""Touch current: the rail behind exponential diodes, barrier capacitor and body network, stepped.

The mains side comes from the rectifier's steady state; the few microamperes across the barrier do
not move it. What is left is one unknown, the potential of the negative rail.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
# IEC 60990:2016, figure 4.
SKIN_RESISTANCE, SKIN_CAPACITANCE, BODY_RESISTANCE = 1500.0, 0.22e-6, 500.0
FILTER_RESISTANCE, FILTER_CAPACITANCE = 10e3, 0.022e-6


@dataclass(frozen=True)
class Paths:
    """What carries current to the output, one entry for each column.

    Attributes
    ----------
    capacitance : numpy.ndarray
        From the negative rail to the output, all paths together. [F]
    stray : numpy.ndarray
        From the pin of the fuse to the output. [F]
    junction : numpy.ndarray
        Of one bridge diode. [F]
    saturation, scale : numpy.ndarray
        Of one diode. [A], [V]
    """

    capacitance: Floats
    stray: Floats
    junction: Floats
    saturation: Floats
    scale: Floats


def touch_current(
    paths: Paths,
    frequency: Floats,
    source: Floats,
    bridge_voltage: Floats,
    bulk_voltage: Floats,
    neutral_share: Floats,
    turned: NDArray[np.bool_],
    periods: int = 3,
) -> dict[str, Floats]:
    """Readings of an ideal meter with the network of IEC 60990, figure 4.

    Parameters
    ----------
    paths : Paths
        Capacitances.
    frequency : numpy.ndarray
        [Hz], shape (n,)
    source, bridge_voltage, bulk_voltage : numpy.ndarray
        One period: between the poles, between the bridge's input terminals, across the reservoir.
        [V], shape (samples, n)
    neutral_share : numpy.ndarray
        Share of the drop between source and bridge that lies in the pole without the fuse.
    turned : numpy.ndarray
        Whether the plug is turned round, so that the pole with the fuse is neutral.
    periods : int
        Periods stepped; the last is read.

    Returns
    -------
    dict
        ``weighted_rms``, ``weighted_peak``, ``unweighted_rms``, ``unweighted_peak``. [A]
    """
    samples = source.shape[0]
    step = 1 / frequency / samples
    drop = source - bridge_voltage
    second = np.where(turned, -(1 - neutral_share) * drop - bridge_voltage, neutral_share * drop)
    first = second + bridge_voltage
    pin = np.where(turned, 0.0, source)
    apart = np.abs(bridge_voltage)
    extra = paths.scale * np.log1p(np.exp(-np.minimum(apart / paths.scale, 700.0)))
    lower = np.maximum(first, second) + extra - bulk_voltage
    upper = np.minimum(first, second) - extra

    skin = 1 / (1 / SKIN_RESISTANCE + SKIN_CAPACITANCE / step)
    share = step / (FILTER_RESISTANCE * FILTER_CAPACITANCE)
    body = 1 / (1 / BODY_RESISTANCE + 1 / FILTER_RESISTANCE / (1 + share))
    network = skin + body
    series = step / paths.capacitance + network
    junction = paths.junction / step

    columns = source.shape[1]
    none = np.zeros(columns)
    negative, barrier, skin_volts, filtered = none - 300.0, none.copy(), none.copy(), none.copy()
    weighted, unweighted = np.empty((samples, columns)), np.empty((samples, columns))
    for index in range(-1, periods * samples):
        now, last = index % samples, (index - 1) % samples
        stray = paths.stray / step * (pin[now] - pin[last])
        skin_source = skin * SKIN_CAPACITANCE / step * skin_volts
        body_source = body * filtered / (1 + share) / FILTER_RESISTANCE
        offset = barrier + skin_source + body_source + network * stray
        # Diodes and their capacitances against the barrier: A sinh y + B y = Q.
        slope = 4 * junction + 1 / series
        moved = (
            junction
            * (
                2 * (first[now] - first[last] + second[now] - second[last])
                - 2 * (bulk_voltage[now] - bulk_voltage[last])
                + 4 * negative
            )
            + offset / series
        )
        middle = (lower[now] + upper[now]) / 2
        spread = (lower[now] - upper[now]) / (2 * paths.scale) + np.log(paths.saturation)
        excess = moved - slope * middle
        linear = slope * paths.scale
        size = np.abs(excess) + 1e-30
        # Either term alone would need at most this: Newton comes down from there.
        place = np.minimum(size / linear, np.maximum(np.log(size) - spread, 0.0) + 1.0)
        for _ in range(8):
            rise = np.exp(np.minimum(spread + place, 300.0))
            fall = np.exp(np.minimum(spread - place, 300.0))
            place = place - (rise - fall + linear * place - size) / (rise + fall + linear)
        negative = middle + np.copysign(paths.scale * place, excess)
        touch = (negative - offset) / series
        barrier = barrier + step / paths.capacitance * touch
        total = touch + stray
        skin_volts = skin * total + skin_source
        across = body * total + body_source
        filtered = (filtered + share * across) / (1 + share)
        weighted[now], unweighted[now] = filtered / BODY_RESISTANCE, across / BODY_RESISTANCE
    return {
        "weighted_rms": np.sqrt((weighted**2).mean(axis=0)),
        "weighted_peak": np.abs(weighted).max(axis=0),
        "unweighted_rms": np.sqrt((unweighted**2).mean(axis=0)),
        "unweighted_peak": np.abs(unweighted).max(axis=0),
    }
