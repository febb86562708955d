"""Cores of a transformer: their dimensions, their loss, when they saturate.

Table: `core_named`. Material: `saturation_flux_density`, `steinmetz_loss_density` for sines,
`waveform_loss_density` for any other flux.
"""

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gamma

from adapterlab.numerics.arguments import Numbers, finite, plain, positive, temperature
from adapterlab.published import rows

SECTION = "transformer"


@dataclass(frozen=True)
class Core:
    """One core of the table.

    Attributes
    ----------
    name : str
        Shape and size, as in the table.
    core_area : float
        Effective cross-section. [m²]
    path_length : float
        Length of the flux path. [m]
    window_area : float or None
        Area of the bobbin's window. [m²]
    mean_turn_length : float or None
        Length of a turn in the middle of the window. [m]
    source, known : str
        Where the figures come from and how they are known.
    """

    name: str
    core_area: float
    path_length: float
    window_area: float | None
    mean_turn_length: float | None
    source: str
    known: str


def _key(name: str) -> str:
    """Shape and first size of a name: ``EFD20/10/7`` and ``efd 20`` are one."""
    text = re.sub(r"[\s_-]+", "", name.upper())
    return re.sub(r"\.(?=\D|$)", "", text)


def _number(key: str) -> float:
    found = re.search(r"\d+(?:\.\d+)?", key)
    return float(found[0]) if found else 0.0


def near_names(what: str, name: str, names: Iterable[str]) -> str:
    """Sentence that says what is not in the table and which entries are near."""
    wanted, by_key = _key(name), {_key(entry): entry for entry in names}
    alike = set(difflib.get_close_matches(wanted, by_key, n=20, cutoff=0.5))
    if len(wanted) > 1:
        alike |= {key for key in by_key if key.startswith(wanted)}

    def distance(key: str) -> tuple[bool, float, float]:
        likeness = difflib.SequenceMatcher(None, key.split("/")[0], wanted).ratio()
        return not key.startswith(wanted), -round(likeness, 2), abs(_number(key) - _number(wanted))

    near = [by_key[key] for key in sorted(alike, key=distance)[:4]]
    lead = "near names are" if near else "the table holds"
    listed = ", ".join(near or by_key.values())
    return f"{what} must be in the table of published figures, got {name!r}; {lead} {listed}"


def core_named(name: str) -> Core:
    """A core of the table by its shape and size.

    Parameters
    ----------
    name : str
        Such as ``RM8``, ``EFD20``, ``EFD20/10/7`` or ``EE16``; spaces and case do not matter, and
        the first size is enough where only one core has it.

    Returns
    -------
    Core
        Its dimensions in SI units.

    Raises
    ------
    ValueError
        If no core of the table has that name; the message lists near ones.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., appendix B,
    pp. 1043-1048; other rows of ``adapterlab/published/transformer.toml`` say where they are from.

    Examples
    --------
    >>> core_named("efd 20").core_area * 1e6
    31.0
    """
    table = {row["name"]: row for row in rows(SECTION, "cores")}
    wanted = _key(name) if isinstance(name, str) else ""
    found = [entry for entry in table if _key(entry) == wanted] or [
        entry for entry in table if _key(entry).split("/")[0] == wanted
    ]
    if len(found) != 1:
        raise ValueError(near_names("core", str(name), table))
    row = table[found[0]]
    window, turn = row.get("window_area_cm2"), row.get("mean_turn_cm")
    return Core(
        row["name"],
        row["core_area_cm2"] * 1e-4,
        row["path_cm"] * 1e-2,
        None if window is None else window * 1e-4,
        None if turn is None else turn * 1e-2,
        row["source"],
        row["known"],
    )


def saturation_flux_density(
    material: str = "power ferrite", temperature: ArrayLike = 100
) -> Numbers:
    """Flux density at which a core material begins to give up, lower end of what makers state.

    Parameters
    ----------
    material : str, optional
        A material of the table.
    temperature : float or array_like, optional
        Of the core. [°C]  From 25 to 120, the range of the table.

    Returns
    -------
    float or numpy.ndarray
        Flux density. [T], broadcast shape

    Raises
    ------
    ValueError
        If the material is not in the table, or the temperature lies outside it.

    References
    ----------
    Common practice for manganese-zinc power ferrites: lower end of makers' tables, see
    ``adapterlab/published/transformer.toml``. Straight lines between the rows.

    Examples
    --------
    >>> saturation_flux_density(temperature=80)
    0.377
    """
    table = rows(SECTION, "saturation")
    kinds = sorted({row["material"] for row in table})
    if material not in kinds:
        raise ValueError(near_names("material", str(material), kinds))
    own = sorted(
        (row["temperature_c"], row["flux_density_t"])
        for row in table
        if row["material"] == material
    )
    celsius, densities = zip(*own, strict=True)
    value = _within(temperature, celsius[0], celsius[-1])
    return plain(np.interp(value, celsius, densities))


def _within(value: ArrayLike, low: float, high: float) -> Numbers:
    celsius = temperature("temperature", value)
    if np.any((celsius < low) | (celsius > high)):
        raise ValueError(
            f"temperature must lie between {low:g} and {high:g} °C, the range of the table, "
            f"got {value!r}"
        )
    return celsius


