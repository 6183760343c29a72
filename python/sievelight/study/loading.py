# SPDX-License-Identifier: GPL-3.0-or-later
"""The frames of a measurement."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from sievelight import frames
from sievelight.errors import input_error
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement, parse_frames


@dataclass
class Loaded:
    """The single exposures of one measurement."""

    exposures: list[Any]  # Frame, one an exposure
    metadata: Any

    @cached_property
    def total(self) -> Any:
        """The sum of the exposures."""
        return frames.sum_frames(self.exposures)


def load(m: Measurement, folder: Path, settings: Settings) -> Loaded:
    """Read the single exposures of a measurement, from all its files."""
    exposures: list[Any] = []
    metadata = None
    for file, chosen in m.files:
        opened = frames.open_frames(
            folder / file,
            dataset=m.text.get("dataset"),
            saturation_value=settings.detector.saturation_value,
            exposure_s=m.get("exposure_s"),
        )
        metadata = metadata or opened.metadata
        wanted = parse_frames(chosen)
        exposures += [opened.read(i) for i in (range(opened.count) if wanted is None else wanted)]
    for rule in settings.mask.values:
        for exposure in exposures:
            hidden = frames.mask_values(exposure.counts, low=rule.low, high=rule.high, outside=rule.outside)
            exposure.add_mask(hidden)
    if not exposures:
        raise input_error(f"'{m.name}' (row {m.row}) has no exposure.", "Check `frames` and `file` of that row.")
    shapes = sorted({exposure.counts.shape for exposure in exposures})
    if len(shapes) > 1:
        sizes = " and ".join(f"{rows} × {columns}" for rows, columns in shapes)
        raise input_error(
            f"the files of '{m.name}' (row {m.row}) have frames of {sizes} pixels (rows × columns).",
            "Repeats of one measurement come from one detector, unbinned and not transposed.",
        )
    return Loaded(exposures, metadata)


def where(m: Measurement, settings: Settings) -> str:
    """Table, row and files of a measurement, for its findings."""
    return f"{settings.study.measurements} row {m.row}, file {', '.join(f for f, _ in m.files)}"
