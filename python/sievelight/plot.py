# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures: which one do I use, and when.

`plot_frame` for a detector frame with its mask, beam point and rings, `plot_strip` for a strip detector's;
`plot_q_azimuth_map` for the frame unrolled; `plot_curves` for I(q) with bands and fits;
`plot_residuals` below it; `plot_distribution` for sizes with 68 % and 95 % bands; `plot_batches` for the comparison with
its margin and verdicts; `plot_budget` for the shares of variance; `calibration` for a ring calibration with its residuals. Every function draws on `ax` (or a new one) and
returns it. Colours are Matplotlib's own `tableau-colorblind10` cycle; markers and dashes differ as well, so that the
pictures survive greyscale. Matplotlib is imported inside the functions only.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sievelight._core import InputError, total_u

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Matplotlib's `tableau-colorblind10`, in an order in which neighbours also differ in lightness.
COLORS = ("#006BA4", "#FF800E", "#595959", "#5F9ED1", "#C85200", "#ABABAB", "#A2C8EC", "#FFBC79", "#898989", "#CFCFCF")
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "*")
DASHES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)))
# One column of a journal is 85 to 90 mm wide (common practice).
COLUMN_INCHES = (3.4, 2.55)
DENSITY_LABEL = "q$_3$ / nm$^{-1}$ (volume-weighted)"
# How a curve's unit is written at an axis.
INTENSITY_UNITS = {"1/cm": "cm$^{-1}$", "cm2/g": "cm$^2$ g$^{-1}$", "relative": "arbitrary unit"}
# IUPAC pore classes by width: Thommes et al. 2015, Pure Appl. Chem. 87, 1051.
MICROPORE_NM, MACROPORE_NM = 2.0, 50.0

STYLE: Any = {
    "font.size": 8,
    "axes.titlesize": 8,
    "axes.labelsize": 8,
    "legend.fontsize": 7,
    "legend.frameon": False,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "lines.linewidth": 1.2,
    "svg.hashsalt": "sievelight",
    "figure.constrained_layout.use": True,
}


@contextmanager
def styled() -> Iterator[None]:
    """Matplotlib's settings as `STYLE` for as long as the `with` lasts.

    Not `rc_context` alone: the first figure of a notebook switches Matplotlib to interactive there, and were that undone
    with the style, no later cell of the notebook would show its picture.

    Examples
    --------
    >>> import matplotlib.pyplot as plt
    >>> import sievelight as sl
    >>> with sl.plot.styled():
    ...     ax = plt.subplots()[1]  # a figure of your own in the same style
    >>> ax.spines["top"].get_visible()
    False
    """
    import matplotlib
    import matplotlib.pyplot as plt

    interactive = matplotlib.is_interactive()
    try:
        with plt.rc_context(STYLE):
            try:
                yield
            finally:
                interactive = matplotlib.is_interactive()
    finally:
        matplotlib.interactive(interactive)


def color_of(index: int) -> str:
    """Colour number `index` of the cycle, which begins again after ten.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.plot.color_of(0), sl.plot.color_of(10) == sl.plot.color_of(0)
    ('#006BA4', True)
    """
    return COLORS[index % len(COLORS)]


def plain(text: str) -> str:
    """A name of the user's as Matplotlib shows it letter by letter.

    No formula between dollar signs, no control characters (which no SVG may hold), and not hidden from a legend by an
    underscore at its start.

    Examples
    --------
    >>> import sievelight as sl
    >>> print(sl.plot.plain("5 $ a gram"), sl.plot.plain("_a"), sep="|")
    5 \\$ a gram| _a
    """
    shown = "".join(c if c.isprintable() else " " for c in text).replace("$", r"\$")
    return f" {shown}" if shown.startswith("_") else shown


def _axes(ax: Axes | None, **size: Any) -> Axes:
    if ax is not None:
        return ax
    import matplotlib.pyplot as plt

    with styled():
        return plt.subplots(figsize=size.get("figsize", COLUMN_INCHES))[1]


