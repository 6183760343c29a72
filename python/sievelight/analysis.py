# SPDX-License-Identifier: GPL-3.0-or-later
"""What a curve says without a model of sizes.

Which one do I use? `fit_guinier` for a size from the lowest angles (a radius of gyration, weighing large objects most);
`fit_porod` for the sharp inner surface from the highest; `invariant` for how much of the two phases there is;
`specific_surface` for m²/cm³, m²/g and mean chords from the last two. Each result is a `CurveEstimate`: `value`, `u`,
`band68`, `band95`, and `influence`, the derivative with respect to every intensity, from which
`covariance_of_summaries` finds what two samples' results share. Windows are chosen and reported; give `q_range_per_nm`
for your own. Ordered pores: `find_curve_peaks` → `index_peaks` → `ordered_pores`, `domain_size`; `peak_share` says
whether peaks carry the curve, so that sizes of spheres have no meaning. `anisotropy` says how strongly a pattern is oriented, from an azimuthal profile. Every result carries `warnings` in words.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from sievelight import _core
from sievelight._core import (
    Anisotropy,
    AzimuthalProfile,
    Curve,
    CurveEstimate,
    CurvePeak,
    CurvePeaks,
    DomainSize,
    GuinierFit,
    IndexedPeak,
    Indexing,
    Invariant,
    LatticeCandidate,
    OrderedPores,
    PeakShare,
    PorodFit,
    Reflection,
    SpecificSurface,
)

__all__ = [
    "Anisotropy",
    "CurveEstimate",
    "CurvePeak",
    "CurvePeaks",
    "DomainSize",
    "GuinierFit",
    "IndexedPeak",
    "Indexing",
    "Invariant",
    "LatticeCandidate",
    "OrderedPores",
    "PeakShare",
    "PorodFit",
    "Reflection",
    "SpecificSurface",
    "anisotropy",
    "domain_size",
    "find_curve_peaks",
    "fit_guinier",
    "fit_porod",
    "index_peaks",
    "index_positions",
    "invariant",
    "ordered_pores",
    "peak_share",
    "phi_one_minus_phi",
    "reflections",
    "specific_surface",
]

Given = float | tuple[float, float]


def _range(q_range_per_nm: Iterable[float] | None) -> tuple[float, float] | None:
    if q_range_per_nm is None:
        return None
    low, high = q_range_per_nm
    return low, high


def _given(number: Given | None) -> tuple[float, float] | None:
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
    """
    return _core.fit_guinier(
        curve,
        q_rg_max=q_rg_max,
        q_range_per_nm=_range(q_range_per_nm),
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
) -> PorodFit:
    """Sharp inner surface from the tail, I = K q⁻⁴ + B.

    Parameters
    ----------
    curve : n points; any unit of intensity.
    q_range_per_nm : (low, high) to use instead of the automatic window, which is the widest at the curve's end over which
        the law holds; the automatic fit lets a next term C q⁻⁶ take part, so that the approach to the tail does not bias K.
    min_points, least_ratio : smallest automatic window, in points and as last over first q.
    law_tolerance : relative error of the law that its tests forgive; it is also part of K's uncertainty.

    Returns
    -------
    PorodFit
        `constant` K (curve's unit nm⁻⁴), `constant_per_cm5` (for a curve in 1/cm), `background` B, the window,
        `law_holds` and `warnings`.

    Raises
    ------
    InputError
        Fewer than 5 points in the given range, or a curve too short.

    Notes
    -----
    G. Porod, Kolloid-Z. 124 (1951) 83 (from memory).
    """
    return _core.fit_porod(
        curve,
        q_range_per_nm=_range(q_range_per_nm),
        min_points=min_points,
        least_ratio=least_ratio,
        law_tolerance=law_tolerance,
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
    """
    return _core.invariant(curve, guinier=guinier, porod=porod)


def phi_one_minus_phi(curve: Curve, invariant: Invariant, *, contrast_per_cm2: Given) -> CurveEstimate:
    """φ(1-φ) = Q / (2π² contrast²), for a curve in 1/cm.

    Parameters
    ----------
    curve, invariant : the curve and its invariant.
    contrast_per_cm2 : difference of the scattering-length densities, or (value, standard uncertainty).

    Raises
    ------
    InputError
        The curve is not in 1/cm, or the contrast is zero.
    """
    value, u = _given(contrast_per_cm2)  # type: ignore[misc]
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
    """
    return _core.specific_surface(
        curve,
        porod=porod,
        invariant=invariant,
        contrast_per_cm2=_given(contrast_per_cm2),
        porosity=_given(porosity),
        skeletal_density_g_per_cm3=_given(skeletal_density_g_per_cm3),
        apparent_density_g_per_cm3=_given(apparent_density_g_per_cm3),
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

    Source: P. H. Hermans, P. Platzek, Kolloid-Z. 88 (1939) 68 (from memory); A: first even Fourier coefficient.
    """
    return _core.anisotropy(profile, director_deg=director_deg, fourth_harmonic=fourth_harmonic)


def find_curve_peaks(
    curve: Curve,
    *,
    q_range_per_nm: Iterable[float] | None = None,
    false_alarm: float = 0.01,
    profile: str = "automatic",
    largest_relative_width: float = 0.2,
    background_tolerance: float = 0.005,
    least_advantage: float = 6.0,
    resolution_relative_u: float | None = None,
    most_peaks: int = 30,
) -> CurvePeaks:
    """Peaks of an ordered structure on I(q): position, height, area and width, each with its uncertainty.

    Parameters
    ----------
    curve : n points; any unit of intensity. A `q_resolution_per_nm` and bin edges let the own width be told.
    q_range_per_nm : (low, high) to look in; default: the whole curve.
    false_alarm : probability that noise alone yields a peak somewhere on a curve without peaks. Every place and width
        that is looked at counts.
    profile : "gaussian", "lorentzian", "pseudo_voigt", or "automatic" for the best of these by BIC.
    largest_relative_width : full width at half height over q, beyond which a hump shows a usual distance but no order.
    background_tolerance : relative error of the smooth background under a peak.
    least_advantage : difference in BIC by which peaks must beat the ripples of a form factor.
    resolution_relative_u : relative standard uncertainty of the blur's width; 5 % unless given (common practice).
    most_peaks : end of the search.

    Returns
    -------
    CurvePeaks
        `peaks`, rising in q: each with `q_per_nm`, `height`, `area`, `fwhm_per_nm`, `own_fwhm_per_nm` (without the blur;
        see `resolution_limited` and the 95 % limit `own_fwhm_limit_per_nm`), `z`, `false_alarm`, `window_per_nm`.
        `set_aside`: the same for what is no peak of order, with the reason in `set_aside`. `background` and `fit` (n)
        for a picture, `places` looked at, and `warnings`.

    Raises
    ------
    InputError
        Options that make no sense, fewer than 15 points, or some points with an uncertainty and others without.

    Notes
    -----
    The local background is a power law with a slow bend. Lobes of equal spheres are no noise: they are fitted as ripples,
    too, and whatever ripples explain as well is set aside, weak true peaks among it. Sources: tube formula for the false
    alarms, D. Q. Naiman, Ann. Stat. 14 (1986) 896; widths, P. Thompson, D. E. Cox, J. B. Hastings, J. Appl. Cryst. 20
    (1987) 79 (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> from sievelight import Curve, find_curve_peaks, index_peaks
    >>> q = np.linspace(0.1, 3, 300)
    >>> one = 2 * np.pi / 6.0
    >>> intensity = q**-3 + sum(5 / n**3 * np.exp(-0.5 * ((q - n * one) / 0.02) ** 2) for n in (1, 2))
    >>> curve = Curve(q_per_nm=q, intensity=intensity, private_u=0.01 * intensity)
    >>> peaks = find_curve_peaks(curve)
    >>> [round(peak.q_per_nm.value, 3) for peak in peaks.peaks]
    [1.047, 2.094]
    >>> round(index_peaks(curve, peaks, symmetries=["lamellar"]).candidates[0].lattice_nm.value, 2)
    6.0
    """
    return _core.find_curve_peaks(
        curve,
        q_range_per_nm=_range(q_range_per_nm),
        false_alarm=false_alarm,
        profile=profile,
        largest_relative_width=largest_relative_width,
        background_tolerance=background_tolerance,
        least_advantage=least_advantage,
        resolution_relative_u=resolution_relative_u,
        most_peaks=most_peaks,
    )


def index_peaks(
    curve: Curve, peaks: CurvePeaks, *, symmetries: Sequence[str] | None = None, q_scale_relative_u: float = 0.0
) -> Indexing:
    """Which lattice the peaks belong to, and its parameter.

    Parameters
    ----------
    curve, peaks : the curve and its peaks.
    symmetries : of "lamellar", "p6mm", "Pm-3m", "Im-3m", "Fm-3m", "Ia-3d", "Pn-3m", "Pm-3n"; default: all.
    q_scale_relative_u : relative standard uncertainty of the q scale, for a curve that does not carry it as a cause.

    Returns
    -------
    Indexing
        `candidates`, most probable first: each with `lattice_nm`, `chi2`, `indexed`, `unindexed`, `missing`, `explains`
        and `share`, its probability among the symmetries tried. `decided` is true when one explains every peak with a
        share of 95 % or more; else `verdict` names all that remain. `spacing_nm`, 2π/q of the first peak, needs no
        symmetry, and is all that one peak can give.

    Raises
    ------
    InputError
        There is no peak of order, the peaks belong to another curve, or a symmetry is not known.

    Notes
    -----
    `share` rests on how often an allowed reflection is seen (85 %, strong ones 95 %; common practice): read it as an
    ordering that knows how clear it is. Reflection conditions: International Tables for Crystallography Vol. A.
    """
    names = None if symmetries is None else list(symmetries)
    return _core.index_peaks(curve, peaks, symmetries=names, q_scale_relative_u=q_scale_relative_u)


def index_positions(
    q_per_nm: npt.ArrayLike,
    *,
    u_per_nm: npt.ArrayLike,
    q_range_per_nm: Iterable[float],
    symmetries: Sequence[str] | None = None,
    q_scale_relative_u: float = 0.0,
) -> Indexing:
    """As `index_peaks`, for positions from elsewhere (a table, another instrument).

    Parameters
    ----------
    q_per_nm, u_per_nm : k positions, rising, and their independent standard uncertainties (one, or one for all), 1/nm.
    q_range_per_nm : (low, high) in which a peak would have been seen: a reflection outside is not missing.
    symmetries, q_scale_relative_u : as in `index_peaks`.

    Raises
    ------
    InputError
        Positions that do not rise, or without a positive uncertainty.
    """
    q = np.asarray(q_per_nm, dtype=float)
    u = np.broadcast_to(np.asarray(u_per_nm, dtype=float), q.shape).copy()
    low, high = q_range_per_nm
    names = None if symmetries is None else list(symmetries)
    return _core.index_positions(
        q, u_per_nm=u, q_range_per_nm=(low, high), symmetries=names, q_scale_relative_u=q_scale_relative_u
    )


def reflections(symmetry: str, *, largest_m: int) -> list[Reflection]:
    """Reflections that a symmetry allows, up to m = h² + k² + l² (p6mm: h² + hk + k²; lamellar: l²).

    Raises
    ------
    InputError
        An unknown symmetry, or largest_m below 1.
    """
    return _core.reflections(symmetry, largest_m=largest_m)


def ordered_pores(
    lattice_nm: CurveEstimate | Given,
    *,
    symmetry: str,
    porosity: Given,
    model: str = "automatic",
) -> OrderedPores:
    """Pore size and wall thickness from lattice parameter and porosity.

    Parameters
    ----------
    lattice_nm : `LatticeCandidate.lattice_nm`, or a number, or (value, standard uncertainty), in nm.
    symmetry : as in `index_peaks`.
    porosity : the ordered pores' share of pores and wall, or (value, standard uncertainty); from a pore volume V (cm³/g)
        and the wall's density ρ (g/cm³) it is ρV / (1 + ρV). Micropores in the wall belong to the wall.
    model : "slits" (lamellar), "cylinders" (p6mm), "cages" (Pm-3m, Im-3m, Fm-3m), "channels" of a minimal surface (Ia-3d,
        Pn-3m, Im-3m), or "automatic".

    Returns
    -------
    OrderedPores
        `pore_nm` and `wall_nm` with both uncertainties; `pore_is` and `wall_is` say in words what they are.

    Raises
    ------
    InputError
        A porosity out of range or beyond touching, or a model that the symmetry does not have (Pm-3n has cages of two
        sizes and is refused).

    Notes
    -----
    p6mm: d = a √(2√3 φ/π), wall a - d. Cages: d = a (6φ/(nπ))^(1/3), P. I. Ravikovitch, A. V. Neimark, Langmuir 18 (2002)
    1550. Channels: a wall of constant thickness along the minimal surface; the pore is the hydraulic diameter 4V/S
    (derived; see the header ordered_pores.hpp). Citations from memory.

    Examples
    --------
    >>> from sievelight import ordered_pores
    >>> pores = ordered_pores((10.0, 0.02), symmetry="p6mm", porosity=(0.5, 0.02))
    >>> f"{pores.pore_nm.value:.2f} nm, wall {pores.wall_nm.value:.2f} ± {pores.wall_nm.u:.2f} nm"
    '7.43 nm, wall 2.57 ± 0.15 nm'
    """
    if not isinstance(lattice_nm, CurveEstimate):
        value, u = _given(lattice_nm)  # type: ignore[misc]
        lattice_nm = _core.estimate_without_curve(value, u)
    return _core.ordered_pores(lattice_nm, symmetry=symmetry, porosity=_given(porosity), model=model)


def domain_size(curve: Curve, peaks: CurvePeaks, *, scherrer_constant: float = 0.9) -> DomainSize:
    """How far the order reaches: D = 2π K / Δq, Δq the own full width at half height of the best-known peak.

    Parameters
    ----------
    curve, peaks : the curve and its peaks.
    scherrer_constant : K; 0.9 for domains near to cubes or spheres (common practice).

    Returns
    -------
    DomainSize
        `domain_nm` (None where the instrument explains the width), `lower_limit_nm` (95 %), `periods`,
        `width_growth_z` (widths that grow with q speak of distortion) and `warnings`.

    Raises
    ------
    InputError
        There is no peak of order, or K is not positive.

    Notes
    -----
    P. Scherrer, Nachr. Ges. Wiss. Göttingen (1918) 98 (from memory). K is known to some 10 %; that is not in `u`.
    """
    return _core.domain_size(curve, peaks, scherrer_constant=scherrer_constant)


def peak_share(curve: Curve, peaks: CurvePeaks, *, carry_height: float = 0.3, carry_share: float = 0.1) -> PeakShare:
    """Do peaks carry the curve, so that an inversion into sizes would answer with sizes that are not there?

    Parameters
    ----------
    curve, peaks : the curve and its peaks.
    carry_height, carry_share : "carry" from this height over background, or this share of ∫q²I dq (common practice).

    Returns
    -------
    PeakShare
        `role` ("none", "disturb", "carry"), `intensity_share`, `q2_share`, `highest_contrast`, `chi2_per_point`, the
        `windows_per_nm` that an inversion should leave out, and `words`.

    Raises
    ------
    InputError
        The peaks belong to another curve.
    """
    return _core.peak_share(curve, peaks, carry_height=carry_height, carry_share=carry_share)
