# SPDX-License-Identifier: GPL-3.0-or-later
"""Which pixels a study leaves out: what was drawn, what the files mark, and what stands out by itself."""

from __future__ import annotations

import math
from collections.abc import Collection
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sievelight import frames, geometry
from sievelight._core import DetectorGeometry, PixelMap
from sievelight.errors import input_error
from sievelight.study.findings import Findings
from sievelight.study.loading import Loaded
from sievelight.study.settings import Settings

Mask = NDArray[np.bool_]


def odd_shapes(loaded: dict[str, Loaded], like: str) -> dict[str, str]:
    """Shared rows whose frames are not of the shape of row `like`: name -> what is wrong."""
    rows, columns = loaded[like].exposures[0].counts.shape
    wrong = {}
    for name, item in loaded.items():
        shape = item.exposures[0].counts.shape
        if shape != (rows, columns):
            wrong[name] = (
                f"'{name}' has frames of {shape[0]} × {shape[1]} pixels, '{like}' has {rows} × {columns} (rows × columns)."
            )
    return wrong


def study_mask(settings: Settings, folder: Path, loaded: dict[str, Loaded], *, samples: Collection[str] = ()) -> Mask:
    """One mask for all: file and shapes, what the shared frames' files mark, and defects found in long shared exposures.

    `samples` names those of `loaded` that are samples, in a study without shared frames.
    """
    shape = next(iter(loaded.values())).exposures[0].counts.shape
    masked = np.zeros(shape, dtype=bool)
    if settings.detector.mask:
        masked |= frames.read_mask(folder / settings.detector.mask, rows=shape[0], columns=shape[1])
    s = settings.mask
    for box in s.rectangle:
        masked |= frames.mask_rectangle(shape, x_px=box.x_px, y_px=box.y_px, outside=box.outside)
    for disc in s.circle:
        masked |= frames.mask_circle(shape, center_px=disc.center_px, radius_px=disc.radius_px, outside=disc.outside)
    for area in s.polygon:
        masked |= frames.mask_polygon(shape, corners_px=area.corners_px, outside=area.outside)
    for name, item in loaded.items():
        limit = settings.detector.saturation_value or item.metadata.saturation_value
        for exposure in item.exposures:
            # What saturates in one sample is masked there, and told; it says nothing of the other samples.
            own = exposure.counts >= limit if name in samples and limit is not None else False
            masked |= exposure.masked & ~np.asarray(own)
    if s.find_defects and min(shape) > 2:  # a strip's peaks are as narrow as its defects
        for item in loaded.values():
            masked |= frames.find_defects(item.total.counts, masked=masked)
    _refuse_nothing_left(masked)
    return masked


def mask_by_place(
    settings: Settings, masked: Mask, g: DetectorGeometry, view: PixelMap, lit: dict[str, Loaded], findings: Findings
) -> Mask:
    """The study's mask with its q ranges and the shadow of the beamstop, which need the geometry."""
    masked = masked.copy()
    for ring in settings.mask.q_range:
        masked |= geometry.mask_q_range(
            view.q_per_nm, low_per_nm=ring.low_per_nm, high_per_nm=ring.high_per_nm or math.inf, outside=ring.outside
        )
    if settings.mask.find_beamstop and min(masked.shape) > 2:
        name, brightest = max(lit.items(), key=lambda item: float(item[1].total.counts[~masked].sum()))
        shadow = frames.find_beamstop_shadow(
            brightest.total.counts,
            beam_center_px=(g.beam_center_x_px, g.beam_center_y_px),
            masked=masked | brightest.total.masked,
        )
        new = shadow.mask & ~masked
        if shadow.found and new.any():
            findings.add(
                "note",
                name,
                f"The beamstop's shadow was found and is left out, {int(new.sum())} pixels.",
                shadow.words,
                "Draw it under [mask] yourself, or say find_beamstop = false there.",
            )
            masked |= shadow.mask
    _refuse_nothing_left(masked)
    return masked


def mask_spots(settings: Settings, name: str, loaded: Loaded, masked: Mask, view: PixelMap, findings: Findings) -> None:
    """Reflections of single crystals in a sample's frame go into the masks of its exposures."""
    if not settings.mask.find_spots or min(masked.shape) < 3:
        return
    total = loaded.total
    found = geometry.find_crystal_spots(total.counts, view, masked=masked | total.masked)
    if not found.spots:
        return
    for exposure in loaded.exposures:
        exposure.add_mask(found.mask)
    loaded.__dict__.pop("total", None)
    first = found.spots[0]
    findings.add(
        "note",
        name,
        f"Reflections of single crystals are left out: {len(found.spots)} spots, {int(found.mask.sum())} pixels.",
        f"the strongest at column {first.x_px:.0f}, row {first.y_px:.0f}, q = {first.q_per_nm:.3g} 1/nm, "
        f"{first.ratio:.2g} times its ring",
        "Look at the frame; grind the sample finer, or say find_spots = false under [mask].",
    )


def _refuse_nothing_left(masked: Mask) -> None:
    if masked.all():
        raise input_error(
            "the mask hides every pixel.",
            "Check [detector] mask (True or non-zero = not used; it may be inverted) and the shapes under [mask].",
        )