def plot_frame(
    counts: NDArray[Any],
    masked: NDArray[Any] | None = None,
    *,
    geometry: Any = None,
    ring_q_per_nm: Sequence[float] = (),
    sectors_deg: Sequence[tuple[float, float]] = (),
    beam_center_px: tuple[float, float] | None = None,
    ax: Axes | None = None,
    title: str = "",
) -> Axes:
    """Draw a frame on a log scale; masked pixels are white and hatched, the beam point a cross, rings dashed.

    A strip (one row or one column) is drawn as a curve.

    Parameters
    ----------
    counts : (rows, columns) counts.
    masked : (rows, columns), True = not used.
    geometry : a DetectorGeometry, or only `beam_center_px`, (column, row).
    ring_q_per_nm : q of rings to draw, 1/nm; need the geometry.
    sectors_deg : (low, high) azimuths as `average` takes them, drawn as dotted edges; need the geometry.
    ax, title : axes to draw on (new ones without), and a title.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        Every pixel is masked.

    Examples
    --------
    >>> import sievelight as sl
    >>> frame, at = sl.examples.frame(), sl.examples.geometry()
    >>> ax = sl.plot.plot_frame(frame.counts, sl.examples.mask(), geometry=at, ring_q_per_nm=[1.0, 2.0])
    >>> ax.get_xlabel()
    'column / px'
    >>> ax.figure.savefig("frame.png")
    """
    from matplotlib.colors import ListedColormap, LogNorm
    from matplotlib.patches import Patch

    counts = np.asarray(counts, dtype=float)
    if 1 in counts.shape and counts.size > 1:
        return _plot_strip(counts, masked, geometry, ring_q_per_nm, beam_center_px, ax, title)
    # Wide detectors get wide pictures.
    height = 3.0 if counts.shape[1] < 1.6 * counts.shape[0] else max(1.6, 4.4 * counts.shape[0] / counts.shape[1]) + 0.7
    ax = _axes(ax, figsize=(3.4 if height == 3.0 else 6.0, height))
    used = np.ones(counts.shape, dtype=bool) if masked is None else ~np.asarray(masked, dtype=bool)
    seen = counts[used & np.isfinite(counts)]
    if seen.size == 0:
        raise InputError("every pixel is masked; there is nothing to draw.\nCheck the mask.")
    top = max(float(np.percentile(seen, 99.95)), 2.0)
    low = min(max(0.8, 0.7 * float(np.percentile(seen, 0.5))), 0.5 * top)
    image = ax.imshow(
        np.where(used, np.maximum(counts, low), np.nan), norm=LogNorm(low, top), cmap="cividis", origin="lower"
    )
    if not used.all():
        # White and a vermilion hatch stand in no colour of the map, for any eye, and in grey too.
        blank = ListedColormap(["#f7f7f7"])
        ax.imshow(np.where(used, np.nan, 1.0), cmap=blank, origin="lower", interpolation="nearest")
        if min(counts.shape) > 1:
            marked = ax.contourf(~used, levels=[0.5, 1.5], colors="none", hatches=["/////"])
            marked.set(edgecolor="#C85200", linewidth=0)
        n = int(np.count_nonzero(~used))
        patch = Patch(facecolor="#f7f7f7", edgecolor="#C85200", hatch="/////", lw=0, label=f"masked ({n} px)")
        ax.legend(handles=[patch], loc="lower right", bbox_to_anchor=(1.0, 1.0), borderaxespad=0.1)
    ax.figure.colorbar(image, ax=ax, label="counts", shrink=0.85)
    if beam_center_px is not None and geometry is None:
        ax.plot(*beam_center_px, "+", color="white", ms=10, mew=1.5)
    if geometry is not None:
        ax.plot(geometry.beam_center_x_px, geometry.beam_center_y_px, "+", color="white", ms=10, mew=1.5)
        from sievelight.geometry import pixel_map

        q = pixel_map(geometry, *counts.shape).q_per_nm
        levels = sorted(level for level in ring_q_per_nm if q.min() < level < q.max())
        if levels:
            ax.contour(q, levels=levels, colors="white", linewidths=0.7, linestyles="dashed")
        for low_deg, high_deg in sectors_deg:
            _draw_sector(ax, geometry, counts.shape, low_deg, high_deg)
    ax.set(xlabel="column / px", ylabel="row / px")
    ax.set_title(plain(title), loc="left")
    ax.set_xlim(-0.5, counts.shape[1] - 0.5)
    ax.set_ylim(-0.5, counts.shape[0] - 0.5)
    return ax


