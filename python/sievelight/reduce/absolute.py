# SPDX-License-Identifier: GPL-3.0-or-later
"""Background, transmission, thickness and absolute scale: from averaged counts to 1/cm."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import (
    Absolute,
    AbsoluteScale,
    Averaged,
    BackgroundFactor,
    CapillaryShape,
    Curve,
    DetectorGeometry,
    Factor,
    Frame,
    IntensityStandard,
    Measured,
    OverSubtraction,
    PlateShape,
    PowderMass,
    ScatteringProbability,
    Transmission,
)
from sievelight.reduce import arguments
from sievelight.reduce.arguments import Floats, Pair
from sievelight.reduce.average import average_options


def absolute_curve(
    sample: Averaged | Measured | Curve,
    *,
    name: str | None = None,
    transmission: Transmission | Factor | float | None = None,
    background: Averaged | Measured | Curve | None = None,
    background_name: str | None = None,
    background_transmission: Transmission | Factor | float | None = None,
    background_scale: Factor | BackgroundFactor | float = 1.0,
    background_scale_u: float = 0.0,
    thickness_mm: float | None = None,
    thickness_u_mm: float = 0.0,
    absolute_scale: AbsoluteScale | Factor | float | None = None,
    powder: PowderMass | None = None,
    shape: PlateShape | CapillaryShape | None = None,
    wavelength_nm: float = 0.0,
    off: Sequence[str] = (),
) -> Absolute:
    """dSigma/dOmega of a sample: I = (k/d) (1/C) [S_s/T_s - o f S_b/T_b].

    Parameters
    ----------
    sample, background : Averaged, Measured or Curve
        On the same bin edges. The background's counts become the pointwise cause ``"counts: <background>"``.
    transmission, background_transmission
        With everything in the beam, relative to the empty beam; 1 with a note where absent.
    background_scale, background_scale_u
        f; a number with u becomes the coherent cause ``"background scale: <background>"``.
    thickness_mm, thickness_u_mm
        d; cause ``"thickness: <sample>"``. Leave it out for a curve per sample instead of per cm.
    absolute_scale
        k from :func:`absolute_scale`; 1.0 says that S is absolute already (a flux was given).
    powder : PowderMass, optional
        Instead of a thickness: mass per area, weighed or from :func:`powder_mass`; the curve is then in cm2/g, or in 1/cm
        where the density is known.
    shape : PlateShape or CapillaryShape, optional
        Self-absorption at an angle (and, of a plate, the walls' obliquity); needs the transmission and
        ``wavelength_nm``. Of a capillary the thickness is its inner diameter.
    off : sequence of str
        Steps to leave out although they are known, by the names of :func:`reduction_steps`.

    Returns
    -------
    Absolute
        ``curve`` in 1/cm (relative where thickness or scale is missing), ``steps``, ``notes``.

    Raises
    ------
    InputError
        Curves without a common bin, a transmission, thickness or scale that is not above zero, self-absorption or a
        powder's composition without a transmission, or a step that cannot be switched off.

    Notes
    -----
    B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800; ISO 17867.

    Examples
    --------
    >>> import sievelight as sl
    >>> map, mask = sl.pixel_map(sl.examples.geometry(), 96, 96), sl.examples.mask()
    >>> averager = sl.Averager(map, edges_per_nm=sl.make_bins(map, mask=mask, bins=30), mask=mask)
    >>> flux = {"flux_per_s": 2e6, "flux_relative_u": 0.01}  # photons at the sample
    >>> tile = averager.average(sl.examples.frame(), name="tile", **flux)
    >>> cell = averager.average(sl.examples.background(), name="cell", **flux)
    >>> done = sl.absolute_curve(
    ...     tile, transmission=0.4, background=cell, thickness_mm=1.0, thickness_u_mm=0.01, absolute_scale=1.0
    ... )
    >>> done.curve.unit, sorted(done.curve.causes)
    ('1/cm', ['counts: cell', 'flux', 'thickness: tile'])
    """
    taken = None
    if background is not None:
        taken = arguments.measured(background, background_name or "background", background_transmission)
    scale = arguments.factor(background_scale)
    if background_scale_u:
        id = f"background scale: {taken.name if taken else 'background'}"
        scale = Factor(scale.value, {**scale.causes, id: background_scale_u})
    return _core.absolute_curve(
        arguments.measured(sample, name or "sample", transmission),
        taken,
        thickness_mm=thickness_mm,
        thickness_u_mm=thickness_u_mm,
        absolute_scale=None if absolute_scale is None else arguments.factor(absolute_scale),
        background_scale=scale,
        powder=powder,
        shape=shape,
        wavelength_nm=wavelength_nm,
        off=list(off),
    )


def fit_background_factor(
    sample: Averaged | Measured | Curve,
    background: Averaged | Measured | Curve,
    q_low_per_nm: float,
    q_high_per_nm: float,
    *,
    name: str | None = None,
    background_name: str | None = None,
    transmission: Transmission | Factor | float | None = None,
    background_transmission: Transmission | Factor | float | None = None,
) -> BackgroundFactor:
    """The factor that brings the background onto the sample where the sample is taken not to scatter.

    For files that give neither transmission nor the background's monitor; give the result to :func:`absolute_curve` as
    ``background_scale``.

    Parameters
    ----------
    sample, background : on the same bin edges.
    q_low_per_nm, q_high_per_nm : where the sample is taken not to scatter, 1/nm.
    name, background_name, transmission, background_transmission : as for :func:`absolute_curve`.

    Returns
    -------
    BackgroundFactor
        ``factor``, ``u``, ``chi2_per_point``; ``note`` says what was assumed, for the findings.

    Raises
    ------
    InputError
        Different q, or a background without intensity there.

    Notes
    -----
    Weighted least squares (textbook).

    Examples
    --------
    >>> import sievelight as sl
    >>> map, mask = sl.pixel_map(sl.examples.geometry(), 96, 96), sl.examples.mask()
    >>> averager = sl.Averager(map, edges_per_nm=sl.make_bins(map, mask=mask, bins=30), mask=mask)
    >>> tile = averager.average(sl.examples.frame(), name="tile")
    >>> cell = averager.average(sl.examples.background(), name="cell")
    >>> found = sl.reduce.fit_background_factor(tile, cell, 3.0, 4.6)
    >>> round(found.factor.value, 1)  # the transmission, 0.4, and what the spheres still scatter there
    0.4
    """
    return _core.fit_background_factor(
        arguments.measured(sample, name or "sample", transmission),
        arguments.measured(background, background_name or "background", background_transmission),
        q_low_per_nm,
        q_high_per_nm,
    )


def over_subtracted(curve: Curve, *, run: int = 10) -> OverSubtraction:
    """Whether a subtraction took too much: the most negative run of neighbouring bins, in its uncertainties.

    Parameters
    ----------
    curve : after the subtraction.
    run : neighbouring bins that are judged together.

    Returns
    -------
    OverSubtraction
        ``significant``, ``lowest_z``, its ``q_range_per_nm`` and the ``negative_share`` of the points.

    Raises
    ------
    InputError
        A run below 1.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> q = np.linspace(0.1, 3, 60)
    >>> curve = sl.Curve(q_per_nm=q, intensity=np.where(q < 2, 1.0, -0.3), private_u=np.full(60, 0.1))
    >>> sl.reduce.over_subtracted(curve).significant
    True
    """
    return _core.over_subtracted(curve, run)


def powder_mass(
    *,
    composition: str | None = None,
    wavelength_nm: float = 0.0,
    per_area_g_per_cm2: float | Pair | None = None,
    density_g_per_cm3: float | Pair | None = None,
    name: str = "sample",
) -> PowderMass:
    """Mass per area of a powder whose packing is not known.

    Parameters
    ----------
    composition, wavelength_nm
        m_A = -ln T / (mu/rho), T of the sample alone; mu/rho carries 2 % as the cause ``"mass attenuation:
        <composition>"``, common to all samples of it.
    per_area_g_per_cm2 : number or (value, u)
        Weighed; goes before the composition. Cause ``"mass per area: <name>"``.
    density_g_per_cm3 : number or (value, u), optional
        Of the volume that the curve shall speak of (grain or bulk). Cause ``"density: <name>"``.

    Returns
    -------
    PowderMass
        For :func:`absolute_curve`.

    Raises
    ------
    InputError
        A composition or wavelength that is not in the tables.

    Notes
    -----
    B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201; Beer-Lambert.

    Examples
    --------
    >>> import sievelight as sl
    >>> mass = sl.reduce.powder_mass(composition="SiO2", wavelength_nm=0.154, density_g_per_cm3=(2.2, 0.02))
    >>> list(mass.attenuation_cm2_per_g.causes), list(mass.density_g_per_cm3.causes)
    (['mass attenuation: SiO2'], ['density: sample'])
    """
    attenuation = None
    if composition and per_area_g_per_cm2 is None:
        mu = _core.mass_attenuation_cm2_per_g(_core.material(composition), wavelength_nm)
        attenuation = Factor(mu, {f"mass attenuation: {composition}": _core.ATTENUATION_RELATIVE_U * mu})
    return PowderMass(
        per_area_g_per_cm2=_known(per_area_g_per_cm2, f"mass per area: {name}"),
        attenuation_cm2_per_g=attenuation,
        density_g_per_cm3=_known(density_g_per_cm3, f"density: {name}"),
    )


def _known(value: float | Pair | None, cause: str) -> Factor | None:
    if value is None:
        return None
    number, u = arguments.reading(value)
    return Factor(number, {cause: u} if u else {})


def dispersant(sample: Absolute, dispersant: Curve | Absolute, *, share: Factor | float, name: str) -> Absolute:
    """The sample minus ``share`` of its dispersant's or matrix's curve.

    Parameters
    ----------
    sample : from :func:`absolute_curve`.
    dispersant : its curve, in the same unit.
    share : 1 - phi, 0 to 1.
    name : stands in the cause of the dispersant's counts.

    Returns
    -------
    Absolute

    Raises
    ------
    InputError
        The units differ or the share is not in 0 to 1.

    Examples
    --------
    >>> import sievelight as sl
    >>> q = [0.3, 0.6]
    >>> both = sl.Curve(q_per_nm=q, intensity=[4.0, 1.0], private_u=[0.01, 0.01])
    >>> water = sl.Curve(q_per_nm=q, intensity=[0.02, 0.02], private_u=[0.001, 0.001], unit="1/cm")
    >>> sol = sl.absolute_curve(both, name="sol", transmission=1.0, thickness_mm=10.0, absolute_scale=1.0)
    >>> sl.reduce.dispersant(sol, water, share=0.95, name="water").curve.intensity.round(3).tolist()
    [3.981, 0.981]
    """
    other = dispersant.curve if isinstance(dispersant, Absolute) else dispersant
    return _core.dispersant(sample, other, arguments.factor(share), name)


def with_curve(result: Absolute, curve: Curve) -> Absolute:
    """The same reduction with another curve: one that carries the calibration's causes too.

    Parameters
    ----------
    result : from :func:`absolute_curve`.
    curve : on the same points.

    Returns
    -------
    Absolute

    Examples
    --------
    >>> import sievelight as sl
    >>> done = sl.absolute_curve(sl.examples.curve(), transmission=1.0, thickness_mm=10.0, absolute_scale=1.0)
    >>> more = sl.reduce.with_curve(done, sl.reduce.add_wavelength_cause(done.curve, relative_u=1e-3))
    >>> "wavelength" in more.curve.causes, len(more.steps) == len(done.steps)
    (True, True)
    """
    return _core.with_curve(result, curve)


def scattering_probability(curve: Curve, *, path_mm: float, wavelength_nm: float) -> ScatteringProbability:
    """Probability tau that a photon is scattered within the measured range, tau = d (lambda^2 / 2 pi) int I q dq.

    It is a lower bound of the whole; about tau/2 of the scattered photons are scattered again.

    Parameters
    ----------
    curve : in 1/cm.
    path_mm : d, of the beam through the sample.
    wavelength_nm : lambda.

    Returns
    -------
    ScatteringProbability
        ``value`` and ``u``.

    Raises
    ------
    InputError
        A curve that is not in 1/cm, a path or wavelength that is not above zero.

    Notes
    -----
    Geometry of elastic scattering; J. Schelten, W. Schmatz, J. Appl. Cryst. 13 (1980) 385 treat what follows (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> tau = sl.reduce.scattering_probability(sl.examples.curve(), path_mm=1.0, wavelength_nm=0.154)
    >>> round(tau.value, 3), tau.value < sl.reduce.MULTIPLE_SCATTERING_ABOVE
    (0.005, True)
    """
    return _core.scattering_probability(curve, path_mm, wavelength_nm)


def srm3600() -> IntensityStandard:
    """NIST SRM 3600 glassy carbon: 59 certified points, relative standard uncertainty 2.58 %, common to all.

    Returns
    -------
    IntensityStandard
        ``q_per_nm`` and ``intensity_per_cm`` (59), ``relative_u``, ``thickness_mm``, ``source``.

    Notes
    -----
    A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462.

    Examples
    --------
    >>> import sievelight as sl
    >>> standard = sl.reduce.srm3600()
    >>> standard.q_per_nm.size, round(standard.relative_u, 4)
    (59, 0.0258)
    """
    return _core.srm3600()


def water_standard(temperature_C: float) -> IntensityStandard:
    """Water from 0.3 to 2.5 1/nm: r_e^2 n_e^2 k_B T kappa_T, relative standard uncertainty 0.32 %.

    Parameters
    ----------
    temperature_C : 0 to 100 °C.

    Returns
    -------
    IntensityStandard

    Raises
    ------
    InputError
        Water that is not liquid.

    Notes
    -----
    G. S. Kell, J. Chem. Eng. Data 20 (1975) 97; D. Orthaber, A. Bergmann, O. Glatter, J. Appl. Cryst. 33 (2000) 218, whose
    0.01632 1/cm at 20 C is 0.63 % lower.

    Examples
    --------
    >>> import sievelight as sl
    >>> round(float(sl.reduce.water_standard(20.0).intensity_per_cm[0]), 4)
    0.0164
    """
    return _core.water_standard(temperature_C)


def scale_from_direct_beam(
    name: str,
    beam: Frame,
    *,
    beam_center_px: Pair,
    radius_px: float,
    attenuator: float | Pair,
    dark_per_s: float = 0.0,
    by_monitor: bool = False,
    geometry: DetectorGeometry | None = None,
    **corrections: object,
) -> AbsoluteScale:
    """k from the counts of the attenuated direct beam (empty beam), for curves divided by exposure or monitor.

    A direct-beam exposure goes through the instrument's interlocked procedure, the attenuator checked first.

    Parameters
    ----------
    name : of the exposure.
    beam : the exposure.
    beam_center_px : (column, row) of the beam.
    radius_px : counts within it are the beam.
    attenuator : its transmission, a number or (value, u).
    dark_per_s : counts a pixel and second without beam.
    by_monitor : for curves divided by the monitor.
    geometry : says how the sensor stands askew to the beam; across it without.
    **corrections
        Those of :class:`Averager` (dead time, sensor, flight path): the direct beam passes the same.

    Returns
    -------
    AbsoluteScale
        1 over the photons a second at the sample, or over those a monitor count.

    Raises
    ------
    InputError
        An attenuator outside (0, 1], no exposure or monitor, masked pixels within the radius.

    Notes
    -----
    B. R. Pauw et al., J. Appl. Cryst. 50 (2017) 1800.

    Examples
    --------
    >>> import sievelight as sl
    >>> k = sl.reduce.scale_from_direct_beam(
    ...     "direct beam", sl.examples.direct_beam(), beam_center_px=sl.examples.geometry().beam_center_px,
    ...     radius_px=6.0, attenuator=(0.1, 0.001), dark_per_s=1.0
    ... )
    >>> f"{1 / k.factor.value:.1e} photons a second", round(k.relative_u, 3)
    ('2.0e+06 photons a second', 0.01)
    """
    return _core.scale_from_direct_beam(
        name,
        beam,
        beam_center_x_px=beam_center_px[0],
        beam_center_y_px=beam_center_px[1],
        radius_px=radius_px,
        attenuator=arguments.reading(attenuator),
        dark_per_s=dark_per_s,
        options=average_options(**corrections),  # type: ignore[arg-type]
        by_monitor=by_monitor,
        cos_incidence=1.0 if geometry is None else geometry.cos_at_beam(),
    )


def absolute_scale(
    measured: Curve | Absolute,
    *,
    standard: IntensityStandard | None = None,
    shape_tolerance: float = 0.003,
    q_range_per_nm: Pair | None = None,
) -> AbsoluteScale:
    """k in I_table = k I_measured over the certified range, from the standard's curve S/T/d after its background.

    Parameters
    ----------
    measured : Curve or Absolute
        From :func:`absolute_curve` with the standard's thickness and without ``absolute_scale``.
    standard : IntensityStandard, optional
        Default :func:`srm3600`.
    shape_tolerance : float
        Relative difference of shape that is not warned about, besides the counts.

    Returns
    -------
    AbsoluteScale
        ``factor`` with causes ``"absolute scale: table"`` (never averaged away), ``"absolute scale: counts"`` and those
        of the standard's curve; ``warnings`` where the ratio is not flat.

    Raises
    ------
    InputError
        Fewer than three bins in the certified range; it is never extrapolated.

    Notes
    -----
    A. J. Allen et al., J. Appl. Cryst. 50 (2017) 462.

    Examples
    --------
    >>> import sievelight as sl
    >>> table = sl.reduce.srm3600()
    >>> q, intensity = table.q_per_nm, table.intensity_per_cm / 50  # an instrument that shows a fiftieth
    >>> carbon = sl.Curve(q_per_nm=q, intensity=intensity, private_u=0.01 * intensity)
    >>> k = sl.absolute_scale(carbon)
    >>> round(k.factor.value, 1), max(k.factor.causes, key=k.factor.causes.get)
    (50.0, 'absolute scale: table')
    """
    curve = measured.curve if isinstance(measured, Absolute) else measured
    return _core.absolute_scale(
        curve, standard=standard, shape_tolerance=shape_tolerance, q_range_per_nm=q_range_per_nm
    )


def plate_self_absorption(
    transmission: ArrayLike, two_theta_deg: ArrayLike, *, rotation_deg: float = 0.0, azimuth_deg: ArrayLike = 0.0
) -> Floats:
    """C = [1 - exp(-w)]/w, w = -ln T (cos b/cos gamma - 1), of a plate turned by b about the vertical axis.

    Parameters
    ----------
    transmission : T of the straight path, 0 to 1.
    two_theta_deg, azimuth_deg : of the scattered ray, degrees; gamma is its angle with the plate's normal.
    rotation_deg : b.

    Returns
    -------
    array of the arguments' common shape

    Raises
    ------
    InputError
        A transmission outside (0, 1], or a ray that does not leave the plate.

    Notes
    -----
    Depth integral, derived; listed by B. R. Pauw, J. Phys.: Condens. Matter 25 (2013) 383201.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.reduce.plate_self_absorption(0.4, [0.0, 10.0, 30.0]).round(3).tolist()
    [1.0, 0.993, 0.932]
    """
    excess = _core.path_excess(np.cos(np.radians(two_theta_deg)), np.radians(azimuth_deg), np.radians(rotation_deg))
    factor: Floats = _core.plate_self_absorption(transmission, excess)
    return factor
