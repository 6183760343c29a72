# SPDX-License-Identifier: GPL-3.0-or-later
"""A referee's questions that no single step asks: of the table's rows, of a sample's counts, of its curve.

Each question has a threshold that follows from statistics or is marked as common practice; each stays silent where the
table does not say enough to ask it.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sievelight import curve as curves
from sievelight import material
from sievelight.errors import SIEVELIGHT_ERRORS
from sievelight.study.findings import Findings
from sievelight.study.results import SampleResult
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement

NEAR_BOILING_C = 95.0  # of water at 1013 hPa, with 5 degrees for a thermometer beside the sample (common practice)
HOT_C = 200.0  # where glues and polymer windows begin to give way (common practice; data sheets decide)
LOCAL_RULES = "Data sheets of cell and windows, local rules and trained staff decide."


def question_rows(settings: Settings, rows: list[Measurement], findings: Findings) -> None:
    """Water near its boiling point, hot cells, a beam that drifted, transmissions that the composition forbids."""
    for m in rows:
        _heat(m, findings)
        _transmission(settings, m, findings)
    _drift(settings, rows, findings)


def _heat(m: Measurement, findings: Findings) -> None:
    temperature = m.get("temperature_C")
    if temperature is None:
        return
    humid = m.get("relative_humidity_percent")
    wet = "water" in m.text.get("pore_fluid", "").lower() or (humid is not None and humid > 0)
    if wet and temperature >= NEAR_BOILING_C:
        findings.add(
            "warning",
            m.name,
            "Water near or above its boiling point: sealed capillaries and cells build pressure, open ones dry out.",
            f"{temperature:g} °C"
            + (f", {humid:g} % relative humidity" if humid is not None else f", {m.text.get('pore_fluid')}"),
            "Pressure builds below boiling too, and vacuum boils water cold. " + LOCAL_RULES,
        )
    elif temperature >= HOT_C:
        findings.add(
            "note",
            m.name,
            "A hot cell: windows and glues may fail, and hot stages burn.",
            f"{temperature:g} °C",
            LOCAL_RULES,
        )


def _transmission(settings: Settings, m: Measurement, findings: Findings) -> None:
    """T against exp(-mu/rho * rho * d) of the row's own composition, density and thickness."""
    t, d, density = m.get("transmission"), m.get("thickness_mm"), m.get("apparent_density_g_per_cm3")
    formula, wavelength = m.text.get("composition"), settings.instrument.wavelength_nm
    if t is None or d is None or density is None or not formula or not wavelength or not 0 < t < 1:
        return
    try:
        mass = material.mass_attenuation_cm2_per_g(formula, wavelength_nm=wavelength)
    except SIEVELIGHT_ERRORS:
        return
    expected = mass * density * d / 10
    relative = math.hypot(
        m.u.get("thickness_mm", 0.0) / d,
        m.u.get("apparent_density_g_per_cm3", 0.0) / density,
        0.02,  # tables of mu/rho agree within 1 to 2 %
    )
    u = math.hypot(expected * relative, m.u.get("transmission", 0.0) / t)
    apart = -math.log(t) - expected
    if abs(apart) > max(4 * u, 0.1 * expected):
        findings.add(
            "warning",
            m.name,
            "The transmission does not fit the thickness and the composition.",
            f"-ln T = {-math.log(t):.3g}; {formula} of {density:g} g/cm³ and {d:g} mm makes {expected:.3g} ± {u:.2g}",
            "Check thickness, density and composition of the row, and whether the cell is in one transmission only: the "
            "intensity scale follows thickness and transmission.",
        )


