# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of what a curve says without a model of sizes, and of the choice of a smoothness.

`plot_guinier`, `plot_porod`, `plot_kratky` and `plot_invariant` draw the curve so that the law is a straight or a level
line; give them the fit and they draw it with its window. `plot_trade_off` shows what each strength of the smoothness
penalty would cost. All draw on `ax` (or a new one) and return it, as the functions of `sievelight.plot` do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sievelight._core import Curve, GuinierFit, InputError, Invariant, PorodFit, TradeOff, pointwise_u
from sievelight.plot import INTENSITY_UNITS, _axes, _plain_ticks, color_of, refuse_empty

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]


def _seen(curve: Curve) -> tuple[Array, Array, Array]:
    """q, intensity and pointwise uncertainty of a curve's points; InputError where none is above zero."""
    refuse_empty(curve)
    return np.asarray(curve.q_per_nm), np.asarray(curve.intensity), np.asarray(pointwise_u(curve))


def _points(ax: Axes, x: Array, y: Array, u: Array, used: NDArray[np.bool_], color: int) -> None:
    """Points of the window filled, others open; bars are one standard uncertainty."""
    ax.errorbar(x, y, yerr=u, fmt="none", ecolor=color_of(color), elinewidth=0.6, alpha=0.6)
    for part, face in ((used, color_of(color)), (~used, "white")):
        ax.plot(x[part], y[part], "o", ms=3, mfc=face, mec=color_of(color), mew=0.6)


def _inside(q: Array, window: Any) -> NDArray[np.bool_]:
    return np.asarray((q >= window.low * (1 - 1e-9)) & (q <= window.high * (1 + 1e-9)))