def _draw_sector(ax: Axes, g: Any, shape: tuple[int, ...], low_deg: float, high_deg: float) -> None:
    """The two edges of a sector from the beam point outwards (tilts, which bend them by a pixel or so, left out)."""
    reach = float(np.hypot(shape[0], shape[1]))
    for edge in (low_deg, high_deg):
        along = np.radians(edge - g.roll_deg)
        x = g.beam_center_x_px + np.array([0.0, reach]) * np.cos(along) / g.pixel_size_x_mm * g.pixel_size_y_mm
        y = g.beam_center_y_px + np.array([0.0, reach]) * np.sin(along)
        ax.plot(x, y, ":", color="white", lw=1.1)


def _plot_strip(
    counts: NDArray[Any],
    masked: NDArray[Any] | None,
    geometry: Any,
    ring_q_per_nm: Sequence[float],
    beam_center_px: tuple[float, float] | None,
    ax: Axes | None,
    title: str,
) -> Axes:
    ax = _axes(ax, figsize=(5.2, 3.2))
    row = counts.shape[0] == 1
    along = np.arange(counts.size)
    used = np.ones(counts.size, bool) if masked is None else ~np.asarray(masked, dtype=bool).ravel()
    shown = np.where(used & (counts.ravel() > 0), counts.ravel(), np.nan)
    ax.plot(along, shown, color=color_of(0), lw=0.8)
    center = None if beam_center_px is None else beam_center_px[0 if row else 1]
    if geometry is not None:
        center = geometry.beam_center_x_px if row else geometry.beam_center_y_px
        from sievelight.geometry import pixel_map

        q = pixel_map(geometry, *counts.shape).q_per_nm.ravel()
        for level in ring_q_per_nm:
            for k in np.flatnonzero((q[:-1] - level) * (q[1:] - level) <= 0):
                ax.axvline(k + (level - q[k]) / (q[k + 1] - q[k]), color=color_of(1), lw=0.8, ls="--")
    if center is not None:
        ax.axvline(center, color="black", lw=0.9, label="beam")
        ax.legend()
    ax.set(yscale="log", xlabel=f"{'column' if row else 'row'} / px", ylabel="counts")
    ax.set_title(plain(title), loc="left")
    return ax


def plot_q_azimuth_map(table: Any, *, ax: Axes | None = None, title: str = "") -> Axes:
    """Draw a frame over q and azimuth on a log colour scale; cells without a pixel are grey.

    Colours begin at the smallest intensity that is positive beyond twice its uncertainty (of all, if there is none).

    Parameters
    ----------
    table : a QAzimuthMap, from :func:`sievelight.reduce.q_azimuth_map`.
    ax, title : axes to draw on (new ones without), and a title.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        No cell holds intensity above zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> edges = sl.make_bins(map, mask=sl.examples.mask(), bins=20)
    >>> table = sl.q_azimuth_map(sl.examples.frame(), map=map, q_edges_per_nm=edges, mask=sl.examples.mask())
    >>> sl.plot.plot_q_azimuth_map(table).get_ylabel()
    'azimuth / degree'
    """
    from matplotlib.colors import LogNorm

    ax = _axes(ax)
    intensity, filled = np.asarray(table.intensity), np.asarray(table.pixels) > 0
    positive = filled & (intensity > 0)
    if not positive.any():
        raise InputError("no cell holds intensity above zero.\nCheck the mask, the dark and the q range.")
    sure = positive & (intensity > 2 * np.asarray(table.u))
    low = float(intensity[sure if sure.any() else positive].min())
    high = max(float(intensity[positive].max()), low * (1 + 1e-6))
    shown = np.ma.masked_where(~filled, np.maximum(intensity, low))
    edges = np.asarray(table.q_edges_per_nm)
    steps = np.diff(edges)
    if edges[0] > 0 and steps[-1] > 1.5 * steps[0]:
        ax.set_xscale("log")
    ax.set_facecolor("#b5b5b5")
    image = ax.pcolormesh(
        edges, table.azimuth_edges_deg, shown, norm=LogNorm(low, high), cmap="cividis", rasterized=True
    )
    ax.figure.colorbar(image, ax=ax, label="intensity / relative unit")
    ax.set(xlabel="q / nm$^{-1}$", ylabel="azimuth / degree", title=plain(title), xlim=(edges[0], edges[-1]))
    return ax