def _drift(settings: Settings, rows: list[Measurement], findings: Findings) -> None:
    """The beam's monitor over the exposures: harmless where it normalises, an error of scale where time does."""
    lit = [m for m in rows if m.role in ("sample", "background", "empty_beam", "standard")]
    seen = [(m, m.get("incident_intensity")) for m in lit]
    values = np.array([v for _, v in seen if v is not None])
    if values.size < 3:
        return
    middle = float(np.median(values))
    spread = (float(values.max()) - float(values.min())) / middle
    by_monitor = settings.reduce.normalize_by != "exposure"
    if spread > (0.2 if by_monitor else 0.02):
        far = max((m for m, v in seen if v is not None), key=lambda m: abs((m.get("incident_intensity") or 0) - middle))
        findings.add(
            "note" if by_monitor else "warning",
            far.name,
            "The beam's monitor changed between measurements."
            + (
                ""
                if by_monitor
                else " Intensities are divided by the exposure time, so this is an error of their scale."
            ),
            f"from {values.min():.4g} to {values.max():.4g}, {100 * spread:.2g} % of the median",
            "Look at the source and the monitor's own background."
            if by_monitor
            else 'Normalise by the monitor: [reduce] normalize_by = "monitor".',
        )


def question_counts(m: Measurement, averaged: Any, background: Any, findings: Findings) -> None:
    """Few counts; pixels that the background has and the sample has not."""
    counts = np.asarray(averaged.counts)
    used = np.asarray(averaged.pixels) > 0
    few = used & (counts < 10)
    if used.any() and np.count_nonzero(few) > 0.2 * np.count_nonzero(used):
        findings.add(
            "warning",
            m.name,
            "Few counts: many bins hold fewer than ten.",
            f"{np.count_nonzero(few)} of {np.count_nonzero(used)} bins; {int(counts.sum())} counts in all",
            "Expose longer (longer exposures also mean more dose), or ask for fewer bins: [reduce] bins.",
        )
    if background is None:
        return
    mine, theirs = np.asarray(averaged.pixels, float), np.asarray(background.pixels, float)
    if mine.size != theirs.size:
        return
    both = (mine > 0) & (theirs > 0)
    share = float(np.sum(np.abs(mine - theirs)[both]) / np.sum(np.maximum(mine, theirs)[both])) if both.any() else 0.0
    # Found spots, spikes and saturated pixels differ from frame to frame by parts in ten thousand.
    if share > 0.02:
        findings.add(
            "warning",
            m.name,
            "The mask changed between the sample and its background.",
            f"{100 * share:.2g} % of the pixels are used in one of them only",
            "Compare the masks in the two files; a beamstop or a defect that moved shows as a step in the curve.",
        )


def question_curve(settings: Settings, m: Measurement, result: SampleResult, findings: Findings) -> None:
    """Interference left out of the model; a contrast without a scale to use it on."""
    d = settings.distribution
    if (d.contrast_per_cm2 is not None or d.phase) and result.curve.unit != "1/cm":
        findings.add(
            "note",
            m.name,
            "A contrast is given but no volume fraction or surface per volume follows.",
            f"intensities are in {result.curve.unit}",
            "Measure a standard, give the thickness, or leave the contrast out.",
        )
    if d.hard_sphere_fraction is None and d.also_fit != "hard_sphere_fraction":
        _interference(m, result, findings)


def _interference(m: Measurement, result: SampleResult, findings: Findings) -> None:
    """A curve of dilute particles only falls; one that first rises has particles that keep apart (or a bad background)."""
    c = result.curve
    u = np.asarray(curves.pointwise_u(c))
    sound = u > 0
    q, intensity, u = np.asarray(c.q_per_nm)[sound], np.asarray(c.intensity)[sound], u[sound]
    n = max(5, q.size // 20)
    if q.size < 4 * n:
        return

    def mean(first: int) -> tuple[float, float]:
        part = slice(first, first + n)
        return float(np.mean(intensity[part])), float(np.sqrt(np.sum(u[part] ** 2)) / n)

    low, low_u = mean(0)
    best = max(range(n, q.size - n), key=lambda k: mean(k)[0])
    high, high_u = mean(best)
    # The best of many windows: five standard deviations, and five percent, which a bad transmission does not make.
    if high - low > 5 * math.hypot(low_u, high_u) and high > 1.05 * low:
        findings.add(
            "warning",
            m.name,
            "The intensity rises from low q to a maximum: particles or pores keep their distance, and the model takes "
            "them for dilute.",
            f"{low:.3g} ± {low_u:.2g} at the lowest q, {high:.3g} ± {high_u:.2g} around {q[best + n // 2]:.3g} 1/nm",
            'Try [distribution] also_fit = "hard_sphere_fraction"; look for ordered pores; check that the background is '
            "not subtracted twice.",
        )
