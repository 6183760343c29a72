# SPDX-License-Identifier: GPL-3.0-or-later
"""Where the detector stands: the nominal geometry and its calibration by rings."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight import geometry
from sievelight._core import DetectorGeometry
from sievelight.errors import input_error
from sievelight.study.findings import Findings
from sievelight.study.loading import Loaded
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement


def nominal_geometry(settings: Settings, metadata: Any, name: str, findings: Findings) -> DetectorGeometry:
    """Geometry from the study file; where it is silent, from the frame's own metadata, and said so."""
    asked, taken = settings.instrument, []
    center = asked.beam_center_px or (None, None)
    size = asked.pixel_size_mm or (None, None)
    known = {
        "wavelength_nm": (asked.wavelength_nm, metadata.wavelength_nm),
        "distance_mm": (asked.distance_mm, metadata.distance_mm),
        "beam_center_x_px": (center[0], metadata.beam_center_x_px),
        "beam_center_y_px": (center[1], metadata.beam_center_y_px),
        "pixel_size_x_mm": (size[0], metadata.pixel_size_x_mm),
        "pixel_size_y_mm": (size[1], metadata.pixel_size_y_mm),
    }
    values: dict[str, float] = {}
    for key, (mine, theirs) in known.items():
        if mine is None and theirs is None:
            raise input_error(
                f"neither [instrument] nor the file of '{name}' gives {key}.",
                f"Add {key.replace('_x_px', '_px').replace('_y_px', '_px')} to [instrument] in the study file.",
            )
        values[key] = float(theirs if mine is None else mine)
        if mine is None:
            taken.append(f"{key} = {values[key]:.6g}")
    if taken:
        notes = "; ".join(metadata.notes)
        findings.add(
            "note",
            name,
            f"The study file leaves geometry open; taken from the frame's file: {', '.join(taken)}.",
            notes,
            "Check these values; [instrument] in the study file overrides them.",
        )
    return DetectorGeometry(**values, pitch_deg=asked.pitch_deg, yaw_deg=asked.yaw_deg, roll_deg=asked.roll_deg)


def calibrate(
    m: Measurement, loaded: Loaded, masked: NDArray[np.bool_], start: DetectorGeometry, settings: Settings
) -> Any:
    """Ring calibration from a calibrant row."""
    material = m.text.get("material", "")
    if not material:
        raise input_error(
            f"the calibrant '{m.name}' (row {m.row}) names no material.",
            "Write e.g. silver behenate in its column `material`.",
        )
    frame = loaded.total
    return geometry.calibrate_rings(
        frame.counts,
        start=start,
        calibrant=material,
        masked=masked | frame.masked,
        refine_tilt=settings.instrument.refine_tilt,
        beam_fwhm_mm=settings.instrument.beam_fwhm_mm,
    )


def describe_calibration(result: Any, m: Measurement) -> list[str]:
    """Sentences on a ring calibration for the report."""
    g = result.geometry
    return [
        f"Geometry refined on {result.x_px.size} points of {len(set(result.order.tolist()))} rings of {m.text.get('material', 'the calibrant')} ('{m.name}'): "
        f"distance {g.distance_mm:.2f} ± {result.u('distance_mm'):.2f} mm, beam point at column {g.beam_center_x_px:.2f} ± {result.u('beam_center_x_px'):.2f}, "
        f"row {g.beam_center_y_px:.2f} ± {result.u('beam_center_y_px'):.2f}; ring points lie {result.residual_px:.3f} px (rms) from their rings. "
        f"The calibrant's spacing carries a relative standard uncertainty of {result.calibrant_relative_u:.1e}, and with it every size."
    ]
