# SPDX-License-Identifier: GPL-3.0-or-later
"""The frames of a measurement.

A long stack does not stand in memory at once: what would take more than `MOST_BYTES` is read in blocks of exposures that
follow each other, and each block is summed. What concerns single exposures (spikes, saturation, values to be masked) is
looked at in the block before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sievelight import frames, reduce
from sievelight.errors import input_error
from sievelight.study.settings import Settings
from sievelight.study.table import Measurement, parse_frames

MOST_BYTES = 1 << 30  # of the exposures of one measurement
BYTES_A_PIXEL = 9  # counts and mask


@dataclass
class Loaded:
    """The exposures of one measurement: single ones, or, of a long stack, the sums of blocks."""

    exposures: list[Any]  # Frame
    metadata: Any
    block: int = 1  # single exposures in each of `exposures`, fewer in the last
    singles: int = 0
    spikes: list[Any] = field(default_factory=list)  # found and masked in blocks of a sample
    saturated: NDArray[np.int32] | None = None  # of a long stack: readings at or above the limit, by pixel

    @cached_property
    def total(self) -> Any:
        """The sum of the exposures."""
        return frames.sum_frames(self.exposures)

    def readings_at(self, limit: float, sound: NDArray[np.bool_]) -> int:
        """How many readings of sound pixels are at or above the limit of saturation."""
        if self.saturated is not None:
            return int(self.saturated[sound].sum())
        return sum(int(np.count_nonzero((e.counts >= limit) & sound)) for e in self.exposures)


def load(m: Measurement, folder: Path, settings: Settings) -> Loaded:
    """Read the exposures of a measurement, from all its files."""
    opened = [
        frames.open_frames(
            folder / file,
            dataset=m.text.get("dataset"),
            saturation_value=settings.detector.saturation_value,
            exposure_s=m.get("exposure_s"),
        )
        for file, _ in m.files
    ]
    wanted = [parse_frames(chosen) for _, chosen in m.files]
    places = [(f, i) for f, some in zip(opened, wanted) for i in (range(f.count) if some is None else some)]
    if not places:
        raise input_error(f"'{m.name}' (row {m.row}) has no exposure.", "Check `frames` and `file` of that row.")
    shapes = sorted({(f.rows, f.columns) for f, _ in places})
    if len(shapes) > 1:
        sizes = " and ".join(f"{rows} × {columns}" for rows, columns in shapes)
        raise input_error(
            f"the files of '{m.name}' (row {m.row}) have frames of {sizes} pixels (rows × columns).",
            "Repeats of one measurement come from one detector, unbinned and not transposed.",
        )
    loaded = Loaded([], opened[0].metadata, singles=len(places))
    rows, columns = shapes[0]
    fits = max(2, MOST_BYTES // (BYTES_A_PIXEL * rows * columns))
    if len(places) <= fits:
        loaded.exposures = [_read(f, i, settings) for f, i in places]
        return loaded
    dead_time_s = settings.detector.dead_time_s
    if dead_time_s is None:
        dead_time_s = loaded.metadata.dead_time_s
    if dead_time_s and "dead time" not in settings.reduce.switch_off:
        raise input_error(
            f"'{m.name}' (row {m.row}) has {len(places)} exposures of {rows} × {columns} pixels, "
            f"{len(places) * rows * columns * BYTES_A_PIXEL / 2**30:.1f} GiB, more than are taken into memory at once, "
            "and the dead time is corrected in each.",
            f"Choose at most {fits} of them in `frames`, make each a measurement with `frames = each`, or switch the step "
            'off: [reduce] switch_off = ["dead time"].',
        )
    # Half of what fits is for the sums of the blocks, half for the single exposures of the moment.
    at_once = max(2, fits // 2)
    loaded.block = math.ceil(len(places) / min(math.isqrt(len(places)), at_once))
    left = iter(places)
    while block := list(islice(left, loaded.block)):
        parts = [block[k : k + at_once] for k in range(0, len(block), at_once)]
        summed = None
        for part in parts:
            now = _sum(m, part, settings, loaded)
            summed = now if summed is None else frames.sum_frames([summed, now])
        loaded.exposures.append(summed)
    return loaded


def _read(opened: Any, index: int, settings: Settings) -> Any:
    exposure = opened.read(index)
    for rule in settings.mask.values:
        exposure.add_mask(frames.mask_values(exposure.counts, low=rule.low, high=rule.high, outside=rule.outside))
    return exposure


def _sum(m: Measurement, places: list[tuple[Any, int]], settings: Settings, loaded: Loaded) -> Any:
    """The sum of some exposures, each without its spikes where they are of a sample."""
    limit = settings.detector.saturation_value or loaded.metadata.saturation_value
    exposures = [_read(f, i, settings) for f, i in places]
    if limit is not None:
        above = sum((e.counts >= limit).astype(np.int32) for e in exposures)
        loaded.saturated = above if loaded.saturated is None else loaded.saturated + above
    if m.role == "sample" and settings.reduce.remove_spikes and len(exposures) > 1:
        report = reduce.find_spikes(exposures)
        for exposure, mask in zip(exposures, report.masks):
            exposure.add_mask(mask)
        loaded.spikes += report.spikes
    return frames.sum_frames(exposures)


def blocks_words(loaded: Loaded) -> str:
    """What is to be known of a measurement that was read in blocks; empty of others."""
    if loaded.block == 1:
        return ""
    return (
        f"{loaded.singles} exposures are more than are taken into memory at once; they were summed in blocks of "
        f"{loaded.block}, and the blocks are compared as repeats."
    )


def where(m: Measurement, settings: Settings) -> str:
    """Table, row and files of a measurement, for its findings."""
    return f"{settings.study.measurements} row {m.row}, file {', '.join(f for f, _ in m.files)}"
