# SPDX-License-Identifier: GPL-3.0-or-later
"""Ordered pores of a sample: peaks, lattice, how far the order reaches, pore and wall where a porosity is known."""

from __future__ import annotations

import math
from typing import Any

from sievelight import ordered
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study.findings import Findings
from sievelight.study.results import SampleResult
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement


def _porosity(m: Measurement) -> tuple[float, float] | None:
    """Share of the pores in pores and walls, of pore volume and skeletal density: phi = rho V / (1 + rho V)."""
    volume, density = m.get("pore_volume_cm3_per_g"), m.get("skeletal_density_g_per_cm3")
    if volume is None or density is None:
        return None
    product = volume * density
    relative = math.hypot(
        m.u.get("pore_volume_cm3_per_g", 0.0) / volume, m.u.get("skeletal_density_g_per_cm3", 0.0) / density
    )
    return product / (1 + product), relative * product / (1 + product) ** 2


def look_for_order(settings: Settings, m: Measurement, result: SampleResult, findings: Findings) -> str:
    """What peaks of order are to this curve: "none", "disturb" or "carry"; lattice and pores go into the summary."""
    curve = result.curve
    if (
        not settings.distribution.look_for_order
        or curve.has_slit()
        or curve.q_per_nm.size < ordered.FEWEST_POINTS_FOR_ORDER
    ):
        return "none"
    try:
        peaks = ordered.find_curve_peaks(curve)
        share = ordered.peak_share(curve, peaks)
        if share.role == "none":
            return "none"
        known = settings.distribution.symmetry
        indexing = ordered.index_peaks(curve, peaks, symmetries=None if known is None else [known])
        domain = ordered.domain_size(curve, peaks)
    except SIEVELIGHT_ERRORS as error:
        findings.add("note", m.name, f"Peaks of order were not looked for: {error}")
        return "none"
    result.keep("spacing_nm", indexing.spacing_nm)
    best = indexing.candidates[0] if indexing.candidates else None
    pores: Any = None
    # A symmetry that is known from elsewhere need not be decided by this curve, but it must explain its peaks.
    if best is not None and (indexing.decided or (known is not None and best.explains)):
        result.keep("lattice_nm", best.lattice_nm)
        porosity = _porosity(m)
        if porosity is not None:
            try:
                pores = ordered.ordered_pores(best.lattice_nm, symmetry=best.symmetry, porosity=porosity)
                result.keep("ordered_pore_nm", pores.pore_nm)
                result.keep("wall_nm", pores.wall_nm)
            except SIEVELIGHT_ERRORS as error:
                findings.add("note", m.name, f"No pore and wall from the lattice: {error}")
    if domain.domain_nm is not None:
        result.keep("domain_nm", domain.domain_nm)
    places = ", ".join(f"{p.q_per_nm.value:.4g}" for p in peaks.peaks)
    result.details["order"] = {
        "role": share.role,
        "words": share.words,
        "verdict": indexing.verdict,
        "peaks_per_nm": [p.q_per_nm.value for p in peaks.peaks],
        "windows_per_nm": [[w.low, w.high] for w in share.windows_per_nm],
        "pore": pores.pore_is if pores is not None else "",
        "wall": pores.wall_is if pores is not None else "",
        "domain_above_nm": domain.lower_limit_nm,
    }
    carries = share.role == "carry"
    findings.add(
        "warning" if carries else "note",
        m.name,
        "Ordered pores: peaks carry this curve, so no sizes of single particles are read from it."
        if carries
        else "Peaks of an ordered structure disturb this curve.",
        f"peaks at {places} 1/nm; {share.words}; {indexing.verdict}",
        "Lattice, spacing and domain stand in the summary; pore and wall need pore_volume_cm3_per_g and "
        "skeletal_density_g_per_cm3." + ("" if carries else " Compare with a q range that leaves the peaks out."),
    )
    for warning in [*peaks.warnings, *indexing.warnings, *domain.warnings]:
        findings.add("note", m.name, warning)
    return share.role
