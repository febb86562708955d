"""Whether a core is large enough, and used well.

Where saturation and copper loss decide: `core_geometry_constant` against
`required_core_geometry_constant`. Where core loss and copper loss decide:
`optimum_flux_density`.
"""

from numpy.typing import ArrayLike

from adapterlab.numerics.arguments import Numbers, fraction, plain, positive
from adapterlab.transformer.core import Core


def core_geometry_constant(
    core_area: ArrayLike, window_area: ArrayLike, mean_turn_length: ArrayLike
) -> Numbers:
    r"""What a core can do where copper loss and saturation decide.

    Parameters
    ----------
    core_area, window_area : float or array_like
        Cross-section of the core and of the bobbin's window. [m²]  Must be > 0.
    mean_turn_length : float or array_like
        Length of one turn. [m]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Constant. [m⁵], broadcast shape

    Raises
    ------
    ValueError
        If an argument is not above zero.

    Notes
    -----
    .. math:: K_g = \frac{A^2 W}{l}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 11.2.

    Examples
    --------
    >>> core_geometry_constant(1.09e-4, 0.476e-4, 66e-3) * 1e10
    0.0857
    """
    area = positive("core_area", core_area)
    turn = positive("mean_turn_length", mean_turn_length)
    return plain(area**2 * positive("window_area", window_area) / turn)


def required_core_geometry_constant(
    magnetising_inductance: ArrayLike,
    total_current: ArrayLike,
    peak_current: ArrayLike,
    peak_flux_density: ArrayLike,
    copper_loss: ArrayLike,
    fill: ArrayLike,
    resistivity: ArrayLike = 1.7241e-8,
) -> Numbers:
    r"""Least core geometry constant for a gapped transformer of several windings.

    Parameters
    ----------
    magnetising_inductance : float or array_like
        Seen from the primary. [H]  Must be > 0.
    total_current : float or array_like
        Rms currents of all windings, each times its turns over those of the primary, added up.
        [A]  Must be > 0.
    peak_current : float or array_like
        Peak of the magnetising current. [A]  Must be > 0.
    peak_flux_density : float or array_like
        Flux density allowed at that peak. [T]  Must be > 0.
    copper_loss : float or array_like
        Copper loss allowed. [W]  Must be > 0.
    fill : float or array_like
        Share of the window that is copper. [1]  Above 0, at most 1.
    resistivity : float or array_like, optional
        Of the copper. [ohm·m]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Constant a core must reach. [m⁵], broadcast shape

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed.

    Notes
    -----
    .. math:: K_g \ge \frac{\rho L^2 I_{tot}^2 \hat I^2}{\hat B^2 P K_u}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., eq. 11.58-11.90,
    pp. 474-481.

    Examples
    --------
    >>> need = required_core_geometry_constant(1.07e-3, 1.77, 1.5, 0.25, 1.5, 0.3, 1.724e-8)
    >>> need * 1e10
    0.049
    """
    product = (
        positive("magnetising_inductance", magnetising_inductance)
        * positive("total_current", total_current)
        * positive("peak_current", peak_current)
        / positive("peak_flux_density", peak_flux_density)
    )
    share = positive("copper_loss", copper_loss) * fraction("fill", fill)
    return plain(positive("resistivity", resistivity) * product**2 / share)


def optimum_flux_density(
    volt_seconds: ArrayLike,
    total_current: ArrayLike,
    core: Core,
    fill: ArrayLike,
    loss_coefficient: ArrayLike,
    flux_exponent: ArrayLike,
    resistivity: ArrayLike = 1.7241e-8,
) -> Numbers:
    r"""Amplitude of the flux density at which core loss and copper loss together are least.

    Parameters
    ----------
    volt_seconds : float or array_like
        Area of one half wave of the primary voltage. [V·s]  Must be > 0.
    total_current : float or array_like
        As in `required_core_geometry_constant`. [A]  Must be > 0.
    core : Core
        A core whose window and mean turn are known.
    fill : float or array_like
        Share of the window that is copper. [1]  Above 0, at most 1.
    loss_coefficient : float or array_like
        Loss density at 1 T and the frequency in use. [W/m³]  Must be > 0.
    flux_exponent : float or array_like
        Exponent of the flux density. [1]  Must be > 0.
    resistivity : float or array_like, optional
        Of the copper. [ohm·m]  Must be > 0.

    Returns
    -------
    float or numpy.ndarray
        Amplitude. [T], broadcast shape; turns follow as volt_seconds over twice amplitude and area

    Raises
    ------
    ValueError
        If an argument lies outside what is allowed, or the core's window is not known.

    Notes
    -----
    .. math::
        \hat B = \left[\frac{\rho \lambda^2 I_{tot}^2}{2 K_u}\,\frac{l}{W A^3 l_m}\,
        \frac{1}{\beta K}\right]^{1/(\beta + 2)}

    References
    ----------
    R. W. Erickson, D. Maksimovic, Fundamentals of Power Electronics, 3rd ed., sec. 12.3,
    pp. 492-499.

    Examples
    --------
    >>> from adapterlab.transformer.core import core_named
    >>> optimum_flux_density(62.5e-6, 8, core_named("2213 pot"), 0.5, 24.7e6, 2.6)
    0.0858
    """
    if not isinstance(core, Core) or core.window_area is None or core.mean_turn_length is None:
        raise ValueError(f"core must be one whose window and mean turn are known, got {core!r}")
    beta = positive("flux_exponent", flux_exponent)
    drive = positive("volt_seconds", volt_seconds) * positive("total_current", total_current)
    shape = core.mean_turn_length / (core.window_area * core.core_area**3 * core.path_length)
    loss = positive("loss_coefficient", loss_coefficient) * beta
    copper = positive("resistivity", resistivity) / (2 * fraction("fill", fill))
    return plain((copper * drive**2 * shape / loss) ** (1 / (beta + 2)))
