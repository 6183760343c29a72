# SPDX-License-Identifier: GPL-3.0-or-later
"""What the range picker shows: the curve with its ranges and fits, the sizes beside it, and the numbers as a table."""

from __future__ import annotations

import html
from typing import Any

import numpy as np
from matplotlib.collections import LineCollection, PolyCollection

from sievelight import curve as curves
from sievelight import plot, reduce
from sievelight._core import Estimate
from sievelight.plot import styled
from sievelight.widgets.live_figure import LiveFigure
from sievelight.widgets.ranges import BACKGROUND, GUINIER, SIZES, Ranges

TINTS = {GUINIER: plot.COLORS[0], SIZES: plot.COLORS[1], BACKGROUND: plot.COLORS[2]}


class RangePicture:
    """The curve with its ranges and fits, and the sizes beside it; all that changes is redrawn alone."""

    @styled()
    def __init__(self, ranges: Ranges, whats: list[str]) -> None:
        self.ranges = ranges
        self.live = LiveFigure(width_in=8.6, height_in=3.7, toolbar=False, name="Curve with its ranges, and sizes")
        ax, sizes = self.curve_axes, self.size_axes = self.live.axes(1, 2, width_ratios=(1.35, 1.0))
        self._raw = self._background = None
        colors = plot.COLORS
        self._spans, self._names = {}, {}
        for what in whats:
            # Above: a strip in the range's own colour and pattern of line; below: its ground, when it is in hand.
            self._spans[what] = (
                ax.axvspan(1, 2, color=TINTS[what], alpha=0.22, lw=0),
                ax.axvline(1, color=TINTS[what], lw=1.4),
                ax.axvline(2, color=TINTS[what], lw=1.4),
            )
            self._names[what] = ax.text(
                1, 1.01, what, transform=ax.get_xaxis_transform(), color="black", fontsize=7.5, ha="center", va="bottom"
            )
        if ranges.background is not None:
            (self._raw,) = ax.plot([], [], color=colors[5], lw=1.0, label="sample")
            (self._background,) = ax.plot([], [], color=colors[1], lw=1.0, ls="--", label="background × factor")
        self._bars = LineCollection([], colors=colors[3], linewidths=1.0, zorder=2.5)
        ax.add_collection(self._bars, autolim=False)
        (self._points,) = ax.plot([], [], "o", ms=2.4, mew=0, color=colors[0], label="curve")
        (self._law,) = ax.plot([], [], color="black", lw=1.3, zorder=5, label="Guinier's law")
        (self._fit,) = ax.plot([], [], color=colors[4], lw=1.2, ls="-.", zorder=5, label="fit of the sizes")
        unit = plot._intensity_label({ranges.curve.unit})
        q, i = ranges.curve.q_per_nm, np.asarray(ranges.curve.intensity)
        top = float(np.nanmax(self._total()[0] if ranges.background is not None else i))
        ax.set(xscale="log", yscale="log", xlabel="q / nm$^{-1}$", ylabel=unit, xlim=(0.95 * q[0], 1.05 * q[-1]))
        ax.set_ylim(0.5 * _floor(ranges.curve), 2.5 * top)
        plot._plain_ticks(ax)
        ax.legend(loc="lower left", fontsize=7)
        self._outer = PolyCollection([], facecolors=colors[0], alpha=0.22, linewidths=0)
        self._inner = PolyCollection([], facecolors=colors[0], alpha=0.40, linewidths=0)
        for band in (self._outer, self._inner):
            sizes.add_collection(band, autolim=False)
        (self._density,) = sizes.plot([], [], color=colors[0], label="q$_3$, 68 % and 95 % bands")
        self._median = sizes.axvspan(1, 2, color="black", alpha=0.25, lw=0, label="x$_{50}$, 95 % band")
        self._median_line = sizes.axvline(1, color="black", lw=1.0)
        low, high = 3 * np.pi / q[-1], np.pi / q[0]
        if ranges.size is not None:
            d = np.asarray(ranges.size.diameter_nm)
            low, high = min(low, d[0]), max(high, d[-1])
        sizes.set(
            xscale="log",
            xlim=(low, high),
            xlabel="diameter / nm",
            ylabel=plot.DENSITY_LABEL,
            ylim=(0, 1),
        )
        plot._plain_ticks(sizes)
        sizes.legend(loc="upper right", fontsize=7)
        for what in whats:
            self.live.add_moving(*self._spans[what], self._names[what])
        self.live.add_moving(self._law, self._fit, self._outer, self._inner, self._density)
        self.live.add_moving(self._median, self._median_line)
        if self._raw is not None and self._background is not None:  # else the curve stands still
            self.live.add_moving(self._raw, self._background, self._bars, self._points)
        self._show_curve()

    def _show_curve(self) -> None:
        c = self.ranges.curve
        q, i, u = c.q_per_nm, np.asarray(c.intensity), np.asarray(curves.total_u(c))
        self._points.set_data(q, np.where(i > 0, i, np.nan))
        below, above, good = np.maximum(i - u, 1e-3 * np.abs(i)), i + u, (i > 0) & (u > 0)
        self._bars.set_segments(
            list(np.stack((np.column_stack((q, below)), np.column_stack((q, above))), axis=1)[good])
        )
        if self._raw is not None and self._background is not None:
            whole, taken = self._total()
            self._raw.set_data(q, np.where(whole > 0, whole, np.nan))
            self._background.set_data(q, np.where(taken > 0, taken, np.nan))

    def _total(self) -> tuple[Any, Any]:
        """The sample without subtraction, and the background as it is subtracted, in the curve's unit."""
        r = self.ranges
        keep = {k: v for k, v in r.subtraction.items() if not k.startswith("background")}
        whole = np.asarray(reduce.absolute_curve(r.sample, **keep).curve.intensity)
        return whole, whole - np.asarray(r.curve.intensity)

    def pixel_of(self, q_per_nm: float) -> float:
        """Where on the canvas a q stands."""
        return float(self.curve_axes.transData.transform((q_per_nm, 1.0))[0])

    def q_of(self, pixel: float) -> float:
        """The q at a place on the canvas, beyond the axes too."""
        return float(self.curve_axes.transData.inverted().transform((pixel, 0.0))[0])

    def show(self, in_hand: str, edge: int) -> None:
        """Draw all as it stands now, the range in hand with its ground, its `edge` thick."""
        r = self.ranges
        for what, (ground, *edges) in self._spans.items():
            low, high = r.now(what)
            ground.set_x(low)
            ground.set_width(high - low)
            ground.set_visible(what == in_hand)
            for k, (line, q) in enumerate(zip(edges, (low, high))):
                line.set_xdata([q, q])
                line.set_linewidth(2.6 if what == in_hand and k == edge else 1.4 if what == in_hand else 0.9)
                line.set_linestyle("-" if what == in_hand else ":")
            name = self._names[what]
            name.set_x(float(np.sqrt(low * high)))
            name.set_visible(what == in_hand)
        if r.background is not None:
            self._show_curve()
        self._show_law()
        self._show_sizes()
        self.live.refresh()

    def _show_law(self) -> None:
        fit = self.ranges.guinier
        if fit is None:
            self._law.set_data([], [])
            return
        low, high = fit.q_range_per_nm
        q = np.geomspace(low, high, 60)
        self._law.set_data(q, fit.intensity(q))

    def _show_sizes(self) -> None:
        size = self.ranges.size
        for artist in (self._fit, self._density):
            artist.set_data([], [])
        self._outer.set_verts([])
        self._inner.set_verts([])
        for artist in (self._median, self._median_line):
            artist.set_visible(size is not None)
        if size is None:
            return
        d = np.asarray(size.diameter_nm)
        self._fit.set_data(size.q_per_nm, np.where(np.asarray(size.fit) > 0, size.fit, np.nan))
        self._density.set_data(d, size.q3_per_nm)
        for band, low, high in (
            (self._outer, size.q3_low95, size.q3_high95),
            (self._inner, size.q3_low68, size.q3_high68),
        ):
            band.set_verts([np.vstack((np.column_stack((d, low)), np.column_stack((d, high))[::-1]))])
        low, high = size.x50_nm.band95
        self._median.set_x(low)
        self._median.set_width(high - low)
        self._median_line.set_xdata([size.x50_nm.value] * 2)
        top = float(np.nanmax(size.q3_high95))
        if not 0.35 < top / self.size_axes.get_ylim()[1] < 0.99:  # only then is the still part drawn anew
            self.size_axes.set_ylim(0, 1.35 * top)
            self.live.redraw()


