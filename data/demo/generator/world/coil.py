"""Fields of a transformer by numbers: gap, leakage, and copper loss with alternating current.

The window is one-dimensional: field lines run along the layers. Copper loss comes from the
diffusion equation solved on a grid in every layer, for every harmonic of both currents together.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
MU = 4e-7 * np.pi
COPPER_20 = 1.724e-8  # ohm metre, annealed copper: IEC 60028
COPPER_RISE = 0.00393
GRID, HARMONICS = 24, 24


@dataclass(frozen=True)
class Layer:
    """One layer of equal round wires.

    Attributes
    ----------
    winding : str
        ``primary`` or ``secondary``.
    turns, strands : float
        Turns in this layer, and strands side by side in each.
    diameter : float
        Of the copper. [m]
    beyond : float
        Distance to the copper of the next layer. [m]
    """

    winding: str
    turns: float
    strands: float
    diameter: float
    beyond: float


@dataclass(frozen=True)
class Coil:
    """One transformer as wound.

    Attributes
    ----------
    turns, secondary_turns : float
        [1]
    area, path, permeability : float
        Core. [m2], [m], [1]
    width, turn : float
        Window along the layers, and mean turn. [m]
    layers : tuple of Layer
        From the inside; a stranded winding counts each row of its strands.
    leads : float
        Inductance of the secondary's leads. [H]
    """

    turns: float
    secondary_turns: float
    area: float
    path: float
    permeability: float
    width: float
    turn: float
    layers: tuple[Layer, ...]
    leads: float

    def inductance(self, gap: float) -> float:
        """Inductance with a gap in a round leg, flux beside it as in the plane field. [H]."""
        edge = 2 * np.sqrt(np.pi * self.area)
        limb = (self.width - gap) / 2
        beside = edge / np.pi * (1 + np.log(np.pi * limb / (2 * gap)))
        reluctance = 1 / (self.area / gap + beside) + self.path / self.permeability / self.area
        return float(MU * self.turns**2 / reluctance)

    def gap(self, inductance: float) -> float:
        """Gap that gives an inductance, by halving. [m]."""
        low, high = 1e-6, self.width / 2
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if self.inductance(middle) > inductance else (low, middle)
        return (low + high) / 2

    def drive(self, layer: Layer) -> float:
        """Ampere-turns of a layer for 1 A in the primary, secondary in balance."""
        ratio = self.turns / self.secondary_turns
        rows = sum(
            item.turns * item.strands for item in self.layers if item.winding == layer.winding
        )
        total = self.turns if layer.winding == "primary" else -self.secondary_turns * ratio
        return total * layer.turns * layer.strands / rows

    def leakage(self) -> float:
        """Leakage inductance seen from the primary, from the energy of the field. [H]."""
        level, energy = 0.0, 0.0
        for layer in self.layers:
            after = level + self.drive(layer)
            energy += (level**2 + level * after + after**2) / 3 * layer.diameter
            energy += after**2 * layer.beyond
            level = after
        ratio = self.turns / self.secondary_turns
        return MU * energy * self.turn / self.width + self.leads * ratio**2

    def direct_resistance(self, winding: str, celsius: float = 20.0) -> float:
        """Resistance of a winding to direct current. [ohm]."""
        layers = [layer for layer in self.layers if layer.winding == winding]
        turns = self.turns if winding == "primary" else self.secondary_turns
        strands = sum(layer.turns * layer.strands for layer in layers) / turns
        section = strands * np.pi * layers[0].diameter ** 2 / 4
        return float(COPPER_20 * warm(celsius) * turns * self.turn / section)

    def resistance_factors(
        self,
        frequency: float,
        primary: NDArray[np.complex128],
        secondary: NDArray[np.complex128],
        celsius: float = 70.0,
    ) -> tuple[float, float]:
        """Loss of the alternating currents over that of the same currents in plain resistance.

        Parameters
        ----------
        frequency : float
            Of the first harmonic. [Hz]
        primary, secondary : numpy.ndarray
            Complex amplitudes from the first harmonic on, both magnetising the core the same way.
            [A], shape (harmonics,)
        celsius : float
            [C]

        Returns
        -------
        tuple of float
            For primary and secondary.
        """
        omega = 2 * np.pi * frequency * (1 + np.arange(primary.size))
        resistivity = COPPER_20 * warm(celsius)
        total = self.turns * primary + self.secondary_turns * secondary
        # A gapped inner leg takes the magnetising force: the field starts from it and ends at 0.
        level = -total / self.width
        lost = {"primary": 0.0, "secondary": 0.0}
        plain = {"primary": 0.0, "secondary": 0.0}
        for layer in self.layers:
            current = primary if layer.winding == "primary" else secondary
            turns = self.turns if layer.winding == "primary" else self.secondary_turns
            rows = sum(
                item.turns * item.strands for item in self.layers if item.winding == layer.winding
            )
            carried = turns * current * layer.turns * layer.strands / rows
            after = level + carried / self.width
            height = layer.diameter * np.sqrt(np.pi) / 2
            filled = min(layer.turns * layer.strands * height / self.width, 1.0)
            loss = _layer_loss(level, after, height, filled / resistivity, omega)
            lost[layer.winding] += loss.sum() * self.width * self.turn
            uniform = np.abs(after - level) ** 2 / height * resistivity / filled / 2
            plain[layer.winding] += float(uniform.sum() * self.width * self.turn)
            level = after
        return (
            max(1.0, lost["primary"] / max(plain["primary"], 1e-12)),
            max(1.0, lost["secondary"] / max(plain["secondary"], 1e-12)),
        )


def warm(celsius: float) -> float:
    """Resistance of copper over that at 20 degC."""
    return 1 + COPPER_RISE * (celsius - 20.0)


def _layer_loss(
    inner: NDArray[np.complex128],
    outer: NDArray[np.complex128],
    height: float,
    conductivity: float,
    omega: Floats,
) -> Floats:
    """Loss per area of a sheet between two fields, each harmonic. [W/m2]."""
    cell = height / GRID
    diagonal = -(2 + 1j * omega * MU * conductivity * cell**2)
    # Tridiagonal system for the field at the inner grid points: forward, then back.
    ratio = np.zeros((GRID, omega.size), dtype=complex)
    right = np.zeros_like(ratio)
    ratio[0], right[0] = 0.0, inner
    for index in range(1, GRID):
        below = diagonal + ratio[index - 1]
        ratio[index] = -1 / below
        right[index] = -right[index - 1] / below
    field = np.empty((GRID + 1, omega.size), dtype=complex)
    field[GRID] = outer
    for index in range(GRID - 1, 0, -1):
        field[index] = ratio[index] * field[index + 1] + right[index]
    field[0] = inner
    density = np.diff(field, axis=0) / cell
    return (np.abs(density) ** 2).sum(axis=0) * cell / conductivity / 2


def triangle(peak: float, valley: float, duty: float, start: float) -> NDArray[np.complex128]:
    """Harmonics of a current that goes from `peak` to `valley` during `duty`, else zero.

    Parameters
    ----------
    peak, valley : float
        At the beginning and the end. [A]
    duty, start : float
        Share of the period, and where it begins.

    Returns
    -------
    numpy.ndarray
        Complex amplitudes of the harmonics from the first on.
    """
    count = 2048
    place = (np.arange(count) + 0.5) / count - start
    place = np.mod(place, 1.0)
    wave = np.where(place < duty, peak + (valley - peak) * place / max(duty, 1e-9), 0.0)
    return np.fft.rfft(wave)[1 : HARMONICS + 1] * 2 / count
