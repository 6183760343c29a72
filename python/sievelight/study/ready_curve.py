# SPDX-License-Identifier: GPL-3.0-or-later
"""A row of role `curve`: a curve that was reduced elsewhere, or one sample's curves of several camera lengths."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from sievelight import curve as curves
from sievelight._core import Curve, Estimate
from sievelight.errors import SIEVELIGHT_ERRORS, data_error, input_error, nearest
from sievelight.study.findings import Findings
from sievelight.study.kernels import Kernels
from sievelight.study.results import SampleResult
from sievelight.study.sample import finish
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement


def process_curve(
    settings: Settings, folder: Path, m: Measurement, findings: Findings, *, kernels: Kernels | None = None
) -> SampleResult:
    """Read, merge where several rows share the name, crop to the study's q range, and find sizes and laws."""
    parts = [_read(folder / file, m, settings, findings) for file, _ in m.files]
    parts.sort(key=lambda c: float(c.q_per_nm[0]))
    curve = parts[0]
    for further in parts[1:]:
        merged = curves.merge(curve, further, name=m.name)
        for warning in merged.warnings:
            findings.add("warning", m.name, warning)
        findings.add(
            "note",
            m.name,
            f"Curves merged at q = {merged.q_cut_per_nm:.3g} 1/nm; the one that reaches further was multiplied by "
            f"{merged.scale.value:.4f} ± {merged.scale_u:.2g}.",
            f"overlap {merged.overlap_per_nm.low:.3g} … {merged.overlap_per_nm.high:.3g} 1/nm, χ²/n "
            f"{merged.chi2 / max(merged.degrees_of_freedom, 1):.2f}, p = {merged.p_value:.2g}; "
            + "; ".join(merged.notes),
        )
        curve = merged.curve
    low, high = settings.reduce.q_min_per_nm or 0.0, settings.reduce.q_max_per_nm or math.inf
    curve = curves.crop(curve, q_low_per_nm=low, q_high_per_nm=high)
    thickness = m.get("thickness_mm")
    result = SampleResult(
        name=m.name,
        batch=m.batch,
        route=m.text.get("route", ""),
        transmission=Estimate(),
        thickness_mm=Estimate() if thickness is None else Estimate.normal(thickness, m.u.get("thickness_mm", 0.0)),
        curve=curve,
    )
    finish(settings, m, result, findings, kernels=kernels)
    return result


def _read(path: Path, m: Measurement, settings: Settings, findings: Findings) -> Curve:
    try:
        with open(path, "rb") as file:
            start = file.read(512).lstrip(b"\xef\xbb\xbf \t\r\n")
    except OSError as error:
        raise data_error(f"'{path.name}' cannot be read ({error.strerror}).", "Check the path in the table.") from error
    if start.startswith((b"\x89HDF", b"<")):
        named = _choose(curves.read_curves(path), m, path.name)
    else:
        named = _read_text(path, settings)
    for note in named.info.notes:
        findings.add("note", m.name, note)
    missing = int(np.sum(~(curves.total_u(named.curve) > 0))) if named.has_uncertainty else named.curve.q_per_nm.size
    return _with_assumed_u(named.curve, missing, path.name, m, settings, findings) if missing else named.curve


def _with_assumed_u(
    curve: Curve, missing: int, file: str, m: Measurement, settings: Settings, findings: Findings
) -> Curve:
    declared = settings.curves
    if declared.assumed_relative_u is None:
        raise input_error(
            f"the curve of '{m.name}' (row {m.row}, '{file}') has {missing} points without an uncertainty.",
            "Sizes need it: give Idev, reduce the frames here, or declare one with [curves] assumed_relative_u.",
        )
    findings.add(
        "warning",
        m.name,
        "The uncertainties of this curve are assumed, not measured: every band and verdict rests on that assumption.",
        f"{missing} points: {100 * declared.assumed_relative_u:g} % of the intensity, floor {declared.assumed_floor:g}",
        "Take Idev from the reduction, or reduce the frames here.",
    )
    return curves.assume_u(curve, relative=declared.assumed_relative_u, floor=declared.assumed_floor)


def _read_text(path: Path, settings: Settings) -> Any:
    """A text file's own units, where its header names them, go before those of [curves]."""
    units = settings.curves
    try:
        return curves.read_text_curve(path)
    except SIEVELIGHT_ERRORS:
        if units.q_unit is None or units.intensity_unit is None:
            raise
        return curves.read_text_curve(path, q_unit=units.q_unit, intensity_unit=units.intensity_unit)


def _choose(found: list[Any], m: Measurement, file: str) -> Any:
    wanted = m.text.get("dataset")
    names = [c.name for c in found]
    if wanted:
        fitting = [c for c in found if wanted in (c.name, c.name.split("/")[0])]
        if len(fitting) != 1:
            raise input_error(f"'{file}' holds {len(fitting)} curves '{wanted}' (row {m.row}).", nearest(wanted, names))
        return fitting[0]
    if len(found) != 1:
        raise input_error(
            f"'{file}' holds {len(found)} curves and row {m.row} does not say which.",
            f"Write one of these into its column `dataset`: {', '.join(names[:12])}.",
        )
    return found[0]
