# SPDX-License-Identifier: GPL-3.0-or-later
"""Whether a sample scatters alike in all directions: its annulus against azimuth, before any background."""

from __future__ import annotations

import numpy as np

from sievelight import analysis, reduce
from sievelight.study.findings import Findings
from sievelight.study.loading import Loaded
from sievelight.study.results import SampleResult
from sievelight.study.shared import Shared
from sievelight.study.table import Measurement


def orientation(shared: Shared, m: Measurement, loaded: Loaded, result: SampleResult, findings: Findings) -> None:
    """Anisotropy and orientation parameter in the annulus [reduce] azimuth_q_per_nm, for the summary; the profile for the
    report. An orientation becomes a finding: a curve averaged over all azimuths hides it."""
    s = shared.settings.reduce
    assert s.azimuth_q_per_nm is not None
    dark = m.reference("dark") or ""
    profile = reduce.azimuthal_profile(
        loaded.exposures,
        map=shared.seen_from(m).map,
        q_range_per_nm=s.azimuth_q_per_nm,
        bins=s.azimuth_bins,
        mask=shared.masked,
        name=m.name,
        dark=shared.darks.get(dark),
        dark_name=dark,
        **shared.corrections,
    )
    found = analysis.anisotropy(profile)
    result.summary["azimuthal_amplitude"] = found.amplitude
    if found.order_parameter is not None:
        result.summary["order_parameter"] = found.order_parameter
    result.numbers["isotropic_probability"] = found.isotropic_probability
    result.details["azimuth"] = {
        "azimuth_deg": np.asarray(profile.azimuth_deg),
        "intensity": np.asarray(profile.intensity),
        "u": np.asarray(profile.u),
    }
    seen = shared.seen_from(m)
    low, high = reduce.usable_q(seen.map, mask=shared.masked)
    table = reduce.q_azimuth_map(
        loaded.exposures,
        map=seen.map,
        q_edges_per_nm=reduce.log_edges(low, high, 60),
        azimuth_bins=s.azimuth_bins,
        mask=shared.masked,
        name=m.name,
        dark=shared.darks.get(dark),
        dark_name=dark,
        **shared.corrections,
    )
    result.details["azimuth_map"] = {
        name: np.asarray(getattr(table, name))
        for name in ("q_edges_per_nm", "azimuth_edges_deg", "intensity", "u", "pixels")
    }
    for warning in found.warnings:
        findings.add("note", m.name, warning)
    # Structure that matters for a size is far above this; 1e-3 keeps the family of a study's samples below one false word.
    if found.isotropic_probability < 1e-3:
        s2 = (
            f", S2 = {found.order_parameter.value:.3f} ± {found.order_parameter.u:.3f}" if found.order_parameter else ""
        )
        findings.add(
            "warning",
            m.name,
            f"The pattern is oriented, along {found.director_deg:.0f}° from the columns' direction: an average over all "
            "azimuths mixes unlike curves.",
            f"amplitude {found.amplitude.value:.3f} ± {found.amplitude.u:.3f}{s2} at q = {s.azimuth_q_per_nm[0]:g} … "
            f"{s.azimuth_q_per_nm[1]:g} 1/nm, sample and cell together; probability of a ring {found.isotropic_probability:.1e}",
            "Average over sectors ([reduce] sectors_deg) along and across, or check for a tilted plate or a streak of a slit.",
        )
