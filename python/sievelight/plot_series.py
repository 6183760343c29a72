# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of series: a quantity along its variable with bands, where the scattering changed, and maps."""

from __future__ import annotations

from operator import attrgetter
from typing import Any

import numpy as np

from sievelight.plot import COLORS, STYLE

__all__ = ["plot_map", "plot_series"]

WORDS = {
    "relative_humidity_percent": "relative humidity / %",
    "temperature_C": "temperature / °C",
    "dose_Gy": "dose / Gy",
    "time_s": "time / s",
    "number": "frame",
}


def _axes(ax: Any) -> Any:
    import matplotlib.pyplot as plt

    return plt.subplots(figsize=(4.6, 3.0))[1] if ax is None else ax


def plot_series(
    x: Any,
    estimates: Any,
    *,
    variable: str = "number",
    label: str = "",
    changed: Any = None,
    turning_point: int | None = None,
    ax: Any = None,
) -> Any:
    """A quantity (n estimates) along a variable (n), with 68 % (thick) and 95 % (thin) intervals; frames whose scattering
    differs from the start are filled; the branches of a cycle have markers of their own. Returns the axes."""
    import matplotlib.pyplot as plt

    x = np.asarray(x, dtype=float)
    value, low68, high68, low95, high95 = (
        np.array([attrgetter(name)(e) for e in estimates])
        for name in ("value", "band68.low", "band68.high", "band95.low", "band95.high")
    )
    filled = np.zeros(x.size, bool) if changed is None else np.asarray(changed, bool)
    with plt.rc_context(STYLE):
        ax = _axes(ax)
        cut = x.size if turning_point is None else turning_point + 1
        for branch, marker, color in ((slice(0, cut), "o", COLORS[0]), (slice(cut - 1, x.size), "s", COLORS[1])):
            if x[branch].size < (1 if branch.start == 0 else 2):
                continue
            ax.plot(x[branch], value[branch], color=color, lw=0.7, alpha=0.7)
            ax.vlines(x[branch], low95[branch], high95[branch], color=color, lw=0.8)
            ax.vlines(x[branch], low68[branch], high68[branch], color=color, lw=2.4)
            for k in range(branch.start, branch.start + x[branch].size):
                ax.plot([x[k]], [value[k]], marker, ms=4.5, mfc=color if filled[k] else "white", mec=color, zorder=4)
        if turning_point is not None:
            ax.plot([], [], "o-", color=COLORS[0], mfc="white", ms=4.5, label="first branch")
            ax.plot([], [], "s-", color=COLORS[1], mfc="white", ms=4.5, label="second branch")
        if filled.any():
            ax.plot([], [], "o", color="0.3", ms=4.5, label="scattering differs from the start")
        if ax.get_legend_handles_labels()[0]:
            ax.legend(frameon=False, fontsize=7)
        ax.set(xlabel=WORDS.get(variable, variable), ylabel=label)
    return ax


def plot_map(x_mm: Any, y_mm: Any, values: Any, *, label: str = "", ax: Any = None) -> Any:
    """A quantity at places of an X-Y stage, as squares that touch. Returns the axes."""
    import matplotlib.pyplot as plt

    x, y, v = (np.asarray(a, dtype=float) for a in (x_mm, y_mm, values))
    columns, rows = np.unique(x), np.unique(y)
    grid = np.full((rows.size, columns.size), np.nan)
    grid[np.searchsorted(rows, y), np.searchsorted(columns, x)] = v
    with plt.rc_context(STYLE):
        ax = _axes(ax)
        image = ax.pcolormesh(columns, rows, grid, cmap="cividis", shading="nearest")
        ax.set_aspect("equal")
        ax.set(xlabel="x / mm", ylabel="y / mm")
        ax.figure.colorbar(image, ax=ax, label=label)
    return ax
