"""The body networks of IEC 60990, at one frequency and for a sampled waveform.

For one frequency: `body_network`. For the waveform of a source behind a capacitor, in its
periodic state: `SampledNetwork`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from adapterlab.numerics.arguments import Complexes, Floats, Numbers, not_negative, plain
from adapterlab.published import rows

NETWORKS = ("weighted", "unweighted", "ammeter")
NETWORK = rows("touch_current", "networks", name="weighted")[0]
BODY = NETWORK["body_resistance"]


@dataclass(frozen=True)
class BodyNetwork:
    r"""Response of the measuring network of IEC 60990, figure 4.

    Attributes
    ----------
    impedance : float or numpy.ndarray
        Magnitude of the input impedance. [ohm], shape of the frequency
    unweighted : float or numpy.ndarray
        \|U1\| / (500 ohm · \|I\|), U1 across the body resistance. [1], same shape
    weighting : float or numpy.ndarray
        \|U2\| / (500 ohm · \|I\|), U2 behind the filter. [1], same shape
    unweighted_impedance : float or numpy.ndarray
        Magnitude of the input impedance of figure 3, without the filter. [ohm], same shape
    """

    impedance: Numbers
    unweighted: Numbers
    weighting: Numbers
    unweighted_impedance: Numbers


def skin_impedance(frequency: Floats) -> Complexes:
    """Complex impedance of the skin, 1500 ohm beside 0.22 µF. [ohm]."""
    skin = NETWORK["skin_resistance"]
    return np.asarray(skin / (1 + 2j * np.pi * frequency * skin * NETWORK["skin_capacitance"]))


def network_response(frequency: Floats) -> tuple[Complexes, Complexes, Complexes]:
    """Complex input impedance, U1/I and U2/I of the weighted network."""
    laplace = 2j * np.pi * frequency
    delay = laplace * NETWORK["filter_resistance"] * NETWORK["filter_capacitance"]
    loaded = BODY * (1 + delay) / (1 + delay + laplace * BODY * NETWORK["filter_capacitance"])
    return skin_impedance(frequency) + loaded, loaded, loaded / (1 + delay)


def body_network(frequency: ArrayLike) -> BodyNetwork:
    r"""Response of the body network for perception and reaction.

    Parameters
    ----------
    frequency : float or array_like
        Frequency, 0 for direct current. [Hz]  Must be >= 0.

    Returns
    -------
    BodyNetwork
        Input impedances [ohm] and the two relative outputs [1].

    Raises
    ------
    ValueError
        If a frequency is negative or not finite.

    Notes
    -----
    Skin (1500 ohm beside 0.22 µF) in series with the body (500 ohm), across which a filter of
    10 kohm and 22 nF is read. The filter loads the body; the meter behind it is left out. Exact:

    .. math:: Z_b = R_B \parallel (R_1 + 1/sC_1), \quad U_2/I = Z_b/(1 + sR_1C_1)

    References
    ----------
    IEC 60990:2016, figure 4; values in ``published/touch_current.toml``.

    Examples
    --------
    >>> network = body_network(1000)
    >>> print(f"{network.impedance:.2f} ohm, weighting {network.weighting:.4f}")
    972.53 ohm, weighting 0.5674
    """
    at = not_negative("frequency", frequency)
    impedance, unweighted, weighted = network_response(at)
    return BodyNetwork(
        plain(abs(impedance)),
        plain(abs(unweighted) / BODY),
        plain(abs(weighted) / BODY),
        plain(abs(skin_impedance(at) + BODY)),
    )


def _first_order_hold(
    pole: NDArray[np.complex128], step: Floats, turn: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Response of x' = pole x + u, exact for a u that is straight between samples."""
    product = pole * step
    decay = np.exp(product)
    late = (decay - 1 - product) / (pole * product)
    early = (decay - 1) / pole - late
    return (early + late * turn) / (turn - decay)


class SampledNetwork:
    """A source behind a capacitance, and the network that earths it, over one period.

    The source is given at equal steps of its period and taken as straight between them; for
    such a source the periodic state comes out exact, loading included, with no integration
    through a transient.

    Parameters
    ----------
    capacitance : numpy.ndarray
        Capacitance between source and network. [F], shape (...)
    period : numpy.ndarray
        Period of the source. [s], shape (...)
    points : int
        Samples of a period.
    network : str
        ``weighted`` (figure 4) or ``unweighted`` (figure 3, which has no filter).
    """

    def __init__(self, capacitance: Floats, period: Floats, points: int, network: str) -> None:
        filtered = network == "weighted"
        filter_conductance = 1 / NETWORK["filter_resistance"] if filtered else 0.0
        body = 1 / BODY + filter_conductance
        states = 3 if filtered else 2
        # States: voltage on the capacitance, on the skin and on the filter. Row: the current.
        row = -np.array([body, body, filter_conductance])[:states]
        system = np.zeros((*np.shape(capacitance), states, states))
        drive = np.zeros((*np.shape(capacitance), states))
        system[..., 0, :] = row / capacitance[..., None]
        system[..., 1, :] = row / NETWORK["skin_capacitance"]
        system[..., 1, 1] -= 1 / (NETWORK["skin_resistance"] * NETWORK["skin_capacitance"])
        drive[..., 0] = body / capacitance
        drive[..., 1] = body / NETWORK["skin_capacitance"]
        if filtered:
            rate = filter_conductance / NETWORK["filter_capacitance"]
            system[..., 2, :] = -rate
            drive[..., 2] = rate
        poles, modes = np.linalg.eig(system)
        weights = np.linalg.solve(modes, drive[..., None])[..., 0]
        turn = np.exp(2j * np.pi * np.arange(points // 2 + 1) / points)
        step = np.asarray(period / points)[..., None, None]
        excited = weights[..., None] * _first_order_hold(poles[..., None], step, turn)
        response = modes @ excited
        self._points = points
        self._output = 1 - response[..., 0, :]
        self._current = body + (row[:, None] * response).sum(axis=-2)
        seen = response[..., 2, :] if filtered else 1 - response[..., 0, :] - response[..., 1, :]
        self._indicated = seen / BODY

    def _through(self, response: NDArray[np.complex128], source: Floats) -> Floats:
        return np.fft.irfft(response * np.fft.rfft(source), self._points)

    def output_voltage(self, source: Floats) -> Floats:
        """Voltage across the network. [V], shape (..., points)."""
        return self._through(self._output, source)

    def current(self, source: Floats) -> Floats:
        """Current into the network. [A], shape (..., points)."""
        return self._through(self._current, source)

    def indicated(self, source: Floats) -> Floats:
        """Indicated current: U2 (weighted) or U1 (unweighted) over 500 ohm. [A]."""
        return self._through(self._indicated, source)
