"""The transformers as they truly are: gap and leakage from the field, by numbers."""

from dataclasses import dataclass
from typing import Any

import numpy as np

MU = 4e-7 * np.pi
_CELLS = 20_000


@dataclass(frozen=True)
class Coil:
    """One transformer.

    Attributes
    ----------
    turns : float
        Of the primary.
    area, path, permeability : float
        Core. [m²], [m], [1]
    width, turn : float
        Window along the layers, and mean turn. [m]
    stack : tuple of tuple
        From the inside: ampere-turns for 1 A in the primary, copper height [m], distance to the
        next copper [m].
    leads : float
        Inductance of the secondary's leads. [H]
    ratio : float
        Turns ratio.
    """

    turns: float
    area: float
    path: float
    permeability: float
    width: float
    turn: float
    stack: tuple[tuple[float, float, float], ...]
    leads: float
    ratio: float

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

    def leakage(self) -> float:
        """Leakage inductance seen from the primary: energy of the field, cell by cell. [H]."""
        corners, levels, place, level = [0.0], [0.0], 0.0, 0.0
        for drive, copper, apart in self.stack:
            place, level = place + copper, level + drive
            corners.append(place)
            levels.append(level)
            place += apart
            corners.append(place)
            levels.append(level)
        cells = (np.arange(_CELLS) + 0.5) / _CELLS * place
        field = np.interp(cells, corners, levels) / self.width
        energy = MU * float((field**2).mean()) * place * self.turn * self.width
        return energy + self.leads * self.ratio**2


def read_coils(
    seed: int, coils: dict[str, Coil], inductances: dict[str, float]
) -> tuple[dict[str, str], dict[str, Any]]:
    """Texts for the template, and the truth, of gap and leakage of every transformer.

    The errors of feeler gauge and inductance meter have draws of their own, so that no other
    reading changes with them.
    """
    rng = np.random.default_rng([seed, 9])
    texts, truth = {}, {}
    for name, coil in coils.items():
        gap, leakage = coil.gap(inductances[name]), coil.leakage()
        texts[f"gap {name}"] = f"{(gap + 8e-6 * float(rng.standard_normal())) * 1e3:.2f} mm"
        shown = leakage * (1 + 0.02 * float(rng.standard_normal())) * 1e6
        texts[f"leakage {name}"] = f"{shown:.1f} uH"
        truth[name] = {"gap": gap, "leakage_inductance": leakage, "permeability": coil.permeability}
    return texts, truth
