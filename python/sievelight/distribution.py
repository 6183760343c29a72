# SPDX-License-Identifier: GPL-3.0-or-later
"""From a curve to a size distribution with bands: which one do I use, and when.

`invert` for results: density, percentiles and their 68 % and 95 % bands, a second or less a curve. Its quick look,
``method="evidence"``, answers in milliseconds and is for a first picture only. `make_kernel` once for a series of curves
on the same bins. `write_distribution` for a NeXus file.
Sizes are diameters of equivalent spheres, in nm; weighting is by volume (q3 of ISO 9276-1).
"""

from __future__ import annotations

import os
from typing import Literal

from sievelight import _core
from sievelight._core import Curve, Kernel, SizeDistribution, sphere_form_factor
from sievelight.errors import input_error

__all__ = ["Kernel", "SizeDistribution", "invert", "make_kernel", "sphere_form_factor", "write_distribution"]


def _choice(name: str, value: str, known: dict[str, object]) -> object:
    if value not in known:
        raise input_error(f"{name} is {value!r}.", f"Use one of: {', '.join(known)}.")
    return known[value]


def _options(
    diameter_nm: tuple[float, float] | None,
    q_range_per_nm: tuple[float, float] | None,
) -> _core.InvertOptions:
    options = _core.InvertOptions()
    options.diameter_nm = None if diameter_nm is None else _core.Range(*diameter_nm)
    options.q_range_per_nm = None if q_range_per_nm is None else _core.Range(*q_range_per_nm)
    return options


def make_kernel(
    curve: Curve,
    *,
    diameter_nm: tuple[float, float] | None = None,
    q_range_per_nm: tuple[float, float] | None = None,
) -> Kernel:
    """Compute what a curve's q, bins and resolution make of each size; depends on no intensity.

    Give it to `invert` for every curve on the same bins, with the same size window and q range.

    Parameters
    ----------
    curve : Curve
        Its q (1/nm), bin edges and q resolution are used; points without an intensity or uncertainty are left out, and
        a curve that leaves out other points needs a kernel of its own.
    diameter_nm, q_range_per_nm : (low, high), optional
        As for `invert`.

    Returns
    -------
    Kernel
        With `volume_nm3` (n, m), `grid.diameter_nm` (m).
    """
    return _core.make_kernel(curve, _options(diameter_nm, q_range_per_nm))


def invert(
    curve: Curve,
    *,
    diameter_nm: tuple[float, float] | None = None,
    contrast_per_cm2: float | None = None,
    power_law: bool = False,
    method: Literal["sampled", "evidence", "cross_validation", "l_curve", "maximum_entropy"] = "sampled",
    seed: int = 1,
    draws: int = 2400,
    q_range_per_nm: tuple[float, float] | None = None,
    root: Literal["smaller", "larger"] = "smaller",
    kernel: Kernel | None = None,
) -> SizeDistribution:
    """Find the volume-weighted size distribution behind a curve, with bands that mean what they say.

    The model is a dilute sum of spheres, a flat background of either sign and, if asked for, K q⁻⁴. ln(density) is
    drawn from its posterior under two smoothness priors of unknown strength, half the draws each.

    Parameters
    ----------
    curve : Curve
        n points with uncertainties; intensity in 1/cm where a volume fraction is wanted.
    diameter_nm : (low, high), optional
        Size window that all results speak about, nm. Default: 3π/q_max to π/q_min, what the data support.
    contrast_per_cm2 : float, optional
        Difference of the scattering-length densities of the two phases, 1/cm². Without it no volume and no surface.
    power_law : bool
        Add K q⁻⁴ with K ≥ 0, the surface scattering of things too large to be seen.
    method : "sampled", or a quick look
        The full method; or, in milliseconds, a non-negative Tikhonov fit with its strength by "evidence",
        "cross_validation" or "l_curve", or "maximum_entropy". Their results warn of what their bands miss.
    seed : int
        The same seed gives the same result, on any number of threads.
    draws : int
        Kept draws; more are added while they are worth fewer than 400 independent ones.
    q_range_per_nm : (low, high), optional
        Points used, 1/nm.
    root : "smaller" or "larger"
        Which φ solves φ(1 − φ).
    kernel : Kernel, optional
        From `make_kernel`, for curves on the same bins; diameter_nm is then the kernel's.

    Returns
    -------
    SizeDistribution
        `diameter_nm` (m), `q3_per_nm` (m) with `q3_low68` … `q3_high95`; `x10_nm`, `x50_nm`, `x90_nm`, `mean_nm`,
        `relative_width`, `phi_one_minus_phi`, `volume_fraction`, `specific_surface_m2_per_cm3`, `background`,
        `power_law_k` as Estimate; `fit` and `residual` on `q_per_nm`; `draws` and `influence` by name; `warnings`.

    Raises
    ------
    InputError
        Fewer than 12 usable points, points without uncertainty, or an impossible window.
    NumericalError
        Nothing scatters above the background.

    Notes
    -----
    Bands include the curve's coherent causes of error. `influence[name]` is d(summary)/d(intensity) on the points of
    `curve`, so J_a C_ab J_bᵀ is the covariance of two samples' summaries through the causes they share.
    """
    options = _options(diameter_nm, q_range_per_nm)
    options.contrast_per_cm2 = 0.0 if contrast_per_cm2 is None else contrast_per_cm2
    options.power_law = power_law
    options.method = _choice("method", method, _core.InversionMethod.__members__)
    options.seed = seed
    options.draws = draws
    options.root = _choice("root", root, _core.FractionRoot.__members__)
    return _core.invert(curve, options) if kernel is None else _core.invert(curve, kernel, options)


def write_distribution(path: str | os.PathLike[str], distribution: SizeDistribution, *, title: str = "") -> None:
    """Write a distribution as a NeXus file that any NeXus viewer opens on the density with its bands.

    Parameters
    ----------
    path : path
        The file to write; an existing one is replaced.
    distribution : SizeDistribution
        From `invert`.
    title : str
        Usually the sample's name.

    Raises
    ------
    DataError
        The file cannot be written.
    """
    _core.write_distribution(os.fspath(path), distribution, title=title)