def plot_strip(
    counts: NDArray[Any], masked: NDArray[Any] | None = None, *, ax: Axes | None = None, title: str = ""
) -> Axes:
    """Draw a strip detector's counts on a log scale; masked channels are crosses at the bottom.

    Parameters
    ----------
    counts : (n) counts of the channels.
    masked : (n), True = not used.
    ax, title : axes to draw on (new ones without), and a title.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.plot.plot_strip(sl.examples.frame().counts[49]).get_xlabel()
    'channel'
    """
    ax = _axes(ax)
    counts = np.asarray(counts, dtype=float)
    used = np.ones(counts.shape, dtype=bool) if masked is None else ~np.asarray(masked, dtype=bool)
    channels = np.arange(len(counts))
    ax.step(channels, np.where(used & (counts > 0), counts, np.nan), where="mid", color=color_of(0), lw=0.9)
    low = max(float(np.min(counts[used & (counts > 0)], initial=np.inf)), 0.5)
    if not used.all():
        at = channels[~used]
        ax.plot(at, np.full(len(at), 0.7 * low), "x", ms=4, color="#C85200", label=f"masked ({len(at)})")
        ax.legend()
    ax.set(yscale="log", xlabel="channel", ylabel="counts")
    ax.set_title(plain(title), loc="left")
    return ax


def plot_azimuth(azimuth_deg: Any, intensity: Any, u: Any, *, ax: Axes | None = None, color: int = 0) -> Axes:
    """Draw intensity against azimuth with its 68 % band.

    Parameters
    ----------
    azimuth_deg : (n) degrees from the columns' direction towards rising rows.
    intensity, u : (n) and its standard uncertainty, in one unit.
    ax, color : axes to draw on (new ones without), and the number of a colour.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> map = sl.pixel_map(sl.examples.geometry(), 96, 96)
    >>> profile = sl.azimuthal_profile(sl.examples.frame(), map=map, q_range_per_nm=(0.5, 1.5), bins=24)
    >>> ax = sl.plot.plot_azimuth(profile.azimuth_deg, profile.intensity, profile.u)  # or profile.plot()
    >>> ax.get_xlabel()
    'azimuth / degrees'
    """
    ax = _axes(ax)
    x, y, half = (np.asarray(v, dtype=float) for v in (azimuth_deg, intensity, u))
    ax.fill_between(x, y - half, y + half, step="mid", color=color_of(color), alpha=0.35, lw=0)
    ax.plot(x, y, drawstyle="steps-mid", lw=0.9, color=color_of(color))
    ax.set(xlabel="azimuth / degrees", ylabel="intensity / arbitrary units", xlim=(x.min(), x.max()), ylim=(0, None))
    return ax


def plot_curves(
    curves: Mapping[str, Any], *, fits: Mapping[str, Any] | None = None, ax: Axes | None = None, color: int = 0
) -> Axes:
    """Draw intensities with their total 68 % band on log axes, and fitted curves as dark lines over them.

    Parameters
    ----------
    curves : name -> Curve.
    fits : name -> (n) fitted intensity on the same q (NaN where not fitted).
    ax, color : axes to draw on (new ones without), and the number of the first colour.

    Returns
    -------
    Axes

    Raises
    ------
    InputError
        A curve has no intensity above zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> curves = {f"{m} nm": sl.examples.curve(median_nm=m) for m in (6, 8, 10)}
    >>> ax = sl.plot.plot_curves(curves)
    >>> ax.get_xscale(), [text.get_text() for text in ax.get_legend().get_texts()]
    ('log', ['6 nm', '8 nm', '10 nm'])
    """
    ax = _axes(ax)
    units = {curve.unit for curve in curves.values()}
    for number, (name, curve) in enumerate(curves.items(), start=color):
        refuse_empty(curve)
        q, intensity, u = curve.q_per_nm, curve.intensity, np.asarray(total_u(curve))
        good = intensity > 0
        ax.fill_between(
            q,
            np.where(good, np.maximum(intensity - u, intensity * 1e-2), np.nan),
            intensity + u,
            color=color_of(number),
            alpha=0.35,
            lw=0,
        )
        ax.plot(
            q[good],
            intensity[good],
            MARKERS[number % len(MARKERS)],
            ms=2.2,
            mew=0,
            color=color_of(number),
            label=plain(name),
            alpha=0.8,
        )
        if fits and name in fits:
            ax.plot(q, fits[name], "-", color="black", lw=0.9, zorder=5)
    ax.set(xscale="log", yscale="log", xlabel="q / nm$^{-1}$", ylabel=_intensity_label(units))
    _plain_ticks(ax)
    if len(curves) <= 12 and any(curves):
        ax.legend(ncols=2 if len(curves) > 5 else 1)
    return ax


