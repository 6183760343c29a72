# SPDX-License-Identifier: GPL-3.0-or-later
"""Ordered pores: peaks on a curve, the lattice they belong to, pore and wall, how far the order reaches.

Which one do I use? `find_curve_peaks` first: it says which humps are peaks of order and which are not, and why.
`index_peaks` for the symmetry and the lattice parameter; one peak gives a spacing only. `ordered_pores` for pore and wall
from the lattice parameter and a porosity. `domain_size` for how far the order reaches. `peak_share` before an inversion:
where peaks carry the curve, sizes of spheres mean nothing, and `invert` refuses.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

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

Symmetry = Literal["lamellar", "p6mm", "Pm-3m", "Im-3m", "Fm-3m", "Ia-3d", "Pn-3m", "Pm-3n"]


def find_curve_peaks(
    curve: Curve,
    *,
    q_range_per_nm: Iterable[float] | None = None,
    false_alarm: float = 0.01,
    profile: Literal["automatic", "gaussian", "lorentzian", "pseudo_voigt"] = "automatic",
    largest_relative_width: float = 0.2,
    resolution_relative_u: float | None = None,
) -> CurvePeaks:
    """Peaks of an ordered structure on a smooth curve: place, height, area and width, each with its uncertainty.

    Parameters
    ----------
    curve : n points, 15 or more in the range.
    q_range_per_nm : (low, high), where to look; the whole curve otherwise.
    false_alarm : probability that noise alone yields a peak somewhere on the curve.
    profile : shape of the peaks; "automatic" chooses by BIC, group by group.
    largest_relative_width : full width at half height over q; a broader hump shows a usual distance, no order.
    resolution_relative_u : standard uncertainty of the blur's width, relative; 5 % unless given.

    Returns
    -------
    CurvePeaks
        ``peaks`` (rising in q; each ``q_per_nm``, ``height``, ``area``, ``fwhm_per_nm``, ``own_fwhm_per_nm`` without the
        blur), ``set_aside`` with the reason of each (ripples of a form factor, a broad hump), ``background`` and ``fit``
        on the curve's points, ``warnings``.

    Raises
    ------
    InputError
        Options or a range that make no sense, too few points, uncertainties at some points only.

    Examples
    --------
    >>> import numpy as np, sievelight as sl
    >>> q = np.linspace(0.4, 2.4, 200)
    >>> truth = 5 * q**-4.0 + 30 * np.exp(-0.5 * ((q - 0.8) / 0.02) ** 2)
    >>> peaks = sl.find_curve_peaks(sl.Curve(q_per_nm=q, intensity=truth, private_u=0.02 * truth))
    >>> [round(p.q_per_nm.value, 3) for p in peaks.peaks]
    [0.8]
    """
    return _core.find_curve_peaks(
        curve,
        q_range_per_nm=range_pair(q_range_per_nm),
        false_alarm=false_alarm,
        profile=profile,
        largest_relative_width=largest_relative_width,
        resolution_relative_u=resolution_relative_u,
    )


def index_peaks(
    curve: Curve,
    peaks: CurvePeaks,
    *,
    symmetries: Sequence[Symmetry] | None = None,
    q_scale_relative_u: float = 0.0,
) -> Indexing:
    """Which lattice the peaks belong to, and its parameter.

    Parameters
    ----------
    curve, peaks : the curve and what `find_curve_peaks` found on it.
    symmetries : those to try; all known ones by default (lamellar, p6mm, Pm-3m, Im-3m, Fm-3m, Ia-3d, Pn-3m, Pm-3n).
    q_scale_relative_u : of the q scale, where the curve does not carry it as a cause.

    Returns
    -------
    Indexing
        ``candidates``, most probable first (``symmetry``, ``lattice_nm``, ``chi2``, ``indexed``, ``unindexed``,
        ``missing``, ``share``); ``decided`` and ``verdict`` in words; ``spacing_nm`` = 2π/q of the first peak.

    Raises
    ------
    InputError
        No peak of order, or no symmetry.
    """
    return _core.index_peaks(
        curve,
        peaks,
        symmetries=None if symmetries is None else list(symmetries),
        q_scale_relative_u=q_scale_relative_u,
    )


def index_positions(
    q_per_nm: ArrayLike,
    *,
    u_per_nm: ArrayLike,
    q_range_per_nm: Iterable[float],
    symmetries: Sequence[Symmetry] | None = None,
    q_scale_relative_u: float = 0.0,
) -> Indexing:
    """The same from positions that were read elsewhere: q and standard uncertainty (k) each, within the range seen.

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.ordered.index_positions([0.70, 1.2124, 1.40], u_per_nm=[0.002, 0.003, 0.004], q_range_per_nm=(0.3, 1.6))
    >>> found.candidates[0].symmetry, round(found.candidates[0].lattice_nm.value, 2)
    ('p6mm', 10.36)
    """
    low, high = q_range_per_nm
    return _core.index_positions(
        np.asarray(q_per_nm, dtype=float),
        u_per_nm=np.asarray(u_per_nm, dtype=float),
        q_range_per_nm=(low, high),
        symmetries=None if symmetries is None else list(symmetries),
        q_scale_relative_u=q_scale_relative_u,
    )


def reflections(symmetry: Symmetry, *, largest_m: int = 24) -> list[Reflection]:
    """Allowed reflections of a symmetry up to m (h² + k² + l² and its like), with q a / 2π."""
    return _core.reflections(symmetry, largest_m=largest_m)


def ordered_pores(
    lattice_nm: CurveEstimate,
    *,
    symmetry: Symmetry,
    porosity: Given,
    model: Literal["automatic", "slits", "cylinders", "cages", "channels"] = "automatic",
) -> OrderedPores:
    """Pore and wall from the lattice parameter and the share of the ordered pores.

    Parameters
    ----------
    lattice_nm : of a candidate of `index_peaks`.
    symmetry : of that candidate.
    porosity : share of the ordered pores in the volume of pores and walls, or (value, standard uncertainty).
    model : "automatic" takes slits for lamellar, cylinders for p6mm, cages for Pm-3m, Im-3m and Fm-3m, channels of a
        minimal surface for Ia-3d and Pn-3m.

    Returns
    -------
    OrderedPores
        ``pore_nm`` and ``wall_nm`` with their uncertainties, and in words what they are.

    Raises
    ------
    InputError
        A porosity beyond touching pores, or a model that does not belong to the symmetry.
    """
    value, u = given_pair(porosity)  # type: ignore[misc]
    return _core.ordered_pores(lattice_nm, symmetry=symmetry, porosity=(value, u), model=model)


def domain_size(curve: Curve, peaks: CurvePeaks, *, scherrer_constant: float = 0.9) -> DomainSize:
    """How far the order reaches: D = 2π K / Δq from the own width of the peak that knows it best.

    Returns
    -------
    DomainSize
        ``domain_nm`` (None where the width is resolution-limited; then ``lower_limit_nm`` is all there is), ``periods``.

    Raises
    ------
    InputError
        No peak of order, or a constant that is not positive.
    """
    return _core.domain_size(curve, peaks, scherrer_constant=scherrer_constant)


def peak_share(curve: Curve, peaks: CurvePeaks, *, carry_height: float = 0.3, carry_share: float = 0.1) -> PeakShare:
    """Whether peaks carry the curve: ``role`` "none", "disturb" or "carry", with the figures and ``windows_per_nm``.

    Raises
    ------
    InputError
        The peaks do not belong to the curve.
    """
    return _core.peak_share(curve, peaks, carry_height=carry_height, carry_share=carry_share)
