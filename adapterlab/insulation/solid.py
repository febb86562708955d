"""Insulation without air in it, and the voltages that stress it.

`required_thickness` and `required_layers` for solids and tape, `strength_test_voltage` for the
laboratory's test, `primary_working_voltage` for what the barrier carries in use.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, finite, not_negative, one_of, plain, positive
from adapterlab.published import rows

_INSULATIONS = ("functional", "basic", "supplementary", "reinforced")


def required_thickness(insulation: str) -> float:
    """Least thickness of insulation in one piece.

    Parameters
    ----------
    insulation : str
        ``functional``, ``basic``, ``supplementary`` or ``reinforced``.

    Returns
    -------
    float
        Distance through the insulation. [m]  0 where nothing is asked for but the electric
        strength.

    Raises
    ------
    ValueError
        If the word is not one of the four.

    References
    ----------
    IEC 60950-1:2005, 2.10.5.2 (``published/insulation.toml``, table ``thicknesses``).

    Examples
    --------
    >>> required_thickness("reinforced") * 1e3
    0.4
    """
    one_of("insulation", insulation, _INSULATIONS)
    table = rows("insulation", "thicknesses", insulation=insulation)
    return float(table[0]["distance"]) * 1e-3 if table else 0.0


def required_layers(insulation: str, rule: str = "iec-60950-1") -> int:
    """Least number of thin sheets, such as layers of tape, that may stand for solid insulation.

    Parameters
    ----------
    insulation : str
        ``supplementary`` or ``reinforced``.
    rule : str, optional
        ``iec-60950-1`` (each layer alone passes the test for the whole), ``iec-60950-1-pairs``
        (every two layers together pass it) or ``iec-60335-1``.

    Returns
    -------
    int
        Number of layers. [1]

    Raises
    ------
    ValueError
        If a word is not known, or the rule has no such insulation.

    References
    ----------
    IEC 60950-1:2005, 2.10.5.7; IEC 60335-1, 29.3 (table ``sheets``).

    Examples
    --------
    >>> required_layers("reinforced"), required_layers("reinforced", "iec-60950-1-pairs")
    (2, 3)
    """
    table = rows("insulation", "sheets")
    one_of("rule", rule, dict.fromkeys(row["rule"] for row in table))
    one_of("insulation", insulation, ("supplementary", "reinforced"))
    return int(rows("insulation", "sheets", rule=rule, insulation=insulation)[0]["layers"])


def strength_test_voltage(
    insulation: str, peak_voltage: float = 420.0, rule: str = "iec-62368-1"
) -> float:
    """Voltage of the electric-strength test that a laboratory applies.

    Parameters
    ----------
    insulation : str
        ``basic``, ``supplementary`` or ``reinforced``.
    peak_voltage : float, optional
        Peak of the working voltage on a mains of up to 300 V. [V]  Above 0, at most 420.
    rule : str, optional
        ``iec-62368-1`` (direct voltage) or ``iec-60950-1`` (rms of an alternating one).

    Returns
    -------
    float
        Test voltage. [V]  Direct or rms, as `rule` says.

    Raises
    ------
    ValueError
        If a word is not known, or the working voltage lies above what the row covers.

    Notes
    -----
    This is no test for a home bench: it is lethal, it needs a current-limited source and a
    screened fixture, and it wears the insulation it tests.

    References
    ----------
    IEC 60950-1:2005, table 5B; IEC 62368-1, table 25 (table ``strength_tests``).

    Examples
    --------
    >>> strength_test_voltage("reinforced"), strength_test_voltage("reinforced", 420, "iec-60950-1")
    (4000.0, 3000.0)
    """
    one_of("rule", rule, ("iec-62368-1", "iec-60950-1"))
    one_of("insulation", insulation, ("basic", "supplementary", "reinforced"))
    row = rows("insulation", "strength_tests", rule=rule, insulation=insulation)[0]
    if float(positive("peak_voltage", peak_voltage)) > row["peak_voltage"]:
        raise ValueError(
            f"peak_voltage must be at most {row['peak_voltage']:g} V, got {peak_voltage!r}"
        )
    return float(row["voltage"])


@dataclass(frozen=True)
class WorkingVoltage:
    """Voltage across the barrier in use.

    Attributes
    ----------
    rms : float or numpy.ndarray
        Root mean square, which counts for creepage. [V], broadcast shape
    peak : float or numpy.ndarray
        Largest magnitude, which counts for clearance. [V], same shape
    """

    rms: Numbers
    peak: Numbers


def primary_working_voltage(
    mains_voltage: ArrayLike,
    reflected_voltage: ArrayLike = 0.0,
    duty_cycle: ArrayLike = 0.0,
    spike_voltage: ArrayLike = 0.0,
) -> WorkingVoltage:
    r"""Voltage between a point on the primary side and an earthed output.

    Parameters
    ----------
    mains_voltage : float or array_like
        Rms voltage of the mains, one pole earthed. [V]  Must be > 0.
    reflected_voltage : float or array_like, optional
        Output voltage times turns ratio. [V]  0 for a rail behind the bridge instead of the
        switching end of the transformer.
    duty_cycle : float or array_like, optional
        Share of the period for which the switch is closed. [1]  From 0 up to, not including, 1.
    spike_voltage : float or array_like, optional
        What the leakage spike adds to the peak. [V]  Its share of the rms is left out.

    Returns
    -------
    WorkingVoltage
        Rms and peak. [V]

    Raises
    ------
    ValueError
        If an argument is out of range, or only one of `reflected_voltage` and `duty_cycle` is 0.

    Notes
    -----
    Behind an ideal bridge whose reservoir stands at the crest :math:`\hat V`, the negative rail
    rests at 0 and at :math:`-\hat V` for a quarter of the period each and follows the mains in
    between: mean :math:`-\hat V/2`, mean square :math:`(3/4 - 1/\pi)\hat V^2`. On top of it the
    switching end swings between 0 and :math:`\hat V + V_R`, with a mean of :math:`\hat V`
    because no winding keeps a mean voltage, so that together

    .. math:: V_\text{rms}^2 = (3/4 - 1/\pi)\hat V^2 + D\,\hat V(\hat V + V_R)

    for continuous and discontinuous current alike; ringing in the idle time adds a little. The
    highest point is :math:`\hat V + V_R` and the spike.

    References
    ----------
    Derived in ``notebooks/10_insulation.ipynb``. A test-laboratory report lists 530 V peak and
    281 V rms for such a transformer.

    Examples
    --------
    >>> rail, winding = primary_working_voltage(240), primary_working_voltage(240, 90, 0.2)
    >>> print(f"rail {rail.rms:.0f} V, winding {winding.rms:.0f} V rms and {winding.peak:.0f} V")
    rail 223 V, winding 281 V rms and 429 V
    """
    crest = np.sqrt(2) * positive("mains_voltage", mains_voltage)
    reflected = not_negative("reflected_voltage", reflected_voltage)
    spike = not_negative("spike_voltage", spike_voltage)
    duty = finite("duty_cycle", duty_cycle)
    if np.any((duty < 0) | (duty >= 1)):
        raise ValueError(f"duty_cycle must lie in [0, 1), got {duty_cycle!r}")
    if np.any((duty == 0) != (reflected == 0)):
        raise ValueError(
            "reflected_voltage and duty_cycle must be given together, got "
            f"{reflected_voltage!r} and {duty_cycle!r}"
        )
    square = (0.75 - 1 / np.pi) * crest**2 + duty * crest * (crest + reflected)
    peak = np.broadcast_to(
        crest + reflected + spike, np.broadcast_shapes(square.shape, spike.shape)
    )
    return WorkingVoltage(plain(np.sqrt(square + 0 * spike)), plain(np.array(peak)))