def refuse_empty(curve: Any) -> None:
    """InputError for a curve of which a log axis can show nothing.

    Parameters
    ----------
    curve : n points.

    Raises
    ------
    InputError
        No intensity is above zero.

    Examples
    --------
    >>> import sievelight as sl
    >>> sl.plot.refuse_empty(sl.Curve(q_per_nm=[0.1, 0.2], intensity=[0.0, -1.0]))
    Traceback (most recent call last):
        ...
    sievelight.InputError: ...
    """
    if not np.any(np.asarray(curve.intensity) > 0):
        raise InputError("no intensity of the curve is above zero.\nCheck the background subtraction and the mask.")


def _intensity_label(units: set[str]) -> str:
    return f"I / {INTENSITY_UNITS[units.pop()]}" if len(units) == 1 else "I"


def plot_residuals(q_per_nm: NDArray[Any], residuals: NDArray[Any], *, ax: Axes | None = None, color: int = 0) -> Axes:
    """Draw normalised residuals against q, with the ±2 lines that hold 95 % of them when the model is right.

    Parameters
    ----------
    q_per_nm, residuals : (n), 1/nm, and (measured - fit) / u.
    ax, color : axes to draw on (new ones without), and the number of a colour.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> size = sl.invert(sl.examples.curve(), method="evidence")
    >>> sl.plot.plot_residuals(size.q_per_nm, size.residual).get_ylabel()
    'residual / σ'
    """
    ax = _axes(ax, figsize=(COLUMN_INCHES[0], 1.3))
    ax.axhspan(-2, 2, color="0.9", lw=0)
    ax.axhline(0, color="black", lw=0.6)
    ax.plot(q_per_nm, residuals, ".", ms=3, color=color_of(color))
    ax.set(xscale="log", xlabel="q / nm$^{-1}$", ylabel="residual / σ")
    _plain_ticks(ax)
    return ax


def plot_fit(result: Any, *, ax: Axes | None = None, color: int = 0) -> Axes:
    """Draw a measured curve with the fit of its sizes and the fit's 95 % band.

    Parameters
    ----------
    result : a SizeDistribution, or anything with q_per_nm, measured, fit, and where known fit_low95, fit_high95.
    ax, color : axes to draw on (new ones without), and the number of a colour.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> size = sl.invert(sl.examples.curve(), method="evidence")
    >>> sl.plot.plot_fit(size).get_yscale()
    'log'
    """
    ax = _axes(ax)
    q, measured = np.asarray(result.q_per_nm), np.asarray(result.measured)
    good = measured > 0
    ax.plot(q[good], measured[good], "o", ms=2.4, mew=0, color=color_of(color), label="measured")
    if hasattr(result, "fit_low95"):
        low = np.maximum(result.fit_low95, 1e-3 * np.abs(result.fit))
        ax.fill_between(q, low, result.fit_high95, color="0.6", alpha=0.7, lw=0, zorder=4, label="fit, 95 % band")
    ax.plot(q, result.fit, color="black", lw=0.8, zorder=5)
    unit = getattr(result, "intensity_unit", "relative")
    ax.set(xscale="log", yscale="log", xlabel="q / nm$^{-1}$", ylabel=_intensity_label({unit}))
    _plain_ticks(ax)
    ax.legend()
    return ax


