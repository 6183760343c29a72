# SPDX-License-Identifier: GPL-3.0-or-later
"""Picture of a plan: what uncertainty an exposure will give, in each configuration, and what the target asks for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from sievelight.plot import DASHES, MARKERS, _axes, _plain_ticks, color_of, plain, styled

__all__ = ["plot_plan"]


def plot_plan(plans: Mapping[str, Any], *, ax: Any = None) -> Any:
    """Standard uncertainty against the exposure of one sample.

    plans : configuration -> ExposurePlan. Lines are the laws through the simulated measurements (points), with the part
    that calibration brings; a cross marks the exposure that reaches the target (dotted). Returns the axes.
    """

    with styled():
        ax = _axes(ax, figsize=(4.6, 3.3))
        seconds = [t for p in plans.values() for t in (*(x.exposure_s for x in p.points), p.exposure_s) if t]
        for number, (name, p) in enumerate(plans.items()):
            color = color_of(number)
            if p.points:
                ax.plot([x.exposure_s for x in p.points], [x.stated_percent for x in p.points],
                        MARKERS[number % len(MARKERS)], ms=4, mfc="white", color=color)  # fmt: skip
            if seconds and p.law.a > 0:
                t = np.geomspace(0.7 * min(seconds), 1.4 * max(seconds), 100)
                ax.plot(t, [p.law.u(x) for x in t], DASHES[number % len(DASHES)], color=color, label=plain(name))
            if p.exposure_s:
                ax.plot([p.exposure_s], [p.stated_percent], "x", ms=7, mew=1.8, color=color, zorder=5)
        targets = sorted({p.target_percent for p in plans.values()})
        for target in targets:
            ax.axhline(target, color="0.4", ls=":", lw=1.0, label=f"target {target:.3g} %")
        quantity = next(iter(plans.values())).quantity if plans else ""
        ax.set(xscale="log", yscale="log", xlabel="exposure of one sample / s", ylabel=f"u({quantity}) / %")
        _plain_ticks(ax)
        _plain_percent(ax)
        if ax.get_legend_handles_labels()[0]:
            ax.legend()
    return ax


def _plain_percent(ax: Any) -> None:
    """Percents as people write them: 0.2, 0.5, 1."""
    from matplotlib.ticker import NullLocator

    low, high = ax.get_ylim()
    marks = [m * 10.0**e for e in range(-4, 3) for m in (1, 2, 5) if low <= m * 10.0**e <= high]
    ax.set_yticks(marks, [f"{m:g}" for m in marks])
    ax.yaxis.set_minor_locator(NullLocator())
