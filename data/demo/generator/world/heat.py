"""Temperatures from losses: case to room by still air and radiation, parts to the air inside."""

import numpy as np
from numpy.typing import NDArray

from generator.world.adapter import Body

Floats = NDArray[np.float64]
STEFAN = 5.670374419e-8
# Simplified laminar free convection in air, h = factor (rise / length)^(1/4): vertical walls, upper
# and lower side. Holman, Heat Transfer, table 7-2 (from memory).
UPRIGHT, UPPER, LOWER = 1.42, 1.32, 0.59


def case_rise(body: Body, loss: Floats, ambient: float) -> Floats:
    """Rise of the mean case temperature above the room. [K].

    Parameters
    ----------
    body : Body
        Size and surface, lying on its largest side.
    loss : numpy.ndarray
        Heat. [W]
    ambient : float
        [C]
    """
    long, wide, high = body.size
    flat, walls = long * wide, 2 * high * (long + wide)
    across = long * wide / (2 * (long + wide))
    loss = np.maximum(np.asarray(loss, dtype=float), 1e-6)
    low, high_end = np.zeros_like(loss), np.full_like(loss, 300.0)
    room = ambient + 273.15
    for _ in range(45):
        rise = (low + high_end) / 2
        blown = rise**1.25 * (UPRIGHT * walls / high**0.25 + (UPPER + LOWER) * flat / across**0.25)
        shone = body.emissivity * STEFAN * (walls + 2 * flat) * ((room + rise) ** 4 - room**4)
        warm = blown + shone < loss
        low, high_end = np.where(warm, rise, low), np.where(warm, high_end, rise)
    return (low + high_end) / 2


def inside(body: Body, loss: Floats, ambient: float) -> Floats:
    """Temperature of the air inside. [C]."""
    return ambient + case_rise(body, loss, ambient) + body.inner * np.asarray(loss)