def plot_distribution(
    result: Any,
    *,
    ax: Axes | None = None,
    color: int = 0,
    label: str | None = None,
    bands: bool = True,
    percentiles: bool = True,
    classes: bool = True,
    resolution: bool = True,
) -> Axes:
    """Draw a volume-weighted size distribution with its 68 % and 95 % bands, x10, x50 and x90, and pore classes.

    Parameters
    ----------
    result : anything with diameter_nm, q3_per_nm, q3_low68, q3_high68, q3_low95, q3_high95 and x10_nm, x50_nm, x90_nm.
    ax, color, label : axes to draw on (new ones without), the number of a colour, and a word for the legend.
    bands, percentiles, classes : what to draw besides the density.
    resolution : also draw, around x50, the width within which the data cannot tell two sizes apart (where known).

    Returns
    -------
    Axes

    Notes
    -----
    Pore classes by width: M. Thommes et al., Pure Appl. Chem. 87 (2015) 1051.

    Examples
    --------
    >>> import sievelight as sl
    >>> size = sl.invert(sl.examples.curve(), method="evidence")
    >>> ax = sl.plot.plot_distribution(size)  # or size.plot()
    >>> ax.get_xlabel()
    'diameter / nm'
    """
    ax = _axes(ax)
    d, tint = np.asarray(result.diameter_nm), color_of(color)
    if bands:
        ax.fill_between(d, result.q3_low95, result.q3_high95, color=tint, alpha=0.22, lw=0, label="95 % band")
        ax.fill_between(d, result.q3_low68, result.q3_high68, color=tint, alpha=0.40, lw=0, label="68 % band")
    ax.plot(
        d,
        result.q3_per_nm,
        linestyle=DASHES[color % len(DASHES)],
        color=tint,
        label=plain(label) if label else "median",
    )
    if percentiles:
        for name in ("x10_nm", "x50_nm", "x90_nm"):
            estimate = getattr(result, name)
            if np.isfinite(estimate.value):
                height = float(np.interp(estimate.value, d, result.q3_per_nm))
                ax.plot([estimate.value] * 2, [0, height], color="black", lw=0.8)
                ax.annotate(
                    f"x$_{{{name[1:3]}}}$",
                    (estimate.value, height),
                    textcoords="offset points",
                    xytext=(2, 3),
                    fontsize=7,
                )
    ax.set_xlim(d[0], d[-1])
    _density_axes(ax)
    ax.set_ylim(bottom=0)
    widths = np.asarray(getattr(result, "resolution_ln_d", ()))
    if resolution and widths.size == d.size and np.isfinite(result.x50_nm.value):
        width = float(np.interp(result.x50_nm.value, d, widths))
        if np.isfinite(width):
            ax.set_ylim(top=1.12 * ax.get_ylim()[1])
            at = result.x50_nm.value * np.exp(np.array([-0.5, 0.5]) * width)
            height = 0.95 * ax.get_ylim()[1]
            ax.plot(at, [height] * 2, "|-", color="0.25", lw=1.0, ms=6)
            ax.annotate("resolution", (at[1], height), textcoords="offset points", xytext=(3, -2.5), fontsize=6.5)
    if classes:
        for edge, text in ((MICROPORE_NM, "micro | meso"), (MACROPORE_NM, "meso | macro")):
            if d[0] < edge < d[-1]:
                ax.axvline(edge, color="0.6", lw=0.7, ls=":")
                ax.text(edge, ax.get_ylim()[1], text, fontsize=6.5, ha="center", va="bottom", color="0.35")
    return ax


def _density_axes(ax: Axes) -> None:
    """Words and scale of an axis of sizes, its limits set, and of the density on it."""
    ax.set(xscale="log", xlabel="diameter / nm", ylabel=DENSITY_LABEL)
    _plain_ticks(ax)


def _plain_ticks(ax: Axes) -> None:
    """Sizes and q as people write them: 5, 10, 20, 50 instead of powers of ten; fewer marks where the range is wide."""
    from matplotlib.ticker import FixedLocator, NullFormatter, NullLocator

    low, high = ax.get_xlim()
    steps = (1, 2, 3, 5) if high < 20 * low else (1, 2, 5) if high < 200 * low else (1,)
    marks = [m * 10.0**e for e in range(-6, 7) for m in steps]
    marks = [m for m in marks if low * 0.999 <= m <= high * 1.001]
    ax.xaxis.set_major_locator(FixedLocator(marks))
    ax.set_xticks(marks, [f"{m:g}" for m in marks])
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_minor_formatter(NullFormatter())


