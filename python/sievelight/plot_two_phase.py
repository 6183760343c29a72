# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of two-phase analyses: `plot_correlation` for γ(r) or the chord lengths, `plot_contrast_series` for pore fluids.

Both draw on `ax` (or a new one) and return it, as the functions of `sievelight.plot` do.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sievelight.analysis import Given
from sievelight.plot import _axes, color_of
from sievelight.two_phase import ContrastSeries, CorrelationFunction, CurveEstimates

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_correlation(
    found: CorrelationFunction, *, chords: bool = False, ax: Axes | None = None, color: int = 0
) -> Axes:
    """Draw γ(r), or the chord-length density, with its 68 % and 95 % bands.

    The grey zone at the left lies below the resolution: what is drawn there is Porod's law, not the data.

    Parameters
    ----------
    found : from `correlation_function`.
    chords : draw g(r) instead of γ(r).
    ax, color : axes to draw on (new ones without), and the number of a colour.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> found = sl.correlation_function(curve, guinier=sl.fit_guinier(curve), porod=sl.fit_porod(curve))
    >>> sl.plot_two_phase.plot_correlation(found).get_ylabel()  # or found.plot()
    'correlation function'
    """
    ax = _axes(ax)
    part: CurveEstimates = found.chords_per_nm if chords else found.correlation
    r, tint = found.r_nm, color_of(color)
    ax.fill_between(r, *part.band95.T, color=tint, alpha=0.22, lw=0, label="95 % band")
    ax.fill_between(r, *part.band68.T, color=tint, alpha=0.40, lw=0, label="68 % band")
    ax.plot(r, part.value, color=tint)
    ax.axhline(0, color="0.6", lw=0.7)
    ax.axvspan(0, min(found.resolution_nm, r[-1]), color="0.9", lw=0, zorder=0, label="finer than the data show")
    if not chords:
        length = found.porod_length_nm.value
        ax.plot([0, length], [1, 0], ":", color="black", lw=0.9, label=f"slope $-1/l_p$, $l_p$ = {length:.3g} nm")
    ax.set(
        xlabel="r / nm" if not chords else "chord length / nm",
        ylabel="g(r) / nm$^{-1}$" if chords else "correlation function",
        xlim=(0, r[-1]),
    )
    ax.legend()
    return ax


def plot_contrast_series(
    series: ContrastSeries,
    values: Sequence[float],
    u: Sequence[float],
    *,
    fluid_per_cm2: Sequence[Given],
    ax: Axes | None = None,
) -> Axes:
    """Draw the results of a contrast series, their standard uncertainties, the parabola and its match point.

    Parameters
    ----------
    series : from `fit_contrast_series`.
    values, u, fluid_per_cm2 : (m) as the series was fitted to.
    ax : axes to draw on; new ones without.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import numpy as np
    >>> import sievelight as sl
    >>> fluids = [0, 9.4e10, 14e10, 22e10]
    >>> levels = [((18.64e10 - f) / 1e10) ** 2 + 5 for f in fluids]
    >>> q, u = np.array([0.1, 0.2, 0.3]), np.full(3, 0.5)
    >>> curves = [sl.Curve(q_per_nm=q, intensity=np.full(3, y), private_u=u) for y in levels]
    >>> results = [sl.mean_intensity(c, q_range_per_nm=(0.1, 0.3)) for c in curves]
    >>> series = sl.fit_contrast_series(curves, results, fluid_per_cm2=fluids)
    >>> ax = sl.plot_two_phase.plot_contrast_series(series, levels, [r.u for r in results], fluid_per_cm2=fluids)
    >>> [text.get_text() for text in ax.get_legend().get_texts()]
    ['fit', 'match point, 95 %', 'results ± u']
    """
    ax = _axes(ax)
    rho = np.array([f[0] if isinstance(f, tuple) else f for f in fluid_per_cm2], dtype=float)
    match, low, high = series.match_per_cm2.value, rho.min(), rho.max()
    fine = np.linspace(min(low, match) - 0.05 * (high - low), max(high, match) + 0.05 * (high - low), 200)
    ax.plot(fine / 1e10, series.parabola(fine), color=color_of(0), label="fit")
    ax.errorbar(rho / 1e10, values, yerr=u, fmt="o", ms=4, color=color_of(2), label="results ± u")
    ax.axvspan(*np.clip([series.match_per_cm2.band95.low, series.match_per_cm2.band95.high], fine[0], fine[-1]) / 1e10,
               color=color_of(1), alpha=0.25, lw=0, label="match point, 95 %")  # fmt: skip
    ax.axvline(match / 1e10, color=color_of(1), ls="--", lw=0.9)
    ax.axhline(0, color="0.6", lw=0.7)
    ax.set(xlabel="scattering-length density of the fluid / 10$^{10}$ cm$^{-2}$", ylabel="result")
    ax.legend()
    return ax
