"""Resistance and capacitance that a plug-in capture implies: `fit_surge`."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from adapterlab._args import Floats, finite, not_negative, positive
from adapterlab._crest import crest_circuit
from adapterlab.uncertainty import coverage_factor

# How far from the crest contact may be for the crest model to serve. [degrees]
CREST_WINDOW = 10.0


@dataclass(frozen=True)
class SurgeFit:
    """Resistance and capacitance that a captured surge implies.

    Attributes
    ----------
    resistance, capacitance : float
        Best estimates. [ohm], [F]
    resistance_uncertainty, capacitance_uncertainty : float
        Their standard uncertainties. [ohm], [F]
    resistance_interval, capacitance_interval : tuple of float
        Ends of the coverage intervals. [ohm], [F]
    correlation : float
        Correlation of the two. [1]
    contact_time : float
        Instant of contact on the time scale of the capture. [s]
    residual : float
        Rms difference of capture and fit while the current flows. [A]
    relative_residual : float
        The same over the peak of the fit. [1]
    polarity : int
        1 if the surge flowed in the positive sense of the capture, else -1.
    """

    resistance: float
    capacitance: float
    resistance_uncertainty: float
    capacitance_uncertainty: float
    resistance_interval: tuple[float, float]
    capacitance_interval: tuple[float, float]
    correlation: float
    contact_time: float
    residual: float
    relative_residual: float
    polarity: int


@dataclass(frozen=True)
class _Cut:
    """The part of a capture that is fitted: from the peak to a quarter period after it."""

    time: Floats
    current: Floats
    contact_span: tuple[float, float]
    noise: float
    polarity: int


def _cut(time: Floats, current: Floats, quarter_period: float) -> _Cut:
    """Find the surge in a capture; raises if there is none."""
    top = int(np.argmax(np.abs(current)))
    polarity = 1 if current[top] > 0 else -1
    flow = polarity * current
    peak = flow[top]
    before = np.flatnonzero(flow[:top] < 0.05 * peak)
    if len(before) == 0:
        raise ValueError("current holds no surge: it must begin before contact, without current")
    quiet = flow[: before[-1]]
    noise = float(np.std(quiet)) if len(quiet) > 10 else 0.0
    if peak <= 10 * noise:
        raise ValueError(f"current holds no surge: its peak of {peak:.3g} A is lost in noise")
    after = flow[top : np.searchsorted(time, time[top] + quarter_period, side="right")]
    if after.min() > peak / np.e or np.argmax(after < peak / np.e) < 4:
        raise ValueError(
            "current holds no surge: it must fall to 1/e of its peak within a quarter period of "
            "the mains, over at least 4 samples"
        )
    span = (float(time[before[-1]]), float(time[top]))
    return _Cut(time[top : top + len(after)], after, span, max(noise, 1e-4 * peak), polarity)


def fit_surge(
    time: ArrayLike,
    current: ArrayLike,
    mains_voltage: float,
    mains_frequency: float,
    drop: float = 0.0,
    *,
    phase: float = 90.0,
    gain_uncertainty: float = 0.0,
    mains_voltage_uncertainty: float = 0.0,
    drop_uncertainty: float = 0.0,
    phase_uncertainty: float = 0.0,
    coverage: float = 0.95,
) -> SurgeFit:
    r"""Resistance and capacitance that a plug-in capture implies, by least squares.

    Parameters
    ----------
    time : array_like
        Time of each sample, rising. [s], shape (n,)
    current : array_like
        Captured current, free of offset; it begins before contact. [A], shape (n,)
    mains_voltage, mains_frequency : float
        Rms voltage [V] and frequency [Hz] of the mains. Must be > 0.
    drop : float, optional
        Constant drop of the two conducting diodes together. [V]  Must be >= 0.
    phase : float, optional
        Angle of the mains sine at contact, as known. [degrees]  Within 10 of 90 or of 270.
    gain_uncertainty : float, optional
        Relative standard uncertainty of the current probe's gain. [1]
    mains_voltage_uncertainty, drop_uncertainty : float, optional
        Standard uncertainties. [V]
    phase_uncertainty : float, optional
        Standard uncertainty of the angle of contact. [degrees]
    coverage : float, optional
        Probability that each interval holds its quantity. [1]

    Returns
    -------
    SurgeFit
        Estimates, uncertainties, intervals and residual.

    Raises
    ------
    ValueError
        If the capture holds no surge, contact was far from the crest, an argument is out of
        range, or no resistance and capacitance fit.

    Notes
    -----
    `crest_surge_current`, moved from the crest as `phase` tells, is fitted from the peak to a
    quarter period after it. Contact lies between the last quiet sample and the peak, equally
    likely anywhere. The noise is that before contact, or the misfit of a first fit if that is
    larger. Gain, mains voltage, drop and phase add what a fit with each of them moved by its
    standard uncertainty changes. The resistance is taken as constant: a
    thermistor that warms up within the surge lowers it and raises the capacitance (see
    ``published/inrush.toml``, table ``heating``).

    References
    ----------
    JCGM 102:2011, 6 (propagation with several outputs), from memory.

    Examples
    --------
    A surge sampled every 5 µs, contact at 0.1 ms:

    >>> from adapterlab.inrush import crest_surge_current
    >>> moments = np.arange(0, 4e-3, 5e-6)
    >>> since = np.clip(moments - 0.102e-3, 0, None)
    >>> flow = np.where(since > 0, crest_surge_current(since, 230, 50, 10, 33e-6), 0)
    >>> found = fit_surge(moments, flow, 230, 50)
    >>> print(f"{found.resistance:.1f} ohm, {found.capacitance * 1e6:.0f} µF")
    10.0 ohm, 33 µF
    """
    late = float(finite("phase", phase)) % 180 - 90
    if abs(late) > CREST_WINDOW:
        raise ValueError(
            f"phase must lie within {CREST_WINDOW:g} degrees of the crest at 90 or 270, "
            f"got {phase!r}"
        )
    moments, values = finite("time", time), finite("current", current)
    if moments.ndim != 1 or moments.shape != values.shape or not (np.diff(moments) > 0).all():
        raise ValueError("time must rise and be as long as current, each of shape (n,)")
    omega = 2 * np.pi * float(positive("mains_frequency", mains_frequency))
    crest = np.sqrt(2) * float(positive("mains_voltage", mains_voltage))
    cut = _cut(moments, values, np.pi / 2 / omega)
    first, last = cut.contact_span

    def residual(parameters: Floats, noise: float, *moved: float) -> Any:
        """Misfit over noise; the parameters are contact in its span, ln R, ln C."""
        gain, volts, fall, angle = moved
        place, series, bulk = parameters[0], *np.exp(parameters[1:])
        source = (mains_voltage + volts, mains_frequency)
        solved = crest_circuit(*source, series, bulk, drop + fall, np.radians(late + angle))
        since = omega * (cut.time - first - place * (last - first))
        model = np.where(since < solved.stop, solved.current(since), 0.0)
        # A place anywhere in the span has the standard deviation 1/sqrt(12).
        return np.append((model - (1 + gain) * cut.current) / noise, (place - 0.5) * 12**0.5)

    start = (crest - float(not_negative("drop", drop))) / cut.current[0]
    fallen = cut.time[np.argmax(cut.current < cut.current[0] / np.e)] - cut.time[0]
    guess = np.array([0.5, np.log(start), np.log(fallen / start)])
    reach = np.array([0.5, 2.0, 2.0])
    low, high = guess - reach, guess + reach
    flows = cut.current > 0.02 * cut.current[0]

    def solve(*moved: float) -> tuple[Any, float]:
        """Least squares, and its rms misfit while the current flows. [A]."""
        noise, inside = cut.noise, guess
        # The second time with the misfit as noise, so that a circuit that fits badly does not
        # drag the instant of contact to an end of its span.
        for _ in range(2):
            inside = np.clip(inside, low + 1e-3, high - 1e-3)
            limits, scale = (low, high), [1, 0.1, 0.1]
            solved = least_squares(
                residual, inside, bounds=limits, x_scale=scale, args=(noise, *moved)
            )
            rms = float(np.sqrt(np.mean((noise * solved.fun[:-1][flows]) ** 2)))
            inside, noise = solved.x, max(noise, rms)
        return solved, rms

    found, rms = solve(0.0, 0.0, 0.0, 0.0)
    series, bulk = np.exp(found.x[1:])
    top = (crest * np.cos(np.radians(late)) - drop) / series
    if not found.success or rms > 0.2 * top:
        raise ValueError(
            f"current fits no surge of one resistance and one capacitance: the best leaves "
            f"{rms:.3g} A of {top:.3g} A"
        )
    spread = np.linalg.inv(found.jac.T @ found.jac)
    for index, (name, uncertainty) in enumerate(
        (
            ("gain_uncertainty", gain_uncertainty),
            ("mains_voltage_uncertainty", mains_voltage_uncertainty),
            ("drop_uncertainty", drop_uncertainty),
            ("phase_uncertainty", phase_uncertainty),
        )
    ):
        size = float(not_negative(name, uncertainty))
        if size > 0:
            shift = solve(*(size * (place == index) for place in range(4)))[0].x - found.x
            spread = spread + np.outer(shift, shift)
    relative = np.sqrt(np.diag(spread)[1:])
    reach = coverage_factor(coverage) * relative
    return SurgeFit(
        resistance=float(series),
        capacitance=float(bulk),
        resistance_uncertainty=float(series * relative[0]),
        capacitance_uncertainty=float(bulk * relative[1]),
        resistance_interval=(float(series * (1 - reach[0])), float(series * (1 + reach[0]))),
        capacitance_interval=(float(bulk * (1 - reach[1])), float(bulk * (1 + reach[1]))),
        correlation=float(spread[1, 2] / (relative[0] * relative[1])),
        contact_time=float(first + found.x[0] * (last - first)),
        residual=rms,
        relative_residual=float(rms / top),
        polarity=cut.polarity,
    )
