# SPDX-License-Identifier: GPL-3.0-or-later
"""Line-shaped beams: the profile of a slit, what it does to a curve, and a look at the curve without it.

Which one do I use, and when?

* :func:`slit_profile` from the study's trapezoid or from measured profiles; :func:`with_slit` notes it on a curve.
* :func:`smear` to lay a model over slit data, :func:`smearing_matrix` to fit one.
* :func:`desmear` for a plot, never for a fit.

Convention: J(q) = integral of W(l) I(sqrt(q^2 + l^2)) dl over both signs with the integral of W = 1, and
J(q) = 2 integral_0^inf I(sqrt(q^2 + l^2)) dl for an infinite slit.
Source: O. Glatter, O. Kratky (eds.), Small Angle X-ray Scattering, Academic Press 1982, ch. 4 (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import Curve, Desmeared, SlitProfile, SmearingMatrix
from sievelight.errors import input_error
from sievelight.reduce.arguments import Floats

Profile = tuple[ArrayLike, ArrayLike]


def _columns(profile: Profile | None) -> tuple[Floats, Floats] | None:
    return None if profile is None else (np.asarray(profile[0], float), np.asarray(profile[1], float))


def slit_profile(
    *,
    half_top_mm: float | None = None,
    half_base_mm: float | None = None,
    length_profile: Profile | None = None,
    width_fwhm_mm: float = 0.0,
    width_profile: Profile | None = None,
    distance_mm: float | None = None,
    wavelength_nm: float | None = None,
    infinite: bool = False,
) -> SlitProfile:
    """The profile of a line-shaped beam in the detector plane, folded with the height of the strip that counts.

    Parameters
    ----------
    half_top_mm, half_base_mm : float, optional
        A trapezoid along the line: full weight out to the first, zero from the second, on both sides.
    length_profile : (position_mm, weight), optional
        A measured profile along the line instead; positions from the beam's centre.
    width_fwhm_mm : float
        Full width at half maximum of a Gaussian across the line, or
    width_profile : (position_mm, weight), optional
        measured.
    distance_mm, wavelength_nm : float, optional
        Without both, positions are not in mm but in 1/nm of q.
    infinite : bool
        A slit without end, in q.

    Returns
    -------
    SlitProfile

    Raises
    ------
    InputError
        A profile given twice, a negative or unsorted one, half a geometry.

    Examples
    --------
    >>> import sievelight as sl
    >>> slit = sl.reduce.slit_profile(half_top_mm=5.0, half_base_mm=8.0, distance_mm=300.0, wavelength_nm=0.154)
    >>> slit.infinite, slit.geometry.distance_mm
    (False, 300.0)
    """
    if (half_top_mm is None) != (half_base_mm is None):
        raise input_error("a trapezoid has a top and a base.", "Give half_top_mm and half_base_mm.")
    if (distance_mm is None) != (wavelength_nm is None):
        raise input_error("one of distance_mm and wavelength_nm is missing.", "Give both, or neither for q.")
    if half_top_mm is not None and length_profile is not None:
        raise input_error("the length profile is given twice.", "Give the trapezoid or the measured profile.")
    trapezoid = None if half_top_mm is None or half_base_mm is None else (half_top_mm, half_base_mm)
    geometry = None if distance_mm is None or wavelength_nm is None else (distance_mm, wavelength_nm)
    return _core.slit_profile(
        trapezoid_halves=trapezoid,
        length=_columns(length_profile),
        infinite=infinite,
        width_fwhm=width_fwhm_mm,
        width=_columns(width_profile),
        geometry=geometry,
    )


def with_slit(curve: Curve, profile: SlitProfile) -> Curve:
    """The curve with ``slit_length_per_nm`` and ``slit_width_per_nm``: root of the profile's second moments at each q.

    Parameters
    ----------
    curve : n points measured with a line-shaped beam.
    profile : from :func:`slit_profile`.

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        The slit is infinite and has no length.

    Examples
    --------
    >>> import sievelight as sl
    >>> slit = sl.reduce.slit_profile(half_top_mm=5.0, half_base_mm=8.0, distance_mm=300.0, wavelength_nm=0.154)
    >>> curve = sl.reduce.with_slit(sl.examples.curve(), slit)
    >>> curve.has_slit(), curve.slit_length_per_nm.shape
    (True, (90,))
    """
    return _core.with_slit(curve, profile)


def smearing_matrix(
    q_out_per_nm: ArrayLike,
    q_in_per_nm: ArrayLike,
    profile: SlitProfile,
    *,
    interpolation: str = "cubic",
    high_q_exponent: float = 4.0,
) -> SmearingMatrix:
    """S in J = S I.

    Parameters
    ----------
    q_out_per_nm, q_in_per_nm : (m) where J is wanted, (n) where I is sampled, rising, 1/nm.
    profile : from :func:`slit_profile`.
    interpolation : "cubic" or "linear"
        Of I in ln q. Cubic with steps h of ln q is good to 6 h^4 for q^-4.
    high_q_exponent : float
        Beyond the last sample I falls as q^-p; ``beyond`` (m) times I(q_last) is what J owes to it.

    Returns
    -------
    SmearingMatrix
        ``matrix`` (m, n) and ``beyond`` (m).

    Raises
    ------
    InputError
        q that does not rise from above zero, or an exponent that lets the integral diverge.

    Notes
    -----
    O. Glatter, O. Kratky (eds.), Small Angle X-ray Scattering, Academic Press 1982, ch. 4 (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> slit = sl.reduce.slit_profile(half_top_mm=0.5, half_base_mm=0.8)  # without a distance: in 1/nm
    >>> q = np.geomspace(0.05, 5, 120)
    >>> smeared = sl.reduce.smearing_matrix([0.2, 1.0], q, slit).matrix
    >>> smeared.shape, smeared.sum(axis=1).round(3).tolist()  # a level stays a level
    ((2, 120), [1.0, 1.0])
    """
    return _core.smearing_matrix(
        np.asarray(q_out_per_nm, float),
        np.asarray(q_in_per_nm, float),
        profile,
        interpolation=interpolation,
        high_q_exponent=high_q_exponent,
    )


def smear(
    q_per_nm: ArrayLike,
    intensity: ArrayLike,
    profile: SlitProfile,
    *,
    q_out_per_nm: ArrayLike | None = None,
    interpolation: str = "cubic",
    high_q_exponent: float = 4.0,
) -> Floats:
    """A model curve as the slit sees it.

    Parameters
    ----------
    q_per_nm, intensity : (n) samples of the model, rising in q, 1/nm; any unit of intensity.
    profile : from :func:`slit_profile`.
    q_out_per_nm : (m), 1/nm; default: `q_per_nm`.
    interpolation, high_q_exponent : see :func:`smearing_matrix`.

    Returns
    -------
    array (m), in the model's unit

    Raises
    ------
    InputError
        As :func:`smearing_matrix`.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> slit = sl.reduce.slit_profile(infinite=True)
    >>> q = np.geomspace(0.05, 50, 400)
    >>> seen = sl.reduce.smear(q, q**-4.0, slit, q_out_per_nm=[0.5, 1.0])
    >>> (seen / (np.pi / 2 * np.array([0.5, 1.0]) ** -3)).round(4).tolist()  # q^-4 becomes (pi/2) q^-3
    [1.0, 1.0]
    """
    out = q_per_nm if q_out_per_nm is None else q_out_per_nm
    matrix = smearing_matrix(
        out, q_per_nm, profile, interpolation=interpolation, high_q_exponent=high_q_exponent
    ).matrix
    smeared: Floats = matrix @ np.asarray(intensity, float)
    return smeared


def desmear(
    curve: Curve,
    profile: SlitProfile,
    *,
    most_iterations: int = 500,
    chi2_per_point: float = 1.0,
    interpolation: str = "linear",
    high_q_exponent: float = 4.0,
) -> Desmeared:
    """What a pinhole would have seen, for plots only: no :class:`Curve`, no uncertainties, not to be fitted.

    Parameters
    ----------
    chi2_per_point : float
        Stops at the first estimate that agrees with the data within their noise.
    high_q_exponent : float
        Beyond the last point I falls as q^-p; ``extrapolated`` is the share of the smeared curve that owes to it.

    Returns
    -------
    Desmeared
        ``q_per_nm``, ``intensity``, ``smeared``, ``extrapolated``, ``iterations``, ``chi2_per_point``, ``note``.

    Raises
    ------
    InputError
        Fewer than four points, or some that are not positive.
    NumericalError
        The smeared estimate is not positive.

    Notes
    -----
    J. A. Lake, Acta Cryst. 23 (1967) 191.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> slit = sl.reduce.slit_profile(half_top_mm=0.5, half_base_mm=0.8)  # without a distance: in 1/nm
    >>> q = np.geomspace(0.05, 5, 120)
    >>> seen = sl.reduce.smear(q, 100 / (1 + (2 * q) ** 2) ** 2, slit)
    >>> found = sl.reduce.desmear(sl.Curve(q_per_nm=q, intensity=seen, private_u=0.01 * seen), slit)
    >>> bool(found.chi2_per_point <= 1.0), round(float(found.intensity[0]))  # 99 before the slit
    (True, 97)
    """
    return _core.desmear_lake(
        curve,
        profile,
        most_iterations=most_iterations,
        chi2_per_point=chi2_per_point,
        interpolation=interpolation,
        high_q_exponent=high_q_exponent,
    )
