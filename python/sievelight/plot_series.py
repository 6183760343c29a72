# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of series: a quantity along its variable with bands, where the scattering changed, and maps."""

from __future__ import annotations

from operator import attrgetter
from typing import Any

import numpy as np

from sievelight.plot import COLORS, _axes, styled

__all__ = ["plot_curves_of_series", "plot_map", "plot_series"]

SIZE = (4.6, 3.0)  # inches
WORDS = {
    "relative_humidity_percent": "relative humidity / %",
    "temperature_C": "temperature / °C",
    "dose_Gy": "dose / Gy",
    "time_s": "time / s",
    "number": "frame",
}


def plot_series(
    x: Any,
    estimates: Any,
    *,
    variable: str = "number",
    label: str = "",
    changed: Any = None,
    turning_point: int | None = None,
    foretold: tuple[Any, Any] | None = None,
    ax: Any = None,
) -> Any:
    """A quantity along a variable, with 68 % (thick) and 95 % (thin) intervals.

    Frames whose scattering differs from the start are filled; the branches of a cycle have markers of their own.

    Parameters
    ----------
    x, estimates : (n) variable, and an estimate at each.
    variable : what x is: "relative_humidity_percent", "temperature_C", "dose_Gy", "time_s", "number", or other words.
    label : of the quantity, with its unit.
    foretold : (x, y) of a dashed line, what theory says.
    changed : (n), True = its scattering differs.
    turning_point : number of the largest x of a cycle, from 0.
    ax : axes to draw on; new ones without.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> x50 = [sl.Estimate.normal(value, 0.05) for value in (8.0, 8.0, 8.3)]
    >>> ax = sl.plot_series.plot_series([0, 60, 120], x50, variable="time_s", label="x50 / nm", changed=[0, 0, 1])
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('time / s', 'x50 / nm')
    """

    x = np.asarray(x, dtype=float)
    value, low68, high68, low95, high95 = (
        np.array([attrgetter(name)(e) for e in estimates])
        for name in ("value", "band68.low", "band68.high", "band95.low", "band95.high")
    )
    filled = np.zeros(x.size, bool) if changed is None else np.asarray(changed, bool)
    with styled():
        ax = _axes(ax, figsize=SIZE)
        cut = x.size if turning_point is None else turning_point + 1
        for branch, marker, color in ((slice(0, cut), "o", COLORS[0]), (slice(cut - 1, x.size), "s", COLORS[1])):
            if x[branch].size < (1 if branch.start == 0 else 2):
                continue
            ax.plot(x[branch], value[branch], color=color, lw=0.7, alpha=0.7)
            ax.vlines(x[branch], low95[branch], high95[branch], color=color, lw=0.8)
            ax.vlines(x[branch], low68[branch], high68[branch], color=color, lw=2.4)
            for k in range(branch.start, branch.start + x[branch].size):
                ax.plot([x[k]], [value[k]], marker, ms=4.5, mfc=color if filled[k] else "white", mec=color, zorder=4)
        if foretold is not None:
            ax.plot(*foretold, "--", color="0.45", lw=1.0, zorder=1, label="by Kelvin's radius")
        if turning_point is not None:
            ax.plot([], [], "o-", color=COLORS[0], mfc="white", ms=4.5, label="first branch")
            ax.plot([], [], "s-", color=COLORS[1], mfc="white", ms=4.5, label="second branch")
        if filled.any():
            ax.plot([], [], "o", color="0.3", ms=4.5, label="scattering differs from the start")
        if ax.get_legend_handles_labels()[0]:
            ax.legend(frameon=False, fontsize=7)
        ax.set(xlabel=WORDS.get(variable, variable), ylabel=label)
    return ax


def plot_curves_of_series(curves: Any, values: Any, *, variable: str = "number", most: int = 5, ax: Any = None) -> Any:
    """The first curve of a series in black and up to `most` later ones, evenly taken, coloured from early to late and
    named by their variable. Returns the axes.

    Examples
    --------
    >>> import sievelight as sl
    >>> curves = [scale * sl.examples.curve() for scale in (1.0, 0.8, 0.5)]
    >>> ax = sl.plot_series.plot_curves_of_series(curves, [10, 60, 90], variable="relative_humidity_percent")
    >>> [text.get_text() for text in ax.get_legend().get_texts()]
    ['10 %', '60 %', '90 %']
    """
    import matplotlib.pyplot as plt

    from sievelight.plot import _intensity_label, _plain_ticks

    later: Any = np.unique(np.linspace(1, len(curves) - 1, most).round().astype(int)) if len(curves) > 1 else []
    unit = WORDS.get(variable, variable).partition(" / ")[2]
    shades = plt.get_cmap("viridis")(np.linspace(0.1, 0.9, max(len(later), 1)))
    with styled():
        ax = _axes(ax, figsize=SIZE)
        for k, color, width in [(0, "black", 1.6), *((int(k), c, 1.0) for k, c in zip(later, shades))]:
            good = curves[k].intensity > 0
            label = f"{values[k]:g} {unit}".strip() if unit else f"frame {values[k]:g}"
            ax.plot(curves[k].q_per_nm[good], curves[k].intensity[good], color=color, lw=width, label=label)
        ax.set(xscale="log", yscale="log", xlabel="q / nm$^{-1}$", ylabel=_intensity_label({c.unit for c in curves}))
        _plain_ticks(ax)
        ax.legend(frameon=False, fontsize=7)
    return ax


def plot_map(x_mm: Any, y_mm: Any, values: Any, *, label: str = "", ax: Any = None) -> Any:
    """A quantity at places of an X-Y stage, as squares that touch.

    Parameters
    ----------
    x_mm, y_mm, values : (n) places in mm, and the quantity there; places may be missing.
    label : of the quantity, with its unit.
    ax : axes to draw on; new ones without.

    Returns
    -------
    Axes

    Examples
    --------
    >>> import sievelight as sl
    >>> ax = sl.plot_series.plot_map([0, 1, 0, 1], [0, 0, 1, 1], [8.0, 8.1, 8.0, 8.2], label="x50 / nm")
    >>> ax.get_xlabel()
    'x / mm'
    """

    x, y, v = (np.asarray(a, dtype=float) for a in (x_mm, y_mm, values))
    columns, rows = np.unique(x), np.unique(y)
    grid = np.full((rows.size, columns.size), np.nan)
    grid[np.searchsorted(rows, y), np.searchsorted(columns, x)] = v
    with styled():
        ax = _axes(ax, figsize=SIZE)
        image = ax.pcolormesh(columns, rows, grid, cmap="cividis", shading="nearest")
        ax.set_aspect("equal")
        ax.set(xlabel="x / mm", ylabel="y / mm")
        ax.figure.colorbar(image, ax=ax, label=label)
    return ax
