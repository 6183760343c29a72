# SPDX-License-Identifier: GPL-3.0-or-later
"""What a curve says without a model of sizes.

Which one do I use? `fit_guinier` for a size from the lowest angles (a radius of gyration, weighing large objects most);
`fit_porod` for the sharp inner surface from the highest; `invariant` for how much of the two phases there is;
`specific_surface` for m²/cm³, m²/g and mean chords from the last two. Each result is a `CurveEstimate`: `value`, `u`,
`band68`, `band95`, and `influence`, the derivative with respect to every intensity, from which
`covariance_of_summaries` finds what two samples' results share. Windows are chosen and reported; give `q_range_per_nm`
for your own. Correlation functions, the random two-phase model and pore fluids: `sievelight.two_phase`. `anisotropy` says how strongly a pattern is oriented, from an azimuthal profile. Every result carries `warnings` in words.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, overload

from sievelight import _core
from sievelight._core import (
    Anisotropy,
    AzimuthalProfile,
    Curve,
    CurveEstimate,
    GrainPorosity,
    GuinierFit,
    Invariant,
    PorodFit,
    SpecificSurface,
)

__all__ = [
    "Anisotropy",
    "CurveEstimate",
    "GrainPorosity",
    "GuinierFit",
    "Invariant",
    "PorodFit",
    "SpecificSurface",
    "anisotropy",
    "fit_guinier",
    "fit_porod",
    "invariant",
    "phi_one_minus_phi",
    "porosity_per_gram",
    "specific_surface",
]

Given = float | tuple[float, float]


def range_pair(q_range_per_nm: Iterable[float] | None) -> tuple[float, float] | None:
    """(low, high), or None."""
    if q_range_per_nm is None:
        return None
    low, high = q_range_per_nm
    return low, high


@overload
def given_pair(number: Given) -> tuple[float, float]: ...


@overload
def given_pair(number: None) -> None: ...


@overload
def given_pair(number: Given | None) -> tuple[float, float] | None: ...


def given_pair(number: Given | None) -> tuple[float, float] | None:
    """A number, or a number with its standard uncertainty, as a pair."""
    if number is None:
        return None
    if isinstance(number, tuple):
        return number
    return float(number), 0.0


def fit_guinier(
    curve: Curve,
    *,
    q_rg_max: float = 1.3,
    q_range_per_nm: Iterable[float] | None = None,
    min_points: int = 5,
    drop_beyond: float = 3.5,
    law_tolerance: float = 0.01,
    drop_up_to: float = 2.0,
) -> GuinierFit:
    """Radius of gyration from the lowest angles, ln I = ln I0 - q² Rg² / 3.

    Parameters
    ----------
    curve : n points; any unit of intensity.
    q_rg_max : end of the automatic window; 1.3 for globular objects, 1.0 for elongated or hollow ones (common practice).
    q_range_per_nm : (low, high) to use instead of the automatic window.
    min_points : fewest points of a window.
    drop_beyond : the lowest point is dropped when it lies further than this many standard uncertainties from the law
        fitted to the others (an upturn or a shadow at the beamstop).
    law_tolerance : relative error of the law that these tests forgive; 1 % is its own error on a sphere.
    drop_up_to : the window starts at most at this factor of the first good q.

    Returns
    -------
    GuinierFit
        `rg_nm`, `i0` (curve's unit), the window, `q_rg_low` and `q_rg_high`, `chi2`, `curvature` (-1/14 for a sphere),
        `sphere_bias_percent` (what this window makes of a sphere; not corrected for) and `warnings`.

    Raises
    ------
    InputError
        The options or the range make no sense, or some points have an uncertainty and others none.
    NumericalError
        There is no Guinier range: the intensity does not fall with q, or q Rg is too large at the first points.

    Notes
    -----
    A. Guinier, G. Fournet, Small-Angle Scattering of X-rays, Wiley 1955 (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> fit = sl.fit_guinier(sl.examples.curve())
    >>> f"Rg {fit.rg_nm.value:.1f} nm, q Rg from {fit.q_rg_low:.1f} to {fit.q_rg_high:.1f}"
    'Rg 3.7 nm, q Rg from 0.4 to 1.3'
    >>> fit.warnings
    []
    """
    return _core.fit_guinier(
        curve,
        q_rg_max=q_rg_max,
        q_range_per_nm=range_pair(q_range_per_nm),
        min_points=min_points,
        drop_beyond=drop_beyond,
        law_tolerance=law_tolerance,
        drop_up_to=drop_up_to,
    )


def fit_porod(
    curve: Curve,
    *,
    q_range_per_nm: Iterable[float] | None = None,
    min_points: int = 10,
    least_ratio: float = 1.3,
    law_tolerance: float = 0.01,
    background: Literal["flat", "square", "fourth", "exponential"] = "flat",
    walls: Literal["sharp", "smooth"] = "sharp",
) -> PorodFit:
    """Inner surface from the tail, I = K q⁻⁴ H(q) + B(q); by default H = 1 (sharp walls) and B flat.

    Parameters
    ----------
    curve : n points; any unit of intensity.
    q_range_per_nm : (low, high) to use instead of the automatic window, which is the widest at the curve's end over which
        the law holds; the automatic fit lets a next term C q⁻⁶ take part, so that the approach to the tail does not bias K.
    min_points, least_ratio : smallest automatic window, in points and as last over first q.
    law_tolerance : relative error of the law that its tests forgive; it is also part of K's uncertainty.
    background : "flat" B; for density fluctuations inside the phases "square" B + F q², "fourth" B + F q⁴, or
        "exponential" B exp(b q²).
    walls : "sharp", or "smooth", H = exp(-s q²), where the phases blend over a layer: s = σ² of the Gaussian that smooths
        the step; a layer of linear change has the width √12 σ.

    Returns
    -------
    PorodFit
        `constant` K (curve's unit nm⁻⁴), `constant_per_cm5` (for a curve in 1/cm), `background` B, the window,
        `law_holds` and `warnings`. Of the richer laws: `growth` (F or b), `layer_nm2` (s, signed), `layer_width_nm` (σ),
        and whether they were needed: `richer_drop` in chi-square against the plain law on the same points,
        `richer_probability` of such a drop by chance, `richer_needed` (below 0.01). Each further number widens u(K), so
        a law that is not needed is best left out; one that is needed and left out biases K, and an automatic window
        shrinks until the law passes, so `law_holds` is no proof. To choose, see
        :func:`sievelight.two_phase.compare_tail_laws`.

    Raises
    ------
    InputError
        Fewer than 5 points in the given range (7 or 9 for richer laws), or a curve too short.
    NumericalError
        The numbers of a richer law cannot be found from these points.

    Notes
    -----
    G. Porod, Kolloid-Z. 124 (1951) 83; fluctuations and linear layers: C. G. Vonk, J. Appl. Cryst. 6 (1973) 81, J. Rathje,
    W. Ruland, Colloid Polym. Sci. 254 (1976) 358; smooth walls: W. Ruland, J. Appl. Cryst. 4 (1971) 70 (from memory).

    Examples
    --------
    >>> import numpy as np, sievelight as sl
    >>> q = np.geomspace(0.8, 6, 160)
    >>> i = 36.7 / q**4 + 0.05 + 0.004 * q**2
    >>> curve = sl.Curve(q_per_nm=q, intensity=i, private_u=0.01 * i)
    >>> fit = sl.fit_porod(curve, q_range_per_nm=(0.8, 6), background="square")
    >>> round(fit.constant.value, 6), round(fit.growth.value, 6), fit.richer_needed
    (36.7, 0.004, True)
    """
    return _core.fit_porod(
        curve,
        q_range_per_nm=range_pair(q_range_per_nm),
        min_points=min_points,
        least_ratio=least_ratio,
        law_tolerance=law_tolerance,
        background=background,
        walls=walls,
    )


def invariant(curve: Curve, *, guinier: GuinierFit | None, porod: PorodFit) -> Invariant:
    """Q = ∫ q² (I - B) dq from 0 to infinity = 2π² φ(1-φ) contrast².

    Parameters
    ----------
    curve : the curve that both fits come from.
    guinier : continues the curve to q = 0; None for a flat start.
    porod : continues it to infinity and gives the flat background B.

    Returns
    -------
    Invariant
        `value` (curve's unit nm⁻³), `value_per_cm4` (for a curve in 1/cm), the shares extrapolated below and above the
        data, and `warnings`.

    Raises
    ------
    InputError
        The fits belong to another curve, or their windows overlap.
    NumericalError
        Q is not positive.

    Notes
    -----
    G. Porod, Kolloid-Z. 124 (1951) 83 (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> q = sl.invariant(curve, guinier=sl.fit_guinier(curve), porod=sl.fit_porod(curve))
    >>> f"{q.value_per_cm4.value:.2g} per cm^4, beyond the data {100 * q.share_extrapolated_high:.0f} %"
    '6.8e+21 per cm^4, beyond the data 5 %'
    """
    return _core.invariant(curve, guinier=guinier, porod=porod)


def phi_one_minus_phi(curve: Curve, invariant: Invariant, *, contrast_per_cm2: Given) -> CurveEstimate:
    """φ(1-φ) = Q / (2π² contrast²), for a curve in 1/cm.

    Parameters
    ----------
    curve, invariant : the curve and its invariant.
    contrast_per_cm2 : difference of the scattering-length densities, or (value, standard uncertainty).

    Returns
    -------
    CurveEstimate
        Without a unit; φ is the share of either phase in the volume that the sample's thickness stands for.

    Raises
    ------
    InputError
        The curve is not in 1/cm, or the contrast is zero.

    Notes
    -----
    G. Porod, Kolloid-Z. 124 (1951) 83 (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()  # 1 % of spheres
    >>> q = sl.invariant(curve, guinier=sl.fit_guinier(curve), porod=sl.fit_porod(curve))
    >>> round(sl.analysis.phi_one_minus_phi(curve, q, contrast_per_cm2=(1.864e11, 2e8)).value, 3)
    0.01
    """
    value, u = given_pair(contrast_per_cm2)
    return _core.phi_one_minus_phi(curve, invariant, contrast_per_cm2=value, contrast_u_per_cm2=u)


def specific_surface(
    curve: Curve,
    *,
    porod: PorodFit,
    invariant: Invariant,
    contrast_per_cm2: Given | None = None,
    porosity: Given | None = None,
    skeletal_density_g_per_cm3: Given | None = None,
    apparent_density_g_per_cm3: Given | None = None,
) -> SpecificSurface:
    """Specific surface and mean chords from Porod's constant and the invariant.

    Parameters
    ----------
    curve, porod, invariant : the curve and its two results.
    contrast_per_cm2 : difference of the scattering-length densities; gives S/V = K / (2π contrast²) per volume that the
        sample's thickness stands for, or the surface per gram where the curve is in cm²/g.
    porosity : the pores' share φ of a volume; gives S/V = π φ(1-φ) K/Q per that volume, on any scale of intensity.
    skeletal_density_g_per_cm3, apparent_density_g_per_cm3 : of the solid; of the volume with its pores. Give m²/g.
        Every number may be a pair (value, standard uncertainty).

    Returns
    -------
    SpecificSurface
        `from_contrast_m2_per_cm3`, `from_porosity_m2_per_cm3`, `m2_per_g` (None where not asked for),
        `porod_length_nm`, `pore_chord_nm`, `solid_chord_nm`, and in words `volume`, `m2_per_g_by` and `warnings`.

    Raises
    ------
    InputError
        A number is out of range, or a contrast is given for a curve without absolute scale.
    NumericalError
        Porod's constant is not positive.

    Notes
    -----
    The surface counts closed pores and inner interfaces, unlike gas adsorption (ISO 20804:2022). G. Porod, Kolloid-Z.
    124 (1951) 83; P. Debye, H. R. Anderson, H. Brumberger, J. Appl. Phys. 28 (1957) 679 (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> porod = sl.fit_porod(curve)
    >>> q = sl.invariant(curve, guinier=sl.fit_guinier(curve), porod=porod)
    >>> surface = sl.specific_surface(curve, porod=porod, invariant=q, contrast_per_cm2=1.864e11, porosity=0.01)
    >>> f"{surface.from_contrast_m2_per_cm3.value:.1f} m2/cm3, chords {surface.pore_chord_nm.value:.1f} nm"
    '7.5 m2/cm3, chords 5.3 nm'
    """
    return _core.specific_surface(
        curve,
        porod=porod,
        invariant=invariant,
        contrast_per_cm2=given_pair(contrast_per_cm2),
        porosity=given_pair(porosity),
        skeletal_density_g_per_cm3=given_pair(skeletal_density_g_per_cm3),
        apparent_density_g_per_cm3=given_pair(apparent_density_g_per_cm3),
    )


def porosity_per_gram(
    curve: Curve, invariant: Invariant, *, contrast_per_cm2: Given, skeletal_density_g_per_cm3: Given
) -> GrainPorosity:
    """Pores of the grains from an intensity per gram: φ = Q ρ_skeletal / (2π² contrast²), with no root to choose.

    Parameters
    ----------
    curve, invariant : a curve in cm²/g (mass per area weighed or from transmission and composition) and its invariant.
    contrast_per_cm2, skeletal_density_g_per_cm3 : of solid against pores; of the solid. Numbers or pairs (value,
        standard uncertainty).

    Returns
    -------
    GrainPorosity
        `porosity` φ, per volume of the grains, and `pore_volume_cm3_per_g` φ / ((1-φ) ρ_skeletal), per gram of solid.

    Raises
    ------
    InputError
        The curve is not in cm²/g, or a number is out of range.
    NumericalError
        The result does not lie between 0 and 1.

    Notes
    -----
    Gaps between the grains must scatter below the curve's first point. Derived from Q = 2π² φ(1-φ) contrast² (G. Porod,
    Kolloid-Z. 124 (1951) 83) per gram of a solid with the bulk density ρ_skeletal (1-φ).

    Examples
    --------
    >>> import sievelight as sl
    >>> of = sl.examples.curve()
    >>> curve = sl.Curve(q_per_nm=of.q_per_nm, intensity=of.intensity, private_u=of.private_u, unit="cm2/g")
    >>> q = sl.invariant(curve, guinier=sl.fit_guinier(curve), porod=sl.fit_porod(curve))
    >>> pores = sl.porosity_per_gram(curve, q, contrast_per_cm2=1.864e11, skeletal_density_g_per_cm3=(2.2, 0.02))
    >>> f"{pores.porosity.value:.3f} of the grains, {pores.pore_volume_cm3_per_g.value:.3f} cm3/g"
    '0.022 of the grains, 0.010 cm3/g'
    """
    return _core.porosity_per_gram(
        curve,
        invariant,
        contrast_per_cm2=given_pair(contrast_per_cm2),
        skeletal_density_g_per_cm3=given_pair(skeletal_density_g_per_cm3),
    )


def anisotropy(
    profile: AzimuthalProfile, *, director_deg: float | None = None, fourth_harmonic: bool = True
) -> Anisotropy:
    """How strongly a pattern is oriented, and along which direction.

    Two measures. In the plane: A = |sum I exp(2iχ)| / sum I, 0 for a ring, 1 for a line; I = 1 + a cos 2(χ - χ0) has
    A = a/2. In space, for the symmetry of a fibre: S2 = <P2(cos φ)> weighted by I(φ)|sin φ|, φ from the director; 1 along
    it, -1/2 across, 0 isotropic; I ~ cos²ⁿ has S2 = 2n/(2n + 3).

    Parameters
    ----------
    profile : AzimuthalProfile
        From :func:`sievelight.reduce.azimuthal_profile`; bins of 30 degrees at most. Gaps are allowed.
    director_deg : float, optional
        Where it is known (a draw direction); default: the azimuth of most intensity. S2 about a director fitted to noise
        is high by about its own u.
    fourth_harmonic : bool
        Fit cos 4χ and sin 4χ too; matters only where azimuths are missing.

    Returns
    -------
    Anisotropy
        ``amplitude`` (A without its noise, with bands by Rice's distribution), ``amplitude_measured``,
        ``amplitude_squared`` (unbiased, may be negative), ``isotropic_probability`` (that a ring gives as much),
        ``director_deg`` and ``director_u_deg``, ``order_parameter`` (S2, None where a gap stays open), ``warnings``.

    Raises
    ------
    InputError
        Too few or too wide bins, no intensity.
    NumericalError
        Gaps that leave the harmonics undetermined.

    Notes
    -----
    P. H. Hermans, P. Platzek, Kolloid-Z. 88 (1939) 68 (from memory); A: first even Fourier coefficient.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> counts = np.round(1e9 * map.solid_angle_sr * (1 + 0.4 * np.cos(2 * map.azimuth_rad - 1)))
    >>> frame = sl.frames.Frame(counts, exposure_s=10.0)
    >>> found = sl.anisotropy(sl.azimuthal_profile(frame, map=map, q_range_per_nm=(1.0, 2.5), bins=24))
    >>> f"A = {found.amplitude.value:.2f} along {found.director_deg:.0f} degrees"
    'A = 0.20 along 29 degrees'
    """
    return _core.anisotropy(profile, director_deg=director_deg, fourth_harmonic=fourth_harmonic)
