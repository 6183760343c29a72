# SPDX-License-Identifier: GPL-3.0-or-later
"""Two-phase systems without a model of sizes: solid and pores, or particles and what is around them.

Which one do I use? `correlation_function` for the distances at which the solid repeats itself and the lengths of chords
through solid and pores, from any curve with a Guinier start and a Porod tail. `fit_random_two_phase` where the curve
falls from one plateau straight to q⁻⁴: it asks for a single length and says whether that holds; and
`random_two_phase_surface` for its surface and chords. `fit_contrast_series` for one solid measured with several pore
fluids: the match point, and what no fluid removes. Where the tail itself is in doubt (density fluctuations, walls that
are not sharp), `compare_tail_laws` says which law it asks for; fit that one with `background` and `walls` of
:func:`sievelight.analysis.fit_porod`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import (
    ContrastSeries,
    CorrelationFunction,
    Curve,
    CurveEstimate,
    CurveEstimates,
    GuinierFit,
    PorodFit,
    RandomTwoPhase,
    SpecificSurface,
    TailCandidate,
    TailComparison,
)
from sievelight.analysis import Given, given_pair, range_pair
from sievelight.errors import input_error

__all__ = [
    "ContrastSeries",
    "CorrelationFunction",
    "CurveEstimates",
    "RandomTwoPhase",
    "TailCandidate",
    "TailComparison",
    "compare_tail_laws",
    "correlation_function",
    "fit_contrast_series",
    "fit_random_two_phase",
    "mean_intensity",
    "random_two_phase_surface",
]


def correlation_function(
    curve: Curve,
    *,
    guinier: GuinierFit | None,
    porod: PorodFit,
    r_nm: ArrayLike | None = None,
    r_max_nm: float | None = None,
    data_through_window: bool | None = None,
) -> CorrelationFunction:
    """γ(r) = (1/Q) ∫ q² (I - B) sin(qr)/(qr) dq and the chord-length density g(r) = l_p γ''(r).

    Parameters
    ----------
    curve : n points; any unit of intensity, the scale cancels.
    guinier : continues the curve to q = 0; None for a flat start (whose error is then its whole size).
    porod : continues it to infinity and gives the background B. Walls must be sharp.
    r_nm : (m) distances, rising from 0 or above; default: 201 steps from 0 to `r_max_nm`.
    r_max_nm : default: eight Porod lengths, at most π / (first q used).
    data_through_window : False lets the Porod fit take over at its window's first point, which leaves the noise of the
        window's points out; True at its last, so that the window's ripples are the data's. Default: True where the law does
        not hold.

    Returns
    -------
    CorrelationFunction
        `r_nm`, `correlation` and `chords_per_nm` (each with `value`, `u`, `band68`, `band95`, `influence` (m, n) and
        `causes`); `porod_length_nm` l_p = 4 Q / (π K), which is -1/γ'(0); `start_length_nm`, the same as γ(r) shows it
        from π/q_max on, without K (None where that is above 0.3 l_p); `correlation_length_nm` 2 ∫ γ dr;
        `correlation_volume_nm3` 4π ∫ r² γ dr; `resolution_nm` = π / (q where the Porod fit takes over): finer details are the
        law's, not the data's; `largest_nm`; `invariant`; and `warnings`, also where start and l_p contradict.

    Raises
    ------
    InputError
        The fits belong to another curve, the Porod fit has smooth walls, or `r_nm` does not rise.
    NumericalError
        Porod's constant or the invariant is not positive.

    Notes
    -----
    Bands are point by point and come from the curve's full covariance; K, B, Rg and I0 take part, and so do "Porod's
    law", "shape of the tail" and "start of the curve" as causes. g is the density of chords for separate bodies; in dense systems it mixes
    chords of both phases and may be negative where distances repeat. Its area is 1 and its mean l_p in either case.
    P. Debye, A. M. Bueche, J. Appl. Phys. 20 (1949) 518; G. Porod, Kolloid-Z. 124 (1951) 83; J. Méring, D. Tchoubar,
    J. Appl. Cryst. 1 (1968) 153 (from memory).

    Examples
    --------
    >>> import numpy as np, sievelight as sl
    >>> q = np.geomspace(0.02, 10, 400)
    >>> i = 1000 / (1 + (5 * q) ** 2) ** 2  # exp(-r / 5 nm)
    >>> curve = sl.Curve(q_per_nm=q, intensity=i, private_u=1e-4 * i)
    >>> porod = sl.fit_porod(curve, q_range_per_nm=(4, 10))
    >>> c = sl.correlation_function(curve, guinier=sl.fit_guinier(curve, q_rg_max=0.5), porod=porod, r_nm=[0, 5])
    >>> [round(float(v), 2) for v in c.correlation.value]
    [1.0, 0.37]
    """
    return _core.correlation_function(
        curve,
        guinier=guinier,
        porod=porod,
        r_nm=None if r_nm is None else np.asarray(r_nm, dtype=float),
        r_max_nm=0.0 if r_max_nm is None else r_max_nm,
        data_through_window=data_through_window,
    )


def compare_tail_laws(curve: Curve, *, q_range_per_nm: Iterable[float], law_tolerance: float = 0.01) -> TailComparison:
    """Every law of the tail (:func:`sievelight.analysis.fit_porod`) on one window, the best first.

    A window that a fit chooses for itself is no judge: a law that lacks a term finds a short one in which it passes, with
    a K that is wrong by many times its u. So give one, wide enough that the laws differ in it.

    Parameters
    ----------
    curve : n points; any unit of intensity.
    q_range_per_nm : (low, high), 12 points at least.
    law_tolerance : relative error of the law itself that the comparison forgives.

    Returns
    -------
    TailComparison
        `candidates` (each with `fit`, `chi2`, `criterion` = chi-square + p ln m above that of the best, and `share`),
        `constant`, K averaged over the laws by their shares with their disagreement in u, and `findings` in words.

    Raises
    ------
    InputError
        Fewer than 12 points lie in the range.

    Notes
    -----
    G. Schwarz, Ann. Stat. 6 (1978) 461; J. A. Hoeting et al., Stat. Sci. 14 (1999) 382 (from memory).

    Examples
    --------
    >>> import numpy as np, sievelight as sl
    >>> q = np.geomspace(0.8, 6, 160)
    >>> i = 36.7 / q**4 * np.exp(-0.0225 * q**2) + 0.05 + 0.004 * q**2
    >>> found = sl.compare_tail_laws(sl.Curve(q_per_nm=q, intensity=i, private_u=0.01 * i), q_range_per_nm=(0.8, 6))
    >>> found.candidates[0].fit.walls, found.candidates[0].fit.background_law
    ('smooth', 'square')
    """
    low, high = q_range_per_nm
    return _core.compare_tail_laws(curve, q_range_per_nm=(low, high), law_tolerance=law_tolerance)


def fit_random_two_phase(
    curve: Curve, *, q_range_per_nm: Iterable[float] | None = None, background: bool = True
) -> RandomTwoPhase:
    """The random two-phase model I = A / (1 + q² a²)² + B: one length for solid and pores.

    Parameters
    ----------
    curve : n points; any unit of intensity.
    q_range_per_nm : (low, high); default: the whole curve.
    background : False leaves the flat B out.

    Returns
    -------
    RandomTwoPhase
        `correlation_nm` a (the Porod length, too), `amplitude` A, `background` B, Porod's `constant` K = A / a⁴, the
        `invariant` Q = π A / (4 a³), `chi2`, `chi2_probability`, `runs_probability`, `model_holds` (both above 0.01) and
        `warnings`.

    Raises
    ------
    InputError
        Fewer than 6 points.
    NumericalError
        No length within the curve's reach fits.

    Notes
    -----
    P. Debye, H. R. Anderson, H. Brumberger, J. Appl. Phys. 28 (1957) 679 (from memory).

    Examples
    --------
    >>> import numpy as np, sievelight as sl
    >>> q = np.geomspace(0.02, 5, 200)
    >>> i = 22924 / (1 + (5 * q) ** 2) ** 2
    >>> round(sl.fit_random_two_phase(sl.Curve(q_per_nm=q, intensity=i, private_u=0.01 * i)).correlation_nm.value, 6)
    5.0
    """
    return _core.fit_random_two_phase(curve, q_range_per_nm=range_pair(q_range_per_nm), background=background)


def random_two_phase_surface(
    curve: Curve,
    fit: RandomTwoPhase,
    *,
    contrast_per_cm2: Given | None = None,
    porosity: Given | None = None,
    skeletal_density_g_per_cm3: Given | None = None,
    apparent_density_g_per_cm3: Given | None = None,
) -> SpecificSurface:
    """Surface and chords of the random two-phase model: S/V = 4 φ(1-φ) / a, l_pore = a / (1-φ), l_solid = a / φ.

    Parameters
    ----------
    curve, fit : the curve and the model fitted to it.
    contrast_per_cm2, porosity, skeletal_density_g_per_cm3, apparent_density_g_per_cm3 : as for
        :func:`sievelight.analysis.specific_surface`; every number may be a pair (value, standard uncertainty).

    Returns
    -------
    SpecificSurface
        See :func:`sievelight.analysis.specific_surface`; `warnings` say so when the model does not hold.

    Raises
    ------
    InputError
        A number is out of range, or a contrast is given for a curve without absolute scale.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> q = np.geomspace(0.02, 5, 200)
    >>> intensity = 22924 / (1 + (5 * q) ** 2) ** 2
    >>> curve = sl.Curve(q_per_nm=q, intensity=intensity, private_u=0.01 * intensity)
    >>> surface = sl.random_two_phase_surface(curve, sl.fit_random_two_phase(curve), porosity=0.5)
    >>> f"{surface.from_porosity_m2_per_cm3.value:.0f} m2/cm3, pores {surface.pore_chord_nm.value:.1f} nm"
    '200 m2/cm3, pores 10.0 nm'
    """
    return _core.random_two_phase_surface(
        curve,
        fit,
        contrast_per_cm2=given_pair(contrast_per_cm2),
        porosity=given_pair(porosity),
        skeletal_density_g_per_cm3=given_pair(skeletal_density_g_per_cm3),
        apparent_density_g_per_cm3=given_pair(apparent_density_g_per_cm3),
    )


def mean_intensity(curve: Curve, *, q_range_per_nm: Iterable[float]) -> CurveEstimate:
    """Mean intensity of the points in a q range, with its influence: a result for :func:`fit_contrast_series`.

    Parameters
    ----------
    curve : n points.
    q_range_per_nm : (low, high), 1/nm.

    Returns
    -------
    CurveEstimate
        In the curve's unit.

    Raises
    ------
    InputError
        No point lies in the range.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.Curve(q_per_nm=[0.1, 0.2, 0.3], intensity=[9.0, 8.0, 7.0], private_u=[0.3, 0.3, 0.3])
    >>> level = sl.mean_intensity(curve, q_range_per_nm=(0.1, 0.3))
    >>> round(level.value, 2), round(level.u, 2)
    (8.0, 0.17)
    """
    low, high = q_range_per_nm
    return _core.mean_intensity(curve, q_range_per_nm=(low, high))


def fit_contrast_series(
    curves: Sequence[Curve],
    results: Sequence[CurveEstimate],
    *,
    fluid_per_cm2: Sequence[Given],
    solid_per_cm2: Given | None = None,
) -> ContrastSeries:
    """One porous solid with several pore fluids: y = c (ρ_s - ρ_f)² + d.

    Parameters
    ----------
    curves : (m) the curve with each fluid, on one scale.
    results : (m) of each curve the same result: its invariant (`invariant(...).value_per_cm4`), Porod's constant
        (`fit_porod(...).constant_per_cm5`) or the intensity at one q (:func:`mean_intensity`).
    fluid_per_cm2 : (m) scattering-length densities ρ_f of the fluids, 0 for empty pores, or pairs (value, standard
        uncertainty). See :func:`sievelight.material.scattering_length_density`.
    solid_per_cm2 : ρ_s of the solid where it is known; two fluids are then enough.

    Returns
    -------
    ContrastSeries
        `match_per_cm2` ρ_s (bands by Fieller; without end where the curvature is not sure), `open` c (2π² φ(1-φ) for the
        invariant in cm⁻⁴, 2π S/V in 1/cm for K in cm⁻⁵), `remainder` d, `share` d / y(0) of the empty solid's scattering
        that no fluid removes, `chi2_probability` of the parabola, `fitted`, `deviation`, `weights` (3, m) and
        `covariance` (3, 3) of (ρ_s, c, d), `findings` and `warnings` in words.

    Raises
    ------
    InputError
        Fewer than three different fluids (two with `solid_per_cm2`), or numbers of unequal length.
    NumericalError
        The results do not bend upwards.

    Notes
    -----
    A remainder may be closed pores, pores that the fluid did not fill, or density fluctuations: the series alone does not
    tell. Causes of error that all curves share take no part in the weights. X-rays: matching a solid takes a heavy fluid
    (silica 1.9e11, water 0.94e11, diiodomethane 2.4e11 1/cm²), so the match point is mostly an extrapolation there;
    neutrons: mixtures of light and heavy water. H. B. Stuhrmann, Z. Phys. Chem. N. F. 72 (1970) 177; E. C. Fieller,
    J. R. Stat. Soc. B 16 (1954) 175 (from memory).

    Examples
    --------
    >>> import numpy as np, sievelight as sl
    >>> fluids = [0, 9.4e10, 14e10, 22e10]
    >>> q = np.array([0.1, 0.2, 0.3])
    >>> levels = [((18.64e10 - f) / 1e10) ** 2 + 5 for f in fluids]
    >>> curves = [sl.Curve(q_per_nm=q, intensity=np.full(3, y), private_u=np.full(3, 0.5)) for y in levels]
    >>> results = [sl.mean_intensity(c, q_range_per_nm=(0.1, 0.3)) for c in curves]
    >>> series = sl.fit_contrast_series(curves, results, fluid_per_cm2=fluids)
    >>> f"{series.match_per_cm2.value:.4g}, {series.share.value:.3f}"
    '1.864e+11, 0.014'
    """
    if not len(curves) == len(results) == len(fluid_per_cm2):
        raise input_error(
            f"{len(curves)} curves, {len(results)} results and {len(fluid_per_cm2)} fluids do not go together.",
            "Give one of each per measurement.",
        )
    points = [(c, r, given_pair(f)) for c, r, f in zip(curves, results, fluid_per_cm2, strict=True)]
    return _core.fit_contrast_series(points, solid_per_cm2=given_pair(solid_per_cm2))