def plot_batches(
    names: Sequence[str],
    batches: Sequence[str],
    values: Sequence[Any],
    comparison: Any,
    *,
    label: str = "x$_{50}$ / nm",
    ax: Axes | None = None,
) -> Axes:
    """Draw every sample with its 95 % interval, the batch mean with its own, and the reference's margin as a band.

    Parameters
    ----------
    names, batches, values : (n) sample names, their batches, and estimates.
    comparison : a BatchComparison of them, or None.
    label : of the axis, with its unit.
    ax : axes to draw on; new ones without.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> names, batches = ["1a", "1b", "2a", "2b"], ["kiln 1", "kiln 1", "kiln 2", "kiln 2"]
    >>> x50 = [8.00, 8.04, 9.61, 9.55]
    >>> found = sl.compare_batches(names=names, batches=batches, values=x50, u=[0.02] * 4, reference="kiln 1")
    >>> ax = sl.plot.plot_batches(names, batches, [sl.Estimate.normal(x, 0.02) for x in x50], found)
    >>> [tick.get_text() for tick in ax.get_xticklabels()]
    ['kiln 1', 'kiln 2']
    """
    ax = _axes(ax)
    order = list(dict.fromkeys(batches))
    position = 0.0
    ticks: list[float] = []
    known = comparison.batches if comparison is not None else []
    reference = next((b for b in known if b.batch == comparison.reference), None)
    if reference is not None:
        margin = 1 + comparison.margin_percent / 100
        ax.axhspan(reference.mean.value / margin, reference.mean.value * margin, color="0.92", lw=0)
        ax.axhline(reference.mean.value, color="0.55", lw=0.8, ls="--")
        ax.annotate(
            f"margin {comparison.margin_percent:g} %",
            (1.0, reference.mean.value * margin),
            xycoords=("axes fraction", "data"),
            ha="right",
            va="bottom",
            fontsize=6.5,
            color="0.4",
        )
    for index, batch in enumerate(order):
        start = position
        for _, value in [(n, v) for n, b, v in zip(names, batches, values, strict=True) if b == batch]:
            low, high = value.band95.low, value.band95.high
            ax.errorbar(
                position,
                value.value,
                yerr=[[value.value - low], [high - value.value]],
                fmt=MARKERS[index % len(MARKERS)],
                color=color_of(index),
                ms=4,
                lw=0.9,
                capsize=2,
            )
            position += 1.0
        mean = next((b for b in known if b.batch == batch), None)
        if mean is not None:
            ax.errorbar(
                position + 0.2,
                mean.mean.value,
                yerr=[[mean.mean.value - mean.mean.band95.low], [mean.mean.band95.high - mean.mean.value]],
                fmt="_",
                color="black",
                ms=12,
                mew=2,
                lw=1.8,
                capsize=4,
            )
        ticks.append((start + position) / 2)
        pair = next((p for p in comparison.pairs if p.batch == batch), None) if known else None
        if pair is not None:
            ax.annotate(
                pair.verdict,
                ((start + position) / 2, 1.0),
                xycoords=("data", "axes fraction"),
                ha="center",
                va="bottom",
                fontsize=8,
            )
        position += 1.8
    ax.set_xticks(ticks, [plain(name) for name in order])
    ax.set(ylabel=label)
    return ax


def plot_budget(shares: Mapping[str, float], *, ax: Axes | None = None, title: str = "") -> Axes:
    """Draw how much of a result's variance each cause explains, largest first.

    What explains less than a hundredth is drawn together where there are more than eight causes.

    Parameters
    ----------
    shares : cause -> share; they sum to one.
    ax, title : axes to draw on (new ones without), and a title.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> ax = sl.plot.plot_budget({"counts": 0.7, "absolute scale": 0.3})
    >>> [text.get_text() for text in ax.texts]
    ['30 %', '70 %']
    """
    small = [name for name, share in shares.items() if share < 0.01] if len(shares) > 8 else []
    items = sorted(((name, share) for name, share in shares.items() if name not in small), key=lambda item: item[1])
    if small:
        items.insert(0, (f"{len(small)} others, each below 1 %", sum(shares[name] for name in small)))
    ax = _axes(ax, figsize=(4.6, 0.7 + 0.24 * len(items)))
    ax.barh([plain(name) for name, _ in items], [100 * share for _, share in items], color=color_of(0))
    for row, (_, share) in enumerate(items):
        ax.text(100 * share + 1, row, f"{100 * share:.0f} %", va="center", fontsize=7)
    ax.set(xlabel="share of the variance / %", title=plain(title), xlim=(0, 112))
    return ax