def _floor(curve: Any) -> float:
    """The lowest intensity worth drawing: positive beyond twice its uncertainty, or of all that are positive."""
    i, u = np.asarray(curve.intensity), np.asarray(curves.total_u(curve))
    sure = i[(i > 2 * u) & (i > 0)]
    return float(np.min(sure if sure.size else i[i > 0]))


def numbers_table(ranges: Ranges) -> str:
    """Rg and x50 with their bands as a small table of HTML; in place of a number that is missing, why."""
    rows = []
    guinier, size = ranges.guinier, ranges.size
    beside = (
        "" if guinier is None else f"q Rg {guinier.q_rg_low:.2f} to {guinier.q_rg_high:.2f}, {guinier.points} points"
    )
    rows.append(_row("Rg", "nm", ranges.rg_nm, beside, ranges.trouble.get(GUINIER)))
    beside = "" if size is None else f"quick look, χ² per point {size.chi2_per_point:.2f}"
    rows.append(_row("x<sub>50</sub>", "nm", ranges.x50_nm, beside, ranges.trouble.get(SIZES)))
    if ranges.factor is not None or BACKGROUND in ranges.trouble:
        f = ranges.factor
        number = None if f is None else Estimate.normal(f.factor.value, f.u)
        beside = "" if f is None else f"χ² per point {f.chi2_per_point:.2f}"
        rows.append(_row("background factor", "", number, beside, ranges.trouble.get(BACKGROUND)))
    warnings = [] if guinier is None else [f"Rg: {w}" for w in guinier.warnings]
    said = "".join(f"<li>{html.escape(w)}</li>" for w in warnings)
    return (
        '<div role="status" aria-live="polite"><table class="sievelight-numbers" style="line-height:1.5">'
        + "".join(rows)
        + f"</table>{f'<ul>{said}</ul>' if said else ''}</div>"
    )


def _row(name: str, unit: str, estimate: Any, beside: str, trouble: str | None) -> str:
    if estimate is None or not np.isfinite(estimate.value):
        why = html.escape(trouble or "not found from these points")
        return (
            f'<tr><th scope="row" style="text-align:left;padding-right:1em">{name}</th><td colspan="3">{why}</td></tr>'
        )
    low, high = estimate.band95
    digits = max(0, 1 - int(np.floor(np.log10(estimate.u)))) if estimate.u > 0 else 3
    number = f"{estimate.value:.{digits}f} ± {estimate.u:.{digits}f} {unit}"
    band = f"95 %: {low:.{digits}f} to {high:.{digits}f} {unit}"
    cell = '<td style="padding-right:1.5em">'
    return (
        f'<tr><th scope="row" style="text-align:left;padding-right:1em">{name}</th>{cell}<b>{number}</b></td>'
        f"{cell}{band}</td><td>{html.escape(beside)}</td></tr>"
    )
