# SPDX-License-Identifier: GPL-3.0-or-later
"""Named size distributions fitted to a curve: which one do I use, and when.

* :func:`sievelight.invert` for results: it assumes no family.
* :func:`fit_parametric` to hold that answer against a simple one, or where a family is known.
* :func:`compare_families` to see which families the curve can tell apart at all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sievelight import _core
from sievelight._core import Curve, ParametricFit
from sievelight.distribution import kernel_options
from sievelight.errors import input_error, nearest
from sievelight.tables import Tabular

__all__ = ["FamilyComparison", "ParametricFit", "compare_families", "fit_parametric", "size_families"]


def size_families() -> list[str]:
    """Names of the families, as :func:`fit_parametric` takes them.

    Notes
    -----
    Log-normal: T. Hatch, S. P. Choate, J. Franklin Inst. 207 (1929) 369; Schulz-Zimm: M. Kotlarchyk, S.-H. Chen, J. Chem.
    Phys. 79 (1983) 2461 (both from memory).

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.parametric.size_families()
    ['monodisperse', 'log-normal', 'Schulz-Zimm', 'Gaussian', 'two log-normals']
    """
    return _core.size_families()


def fit_parametric(
    curve: Curve,
    family: str = "log-normal",
    *,
    contrast_per_cm2: float | None = None,
    power_law: bool = False,
    q_range_per_nm: tuple[float, float] | None = None,
    seed: int = 1,
    **model: Any,
) -> ParametricFit:
    """Fit a volume-weighted distribution with a name, with a flat background of either sign.

    Parameters
    ----------
    curve : Curve
        n points with uncertainties.
    family : str
        "monodisperse" (diameter_nm); "log-normal" (median_nm, sigma of ln D); "Schulz-Zimm" or "Gaussian" (mean_nm,
        relative_width); "two log-normals" (median_1_nm, sigma_1, median_2_nm, sigma_2, share_1 of the volume).
    contrast_per_cm2, power_law, q_range_per_nm, seed
        As for :func:`sievelight.invert`.
    **model
        ``shape`` with its parameters, ``interaction``, ``slit``, ``power_exponent``: as for :func:`sievelight.invert`.

    Returns
    -------
    ParametricFit
        ``parameters`` by name, ``x10_nm``, ``x50_nm``, ``x90_nm``, ``mean_nm``, ``relative_width``,
        ``phi_one_minus_phi`` (and ``volume_fraction`` with an interaction), ``background``, ``power_law_k`` as Estimate; ``q3_per_nm`` on ``diameter_nm`` with
        ``q3_low95`` and ``q3_high95``; ``fit``, ``residual`` on ``q_per_nm``; ``chi2``, ``degrees_of_freedom``,
        ``probability``, ``bic``; ``influence``; ``warnings``. Its errors are conditional on the family, and are much
        smaller than what is known without one.

    Raises
    ------
    InputError
        An unknown family, fewer than 12 usable points, points without uncertainty.
    NumericalError
        Nothing scatters above the background.

    Notes
    -----
    G. Schwarz, Ann. Stat. 6 (1978) 461 (BIC); M. Kotlarchyk, S.-H. Chen, J. Chem. Phys. 79 (1983) 2461.

    Examples
    --------
    >>> import sievelight as sl
    >>> fit = sl.fit_parametric(sl.examples.curve(median_nm=8.0, sigma=0.2), "log-normal")
    >>> {name: round(p.value, 1) for name, p in fit.parameters.items()}
    {'median_nm': 8.0, 'sigma': 0.2}
    """
    if family not in size_families():
        raise input_error(f"family is '{family}'.", nearest(family, size_families()))
    return _core.fit_parametric(
        curve,
        family,
        contrast_per_cm2=0.0 if contrast_per_cm2 is None else contrast_per_cm2,
        power_law=power_law,
        q_range_per_nm=None if q_range_per_nm is None else _core.Range(*q_range_per_nm),
        seed=seed,
        kernel=kernel_options(**model),
    )


@dataclass(frozen=True)
class FamilyComparison(Tabular):
    """Fits of several families, the best first."""

    fits: list[ParametricFit]
    weights: list[float]  # exp(-BIC/2), normalised: how the data divide their belief among these families

    @property
    def best(self) -> ParametricFit:
        """The family of least BIC."""
        return self.fits[0]

    def plot(self, *, ax: Any = None) -> Any:
        """Draw the densities of all families with their weights. Returns the axes."""
        from sievelight import plot

        ax = plot._axes(ax)
        for k, (f, w) in enumerate(zip(self.fits, self.weights, strict=True)):
            style = plot.DASHES[k % len(plot.DASHES)]
            ax.plot(f.diameter_nm, f.q3_per_nm, linestyle=style, color=plot.color_of(k), label=f"{f.family} ({w:.2f})")
        plot._density_axes(ax)
        ax.legend(title="family (weight)")
        return ax

    def rows(self) -> list[dict[str, Any]]:
        """One row a family: name, BIC beyond the best, weight, chi^2 per degree, x50 and relative width with their u."""
        return [
            {
                "family": f.family,
                "bic_beyond_best": f.bic - self.best.bic,
                "weight": w,
                "chi2_per_degree": f.chi2 / f.degrees_of_freedom,
                "x50_nm": f.x50_nm.value,
                "x50_u_nm": f.x50_nm.u,
                "relative_width": f.relative_width.value,
                "relative_width_u": f.relative_width.u,
            }
            for f, w in zip(self.fits, self.weights)
        ]

    def __repr__(self) -> str:
        lines = [
            f"  {r['family']:<16} weight {r['weight']:.3f}  chi2/dof {r['chi2_per_degree']:.2f}  x50 {r['x50_nm']:.4g} ± {r['x50_u_nm']:.2g} nm"
            for r in self.rows()
        ]
        return "\n".join(["<FamilyComparison", *lines, ">"])


def compare_families(
    curve: Curve,
    families: Sequence[str] | None = None,
    *,
    contrast_per_cm2: float | None = None,
    power_law: bool = False,
    q_range_per_nm: tuple[float, float] | None = None,
    seed: int = 1,
    **model: Any,
) -> FamilyComparison:
    """Fit several families and order them by BIC.

    A family that leads by less than about 6 in BIC (a weight of 0.95) is not told from the next by this curve.

    Parameters
    ----------
    curve : Curve
        n points with uncertainties.
    families : sequence of str, optional
        All of :func:`size_families` by default.
    contrast_per_cm2, power_law, q_range_per_nm, seed, **model
        As for :func:`fit_parametric`.

    Returns
    -------
    FamilyComparison
        ``fits``, the best first, ``weights``, ``best`` and ``rows()``.

    Raises
    ------
    InputError, NumericalError
        As :func:`fit_parametric`.

    Notes
    -----
    G. Schwarz, Ann. Stat. 6 (1978) 461 (BIC).

    Examples
    --------
    >>> import sievelight as sl
    >>> found = sl.compare_families(sl.examples.curve(), ["log-normal", "monodisperse"])
    >>> found.best.family, [round(w, 3) for w in found.weights]
    ('log-normal', [1.0, 0.0])
    """
    names = size_families() if families is None else list(families)
    if not names:
        raise input_error("no family was given.", f"Known: {', '.join(size_families())}.")
    fits = [
        fit_parametric(
            curve,
            name,
            contrast_per_cm2=contrast_per_cm2,
            power_law=power_law,
            q_range_per_nm=q_range_per_nm,
            seed=seed,
            **model,
        )
        for name in names
    ]
    fits.sort(key=lambda f: f.bic)
    odds = [math.exp(-0.5 * (f.bic - fits[0].bic)) for f in fits]
    return FamilyComparison(fits, [o / sum(odds) for o in odds])
