"""The ripple of an oscilloscope record: its size, its spectrum, the part at a known frequency."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import fft, signal

from adapterlab.numerics.arguments import Bools, Floats, Numbers, finite, plain, positive

# Windows between two readings of the extremes: at least so many, each of at least so many samples.
_WINDOWS, _SAMPLES = 24, 8
# A window stands out if its extreme lies so many robust deviations outside the usual ones.
_APART = 6.0
# Spikes are isolated: no more than this share of the windows, at most two windows each.
_RARE, _RUN = 0.05, 2


@dataclass(frozen=True)
class RippleReading:
    """Ripple of a record.

    Attributes
    ----------
    peak_to_peak : float
        Largest less smallest value, isolated spikes set aside. [V]
    rms : float
        Root mean square about the mean, isolated spikes set aside. [V]
    peak_to_peak_with_spikes : float
        Largest less smallest value of all samples. [V]
    spikes : int
        Isolated spikes that were set aside. [1]
    frequency : float
        Frequency of the strongest component above a kilohertz or, if there is none, of the
        strongest. [Hz]
    """

    peak_to_peak: float
    rms: float
    peak_to_peak_with_spikes: float
    spikes: int
    frequency: float


@dataclass(frozen=True)
class RippleSpectrum:
    """Amplitudes of the components of a record.

    Attributes
    ----------
    frequency : numpy.ndarray
        Frequencies, 0 left out. [Hz], shape (m,)
    amplitude : numpy.ndarray
        Peak amplitude of a sine at each. [V], shape (m,)
    resolution : float
        Equivalent noise bandwidth of one line. [Hz]
    """

    frequency: Floats
    amplitude: Floats
    resolution: float


@dataclass(frozen=True)
class SineAmplitude:
    """One sine of known frequency in a record.

    Attributes
    ----------
    amplitude, standard_uncertainty : float
        Peak amplitude and its standard uncertainty from the scatter of period to period. [V]
    phase : float
        Angle of the sine at the first sample. [degree]
    """

    amplitude: float
    standard_uncertainty: float
    phase: float


def _record(time: ArrayLike, voltage: ArrayLike, least: int) -> tuple[Floats, Floats, float]:
    """Times, volts and the sampling interval of an evenly sampled record."""
    instants, volts = finite("time", time), finite("voltage", voltage)
    if instants.ndim != 1 or instants.shape != volts.shape:
        raise ValueError(
            f"time and voltage must be rows of one length, got shapes {instants.shape} and "
            f"{volts.shape}"
        )
    if len(instants) < least:
        raise ValueError(f"time must hold at least {least} samples, got {len(instants)}")
    interval = float(instants[-1] - instants[0]) / (len(instants) - 1)
    steps = np.diff(instants)
    if not steps.min() > 0:
        raise ValueError(
            f"time must rise, got {instants[int(np.argmin(steps > 0))]:g} s followed by "
            f"{instants[int(np.argmin(steps > 0)) + 1]:g} s"
        )
    if steps.max() > 1.5 * interval or steps.min() < 0.5 * interval:
        raise ValueError(
            f"time must rise in even steps, got steps from {steps.min():g} to {steps.max():g} s"
        )
    return instants, volts, interval


def _strongest(volts: Floats, interval: float) -> float:
    """Frequency of the strongest line of the first part of a record."""
    piece = volts[: 2**17]
    size = fft.next_fast_len(len(piece), real=True)
    lines = np.abs(fft.rfft((piece - piece.mean()) * np.hanning(len(piece)), size))
    frequency = fft.rfftfreq(size, interval)
    fast = (frequency > 1e3) & (frequency > 3 / (len(piece) * interval))
    chosen = fast if fast.any() and lines[fast].max() > 1e-3 * lines[1:].max() else frequency > 0
    return float(frequency[chosen][lines[chosen].argmax()])


def _outliers(extremes: Floats) -> Bools:
    """Which windows stand out upwards and are isolated enough to be spikes."""
    middle = np.median(extremes)
    spread = 1.4826 * np.median(np.abs(extremes - middle))
    # Digitised and noise-free records may have no spread at all: any excess then counts.
    spread = max(spread, 1e-9 * float(np.abs(extremes).max()), 1e-3 * float(np.ptp(extremes)))
    return np.asarray(extremes > middle + _APART * spread)


def _isolated(out: Bools) -> tuple[Bools, int]:
    """Outlying windows in short and rare runs, and how many runs."""
    edges = np.diff(np.concatenate([[0], out.astype(int), [0]]))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    short = ends - starts <= _RUN
    if short.sum() > max(_RARE * len(out), 1):
        return np.zeros_like(out), 0
    kept = np.zeros_like(out)
    for start, end in zip(starts[short], ends[short], strict=True):
        kept[start:end] = True
    return kept, int(short.sum())


def measure_ripple(time: ArrayLike, voltage: ArrayLike) -> RippleReading:
    """Peak-to-peak and rms ripple of a record, isolated spikes set aside.

    Parameters
    ----------
    time : array_like
        Instants, rising evenly. [s], shape (n,), at least 200 samples
    voltage : array_like
        Output voltage or its alternating part. [V], shape (n,)

    Returns
    -------
    RippleReading
        Sizes with and without spikes.

    Raises
    ------
    ValueError
        If the record is too short, not finite, or not sampled evenly.

    Notes
    -----
    The record is cut into windows of about one period of the strongest fast component, at least
    24. A window whose extreme lies more than 6 robust standard deviations beyond the median of
    all windows holds a spike, if such windows come alone or in pairs and make up no more than a
    twentieth of all: what recurs in every period is ripple, a burst of many periods is ripple
    too. Windows with spikes are left out of `peak_to_peak` and `rms`.

    The reading is that of the bandwidth of the record; state it (20 MHz by convention), and the
    capacitors at the probe.

    References
    ----------
    Bandwidth and probe: makers' convention (common practice).

    Examples
    --------
    >>> time = np.arange(20000) * 1e-7
    >>> wave = 0.02 * np.sin(2 * np.pi * 65e3 * time)
    >>> wave[7000] += 0.3
    >>> reading = measure_ripple(time, wave)
    >>> reading.peak_to_peak, reading.spikes
    (0.0400, 1)
    """
    _, volts, interval = _record(time, voltage, _WINDOWS * _SAMPLES + 8)
    frequency = _strongest(volts, interval)
    width = int(np.clip(round(1 / (frequency * interval)), _SAMPLES, len(volts) // _WINDOWS))
    windows = len(volts) // width
    body, rest = volts[: windows * width].reshape(windows, width), volts[windows * width :]
    high, low = body.max(axis=1), body.min(axis=1)
    both, count = _isolated(_outliers(high) | _outliers(-low))
    kept = body[~both]
    top, bottom = high[~both].max(), low[~both].min()
    everything = float(np.ptp(volts))
    if count == 0 and len(rest):
        top, bottom = max(top, rest.max()), min(bottom, rest.min())
    return RippleReading(float(top - bottom), float(kept.std()), everything, count, frequency)


def _window(name: str, count: int) -> Floats:
    try:
        return np.asarray(signal.get_window(name, count, fftbins=True), dtype=float)
    except ValueError:
        raise ValueError(
            f"window must be one that scipy.signal.get_window knows, got {name!r}"
        ) from None


def equivalent_noise_bandwidth(window: str, samples: int) -> float:
    r"""Width of a line of a spectrum, in lines, for noise.

    Parameters
    ----------
    window : str
        Name as in `scipy.signal.get_window`, such as ``hann``.
    samples : int
        Length of the window. [1]  At least 2.

    Returns
    -------
    float
        Bandwidth. [lines]

    Raises
    ------
    ValueError
        If the window is unknown or shorter than two samples.

    Notes
    -----
    .. math:: B = n \sum w^2 / (\sum w)^2

    References
    ----------
    F. J. Harris, Proc. IEEE 66 (1978) 51, Table I.

    Examples
    --------
    >>> equivalent_noise_bandwidth("hann", 1000)
    1.50
    """
    if samples < 2:
        raise ValueError(f"samples must be at least 2, got {samples!r}")
    weights = _window(window, samples)
    return float(samples * (weights @ weights) / weights.sum() ** 2)


def ripple_spectrum(time: ArrayLike, voltage: ArrayLike, window: str = "hann") -> RippleSpectrum:
    r"""Amplitude spectrum of a record.

    Parameters
    ----------
    time : array_like
        Instants, rising evenly. [s], shape (n,), at least 16 samples
    voltage : array_like
        Output voltage or its alternating part. [V], shape (n,)
    window : str, optional
        Name as in `scipy.signal.get_window`.

    Returns
    -------
    RippleSpectrum
        Peak amplitudes, so that a sine shows its own.

    Raises
    ------
    ValueError
        If the record is too short, not finite, or not sampled evenly, or the window is unknown.

    Notes
    -----
    .. math:: A_k = \frac{2}{\sum w} \left|\sum_j w_j v_j e^{-2\pi i jk/n}\right|

    A sine between two lines shows less, with the Hann window up to 15 % (1.42 dB). Anything above
    half the sampling rate appears at a wrong frequency unless the instrument limited its bandwidth.

    References
    ----------
    F. J. Harris, Proc. IEEE 66 (1978) 51.

    Examples
    --------
    >>> time = np.arange(1000) * 1e-6
    >>> found = ripple_spectrum(time, 0.02 * np.sin(2 * np.pi * 50e3 * time))
    >>> top = found.amplitude.argmax()
    >>> print(f"{found.amplitude[top]:.3f} V at {found.frequency[top]:.0f} Hz")
    0.020 V at 50000 Hz
    """
    _, volts, interval = _record(time, voltage, 16)
    count = len(volts)
    weights = _window(window, count)
    lines = fft.rfft((volts - volts.mean()) * weights)
    amplitude = 2 * np.abs(lines) / weights.sum()
    if count % 2 == 0:
        amplitude[-1] /= 2
    width = equivalent_noise_bandwidth(window, count) / (count * interval)
    return RippleSpectrum(fft.rfftfreq(count, interval)[1:], amplitude[1:], width)


def sine_amplitude(time: ArrayLike, voltage: ArrayLike, frequency: float) -> SineAmplitude:
    r"""Amplitude of the component at a known frequency, such as twice that of the mains.

    Parameters
    ----------
    time : array_like
        Instants, rising evenly. [s], shape (n,)
    voltage : array_like
        Output voltage or its alternating part. [V], shape (n,)
    frequency : float
        Frequency looked for. [Hz]  Must be > 0; the record must hold at least one period of it.

    Returns
    -------
    SineAmplitude
        Amplitude with uncertainty.

    Raises
    ------
    ValueError
        If the record is too short, not finite or not sampled evenly, or the frequency is not
        between one over its length and half the sampling rate.

    Notes
    -----
    Least squares for mean, sine and cosine over a whole number of periods. The uncertainty is
    that of averaging everything else in 32 blocks, and grows where slow drift is left.

    References
    ----------
    JCGM 100:2008, H.3 (least squares); twice the mains frequency: ripple of the bulk capacitor.

    Examples
    --------
    >>> time = np.arange(20000) * 1e-6
    >>> sine_amplitude(time, 0.002 * np.sin(2 * np.pi * 100 * time), 100).amplitude
    0.002
    """
    instants, volts, interval = _record(time, voltage, 16)
    wanted = float(positive("frequency", frequency))
    length = len(volts) * interval
    if wanted * length < 1 - 1e-3 or wanted > 0.5 / interval:
        raise ValueError(
            f"frequency must lie between {1 / length:.3g} and {0.5 / interval:.3g} Hz for this "
            f"record, got {frequency!r}"
        )
    periods = max(int(wanted * length + 1e-3), 1)
    count = min(round(periods / wanted / interval), len(volts))
    angle = 2 * np.pi * wanted * (instants[:count] - instants[0])
    columns = np.column_stack([np.ones(count), np.sin(angle), np.cos(angle)])
    solution = np.linalg.solve(columns.T @ columns, columns.T @ volts[:count])
    left = volts[:count] - columns @ solution
    blocks = np.array([part.mean() for part in np.array_split(left, min(32, count))])
    spread = float(blocks.std(ddof=1) * np.sqrt(2 / len(blocks)))
    return SineAmplitude(
        float(np.hypot(solution[1], solution[2])),
        spread,
        float(np.degrees(np.arctan2(solution[2], solution[1]))),
    )


def limit_bandwidth(time: ArrayLike, voltage: ArrayLike, bandwidth: float) -> Numbers:
    r"""A record as an oscilloscope with a bandwidth limit of one pole would have shown it.

    Parameters
    ----------
    time : array_like
        Instants, rising evenly. [s], shape (n,)
    voltage : array_like
        Output voltage or its alternating part, with a wider bandwidth. [V], shape (n,)
    bandwidth : float
        Frequency where the amplitude has fallen to 0.707. [Hz]  Above 0, below half the
        sampling rate.

    Returns
    -------
    numpy.ndarray
        Filtered record. [V], shape (n,)

    Raises
    ------
    ValueError
        If the record is not finite or not sampled evenly, or too coarse for the bandwidth.

    Notes
    -----
    One pole by the bilinear transform, its corner kept in place:

    .. math:: |H(f)| = 1/\sqrt{1 + (f/f_c)^2}

    for frequencies well below half the sampling rate. The filter starts at the first value.

    References
    ----------
    A first-order low-pass; 20 MHz is makers' convention (common practice).

    Examples
    --------
    >>> time = np.arange(4000) * 1e-9
    >>> wave = np.sin(2 * np.pi * 20e6 * time)
    >>> print(f"{limit_bandwidth(time, wave, 20e6)[2000:].max():.2f}")
    0.71
    """
    _, volts, interval = _record(time, voltage, 4)
    corner = float(positive("bandwidth", bandwidth))
    if corner >= 0.5 / interval:
        raise ValueError(
            f"bandwidth must be below half the sampling rate, {0.5 / interval:.3g} Hz, got "
            f"{bandwidth!r}"
        )
    numerator, denominator = signal.butter(1, corner, fs=1 / interval)
    start = signal.lfilter_zi(numerator, denominator) * volts[0]
    return plain(signal.lfilter(numerator, denominator, volts, zi=start)[0])