def plot_guinier(curve: Curve, fit: GuinierFit | None = None, *, ax: Axes | None = None, color: int = 0) -> Axes:
    """Draw ln I against q², in which Guinier's law is a straight line; the window's points are filled.

    Parameters
    ----------
    curve : n points.
    fit : from `fit_guinier`; drawn over its window, dashed beyond it. Without one, the first third of the points.
    ax, color : axes to draw on (new ones without), and the number of a colour.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No point near the start is positive.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> ax = sl.plot_laws.plot_guinier(curve, sl.fit_guinier(curve))  # or curve.plot(kind="guinier")
    >>> ax.get_title(loc="left")
    '$R_g$ = 3.6... nm, $qR_g$ ≤ 1.2...'
    """
    ax = _axes(ax)
    q, intensity, u = _seen(curve)
    end = 1.6 * fit.q_range_per_nm.high if fit is not None else q[max(len(q) // 3, min(len(q), 10) - 1)]
    shown = (q <= end) & (intensity > 0)
    if not shown.any():
        raise InputError("no point near the start is positive; Guinier's law needs ln I.\nCheck the background.")
    q, intensity, u = q[shown], intensity[shown], u[shown]
    used = _inside(q, fit.q_range_per_nm) if fit is not None else np.ones(q.size, bool)
    _points(ax, q**2, intensity, np.minimum(u, 0.9 * intensity), used, color)
    if fit is not None:
        fine = np.linspace(0, end, 200)
        law = fit.intensity(fine)
        own = fine <= fit.q_range_per_nm.high
        ax.plot(fine[own] ** 2, law[own], color="black", lw=1.0, zorder=5)
        ax.plot(fine[~own] ** 2, law[~own], color="black", lw=0.9, ls="--", zorder=5)
        rg = fit.rg_nm
        ax.set_title(f"$R_g$ = {rg.value:.4g} ± {rg.u:.2g} nm, $qR_g$ ≤ {fit.q_rg_high:.2f}", loc="left")
    ax.set(yscale="log", xlabel="q$^2$ / nm$^{-2}$", ylabel=_unit("I", curve))
    ax.set_xlim(left=0)
    _log_numbers(ax)
    return ax


def plot_porod(curve: Curve, fit: PorodFit | None = None, *, ax: Axes | None = None, color: int = 0) -> Axes:
    """Draw (I - B) q⁴ against q, in which Porod's law is level at K; the window's points are filled.

    Parameters
    ----------
    curve : n points.
    fit : from `fit_porod`; its background is subtracted and K drawn with its 95 % band. Without one, I q⁴.
    ax, color : axes to draw on (new ones without), and the number of a colour.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No intensity is above zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> sl.plot_laws.plot_porod(curve, sl.fit_porod(curve)).get_ylabel()
    '(I − B) q$^4$ / cm$^{-1}$ nm$^{-4}$'
    """
    ax = _axes(ax)
    q, intensity, u = _seen(curve)
    if fit is not None:
        intensity = intensity - fit.background_at(q)
    y, bar = intensity * q**4, u * q**4
    used = _inside(q, fit.q_range_per_nm) if fit is not None else np.ones(q.size, bool)
    good = y > 0
    _points(ax, q[good], y[good], np.minimum(bar[good], 0.9 * y[good]), used[good], color)
    if fit is not None:
        k, window = fit.constant, fit.q_range_per_nm
        x = (window.low, window.high)
        ax.fill_between(x, *np.maximum([[k.band95.low] * 2, [k.band95.high] * 2], 1e-300), color="0.7", alpha=0.6, lw=0)
        fine = np.linspace(*x, 100)
        ax.plot(fine, (fit.intensity(fine) - fit.background_at(fine)) * fine**4, color="black", lw=1.0, zorder=5)
        word = "" if fit.law_holds else ", law does not hold"
        ax.set_title(f"K = {k.value:.3g} ± {k.u:.1g} {INTENSITY_UNITS[curve.unit]} nm$^{{-4}}${word}", loc="left")
    ax.set(xscale="log", yscale="log", xlabel="q / nm$^{-1}$")
    ax.set_ylabel(_unit("(I − B) q$^4$" if fit is not None else "I q$^4$", curve, " nm$^{-4}$"))
    _plain_ticks(ax)
    return ax


def plot_kratky(curve: Curve, fit: GuinierFit | None = None, *, ax: Axes | None = None, color: int = 0) -> Axes:
    """Draw q² I against q; with a Guinier fit the dimensionless form (q Rg)² I / I0 against q Rg.

    Compact bodies have their hump at q Rg = √3, 3/e = 1.104 high (the dotted cross; Guinier's law alone), open or
    branched ones rise on or level off.

    Parameters
    ----------
    curve : n points.
    fit : from `fit_guinier`.
    ax, color : axes to draw on (new ones without), and the number of a colour.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No intensity is above zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> sl.plot_laws.plot_kratky(curve, sl.fit_guinier(curve)).get_xlabel()
    'q R$_g$'
    """
    ax = _axes(ax)
    q, intensity, u = _seen(curve)
    if fit is None:
        x, factor = q, q**2
        ax.set(xlabel="q / nm$^{-1}$", ylabel=_unit("q$^2$ I", curve, " nm$^{-2}$"))
    else:
        x = q * fit.rg_nm.value
        factor = x**2 / fit.i0.value
        ax.axvline(np.sqrt(3), color="0.5", lw=0.8, ls=":")
        ax.axhline(3 / np.e, color="0.5", lw=0.8, ls=":")
        shown = x < 8
        x, factor, intensity, u = x[shown], factor[shown], intensity[shown], u[shown]
        ax.set(xlabel="q R$_g$", ylabel="(q R$_g$)$^2$ I / I$_0$")
    _points(ax, x, factor * intensity, factor * u, np.ones(x.size, bool), color)
    ax.set_xlim(left=0)
    ax.axhline(0, color="0.6", lw=0.7)
    return ax


def plot_invariant(
    curve: Curve,
    result: Invariant,
    *,
    porod: PorodFit,
    guinier: GuinierFit | None = None,
    ax: Axes | None = None,
    color: int = 0,
) -> Axes:
    """Draw q² (I - B) against q, whose area is the invariant: measured, and extrapolated at both ends (hatched).

    Parameters
    ----------
    curve : n points.
    result, porod, guinier : as `invariant` gave and took them.
    ax, color : axes to draw on (new ones without), and the number of a colour.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No intensity is above zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> curve = sl.examples.curve()
    >>> guinier, porod = sl.fit_guinier(curve), sl.fit_porod(curve)
    >>> q = sl.invariant(curve, guinier=guinier, porod=porod)
    >>> ax = sl.plot_laws.plot_invariant(curve, q, porod=porod, guinier=guinier)
    >>> [text.get_text() for text in ax.get_legend().get_texts()][0]
    'measured'
    """
    ax = _axes(ax)
    q, intensity, u = _seen(curve)
    background = np.asarray(porod.background_at(q))
    y = q**2 * (intensity - background)
    low, high = result.q_range_per_nm.low, porod.q_range_per_nm.high
    within = (q >= low) & (q <= high)
    ax.fill_between(q[within], 0, y[within], color=color_of(color), alpha=0.35, lw=0, label="measured")
    ax.errorbar(q[within], y[within], yerr=(q**2 * u)[within], fmt=".", ms=3, lw=0.6, color=color_of(color))
    start = np.linspace(0, low, 60)
    level = guinier.intensity(start) if guinier is not None else np.full(60, float((intensity - background)[within][0]))
    low_share, high_share = (100 * s for s in (result.share_extrapolated_low, result.share_extrapolated_high))
    ax.fill_between(start, 0, start**2 * level, facecolor="none", edgecolor=color_of(1), hatch="////", lw=0.6,
                    label=f"below, {low_share:.1f} %")  # fmt: skip
    end = np.geomspace(high, 3 * high, 60)
    tail = np.asarray(porod.intensity(end)) - np.asarray(porod.background_at(end))
    ax.fill_between(end, 0, end**2 * tail, facecolor="none", edgecolor=color_of(4), hatch="\\\\\\\\", lw=0.6,
                    label=f"above, {high_share:.1f} %")  # fmt: skip
    ax.set(xlabel="q / nm$^{-1}$", ylabel=_unit("q$^2$ (I − B)", curve, " nm$^{-2}$"), xlim=(0, 1.6 * high))
    ax.set_title(
        f"Q = {result.value.value:.4g} ± {result.value.u:.2g} {INTENSITY_UNITS[curve.unit]} nm$^{{-3}}$", loc="left"
    )
    ax.legend()
    return ax


def plot_trade_off(result: TradeOff, *, ax: Axes | None = None) -> Axes:
    """Draw misfit against roughness over all strengths of the smoothness penalty, and where each rule would stop.

    The shade of a point is its evidence: full where a strength is likely. The sampled method draws the strength from
    there and stops nowhere.

    Parameters
    ----------
    result : from `trade_off`.
    ax : axes to draw on; new ones without.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> ax = sl.plot_laws.plot_trade_off(sl.trade_off(sl.examples.curve()))
    >>> [text.get_text() for text in ax.get_legend().get_texts()]
    ['evidence', 'cross-validation', 'corner of the curve']
    """
    ax = _axes(ax)
    x, y = np.asarray(result.chi2_per_point), np.asarray(result.roughness)
    ax.plot(x, y, color="0.6", lw=0.8)
    shade = np.clip(1 + np.asarray(result.ln_evidence) / 12, 0.08, 1)
    for a, b, s in zip(x, y, shade):
        ax.plot(a, b, "o", ms=4, color=color_of(0), alpha=float(s), mew=0)
    marks = ((result.by_evidence, "evidence", "s"), (result.by_cross_validation, "cross-validation", "^"),
             (result.at_corner, "corner of the curve", "D"))  # fmt: skip
    for number, (k, word, marker) in enumerate(marks, start=1):
        ax.plot(x[k], y[k], marker, ms=8, mfc="none", mec=color_of(number), mew=1.4, label=word)
    ax.set(xscale="log", yscale="log", xlabel="misfit χ$^2$ / n", ylabel="roughness |D$_2$ x|$^2$ / relative unit")
    ax.legend(title="strength chosen by")
    return ax


def _unit(what: str, curve: Curve, more: str = "") -> str:
    return f"{what} / {INTENSITY_UNITS[curve.unit]}{more}"


def _log_numbers(ax: Axes) -> None:
    """Plain numbers on a log axis that spans less than two decades, where powers of ten would leave one mark."""
    from matplotlib.ticker import LogLocator, NullFormatter, ScalarFormatter

    low, high = ax.get_ylim()
    if high / low < 100:
        ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0) if high / low > 6 else (1, 1.5, 2, 3, 4, 5, 6, 8)))
        ax.yaxis.set_major_formatter(ScalarFormatter())
        ax.yaxis.set_minor_formatter(NullFormatter())