def steinmetz_loss_density(
    frequency: ArrayLike,
    peak_flux_density: ArrayLike,
    loss_coefficient: ArrayLike,
    frequency_exponent: ArrayLike,
    flux_exponent: ArrayLike,
) -> Numbers:
    r"""Loss of a core per volume for a sinusoidal flux, after Steinmetz.

    Parameters
    ----------
    frequency : float or array_like
        Frequency. [Hz]  Must be > 0.
    peak_flux_density : float or array_like
        Amplitude of the flux density, half its swing. [T]  Must be > 0.
    loss_coefficient : float or array_like
        Loss density at 1 Hz and 1 T on the fitted line. [W/m³]  Must be > 0.
    frequency_exponent, flux_exponent : float or array_like
        Exponents. [1]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Loss density. [W/m³], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: p = k f^\alpha \hat B^\beta

    A fit to one material, temperature and range. It is not linear: adding the losses of
    harmonics has no ground.

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 12.3,
    pp. 492-499.

    Examples
    --------
    375 kW/m³ at 100 kHz and 0.2 T, at half the flux:

    >>> coefficient = 375e3 / (100e3**1.5 * 0.2**2.6)
    >>> steinmetz_loss_density(100e3, 0.1, coefficient, 1.5, 2.6) / 1e3
    61.9
    """
    cycles = positive("frequency", frequency)
    density = positive("peak_flux_density", peak_flux_density)
    return plain(
        positive("loss_coefficient", loss_coefficient)
        * cycles ** positive("frequency_exponent", frequency_exponent)
        * density ** positive("flux_exponent", flux_exponent)
    )


def waveform_loss_density(
    time_share: ArrayLike,
    flux_density: ArrayLike,
    switching_frequency: ArrayLike,
    loss_coefficient: ArrayLike,
    frequency_exponent: ArrayLike,
    flux_exponent: ArrayLike,
) -> Numbers:
    r"""Loss of a core per volume for a flux of any shape: the improved general Steinmetz form.

    Parameters
    ----------
    time_share : array_like
        Instants of one period from 0 to 1, not falling. [1], shape (..., n)
    flux_density : array_like
        Flux density there, straight in between, the same at both ends. [T], shape (..., n)
    switching_frequency : float or array_like
        Periods per second. [Hz]  Must be > 0.
    loss_coefficient, frequency_exponent, flux_exponent : float or array_like
        As in `steinmetz_loss_density`.

    Returns
    -------
    float or numpy.ndarray
        Loss density. [W/m³], shape (...)

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed, the instants do not run from 0 to 1, the
        flux does not return to where it began, or it jumps or does not move at all.

    Notes
    -----
    .. math::
        p = k_i\,\Delta B^{\beta-\alpha}\,\overline{\left|\frac{dB}{dt}\right|^\alpha}, \qquad
        k_i = \frac{k}{(2\pi)^{\alpha-1}\int_0^{2\pi}|\cos\theta|^\alpha 2^{\beta-\alpha} d\theta}

    For a sine it is Steinmetz' own. One loop per period: minor loops would have to be parted
    first. A constant flux underneath, as in continuous conduction, raises the loss of ferrite and
    is not in the form.

    References
    ----------
    K. Venkatachalam, C. R. Sullivan, T. Abdallah, H. Tacca, Accurate prediction of ferrite core
    loss with nonsinusoidal waveforms using only Steinmetz parameters, IEEE COMPEL 2002 (from
    memory).

    Examples
    --------
    A triangle of the same swing as a sine loses a little less:

    >>> p = waveform_loss_density([0, 0.5, 1], [-0.1, 0.1, -0.1], 100e3, 0.7787, 1.5, 2.6) / 1e3
    >>> print(f"{p:.1f}")
    56.5
    """
    share, density = finite("time_share", time_share), finite("flux_density", flux_density)
    cycles = positive("switching_frequency", switching_frequency)
    alpha = positive("frequency_exponent", frequency_exponent)
    beta = positive("flux_exponent", flux_exponent)
    length, step = np.diff(share, axis=-1), np.diff(density, axis=-1)
    if np.any(length < 0) or np.any(share[..., 0] != 0) or np.any(share[..., -1] != 1):
        raise ValueError(f"time_share must rise from 0 to 1, got {time_share!r}")
    swing = np.ptp(density, axis=-1)
    if np.any(swing == 0) or np.any((length == 0) & (step != 0)):
        raise ValueError("flux_density must move, and must not jump")
    if np.any(np.abs(density[..., -1] - density[..., 0]) > 1e-9 * swing):
        raise ValueError("flux_density must end where it began")
    power = alpha[..., None] if alpha.ndim else alpha
    moving = length > 0
    rate = np.where(moving, np.abs(step) / np.where(moving, length, 1.0), 0.0)
    mean = (rate**power * length).sum(axis=-1) * cycles**alpha
    circle = 2 * np.sqrt(np.pi) * gamma((alpha + 1) / 2) / gamma(alpha / 2 + 1)
    scale = positive("loss_coefficient", loss_coefficient) / (
        (2 * np.pi) ** (alpha - 1) * circle * 2 ** (beta - alpha)
    )
    return plain(scale * swing ** (beta - alpha) * mean)
