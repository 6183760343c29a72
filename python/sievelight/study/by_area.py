# SPDX-License-Identifier: GPL-3.0-or-later
"""What pixel-centre bins cost: the same frames averaged with every pixel shared among the bins it covers."""

from __future__ import annotations

from typing import Any

import numpy as np

from sievelight import reduce
from sievelight.study.findings import Findings
from sievelight.study.loading import Loaded
from sievelight.study.results import SampleResult
from sievelight.study.shared import Shared
from sievelight.study.table import Measurement


def compare_by_area(
    shared: Shared, m: Measurement, loaded: Loaded, averaged: Any, result: SampleResult, findings: Findings
) -> None:
    """The largest difference of the two ways as a finding; the area-weighted points, whose neighbours are correlated, are
    kept for plots (details "by_area"), before background and scale."""
    view, dark = shared.seen_from(m), m.reference("dark") or ""
    area = reduce.area_average(
        loaded.exposures,
        geometry=view.geometry,
        edges_per_nm=averaged_edges(averaged),
        mask=shared.masked,
        name=m.name,
        dark=shared.darks.get(dark),
        dark_name=dark,
        **shared.corrections,
    )
    q, theirs, u = (np.asarray(x) for x in (area.q_per_nm, area.intensity, area.u))
    result.details["by_area"] = {"q_per_nm": q, "intensity": theirs, "u": u}
    mine = np.interp(q, averaged.curve.q_per_nm, averaged.curve.intensity)
    good = (theirs > 0) & (mine > 0)
    ratio = mine[good] / theirs[good]
    ratio /= np.median(ratio)  # the two are normalised differently where a monitor is used
    noise = u[good] / theirs[good]
    worst = int(np.argmax(np.abs(ratio - 1) / np.maximum(noise, 1e-12)))
    findings.add(
        "note",
        m.name,
        f"Bins by pixel centre and bins by area differ by {100 * float(np.sqrt(np.mean((ratio - 1) ** 2))):.2g} % (rms), most at "
        f"q = {q[good][worst]:.3g} 1/nm: {100 * (ratio[worst] - 1):+.2g} %, {abs(ratio[worst] - 1) / noise[worst]:.1f} of its uncertainties.",
        f"{good.sum()} bins; counting noise of the area-weighted points {100 * float(np.median(noise)):.2g} % (median)",
        "Fits use the bins by pixel centre, whose errors are independent; wider bins at low q make the difference smaller.",
    )


def averaged_edges(averaged: Any) -> Any:
    """Edges (n + 1) of the bins of an average that are neighbours from the first to the last."""
    curve = averaged.curve
    return np.unique(np.concatenate([curve.q_low_per_nm, curve.q_high_per_nm[-1:]]))
