# SPDX-License-Identifier: GPL-3.0-or-later
"""Ordered pores: peaks on a curve, the lattice they belong to, pore and wall, how far the order reaches.

Which one do I use? `find_curve_peaks` first: it says which humps are peaks of order and which are not, and why.
`index_peaks` for the symmetry and the lattice parameter; one peak gives a spacing only. `ordered_pores` for pore and wall
from the lattice parameter and a porosity. `domain_size` for how far the order reaches. `peak_share` before an inversion:
where peaks carry the curve, sizes of spheres mean nothing, and `invert` refuses.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from sievelight import _core
from sievelight._core import (
    Curve,
    CurveEstimate,
    CurvePeak,
    CurvePeaks,
    DomainSize,
    Indexing,
    LatticeCandidate,
    OrderedPores,
    PeakShare,
    Reflection,
)
from sievelight.analysis import Given, given_pair, range_pair

__all__ = [
    "CurvePeak",
    "CurvePeaks",
    "DomainSize",
    "Indexing",
    "LatticeCandidate",
    "OrderedPores",
    "PeakShare",
    "Reflection",
    "domain_size",
    "find_curve_peaks",
    "index_peaks",
    "index_positions",
    "ordered_pores",
    "peak_share",
    "reflections",
]

#: Curves with fewer points are not asked for peaks of order before an inversion.
FEWEST_POINTS_FOR_ORDER: int = _core.FEWEST_POINTS_FOR_ORDER


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
        q_range_per_nm=range_pair(q_range_per_nm),
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

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> q = np.linspace(0.4, 2.2, 300)
    >>> lines = [(4 * np.pi / np.sqrt(3) / 10 * np.sqrt(m), 5 / m) for m in (1, 3, 4)]  # p6mm of 10 nm
    >>> intensity = q**-3 + sum(h * np.exp(-0.5 * ((q - at) / 0.01) ** 2) for at, h in lines)
    >>> curve = sl.Curve(q_per_nm=q, intensity=intensity, private_u=0.01 * intensity)
    >>> found = sl.index_peaks(curve, sl.find_curve_peaks(curve))
    >>> best = found.candidates[0]
    >>> best.symmetry, round(best.lattice_nm.value, 2)
    ('p6mm', 10.0)
    """
    names = None if symmetries is None else list(symmetries)
    return _core.index_peaks(curve, peaks, symmetries=names, q_scale_relative_u=q_scale_relative_u)


def index_positions(
    q_per_nm: ArrayLike,
    *,
    u_per_nm: ArrayLike,
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

    Returns
    -------
    Indexing
        As of `index_peaks`.

    Raises
    ------
    InputError
        Positions that do not rise, or without a positive uncertainty.

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.ordered.index_positions([0.7255, 1.2566, 1.4510], u_per_nm=0.001, q_range_per_nm=(0.3, 1.7))
    >>> best = found.candidates[0]
    >>> best.symmetry, round(best.lattice_nm.value, 2)
    ('p6mm', 10.0)
    """
    q = np.asarray(q_per_nm, dtype=float)
    u = np.broadcast_to(np.asarray(u_per_nm, dtype=float), q.shape).copy()
    low, high = q_range_per_nm
    names = None if symmetries is None else list(symmetries)
    return _core.index_positions(
        q, u_per_nm=u, q_range_per_nm=(low, high), symmetries=names, q_scale_relative_u=q_scale_relative_u
    )


def reflections(symmetry: str, *, largest_m: int) -> list[Reflection]:
    """Reflections that a symmetry allows.

    Parameters
    ----------
    symmetry : as in `index_peaks`.
    largest_m : up to m = h² + k² + l² (p6mm: h² + hk + k²; lamellar: l²).

    Returns
    -------
    list of Reflection
        Rising in q, each with `m`, `indices`, `ratio` (q a / 2π) and `strong`.

    Raises
    ------
    InputError
        An unknown symmetry, or largest_m below 1.

    Notes
    -----
    International Tables for Crystallography Vol. A, reflection conditions (from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.ordered.reflections("p6mm", largest_m=4)
    [<Reflection 10: q a/2π 1.1547>, <Reflection 11: q a/2π 2>, <Reflection 20: q a/2π 2.3094>]
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
        value, u = given_pair(lattice_nm)
        lattice_nm = _core.estimate_without_curve(value, u)
    return _core.ordered_pores(lattice_nm, symmetry=symmetry, porosity=given_pair(porosity), model=model)


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

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> q = np.linspace(0.4, 2.2, 300)
    >>> intensity = q**-3 + 5 * np.exp(-4 * np.log(2) * ((q - 1.0) / 0.05) ** 2)  # 0.05 1/nm wide
    >>> curve = sl.Curve(q_per_nm=q, intensity=intensity, private_u=0.01 * intensity)
    >>> found = sl.domain_size(curve, sl.find_curve_peaks(curve))
    >>> round(found.domain_nm.value), round(found.periods)
    (113, 18)
    """
    return _core.domain_size(curve, peaks, scherrer_constant=scherrer_constant)


def peak_share(curve: Curve, peaks: CurvePeaks, *, carry_height: float = 0.3, carry_share: float = 0.1) -> PeakShare:
    """Do peaks carry the curve, so that an inversion into sizes would answer with sizes that are not there?

    Parameters
    ----------
    curve, peaks : the curve and its peaks.
    carry_height, carry_share : "carry" from this share of ∫q²I dq; or, where the highest peak reaches this height over
        its background, from a thirtieth of it with two peaks or more, from half of it with one (common practice).

    Returns
    -------
    PeakShare
        `role` ("none", "disturb", "carry"), `intensity_share`, `q2_share`, `highest_contrast`, `chi2_per_point`, the
        `windows_per_nm` that an inversion should leave out, and `words`.

    Raises
    ------
    InputError
        The peaks belong to another curve.

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> q = np.linspace(0.4, 2.2, 300)
    >>> intensity = q**-3 + 5 * np.exp(-0.5 * ((q - 1.0) / 0.02) ** 2)
    >>> curve = sl.Curve(q_per_nm=q, intensity=intensity, private_u=0.01 * intensity)
    >>> sl.ordered.peak_share(curve, sl.find_curve_peaks(curve)).role
    'carry'
    """
    return _core.peak_share(curve, peaks, carry_height=carry_height, carry_share=carry_share)
