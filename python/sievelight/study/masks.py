# SPDX-License-Identifier: GPL-3.0-or-later
"""Which pixels a study leaves out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sievelight import frames
from sievelight.study.loading import Loaded
from sievelight.study.settings import Settings


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


def study_mask(settings: Settings, folder: Path, loaded: dict[str, Loaded]) -> NDArray[np.bool_]:
    """One mask for all: the drawn one, what the shared frames' files mark, and defects found in long shared exposures."""
    shapes = {name: item.exposures[0].counts.shape for name, item in loaded.items()}
    shape = next(iter(shapes.values()))
    masked = np.zeros(shape, dtype=bool)
    if settings.detector.mask:
        masked |= frames.read_mask(folder / settings.detector.mask, rows=shape[0], columns=shape[1])
    for item in loaded.values():
        for exposure in item.exposures:
            masked |= exposure.masked
    if settings.detector.find_defects:
        for item in loaded.values():
            masked |= frames.find_defects(item.total.counts, masked=masked)
    return masked