def calibration(
    result: Any, *, counts: NDArray[Any], masked: NDArray[Any] | None = None, axes: Sequence[Axes] | None = None
) -> tuple[Axes, Axes]:
    """Draw a ring calibration: the frame with rings and beam point, and the residuals against azimuth.

    Parameters
    ----------
    result : a RingCalibration.
    counts : (rows, columns) counts it came from; a strip is drawn as a curve, its residuals along the strip.
    masked : (rows, columns), True = not used.
    axes : two to draw on, or a new pair.

    Returns
    -------
    (Axes, Axes)

    Raises
    ------
    InputError
        Every pixel is masked.

    Examples
    --------
    >>> import sievelight as sl
    >>> frame = sl.examples.rings()
    >>> found = sl.calibrate_rings(frame, start=sl.examples.geometry())
    >>> left, right = sl.plot.calibration(found, counts=frame.counts)  # or found.plot(frame.counts)
    >>> right.get_xlabel()
    'azimuth / degrees'
    """
    import matplotlib.pyplot as plt

    counts = np.asarray(counts, dtype=float)
    if axes is None:
        with styled():
            axes = plt.subplots(1, 2, figsize=(9.6, 4.6), width_ratios=(1.15, 1.0))[1]
    frame, scatter = axes
    g = result.geometry
    strip = 1 in counts.shape
    orders = [int(k) for k in result.rings]
    q_of = {
        k: np.mean([g.q_per_nm(x, y) for x, y in zip(result.x_px[result.order == k], result.y_px[result.order == k])])
        for k in orders
    }
    plot_frame(counts, masked, geometry=g, ring_q_per_nm=list(q_of.values()), ax=frame)
    if not strip:
        rows, columns = counts.shape
        x, y = g.beam_center_x_px, g.beam_center_y_px
        outside = not (0 <= x < columns and 0 <= y < rows)
        if outside and -columns < x < 2 * columns and -rows < y < 2 * rows:  # in sight of the frame: shown beside it
            frame.plot(x, y, "+", color="black", ms=10, mew=1.5)
            frame.set_xlim(min(-0.5, x - 0.03 * columns), max(columns - 0.5, x + 0.03 * columns))
            frame.set_ylim(min(-0.5, y - 0.03 * rows), max(rows - 0.5, y + 0.03 * rows))
    across = (
        (result.x_px if counts.shape[0] == 1 else result.y_px)
        if strip
        else np.degrees(
            np.arctan2(
                (result.y_px - g.beam_center_y_px) * g.pixel_size_y_mm,
                (result.x_px - g.beam_center_x_px) * g.pixel_size_x_mm,
            )
        )
    )
    rms = result.residual_px
    scatter.axhspan(-rms, rms, color="0.9", lw=0, label=f"rms {rms:.3f} px")
    scatter.axhline(0.0, color="0.4", lw=0.8)
    for number, k in enumerate(orders):
        own = result.order == k
        style = MARKERS[(number + number // len(COLORS)) % len(MARKERS)]  # ring 11 is not ring 1
        scatter.plot(
            across[own], result.residuals_px[own], style, ms=3, mew=0, color=color_of(number), label=f"ring {k}"
        )
    top = 1.15 * max(float(np.max(np.abs(result.residuals_px))), 2.0 * rms, 1e-6)
    scatter.set(xlabel="pixel" if strip else "azimuth / degrees", ylabel="residual, outwards / px", ylim=(-top, top))
    # Beside the points, not over them: below the axes, as the numbers stand above.
    scatter.legend(
        ncols=5, loc="upper center", bbox_to_anchor=(0.5, -0.16), fontsize=7, columnspacing=0.9, handletextpad=0.2
    )
    lines = [f"distance {g.distance_mm:.3f} ± {result.u('distance_mm'):.3f} mm"]
    for label, name, value in (
        ("column", "beam_center_x_px", g.beam_center_x_px),
        ("row", "beam_center_y_px", g.beam_center_y_px),
    ):
        kept = "" if name in result.parameters else " (kept)"
        lines.append(
            f"beam {label} {value:.3f} ± {result.u(name):.3f} px" if not kept else f"beam {label} {value:g}{kept}"
        )
    for label, name, value in (("pitch", "pitch_rad", g.pitch_deg), ("yaw", "yaw_rad", g.yaw_deg)):
        if name in result.parameters:
            lines.append(f"{label} {value:.3f} ± {np.degrees(result.u(name)):.3f}°")
    lines.append(f"{result.calibrant or 'spacings'}: d ± {result.calibrant_relative_u:.1e} besides")
    scatter.text(0.0, 1.02, "\n".join(lines), transform=scatter.transAxes, va="bottom", fontsize=7.5)
    return frame, scatter
